//! Rows of other files that a row names instead of saying the same again.

use super::compile::Compiler;
use super::raw::RawLayout;
use super::{Cell, CellPlace, FilePlan, Layout, Mapped, Role};
use crate::config::ConfigError;
use std::collections::BTreeSet;

/// Files whose rows other rows name by a key. A column `x` of the row that is named is `NAME.x` to the row that names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Joined {
    /// The name that stands before the dot.
    pub(crate) name: String,
    /// The column that names a row in those files.
    pub(crate) key: String,
    /// The column that names it in the rows of others.
    pub(crate) by: String,
    /// The files: those of this role, or those that the pipeline file gives for it.
    pub(crate) role: Option<Role>,
}

impl Joined {
    /// What a column of these files is called where it is joined.
    pub(crate) fn header_of(&self, column: &str) -> String {
        format!("{}.{column}", self.name)
    }

    /// The column of these files that a header names, where it names one.
    pub(crate) fn column_of<'h>(&self, header: &'h str) -> Option<&'h str> {
        header.strip_prefix(self.name.as_str())?.strip_prefix('.')
    }
}

impl Compiler<'_> {
    /// Every `[joined.NAME]`, in the order of the names.
    pub(super) fn joined(
        &self,
        raw: &RawLayout,
        plans: &[FilePlan],
    ) -> Result<Vec<Joined>, ConfigError> {
        let mut all = Vec::new();
        for (name, written) in &raw.joined {
            let fault = |message: String| self.error(&written.span(), message);
            let is_plain = |letter: char| letter.is_ascii_alphanumeric() || "-_".contains(letter);
            if name.is_empty() || !name.chars().all(is_plain) {
                return Err(fault(format!(
                    "`joined.{name}`: the name may hold letters, digits, `-` and `_` only"
                )));
            }
            let joined = written.get_ref();
            if let Some(role) = joined.role
                && !plans.iter().any(|plan| plan.role == role)
            {
                return Err(fault(format!(
                    "`joined.{name}.role`: the layout reads no file of {role}"
                )));
            }
            let by = joined.by.as_ref().unwrap_or(&joined.key);
            all.push(Joined {
                name: name.clone(),
                key: joined.key.clone(),
                by: by.clone(),
                role: joined.role,
            });
        }
        Ok(all)
    }
}

impl Layout {
    /// The columns of some joined files that the layout or a version of it reads.
    pub(crate) fn wanted_of(&self, joined: &Joined) -> BTreeSet<&str> {
        let layouts =
            std::iter::once(self).chain(self.versions.iter().map(|version| &version.layout));
        let plans = layouts.flat_map(|layout| &layout.plans);
        plans
            .flat_map(FilePlan::headers)
            .chain(self.joined.iter().map(|other| other.by.as_str()))
            .filter_map(|header| joined.column_of(header))
            .collect()
    }

    /// Columns by which the rows of a kind of file name rows, or are named.
    pub(crate) fn keys_of(&self, role: Role) -> Vec<&str> {
        let column = |joined: &'_ Joined| joined.role == Some(role);
        self.joined
            .iter()
            .map(|joined| match column(joined) {
                true => joined.key.as_str(),
                false => joined.by.as_str(),
            })
            .collect()
    }
}

impl FilePlan {
    /// Every header the plan names.
    pub(crate) fn headers(&self) -> BTreeSet<&str> {
        fn of<R>(fields: &[Mapped<R>]) -> impl Iterator<Item = &Cell> {
            fields.iter().map(|mapped| &mapped.cell)
        }
        std::iter::once(&self.patient_id)
            .chain(&self.date)
            .chain(&self.quarter)
            .chain(&self.row_id)
            .chain(of(&self.patient))
            .chain(self.strata.iter().map(|stratum| &stratum.cell))
            .chain(self.visit.iter().flat_map(|fields| of(fields)))
            .chain(self.exams.iter().flat_map(|block| of(&block.fields)))
            .chain(self.ulcers.iter().flat_map(|slot| of(slot)))
            .chain(self.events.iter().flat_map(|slot| of(slot)))
            .flat_map(|cell| {
                let own = match &cell.place {
                    CellPlace::Column { header, .. } => Some(header.as_str()),
                    CellPlace::Constant(_) => None,
                };
                let unit = cell.unit_told.as_ref().map(|told| told.header.as_str());
                own.into_iter().chain(unit)
            })
            .chain(self.attendance.iter().map(|codes| codes.header.as_str()))
            .collect()
    }
}
