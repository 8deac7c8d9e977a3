//! Is it chance? Control charts, cumulative sums and funnels over what the measures counted.
//!
//! Everything here works on plain counts, values and chances. Centres and limits come from the first quarters that
//! matured, so that a later quarter never moves them nor changes an earlier signal. A signal says that something differs
//! from its own past or from the others, not why.

mod chance;
mod control;
mod funnel;
mod sum;

pub use chance::{TwoShares, chance_of_difference};
pub use control::{
    QuarterCount, RunRules, Watched, event_chart, gap_chart, run_rules, share_chart, value_chart,
};
pub use funnel::{FunnelChart, LEVELS, SizeLimits, UnitCount, UnitPlace, UnitShare, unit_funnel};
pub use sum::{SumChart, SumOptions, SumQuarter, sum_chart};

/// Seed of every simulation here: the same report always has the same digits.
const SEED: u64 = 20_240_101;
