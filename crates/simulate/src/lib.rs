//! Makes synthetic clinic exports with known truth; shares no rule with the pipeline.
//!
//! [`simulate`] turns a [`Scenario`] and a seed into a [`Practice`]. A practice gives its export (one messy wide file, or
//! five plain ones, as text or as Parquet, or HL7 FHIR R4) and three kinds of truth: the latent course, what perfectly written visits could have shown of it,
//! and the list of typing mistakes. Same settings and seed, same bytes; patient k is the same however many there are.
//! Nothing here opens a file, and no value comes from a person.
//!
//! The latent course runs in continuous time. Death, amputations, new ulcers and leaving are competing hazards that are
//! constant between two changes of state; an ulcer closes when its cumulative healing hazard passes a threshold drawn
//! from the unit exponential, and its area falls as that hazard is spent, so early shrinkage foretells healing. A visit on
//! a day sees everything up to the start of that day.

mod chance;
mod columns;
mod course;
mod fhir;
mod filing;
mod long;
mod naming;
mod patient;
mod person;
mod practice;
mod presets;
mod record;
mod recording;
mod scenario;
mod scenario_check;
mod shifted;
mod triggers;
pub mod truth;
mod wide;
mod words;

pub use columns::{write_text_columns, write_typed_columns};
pub use fhir::FhirFiles;
pub use long::LongFiles;
pub use practice::{Practice, WideExport, typing_errors_file};
pub use scenario::{Band, Hazards, Pathway, People, Recording, Scenario, Typing, Ulcers, Visits};
pub use scenario_check::ScenarioError;
pub use shifted::write_shifted;
pub use wide::typing::{Mistake, TypingError};
pub use wide::{Column, codebook, wide_columns};
pub use words::{SITES, Site};

/// A practice made by these settings and this seed.
///
/// # Errors
/// The first setting that is out of its range.
pub fn simulate(scenario: &Scenario, seed: u64) -> Result<Practice, ScenarioError> {
    scenario.check()?;
    Ok(Practice {
        scenario: scenario.clone(),
        seed,
    })
}
