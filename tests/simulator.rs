//! The conventional measures recover what visits could have shown, which the simulator wrote down by rules of its own.

use crate::support::{Folder, root};
use chrono::{Days, NaiveDate};
use intake::{Input, layout};
use outcomes::check::check;
use outcomes::derive::{derive, in_reading_order};
use outcomes::measure::{Cohort, Study, evaluate, find_measure, prepare};
use outcomes::report::{Count, Value};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use simulate::truth::{Ending, VisibleLimb, VisibleTruth, VisibleUlcer};
use simulate::{Practice, Scenario, simulate as make};

/// From the first quarter clear of the prevalent window to the last that is mature for a year.
fn cohort() -> Cohort {
    Cohort {
        first: Quarter::parse("2023Q3").unwrap(),
        last: Quarter::parse("2024Q3").unwrap(),
    }
}

fn practice(is_noisy: bool) -> Practice {
    let scenario = Scenario {
        n_patients: 800,
        ..Scenario::default()
    };
    make(
        &if is_noisy {
            scenario
        } else {
            scenario.without_noise()
        },
        20_251_231,
    )
    .unwrap()
}

/// The pipeline's figures for some measures: value and denominator of each.
fn measured<const N: usize>(practice: &Practice, ids: [&str; N]) -> [(f64, u64); N] {
    with_study(practice, &ids.join("-"), |study| {
        ids.map(|id| {
            let measure = find_measure(id).unwrap();
            let results = evaluate(measure, &prepare(measure, study), study, &cohort());
            match (&results[0].value, results[0].denominator) {
                (Value::Known(estimate), Some(Count::Shown(n))) => (estimate.estimate, n),
                other => panic!("{id}: {other:?}"),
            }
        })
    })
}

/// Exports a practice, takes the export through the pipeline up to the derived people, and hands them to `look`. The name is
/// that of the test's own folder.
pub(crate) fn with_study<T>(
    practice: &Practice,
    name: &str,
    look: impl FnOnce(&Study<'_>) -> T,
) -> T {
    with_study_of(practice, &Scenario::default(), name, look)
}

/// The same for a practice whose export begins and ends on other days than usual.
pub(crate) fn with_study_of<T>(
    practice: &Practice,
    scenario: &Scenario,
    name: &str,
    look: impl FnOnce(&Study<'_>) -> T,
) -> T {
    let export = practice.export_wide().unwrap();
    let folder = Folder::new(&format!("simulator-{name}-{}", export.typing_errors.len()));
    let path = folder.path("visits.csv");
    std::fs::write(&path, export.csv).unwrap();
    let text =
        std::fs::read_to_string(root().join("pipelines/layouts/tarnwick-wide.toml")).unwrap();
    let layout = layout::parse(&text, "tarnwick-wide.toml").unwrap();
    let horizon = DataHorizon {
        data_start: scenario.data_start,
        cut_off: scenario.cut_off,
        deaths_known_to: scenario.cut_off,
        procedures_known_to: scenario.cut_off,
    };
    let input = Input {
        name: "visits.csv".to_owned(),
        path,
        role: None,
        joined: None,
        exported: None,
    };
    let loaded = intake::load(&[input], &layout, &horizon, &|_| {}).unwrap();
    assert!(loaded.accounts.iter().all(|account| account.is_balanced()));
    let (tables, _) = check(in_reading_order(loaded.tables));
    let rules = Rules::default();
    let people = derive(&tables, &rules, &horizon);
    let study = Study {
        people: &people,
        rules: &rules,
        horizon: &horizon,
    };
    look(&study)
}

const HEALING: [&str; 2] = ["healed-within-12-weeks", "healed-within-24-weeks"];

fn day_of(date: NaiveDate) -> i32 {
    i32::try_from((date - Scenario::default().data_start).num_days()).unwrap()
}

fn is_in_cohort(day: i32) -> bool {
    let start = Scenario::default().data_start;
    let date = start
        .checked_add_days(Days::new(u64::try_from(day).unwrap()))
        .unwrap();
    day > 90 && cohort().contains(date)
}

/// Ulcers a first-visit cohort counts, by the simulator's own words.
fn counted(truth: &VisibleTruth) -> impl Iterator<Item = &VisibleUlcer> {
    truth.ulcers.iter().filter(|ulcer| {
        ulcer.origin != "post-surgical"
            && ulcer.origin != "transferred-in"
            && ulcer.end != Ending::Merged
            && is_in_cohort(ulcer.index_day)
    })
}

/// Cumulative incidence of cause 1 by a day, straight from the definition: the sum over event days of the share still
/// event-free times the share of those at risk who have the event. Aalen & Johansen 1978.
pub(crate) fn cumulative_incidence(followed: &[(i32, u8)], by: i32) -> f64 {
    let mut days: Vec<i32> = followed
        .iter()
        .filter(|(_, cause)| *cause > 0)
        .map(|(day, _)| *day)
        .collect();
    days.sort_unstable();
    days.dedup();
    let (mut free, mut incidence) = (1.0, 0.0);
    for day in days.into_iter().filter(|day| *day <= by) {
        let at_risk = followed.iter().filter(|(exit, _)| *exit >= day).count() as f64;
        let events = |wanted: fn(u8) -> bool| {
            followed
                .iter()
                .filter(|(exit, cause)| *exit == day && wanted(*cause))
                .count() as f64
        };
        incidence += free * events(|cause| cause == 1) / at_risk;
        free *= 1.0 - events(|cause| cause > 0) / at_risk;
    }
    incidence
}

fn healed_by(truth: &VisibleTruth, by: i32) -> (f64, u64) {
    let followed: Vec<(i32, u8)> = counted(truth)
        .map(|ulcer| match ulcer.end {
            Ending::Healed => (ulcer.end_day - ulcer.index_day, 1),
            Ending::MinorAmputation | Ending::MajorAmputation | Ending::Died => {
                (ulcer.end_day - ulcer.index_day, 2)
            }
            _ => (ulcer.last_known_day - ulcer.index_day, 0),
        })
        .collect();
    (cumulative_incidence(&followed, by), followed.len() as u64)
}

/// Three standard errors of a share among n ulcers, with room for ulcers that come in pairs.
fn three_errors(share: f64, n: u64) -> f64 {
    3.0 * (share * (1.0 - share) / n as f64 * 1.5).sqrt()
}

#[test]
fn without_noise_healing_is_what_perfect_visits_showed() {
    let practice = practice(false);
    let truth = practice.visible_truth();
    for ((share, n), by) in measured(&practice, HEALING).into_iter().zip([84, 168]) {
        let (true_share, true_n) = healed_by(&truth, by);
        assert!(
            n.abs_diff(true_n) * 100 <= true_n,
            "day {by}: {n} ulcers counted, {true_n} were there"
        );
        assert!(
            (share - true_share).abs() < 0.01,
            "day {by}: {share} measured, {true_share} true"
        );
    }
}

#[test]
fn missing_items_and_typing_errors_move_healing_by_less_than_chance_does() {
    let practice = practice(true);
    let truth = practice.visible_truth();
    for ((share, n), by) in measured(&practice, HEALING).into_iter().zip([84, 168]) {
        let (true_share, true_n) = healed_by(&truth, by);
        assert!(
            n.abs_diff(true_n) * 20 <= true_n,
            "day {by}: {n} ulcers counted, {true_n} were there"
        );
        assert!(
            (share - true_share).abs() < three_errors(true_share, n),
            "day {by}: {share}, {true_share} true"
        );
    }
}

#[test]
fn the_naive_share_of_the_healed_misses_what_the_curve_finds() {
    // One minus Kaplan-Meier, with amputation and death as censorings, lies above the truth: what competes is ignored.
    let truth = practice(false).visible_truth();
    let followed: Vec<(i32, u8)> = counted(&truth)
        .map(|ulcer| match ulcer.end {
            Ending::Healed => (ulcer.end_day - ulcer.index_day, 1),
            Ending::MinorAmputation | Ending::MajorAmputation | Ending::Died => {
                (ulcer.end_day - ulcer.index_day, 0)
            }
            _ => (ulcer.last_known_day - ulcer.index_day, 0),
        })
        .collect();
    let naive = cumulative_incidence(&followed, 168);
    let (right, _) = healed_by(&truth, 168);
    assert!(naive > right + 0.02, "{naive} against {right}");
}

#[test]
fn limbs_lost_within_a_year_are_those_the_practice_was_told_of() {
    let practice = practice(false);
    let truth = practice.visible_truth();
    let known_to = day_of(Scenario::default().cut_off);
    let followed: Vec<(i32, u8)> = truth
        .limbs
        .iter()
        .filter_map(|limb| Some((limb, limb.first_ulcer_day.filter(|day| is_in_cohort(*day))?)))
        .filter(|(limb, start)| !began_elsewhere(&truth, limb, *start))
        .filter(|(limb, start)| limb.major_amputation_day.is_none_or(|lost| lost >= *start))
        .map(|(limb, start)| {
            let person = truth
                .people
                .iter()
                .find(|person| person.patient == limb.patient)
                .unwrap();
            match (limb.major_amputation_day, person.death_day) {
                (Some(lost), _) => (lost - start, 1),
                (None, Some(death)) => (death - start, 2),
                (None, None) => (known_to - start, 0),
            }
        })
        .collect();
    let wanted = 1.0 - cumulative_incidence(&followed, 365);
    let [(kept, n)] = measured(&practice, ["limbs-kept-at-12-months"]);
    assert!(
        n.abs_diff(followed.len() as u64) * 100 <= n,
        "{n} limbs counted, {} were there",
        followed.len()
    );
    assert!(
        (kept - wanted).abs() < 0.005,
        "{kept} measured, {wanted} true"
    );
}

fn began_elsewhere(truth: &VisibleTruth, limb: &VisibleLimb, start: i32) -> bool {
    truth.ulcers.iter().any(|ulcer| {
        (ulcer.patient.as_str(), ulcer.side, ulcer.index_day)
            == (limb.patient.as_str(), limb.side, start)
            && ulcer.origin == "transferred-in"
    })
}
