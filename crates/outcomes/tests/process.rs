//! Hand-worked stories of the measures of presentation and process. Day 0 of each ulcer is story day 200 (2023 Q3).

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::measure::{Cohort, Study, evaluate, find_measure, prepare};
use outcomes::report::Count;
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::{Dated, SourceRow, Tables};
use support::{date, derived, horizon, stories, story};

/// Yes, known and unknown answers of everybody: `2 of 3, 1 unknown`.
fn counted(tables: &Tables, id: &str) -> String {
    let result = derived(tables, 600, |people| {
        let (rules, horizon) = (Rules::default(), horizon(600));
        let study = Study {
            people,
            rules: &rules,
            horizon: &horizon,
        };
        let measure = find_measure(id).unwrap();
        let cohort = Cohort::quarter(Quarter::parse("2023Q3").unwrap());
        evaluate(measure, &prepare(measure, &study), &study, &cohort).remove(0)
    });
    let number = |count: Option<Count>| match count {
        Some(Count::Shown(n)) => n,
        _ => 0,
    };
    format!(
        "{} of {}, {} unknown",
        number(result.numerator),
        number(result.denominator),
        number(result.n_unknown)
    )
}

fn of(text: &str, id: &str) -> String {
    counted(&story(text), id)
}

const YES: &str = "1 of 1, 0 unknown";
const NO: &str = "0 of 1, 0 unknown";
const UNKNOWN: &str = "0 of 0, 1 unknown";
const LEFT_OUT: &str = "0 of 0, 0 unknown";

#[test]
fn severe_is_three_items_and_a_missing_item_may_leave_it_unknown() {
    let id = "severe-at-presentation";
    let ulcer = "200 open right A site=heel depth=bone-or-joint length=2 width=2 infection=none";
    // Site, area and depth score: 3, whatever the rest.
    assert_eq!(of(ulcer, id), YES);
    let small = "200 open right A site=toe-1 depth=skin length=1 width=1 infection=none";
    // Nothing scores; ischaemia and neuropathy unknown: 0 to 2.
    assert_eq!(of(small, id), NO);
    // Site not recorded either: 0 to 3.
    assert_eq!(
        of(
            "200 open right A depth=skin length=1 width=1 infection=none",
            id
        ),
        UNKNOWN
    );
}

#[test]
fn infection_graded_none_on_the_first_day_is_graded() {
    let id = "infection-graded-at-first-visit";
    assert_eq!(of("200 open right A infection=none", id), YES);
    assert_eq!(
        of("200 open right A\n201 open right A infection=mild", id),
        NO
    );
}

#[test]
fn one_open_visit_without_an_area_in_28_days_is_not_every_visit() {
    let id = "area-measured-at-every-visit";
    let first = "200 open right A length=2 width=2";
    assert_eq!(
        of(&format!("{first}\n228 open right A length=1 width=1"), id),
        YES
    );
    assert_eq!(of(&format!("{first}\n228 open right A"), id), NO);
    assert_eq!(of(&format!("{first}\n229 open right A"), id), YES);
    assert_eq!(
        of(&format!("{first}\n210 open right A by=patient"), id),
        YES
    );
}

#[test]
fn sensation_counts_from_a_year_before_to_14_days_after_on_the_same_foot() {
    let id = "sensation-tested";
    let with = |day: i64, side: &str| {
        of(
            &format!("{day} exam {side} sensation=intact\n200 open right A"),
            id,
        )
    };
    assert_eq!(with(214, "right"), YES);
    assert_eq!(with(215, "right"), NO);
    assert_eq!(with(0, "right"), YES);
    assert_eq!(with(200, "left"), NO);
}

#[test]
fn feeling_the_pulses_measures_nothing_and_a_stiff_artery_neither() {
    let id = "perfusion-measured-at-presentation";
    let with = |exam: &str| of(&format!("200 open right A\n{exam}"), id);
    assert_eq!(with("200 exam right pulses=palpable"), NO);
    assert_eq!(with("200 exam right abi=1.31"), NO);
    assert_eq!(with("200 exam right abi=1.30"), YES);
    assert_eq!(with("186 exam right toe=50"), YES);
    assert_eq!(with("185 exam right toe=50"), NO);
    assert_eq!(with("214 physiologic-study right"), YES);
    assert_eq!(with("215 physiologic-study right"), NO);
}

#[test]
fn the_plan_made_and_the_plan_started_are_apart_and_silence_is_unknown() {
    let (made, started) = (
        "offloading-prescribed-for-plantar-ulcers",
        "offloading-dispensed-for-plantar-ulcers",
    );
    let plan = "200 open right A site=mth-1-plantar offloading=prescribed";
    assert_eq!(
        (of(plan, made).as_str(), of(plan, started).as_str()),
        (YES, NO)
    );
    let later = format!("{plan}\n228 open right A offloading=prescribed,dispensed");
    assert_eq!(of(&later, started), YES);
    let too_late = format!("{plan}\n229 open right A offloading=prescribed,dispensed");
    assert_eq!(of(&too_late, started), NO);
    let supplied = "200 open right A site=mth-1-plantar\n210 offloading-supplied right";
    assert_eq!(
        (of(supplied, made).as_str(), of(supplied, started).as_str()),
        (UNKNOWN, YES)
    );
    assert_eq!(
        of(
            "200 open right A site=toe-1-dorsal offloading=prescribed",
            made
        ),
        LEFT_OUT
    );
}

#[test]
fn the_carer_of_the_dressing_may_be_written_down_within_28_days() {
    let id = "dressing-carer-recorded";
    assert_eq!(
        of("200 open right A\n228 open right A carer=family", id),
        YES
    );
    assert_eq!(
        of("200 open right A\n229 open right A carer=family", id),
        NO
    );
}

#[test]
fn patient_delay_and_system_delay_are_apart_and_contradictory_dates_are_unknown() {
    // onset, first contact; the first visit is day 200
    for (onset, contact, patient, system) in [
        (170, Some(184), YES, NO),
        (169, Some(184), NO, NO),
        (180, Some(186), YES, YES),
        (190, Some(186), UNKNOWN, YES),
        (190, Some(201), UNKNOWN, UNKNOWN),
        (190, None, UNKNOWN, UNKNOWN),
    ] {
        let mut tables = stories(&[&format!("200 open right A onset={onset}\n260 open left B")]);
        tables.patients[0].first_contact =
            contact.map(|day| Dated::new(date(day), SourceRow::default()));
        assert_eq!(
            counted(&tables, "patient-delay-within-14-days"),
            patient,
            "{onset} {contact:?}"
        );
        assert_eq!(
            counted(&tables, "system-delay-within-14-days"),
            system,
            "{onset} {contact:?}"
        );
    }
}

#[test]
fn prevalent_ulcers_and_surgical_wounds_are_asked_nothing() {
    let tables = "200 open right A origin=transferred-in\n200 open left S origin=post-surgical";
    assert_eq!(of(tables, "infection-graded-at-first-visit"), LEFT_OUT);
}
