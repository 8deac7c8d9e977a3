//! Random exports: stories of a few people with rows in any order of events, however odd.
#![allow(dead_code, reason = "every test binary uses its own part")]

use crate::support::{date, stories};
use outcomes::tables::{Dated, SourceRow, Tables};
use proptest::prelude::*;

/// What is told, the commonest most often.
const WHATS: [&str; 31] = [
    "open",
    "open",
    "open",
    "open",
    "open",
    "closed",
    "closed",
    "closed",
    "closed",
    "closed",
    "pre-ulcerative",
    "state-not-written",
    "excised",
    "visit",
    "visit",
    "exam",
    "exam",
    "exam",
    "minor-amputation",
    "minor-amputation",
    "major-amputation",
    "bedside-vascular-screen",
    "vascular-referral",
    "vascular-referral",
    "vascular-seen",
    "physiologic-study",
    "vascular-imaging",
    "revascularisation",
    "offloading-supplied",
    "transfer-out",
    "death",
];

/// Picks by the digits of one number, lowest first.
struct Digits(u64);

impl Digits {
    fn below(&mut self, n: u64) -> u64 {
        let digit = self.0 % n;
        self.0 /= n;
        digit
    }

    fn of<'w>(&mut self, words: &[&'w str]) -> &'w str {
        let n = u64::try_from(words.len()).unwrap_or(1);
        usize::try_from(self.below(n)).map_or("", |place| words[place])
    }
}

fn exam(digits: &mut Digits) -> String {
    [
        digits.of(&["pulses=absent", "pulses=palpable", ""]),
        &format!("toe={}0", digits.below(9) + 1),
        digits.of(&["sensation=lost", "sensation=intact", ""]),
        digits.of(&["deformity=yes", "deformity=no", ""]),
        digits.of(&["abi=0.5", "abi=1.1", "abi=1.4", ""]),
        digits.of(&[
            "worn=8 measured=9",
            "worn=9 measured=9",
            "worn=10 measured=9",
            "",
        ]),
    ]
    .join(" ")
}

fn ulcer(day: i64, digits: &mut Digits) -> String {
    let size = digits.below(6);
    [
        digits.of(&[
            "site=toe-1-tip",
            "site=mth-5-plantar",
            "site=heel-plantar",
            "site=midfoot",
            "",
        ]),
        digits.of(&["gangrene=none", "gangrene=none", "gangrene=digits", ""]),
        &format!("length={size}.5 width=1"),
        digits.of(&["infection=none", "infection=none", "infection=moderate", ""]),
        digits.of(&["depth=skin", "depth=bone-or-joint", ""]),
        digits.of(&[
            "antibiotic=yes culture=yes",
            "antibiotic=yes culture=no",
            "antibiotic=no",
            "",
        ]),
        digits.of(&[
            "offloading=prescribed+dispensed",
            "offloading=prescribed",
            "offloading=none",
            "",
        ]),
        digits.of(&["carer=family", ""]),
        &format!(
            "onset={}",
            day.saturating_sub(i64::try_from(digits.below(90)).unwrap_or(0))
                .max(0)
        ),
        digits.of(&["", "", "", "", "", "", "", "", "", "by=patient"]),
        digits.of(&[
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            "",
            "origin=transferred-in",
            "origin=post-surgical",
        ]),
        digits.of(&[
            "", "", "", "", "", "", "", "", "", "", "", "", "", "parent=A", "into=B",
        ]),
    ]
    .join(" ")
}

fn line() -> impl Strategy<Value = (i64, String)> {
    let details = (0..WHATS.len(), any::<bool>(), 0..3usize, any::<u64>());
    (0..800i64, details).prop_map(|(day, (what, is_left, label, digits))| {
        let what = WHATS[what];
        let side = if is_left { "left" } else { "right" };
        let label = ["A", "B", "C"][label];
        let digits = &mut Digits(digits);
        let rest = match what {
            "visit" => format!(
                "{} {} {}",
                digits.of(&["attendance=missed", "attendance=kept", ""]),
                digits.of(&["at=Quay", "at=Hill", ""]),
                digits.of(&["with=C1", "with=C2", ""])
            ),
            "death" | "transfer-out" => String::new(),
            "exam" => format!("{side} {}", exam(digits)),
            "minor-amputation" if digits.below(2) == 0 => {
                format!(
                    "{side} {label} {}",
                    digits.of(&["height=toe", "staged=yes", ""])
                )
            }
            "open" | "closed" | "pre-ulcerative" | "state-not-written" | "excised" => {
                format!("{side} {label} {}", ulcer(day, digits))
            }
            _ => side.to_owned(),
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
    let mut tables = stories(&texts.iter().map(String::as_str).collect::<Vec<_>>());
    for (patient, number) in tables.patients.iter_mut().zip(0_i64..) {
        let on = |day: i64| Some(Dated::new(date(day), SourceRow::default()));
        patient.first_contact = on(120 + 67 * number);
        match number % 3 {
            0 => patient.prior_ulcer = on(0),
            1 => {
                patient.prior_ulcer_denied = on(0);
                patient.prior_amputation_denied = on(0);
            }
            _ => {}
        }
    }
    tables
}
