//! What gets written down: measurement error and items left out.

use crate::chance::Chance;
use crate::course::History;
use crate::person::Person;
use crate::record::{Foot, Row, Ulcer, two_decimals};
use crate::scenario::{Recording, Scenario};
use crate::words::{Attendance, Diabetes, Kind, Level, ReferralSource, Sex, Side, Smoking};
use chrono::Datelike;

/// What the records say about the person, on every row.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Facts {
    pub(crate) birth_year: Option<BirthYear>,
    pub(crate) sex: Option<Sex>,
    pub(crate) diabetes: Option<Diabetes>,
    pub(crate) diabetes_year: Option<i32>,
    pub(crate) referral_source: Option<ReferralSource>,
    pub(crate) first_contact_day: Option<i32>,
    pub(crate) is_on_renal_replacement: Option<bool>,
    pub(crate) smoking: Option<Smoking>,
    pub(crate) had_ulcer: Option<bool>,
    /// Left, right: history of an amputation of that leg, if the question was answered.
    pub(crate) prior_amputations: [Option<PriorAmputation>; 2],
    pub(crate) death_day: Option<i32>,
    pub(crate) last_contact_day: Option<i32>,
}

/// Year of birth as an export may carry it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum BirthYear {
    Year(i32),
    NinetyOrOver,
}

/// Answer to the question about earlier amputations of one leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum PriorAmputation {
    Never,
    Had(Level),
}

/// The facts of a person, some of them never asked; `rows` are those of the export.
pub(crate) fn facts(
    person: &Person,
    history: &History,
    rows: &[Row],
    scenario: &Scenario,
    chance: &mut Chance,
) -> Facts {
    let share = scenario.recording.share_fact_missing;
    let mut maybe_kept = || !chance.happens(share);
    let is_90_or_over = scenario.cut_off.year() - person.birth_year >= 90;
    let birth_year = match is_90_or_over {
        true => BirthYear::NinetyOrOver,
        false => BirthYear::Year(person.birth_year),
    };
    // What happened here before data start is history to the export.
    let prior = |side| {
        let here = history
            .happenings
            .iter()
            .filter(|happening| happening.day < 0 && happening.side == Some(side))
            .filter_map(|happening| happening.kind.level());
        match here.chain(person.limb(side).prior_amputation).max() {
            None => PriorAmputation::Never,
            Some(level) => PriorAmputation::Had(level),
        }
    };
    let had_ulcer = person.had_ulcer
        || history.lesions.iter().any(|lesion| {
            let closed = lesion.closures.first().copied();
            closed
                .into_iter()
                .chain(lesion.ended)
                .any(|moment| moment < 0.0)
        });
    let death_day = rows
        .iter()
        .flat_map(|row| &row.events)
        .find(|event| event.kind == Kind::Death)
        .map(|event| event.day);
    let last_contact_day = rows
        .iter()
        .rfind(|row| row.attendance == Attendance::Kept)
        .map(|row| row.day);
    Facts {
        birth_year: maybe_kept().then_some(birth_year),
        sex: maybe_kept().then_some(person.sex),
        diabetes: maybe_kept().then_some(person.diabetes),
        diabetes_year: maybe_kept().then_some(person.diabetes_year),
        referral_source: maybe_kept().then_some(person.referral_source),
        first_contact_day: maybe_kept().then_some(person.first_contact_day),
        is_on_renal_replacement: maybe_kept().then_some(person.is_on_renal_replacement),
        smoking: maybe_kept().then_some(person.smoking),
        had_ulcer: maybe_kept().then_some(had_ulcer),
        prior_amputations: Side::ALL.map(|side| maybe_kept().then(|| prior(side))),
        death_day,
        last_contact_day,
    }
}

/// A row as it was written down.
pub(crate) fn recorded(row: &Row, recording: &Recording, chance: &mut Chance) -> Row {
    let mut row = row.clone();
    for ulcer in &mut row.ulcers {
        measure_ulcer(ulcer, recording, chance);
    }
    for foot in row.feet.iter_mut().flatten() {
        measure_foot(foot, recording, chance);
    }
    row.hba1c_mmol = row.hba1c_mmol.map(f64::round);
    if recording.share_item_missing > 0.0 {
        leave_out_items(&mut row, recording.share_item_missing, chance);
    }
    row
}

/// Length and width with independent errors that together give the area its coefficient of variation.
fn measure_ulcer(ulcer: &mut Ulcer, recording: &Recording, chance: &mut Chance) {
    let length_sd = recording.area_cv / std::f64::consts::SQRT_2;
    let mut read = |value: f64| value * libm::exp(length_sd * chance.normal());
    ulcer.length_mm = ulcer.length_mm.map(|length| read(length).round().max(1.0));
    ulcer.width_mm = ulcer.width_mm.map(|width| read(width).round().max(1.0));
    if let (Some(length), Some(width)) = (ulcer.length_mm, ulcer.width_mm)
        && width > length
    {
        (ulcer.length_mm, ulcer.width_mm) = (Some(width), Some(length));
    }
    ulcer.depth_mm = ulcer.depth_mm.map(|depth| read(depth).round().max(1.0));
    // A traced area belongs to the length and width beside it.
    if let (Some(_), Some(length), Some(width)) = (ulcer.area_cm2, ulcer.length_mm, ulcer.width_mm)
    {
        let ellipse_cm2 = std::f64::consts::FRAC_PI_4 * length * width / 100.0;
        ulcer.area_cm2 = Some(two_decimals(ellipse_cm2).max(0.01));
    }
}

fn measure_foot(foot: &mut Foot, recording: &Recording, chance: &mut Chance) {
    let mut read = |value: f64| {
        (value + recording.pressure_sd_mmhg * chance.normal())
            .round()
            .max(5.0)
    };
    foot.ankle_mmhg = foot.ankle_mmhg.map(&mut read);
    foot.brachial_mmhg = foot.brachial_mmhg.map(&mut read);
    foot.toe_mmhg = foot.toe_mmhg.map(&mut read);
    foot.tcpo2_mmhg = foot.tcpo2_mmhg.map(&mut read);
    let over_brachial = |value: Option<f64>| Some(two_decimals(value? / foot.brachial_mmhg?));
    foot.abi = foot.abi.and_then(|_| over_brachial(foot.ankle_mmhg));
    foot.tbi = foot.tbi.and_then(|_| over_brachial(foot.toe_mmhg));
}

fn leave_out_items(row: &mut Row, share: f64, chance: &mut Chance) {
    macro_rules! maybe_lose {
        ($chance:ident, $($field:expr),+) => {$(
            if $field.is_some() && $chance.happens(share) { $field = None; }
        )+};
    }
    maybe_lose!(chance, row.hba1c_mmol);
    for foot in row.feet.iter_mut().flatten() {
        maybe_lose!(
            chance,
            foot.sensation,
            foot.pulses,
            foot.waveform,
            foot.ankle_mmhg,
            foot.brachial_mmhg,
            foot.toe_mmhg,
            foot.abi,
            foot.deformity,
            foot.charcot,
            foot.worn_size,
            foot.measured_size,
            foot.shoe_suitable
        );
    }
    for ulcer in &mut row.ulcers {
        maybe_lose!(
            chance,
            ulcer.onset_day,
            ulcer.length_mm,
            ulcer.width_mm,
            ulcer.depth_mm,
            ulcer.after_debridement,
            ulcer.tissue,
            ulcer.gangrene,
            ulcer.infection,
            ulcer.probe_to_bone,
            ulcer.osteomyelitis,
            ulcer.state,
            ulcer.debrided,
            ulcer.cultured,
            ulcer.antibiotic,
            ulcer.offloading_prescribed,
            ulcer.offloading_dispensed,
            ulcer.dressing_on_arrival,
            ulcer.dressing_carer
        );
    }
}
