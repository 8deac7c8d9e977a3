//! Overlapping exports: the same record in two files counts once, and the newest telling of it wins.
//!
//! Where a layout reads several files of one kind, they are gone through once beforehand for what names each record. A
//! record is named by person and `row_id` where the layout maps one; else by person, day and what tells records of one
//! day apart: the clinic site of a visit, whether the row is administrative, the side of an examination, side and label
//! of an ulcer, kind, side and label of an event, the day a row of person facts speaks of. All of that is compared as
//! we understand it, so exports whose columns or codes were renamed can be compared too.

use super::bind::{BoundPlan, Header};
use super::cells::{BoundPart, Row};
use super::door::Record;
use super::editions::BoundFile;
use super::joined::{JoinedDoor, JoinedTables};
use super::reading::shape_fault;
use super::row::is_administrative;
use super::tables::{Loading, fingerprint};
use super::{Input, LoadError, Progress};
use crate::layout::{Layout, Role};
use chrono::{Datelike, NaiveDate};
use outcomes::finding::{Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::{Names, SourceRow};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

/// What names a record: a hash without a random seed, and the day beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Key {
    hash: u64,
    day: i32,
}

/// The newest file that holds a key, and its records of that key.
struct Newest {
    rank: usize,
    first: SourceRow,
    first_print: u64,
    /// Fingerprints of its further records of that key; most have none.
    more_prints: Vec<u64>,
}

impl Newest {
    fn holds(&self, print: u64) -> bool {
        self.first_print == print || self.more_prints.contains(&print)
    }
}

/// Days that the dated records of a file run over.
type Span = Option<(NaiveDate, NaiveDate)>;

/// What a record is beside the other exports.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Telling {
    /// Nothing newer says otherwise.
    Stands,
    /// A newer export tells it differently, first here.
    Superseded(SourceRow),
    /// An export of the same day tells it differently, first here.
    Disputed(SourceRow),
}

/// What the files of one kind hold in common. Hash maps here are only looked into, never walked.
#[derive(Default)]
pub(super) struct Overlap {
    newest: HashMap<Key, Newest>,
    /// How new each file is; a greater number is newer.
    ranks: Vec<usize>,
    names: Vec<String>,
    spans: Vec<Span>,
    /// Digests of what was gone through.
    digests: Vec<String>,
    is_as_listed: bool,
    n_superseded: u64,
    /// The file being read, its records that a newer file holds too, and those that it should hold and does not.
    place: usize,
    n_shared: u64,
    n_alone: u64,
    /// Records of the kind whose day is not told, so that nothing names them.
    n_nameless: u64,
}

/// Goes through the files of one kind, where there are several.
pub(super) fn survey(
    inputs: &[&Input],
    role: Role,
    layout: &Layout,
    loading: &Loading<'_>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<Overlap, LoadError> {
    if inputs.len() < 2 {
        return Ok(Overlap::default());
    }
    let mut overlap = Overlap {
        is_as_listed: inputs.iter().all(|input| input.exported.is_none()),
        names: inputs.iter().map(|input| input.name.clone()).collect(),
        ranks: ranks(inputs)?,
        ..Overlap::default()
    };
    for (place, input) in inputs.iter().enumerate() {
        let file = loading.tables.files.len() + place;
        let read_with = (loading.horizon, &loading.joined);
        overlap.go_through(input, place, file, role, layout, read_with, progress)?;
    }
    Ok(overlap)
}

/// By declared day where each file declares one, else in the order listed.
pub(super) fn ranks(inputs: &[&Input]) -> Result<Vec<usize>, LoadError> {
    let undated = inputs.iter().filter(|input| input.exported.is_none());
    if undated.clone().count() == inputs.len() {
        return Ok((0..inputs.len()).collect());
    }
    if let Some(input) = undated.into_iter().next() {
        return Err(LoadError::ExportDayMissing {
            file: input.name.clone(),
        });
    }
    let mut days: Vec<_> = inputs.iter().map(|input| input.exported).collect();
    days.sort_unstable();
    days.dedup();
    Ok(inputs
        .iter()
        .map(|input| days.partition_point(|day| *day < input.exported))
        .collect())
}

impl Overlap {
    #[expect(clippy::too_many_arguments, reason = "what a file is read with")]
    fn go_through(
        &mut self,
        input: &Input,
        place: usize,
        file: usize,
        role: Role,
        layout: &Layout,
        (horizon, joined): (&DataHorizon, &Arc<JoinedTables>),
        progress: &dyn Fn(Progress<'_>),
    ) -> Result<(), LoadError> {
        let file = u16::try_from(file).map_err(|_| input.too_many("files"))?;
        let source = input.source();
        let layout = layout.for_file(&input.name)?;
        let mut door = JoinedDoor::open(&source, &layout.form, role, joined)?;
        let headers = door.headers();
        let header = Header {
            names: &headers,
            is_date: &door.is_date(),
        };
        let bound = BoundFile::bind(layout, role, header, &input.name, &mut Names::default())?;
        let mut record = Record::default();
        let mut span: Span = None;
        let mut n_records = 0_u64;
        while door.read(&mut record)? {
            n_records += 1;
            let place_in_file = SourceRow {
                file,
                record: u32::try_from(n_records).map_err(|_| input.too_many("records"))?,
            };
            let (edition, row) = bound.row(&record, place_in_file);
            let plan = &edition.plan;
            // a record that cannot be used wins over none
            if record.fault.is_some() || shape_fault(&row, record.n_lines).is_some() {
                continue;
            }
            let Some((key, date)) = key(plan, &row, horizon) else {
                continue;
            };
            span = match (span, date) {
                (Some((first, last)), Some(date)) => Some((first.min(date), last.max(date))),
                (None, Some(date)) => Some((date, date)),
                (span, None) => span,
            };
            let print = fingerprint(&record.cells, plan.headers_hash);
            self.note(key, place, row.source, print);
        }
        let closed = door.close()?;
        progress(Progress {
            file: &input.name,
            n_bytes_read: closed.n_bytes,
            n_bytes: closed.n_bytes,
            n_records,
        });
        self.spans.push(span);
        self.digests.push(closed.sha256);
        Ok(())
    }

    fn rank(&self, place: usize) -> usize {
        self.ranks.get(place).copied().unwrap_or_default()
    }

    fn note(&mut self, key: Key, place: usize, source: SourceRow, print: u64) {
        let rank = self.rank(place);
        let here = Newest {
            rank,
            first: source,
            first_print: print,
            more_prints: Vec::new(),
        };
        let known = self.newest.entry(key).or_insert(here);
        if known.rank < rank {
            *known = Newest {
                rank,
                first: source,
                first_print: print,
                more_prints: Vec::new(),
            };
        } else if known.first.file == source.file && known.first != source {
            known.more_prints.push(print);
        }
    }

    /// Begins the reading of a file, by its place among those of its kind.
    pub(super) fn begin_file(&mut self, place: usize) {
        self.place = place;
        (self.n_shared, self.n_alone) = (0, 0);
    }

    /// What a record of the file being read is beside the others.
    pub(super) fn telling(
        &mut self,
        plan: &BoundPlan<'_>,
        row: &Row<'_>,
        horizon: &DataHorizon,
    ) -> Telling {
        if self.ranks.is_empty() {
            return Telling::Stands;
        }
        self.n_nameless += u64::from(is_nameless(plan, row));
        let Some((key, date)) = key(plan, row, horizon) else {
            return Telling::Stands;
        };
        let Some(newest) = self.newest.get(&key) else {
            return Telling::Stands;
        };
        let rank = self.rank(self.place);
        let (newest_rank, first) = (newest.rank, newest.first);
        let is_held = newest.holds(fingerprint(row.record, plan.headers_hash));
        if newest_rank > rank {
            self.n_shared += 1;
            if is_held {
                return Telling::Stands;
            }
            self.n_superseded += 1;
            return Telling::Superseded(first);
        }
        self.n_alone += u64::from(date.is_some_and(|date| self.is_in_newer(date)));
        if first.file == row.source.file || is_held {
            return Telling::Stands;
        }
        Telling::Disputed(first)
    }

    /// Whether a newer file runs over a day.
    fn is_in_newer(&self, date: NaiveDate) -> bool {
        let rank = self.rank(self.place);
        self.ranks.iter().zip(&self.spans).any(|(other, span)| {
            *other > rank && span.is_some_and(|(first, last)| (first..=last).contains(&date))
        })
    }

    /// In words, where a record of a file of this kind is; `here` is one of the file being read.
    pub(super) fn place_of(&self, there: SourceRow, here: SourceRow) -> String {
        let place = (usize::from(there.file) + self.place).checked_sub(usize::from(here.file));
        let name = place.and_then(|place| self.names.get(place));
        let name = name.map_or("another file", String::as_str);
        format!("record {} of {name}", there.record)
    }

    /// What there is to say of the file that has been read, and whether it is still the one gone through.
    pub(super) fn end_file(&self, name: &str, sha256: &str) -> Result<Option<Finding>, LoadError> {
        if self
            .digests
            .get(self.place)
            .is_some_and(|known| known != sha256)
        {
            return Err(LoadError::Changed {
                file: name.to_owned(),
            });
        }
        if self.n_shared == 0 || self.n_alone == 0 {
            return Ok(None);
        }
        Ok(Some(Finding {
            check: "not-in-newer-export",
            severity: Severity::Note,
            source: None,
            column: None,
            message: format!(
                "{name}: {} rows lie within the days of a newer export that does not hold them; they are used",
                self.n_alone
            ),
            hint: Some(
                "if the clinic corrected their dates, they count twice: map `row_id` in the layout; if the newer export is a part only, nothing is wrong".to_owned(),
            ),
 n: 1,
}))
    }

    /// What there is to say when every file of the kind has been read.
    pub(super) fn end(&self) -> Vec<Finding> {
        let nameless = (self.n_nameless > 0).then(|| Finding {
            check: "years-name-no-row",
            severity: Severity::Note,
            source: None,
            column: None,
            message: format!(
                "{}: {} rows tell the year only, which does not tell one row of a person from another; rows told differently by two files are all used",
                self.names.join(", "),
                self.n_nameless
            ),
            hint: Some(
                "if the files overlap, rows may count twice: map `row_id` in the layout, or leave the older file out"
                    .to_owned(),
            ),
            n: 1,
        });
        nameless.into_iter().chain(self.listed_order()).collect()
    }

    fn listed_order(&self) -> Option<Finding> {
        if !self.is_as_listed || self.n_superseded == 0 {
            return None;
        }
        Some(Finding {
            check: "exports-in-listed-order",
            severity: Severity::Note,
            source: None,
            column: None,
            message: format!(
                "{}: {} rows are told differently by two files; the file listed later was taken for the newer",
                self.names.join(", "),
                self.n_superseded
            ),
            hint: Some(
                "say with `exported = 2026-01-05` at each file of the pipeline file when it was made"
                    .to_owned(),
            ),
 n: 1,
})
    }
}

/// What names a record, and its day; `None` when something that names it is missing or unreadable, or when it lies
/// after the cut-off: then it takes the place of no other.
fn key(
    plan: &BoundPlan<'_>,
    row: &Row<'_>,
    horizon: &DataHorizon,
) -> Option<(Key, Option<NaiveDate>)> {
    let id = row.text(plan.patient_id.as_ref()?)?;
    let date = match &plan.date {
        None => None,
        Some(bound) => Some(row.date(bound, row.text(bound)?).ok()?),
    };
    if date.is_some_and(|date| date > horizon.cut_off) {
        return None;
    }
    let mut hasher = DefaultHasher::new();
    id.hash(&mut hasher);
    if let Some(row_id) = &plan.row_id {
        row.text(row_id)?.hash(&mut hasher);
        let key = Key {
            hash: hasher.finish(),
            day: 0,
        };
        return Some((key, date));
    }
    if is_nameless(plan, row) {
        return None;
    }
    is_administrative(plan, row).hash(&mut hasher);
    for part in &plan.naming {
        row.part(part)?.hash(&mut hasher);
    }
    let key = Key {
        hash: hasher.finish(),
        day: date.map_or(0, |date| date.num_days_from_ce()),
    };
    Some((key, date))
}

/// Whether the day that should name a record is no more than a year, and no `row_id` names it instead.
fn is_nameless(plan: &BoundPlan<'_>, row: &Row<'_>) -> bool {
    row.form.is_year_only && plan.date.is_some() && plan.row_id.is_none()
}

/// What names records of one day beside the person, in a plan that has been bound.
pub(super) fn naming<'l>(plan: &BoundPlan<'l>) -> Vec<BoundPart<'l>> {
    let one_ulcer = match plan.ulcers.as_slice() {
        [slot] => slot.as_slice(),
        _ => &[],
    };
    let one_event = match plan.events.as_slice() {
        [slot] => slot.as_slice(),
        _ => &[],
    };
    let exam = plan.exams.first().map_or(&[][..], |exam| &exam.fields);
    let parts = match plan.plan.role {
        Role::Patients => vec![BoundPart::find(&plan.patient, "history_date", false)],
        Role::Visits => vec![
            BoundPart::find(&plan.visit, "clinic_site", false),
            BoundPart::find(one_ulcer, "side", false),
            BoundPart::find(one_ulcer, "label", false),
        ],
        Role::FootExams => vec![BoundPart::find(exam, "side", true)],
        Role::UlcerObservations => vec![
            BoundPart::find(one_ulcer, "side", true),
            BoundPart::find(one_ulcer, "label", true),
        ],
        Role::Events => vec![
            BoundPart::find(one_event, "kind", true),
            // where a code says what happened, two codes of one day are two events
            BoundPart::find(one_event, "cpt", false),
            BoundPart::find(one_event, "icd_10_pcs", false),
            BoundPart::find(one_event, "icd_10_cm", false),
            BoundPart::find(one_event, "side", false),
            BoundPart::find(one_event, "ulcer_label", false),
        ],
    };
    parts.into_iter().flatten().collect()
}
