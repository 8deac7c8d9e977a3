//! Headlines, their trends, and every result of every measure.

use super::{Valued, counted, value_columns};
use crate::wording;
use outcomes::dataset::{Cell, Column, DataTable, number, text};
use outcomes::report::{Headline, MeasureResult, Report, Split, TrendPoint, Unit, Value};

impl Valued for &Headline {
    fn value(&self) -> &Value {
        &self.result.value
    }
    fn unit(&self) -> Unit {
        self.result.unit
    }
}

/// The measures of the front page.
pub(super) fn headlines(report: &Report) -> DataTable {
    let mut columns: Vec<Column<&Headline>> = vec![
        text("title", "Headline", "Short plain title.", |row| {
            Cell::from(&row.title)
        }),
        text(
            "measure",
            "Measure",
            "Id of the measure; table measures has its definition.",
            |row| Cell::from(&row.result.measure),
        ),
        text(
            "cohort",
            "Cohort",
            "Which people, ulcers or limbs.",
            |row| Cell::from(&row.result.cohort),
        ),
    ];
    columns.extend(value_columns());
    columns.extend([
        counted("numerator", "Numerator", "How many with the outcome.", |row: &&Headline| {
            Cell::from(row.result.numerator)
        }),
        counted("denominator", "Denominator", "How many are counted.", |row| {
            Cell::from(row.result.denominator)
        }),
        text("expectation", "Expectation", "What would have been expected of these people, or what is published, for context; never a target.", |row| {
            Cell::from(row.expectation.as_ref())
        }),
        text("reading", "How to read it", "One line on how to read the number.", |row| {
            Cell::from(&row.reading)
        }),
    ]);
    let words = "A row a headline measure of the front page. Small numbers vary by chance; read the interval with the value.";
    DataTable::new(
        ["headlines", "Front page", words],
        columns,
        &report.front_page.headlines,
    )
}

/// One quarter of a trend and what it is a trend of.
pub(super) struct Quarterly<'r> {
    pub(super) of: &'r str,
    pub(super) unit: Unit,
    pub(super) point: &'r TrendPoint,
}

/// The quarters behind the small trend lines of the front page.
pub(super) fn headline_trends(report: &Report) -> DataTable {
    let mut columns = vec![text(
        "measure",
        "Measure",
        "Id of the headline's measure.",
        |row: &Quarterly<'_>| Cell::from(row.of),
    )];
    columns.extend(trend_columns());
    let rows = report.front_page.headlines.iter().flat_map(|headline| {
        headline.trend.iter().map(|point| Quarterly {
            of: &headline.result.measure,
            unit: headline.result.unit,
            point,
        })
    });
    let words =
        "A row a quarter of a headline measure. Neighbouring quarters often differ by chance.";
    DataTable::new(
        ["headline-trends", "Front page by quarter", words],
        columns,
        rows,
    )
}

/// Columns of one quarter of a trend.
pub(super) fn trend_columns<'r>() -> Vec<Column<Quarterly<'r>>> {
    vec![
        text("quarter", "Quarter", "Calendar quarter.", |row| {
            Cell::from(&row.point.quarter)
        }),
        text(
            "in_words",
            "In words",
            "The value as the page says it.",
            |row| Cell::from(wording::trend_value(row.point, row.unit)),
        ),
        text("unit", "Unit", "Unit of value and limits.", |row| {
            Cell::from(row.unit.code())
        }),
        number(
            "value",
            "Value",
            "as in unit",
            "The estimate. Empty where there is none.",
            |row| Cell::measured(row.point.estimate, row.unit),
        ),
        number(
            "lower",
            "Lower limit",
            "as in unit",
            "Lower end of the confidence interval.",
            |row| Cell::measured(row.point.lower, row.unit),
        ),
        number(
            "upper",
            "Upper limit",
            "as in unit",
            "Upper end of the confidence interval.",
            |row| Cell::measured(row.point.upper, row.unit),
        ),
        counted(
            "n",
            "n",
            "How many are counted. Empty where the quarter has none yet.",
            |row| Cell::from(row.point.n),
        ),
        text(
            "absent",
            "Why no value",
            "not yet, not estimable or suppressed; empty where there is a value.",
            |row| Cell::from(row.point.absent.as_ref()),
        ),
    ]
}

struct FamilyResult<'r> {
    family: &'r str,
    title: &'r str,
    /// What a result of a split is split by; empty for the others.
    by: &'r str,
    result: &'r MeasureResult,
}

impl Valued for FamilyResult<'_> {
    fn value(&self) -> &Value {
        &self.result.value
    }
    fn unit(&self) -> Unit {
        self.result.unit
    }
}

/// Columns of a result of a measure.
fn result_columns<'r>() -> Vec<Column<FamilyResult<'r>>> {
    let mut columns: Vec<Column<FamilyResult<'_>>> = vec![
        text("family", "Family", "Id of the family of measures.", |row| {
            Cell::from(row.family)
        }),
        text(
            "measure",
            "Measure",
            "Id of the measure; table measures has its definition.",
            |row| Cell::from(&row.result.measure),
        ),
        text("title", "Title", "Title of the measure.", |row| {
            Cell::from(row.title)
        }),
        text(
            "cohort",
            "Cohort",
            "Which people, ulcers or limbs.",
            |row| Cell::from(&row.result.cohort),
        ),
        text(
            "period",
            "Period",
            "Quarter or span of quarters of the cohort.",
            |row| Cell::from(&row.result.period),
        ),
        text("stratum", "Stratum", "Part of the cohort, or all.", |row| {
            Cell::from(&row.result.stratum)
        }),
    ];
    columns.extend(value_columns());
    columns.extend([
        counted("numerator", "Numerator", "How many with the outcome. A cumulative incidence is not this divided by the denominator where follow-up is censored.", |row: &FamilyResult<'_>| {
            Cell::from(row.result.numerator)
        }),
        counted("denominator", "Denominator", "How many are counted.", |row| {
            Cell::from(row.result.denominator)
        }),
        counted("unknown", "Outcome unknown", "How many of the denominator have an unknown outcome.", |row| {
            Cell::from(row.result.n_unknown)
        }),
        number("lowest", "Lowest possible", "as in unit", "The lowest value that the unknown outcomes could give.", |row| {
            Cell::measured(row.result.bounds.map(|bounds| bounds.lowest), row.unit())
        }),
        number("highest", "Highest possible", "as in unit", "The highest value that the unknown outcomes could give.", |row| {
            Cell::measured(row.result.bounds.map(|bounds| bounds.highest), row.unit())
        }),
        text("notes", "Notes", "Remarks that belong beside the number.", |row| {
            Cell::from(row.result.notes.join("; "))
        }),
    ]);
    columns
}

/// Every result of every measure, newest first within a measure.
pub(super) fn results(report: &Report) -> DataTable {
    let rows = report.families.iter().flat_map(|family| {
        family.measures.iter().flat_map(|sheet| {
            sheet.results.iter().map(|result| FamilyResult {
                family: &family.id,
                title: &sheet.title,
                by: "",
                result,
            })
        })
    });
    let words = "A row a measure, cohort and stratum. Strata are not ranked: differences between small groups often arise by chance.";
    DataTable::new(["results", "All results", words], result_columns(), rows)
}

/// Every measure split by what the pipeline file names.
pub(super) fn splits(report: &Report) -> DataTable {
    let mut columns = vec![text(
        "split_by",
        "Split by",
        "What the measure is split by, as in the pipeline file; table strata says how a stratum is decided.",
        |row: &FamilyResult<'_>| Cell::from(row.by),
    )];
    columns.extend(result_columns());
    let rows = report.families.iter().flat_map(|family| {
        family.measures.iter().flat_map(|sheet| {
            sheet.splits.iter().flat_map(|split| {
                split.results.iter().map(|result| FamilyResult {
                    family: &family.id,
                    title: &sheet.title,
                    by: &split.by,
                    result,
                })
            })
        })
    });
    let words = "A row a measure and stratum of the year to the newest mature quarter. Strata differ in whom they treat and small ones move by chance; nobody is ranked.";
    DataTable::new(
        ["results-by-stratum", "Results by stratum", words],
        columns,
        rows,
    )
}

/// How the strata are decided, each once.
pub(super) fn strata(report: &Report) -> DataTable {
    let columns: Vec<Column<&Split>> = vec![
        text("split_by", "Split by", "As in the pipeline file.", |row| {
            Cell::from(&row.by)
        }),
        text("title", "Title", "Title of the split.", |row| {
            Cell::from(&row.title)
        }),
        text(
            "words",
            "How it is decided",
            "How the stratum is decided.",
            |row| Cell::from(&row.words),
        ),
    ];
    let mut rows: Vec<&Split> = Vec::new();
    let sheets = report.families.iter().flat_map(|family| &family.measures);
    for split in sheets.flat_map(|sheet| &sheet.splits) {
        if rows
            .iter()
            .all(|row| (&row.by, &row.words) != (&split.by, &split.words))
        {
            rows.push(split);
        }
    }
    let words = "A row a way in which measures are split, and how a stratum is decided.";
    DataTable::new(["strata", "Strata", words], columns, rows)
}
