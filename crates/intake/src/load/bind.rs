//! A plan bound to the header of one file: every column is resolved to a position once.

use super::cells::BoundPart;
use super::error::{LoadError, MissingColumn};
use super::overlap::naming;
use crate::config::nearest;
use crate::dates::{DateForm, DateOrder};
use crate::fields::{EventDraft, ExamDraft, Field, Kind, PatientFacts, UlcerDraft, VisitDraft};
use crate::layout::{AttendanceCodes, Cell, CellPlace, FilePlan, Mapped};
use crate::screen::Use;
use outcomes::tables::{NameId, Names, Side};
use std::collections::{BTreeMap, BTreeSet};
use std::hash::{DefaultHasher, Hash, Hasher};

/// A cell of ours found in this file.
#[derive(Clone, Copy)]
pub(crate) struct BoundCell<'l> {
    pub(crate) cell: &'l Cell,
    /// Position in the record; `None` for a constant.
    pub(crate) position: Option<usize>,
    /// Position of the column that tells its unit.
    pub(crate) unit_position: Option<usize>,
    /// How its dates are written: as declared, unless the type of the column in the file says that they are dates.
    pub(crate) dates: DateForm,
    /// Its number among the cells of ours that were sought in the file.
    pub(crate) number: usize,
}

/// A field of ours found in this file.
pub(crate) struct Bound<'l, R: 'static> {
    pub(crate) field: &'static Field<R>,
    pub(crate) cell: BoundCell<'l>,
}

/// A foot examination's columns.
pub(crate) struct BoundExam<'l> {
    pub(crate) side: Option<Side>,
    pub(crate) fields: Vec<Bound<'l, ExamDraft>>,
}

/// An extra stratum's column.
pub(crate) struct BoundStratum<'l> {
    pub(crate) name: NameId,
    pub(crate) cell: BoundCell<'l>,
}

/// The attendance column.
pub(crate) struct BoundAttendance<'l> {
    pub(crate) codes: &'l AttendanceCodes,
    pub(crate) position: usize,
}

/// A plan bound to one file.
pub(crate) struct BoundPlan<'l> {
    pub(crate) plan: &'l FilePlan,
    pub(crate) patient_id: Option<BoundCell<'l>>,
    pub(crate) date: Option<BoundCell<'l>>,
    /// The quarter the row truly lies in.
    pub(crate) quarter: Option<BoundCell<'l>>,
    /// What names a record in every export.
    pub(crate) row_id: Option<BoundCell<'l>>,
    /// Else what names one of a person and a day.
    pub(crate) naming: Vec<BoundPart<'l>>,
    pub(crate) attendance: Option<BoundAttendance<'l>>,
    pub(crate) patient: Vec<Bound<'l, PatientFacts>>,
    pub(crate) strata: Vec<BoundStratum<'l>>,
    pub(crate) visit: Vec<Bound<'l, VisitDraft>>,
    pub(crate) exams: Vec<BoundExam<'l>>,
    pub(crate) ulcers: Vec<Vec<Bound<'l, UlcerDraft>>>,
    pub(crate) events: Vec<Vec<Bound<'l, EventDraft>>>,
    /// Headers of the file, in order.
    pub(crate) headers: &'l [String],
    /// A hash of the headers: rows of files with other columns are never repeats of each other.
    pub(crate) headers_hash: u64,
    /// What the plan reads each of them for; `None` for those it does not.
    pub(crate) uses: Vec<Option<Use>>,
}

/// The columns of a file.
#[derive(Clone, Copy)]
pub(crate) struct Header<'h> {
    /// Their names, in order.
    pub(crate) names: &'h [String],
    /// Which of them are dates by the type they have in the file. Columns beyond its end are not.
    pub(crate) is_date: &'h [bool],
}

/// Finds every column of a plan in a header. Cells of ours are numbered from `n_cells` on.
pub(crate) fn bind<'l>(
    plan: &'l FilePlan,
    header: Header<'l>,
    file: &str,
    names: &mut Names,
    n_cells: &mut usize,
) -> Result<BoundPlan<'l>, LoadError> {
    let headers = header.names;
    let mut positions = BTreeMap::new();
    let named = headers
        .iter()
        .enumerate()
        .filter(|(_, header)| !header.is_empty());
    for (position, header) in named {
        if let Some(first) = positions.insert(header.as_str(), position) {
            return Err(LoadError::DuplicateHeader {
                file: file.to_owned(),
                header: plan
                    .headers()
                    .contains(header.as_str())
                    .then(|| header.clone()),
                first: first + 1,
                second: position + 1,
            });
        }
    }
    let mut finder = Finder {
        positions,
        is_date: header.is_date,
        uses: vec![None; headers.len()],
        missing: BTreeSet::new(),
        sought: BTreeSet::new(),
        n_cells,
    };
    let bound = BoundPlan {
        plan,
        patient_id: finder.cell(&plan.patient_id, Use::PatientId),
        date: plan
            .date
            .as_ref()
            .and_then(|cell| finder.cell(cell, Use::Date(cell.dates))),
        quarter: plan
            .quarter
            .as_ref()
            .and_then(|cell| finder.cell(cell, Use::Closed)),
        row_id: plan
            .row_id
            .as_ref()
            .and_then(|cell| finder.cell(cell, Use::PatientId)),
        naming: Vec::new(),
        attendance: plan.attendance.as_ref().and_then(|codes| {
            Some(BoundAttendance {
                codes,
                position: finder.column(&codes.header, false, Use::Closed)?,
            })
        }),
        patient: finder.fields(&plan.patient),
        strata: plan
            .strata
            .iter()
            .filter_map(|stratum| {
                Some(BoundStratum {
                    name: names.intern(&stratum.name),
                    cell: finder.cell(&stratum.cell, spellings_of(&stratum.cell))?,
                })
            })
            .collect(),
        visit: plan
            .visit
            .as_ref()
            .map_or(Vec::new(), |fields| finder.fields(fields)),
        exams: plan
            .exams
            .iter()
            .map(|block| BoundExam {
                side: block.side,
                fields: finder.fields(&block.fields),
            })
            .collect(),
        ulcers: plan.ulcers.iter().map(|slot| finder.fields(slot)).collect(),
        events: plan.events.iter().map(|slot| finder.fields(slot)).collect(),
        headers,
        headers_hash: hash_of(headers),
        uses: Vec::new(),
    };
    if finder.missing.is_empty() {
        return Ok(BoundPlan {
            uses: finder.uses,
            naming: naming(&bound),
            ..bound
        });
    }
    Err(LoadError::MissingColumns {
        file: file.to_owned(),
        n_columns: finder.sought.len(),
        missing: finder
            .missing
            .into_iter()
            .map(|column| {
                let free = headers
                    .iter()
                    .map(String::as_str)
                    .filter(|header| !finder.sought.contains(header));
                MissingColumn {
                    nearest: nearest(column, free).map(str::to_owned),
                    column: column.to_owned(),
                }
            })
            .collect(),
    })
}

fn hash_of(headers: &[String]) -> u64 {
    let mut hasher = DefaultHasher::new();
    headers.hash(&mut hasher);
    hasher.finish()
}

struct Finder<'l, 'n> {
    positions: BTreeMap<&'l str, usize>,
    is_date: &'l [bool],
    uses: Vec<Option<Use>>,
    missing: BTreeSet<&'l str>,
    sought: BTreeSet<&'l str>,
    n_cells: &'n mut usize,
}

impl<'l> Finder<'l, '_> {
    fn column(&mut self, header: &'l str, is_optional: bool, purpose: Use) -> Option<usize> {
        if !is_optional {
            self.sought.insert(header);
        }
        let position = self.positions.get(header).copied();
        match position {
            Some(position) => {
                if let Some(known) = self.uses.get_mut(position) {
                    known.get_or_insert(purpose);
                }
            }
            None if is_optional => {}
            None => {
                self.missing.insert(header);
            }
        }
        position
    }

    fn cell(&mut self, cell: &'l Cell, purpose: Use) -> Option<BoundCell<'l>> {
        let number = *self.n_cells;
        *self.n_cells += 1;
        match &cell.place {
            CellPlace::Column {
                header,
                is_optional,
            } => {
                let known = self.positions.get(header.as_str());
                let is_typed =
                    known.and_then(|position| self.is_date.get(*position)) == Some(&true);
                let dates = if is_typed {
                    DateForm::from(DateOrder::Iso)
                } else {
                    cell.dates
                };
                let purpose = match purpose {
                    Use::Date(_) => Use::Date(dates),
                    other => other,
                };
                let position = self.column(header, *is_optional, purpose)?;
                Some(BoundCell {
                    cell,
                    position: Some(position),
                    unit_position: (cell.unit_told.as_ref())
                        .and_then(|told| self.column(&told.header, false, Use::Closed)),
                    dates,
                    number,
                })
            }
            CellPlace::Constant(_) => Some(BoundCell {
                cell,
                position: None,
                unit_position: None,
                dates: cell.dates,
                number,
            }),
        }
    }

    fn fields<R>(&mut self, mapped: &'l [Mapped<R>]) -> Vec<Bound<'l, R>> {
        mapped
            .iter()
            .filter_map(|mapped| {
                Some(Bound {
                    field: mapped.field,
                    cell: self.cell(&mapped.cell, purpose(mapped))?,
                })
            })
            .collect()
    }
}

/// What a field's column is for.
fn purpose<R>(mapped: &Mapped<R>) -> Use {
    match mapped.field.kind {
        Kind::Name(_) => spellings_of(&mapped.cell),
        Kind::Date(_) | Kind::PartialDate(_) => Use::Date(mapped.cell.dates),
        Kind::BirthYear(_) => Use::BirthYear,
        Kind::Number(..) | Kind::Year(_) | Kind::Flag(_) | Kind::Code(..) | Kind::Published(..) => {
            Use::Closed
        }
    }
}

/// Spellings are kept as they are, unless a code list closes them.
const fn spellings_of(cell: &Cell) -> Use {
    if cell.codes.is_some() {
        Use::Closed
    } else {
        Use::Open
    }
}
