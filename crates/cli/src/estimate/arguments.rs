//! What `estimate` can be asked for.

use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// An estimator.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Method {
    /// Probability of no event yet
    KaplanMeier,
    /// Cumulative hazard
    NelsonAalen,
    /// Mean time without an event up to a bound, and differences between groups
    RestrictedMean,
    /// Comparison of groups
    LogRank,
    /// Probability of an event of each cause, others competing; Gray's test between groups
    CumulativeIncidence,
    /// Probability of being in each state
    MultiState,
    /// Mean number of events that can happen again
    MeanCumulativeCount,
    /// Distribution of times known only to lie in intervals
    Npmle,
    /// Accelerated failure time regression of times known only to lie in intervals
    IntervalRegression,
    /// Proportional hazards regression
    Cox,
    /// Regression of a cumulative incidence
    FineGray,
    /// Regression of an outcome that is or is not
    Logistic,
    /// Curves of two groups made alike by propensity weights
    WeightedCurve,
    /// Share of a denominator
    Proportion,
    /// Events per exposure
    Rate,
    /// Observed against expected events
    Standardised,
    /// Limits of units by their size
    Funnel,
    /// Series with a centre and limits
    ControlChart,
    /// Risk-adjusted cumulative sum of outcomes in order
    CumulativeSum,
}

impl Method {
    /// Its name on the command line.
    pub(crate) fn name(self) -> String {
        self.to_possible_value()
            .map_or_else(String::new, |value| value.get_name().to_owned())
    }

    /// What it estimates.
    pub(crate) fn words(self) -> String {
        self.to_possible_value()
            .and_then(|value| value.get_help().map(ToString::to_string))
            .unwrap_or_default()
    }
}

/// The scale of confidence limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LimitsName {
    Linear,
    Log,
    LogLog,
    Logit,
    Arcsine,
}

/// A variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum VarianceName {
    /// Binomial or multinomial increments
    Greenwood,
    /// Poisson increments
    Aalen,
    /// Infinitesimal jackknife by cluster
    Robust,
    /// Hypergeometric increments (log-rank)
    Hypergeometric,
}

/// Treatment of tied events in a regression.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum TiesName {
    Efron,
    Breslow,
    Exact,
}

/// Distribution of a parametric regression.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DistributionName {
    Weibull,
    LogNormal,
    Exponential,
}

/// The people that propensity weights aim at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PopulationName {
    /// Everybody
    Average,
    /// Those who were treated
    Treated,
    /// Those who might have been in either group
    Overlap,
}

/// From when a row's time runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ClockName {
    /// From the origin, rows being at risk from their entry on
    Total,
    /// From the row's own entry, as between repeated events
    Gap,
}

/// A kind of control chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChartName {
    /// Single measurements (XmR)
    Individuals,
    /// Shares of a denominator (p)
    Proportion,
    /// Shares with the variation between periods added (p')
    ProportionLaney,
    /// Events per exposure (u)
    Rate,
    /// Events per exposure with the variation between periods added (u')
    RateLaney,
    /// Events over equal exposures (c)
    Count,
    /// Cases between rare events (g)
    CasesBetween,
    /// Time between rare events (t)
    TimeBetween,
}

/// Options that name columns take the header of the column. Rows with an empty cell in a column that is used are left out and counted;
/// an empty cause is censored, an empty upper end was not seen, an empty `--to` is no move.
///
/// An option that the method does not use is refused; `limbledger explain METHOD` lists those it uses. Only `--level`, `--limits` and
/// `--times`, which shape what is printed, are answered with a note instead.
#[derive(Debug, Args)]
pub(crate) struct EstimateArguments {
    /// Estimator
    pub(crate) method: Method,
    /// Plain table (CSV) with a header
    pub(crate) file: PathBuf,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Options that stand on the command line, whatever their values
    #[arg(skip)]
    pub(crate) given: Vec<String>,

    /// Time at which follow-up ends
    #[arg(long, value_name = "COLUMN")]
    pub(crate) exit: Option<String>,
    /// Time from which a row is at risk
    #[arg(long, value_name = "COLUMN")]
    pub(crate) entry: Option<String>,
    /// How follow-up ended: 0, empty or `censored`, otherwise numbers or labels
    #[arg(long, value_name = "COLUMN")]
    pub(crate) cause: Option<String>,
    /// Groups to estimate apart or compare
    #[arg(long, value_name = "COLUMN")]
    pub(crate) group: Option<String>,
    /// Strata within which groups or covariates are compared
    #[arg(long, value_name = "COLUMN")]
    pub(crate) stratum: Option<String>,
    /// Clusters of dependent rows
    #[arg(long, value_name = "COLUMN")]
    pub(crate) cluster: Option<String>,
    /// Case weights
    #[arg(long, value_name = "COLUMN")]
    pub(crate) weight: Option<String>,
    /// Subject of each row
    #[arg(long, value_name = "COLUMN")]
    pub(crate) subject: Option<String>,
    /// State of each row
    #[arg(long, value_name = "COLUMN")]
    pub(crate) from: Option<String>,
    /// State moved to at the exit; empty, `censored`, `cens`, or 0 where no row is in a state 0, for no move
    #[arg(long, value_name = "COLUMN")]
    pub(crate) to: Option<String>,
    /// Lower end of an interval, not included
    #[arg(long, value_name = "COLUMN")]
    pub(crate) lower: Option<String>,
    /// Upper end of an interval, included; empty when not seen
    #[arg(long, value_name = "COLUMN")]
    pub(crate) upper: Option<String>,
    /// Covariates; text becomes indicators against the first level in sort order, or `name:reference`
    #[arg(long, value_name = "COLUMNS", value_delimiter = ',')]
    pub(crate) covariates: Vec<String>,

    /// Counts of events, or the values of a chart
    #[arg(long, value_name = "COLUMN")]
    pub(crate) events: Option<String>,
    /// Denominators or exposures
    #[arg(long, value_name = "COLUMN")]
    pub(crate) denominator: Option<String>,
    /// Expected events, or the predicted chance of each row
    #[arg(long, value_name = "COLUMN")]
    pub(crate) expected: Option<String>,

    /// Size of each stratum in a standard population, for direct standardisation; a row is a stratum
    #[arg(long, value_name = "COLUMN")]
    pub(crate) standard: Option<String>,
    /// Events of each stratum in a reference population, for indirect standardisation; a row is a stratum
    #[arg(long, value_name = "COLUMN")]
    pub(crate) reference_events: Option<String>,
    /// Exposure of each stratum in that reference population
    #[arg(long, value_name = "COLUMN")]
    pub(crate) reference_denominator: Option<String>,

    /// Cause of interest; any event when not given
    #[arg(long, value_name = "LABEL")]
    pub(crate) event: Option<String>,
    /// Confidence level
    #[arg(long, default_value_t = 0.95)]
    pub(crate) level: f64,
    /// Scale of the limits
    #[arg(long, value_enum, default_value = "log-log")]
    pub(crate) limits: LimitsName,
    /// Variance; robust with clusters or weights, otherwise the usual one of the method
    #[arg(long, value_enum)]
    pub(crate) variance: Option<VarianceName>,
    /// Treatment of tied events; efron, for fine-gray breslow
    #[arg(long, value_enum)]
    pub(crate) ties: Option<TiesName>,
    /// From when a row's time runs: for repeated events, from the origin or from the event before
    #[arg(long, value_enum, default_value = "total")]
    pub(crate) clock: ClockName,
    /// Curve of a row with these values of all covariates: age=70,site=Quay
    #[arg(long, value_name = "NAME=VALUE", value_delimiter = ',')]
    pub(crate) profile: Vec<String>,
    /// Curves of all rows with this covariate set to each of its values in turn
    #[arg(long, value_name = "COVARIATE")]
    pub(crate) adjusted_by: Option<String>,
    /// Print the cumulative hazard with every covariate 0
    #[arg(long)]
    pub(crate) baseline: bool,
    /// Print residuals of every row and event
    #[arg(long)]
    pub(crate) residuals: bool,
    /// log-rank, gehan-breslow, tarone-ware, peto-peto or fleming-harrington:P:Q
    #[arg(long, value_name = "NAME", default_value = "log-rank")]
    pub(crate) family: String,
    /// Scores of the groups, in their order, for a test of trend; 1, 2, ... when not given
    #[arg(long, value_name = "SCORES", value_delimiter = ',')]
    pub(crate) scores: Vec<f64>,
    /// Bound of a mean time; the smallest of the groups' last times when not given
    #[arg(long, value_name = "TIME")]
    pub(crate) until: Option<f64>,
    /// Times to report besides those of the data
    #[arg(long, value_name = "TIMES", value_delimiter = ',')]
    pub(crate) times: Vec<f64>,
    /// Samples to draw for bootstrap limits of quantiles, or of contrasts of weighted curves (clusters are drawn whole); sums to
    /// simulate
    #[arg(long, value_name = "NUMBER")]
    pub(crate) draws: Option<usize>,
    /// Seed of the draws
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub(crate) seed: u64,
    /// People that propensity weights aim at
    #[arg(long, value_enum, default_value = "average")]
    pub(crate) population: PopulationName,
    /// Multiply propensity weights by the share of their group
    #[arg(long)]
    pub(crate) stabilised: bool,
    /// Logistic regression with Firth's penalty
    #[arg(long)]
    pub(crate) firth: bool,
    /// Kind of control chart
    #[arg(long, value_enum)]
    pub(crate) chart: Option<ChartName>,
    /// Odds ratio that a cumulative sum looks for
    #[arg(long, value_name = "RATIO", default_value_t = 2.0)]
    pub(crate) odds_ratio: f64,
    /// Limit above which a cumulative sum signals
    #[arg(long, value_name = "LIMIT", default_value_t = 4.5)]
    pub(crate) limit: f64,
    /// Mean number of people until a cumulative sum signals by chance: its limit is then found by simulation
    #[arg(long, value_name = "PEOPLE")]
    pub(crate) run_length: Option<f64>,
    /// Distribution of a parametric regression
    #[arg(long, value_enum, default_value = "weibull")]
    pub(crate) distribution: DistributionName,
}
