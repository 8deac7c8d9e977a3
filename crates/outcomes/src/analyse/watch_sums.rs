//! Risk-adjusted cumulative sums of ulcers that stay open.

use super::sheets::last_mature_quarter;
use super::watch::{Series, n_baseline};
use super::{Counted, Material};
use crate::expectation::{Judged, Refusal};
use crate::measure::{Prepared, SeverityOutcome, by_strata};
use crate::monitor::{SumChart, SumOptions, SumQuarter, sum_chart};
use crate::report::{
    ControlChart, ControlPoint, Count, Estimate, Figure, FigureFrame, NamedSignal, Unit, Value,
    WatchedSeries, words,
};
use crate::rules::Quarter;

/// Name of the one rule of a cumulative sum.
const SIGNAL: &str = "above the limit";

/// One sum for more open ulcers than expected, one for fewer.
pub(super) fn sums(
    material: &Material<'_>,
    counted: &Counted,
    quarters: &[Quarter],
) -> Vec<Series> {
    let ratio = material.rules.sum_odds_ratio;
    [(true, ratio), (false, 1.0 / ratio)]
        .into_iter()
        .map(|(is_worse, odds_ratio)| {
            let title = format!(
                "Open at 20 weeks, cumulative sum for {} open ulcers than expected",
                if is_worse { "more" } else { "fewer" }
            );
            match made(material, counted, quarters, odds_ratio) {
                Ok(sum) => series(material, counted, title, &sum, is_worse),
                Err(refusal) => Series::refused(title, refusal),
            }
        })
        .collect()
}

fn made(
    material: &Material<'_>,
    counted: &Counted,
    quarters: &[Quarter],
    odds_ratio: f64,
) -> Result<SumChart, Refusal> {
    let Prepared::Severities(all) = &*counted.prepared else {
        return Err(Refusal::new("no severity is counted"));
    };
    let n_base = n_baseline(material);
    let base_to = n_base.checked_sub(1).and_then(|last| quarters.get(last));
    let until = last_mature_quarter(material, counted);
    let (Some(&base_to), Some(until)) = (base_to, until) else {
        return Err(Refusal::new(format!(
            "needs {n_base} mature quarters for its base, has {}",
            quarters.len()
        )));
    };
    let all: Vec<&SeverityOutcome> = all.iter().collect();
    let open: Vec<Judged> = by_strata(&all)
        .into_iter()
        .map(|healed| Judged {
            is_yes: healed.is_yes.map(|is_healed| !is_healed),
            lowest_chance: 1.0 - healed.highest_chance,
            highest_chance: 1.0 - healed.lowest_chance,
            ..healed
        })
        .collect();
    let rules = material.rules;
    sum_chart(
        &open,
        &SumOptions {
            odds_ratio,
            people_per_false_signal: rules.sum_ulcers_per_false_signal as f64,
            base_to,
            until,
            n_least: usize::try_from(rules.model_events_per_term).unwrap_or(usize::MAX),
            level: rules.confidence_level,
        },
    )
}

fn series(
    material: &Material<'_>,
    counted: &Counted,
    title: String,
    sum: &SumChart,
    is_worse: bool,
) -> Series {
    let n_quarters = words::counted(sum.quarters.len(), "quarter", "quarters");
    let first = sum.quarters.iter().find(|quarter| quarter.is_signal);
    let meaning = if is_worse {
        "for the worse"
    } else {
        "for the better"
    };
    let finding = match first {
        Some(first) => format!(
            "above its limit since {} ({meaning}), in {n_quarters} after the base",
            first.quarter
        ),
        None => format!("no signal in {n_quarters} after the base"),
    };
    let id = format!(
        "open-at-20-weeks-sum-{}",
        if is_worse { "more" } else { "fewer" }
    );
    let figure = ControlChart {
        frame: FigureFrame {
            id: id.clone(),
            family: counted.measure.family.to_owned(),
            title: format!("{title}: {finding}"),
            caption: caption(material, sum, is_worse),
            alt: format!(
                "Highest level of a cumulative sum in {n_quarters} with a limit at {}: {finding}.",
                words::decimal(sum.limit, 1)
            ),
        },
        unit: Unit::Ratio,
        kind_of_chart:
            "risk-adjusted cumulative sum of log likelihood ratios, highest level a quarter"
                .to_owned(),
        limits_words: format!(
            "simulated: one false signal in about {:.0} ulcers",
            sum.people_per_false_signal
        ),
        points: (sum.quarters.iter())
            .map(|quarter| point(quarter, sum.limit))
            .collect(),
        signals: vec![NamedSignal {
            name: SIGNAL.to_owned(),
            words: "the sum lies above its simulated limit".to_owned(),
        }],
    };
    Series {
        line: WatchedSeries {
            title,
            figure: Some(id),
            finding,
            is_signal: first.is_some(),
        },
        figure: Some(Figure::ControlChart(figure)),
        false_alarm: None,
    }
}

fn caption(material: &Material<'_>, sum: &SumChart, is_worse: bool) -> String {
    let ratio = material.rules.sum_odds_ratio;
    format!(
        "Each index ulcer adds the log likelihood ratio of its outcome at 20 weeks, odds of staying open {} times the \
         expected against the expected ones; below 0 the sum starts again at 0. A point is the highest level of a \
         quarter. Expected are the published strata, their odds of staying open moved by a factor of {} to fit the \
         {} of the base. The limit lets a false signal pass once in about {:.0} ulcers, by simulation with this \
         practice's own mix. Wald's likelihood ratio, risk-adjusted: Steiner et al., Biostatistics 2000;1:441-452.",
        if is_worse {
            format!("{ratio}")
        } else {
            format!("1/{ratio}")
        },
        words::decimal(sum.base_odds_factor, 2),
        words::counted(sum.n_base, "ulcer", "ulcers"),
        sum.people_per_false_signal,
    )
}

/// The highest level of a quarter beside the limit.
fn point(quarter: &SumQuarter, limit: f64) -> ControlPoint {
    let value = match quarter.highest {
        Some(estimate) => Value::Known(Estimate {
            estimate,
            interval: None,
        }),
        None => Value::NotEstimable {
            reason: "nobody in this quarter".to_owned(),
        },
    };
    ControlPoint {
        label: quarter.quarter.to_string(),
        value,
        n: Some(Count::Shown(quarter.n as u64)),
        centre: None,
        lower: None,
        upper: Some(limit),
        signals: quarter
            .is_signal
            .then(|| SIGNAL.to_owned())
            .into_iter()
            .collect(),
    }
}
