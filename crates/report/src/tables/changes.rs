//! What became of the figures of an earlier report.

use super::counted;
use outcomes::dataset::{Cell, Column, DataTable, number, text};
use outcomes::report::words::value_with_counts;
use outcomes::report::{ChangeCount, ChangedResult, MeasureResult, Report, Value};

/// What changed, in sentences.
pub(super) fn sentences(report: &Report) -> DataTable {
    let columns: Vec<Column<(&str, &str)>> = vec![
        text(
            "about",
            "About",
            "figures: what became of them; runs: what is different between the two.",
            |row| Cell::from(row.0),
        ),
        text("sentence", "Sentence", "What changed, in words.", |row| {
            Cell::from(row.1)
        }),
    ];
    let rows = report.changes.iter().flat_map(|changes| {
        let figures = changes
            .sentences
            .iter()
            .map(|words| ("figures", words.as_str()));
        let runs = changes
            .differences
            .iter()
            .map(|words| ("runs", words.as_str()));
        figures.chain(runs)
    });
    let words = "A row a sentence on what changed since the earlier report.";
    DataTable::new(
        ["changes-in-words", "What changed, in words", words],
        columns,
        rows,
    )
}

/// Changed figures by measure and cause.
pub(super) fn counts(report: &Report) -> DataTable {
    let columns: Vec<Column<&ChangeCount>> = vec![
        text("measure", "Measure", "Id of the measure.", |row| {
            Cell::from(&row.measure)
        }),
        text(
            "causes",
            "Why",
            "The causes, in the order in which they were tried.",
            |row| Cell::from(&row.causes),
        ),
        counted(
            "restated",
            "Restated",
            "Figures that had a value then and have another now.",
            |row| Cell::from(row.n_restated),
        ),
        counted(
            "given_now",
            "Given now",
            "Figures that had none then and have one now.",
            |row| Cell::from(row.n_new),
        ),
        counted(
            "not_given_any_more",
            "Not given any more",
            "Figures that have no value any more, or none for another reason.",
            |row| Cell::from(row.n_gone),
        ),
    ];
    let rows = report.changes.iter().flat_map(|changes| &changes.counts);
    let words =
        "A row a measure and cause: how many of its figures changed since the earlier report.";
    DataTable::new(
        ["changes-by-cause", "Changes by cause", words],
        columns,
        rows,
    )
}

struct Changed<'r> {
    kind: &'static str,
    result: &'r ChangedResult,
}

impl Changed<'_> {
    fn number(&self, result: Option<&MeasureResult>) -> Cell {
        match result.map(|result| (&result.value, result.unit)) {
            Some((Value::Known(known), unit)) => Cell::measured(Some(known.estimate), unit),
            _ => Cell::Absent,
        }
    }
}

fn of_kind<'r>(
    kind: &'static str,
    results: &'r [ChangedResult],
) -> impl Iterator<Item = Changed<'r>> {
    results.iter().map(move |result| Changed { kind, result })
}

/// Every figure that changed.
pub(super) fn figures(report: &Report) -> DataTable {
    let columns: Vec<Column<Changed<'_>>> = vec![
        text(
            "kind",
            "Kind",
            "restated: it had a value then and has another now; given-or-not: it could not be given then, or cannot be now.",
            |row| Cell::from(row.kind),
        ),
        text("measure", "Measure", "Id of the measure.", |row| {
            Cell::from(&row.result.before.measure)
        }),
        text(
            "cohort",
            "Cohort",
            "Which people, ulcers or limbs.",
            |row| Cell::from(&row.result.before.cohort),
        ),
        text(
            "period",
            "Period",
            "Quarter or span of quarters of the cohort.",
            |row| Cell::from(&row.result.before.period),
        ),
        text("stratum", "Stratum", "Part of the cohort, or all.", |row| {
            Cell::from(&row.result.before.stratum)
        }),
        text(
            "causes",
            "Why",
            "The causes, in the order in which they were tried.",
            |row| {
                let causes: Vec<&str> =
                    row.result.causes.iter().map(|cause| cause.code()).collect();
                Cell::from(causes.join(", "))
            },
        ),
        text("unit", "Unit", "Unit of the values.", |row| {
            Cell::from(row.result.before.unit.code())
        }),
        text(
            "then_in_words",
            "Then, in words",
            "The figure as printed then.",
            |row| Cell::from(value_with_counts(&row.result.before)),
        ),
        number(
            "then",
            "Then",
            "as in unit",
            "The estimate of then. Empty where it had none.",
            |row| row.number(Some(&row.result.before)),
        ),
        text(
            "now_in_words",
            "Now, in words",
            "The figure as it is now. Empty where it is not made any more.",
            |row| Cell::from(row.result.after.as_ref().map(value_with_counts)),
        ),
        number(
            "now",
            "Now",
            "as in unit",
            "The estimate of now. Empty where it has none.",
            |row| row.number(row.result.after.as_ref()),
        ),
    ];
    let rows = report.changes.iter().flat_map(|changes| {
        let restated = of_kind("restated", &changes.restatements);
        restated.chain(of_kind("given-or-not", &changes.others))
    });
    let words = "A row a figure of the earlier report that is another one now, with the reason.";
    DataTable::new(["changed-figures", "Changed figures", words], columns, rows)
}
