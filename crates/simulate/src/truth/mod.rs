//! What is true about a synthetic practice: the latent course, what visits could have shown of it, and what the hazards
//! say must come out. Days are counted from data start (day 0); files are CSV with a header and empty cells for "none".

mod incidence;
mod latent;
mod spells;
mod visible;
mod visible_limbs;
mod visible_people;
mod visible_ulcers;

pub use incidence::{
    ConstantHazards, HealingIncidence, constant_hazard_incidence, simulated_incidence,
};
pub use latent::{LatentLimb, LatentPerson, LatentTruth, LatentUlcer};
pub use visible::VisibleTruth;
pub use visible_limbs::VisibleLimb;
pub use visible_people::VisiblePerson;
pub use visible_ulcers::{Ending, VisibleUlcer};

use serde::Serialize;

/// One file of truth: a name without a folder and its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TruthFile {
    /// File name.
    pub name: &'static str,
    /// CSV.
    pub bytes: Vec<u8>,
}

/// The rows as CSV, with the field names as header.
pub(crate) fn csv_file<T: Serialize>(
    name: &'static str,
    rows: &[T],
) -> Result<TruthFile, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.serialize(row)?;
    }
    let bytes = writer.into_inner().map_err(|error| error.into_error())?;
    Ok(TruthFile { name, bytes })
}
