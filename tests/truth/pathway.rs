//! The vascular pathway. Every limb shows gangrene at the first visit, so that every wait begins then; steps follow each other
//! with constant hazards, and amputation or death can come first.

use super::SEED;
use super::chain::{Chain, per_year};
use super::table::{Table, of_stratum, quarters, results};
use crate::simulator::with_study_of;
use chrono::NaiveDate;
use simulate::{Pathway, Scenario, simulate as make};

const MAJOR: f64 = 0.5;
const DEATH: f64 = 0.3;
/// Of 20 limbs 9 are referred by the day of the trigger, 7 later, 4 never.
const AT_ONCE: f64 = 0.45;
const LATER: f64 = 0.35;
/// Mean days of each wait, once it has begun.
const REFERRED: f64 = 24.0;
const SEEN: f64 = 18.0;
const STUDIED: f64 = 14.0;
const IMAGED: f64 = 12.0;
const OPENED: f64 = 16.0;
/// Of those referred a study is made; of those imaged the arteries are opened.
const SHARE_STUDIED: f64 = 0.6;
const SHARE_OPENED: f64 = 0.6;
/// At an examination of an ulcerated foot: a waveform is heard, and written down as a screen; pressures are taken.
const WAVEFORM: f64 = 0.6;
const SCREEN: f64 = 0.3;
const PRESSURES: f64 = 0.55;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        n_patients,
        cut_off: NaiveDate::from_ymd_opt(2024, 12, 31).unwrap(),
        follow_on_days: 0,
        pathway: Pathway {
            share_before: 0.08,
            share_same_day: AT_ONCE - 0.08,
            share_late: LATER,
            mean_late_days: REFERRED,
            mean_seen_days: SEEN,
            mean_study_days: STUDIED,
            mean_imaging_days: IMAGED,
            share_revascularised: SHARE_OPENED,
            mean_revascularisation_days: OPENED,
        },
        ..Scenario::with_constant_hazards()
    };
    let hazards = &mut scenario.hazards;
    // Nothing heals in the weeks looked at, so that every end of a wait has its exact day.
    hazards.healing_per_year = 0.001;
    hazards.minor_amputation_per_year = 0.0;
    hazards.major_amputation_per_year = MAJOR;
    hazards.major_amputation_without_ulcer_per_year = MAJOR;
    hazards.death_per_year = DEATH;
    let people = &mut scenario.people;
    people.share_pad_mild = 0.0;
    people.share_pad_moderate = 0.0;
    people.share_pad_severe = 1.0;
    people.share_calcified = 0.0;
    people.share_prior_minor_amputation = 0.0;
    scenario.ulcers.share_gangrene_if_severe_pad = 1.0;
    scenario.visits.fixed_open_gap_days = Some(28);
    scenario.visits.share_pressures = PRESSURES;
    scenario
}

/// What ends any wait, as a rate a day.
fn end() -> f64 {
    per_year(MAJOR + DEATH)
}

/// Waiting for a late referral (0), referred (1), seen (2), imaged with arteries to open (3), opened (4), ended (5), imaged
/// and left (6), never referred (7).
fn steps() -> Chain {
    let mut moves = vec![
        (0, 1, 1.0 / REFERRED),
        (1, 2, 1.0 / SEEN),
        (2, 3, SHARE_OPENED / IMAGED),
        (2, 6, (1.0 - SHARE_OPENED) / IMAGED),
        (3, 4, 1.0 / OPENED),
    ];
    moves.extend([0, 1, 2, 3].map(|state| (state, 5, end())));
    moves.push((7, 5, end()));
    Chain::new(&moves)
}

const TRIGGERED: [f64; 8] = [
    LATER,
    AT_ONCE,
    0.0,
    0.0,
    0.0,
    0.0,
    0.0,
    1.0 - AT_ONCE - LATER,
];

/// Probability of a step by a day; from a start, only moves into these states count as having taken it.
fn taken(start: &[f64], days: f64, step: usize) -> f64 {
    // A state that was passed through is left open: the steps after it are cut off, so that what has reached it stays.
    let chain = steps();
    let cut: Vec<(usize, usize, f64)> = chain
        .moves()
        .iter()
        .copied()
        .filter(|(from, ..)| *from != step)
        .collect();
    Chain::new(&cut).after(start, days)[step]
}

/// The same for imaging, which two states stand for.
fn imaged(start: &[f64], days: f64) -> f64 {
    let chain = steps();
    let cut: Vec<(usize, usize, f64)> = chain
        .moves()
        .iter()
        .copied()
        .filter(|(from, ..)| *from != 3)
        .collect();
    let after = Chain::new(&cut).after(start, days);
    after[3] + after[6]
}

/// A study made after the referral: waiting (0), referred and to be studied (1), studied (2), ended (3).
fn studied(days: f64) -> f64 {
    let chain = Chain::new(&[
        (0, 1, SHARE_STUDIED / REFERRED),
        (0, 3, (1.0 - SHARE_STUDIED) / REFERRED + end()),
        (1, 2, 1.0 / STUDIED),
        (1, 3, end()),
    ]);
    chain.after(&[LATER, AT_ONCE * SHARE_STUDIED], days)[2]
}

/// The same from the day of a referral, for those referred before anything ended the wait. Those referred later are so in the
/// course of a day, which is day 0: a step so many days later comes up to a day more after it.
fn taken_after_referral(days: f64, step: usize) -> f64 {
    let mut referred = [0.0; 8];
    referred[1] = 1.0;
    let later = LATER / (1.0 + REFERRED * end());
    let share_later = later / (AT_ONCE + later);
    let moments = (0..20).map(|part| days + (f64::from(part) + 0.5) / 20.0);
    let on_average = moments
        .map(|moment| taken(&referred, moment, step))
        .sum::<f64>()
        / 20.0;
    (1.0 - share_later) * taken(&referred, days, step) + share_later * on_average
}

pub(crate) fn check(n_patients: u64) {
    let scenario = scenario(n_patients);
    let practice = make(&scenario, SEED + 3).unwrap();
    let cohort = quarters("2023Q3", "2024Q2");
    let mut table = Table::new("Vascular pathway: against the hazards themselves");
    with_study_of(&practice, &scenario, "truth-pathway", |study| {
        let mut waits = |id: &str, truth: &dyn Fn(f64) -> f64| {
            let found = results(study, id, &cohort);
            for (days, stratum) in [
                (1.0, "within 1 day"),
                (7.0, "within 7 days"),
                (14.0, "within 14 days"),
                (28.0, "within 28 days"),
            ] {
                table.figure(of_stratum(&found, stratum), truth(days));
            }
        };
        waits("vascular-referral-after-trigger", &|days| {
            taken(&TRIGGERED, days, 1)
        });
        waits("vascular-seen-after-trigger", &|days| {
            taken(&TRIGGERED, days, 2)
        });
        waits("vascular-screen-after-trigger", &|_| WAVEFORM * SCREEN);
        waits("vascular-study-after-trigger", &studied);
        waits("vascular-imaging-after-trigger", &|days| {
            imaged(&TRIGGERED, days)
        });
        waits("revascularisation-after-trigger", &|days| {
            taken(&TRIGGERED, days, 4)
        });
        waits("vascular-seen-after-referral", &|days| {
            taken_after_referral(days, 2)
        });
        waits("revascularisation-after-referral", &|days| {
            taken_after_referral(days, 4)
        });
        let first = |id: &str| results(study, id, &cohort).remove(0);
        table.figure(
            &first("never-referred-after-trigger"),
            1.0 - taken(&TRIGGERED, 84.0, 1),
        );
        let unmeasured = (1.0 - WAVEFORM) * (1.0 - PRESSURES) * (1.0 - studied(14.0));
        table.figure(
            &first("perfusion-measured-at-presentation"),
            1.0 - unmeasured,
        );
        // Of those referred at all, who were referred within four weeks: blind to those never referred.
        let truth = taken(&TRIGGERED, 28.0, 1);
        let ever = taken(&TRIGGERED, 2_000.0, 1);
        let error = (truth * (1.0 - truth) / (n_patients as f64 / 2.0)).sqrt();
        Table::misses(
            "share within 28 days of those ever referred",
            truth / ever,
            truth,
            error,
        );
    });
    table.holds();
}
