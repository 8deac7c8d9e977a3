//! How an estimate changes with the weight of each row: the infinitesimal jackknife, row by row.
//!
//! With G(t) = sum d/(n(n-d)), a row that is at risk from position a to its exit x changes the event-free probability by
//! -S(t) [ event/(n-d)(x) - G(x) + G(before a) ] from x on, and by -S(t) [ G(before a) - G(t) ] while it is at risk. Incidences
//! follow by summing these over time, which running sums make constant work for each row.
//! Source: Efron, The Jackknife, the Bootstrap and Other Resampling Plans, 1982, chapter 6;
//! Andersen, Borgan, Gill and Keiding 1993, section IV.

use crate::Sample;
use crate::curve::TIME_TOLERANCE;
use crate::restricted_mean::Area;
use crate::risk_table::{RiskTable, risk_table};
use crate::time_order::TimeOrder;

/// An estimate of one group and its derivative by the weight of each row of the sample (0 for rows of other groups).
pub(super) struct Derivative {
    pub(super) estimate: f64,
    pub(super) by_weight: Vec<f64>,
}

/// Running sums of one group over the distinct times.
pub(super) struct GroupSums<'a> {
    sample: &'a Sample,
    order: &'a TimeOrder,
    is_member: Vec<bool>,
    table: RiskTable,
    steps: Vec<Step>,
    last_time: f64,
}

/// Values just after a distinct time.
#[derive(Clone, Copy)]
struct Step {
    time: f64,
    event_free: f64,
    /// G.
    hazard_sum: f64,
    /// 1 / (n - d) of this very time, 0 without an event or a survivor.
    of_event: f64,
}

const START: Step = Step {
    time: 0.0,
    event_free: 1.0,
    hazard_sum: 0.0,
    of_event: 0.0,
};

/// Where one row of the group is at risk.
#[derive(Clone, Copy)]
struct Span {
    first: usize,
    exit: usize,
    cause: u32,
}

impl<'a> GroupSums<'a> {
    /// `None` when nobody of the group is ever at risk.
    pub(super) fn new(
        sample: &'a Sample,
        order: &'a TimeOrder,
        is_member: Vec<bool>,
    ) -> Option<GroupSums<'a>> {
        let table = risk_table(sample, order, &sample.causes(), |index| {
            is_member.get(index).copied().unwrap_or(false)
        });
        let mut before = START;
        let mut steps = Vec::with_capacity(order.times.len());
        for ((time, n_at_risk), n_events) in order
            .times
            .iter()
            .zip(&table.n_at_risk)
            .zip(&table.n_events_of_any)
        {
            let n_spared = n_at_risk - n_events;
            let mut step = Step {
                time: *time,
                of_event: 0.0,
                ..before
            };
            if *n_events > 0.0 {
                step.event_free = before.event_free * n_spared / n_at_risk;
                if n_spared > 0.0 {
                    step.of_event = 1.0 / n_spared;
                    step.hazard_sum = before.hazard_sum + n_events / (n_at_risk * n_spared);
                }
            }
            steps.push(step);
            before = step;
        }
        let last = table
            .n_at_risk
            .iter()
            .rposition(|n_at_risk| *n_at_risk > 0.0)?;
        let last_time = order.times.get(last).copied()?;
        Some(GroupSums {
            sample,
            order,
            is_member,
            table,
            steps,
            last_time,
        })
    }

    /// Probability of no event by `time`; `None` past the group's last observation.
    pub(super) fn event_free(&self, time: f64) -> Option<Derivative> {
        let position = self.position(time)?;
        let at = self.after(position);
        let by_row = |_: usize, span: Span| {
            let entry = self.before(span.first).hazard_sum;
            let exposure = if position > span.exit {
                self.closed(span)
            } else {
                entry - at.hazard_sum
            };
            if position > span.first {
                -at.event_free * exposure
            } else {
                0.0
            }
        };
        Some(self.derivative(at.event_free, by_row))
    }

    /// Mean event-free time up to `until`; `None` when the curve is not known so far and has not reached 0.
    pub(super) fn restricted_mean(&self, until: f64) -> Option<Derivative> {
        if !(until > 0.0 && until.is_finite()) {
            return None;
        }
        let area = Area::new(&self.order.times, &self.table, until);
        let is_known = area.carried_on_from.is_none();
        is_known.then(|| {
            self.derivative(area.total, |row: usize, _| {
                area.derivative(self.sample, self.order, row)
            })
        })
    }

    /// Probability of an event of `cause` by `time`; `None` past the group's last observation.
    pub(super) fn incidence(&self, cause: u32, time: f64) -> Option<Derivative> {
        let position = self.position(time)?;
        let sums = self.incidence_sums(cause);
        let after = |n_passed: usize| {
            n_passed
                .checked_sub(1)
                .and_then(|last| sums.get(last))
                .copied()
        };
        let upto = |n_passed: usize| after(n_passed).unwrap_or(IncidenceStep::default());
        let at = upto(position);
        let by_row = |_: usize, span: Span| {
            if position <= span.first {
                return 0.0;
            }
            let entry = self.before(span.first).hazard_sum;
            let (opened, closed) = (upto(span.first), upto(position.min(span.exit + 1)));
            let mut change = closed.hazard_weighted
                - opened.hazard_weighted
                - entry * (closed.incidence - opened.incidence)
                - (closed.own_share - opened.own_share);
            if position > span.exit {
                change -= self.closed(span) * (at.incidence - closed.incidence);
                if span.cause == cause {
                    change += closed.of_event;
                }
            }
            change
        };
        Some(self.derivative(at.incidence, by_row))
    }

    /// event/(n - d) - G(exit) + G(before entry): what a row carries once it has left.
    fn closed(&self, span: Span) -> f64 {
        let exit = self.after(span.exit + 1);
        let of_event = if span.cause > 0 { exit.of_event } else { 0.0 };
        of_event - exit.hazard_sum + self.before(span.first).hazard_sum
    }

    fn incidence_sums(&self, cause: u32) -> Vec<IncidenceStep> {
        let column = self
            .sample
            .causes()
            .binary_search(&cause)
            .ok()
            .and_then(|place| self.table.n_events.get(place));
        let mut sums = IncidenceStep::default();
        (0..self.steps.len())
            .map(|position| {
                let before = self.before(position);
                let n_events = column
                    .and_then(|column| column.get(position))
                    .copied()
                    .unwrap_or(0.0);
                let n_at_risk = self.table.n_at_risk.get(position).copied().unwrap_or(0.0);
                sums.of_event = 0.0;
                if n_at_risk > 0.0 {
                    let increment = before.event_free * n_events / n_at_risk;
                    sums.incidence += increment;
                    sums.hazard_weighted += before.hazard_sum * increment;
                    sums.own_share += increment / n_at_risk;
                    sums.of_event = before.event_free / n_at_risk;
                }
                sums
            })
            .collect()
    }

    fn derivative(&self, estimate: f64, by_row: impl Fn(usize, Span) -> f64) -> Derivative {
        let by_weight = self.is_member.iter().enumerate().map(|(index, is_member)| {
            let span = self.span(index).filter(|_| *is_member);
            span.map_or(0.0, |span| by_row(index, span))
        });
        Derivative {
            estimate,
            by_weight: by_weight.collect(),
        }
    }

    fn span(&self, index: usize) -> Option<Span> {
        let exit = *self.order.exit.get(index)? as usize;
        let cause = *self.sample.cause().get(index)?;
        self.order.is_ever_at_risk(index).then(|| Span {
            first: self.order.entry_of(index) as usize,
            exit,
            cause,
        })
    }

    /// Values after the first `n_passed` times.
    fn after(&self, n_passed: usize) -> Step {
        n_passed
            .checked_sub(1)
            .and_then(|last| self.steps.get(last))
            .copied()
            .unwrap_or(START)
    }

    /// Values just before the time at `position`.
    fn before(&self, position: usize) -> Step {
        self.after(position)
    }

    fn n_up_to(&self, time: f64) -> usize {
        self.steps
            .partition_point(|step| step.time <= time + time * TIME_TOLERANCE)
    }

    /// Times up to `time`; `None` for a time that is negative or past the group's last.
    fn position(&self, time: f64) -> Option<usize> {
        let reach = self.last_time + self.last_time * TIME_TOLERANCE;
        (time >= 0.0 && time <= reach).then(|| self.n_up_to(time))
    }
}

/// Running sums of one cause: F, sum of G(t-) dF, sum of dF/n, and S(t-)/n of the very time.
#[derive(Clone, Copy, Default)]
struct IncidenceStep {
    incidence: f64,
    hazard_weighted: f64,
    own_share: f64,
    of_event: f64,
}
