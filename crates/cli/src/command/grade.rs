//! `grade`: any clinical scale on any plain table, so that anyone can check the grades from outside.

mod bind;
mod table;
mod written;

use super::{out, say};
use crate::arguments::GradeArguments;
use crate::failure::Failure;
use crate::inert::for_terminal;
use bind::{Bound, bind};
use outcomes::grade::InfectionCriteria;
use outcomes::grade::scale::{Answer, Answers, GradeOptions, Item, Scale, find_scale, read_answer};
use outcomes::rules::{AreaFormula, VascularGuideline};
use table::Table;
use written::{as_csv, as_json};

/// Places named for each kind of finding; the others are counted.
const N_PLACES: usize = 100;

/// Reads the table, grades every row, and writes the table with the grades or, with `--json`, the grades alone.
pub(crate) fn grade(arguments: &GradeArguments) -> Result<(), Failure> {
    let scale = scale_of(&arguments.scale)?;
    let options = options_of(arguments)?;
    let table = Table::read(&arguments.file)?;
    let bound = bind(scale, &table, &arguments.column)?;
    let (answers, findings) = answers_of(scale, &table, &bound);
    let rows: Vec<Answers<'_>> = answers
        .iter()
        .map(|answers| Answers::new(scale.items, answers))
        .collect();
    let graded = scale.grade(&rows, &options);
    for words in said(scale, &table, &bound, &findings) {
        say(&words);
    }
    if arguments.json {
        let answer = as_json(scale, &options, &bound, &findings, &graded);
        let text = serde_json::to_string_pretty(&answer)
            .map_err(|error| Failure::CannotRun(format!("could not write the answer: {error}")))?;
        return out(&(text + "\n"));
    }
    out(&as_csv(scale, &table, &graded)?)
}

fn scale_of(name: &str) -> Result<&'static Scale, Failure> {
    find_scale(name).ok_or_else(|| {
        let names = super::scales::scale_names();
        let hint = match intake::config::nearest(name, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("scales: {}", names.join(", ")),
        };
        Failure::with_hint(format!("`{}` is no scale", for_terminal(name)), hint)
    })
}

fn options_of(arguments: &GradeArguments) -> Result<GradeOptions, Failure> {
    let usual = GradeOptions::default();
    let refused =
        |option: &str, accepted: &str| Failure::CannotRun(format!("`{option}` must be {accepted}"));
    let abi_limit = arguments.abi_limit.unwrap_or(usual.abi_limit);
    if !(1.0..=2.0).contains(&abi_limit) {
        return Err(refused("--abi-limit", "between 1.0 and 2.0"));
    }
    let smallest = arguments
        .smallest_first_area
        .unwrap_or(usual.smallest_first_area_cm2);
    if !(0.0..=10.0).contains(&smallest) {
        return Err(refused(
            "--smallest-first-area",
            "between 0 and 10 square cm",
        ));
    }
    let guideline = VascularGuideline::from_code(&arguments.guideline)
        .ok_or_else(|| refused("--guideline", "2015, 2019 or 2023"))?;
    let infection_criteria = InfectionCriteria::from_code(&arguments.infection_criteria)
        .ok_or_else(|| refused("--infection-criteria", "2012, 2019 or 2023"))?;
    let area_formula = AreaFormula::from_code(&arguments.area_formula)
        .ok_or_else(|| refused("--area-formula", "ellipse or rectangle"))?;
    Ok(GradeOptions {
        abi_limit,
        index_decimals: arguments.index_decimals,
        guideline,
        infection_criteria,
        area_formula,
        smallest_first_area_cm2: smallest,
    })
}

/// A cell that could not be read, and is taken as not recorded.
struct CellFinding {
    record: usize,
    column: usize,
    item: &'static Item,
}

/// The answers of every row, in the order of the items, and the cells that gave none.
fn answers_of(
    scale: &'static Scale,
    table: &Table,
    bound: &[Bound],
) -> (Vec<Vec<Answer>>, Vec<CellFinding>) {
    let mut findings = Vec::new();
    let mut rows = Vec::with_capacity(table.records.len());
    for (position, record) in table.records.iter().enumerate() {
        let mut row = Vec::with_capacity(scale.items.len());
        for bound in bound {
            let cell = bound.column.and_then(|column| record.get(column));
            let answer = cell.map_or(Some(Answer::Missing), |cell| {
                read_answer(bound.item, cell, bound.times)
            });
            if let (None, Some(column)) = (&answer, bound.column) {
                findings.push(CellFinding {
                    record: position + 1,
                    column,
                    item: bound.item,
                });
            }
            row.push(answer.unwrap_or(Answer::Missing));
        }
        rows.push(row);
    }
    (rows, findings)
}

/// What stderr is told: columns that are missing, cells that could not be read.
fn said(scale: &Scale, table: &Table, bound: &[Bound], findings: &[CellFinding]) -> Vec<String> {
    let mut words = Vec::new();
    let missing = bind::items_without_column(bound);
    if !missing.is_empty() {
        words.push(format!(
            "note: {}: no column for {}; not recorded in every row (`limbledger explain {}` says what each means)",
            table.file,
            missing.join(", "),
            scale.id
        ));
    }
    for finding in findings.iter().take(N_PLACES) {
        words.push(format!(
            "finding: {}: record {}, column `{}`: not accepted for `{}`, read as not recorded; accepted: {}",
            table.file,
            finding.record,
            for_terminal(table.headers.get(finding.column).map_or("", String::as_str)),
            finding.item.name,
            finding.item.kind.accepts()
        ));
    }
    if findings.len() > N_PLACES {
        words.push(format!(
            "and {} more cells that were not accepted",
            findings.len() - N_PLACES
        ));
    }
    words
}
