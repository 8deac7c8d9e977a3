//! Times known only to lie between two others.

mod active_set;
mod innermost;
mod likelihood;
mod npmle;
mod sample;
mod self_consistent;
mod skyline;

pub use npmle::{EventFree, Mass, Npmle, NpmleNote, npmle};
pub use sample::IntervalSample;
