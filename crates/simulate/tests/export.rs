//! The exports are the same bytes for the same seed, agree with each other, and contain the mistakes that are listed.

use proptest::prelude::*;
use simulate::{
    LongFiles, Mistake, Scenario, Typing, WideExport, codebook, simulate, typing_errors_file,
    wide_columns,
};
use std::collections::BTreeMap;
use std::path::Path;

fn wide(scenario: &Scenario, seed: u64) -> WideExport {
    let practice = simulate(scenario, seed).expect("settings within their ranges");
    practice.export_wide().expect("a buffer can be written to")
}

fn of_n(n_patients: u64) -> Scenario {
    Scenario {
        n_patients,
        ..Scenario::default()
    }
}

fn records(csv: &[u8]) -> Vec<BTreeMap<String, String>> {
    let csv = csv.strip_prefix("\u{feff}".as_bytes()).unwrap_or(csv);
    csv::Reader::from_reader(csv)
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("every row has the header's cells")
}

#[test]
fn the_committed_sample_is_what_the_generator_makes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-data");
    let practice = simulate(&Scenario::default(), 20_230_101).unwrap();
    let export = practice.export_wide().unwrap();
    let committed = |name: &str| std::fs::read(folder.join(name)).unwrap();
    assert!(
        export.csv == committed("tarnwick-visits.csv"),
        "remake sample-data with the example sample_data"
    );
    let mut truth = practice.latent_truth().files().unwrap();
    truth.extend(practice.visible_truth().files().unwrap());
    truth.push(typing_errors_file(&export.typing_errors).unwrap());
    for file in truth {
        assert!(
            file.bytes == committed(&format!("truth/{}", file.name)),
            "{}",
            file.name
        );
    }
    let readme = String::from_utf8(committed("README.md")).unwrap();
    assert!(
        readme.contains(&codebook()),
        "the codebook in sample-data/README.md is not the generator's"
    );
}

#[test]
fn a_patient_is_the_same_however_many_there_are() {
    let small = wide(&of_n(40), 9).csv;
    let large = wide(&of_n(80), 9).csv;
    assert!(large.len() > small.len() && large.starts_with(&small));
    assert_ne!(small, wide(&of_n(40), 10).csv);
}

#[test]
fn exactly_the_listed_cells_differ_from_a_faultless_typist() {
    let often = Typing {
        wrong_unit: 0.1,
        impossible_date: 0.1,
        unknown_code: 0.1,
        wrong_side: 0.1,
        repeated_row: 0.1,
        impossible_value: 0.1,
        onset_after_visit: 0.1,
        ..Typing::default()
    };
    let never = Typing {
        wrong_unit: 0.0,
        impossible_date: 0.0,
        unknown_code: 0.0,
        wrong_side: 0.0,
        repeated_row: 0.0,
        impossible_value: 0.0,
        onset_after_visit: 0.0,
        ..Typing::default()
    };
    let spoilt = wide(
        &Scenario {
            typing: often,
            ..of_n(60)
        },
        3,
    );
    let clean = wide(
        &Scenario {
            typing: never,
            ..of_n(60)
        },
        3,
    );
    assert_eq!(clean.typing_errors, []);
    let is_repeat = |record: u64| {
        spoilt
            .typing_errors
            .iter()
            .any(|error| error.record == record && error.mistake == Mistake::RepeatedRow)
    };
    let mut clean_rows = records(&clean.csv).into_iter();
    let mut found = Vec::new();
    let rows = records(&spoilt.csv);
    for (row, record) in rows.iter().zip(1..) {
        if is_repeat(record) {
            assert_eq!(row, &rows[record as usize - 2]);
            continue;
        }
        let meant = clean_rows.next().unwrap();
        found.extend(
            row.iter()
                .filter(|(name, cell)| meant[*name] != **cell)
                .map(|(name, _)| (record, name.clone())),
        );
    }
    assert_eq!(clean_rows.next(), None);
    let mut listed: Vec<(u64, String)> = spoilt
        .typing_errors
        .iter()
        .filter(|error| error.mistake != Mistake::RepeatedRow)
        .map(|error| (error.record, error.column.clone()))
        .collect();
    listed.sort();
    assert_eq!(found, listed);
    let kinds: std::collections::BTreeSet<Mistake> = spoilt
        .typing_errors
        .iter()
        .map(|error| error.mistake)
        .collect();
    assert_eq!(kinds.len(), 7, "every kind of mistake is made");
}

#[test]
fn without_noise_nothing_asked_for_is_blank_and_no_mistake_is_made() {
    let export = wide(&of_n(80).without_noise(), 5);
    assert_eq!(export.typing_errors, []);
    let asked = [
        "yob",
        "sex",
        "dm_type",
        "first_contact",
        "rrt",
        "smoke",
        "prev_ulcer",
        "l_prev_amp",
    ];
    for row in records(&export.csv) {
        assert!(asked.iter().all(|name| !row[*name].is_empty()), "{row:?}");
        for slot in 1..=4 {
            let cell = |name: &str| row[&format!("w{slot}_{name}")].as_str();
            if cell("state") == "O" && cell("by") == "CLN" {
                let measured = [
                    "side", "site", "onset", "len", "wid", "dep", "tissue", "gang", "inf",
                    "dress_by",
                ];
                assert!(
                    measured.iter().all(|name| !cell(name).is_empty()),
                    "{row:?}"
                );
            }
        }
    }
}

#[test]
fn the_long_export_holds_what_the_wide_one_was_meant_to_hold() {
    let mut scenario = of_n(120);
    scenario.typing = scenario.clone().without_noise().typing;
    let practice = simulate(&scenario, 11).unwrap();
    let rows = records(&practice.export_wide().unwrap().csv);
    let long: LongFiles<Vec<u8>> = practice.export_long().unwrap();
    let visits = records(&long.visits);
    assert_eq!(
        visits.len(),
        rows.iter().filter(|row| row["attend"] != "ADM").count()
    );
    let sum = |cells: &mut dyn Iterator<Item = &String>| -> f64 {
        cells.filter_map(|cell| cell.parse::<f64>().ok()).sum()
    };
    let slots: Vec<(String, String)> = (1..=4)
        .map(|slot| (format!("w{slot}_ref"), format!("w{slot}_len")))
        .collect();
    let ulcers = records(&long.ulcer_observations);
    let n_wide: usize = slots
        .iter()
        .map(|(label, _)| rows.iter().filter(|row| !row[label].is_empty()).count())
        .sum();
    assert_eq!(ulcers.len(), n_wide);
    let length_mm: f64 = slots
        .iter()
        .map(|(_, length)| sum(&mut rows.iter().map(|row| &row[length])))
        .sum();
    let length_cm = sum(&mut ulcers.iter().map(|ulcer| &ulcer["length_cm"]));
    assert!(
        (length_mm / 10.0 - length_cm).abs() < 1e-6,
        "{length_mm} mm, {length_cm} cm"
    );
    let n_events = |slot: &str| rows.iter().filter(|row| !row[slot].is_empty()).count();
    assert_eq!(
        records(&long.events).len(),
        n_events("ev1_kind") + n_events("ev2_kind")
    );
    let mut people: Vec<&String> = rows.iter().map(|row| &row["pat_ref"]).collect();
    people.dedup();
    assert_eq!(records(&long.patients).len(), people.len());
}

#[test]
fn no_row_lies_outside_the_export_or_after_death() {
    let mut scenario = of_n(300).without_noise();
    scenario.people.share_under_care_at_start = 0.5;
    scenario.hazards.death_per_year = 0.3;
    for row in records(&wide(&scenario, 2).csv) {
        let day = |cell: &str| chrono::NaiveDate::parse_from_str(cell, "%d/%m/%Y").ok();
        let visit = day(&row["vis_date"]).unwrap();
        assert!(
            (scenario.data_start..=scenario.cut_off).contains(&visit),
            "{row:?}"
        );
        if let Some(death) = day(&row["dod"]) {
            assert!(visit < death || row["attend"] == "ADM", "{row:?}");
        }
    }
}

#[test]
fn column_names_are_unique() {
    let mut names: Vec<String> = wide_columns()
        .into_iter()
        .map(|column| column.name)
        .collect();
    let n = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), n);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn any_practice_within_the_ranges_is_made_without_fault(
        seed in any::<u64>(),
        loss_per_year in 0.0..50.0,
        healing_per_year in 0.0..100.0,
        share in 0.0..=1.0,
        ratio in 0.001..1000.0,
        max_open in 1_usize..6,
        days in 0_u64..400,
    ) {
        let mut scenario = of_n(5);
        scenario.cut_off = scenario.data_start + chrono::Days::new(days);
        scenario.hazards.healing_per_year = healing_per_year;
        scenario.hazards.share_dehiscence = share;
        scenario.hazards.further_ulcer_per_year = 20.0 * share;
        scenario.hazards.split_per_year = 5.0 * share;
        scenario.hazards.merge_per_year = 5.0 * share;
        scenario.hazards.minor_amputation_ratio_each = ratio;
        scenario.visits.loss_per_year = loss_per_year;
        scenario.visits.share_remote = share;
        scenario.recording.share_item_missing = share;
        scenario.ulcers.max_open = max_open;
        let practice = simulate(&scenario, seed).unwrap();
        let export = practice.export_wide().unwrap();
        prop_assert!(records(&export.csv).iter().all(|row| row.len() == wide_columns().len()));
        prop_assert!(practice.export_long().is_ok());
        prop_assert!(practice.visible_truth().files().is_ok());
        prop_assert!(practice.latent_truth().files().is_ok());
    }
}
