//! The front page and the charts of the public copy, made again from what is printed.

use super::curve::{coarse_curve, coarse_stack};
use super::facts::is_small;
use super::public::{
    DisclosureRules, Fates, coarse, is_public_measure, measure_of_bars, public_result,
    published_results,
};
use super::told::Told;
use crate::analyse::{END_OF, HEALING_CURVE};
use crate::measure::find_measure;
use crate::report::words;
use crate::report::{
    Count, Figure, FigureFrame, FrontPage, Headline, MeasureResult, Movement, MovementFlow, Report,
    StackedQuarter, TrendPoint, Unit, Value,
};

pub(super) fn public_front_page(front_page: &FrontPage, fates: &Fates) -> FrontPage {
    let FrontPage {
        sentences: _,
        headlines,
        chance: _,
    } = front_page;
    let headlines: Vec<Headline> = headlines
        .iter()
        .filter(|headline| is_public_measure(&headline.result.measure))
        .map(|headline| {
            let Headline {
                title,
                result,
                trend,
                expectation: _,
                reading: _,
            } = headline;
            Headline {
                title: title.clone(),
                result: public_result(result, fates),
                trend: public_trend(&result.measure, trend, fates),
                expectation: None,
                // The clinic's line goes on with remarks that count people; only the measure's own words are kept.
                reading: find_measure(&result.measure)
                    .map_or_else(String::new, |measure| measure.reading.to_owned()),
            }
        })
        .collect();
    FrontPage {
        sentences: headlines.iter().filter_map(sentence).collect(),
        headlines,
        chance: "A small practice's figures move from quarter to quarter by chance alone; the intervals say how far."
            .to_owned(),
    }
}

/// One headline as a sentence, where it has a number to say.
fn sentence(headline: &Headline) -> Option<String> {
    let Value::Known(estimate) = &headline.result.value else {
        return None;
    };
    Some(format!(
        "{}: {} ({}).",
        headline.title,
        words::estimate(headline.result.unit, estimate),
        headline.result.cohort
    ))
}

/// Points whose quarter is printed among the results of the measure; the others are gaps.
fn public_trend(measure: &str, trend: &[TrendPoint], fates: &Fates) -> Vec<TrendPoint> {
    trend
        .iter()
        .map(|point| {
            let of_quarter: Vec<&Told> = fates
                .told
                .iter()
                .filter(|told| told.measure == measure && told.period == point.quarter)
                .collect();
            let is_printed =
                !of_quarter.is_empty() && of_quarter.iter().all(|told| fates.is_printed(told));
            if point.estimate.is_none() {
                return TrendPoint {
                    n: point.n.filter(|n| *n == Count::Shown(0)),
                    ..point.clone()
                };
            }
            if !is_printed {
                return TrendPoint {
                    quarter: point.quarter.clone(),
                    estimate: None,
                    lower: None,
                    upper: None,
                    n: Some(Count::Suppressed),
                    absent: Some("suppressed".to_owned()),
                };
            }
            let coarse =
                |value: Option<f64>| value.map(|value| coarse(unit_of(&of_quarter), value));
            TrendPoint {
                estimate: coarse(point.estimate),
                lower: coarse(point.lower),
                upper: coarse(point.upper),
                ..point.clone()
            }
        })
        .collect()
}

fn unit_of(told: &[&Told]) -> Unit {
    told.first()
        .and_then(|told| Unit::from_code(&told.unit))
        .unwrap_or(Unit::Share)
}

/// A chart redrawn from what is printed, or nothing.
pub(super) fn public_figure(
    report: &Report,
    figure: &Figure,
    fates: &Fates,
    rules: DisclosureRules,
) -> Option<Figure> {
    match figure {
        Figure::CumulativeIncidence { .. } => {
            let printed: Vec<&MeasureResult> = published_results(report)
                .into_iter()
                .filter(|result| fates.is_printed(&Told::of(result)))
                .collect();
            coarse_curve(figure, &printed, rules)
        }
        Figure::StackedShares {
            frame,
            layers,
            quarters,
        } => {
            let measure = measure_of_bars(report, &frame.id)?;
            let quarters: Vec<StackedQuarter> = quarters
                .iter()
                .filter_map(|bar| public_bar(&measure, layers, bar, fates))
                .collect();
            // A bar is drawn only when all its layers are known; the table of the measure holds what else can be shown.
            let is_whole = |bar: &StackedQuarter| !bar.counts.contains(&Count::Suppressed);
            quarters.iter().any(is_whole).then(|| Figure::StackedShares {
                frame: FigureFrame {
                    title: "Shares of each class by quarter, as far as they can be shown".to_owned(),
                    caption: "Classes that hold too few people to be shown, and those that would give them away, are hidden."
                        .to_owned(),
                    alt: format!("Stacked bars for {} quarters.", quarters.len()),
                    ..frame.clone()
                },
                layers: layers.clone(),
                quarters,
            })
        }
        Figure::QuarterlyTrend {
            frame,
            unit,
            points,
            context,
        } => {
            let measure = frame.id.strip_suffix("-trend").unwrap_or(&frame.id);
            let points = public_trend(measure, points, fates);
            let n_known = points
                .iter()
                .filter(|point| point.estimate.is_some())
                .count();
            let title = report
                .families
                .iter()
                .flat_map(|family| &family.measures)
                .find(|sheet| sheet.id == measure)
                .map_or_else(
                    || "By quarter".to_owned(),
                    |sheet| format!("{}, by quarter", sheet.title),
                );
            (n_known > 0).then(|| Figure::QuarterlyTrend {
                frame: FigureFrame {
                    title,
                    caption: "Each point is one quarter's cohort with its interval. Quarters without a point are not mature \
                              yet, had nobody to count, or would show too few people. Most movement between quarters is chance."
                        .to_owned(),
                    alt: format!("{} have a value.", words::counted(n_known, "quarter", "quarters")),
                    ..frame.clone()
                },
                unit: *unit,
                points,
                context: context.clone(),
            })
        }
        Figure::IncidenceStack(stack) => {
            let mut curves = report.figures.iter();
            let all = curves.find(|figure| figure.frame().id == HEALING_CURVE)?;
            let printed = public_figure(report, all, fates, rules)?;
            coarse_stack(stack, all, &printed)
        }
        Figure::Movement(chart) => public_movement(report, chart, fates, rules),
        Figure::SmallMultiples(_)
        | Figure::IntervalBeside(_)
        | Figure::Trajectories(_)
        | Figure::FollowUpCalendar(_)
        | Figure::ControlChart(_)
        | Figure::Funnel(_)
        | Figure::Forest(_)
        | Figure::Pathway(_) => None,
    }
}

/// A chart of movement whole or not at all: with one flow hidden, the classes at both ends would give it away. It is printed when
/// no flow is small and every class at both ends is printed by itself, so that all it adds are counts above the limit.
fn public_movement(
    report: &Report,
    chart: &Movement,
    fates: &Fates,
    rules: DisclosureRules,
) -> Option<Figure> {
    let is_open = |flow: &MovementFlow| match flow.n {
        Count::Shown(n) => !is_small(n, rules.small_count),
        Count::Suppressed => false,
    };
    let ends = [&chart.from, &chart.to];
    let is_printed = |end: &String| {
        let quarter = end.strip_prefix(END_OF).unwrap_or(end);
        bars_of(report, &chart.frame.family, quarter).is_some_and(|(measure, layers, bar)| {
            let printed = public_bar(&measure, layers, bar, fates);
            printed.is_some_and(|bar| !bar.counts.contains(&Count::Suppressed))
        })
    };
    (chart.flows.iter().all(is_open) && ends.into_iter().all(is_printed))
        .then(|| Figure::Movement(chart.clone()))
}

/// The bar of a quarter in a family, with its measure and the names of its layers.
fn bars_of<'r>(
    report: &'r Report,
    family: &str,
    quarter: &str,
) -> Option<(String, &'r [String], &'r StackedQuarter)> {
    report.figures.iter().find_map(|figure| match figure {
        Figure::StackedShares {
            frame,
            layers,
            quarters,
        } if frame.family == family => {
            let bar = quarters.iter().find(|bar| bar.quarter == quarter)?;
            Some((measure_of_bars(report, &frame.id)?, layers.as_slice(), bar))
        }
        _ => None,
    })
}

/// A bar with its small layers hidden. Its total is shown as long as one layer is.
fn public_bar(
    measure: &str,
    layers: &[String],
    bar: &StackedQuarter,
    fates: &Fates,
) -> Option<StackedQuarter> {
    let counts: Vec<Count> = layers
        .iter()
        .zip(&bar.counts)
        .map(|(layer, count)| {
            if fates.is_printed(&Told::of_layer(measure, bar, layer, *count)) {
                *count
            } else {
                Count::Suppressed
            }
        })
        .collect();
    let is_empty = counts.iter().all(|count| *count == Count::Suppressed);
    (!is_empty).then(|| StackedQuarter {
        quarter: bar.quarter.clone(),
        counts,
        n: bar.n,
    })
}
