//! A file bound to its layout, and to the versions of it that begin on a day of the rows.

use super::bind::{BoundPlan, Header, bind};
use super::cells::Row;
use super::door::Record;
use super::error::LoadError;
use crate::layout::{FilePlan, Layout, Role};
use crate::screen::Use;
use chrono::NaiveDate;
use outcomes::tables::{Names, SourceRow};

/// A layout as it is for some rows, bound to a file.
pub(super) struct Edition<'l> {
    layout: &'l Layout,
    pub(super) plan: BoundPlan<'l>,
}

/// A file whose header has been understood.
pub(super) struct BoundFile<'l> {
    first: Edition<'l>,
    /// Those that begin later, in the order of the day.
    later: Vec<(NaiveDate, Edition<'l>)>,
    pub(super) headers: &'l [String],
    n_cells: usize,
}

impl<'l> BoundFile<'l> {
    /// Finds every column of every edition in a header. `layout` is that of the file.
    pub(super) fn bind(
        layout: &'l Layout,
        role: Role,
        header: Header<'l>,
        file: &str,
        names: &mut Names,
    ) -> Result<Self, LoadError> {
        let mut n_cells = 0;
        let mut edition = |layout: &'l Layout| -> Result<Edition<'l>, LoadError> {
            let plan = plan_of(layout, role).ok_or_else(|| LoadError::RoleUnknown {
                file: file.to_owned(),
                layout: layout.name.clone(),
                role,
                roles: layout.roles(),
            })?;
            let plan = bind(plan, header, file, names, &mut n_cells)?;
            Ok(Edition { layout, plan })
        };
        let first = edition(layout)?;
        let mut later = Vec::new();
        for (day, layout) in layout.dated() {
            later.push((day, edition(layout)?));
        }
        Ok(Self {
            first,
            later,
            headers: header.names,
            n_cells,
        })
    }

    /// A record as a row, and the edition that reads it: by the day of the row, where it can be read.
    pub(super) fn row<'r>(
        &'r self,
        record: &'r Record,
        source: SourceRow,
    ) -> (&'r Edition<'r>, Row<'r>) {
        let row_of = |edition: &'r Edition<'r>| Row {
            record: &record.cells,
            typed: &record.typed,
            form: &edition.layout.form,
            headers: self.headers,
            source,
        };
        let row = row_of(&self.first);
        if self.later.is_empty() {
            return (&self.first, row);
        }
        let date = self.first.plan.date.as_ref().and_then(|bound| {
            let text = row.text(bound)?;
            row.date(bound, text).ok()
        });
        let edition = date
            .and_then(|date| self.later.iter().rev().find(|(from, _)| *from <= date))
            .map_or(&self.first, |(_, edition)| edition);
        (edition, row_of(edition))
    }

    /// Cells of ours that were sought, of all editions.
    pub(super) const fn n_cells(&self) -> usize {
        self.n_cells
    }

    /// Whether every row is read the same way.
    pub(super) const fn is_one_edition(&self) -> bool {
        self.later.is_empty()
    }

    /// The plan that the layout itself makes.
    pub(super) const fn first_plan(&self) -> &BoundPlan<'l> {
        &self.first.plan
    }

    fn editions(&self) -> impl Iterator<Item = &Edition<'l>> {
        std::iter::once(&self.first).chain(self.later.iter().map(|(_, edition)| edition))
    }

    /// What any edition reads each column for.
    pub(super) fn uses(&self) -> Vec<Option<Use>> {
        let of = |position: usize| {
            self.editions()
                .find_map(|edition| edition.plan.uses.get(position).copied().flatten())
        };
        (0..self.headers.len()).map(of).collect()
    }

    /// Whether any edition drops a column.
    pub(super) fn is_ignored(&self, header: &str) -> bool {
        self.editions()
            .any(|edition| edition.layout.ignore.iter().any(|known| known == header))
    }

    /// Why a column is declared to identify nobody, where it is.
    pub(super) fn accepted(&self, header: &str) -> Option<&str> {
        self.editions()
            .find_map(|edition| edition.layout.accepted.get(header))
            .map(String::as_str)
    }
}

fn plan_of(layout: &Layout, role: Role) -> Option<&FilePlan> {
    layout.plans.iter().find(|plan| plan.role == role)
}
