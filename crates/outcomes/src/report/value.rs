//! A value that knows why it may have no number, and a count that may be hidden.

use crate::coded;
use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

coded! {
    /// Unit of a value.
    pub enum Unit {
        /// A probability or share between 0 and 1; shown as a percentage.
        Share = "share",
        /// Whole days.
        Days = "days",
        /// A count.
        Count = "count",
        /// Events per 100 person-years.
        Per100PersonYears = "per-100-person-years",
        /// Millimetres a week.
        MillimetresPerWeek = "millimetres-per-week",
        /// A rate a week.
        PerWeek = "per-week",
        /// A mean number per 100 people.
        Per100People = "per-100-people",
        /// A ratio.
        Ratio = "ratio",
    }
}

impl<'de> Deserialize<'de> for Unit {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let code = String::deserialize(deserializer)?;
        Self::from_code(&code).ok_or_else(|| serde::de::Error::custom("no unit of a report"))
    }
}

/// A confidence interval. An end that the data cannot give is `None`.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct Interval {
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Level, for example 0.95.
    pub level: f64,
    /// Name of the method, for example `Wilson`.
    pub method: String,
}

/// A number with its interval.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct Estimate {
    /// The estimate.
    pub estimate: f64,
    /// Its interval, where one is defined.
    pub interval: Option<Interval>,
}

/// The value of a measure, or the reason there is none. Absence is never a number.
#[derive(Debug, Clone, PartialEq, JsonSchema, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Value {
    /// A number.
    Known(Estimate),
    /// The cohort has not been followed long enough.
    NotYet {
        /// First cut-off at which it will be mature.
        matures_on: NaiveDate,
    },
    /// The number does not exist for these data.
    NotEstimable {
        /// Why.
        reason: String,
    },
    /// A median or quantile that the curve does not reach.
    NotReached {
        /// Lower limit of the quantile, where the band reaches it.
        lower: Option<f64>,
    },
    /// Hidden to protect patients.
    Suppressed,
}

/// A count, or the fact that it is hidden. A renderer cannot see a hidden number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, JsonSchema, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Count {
    /// The count.
    Shown(u64),
    /// Hidden.
    Suppressed,
}

impl std::fmt::Display for Count {
    /// `12,983`, or the word `suppressed`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Shown(n) => f.write_str(&super::words::whole(*n)),
            Self::Suppressed => f.write_str("suppressed"),
        }
    }
}

/// Between which values the unknown outcomes could put a figure.
#[derive(Debug, Clone, Copy, PartialEq, JsonSchema, Serialize, Deserialize)]
pub struct Bounds {
    /// The lowest value they could give.
    pub lowest: f64,
    /// The highest value they could give.
    pub highest: f64,
}
