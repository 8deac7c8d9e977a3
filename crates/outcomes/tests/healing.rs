//! Hand-worked cases of the versions of healing. The arithmetic stands beside each.
//!
//! 2023 Q3 is story day 181 to 272; every story here begins on day 200.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::report::{Bounds, Count, MeasureResult, Value};
use outcomes::tables::Tables;
use support::{measured, stories, story};

fn results(tables: &Tables, id: &str) -> Vec<MeasureResult> {
    measured(tables, 900, id, "2023Q3")
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

/// What one story counts as: yes, no, or unknown.
fn verdict(text: &str, id: &str) -> &'static str {
    let found = result(&story(text), id);
    match (found.numerator, found.denominator, found.n_unknown) {
        (Some(Count::Shown(1)), Some(Count::Shown(1)), _) => "yes",
        (_, _, Some(Count::Shown(1))) => "unknown",
        (_, Some(Count::Shown(1)), _) => "no",
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn each_version_of_healed_has_its_own_answer_to_the_same_story() {
    let main = "healed-within-12-weeks";
    let strict = "healed-confirmed-within-12-weeks";
    let with_minor = "healed-including-minor-amputation-within-12-weeks";
    let person = "every-ulcer-healed-within-12-weeks";
    for (text, wanted) in [
        // closed on day 50 and again 14 days later
        (
            "200 open right A\n250 closed right A\n264 closed right A",
            ["yes", "yes", "yes", "yes"],
        ),
        // first seen closed on day 84 itself, and nobody looks again: whether it healed by then is not known
        (
            "200 open right A\n270 open right A\n284 closed right A",
            ["yes", "unknown", "yes", "yes"],
        ),
        // the second look comes a day too early and nobody looks again: unknown from the first look on
        (
            "200 open right A\n250 closed right A\n263 closed right A",
            ["yes", "unknown", "yes", "yes"],
        ),
        // confirmed on day 112, the last day that is read
        (
            "200 open right A\n284 closed right A\n312 closed right A",
            ["yes", "yes", "yes", "yes"],
        ),
        // confirmed a day later: not read any more, so whether it had closed on day 84 is not known
        (
            "200 open right A\n284 closed right A\n313 closed right A",
            ["yes", "unknown", "yes", "yes"],
        ),
        // confirmed, then open again 28 days after the first closed visit
        (
            "200 open right A\n250 closed right A\n264 closed right A\n278 open right A\n290 open right A",
            ["no", "no", "no", "no"],
        ),
        // toe amputated, its wound closed on day 80
        (
            "200 open right A site=toe-1\n210 minor-amputation right A\n215 open right S origin=post-surgical parent=A\n280 closed right S",
            ["no", "no", "yes", "no"],
        ),
        // toe amputated, its wound closed on day 85
        (
            "200 open right A site=toe-1\n210 minor-amputation right A\n215 open right S origin=post-surgical parent=A\n285 closed right S",
            ["no", "no", "no", "no"],
        ),
        // toe amputated, no wound recorded: closed at the next look at that foot, day 60
        (
            "200 open right A site=toe-1\n210 minor-amputation right A\n260 exam right pulses=palpable",
            ["no", "no", "yes", "no"],
        ),
        // toe amputated, the foot never seen again: whether the wound closed is unknown
        (
            "200 open right A site=toe-1\n210 minor-amputation right A",
            ["no", "no", "unknown", "no"],
        ),
        // the wound of the first amputation is removed with the ray; that wound closes on day 75
        (
            "200 open right A site=toe-1\n210 minor-amputation right A\n215 open right S origin=post-surgical parent=A\n\
             230 minor-amputation right S\n235 open right T origin=post-surgical parent=S\n275 closed right T",
            ["no", "no", "yes", "no"],
        ),
        // the leg is lost before the wound of the toe has closed
        (
            "200 open right A site=toe-1\n210 minor-amputation right A\n215 open right S origin=post-surgical parent=A\n\
             240 major-amputation right\n270 visit",
            ["no", "no", "no", "no"],
        ),
        // died with it open
        (
            "200 open right A\n240 open right A\n250 death",
            ["no", "no", "no", "no"],
        ),
        // last seen open on day 60
        (
            "200 open right A\n260 open right A",
            ["unknown", "unknown", "unknown", "unknown"],
        ),
    ] {
        let found = [main, strict, with_minor, person].map(|id| verdict(text, id));
        assert_eq!(found, wanted, "{text}");
    }
}

#[test]
fn a_person_has_healed_when_the_last_ulcer_on_either_foot_has() {
    let tables = stories(&[
        // both closed by day 60
        "200 open right A\n200 open left B\n240 closed right A\n260 closed left B",
        // one closed, the other open on day 90
        "200 open right A\n200 open left B\n240 closed right A\n290 open left B",
        // a second ulcer opens while the first is open, and closes on day 80
        "200 open right A\n230 open left B\n240 closed right A\n280 closed left B",
        // closed; a new ulcer on day 60 begins a new person-episode
        "200 open right A\n240 closed right A\n260 open left B\n290 open left B",
    ]);
    // Ulcers: eight (two each), of which A, B / A / A, B / A closed by day 84 of each.
    let ulcers = result(&tables, "healed-within-12-weeks");
    assert_eq!(ulcers.denominator, Some(Count::Shown(8)));
    assert_eq!(ulcers.numerator, Some(Count::Shown(6)));
    // Person-episodes: five; three of them closed by day 84, the last one is lost from sight on day 30.
    let people = result(&tables, "every-ulcer-healed-within-12-weeks");
    assert_eq!(people.denominator, Some(Count::Shown(5)));
    assert_eq!(people.numerator, Some(Count::Shown(3)));
    assert_eq!(people.n_unknown, Some(Count::Shown(1)));
}

#[test]
fn an_amputation_of_any_ulcer_ends_the_chance_of_the_person_but_not_of_the_other_ulcer() {
    let text = "200 open right A site=toe-1\n200 open left B\n210 minor-amputation right A\n\
                215 open right S origin=post-surgical parent=A\n240 closed right S\n250 closed left B";
    let ulcers = result(&story(text), "healed-within-12-weeks");
    assert_eq!(ulcers.numerator, Some(Count::Shown(1)));
    assert_eq!(verdict(text, "every-ulcer-healed-within-12-weeks"), "no");
}

/// Ten people, one ulcer each. Closed on days 20, 30, 40, 50, 60, 70; lost from sight, open, on days 10 and 35; died on day 45;
/// open on day 190.
fn ten() -> Tables {
    let mut texts: Vec<String> = [20, 30, 40, 50, 60, 70]
        .iter()
        .map(|day| format!("200 open right A\n{} closed right A", 200 + day))
        .collect();
    texts.push("200 open right A\n210 open right A".to_owned());
    texts.push("200 open right A\n235 open right A".to_owned());
    texts.push("200 open right A\n240 open right A\n245 death".to_owned());
    texts.push("200 open right A\n390 open right A".to_owned());
    stories(&texts.iter().map(String::as_str).collect::<Vec<_>>())
}

#[test]
fn quartiles_are_read_from_the_curve_and_bounded_by_what_the_lost_may_have_done() {
    // At risk 9 on day 20 (one lost on day 10): 1/9. Day 30: 2/9. Lost on day 35. Day 40: 6 at risk of 7/9 left: 2/9 + 7/54.
    // Day 45: one of 5 dies. Days 50, 60, 70: 14/27 left after it: each takes a quarter of it.
    let curve = [
        (20, 1.0 / 9.0),
        (30, 2.0 / 9.0),
        (40, 2.0 / 9.0 + 7.0 / 54.0),
        (50, 2.0 / 9.0 + 7.0 / 54.0 + 7.0 / 54.0),
    ];
    assert!(curve[2].1 > 0.25 && curve[1].1 < 0.25 && curve[3].1 < 0.5);
    let found = results(&ten(), "quartiles-of-time-to-healing");
    let strata: Vec<&str> = found.iter().map(|result| result.stratum.as_str()).collect();
    assert_eq!(
        strata,
        ["a quarter healed", "half healed", "three quarters healed"]
    );
    assert!((estimate(&found[0]) - 40.0).abs() < 1e-12);
    // A quarter is three of ten. The lost healed the day after (days 11, 36): 11, 20, 30. They never did: 20, 30, 40.
    assert_eq!(
        found[0].bounds,
        Some(Bounds {
            lowest: 30.0,
            highest: 40.0
        })
    );
    // Half: on day 50 the curve is at 0.481, on day 60 at 0.611. Five of ten: 11, 20, 30, 36, 40, or 20, 30, 40, 50, 60.
    assert!((estimate(&found[1]) - 60.0).abs() < 1e-12);
    assert_eq!(
        found[1].bounds,
        Some(Bounds {
            lowest: 40.0,
            highest: 60.0
        })
    );
    // Three quarters: the curve ends at 0.741. Eight of ten are reached on day 70 at best, and never at worst.
    assert!(matches!(found[2].value, Value::NotReached { .. }));
    assert_eq!(found[2].bounds, None);
    assert!(
        found[2]
            .notes
            .iter()
            .any(|note| note.contains("healed at once: 70 days")
                && note.contains("none of them healed: not reached")),
        "{:?}",
        found[2].notes
    );
    let median = result(&ten(), "median-time-to-healing");
    assert!((estimate(&median) - 60.0).abs() < 1e-12);
    assert_eq!(median.bounds, found[1].bounds);
}

#[test]
fn healing_between_visits_is_dated_inside_its_interval_and_the_figure_at_visits_stands_beside_it() {
    // Forty people, last seen open on day 60 and first seen closed on day 90: four fifths of the interval lie by day 84.
    let one = "200 open right A\n260 open right A\n290 closed right A";
    let tables = stories(&[one; 40]);
    let between = result(&tables, "healed-between-visits-within-12-weeks");
    // 20 draws of 40 dates: standard error of their mean 0.014.
    assert!((estimate(&between) - 0.8).abs() < 0.05, "{between:?}");
    assert!(
        between
            .notes
            .iter()
            .any(|note| note.starts_with("dated at visits: 0% "))
    );
    assert!(
        between
            .notes
            .iter()
            .any(|note| note.contains("two visits 30 days apart"))
    );
    assert!((estimate(&result(&tables, "healed-within-12-weeks"))).abs() < 1e-12);
    // An interval that ends by day 84, or begins after it, leaves nothing to draw.
    for (text, wanted) in [
        (
            "200 open right A\n240 open right A\n284 closed right A",
            1.0,
        ),
        (
            "200 open right A\n284 open right A\n300 closed right A",
            0.0,
        ),
    ] {
        let drawn = result(&story(text), "healed-between-visits-within-12-weeks");
        assert!((estimate(&drawn) - wanted).abs() < 1e-12, "{text}");
    }
}

/// Forty small ulcers, of which ten are lost from sight and 24 of the others heal on day 40; forty large ones, of which twenty are
/// lost and five heal. Losses come on the first twenty days; nobody heals before.
fn lost_by_size(n_lost_large: usize) -> Tables {
    lost_by(n_lost_large, ["length=1 width=1", "length=2 width=2"])
}

/// The same with other words for a small ulcer and a large one.
fn lost_by(n_lost_large: usize, [small, large]: [&str; 2]) -> Tables {
    let mut texts = Vec::new();
    let mut add = |size: &str, n_lost: usize, n_healed: usize, n_open: usize| {
        for place in 0..n_lost {
            let day = 201 + place * 20 / n_lost;
            texts.push(format!("200 open right A {size}\n{day} open right A"));
        }
        for _ in 0..n_healed {
            texts.push(format!("200 open right A {size}\n240 closed right A"));
        }
        for _ in 0..n_open {
            texts.push(format!(
                "200 open right A {size}\n290 open right A\n380 open right A"
            ));
        }
    };
    add(small, 10, 24, 6);
    add(large, n_lost_large, 5, 35 - n_lost_large);
    stories(&texts.iter().map(String::as_str).collect::<Vec<_>>())
}

#[test]
fn those_who_stayed_are_weighted_to_stand_for_those_of_their_severity_who_were_lost() {
    // Of those known 29 of 50 healed: 58%. Had everybody stayed, small ulcers would have healed in 4 of 5 and large ones in 1 of
    // 4: (32 + 10) of 80, 52.5%. An ulcer that stayed weighs 4/3 if small and 2 if large, up to the form of the model.
    let tables = lost_by_size(20);
    let plain = result(&tables, "healed-within-12-weeks");
    assert!((estimate(&plain) - 0.58).abs() < 1e-9);
    let later = result(&tables, "healed-weighted-for-loss-within-24-weeks");
    assert!((estimate(&later) - 0.525).abs() < 0.005, "{later:?}");
    let weighted = result(&tables, "healed-weighted-for-loss-within-12-weeks");
    assert!((estimate(&weighted) - 0.525).abs() < 0.005, "{weighted:?}");
    assert_eq!(weighted.numerator, Some(Count::Shown(29)));
    assert_eq!(weighted.denominator, Some(Count::Shown(50)));
    assert_eq!(weighted.n_unknown, Some(Count::Shown(30)));
    assert!(weighted.notes[0].starts_with("not weighted: 58%"));
    // 30 weights of 4/3 and 20 of 2: 80^2 / (30 x 16/9 + 20 x 4) = 48.
    assert!(
        weighted.notes[1].contains("weigh as much as 48 of equal weight"),
        "{:?}",
        weighted.notes
    );
}

#[test]
fn an_item_that_repeats_another_is_left_out_of_the_weights_and_named() {
    // The same eighty ulcers, the large ones with gangrene and the small ones without: size and grade tell the same, and
    // the weights are those of the size alone.
    let wanted = result(
        &lost_by_size(20),
        "healed-weighted-for-loss-within-12-weeks",
    );
    let twice = lost_by(
        20,
        [
            "length=1 width=1 gangrene=none depth=skin infection=none",
            "length=2 width=2 gangrene=digits",
        ],
    );
    let weighted = result(&twice, "healed-weighted-for-loss-within-12-weeks");
    assert!(
        (estimate(&weighted) - estimate(&wanted)).abs() < 1e-9,
        "{weighted:?}"
    );
    let note =
        "left out of the model of loss, because other items tell the same: `grade 3 or more`";
    assert!(
        weighted.notes.iter().any(|own| own == note),
        "{:?}",
        weighted.notes
    );
}

#[test]
fn weights_for_loss_are_refused_where_too_few_or_nobody_was_lost() {
    let id = "healed-weighted-for-loss-within-12-weeks";
    let reason = |tables: &Tables| match result(tables, id).value {
        Value::NotEstimable { reason } => reason,
        other => panic!("{other:?}"),
    };
    // One term, ten losses needed: four people of this quarter, one of them lost.
    let few = stories(&[
        "200 open right A length=1 width=1\n240 closed right A",
        "200 open right A length=2 width=2\n240 closed right A",
        "200 open right A length=2 width=2\n290 open right A",
        "200 open right A length=1 width=1\n250 open right A",
    ]);
    assert!(
        reason(&few)
            .contains("1 term needs 10 ulcers lost from sight and 10 not; there were 1 and 3")
    );
    let nobody = story("200 open right A\n240 closed right A");
    assert!(reason(&nobody).contains("nobody was lost"));
}

#[test]
fn the_area_at_four_weeks_is_read_nearest_day_28_and_half_gone_is_halved() {
    let id = "area-halved-at-4-weeks";
    for (rest, wanted) in [
        // 2 x 2 to 2 x 1: exactly half
        ("228 open right A length=2 width=1", "yes"),
        ("228 open right A length=2 width=1.01", "no"),
        // day 21 and day 35 are in time, day 20 and day 36 are not
        ("221 open right A length=1 width=1", "yes"),
        ("235 open right A length=1 width=1", "yes"),
        ("220 open right A length=1 width=1", "unknown"),
        ("236 open right A length=1 width=1", "unknown"),
        // days 26 and 30 are equally near: the later counts
        (
            "226 open right A length=1 width=1\n230 open right A length=2 width=2",
            "no",
        ),
        // measured without a width
        ("228 open right A length=1", "unknown"),
        // closed before, and never seen again
        ("210 closed right A", "yes"),
        // closed before, but open again within the window
        (
            "210 closed right A\n230 open right A length=2 width=2",
            "no",
        ),
        ("215 minor-amputation right A", "no"),
        ("215 open right A\n230 death", "no"),
        ("240 closed right A", "unknown"),
    ] {
        let text = format!("200 open right A length=2 width=2 site=toe-1\n{rest}");
        assert_eq!(verdict(&text, id), wanted, "{rest}");
    }
    // 0.4 x 0.4 cm is 0.126 square cm: too small to be read; no width: no first area.
    for first in ["length=0.4 width=0.4", "length=2"] {
        let text = format!("200 open right A {first}\n228 open right A length=0.2 width=0.2");
        assert_eq!(result(&story(&text), id).denominator, Some(Count::Shown(0)));
    }
}

#[test]
fn edge_advance_and_rate_are_those_of_a_circle_that_shrinks() {
    // Radius 1.2 to 0.9 cm in 28 days: 0.3 cm in 4 weeks, 0.75 mm a week; ln(16/9)/4 = 0.1438 a week; 7/16 of the area gone.
    let circle = "200 open right A length=2.4 width=2.4\n228 open right A length=1.8 width=1.8";
    for (id, wanted) in [
        ("edge-advance-in-4-weeks", 0.75),
        ("shrinking-rate-in-4-weeks", (16.0f64 / 9.0).ln() / 4.0),
        ("area-reduction-at-4-weeks", 7.0 / 16.0),
    ] {
        let found = result(&story(circle), id);
        assert!((estimate(&found) - wanted).abs() < 1e-6, "{id}: {found:?}");
        assert_eq!(found.denominator, Some(Count::Shown(1)));
    }
    // Closed: the edge moved 1.2 cm in 14 days (2 x area / perimeter = radius), and no rate is fast enough.
    let closed = "200 open right A length=2.4 width=2.4\n214 closed right A";
    assert!((estimate(&result(&story(closed), "edge-advance-in-4-weeks")) - 6.0).abs() < 1e-6);
    assert!(matches!(
        result(&story(closed), "shrinking-rate-in-4-weeks").value,
        Value::NotEstimable { .. }
    ));
}

#[test]
fn average_days_to_healing_count_the_unhealed_with_the_whole_time() {
    // Healed on day 40, died on day 50, lost on day 60, healed on day 80: the incidence is 1/4 from day 40 and 3/4 from day 80.
    // Up to day 168 that is 40/4 + 88 x 3/4 = 76 days healed, so 92 until healing.
    let tables = stories(&[
        "200 open right A\n240 closed right A",
        "200 open right A\n245 open right A\n250 death",
        "200 open right A\n260 open right A",
        "200 open right A\n270 open right A\n280 closed right A",
    ]);
    let found = result(&tables, "mean-days-to-healing-within-24-weeks");
    assert!((estimate(&found) - 92.0).abs() < 1e-9, "{found:?}");
    // Known: (40 + 168 + 168 + 80) / 4 if the lost one never healed, 60 for it if it healed at once.
    assert_eq!(
        found.bounds,
        Some(Bounds {
            lowest: 87.0,
            highest: 114.0
        })
    );
}

#[test]
fn ulcer_free_days_count_from_every_closure_to_the_next_ulcer_or_death() {
    let id = "ulcer-free-days-in-6-months";
    let tables = stories(&[
        // days 40 to 182
        "200 open right A\n240 closed right A\n382 exam right pulses=palpable",
        // never
        "200 open right A\n382 open right A",
        // days 40 to 100 and 140 to 182
        "200 open right A\n240 closed right A\n300 open left B\n340 closed left B\n400 exam left pulses=palpable",
        // days 40 to 100, then dead
        "200 open right A\n240 closed right A\n290 exam right pulses=palpable\n300 death",
    ]);
    let found = result(&tables, id);
    assert_eq!(found.n_unknown, Some(Count::Shown(0)));
    assert!(
        (estimate(&found) - (142.0 + 102.0 + 60.0) / 4.0).abs() < 1e-9,
        "{found:?}"
    );
    // Closed on day 40 and not seen again: between none and all of the 142 days after.
    let unseen = stories(&[
        "200 open right A\n240 closed right A",
        "200 open right A\n382 open right A",
    ]);
    let found = result(&unseen, id);
    assert_eq!(found.n_unknown, Some(Count::Shown(1)));
    assert_eq!(
        found.bounds,
        Some(Bounds {
            lowest: 0.0,
            highest: 71.0
        })
    );
    // An amputated toe whose wound has closed leaves nobody with a wound.
    let amputated = "200 open right A site=toe-1\n210 minor-amputation right A\n\
                     215 open right S origin=post-surgical parent=A\n282 closed right S\n382 exam right pulses=palpable";
    assert!((estimate(&result(&story(amputated), id)) - 100.0).abs() < 1e-9);
}

#[test]
fn no_day_with_any_wound_open_is_free_of_ulcers() {
    // Right A was unseen when left B came, and closed only on day 300: free from then to the last look on day 360.
    let unseen = story(
        "200 open right A\n400 open left B\n450 closed left B\n500 closed right A\n560 exam right pulses=palpable",
    );
    let found = result(&unseen, "ulcer-free-days-in-12-months");
    assert_eq!(found.bounds.map(|bounds| bounds.lowest), Some(60.0));
    // A surgical wound alone, from day 100 to day 140, is a wound.
    let surgical = story(
        "200 open right A\n240 closed right A\n300 open right S origin=post-surgical\n340 closed right S\n400 exam right pulses=palpable",
    );
    let found = result(&surgical, "ulcer-free-days-in-6-months");
    assert!((estimate(&found) - 102.0).abs() < 1e-9, "{found:?}");
    // Lost from sight on day 0: whether any wound is open is not known to the end from then on.
    let lost = story(
        "200 open right A\n210 open left B\n240 closed left B\n382 exam left pulses=palpable",
    );
    let found = result(&lost, "ulcer-free-days-in-6-months");
    assert_eq!(
        found.bounds,
        Some(Bounds {
            lowest: 0.0,
            highest: 182.0
        })
    );
}

#[test]
fn a_closure_that_a_reopening_cancelled_is_no_halved_area() {
    let reopened = story(
        "200 open right A length=2 width=2\n214 closed right A\n220 open right A\n270 open right A",
    );
    let found = result(&reopened, "area-halved-at-4-weeks");
    assert_eq!(found.n_unknown, Some(Count::Shown(1)), "{found:?}");
    // nor one that was cancelled after it had been seen on day 28
    let reopened = story(
        "200 open right A length=2 width=2\n228 closed right A\n240 open right A\n280 open right A",
    );
    let found = result(&reopened, "area-halved-at-4-weeks");
    assert_eq!(found.n_unknown, Some(Count::Shown(1)), "{found:?}");
    let stands = story("200 open right A length=2 width=2\n228 closed right A\n257 open right A");
    let found = result(&stands, "area-halved-at-4-weeks");
    assert_eq!(found.numerator, Some(Count::Shown(1)), "{found:?}");
}

#[test]
fn a_wound_that_was_measured_has_an_area_though_its_state_was_not_written() {
    let halved = |rows: &str| {
        let tables = story(&format!(
            "200 open right A length=2 width=2\n{rows}\n260 open right A"
        ));
        let found = result(&tables, "area-halved-at-4-weeks");
        (found.numerator, found.n_unknown)
    };
    let shown = |count| Some(Count::Shown(count));
    assert_eq!(
        halved("228 state-not-written right A length=1 width=1"),
        (shown(1), shown(0))
    );
    assert_eq!(
        halved("228 state-not-written right A length=2 width=1.5"),
        (shown(0), shown(0))
    );
    assert_eq!(
        halved("228 state-not-written right A"),
        (shown(0), shown(1))
    );
    // 0.9 x 0.4 cm and 0.6 x 0.3 cm: exactly half
    let exactly =
        story("200 open right A length=0.9 width=0.4\n228 open right A length=0.6 width=0.3");
    let found = result(&exactly, "area-halved-at-4-weeks");
    assert_eq!(found.numerator, shown(1));
    // a size of nothing is no measurement of a wound whose state nobody wrote
    assert_eq!(
        halved("228 state-not-written right A length=0 width=0"),
        (shown(0), shown(1))
    );
}
