//! Counts without follow-up: proportions and rates with their limits, comparison with expected counts, funnels, charts.

pub mod chart;
mod checks;
mod cumulative_sum;
mod funnel;
mod homogeneity;
mod limits;
mod observed_expected;
mod overdispersion;
mod poisson_binomial;
mod proportion;
mod rate;
mod root;
mod sample_quantile;
mod standardisation;

pub(crate) use checks::{
    check_amounts, check_finite, check_probabilities, check_simulation, too_few,
};
pub use cumulative_sum::{
    AfterSignal, CumulativeSumOptions, CumulativeSumStep, LimitSearch, RunLength,
    RunLengthSimulation, SimulatedLimit, limit_for_run_length, risk_adjusted_cumulative_sum,
    simulated_run_length,
};
pub use funnel::{
    FunnelLimit, FunnelMethod, FunnelOptions, FunnelPoint, predicted_funnel, proportion_funnel,
    ratio_funnel,
};
pub use homogeneity::{Homogeneity, homogeneity};
pub use limits::{ConfidenceLimits, poisson_exact, wilson};
pub use observed_expected::{ObservedExpected, observed_against_expected};
pub use overdispersion::{
    Overdispersion, Scale, Widening, Winsorising, proportion_overdispersion, ratio_overdispersion,
};
pub use poisson_binomial::PoissonBinomial;
pub use proportion::{Proportion, ProportionLimits, binomial_mid_p, clopper_pearson, proportion};
pub use rate::{
    PoissonPValues, Rate, RateLimits, poisson_byar, poisson_mid_p, poisson_p_values, rate,
};
pub use sample_quantile::sample_quantile;
pub use standardisation::{
    DirectStandardisation, DirectStratum, EventLaw, IndirectStandardisation, IndirectStratum,
    direct_standardisation, indirect_standardisation,
};
