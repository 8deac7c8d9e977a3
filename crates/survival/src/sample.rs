//! The checked columns every estimator reads.

use crate::SurvivalError;

/// Checked columns of follow-up times, one row a follow-up.
///
/// Intervals are (entry, exit]: at an event time a row is at risk when entry < time <= exit. Without an entry, or with
/// entry 0, a row is at risk from the origin with time 0 included, so that events at 0 count. Cause 0 is censored,
/// any other number an event of that cause. A censored row whose exit equals its (later than 0) entry is never at
/// risk: it is kept, counted in `len` and noted on the curve. Times are in any one unit, 0 or more.
///
/// Weights are 0 or more: frequencies under the Greenwood and Aalen variances, sampling weights under the robust one.
/// Clusters matter to the robust variance alone.
///
/// ```
/// use survival::{CurveOptions, Sample, kaplan_meier};
/// let sample = Sample::new(vec![2.0, 3.0, 3.0, 5.0], vec![1, 0, 1, 1])?;
/// let curve = kaplan_meier(&sample, &CurveOptions::default())?;
/// assert_eq!(curve.at(3.0).map(|point| point.estimate), Some(0.5));
/// # Ok::<(), survival::SurvivalError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    exit: Vec<f64>,
    cause: Vec<u32>,
    entry: Option<Vec<f64>>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
    declared_causes: Vec<u32>,
    /// The largest exit, when all are whole numbers that 32 bits hold.
    largest_whole_exit: Option<u32>,
    /// Rows of one subject follow each other, and an event at the time of entry belongs to the row before.
    is_history: bool,
}

impl Sample {
    /// A sample from exit times and causes.
    ///
    /// # Errors
    /// `NoRows`, `TooManyRows`, `UnequalColumns`, and `NotFinite` or `Negative` with the first offending row.
    pub fn new(exit: Vec<f64>, cause: Vec<u32>) -> Result<Sample, SurvivalError> {
        if exit.is_empty() {
            return Err(SurvivalError::NoRows);
        }
        if exit.len() >= u32::MAX as usize {
            return Err(SurvivalError::TooManyRows { n_rows: exit.len() });
        }
        check_length("cause", cause.len(), exit.len())?;
        let exit = checked_numbers("exit", exit)?;
        Ok(Sample {
            largest_whole_exit: largest_whole(&exit),
            exit,
            cause,
            entry: None,
            weight: None,
            cluster: None,
            declared_causes: Vec::new(),
            is_history: false,
        })
    }

    /// The same sample with delayed entry.
    ///
    /// # Errors
    /// As [`Sample::new`], and `ExitBeforeEntry` or `EventAtEntry` with the first offending row.
    pub fn with_entry(mut self, entry: Vec<f64>) -> Result<Sample, SurvivalError> {
        check_length("entry", entry.len(), self.len())?;
        let entry = checked_numbers("entry", entry)?;
        for (index, ((&entry, &exit), &cause)) in
            entry.iter().zip(&self.exit).zip(&self.cause).enumerate()
        {
            if exit < entry {
                return Err(SurvivalError::ExitBeforeEntry { row: index + 1 });
            }
            if exit == entry && entry > 0.0 && cause > 0 && !self.is_history {
                return Err(SurvivalError::EventAtEntry { row: index + 1 });
            }
        }
        self.entry = Some(entry);
        Ok(self)
    }

    /// The same sample as rows of subjects that follow each other, in which an event may fall on its row's entry.
    pub(crate) fn into_history(mut self) -> Sample {
        self.is_history = true;
        self
    }

    /// The same sample with entries already checked, in which a row may enter just after 0 and leave at 0.
    pub(crate) fn with_entry_after_0(mut self, entry: Vec<f64>) -> Sample {
        self.entry = Some(entry);
        self
    }

    pub(crate) fn is_history(&self) -> bool {
        self.is_history
    }

    /// The same sample with the events of all causes but one turned into censorings.
    ///
    /// For cause-specific tests and hazards; not for probabilities, which need the competing events.
    pub fn only_cause(mut self, wanted: u32) -> Sample {
        for cause in &mut self.cause {
            if *cause != wanted {
                *cause = 0;
            }
        }
        self.declared_causes.retain(|&cause| cause == wanted);
        self
    }

    /// The rows that `keeps` names by their place from 0, in order, with the same declared causes.
    ///
    /// # Errors
    /// `NoRows` when none is kept, `NoWeight` when those kept weigh nothing.
    pub fn rows(&self, keeps: impl Fn(usize) -> bool) -> Result<Sample, SurvivalError> {
        fn kept<T: Copy>(column: &[T], keeps: &impl Fn(usize) -> bool) -> Vec<T> {
            let rows = column.iter().enumerate();
            rows.filter(|&(row, _)| keeps(row))
                .map(|(_, &value)| value)
                .collect()
        }
        let exit = kept(&self.exit, &keeps);
        if exit.is_empty() {
            return Err(SurvivalError::NoRows);
        }
        let weight = self.weight.as_ref().map(|column| kept(column, &keeps));
        if weight
            .as_ref()
            .is_some_and(|weight| weight.iter().all(|&weight| weight == 0.0))
        {
            return Err(SurvivalError::NoWeight);
        }
        Ok(Sample {
            largest_whole_exit: largest_whole(&exit),
            exit,
            weight,
            cause: kept(&self.cause, &keeps),
            entry: self.entry.as_ref().map(|column| kept(column, &keeps)),
            cluster: self.cluster.as_ref().map(|column| kept(column, &keeps)),
            declared_causes: self.declared_causes.clone(),
            is_history: self.is_history,
        })
    }

    /// The same sample with case weights.
    ///
    /// # Errors
    /// `UnequalColumns`, `NotFinite`, `Negative`, and `NoWeight` when all weights are 0.
    pub fn with_weight(mut self, weight: Vec<f64>) -> Result<Sample, SurvivalError> {
        self.weight = Some(checked_weights(weight, self.len())?);
        Ok(self)
    }

    /// The same sample with cluster numbers: rows with the same number are dependent.
    ///
    /// # Errors
    /// `UnequalColumns`.
    pub fn with_cluster(mut self, cluster: Vec<u32>) -> Result<Sample, SurvivalError> {
        check_length("cluster", cluster.len(), self.len())?;
        self.cluster = Some(cluster);
        Ok(self)
    }

    /// The same sample with causes that are to be reported even where none of their events occurs.
    pub fn with_causes(mut self, causes: &[u32]) -> Sample {
        self.declared_causes = causes.iter().copied().filter(|&cause| cause > 0).collect();
        self
    }

    /// The same sample with other exit times, which must be good and not before the entries.
    pub(crate) fn with_exit(mut self, exit: Vec<f64>) -> Result<Sample, SurvivalError> {
        check_length("exit", exit.len(), self.len())?;
        self.exit = checked_numbers("exit", exit)?;
        self.largest_whole_exit = largest_whole(&self.exit);
        Ok(self)
    }

    /// Case weight of one row, 1 where none are given.
    pub(crate) fn weight_of(&self, row: usize) -> f64 {
        self.weight
            .as_ref()
            .map_or(1.0, |weight| weight.get(row).copied().unwrap_or(0.0))
    }

    /// Number of rows, those never at risk included.
    pub fn len(&self) -> usize {
        self.exit.len()
    }

    /// Whether there are no rows; never true of a sample that was accepted.
    pub fn is_empty(&self) -> bool {
        self.exit.is_empty()
    }

    /// Exit times, in row order.
    pub fn exit(&self) -> &[f64] {
        &self.exit
    }

    /// Causes, in row order; 0 is censored.
    pub fn cause(&self) -> &[u32] {
        &self.cause
    }

    /// Entry times, where given.
    pub fn entry(&self) -> Option<&[f64]> {
        self.entry.as_deref()
    }

    /// Case weights, where given.
    pub fn weight(&self) -> Option<&[f64]> {
        self.weight.as_deref()
    }

    /// Cluster numbers, where given.
    pub fn cluster(&self) -> Option<&[u32]> {
        self.cluster.as_deref()
    }

    /// The largest exit, when all are whole numbers that 32 bits hold.
    pub(crate) fn largest_whole_exit(&self) -> Option<u32> {
        self.largest_whole_exit
    }

    /// The causes that occur or were declared, in increasing order.
    pub fn causes(&self) -> Vec<u32> {
        // small numbers are ticked off, without a branch for each row
        let mut is_small = [false; 256];
        let mut others: Vec<u32> = Vec::new();
        for &cause in &self.cause {
            match is_small.get_mut(cause as usize) {
                Some(is_there) => *is_there = true,
                None => others.push(cause),
            }
        }
        let small = (0_u32..).zip(is_small).skip(1);
        let small = small.filter(|(_, is_there)| *is_there);
        self.with_declared(small.map(|(cause, _)| cause).chain(others))
    }

    /// These causes and the declared ones, in increasing order.
    pub(crate) fn with_declared(&self, found: impl IntoIterator<Item = u32>) -> Vec<u32> {
        let mut causes = self.declared_causes.clone();
        causes.extend(found);
        causes.sort_unstable();
        causes.dedup();
        causes
    }
}

/// Refuses a column of another length than expected.
pub(crate) fn check_length(
    column: &'static str,
    n_found: usize,
    n_expected: usize,
) -> Result<(), SurvivalError> {
    if n_found == n_expected {
        return Ok(());
    }
    Err(SurvivalError::UnequalColumns {
        column,
        n_expected,
        n_found,
    })
}

/// Refuses weights of another number than the rows, not finite, below 0, or all 0.
pub(crate) fn checked_weights(weight: Vec<f64>, n_rows: usize) -> Result<Vec<f64>, SurvivalError> {
    check_length("weight", weight.len(), n_rows)?;
    let weight = checked_numbers("weight", weight)?;
    if weight.iter().all(|&weight| weight == 0.0) {
        return Err(SurvivalError::NoWeight);
    }
    Ok(weight)
}

/// Refuses what is not a finite number of 0 or more; turns -0 into 0.
fn checked_numbers(column: &'static str, mut numbers: Vec<f64>) -> Result<Vec<f64>, SurvivalError> {
    // one plain pass that a compiler can widen; the offending row is looked for only when there is one
    let mut is_good = true;
    for number in &mut numbers {
        is_good &= *number >= 0.0 && *number <= f64::MAX;
        *number += 0.0;
    }
    if is_good {
        return Ok(numbers);
    }
    let is_bad = |(_, number): &(usize, &f64)| !number.is_finite() || **number < 0.0;
    match numbers.iter().enumerate().find(is_bad) {
        Some((index, number)) if number.is_finite() => Err(SurvivalError::Negative {
            column,
            row: index + 1,
        }),
        Some((index, _)) => Err(SurvivalError::NotFinite {
            column,
            row: index + 1,
        }),
        None => Ok(numbers),
    }
}

/// The largest of numbers of 0 or more, when all are whole and 32 bits hold them.
fn largest_whole(numbers: &[f64]) -> Option<u32> {
    /// Numbers looked at before deciding whether to look on.
    const BLOCK: usize = 4096;
    /// Adding and taking this away leaves only whole numbers below it unchanged.
    const ROUNDS: f64 = 4_503_599_627_370_496.0;
    const WIDTH: usize = 8;
    // a lane each, so that a compiler can widen it
    let mut largest = [0.0_f64; WIDTH];
    for block in numbers.chunks(BLOCK) {
        let mut is_whole = true;
        let eights = block.chunks_exact(WIDTH);
        let rest = eights.remainder();
        for eight in eights.chain((!rest.is_empty()).then_some(rest)) {
            for (largest, &number) in largest.iter_mut().zip(eight) {
                is_whole &= (number + ROUNDS) - ROUNDS == number;
                *largest = if number > *largest { number } else { *largest };
            }
        }
        if !is_whole {
            return None;
        }
    }
    let largest = largest.into_iter().fold(0.0, f64::max);
    (largest <= f64::from(u32::MAX)).then_some(largest as u32)
}

#[cfg(test)]
mod tests {
    use super::{Sample, largest_whole};

    #[test]
    fn whole_exits_are_known_however_a_sample_came_about() {
        let sample = Sample::new((0..40).map(f64::from).collect(), vec![1; 40]);
        let sample = sample.unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(sample.largest_whole_exit(), Some(39));
        let first = sample.rows(|row| row < 10);
        assert_eq!(first.map(|first| first.largest_whole_exit()), Ok(Some(9)));
        let halves = sample.with_exit((0..40).map(|day| f64::from(day) / 2.0).collect());
        assert_eq!(halves.map(|halves| halves.largest_whole_exit()), Ok(None));
    }

    #[test]
    fn a_broken_or_a_huge_number_anywhere_is_seen() {
        for place in [0, 1, 7, 8, 4095, 4096, 9000, 9999] {
            let mut numbers = vec![5.0; 10_000];
            numbers[place] = 6.0;
            assert_eq!(largest_whole(&numbers), Some(6));
            for other in [0.5, 4_294_967_296.0, 1e300] {
                numbers[place] = other;
                assert_eq!(largest_whole(&numbers), None, "{other} at {place}");
            }
        }
        assert_eq!(largest_whole(&[4_294_967_295.0]), Some(u32::MAX));
    }
}
