//! Visits, and what the checks found in the rows.

use super::Export;
use crate::dataset::{Cell, Column, DataTable, date, number, text, whole};
use crate::finding::Finding;
use crate::tables::Visit;

/// A row an attendance.
pub(super) fn visits(export: Export<'_>) -> DataTable {
    type Row<'a> = (Export<'a>, &'a Visit);
    let columns: Vec<Column<Row<'_>>> = vec![
        text(
            "patient",
            "Patient",
            "Pseudonymous id as in the export.",
            |(export, visit)| {
                let patient = export.tables.patients.get(visit.patient.0 as usize);
                Cell::from(patient.map(|patient| &patient.id))
            },
        ),
        date("date", "Date", "Day of the visit.", |(_, visit)| {
            Cell::from(visit.date)
        }),
        text(
            "attendance",
            "Attendance",
            "kept, missed or cancelled.",
            |(_, visit)| Cell::from(visit.attendance.code()),
        ),
        text(
            "setting",
            "Setting",
            "Where the patient was seen.",
            |(_, visit)| Cell::from(visit.setting.map(|setting| setting.code())),
        ),
        text(
            "clinic_site",
            "Clinic site",
            "Site as in the export.",
            |(export, visit)| export.name(visit.clinic_site),
        ),
        text(
            "clinician",
            "Clinician",
            "Pseudonymous key as in the export.",
            |(export, visit)| export.name(visit.clinician),
        ),
        text(
            "clinician_role",
            "Role",
            "Role as in the export.",
            |(export, visit)| export.name(visit.clinician_role),
        ),
        date(
            "planned_return",
            "Planned return",
            "Day the next visit was planned for.",
            |(_, visit)| Cell::from(visit.planned_return),
        ),
        number(
            "hba1c_percent",
            "HbA1c",
            "percent (NGSP)",
            "Glycated haemoglobin.",
            |(_, visit)| Cell::from(visit.hba1c_percent),
        ),
        text("file", "File", "File of the export.", |(export, visit)| {
            export.file(visit.source)
        }),
        whole(
            "record",
            "Record",
            "",
            "Number of the data record in it, counted from 1, header not counted.",
            |(_, visit)| Cell::from(visit.source.record),
        ),
    ];
    let rows = export.tables.visits.iter().map(|visit| (export, visit));
    let words = "A row an attendance, kept or not, after rows were set aside.";
    DataTable::new(["visits", "Visits", words], columns, rows)
}

/// A row a finding.
pub(super) fn findings(export: Export<'_>, findings: &[Finding]) -> DataTable {
    type Row<'a> = (Export<'a>, &'a Finding);
    let columns: Vec<Column<Row<'_>>> = vec![
        text("check", "Check", "Name of the check.", |(_, finding)| {
            Cell::from(finding.check)
        }),
        text(
            "severity",
            "Effect",
            "note (row used), cell-ignored (cell counts as missing), set-aside (row kept out) or stop.",
            |(_, finding)| Cell::from(finding.severity.code()),
        ),
        text(
            "file",
            "File",
            "File of the export; empty where the finding is about no single file.",
            |(export, finding)| {
                finding
                    .source
                    .map_or(Cell::Absent, |source| export.file(source))
            },
        ),
        whole(
            "record",
            "Record",
            "",
            "Number of the data record in it, counted from 1, header not counted.",
            |(_, finding)| Cell::from(finding.source.map(|source| source.record)),
        ),
        text(
            "column",
            "Column",
            "Header of the column, where one is concerned.",
            |(_, finding)| Cell::from(finding.column.as_ref()),
        ),
        text(
            "message",
            "Fact",
            "What was noticed, without any value of a cell.",
            |(_, finding)| Cell::from(&finding.message),
        ),
        text(
            "hint",
            "Hint",
            "What may be done about it.",
            |(_, finding)| Cell::from(finding.hint.as_ref()),
        ),
    ];
    let words = "A row a finding of a check. It names the place and never the value of a cell.";
    DataTable::new(
        ["findings", "Findings by row", words],
        columns,
        findings.iter().map(|finding| (export, finding)),
    )
}
