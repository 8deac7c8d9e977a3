//! The plain-words section at the top of the page.

use super::table::{ABSENT, cell, numbers, scrolling, values, words};
use crate::{RenderError, chart, wording};
use maud::{Markup, PreEscaped, html};
use outcomes::report::{Count, Headline, MeasureResult, Report, TrendPoint, Unit, Value};

/// The plain-words page: what happened, the headline measures, and what chance can do.
pub(crate) fn section(report: &Report) -> Result<Markup, RenderError> {
    let page = &report.front_page;
    let headlines = page
        .headlines
        .iter()
        .enumerate()
        .map(|(place, headline)| card(headline, place + 1))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(html! {
        section #in-plain-words aria-labelledby="in-plain-words-title" {
            h2 #in-plain-words-title { "In plain words" }
            ul.sentences { @for sentence in &page.sentences { li { (sentence) } } }
            div.cards { @for headline in &headlines { (headline) } }
            p.chance { (page.chance) }
        }
    })
}

fn card(headline: &Headline, number: usize) -> Result<Markup, RenderError> {
    let result = &headline.result;
    let anchor = format!("headline-{number}");
    let picture = if headline.trend.is_empty() {
        None
    } else {
        Some(chart::sparkline(
            &headline.trend,
            result.unit,
            &headline.title,
            &anchor,
        )?)
    };
    let is_number = matches!(result.value, Value::Known(_));
    Ok(html! {
        article.card {
            h3 { (headline.title) }
            p class=(if is_number { "value" } else { "value absent-value" }) { (wording::value(&result.value, result.unit)) }
            @if let Some(interval) = interval(result) { p.interval { (interval) } }
            p.people { (result.cohort) @if let Some(of) = fraction(result) { " · " (of) } (unknown(result)) }
            @if let Some(picture) = &picture { (PreEscaped(picture)) }
            @if let Some(expectation) = &headline.expectation { p.reading { (expectation) } }
            p.reading { (headline.reading) }
            @if picture.is_some() {
                details { summary { "Values by quarter" } (quarters(&headline.title, &headline.trend, result.unit)) }
            }
        }
    })
}

/// The interval with its level, or that a number has none. Absent values need no such line.
pub(crate) fn interval(result: &MeasureResult) -> Option<String> {
    let limits = wording::value_limits(&result.value, result.unit);
    match (&result.value, limits) {
        (Value::Known(estimate), Some(limits)) => {
            let level = estimate
                .interval
                .as_ref()
                .map(|interval| wording::level(interval.level))?;
            Some(format!("{level} interval {limits}"))
        }
        (Value::Known(_), None) => Some("no interval".to_owned()),
        (_, limits) => limits.map(|limits| format!("interval {limits}")),
    }
}

/// How many outcomes are unknown, where any is: they are why the share is not the fraction.
pub(crate) fn unknown(result: &MeasureResult) -> String {
    match result.n_unknown {
        Some(Count::Shown(n)) if n > 0 => format!(", {n} unknown"),
        _ => String::new(),
    }
}

/// Numerator and denominator in words: `17 of 41`, or `n = 41` where there is no numerator.
pub(crate) fn fraction(result: &MeasureResult) -> Option<String> {
    let denominator = result.denominator?;
    Some(match result.numerator {
        Some(Count::Suppressed) if denominator == Count::Suppressed => denominator.to_string(),
        Some(numerator) => format!("{numerator} of {denominator}"),
        None => format!("n = {denominator}"),
    })
}

/// The points of a trend as a table.
pub(crate) fn quarters(caption: &str, trend: &[TrendPoint], unit: Unit) -> Markup {
    let rows: Vec<Vec<Markup>> = trend
        .iter()
        .map(|point| {
            let limits = point
                .estimate
                .and_then(|_| wording::between(unit, point.lower, point.upper));
            vec![
                cell(&point.quarter),
                cell(wording::trend_value(point, unit)),
                cell(limits.as_deref().unwrap_or(ABSENT)),
                cell(point.n.map_or_else(|| ABSENT.to_owned(), |n| n.to_string())),
            ]
        })
        .collect();
    let columns = [
        words("Quarter"),
        values("Value"),
        numbers("Interval"),
        numbers("n"),
    ];
    scrolling(&format!("{caption}, by quarter"), &columns, &rows)
}
