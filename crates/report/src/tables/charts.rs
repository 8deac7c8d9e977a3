//! The numbers behind charts other than curves.

use super::results::{Quarterly, trend_columns};
use super::{Valued, counted, figure_column, value_columns};
use outcomes::dataset::{Cell, Column, DataTable, number, text, yes_no};
use outcomes::report::{
    ControlPoint, Count, Figure, ForestRow, FunnelLimit, FunnelUnit, PathwayStep, Report,
    StackedQuarter, Unit, Value, WatchedSeries,
};

/// The words around every figure.
pub(super) fn figures(report: &Report) -> DataTable {
    let columns = vec![
        figure_column(|figure: &&Figure| Cell::from(&figure.frame().id)),
        text(
            "family",
            "Family",
            "Family of measures it stands beside.",
            |figure| Cell::from(&figure.frame().family),
        ),
        text(
            "title",
            "Finding",
            "What the figure shows, as a sentence.",
            |figure| Cell::from(&figure.frame().title),
        ),
        text(
            "caption",
            "Caption",
            "What is drawn, of whom, and how to read it.",
            |figure| Cell::from(&figure.frame().caption),
        ),
        text(
            "in_words",
            "Picture in words",
            "The picture for those who cannot see it.",
            |figure| Cell::from(&figure.frame().alt),
        ),
        yes_no(
            "partly_hidden",
            "Partly hidden",
            "Whether counts of it are hidden to protect patients.",
            |figure| Cell::from(figure.is_partly_hidden()),
        ),
    ];
    let words = "A row a figure of the report.";
    DataTable::new(["figures", "Figures", words], columns, &report.figures)
}

/// Parts of stacked bars.
pub(super) fn bars(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r StackedQuarter, &'r str, Count);
    let columns = vec![
        figure_column(|row: &Row<'_>| Cell::from(row.0)),
        text("quarter", "Quarter", "Calendar quarter.", |row| {
            Cell::from(&row.1.quarter)
        }),
        text("part", "Part", "Class or ending.", |row| Cell::from(row.2)),
        counted("n", "n", "How many are in this part.", |row| {
            Cell::from(row.3)
        }),
        counted(
            "n_of_quarter",
            "n of the quarter",
            "How many are behind the whole bar.",
            |row| Cell::from(row.1.n),
        ),
    ];
    fn parts<'r>(
        id: &'r str,
        layers: &'r [String],
        quarters: &'r [StackedQuarter],
    ) -> Vec<Row<'r>> {
        let of_quarter = |quarter: &'r StackedQuarter| {
            let parts = layers.iter().zip(&quarter.counts);
            parts.map(move |(layer, n)| (id, quarter, layer.as_str(), *n))
        };
        quarters.iter().flat_map(of_quarter).collect()
    }
    let rows = report.figures.iter().flat_map(|figure| {
        let id = figure.frame().id.as_str();
        match figure {
            Figure::StackedShares {
                layers, quarters, ..
            } => parts(id, layers, quarters),
            Figure::FollowUpCalendar(chart) => parts(id, &chart.endings, &chart.quarters),
            _ => Vec::new(),
        }
    });
    let words = "A row a part of a quarter's bar.";
    DataTable::new(
        ["parts-by-quarter", "Parts by quarter", words],
        columns,
        rows,
    )
}

/// Measures by quarter, as drawn.
pub(super) fn trends(report: &Report) -> DataTable {
    let mut columns = vec![figure_column(|row: &Quarterly<'_>| Cell::from(row.of))];
    columns.extend(trend_columns());
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::QuarterlyTrend {
            frame,
            unit,
            points,
            ..
        } => {
            let quarterly = |point| Quarterly {
                of: &frame.id,
                unit: *unit,
                point,
            };
            points.iter().map(quarterly).collect()
        }
        _ => Vec::new(),
    });
    let words = "A row a quarter of a trend figure. Neighbouring quarters often differ by chance.";
    DataTable::new(["trends", "Trends", words], columns, rows)
}

struct Watched<'r> {
    figure: &'r str,
    unit: Unit,
    point: &'r ControlPoint,
}

impl Valued for Watched<'_> {
    fn value(&self) -> &Value {
        &self.point.value
    }
    fn unit(&self) -> Unit {
        self.unit
    }
}

/// Points of control charts and cumulative sums.
pub(super) fn control_points(report: &Report) -> DataTable {
    let mut columns: Vec<Column<Watched<'_>>> = vec![
        figure_column(|row| Cell::from(row.figure)),
        text(
            "point",
            "Point",
            "Quarter, or the number or date of an event.",
            |row| Cell::from(&row.point.label),
        ),
    ];
    columns.extend(value_columns());
    columns.extend([
        counted(
            "n",
            "n",
            "How many are behind the point.",
            |row: &Watched<'_>| Cell::from(row.point.n),
        ),
        number(
            "centre",
            "Centre",
            "as in unit",
            "Centre of the chart at this point.",
            |row| Cell::measured(row.point.centre, row.unit),
        ),
        number(
            "lower_bound",
            "Lower bound of the chart",
            "as in unit",
            "Limit below which chance alone seldom leads.",
            |row| Cell::measured(row.point.lower, row.unit),
        ),
        number(
            "upper_bound",
            "Upper bound of the chart",
            "as in unit",
            "Limit above which chance alone seldom leads.",
            |row| Cell::measured(row.point.upper, row.unit),
        ),
        text(
            "signals",
            "Signals",
            "Rules that this point completes.",
            |row| Cell::from(row.point.signals.join("; ")),
        ),
    ]);
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::ControlChart(chart) => {
            let watched = |point| Watched {
                figure: &chart.frame.id,
                unit: chart.unit,
                point,
            };
            chart.points.iter().map(watched).collect()
        }
        _ => Vec::new(),
    });
    let words = "A row a point of a control chart. A signal asks for a look; it does not say why.";
    DataTable::new(["control-points", "Control charts", words], columns, rows)
}

/// Every series watched.
pub(super) fn watched(report: &Report) -> DataTable {
    let columns = vec![
        text(
            "series",
            "Series",
            "What is watched.",
            |row: &&WatchedSeries| Cell::from(&row.title),
        ),
        text(
            "figure",
            "Figure",
            "Id of its figure; empty where there is none.",
            |row| Cell::from(row.figure.as_ref()),
        ),
        text(
            "finding",
            "Finding",
            "What was found, or why there is no chart.",
            |row| Cell::from(&row.finding),
        ),
        yes_no(
            "is_signal",
            "Signal",
            "Whether the rules gave a signal.",
            |row| Cell::from(row.is_signal),
        ),
    ];
    let words = "A row a series watched over the quarters, charted or not.";
    DataTable::new(
        ["watched-series", "Is it chance", words],
        columns,
        &report.monitoring.series,
    )
}

struct Compared<'r> {
    figure: &'r str,
    unit: Unit,
    row: &'r ForestRow,
}

impl Valued for Compared<'_> {
    fn value(&self) -> &Value {
        &self.row.value
    }
    fn unit(&self) -> Unit {
        self.unit
    }
}

/// Estimates side by side.
pub(super) fn forest_rows(report: &Report) -> DataTable {
    let mut columns: Vec<Column<Compared<'_>>> = vec![
        figure_column(|row| Cell::from(row.figure)),
        text("group", "Group", "Heading the row stands under.", |row| {
            Cell::from(row.row.group.as_ref())
        }),
        text("row", "Row", "What is estimated.", |row| {
            Cell::from(&row.row.label)
        }),
    ];
    columns.extend(value_columns());
    columns.extend([
        counted(
            "n",
            "n",
            "How many are behind the estimate.",
            |row: &Compared<'_>| Cell::from(row.row.n),
        ),
        counted(
            "events",
            "Events",
            "How many of them had the event.",
            |row| Cell::from(row.row.n_events),
        ),
    ]);
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::Forest(chart) => {
            let compared = |row| Compared {
                figure: &chart.frame.id,
                unit: chart.unit,
                row,
            };
            chart.rows.iter().map(compared).collect()
        }
        _ => Vec::new(),
    });
    let words = "A row an estimate that is drawn beside others. Their order is no ranking.";
    DataTable::new(["side-by-side", "Side by side", words], columns, rows)
}

struct Unitary<'r> {
    figure: &'r str,
    unit: Unit,
    of: &'r FunnelUnit,
}

impl Valued for Unitary<'_> {
    fn value(&self) -> &Value {
        &self.of.value
    }
    fn unit(&self) -> Unit {
        self.unit
    }
}

/// Sites and clinicians beside the limits of chance.
pub(super) fn funnel_units(report: &Report) -> DataTable {
    let mut columns: Vec<Column<Unitary<'_>>> = vec![
        figure_column(|row| Cell::from(row.figure)),
        text(
            "unit_name",
            "Site or clinician",
            "Name or key as in the export.",
            |row| Cell::from(&row.of.label),
        ),
    ];
    columns.extend(value_columns());
    columns.extend([
        number(
            "size",
            "Size",
            "count",
            "Place on the horizontal axis. Empty where it is hidden.",
            |row: &Unitary<'_>| Cell::from(row.of.size),
        ),
        counted("n", "n", "How many are counted.", |row| {
            Cell::from(row.of.n)
        }),
        text(
            "place",
            "Place",
            "Where it lies among the limits of chance.",
            |row| Cell::from(&row.of.place),
        ),
    ]);
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::Funnel(chart) => {
            let unitary = |of| Unitary {
                figure: &chart.frame.id,
                unit: chart.unit,
                of,
            };
            chart.units.iter().map(unitary).collect()
        }
        _ => Vec::new(),
    });
    let words = "A row a site or clinician, in name order: no order of merit follows from it.";
    DataTable::new(
        ["sites-and-clinicians", "Sites and clinicians", words],
        columns,
        rows,
    )
}

struct Limit<'r> {
    figure: &'r str,
    unit: Unit,
    level: f64,
    point: &'r FunnelLimit,
}

/// Limits of chance by size.
pub(super) fn funnel_limits(report: &Report) -> DataTable {
    let columns: Vec<Column<Limit<'_>>> = vec![
        figure_column(|row| Cell::from(row.figure)),
        number("level", "Level", "share", "Level of the limits.", |row| {
            Cell::measured(row.level, Unit::Share)
        }),
        number("size", "Size", "count", "Size of a unit.", |row| {
            Cell::from(row.point.size)
        }),
        number(
            "lower",
            "Lower limit",
            "unit of the figure",
            "Lower limit at this size.",
            |row| Cell::measured(row.point.lower, row.unit),
        ),
        number(
            "upper",
            "Upper limit",
            "unit of the figure",
            "Upper limit at this size.",
            |row| Cell::measured(row.point.upper, row.unit),
        ),
    ];
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::Funnel(chart) => chart
            .limits
            .iter()
            .flat_map(|limits| {
                limits.points.iter().map(|point| Limit {
                    figure: &chart.frame.id,
                    unit: chart.unit,
                    level: limits.level,
                    point,
                })
            })
            .collect(),
        _ => Vec::new(),
    });
    let words =
        "A row a size: the limits within which chance alone would leave a unit of that size.";
    DataTable::new(
        ["limits-of-chance", "Limits of chance", words],
        columns,
        rows,
    )
}

/// People who went from one class to another.
pub(super) fn movements(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, [&'r str; 4], Count);
    let columns: Vec<Column<Row<'_>>> = vec![
        figure_column(|row| Cell::from(row.0)),
        text("from", "From", "When it begins.", |row| {
            Cell::from(row.1[0])
        }),
        text("to", "To", "When it ends.", |row| Cell::from(row.1[1])),
        text(
            "from_class",
            "From class",
            "Class at the beginning.",
            |row| Cell::from(row.1[2]),
        ),
        text("to_class", "To class", "Class at the end.", |row| {
            Cell::from(row.1[3])
        }),
        counted(
            "n",
            "n",
            "How many. A pair of classes that is not named has nobody.",
            |row| Cell::from(row.2),
        ),
    ];
    let rows = report.figures.iter().flat_map(|figure| match figure {
        Figure::Movement(chart) => chart
            .flows
            .iter()
            .filter_map(|flow| {
                let from_class = chart.from_classes.get(flow.from)?;
                let to_class = chart.to_classes.get(flow.to)?;
                let words = [chart.from.as_str(), &chart.to, from_class, to_class];
                Some((chart.frame.id.as_str(), words, flow.n))
            })
            .collect(),
        _ => Vec::new(),
    });
    let words = "A row a pair of classes: how many went from one to the other.";
    DataTable::new(["movements", "Movements", words], columns, rows)
}

struct Reached<'r> {
    figure: &'r str,
    start: &'r str,
    n: Count,
    step: &'r PathwayStep,
    day: Option<u32>,
    value: &'r Value,
}

impl Valued for Reached<'_> {
    fn value(&self) -> &Value {
        self.value
    }
    fn unit(&self) -> Unit {
        if self.day.is_some() {
            Unit::Share
        } else {
            Unit::Days
        }
    }
}

/// Steps of pathways: shares that reached them by given days, and the day half had.
pub(super) fn pathway_steps(report: &Report) -> DataTable {
    let mut columns: Vec<Column<Reached<'_>>> = vec![
        figure_column(|row| Cell::from(row.figure)),
        text("start", "Start", "What starts the clock.", |row| {
            Cell::from(row.start)
        }),
        text("step", "Step", "Name of the step.", |row| {
            Cell::from(&row.step.label)
        }),
        counted(
            "by_day",
            "By day",
            "Day by which the share is given. Empty in the row of the median.",
            |row| Cell::from(row.day),
        ),
    ];
    columns.extend(value_columns());
    columns.extend([
        counted(
            "reached",
            "Reached",
            "How many have reached the step at all.",
            |row: &Reached<'_>| Cell::from(row.step.n_reached),
        ),
        counted("n", "n", "How many started.", |row| Cell::from(row.n)),
    ]);
    let rows = report.figures.iter().flat_map(|figure| {
        let Figure::Pathway(chart) = figure else {
            return Vec::new();
        };
        let reached = |step, day, value| Reached {
            figure: &chart.frame.id,
            start: &chart.start,
            n: chart.n,
            step,
            day,
            value,
        };
        let mut rows = Vec::new();
        for step in &chart.steps {
            let by_day = chart.days.iter().zip(&step.reached);
            rows.extend(by_day.map(|(day, value)| reached(step, Some(*day), value)));
            rows.push(reached(step, None, &step.median_days));
        }
        rows
    });
    let words = "A row a step and day: the share that reached the step by then, competing events allowed for; then the days until half had.";
    DataTable::new(["pathway-steps", "Pathway", words], columns, rows)
}
