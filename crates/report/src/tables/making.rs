//! From rows to cohorts, and people who need attention.

use super::counted;
use crate::page::severity_words;
use outcomes::dataset::{Cell, Column, DataTable, text, whole, yes_no};
use outcomes::disclose::SuppressionLine;
use outcomes::finding::FileAccount;
use outcomes::report::{ActionItem, Audience, FieldCompleteness, FindingTally, FlowStep, Report};

/// People who need attention; empty in every copy but the clinic's.
pub(super) fn actions(report: &Report) -> DataTable {
    let columns: Vec<Column<&ActionItem>> = vec![
        text(
            "patient",
            "Patient",
            "Pseudonymous id as in the export.",
            |row| Cell::from(&row.patient),
        ),
        yes_no(
            "urgent",
            "Urgent",
            "Whether the rule is an urgent one.",
            |row| Cell::from(row.is_urgent),
        ),
        text("place", "Place", "Side, site or limb.", |row| {
            Cell::from(&row.place)
        }),
        text("reason", "Why", "The fact from the records.", |row| {
            Cell::from(&row.reason)
        }),
        text("rule", "Rule", "The rule that put it here.", |row| {
            Cell::from(&row.rule)
        }),
        whole(
            "days",
            "Days",
            "days",
            "Days since the rule began to apply.",
            |row| Cell::from(row.days),
        ),
        text(
            "clears_when",
            "Clears when",
            "What would clear it.",
            |row| Cell::from(&row.clears_when),
        ),
        text(
            "row",
            "Row",
            "File and record of the last relevant row.",
            |row| Cell::from(&row.trace),
        ),
    ];
    let items = match report.audience {
        Audience::Clinic => report.action_list.as_slice(),
        Audience::Auditor | Audience::Public => &[],
    };
    let words = "A row a prompt to look, most urgent first: a fact from the records and its rule, not advice on treatment.";
    DataTable::new(
        ["action-list", "Who needs attention", words],
        columns,
        items,
    )
}

/// From rows read to the cohorts counted.
pub(super) fn flow(report: &Report) -> DataTable {
    let columns: Vec<Column<&FlowStep>> = vec![
        text("step", "Step", "What is counted.", |row| {
            Cell::from(&row.label)
        }),
        counted("n", "How many", "How many.", |row| Cell::from(row.n)),
        whole(
            "depth",
            "Indent",
            "",
            "Depth below the first line, from 0.",
            |row| Cell::from(u32::from(row.depth)),
        ),
    ];
    let words = "A row a step from the rows read to the cohorts counted.";
    DataTable::new(
        ["flow", "From rows to cohorts", words],
        columns,
        &report.flow,
    )
}

/// What became of the rows of each file.
pub(super) fn accounts(report: &Report) -> DataTable {
    let columns: Vec<Column<&FileAccount>> = vec![
        text("file", "File", "Name of the file.", |row| {
            Cell::from(&row.file)
        }),
        whole("bytes", "Size", "bytes", "Size of the file.", |row| {
            Cell::from(row.bytes)
        }),
        whole(
            "header_bytes",
            "Header",
            "bytes",
            "Text of the header.",
            |row| Cell::from(row.text_bytes.header),
        ),
        whole(
            "used_bytes",
            "Text used",
            "bytes",
            "Text of rows used.",
            |row| Cell::from(row.text_bytes.used),
        ),
        whole(
            "set_aside_bytes",
            "Text set aside",
            "bytes",
            "Text of rows set aside.",
            |row| Cell::from(row.text_bytes.set_aside),
        ),
        whole(
            "blank_bytes",
            "Blank lines",
            "bytes",
            "Text of blank lines; the four parts are the whole text.",
            |row| Cell::from(row.text_bytes.blank),
        ),
        counted(
            "read",
            "Rows read",
            "Records read, header not counted.",
            |row| Cell::from(row.n_read),
        ),
        counted("used", "Rows used", "Records used.", |row| {
            Cell::from(row.n_used)
        }),
        counted(
            "set_aside",
            "Rows set aside",
            "Records kept out; table set-aside has the reasons.",
            |row| Cell::from(row.n_set_aside()),
        ),
        yes_no(
            "reconciled",
            "Reconciled",
            "Whether rows read are rows used plus rows set aside.",
            |row| Cell::from(row.is_balanced()),
        ),
    ];
    let words = "A row a file: rows read are rows used plus rows set aside.";
    DataTable::new(
        ["row-accounts", "Row accounts", words],
        columns,
        &report.accounts,
    )
}

/// Rows set aside, by reason.
pub(super) fn set_aside(report: &Report) -> DataTable {
    type Row<'r> = (&'r str, &'r str, u64);
    let columns: Vec<Column<Row<'_>>> = vec![
        text("file", "File", "Name of the file.", |row| Cell::from(row.0)),
        text(
            "check",
            "Reason",
            "Name of the check that set the rows aside.",
            |row| Cell::from(row.1),
        ),
        counted("n", "Rows", "How many rows.", |row| Cell::from(row.2)),
    ];
    let rows = report.accounts.iter().flat_map(|account| {
        let reasons = account.set_aside.iter();
        reasons.map(|(check, n)| (account.file.as_str(), check.as_str(), *n))
    });
    let words = "A row a file and reason: records kept out, each counted once.";
    DataTable::new(["set-aside", "Rows set aside", words], columns, rows)
}

/// What the checks found.
pub(super) fn findings(report: &Report) -> DataTable {
    let columns: Vec<Column<&FindingTally>> = vec![
        text("check", "Check", "Name of the check.", |row| {
            Cell::from(&row.check)
        }),
        text("effect", "Effect", "What it does to its row.", |row| {
            Cell::from(severity_words(&row.severity))
        }),
        text(
            "words",
            "What it means",
            "What the check looks for.",
            |row| Cell::from(&row.words),
        ),
        counted("n", "Times", "How often it spoke.", |row| Cell::from(row.n)),
        text(
            "examples",
            "For example",
            "Up to three places to look.",
            |row| Cell::from(row.examples.join("; ")),
        ),
    ];
    let words = "A row a check that spoke.";
    DataTable::new(
        ["findings-by-check", "Findings", words],
        columns,
        &report.findings,
    )
}

/// How complete the fields are, in all and by quarter.
pub(super) fn completeness(report: &Report) -> DataTable {
    type Row<'r> = (&'r FieldCompleteness, &'r str, u64, u64);
    let columns: Vec<Column<Row<'_>>> = vec![
        text("table", "Table", "Table of the field.", |row| {
            Cell::from(&row.0.table)
        }),
        text("field", "Field", "Name of the field.", |row| {
            Cell::from(&row.0.field)
        }),
        text("quarter", "Quarter", "Calendar quarter, or all.", |row| {
            Cell::from(row.1)
        }),
        counted("recorded", "Recorded", "Rows that carry it.", |row| {
            Cell::from(row.2)
        }),
        counted(
            "rows",
            "Rows",
            "Rows where it could have been recorded.",
            |row| Cell::from(row.3),
        ),
    ];
    let rows = report.completeness.iter().flat_map(|field| {
        let whole = (field, "all", field.n_present, field.n_rows);
        let quarters = field.quarters.iter();
        [whole].into_iter().chain(
            quarters
                .map(move |(quarter, present, rows)| (field, quarter.as_str(), *present, *rows)),
        )
    });
    let words = "A row a field and quarter: how many rows carry it of those that could.";
    DataTable::new(["completeness", "Completeness", words], columns, rows)
}

/// What the public copy made beside this one hides (auditor copy only).
pub(super) fn suppressions(report: &Report) -> DataTable {
    let columns: Vec<Column<&SuppressionLine>> = vec![
        text(
            "measure",
            "Measure or chart",
            "Id of the measure or chart.",
            |row| Cell::from(&row.measure),
        ),
        text("cohort", "Cohort", "Which people.", |row| {
            Cell::from(&row.cohort)
        }),
        text("stratum", "Stratum", "Stratum, or all.", |row| {
            Cell::from(&row.stratum)
        }),
        text("what", "What", "What is hidden.", |row| {
            Cell::from(&row.what)
        }),
        text("reason", "Why", "Why it is hidden.", |row| {
            Cell::from(&row.reason)
        }),
    ];
    let words =
        "A row a result that the public copy made beside this one hides, without its counts.";
    DataTable::new(
        ["hidden-in-public", "Hidden in public copy", words],
        columns,
        &report.suppressions,
    )
}
