//! The public copy of a report: small counts hidden, and everything that would give them away.
//!
//! A count from 1 to the limit is hidden together with its rate, interval and denominator; so is one whose denominator or
//! rest is that small. Zero stays visible. Then further results are hidden until no hidden small count can be told to
//! within the limit from the sums that an outsider can set up: quarters of a year, strata of a whole, classes of a bar,
//! outcomes by one day among those by a later one, unknown outcomes, and everything that earlier public reports printed.
//! What is left is printed coarsely: shares in whole percentages, days in whole weeks, curves on a wide grid and only as far
//! as enough people are at risk, no row, no trace, no remark.
//!
//! Source of the rule: cells of 1 to 10 and anything from which they can be derived (cell size suppression policy of the
//! Centers for Medicare & Medicaid Services, as published by its research data assistance centre, 2024); complementary
//! suppression until the feasible interval is wider than the limit.

mod choose;
mod collect;
mod curve;
mod facts;
mod pages;
mod public;
mod range;
mod told;

#[cfg(test)]
mod attack;

pub use choose::Reason;
pub use public::{DisclosureRules, PublicCopy, SuppressionLine, public_copy};
pub use told::{EarlierPublicReport, Told};
