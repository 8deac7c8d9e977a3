//! Is it chance? Control charts, cumulative sums and funnels over what the measures counted.
//!
//! Everything here works on plain counts, values and chances. Centres and limits come from the first quarters that
//! matured, so that a later quarter never moves them nor changes an earlier signal. A signal says that something differs
//! from its own past or from the others, not why.

mod chance;
mod control;
mod funnel;
mod sum;

pub(crate) use chance::{TwoShares, chance_of_difference};
pub(crate) use control::{QuarterCount, Watched, run_rules};
pub(crate) use control::{RunRules, event_chart, gap_chart, share_chart, value_chart};
pub(crate) use funnel::{FunnelChart, LEVELS, SizeLimits, UnitCount, UnitPlace, unit_funnel};
pub(crate) use sum::{SumChart, SumOptions, SumQuarter, sum_chart};

/// Seed of every simulation here: the same report always has the same digits.
const SEED: u64 = 20_240_101;
