//! Pulses felt against blood supply measured, and examinations overdue: each from the law of the simulator, by sums over what may
//! have been drawn.

use super::table::{Table, number, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::{Days, Months, NaiveDate};
use outcomes::report::Count;
use simulate::{SITES, Scenario, simulate as make};

/// Doppler at an examination: of a foot with an ulcer, of one without.
const DOPPLER: f64 = 0.6;
const DOPPLER_WITHOUT_ULCER: f64 = 0.2;

/// What one degree of arterial disease does to a limb.
struct Degree {
    share: f64,
    /// Pulses are felt.
    felt: f64,
    /// Waveform monophasic or absent.
    poor_wave: f64,
    /// Ankle-brachial index and toe pressure lie evenly between these.
    index: [f64; 2],
    toe: [f64; 2],
}

const DEGREES: [Degree; 4] = [
    Degree {
        share: 0.40,
        felt: 0.95,
        poor_wave: 0.0,
        index: [0.95, 1.25],
        toe: [75.0, 120.0],
    },
    Degree {
        share: 0.30,
        felt: 0.75,
        poor_wave: 0.1,
        index: [0.80, 0.94],
        toe: [58.0, 80.0],
    },
    Degree {
        share: 0.20,
        felt: 0.30,
        poor_wave: 0.65,
        index: [0.52, 0.79],
        toe: [36.0, 58.0],
    },
    Degree {
        share: 0.10,
        felt: 0.06,
        poor_wave: 1.0,
        index: [0.25, 0.52],
        toe: [14.0, 35.0],
    },
];
const SENSATION_LOST: f64 = 0.78;
const INFECTED: f64 = 0.33;
const DEEP: f64 = 0.22;
/// Arteries too stiff for a cuff: the index measures nothing.
const STIFF: f64 = 0.15;

fn palpation(n_patients: u64) -> Scenario {
    let mut scenario = steady(n_patients);
    let people = &mut scenario.people;
    people.share_pad_mild = DEGREES[1].share;
    people.share_pad_moderate = DEGREES[2].share;
    people.share_pad_severe = DEGREES[3].share;
    people.share_calcified = STIFF;
    people.share_neuropathy = SENSATION_LOST;
    scenario.ulcers.share_infected = INFECTED;
    scenario.ulcers.share_deep = DEEP;
    scenario.ulcers.median_area_cm2 = 1.5;
    scenario.ulcers.area_log_sd = 1.0;
    let people = &mut scenario.people;
    people.share_prior_minor_amputation = 0.0;
    scenario.hazards.healing_per_year = 6.0;
    scenario.hazards.minor_amputation_per_year = 0.0;
    scenario.hazards.major_amputation_per_year = 0.0;
    scenario.hazards.recurrence_per_year = 0.0;
    let visits = &mut scenario.visits;
    visits.fixed_open_gap_days = Some(60);
    visits.share_pressures = 1.0;
    // The first examination is the only one.
    visits.exam_gap_days = 3_650;
    scenario
}

/// Probability that a number drawn evenly lies below a limit.
fn below(limit: f64, [low, high]: [f64; 2]) -> f64 {
    ((limit - low) / (high - low)).clamp(0.0, 1.0)
}

/// Probability that pressures tell a reduced supply: an index below 0.90, a toe pressure below 60 mmHg or a toe-brachial index
/// below 0.70, pressures in whole mmHg and indices in hundredths. The arm's pressure follows a bell curve cut at both ends.
fn reduced_by_pressures(degree: &Degree) -> f64 {
    const N: u32 = 20_000;
    let mut probability = 0.0;
    for step in 0..N {
        let z = 12.0 * (f64::from(step) + 0.5) / f64::from(N) - 6.0;
        let weight =
            (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() * 12.0 / f64::from(N);
        let brachial = (138.0 + 15.0 * z).clamp(95.0, 200.0);
        let charted = brachial.round();
        // the highest whole pressure that is charted below 0.90, and the highest toe pressure below 60 or 0.70
        let ankle = (0.895 * charted).ceil() - 1.0;
        let toe = ((0.695 * charted).ceil() - 1.0).max(59.0);
        let by_index = (1.0 - STIFF) * below((ankle + 0.5) / brachial, degree.index);
        let by_toe = below(toe + 0.5, degree.toe);
        probability += weight * (1.0 - (1.0 - by_index) * (1.0 - by_toe));
    }
    probability
}

/// Shares of the four classes among examinations with both: of the foot with the ulcer each one, of the other those with Doppler.
fn classes() -> [f64; 4] {
    let mut classes = [0.0; 4];
    let mut add = |share: f64, felt: f64, reduced: f64| {
        for (class, (felt, reduced)) in classes.iter_mut().zip([
            (felt, reduced),
            (felt, 1.0 - reduced),
            (1.0 - felt, reduced),
            (1.0 - felt, 1.0 - reduced),
        ]) {
            *class += share / (1.0 + DOPPLER_WITHOUT_ULCER) * felt * reduced;
        }
    };
    for degree in &DEGREES {
        let by_wave = DOPPLER * degree.poor_wave;
        let reduced = 1.0 - (1.0 - reduced_by_pressures(degree)) * (1.0 - by_wave);
        add(degree.share, degree.felt, reduced);
        add(
            degree.share * DOPPLER_WITHOUT_ULCER,
            degree.felt,
            degree.poor_wave,
        );
    }
    classes
}

/// Share of ulcers with three or more of six points, each there or not by itself.
fn severe() -> f64 {
    let ischaemic: f64 = DEGREES
        .iter()
        .map(|degree| {
            let by_wave = DOPPLER * degree.poor_wave;
            let flows = (1.0 - reduced_by_pressures(degree)) * (1.0 - by_wave);
            degree.share * (1.0 - degree.felt * flows)
        })
        .sum();
    let all: f64 = SITES.iter().map(|site| site.weight).sum();
    let behind = SITES
        .iter()
        .filter(|site| {
            ["midfoot", "heel", "hindfoot"]
                .iter()
                .any(|part| site.ours.starts_with(part))
        })
        .map(|site| site.weight);
    let numb = SENSATION_LOST + (1.0 - SENSATION_LOST) * SENSATION_LOST / 10.0;
    let points = [
        behind.sum::<f64>() / all,
        ischaemic,
        numb,
        INFECTED,
        // 1.5 square cm is the middle, and a spread of 1 in the logarithm the law
        share_at_least_one(),
        DEEP,
    ];
    let mut of_count = vec![1.0];
    for point in points {
        let mut next = vec![0.0; of_count.len() + 1];
        for (count, share) in of_count.iter().enumerate() {
            next[count] += share * (1.0 - point);
            next[count + 1] += share * point;
        }
        of_count = next;
    }
    of_count[3..].iter().sum()
}

/// Share of areas of at least 1 square cm: log-normal with a middle of 1.5 and a spread of 1.
fn share_at_least_one() -> f64 {
    const N: u32 = 100_000;
    let middles = (0..N).map(|step| 12.0 * (f64::from(step) + 0.5) / f64::from(N) - 6.0);
    let density = |z: f64| (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    middles
        .filter(|z| 1.5 * z.exp() >= 1.0)
        .map(|z| density(z) * 12.0 / f64::from(N))
        .sum()
}

pub(crate) fn check_palpation(n_patients: u64) {
    let scenario = palpation(n_patients);
    let practice = make(&scenario, SEED + 13).unwrap();
    let cohort = quarters("2023Q1", "2025Q3");
    let mut table = Table::new(
        "Pulses felt, supply measured and severity: against the laws they are drawn from",
    );
    with_study_of(&practice, &scenario, "truth-palpation", |study| {
        let found = results(study, "palpation-against-measurement", &cohort);
        let truths = classes();
        let words = [
            "pulse felt, though measured as reduced",
            "pulse felt, and measured as not reduced",
            "no pulse felt, and measured as reduced",
            "no pulse felt, though measured as not reduced",
        ];
        for (stratum, truth) in words.iter().zip(truths) {
            table.figure(of_stratum(&found, stratum), truth);
        }
        let later = quarters("2023Q3", "2025Q3");
        table.figure(
            &results(study, "severe-at-presentation", &later)[0],
            severe(),
        );
        let Some(Count::Shown(n)) = found[0].denominator else {
            panic!("no examinations");
        };
        let reduced = truths[0] + truths[2];
        let no_pulse = number(of_stratum(&found, words[2])) + number(of_stratum(&found, words[3]));
        Table::misses(
            "a pulse not felt taken for a reduced supply",
            no_pulse,
            reduced,
            (reduced * (1.0 - reduced) / n as f64).sqrt(),
        );
    });
    table.holds();
}

const DEFORMITY: f64 = 0.45;
const PRIOR_ULCER: f64 = 0.40;
/// A foot without arterial disease whose pulses are not felt.
const NO_PULSE: f64 = 0.05;
/// Days between visits, and between examinations: the first visit at which 400 days have gone.
const GAP: i32 = 60;
const EXAMINED_EVERY: i64 = 420;

/// People without ulcers who have all lost sensation, seen on time and examined too seldom.
fn surveillance(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2024, 12, 31).unwrap(),
        ..steady(n_patients)
    };
    let people = &mut scenario.people;
    people.share_without_ulcer = 1.0;
    people.share_renal = 0.0;
    people.share_neuropathy = 1.0;
    people.share_deformity = DEFORMITY;
    people.share_prior_ulcer = PRIOR_ULCER;
    people.share_prior_minor_amputation = 0.0;
    people.share_pad_mild = 0.0;
    people.share_pad_moderate = 0.0;
    people.share_pad_severe = 0.0;
    let hazards = &mut scenario.hazards;
    hazards.first_ulcer_per_year = 0.0;
    hazards.recurrence_per_year = 0.0;
    hazards.death_per_year = 0.0;
    let visits = &mut scenario.visits;
    visits.high_risk_gap_days = GAP;
    visits.low_risk_gap_days = GAP;
    visits.exam_gap_days = 410;
    scenario
}

/// Share of those here by a day, come evenly since the first, whose last examination lies more than so many months back.
fn unexamined_for(months: u32, start: NaiveDate, end: NaiveDate) -> f64 {
    let n_days = (end - start).num_days();
    let is_overdue = |since_first: &i64| {
        let ago = u64::try_from(since_first % EXAMINED_EVERY).unwrap();
        (end - Days::new(ago)) + Months::new(months) < end
    };
    (0..=n_days).filter(is_overdue).count() as f64 / (n_days + 1) as f64
}

pub(crate) fn check_overdue(n_patients: u64) {
    let scenario = surveillance(n_patients);
    let practice = make(&scenario, SEED + 14).unwrap();
    let cohort = quarters("2024Q3", "2024Q3");
    let end = cohort.last.end();
    let either = |share: f64| 1.0 - (1.0 - share) * (1.0 - share);
    let new = 1.0 - PRIOR_ULCER;
    let tier_1 = new * (1.0 - either(NO_PULSE)) * (1.0 - either(DEFORMITY));
    let tiers = [(12, tier_1), (6, new - tier_1), (3, PRIOR_ULCER)];
    let overdue = |months: u32| unexamined_for(months, scenario.data_start, end);
    let truth: f64 = tiers
        .iter()
        .map(|(months, share)| share * overdue(*months))
        .sum();
    let mut table = Table::new("Examinations overdue for the tier: against the days of looking");
    with_study_of(&practice, &scenario, "truth-overdue", |study| {
        let found = &results(study, "foot-exam-overdue", &cohort)[0];
        table.figure(found, truth);
        let here = || {
            study.people.iter().filter_map(|person| {
                let tiers = person.reading.tiers(study.rules);
                let seen = tiers.iter().rfind(|record| record.at.date <= end);
                seen.map(|record| record.at.date)
            })
        };
        let n_late = here().filter(|last| *last + Months::new(12) < end).count();
        let n = here().count() as f64;
        Table::misses(
            "one year for everybody",
            n_late as f64 / n,
            truth,
            (truth * (1.0 - truth) / n).sqrt(),
        );
    });
    table.holds();
}
