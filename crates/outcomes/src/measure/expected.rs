//! From ulcers with a severity and an outcome to observed against expected.

use super::cohort::{Cohort, Study};
use super::shares::{gate_note, interval, shown, status};
use super::{Answer, Reference, SeverityOutcome};
use crate::expectation::{
    Comparison, Judged, OwnModel, Refusal, SeverityItems, calibration_of, compare,
    expected_healing_at_20_weeks, own_model,
};
use crate::report::{Bounds, Estimate, MeasureResult, Unit, Value, words};
use survival::counts::ObservedExpected;
use survival::regression::Term;

const EXACT: &str = "exact Poisson-binomial";

/// Observed against expected for those of one cohort; for the whole of several quarters also the share of each published
/// stratum.
pub(super) fn summarise(
    reference: Reference,
    study: &Study<'_>,
    all: &[SeverityOutcome],
    own: &[&SeverityOutcome],
    cohort: &Cohort,
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let made = match reference {
        Reference::PublishedStrata => Ok((by_strata(own), Vec::new())),
        Reference::OwnPast => by_own_past(study, all, own, cohort),
    };
    let mut results = match made {
        Ok((judged, notes)) => vec![ratio(study, &judged, notes, blank)],
        Err(refusal) => vec![MeasureResult {
            value: Value::NotEstimable {
                reason: refusal.reason,
            },
            denominator: shown(own.iter().filter(|subject| is_fully_known(subject)).count()),
            ..blank.clone()
        }],
    };
    let is_whole_year = cohort.first != cohort.last && blank.stratum == "all";
    if reference == Reference::PublishedStrata && is_whole_year {
        results.extend(strata(study, own, blank));
    }
    results
}

fn is_fully_known(subject: &SeverityOutcome) -> bool {
    subject.is_yes.is_some() && subject.items.count().known().is_some()
}

/// Judges everybody by the published strata.
pub(crate) fn by_strata(subjects: &[&SeverityOutcome]) -> Vec<Judged> {
    judged(subjects, |items| {
        let count = items.iter().filter(|item| **item).count();
        u8::try_from(count)
            .ok()
            .and_then(expected_healing_at_20_weeks)
    })
}

/// Judges everybody by a model of what the practice saw before the cohort began.
fn by_own_past(
    study: &Study<'_>,
    all: &[SeverityOutcome],
    own: &[&SeverityOutcome],
    cohort: &Cohort,
) -> Result<(Vec<Judged>, Vec<String>), Refusal> {
    let start = cohort.first.start();
    let earlier: Vec<_> = all
        .iter()
        .filter(|subject| subject.index.date < start)
        .filter_map(|subject| Some((subject.items, subject.is_yes?, subject.cluster)))
        .collect();
    let level = study.rules.confidence_level;
    let n_per_term = usize::try_from(study.rules.model_events_per_term).unwrap_or(usize::MAX);
    let model: OwnModel = own_model(&earlier, n_per_term, level)?;
    let judged = judged(own, |items| model.chance(items));
    let mut notes = vec![format!(
        "model fitted on {} ulcers first seen before {}, of which {} healed",
        model.fit.n, cohort.first, model.fit.n_events
    )];
    notes.push(calibration_note(&judged, level));
    Ok((judged, notes))
}

/// The lowest and the highest chance over every completion of the items.
fn judged(subjects: &[&SeverityOutcome], chance: impl Fn([bool; 3]) -> Option<f64>) -> Vec<Judged> {
    let range = |items: SeverityItems| {
        let chances: Option<Vec<f64>> = items.completions().into_iter().map(&chance).collect();
        let chances = chances?;
        let lowest = chances.iter().copied().reduce(f64::min)?;
        let highest = chances.into_iter().reduce(f64::max)?;
        Some((lowest, highest))
    };
    subjects
        .iter()
        .filter_map(|subject| {
            let (lowest_chance, highest_chance) = range(subject.items)?;
            Some(Judged {
                cluster: subject.cluster,
                index: subject.index,
                is_yes: subject.is_yes,
                lowest_chance,
                highest_chance,
            })
        })
        .collect()
}

fn calibration_note(judged: &[Judged], level: f64) -> String {
    let with_limits = |term: &Term, show: fn(f64) -> f64| {
        let estimate = show(term.estimate?);
        let limits = (show(term.lower?), show(term.upper?));
        Some(format!(
            "{} ({} to {})",
            words::decimal(estimate, 2),
            words::decimal(limits.0, 2),
            words::decimal(limits.1, 2)
        ))
    };
    calibration_of(judged, level)
        .and_then(|calibration| {
            Some(format!(
                "calibration on these ulcers, which the model has not seen: slope {}, odds of healing {} times the predicted",
                with_limits(&calibration.slope, |value| value)?,
                with_limits(&calibration.in_the_large, f64::exp)?
            ))
        })
        .unwrap_or_else(|| "calibration on these ulcers cannot be estimated".to_owned())
}

fn ratio(
    study: &Study<'_>,
    judged: &[Judged],
    more: Vec<String>,
    blank: &MeasureResult,
) -> MeasureResult {
    let level = study.rules.confidence_level;
    let Some(comparison) = compare(judged, level) else {
        return MeasureResult {
            denominator: shown(0),
            ..blank.clone()
        };
    };
    let known = comparison.known.as_ref();
    let estimate = known.and_then(|known| Some((known, known.ratio?)));
    let value = match estimate {
        Some((known, ratio)) => Value::Known(Estimate {
            estimate: ratio,
            interval: interval(
                known.limits.map(|limits| limits.lower),
                known.limits.map(|limits| limits.upper),
                level,
                EXACT,
            ),
        }),
        None => Value::NotEstimable {
            reason: "no ulcer has both its severity and its outcome known".to_owned(),
        },
    };
    let is_unknown = comparison.n_unknown_outcome + comparison.n_unknown_chance > 0;
    let bounds = comparison.lowest_ratio.zip(comparison.highest_ratio);
    let mut notes = Vec::new();
    notes.extend(known.map(|known| expected_note(known, &comparison)));
    notes.extend(known.map(chance_note));
    notes.extend(more);
    notes.extend(gate_note(
        study,
        comparison.n - comparison.n_unknown_outcome,
        comparison.n,
    ));
    notes.extend(people_note(judged));
    MeasureResult {
        value,
        numerator: known.and_then(|known| shown(usize::try_from(known.observed).ok()?)),
        denominator: known.map_or_else(|| shown(0), |known| shown(known.n)),
        n_unknown: shown(comparison.n_unknown_outcome),
        bounds: bounds
            .filter(|_| is_unknown)
            .map(|(lowest, highest)| Bounds { lowest, highest }),
        notes,
        ..blank.clone()
    }
}

fn expected_note(known: &ObservedExpected, comparison: &Comparison) -> String {
    let mut note = format!(
        "{} expected among {} with severity and outcome known, of {}",
        words::decimal(known.expected, 1),
        known.n,
        comparison.n
    );
    if comparison.n_unknown_chance > 0 {
        note.push_str(&format!(
            "; {} lack an item of the severity",
            comparison.n_unknown_chance
        ));
    }
    note
}

/// How often chance alone would put the count at least this far out, if everybody had just the expected chance.
fn chance_note(known: &ObservedExpected) -> String {
    format!(
        "if the expectation held, a count at least this far from it would come by chance in {}",
        words::times_of_100(known.p_two_sided)
    )
}

/// Said when several of those counted are one person's: the limits take them as independent.
fn people_note(judged: &[Judged]) -> Option<String> {
    let mut people: Vec<_> = judged.iter().map(|subject| subject.cluster).collect();
    people.sort_unstable();
    people.dedup();
    (people.len() < judged.len()).then(|| {
        format!(
            "{} counted, from {}; the limits take them as independent",
            judged.len(),
            words::counted(people.len(), "person", "people")
        )
    })
}

/// The share healed in each published stratum, beside what was published.
fn strata(
    study: &Study<'_>,
    own: &[&SeverityOutcome],
    blank: &MeasureResult,
) -> Vec<MeasureResult> {
    let of = |points: Option<u8>, label: String| {
        let answers: Vec<Answer> = own
            .iter()
            .filter(|subject| subject.items.count().known() == points)
            .map(|subject| Answer {
                cluster: subject.cluster,
                index: subject.index,
                place: subject.place,
                is_yes: subject.is_yes,
            })
            .collect();
        let blank = MeasureResult {
            stratum: label,
            unit: Unit::Share,
            ..blank.clone()
        };
        (!answers.is_empty()).then(|| status(study, &answers.iter().collect::<Vec<_>>(), blank))
    };
    let known = (0..=3u8).filter_map(|points| {
        let published = words::percent(expected_healing_at_20_weeks(points)?);
        let points_words = words::counted(usize::from(points), "point", "points");
        of(
            Some(points),
            format!("share healed, {points_words} (published: {published})"),
        )
    });
    let unknown = of(None, "share healed, points not exactly known".to_owned());
    known.chain(unknown).collect()
}
