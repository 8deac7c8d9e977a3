//! Hand-worked cases of the measures that the other files leave out, and a count that every measure has one.
//!
//! 2023 Q3 is story day 181 to 272, 2023 Q2 day 90 to 180. Stories begin on day 200, so that day 84 is story day 284, day 140 is
//! 340 and day 168 is 368.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::measure::MEASURES;
use outcomes::report::{Count, MeasureResult, Value};
use std::path::Path;
use support::{measured, stories, story};

fn result(texts: &[&str], id: &str, quarter: &str) -> MeasureResult {
    measured(&stories(texts), 900, id, quarter).remove(0)
}

/// What one story counts as: yes, no, unknown, or not at all.
fn verdict(text: &str, id: &str) -> &'static str {
    let found = measured(&story(text), 900, id, "2023Q3").remove(0);
    match (found.numerator, found.denominator, found.n_unknown) {
        (Some(Count::Shown(1)), Some(Count::Shown(1)), _) => "yes",
        (_, _, Some(Count::Shown(1))) => "unknown",
        (_, Some(Count::Shown(1)), _) => "no",
        _ => "not counted",
    }
}

fn estimate(result: &MeasureResult) -> f64 {
    match &result.value {
        Value::Known(estimate) => estimate.estimate,
        other => panic!("{}: {other:?}", result.measure),
    }
}

#[test]
fn each_version_of_healed_is_read_at_its_own_week() {
    const MINOR: &str = "200 open right A site=toe-1\n210 minor-amputation right A\n\
                         215 open right S origin=post-surgical parent=A\n";
    let toe_closed = format!("{MINOR}350 closed right S\n364 closed right S");
    // Healed by 20 and by 24 weeks; confirmed, including minor amputation, and every ulcer of the person by 24.
    let ids = [
        "healed-within-20-weeks",
        "healed-within-24-weeks",
        "healed-confirmed-within-24-weeks",
        "healed-including-minor-amputation-within-24-weeks",
    ];
    for (text, wanted) in [
        // closed on day 140, and again two weeks later
        (
            "200 open right A\n330 open right A\n340 closed right A\n354 closed right A",
            ["yes", "yes", "yes", "yes"],
        ),
        // closed on day 141: too late for 20 weeks
        (
            "200 open right A\n330 open right A\n341 closed right A\n355 closed right A",
            ["no", "yes", "yes", "yes"],
        ),
        // closed on day 168, and nobody looked again
        (
            "200 open right A\n360 open right A\n368 closed right A",
            ["no", "yes", "unknown", "yes"],
        ),
        // closed on day 169
        (
            "200 open right A\n360 open right A\n369 closed right A\n390 closed right A",
            ["no", "no", "no", "no"],
        ),
        // a toe removed on day 10, its wound closed on day 150
        (toe_closed.as_str(), ["no", "no", "no", "yes"]),
        // last seen open on day 100
        (
            "200 open right A\n300 open right A",
            ["unknown", "unknown", "unknown", "unknown"],
        ),
    ] {
        assert_eq!(ids.map(|id| verdict(text, id)), wanted, "{text}");
    }
}

#[test]
fn every_ulcer_of_a_person_has_healed_when_the_last_has() {
    let id = "every-ulcer-healed-within-24-weeks";
    let second = |closed: i64| {
        format!(
            "200 open right A\n200 open left B\n250 closed right A\n{} open left B\n{closed} closed left B",
            closed - 5
        )
    };
    assert_eq!(verdict(&second(368), id), "yes");
    assert_eq!(verdict(&second(369), id), "no");
}

#[test]
fn a_date_between_two_visits_counts_by_where_its_interval_lies() {
    let id = "healed-between-visits-within-24-weeks";
    for (open, closed, wanted) in [(300, 368, 1.0), (368, 390, 0.0)] {
        let text = format!("200 open right A\n{open} open right A\n{closed} closed right A");
        let drawn = result(&[&text], id, "2023Q3");
        assert!((estimate(&drawn) - wanted).abs() < 1e-12, "{text}");
    }
}

#[test]
fn alive_and_ulcer_free_is_read_nearest_day_168_in_its_window() {
    let id = "ulcer-free-at-24-weeks";
    for (text, wanted) in [
        ("200 open right A\n300 closed right A\n370 visit", "yes"),
        ("200 open right A\n360 open right A", "no"),
        // day 182 is in the window, day 183 is not
        ("200 open right A\n382 closed right A", "yes"),
        (
            "200 open right A\n300 open right A\n383 closed right A",
            "unknown",
        ),
        ("200 open right A\n300 closed right A\n368 death", "no"),
    ] {
        assert_eq!(verdict(text, id), wanted, "{text}");
    }
}

#[test]
fn a_new_ulcer_up_to_day_28_after_closure_comes_soon_and_is_unknown_without_a_later_look() {
    let id = "new-ulcer-soon-after-closure";
    for (rest, wanted) in [
        ("228 open left B", "yes"),
        ("229 open left B", "no"),
        ("240 exam right pulses=palpable", "no"),
        ("228 exam right pulses=palpable", "unknown"),
        // the same site opens again: it had not closed, and its closure of day 50 lies in the quarter
        ("210 open right A\n250 closed right A\n290 exam right", "no"),
    ] {
        let text = format!("150 open right A site=heel\n200 closed right A site=heel\n{rest}");
        assert_eq!(verdict(&text, id), wanted, "{rest}");
    }
}

#[test]
fn minor_amputations_of_a_quarter_are_counted_without_their_planned_closures() {
    let counted = result(
        &[
            "200 minor-amputation right height=toe\n210 minor-amputation right height=toe staged=yes",
            "220 minor-amputation left height=ray",
            // major, and of another quarter
            "230 major-amputation left",
            "280 minor-amputation left height=toe",
        ],
        "minor-amputations",
        "2023Q3",
    );
    assert!((estimate(&counted) - 2.0).abs() < 1e-12);
}

#[test]
fn a_first_visit_is_recorded_in_full_when_no_item_is_missing() {
    const ULCER: [&str; 6] = [
        "onset=190",
        "site=toe-1-tip",
        "area=2",
        "depth=skin",
        "gangrene=none",
        "infection=none",
    ];
    const FOOT: [&str; 2] = ["sensation=intact", "pulses=palpable"];
    let without = |missing: &str| {
        let kept = |items: &[&'static str]| -> String {
            let kept: Vec<&str> = items
                .iter()
                .copied()
                .filter(|item| *item != missing)
                .collect();
            kept.join(" ")
        };
        format!(
            "200 open right A {}\n214 exam right {}",
            kept(&ULCER),
            kept(&FOOT)
        )
    };
    let full = "first-visit-recorded-in-full";
    for (missing, id) in [
        ("onset=190", "onset-recorded"),
        ("site=toe-1-tip", "site-recorded"),
        ("area=2", "area-recorded"),
        ("depth=skin", "depth-recorded"),
        ("gangrene=none", "gangrene-recorded"),
        ("infection=none", "infection-graded-at-first-visit"),
        ("sensation=intact", "sensation-tested"),
        ("pulses=palpable", "pulses-recorded"),
    ] {
        assert_eq!(verdict(&without(""), id), "yes", "{id}");
        assert_eq!(verdict(&without(missing), id), "no", "{id}");
        // No scale needs the onset.
        let wanted = if id == "onset-recorded" { "yes" } else { "no" };
        assert_eq!(verdict(&without(missing), full), wanted, "{missing}");
    }
    assert_eq!(verdict(&without(""), full), "yes");
    // An examination of the other foot, or after the window, tells nothing.
    let late = without("").replace("214 exam", "215 exam");
    assert_eq!(verdict(&late, "pulses-recorded"), "no");
    let other = without("").replace("exam right", "exam left");
    assert_eq!(verdict(&other, "pulses-recorded"), "no");
}

#[test]
fn a_tier_can_be_told_of_those_without_a_wound_whose_items_are_recorded() {
    let full = "sensation=intact pulses=palpable deformity=no";
    let tables = [
        &format!("100 exam right {full}\n100 exam left {full}"),
        "100 exam right pulses=palpable",
        // an open wound is a class of its own; the dead are not under care
        "150 open right A\n175 open right A",
        "100 exam right pulses=palpable\n160 death",
    ];
    let gradable = result(&tables, "tier-gradable", "2023Q2");
    assert_eq!(
        (gradable.numerator, gradable.denominator),
        (Some(Count::Shown(1)), Some(Count::Shown(2)))
    );
}

#[test]
fn every_measure_has_a_hand_worked_case() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let worked: String = [
        "measures.rs",
        "healing.rs",
        "again.rs",
        "pathway.rs",
        "presentation.rs",
        "process.rs",
        "expectation.rs",
        "catalogue.rs",
    ]
    .iter()
    .map(|name| std::fs::read_to_string(folder.join(name)).unwrap())
    .collect();
    let missing: Vec<&str> = MEASURES
        .iter()
        .map(|measure| measure.id)
        .filter(|id| !worked.contains(&format!("\"{id}\"")))
        .collect();
    assert!(missing.is_empty(), "no hand-worked case: {missing:#?}");
}

#[test]
fn a_traced_area_tells_a_share_and_a_rate_but_not_how_far_the_edge_moved() {
    // 4 to 1 square cm in four weeks: three quarters gone, ln 4 / 4 = 0.347 a week. Of a tracing no perimeter is known.
    let traced = "200 open right A area=4\n228 open right A area=1";
    let of = |id: &str| result(&[traced], id, "2023Q3");
    assert!((estimate(&of("area-reduction-at-4-weeks")) - 0.75).abs() < 1e-6);
    assert!((estimate(&of("shrinking-rate-in-4-weeks")) - 4.0_f64.ln() / 4.0).abs() < 1e-6);
    let edge = of("edge-advance-in-4-weeks");
    assert!(matches!(edge.value, Value::NotEstimable { .. }));
    assert_eq!(edge.n_unknown, Some(Count::Shown(1)));
}
