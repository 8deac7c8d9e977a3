//! Codes of published classifications on their way into events, history and ulcers.

use super::cells::{CellFault, Row};
use super::row::{Notes, RowFault};
use crate::code_tables::{CodeEntry, Found, Meaning, look_up, side_by_modifier};
use crate::fields::{EventDraft, PatientFacts, PriorLevel, PublishedCode, UlcerDraft};
use chrono::NaiveDate;
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{AmputationLevel, Side};

/// What the codes of an event said besides the event itself.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Told {
    n_codes: usize,
    is_history: bool,
    is_unmapped: bool,
}

impl Told {
    /// Whether an event without a kind is in order, because its codes date none. In a file of events such a row is set
    /// aside, unless it told history.
    pub(super) fn is_settled(self, is_own_file: bool) -> Result<bool, RowFault> {
        if self.is_unmapped && is_own_file && !self.is_history {
            let CellFault {
                check,
                message,
                hint,
            } = unmapped();
            return Err(RowFault {
                hint,
                ..RowFault::new(check, message)
            });
        }
        if self.n_codes > 0 && is_own_file && !self.is_history {
            return Err(RowFault::new(
                "code-tells-no-event",
                "the codes of the row date no event and tell no history",
            ));
        }
        Ok(self.n_codes > 0)
    }
}

/// Fills an event from its codes: what the export says in words of its own comes first, then the codes in their order.
/// Status codes go to the history of the person and never date an event.
pub(super) fn code_event(
    draft: &mut EventDraft,
    row_date: NaiveDate,
    facts: &mut PatientFacts,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> Told {
    let codes = std::mem::take(&mut draft.published);
    let mut told = Told {
        n_codes: codes.len(),
        is_history: false,
        is_unmapped: false,
    };
    let day = draft.date.unwrap_or(row_date);
    for code in &codes {
        let Some(entry) = entry_of(code, day, row, notes) else {
            told.is_unmapped |= look_up(code.system, &code.code, day) == Found::Unmapped;
            continue;
        };
        told.is_history |= add_history(facts, entry);
        let Some(kind) = entry.event() else { continue };
        if *draft.kind.get_or_insert(kind) != kind {
            notes
                .findings
                .push(row.cell_finding(code.position, second_event()));
            continue;
        }
        let told = side_by_modifier(code.system, &code.code).or(entry.side);
        if let (Some(side), Some(told)) = (draft.side, told)
            && side != told
        {
            let finding = row.cell_finding(code.position, other_side());
            notes.findings.push(Finding {
                severity: Severity::Note,
                ..finding
            });
        }
        draft.side = draft.side.or(told);
        draft.height = draft.height.or(entry.height);
        if entry.meaning == Meaning::AmputationStage {
            draft.is_staged.get_or_insert(true);
        }
    }
    told
}

/// Fills side and depth of an ulcer from its diagnosis, where the export does not say them itself.
pub(super) fn diagnose(
    draft: &mut UlcerDraft,
    date: NaiveDate,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) {
    let Some(code) = draft.diagnosis.take() else {
        return;
    };
    let Some(entry) = entry_of(&code, date, row, notes) else {
        return;
    };
    if entry.meaning == Meaning::FootUlcer {
        draft.side = draft.side.or(entry.side);
        draft.seen.tissue_depth = draft.seen.tissue_depth.or(entry.depth);
    }
}

/// What a code says about a person's past or lasting state; true when it says something.
pub(crate) fn add_history(facts: &mut PatientFacts, entry: &CodeEntry) -> bool {
    match entry.meaning {
        Meaning::PriorUlcer => facts.prior_ulcer = Some(true),
        Meaning::RenalReplacement => facts.renal_replacement = Some(true),
        Meaning::PriorAmputation => add_prior_amputation(facts, entry),
        _ if entry.diabetes.is_some() => {
            facts.diabetes_type = facts.diabetes_type.or(entry.diabetes);
        }
        _ => return false,
    }
    true
}

/// The higher level stands where a side is named twice.
fn add_prior_amputation(facts: &mut PatientFacts, entry: &CodeEntry) {
    let place = match entry.side {
        Some(Side::Left) => &mut facts.prior_amputation_left,
        Some(Side::Right) => &mut facts.prior_amputation_right,
        None => &mut facts.prior_amputation,
    };
    let said = match entry.level {
        Some(AmputationLevel::Major) => PriorLevel::Major,
        Some(AmputationLevel::Minor) => PriorLevel::Minor,
        None => return,
    };
    *place = (*place).max(Some(said));
}

/// The line of a code, with a finding where the table has none or the code is not in force.
fn entry_of(
    code: &PublishedCode,
    day: NaiveDate,
    row: &Row<'_>,
    notes: &mut Notes<'_>,
) -> Option<&'static CodeEntry> {
    match look_up(code.system, &code.code, day) {
        Found::Foreign => None,
        Found::Unmapped => {
            notes
                .findings
                .push(row.cell_finding(code.position, unmapped()));
            None
        }
        Found::Entry { entry, is_in_force } => {
            if !is_in_force {
                let finding = row.cell_finding(code.position, outside_its_dates());
                notes.findings.push(Finding {
                    severity: Severity::Note,
                    ..finding
                });
            }
            Some(entry)
        }
    }
}

/// A code of a covered family that the tables do not hold.
pub(crate) fn unmapped() -> CellFault {
    CellFault {
        check: "unmapped-code",
        message: "a code of a family that the code tables cover, and none they hold; it counts for nothing",
        hint: Some(
            "check the code, and that its cell holds one code only; if it is a new one, the code tables of the program are out of date"
                .to_owned(),
        ),
    }
}

/// A code that means another event than the row already tells.
fn second_event() -> CellFault {
    CellFault {
        check: "second-event-in-row",
        message: "a code that means another event than the row already tells; it counts for nothing",
        hint: Some("give each event a row of its own".to_owned()),
    }
}

/// A code of one side in a row that names the other.
fn other_side() -> CellFault {
    CellFault {
        check: "side-contradicts-code",
        message: "the code names the other side than its row, or another code of it; the side that came first stands",
        hint: Some("correct the side in the clinic's own records and export again".to_owned()),
    }
}

/// A code that was not in force on its day.
pub(crate) fn outside_its_dates() -> CellFault {
    CellFault {
        check: "code-outside-its-dates",
        message: "a code used on a day on which it was not in force; it counts for what it means",
        hint: Some(
            "the date or the code may be wrong; `limbledger explain` with the name of the table shows the days".to_owned(),
        ),
    }
}
