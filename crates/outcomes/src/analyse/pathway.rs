//! The vascular pathway as charts: how soon each step is reached, and the wait for the referral in bands.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::measure::{Cohort, FollowUp, Prepared, incidence_curves, within};
use crate::report::{
    Count, Estimate, Figure, FigureFrame, MeasureResult, Pathway, PathwayStep, StackedQuarter,
    Value, words,
};
use crate::rules::Outcome;

/// The steps in their usual order, by the id of the measure that times them.
const STEPS: [(&str, &str); 6] = [
    ("vascular-screen-after-trigger", "Bedside screen"),
    ("vascular-study-after-trigger", "Physiologic study"),
    ("vascular-imaging-after-trigger", "Imaging"),
    ("vascular-referral-after-trigger", "Referral"),
    (
        "vascular-seen-after-trigger",
        "Seen by the vascular service",
    ),
    ("revascularisation-after-trigger", "Revascularisation"),
];

/// Days by which shares are given.
const DAYS: [u32; 4] = [1, 7, 14, 28];

/// The pathway of all limbs, the pathway of those with an urgent trigger, and the wait for the referral in bands.
pub(super) fn pathway_figures(material: &Material<'_>, counted: &[Counted]) -> Vec<Figure> {
    let referral = counted
        .iter()
        .find(|counted| counted.measure.id == "vascular-referral-after-trigger");
    let all = pathway(
        material,
        counted,
        "all",
        "limbs that met a vascular trigger",
    );
    let urgent = pathway(
        material,
        counted,
        "urgent trigger",
        "limbs that met an urgent vascular trigger",
    );
    let bands = referral.and_then(|referral| bands_by_quarter(material, referral));
    all.into_iter().chain(urgent).chain(bands).collect()
}

fn pathway(
    material: &Material<'_>,
    counted: &[Counted],
    stratum: &str,
    start: &str,
) -> Option<Figure> {
    let find = |id: &str| counted.iter().find(|counted| counted.measure.id == id);
    let (id, _) = STEPS[3];
    let referral = find(id)?;
    let cohort = Cohort::year_to(
        last_mature_quarter(material, referral)?,
        material.horizon.data_start,
    );
    let steps: Vec<PathwayStep> = STEPS
        .iter()
        .filter_map(|(id, label)| step(material, find(id)?, &cohort, stratum, label))
        .collect();
    let n = steps_n(material, referral, &cohort, stratum)?;
    if n == 0 {
        return None;
    }
    let period = cohort.label();
    let referred = steps.iter().find(|step| step.label == "Referral")?;
    let shares = |step: &PathwayStep| {
        let said: Vec<String> = DAYS
            .iter()
            .zip(&step.reached)
            .filter_map(|(day, value)| match value {
                Value::Known(share) => Some(format!(
                    "{} within {day} days",
                    words::percent(share.estimate)
                )),
                _ => None,
            })
            .collect();
        said.join(", ").replace("within 1 days", "within 1 day")
    };
    let alt: Vec<String> = steps
        .iter()
        .map(|step| format!("{}: {}", step.label, shares(step)))
        .collect();
    let suffix = if stratum == "all" { "" } else { "-urgent" };
    Some(Figure::Pathway(Pathway {
        frame: FigureFrame {
            id: format!("vascular-pathway{suffix}"),
            family: referral.measure.family.to_owned(),
            title: format!("Of {n} {start} in {period}, referred: {}", shares(referred)),
            caption: format!(
                "Every step is timed from the first trigger, in whatever order it came, out of the same {n} limbs; a step up to \
                 {} days before the trigger counts as day 0. Healing of the limb, major amputation and death can come first \
                 and are allowed for. Not every limb needs every step.",
                material.rules.referral_look_back_days
            ),
            alt: format!("Steps of {n} {start}. {}.", alt.join(". ")),
        },
        start: start.to_owned(),
        n: Count::Shown(n as u64),
        days: DAYS.to_vec(),
        steps,
    }))
}

fn steps_n(
    material: &Material<'_>,
    counted: &Counted,
    cohort: &Cohort,
    stratum: &str,
) -> Option<usize> {
    let results = counted.of(material, cohort);
    let result = result_at(&results, DAYS[3], stratum)?;
    match result.denominator {
        Some(Count::Shown(n)) => usize::try_from(n).ok(),
        _ => None,
    }
}

fn result_at<'r>(
    results: &'r [MeasureResult],
    day: u32,
    stratum: &str,
) -> Option<&'r MeasureResult> {
    let wanted = within(i64::from(day), stratum);
    results.iter().find(|result| result.stratum == wanted)
}

fn step(
    material: &Material<'_>,
    counted: &Counted,
    cohort: &Cohort,
    stratum: &str,
    label: &str,
) -> Option<PathwayStep> {
    let results = counted.of(material, cohort);
    let by_day: Option<Vec<&MeasureResult>> = DAYS
        .iter()
        .map(|day| result_at(&results, *day, stratum))
        .collect();
    let by_day = by_day?;
    let last = by_day.last()?;
    Some(PathwayStep {
        label: label.to_owned(),
        reached: by_day.iter().map(|result| result.value.clone()).collect(),
        median_days: median(material, counted, cohort, stratum),
        n_reached: last.numerator.unwrap_or(Count::Shown(0)),
    })
}

/// The day by which half have reached the step, up to the last day shown.
fn median(material: &Material<'_>, counted: &Counted, cohort: &Cohort, stratum: &str) -> Value {
    let Prepared::FollowUps(all) = &*counted.prepared else {
        return Value::NotReached { lower: None };
    };
    let own: Vec<FollowUp> = all
        .iter()
        .filter(|subject| cohort.contains(subject.index.date))
        .filter(|subject| {
            stratum == "all" || subject.stratum.is_some_and(|own| own.code() == stratum)
        })
        .copied()
        .collect();
    let curves = incidence_curves(&counted.measure.rule, &own, material.rules.confidence_level);
    let main = curves.and_then(|curves| {
        let mut causes = curves.causes.into_iter();
        causes.find(|curve| curve.cause == Some(1))
    });
    let reached = main.and_then(|curve| {
        let mut points = curve.points.into_iter();
        points.find(|point| point.estimate >= 0.5 - 1e-9)
    });
    match reached.filter(|point| point.time <= f64::from(DAYS[3])) {
        Some(point) => Value::Known(Estimate {
            estimate: point.time,
            interval: None,
        }),
        None => Value::NotReached { lower: None },
    }
}

/// Names of the bands, in the order of [`band`].
const BANDS: [&str; 7] = [
    "referred before the trigger or on its day",
    "1 to 7 days",
    "8 to 14 days",
    "15 to 28 days",
    "not within 28 days",
    "healed, amputated or died first",
    "lost from sight first",
];

/// The band of one limb.
fn band(limb: &FollowUp) -> usize {
    match (limb.ending, i64::from(limb.exit_day)) {
        (Some(Outcome::VascularReferral), 0) => 0,
        (Some(Outcome::VascularReferral), 1..=7) => 1,
        (Some(Outcome::VascularReferral), 8..=14) => 2,
        (Some(Outcome::VascularReferral), 15..=28) => 3,
        (Some(_), ..=28) => 5,
        (None, ..=27) => 6,
        _ => 4,
    }
}

fn bands_by_quarter(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let Prepared::FollowUps(all) = &*counted.prepared else {
        return None;
    };
    let last = last_mature_quarter(material, counted)?;
    let quarters: Vec<StackedQuarter> = material
        .trend()
        .into_iter()
        .filter(|quarter| *quarter <= last)
        .map(|quarter| {
            let own = all.iter().filter(|limb| quarter.contains(limb.index.date));
            let bands: Vec<usize> = own.map(band).collect();
            let n = |place: usize| bands.iter().filter(|band| **band == place).count() as u64;
            StackedQuarter {
                quarter: quarter.to_string(),
                counts: (0..BANDS.len())
                    .map(|place| Count::Shown(n(place)))
                    .collect(),
                n: Count::Shown(bands.len() as u64),
            }
        })
        .filter(|bar| bar.n != Count::Shown(0))
        .collect();
    let newest = quarters.last()?;
    let told: Vec<String> = BANDS
        .iter()
        .zip(&newest.counts)
        .filter(|(_, count)| **count != Count::Shown(0))
        .map(|(name, count)| format!("{name} ({count})"))
        .collect();
    Some(Figure::StackedShares {
        frame: FigureFrame {
            id: "vascular-referral-bands".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!(
                "From trigger to referral, {} limbs of {}: {}",
                newest.n,
                newest.quarter,
                told.join(", ")
            ),
            caption: "Limbs with an ulcer by the quarter of their first vascular trigger, and how long it took until somebody \
                      referred them."
                .to_owned(),
            alt: format!(
                "Stacked bars for {}. In the last, of {} limbs: {}.",
                words::counted(quarters.len(), "quarter", "quarters"),
                newest.n,
                told.join(", ")
            ),
        },
        layers: BANDS.iter().map(|band| (*band).to_owned()).collect(),
        quarters,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Dated, PatientKey, SourceRow};
    use chrono::NaiveDate;

    #[test]
    fn every_wait_falls_in_one_band_and_bounds_belong_to_the_lower_one() {
        use Outcome::{Death, LimbHealed, VascularReferral};
        for (ending, exit_day, wanted) in [
            (Some(VascularReferral), 0, 0),
            (Some(VascularReferral), 1, 1),
            (Some(VascularReferral), 7, 1),
            (Some(VascularReferral), 8, 2),
            (Some(VascularReferral), 14, 2),
            (Some(VascularReferral), 15, 3),
            (Some(VascularReferral), 28, 3),
            (Some(VascularReferral), 29, 4),
            (Some(LimbHealed), 28, 5),
            (Some(Death), 0, 5),
            (Some(Death), 29, 4),
            (None, 27, 6),
            (None, 28, 4),
        ] {
            let limb = FollowUp {
                cluster: PatientKey(0),
                index: Dated::new(NaiveDate::MIN, SourceRow::default()),
                place: None,
                entry_day: 0,
                exit_day,
                not_yet_day: None,
                ending,
                ended_at: None,
                stratum: None,
                remark: None,
                severity: None,
                stage: None,
            };
            assert_eq!(band(&limb), wanted, "{ending:?} on day {exit_day}");
        }
    }
}
