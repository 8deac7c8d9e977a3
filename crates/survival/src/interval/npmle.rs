//! The nonparametric maximum likelihood estimate of a distribution from interval-censored times.

use serde::Serialize;

use crate::SurvivalError;
use crate::interval::IntervalSample;
use crate::interval::active_set::{CERTIFIED_EXCESS, polish};
use crate::interval::innermost::innermost;
use crate::interval::likelihood::{log_likelihood, span_probabilities};
use crate::interval::self_consistent::approach;

/// The estimate: masses on innermost intervals, with the proof that no other masses are more likely.
///
/// Within an interval that holds mass the estimate says nothing of where the mass lies: the probability of no event is
/// undefined there, between two bounds. The masses themselves are unique: every innermost interval ends where a row ends, so
/// the probabilities of the rows, which are unique, give the cumulative masses one after the other. No standard error is given; none is agreed on for this estimate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Npmle {
    /// Rows.
    pub n: usize,
    /// Intervals with mass, in order.
    pub masses: Vec<Mass>,
    /// Log likelihood at the estimate.
    pub log_likelihood: f64,
    /// Largest slope of the log likelihood in any mass, over the total weight, less 1: at a maximum 0 or below (the
    /// Karush-Kuhn-Tucker conditions).
    pub largest_excess: f64,
    /// Innermost intervals, with or without mass.
    pub n_innermost: usize,
    /// Newton steps taken.
    pub n_steps: usize,
    /// What the reader must know.
    pub notes: Vec<NpmleNote>,
}

/// Mass somewhere in (lower, upper], or at the time itself where both ends are equal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Mass {
    /// Lower end, not included unless equal to the upper.
    pub lower: f64,
    /// Upper end, included; `None` for infinity.
    pub upper: Option<f64>,
    /// Probability, above 0; all add up to 1.
    pub probability: f64,
}

/// What the reader of the estimate must know.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "note")]
pub enum NpmleNote {
    /// Rows that may have had the event at any time: counted, but without influence.
    NoInformation {
        /// Number of such rows.
        n_rows: usize,
    },
    /// No row has an upper end: all mass lies beyond the last time.
    NoEvents,
    /// The conditions for a maximum are met less closely than 1e-9 of the total weight.
    NotCertified,
}

impl std::fmt::Display for NpmleNote {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            NpmleNote::NoInformation { n_rows } => write!(
                out,
                "{n_rows} rows may have had the event at any time: they are counted, and tell nothing"
            ),
            NpmleNote::NoEvents => {
                out.write_str("no row has an upper end: all probability lies beyond the last time")
            }
            NpmleNote::NotCertified => out.write_str(
                "the conditions for a maximum are met less closely than 1e-9 of the total weight",
            ),
        }
    }
}

/// Probability of no event until and including a time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventFree {
    /// The time.
    pub time: f64,
    /// The probability; `None` inside an interval that holds mass.
    pub estimate: Option<f64>,
    /// Smallest value the estimate allows; equal to `estimate` where that is defined.
    pub lowest: f64,
    /// Largest value the estimate allows.
    pub highest: f64,
}

/// The nonparametric maximum likelihood estimate (Turnbull, JRSS B 1976;38:290-295), by expectation and isotonic steps
/// (Wellner and Zhan 1997) and an active-set Newton method to the end.
///
/// # Errors
/// None at present beyond those of the sample; the result says what could not be certified.
///
/// # Example
/// ```
/// use survival::interval::{IntervalSample, npmle};
///
/// // (0,2], (1,3], (2,4], beyond 3, (1,2], (4,6]: by hand 1/2 on (1,2], 1/4 on (3,4] and on (4,6]
/// let lower = vec![0.0, 1.0, 2.0, 3.0, 1.0, 4.0];
/// let upper = vec![2.0, 3.0, 4.0, f64::INFINITY, 2.0, 6.0];
/// let estimate = npmle(&IntervalSample::new(lower, upper)?)?;
/// assert!((estimate.masses[0].probability - 0.5).abs() < 1e-12);
/// assert_eq!(estimate.at(1.5).estimate, None);
/// assert!((estimate.at(2.0).highest - 0.5).abs() < 1e-12);
/// # Ok::<(), survival::SurvivalError>(())
/// ```
pub fn npmle(sample: &IntervalSample) -> Result<Npmle, SurvivalError> {
    let innermost = innermost(sample);
    if innermost.lower.is_empty() {
        return Err(SurvivalError::NoWeight);
    }
    let solution = polish(&innermost, approach(&innermost));
    let probabilities = span_probabilities(&innermost, &solution.masses);
    let masses = (0..innermost.lower.len())
        .filter(|&place| solution.masses[place] > 0.0)
        .map(|place| Mass {
            lower: innermost.lower[place],
            upper: Some(innermost.upper[place]).filter(|upper| upper.is_finite()),
            probability: solution.masses[place],
        })
        .collect();
    let mut notes = Vec::new();
    let n_without_information = (0..sample.len())
        .filter(|&row| sample.lower()[row] == 0.0 && sample.upper()[row].is_infinite())
        .count();
    if n_without_information > 0 {
        notes.push(NpmleNote::NoInformation {
            n_rows: n_without_information,
        });
    }
    if sample.upper().iter().all(|upper| upper.is_infinite()) {
        notes.push(NpmleNote::NoEvents);
    }
    if solution.largest_excess > 10.0 * CERTIFIED_EXCESS {
        notes.push(NpmleNote::NotCertified);
    }
    Ok(Npmle {
        n: sample.len(),
        masses,
        log_likelihood: log_likelihood(&innermost, &probabilities),
        largest_excess: solution.largest_excess,
        n_innermost: innermost.lower.len(),
        n_steps: solution.n_steps,
        notes,
    })
}

impl Npmle {
    /// Probability of no event until and including `time`.
    pub fn at(&self, time: f64) -> EventFree {
        let mut highest = 1.0;
        let mut inside = 0.0;
        for mass in &self.masses {
            let is_over = mass.upper.is_some_and(|upper| upper <= time);
            if is_over {
                highest -= mass.probability;
            } else if mass.lower < time {
                inside += mass.probability;
            }
        }
        let highest = f64::max(highest, 0.0);
        let lowest = f64::max(highest - inside, 0.0);
        EventFree {
            time,
            estimate: (inside == 0.0).then_some(highest),
            lowest,
            highest,
        }
    }
}
