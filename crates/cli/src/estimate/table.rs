//! A plain table: the columns that are asked for, with the place of every row in the file.

use crate::failure::Failure;
use std::path::Path;

/// Counts below this are whole numbers that a float holds exactly.
const LARGEST_COUNT: f64 = 1e15;

/// Columns of text cells, in the order they were asked for.
pub(super) struct Table {
    file: String,
    columns: Vec<Column>,
    /// Record and line of each row.
    places: Vec<Place>,
    /// Records left out for an empty cell.
    pub(super) n_left_out: usize,
}

/// Where a row stands in the file.
#[derive(Clone, Copy)]
struct Place {
    record: usize,
    line: u64,
}

/// The cells of a column, one behind the other.
struct Column {
    name: String,
    text: String,
    /// Where each cell ends in the text.
    ends: Vec<usize>,
}

impl Column {
    fn empty(wanted: &Wanted) -> Self {
        Self {
            name: wanted.name.clone(),
            text: String::new(),
            ends: Vec::new(),
        }
    }

    fn push(&mut self, cell: &str) {
        self.text.push_str(cell);
        self.ends.push(self.text.len());
    }

    fn cells(&self) -> impl Iterator<Item = &str> {
        let starts = std::iter::once(&0).chain(&self.ends);
        starts
            .zip(&self.ends)
            .map(|(&start, &end)| self.text.get(start..end).unwrap_or_default())
    }
}

/// A column to read.
#[derive(Clone)]
pub(super) struct Wanted {
    pub(super) name: String,
    /// Whether an empty cell has a meaning, rather than leaving the row out.
    pub(super) may_be_empty: bool,
}

/// Reads the wanted columns; rows with an empty cell or `NA` where none may be are left out and counted.
pub(super) fn read(path: &Path, wanted: &[Wanted]) -> Result<Table, Failure> {
    let file = path.display().to_string();
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_path(path)
        .map_err(|error| unreadable(&file, &error))?;
    let headers: Vec<String> = reader
        .headers()
        .map_err(|error| unreadable(&file, &error))?
        .iter()
        .map(|header| header.trim_start_matches('\u{feff}').to_owned())
        .collect();
    let mut at = Vec::with_capacity(wanted.len());
    for column in wanted {
        at.push(place_of(&file, &headers, &column.name)?);
    }
    let mut table = Table {
        file,
        columns: wanted.iter().map(Column::empty).collect(),
        places: Vec::new(),
        n_left_out: 0,
    };
    let mut record = csv::StringRecord::new();
    let mut n_records = 0;
    while reader
        .read_record(&mut record)
        .map_err(|error| unreadable(&table.file, &error))?
    {
        n_records += 1;
        let cell = |place: usize| match record.get(place) {
            None | Some("NA") => "",
            Some(cell) => cell,
        };
        let is_missing = wanted
            .iter()
            .zip(&at)
            .any(|(wanted, &place)| !wanted.may_be_empty && cell(place).is_empty());
        if is_missing {
            table.n_left_out += 1;
            continue;
        }
        for (column, &place) in table.columns.iter_mut().zip(&at) {
            column.push(cell(place));
        }
        table.places.push(Place {
            record: n_records,
            line: record.position().map_or(0, csv::Position::line),
        });
    }
    if table.places.is_empty() {
        return Err(Failure::Data(format!(
            "{}: no row can be used ({} left out for an empty cell)",
            table.file, table.n_left_out
        )));
    }
    Ok(table)
}

fn place_of(file: &str, headers: &[String], name: &str) -> Result<usize, Failure> {
    let mut found = headers
        .iter()
        .enumerate()
        .filter(|(_, header)| *header == name);
    match (found.next(), found.next()) {
        (Some((place, _)), None) => Ok(place),
        (Some(_), Some(_)) => Err(Failure::CannotRun(format!(
            "{file}: two columns are named `{name}`"
        ))),
        (None, _) => {
            let nearest = intake::config::nearest(name, headers.iter().map(String::as_str));
            Err(Failure::with_hint(
                format!("{file}: there is no column `{name}`"),
                nearest.map_or_else(
                    || "the first row of the file names its columns".to_owned(),
                    |nearest| format!("did you mean `{nearest}`?"),
                ),
            ))
        }
    }
}

/// What is wrong with the file, without any of its cells.
pub(crate) fn unreadable(file: &str, error: &csv::Error) -> Failure {
    let at = error.position().map_or_else(String::new, |position| {
        format!(", line {}", position.line())
    });
    match error.kind() {
        csv::ErrorKind::Io(error) => Failure::CannotRun(format!("{file}: {error}")),
        csv::ErrorKind::Utf8 { .. } => Failure::with_hint(
            format!("{file}{at}: not UTF-8 text"),
            "save the table as UTF-8",
        ),
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => Failure::Data(format!(
            "{file}{at}: {len} cells where the header has {expected_len}"
        )),
        _ => Failure::Data(format!("{file}{at}: not a table of records")),
    }
}

impl Table {
    /// Rows in use.
    pub(super) fn n_rows(&self) -> usize {
        self.places.len()
    }

    /// Cells of a column that was asked for.
    pub(super) fn text(&self, name: &str) -> Vec<&str> {
        let column = self.columns.iter().find(|column| column.name == name);
        column.map_or_else(Vec::new, |column| column.cells().collect())
    }

    /// Labels of a column; a label that some programs write for a number they do not have is refused, since it would read
    /// as a label of its own.
    pub(super) fn labels(&self, name: &str) -> Result<Vec<&str>, Failure> {
        let cells = self.text(name);
        let is_no_number = |cell: &&str| cell.parse().is_ok_and(|number: f64| !number.is_finite());
        match cells.iter().position(is_no_number) {
            None => Ok(cells),
            Some(row) => Err(Failure::Data(format!(
                "{}, column `{name}`: neither a label nor a finite number\nhint: leave the cell empty where nothing is known",
                self.place(row)
            ))),
        }
    }

    /// Numbers of a column; an empty cell becomes `of_empty`.
    pub(super) fn numbers(&self, name: &str, of_empty: f64) -> Result<Vec<f64>, Failure> {
        let cells = self.text(name).into_iter().enumerate();
        cells
            .map(|(row, cell)| {
                if cell.is_empty() {
                    return Ok(of_empty);
                }
                cell.parse().map_err(|_| {
                    let fact = format!("{}, column `{name}`: not a number", self.place(row));
                    Failure::Data(fact)
                })
            })
            .collect()
    }

    /// Whole numbers of 0 or more.
    pub(super) fn counts(&self, name: &str) -> Result<Vec<u64>, Failure> {
        let numbers = self.numbers(name, f64::NAN)?.into_iter().enumerate();
        numbers
            .map(|(row, number)| {
                if number >= 0.0 && number.fract() == 0.0 && number < LARGEST_COUNT {
                    return Ok(number as u64);
                }
                let fact = format!("{}, column `{name}`: not a count", self.place(row));
                Err(Failure::Data(fact))
            })
            .collect()
    }

    /// Record of the file that a row in use, counted from 0, was.
    pub(super) fn record(&self, row: usize) -> Option<usize> {
        self.places.get(row).map(|place| place.record)
    }

    /// File, record and line of a row counted from 0.
    pub(super) fn place(&self, row: usize) -> String {
        match self.places.get(row) {
            Some(place) => format!(
                "{}: record {} (line {})",
                self.file, place.record, place.line
            ),
            None => self.file.clone(),
        }
    }

    /// An estimator's refusal, with the place in the file it speaks of.
    pub(super) fn refusal(&self, error: &survival::SurvivalError) -> Failure {
        let words = match error.row() {
            Some(row) => said_of(&self.place(row.saturating_sub(1)), error),
            None => format!("{}: {error}", self.file),
        };
        if error.is_of_settings() {
            Failure::CannotRun(words)
        } else {
            Failure::Data(words)
        }
    }
}

/// A refusal beside the place it speaks of; its own row number counts the rows that were used.
pub(super) fn said_of(place: &str, error: &survival::SurvivalError) -> String {
    format!("{place}: {error} (counting the rows in use)")
}
