//! Hand-worked cases of what happens again: new ulcers after all wounds had closed, and further amputations.
//!
//! 2023 Q3 is story day 181 to 272. Binomial and Poisson limits were worked out apart, by bisection of the exact tails.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::measure::{Study, find_measure, trace};
use outcomes::report::{Count, MeasureResult, Value};
use outcomes::rules::Rules;
use outcomes::tables::Tables;
use support::{day, derived, horizon, measured, stories, story};

const CUT_OFF: i64 = 1500;
const SHOWN: fn(u64) -> Option<Count> = |n| Some(Count::Shown(n));

fn results(tables: &Tables, id: &str) -> Vec<MeasureResult> {
    measured(tables, CUT_OFF, id, "2023Q3")
}

fn result(tables: &Tables, id: &str) -> MeasureResult {
    results(tables, id).remove(0)
}

fn estimate(result: &MeasureResult) -> f64 {
    match &result.value {
        Value::Known(estimate) => estimate.estimate,
        other => panic!("no value: {other:?}"),
    }
}

fn limits(result: &MeasureResult) -> (f64, f64) {
    match &result.value {
        Value::Known(known) => {
            let interval = known.interval.as_ref().unwrap();
            (interval.lower.unwrap(), interval.upper.unwrap())
        }
        other => panic!("no value: {other:?}"),
    }
}

fn is_near(one: f64, other: f64) -> bool {
    (one - other).abs() < 1e-6 * other.abs().max(1.0)
}

/// Everybody's wounds had closed on day 200.
/// B and D are examined on day 100 too.
/// A: the same site opens on day 50 after it, another ulcer on day 250. B: nothing, last examined on day 390.
/// C: the other foot on day 100. D: another site of the same foot on day 300.
const FOUR: [&str; 4] = [
    "100 open right A site=toe-1-plantar\n200 closed right A\n250 open right A site=toe-1-plantar\n450 open left B",
    "100 open right A site=toe-1-plantar\n200 closed right A\n300 exam right\n590 exam right",
    "100 open right A site=toe-1-plantar\n200 closed right A\n300 open left B site=heel",
    "100 open right A site=toe-1-plantar\n200 closed right A\n300 exam right\n500 open right B site=heel",
];

#[test]
fn a_first_new_ulcer_is_counted_by_3_12_and_36_months() {
    let tables = stories(&FOUR);
    let three = result(&tables, "recurrence-within-3-months");
    assert!(is_near(estimate(&three), 0.25));
    let twelve = result(&tables, "recurrence-within-12-months");
    assert!(is_near(estimate(&twelve), 0.75));
    // B is last examined on day 390: nobody is at risk on day 1095, and one is not known.
    let late = result(&tables, "recurrence-within-36-months");
    assert!(matches!(late.value, Value::NotEstimable { .. }));
    assert_eq!((late.numerator, late.n_unknown), (SHOWN(3), SHOWN(1)));
}

#[test]
fn the_places_of_the_first_new_ulcer_add_up_to_any_new_ulcer() {
    let tables = stories(&FOUR);
    let places = [
        "recurrence-same-site-within-12-months",
        "recurrence-same-foot-within-12-months",
        "recurrence-other-foot-within-12-months",
    ]
    .map(|id| result(&tables, id));
    assert!(places.iter().all(|place| is_near(estimate(place), 0.25)));
    assert!(places.iter().all(|place| place.numerator == SHOWN(1)));
    let any = result(&tables, "recurrence-within-12-months");
    let sum: f64 = places.iter().map(estimate).sum();
    assert!(is_near(sum, estimate(&any)));
}

#[test]
fn a_rate_divides_first_new_ulcers_by_the_time_without_one() {
    // At risk from day 28: A 22 days, C 72, D 272, B 365 - 28 = 337. Together 703 days, 1.9247 years; 3 people with an ulcer.
    let rate = result(&stories(&FOUR), "new-ulcers-per-100-person-years");
    assert!(is_near(estimate(&rate), 155.867_709_815_078));
    assert_eq!((rate.numerator, rate.denominator), (SHOWN(3), SHOWN(4)));
    let (lower, upper) = limits(&rate);
    assert!(is_near(lower, 32.143_668_974_057) && is_near(upper, 455.511_591_568_049));
}

#[test]
fn a_mean_count_counts_every_new_ulcer() {
    // Day 50: 1 of 4. Day 100: 1 of 4. Day 250: 1 of the 3 still watched. Day 300: 1 of the 2 still watched.
    let mean = result(&stories(&FOUR), "mean-new-ulcers-by-12-months");
    assert!(is_near(
        estimate(&mean),
        100.0 * (0.25 + 0.25 + 1.0 / 3.0 + 0.5)
    ));
    assert_eq!((mean.numerator, mean.denominator), (SHOWN(4), SHOWN(4)));
    let (lower, upper) = limits(&mean);
    assert!(lower < estimate(&mean) && estimate(&mean) < upper);
}

#[test]
fn every_event_of_a_mean_count_is_traced_to_the_row_that_tells_it() {
    let tables = stories(&FOUR);
    let lines = derived(&tables, CUT_OFF, |people| {
        let (rules, horizon) = (Rules::default(), horizon(CUT_OFF));
        let study = Study {
            people,
            rules: &rules,
            horizon: &horizon,
        };
        trace(
            &[find_measure("mean-new-ulcers-by-12-months").unwrap()],
            &study,
        )
    });
    let events = lines.iter().filter(|line| line.outcome == "event");
    let told: Vec<(u32, i64, i64, u32)> = events
        .map(|line| {
            let at = line.at.unwrap();
            (line.person.0, line.day.unwrap(), day(at), at.source.record)
        })
        .collect();
    // person, days after closure, story day, and the record: rows are numbered through all stories
    assert_eq!(
        told,
        [
            (0, 50, 250, 3),
            (0, 250, 450, 4),
            (2, 100, 300, 11),
            (3, 300, 500, 15)
        ]
    );
}

#[test]
fn the_dead_have_no_more_ulcers_and_stay_in_the_mean() {
    // One of two dies on day 100, the other has a new ulcer on day 200: half of one.
    let tables = stories(&[
        "100 open right A\n200 closed right A\n290 exam right\n300 death",
        "100 open right A\n200 closed right A\n400 open right B site=heel\n590 exam right",
    ]);
    let mean = result(&tables, "mean-new-ulcers-by-12-months");
    assert!(is_near(estimate(&mean), 50.0));
}

/// One of two tells of a new ulcer on day 200 after the closure and is not examined again; the other is watched all year.
#[test]
fn an_ulcer_that_its_owner_tells_counts_though_no_examination_follows() {
    let tables = stories(&[
        "100 open right A\n200 closed right A\n400 open right B site=heel by=patient",
        "100 open right A\n200 closed right A\n590 exam right",
    ]);
    let first = result(&tables, "recurrence-within-12-months");
    let mean = result(&tables, "mean-new-ulcers-by-12-months");
    assert_eq!((first.numerator, first.denominator), (SHOWN(1), SHOWN(2)));
    assert_eq!((mean.numerator, mean.denominator), (SHOWN(1), SHOWN(2)));
    assert!(is_near(estimate(&mean), 50.0));
}

#[test]
fn two_new_ulcers_of_one_day_count_twice() {
    let tables = stories(&[
        "100 open right A\n200 closed right A\n300 open right B site=heel\n300 open left C\n590 exam right",
        "100 open right A\n200 closed right A\n590 exam right",
    ]);
    let mean = result(&tables, "mean-new-ulcers-by-12-months");
    assert!(is_near(estimate(&mean), 100.0));
}

/// Four limbs with a first ulcer on day 200: major amputation on day 100, death on day 200, a toe on day 50, nothing.
const LIMBS: [&str; 4] = [
    "200 open right A\n300 major-amputation right A",
    "200 open right A\n400 death",
    "200 open right A\n250 minor-amputation right A height=toe",
    "200 open right A",
];

#[test]
fn amputation_free_survival_counts_death_as_a_loss_and_limbs_kept_does_not() {
    let tables = stories(&LIMBS);
    let alive = result(&tables, "amputation-free-survival-at-12-months");
    assert!(is_near(estimate(&alive), 0.5));
    assert_eq!((alive.numerator, alive.denominator), (SHOWN(2), SHOWN(4)));
    assert!(is_near(
        estimate(&result(&tables, "limbs-kept-at-12-months")),
        0.75
    ));
    let minor = result(&tables, "minor-amputation-within-12-months");
    assert!(is_near(estimate(&minor), 0.25));
}

#[test]
fn a_further_amputation_counts_and_a_planned_stage_of_the_same_one_does_not() {
    let again = |story: &str| {
        let found = result(
            &stories(&[story, "210 minor-amputation left height=toe"]),
            "repeat-amputation-within-12-months",
        );
        (found.numerator, found.denominator)
    };
    let one_of_two = (SHOWN(1), SHOWN(2));
    let none_of_two = (SHOWN(0), SHOWN(2));
    for (story, expected) in [
        (
            "200 minor-amputation right height=toe\n250 minor-amputation right height=ray",
            one_of_two,
        ),
        (
            "200 minor-amputation right height=toe\n250 minor-amputation right height=toe staged=yes",
            none_of_two,
        ),
        // A higher level counts, however soon and however it is coded.
        (
            "200 minor-amputation right height=toe\n230 major-amputation right height=below-knee staged=yes",
            one_of_two,
        ),
        // Of the other limb, or after day 365: no repeat. The other limb is counted for itself.
        (
            "200 minor-amputation right height=toe\n566 minor-amputation right height=ray",
            none_of_two,
        ),
        (
            "200 minor-amputation right height=toe\n565 minor-amputation right height=ray",
            one_of_two,
        ),
    ] {
        assert_eq!(again(story), expected, "{story}");
    }
    // The second operation begins no follow-up of its own.
    let tables =
        story("150 minor-amputation right height=toe\n200 minor-amputation right height=ray");
    assert_eq!(
        result(&tables, "repeat-amputation-within-12-months").denominator,
        SHOWN(0)
    );
}

#[test]
fn a_ratio_of_major_to_minor_needs_enough_of_both_and_has_exact_limits() {
    let people = |n_major: usize, n_minor: usize| -> Tables {
        let major = std::iter::repeat_n("200 major-amputation right", n_major);
        let minor = std::iter::repeat_n("210 minor-amputation right", n_minor);
        stories(&major.chain(minor).collect::<Vec<_>>())
    };
    let few = result(&people(4, 10), "major-to-minor-ratio");
    assert!(matches!(few.value, Value::NotEstimable { .. }));
    assert_eq!((few.numerator, few.denominator), (SHOWN(4), SHOWN(10)));
    let enough = result(&people(5, 10), "major-to-minor-ratio");
    assert!(is_near(estimate(&enough), 0.5));
    let (lower, upper) = limits(&enough);
    assert!(is_near(lower, 0.134_096_864_594_583) && is_near(upper, 1.605_498_371_209_229));
}
