//! Reads visit exports through a layout into canonical tables, with findings and row accounts.
//!
//! Nothing is fetched, nothing is written, and no value of a cell appears in any message.
//!
//! ```no_run
//! use intake::{Input, layout, load};
//! use outcomes::rules::DataHorizon;
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let (text, horizon): (String, DataHorizon) = unimplemented!();
//! let layout = layout::parse(&text, "ours.toml")?; // an error says file, line, column, key and the nearest right name
//! let visits = Input {
//!     name: "visits.csv".to_owned(),
//!     path: "exports/visits.csv".into(),
//!     role: None,
//!     joined: None,
//!     exported: None,
//! };
//! let loaded = load(&[visits], &layout, &horizon, &|_| ())?;
//! assert!(loaded.accounts.iter().all(|account| account.is_balanced())); // rows read = rows used + rows set aside
//! # Ok(())
//! # }
//! ```
//!
//! [`layout`] is how a clinic's columns map onto our fields, [`draft`] writes a first one, [`load()`] reads by it, and [`recount()`]
//! counts again what was loaded on a path of its own.

mod checks;
mod code_tables;
mod completeness;
pub mod config;
mod dates;
pub mod draft;
mod fields;
pub mod layout;
mod load;
mod quantity;
mod recount;
mod screen;
mod units;

pub use checks::CHECKS;
pub use code_tables::{
    CodeEntry, CodeSystem, CodeTable, CodeTableVersion, Found, Meaning, code_table_versions,
    code_tables, look_up,
};
pub use config::ConfigError;
pub use layout::{Layout, Role};
pub use load::{
    FileDigest, FileProfile, Input, LoadError, Loaded, MissingColumn, Progress, load,
    load_with_profile,
};
pub use recount::{FileRecount, QuarterCount, Recount, RecountError, TableCount, recount};
