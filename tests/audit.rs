//! Auditing a run: are the files those it wrote, who stands behind a figure, and why does a figure differ from last time.
//!
//! The stories are short enough to be worked out by hand. Four ulcers are first seen in 2024 Q3:
//!
//! | Person | First seen | Then | 12 weeks are up | Healed by then? |
//! |---|---|---|---|---|
//! | A | 10 July | closed 20 August (day 41), still closed 1 October | 2 October | yes |
//! | B | 15 July | open 10 October (day 87) | 7 October | no |
//! | C | 1 August | never seen again | 24 October | unknown |
//! | D | 1 September | closed 1 October (day 30), open again 20 October (19 days later), open 1 December | 24 November | no: reopened within 28 days |
//!
//! So 1 of 4 healed and 1 is unknown. When C's missing row turns up (closed on 1 September, day 31), 2 of 4 healed and none is
//! unknown; with a reopening window of 14 days D counts as healed too.

use crate::support::{Folder, limbledger, printed, root, said, sample_run};
use serde_json::Value;
use std::path::Path;

const ULCERS: &str = "patient,date,side,label,site,onset,onset_precision,origin,parent,merged_into,length_cm,width_cm,depth_cm,area_cm2,is_after_debridement,tissue_depth,gangrene,infection,probe_to_bone,osteomyelitis,state,seen_by,debrided,cultured,antibiotic,offloading_prescribed,offloading_dispensed,dressing_on_arrival,dressing_carer";
const PATIENTS: &str = "patient,recorded_date,referral_source,first_contact,birth_year,sex,diabetes_type,diabetes_year,renal_replacement,smoker,prior_ulcer,prior_amputation_left,prior_amputation_right,death_date,last_contact";
const VISITS: &str = "patient,date,clinic_site,clinician,clinician_role,setting,planned_return,hba1c_percent,attendance";
const EXAMS: &str = "patient,date,side,sensation,pulses,waveform,ankle_mmhg,brachial_mmhg,toe_mmhg,abi,tbi,tcpo2_mmhg,deformity,charcot,worn_size,measured_size,footwear_suitable";
const EVENTS: &str = "patient,date,kind,side,ulcer_label,is_staged,height";

/// What was seen, a line a visit: person, date, state.
const STORY: &[(&str, &str, &str)] = &[
    ("A", "2024-07-10", "open"),
    ("A", "2024-08-20", "closed"),
    ("A", "2024-10-01", "closed"),
    ("B", "2024-07-15", "open"),
    ("B", "2024-10-10", "open"),
    ("C", "2024-08-01", "open"),
    ("D", "2024-09-01", "open"),
    ("D", "2024-10-01", "closed"),
    ("D", "2024-10-20", "open"),
    ("D", "2024-12-01", "open"),
];
const LATE_ROW: (&str, &str, &str) = ("C", "2024-09-01", "closed");
const NEW_ROWS: &[(&str, &str, &str)] = &[
    ("E", "2024-11-05", "open"),
    ("E", "2025-02-03", "open"),
    ("B", "2025-03-01", "closed"),
];

/// Writes an export and its pipeline file into a folder below `folder`.
fn practice(
    folder: &Folder,
    name: &str,
    story: &[(&str, &str, &str)],
    cut_off: &str,
    rules: &str,
) -> std::path::PathBuf {
    let mut people: Vec<&str> = story.iter().map(|row| row.0).collect();
    people.sort_unstable();
    people.dedup();
    let lines = |header: &str, rows: Vec<String>| format!("{header}\n{}", rows.concat());
    let patients = people
        .iter()
        .map(|person| format!("{person}{}\n", ",".repeat(14)));
    let visits = story
        .iter()
        .map(|(person, date, _)| format!("{person},{date},,,,,,,kept\n"));
    let ulcers = story.iter().map(|(person, date, state)| {
        format!("{person},{date},left,u1,forefoot-plantar,,,new,,,1,1,,,,,,,,,{state},clinician,,,,,,,\n")
    });
    folder.write(
        &format!("{name}/patients.csv"),
        &lines(PATIENTS, patients.collect()),
    );
    folder.write(
        &format!("{name}/visits.csv"),
        &lines(VISITS, visits.collect()),
    );
    folder.write(&format!("{name}/foot-exams.csv"), &lines(EXAMS, Vec::new()));
    folder.write(
        &format!("{name}/ulcer-observations.csv"),
        &lines(ULCERS, ulcers.collect()),
    );
    folder.write(&format!("{name}/events.csv"), &lines(EVENTS, Vec::new()));
    let layout =
        std::fs::canonicalize(root().join("pipelines/layouts/tarnwick-long.toml")).unwrap();
    let files: String = [
        "patients",
        "visits",
        "foot-exams",
        "ulcer-observations",
        "events",
    ]
    .iter()
    .map(|role| format!("[[export.file]]\npath = \"{role}.csv\"\nrole = \"{role}\"\n\n"))
    .collect();
    folder.write(
        &format!("{name}/pipeline.toml"),
        &format!(
            "title = \"Report\"\npractice = \"Made-up\"\n\n[export]\nlayout = \"{}\"\n\n{files}[known]\ndata_start = 2024-01-01\ncut_off = {cut_off}\n\n\
             [report]\nquarter = \"2024Q4\"\naudiences = [\"clinic\", \"auditor\", \"public\"]\nfolder = \"run\"\n\n[rules]\n{rules}\n",
            layout.display()
        ),
    )
}

fn run(pipeline: &Path, more: &[&std::ffi::OsStr]) -> std::path::PathBuf {
    let mut arguments = vec!["run".as_ref(), pipeline.as_os_str()];
    arguments.extend(more);
    let output = limbledger(arguments);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    pipeline.with_file_name("run")
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The changed figures of one measure and quarter: (numerator then, now, causes).
fn restated(changes: &Value, measure: &str, period: &str) -> Vec<(u64, u64, Vec<String>)> {
    let of = |result: &Value| result["numerator"]["shown"].as_u64().unwrap();
    let all = changes["restatements"].as_array().unwrap().iter();
    all.filter(|changed| {
        changed["before"]["measure"] == measure && changed["before"]["period"] == period
    })
    .map(|changed| {
        let causes = changed["causes"].as_array().unwrap().iter();
        let causes = causes
            .map(|cause| cause.as_str().unwrap().to_owned())
            .collect();
        (of(&changed["before"]), of(&changed["after"]), causes)
    })
    .collect()
}

#[test]
fn a_figure_is_followed_to_the_people_and_rows_behind_it() {
    let folder = Folder::new("trace");
    let pipeline = practice(&folder, "then", STORY, "2025-01-31", "");
    let place = run(&pipeline, &[]);
    let ask = |more: &[&str]| {
        let mut arguments = vec![
            "trace",
            place.to_str().unwrap(),
            "healed-within-12-weeks",
            "2024Q3",
        ];
        arguments.extend(more);
        limbledger(arguments)
    };
    let kept = ask(&[]);
    assert_eq!(kept.status.code(), Some(0), "{}", said(&kept));
    let file = "ulcer-observations.csv";
    assert_eq!(
        printed(&kept),
        format!(
            "part\tpatient\tbegan\tday\toutcome\ttold by\n\
             numerator\tA\t2024-07-10 {file}, record 1\t41\thealed\t2024-08-20 {file}, record 2\n\
             denominator\tB\t2024-07-15 {file}, record 4\t87\tcensored\t-\n\
             unknown\tC\t2024-08-01 {file}, record 6\t0\tcensored\t-\n\
             denominator\tD\t2024-09-01 {file}, record 7\t91\tcensored\t-\n"
        )
    );
    assert!(
        said(&kept).contains("1 in the numerator, 4 in the denominator, 1 unknown"),
        "{}",
        said(&kept)
    );
    let fresh = ask(&["--pipeline", pipeline.to_str().unwrap()]);
    assert_eq!(printed(&fresh), printed(&kept), "{}", said(&fresh));
    let only = ask(&["--only", "unknown"]);
    assert_eq!(printed(&only).lines().count(), 2);
    let by_json = json(&printed(&ask(&["--json"])));
    assert_eq!(by_json["subjects"].as_array().unwrap().len(), 4);
    let wrong = ask(&["--stratum", "tier 9"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        said(&wrong).contains("hint: strata are `all`"),
        "{}",
        said(&wrong)
    );
}

/// People A and C are seen at a site of the name `all`, B and D at the Hill.
#[test]
fn a_site_is_not_traced_and_one_named_like_everybody_is_told_from_them() {
    let folder = Folder::new("trace-site");
    let pipeline = practice(&folder, "then", STORY, "2025-01-31", "");
    let change = |name: &str, change: &dyn Fn(String) -> String| {
        let text = std::fs::read_to_string(folder.path(name)).unwrap();
        folder.write(name, &change(text));
    };
    change("then/visits.csv", &|text| {
        let site = |line: &str| match line.get(..1) {
            Some("A" | "C") => line.replace(",,,,,,,", ",all,,,,,,"),
            _ => line.replace(",,,,,,,", ",Hill,,,,,,"),
        };
        text.lines().map(|line| site(line) + "\n").collect()
    });
    change("then/pipeline.toml", &|text| {
        text.replace("folder = \"run\"", "folder = \"run\"\nstrata = [\"site\"]")
    });
    let place = run(&pipeline, &[]);
    let ask = |stratum: &str| {
        limbledger([
            "trace".as_ref(),
            place.as_os_str(),
            "healed-within-12-weeks".as_ref(),
            "2024Q3".as_ref(),
            "--stratum".as_ref(),
            stratum.as_ref(),
        ])
    };
    let everybody = ask("all");
    assert_eq!(everybody.status.code(), Some(0), "{}", said(&everybody));
    assert_eq!(printed(&everybody).lines().count(), 1 + 4);
    assert!(
        said(&everybody).contains("the one of that name in the table `By site` is another"),
        "{}",
        said(&everybody)
    );
    let site = ask("Hill");
    assert_eq!(site.status.code(), Some(2));
    assert!(
        said(&site).contains("the strata of the table `By site` are not traced"),
        "{}",
        said(&site)
    );
}

#[test]
fn a_trace_of_another_export_is_refused_and_none_is_in_the_public_copy() {
    let folder = Folder::new("trace-other");
    let pipeline = practice(&folder, "then", STORY, "2025-01-31", "");
    let place = run(&pipeline, &[]);
    assert!(!place.join("public/trace.csv").exists() && !place.join("clinic/trace.csv").exists());
    folder.write("then/ulcer-observations.csv", &format!("{ULCERS}\n"));
    let output = limbledger([
        "trace".as_ref(),
        place.as_os_str(),
        "healed-within-12-weeks".as_ref(),
        "--pipeline".as_ref(),
        pipeline.as_os_str(),
    ]);
    assert_ne!(output.status.code(), Some(0));
}

#[test]
fn every_count_of_the_sample_report_has_as_many_people_behind_it() {
    use outcomes::measure::{Cohort, find_measure, places, tally_parts};
    use outcomes::rules::Quarter;
    let out = sample_run();
    let report = json(&std::fs::read_to_string(out.join("auditor/report.json")).unwrap());
    let mut rows: Vec<csv::StringRecord> = Vec::new();
    let mut reader = csv::Reader::from_path(out.join("auditor/trace.csv")).unwrap();
    rows.extend(reader.records().map(Result::unwrap));
    let families = report["families"].as_array().unwrap().iter();
    let sheets = families.flat_map(|family| family["measures"].as_array().unwrap());
    let mut n_checked = 0;
    for result in sheets.flat_map(|sheet| sheet["results"].as_array().unwrap()) {
        let text = |key: &str| result[key].as_str().unwrap();
        let measure = find_measure(text("measure")).unwrap();
        let cohort = Cohort::parse(text("period")).unwrap();
        let own: Vec<&csv::StringRecord> = rows
            .iter()
            .filter(|row| &row[0] == measure.id)
            .filter(|row| {
                let quarter = Quarter::parse(&row[1]).unwrap();
                cohort.first <= quarter && quarter <= cohort.last
            })
            .collect();
        let strata: Vec<String> = own.iter().map(|row| row[2].to_owned()).collect();
        let all = places(measure, &strata);
        let place = all.iter().find(|place| place.is_worded(text("stratum")));
        let shown = |key: &str| result[key]["shown"].as_u64();
        if [shown("numerator"), shown("denominator")] == [None, None]
            || result["value"]["kind"] == "not-yet"
        {
            continue;
        }
        if own.is_empty() {
            assert_eq!(
                shown("denominator").or(shown("numerator")),
                Some(0),
                "{result}"
            );
            continue;
        }
        let place = place.unwrap_or_else(|| panic!("no place for {result}"));
        let parts = own.iter().map(|row| {
            place.part(
                measure,
                &row[2],
                &row[9],
                row[8].parse().ok(),
                !row[13].is_empty(),
            )
        });
        let printed: outcomes::report::MeasureResult =
            serde_json::from_value(result.clone()).unwrap();
        let found = tally_parts(measure, Some(&printed.value), parts);
        for (key, found) in ["numerator", "denominator", "n_unknown"]
            .into_iter()
            .zip(found)
        {
            if let Some(said) = shown(key) {
                assert_eq!(found, said, "{key} of {result}");
                n_checked += 1;
            }
        }
    }
    assert!(n_checked > 500, "{n_checked}");
    // No rule tried decides how many amputations the practice was told of, so people left out of a trial would show here.
    let tried = report["sensitivity"].as_array().unwrap().iter();
    let settings: Vec<&Value> = tried
        .filter(|line| line["rule"].as_str().unwrap().contains('_'))
        .collect();
    assert!(settings.len() > 10);
    for line in settings {
        let unchanged = line["unchanged"].as_array().unwrap();
        assert!(
            unchanged.iter().any(|id| id == "major-amputations"),
            "{line}"
        );
    }
}

#[test]
fn a_whole_folder_is_verified_and_every_kind_of_difference_is_named() {
    let folder = Folder::new("verify");
    let pipeline = practice(&folder, "then", STORY, "2025-01-31", "");
    let place = run(&pipeline, &[]);
    let verify = || {
        limbledger([
            "verify".as_ref(),
            place.as_os_str(),
            "--pipeline".as_ref(),
            pipeline.as_os_str(),
        ])
    };
    let whole = verify();
    assert_eq!(
        whole.status.code(),
        Some(0),
        "{}{}",
        printed(&whole),
        said(&whole)
    );
    assert!(!printed(&whole).contains("DIFFERS"));

    let report = place.join("clinic/report.html");
    std::fs::write(
        &report,
        std::fs::read_to_string(&report)
            .unwrap()
            .replacen("41", "14", 1),
    )
    .unwrap();
    std::fs::remove_file(place.join("clinic/findings.csv")).unwrap();
    std::fs::write(place.join("note.txt"), "added").unwrap();
    let rows = std::fs::read_to_string(folder.path("then/events.csv")).unwrap();
    folder.write("then/events.csv", &format!("{rows}\n"));
    let text = std::fs::read_to_string(&pipeline).unwrap();
    std::fs::write(
        &pipeline,
        text.replace("[rules]", "[rules]\nlost_after_days = 60"),
    )
    .unwrap();
    let changed = verify();
    assert_eq!(changed.status.code(), Some(1));
    for words in [
        "DIFFERS  clinic/report.html: other content of the same length",
        "DIFFERS  clinic/findings.csv: ",
        "DIFFERS  note.txt: not among the outputs of the run",
        "DIFFERS  export events.csv: the file was changed since",
        "the pipeline file was changed since",
        "DIFFERS  rules.lost_after_days: 90 then, 60 now",
        "layout",
    ] {
        assert!(
            printed(&changed).contains(words),
            "`{words}` is not in:\n{}",
            printed(&changed)
        );
    }
    assert!(
        said(&changed).contains("6 of what was looked at differ"),
        "{}",
        said(&changed)
    );
    let nothing = limbledger(["verify".as_ref(), folder.path("then").as_os_str()]);
    assert_eq!(nothing.status.code(), Some(2));
}

#[test]
fn a_manifest_cannot_lead_out_of_its_folder() {
    let folder = Folder::new("verify-outside");
    let pipeline = practice(&folder, "then", STORY, "2025-01-31", "");
    let place = run(&pipeline, &[]);
    let manifest = place.join("manifest.json");
    let text = std::fs::read_to_string(&manifest).unwrap();
    std::fs::write(
        &manifest,
        text.replacen("clinic/report.json", "../pipeline.toml", 1),
    )
    .unwrap();
    let output = limbledger(["verify".as_ref(), place.as_os_str()]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        printed(&output)
            .contains("../pipeline.toml: the manifest names a file outside the run folder")
    );
}

#[test]
fn each_change_is_put_down_to_what_made_it() {
    let folder = Folder::new("compare");
    let then = run(&practice(&folder, "then", STORY, "2025-01-31", ""), &[]);
    let corrected: Vec<_> = STORY.iter().copied().chain([LATE_ROW]).collect();
    let grown: Vec<_> = STORY.iter().chain(NEW_ROWS).copied().collect();
    let both: Vec<_> = corrected.iter().chain(NEW_ROWS).copied().collect();
    let short = "reopening_window_days = 14";
    let (data, settings) = ("corrected data".to_owned(), "changed settings".to_owned());
    for (name, story, cut_off, rules, wanted) in [
        ("same", STORY.to_vec(), "2025-01-31", "", vec![]),
        (
            "corrected",
            corrected.clone(),
            "2025-01-31",
            "",
            vec![(1, 2, vec![data.clone()])],
        ),
        (
            "settings",
            STORY.to_vec(),
            "2025-01-31",
            short,
            vec![(1, 2, vec![settings.clone()])],
        ),
        ("grown", grown, "2025-06-30", "", vec![]),
        (
            "all",
            both,
            "2025-06-30",
            short,
            vec![(1, 3, vec![data, settings])],
        ),
    ] {
        let pipeline = practice(&folder, name, &story, cut_off, rules);
        let now = run(&pipeline, &["--compare-with".as_ref(), then.as_os_str()]);
        let report = json(&std::fs::read_to_string(now.join("auditor/report.json")).unwrap());
        let changes = &report["changes"];
        assert_eq!(
            restated(changes, "healed-within-12-weeks", "2024 Q3"),
            wanted,
            "{name}"
        );
        let others = changes["others"].as_array().unwrap();
        let is_ripe = |changed: &&Value| {
            changed["before"]["measure"] == "healed-within-12-weeks"
                && changed["before"]["period"] == "2024 Q4"
        };
        let ripe: Vec<&Value> = others.iter().filter(is_ripe).collect();
        assert_eq!(ripe.len(), usize::from(cut_off == "2025-06-30"), "{name}");
        assert!(
            ripe.iter()
                .all(|changed| changed["causes"][0] == "new data"),
            "{name}"
        );
        let is_same = changes["differences"].as_array().unwrap().is_empty();
        assert_eq!(is_same, name == "same", "{name}");

        let public = std::fs::read_to_string(now.join("public/report.json")).unwrap();
        assert!(json(&public).get("changes").is_none(), "{name}");
        let page = std::fs::read_to_string(now.join("clinic/report.html")).unwrap();
        assert!(
            page.contains("What changed since the last report, and why"),
            "{name}"
        );

        let compared = limbledger([
            "compare".as_ref(),
            then.as_os_str(),
            now.as_os_str(),
            "--later-pipeline".as_ref(),
            pipeline.as_os_str(),
            "--earlier-pipeline".as_ref(),
            folder.path("then/pipeline.toml").as_os_str(),
            "--json".as_ref(),
        ]);
        assert_eq!(compared.status.code(), Some(0), "{}", said(&compared));
        assert_eq!(
            restated(
                &json(&printed(&compared)),
                "healed-within-12-weeks",
                "2024 Q3"
            ),
            wanted,
            "{name}"
        );
    }
}

#[test]
fn from_print_alone_a_single_difference_is_named_and_several_are_not_told_apart() {
    let folder = Folder::new("compare-print");
    let then = run(&practice(&folder, "then", STORY, "2025-01-31", ""), &[]);
    let corrected: Vec<_> = STORY.iter().copied().chain([LATE_ROW]).collect();
    let short = "reopening_window_days = 14";
    for (name, story, rules, wanted) in [
        ("settings", STORY.to_vec(), short, "[changed settings]"),
        ("both", corrected, short, "[cannot be told apart]"),
    ] {
        let now = run(&practice(&folder, name, &story, "2025-01-31", rules), &[]);
        let output = limbledger(["compare".as_ref(), then.as_os_str(), now.as_os_str()]);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        let words = printed(&output);
        let line = words
            .lines()
            .find(|line| line.contains("healed-within-12-weeks, 2024 Q3: "));
        let line = line.unwrap_or_else(|| panic!("no line in:\n{words}"));
        assert!(line.ends_with(wanted), "{line}");
        assert!(
            words.contains("The setting reopening_window_days was 28 and is 14."),
            "{words}"
        );
    }
}

/// The auditor's report of the four ulcers, and its page.
fn auditor(name: &str) -> (Value, String, std::path::PathBuf, Folder) {
    let folder = Folder::new(name);
    let place = run(&practice(&folder, "then", STORY, "2025-01-31", ""), &[]);
    let read = |file: &str| std::fs::read_to_string(place.join("auditor").join(file)).unwrap();
    (
        json(&read("report.json")),
        read("report.html"),
        place,
        folder,
    )
}

/// With a window of 14 days D's closure stands. C is followed for no day, so three are at risk: one healing on day 41 makes 1/3; one
/// on day 30 and one on day 41 make 1/3 + 2/3 x 1/2 = 2/3 (Aalen-Johansen, nothing competes).
#[test]
fn a_rule_at_its_alternative_moves_the_headline_as_worked_out_by_hand() {
    let (report, page, place, _folder) = auditor("sensitivity");
    let tried = report["sensitivity"].as_array().unwrap();
    let of = |rule: &str, alternative: &str| {
        let found = tried
            .iter()
            .find(|line| line["rule"] == rule && line["alternative"] == alternative);
        found.unwrap_or_else(|| panic!("{rule} was not tried at {alternative}"))
    };
    let healed = |line: &Value| {
        let changed = line["changed"].as_array().unwrap().iter();
        changed
            .filter(|figure| figure["in_force"]["measure"] == "healed-within-12-weeks")
            .cloned()
            .collect::<Vec<_>>()
    };
    let figures = healed(of("reopening_window_days", "14"));
    assert_eq!(figures.len(), 1);
    let n = |of: &str| figures[0][of]["numerator"]["shown"].as_u64();
    assert_eq!((n("in_force"), n("alternative")), (Some(1), Some(2)));
    let difference = figures[0]["difference"].as_f64().unwrap();
    assert!((difference - 1.0 / 3.0).abs() < 1e-9, "{difference}");
    assert!(healed(of("lost_after_days", "60")).is_empty());
    let unit = of(
        "unit of analysis",
        "the first ulcer of each person in the cohort",
    );
    assert!(healed(unit).is_empty(), "everybody has one ulcer");
    assert!(page.contains("How much each rule decides"));
    for copy in ["clinic", "public"] {
        let text = std::fs::read_to_string(place.join(copy).join("report.json")).unwrap();
        for key in ["sensitivity", "cohort_table", "checklist"] {
            assert!(json(&text).get(key).is_none(), "{copy} holds {key}");
        }
    }
}

#[test]
fn who_was_followed_is_counted_with_what_is_missing_and_the_flow_adds_up() {
    let (report, _, _, _folder) = auditor("cohort");
    let table = &report["cohort_table"];
    assert_eq!(table["columns"], serde_json::json!(["2024", "all"]));
    let row = |title: &str, label: &str| {
        let groups = table["groups"].as_array().unwrap().iter();
        let group = groups
            .clone()
            .find(|group| group["title"].as_str().unwrap().starts_with(title))
            .unwrap();
        let rows = group["rows"].as_array().unwrap().iter();
        let row = rows.clone().find(|row| row["label"] == label).unwrap();
        row["cells"][1]["words"].as_str().unwrap().to_owned()
    };
    assert_eq!(row("Counted", "ulcers first seen here"), "4");
    assert_eq!(row("Counted", "people who had them"), "4");
    assert_eq!(row("Sex", "not recorded, or not gradable"), "4 (100%)");
    // 1 cm by 1 cm: pi/4 square cm.
    assert_eq!(row("Area", "median (quartiles)"), "0.8 (0.8 to 0.8), n = 4");
    assert_eq!(row("Part of the foot", "forefoot"), "4 (100%)");
    let steps = report["flow"].as_array().unwrap();
    let n = |step: &Value| step["n"]["shown"].as_u64().unwrap();
    let first = steps
        .iter()
        .position(|step| {
            step["label"]
                .as_str()
                .unwrap()
                .starts_with("first seen here")
        })
        .unwrap();
    let ends: Vec<u64> = steps[first + 1..]
        .iter()
        .take_while(|step| step["depth"] == 2)
        .map(n)
        .collect();
    assert_eq!(
        (n(&steps[first]), ends.iter().sum::<u64>(), ends.len()),
        (4, 4, 7)
    );
}

#[test]
fn every_place_that_the_checklist_names_is_on_the_page() {
    let (report, page, _, _folder) = auditor("checklist");
    let items = report["checklist"].as_array().unwrap();
    let of = |statement: &str| {
        items
            .iter()
            .filter(|item| item["statement"] == statement)
            .count()
    };
    assert_eq!((of("STROBE"), of("RECORD")), (32, 13));
    for title in [
        "From rows to cohorts",
        "What became of every row",
        "What the checks found",
        "How complete the fields are",
        "Who was followed",
        "How much each rule decides",
        "Settings in force",
        "Rules and settings",
        "Words used",
        "Cautions",
    ] {
        assert!(
            items
                .iter()
                .any(|item| item["answer"].as_str().unwrap().contains(title)),
            "{title} answers nothing"
        );
        assert!(
            page.contains(&format!(">{title}<")),
            "{title} is not on the page"
        );
    }
}

#[test]
fn numbers_and_dates_are_written_as_the_pipeline_file_asks_and_data_stay_as_they_are() {
    let folder = Folder::new("style");
    let plain = practice(&folder, "plain", STORY, "2025-01-31", "");
    let text = std::fs::read_to_string(&plain).unwrap();
    let written = text.replace(
        "[report]",
        "[report]\ndecimal_mark = \"comma\"\ndate_order = \"year-month-day\"",
    );
    practice(&folder, "comma", STORY, "2025-01-31", "");
    let comma = folder.write("comma/pipeline.toml", &written);
    let read = |pipeline: &Path, file: &str| {
        std::fs::read_to_string(run(pipeline, &[]).join("auditor").join(file)).unwrap()
    };
    let (plain_page, comma_page) = (read(&plain, "report.html"), read(&comma, "report.html"));
    assert!(
        plain_page.contains("0.8 (0.8 to 0.8), n = 4") && plain_page.contains("31 January 2025")
    );
    assert!(comma_page.contains("0,8 (0,8 to 0,8), n = 4") && comma_page.contains("2025-01-31"));
    assert!(!comma_page.contains("31 January 2025"));
    // published figures too
    assert!(plain_page.contains("24.2% (19.5-28.8)"));
    assert!(comma_page.contains("24,2% (19,5-28,8)") && !comma_page.contains("24.2%"));
    let values = |pipeline: &Path| {
        let report = json(&read(pipeline, "report.json"));
        let families = report["families"].as_array().unwrap().clone();
        let sheets = families
            .iter()
            .flat_map(|family| family["measures"].as_array().unwrap().clone());
        let results: Vec<Value> = sheets
            .flat_map(|sheet| sheet["results"].as_array().unwrap().clone())
            .collect();
        results
            .iter()
            .map(|result| result["value"].clone())
            .filter(|value| value["kind"] == "known")
            .collect::<Vec<_>>()
    };
    assert_eq!(values(&plain), values(&comma));
}
