//! Reads small stories into canonical tables, and writes what was derived as lines a clinician can read.
//!
//! A story has a line a row: `day what [side] [label] [key=value ...]`, days counted from data start. It holds no rule.
#![allow(clippy::unwrap_used, reason = "test support")]
#![allow(dead_code, reason = "every test binary uses its own part")]

use chrono::{Days, NaiveDate};
use outcomes::derive::{Episode, PersonOutcomes, derive, in_reading_order};
use outcomes::measure::{Cohort, Study, evaluate, find_measure, prepare, prepare_all};
use outcomes::report::MeasureResult;
use outcomes::rules::{DataHorizon, Quarter, Rules};
use outcomes::tables::{
    AmputationHeight, Attendance, DatePrecision, Dated, DressingCarer, Event, EventKind, FootExam,
    FootSite, Gangrene, InfectionGrade, Onset, Origin, Patient, PatientKey, Pulses, SeenBy,
    Sensation, Side, SourceFile, SourceRow, Tables, TissueDepth, UlcerObservation, UlcerState,
    Visit, Waveform,
};

/// Day 0 of every story.
pub(crate) fn data_start() -> NaiveDate {
    NaiveDate::from_ymd_opt(2023, 1, 1).unwrap()
}

/// The date of a story day.
pub(crate) fn date(day: i64) -> NaiveDate {
    data_start()
        .checked_add_days(Days::new(u64::try_from(day).unwrap()))
        .unwrap()
}

/// A horizon that ends on a story day, with deaths and procedures known as far.
pub(crate) fn horizon(cut_off_day: i64) -> DataHorizon {
    let cut_off = date(cut_off_day);
    DataHorizon {
        data_start: data_start(),
        cut_off,
        deaths_known_to: cut_off,
        procedures_known_to: cut_off,
    }
}

/// One person's story as tables; see the module words.
pub(crate) fn story(text: &str) -> Tables {
    stories(&[text])
}

/// One story a person.
pub(crate) fn stories(texts: &[&str]) -> Tables {
    let mut tables = Tables {
        files: vec![SourceFile {
            name: "story".into(),
            bytes: 0,
        }],
        ..Tables::default()
    };
    let mut record = 0;
    for (text, number) in texts.iter().zip(0u32..) {
        let key = PatientKey(number);
        tables.patients.push(Patient::new(
            format!("P{}", number + 1),
            SourceRow::default(),
        ));
        for line in text.lines().map(str::trim).filter(|line| !line.is_empty()) {
            record += 1;
            read_line(&mut tables, key, line, SourceRow { file: 0, record });
        }
    }
    in_reading_order(tables)
}

fn read_line(tables: &mut Tables, patient: PatientKey, line: &str, source: SourceRow) {
    let mut words = line.split_whitespace();
    let date = date(
        words
            .next()
            .unwrap()
            .parse()
            .unwrap_or_else(|_| panic!("no day in `{line}`")),
    );
    let what = words.next().unwrap();
    let (pairs, plain): (Vec<&str>, Vec<&str>) = words.partition(|word| word.contains('='));
    let side = plain.first().and_then(|word| Side::from_code(word));
    let label = plain.get(1).map(|word| tables.names.intern(word));
    let pairs: Vec<(&str, &str)> = pairs
        .iter()
        .map(|pair| pair.split_once('=').unwrap())
        .collect();
    let get = |key: &str| {
        pairs
            .iter()
            .find(|(name, _)| *name == key)
            .map(|(_, value)| *value)
    };
    let number = |key: &str| get(key).map(|value| value.parse::<f32>().unwrap());
    let state = UlcerState::from_code(what);
    if state.is_some() || what == "state-not-written" {
        let mut row = UlcerObservation::new(patient, date, side.unwrap(), label.unwrap(), source);
        row.state = state;
        row.site = get("site").map(|code| FootSite::from_code(code).unwrap());
        row.seen_by = get("by").map_or(SeenBy::Clinician, |code| SeenBy::from_code(code).unwrap());
        row.origin = get("origin").map(|code| Origin::from_code(code).unwrap());
        row.parent = get("parent").map(|label| tables.names.intern(label));
        row.merged_into = get("into").map(|label| tables.names.intern(label));
        row.length_cm = number("length");
        row.width_cm = number("width");
        row.area_cm2 = number("area");
        row.depth_cm = number("deep");
        row.tissue_depth = get("depth").map(|code| TissueDepth::from_code(code).unwrap());
        row.gangrene = get("gangrene").map(|code| Gangrene::from_code(code).unwrap());
        row.infection = get("infection").map(|code| InfectionGrade::from_code(code).unwrap());
        if let Some(words) = get("offloading") {
            row.offloading_prescribed = Some(words.contains("prescribed"));
            row.offloading_dispensed = Some(words.contains("dispensed"));
        }
        row.antibiotic = get("antibiotic").map(|word| word == "yes");
        row.cultured = get("culture").map(|word| word == "yes");
        row.osteomyelitis = get("osteomyelitis").map(|word| word == "yes");
        row.dressing_carer = get("carer").map(|code| DressingCarer::from_code(code).unwrap());
        row.onset = get("onset").map(|day| Onset {
            dated: Dated::new(self::date(day.parse().unwrap()), source),
            precision: DatePrecision::Day,
        });
        tables.ulcer_observations.push(row);
        return;
    }
    if let Some(kind) = EventKind::from_code(what) {
        tables.events.push(Event {
            patient,
            date,
            kind,
            side,
            ulcer_label: label,
            is_staged: get("staged") == Some("yes"),
            height: get("height").map(|code| AmputationHeight::from_code(code).unwrap()),
            source,
        });
        return;
    }
    match what {
        "visit" => tables.visits.push(Visit {
            patient,
            date,
            clinic_site: get("at").map(|name| tables.names.intern(name)),
            clinician: get("with").map(|name| tables.names.intern(name)),
            clinician_role: None,
            setting: None,
            attendance: get("attendance").map_or(Attendance::Kept, |code| {
                Attendance::from_code(code).unwrap()
            }),
            planned_return: get("return").map(|day| self::date(day.parse().unwrap())),
            hba1c_percent: None,
            source,
        }),
        "exam" => {
            let mut row = FootExam::new(patient, date, side.unwrap(), source);
            row.sensation = get("sensation").map(|code| Sensation::from_code(code).unwrap());
            row.pulses = get("pulses").map(|code| Pulses::from_code(code).unwrap());
            row.waveform = get("waveform").map(|code| Waveform::from_code(code).unwrap());
            row.abi = number("abi");
            row.worn_size = number("worn");
            row.measured_size = number("measured");
            row.tbi = number("tbi");
            row.ankle_mmhg = number("ankle");
            row.brachial_mmhg = number("brachial");
            row.toe_mmhg = number("toe");
            row.deformity = get("deformity").map(|word| word == "yes");
            tables.foot_exams.push(row);
        }
        other => panic!("`{other}` in `{line}` is no state, event, visit or exam"),
    }
}

/// Derives with the default rules and a cut-off on a story day, and hands the people to `look`.
pub(crate) fn derived<T>(
    tables: &Tables,
    cut_off_day: i64,
    look: impl FnOnce(&[PersonOutcomes<'_>]) -> T,
) -> T {
    look(&derive(tables, &Rules::default(), &horizon(cut_off_day)))
}

/// What a measure comes to for one quarter; prepared alone and with the sharing of readings, which must agree.
pub(crate) fn measured(
    tables: &Tables,
    cut_off_day: i64,
    id: &str,
    quarter: &str,
) -> Vec<MeasureResult> {
    derived(tables, cut_off_day, |people| {
        let (rules, horizon) = (Rules::default(), horizon(cut_off_day));
        let study = Study {
            people,
            rules: &rules,
            horizon: &horizon,
        };
        let measure = find_measure(id).unwrap();
        let cohort = Cohort::quarter(Quarter::parse(quarter).unwrap());
        let alone = prepare(measure, &study);
        assert_eq!(
            prepare_all(&[measure], &study).first().map(|own| &**own),
            Some(&alone),
            "{id}"
        );
        evaluate(measure, &alone, &study, &cohort)
    })
}

/// Story day of a date.
pub(crate) fn day(at: Dated) -> i64 {
    (at.date - data_start()).num_days()
}

/// The episodes of everybody, a line each:
/// `right A: 100, healed at 142 in (128, 142], confirmed 156`.
pub(crate) fn episode_lines(tables: &Tables, cut_off_day: i64) -> Vec<String> {
    derived(tables, cut_off_day, |people| {
        people
            .iter()
            .flat_map(|person| &person.reading.episodes)
            .map(|episode| episode_line(tables, episode))
            .collect()
    })
}

fn episode_line(tables: &Tables, episode: &Episode) -> String {
    let mut line = format!(
        "{} {}: from {}, {} at {}",
        episode.side,
        tables.names.get(episode.label),
        day(episode.index),
        episode.end,
        day(episode.end_at)
    );
    if let Some(closure) = episode.closure {
        line += &format!(
            " in ({}, {}]",
            day(closure.last_open),
            day(closure.first_closed)
        );
        if let Some(confirmed) = closure.confirmed {
            line += &format!(", confirmed {}", day(confirmed));
        }
    }
    if episode.n_reopened > 0 {
        line += &format!(", reopened {}x", episode.n_reopened);
    }
    if let Some(prevalent) = episode.prevalent {
        line += &format!(", {prevalent}");
    }
    line
}

/// The person-episodes of everybody, a line each: `from 100 to 142, 3 wounds`.
pub(crate) fn person_episode_lines(tables: &Tables, cut_off_day: i64) -> Vec<String> {
    derived(tables, cut_off_day, |people| {
        people
            .iter()
            .flat_map(|person| &person.reading.person_episodes)
            .map(|span| {
                let end = span.all_closed.map_or("not closed".to_owned(), |at| {
                    format!("all closed in ({}, {}]", day(span.last_open), day(at))
                });
                format!(
                    "from {}, {end}, {} wounds",
                    day(span.index),
                    span.wounds.len()
                )
            })
            .collect()
    })
}
