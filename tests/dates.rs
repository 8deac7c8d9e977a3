//! Exports whose dates are shifted, tell years only, or belong to a limited data set: what the report may then say.

use crate::support::{Folder, limbledger, root, said};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Most days by which a person's dates are moved here.
const MOST_DAYS: i64 = 60;

/// The days since 1 March of year 0 of a date written `dd/mm/yyyy`, and back: Howard Hinnant's `days_from_civil`, written out
/// here so that nothing of the program moves the dates it is tried on.
fn days_of(day_first: &str) -> Option<i64> {
    let mut parts = day_first.split('/').map(|part| part.parse::<i64>().ok());
    let (day, month, year) = (parts.next()??, parts.next()??, parts.next()??);
    let year = if month <= 2 { year - 1 } else { year };
    let (era, month) = (year.div_euclid(400), (month + 9) % 12);
    let of_year = (153 * month + 2) / 5 + day - 1;
    let of_era = year.rem_euclid(400) * 365 + year.rem_euclid(400) / 4 - year.rem_euclid(400) / 100
        + of_year;
    Some(era * 146_097 + of_era)
}

fn written(days: i64) -> String {
    let (era, of_era) = (days.div_euclid(146_097), days.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = era * 400 + year + i64::from(month <= 2);
    format!("{day:02}/{month:02}/{year}")
}

/// A person's own shift, from the id.
fn shift_of(person: &str) -> i64 {
    let mixed = person
        .bytes()
        .fold(7_i64, |sum, byte| (sum * 31 + i64::from(byte)) % 10_007);
    mixed % (2 * MOST_DAYS + 1) - MOST_DAYS
}

fn sample() -> String {
    let text = std::fs::read_to_string(root().join("sample-data/tarnwick-visits.csv")).unwrap();
    text.trim_start_matches('\u{feff}').to_owned()
}

/// The sample export with another cell for every cell of a row, and a last column for the true quarter of the visit.
fn rewritten(cell: impl Fn(&str, &str) -> String, quarters: Option<&str>) -> String {
    let sample = sample();
    let mut lines = sample.lines();
    let header = lines.next().unwrap();
    let seen = header
        .split(',')
        .position(|name| name == "vis_date")
        .unwrap();
    let mut text = header.to_owned();
    if let Some(name) = quarters {
        text.push_str(&format!(",{name}"));
    }
    text.push('\n');
    for line in lines {
        let cells: Vec<&str> = line.split(',').collect();
        let person = cells.first().copied().unwrap();
        let new: Vec<String> = cells.iter().map(|text| cell(person, text)).collect();
        text.push_str(&new.join(","));
        if quarters.is_some() {
            text.push_str(&format!(",{}", quarter_of(cells[seen])));
        }
        text.push('\n');
    }
    text
}

fn shifted(person: &str, cell: &str) -> String {
    // a day that no calendar has is no date, and stays what it is
    let days = days_of(cell).filter(|days| written(*days) == cell);
    days.map_or_else(|| cell.to_owned(), |days| written(days + shift_of(person)))
}

fn quarter_of(day_first: &str) -> String {
    let parts: Vec<&str> = day_first.split('/').collect();
    let month: u32 = parts[1].parse().unwrap();
    format!("{}-Q{}", parts[2], (month - 1) / 3 + 1)
}

/// A pipeline over one export, with `[dates]` and `[visit]` of the layout amended.
fn pipeline(
    folder: &Folder,
    name: &str,
    export: &str,
    (dates, visit): (&str, &str),
    audiences: &str,
) -> PathBuf {
    let layout =
        std::fs::read_to_string(root().join("pipelines/layouts/tarnwick-wide.toml")).unwrap();
    let (layout, _) = layout.split_once("[[version]]").unwrap();
    let layout = layout
        .replace(
            "format = \"day-first\"\n",
            &format!("format = \"day-first\"\n{dates}"),
        )
        .replace("[visit]\n", &format!("[visit]\n{visit}"));
    folder.write(&format!("{name}-layout.toml"), &layout);
    folder.write(&format!("{name}.csv"), export);
    let text = std::fs::read_to_string(root().join("pipelines/quarterly.toml")).unwrap();
    let text = text
        .replace("../sample-data/tarnwick-visits.csv", &format!("{name}.csv"))
        .replace("layouts/tarnwick-wide.toml", &format!("{name}-layout.toml"))
        .replace("strata = [\"site\", \"tier\", \"severity\"]", "strata = []")
        .replace("\"clinic\", \"auditor\", \"public\"", audiences);
    folder.write(&format!("{name}.toml"), &text)
}

fn ran(pipeline: &Path, out: &Path) {
    let output = limbledger([
        "run".as_ref(),
        pipeline.as_os_str(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
}

fn json(path: &Path) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

/// (measure, period, stratum) -> what was printed, of measures that follow people and of quarters well inside. Left out are
/// those that look back by calendar months, which have other lengths elsewhere in the year: an examination counts for twelve.
fn figures(report: &Value, quarters: &[&str]) -> Vec<(String, Value)> {
    let families = report["families"].as_array().unwrap().iter();
    families
        .filter(|family| family["id"] == "healing" || family["id"] == "recurrence")
        .flat_map(|family| family["measures"].as_array().unwrap())
        .filter(|sheet| {
            let id = sheet["id"].as_str().unwrap();
            !id.contains("-against-") && !id.contains("-weighted-")
        })
        .flat_map(|sheet| sheet["results"].as_array().unwrap())
        .filter(|result| quarters.iter().any(|quarter| result["period"] == *quarter))
        .map(|result| {
            let key = format!(
                "{} {} {}",
                result["measure"], result["period"], result["stratum"]
            );
            let told = [
                &result["value"],
                &result["numerator"],
                &result["denominator"],
            ];
            (key, serde_json::json!(told))
        })
        .collect()
}

#[test]
fn days_are_counted_and_written_back() {
    for day in ["01/01/2024", "29/02/2024", "31/12/2025", "01/03/1999"] {
        assert_eq!(written(days_of(day).unwrap()), day);
    }
    assert_eq!(
        days_of("01/01/2025").unwrap() - days_of("01/01/2024").unwrap(),
        366
    );
    assert_eq!(days_of("07/2023"), None);
}

#[test]
fn a_shifted_export_with_carried_quarters_gives_the_figures_of_the_true_dates() {
    let folder = Folder::new("shifted-with-quarters");
    let plain = pipeline(
        &folder,
        "plain",
        &rewritten(|_, cell| cell.to_owned(), None),
        ("", ""),
        "\"clinic\"",
    );
    let twin = rewritten(shifted, Some("true_quarter"));
    let dates = format!("kind = \"shifted\"\nshifted_by_at_most_days = {MOST_DAYS}\n");
    let twin = pipeline(
        &folder,
        "twin",
        &twin,
        (&dates, "quarter = \"true_quarter\"\n"),
        "\"clinic\"",
    );
    ran(&plain, &folder.path("plain-run"));
    ran(&twin, &folder.path("twin-run"));
    let (plain, twin) = (
        json(&folder.path("plain-run/clinic/report.json")),
        json(&folder.path("twin-run/clinic/report.json")),
    );
    let quarters = ["2023 Q3", "2023 Q4", "2024 Q1", "2024 Q2", "2024 Q3"];
    let (expected, found) = (figures(&plain, &quarters), figures(&twin, &quarters));
    assert!(expected.len() > 60, "{}", expected.len());
    let differing: Vec<_> = expected
        .iter()
        .zip(&found)
        .filter(|(one, other)| one != other)
        .collect();
    assert!(differing.is_empty(), "{differing:#?}");
    assert_eq!(expected.len(), found.len());

    assert_eq!(twin["dates"]["kind"], "shifted");
    assert_eq!(twin["action_list"], serde_json::json!([]));
    assert_eq!(plain.get("dates"), None);
    let findings = std::fs::read_to_string(folder.path("twin-run/clinic/findings.csv")).unwrap();
    assert!(!findings.contains("quarter-contradicts-shift"));
}

#[test]
fn quarters_of_shifted_dates_are_labelled_and_compared_with_nothing() {
    let folder = Folder::new("shifted");
    let dates = format!("kind = \"shifted\"\nshifted_by_at_most_days = {MOST_DAYS}\n");
    let shifted = pipeline(
        &folder,
        "twin",
        &rewritten(shifted, None),
        (&dates, ""),
        "\"clinic\", \"auditor\", \"public\"",
    );
    let out = folder.path("run");
    ran(&shifted, &out);
    let manifest = json(&out.join("manifest.json"));
    assert_eq!(manifest["dates"]["shifted_by_at_most_days"], MOST_DAYS);
    assert_eq!(
        (&manifest["read_from"], &manifest["read_to"]),
        (&"2023-03-02".into(), &"2025-11-01".into())
    );
    for audience in ["clinic", "auditor", "public"] {
        let report = json(&out.join(audience).join("report.json"));
        let text = report.to_string();
        // every quarter that any sentence, table or chart names
        let named = text.match_indices(" Q").filter(|(at, _)| {
            let year = text.get(at.saturating_sub(4)..*at).unwrap_or_default();
            let number = text.get(at + 2..at + 3).unwrap_or_default();
            year.bytes().all(|byte| byte.is_ascii_digit())
                && number.bytes().all(|byte| byte.is_ascii_digit())
        });
        let mut n = 0;
        for (at, _) in named {
            n += 1;
            let rest = text.get(at + 3..).unwrap_or_default();
            assert!(
                rest.starts_with(" (shifted)"),
                "{audience}: {}",
                &text[at - 30..at + 20]
            );
        }
        assert!(n > 20, "{audience}: {n}");
        assert_eq!(report["action_list"], serde_json::json!([]));
        for said in ["a year earlier it was", "would still turn up by chance"] {
            assert!(!text.contains(said), "{audience}: {said}");
        }
        let html = std::fs::read_to_string(out.join(audience).join("report.html")).unwrap();
        assert!(html.contains("Dates: shifted, person by person."));
        assert!(!html.contains("Nobody meets a rule of the action list"));
        assert!(
            !report["figures"].to_string().contains("control"),
            "{audience}"
        );
    }
    let output = limbledger([
        "verify",
        &out.to_string_lossy(),
        "--pipeline",
        &shifted.to_string_lossy(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let output = limbledger([
        "trace",
        &out.to_string_lossy(),
        "healed-within-12-weeks",
        "2024Q2",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
}

#[test]
fn years_alone_give_counts_of_years_and_nothing_that_takes_days() {
    let folder = Folder::new("year-only");
    let year = |_: &str, cell: &str| match cell.split('/').collect::<Vec<_>>()[..] {
        [_, _, year] | [_, year] if year.len() == 4 => year.to_owned(),
        _ => cell.to_owned(),
    };
    let years = pipeline(
        &folder,
        "years",
        &rewritten(year, None),
        ("kind = \"year-only\"\n", ""),
        "\"auditor\"",
    );
    let plain = pipeline(
        &folder,
        "plain",
        &rewritten(|_, cell| cell.to_owned(), None),
        ("", ""),
        "\"auditor\"",
    );
    ran(&years, &folder.path("run"));
    ran(&plain, &folder.path("plain-run"));
    let report = json(&folder.path("run/auditor/report.json"));
    let plain = json(&folder.path("plain-run/auditor/report.json"));
    assert_eq!(report["figures"], serde_json::json!([]));
    let sheets = |report: &Value| -> Vec<Value> {
        let families = report["families"].as_array().unwrap().iter();
        families
            .flat_map(|family| family["measures"].as_array().unwrap().clone())
            .collect()
    };
    let known = |sheet: &Value| -> Vec<Value> {
        let results = sheet["results"].as_array().unwrap().iter();
        results
            .filter(|result| result["value"]["kind"] == "known")
            .cloned()
            .collect()
    };
    for sheet in sheets(&report) {
        for result in known(&sheet) {
            let id = result["measure"].as_str().unwrap().to_owned();
            assert!(
                [
                    "major-amputations",
                    "minor-amputations",
                    "major-to-minor-ratio",
                    "visits-kept"
                ]
                .contains(&id.as_str()),
                "{id}"
            );
            assert_eq!(result["period"], "2025 Q1 to 2025 Q4");
            if id.ends_with("amputations") {
                let same = sheets(&plain).iter().flat_map(&known).find(|other| {
                    other["measure"] == result["measure"] && other["period"] == result["period"]
                });
                assert_eq!(result["numerator"], same.unwrap()["numerator"], "{id}");
            }
        }
    }
    assert!(!folder.path("run/auditor/trace.csv").exists());

    // one date that tells a day: nothing is printed
    let leak = |person: &str, cell: &str| match cell {
        "14/08/2023" if person == "TW-53350" => cell.to_owned(),
        _ => year(person, cell),
    };
    let leaking = pipeline(
        &folder,
        "leak",
        &rewritten(leak, None),
        ("kind = \"year-only\"\n", ""),
        "\"auditor\"",
    );
    let output = limbledger(["check".as_ref(), leaking.as_os_str()]);
    assert_eq!(output.status.code(), Some(1));
    let words = said(&output);
    assert!(
        words.contains("date-finer-than-declared") && !words.contains("14/08"),
        "{words}"
    );
}

#[test]
fn a_limited_data_set_names_its_agreement_inside_and_lists_nobody() {
    let folder = Folder::new("limited");
    let dates = "kind = \"limited-data-set\"\nagreement = \"Tarnwick agreement 7\"\n";
    let limited = pipeline(
        &folder,
        "limited",
        &sample(),
        (dates, ""),
        "\"clinic\", \"public\"",
    );
    let out = folder.path("run");
    ran(&limited, &out);
    assert_eq!(
        json(&out.join("manifest.json"))["dates"]["agreement"],
        "Tarnwick agreement 7"
    );
    let read = |name: &str| std::fs::read_to_string(out.join(name)).unwrap();
    assert!(read("clinic/report.html").contains("Tarnwick agreement 7"));
    assert_eq!(
        json(&out.join("clinic/report.json"))["action_list"],
        serde_json::json!([])
    );
    for file in ["public/report.html", "public/report.json"] {
        assert!(!read(file).contains("agreement 7"), "{file}");
        assert!(
            read(file).contains("Quarters are elements of dates."),
            "{file}"
        );
    }
}
