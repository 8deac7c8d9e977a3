//! Areas at four weeks and days without an ulcer. The area of an ulcer follows the time it has left: half of the ulcers close
//! within a known day, and what is left of an area on day 28 is a known function of the day it closes.

use super::chain::per_year;
use super::table::{Table, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::NaiveDate;
use simulate::{Scenario, simulate as make};

const HEALING: f64 = 3.0;
const DEATH: f64 = 0.02;
/// Of the area, the power of the share of the time left: the law of the simulator.
const LAW: f64 = 1.7;
const GAP: i32 = 7;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2025, 6, 30).unwrap(),
        ..steady(n_patients)
    };
    let hazards = &mut scenario.hazards;
    hazards.healing_per_year = HEALING;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = 0.0;
    hazards.death_per_year = DEATH;
    hazards.recurrence_per_year = 0.0;
    // Large enough that whole millimetres say it well.
    scenario.ulcers.median_area_cm2 = 30.0;
    scenario.ulcers.area_log_sd = 0.2;
    scenario.visits.fixed_open_gap_days = Some(GAP);
    scenario
}

/// Share of ulcers that have closed by a day.
fn closed(days: f64) -> f64 {
    1.0 - (-per_year(HEALING) * days).exp()
}

/// The day by which this share of ulcers has closed.
fn closing_day(share: f64) -> f64 {
    -(1.0 - share).ln() / per_year(HEALING)
}

/// Share of its area an ulcer that closes on this day has left after four weeks.
fn left(closes: f64) -> f64 {
    (1.0 - 28.0 / closes).max(0.0).powf(LAW)
}

/// Mean days alive with the ulcer seen closed, looked at every week.
fn free_days(days: i32) -> f64 {
    (0..days)
        .map(|day| {
            let last_look = f64::from(day / GAP * GAP);
            closed(last_look) * (-per_year(DEATH) * (f64::from(day) + 0.5)).exp()
        })
        .sum()
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 4).unwrap();
    let cohort = quarters("2023Q3", "2024Q1");
    let mut table = Table::new("Areas and days without an ulcer: against the law of the simulator");
    with_study_of(&practice, &scenario, "truth-areas", |study| {
        let first = |id: &str| results(study, id, &cohort).remove(0);
        // Half the area is gone when the share of the time left is 0.5 to the power of 1 over the law.
        let halved = closed(28.0 / (1.0 - 0.5f64.powf(1.0 / LAW)));
        // A death in the first four weeks counts as not halved.
        let alive = (-per_year(DEATH) * 28.0).exp();
        table.figure(&first("area-halved-at-4-weeks"), halved * alive);
        // The later an ulcer closes, the more of it is left: the middle closing day gives the middle of what is left.
        let left_at = |share: f64| left(closing_day(share));
        table.middle(&first("area-reduction-at-4-weeks"), |share| {
            1.0 - left_at(1.0 - share)
        });
        table.middle(&first("shrinking-rate-in-4-weeks"), |share| {
            -left_at(1.0 - share).ln() / 4.0
        });
        let advances = edge_advances();
        table.middle(&first("edge-advance-in-4-weeks"), |share| {
            advances[(share * advances.len() as f64) as usize]
        });
        table.figure(&first("ulcer-free-days-in-6-months"), free_days(182));
        table.figure(&first("ulcer-free-days-in-12-months"), free_days(365));
    });
    table.holds();
}

/// Area lost over the mean of both perimeters, millimetres a week, in order: ellipses whose length is 1 to 1.9 times
/// their width, areas spread around their median, closing days as above. Perimeter by Ramanujan's second formula (1914).
fn edge_advances() -> Vec<f64> {
    let mut advances = Vec::new();
    let steps = |n: u32| (0..n).map(move |step| (f64::from(step) + 0.5) / f64::from(n));
    for share in steps(400) {
        let left = left(closing_day(share));
        for stretch in steps(12).map(|step| 1.0 + 0.9 * step) {
            for spread in steps(12).map(normal_quantile) {
                let area = 30.0 * (0.2 * spread).exp();
                let perimeter = |area: f64| {
                    if area <= 0.0 {
                        return 0.0;
                    }
                    let short = (area / (std::f64::consts::PI * stretch)).sqrt();
                    let long = short * stretch;
                    let h = ((long - short) / (long + short)).powi(2);
                    std::f64::consts::PI
                        * (long + short)
                        * (1.0 + 3.0 * h / (10.0 + (4.0 - 3.0 * h).sqrt()))
                };
                let mean_perimeter = (perimeter(area) + perimeter(area * left)) / 2.0;
                advances.push(10.0 * area * (1.0 - left) / mean_perimeter / 4.0);
            }
        }
    }
    advances.sort_by(f64::total_cmp);
    advances
}

/// Quantile of the normal distribution, by halving; its distribution function from a series (Abramowitz and Stegun 26.2.10).
fn normal_quantile(share: f64) -> f64 {
    let below = |x: f64| {
        let (mut term, mut sum, mut n) = (x, x, 0.0);
        while f64::abs(term) > 1e-15 && n < 200.0 {
            n += 1.0;
            term *= -x * x / (2.0 * n);
            sum += term / (2.0 * n + 1.0);
        }
        0.5 + sum / (2.0 * std::f64::consts::PI).sqrt()
    };
    let (mut low, mut high) = (-5.0, 5.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if below(middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low + high) / 2.0
}
