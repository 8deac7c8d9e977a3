//! Counts without follow-up: proportions, rates, observed against expected.

use super::answer::{Answer, insert, insert_into, insert_limits};
use super::arguments::EstimateArguments;
use super::follow_up::{has_event, needed, table_of};
use super::labels::Labels;
use super::standardisation::{direct_answer, indirect_answer};
use super::table::Table;
use crate::failure::Failure;
use serde_json::{Map, Value, json};
use survival::counts::{ProportionLimits, RateLimits, observed_against_expected, proportion, rate};

/// Events and what they are counted against, one line for each row of the table or for each group.
pub(super) struct Counts {
    pub(super) table: Table,
    groups: Option<Labels>,
    events: Vec<u64>,
    against: Vec<f64>,
}

impl Counts {
    /// Reads `--events` with the named column; or counts rows by `--cause`, each row 1 of the denominator.
    pub(super) fn read(
        arguments: &EstimateArguments,
        name: &str,
        column: &Option<String>,
    ) -> Result<Self, Failure> {
        if arguments.events.is_none() && arguments.cause.is_some() {
            return Self::of_causes(arguments);
        }
        let events = needed("events", &arguments.events)?;
        let against = needed(name, column)?;
        let table = table_of(
            arguments,
            &[&arguments.group, &arguments.events, column],
            &[],
        )?;
        Ok(Self {
            events: table.counts(events)?,
            against: table.numbers(against, f64::NAN)?,
            groups: Labels::of_column(&table, &arguments.group)?,
            table,
        })
    }

    fn of_causes(arguments: &EstimateArguments) -> Result<Self, Failure> {
        let cause = needed("cause", &arguments.cause)?;
        let table = table_of(arguments, &[&arguments.group], &[&arguments.cause])?;
        let events = has_event(arguments, &table, cause)?
            .into_iter()
            .map(u64::from)
            .collect();
        Ok(Self {
            events,
            against: vec![1.0; table.n_rows()],
            groups: Labels::of_column(&table, &arguments.group)?,
            table,
        })
    }

    /// The units that are compared: the groups, or without groups the rows.
    pub(super) fn units(&self) -> Vec<Line> {
        if self.groups.is_some() {
            return self.by_group();
        }
        let rows = self.events.iter().zip(&self.against);
        rows.map(|(&events, &against)| Line {
            group: None,
            events,
            against,
        })
        .collect()
    }

    /// Sums by group, in order; one sum over all without groups.
    pub(super) fn by_group(&self) -> Vec<Line> {
        let n_groups = self
            .groups
            .as_ref()
            .map_or(1, |groups| groups.names().len());
        let mut lines: Vec<Line> = (0..n_groups)
            .map(|group| Line {
                group: self
                    .groups
                    .as_ref()
                    .map(|groups| groups.name_of(group as u32).to_owned()),
                events: 0,
                against: 0.0,
            })
            .collect();
        for (row, (events, against)) in self.events.iter().zip(&self.against).enumerate() {
            let group = self
                .groups
                .as_ref()
                .and_then(|groups| groups.codes.get(row));
            if let Some(line) = lines.get_mut(group.copied().unwrap_or(0) as usize) {
                line.events += events;
                line.against += against;
            }
        }
        lines
    }
}

/// The counts of a row or a group.
pub(super) struct Line {
    pub(super) group: Option<String>,
    pub(super) events: u64,
    pub(super) against: f64,
}

impl Line {
    /// The fields that all methods share.
    pub(super) fn begun(&self, name: &str) -> Map<String, Value> {
        let mut object = Map::new();
        if let Some(group) = &self.group {
            insert(&mut object, "group", group);
        }
        insert(&mut object, "events", self.events);
        insert(&mut object, name, self.against);
        object
    }

    /// The denominator as a number of people; too large for `events` to exceed it when it is no whole number.
    pub(super) fn people(&self) -> u64 {
        self.against.max(0.0) as u64
    }
}

pub(super) fn proportion_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let counts = Counts::read(arguments, "denominator", &arguments.denominator)?;
    let mut answer = Answer::of_table(arguments, &counts.table);
    let kinds = [
        ("wilson", ProportionLimits::Wilson),
        ("wilson_continuity", ProportionLimits::WilsonContinuity),
        ("exact", ProportionLimits::Exact),
        ("mid_p", ProportionLimits::MidP),
        ("agresti_coull", ProportionLimits::AgrestiCoull),
        ("jeffreys", ProportionLimits::Jeffreys),
    ];
    let estimates: Vec<Value> = counts
        .by_group()
        .iter()
        .map(|line| {
            let mut object = line.begun("n");
            let of = |kind| proportion(line.events, line.people(), arguments.level, kind);
            let main = of(ProportionLimits::Wilson);
            insert_limits(&mut object, main.estimate, main.limits);
            for (name, kind) in kinds {
                insert(&mut object, name, of(kind).limits);
            }
            Value::Object(object)
        })
        .collect();
    answer.option("limits", "wilson");
    answer.part("estimates", json!(estimates));
    Ok(answer.finished())
}

pub(super) fn rate_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    ratios(arguments, "denominator", "exposure", &arguments.denominator)
}

pub(super) fn standardised_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    if arguments.standard.is_some() {
        return direct_answer(arguments);
    }
    if arguments.reference_events.is_some() || arguments.reference_denominator.is_some() {
        return indirect_answer(arguments);
    }
    // a chance for each person calls for the exact law of their sum
    if arguments.events.is_none() && arguments.cause.is_some() {
        return predicted(arguments);
    }
    ratios(arguments, "expected", "expected", &arguments.expected)
}

/// Counts over an exposure or an expected count, as Poisson.
fn ratios(
    arguments: &EstimateArguments,
    option: &str,
    name: &str,
    column: &Option<String>,
) -> Result<Value, Failure> {
    needed("events", &arguments.events)?;
    let counts = Counts::read(arguments, option, column)?;
    let mut answer = Answer::of_table(arguments, &counts.table);
    let kinds = [
        ("exact", RateLimits::Exact),
        ("mid_p", RateLimits::MidP),
        ("byar", RateLimits::Byar),
        ("log", RateLimits::Log),
    ];
    let estimates: Vec<Value> = counts
        .by_group()
        .iter()
        .map(|line| {
            let mut object = line.begun(name);
            let of = |kind| rate(line.events, line.against, arguments.level, kind);
            let main = of(RateLimits::Exact);
            insert_limits(&mut object, main.estimate, main.limits);
            for (name, kind) in kinds {
                insert(&mut object, name, of(kind).limits);
            }
            let p_values = survival::counts::poisson_p_values(line.events, line.against);
            if let Some(p_values) = p_values.filter(|_| option == "expected") {
                insert(&mut object, "p_values", p_values);
            }
            Value::Object(object)
        })
        .collect();
    answer.option("limits", "exact");
    answer.part("estimates", json!(estimates));
    Ok(answer.finished())
}

/// Observed events against the sum of predicted chances, by group.
fn predicted(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let cause = needed("cause", &arguments.cause)?;
    let chance = needed("expected", &arguments.expected)?;
    let table = table_of(
        arguments,
        &[&arguments.group, &arguments.expected],
        &[&arguments.cause],
    )?;
    let chances = table.numbers(chance, f64::NAN)?;
    let has_event = has_event(arguments, &table, cause)?;
    let groups = Labels::of_column(&table, &arguments.group)?;
    let parts: Vec<Option<u32>> = match &groups {
        None => vec![None],
        Some(groups) => groups.all().into_iter().map(Some).collect(),
    };
    let mut estimates = Vec::new();
    for part in parts {
        let code_of = |row: usize| {
            groups
                .as_ref()
                .and_then(|groups| groups.codes.get(row))
                .copied()
        };
        let rows: Vec<usize> = (0..chances.len())
            .filter(|&row| part.is_none() || code_of(row) == part)
            .collect();
        let own: Vec<f64> = rows
            .iter()
            .filter_map(|&row| chances.get(row).copied())
            .collect();
        let is_event = |row: &&usize| has_event.get(**row) == Some(&true);
        let observed = rows.iter().filter(is_event).count() as u64;
        let found =
            observed_against_expected(observed, &own, arguments.level).ok_or_else(|| {
                Failure::Data(format!(
                    "column `{chance}` holds a number that is no chance between 0 and 1"
                ))
            })?;
        let mut value = json!(found);
        if let Some(code) = part {
            let name = groups.as_ref().map(|groups| groups.name_of(code));
            insert_into(&mut value, "group", name);
        }
        estimates.push(value);
    }
    let mut answer = Answer::of_table(arguments, &table);
    answer.part("estimates", json!(estimates));
    Ok(answer.finished())
}
