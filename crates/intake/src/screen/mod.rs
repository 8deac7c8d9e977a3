//! A first screen for identifiers: what looks like one stops the run, with file and column named and nothing of the cell.
//!
//! It errs towards stopping: a column it is wrong about is declared under `accept` in the layout, with the reason. It is
//! no proof of de-identification; privacy law and local rules decide what may leave the practice.

mod headers;
mod shapes;

use crate::dates::{DateOrder, read_date};
use chrono::Datelike;
use csv::StringRecord;
use outcomes::finding::{Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::{DatePrecision, SourceRow};
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

/// Whether a cell has a certain look.
type Shape = fn(&str) -> bool;

/// A kind of identifier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Email,
    SocialSecurityNumber,
    Phone,
    RecordNumber,
    BirthDate,
    PostalCode,
    PersonalName,
    FreeText,
    Link,
    AgeOver89,
}

impl Kind {
    const ALL: [Self; 10] = [
        Self::Email,
        Self::SocialSecurityNumber,
        Self::Phone,
        Self::RecordNumber,
        Self::BirthDate,
        Self::PostalCode,
        Self::PersonalName,
        Self::FreeText,
        Self::Link,
        Self::AgeOver89,
    ];

    const fn check(self) -> &'static str {
        match self {
            Self::Email => "looks-like-email",
            Self::SocialSecurityNumber => "looks-like-social-security-number",
            Self::Phone => "looks-like-phone-number",
            Self::RecordNumber => "looks-like-record-number",
            Self::BirthDate => "looks-like-birth-date",
            Self::PostalCode => "looks-like-address",
            Self::PersonalName => "looks-like-name",
            Self::FreeText => "looks-like-free-text",
            Self::Link => "looks-like-link-or-device",
            Self::AgeOver89 => "age-over-89",
        }
    }

    /// Whether a single cell is enough. The others are common by chance and need half of a column's cells.
    const fn is_certain(self) -> bool {
        matches!(
            self,
            Self::Email
                | Self::SocialSecurityNumber
                | Self::Phone
                | Self::FreeText
                | Self::Link
                | Self::AgeOver89
        )
    }
}

/// What a column is for, which decides how closely its cells are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    /// Ignored or accepted by the layout: not looked at.
    Dropped,
    /// Pseudonymous ids: as open text, but numbers and codes are its nature.
    PatientId,
    /// Spellings kept as they are, and columns the layout does not know.
    Open,
    /// Dates in this order.
    Date(DateOrder),
    /// A year of birth.
    BirthYear,
    /// Codes and numbers: a readable cell cannot identify anybody.
    Closed,
}

/// Cells shorter than this identify nobody, except ages.
const SHORT: usize = 5;
/// Longest cell a closed field may hold unseen.
const LONGEST_CODE: usize = 12;
/// A date this many years before data start is taken as a date of birth.
const BIRTH_YEARS_BACK: i32 = 15;
/// Fewer spellings than this are a code list, not names of persons.
const FEWEST_NAMES: usize = 20;

/// The screen of one file.
pub(crate) struct Screen {
    /// As many as the header; kept apart from the columns because every cell of every record passes here.
    glances: Vec<Glance>,
    columns: Vec<Column>,
    birth_dates_before: i32,
    /// A year of birth before this is certainly an age over 89.
    over_89_before: i32,
}

/// What decides whether a cell is looked at.
struct Glance {
    /// Bytes of the shortest cell that is looked at.
    shortest: usize,
    n_present: u64,
}

impl Glance {
    fn at(column: &Column) -> Self {
        let shortest = match column.used {
            Use::Dropped => usize::MAX,
            Use::Closed if !column.is_age => LONGEST_CODE + 1,
            _ => 1,
        };
        Self {
            shortest,
            n_present: 0,
        }
    }
}

struct Column {
    header: String,
    used: Use,
    is_age: bool,
    hits: [Hits; Kind::ALL.len()],
    spellings: HashSet<u64>,
}

#[derive(Clone, Copy, Default)]
struct Hits {
    n: u64,
    first: Option<SourceRow>,
}

impl Screen {
    /// A screen for columns in file order.
    pub(crate) fn new(headers: &[String], uses: &[Use], horizon: &DataHorizon) -> Self {
        let columns: Vec<Column> = headers
            .iter()
            .zip(uses)
            .map(|(header, used)| Column {
                header: header.clone(),
                used: *used,
                is_age: headers::words(header).iter().any(|word| word == "age"),
                hits: [Hits::default(); Kind::ALL.len()],
                spellings: HashSet::new(),
            })
            .collect();
        Self {
            glances: columns.iter().map(Glance::at).collect(),
            columns,
            birth_dates_before: horizon.data_start.year() - BIRTH_YEARS_BACK,
            over_89_before: horizon.cut_off.year() - 90,
        }
    }

    /// Looks at one record with as many cells as the header.
    pub(crate) fn look(&mut self, record: &StringRecord, source: SourceRow) {
        let columns = self.glances.iter_mut().zip(&mut self.columns);
        for (cell, (glance, column)) in record.iter().zip(columns) {
            glance.n_present += u64::from(!cell.is_empty());
            if cell.len() >= glance.shortest {
                column.look(
                    cell.trim(),
                    source,
                    self.birth_dates_before,
                    self.over_89_before,
                );
            }
        }
    }

    /// What was found, column by column.
    pub(crate) fn findings(&self, file: &str) -> Vec<Finding> {
        let mut findings = Vec::new();
        let columns = self.columns.iter().zip(&self.glances);
        for (column, glance) in columns.filter(|(column, _)| column.used != Use::Dropped) {
            if let Some(kind) = headers::kind_of(&column.header) {
                findings.push(finding(
                    kind,
                    None,
                    column,
                    format!("{file}: the header names what identifies a person"),
                ));
                continue;
            }
            for (kind, hits) in Kind::ALL.iter().zip(&column.hits) {
                if column.is_found(*kind, hits, glance.n_present) {
                    let message = format!(
                        "{} of {} cells look like what identifies a person",
                        hits.n, glance.n_present
                    );
                    findings.push(finding(*kind, hits.first, column, message));
                }
            }
        }
        findings
    }
}

impl Column {
    fn look(
        &mut self,
        cell: &str,
        source: SourceRow,
        birth_dates_before: i32,
        over_89_before: i32,
    ) {
        if self.is_age && cell.parse::<f64>().is_ok_and(|age| age > 89.0) {
            self.hit(Kind::AgeOver89, source);
        }
        match self.used {
            Use::BirthYear => {
                let is_year = cell.len() == 4;
                if is_year && cell.parse::<i32>().is_ok_and(|year| year < over_89_before) {
                    self.hit(Kind::AgeOver89, source);
                } else if DateOrder::ALL
                    .iter()
                    .any(|order| is_day(cell, *order).is_some())
                {
                    self.hit(Kind::BirthDate, source);
                }
            }
            Use::Date(_) if year_in(cell).is_some_and(|year| year >= birth_dates_before) => {}
            Use::Date(order) => match is_day(cell, order) {
                Some(year) if year < birth_dates_before => self.hit(Kind::BirthDate, source),
                Some(_) => {}
                None => self.look_at_text(cell, source),
            },
            Use::Open => {
                let old = DateOrder::ALL.iter().find_map(|order| is_day(cell, *order));
                match old {
                    Some(year) if year < birth_dates_before => self.hit(Kind::BirthDate, source),
                    Some(_) => {}
                    None => self.look_at_text(cell, source),
                }
            }
            Use::PatientId | Use::Closed => self.look_at_text(cell, source),
            Use::Dropped => {}
        }
    }

    fn look_at_text(&mut self, cell: &str, source: SourceRow) {
        if cell.len() < SHORT {
            return;
        }
        let certain: [(Kind, Shape); 4] = [
            (Kind::Email, shapes::is_email),
            (
                Kind::SocialSecurityNumber,
                shapes::is_social_security_number,
            ),
            (Kind::Phone, shapes::is_phone),
            (Kind::FreeText, shapes::is_free_text),
        ];
        if let Some((kind, _)) = certain.iter().find(|(_, is_shape)| is_shape(cell)) {
            self.hit(*kind, source);
        }
        if shapes::is_long_number(cell) {
            self.hit(Kind::RecordNumber, source);
        }
        if self.used == Use::Open && shapes::is_postal_code(cell) {
            self.hit(Kind::PostalCode, source);
        }
        if matches!(self.used, Use::Open | Use::PatientId) && shapes::is_personal_name(cell) {
            self.hit(Kind::PersonalName, source);
            if self.spellings.len() < FEWEST_NAMES {
                let mut hasher = DefaultHasher::new();
                cell.hash(&mut hasher);
                self.spellings.insert(hasher.finish());
            }
        }
    }

    fn hit(&mut self, kind: Kind, source: SourceRow) {
        let place = Kind::ALL.iter().position(|known| *known == kind);
        if let Some(hits) = place.and_then(|place| self.hits.get_mut(place)) {
            hits.n += 1;
            hits.first.get_or_insert(source);
        }
    }

    fn is_found(&self, kind: Kind, hits: &Hits, n_present: u64) -> bool {
        if hits.n == 0 {
            return false;
        }
        let is_half = 2 * hits.n >= n_present;
        match kind {
            Kind::PersonalName => is_half && self.spellings.len() >= FEWEST_NAMES,
            kind => kind.is_certain() || is_half,
        }
    }
}

/// Four digits at the start or end of a short cell, as a year; spares reading most dates twice.
fn year_in(cell: &str) -> Option<i32> {
    if cell.len() > LONGEST_CODE {
        return None;
    }
    let year = |digits: Option<&str>| {
        let is_year = |digits: &&str| digits.bytes().all(|byte| byte.is_ascii_digit());
        digits
            .filter(is_year)
            .and_then(|digits| digits.parse().ok())
    };
    let end = cell.len().checked_sub(4)?;
    year(cell.get(end..)).or_else(|| year(cell.get(..4)))
}

/// The year of a cell that is a whole date in this order.
fn is_day(cell: &str, order: DateOrder) -> Option<i32> {
    let written = read_date(cell, order).ok()?;
    (written.precision == DatePrecision::Day).then(|| written.date.year())
}

fn finding(kind: Kind, source: Option<SourceRow>, column: &Column, message: String) -> Finding {
    Finding {
        check: kind.check(),
        severity: Severity::Stop,
        source,
        column: Some(column.header.clone()),
        message,
        hint: Some(
            "drop the column from the export or list it under `ignore` in the layout; if it identifies nobody, declare it under [accept] with the reason"
                .to_owned(),
        ),
    }
}
