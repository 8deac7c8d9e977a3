//! One person on many rows: the first answer stands, a later contradiction is a finding.

use crate::fields::{PatientFacts, PriorLevel};
use chrono::NaiveDate;
use outcomes::finding::{Finding, Severity};
use outcomes::tables::{
    AmputationLevel, Dated, DatedAnswer, Patient, PatientKey, PriorAmputation, Side, SourceRow,
};
use std::collections::HashMap;

/// Everyone met so far.
#[derive(Debug, Default)]
pub(crate) struct People {
    pub(crate) patients: Vec<Patient>,
    positions: HashMap<String, PatientKey>,
    /// Contradictions already reported, a bit a fact.
    reported: Vec<u32>,
}

/// Facts that should not change, in the order of their bits: (check, what the rows disagree about).
const FACTS: [(&str, &str); 12] = [
    ("contradicting-referral-source", "who referred the person"),
    ("contradicting-first-contact", "the first contact"),
    ("contradicting-birth-year", "the year of birth"),
    ("contradicting-sex", "the sex"),
    ("contradicting-diabetes-type", "the type of diabetes"),
    ("contradicting-diabetes-year", "the year diabetes was found"),
    ("contradicting-renal-replacement", "renal replacement"),
    ("contradicting-smoking", "smoking"),
    ("contradicting-prior-ulcer", "an earlier ulcer"),
    ("contradicting-prior-amputation", "an earlier amputation"),
    ("contradicting-death-date", "the date of death"),
    ("contradicting-stratum", "an extra stratum"),
];

impl People {
    /// The key of an id, if it has been met.
    pub(crate) fn find(&self, id: &str) -> Option<PatientKey> {
        // rows of one person often follow one another
        if self.patients.last().is_some_and(|last| last.id == id) {
            return Some(key_of(self.patients.len() - 1));
        }
        self.positions.get(id).copied()
    }

    /// The key of an id, adding the person when new.
    pub(crate) fn find_or_add(&mut self, id: &str, source: SourceRow) -> PatientKey {
        (self.find(id)).unwrap_or_else(|| self.add(id, source))
    }

    /// Adds a person whose id has not been met.
    pub(crate) fn add(&mut self, id: &str, source: SourceRow) -> PatientKey {
        let key = key_of(self.patients.len());
        self.positions.insert(id.to_owned(), key);
        self.patients.push(Patient::new(id, source));
        self.reported.push(0);
        key
    }

    /// The person behind a key of this value.
    pub(crate) fn get(&self, key: PatientKey) -> Option<&Patient> {
        self.patients.get(key.0 as usize)
    }

    /// Adds what a row says. `recorded` is the day the row speaks of history.
    pub(crate) fn merge(
        &mut self,
        key: PatientKey,
        facts: &PatientFacts,
        recorded: Dated,
        findings: &mut Vec<Finding>,
    ) {
        let position = key.0 as usize;
        let (Some(patient), Some(reported)) = (
            self.patients.get_mut(position),
            self.reported.get_mut(position),
        ) else {
            return;
        };
        let source = recorded.source;
        let contradicted = [
            keep_first(&mut patient.referral_source, facts.referral_source),
            keep_first_date(&mut patient.first_contact, facts.first_contact, source),
            merge_birth(patient, facts),
            keep_first(&mut patient.sex, facts.sex),
            keep_first(&mut patient.diabetes_type, facts.diabetes_type),
            keep_first(&mut patient.diabetes_year, facts.diabetes_year),
            merge_renal_replacement(patient, facts.renal_replacement, recorded),
            keep_first(&mut patient.smoker, facts.smoker),
            merge_prior_ulcer(patient, facts.prior_ulcer, recorded),
            merge_prior_amputations(patient, facts, recorded),
            merge_death(patient, facts.death, source),
            merge_strata(patient, facts),
        ];
        patient.last_contact = patient.last_contact.max(facts.last_contact);
        for (bit, (check, what)) in FACTS.iter().enumerate() {
            let mask = 1 << bit;
            if contradicted.get(bit) == Some(&true) && *reported & mask == 0 {
                *reported |= mask;
                findings.push(
                    Finding::on_row(check, Severity::Note, source, format!("this row and an earlier one disagree about {what}"))
                        .with_hint("the first answer stands (for death the earliest, for history the one that says yes); later disagreements of this person are not listed"),
                );
            }
        }
    }
}

fn key_of(place: usize) -> PatientKey {
    PatientKey(u32::try_from(place).unwrap_or(u32::MAX))
}

/// Keeps the first answer; true when a later one differs.
fn keep_first<T: PartialEq>(known: &mut Option<T>, said: Option<T>) -> bool {
    match (&known, said) {
        (_, None) => false,
        (Some(known), Some(said)) => *known != said,
        (None, said) => {
            *known = said;
            false
        }
    }
}

fn keep_first_date(known: &mut Option<Dated>, said: Option<NaiveDate>, source: SourceRow) -> bool {
    match (&known, said) {
        (Some(known), Some(said)) => known.date != said,
        (None, Some(said)) => {
            *known = Some(Dated::new(said, source));
            false
        }
        (_, None) => false,
    }
}

/// An answer holds from the first day on which it was given.
fn keep_earliest(known: &mut Option<Dated>, recorded: Dated) {
    *known = Some(known.map_or(recorded, |known| known.min(recorded)));
}

fn merge_renal_replacement(patient: &mut Patient, said: Option<bool>, recorded: Dated) -> bool {
    let Some(is_yes) = said else { return false };
    match &mut patient.renal_replacement {
        Some(known) if known.is_yes != is_yes => true,
        Some(known) => {
            known.at = known.at.min(recorded);
            false
        }
        unknown => {
            *unknown = Some(DatedAnswer {
                is_yes,
                at: recorded,
            });
            false
        }
    }
}

fn merge_birth(patient: &mut Patient, facts: &PatientFacts) -> bool {
    match facts.is_90_or_over {
        Some(true) => {
            let is_contradicted = patient.birth_year.is_some();
            patient.is_90_or_over |= !is_contradicted;
            is_contradicted
        }
        Some(false) if patient.is_90_or_over => true,
        _ => keep_first(&mut patient.birth_year, facts.birth_year),
    }
}

fn merge_prior_ulcer(patient: &mut Patient, said: Option<bool>, recorded: Dated) -> bool {
    match said {
        None => false,
        Some(true) => {
            keep_earliest(&mut patient.prior_ulcer, recorded);
            patient.prior_ulcer_denied.is_some()
        }
        Some(false) => {
            keep_earliest(&mut patient.prior_ulcer_denied, recorded);
            patient.prior_ulcer.is_some()
        }
    }
}

fn merge_prior_amputations(patient: &mut Patient, facts: &PatientFacts, recorded: Dated) -> bool {
    let answers = [
        (facts.prior_amputation, facts.prior_amputation_side),
        (facts.prior_amputation_left, Some(Side::Left)),
        (facts.prior_amputation_right, Some(Side::Right)),
    ];
    let mut was_denied = false;
    for (level, side) in answers {
        let Some(level) = level.and_then(PriorLevel::level) else {
            continue;
        };
        was_denied |= patient.prior_amputation_denied.is_some();
        add_prior_amputation(patient, side, level, recorded);
    }
    let denies_all = facts.prior_amputation == Some(PriorLevel::Absent)
        || [facts.prior_amputation_left, facts.prior_amputation_right]
            == [Some(PriorLevel::Absent); 2];
    if denies_all {
        keep_earliest(&mut patient.prior_amputation_denied, recorded);
        return !patient.prior_amputations.is_empty();
    }
    was_denied
}

fn add_prior_amputation(
    patient: &mut Patient,
    side: Option<Side>,
    level: AmputationLevel,
    recorded: Dated,
) {
    let is_known = patient
        .prior_amputations
        .iter()
        .any(|known| known.side == side && known.level == level);
    if !is_known {
        patient.prior_amputations.push(PriorAmputation {
            side,
            level,
            recorded,
        });
    }
}

/// The earliest date of death stands, with the row that told it.
fn merge_death(patient: &mut Patient, said: Option<NaiveDate>, source: SourceRow) -> bool {
    let Some(said) = said else { return false };
    match patient.death {
        Some(known) if known.date != said => {
            if said < known.date {
                patient.death = Some(Dated::new(said, source));
            }
            true
        }
        Some(_) => false,
        None => {
            patient.death = Some(Dated::new(said, source));
            false
        }
    }
}

fn merge_strata(patient: &mut Patient, facts: &PatientFacts) -> bool {
    let mut is_contradicted = false;
    for (stratum, value) in &facts.strata {
        match patient.strata.iter().find(|(known, _)| known == stratum) {
            Some((_, known)) => is_contradicted |= known != value,
            None => patient.strata.push((*stratum, *value)),
        }
    }
    is_contradicted
}
