//! Reads visit exports through a layout into canonical tables, with findings and row accounts.
//!
//! Nothing is fetched, nothing is written, and no value of a cell appears in any message.

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
