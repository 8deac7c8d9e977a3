//! Curves over time with numbers at risk, estimates between visits, and areas.

use super::{counted, figure_column};
use outcomes::dataset::{Cell, DataTable, number, text};
use outcomes::report::{
    AtRiskRow, BandPoint, Count, Figure, IncidenceCurve, IntervalMass, Report, Unit,
};

/// A curve and where it stands.
struct Curve<'r> {
    figure: &'r str,
    panel: &'r str,
    curve: &'r IncidenceCurve,
}

fn curves_of(figure: &Figure) -> Vec<Curve<'_>> {
    let id = figure.frame().id.as_str();
    let own = |curve| Curve {
        figure: id,
        panel: "",
        curve,
    };
    match figure {
        Figure::CumulativeIncidence { curves, .. } => curves.iter().map(own).collect(),
        Figure::IncidenceStack(chart) => chart.layers.iter().map(own).collect(),
        Figure::IntervalBeside(chart) => vec![own(&chart.conventional)],
        Figure::SmallMultiples(chart) => chart
            .panels
            .iter()
            .flat_map(|panel| {
                panel.curves.iter().map(|curve| Curve {
                    figure: id,
                    panel: &panel.label,
                    curve,
                })
            })
            .collect(),
        _ => Vec::new(),
    }
}

/// Every step of every curve.
pub(super) fn curves(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r str, &'r IncidenceCurve, &'r BandPoint);
    let columns = vec![
        figure_column(|(figure, ..): &Row<'_>| Cell::from(*figure)),
        text(
            "panel",
            "Panel",
            "Stratum of the panel; empty where the figure has one panel.",
            |row| Cell::from(row.1),
        ),
        text("curve", "Curve", "Outcome that the curve follows.", |row| {
            Cell::from(&row.2.label)
        }),
        number(
            "day",
            "Day",
            "days",
            "Day of the step, counted from the start of the clock.",
            |row| Cell::measured(row.3.day, Unit::Days),
        ),
        number(
            "value",
            "Value",
            "share",
            "Probability from this day on; it is 0 before the first step.",
            |row| Cell::measured(row.3.estimate, Unit::Share),
        ),
        number(
            "lower",
            "Lower limit",
            "share",
            "Lower end of the confidence interval.",
            |row| Cell::measured(row.3.lower, Unit::Share),
        ),
        number(
            "upper",
            "Upper limit",
            "share",
            "Upper end of the confidence interval.",
            |row| Cell::measured(row.3.upper, Unit::Share),
        ),
        number(
            "until_day",
            "Curve ends",
            "days",
            "The curve says nothing after this day: too few are at risk.",
            |row| Cell::measured(row.2.until_day, Unit::Days),
        ),
    ];
    let rows = report.figures.iter().flat_map(|figure| {
        curves_of(figure).into_iter().flat_map(
            |Curve {
                 figure,
                 panel,
                 curve,
             }| {
                curve
                    .points
                    .iter()
                    .map(move |point| (figure, panel, curve, point))
            },
        )
    });
    let words = "A row a step of a curve. Competing events are allowed for; a value holds until the next step.";
    DataTable::new(["curves", "Curves", words], columns, rows)
}

struct AtRisk<'r> {
    figure: &'r str,
    group: &'r str,
    day: u32,
    n: Count,
}

/// Numbers at risk at every tick of every figure with curves.
pub(super) fn at_risk(report: &Report) -> DataTable {
    let columns = vec![
        figure_column(|row: &AtRisk<'_>| Cell::from(row.figure)),
        text(
            "group",
            "Group",
            "Panel or row of the table under the figure.",
            |row| Cell::from(row.group),
        ),
        counted("day", "Day", "Day since the start of the clock.", |row| {
            Cell::from(row.day)
        }),
        counted(
            "n",
            "At risk",
            "How many are still followed without an outcome just before this day.",
            |row| Cell::from(row.n),
        ),
    ];
    let rows = report.figures.iter().flat_map(at_risk_of);
    let words = "A row a day and group: how many an estimate at that day rests on.";
    DataTable::new(["numbers-at-risk", "Numbers at risk", words], columns, rows)
}

fn at_risk_of(figure: &Figure) -> Vec<AtRisk<'_>> {
    let id = figure.frame().id.as_str();
    match figure {
        Figure::CumulativeIncidence { ticks, at_risk, .. } => by_row(id, ticks, at_risk),
        Figure::IncidenceStack(chart) => by_row(id, &chart.ticks, &chart.at_risk),
        Figure::SmallMultiples(chart) => chart
            .panels
            .iter()
            .flat_map(|panel| at_ticks(id, &panel.label, &chart.ticks, &panel.at_risk))
            .collect(),
        _ => Vec::new(),
    }
}

fn by_row<'r>(figure: &'r str, ticks: &'r [u32], rows: &'r [AtRiskRow]) -> Vec<AtRisk<'r>> {
    let of_row = |row: &'r AtRiskRow| at_ticks(figure, &row.label, ticks, &row.counts);
    rows.iter().flat_map(of_row).collect()
}

fn at_ticks<'r>(
    figure: &'r str,
    group: &'r str,
    ticks: &'r [u32],
    counts: &'r [Count],
) -> impl Iterator<Item = AtRisk<'r>> {
    let at_tick = move |(&day, &n)| AtRisk {
        figure,
        group,
        day,
        n,
    };
    ticks.iter().zip(counts).map(at_tick)
}

/// Where the estimate that knows only the interval between visits puts its probability.
pub(super) fn spans(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r IntervalMass);
    let columns = vec![
        figure_column(|(figure, _): &Row<'_>| Cell::from(*figure)),
        number(
            "after_day",
            "After day",
            "days",
            "Not yet on this day.",
            |(_, span)| Cell::measured(span.after_day, Unit::Days),
        ),
        number(
            "by_day",
            "By day",
            "days",
            "By this day. Empty where it is not known ever to happen.",
            |(_, span)| Cell::measured(span.by_day, Unit::Days),
        ),
        number(
            "probability",
            "Probability",
            "share",
            "Probability of the span; within it the day is not known.",
            |(_, span)| Cell::measured(span.probability, Unit::Share),
        ),
    ];
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::IntervalBeside(chart) => chart
            .masses
            .iter()
            .map(|span| (chart.frame.id.as_str(), span))
            .collect(),
        _ => Vec::new(),
    });
    let words = "A row a span between visits, from the estimate that does not take the first visit that saw an event as its day.";
    DataTable::new(["between-visits", "Between visits", words], columns, rows)
}

/// The middle of the area courses.
pub(super) fn area_summary(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r BandPoint);
    let columns = vec![
        figure_column(|(figure, _): &Row<'_>| Cell::from(*figure)),
        number(
            "day",
            "Day",
            "days",
            "Day since the first visit.",
            |(_, point)| Cell::measured(point.day, Unit::Days),
        ),
        number(
            "median",
            "Median",
            "share",
            "Median area as a share of the first area.",
            |(_, point)| Cell::measured(point.estimate, Unit::Share),
        ),
        number(
            "lower_quartile",
            "Lower quartile",
            "share",
            "A quarter of the ulcers lie below.",
            |(_, point)| Cell::measured(point.lower, Unit::Share),
        ),
        number(
            "upper_quartile",
            "Upper quartile",
            "share",
            "A quarter of the ulcers lie above.",
            |(_, point)| Cell::measured(point.upper, Unit::Share),
        ),
    ];
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::Trajectories(chart) => chart
            .summary
            .iter()
            .map(|point| (chart.frame.id.as_str(), point))
            .collect(),
        _ => Vec::new(),
    });
    let words = "A row a day: how the areas of the ulcers lie, as a share of their first area.";
    DataTable::new(["area-summary", "Areas", words], columns, rows)
}
