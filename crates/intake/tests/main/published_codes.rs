//! Codes of published classifications: the tables themselves, and exports that carry codes instead of words.

use crate::support::{account, day, lines, load_files};
use intake::{CodeEntry, CodeSystem, Found, Meaning, Role, code_tables, look_up};
use outcomes::tables::{AmputationHeight, AmputationLevel, EventKind, Side, TissueDepth};
use std::collections::BTreeSet;

fn table(system: CodeSystem) -> &'static [CodeEntry] {
    &code_tables()
        .iter()
        .find(|table| table.system == system)
        .unwrap()
        .entries
}

/// A code on a day in the middle of everything, in a line: meaning, side, height, depth, in force or not.
fn on(system: CodeSystem, code: &str, date: &str) -> String {
    match look_up(system, code, day(date)) {
        Found::Foreign => "foreign".to_owned(),
        Found::Unmapped => "unmapped".to_owned(),
        Found::Entry { entry, is_in_force } => {
            let mut words = vec![entry.meaning.code()];
            words.extend(entry.side.map(Side::code));
            words.extend(entry.height.map(AmputationHeight::code));
            words.extend(entry.level.map(AmputationLevel::code));
            words.extend(entry.depth.map(TissueDepth::code));
            words.extend((!is_in_force).then_some("not-in-force"));
            words.join(" ")
        }
    }
}

#[test]
fn every_line_of_every_table_can_be_read_and_stands_once() {
    assert_eq!(code_tables().len(), CodeSystem::ALL.len());
    for table in code_tables() {
        assert_eq!(table.n_unreadable, 0, "{}", table.system);
        assert!(!table.edition.is_empty() && !table.sources.is_empty());
        let mut seen = BTreeSet::new();
        for entry in &table.entries {
            let key = (&entry.code, entry.is_beginning, entry.from);
            assert!(seen.insert(key), "{} {}", table.system, entry.code);
            assert!(!entry.words.is_empty(), "{}", entry.code);
            assert!(
                entry
                    .from
                    .is_none_or(|from| entry.to.is_none_or(|to| from <= to)),
                "{}",
                entry.code
            );
        }
    }
}

/// Every line is found again by its own code, in force on its first and last day and not on the days beside them.
#[test]
fn every_code_is_in_force_from_its_first_to_its_last_day_and_no_longer() {
    for table in code_tables() {
        for entry in &table.entries {
            let probe = if entry.is_beginning {
                format!("{}~", entry.code)
            } else {
                entry.code.clone()
            };
            let found = |date| match look_up(table.system, &probe, date) {
                Found::Entry { entry, is_in_force } => Some((entry.meaning, is_in_force)),
                Found::Unmapped => Some((Meaning::Family, true)),
                Found::Foreign => None,
            };
            let middle = entry.from.or(entry.to).unwrap_or(day("2024-06-01"));
            assert_eq!(found(middle), Some((entry.meaning, true)), "{probe}");
            if entry.meaning == Meaning::Family {
                continue;
            }
            for (edge, outside) in [
                (entry.from, entry.from.and_then(|day| day.pred_opt())),
                (entry.to, entry.to.and_then(|day| day.succ_opt())),
            ] {
                if let (Some(edge), Some(outside)) = (edge, outside) {
                    assert_eq!(found(edge), Some((entry.meaning, true)), "{probe}");
                    assert_eq!(found(outside), Some((entry.meaning, false)), "{probe}");
                }
            }
        }
    }
}

/// An amputation's kind and its height agree (through the ankle and below is minor: IWGDF definitions 2023, wording from
/// memory), and nothing else has a height.
#[test]
fn every_amputation_code_has_a_height_of_its_level() {
    let mut n = 0;
    for table in code_tables() {
        for entry in &table.entries {
            let level = match entry.event() {
                Some(EventKind::MinorAmputation) => AmputationLevel::Minor,
                Some(EventKind::MajorAmputation) => AmputationLevel::Major,
                _ => {
                    assert_eq!(entry.height, None, "{}", entry.code);
                    continue;
                }
            };
            n += 1;
            assert_eq!(
                entry.height.map(AmputationHeight::level),
                Some(level),
                "{}",
                entry.code
            );
        }
    }
    // 79 codes of ICD-10-PCS table 0Y6, and 20 CPT numbers of which 4 are stages
    assert_eq!(n, 99);
}

/// The 48 codes are 2 places x 3 sides x 8 severities (ICD-10-CM code list of April 2026).
#[test]
fn the_ulcer_codes_are_read_character_by_character() {
    let mut n = 0;
    for place in ["4", "5"] {
        for (side, side_words) in [("0", ""), ("1", " right"), ("2", " left")] {
            for (severity, depth) in [
                ("1", " skin"),
                ("2", " subcutaneous"),
                ("3", " tendon-or-muscle"),
                ("4", " bone-or-joint"),
                ("5", " tendon-or-muscle"),
                ("6", " bone-or-joint"),
                ("8", ""),
                ("9", ""),
            ] {
                let code = format!("L97.{place}{side}{severity}");
                let expected = format!("foot-ulcer{side_words}{depth}");
                assert_eq!(
                    on(CodeSystem::Icd10Cm, &code, "2024-06-01"),
                    expected,
                    "{code}"
                );
                n += 1;
            }
        }
    }
    let all = table(CodeSystem::Icd10Cm)
        .iter()
        .filter(|entry| entry.code.starts_with("L97") && entry.meaning == Meaning::FootUlcer);
    assert_eq!((n, all.count()), (48, 48));
}

/// Expected meanings: ICD-10-CM code list of April 2026, ICD-10-PCS tables of 2025 and published coding notices, read by
/// hand from their own descriptions.
#[test]
fn codes_mean_what_the_classifications_say() {
    use CodeSystem::{Cpt, Icd10Cm, Icd10Pcs};
    for (system, code, date, expected) in [
        (Icd10Cm, "E11.621", "2024-06-01", "foot-ulcer"),
        (Icd10Cm, "e11621", "2024-06-01", "foot-ulcer"),
        (Icd10Cm, " E10.9 ", "2024-06-01", "diabetes"),
        (Icd10Cm, "L97.211", "2024-06-01", "other"),
        (Icd10Cm, "L97.999", "2024-06-01", "other"),
        (Icd10Cm, "L97.7", "2024-06-01", "unmapped"),
        (
            Icd10Cm,
            "L97.515",
            "2017-09-30",
            "foot-ulcer right tendon-or-muscle not-in-force",
        ),
        (Icd10Cm, "M86.171", "2024-06-01", "osteomyelitis right"),
        (Icd10Cm, "M86.679", "2024-06-01", "osteomyelitis"),
        (Icd10Cm, "I70.245", "2024-06-01", "arterial-disease left"),
        (Icd10Cm, "I70.263", "2024-06-01", "gangrene"),
        (
            Icd10Cm,
            "Z89.412",
            "2024-06-01",
            "prior-amputation left minor",
        ),
        (
            Icd10Cm,
            "Z89.511",
            "2024-06-01",
            "prior-amputation right major",
        ),
        (Icd10Cm, "Z89.211", "2024-06-01", "other"),
        (Icd10Cm, "Z86.31", "2024-06-01", "prior-ulcer"),
        (Icd10Cm, "S98.011A", "2024-06-01", "other"),
        (Icd10Cm, "J45.909", "2024-06-01", "foreign"),
        (
            Icd10Pcs,
            "0Y6H0Z1",
            "2024-06-01",
            "major-amputation right below-knee",
        ),
        (
            Icd10Pcs,
            "0Y6D0Z3",
            "2024-06-01",
            "major-amputation left above-knee",
        ),
        (
            Icd10Pcs,
            "0Y6P0Z0",
            "2024-06-01",
            "minor-amputation right toe",
        ),
        (
            Icd10Pcs,
            "0Y6N0Z9",
            "2024-06-01",
            "minor-amputation left ray",
        ),
        (
            Icd10Pcs,
            "0Y6M0Z0",
            "2024-06-01",
            "minor-amputation right midfoot",
        ),
        (Icd10Pcs, "0Y6P0Z2", "2024-06-01", "unmapped"),
        (Icd10Pcs, "047Q3ZZ", "2024-06-01", "revascularisation left"),
        (Icd10Pcs, "0479346", "2024-06-01", "other"),
        (Icd10Pcs, "047Y3ZZ", "2024-06-01", "unmapped"),
        (Icd10Pcs, "0JH60DZ", "2024-06-01", "foreign"),
        (Cpt, "28810", "2024-06-01", "minor-amputation ray"),
        (Cpt, "27880", "2024-06-01", "major-amputation below-knee"),
        (Cpt, "27884", "2024-06-01", "amputation-stage below-knee"),
        (Cpt, "28899", "2024-06-01", "unmapped"),
        (Cpt, "28124", "2024-06-01", "other"),
        (Cpt, "37228", "2025-12-31", "revascularisation"),
        (Cpt, "37228", "2026-01-01", "revascularisation not-in-force"),
        (Cpt, "37280", "2026-01-01", "revascularisation"),
        (Cpt, "37280", "2025-12-31", "revascularisation not-in-force"),
        (Cpt, "37250", "2024-06-01", "unmapped"),
        (Cpt, "93923", "2024-06-01", "physiologic-study"),
        (Cpt, "93926", "2024-06-01", "vascular-imaging"),
        (Cpt, "29445", "2024-06-01", "offloading-supplied"),
        (Cpt, "11042", "2024-06-01", "debridement"),
        (Cpt, "99213", "2024-06-01", "foreign"),
        (Cpt, "", "2024-06-01", "foreign"),
    ] {
        assert_eq!(
            on(system, code, date),
            expected,
            "{system} {code} on {date}"
        );
    }
}

/// 16 numbers until the end of 2025, 46 from 2026 on, and none for both years (published coding notices).
#[test]
fn the_numbers_for_opening_leg_arteries_change_at_the_turn_of_the_year() {
    let counts = ["2025-12-31", "2026-01-01"].map(|date| {
        (37220..=37299)
            .filter(|number: &u32| {
                matches!(
                    look_up(CodeSystem::Cpt, &number.to_string(), day(date)),
                    Found::Entry { entry, is_in_force: true } if entry.meaning == Meaning::Revascularisation
                )
            })
            .count()
    });
    assert_eq!(counts, [16, 46]);
}

const CODED: &str = r#"
name = "coded"
[file]
shape = "long"
[dates]
format = "iso"
[event]
patient = "patient"
date = "date"
side = { column = "side", optional = true }
cpt = "cpt"
icd_10_pcs = "pcs"
icd_10_cm = "dx"
"#;

/// A story of claims, row by row.
#[test]
fn a_file_of_codes_gives_events_history_and_findings() {
    let csv = "patient,date,side,cpt,pcs,dx\n\
        P1,2025-02-01,left,27882,,\n\
        P1,2025-02-09,left,27884,,\n\
        P2,2025-03-01,,,0Y6R0Z0,E11.621\n\
        P2,2025-04-01,,,,Z89.421\n\
        P3,2025-05-01,right,37280,,\n\
        P3,2025-05-02,right,28899,,\n\
        P3,2025-05-03,right,99213,,\n\
        P3,2025-05-04,right,93922,0Y6P0Z2,\n";
    let loaded = load_files(CODED, &[("events.csv", Some(Role::Events), csv.as_bytes())]).unwrap();
    let events: Vec<String> = loaded
        .tables
        .events
        .iter()
        .map(|event| {
            format!(
                "{} {} {} {}{}",
                loaded.tables.patient(event.patient).id,
                event.kind,
                event.side.map_or("-", Side::code),
                event.height.map_or("-", AmputationHeight::code),
                if event.is_staged { " staged" } else { "" }
            )
        })
        .collect();
    assert_eq!(
        events,
        [
            "P1 major-amputation left below-knee",
            "P1 major-amputation left below-knee staged",
            "P2 minor-amputation right toe",
            "P3 revascularisation right -",
            "P3 physiologic-study right -",
        ]
    );
    let second = loaded
        .tables
        .patients
        .iter()
        .find(|row| row.id == "P2")
        .unwrap();
    let prior: Vec<_> = second
        .prior_amputations
        .iter()
        .map(|prior| (prior.side, prior.level, prior.recorded.date))
        .collect();
    assert_eq!(
        prior,
        [(Some(Side::Right), AmputationLevel::Minor, day("2025-04-01"))]
    );
    assert_eq!(
        lines(&loaded),
        [
            "note code-outside-its-dates record 5 cpt",
            "set-aside unmapped-code record 6",
            "set-aside code-tells-no-event record 7",
            "cell-ignored unmapped-code record 8 pcs",
        ]
    );
    assert_eq!(
        account(&loaded),
        "read 8 used 6 code-tells-no-event 1 unmapped-code 1"
    );
}

/// One below-knee amputation as a surgeon and a hospital bill it, its planned closure eight days later, a status code at
/// each visit after it, and a second amputation of the other leg: two amputations, and history that dates none.
#[test]
fn an_operation_told_by_several_codes_is_counted_once() {
    let csv = "patient,date,side,cpt,pcs,dx\n\
        P1,2025-02-01,left,27882,,E11.621\n\
        P1,2025-02-01,left,,0Y6J0Z1,\n\
        P1,2025-02-09,left,27884,,\n\
        P1,2025-03-01,,,,Z89.512\n\
        P1,2025-06-01,,,,Z89.512\n\
        P1,2025-09-01,,,0Y6H0Z2,\n";
    let loaded = load_files(CODED, &[("events.csv", Some(Role::Events), csv.as_bytes())]).unwrap();
    let tables = outcomes::derive::in_reading_order(loaded.tables);
    let rules = outcomes::rules::Rules::default();
    let people = outcomes::derive::derive(&tables, &rules, &crate::support::horizon());
    let counted: Vec<_> = people[0]
        .reading
        .facts
        .amputations
        .iter()
        .map(|one| (one.side, one.level, one.at.date))
        .collect();
    let major = AmputationLevel::Major;
    assert_eq!(
        counted,
        [
            (Side::Left, major, day("2025-02-01")),
            (Side::Right, major, day("2025-09-01")),
        ]
    );
    let prior = &people[0].person.patient.prior_amputations;
    assert_eq!(prior.len(), 1);
    assert_eq!(prior[0].recorded.date, day("2025-03-01"));
}
