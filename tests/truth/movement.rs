//! People without an ulcer who have one, are healed and have another, at rates that do not change: how they move between tiers in a
//! quarter. A new ulcer brings its owner at once; its closure is seen at the next of the weekly visits.

use super::chain::per_year;
use super::table::{Table, number, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::NaiveDate;
use outcomes::report::Count;
use simulate::{Scenario, simulate as make};

const NEW_ULCER: f64 = 1.0;
const HEALING: f64 = 8.0;
const GAP: usize = 7;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2024, 12, 31).unwrap(),
        ..steady(n_patients)
    };
    let people = &mut scenario.people;
    // Lost sensation, no deformity: tier 1, or 2 where no pulse is felt, and 3 after an ulcer.
    people.share_without_ulcer = 1.0;
    people.share_renal = 0.0;
    people.share_neuropathy = 1.0;
    people.share_deformity = 0.0;
    people.share_prior_ulcer = 0.0;
    people.share_pad_mild = 0.0;
    people.share_pad_moderate = 0.0;
    people.share_pad_severe = 0.0;
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = 0.0;
    hazards.first_ulcer_per_year = NEW_ULCER;
    hazards.recurrence_per_year = NEW_ULCER;
    let visits = &mut scenario.visits;
    visits.fixed_open_gap_days = Some(i32::try_from(GAP).unwrap());
    visits.high_risk_gap_days = 60;
    visits.low_risk_gap_days = 60;
    visits.mean_presentation_days = 0.001;
    // Everybody is examined in full at every visit, by pulse and waveform only.
    visits.exam_gap_days = 10;
    visits.share_pressures = 0.0;
    scenario
}

/// Probabilities of how a person is, as known at the end of a day: never an ulcer; one open, by the days since the last visit;
/// one closed since then, by the same; healed.
#[derive(Clone)]
struct Known {
    never: f64,
    open: [f64; GAP],
    unseen: [f64; GAP],
    healed: f64,
}

impl Known {
    const NOBODY: Self = Self {
        never: 0.0,
        open: [0.0; GAP],
        unseen: [0.0; GAP],
        healed: 0.0,
    };

    fn active(&self) -> f64 {
        self.open.iter().chain(&self.unseen).sum()
    }

    /// A day later. A new ulcer that closes before its day is over is never seen.
    fn next(&self) -> Self {
        let closing = per_year(HEALING);
        let closes = 1.0 - (-closing).exp();
        let opens = (1.0 - (-per_year(NEW_ULCER)).exp()) * closes / closing;
        let mut next = Self {
            never: self.never * (1.0 - opens),
            healed: self.healed * (1.0 - opens),
            ..Self::NOBODY
        };
        next.open[0] = (self.never + self.healed) * opens;
        for since in 0..GAP {
            let (open, unseen) = (self.open[since], self.unseen[since]);
            let still_open = open * (1.0 - closes);
            let closed = open * closes + unseen * (1.0 - opens);
            next.open[0] += unseen * opens;
            match since + 1 {
                GAP => {
                    next.open[0] += still_open;
                    next.healed += closed;
                }
                later => {
                    next.open[later] += still_open;
                    next.unseen[later] += closed;
                }
            }
        }
        next
    }

    fn after(self, days: i64) -> Self {
        (0..days).fold(self, |known, _| known.next())
    }

    fn add(&mut self, other: &Self, weight: f64) {
        self.never += weight * other.never;
        self.healed += weight * other.healed;
        for since in 0..GAP {
            self.open[since] += weight * other.open[since];
            self.unseen[since] += weight * other.unseen[since];
        }
    }
}

/// How those under care on the first of two days stood then: they came evenly since day 0, without an ulcer.
fn under_care(n_days: i64) -> Known {
    let mut now = Known {
        never: 1.0,
        ..Known::NOBODY
    };
    let mut sum = Known::NOBODY;
    for _ in 0..=n_days {
        sum.add(&now, 1.0 / (n_days + 1) as f64);
        now = now.next();
    }
    sum
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 15).unwrap();
    let cohort = quarters("2024Q4", "2024Q4");
    let (before, end) = (cohort.first.back(1).end(), cohort.last.end());
    let then = under_care((before - scenario.data_start).num_days());
    let days = (end - before).num_days();
    let never = Known {
        never: then.never,
        ..Known::NOBODY
    }
    .after(days);
    let healed = Known {
        healed: then.healed,
        ..Known::NOBODY
    }
    .after(days);
    let active = Known {
        never: 0.0,
        healed: 0.0,
        ..then
    }
    .after(days);
    let new_wound = never.active() + healed.active();
    let mut table =
        Table::new("Movement between tiers: against the hazards and the days of looking");
    with_study_of(&practice, &scenario, "truth-movement", |study| {
        let moved = results(study, "tier-movement", &cohort);
        for (stratum, truth) in [
            ("same tier", never.never + healed.healed),
            ("to a higher tier", never.healed),
            ("to a lower tier", 0.0),
            ("wound open at both ends", active.active()),
            ("new open wound", new_wound),
            ("wound closed", active.healed),
            ("not gradable at one end or both", 0.0),
        ] {
            table.figure(of_stratum(&moved, stratum), truth);
        }
        let active_at = |quarter: &str| {
            let tiers = results(study, "risk-tier-distribution", &quarters(quarter, quarter));
            number(of_stratum(&tiers, "active ulcer"))
        };
        let Some(Count::Shown(n)) = moved[0].denominator else {
            panic!("nobody under care");
        };
        Table::misses(
            "the growth of the share with an open wound taken for new wounds",
            active_at("2024Q4") - active_at("2024Q3"),
            new_wound,
            (new_wound * (1.0 - new_wound) / n as f64).sqrt(),
        );
    });
    table.holds();
}
