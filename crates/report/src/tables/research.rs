//! What the auditor and the researcher ask: what each rule decides, who was followed, where the statements are answered.

use super::counted;
use outcomes::dataset::{Cell, Column, DataTable, number, text, yes_no};
use outcomes::report::words::value_with_counts;
use outcomes::report::{
    ChecklistItem, CohortCell, CohortGroup, MeasureResult, Report, SensitiveFigure, Sensitivity,
    Unit, Value,
};

/// One headline figure under one alternative; `figure` is `None` where it comes out the same.
struct Tried<'r> {
    line: &'r Sensitivity,
    measure: &'r str,
    figure: Option<&'r SensitiveFigure>,
}

impl<'r> Tried<'r> {
    fn in_force(&self) -> Option<&'r MeasureResult> {
        self.figure.map(|figure| &figure.in_force)
    }

    fn alternative(&self) -> Option<&'r MeasureResult> {
        self.figure.map(|figure| &figure.alternative)
    }

    fn unit(&self) -> Option<Unit> {
        self.in_force().map(|result| result.unit)
    }

    fn number(&self, result: Option<&MeasureResult>) -> Cell {
        match (result.map(|result| &result.value), self.unit()) {
            (Some(Value::Known(known)), Some(unit)) => Cell::measured(Some(known.estimate), unit),
            _ => Cell::Absent,
        }
    }
}

/// The headline figures under every named alternative.
pub(super) fn sensitivity(report: &Report) -> DataTable {
    let columns: Vec<Column<Tried<'_>>> = vec![
        text(
            "rule",
            "Rule",
            "Name of the setting, or what else is changed.",
            |row| Cell::from(&row.line.rule),
        ),
        text(
            "decides",
            "What it decides",
            "What the rule decides.",
            |row| Cell::from(&row.line.words),
        ),
        text(
            "in_force",
            "In force",
            "The rule's value in this report.",
            |row| Cell::from(&row.line.in_force),
        ),
        text(
            "alternative",
            "Alternative",
            "The value tried instead.",
            |row| Cell::from(&row.line.alternative),
        ),
        text(
            "measure",
            "Measure",
            "Id of the headline's measure.",
            |row| Cell::from(row.measure),
        ),
        yes_no(
            "changed",
            "Changed",
            "Whether the figure comes out otherwise. Where it does not, the columns after this one are empty.",
            |row| Cell::from(row.figure.is_some()),
        ),
        text(
            "period",
            "Period",
            "Quarter or span of quarters of the cohort.",
            |row| Cell::from(row.in_force().map(|result| &result.period)),
        ),
        text("stratum", "Stratum", "Part of the cohort, or all.", |row| {
            Cell::from(row.in_force().map(|result| &result.stratum))
        }),
        text(
            "unit",
            "Unit",
            "Unit of the values and the difference.",
            |row| Cell::from(row.unit().map(Unit::code)),
        ),
        text(
            "in_force_in_words",
            "In force, in words",
            "The figure of this report as the page says it.",
            |row| Cell::from(row.in_force().map(value_with_counts)),
        ),
        text(
            "alternative_in_words",
            "Alternative, in words",
            "The figure under the alternative as the page says it.",
            |row| Cell::from(row.alternative().map(value_with_counts)),
        ),
        number(
            "value_in_force",
            "Value in force",
            "as in unit",
            "The estimate of this report. Empty where it has none.",
            |row| row.number(row.in_force()),
        ),
        number(
            "value_alternative",
            "Value under the alternative",
            "as in unit",
            "The estimate under the alternative. Empty where it has none.",
            |row| row.number(row.alternative()),
        ),
        number(
            "difference",
            "Difference",
            "as in unit",
            "Alternative less value in force. Empty where one of them has no value.",
            |row| match (row.figure.and_then(|figure| figure.difference), row.unit()) {
                (Some(difference), Some(unit)) => Cell::measured(Some(difference), unit),
                _ => Cell::Absent,
            },
        ),
    ];
    let rows = report.sensitivity.iter().flat_map(|line| {
        let changed = line.changed.iter().map(move |figure| Tried {
            line,
            measure: &figure.in_force.measure,
            figure: Some(figure),
        });
        let unchanged = line.unchanged.iter().map(move |measure| Tried {
            line,
            measure,
            figure: None,
        });
        changed.chain(unchanged)
    });
    let words = "A row an alternative value of a rule and a headline figure, made again with that one rule changed. A large difference says that the rule decides the figure; it does not say which value is right.";
    DataTable::new(
        ["sensitivity", "How much rules decide", words],
        columns,
        rows,
    )
}

struct Described<'r> {
    group: &'r CohortGroup,
    value: &'r str,
    year: &'r str,
    cell: &'r CohortCell,
}

impl Described<'_> {
    fn quartile(&self, place: usize) -> Cell {
        let quartiles = self.cell.quartiles;
        let found = quartiles.and_then(|three| three.get(place).copied());
        Cell::measured(found, Unit::Count)
    }
}

/// Who was followed, a row a value of a characteristic and year.
pub(super) fn cohort(report: &Report) -> DataTable {
    let columns: Vec<Column<Described<'_>>> = vec![
        text(
            "characteristic",
            "Characteristic",
            "What is described, with its unit.",
            |row| Cell::from(&row.group.title),
        ),
        text(
            "described",
            "Of",
            "Whether ulcers or people are described.",
            |row| Cell::from(&row.group.of),
        ),
        text(
            "value",
            "Value",
            "The value, the last for what is not recorded.",
            |row| Cell::from(row.value),
        ),
        text(
            "year",
            "Year",
            "Calendar year of the first visit, or all.",
            |row| Cell::from(row.year),
        ),
        text(
            "in_words",
            "In words",
            "The cell as the page says it.",
            |row| Cell::from(&row.cell.words),
        ),
        counted("n", "How many", "How many have this value.", |row| {
            Cell::from(row.cell.n)
        }),
        counted("of", "Out of", "Out of how many.", |row| {
            Cell::from(row.cell.of)
        }),
        number(
            "first_quartile",
            "First quartile",
            "as in characteristic",
            "A quarter of the measured values lie at or below it. Empty where the row describes no measured value.",
            |row| row.quartile(0),
        ),
        number(
            "median",
            "Median",
            "as in characteristic",
            "Half of the measured values lie at or below it.",
            |row| row.quartile(1),
        ),
        number(
            "third_quartile",
            "Third quartile",
            "as in characteristic",
            "Three quarters of the measured values lie at or below it.",
            |row| row.quartile(2),
        ),
    ];
    let table = &report.cohort_table;
    let rows = table.groups.iter().flat_map(|group| {
        group.rows.iter().flat_map(move |row| {
            let cells = table.columns.iter().zip(&row.cells);
            cells.map(move |(year, cell)| Described {
                group,
                value: &row.label,
                year,
                cell,
            })
        })
    });
    let words = "A row a value of a characteristic and calendar year: ulcers first seen here and the people who had them, as they were at the first visit. Differences between years are not tested.";
    DataTable::new(
        ["who-was-followed", "Who was followed", words],
        columns,
        rows,
    )
}

/// Where the reporting statements are answered.
pub(super) fn checklist(report: &Report) -> DataTable {
    let columns: Vec<Column<&ChecklistItem>> = vec![
        text("statement", "Statement", "STROBE or RECORD.", |row| {
            Cell::from(&row.statement)
        }),
        text(
            "item",
            "Item",
            "Number of the item in the statement.",
            |row| Cell::from(&row.item),
        ),
        text(
            "asks",
            "Asks for",
            "What the item asks for, in our words.",
            |row| Cell::from(&row.asks),
        ),
        text(
            "answer",
            "Where",
            "Where the report answers it, or what people must add.",
            |row| Cell::from(&row.answer),
        ),
        yes_no(
            "for_people",
            "For people",
            "Whether only people can answer it.",
            |row| Cell::from(row.is_for_people),
        ),
    ];
    let words =
        "A row an item of a statement on reporting studies, and where this report answers it.";
    DataTable::new(
        ["reporting-statements", "Reporting statements", words],
        columns,
        &report.checklist,
    )
}
