//! Definitions, rules, settings, words and files.

use outcomes::dataset::{Cell, Column, DataTable, text, whole};
use outcomes::report::{MeasureSheet, Report, RuleLine, SettingLine};

/// The definition of every measure.
pub(super) fn measures(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r MeasureSheet);
    let columns: Vec<Column<Row<'_>>> = vec![
        text("measure", "Measure", "Id of the measure.", |row| {
            Cell::from(&row.1.id)
        }),
        text("family", "Family", "Id of its family.", |row| {
            Cell::from(row.0)
        }),
        text("title", "Title", "Title of the measure.", |row| {
            Cell::from(&row.1.title)
        }),
        text(
            "words",
            "Definition",
            "The definition in plain words.",
            |row| Cell::from(&row.1.words),
        ),
        text(
            "numerator",
            "Numerator",
            "Who counts in the numerator.",
            |row| Cell::from(&row.1.numerator),
        ),
        text(
            "denominator",
            "Denominator",
            "Who is in the denominator.",
            |row| Cell::from(&row.1.denominator),
        ),
        text(
            "exclusions",
            "Left out",
            "Who is left out and why.",
            |row| Cell::from(&row.1.exclusions),
        ),
        text(
            "maturity",
            "Mature when",
            "When a figure is mature.",
            |row| Cell::from(&row.1.maturity),
        ),
        text(
            "source",
            "Source",
            "Where the definition comes from.",
            |row| Cell::from(&row.1.source),
        ),
        text(
            "caution",
            "Keep in mind",
            "What the number does not show.",
            |row| Cell::from(&row.1.caution),
        ),
        text(
            "context",
            "Published figures",
            "For context, each with its citation; never a target.",
            |row| Cell::from(row.1.context.join("; ")),
        ),
        text(
            "direction",
            "Higher is",
            "Whether a higher figure is better, worse or neither.",
            |row| Cell::from(&row.1.direction),
        ),
    ];
    let rows = report.families.iter().flat_map(|family| {
        family
            .measures
            .iter()
            .map(|sheet| (family.id.as_str(), sheet))
    });
    let words = "A row a measure: what it counts, of whom, and what it does not show.";
    DataTable::new(["measures", "Definitions", words], columns, rows)
}

/// The rules table.
pub(super) fn rules(report: &Report) -> DataTable {
    let columns: Vec<Column<&RuleLine>> = vec![
        text("measure", "Measure", "Id of the measure.", |row| {
            Cell::from(&row.measure)
        }),
        text("unit", "Unit", "What is counted.", |row| {
            Cell::from(&row.unit)
        }),
        text("clock", "Clock starts", "Where the clock starts.", |row| {
            Cell::from(&row.clock)
        }),
        text("entry", "Enters", "When one enters the risk set.", |row| {
            Cell::from(&row.entry)
        }),
        text("event", "Event", "The event.", |row| Cell::from(&row.event)),
        text(
            "competing",
            "Competing",
            "What makes the event impossible.",
            |row| Cell::from(&row.competing),
        ),
        text("censoring", "Censored", "Where follow-up ends.", |row| {
            Cell::from(&row.censoring)
        }),
        text(
            "same_day",
            "Same day",
            "Order of things on the same day.",
            |row| Cell::from(&row.same_day),
        ),
        text(
            "known",
            "Outcome known",
            "When the outcome counts as known.",
            |row| Cell::from(&row.known),
        ),
    ];
    let words = "A row a measure: the rules that decide its number.";
    DataTable::new(["rules", "Rules", words], columns, &report.rules)
}

/// Every setting in force.
pub(super) fn settings(report: &Report) -> DataTable {
    let columns: Vec<Column<&SettingLine>> = vec![
        text(
            "setting",
            "Setting",
            "Name as in the pipeline file.",
            |row| Cell::from(&row.name),
        ),
        text("value", "Value", "Value in force.", |row| {
            Cell::from(&row.value)
        }),
        text(
            "default",
            "Default",
            "The default, where the value differs from it.",
            |row| Cell::from(row.default.as_ref()),
        ),
        text(
            "words",
            "What it decides",
            "What the setting decides.",
            |row| Cell::from(&row.words),
        ),
    ];
    let words = "A row a setting. A changed setting changes numbers; compare reports only where settings agree.";
    DataTable::new(["settings", "Settings", words], columns, &report.settings)
}

/// Words used and cautions.
pub(super) fn words(report: &Report) -> DataTable {
    let columns: Vec<Column<(&str, &str)>> = vec![
        text("word", "Word", "The word, or caution.", |row| {
            Cell::from(row.0)
        }),
        text("meaning", "Meaning", "What it means.", |row| {
            Cell::from(row.1)
        }),
    ];
    let glossary = report
        .glossary
        .iter()
        .map(|(word, meaning)| (word.as_str(), meaning.as_str()));
    let cautions = report
        .cautions
        .iter()
        .map(|caution| ("Caution", caution.as_str()));
    let words = "Words used in the report, then what must be kept in mind.";
    DataTable::new(
        ["words", "Words and cautions", words],
        columns,
        glossary.chain(cautions),
    )
}

struct File<'r> {
    name: &'r str,
    role: &'static str,
    bytes: Option<u64>,
    sha256: &'r str,
}

/// Files behind the report.
pub(super) fn files(report: &Report) -> DataTable {
    let columns: Vec<Column<File<'_>>> = vec![
        text("file", "File", "Name of the file.", |row| {
            Cell::from(row.name)
        }),
        text(
            "role",
            "Role",
            "pipeline, layout, export or code table (built into the program).",
            |row| Cell::from(row.role),
        ),
        whole("bytes", "Size", "bytes", "Size of an export file.", |row| {
            Cell::from(row.bytes)
        }),
        text("sha256", "SHA-256", "Hash of the file's bytes.", |row| {
            Cell::from(row.sha256)
        }),
    ];
    let made_from = &report.provenance;
    let single = [
        (&made_from.pipeline, "pipeline"),
        (&made_from.layout, "layout"),
    ]
    .into_iter()
    .filter(|((name, _), _)| !name.is_empty())
    .map(|((name, sha256), role)| File {
        name,
        role,
        bytes: None,
        sha256,
    });
    let inputs = made_from.inputs.iter().map(|(name, bytes, sha256)| File {
        name,
        role: "export",
        bytes: Some(*bytes),
        sha256,
    });
    let code_tables = made_from.code_tables.iter().map(|(name, sha256)| File {
        name,
        role: "code table",
        bytes: None,
        sha256,
    });
    let words = "A row a file or table of published codes that the report was made from.";
    let rows = single.chain(inputs).chain(code_tables);
    DataTable::new(["files", "Files", words], columns, rows)
}
