//! People as they are at their first visit.

use crate::chance::Chance;
use crate::scenario::{People, Scenario};
use crate::words::{Diabetes, Level, ReferralSource, Sex, Side, Smoking, Waveform};
use chrono::Datelike;

/// Arterial disease of a limb, as it truly is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum ArterialDisease {
    /// None.
    Absent,
    /// Reduced flow that does not delay healing.
    Mild,
    /// Delays healing.
    Moderate,
    /// Threatens the limb.
    Severe,
}

impl ArterialDisease {
    /// Spelling in the truth files.
    pub(crate) const fn ours(self) -> &'static str {
        match self {
            Self::Absent => "none",
            Self::Mild => "mild",
            Self::Moderate => "moderate",
            Self::Severe => "severe",
        }
    }
}

/// One limb as it is at the first visit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Limb {
    pub(crate) has_neuropathy: bool,
    pub(crate) arterial: ArterialDisease,
    pub(crate) is_calcified: bool,
    pub(crate) has_deformity: bool,
    pub(crate) has_charcot: bool,
    pub(crate) prior_amputation: Option<Level>,
    pub(crate) flow: Flow,
    pub(crate) worn_size: f64,
    pub(crate) foot_size: f64,
}

/// True perfusion of a limb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flow {
    pub(crate) ankle_mmhg: f64,
    pub(crate) toe_mmhg: f64,
    pub(crate) tcpo2_mmhg: f64,
    pub(crate) waveform: Waveform,
    pub(crate) has_palpable_pulse: bool,
}

/// Why the person comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Arrival {
    NewUlcer,
    TransferredIn,
    Surveillance,
}

/// One person as they are at the first visit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Person {
    pub(crate) id: String,
    pub(crate) arrival: Arrival,
    /// Day of the first visit; negative before data start.
    pub(crate) first_day: i32,
    /// Days from onset to the first visit, of the ulcer they come with.
    pub(crate) delay_days: f64,
    pub(crate) first_contact_day: i32,
    pub(crate) birth_year: i32,
    pub(crate) age_years: f64,
    pub(crate) sex: Sex,
    pub(crate) diabetes: Diabetes,
    pub(crate) diabetes_year: i32,
    pub(crate) is_on_renal_replacement: bool,
    pub(crate) smoking: Smoking,
    pub(crate) referral_source: ReferralSource,
    pub(crate) had_ulcer: bool,
    pub(crate) brachial_mmhg: f64,
    pub(crate) hba1c_mmol: f64,
    pub(crate) healing_frailty: f64,
    pub(crate) limbs: [Limb; 2],
    pub(crate) clinic: usize,
    pub(crate) clinician: u32,
    /// Gap between visits while an ulcer is open, days.
    pub(crate) open_gap_days: i32,
}

impl Person {
    pub(crate) fn limb(&self, side: Side) -> &Limb {
        match side {
            Side::Left => &self.limbs[0],
            Side::Right => &self.limbs[1],
        }
    }
}

/// Draws the person with this number.
///
/// Numbers that are no setting are invented: plausible for a foot clinic, and no truth rests on them. The draws keep their order,
/// for another one would make other people of the same seed.
pub(crate) fn person(scenario: &Scenario, seed: u64, number: u64, chance: &mut Chance) -> Person {
    let people = &scenario.people;
    let first_day = first_day(scenario, chance);
    let arrival = match (
        chance.happens(people.share_without_ulcer),
        chance.happens(people.share_transferred_in),
    ) {
        (true, _) => Arrival::Surveillance,
        (false, true) => Arrival::TransferredIn,
        (false, false) => Arrival::NewUlcer,
    };
    let mut delay_days = chance.log_normal(
        scenario.ulcers.median_delay_days,
        scenario.ulcers.delay_log_sd,
    );
    if arrival == Arrival::TransferredIn {
        delay_days += chance.exponential(60.0);
    }
    let delay_days = delay_days.min(1000.0);
    let age_years = (people.median_age_years + 11.0 * chance.normal()).clamp(25.0, 97.0);
    let first_year = scenario.data_start.year() + first_day.div_euclid(365);
    let birth_year = first_year - age_years as i32;
    let diabetes = chance.pick([
        (Diabetes::Type2, 0.88),
        (Diabetes::Type1, 0.10),
        (Diabetes::Other, 0.02),
    ]);
    let diabetes_years = chance.exponential(14.0).min(age_years - 10.0) as i32;
    let had_ulcer = chance.happens(people.share_prior_ulcer);
    let brachial_mmhg = (138.0 + 15.0 * chance.normal()).clamp(95.0, 200.0);
    let foot_size = ((9.5 + 1.6 * chance.normal()).clamp(5.0, 15.0) * 2.0).round() / 2.0;
    let body = Body {
        has_neuropathy: chance.happens(people.share_neuropathy),
        had_ulcer,
        brachial_mmhg,
        foot_size,
    };
    let mut limbs = [(); 2].map(|()| limb(people, &body, chance));
    let has_lost_leg = chance.happens(people.share_prior_major_amputation);
    let lost_leg = usize::from(chance.happens(0.5));
    if had_ulcer && has_lost_leg {
        limbs[lost_leg].prior_amputation = Some(Level::Major);
    }
    let visits = &scenario.visits;
    let gap = chance.pick([
        (7, visits.share_weekly),
        (14, visits.share_two_weekly),
        (
            28,
            (1.0 - visits.share_weekly - visits.share_two_weekly).max(0.0),
        ),
    ]);
    let clinic = chance.position(
        scenario
            .clinics
            .iter()
            .enumerate()
            .map(|(place, _)| 1.0 / (1.0 + place as f64)),
    );
    let clinicians = i32::try_from(scenario.n_clinicians_per_clinic.max(1)).unwrap_or(1);
    Person {
        id: crate::naming::patient_id(seed, number),
        arrival,
        first_day,
        delay_days,
        first_contact_day: first_day - (delay_days * chance.uniform()) as i32,
        birth_year,
        age_years,
        sex: chance.pick([(Sex::Male, 0.63), (Sex::Female, 0.365), (Sex::Other, 0.005)]),
        diabetes,
        diabetes_year: first_year - diabetes_years,
        is_on_renal_replacement: chance.happens(people.share_renal),
        smoking: match chance.happens(people.share_smokers) {
            true => Smoking::Current,
            false => chance.pick([(Smoking::Never, 0.6), (Smoking::Former, 0.4)]),
        },
        referral_source: chance.pick([
            (ReferralSource::GeneralPractice, 0.55),
            (ReferralSource::Nurse, 0.2),
            (ReferralSource::Hospital, 0.13),
            (ReferralSource::Own, 0.12),
        ]),
        had_ulcer,
        brachial_mmhg,
        hba1c_mmol: (62.0 + 15.0 * chance.normal()).clamp(34.0, 130.0),
        healing_frailty: chance.log_normal(1.0, scenario.hazards.healing_frailty_log_sd),
        limbs,
        clinic,
        clinician: u32::try_from(chance.whole(1, clinicians)).unwrap_or(1),
        open_gap_days: visits.fixed_open_gap_days.unwrap_or(gap),
    }
}

fn first_day(scenario: &Scenario, chance: &mut Chance) -> i32 {
    let is_under_care = chance.happens(scenario.people.share_under_care_at_start);
    let day = if is_under_care {
        chance.whole(-730, -1)
    } else {
        chance.whole(0, scenario.last_day())
    };
    crate::naming::open_day(scenario, day)
}

/// What both limbs of a person share.
struct Body {
    has_neuropathy: bool,
    had_ulcer: bool,
    brachial_mmhg: f64,
    foot_size: f64,
}

fn limb(people: &People, body: &Body, chance: &mut Chance) -> Limb {
    let arterial = chance.pick([
        (ArterialDisease::Severe, people.share_pad_severe),
        (ArterialDisease::Moderate, people.share_pad_moderate),
        (ArterialDisease::Mild, people.share_pad_mild),
        (
            ArterialDisease::Absent,
            (1.0 - people.share_pad_severe - people.share_pad_moderate - people.share_pad_mild)
                .max(0.0),
        ),
    ]);
    let is_calcified = chance.happens(people.share_calcified);
    let lost_toe = chance.happens(people.share_prior_minor_amputation);
    let worn_step = f64::from(chance.whole(1, 3)) / 2.0;
    let is_too_small = chance.happens(0.7);
    Limb {
        has_neuropathy: body.has_neuropathy || chance.happens(people.share_neuropathy / 10.0),
        arterial,
        is_calcified,
        has_deformity: chance.happens(people.share_deformity),
        has_charcot: body.has_neuropathy && chance.happens(people.share_charcot),
        prior_amputation: (body.had_ulcer && lost_toe).then_some(Level::Minor),
        flow: flow(arterial, is_calcified, body.brachial_mmhg, chance),
        foot_size: body.foot_size,
        worn_size: match (chance.happens(people.share_wrong_shoe), is_too_small) {
            (false, _) => body.foot_size,
            (true, true) => body.foot_size - worn_step,
            (true, false) => body.foot_size + worn_step,
        },
    }
}

/// Perfusion that goes with a degree of arterial disease; invented spreads around textbook ranges.
pub(crate) fn flow(
    arterial: ArterialDisease,
    is_calcified: bool,
    brachial_mmhg: f64,
    chance: &mut Chance,
) -> Flow {
    let (abi, toe_mmhg, tcpo2_mmhg) = match arterial {
        ArterialDisease::Absent => (
            chance.between(0.95, 1.25),
            chance.between(75.0, 120.0),
            chance.between(45.0, 70.0),
        ),
        ArterialDisease::Mild => (
            chance.between(0.80, 0.94),
            chance.between(58.0, 80.0),
            chance.between(38.0, 55.0),
        ),
        ArterialDisease::Moderate => (
            chance.between(0.52, 0.79),
            chance.between(36.0, 58.0),
            chance.between(28.0, 42.0),
        ),
        ArterialDisease::Severe => (
            chance.between(0.25, 0.52),
            chance.between(14.0, 35.0),
            chance.between(10.0, 30.0),
        ),
    };
    let abi = if is_calcified {
        chance.between(1.32, 1.7)
    } else {
        abi
    };
    let waveform = match arterial {
        ArterialDisease::Absent => {
            chance.pick([(Waveform::Triphasic, 0.75), (Waveform::Biphasic, 0.25)])
        }
        ArterialDisease::Mild => {
            chance.pick([(Waveform::Biphasic, 0.9), (Waveform::Monophasic, 0.1)])
        }
        ArterialDisease::Moderate => {
            chance.pick([(Waveform::Biphasic, 0.35), (Waveform::Monophasic, 0.65)])
        }
        ArterialDisease::Severe => {
            chance.pick([(Waveform::Monophasic, 0.75), (Waveform::Absent, 0.25)])
        }
    };
    let share_palpable = match arterial {
        ArterialDisease::Absent => 0.95,
        ArterialDisease::Mild => 0.75,
        ArterialDisease::Moderate => 0.3,
        ArterialDisease::Severe => 0.06,
    };
    Flow {
        ankle_mmhg: abi * brachial_mmhg,
        toe_mmhg,
        tcpo2_mmhg,
        waveform,
        has_palpable_pulse: chance.happens(share_palpable),
    }
}
