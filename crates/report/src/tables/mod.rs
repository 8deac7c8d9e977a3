//! Everything a report says as tables of typed cells: the workbook and the data files are written from these.

mod changes;
mod charts;
mod courses;
mod making;
mod method;
mod research;
mod results;

use crate::wording;
use outcomes::dataset::{Cell, Column, DataTable, date, number, text, whole};
use outcomes::report::{Estimate, Report, Unit, Value};

/// Every table that has a row, in reading order.
pub(crate) fn tables(report: &Report) -> Vec<DataTable> {
    let all = [
        results::headlines(report),
        results::headline_trends(report),
        making::actions(report),
        changes::sentences(report),
        changes::counts(report),
        changes::figures(report),
        results::results(report),
        results::splits(report),
        results::strata(report),
        courses::curves(report),
        courses::at_risk(report),
        courses::spans(report),
        courses::area_summary(report),
        charts::bars(report),
        charts::trends(report),
        charts::control_points(report),
        charts::watched(report),
        charts::forest_rows(report),
        charts::funnel_units(report),
        charts::funnel_limits(report),
        charts::movements(report),
        charts::pathway_steps(report),
        charts::figures(report),
        research::cohort(report),
        research::checklist(report),
        research::sensitivity(report),
        method::measures(report),
        method::rules(report),
        method::settings(report),
        method::words(report),
        making::flow(report),
        making::accounts(report),
        making::set_aside(report),
        making::findings(report),
        making::completeness(report),
        making::suppressions(report),
        method::files(report),
    ];
    all.into_iter()
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// A row that carries a value, so that every table words values alike.
trait Valued {
    fn value(&self) -> &Value;
    fn unit(&self) -> Unit;
}

/// Columns of a value: what is said on the page, the state, the number with its limits, and why there is none.
fn value_columns<T: Valued>() -> Vec<Column<T>> {
    vec![
        text(
            "in_words",
            "In words",
            "The value as the page says it.",
            |row: &T| Cell::from(wording::value(row.value(), row.unit())),
        ),
        text(
            "state",
            "State",
            "known, not-yet (not followed long enough), not-estimable (the number does not exist), not-reached (fewer than half ever get there) or suppressed (hidden to protect patients).",
            |row: &T| Cell::from(state(row.value())),
        ),
        text(
            "unit",
            "Unit",
            "Unit of value, limits and bounds: share (0 to 1), days, count, ratio, per-100-person-years, per-100-people, millimetres-per-week or per-week.",
            |row: &T| Cell::from(row.unit().code()),
        ),
        number(
            "value",
            "Value",
            "as in unit",
            "The estimate. Empty unless the state is known.",
            |row: &T| {
                Cell::measured(
                    estimate(row.value()).map(|known| known.estimate),
                    row.unit(),
                )
            },
        ),
        number(
            "lower",
            "Lower limit",
            "as in unit",
            "Lower end of the confidence interval. Empty where there is none.",
            |row: &T| Cell::measured(limits(row.value()).0, row.unit()),
        ),
        number(
            "upper",
            "Upper limit",
            "as in unit",
            "Upper end of the confidence interval. Empty where there is none or where it is open.",
            |row: &T| Cell::measured(limits(row.value()).1, row.unit()),
        ),
        number(
            "level",
            "Level",
            "share",
            "Level of the interval.",
            |row: &T| {
                Cell::measured(
                    interval(row.value()).map(|interval| interval.level),
                    Unit::Share,
                )
            },
        ),
        text(
            "method",
            "Interval method",
            "How the interval was made.",
            |row: &T| Cell::from(interval(row.value()).map(|interval| &interval.method)),
        ),
        date(
            "matures_on",
            "Mature from",
            "First data cut-off at which a figure that is not yet mature will be.",
            |row: &T| match row.value() {
                Value::NotYet { matures_on } => Cell::from(*matures_on),
                _ => Cell::Absent,
            },
        ),
    ]
}

fn state(value: &Value) -> &'static str {
    match value {
        // A number that is not finite is not estimable, as on the page.
        Value::Known(known) if !known.estimate.is_finite() => "not-estimable",
        Value::Known(_) => "known",
        Value::NotYet { .. } => "not-yet",
        Value::NotEstimable { .. } => "not-estimable",
        Value::NotReached { .. } => "not-reached",
        Value::Suppressed => "suppressed",
    }
}

fn estimate(value: &Value) -> Option<&Estimate> {
    match value {
        Value::Known(known) => Some(known),
        _ => None,
    }
}

fn interval(value: &Value) -> Option<&outcomes::report::Interval> {
    estimate(value)?.interval.as_ref()
}

fn limits(value: &Value) -> (Option<f64>, Option<f64>) {
    match value {
        Value::NotReached { lower } => (*lower, None),
        _ => interval(value).map_or((None, None), |interval| (interval.lower, interval.upper)),
    }
}

/// The column that names a figure.
fn figure_column<T>(cell: fn(&T) -> Cell) -> Column<T> {
    text(
        "figure",
        "Figure",
        "Id of the figure; table figures has its words.",
        cell,
    )
}

/// A column of people, ulcers or limbs counted.
fn counted<T>(
    name: &'static str,
    title: &'static str,
    words: &'static str,
    cell: fn(&T) -> Cell,
) -> Column<T> {
    whole(name, title, "count", words, cell)
}
