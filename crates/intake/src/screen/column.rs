//! One column under the screen: its cells one by one, and what they come to.

use super::shapes::{self, Made};
use super::{Found, Kind, Use, Years, further, headers, wordy};
use crate::dates::{DateForm, DateOrder, read_date};
use chrono::Datelike;
use outcomes::tables::{DatePrecision, SourceRow};
use std::collections::HashSet;
use std::hash::{DefaultHasher, Hash, Hasher};

/// Cells shorter than this identify nobody, except ages.
const SHORT: usize = 4;
/// Shortest cell of a column of codes and numbers that could hold an identifier: an e-mail address of seven letters.
const SHORT_CODE: usize = 7;
/// Fewer spellings than this are a code list, not names of persons or free text.
const FEWEST_SPELLINGS: usize = 20;
/// So many different phrases are free text.
const FEWEST_PHRASES: usize = 12;
/// So many different given names alone in their cells are names of persons.
const FEWEST_GIVEN_NAMES: usize = 5;

/// Orders in which a cell shows by itself that it is a date; a number of days may be anything else, too.
const SEPARATED: [DateOrder; 4] = [
    DateOrder::DayFirst,
    DateOrder::MonthFirst,
    DateOrder::Iso,
    DateOrder::YearFirst,
];

/// A column of one file.
pub(super) struct Column {
    pub(super) header: String,
    pub(super) used: Use,
    is_age: bool,
    is_birth_year: bool,
    is_code: bool,
    /// The header is about names of things: many spellings are no persons.
    is_thing: bool,
    /// The header has a word for a person.
    is_person: bool,
    /// What the header says that the column holds.
    announced: Option<Kind>,
    /// Cells that are no more than yes or no.
    n_flags: u64,
    hits: [Hits; Kind::ALL.len()],
    /// Hits of every kind.
    n_told: u64,
    names: Spellings,
    given_names: Spellings,
    phrases: Spellings,
}

#[derive(Clone, Copy, Default)]
struct Hits {
    /// Cells that look like it and leave no doubt.
    n_certain: u64,
    /// Cells that look like it by chance too.
    n_perhaps: u64,
    first: Option<SourceRow>,
}

/// Distinct spellings, counted up to a few.
#[derive(Default)]
struct Spellings {
    n_cells: u64,
    first: Option<SourceRow>,
    hashes: HashSet<u64>,
}

impl Spellings {
    fn add(&mut self, cell: &str, source: SourceRow) {
        self.n_cells += 1;
        self.first.get_or_insert(source);
        if self.hashes.len() < FEWEST_SPELLINGS {
            let mut hasher = DefaultHasher::new();
            cell.hash(&mut hasher);
            self.hashes.insert(hasher.finish());
        }
    }

    fn is_many(&self, fewest: usize, n_present: u64) -> bool {
        self.hashes.len() >= fewest && 2 * self.n_cells >= n_present
    }
}

impl Column {
    pub(super) fn new(header: &str, used: Use) -> Self {
        let words = headers::words(header);
        let is_birth_year = used == Use::BirthYear || headers::is_birth_year(&words);
        // a year of birth is allowed; its cells are looked at for more than that
        let announced =
            headers::kind_of(header).filter(|kind| !(is_birth_year && *kind == Kind::BirthDate));
        Self {
            header: header.to_owned(),
            used,
            is_age: headers::is_age(&words),
            is_birth_year,
            is_code: headers::is_code(&words),
            is_thing: headers::names_things(&words),
            is_person: headers::is_about_a_person(&words),
            announced,
            n_flags: 0,
            hits: [Hits::default(); Kind::ALL.len()],
            n_told: 0,
            names: Spellings::default(),
            given_names: Spellings::default(),
            phrases: Spellings::default(),
        }
    }

    /// Bytes of the shortest cell worth looking at.
    pub(super) fn shortest(&self) -> usize {
        match self.used {
            Use::Dropped => usize::MAX,
            _ if self.announced.is_some() => 1,
            Use::Closed if !self.is_age => SHORT_CODE,
            _ if self.is_age => 1,
            _ => SHORT,
        }
    }

    /// How much cells have told so far: a cell after which it is the same told nothing, and a cell of the same text never will.
    pub(super) fn n_told(&self) -> u64 {
        let lists = [&self.names, &self.given_names, &self.phrases];
        self.n_told + self.n_flags + lists.map(|list| list.n_cells).iter().sum::<u64>()
    }

    pub(super) fn look(&mut self, cell: &str, source: SourceRow, years: Years) {
        if self.announced.is_some() && is_flag(cell) {
            self.n_flags += 1;
            return;
        }
        if self.is_age && tells_age_over_89(cell) {
            self.certain(Kind::AgeOver89, source);
        }
        if self.is_birth_year && cell.len() == 4 {
            if cell
                .parse::<i32>()
                .is_ok_and(|year| (1800..years.over_89_before).contains(&year))
            {
                self.certain(Kind::AgeOver89, source);
            }
            return;
        }
        match self.used {
            Use::Dropped => {}
            Use::BirthYear => {
                let is_date = SEPARATED
                    .iter()
                    .any(|order| year_of_day(cell, *order).is_some());
                if is_date || wordy::year_of_other_date(cell, years.latest).is_some() {
                    self.certain(Kind::BirthDate, source);
                } else {
                    self.look_at_text(cell, source);
                }
            }
            Use::Date(_)
                if year_in(cell).is_some_and(|year| {
                    (years.birth_dates_before..=years.latest + 100).contains(&year)
                }) => {}
            Use::Date(order) => self.look_at_date(year_of_day(cell, order), cell, source, years),
            Use::Open | Use::Accepted => {
                let year = SEPARATED.iter().find_map(|order| year_of_day(cell, *order));
                self.look_at_date(year, cell, source, years);
            }
            Use::PatientId | Use::Closed => self.look_at_text(cell, source),
        }
    }

    fn look_at_date(&mut self, year: Option<i32>, cell: &str, source: SourceRow, years: Years) {
        let written = further::spaced_date(cell);
        let cell_of_date = written.as_deref().unwrap_or(cell);
        match year.or_else(|| wordy::year_of_other_date(cell_of_date, years.latest)) {
            Some(year) if year < years.birth_dates_before => self.perhaps(Kind::BirthDate, source),
            Some(_) => {}
            None => self.look_at_text(cell, source),
        }
    }

    fn look_at_text(&mut self, cell: &str, source: SourceRow) {
        if cell.len() < SHORT {
            return;
        }
        let made = Made::of(cell);
        let is_open = matches!(self.used, Use::Open | Use::Accepted);
        if is_open && self.look_further(cell, made, source) {
            return;
        }
        let certain = [
            (
                Kind::Email,
                made.has_at && shapes::has_email(cell)
                    || made.n_gaps >= 3 && shapes::has_spelt_email(cell),
            ),
            (
                Kind::SocialSecurityNumber,
                (6..=20).contains(&made.n_digits) && shapes::has_social_security_number(cell),
            ),
            (
                Kind::RecordNumber,
                made.n_digits >= 4 && shapes::is_record_number(cell),
            ),
            (Kind::Phone, made.n_digits >= 9 && shapes::has_phone(cell)),
            (
                Kind::Link,
                (made.n_dots >= 1 || made.n_colons > 0 || made.n_digits + made.n_letters == 12)
                    && (shapes::has_link(cell) || shapes::is_file_of_a_person(cell)),
            ),
            (
                Kind::PostalCode,
                made.n_gaps >= 1 && made.n_digits > 0 && wordy::is_address(cell),
            ),
            (
                Kind::PersonalName,
                made.n_gaps > 0
                    && made.n_letters >= 4
                    && (wordy::is_certain_name(cell) || wordy::is_relative(cell)),
            ),
            (
                Kind::FreeText,
                (made.n_gaps >= 5 || cell.len() > 60) && wordy::is_free_text(cell),
            ),
        ];
        if let Some((kind, _)) = certain.iter().find(|(_, is_found)| *is_found) {
            self.certain(*kind, source);
            return;
        }
        let is_number = made.n_letters == 0 && made.n_digits >= 9;
        if is_number
            && !self.is_code
            && (shapes::is_long_number(cell) || is_open && shapes::is_grouped_number(cell))
        {
            self.perhaps(Kind::RecordNumber, source);
        }
        if is_open && !self.is_code && made.n_digits >= 2 && shapes::is_postal_code(cell) {
            self.perhaps(Kind::PostalCode, source);
        }
        if made.n_letters < SHORT || !(is_open || self.used == Use::PatientId) {
            return;
        }
        let is_of_people = self.is_person || self.used == Use::PatientId;
        if is_of_people && !self.is_thing && made.n_digits == 0 && wordy::is_inverted_name(cell) {
            self.perhaps(Kind::PersonalName, source);
        }
        if made.n_digits == 0 && !self.is_thing && wordy::is_personal_name(cell) {
            self.names.add(cell, source);
            if wordy::is_lone_given_name(cell) {
                self.given_names.add(cell, source);
            }
        } else if made.n_digits == 0 && !self.is_thing && wordy::is_name_in_any_case(cell) {
            self.given_names.add(cell, source);
        } else if made.n_gaps >= 2 && !self.is_thing && wordy::is_phrase(cell) {
            self.phrases.add(cell, source);
        }
    }

    /// What only columns of open text are looked at for; true where it leaves no doubt.
    fn look_further(&mut self, cell: &str, made: Made, source: SourceRow) -> bool {
        let certain = [
            (
                Kind::Email,
                made.n_gaps == 0 && further::is_loose_email(cell),
            ),
            (
                Kind::RecordNumber,
                made.n_digits >= 4 && further::is_personal_number(cell),
            ),
            (
                Kind::Phone,
                made.n_digits == 10 && further::is_american_phone(cell),
            ),
            (Kind::Link, further::is_machine(cell)),
            (
                Kind::PostalCode,
                further::is_coordinates(cell) || further::ends_with_postal_code(cell),
            ),
            (
                Kind::PersonalName,
                made.n_gaps > 0 && further::is_addressed_elsewhere(cell),
            ),
            (
                Kind::AgeOver89,
                made.n_digits >= 2 && further::tells_great_age(cell),
            ),
        ];
        let found = certain.iter().find(|(_, is_found)| *is_found);
        let found = found
            .map(|(kind, _)| *kind)
            .or_else(|| further::labelled(cell));
        if let Some(kind) = found {
            self.certain(kind, source);
            return true;
        }
        if self.is_code {
            return false;
        }
        if made.n_digits == 7 && further::is_short_phone(cell)
            || made.n_digits >= 8 && further::is_stroked_phone(cell)
        {
            self.perhaps(Kind::Phone, source);
        } else if made.n_digits >= 2 && further::may_be_personal_number(cell) {
            self.perhaps(Kind::RecordNumber, source);
        } else if further::is_other_postal_code(cell)
            || made.n_gaps >= 2 && further::may_be_address(cell)
        {
            self.perhaps(Kind::PostalCode, source);
        }
        false
    }

    fn certain(&mut self, kind: Kind, source: SourceRow) {
        self.hit(kind, source).n_certain += 1;
    }

    fn perhaps(&mut self, kind: Kind, source: SourceRow) {
        self.hit(kind, source).n_perhaps += 1;
    }

    fn hit(&mut self, kind: Kind, source: SourceRow) -> &mut Hits {
        self.n_told += 1;
        let hits = &mut self.hits[kind as usize];
        hits.first.get_or_insert(source);
        hits
    }

    /// What the header and `n_present` cells come to. A header that names an identifier says enough.
    pub(super) fn found(&self, n_present: u64) -> Vec<Found> {
        // a question of yes and no holds nothing of what its header speaks of
        let is_question = n_present > 0 && self.n_flags == n_present;
        if let Some(kind) = self.announced.filter(|_| !is_question) {
            return vec![Found {
                kind,
                n_cells: None,
                first: None,
            }];
        }
        Kind::ALL
            .iter()
            .zip(&self.hits)
            .filter_map(|(kind, hits)| self.verdict(*kind, *hits, n_present))
            .collect()
    }

    /// One certain cell is enough; the others are common by chance and need half of a column's cells.
    fn verdict(&self, kind: Kind, hits: Hits, n_present: u64) -> Option<Found> {
        let n_hits = hits.n_certain + hits.n_perhaps;
        let many = match kind {
            Kind::PersonalName if self.names.is_many(FEWEST_SPELLINGS, n_present) => {
                Some(&self.names)
            }
            Kind::PersonalName if self.given_names.is_many(FEWEST_GIVEN_NAMES, n_present) => {
                Some(&self.given_names)
            }
            Kind::FreeText if self.phrases.is_many(FEWEST_PHRASES, n_present) => {
                Some(&self.phrases)
            }
            _ => None,
        };
        let is_found =
            hits.n_certain > 0 || n_hits > 0 && 2 * n_hits >= n_present || many.is_some();
        is_found.then(|| Found {
            kind,
            n_cells: Some(n_hits + many.map_or(0, |spellings| spellings.n_cells)),
            first: hits
                .first
                .into_iter()
                .chain(many.and_then(|spellings| spellings.first))
                .min(),
        })
    }
}

/// Yes or no, and nothing else.
fn is_flag(cell: &str) -> bool {
    ["y", "n", "yes", "no", "true", "false", "0", "1"]
        .iter()
        .any(|flag| cell.eq_ignore_ascii_case(flag))
}

/// An age of 90 years or more, or a band that begins there; `90+` and its like are pooled as they should be.
fn tells_age_over_89(cell: &str) -> bool {
    let number: String = cell
        .chars()
        .take_while(|letter| letter.is_ascii_digit() || *letter == '.')
        .collect();
    let rest = cell
        .get(number.len()..)
        .unwrap_or_default()
        .trim()
        .to_ascii_lowercase();
    let is_pooled = number == "90"
        && ["+", "or over", "or older", "and over", "plus", "or-over"].contains(&rest.as_str());
    !is_pooled
        && number
            .parse::<f64>()
            .is_ok_and(|age| (90.0..150.0).contains(&age))
}

/// Four digits at the start or end of a short cell, as a year; spares reading most dates twice.
fn year_in(cell: &str) -> Option<i32> {
    if cell.len() > 10 {
        return None;
    }
    let year = |part: Option<&str>| {
        part.filter(|part| part.bytes().all(|byte| byte.is_ascii_digit()))?
            .parse()
            .ok()
    };
    year(cell.get(cell.len().saturating_sub(4)..)).or_else(|| year(cell.get(..4)))
}

/// The year of a cell that is a whole date in this order.
fn year_of_day(cell: &str, form: impl Into<DateForm>) -> Option<i32> {
    let written = read_date(cell, form).ok()?;
    (written.precision == DatePrecision::Day).then(|| written.date.year())
}
