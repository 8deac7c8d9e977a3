//! Hand-worked cases of observed against expected.
//!
//! 2023 Q3 is story day 181 to 272. Day 0 of every ulcer is story day 200; day 140 is 340.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::measure::{Cohort, Prepared, Study, evaluate, find_measure, prepare};
use outcomes::report::{Bounds, Count, MeasureResult, Unit, Value};
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::Tables;
use support::{derived, horizon, stories, story};

const STRATA: &str = "healed-against-published-strata";
const OWN_PAST: &str = "healed-against-own-past";

fn results(tables: &Tables, id: &str, first: &str, last: &str) -> Vec<MeasureResult> {
    derived(tables, 2000, |people| {
        let (rules, horizon) = (Rules::default(), horizon(2000));
        let study = Study {
            people,
            rules: &rules,
            horizon: &horizon,
        };
        let measure = find_measure(id).unwrap();
        let cohort = Cohort {
            first: Quarter::parse(first).unwrap(),
            last: Quarter::parse(last).unwrap(),
        };
        evaluate(measure, &prepare(measure, &study), &study, &cohort)
    })
}

fn estimate(result: &MeasureResult) -> f64 {
    match &result.value {
        Value::Known(estimate) => estimate.estimate,
        other => panic!("no value: {other:?}"),
    }
}

/// Whether the index ulcer of a story had healed by day 140.
fn status(text: &str) -> Option<bool> {
    derived(&story(text), 2000, |people| {
        let (rules, horizon) = (Rules::default(), horizon(2000));
        let study = Study {
            people,
            rules: &rules,
            horizon: &horizon,
        };
        match prepare(find_measure(STRATA).unwrap(), &study) {
            Prepared::Severities(all) => all.first().unwrap().is_yes,
            other => panic!("{other:?}"),
        }
    })
}

#[test]
fn the_20_week_status_is_known_only_when_the_ulcer_came_to_an_end_or_was_watched_to_day_140() {
    for (rest, wanted) in [
        ("340 closed right A", Some(true)),
        ("341 closed right A", Some(false)),
        ("330 closed right A\n358 open right A", Some(false)),
        ("330 closed right A\n359 open right A", Some(true)),
        ("339 open right A", None),
        ("340 open right A", Some(false)),
        ("300 minor-amputation right A", Some(false)),
        ("300 major-amputation right", Some(false)),
        ("300 open right A\n310 death", Some(false)),
        (
            "340 closed right A\n340 major-amputation right",
            Some(false),
        ),
    ] {
        assert_eq!(
            status(&format!("200 open right A\n{rest}")),
            wanted,
            "{rest}"
        );
    }
}

/// An ulcer with 0 to 3 points, all three items recorded; 3 x 2 cm is 4.7 square cm as an ellipse, 1 x 1 cm 0.8.
fn ulcer(points: u8, rest: &str) -> String {
    let onset = if points >= 1 { 100 } else { 190 };
    let size = if points >= 2 {
        "length=3 width=2"
    } else {
        "length=1 width=1"
    };
    let depth = if points >= 3 {
        "depth=bone-or-joint osteomyelitis=yes infection=moderate"
    } else {
        "depth=skin infection=none"
    };
    format!("200 open right A site=mth-1 gangrene=none onset={onset} {size} {depth}\n{rest}")
}

#[test]
fn observed_over_expected_counts_known_outcomes_and_its_bounds_everybody() {
    // | points | chance | outcome |
    // | 0      | 0.65   | healed  |
    // | 1      | 0.53   | healed  |
    // | 2      | 0.34   | open    |
    // | 3      | 0.19   | unknown |
    let texts = [
        ulcer(0, "240 closed right A"),
        ulcer(1, "280 closed right A"),
        ulcer(2, "360 open right A"),
        ulcer(3, "230 open right A"),
    ];
    let tables = stories(&[&texts[0], &texts[1], &texts[2], &texts[3]]);
    let all = results(&tables, STRATA, "2023Q3", "2023Q3");
    assert_eq!(all.len(), 1);
    let ratio = &all[0];
    assert_eq!(ratio.unit, Unit::Ratio);
    // 2 healed of 0.65 + 0.53 + 0.34 = 1.52 expected.
    assert!((estimate(ratio) - 2.0 / 1.52).abs() < 1e-12);
    assert_eq!(
        (ratio.numerator, ratio.denominator, ratio.n_unknown),
        (
            Some(Count::Shown(2)),
            Some(Count::Shown(3)),
            Some(Count::Shown(1))
        )
    );
    let Some(Bounds { lowest, highest }) = ratio.bounds else {
        panic!("no bounds")
    };
    assert!((lowest - 2.0 / 1.71).abs() < 1e-12);
    assert!((highest - 3.0 / 1.71).abs() < 1e-12);
    assert_eq!(
        ratio.notes[0],
        "1.5 expected among 3 with severity and outcome known, of 4"
    );
}

#[test]
fn each_published_stratum_stands_beside_its_own_share_over_a_year() {
    let texts = [
        ulcer(0, "240 closed right A"),
        ulcer(0, "360 open right A"),
        ulcer(3, "360 open right A"),
        "200 open right A\n240 closed right A".to_owned(),
    ];
    let tables = stories(&[&texts[0], &texts[1], &texts[2], &texts[3]]);
    let all = results(&tables, STRATA, "2023Q2", "2023Q3");
    let shares: Vec<(&str, f64)> = all
        .iter()
        .skip(1)
        .map(|result| (result.stratum.as_str(), estimate(result)))
        .collect();
    assert_eq!(
        shares,
        [
            ("share healed, 0 points (published: 65%)", 0.5),
            ("share healed, 3 points (published: 19%)", 0.0),
            ("share healed, points not exactly known", 1.0),
        ]
    );
}

#[test]
fn the_index_ulcer_is_the_largest_of_the_first_day() {
    let small_heals = "200 open right A length=1 width=1 onset=190\n200 open left B length=4 width=3 onset=190\n240 closed right A\n360 open left B";
    assert_eq!(status(small_heals), Some(false));
    let large_heals = "200 open right A length=1 width=1\n200 open left B length=4 width=3\n240 closed left B\n360 open right A";
    assert_eq!(status(large_heals), Some(true));
    // An ulcer without an area counts as the smallest; of equal ones the first by side and label.
    let unmeasured = "200 open right A\n200 open left B length=0.5 width=0.5\n240 closed left B\n360 open right A";
    assert_eq!(status(unmeasured), Some(true));
}

#[test]
fn a_model_of_the_own_past_is_refused_in_words_when_earlier_outcomes_are_few() {
    let tables = story(&ulcer(0, "240 closed right A"));
    let refused = results(&tables, OWN_PAST, "2023Q3", "2023Q3").remove(0);
    let Value::NotEstimable { reason } = refused.value else {
        panic!("{refused:?}")
    };
    assert_eq!(
        reason,
        "too few earlier outcomes: 3 terms need 30 ulcers that healed and 30 that did not, with all items known; there were 0 \
         and 0"
    );
    assert_eq!(refused.denominator, Some(Count::Shown(1)));
}

/// Eight kinds of ulcer, `n` of each, first seen on a story day; of those with 0 to 3 points 3/4, 1/2, 1/4 and 1/10 heal.
fn practice(day: i64, n: usize) -> Vec<String> {
    let mut texts = Vec::new();
    for bits in 0..8u8 {
        let has = |place: u8| bits >> place & 1 == 1;
        let points = bits.count_ones() as i32;
        let odds = 3.0 / 3.0_f64.powi(points);
        let n_healed = (n as f64 * odds / (1.0 + odds)).round() as usize;
        for place in 0..n {
            let onset = if has(0) { day - 100 } else { day - 10 };
            let size = if has(1) {
                "length=3 width=2"
            } else {
                "length=1 width=1"
            };
            let depth = if has(2) {
                "bone-or-joint osteomyelitis=yes"
            } else {
                "skin infection=none"
            };
            let end = if place < n_healed { "closed" } else { "open" };
            let last = if place < n_healed {
                day + 60
            } else {
                day + 150
            };
            texts.push(format!(
                "{day} open right A site=mth-1 gangrene=none onset={onset} {size} depth={depth}\n{last} {end} right A"
            ));
        }
    }
    texts
}

#[test]
fn a_quarter_like_the_own_past_is_as_expected_and_its_calibration_is_said() {
    let texts: Vec<String> = practice(110, 40)
        .into_iter()
        .chain(practice(200, 20))
        .collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    let tables = stories(&texts);
    let ratio = results(&tables, OWN_PAST, "2023Q3", "2023Q3").remove(0);
    assert!((estimate(&ratio) - 1.0).abs() < 0.02, "{:?}", ratio.value);
    assert!(
        ratio.notes.iter().any(|note| note.starts_with(
            "model fitted on 320 ulcers first seen before 2023 Q3, of which 124 healed"
        )),
        "{:?}",
        ratio.notes
    );
    assert!(
        ratio.notes.iter().any(|note| note
            .starts_with("calibration on these ulcers, which the model has not seen: slope 1.0")),
        "{:?}",
        ratio.notes
    );
    // The past itself has no past before it.
    let before = results(&tables, OWN_PAST, "2023Q2", "2023Q2").remove(0);
    assert!(matches!(before.value, Value::NotEstimable { .. }));
}

#[test]
fn a_later_quarter_never_changes_an_earlier_comparison() {
    let early: Vec<String> = practice(110, 40)
        .into_iter()
        .chain(practice(200, 20))
        .collect();
    let more: Vec<String> = early.iter().cloned().chain(practice(300, 30)).collect();
    let of = |texts: &[String], id| {
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        results(&stories(&texts), id, "2023Q3", "2023Q3")
    };
    for id in [STRATA, OWN_PAST] {
        assert_eq!(of(&early, id), of(&more, id), "{id}");
    }
}
