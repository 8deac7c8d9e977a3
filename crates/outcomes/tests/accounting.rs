//! Published counts, taken through the pipeline as stories with those counts.
//!
//! 2023 Q3 is story day 181 to 272.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::derive::EpisodeEnd;
use outcomes::report::{Count, MeasureResult, Value};
use support::{derived, measured, stories};

const CUT_OFF: i64 = 900;

/// So many of each story.
fn people(groups: &[(usize, &'static str)]) -> Vec<&'static str> {
    groups
        .iter()
        .flat_map(|(n, text)| std::iter::repeat_n(*text, *n))
        .collect()
}

fn shown(result: &MeasureResult) -> (f64, f64, f64) {
    let Value::Known(known) = &result.value else {
        panic!("{:?}", result.value);
    };
    let interval = known.interval.as_ref().unwrap();
    (
        known.estimate,
        interval.lower.unwrap(),
        interval.upper.unwrap(),
    )
}

/// A share in per cent with one decimal, as papers print it.
fn percent(share: f64) -> String {
    format!("{:.1}", 100.0 * share)
}

/// 370 people referred with ulcers: 121 (32.7%) never free of them, of whom 56 unhealed, 12 resolved by amputation, 2 unhealed
/// after amputation and 51 dead; 231 (62.4%) free at some time; 18 unknown. Of 226 followed further 91 (40.3%) had a new or
/// recurrent ulcer after a median of 126 days. Pound et al., Diabet Med 2005;22:1306.
#[test]
fn a_published_cohort_of_referred_people_is_accounted_for_to_the_last() {
    let texts = people(&[
        (56, "200 open right A\n880 open right A"),
        (
            12,
            "200 open right A site=toe-1\n250 minor-amputation right A\n255 open right S origin=post-surgical parent=A\n300 closed right S",
        ),
        (
            2,
            "200 open right A site=toe-1\n250 minor-amputation right A\n255 open right S origin=post-surgical parent=A\n880 open right S",
        ),
        (51, "200 open right A\n260 open right A\n300 death"),
        (18, "200 open right A\n230 open right A"),
        // free of ulcers from day 300 on: a new one 126 days later, none for a year, not followed
        (91, "200 open right A\n300 closed right A\n426 open left B"),
        (135, "200 open right A\n300 closed right A\n690 exam right"),
        (5, "200 open right A\n300 closed right A"),
    ]);
    let tables = stories(&texts);
    let ends: Vec<EpisodeEnd> = derived(&tables, CUT_OFF, |people| {
        let first = people.iter().map(|person| &person.reading.episodes[0]);
        first.map(|ulcer| ulcer.end).collect()
    });
    let n = |end: EpisodeEnd| ends.iter().filter(|ended| **ended == end).count();
    let [healed, amputated, died, open, lost] = [
        EpisodeEnd::Healed,
        EpisodeEnd::MinorAmputation,
        EpisodeEnd::Died,
        EpisodeEnd::Open,
        EpisodeEnd::Lost,
    ]
    .map(n);
    assert_eq!(
        (healed, amputated, died, open, lost),
        (231, 12 + 2, 51, 56, 18)
    );
    assert_eq!(healed + amputated + died + open + lost, 370);
    let never_free = amputated + died + open;
    assert_eq!(percent(never_free as f64 / 370.0), "32.7");
    assert_eq!(percent(healed as f64 / 370.0), "62.4");

    // The remission of those healed begins on day 300, in 2023 Q4; of those resolved by amputation too.
    let again = measured(&tables, CUT_OFF, "recurrence-within-12-months", "2023Q4").remove(0);
    assert_eq!(
        (again.numerator, again.denominator),
        (Some(Count::Shown(91)), Some(Count::Shown(226)))
    );
    assert_eq!(percent(shown(&again).0), "40.3");
}

/// Alive and free of ulcers at 12 weeks in England and Wales 2014-15, by the delay before the first expert assessment: 394 of
/// 911 seen after two weeks to two months, 43.2% (40.1-46.5); 123 of 359 seen later, 34.3% (29.5-39.3). Counts: national
/// diabetes foot care audit; limits after Wilson, worked out apart.
#[test]
fn published_shares_alive_and_free_of_ulcers_have_their_limits() {
    let yes = "200 open right A\n250 closed right A\n284 visit";
    let no = "200 open right A\n284 open right A";
    for (n_yes, n, wanted) in [
        (394, 911, ["43.2", "40.1", "46.5"]),
        (123, 359, ["34.3", "29.5", "39.3"]),
    ] {
        let tables = stories(&people(&[(n_yes, yes), (n - n_yes, no)]));
        let status = measured(&tables, CUT_OFF, "ulcer-free-at-12-weeks", "2023Q3").remove(0);
        let (share, lower, upper) = shown(&status);
        assert_eq!([share, lower, upper].map(percent), wanted);
    }
}
