//! How people come, what is written down, and what is planned. Delays follow the law they are drawn from; an item is left out
//! with one probability.

use super::chain::per_year;
use super::table::{Table, of_stratum, quarters, results};
use super::{SEED, steady};
use crate::simulator::with_study_of;
use chrono::{Days, NaiveDate};
use outcomes::report::Count;
use simulate::{SITES, Scenario, simulate as make};

const MEDIAN_DELAY: f64 = 24.0;
const DELAY_LOG_SD: f64 = 1.1;
const MISSING: f64 = 0.1;
const MISSED: f64 = 0.055;
const CANCELLED: f64 = 0.035;
const OFFLOADED: f64 = 0.85;
const DISPENSED: f64 = 0.8;
/// Pressures at the first visit.
const PRESSURES: f64 = 0.55;
/// Ulcers that reach tendon, muscle, bone or joint, and of these bone or joint.
const DEEP: f64 = 0.22;
const BONE: f64 = 0.45;
/// Doppler at the examination of a foot with an ulcer.
const DOPPLER: f64 = 0.6;
/// Days between looks where delays are tried, and those until the next appointment after one that was not kept.
const GAP: i32 = 21;
const WAITS: std::ops::RangeInclusive<i64> = 7..=14;
const HEALING: f64 = 2.0;
const SHOE_MEASURED: f64 = 0.45;
const TRACED: f64 = 0.06;
/// People whose shoe does not fit; of those shoes, too small. By half a size, one size or one and a half, one as often as another.
const WRONG_SHOE: f64 = 0.45;
const TOO_SMALL: f64 = 0.7;

fn scenario(n_patients: u64) -> Scenario {
    let mut scenario = Scenario {
        cut_off: NaiveDate::from_ymd_opt(2024, 6, 30).unwrap(),
        ..steady(n_patients)
    };
    scenario.hazards.healing_per_year = HEALING;
    scenario.hazards.minor_amputation_per_year = 0.0;
    scenario.hazards.major_amputation_per_year = 0.0;
    scenario.hazards.recurrence_per_year = 0.0;
    scenario.hazards.death_per_year = 0.0;
    scenario.people.share_prior_minor_amputation = 0.0;
    scenario.ulcers.median_delay_days = MEDIAN_DELAY;
    scenario.ulcers.delay_log_sd = DELAY_LOG_SD;
    scenario.ulcers.share_onset_by_week = 0.0;
    scenario.ulcers.share_onset_by_month = 0.0;
    scenario.people.share_wrong_shoe = WRONG_SHOE;
    scenario.recording.share_item_missing = MISSING;
    let visits = &mut scenario.visits;
    visits.fixed_open_gap_days = Some(60);
    visits.share_missed = MISSED;
    visits.share_cancelled = CANCELLED;
    scenario
}

/// Probability that the days from onset to the first visit, and those of them that came before the first contact, satisfy
/// `holds`: whole days of a log-normal delay, and of an even share of it.
fn delays(holds: impl Fn(i64, i64) -> bool) -> f64 {
    const N: u32 = 1_200;
    let steps = |from: f64, to: f64| {
        (0..N).map(move |step| from + (to - from) * (f64::from(step) + 0.5) / f64::from(N))
    };
    let mut probability = 0.0;
    for z in steps(-6.0, 6.0) {
        let density = (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let weight = density * 12.0 / f64::from(N);
        let delay = (MEDIAN_DELAY * (DELAY_LOG_SD * z).exp()).min(1000.0);
        let whole = delay as i64;
        let held = steps(0.0, 1.0)
            .filter(|share| {
                let system = (delay * share) as i64;
                holds(whole, whole - system)
            })
            .count();
        probability += weight * held as f64 / f64::from(N);
    }
    probability
}

/// The bands of the report: 0 to 2, 3 to 13, 14 to 61, 62 or more days.
const BANDS: [std::ops::RangeInclusive<i64>; 4] = [0..=2, 3..=13, 14..=61, 62..=i64::MAX];

/// Shares of the gaps between looks that end in some days, by length: up to 28 days, up to 90. After each appointment that is not
/// kept comes another in one to two weeks. `begun` tells how many gaps begin on a day, compared with others.
fn gaps(ends: std::ops::RangeInclusive<i64>, begun: impl Fn(i64) -> f64) -> [f64; 2] {
    let not_kept = MISSED + CANCELLED;
    let mut of_length = std::collections::BTreeMap::from([(i64::from(GAP), 1.0)]);
    let mut lengths: Vec<(i64, f64)> = Vec::new();
    for _ in 0..12 {
        let mut next = std::collections::BTreeMap::new();
        for (days, share) in of_length {
            lengths.push((days, share * (1.0 - not_kept)));
            for wait in WAITS {
                *next.entry(days + wait).or_insert(0.0) += share * not_kept / 8.0;
            }
        }
        of_length = next;
    }
    let mut shares = [0.0; 2];
    for end in ends {
        for (days, share) in &lengths {
            shares[usize::from(*days > 28)] += share * begun(end - days);
        }
    }
    let all: f64 = shares.iter().sum();
    shares.map(|share| share / all)
}

pub(crate) fn check(n_patients: u64) {
    check_delays(n_patients);
    check_records(n_patients);
}

fn check_delays(n_patients: u64) {
    // Everything is written down: a first visit that does not say whether the ulcer is open would not count as the first.
    let mut scenario = scenario(n_patients);
    scenario.recording.share_item_missing = 0.0;
    scenario.visits.fixed_open_gap_days = Some(GAP);
    // Neither infection nor gangrene: a stage can be told where pressures were taken, and of no other ulcer.
    scenario.ulcers.share_deep = DEEP;
    scenario.ulcers.share_infected = 0.0;
    scenario.ulcers.share_gangrene_if_severe_pad = 0.0;
    scenario.visits.share_pressures = PRESSURES;
    let practice = make(&scenario, SEED + 7).unwrap();
    let cohort = quarters("2023Q2", "2024Q1");
    let mut table = Table::new("Delays: against the law they are drawn from");
    with_study_of(&practice, &scenario, "truth-delays", |study| {
        let of = |id: &str| results(study, id, &cohort);
        table.figure(
            &of("patient-delay-within-14-days")[0],
            delays(|_, patient| patient <= 14),
        );
        table.figure(
            &of("system-delay-within-14-days")[0],
            delays(|all, patient| all - patient <= 14),
        );
        type Part = fn(i64, i64) -> i64;
        let measures: [(&str, Part); 3] = [
            ("onset-to-first-visit-bands", |all, _| all),
            ("patient-delay-bands", |_, patient| patient),
            ("system-delay-bands", |all, patient| all - patient),
        ];
        for (id, days) in measures {
            for (result, band) in of(id).iter().zip(&BANDS) {
                let truth = delays(|all, patient| band.contains(&days(all, patient)));
                table.figure(result, truth);
            }
        }
        // Bone under a toe may be the last phalanx alone or more, which changes every stage.
        let all: f64 = SITES.iter().map(|site| site.weight).sum();
        let toes = SITES.iter().filter(|site| site.ours.starts_with("toe"));
        let toes: f64 = toes.map(|site| site.weight).sum();
        let graded = PRESSURES * (1.0 - DEEP * BONE * toes / all);
        table.figure(&of("wifi-gradable")[0], graded);
        let last = quarters("2024Q1", "2024Q1");
        let day_of = |date: NaiveDate| (date - scenario.data_start).num_days();
        let ends = day_of(last.first.start())..=day_of(last.last.end());
        // Ulcers come evenly from day 0 on and heal at a constant rate.
        let open = |day: i64| 1.0 - (-per_year(HEALING) * day as f64).exp();
        let spacing = results(study, "visit-spacing-of-open-ulcers", &last);
        for (stratum, truth) in ["15 to 28 days", "29 to 90 days"]
            .into_iter()
            .zip(gaps(ends, open))
        {
            table.figure(of_stratum(&spacing, stratum), truth);
        }
        // People are always there at the first visit; of the later ones some are missed and some cancelled.
        let visits = of("visits-kept");
        let Some(Count::Shown(n)) = visits[0].denominator else {
            panic!("no visits");
        };
        let people = practice.visible_truth().people;
        let first = people.iter().filter(|person| {
            let day = person.first_visit_day.unwrap();
            let date = scenario.data_start + Days::new(u64::try_from(day).unwrap());
            cohort.contains(date)
        });
        let later = 1.0 - first.count() as f64 / n as f64;
        for (result, truth) in visits.iter().zip([
            1.0 - later * (MISSED + CANCELLED),
            later * MISSED,
            later * CANCELLED,
        ]) {
            table.figure(result, truth);
        }
    });
    table.holds();
}

fn check_records(n_patients: u64) {
    let mut scenario = scenario(n_patients);
    scenario.visits.share_pressures = 0.0;
    scenario.ulcers.share_deep = 0.0;
    let practice = make(&scenario, SEED + 8).unwrap();
    let cohort = quarters("2023Q2", "2024Q1");
    let mut table = Table::new("Records and plans: against the shares they are drawn with");
    with_study_of(&practice, &scenario, "truth-records", |study| {
        let of = |id: &str| results(study, id, &cohort);
        for id in [
            "sensation-tested",
            "infection-graded-at-first-visit",
            "dressing-carer-recorded",
            "onset-recorded",
            "depth-recorded",
            "gangrene-recorded",
            "pulses-recorded",
        ] {
            table.figure(&of(id)[0], 1.0 - MISSING);
        }
        // Length and width, or an area traced.
        let both = (1.0 - MISSING).powi(2);
        let area = 1.0 - (1.0 - both) * (1.0 - TRACED);
        table.figure(&of("area-measured-at-every-visit")[0], area);
        table.figure(&of("area-recorded")[0], area);
        table.figure(&of("site-recorded")[0], 1.0);
        // Sensation, infection, depth, area and, for the flow, pulses or a waveform.
        let no_wave = 1.0 - DOPPLER * (1.0 - MISSING);
        let graded = (1.0 - MISSING).powi(3) * area * (1.0 - MISSING * no_wave);
        table.figure(&of("sinbad-gradable")[0], graded);
        // Depth, gangrene, infection, sensation and pulses; the site is always told.
        let full = area * (1.0 - MISSING).powi(5);
        table.figure(&of("first-visit-recorded-in-full")[0], full);
        table.figure(&of("footwear-measured")[0], SHOE_MEASURED * both);
        let bands = |share: f64| [WRONG_SHOE * share * 2.0 / 3.0, WRONG_SHOE * share / 3.0];
        let ([small, rather_small], [large, rather_large]) =
            (bands(TOO_SMALL), bands(1.0 - TOO_SMALL));
        let fit = of("footwear-fit");
        for (stratum, truth) in [
            ("less than half a size apart", 1.0 - WRONG_SHOE),
            ("too small by 1 size or more", small),
            ("too small by half to less than 1 size", rather_small),
            ("too large by half to less than 1 size", rather_large),
            ("too large by 1 size or more", large),
        ] {
            table.figure(of_stratum(&fit, stratum), truth);
        }
        let outgrown = &of("footwear-outgrown")[0];
        table.figure(outgrown, small);
        let (Some(Count::Shown(n_outgrown)), Some(Count::Shown(n_measured))) =
            (outgrown.numerator, outgrown.denominator)
        else {
            panic!("{outgrown:?}");
        };
        let Some(Count::Shown(n)) = of("footwear-measured")[0].denominator else {
            panic!("no ulcers");
        };
        Table::misses(
            "a shoe that nobody measured taken for one that fits",
            n_outgrown as f64 / n as f64,
            small,
            (small * (1.0 - small) / n_measured as f64).sqrt(),
        );
        table.figure(
            &of("offloading-prescribed-for-plantar-ulcers")[0],
            OFFLOADED,
        );
        // The supply of a device is an event of its own, so that a missing answer is told by it where it was supplied.
        let supplied = OFFLOADED * DISPENSED;
        let told = supplied + (1.0 - supplied) * (1.0 - MISSING);
        table.figure(
            &of("offloading-dispensed-for-plantar-ulcers")[0],
            supplied / told,
        );
        let told = DISPENSED + (1.0 - DISPENSED) * (1.0 - MISSING);
        table.figure(
            &of("offloading-started-after-prescription")[0],
            DISPENSED / told,
        );
    });
    table.holds();
}
