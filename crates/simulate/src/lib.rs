//! Makes synthetic clinic exports with known truth; shares no rule with the pipeline.

mod chance;
mod course;
mod filing;
mod naming;
mod patient;
mod person;
mod practice;
mod record;
mod recording;
mod scenario;
mod triggers;
mod wide;
mod words;

pub use practice::Practice;
pub use scenario::{Band, Hazards, Pathway, People, Recording, Scenario, Typing, Ulcers, Visits};
pub use wide::typing::{Mistake, TypingError};
pub use wide::{Column, codebook, wide_columns};
pub use words::{SITES, Site};

/// A practice made by these settings and this seed.
pub fn simulate(scenario: &Scenario, seed: u64) -> Practice {
    Practice {
        scenario: scenario.clone(),
        seed,
    }
}
