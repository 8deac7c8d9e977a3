//! Random exports: stories of a few people with rows in any order of events, however odd.
#![allow(dead_code, reason = "every test binary uses its own part")]

use crate::support::stories;
use outcomes::tables::Tables;
use proptest::prelude::*;

const WHATS: [&str; 14] = [
    "open",
    "open",
    "open",
    "closed",
    "closed",
    "closed",
    "pre-ulcerative",
    "excised",
    "visit",
    "exam",
    "minor-amputation",
    "major-amputation",
    "vascular-referral",
    "death",
];

fn line() -> impl Strategy<Value = (i64, String)> {
    let details = (0..WHATS.len(), any::<bool>(), 0..3usize, 0..4usize, 0..6u8);
    (0..800i64, details).prop_map(|(day, (what, is_left, label, site, extra))| {
        let what = WHATS[what];
        let side = if is_left { "left" } else { "right" };
        let (label, site) = (
            ["A", "B", "C"][label],
            ["toe-1-tip", "mth-5", "heel", "midfoot"][site],
        );
        let rest = match what {
            "visit" | "death" => String::new(),
            "exam" => format!(
                "{side} pulses={} toe={}0",
                if extra > 2 { "absent" } else { "palpable" },
                extra + 1
            ),
            "minor-amputation" if extra > 3 => format!("{side} {label} height=toe"),
            "minor-amputation" | "major-amputation" | "vascular-referral" => side.to_owned(),
            _ => {
                let gangrene = if extra == 0 { "digits" } else { "none" };
                format!("{side} {label} site={site} gangrene={gangrene} length={extra}.5 width=1")
            }
        };
        (day, format!("{day} {what} {rest}"))
    })
}

/// The rows of some people, each with the day on which it is dated.
pub(crate) fn people() -> impl Strategy<Value = Vec<Vec<(i64, String)>>> {
    prop::collection::vec(prop::collection::vec(line(), 0..25), 1..8)
}

/// Tables of the rows dated up to a day.
pub(crate) fn tables_up_to(people: &[Vec<(i64, String)>], last_day: i64) -> Tables {
    let texts: Vec<String> = people
        .iter()
        .map(|lines| {
            let kept = lines
                .iter()
                .filter(|(day, _)| *day <= last_day)
                .map(|(_, line)| line.as_str());
            kept.collect::<Vec<_>>().join("\n")
        })
        .collect();
    stories(&texts.iter().map(String::as_str).collect::<Vec<_>>())
}
