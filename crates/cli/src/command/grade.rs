//! `grade`: any clinical scale on any plain table, so that anyone can check the grades from outside.

use super::load::visible;
use super::{out, say};
use crate::arguments::GradeArguments;
use crate::estimate::unreadable;
use crate::failure::Failure;
use outcomes::grade::InfectionCriteria;
use outcomes::grade::scale::{
    Answer, Answers, Cell, GradeOptions, Graded, Item, Scale, find_scale, read_answer,
};
use outcomes::rules::{AreaFormula, VascularGuideline};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// Places named for each kind of finding; the others are counted.
const N_PLACES: usize = 100;

/// Reads the table, grades every row, and writes the table with the grades or, with `--json`, the grades alone.
pub(crate) fn grade(arguments: &GradeArguments) -> Result<(), Failure> {
    let scale = scale_of(&arguments.scale)?;
    let options = options_of(arguments)?;
    let table = read(&arguments.file)?;
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
        Failure::with_hint(format!("`{}` is no scale", text(name)), hint)
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

/// A table as read: every cell is kept, to be written again.
struct Table {
    file: String,
    headers: Vec<String>,
    records: Vec<csv::StringRecord>,
}

fn read(path: &Path) -> Result<Table, Failure> {
    let file = path.display().to_string();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_path(path)
        .map_err(|error| unreadable(&file, &error))?;
    let mut records = Vec::new();
    for record in reader.records() {
        records.push(record.map_err(|error| unreadable(&file, &error))?);
    }
    if records.is_empty() {
        return Err(Failure::Data(format!("{file}: the table is empty")));
    }
    let headers: Vec<String> = records
        .remove(0)
        .iter()
        .map(|header| header.trim_start_matches('\u{feff}').trim().to_owned())
        .collect();
    if records.is_empty() {
        return Err(Failure::Data(format!(
            "{file}: there is no row below the header"
        )));
    }
    let ragged = records
        .iter()
        .position(|record| record.len() != headers.len());
    if let Some(position) = ragged {
        return Err(Failure::Data(format!(
            "{file}: record {} has {} cells where the header has {}",
            position + 1,
            records.get(position).map_or(0, csv::StringRecord::len),
            headers.len()
        )));
    }
    Ok(Table {
        file,
        headers,
        records,
    })
}

/// The column that tells an item.
struct Bound {
    item: &'static Item,
    /// Position of its column; `None` when the table has none.
    column: Option<usize>,
    /// What a number is multiplied with.
    times: f64,
}

/// Headers are compared without regard to case, and to the difference between blank, `-` and `_`.
fn plain(header: &str) -> String {
    header.trim().to_lowercase().replace([' ', '-'], "_")
}

fn bind(scale: &'static Scale, table: &Table, named: &[String]) -> Result<Vec<Bound>, Failure> {
    let wanted = named_columns(scale, table, named)?;
    let mut bound = Vec::new();
    for item in scale.items {
        if let Some(&(column, times)) = wanted.get(item.name) {
            bound.push(Bound {
                item,
                column: Some(column),
                times,
            });
            continue;
        }
        let names = std::iter::once((item.name, 1.0))
            .chain(item.also.iter().map(|other| (other.name, other.times)));
        let found: Vec<(usize, f64)> = names
            .flat_map(|(name, times)| {
                let headers = table.headers.iter().enumerate();
                headers
                    .filter(move |(_, header)| plain(header) == name)
                    .map(move |(column, _)| (column, times))
            })
            .filter(|(column, _)| !wanted.values().any(|(taken, _)| taken == column))
            .collect();
        match found.as_slice() {
            [] => bound.push(Bound {
                item,
                column: None,
                times: 1.0,
            }),
            [(column, times)] => bound.push(Bound {
                item,
                column: Some(*column),
                times: *times,
            }),
            [..] => {
                let headers: Vec<String> = found
                    .iter()
                    .filter_map(|(column, _)| table.headers.get(*column))
                    .map(|header| format!("`{}`", text(header)))
                    .collect();
                return Err(Failure::with_hint(
                    format!(
                        "{}: {} may all be `{}`",
                        table.file,
                        headers.join(" and "),
                        item.name
                    ),
                    format!("say which with `--column {}=HEADER`", item.name),
                ));
            }
        }
    }
    if bound.iter().all(|bound| bound.column.is_none()) {
        let names: Vec<&str> = scale.items.iter().map(|item| item.name).collect();
        return Err(Failure::with_hint(
            format!("{}: no column that `{}` reads", table.file, scale.id),
            format!(
                "name columns {}; or say which is which with `--column item=HEADER`",
                names.join(", ")
            ),
        ));
    }
    Ok(bound)
}

/// Items named on the command line: name -> position of the column, and what numbers are multiplied with.
fn named_columns(
    scale: &'static Scale,
    table: &Table,
    named: &[String],
) -> Result<BTreeMap<&'static str, (usize, f64)>, Failure> {
    let mut wanted = BTreeMap::new();
    for pair in named {
        let Some((name, header)) = pair.split_once('=') else {
            return Err(Failure::with_hint(
                format!("`--column {}` names no header", text(pair)),
                "write `--column item=HEADER`",
            ));
        };
        let is_of =
            |item: &Item| item.name == name || item.also.iter().any(|other| other.name == name);
        let Some(item) = scale.items.iter().find(|item| is_of(item)) else {
            let names = scale.items.iter().map(|item| item.name);
            return Err(Failure::with_hint(
                format!("`{}` is no item of `{}`", text(name), scale.id),
                match intake::config::nearest(name, names) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("`limbledger explain {}` lists its items", scale.id),
                },
            ));
        };
        let times = item
            .also
            .iter()
            .find(|other| other.name == name)
            .map_or(1.0, |other| other.times);
        let mut columns = table
            .headers
            .iter()
            .enumerate()
            .filter(|(_, known)| known.as_str() == header);
        match (columns.next(), columns.next()) {
            (Some((column, _)), None) => {
                wanted.insert(item.name, (column, times));
            }
            (Some(_), Some(_)) => {
                return Err(Failure::CannotRun(format!(
                    "{}: two columns are named `{}`",
                    table.file,
                    text(header)
                )));
            }
            (None, _) => {
                let near =
                    intake::config::nearest(header, table.headers.iter().map(String::as_str));
                return Err(Failure::with_hint(
                    format!("{}: there is no column `{}`", table.file, text(header)),
                    near.map_or_else(
                        || "the first row of the file names its columns".to_owned(),
                        |near| format!("did you mean `{}`?", text(near)),
                    ),
                ));
            }
        }
    }
    Ok(wanted)
}

/// A cell that could not be read, and is taken as not recorded.
struct CellFinding {
    record: usize,
    column: usize,
    item: &'static Item,
}

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
    let missing: Vec<&str> = bound
        .iter()
        .filter(|bound| bound.column.is_none())
        .map(|bound| bound.item.name)
        .collect();
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
            text(table.headers.get(finding.column).map_or("", String::as_str)),
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

/// Headers of the columns that are added; with the scale's name before them where the table has one of them already.
fn added_headers(scale: &Scale, headers: &[String]) -> Vec<String> {
    let own = scale.columns.iter().map(|column| column.name);
    let names: Vec<&str> = ["grade", "lowest", "highest"]
        .into_iter()
        .chain(own)
        .chain(["why"])
        .collect();
    let prefix = scale.id.replace('-', "_");
    let is_taken = names
        .iter()
        .any(|name| headers.iter().any(|header| plain(header) == *name));
    names
        .into_iter()
        .map(|name| {
            if is_taken {
                format!("{prefix}_{name}")
            } else {
                name.to_owned()
            }
        })
        .collect()
}

fn as_csv(scale: &Scale, table: &Table, graded: &[Graded]) -> Result<String, Failure> {
    let added = added_headers(scale, &table.headers);
    if let Some(taken) = added.iter().find(|name| table.headers.contains(name)) {
        return Err(Failure::with_hint(
            format!("{}: there is a column `{taken}` already", table.file),
            "the table has been graded by this scale; remove those columns, or use --json",
        ));
    }
    let failed =
        |error: csv::Error| Failure::CannotRun(format!("could not write the table: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let headers = table.headers.iter().chain(&added);
    writer
        .write_record(headers.map(|header| inert(header)))
        .map_err(failed)?;
    for (record, graded) in table.records.iter().zip(graded) {
        let mut cells: Vec<String> = record.iter().map(inert).collect();
        cells.push(graded.shown.clone());
        cells.push(graded.lowest.to_string());
        cells.push(graded.highest.to_string());
        cells.extend(graded.more.iter().map(Cell::to_string));
        cells.push(graded.why.clone());
        writer.write_record(&cells).map_err(failed)?;
    }
    let bytes = writer.into_inner().map_err(|error| {
        Failure::CannotRun(format!("could not write the table: {}", error.error()))
    })?;
    String::from_utf8(bytes)
        .map_err(|_| Failure::CannotRun("could not write the table: not UTF-8".to_owned()))
}

fn as_json(
    scale: &Scale,
    options: &GradeOptions,
    bound: &[Bound],
    findings: &[CellFinding],
    graded: &[Graded],
) -> Value {
    let rows: Vec<Value> = graded
        .iter()
        .enumerate()
        .map(|(position, graded)| {
            let mut row = Map::new();
            row.insert("record".to_owned(), json!(position + 1));
            row.insert("grade".to_owned(), json!(graded.grade));
            row.insert("shown".to_owned(), json!(graded.shown));
            row.insert("lowest".to_owned(), json!(graded.lowest));
            row.insert("highest".to_owned(), json!(graded.highest));
            for (column, cell) in scale.columns.iter().zip(&graded.more) {
                row.insert(column.name.to_owned(), json!(cell));
            }
            row.insert("why".to_owned(), json!(graded.why));
            Value::Object(row)
        })
        .collect();
    let not_accepted: Vec<Value> = findings
        .iter()
        .map(|finding| json!({ "record": finding.record, "item": finding.item.name, "accepted": finding.item.kind.accepts() }))
        .collect();
    let missing: Vec<&str> = bound
        .iter()
        .filter(|bound| bound.column.is_none())
        .map(|bound| bound.item.name)
        .collect();
    json!({
        "scale": scale.id,
        "n": graded.len(),
        "options": {
            "abi_limit": options.abi_limit,
            "index_decimals": options.index_decimals,
            "guideline": options.guideline,
            "infection_criteria": options.infection_criteria,
            "area_formula": options.area_formula,
            "smallest_first_area_cm2": options.smallest_first_area_cm2,
        },
        "source": scale.source,
        "caution": scale.caution,
        "items_without_column": missing,
        "not_accepted": not_accepted,
        "rows": rows,
    })
}

/// A cell that a spreadsheet would take for a formula gets a mark before it; numbers pass as they are.
fn inert(cell: &str) -> String {
    let is_formula = outcomes::dataset::reads_as_formula(cell)
        && cell.trim().parse::<f64>().is_err()
        && cell != "-"
        && cell != "--";
    if is_formula {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}

/// A name from outside made harmless for a terminal.
fn text(name: &str) -> String {
    name.chars().map(visible).take(80).collect()
}
