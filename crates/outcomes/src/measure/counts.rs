//! Counts over time at risk: rates, mean counts, and one count over another.

use super::cohort::Study;
use super::follow_up::FollowUp;
use super::shares::{interval, shown};
use crate::report::{Estimate, Interval, MeasureResult, Value, words};
use crate::rules::Outcome;
use crate::tables::{Dated, PatientKey};
use survival::counts::{RateLimits, clopper_pearson, rate};
use survival::distribution::normal_multiplier;
use survival::{CurveOptions, EventHistory, Limits, Variance, mean_cumulative_count};

const DAYS_A_YEAR: f64 = 365.25;
const PER: f64 = 100.0;

/// Everything counted of one subject whose event can happen again.
#[derive(Debug, Clone, PartialEq)]
pub struct CountHistory {
    /// The time observed; what ended it for good, where anything did.
    pub followed: FollowUp,
    /// Days of the events with the rows that tell of them, ascending, after the entry and up to the exit.
    pub events: Vec<(i64, Dated)>,
}

/// First events per 100 person-years of those followed, up to the horizon.
pub(super) fn rate_to_horizon(
    study: &Study<'_>,
    event: &[Outcome],
    horizon: i64,
    subjects: &[FollowUp],
    blank: &MeasureResult,
) -> MeasureResult {
    let level = study.rules.confidence_level;
    // (person, had the event, days at risk)
    let told: Vec<(PatientKey, bool, i64)> = subjects
        .iter()
        .map(|subject| {
            let exit_day = i64::from(subject.exit_day);
            let days = exit_day.min(horizon) - i64::from(subject.entry_day);
            let is_event =
                exit_day <= horizon && subject.ending.is_some_and(|ending| event.contains(&ending));
            (subject.cluster, is_event, days.max(0))
        })
        .collect();
    let n_events = told.iter().filter(|(_, is_event, _)| *is_event).count();
    let days: i64 = told.iter().map(|(_, _, days)| days).sum();
    let years = days as f64 / DAYS_A_YEAR;
    let plain = rate(n_events as u64, years, level, RateLimits::Exact);
    let limits = if n_people(subjects) == subjects.len() {
        plain.limits.and_then(|limits| {
            let (lower, upper) = (limits.lower * PER, limits.upper * PER);
            interval(Some(lower), Some(upper), level, "exact Poisson")
        })
    } else {
        robust_rate_limits(&told, n_events, days, level)
    };
    let value = match plain.estimate {
        Some(estimate) => Value::Known(Estimate {
            estimate: estimate * PER,
            interval: limits,
        }),
        None => Value::NotEstimable {
            reason: "nobody was watched after entering".to_owned(),
        },
    };
    MeasureResult {
        value,
        numerator: shown(n_events),
        denominator: shown(subjects.len()),
        notes: vec![format!(
            "{} in {} person-years of {}",
            words::counted(
                n_events,
                "spell ended by a new ulcer",
                "spells ended by a new ulcer"
            ),
            words::decimal(years, 1),
            words::counted(subjects.len(), "spell", "spells"),
        )],
        ..blank.clone()
    }
}

/// Log limits of a rate whose variance sums, by person, what each had more or fewer events than the rate expects of their
/// time. Not estimable without an event or for one person.
fn robust_rate_limits(
    told: &[(PatientKey, bool, i64)],
    n_events: usize,
    days: i64,
    level: f64,
) -> Option<Interval> {
    let rate = n_events as f64 / days as f64;
    let mut by_person = told.to_vec();
    by_person.sort_by_key(|(person, _, _)| *person);
    let surplus = by_person
        .chunk_by(|one, other| one.0 == other.0)
        .map(|own| {
            let own = own.iter();
            own.map(|(_, is_event, days)| f64::from(u8::from(*is_event)) - rate * *days as f64)
                .sum::<f64>()
        });
    let squares: f64 = surplus.map(|surplus| surplus * surplus).sum();
    let reach = normal_multiplier(level)? * squares.sqrt() / n_events as f64;
    let estimate = rate * DAYS_A_YEAR * PER;
    let is_estimable = n_events > 0 && days > 0 && reach.is_finite() && reach > 0.0;
    is_estimable
        .then(|| {
            interval(
                Some(estimate * (-reach).exp()),
                Some(estimate * reach.exp()),
                level,
                "log, variance robust to people counted more than once",
            )
        })
        .flatten()
}

fn n_people(subjects: &[FollowUp]) -> usize {
    let mut people: Vec<_> = subjects.iter().map(|subject| subject.cluster).collect();
    people.sort_unstable();
    people.dedup();
    people.len()
}

/// Mean number of events per 100 subjects by the horizon.
pub(super) fn mean_count(
    study: &Study<'_>,
    horizon: i64,
    histories: &[&CountHistory],
    blank: &MeasureResult,
) -> MeasureResult {
    let n = histories.len();
    let within = |(day, _): &&(i64, Dated)| *day <= horizon;
    let n_events: usize = histories
        .iter()
        .map(|history| history.events.iter().filter(within).count())
        .sum();
    let is_unknown = |history: &&&CountHistory| {
        history.followed.ending.is_none() && i64::from(history.followed.exit_day) < horizon
    };
    let n_unknown = histories.iter().filter(is_unknown).count();
    let counted = MeasureResult {
        numerator: shown(n_events),
        denominator: shown(n),
        n_unknown: shown(n_unknown),
        ..blank.clone()
    };
    if n == 0 {
        return MeasureResult {
            numerator: None,
            n_unknown: None,
            ..counted
        };
    }
    let value = mean_on(study, horizon, histories).unwrap_or_else(|| Value::NotEstimable {
        reason: format!("nobody was followed for {horizon} days"),
    });
    MeasureResult { value, ..counted }
}

fn mean_on(study: &Study<'_>, horizon: i64, histories: &[&CountHistory]) -> Option<Value> {
    let level = study.rules.confidence_level;
    let is_followed = histories
        .iter()
        .any(|history| i64::from(history.followed.exit_day) >= horizon)
        || histories
            .iter()
            .all(|history| history.followed.ending.is_some());
    if !is_followed {
        return None;
    }
    let (mut subject, mut start, mut stop) = (Vec::new(), Vec::new(), Vec::new());
    let (mut cause, mut cluster) = (Vec::new(), Vec::new());
    for (history, number) in histories.iter().zip(0u32..) {
        let followed = &history.followed;
        let mut push = |from: i64, to: i64, what: u32| {
            subject.push(number);
            start.push(from as f64);
            stop.push(to as f64);
            cause.push(what);
            cluster.push(followed.cluster.0);
        };
        let (mut from, exit_day) = (i64::from(followed.entry_day), followed.exit_day.into());
        for (day, _) in &history.events {
            push(from, *day, 1);
            from = *day;
        }
        let ending = u32::from(followed.ending.is_some()) * 2;
        if ending > 0 || exit_day > from {
            push(from, exit_day, ending);
        }
    }
    let history = EventHistory::new(subject, start, stop, cause, &[2])
        .ok()?
        .with_cluster(cluster)
        .ok()?;
    let options = CurveOptions {
        level,
        limits: Limits::Log,
        variance: Variance::Robust,
    };
    let curve = mean_cumulative_count(&history, &options).ok()?;
    let last = curve.points.last()?.time;
    let point = curve.at((horizon as f64).min(last));
    let estimate = point.map_or(0.0, |point| point.estimate);
    let limits = point.filter(|_| estimate > 0.0).and_then(|point| {
        let per = |limit: Option<f64>| limit.map(|limit| limit * PER);
        interval(
            per(point.lower),
            per(point.upper),
            level,
            "log, variance robust to several ulcers of one person",
        )
    });
    Some(Value::Known(Estimate {
        estimate: estimate * PER,
        interval: limits,
    }))
}

/// One count over another with exact limits, where both are large enough.
pub(super) fn ratio(
    study: &Study<'_>,
    n_above: usize,
    n_below: usize,
    blank: MeasureResult,
) -> MeasureResult {
    let level = study.rules.confidence_level;
    let least = usize::try_from(study.rules.ratio_events_at_least).unwrap_or(usize::MAX);
    let both = format!("{n_above} over {n_below}");
    let value = if n_above.min(n_below) < least {
        Value::NotEstimable {
            reason: format!("{both}: fewer than {least} of one kind"),
        }
    } else {
        let odds = |share: f64| share / (1.0 - share);
        let all = (n_above + n_below) as u64;
        let limits = clopper_pearson(n_above as u64, all, level);
        Value::Known(Estimate {
            estimate: n_above as f64 / n_below as f64,
            interval: limits.and_then(|limits| {
                interval(
                    Some(odds(limits.lower)),
                    Some(odds(limits.upper)).filter(|upper| upper.is_finite()),
                    level,
                    "exact binomial",
                )
            }),
        })
    };
    MeasureResult {
        value,
        numerator: shown(n_above),
        denominator: shown(n_below),
        notes: vec![both],
        ..blank
    }
}
