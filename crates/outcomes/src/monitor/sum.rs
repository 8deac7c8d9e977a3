//! Risk-adjusted cumulative sum: does the outcome drift away from what was expected of each ulcer?

use super::SEED;
use crate::expectation::{Judged, Refusal, recalibrate};
use crate::rules::Quarter;
use survival::counts::{
    AfterSignal, CumulativeSumOptions, LimitSearch, limit_for_run_length,
    risk_adjusted_cumulative_sum,
};

/// Simulated series for the limit.
const N_SIMULATIONS: usize = 1000;

/// Settings of a cumulative sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SumOptions {
    /// Odds ratio of the outcome that the sum is to find: 2 for twice the odds, 0.5 for half.
    pub odds_ratio: f64,
    /// Mean number of people until a false signal.
    pub people_per_false_signal: f64,
    /// Last quarter that makes the base.
    pub base_to: Quarter,
    /// Last quarter that is mature.
    pub until: Quarter,
    /// Outcomes of either kind that the base needs.
    pub n_least: usize,
    /// Confidence level.
    pub level: f64,
}

/// The sum in one quarter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SumQuarter {
    /// The quarter in which the people began.
    pub quarter: Quarter,
    /// People counted.
    pub n: usize,
    /// Highest level of the sum in the quarter, 0 or more; `None` without anybody.
    pub highest: Option<f64>,
    /// Whether it passed the limit in this quarter.
    pub is_signal: bool,
}

/// A cumulative sum by quarter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SumChart {
    /// Quarters after the base, oldest first.
    pub quarters: Vec<SumQuarter>,
    /// The sum signals above this.
    pub limit: f64,
    /// Simulated mean number of people until a false signal at this limit.
    pub people_per_false_signal: f64,
    /// People that made the base.
    pub n_base: usize,
    /// Factor of the odds of the outcome in the base against the chances given.
    pub base_odds_factor: f64,
}

/// Sums log likelihood ratios of each outcome, the odds changed by the ratio against the expected ones, from the first
/// quarter after the base on; below 0 it starts again at 0.
///
/// The chances given are first moved by one factor of the odds so that they fit the base, the quarters up to `base_to`;
/// the limit is simulated with the base's own mix of chances and a fixed seed. People of one day are taken in the order of
/// their chance, then those without the outcome first, so that the order of rows changes nothing.
///
/// # Errors
/// Refused when the base has too few outcomes, or when nobody has matured after it.
/// Source: Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441-452.
pub(crate) fn sum_chart(subjects: &[Judged], options: &SumOptions) -> Result<SumChart, Refusal> {
    let in_quarters = |from: Option<Quarter>, to: Quarter| {
        let of = move |subject: &&Judged| {
            let quarter = Quarter::of(subject.index.date);
            from.is_none_or(|from| quarter > from) && quarter <= to
        };
        subjects.iter().filter(of)
    };
    let base: Vec<Judged> = in_quarters(None, options.base_to).copied().collect();
    let shift = recalibrate(&base, options.n_least, options.level)?;
    let known = |subject: &Judged| {
        let chance = shift.moved(subject.chance()?);
        Some((subject.index.date, chance, subject.is_yes?))
    };
    let mut mix: Vec<f64> = base
        .iter()
        .filter_map(known)
        .map(|(_, chance, _)| chance)
        .collect();
    mix.sort_by(f64::total_cmp);
    let mut later: Vec<_> = in_quarters(Some(options.base_to), options.until)
        .filter_map(known)
        .collect();
    if later.is_empty() {
        return Err(Refusal::new(format!(
            "nobody with severity and outcome known has matured since {}, the last quarter of the base",
            options.base_to
        )));
    }
    later.sort_by(|one, other| {
        let day = one.0.cmp(&other.0);
        day.then(one.1.total_cmp(&other.1))
            .then(one.2.cmp(&other.2))
    });
    let search = LimitSearch {
        odds_ratio: options.odds_ratio,
        wanted_run_length: options.people_per_false_signal,
        n_simulations: N_SIMULATIONS,
        seed: SEED,
    };
    let unmade = || Refusal::new("the chances make no cumulative sum");
    let limit = limit_for_run_length(&mix, &search).map_err(|_| unmade())?;
    let chances: Vec<f64> = later.iter().map(|(_, chance, _)| *chance).collect();
    let has_event: Vec<bool> = later.iter().map(|(.., is_yes)| *is_yes).collect();
    let sum_options = CumulativeSumOptions {
        odds_ratio: options.odds_ratio,
        limit: limit.limit,
        after_signal: AfterSignal::Continue,
    };
    let steps =
        risk_adjusted_cumulative_sum(&chances, &has_event, &sum_options).map_err(|_| unmade())?;
    let mut quarters = Vec::new();
    let mut quarter = options.base_to.next();
    while quarter <= options.until {
        let own: Vec<_> = later
            .iter()
            .zip(&steps)
            .filter(|((date, ..), _)| quarter.contains(*date))
            .map(|(_, step)| step)
            .collect();
        quarters.push(SumQuarter {
            quarter,
            n: own.len(),
            highest: own.iter().map(|step| step.sum).reduce(f64::max),
            is_signal: own.iter().any(|step| step.is_signal),
        });
        quarter = quarter.next();
    }
    Ok(SumChart {
        quarters,
        limit: limit.limit,
        people_per_false_signal: limit.in_control.mean,
        n_base: shift.n,
        base_odds_factor: shift.log_odds_shift.exp(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Dated, PatientKey, SourceRow};
    use chrono::{Days, NaiveDate};

    fn subjects(outcomes: impl Iterator<Item = bool>, from: NaiveDate) -> Vec<Judged> {
        outcomes
            .zip(0u32..)
            .map(|(is_yes, place)| {
                let date = from + Days::new(u64::from(place) * 3);
                Judged {
                    cluster: PatientKey(place),
                    index: Dated::new(date, SourceRow::default()),
                    is_yes: Some(is_yes),
                    lowest_chance: 0.35,
                    highest_chance: 0.35,
                }
            })
            .collect()
    }

    fn options(odds_ratio: f64) -> SumOptions {
        SumOptions {
            odds_ratio,
            people_per_false_signal: 300.0,
            base_to: Quarter::parse("2022Q4").unwrap(),
            until: Quarter::parse("2023Q4").unwrap(),
            n_least: 10,
            level: 0.95,
        }
    }

    /// Two years in which every third ulcer stays open, then a year in which two of three do.
    fn worsening() -> Vec<Judged> {
        let start = |year| NaiveDate::from_ymd_opt(year, 1, 1).unwrap();
        let mut all = subjects((0..240).map(|place| place % 3 == 0), start(2021));
        all.extend(subjects((0..120).map(|place| place % 3 != 0), start(2023)));
        all
    }

    #[test]
    fn a_doubled_share_of_open_ulcers_signals_within_the_year_and_an_unchanged_one_does_not() {
        let sum = sum_chart(&worsening(), &options(2.0)).unwrap();
        assert_eq!(sum.quarters.len(), 4);
        assert!(sum.quarters.last().unwrap().is_signal, "{sum:?}");
        assert!((sum.people_per_false_signal / 300.0 - 1.0).abs() < 0.2);
        // The base: one third with a chance given as 0.35.
        assert!((sum.base_odds_factor - 0.5 / (0.35 / 0.65)).abs() < 1e-6);
        let start = NaiveDate::from_ymd_opt(2021, 1, 1).unwrap();
        let steady = subjects((0..360).map(|place| place % 3 == 0), start);
        let sum = sum_chart(&steady, &options(2.0)).unwrap();
        assert!(
            sum.quarters.iter().all(|quarter| !quarter.is_signal),
            "{sum:?}"
        );
        let better = sum_chart(&worsening(), &options(0.5)).unwrap();
        assert!(better.quarters.iter().all(|quarter| !quarter.is_signal));
    }

    #[test]
    fn the_order_of_the_rows_and_the_hour_of_the_run_change_nothing() {
        let forth = worsening();
        let mut back = forth.clone();
        back.reverse();
        assert_eq!(
            sum_chart(&forth, &options(2.0)),
            sum_chart(&back, &options(2.0))
        );
    }

    #[test]
    fn a_later_quarter_never_changes_an_earlier_one() {
        let shorter = SumOptions {
            until: Quarter::parse("2023Q3").unwrap(),
            ..options(2.0)
        };
        let before = sum_chart(&worsening(), &shorter).unwrap();
        let after = sum_chart(&worsening(), &options(2.0)).unwrap();
        assert_eq!(before.limit, after.limit);
        assert_eq!(before.quarters[..], after.quarters[..3]);
    }

    #[test]
    fn too_small_a_base_and_nobody_after_it_are_refused_in_words() {
        let few = &worsening()[..20];
        assert!(
            sum_chart(few, &options(2.0))
                .unwrap_err()
                .reason
                .starts_with("too few earlier outcomes")
        );
        let none_after = &worsening()[..240];
        assert!(
            sum_chart(none_after, &options(2.0))
                .unwrap_err()
                .reason
                .contains("since 2022 Q4")
        );
    }
}
