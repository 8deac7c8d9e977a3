//! Code lists and the codes of the attendance column.

use super::compile::Compiler;
use super::raw::RawLayout;
use super::{AttendanceCodes, CodeList, CodePair, RowKind};
use crate::config::ConfigError;
use outcomes::tables::Attendance;
use std::collections::BTreeMap;
use std::sync::Arc;
use toml::Spanned;

/// Our words of attendance, in the order of the lists of `[attendance]`.
const OUR_WORDS: [&str; 4] = ["kept", "missed", "cancelled", "administrative"];

/// A code list as written; our word "missing" stands for no answer.
pub(super) fn code_list(codes: &BTreeMap<String, Spanned<String>>) -> Arc<CodeList> {
    let codes = codes
        .iter()
        .map(|(theirs, ours)| CodePair {
            theirs: theirs.clone(),
            ours: (ours.get_ref() != "missing").then(|| ours.get_ref().clone()),
        })
        .collect();
    Arc::new(CodeList { codes })
}

impl Compiler<'_> {
    /// Codes are compared without regard to case, so two that differ by case only must mean the same.
    pub(super) fn check_ambiguous_codes(&self) -> Result<(), ConfigError> {
        for (name, list) in &self.lists {
            for (position, pair) in list.codes.iter().enumerate() {
                if list
                    .find(&pair.theirs)
                    .is_some_and(|(_, first)| first.ours != pair.ours)
                {
                    let span = self
                        .spans
                        .get(name)
                        .and_then(|spans| spans.get(position))
                        .cloned()
                        .unwrap_or(0..0);
                    let message = format!(
                        "`codes.{name}`: `{}` has two meanings; case does not count",
                        pair.theirs
                    );
                    return Err(self.error(&span, message));
                }
            }
        }
        Ok(())
    }

    pub(super) fn attendance(
        &self,
        raw: &RawLayout,
    ) -> Result<Option<AttendanceCodes>, ConfigError> {
        let Some(raw) = &raw.attendance else {
            return Ok(None);
        };
        let kinds = [
            (&raw.kept, RowKind::Attendance(Attendance::Kept)),
            (&raw.missed, RowKind::Attendance(Attendance::Missed)),
            (&raw.cancelled, RowKind::Attendance(Attendance::Cancelled)),
            (&raw.administrative, RowKind::Administrative),
        ];
        let mut codes: Vec<(String, RowKind)> = Vec::new();
        for (written, kind) in kinds {
            for code in written {
                if codes
                    .iter()
                    .any(|(known, _)| known.eq_ignore_ascii_case(code.get_ref()))
                {
                    let message = format!(
                        "`attendance`: `{}` is listed twice; case does not count",
                        code.get_ref()
                    );
                    return Err(self.error(&code.span(), message));
                }
                codes.push((code.get_ref().clone(), kind));
            }
        }
        // our own words mean themselves unless the layout gives them another meaning, as in any column of codes
        for (ours, (_, kind)) in OUR_WORDS.into_iter().zip(kinds) {
            if !codes
                .iter()
                .any(|(known, _)| known.eq_ignore_ascii_case(ours))
            {
                codes.push((ours.to_owned(), kind));
            }
        }
        Ok(Some(AttendanceCodes {
            header: raw.column.clone(),
            codes,
        }))
    }
}
