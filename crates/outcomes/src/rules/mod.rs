//! Every setting that can change a number, and the rules table that measures, `explain` and the report read.

mod dates;
mod horizon;
mod quarter;
mod settings;
mod table;

pub use dates::{DateKind, DeclaredDates, days_too_late};
pub use horizon::DataHorizon;
pub(crate) use horizon::{days_after, days_between, whole_days};
pub use quarter::{Quarter, label_quarters_as_shifted};
pub use settings::{
    AreaFormula, Clock, Rules, RulesError, SETTINGS, SettingWords, VascularGuideline,
};
pub use table::{Censoring, KnownRule, Outcome, Rule, UnitOfAnalysis};
