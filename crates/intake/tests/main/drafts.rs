//! `draft-layout`: what it is sure of, what it leaves to a person, and what it never writes down.

use crate::support::{repository, shipped_layout};
use intake::draft::{Draft, DraftFile, draft};
use intake::{Input, Loaded, Role, layout, load};
use outcomes::rules::DataHorizon;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of a test, removed at its end.
struct TestFolder(PathBuf);

impl TestFolder {
    fn new(name: &str) -> Self {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("limbledger-{}-{name}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn write(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }
}

impl Drop for TestFolder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn horizon() -> DataHorizon {
    let day = |year, month, day| chrono::NaiveDate::from_ymd_opt(year, month, day).unwrap();
    DataHorizon {
        data_start: day(2023, 1, 1),
        cut_off: day(2025, 12, 31),
        deaths_known_to: day(2025, 12, 31),
        procedures_known_to: day(2025, 12, 31),
    }
}

fn drafted(files: &[(&str, &str)]) -> (TestFolder, Draft) {
    let folder = TestFolder::new("draft");
    let files: Vec<DraftFile> = files
        .iter()
        .map(|(name, text)| DraftFile {
            name: (*name).to_owned(),
            path: folder.write(name, text.as_bytes()),
        })
        .collect();
    let made = draft(&files).unwrap();
    (folder, made)
}

fn loaded(layout_text: &str, inputs: &[Input]) -> Loaded {
    let layout = layout::parse(layout_text, "draft.toml")
        .unwrap_or_else(|error| panic!("{error}\n{layout_text}"));
    load(inputs, &layout, &horizon(), &|_| {}).unwrap()
}

/// The lines that are likely, taken as they are.
fn with_likely_lines(text: &str) -> String {
    text.lines()
        .map(|line| line.strip_prefix("# likely: ").unwrap_or(line))
        .map(|line| format!("{line}\n"))
        .collect()
}

fn sample_input() -> Input {
    Input {
        name: "tarnwick-visits.csv".to_owned(),
        path: repository().join("sample-data/tarnwick-visits.csv"),
        role: None,
        joined: None,
        exported: None,
    }
}

#[test]
fn the_sure_lines_of_a_wide_export_read_the_same_rows_as_the_finished_layout() {
    let input = sample_input();
    let made = draft(&[DraftFile {
        name: input.name.clone(),
        path: input.path.clone(),
    }])
    .unwrap();
    assert_eq!(made.identifying, []);
    let finished = load(
        &[sample_input()],
        &shipped_layout("tarnwick-wide.toml"),
        &horizon(),
        &|_| {},
    )
    .unwrap();
    // of what is left for a person, one line decides which rows are used: the code of rows that are no visits
    assert!(
        made.text.contains("[attendance]: say what 1 code means"),
        "{}",
        made.text
    );
    let filled = made
        .text
        .replace("# likely: administrative", "administrative");
    let sure = loaded(&filled, &[sample_input()]);
    assert_eq!(sure.accounts[0].n_used, finished.accounts[0].n_used);
    assert_eq!(sure.tables.patients.len(), finished.tables.patients.len());
    assert_eq!(
        sure.tables.ulcer_observations.len(),
        finished.tables.ulcer_observations.len()
    );
    let sizes = |loaded: &Loaded| -> Vec<Option<f32>> {
        loaded
            .tables
            .ulcer_observations
            .iter()
            .map(|row| row.length_cm)
            .collect()
    };
    assert_eq!(sizes(&sure), sizes(&finished), "units");
    // no cell but codes that many rows share
    assert!(!made.text.contains("TW-"), "a patient id was written");
    let likely = loaded(&with_likely_lines(&made.text), &[sample_input()]);
    let n_states = |loaded: &Loaded| {
        loaded
            .tables
            .ulcer_observations
            .iter()
            .filter(|row| row.state.is_some())
            .count()
    };
    assert!(100 * n_states(&likely) >= 99 * n_states(&finished));
    let n_kept = |loaded: &Loaded| loaded.tables.visits.len();
    assert!(n_kept(&likely).abs_diff(n_kept(&finished)) <= n_kept(&finished) / 50);
}

#[test]
fn the_sure_lines_of_five_files_read_the_same_rows_as_the_finished_layout() {
    let scenario = simulate::Scenario {
        n_patients: 120,
        ..simulate::Scenario::default()
    };
    let practice = simulate::simulate(&scenario, 5).unwrap();
    let mut texts: [Vec<u8>; 5] = Default::default();
    let [patients, visits, foot_exams, ulcer_observations, events] = &mut texts;
    practice
        .write_long(simulate::LongFiles {
            patients,
            visits,
            foot_exams,
            ulcer_observations,
            events,
        })
        .unwrap();
    let folder = TestFolder::new("draft-long");
    let names = [
        "patients",
        "visits",
        "foot-exams",
        "ulcer-observations",
        "events",
    ];
    let files: Vec<DraftFile> = names
        .iter()
        .zip(&texts)
        .map(|(name, text)| DraftFile {
            name: format!("{name}.csv"),
            path: folder.write(&format!("{name}.csv"), text),
        })
        .collect();
    let made = draft(&files).unwrap();
    let roles: Vec<&str> = made.roles.iter().map(|(_, role)| *role).collect();
    assert_eq!(roles, names);
    let inputs: Vec<Input> = files
        .iter()
        .zip(names)
        .map(|(file, role)| Input {
            name: file.name.clone(),
            path: file.path.clone(),
            role: Role::from_code(role),
            joined: None,
            exported: None,
        })
        .collect();
    let used = |loaded: &Loaded| -> Vec<u64> {
        loaded
            .accounts
            .iter()
            .map(|account| account.n_used)
            .collect()
    };
    let finished = load(
        &inputs,
        &shipped_layout("tarnwick-long.toml"),
        &horizon(),
        &|_| {},
    )
    .unwrap();
    let sure = loaded(&made.text, &inputs);
    assert_eq!(used(&sure), used(&finished));
    assert_eq!(sure.tables.events.len(), finished.tables.events.len());
    assert_eq!(
        sure.tables.foot_exams.len(),
        finished.tables.foot_exams.len()
    );
}

/// Header, then thirty rows of the same cells but for the id.
fn rows(header: &str, cells: &[&str]) -> String {
    let mut text = format!("{header}\n");
    for number in 0..30 {
        text += &format!("P{number},{}\n", cells[number % cells.len()]);
    }
    text
}

#[test]
fn what_cannot_be_told_stays_a_comment() {
    let (_folder, made) = drafted(&[(
        "v.csv",
        &rows(
            "patient_id,visit_date,site_length,state",
            &["04/03/2025,3.0,Q", "05/06/2025,2.5,O"],
        ),
    )]);
    assert!(
        made.text.contains("# unsure: format = \"day-first\""),
        "{}",
        made.text
    );
    assert!(
        made.text.contains("say whether day or month comes first"),
        "{}",
        made.text
    );
    // without the line the layout is refused, not read at a guess
    assert!(layout::parse(&made.text, "draft.toml").is_err());
}

#[test]
fn columns_that_identify_are_named_first_and_no_cell_of_them_is_written() {
    let (_folder, made) = drafted(&[(
        "v.csv",
        &rows(
            "patient_id,visit_date,surname,tel,sex",
            &[
                "25/03/2025,Pellam,01632 960001,F",
                "14/03/2025,Harrow,01632 960002,M",
            ],
        ),
    )]);
    let named: Vec<&str> = made
        .identifying
        .iter()
        .map(|(_, column, _)| column.as_str())
        .collect();
    assert_eq!(named, ["surname", "tel"]);
    assert!(
        made.text.contains("ignore = [\"surname\", \"tel\"]"),
        "{}",
        made.text
    );
    for cell in ["Pellam", "Harrow", "960001"] {
        assert!(!made.text.contains(cell), "{}", made.text);
    }
    assert!(
        layout::parse(&made.text, "draft.toml").is_ok(),
        "{}",
        made.text
    );
}

#[test]
fn codes_of_few_rows_are_not_written() {
    let mut text = rows(
        "patient_id,visit_date,sex",
        &["25/03/2025,F", "14/03/2025,M"],
    );
    text += "P90,14/03/2025,Zoe\nP91,14/03/2025,Zoe\n";
    let (_folder, made) = drafted(&[("v.csv", &text)]);
    assert!(!made.text.contains("Zoe"), "{}", made.text);
    assert!(made.text.contains("1 more kinds of cells"), "{}", made.text);
}

#[test]
fn hostile_headers_and_files_give_a_draft_or_an_error_and_never_a_broken_file() {
    let hostile = "patient_id,\"a\nname = \"\"x\"\"\",\"{slot}1\",\"{slot}2\",\"\u{202e}abc\",=cmd(),\"\"\nP1,1,2,3,4,5,6\n";
    for text in [
        hostile,
        "patient_id\n",
        "patient_id;visit_date\nP1;2025-03-04\nP2;2025-03-05\n",
        "{\"patient_id\": \"P1\", \"visit_date\": \"2025-03-04\"}\n",
        "\u{feff}patient_id,visit_date\nP1,2025-03-04\nP1\n,,,,\n",
        "w1_len,w1_len,w2_len\n1,2,3\n",
    ] {
        let folder = TestFolder::new("hostile");
        let path = folder.write("x.csv", text.as_bytes());
        let Ok(made) = draft(&[DraftFile {
            name: "x\n.csv".to_owned(),
            path,
        }]) else {
            continue;
        };
        // whatever is missing, the text is a layout but for what it says is left
        if let Err(error) = layout::parse(&made.text, "draft.toml") {
            let is_stated =
                error.message.contains("missing key") || error.message.contains("missing table");
            assert!(is_stated, "{error}\n{}", made.text);
        }
    }
    let folder = TestFolder::new("empty");
    for bytes in [&b""[..], b"PAR1abc", b"\xff\xfea\0", b"\0\0\0\0\n\0,\0"] {
        let path = folder.write("x", bytes);
        let _ = draft(&[DraftFile {
            name: "x".to_owned(),
            path,
        }]);
    }
}

/// Foreign headers, and what the draft must make of them. The dates of the first file stand in columns that are only likely.
#[test]
fn foreign_headers_find_their_fields_or_are_told_apart() {
    let (_folder, made) = drafted(&[(
        "v.csv",
        &rows(
            "client_id,Encounter.period.start,Condition.identifier,Condition.bodySite.laterality,location,\
             Condition.onsetDateTime,length_mm,wound_status",
            &[
                "2025-03-04T09:30:00Z,w1,left,midfoot,2025-02-01,21,open",
                "2025-03-18T09:30:00Z,w1,right,heel,2025-02-10,14,healed",
            ],
        ),
    )]);
    for expected in [
        "\nformat = \"iso\"",
        "\nid = \"client_id\"",
        "\ndate = \"Encounter.period.start\"",
        "label = \"Condition.identifier\"",
        "\nside = \"Condition.bodySite.laterality\"",
        "\nsite = ",
        "\nonset_date = \"Condition.onsetDateTime\"",
    ] {
        assert!(made.text.contains(expected), "{expected}: {}", made.text);
    }
}

#[test]
fn one_row_a_person_with_visits_side_by_side_is_told() {
    let (_folder, made) = drafted(&[(
        "v.csv",
        &rows(
            "id,foot,V1 date,V1 length mm,V2 date,V2 length mm",
            &["25/03/2025,21,14/04/2025,14", "26/03/2025,19,15/04/2025,8"]
                .map(|cells| format!("L,{cells}"))
                .each_ref()
                .map(String::as_str),
        ),
    )]);
    assert!(
        made.text.contains("export one row a visit"),
        "{}",
        made.text
    );
    // a heading that is a comment leaves no line of its own behind in the section before it
    let slots = made.text.lines().filter(|line| line.contains("slots ="));
    assert!(
        slots.clone().all(|line| line.starts_with("# ")),
        "{}",
        made.text
    );
    assert_eq!(slots.count(), 1);
}

/// Words of the trade in German; rows repeated so that codes are frequent enough to be written down.
#[test]
fn a_german_export_is_drafted_with_its_facts_about_people_on_the_rows_of_visits() {
    let mut visits = String::from(
        "Pat.-Nr.;Besuchsdatum;Standort;Terminstatus;Geburtsjahr;Geschlecht;Früheres Ulkus\r\n",
    );
    let mut wounds =
        String::from("Pat.-Nr.;Besuchsdatum;Wunde;Seite;Länge (mm);Fläche (cm²);Status\r\n");
    for n in 1..=40 {
        let (person, day) = (100 + n, 1 + n % 28);
        let status = if n % 4 == 0 { "abgesagt" } else { "erschienen" };
        let sex = if n % 2 == 0 { "weiblich" } else { "männlich" };
        visits += &format!(
            "D-{person};{day:02}.03.2025;Süd;{status};19{};{sex};ja\r\n",
            40 + n
        );
        let side = if n % 2 == 0 { "links" } else { "rechts" };
        wounds += &format!(
            "D-{person};{day:02}.03.2025;A;{side};1{},5;1,25;offen\r\n",
            n % 9
        );
    }
    let (folder, made) = drafted(&[("besuche.csv", &visits), ("wunden.csv", &wounds)]);
    assert_eq!(made.identifying, []);
    for line in [
        "decimal = \"comma\"",
        "format = \"day-first\"",
        "kept = [\"erschienen\"]",
        "birth_year = \"Geburtsjahr\"",
        "length = { column = \"Länge (mm)\", unit = \"mm\" }",
        "\"männlich\" = \"male\"",
    ] {
        let is_sure = |text: &str| text.starts_with(line) && !text.starts_with('#');
        assert!(made.text.lines().any(is_sure), "{line}\n{}", made.text);
    }
    let input = |name: &str, role| Input {
        name: name.to_owned(),
        path: folder.0.join(name),
        role: Some(role),
        joined: None,
        exported: None,
    };
    let loaded = loaded(
        &made.text,
        &[
            input("besuche.csv", Role::Visits),
            input("wunden.csv", Role::UlcerObservations),
        ],
    );
    assert_eq!(loaded.tables.patients[0].birth_year, Some(1941));
    let first = &loaded.tables.ulcer_observations[0];
    assert_eq!((first.length_cm, first.area_cm2), (Some(1.15), Some(1.25)));
}

#[test]
fn rows_that_name_a_visit_are_joined_to_it() {
    let mut visits = String::from("encounter_id,patient_key,encounter_date\n");
    let mut wounds = String::from("encounter_id,wound,laterality,wound_status\n");
    for n in 1..=30 {
        visits += &format!("E{n},K-{},2025-03-{:02}\n", n % 7, 1 + n % 28);
        wounds += &format!("E{n},A,L,Open\n");
    }
    let (folder, made) = drafted(&[("encounters.csv", &visits), ("wounds.csv", &wounds)]);
    let finished = with_likely_lines(&made.text);
    let input = |name: &str, role| Input {
        name: name.to_owned(),
        path: folder.0.join(name),
        role: Some(role),
        joined: None,
        exported: None,
    };
    let loaded = loaded(
        &finished,
        &[
            input("encounters.csv", Role::Visits),
            input("wounds.csv", Role::UlcerObservations),
        ],
    );
    assert_eq!(loaded.tables.ulcer_observations.len(), 30, "{}", made.text);
    assert_eq!(loaded.tables.patients.len(), 7);
}

/// Headers of no language that is known: what the cells are is told, and what a section needs is proposed.
#[test]
fn columns_without_a_field_are_described_by_their_cells_which_are_not_shown() {
    let mut visits = String::from("kliendi_kood,visiidi_kuupaev,tulemus\n");
    let mut wounds = String::from("kliendi_kood,kuupaev,kylg,pikkus\n");
    for n in 1..=30 {
        let result = if n % 2 == 0 { "tuli" } else { "ei tulnud" };
        visits += &format!("K-{n},{:02}.03.2025,{result}\n", 1 + n % 28);
        wounds += &format!("K-{n},{:02}.03.2025,vasak,1.{n}\n", 1 + n % 28);
    }
    let (_folder, made) = drafted(&[("visit.csv", &visits), ("wound.csv", &wounds)]);
    for line in [
        "# likely: format = \"day-first\"",
        "# likely: patient = \"kliendi_kood\"",
        "# likely: date = \"visiidi_kuupaev\"",
        "#   \"tulemus\"  (30 cells of 2 kinds)",
        "#   \"pikkus\"  (30 cells, nearly all numbers)",
    ] {
        assert!(
            made.text.lines().any(|text| text.starts_with(line)),
            "{line}\n{}",
            made.text
        );
    }
    assert!(!made.text.contains("tulnud") && !made.text.contains("vasak"));
}

/// Titles above the header, days as numbers, years of two digits, months spelt out: the draft says what it saw.
#[test]
fn how_the_file_is_built_and_dated_is_told() {
    let table = |dates: &dyn Fn(usize) -> String| {
        let rows = (0..40).map(|n| format!("P{n:03},{},A,L,12\n", dates(n)));
        let head = "Patient ID,Visit date,Ulcer ref,Side,Length (mm)\n".to_owned();
        head + &rows.collect::<String>()
    };
    for (text, lines) in [
        (
            format!(
                "Visits\nPeriod: 2025\n{}",
                table(&|n| format!("2025-03-{:02}", n % 28 + 1))
            ),
            vec!["title_lines = 2  # sure", "format = \"iso\"  # sure"],
        ),
        (
            format!(
                "Visits,,,,\n,,,,\n{}",
                table(&|n| format!("{:02}/03/2025", n % 28 + 1))
            ),
            vec!["title_lines = 2  # sure", "format = \"day-first\"  # sure"],
        ),
        (
            table(&|n| (45_000 + n).to_string()),
            vec![
                "format = \"day-number\"  # sure",
                "date = \"Visit date\"  # sure",
            ],
        ),
        (
            table(&|n| format!("{:02}/03/25", n % 28 + 1)),
            vec![
                "format = \"day-first\"  # sure",
                "# likely: two_digit_years_from = 1970",
            ],
        ),
        (
            table(&|n| format!("{:02}-Mar-2025", n % 28 + 1)),
            vec!["format = \"day-first\"  # sure: of 40 dates: the month is spelt out"],
        ),
    ] {
        let (_folder, made) = drafted(&[("visits.csv", &text)]);
        for line in lines {
            assert!(made.text.contains(line), "{line}\n{}", made.text);
        }
        assert!(made.identifying.is_empty(), "{:?}", made.identifying);
        assert!(
            made.text
                .contains("[attendance]: no column was found for it")
        );
    }
}
