//! Concordance: how often the row with the higher score has the event first.

use std::ops::Range;

use serde::Serialize;

use crate::halves::in_two_parts;
use crate::regression::cox::{Arranged, CoxFit};
use crate::regression::fenwick::{DenseRanks, RankSums, Split, dense_ranks};
use crate::regression::summed_by_cluster;
use crate::sample::check_length;
use crate::{Sample, SurvivalError};

/// How pairs are weighted by the time of the earlier event. S is the probability of no event and G of no censoring just
/// before it, each by Kaplan-Meier within the stratum, and n the number at risk.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TimeWeight {
    /// Every pair counts 1 (Harrell et al., JAMA 1982;247:2543-2546).
    #[default]
    AtRisk,
    /// S / (n/N), as Peto and Wilcoxon weigh a test.
    Survival,
    /// S / (G n/N), which undoes the thinning by censoring (Schemper et al., Stat Med 2009;28:2473-2489).
    SurvivalOverCensoring,
    /// 1/G^2 (Uno et al., Stat Med 2011;30:1105-1117).
    InverseCensoringSquared,
    /// 1/n, every event alike.
    Events,
}

/// Concordance and the pairs it rests on, weighted by case weights and time. A pair is comparable if the earlier time is an
/// event and the other row is then at risk; a row censored at the time of an event counts as later; two events at one time
/// are not comparable. Strata add up.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Concordance {
    /// (concordant + half of tied score) / comparable, from 0 to 1; 0.5 is no information.
    pub estimate: f64,
    /// Infinitesimal jackknife, summed within clusters; time weights taken as known.
    pub std_error: f64,
    /// Pairs where the row with the higher score has the event first.
    pub concordant: f64,
    /// Pairs where it has it later.
    pub discordant: f64,
    /// Comparable pairs of equal score.
    pub tied_score: f64,
    /// Pairs of events at one time with different scores.
    pub tied_time: f64,
    /// Pairs of events at one time with equal scores.
    pub tied_both: f64,
}

impl CoxFit {
    /// Concordance of the linear predictor with the order of events; `None` without a comparable pair.
    pub fn concordance(&self, time_weight: TimeWeight) -> Option<Concordance> {
        let predictors = self.arranged.linear_predictors(&self.coefficients);
        concordance_of_rows(&self.arranged, &predictors, time_weight)
    }
}

/// Concordance of a score, higher meaning an earlier event, with the order of events of any cause. In O(n log n).
/// `None` without a comparable pair.
///
/// # Errors
/// A score of another length or not finite, no event.
pub fn concordance(
    sample: &Sample,
    score: &[f64],
    stratum: Option<&[u32]>,
    time_weight: TimeWeight,
) -> Result<Option<Concordance>, SurvivalError> {
    check_length("score", score.len(), sample.len())?;
    if let Some(row) = score.iter().position(|value| !value.is_finite()) {
        return Err(SurvivalError::NotFinite {
            column: "score",
            row: row + 1,
        });
    }
    let arranged = Arranged::of_scores(sample, score, stratum)?;
    let by_position: Vec<f64> = arranged
        .order
        .iter()
        .map(|&row| score[row as usize])
        .collect();
    Ok(concordance_of_rows(&arranged, &by_position, time_weight))
}

/// What a row brings to the numerator and the denominator.
#[derive(Debug, Clone, Copy, Default)]
struct Share {
    agreeing: f64,
    comparable: f64,
}

impl Share {
    fn and(self, other: Share) -> Share {
        Share {
            agreeing: self.agreeing + other.agreeing,
            comparable: self.comparable + other.comparable,
        }
    }

    fn add(&mut self, weight: f64, agreeing: f64, tied: f64, disagreeing: f64) {
        self.agreeing += weight * (agreeing + 0.5 * tied);
        self.comparable += weight * (agreeing + tied + disagreeing);
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    concordant: f64,
    discordant: f64,
    tied_score: f64,
    tied_time: f64,
    tied_both: f64,
}

impl Counts {
    fn add(&mut self, other: &Counts) {
        self.concordant += other.concordant;
        self.discordant += other.discordant;
        self.tied_score += other.tied_score;
        self.tied_time += other.tied_time;
        self.tied_both += other.tied_both;
    }
}

pub(crate) fn concordance_of_rows(
    arranged: &Arranged,
    score: &[f64],
    time_weight: TimeWeight,
) -> Option<Concordance> {
    let mut counts = Counts::default();
    let mut shares = Vec::with_capacity(arranged.len());
    for stratum in 0..arranged.n_strata() {
        let pairs = Pairs::of(arranged, score, stratum, time_weight);
        // each row with those after it, and with those before it: two walks that do not meet
        let [(of_stratum, after), (_, before)] =
            in_two_parts(pairs.positions.len(), 0..1, 1..2, |walk| match walk.start {
                0 => pairs.events_with_later_rows(),
                _ => (Counts::default(), pairs.rows_with_earlier_events()),
            });
        counts.add(&of_stratum);
        let both = after.into_iter().zip(before);
        shares.extend(both.map(|(after, before)| after.and(before)));
    }
    let comparable = counts.concordant + counts.discordant + counts.tied_score;
    if comparable <= 0.0 {
        return None;
    }
    let estimate = (counts.concordant + 0.5 * counts.tied_score) / comparable;
    let influences: Vec<f64> = shares
        .iter()
        .enumerate()
        .map(|(position, share)| {
            arranged.weight_at(position) * (share.agreeing - estimate * share.comparable)
                / comparable
        })
        .collect();
    let variance: f64 = summed_by_cluster(&influences, 1, &arranged.clusters)
        .iter()
        .map(|sum| sum * sum)
        .sum();
    Some(Concordance {
        estimate,
        std_error: variance.sqrt(),
        concordant: counts.concordant,
        discordant: counts.discordant,
        tied_score: counts.tied_score,
        tied_time: counts.tied_time,
        tied_both: counts.tied_both,
    })
}

/// The rows of one stratum, ready to be compared.
struct Pairs<'a> {
    arranged: &'a Arranged,
    positions: Range<usize>,
    ranked: DenseRanks,
    late: &'a [u32],
    time_weights: Vec<f64>,
}

impl<'a> Pairs<'a> {
    fn of(arranged: &'a Arranged, score: &[f64], stratum: usize, time_weight: TimeWeight) -> Self {
        let positions = arranged.stratum(stratum);
        let late = arranged.late_entries(stratum);
        Pairs {
            arranged,
            ranked: dense_ranks(&score[positions.clone()]),
            late,
            time_weights: weights_by_position(arranged, positions.clone(), late, time_weight),
            positions,
        }
    }

    fn rank_of(&self, position: usize) -> usize {
        self.ranked.ranks[position - self.positions.start] as usize
    }

    fn time_weight_of(&self, position: usize) -> f64 {
        self.time_weights[position - self.positions.start]
    }

    fn no_shares(&self) -> Vec<Share> {
        vec![Share::default(); self.positions.len()]
    }

    /// Latest first: an event is compared with the rows still at risk after it.
    fn events_with_later_rows(&self) -> (Counts, Vec<Share>) {
        let (arranged, mut counts, mut shares) =
            (self.arranged, Counts::default(), self.no_shares());
        let mut later = RankSums::zero(self.ranked.n_ranks);
        let mut tied = RankSums::zero(self.ranked.n_ranks);
        let mut n_left = 0;
        let leaving_together = arranged.leaving_together(self.positions.clone());
        for leaving in leaving_together.into_iter().rev() {
            let step = arranged.exit_step(leaving.start);
            let events: Vec<usize> = leaving
                .clone()
                .filter(|&position| arranged.is_event[position])
                .collect();
            for position in leaving
                .clone()
                .filter(|&position| !arranged.is_event[position])
            {
                later.add(self.rank_of(position), arranged.weight_at(position));
            }
            if !events.is_empty() {
                while self
                    .late
                    .get(n_left)
                    .is_some_and(|&position| arranged.entry_step(position as usize) > step)
                {
                    let position = self.late[n_left] as usize;
                    later.add(self.rank_of(position), -arranged.weight_at(position));
                    n_left += 1;
                }
            }
            for &position in &events {
                let rank = self.rank_of(position);
                let split = later.split(rank);
                let time_weight = self.time_weight_of(position);
                shares[position - self.positions.start].add(
                    time_weight,
                    split.below,
                    split.equal,
                    split.above,
                );
                let weight = time_weight * arranged.weight_at(position);
                counts.concordant += weight * split.below;
                counts.discordant += weight * split.above;
                counts.tied_score += weight * split.equal;
                let same_time = tied.split(rank);
                counts.tied_time += weight * (same_time.below + same_time.above);
                counts.tied_both += weight * same_time.equal;
                tied.add(rank, arranged.weight_at(position));
            }
            for &position in &events {
                tied.add(self.rank_of(position), -arranged.weight_at(position));
                later.add(self.rank_of(position), arranged.weight_at(position));
            }
        }
        (counts, shares)
    }

    /// Earliest first: a row is compared with the events it was at risk for.
    fn rows_with_earlier_events(&self) -> Vec<Share> {
        let (arranged, mut shares) = (self.arranged, self.no_shares());
        let mut earlier = RankSums::zero(self.ranked.n_ranks);
        let compare = |shares: &mut [Share], earlier: &RankSums, position: usize, sign: f64| {
            let split = earlier.split(self.rank_of(position));
            add_later(&mut shares[position - self.positions.start], split, sign);
        };
        let mut entering = self
            .late
            .iter()
            .rev()
            .map(|&position| position as usize)
            .peekable();
        for leaving in arranged.leaving_together(self.positions.clone()) {
            let step = arranged.exit_step(leaving.start);
            while let Some(position) =
                entering.next_if(|&position| arranged.entry_step(position) <= step)
            {
                compare(&mut shares, &earlier, position, -1.0);
            }
            let events = || leaving.clone().filter(|&at| arranged.is_event[at]);
            for position in events() {
                compare(&mut shares, &earlier, position, 1.0);
            }
            for position in events() {
                earlier.add(
                    self.rank_of(position),
                    self.time_weight_of(position) * arranged.weight_at(position),
                );
            }
            for position in leaving.clone().filter(|&at| !arranged.is_event[at]) {
                compare(&mut shares, &earlier, position, 1.0);
            }
        }
        shares
    }
}

/// Events of a higher score before this row agree with the score.
fn add_later(share: &mut Share, earlier: Split, sign: f64) {
    share.add(sign, earlier.above, earlier.equal, earlier.below);
}

fn weights_by_position(
    arranged: &Arranged,
    positions: std::ops::Range<usize>,
    late: &[u32],
    time_weight: TimeWeight,
) -> Vec<f64> {
    let mut weights = vec![1.0; positions.len()];
    if time_weight == TimeWeight::AtRisk {
        return weights;
    }
    let total: f64 = positions
        .clone()
        .map(|position| arranged.weight_at(position))
        .sum();
    let mut event_free = 1.0;
    let mut uncensored = 1.0;
    let mut n_at_risk = total
        - late
            .iter()
            .map(|&position| arranged.weight_at(position as usize))
            .sum::<f64>();
    let mut entering = late
        .iter()
        .rev()
        .map(|&position| position as usize)
        .peekable();
    for leaving in arranged.leaving_together(positions.clone()) {
        let step = arranged.exit_step(leaving.start);
        while let Some(position) =
            entering.next_if(|&position| arranged.entry_step(position) <= step)
        {
            n_at_risk += arranged.weight_at(position);
        }
        let weight_of = |with_event: bool| -> f64 {
            leaving
                .clone()
                .filter(|&position| arranged.is_event[position] == with_event)
                .map(|position| arranged.weight_at(position))
                .sum()
        };
        let (n_events, n_censored) = (weight_of(true), weight_of(false));
        let share_at_risk = n_at_risk / total;
        let weight = match time_weight {
            TimeWeight::AtRisk => 1.0,
            TimeWeight::Survival => event_free / share_at_risk,
            TimeWeight::SurvivalOverCensoring => event_free / (uncensored * share_at_risk),
            TimeWeight::InverseCensoringSquared => 1.0 / (uncensored * uncensored),
            TimeWeight::Events => 1.0 / n_at_risk,
        };
        for position in leaving.clone() {
            weights[position - positions.start] = weight;
        }
        if n_at_risk > 0.0 {
            event_free *= 1.0 - n_events / n_at_risk;
        }
        if n_at_risk - n_events > 0.0 {
            uncensored *= 1.0 - n_censored / (n_at_risk - n_events);
        }
        n_at_risk -= n_events + n_censored;
    }
    weights
}
