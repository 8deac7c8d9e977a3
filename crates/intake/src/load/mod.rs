//! From files to canonical tables, one pass over the records of each.

mod after;
mod ahead;
mod bind;
mod blocks;
mod cells;
mod coding;
pub(crate) mod door;
mod editions;
mod error;
mod fhir;
mod file;
mod joined;
mod marks;
mod meanings;
mod overlap;
mod people;
mod places;
mod placing;
mod profile;
mod reading;
mod row;
pub(crate) mod sizes;
mod tables;

pub(crate) use door::{Cells, Unpacking};
pub use error::{LoadError, MissingColumn};
pub(crate) use fhir::Coding;
pub(crate) use marks::ByMark;
pub use profile::FileProfile;

use crate::layout::{Layout, Role};
use chrono::NaiveDate;
use door::Source;
use outcomes::finding::{FileAccount, Finding};
use outcomes::rules::DataHorizon;
use outcomes::tables::Tables;
use overlap::survey;
use reading::read_file;
use serde::Serialize;
use std::path::PathBuf;
use tables::Loading;

/// A file of an export.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// The name as in the pipeline file; shown in messages.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
    /// What it holds; `None` where the layout reads one kind of file only.
    pub role: Option<Role>,
    /// The `[joined.NAME]` of the layout whose rows it holds, where it is no table of its own.
    pub joined: Option<String>,
    /// The day it was exported, which tells what is newer where exports overlap; given for all files of a kind or none.
    pub exported: Option<NaiveDate>,
}

impl Input {
    /// The file, to be opened.
    pub(crate) fn source(&self) -> Source<'_> {
        Source {
            path: &self.path,
            name: &self.name,
        }
    }

    /// It has, or there are, more of these than can be numbered.
    pub(crate) fn too_many(&self, what: &'static str) -> LoadError {
        LoadError::TooMany {
            file: self.name.clone(),
            what,
        }
    }
}

/// How far the loading is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress<'p> {
    /// The file being read.
    pub file: &'p str,
    /// Bytes of it read.
    pub n_bytes_read: u64,
    /// Its size when opened.
    pub n_bytes: u64,
    /// Records of it read.
    pub n_records: u64,
}

/// What was loaded.
#[derive(Debug, Clone, Default)]
pub struct Loaded {
    /// The canonical tables.
    pub tables: Tables,
    /// What was found, by file, record and reading order; findings about a whole column come first.
    pub findings: Vec<Finding>,
    /// What became of every record, a line a file, in reading order.
    pub accounts: Vec<FileAccount>,
    /// A digest of each file, in reading order.
    pub digests: Vec<FileDigest>,
}

/// A fingerprint of a file, taken of the bytes that were read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileDigest {
    /// The file's name as given.
    pub file: String,
    /// SHA-256, in hexadecimal.
    pub sha256: String,
}

/// Loads every file of an export. Files are read role by role, within a role in the order given.
///
/// A cell that cannot be read is a finding and counts as missing; a record that cannot be used is set aside with one
/// reason. Records read = records used + records set aside, for each file.
///
/// Files whose rows other rows name are read first.
///
/// Files of one kind may overlap. A record is known again by person, day and what else names it (a `row_id` where the
/// layout maps one); identical records count once, and of differing ones those of the newest export. Two records of one
/// file are never taken for one another unless they are identical.
///
/// # Errors
/// A file that cannot be read at all or is not what the layout describes.
pub fn load(
    inputs: &[Input],
    layout: &Layout,
    horizon: &DataHorizon,
    progress: &dyn Fn(Progress<'_>),
) -> Result<Loaded, LoadError> {
    let horizon = latest(layout, horizon);
    Ok(load_all(inputs, layout, Loading::new(&horizon), progress)?.finish())
}

/// Loads as [`load`] does, and counts what the cells of each column come to, before and from `since` on.
///
/// # Errors
/// As [`load`].
pub fn load_with_profile(
    inputs: &[Input],
    layout: &Layout,
    horizon: &DataHorizon,
    since: NaiveDate,
    progress: &dyn Fn(Progress<'_>),
) -> Result<(Loaded, Vec<FileProfile>), LoadError> {
    let horizon = latest(layout, horizon);
    let mut loading = Loading::new(&horizon);
    loading.profile_since = Some(since);
    let mut loading = load_all(inputs, layout, loading, progress)?;
    let profiles = std::mem::take(&mut loading.profiles);
    Ok((loading.finish(), profiles))
}

/// The horizon with the last day on which a row can be dated: later than the cut-off where dates were shifted.
fn latest(layout: &Layout, horizon: &DataHorizon) -> DataHorizon {
    DataHorizon {
        cut_off: layout.dates.latest_date(horizon.cut_off),
        ..*horizon
    }
}

fn load_all<'h>(
    inputs: &[Input],
    layout: &Layout,
    mut loading: Loading<'h>,
    progress: &dyn Fn(Progress<'_>),
) -> Result<Loading<'h>, LoadError> {
    if layout.dates.has_quarters {
        loading.placed_within_days = layout.dates.shifted_by_at_most_days;
    }
    if let Some(profile) = &layout.fhir {
        fhir::load(inputs, layout, profile, &mut loading, progress)?;
        return Ok(loading);
    }
    joined::read_tables(inputs, layout, &mut loading, progress)?;
    for plan in &layout.plans {
        let mut of_role = Vec::new();
        for input in inputs.iter().filter(|input| input.joined.is_none()) {
            if role_of(input, layout)? == plan.role {
                of_role.push(input);
            }
        }
        let overlap = survey(&of_role, plan.role, layout, &loading, progress)?;
        loading.begin_role(overlap);
        for (place, input) in of_role.into_iter().enumerate() {
            loading.overlap.begin_file(place);
            read_file(input, plan.role, layout, &mut loading, progress)?;
        }
        loading.findings.extend(loading.overlap.end());
    }
    Ok(loading)
}

fn role_of(input: &Input, layout: &Layout) -> Result<Role, LoadError> {
    let roles = layout.roles();
    match (input.role, roles.as_slice()) {
        (Some(role), _) if roles.contains(&role) => Ok(role),
        (Some(role), _) => Err(LoadError::RoleUnknown {
            file: input.name.clone(),
            layout: layout.name.clone(),
            role,
            roles,
        }),
        (None, [only]) => Ok(*only),
        (None, _) => Err(LoadError::RoleNeeded {
            file: input.name.clone(),
            roles,
        }),
    }
}
