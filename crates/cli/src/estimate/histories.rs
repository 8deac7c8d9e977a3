//! Several rows a subject: states moved between, and events that happen again.

use super::answer::{Answer, insert_into};
use super::arguments::EstimateArguments;
use super::curve_json::{curve_json, insert_mean};
use super::follow_up::{curve_options, needed, table_of};
use super::labels::{Labels, identities, is_censored};
use super::table::{Table, said_of};
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::{
    CurveOptions, EventHistory, StateHistory, SurvivalError, TransitionHazard, Variance,
    expected_time_in_states, mean_cumulative_count, state_occupancy,
};

/// Subject, times, and the columns that all histories share.
struct Rows {
    subject: Vec<u32>,
    start: Vec<f64>,
    stop: Vec<f64>,
    weight: Option<Vec<f64>>,
    cluster: Option<Vec<u32>>,
    groups: Option<Labels>,
}

impl Rows {
    fn read(table: &Table, arguments: &EstimateArguments) -> Result<Self, Failure> {
        let subject = identities(&table.text(needed("subject", &arguments.subject)?));
        let stop = table.numbers(needed("exit", &arguments.exit)?, f64::NAN)?;
        let start = match &arguments.entry {
            Some(entry) => table.numbers(entry, f64::NAN)?,
            None => ends_of_rows_before(&subject, &stop),
        };
        let weight = arguments
            .weight
            .as_ref()
            .map(|column| table.numbers(column, f64::NAN));
        Ok(Self {
            subject,
            start,
            stop,
            weight: weight.transpose()?,
            cluster: arguments
                .cluster
                .as_ref()
                .map(|column| identities(&table.text(column))),
            groups: Labels::of_column(table, &arguments.group)?,
        })
    }

    /// Each group with the rows it holds, counted from 0; all rows without groups.
    fn by_group(&self) -> Vec<(Option<String>, Vec<usize>)> {
        let all = 0..self.stop.len();
        let Some(groups) = &self.groups else {
            return vec![(None, all.collect())];
        };
        groups
            .all()
            .into_iter()
            .map(|group| {
                let rows = all
                    .clone()
                    .filter(|&row| groups.codes.get(row) == Some(&group));
                (Some(groups.name_of(group).to_owned()), rows.collect())
            })
            .collect()
    }

    /// The events of some rows; codes among `terminal` end everything.
    fn events(
        &self,
        rows: &[usize],
        causes: &[u32],
        terminal: &[u32],
    ) -> Result<EventHistory, SurvivalError> {
        let mut history = EventHistory::new(
            picked(&self.subject, rows),
            picked(&self.start, rows),
            picked(&self.stop, rows),
            picked(causes, rows),
            terminal,
        )?;
        if let Some(weight) = &self.weight {
            history = history.with_weight(picked(weight, rows))?;
        }
        if let Some(cluster) = &self.cluster {
            history = history.with_cluster(picked(cluster, rows))?;
        }
        Ok(history)
    }

    /// The moves of some rows between states; a row whose `to` is 0 makes none.
    fn moves(
        &self,
        rows: &[usize],
        from: &[u32],
        to: &[u32],
    ) -> Result<StateHistory, SurvivalError> {
        let to = picked(to, rows).into_iter();
        let mut history = StateHistory::new(
            picked(&self.subject, rows),
            picked(&self.start, rows),
            picked(&self.stop, rows),
            picked(from, rows),
            to.map(|code| (code > 0).then_some(code)).collect(),
        )?;
        if let Some(weight) = &self.weight {
            history = history.with_weight(picked(weight, rows))?;
        }
        if let Some(cluster) = &self.cluster {
            history = history.with_cluster(picked(cluster, rows))?;
        }
        Ok(history)
    }
}

/// Without an entry column each row of a subject starts where the one before it ended, the first at 0.
fn ends_of_rows_before(subject: &[u32], stop: &[f64]) -> Vec<f64> {
    let mut order: Vec<(u32, f64, usize)> = subject
        .iter()
        .zip(stop)
        .enumerate()
        .map(|(row, (&subject, &stop))| (subject, stop, row))
        .collect();
    order.sort_by(|left, right| {
        (left.0.cmp(&right.0))
            .then(left.1.total_cmp(&right.1))
            .then(left.2.cmp(&right.2))
    });
    let mut start = vec![0.0; stop.len()];
    for (before, after) in order.iter().zip(order.iter().skip(1)) {
        if before.0 == after.0
            && let Some(start) = start.get_mut(after.2)
        {
            *start = before.1;
        }
    }
    start
}

fn picked<T: Copy>(column: &[T], rows: &[usize]) -> Vec<T> {
    rows.iter()
        .filter_map(|&row| column.get(row).copied())
        .collect()
}

/// A refusal that names a row of a group, said of the row in the file.
fn refusal(table: &Table, rows: &[usize], error: &SurvivalError) -> Failure {
    let row = error.row().and_then(|row| rows.get(row.saturating_sub(1)));
    match row {
        Some(&row) => Failure::Data(said_of(&table.place(row), error)),
        None => table.refusal(error),
    }
}

pub(super) fn mean_count_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let cause = needed("cause", &arguments.cause)?;
    let table = table_of(
        arguments,
        &[
            &arguments.subject,
            &arguments.exit,
            &arguments.entry,
            &arguments.group,
            &arguments.cluster,
            &arguments.weight,
        ],
        &[&arguments.cause],
    )?;
    let rows = Rows::read(&table, arguments)?;
    let causes = Labels::from_1(&table.labels(cause)?, is_censored);
    let (counted, terminal) = counted_and_terminal(arguments, &causes)?;
    let options = curve_options(arguments, Variance::Robust)?;
    let mut answer = begun(arguments, &table, &rows, &options);
    let names =
        |codes: &[u32]| -> Vec<Value> { codes.iter().map(|&code| causes.json_of(code)).collect() };
    answer.option("counted", names(&counted));
    answer.option("terminal", names(&terminal));
    if !terminal.is_empty() {
        answer.note(
            "standard errors are Ghosh and Lin's: events that end everything answer as a hazard, which is a little small where many \
             subjects end at one time",
        );
    }
    for (group, places) in rows.by_group() {
        let refuse = |error: SurvivalError| refusal(&table, &places, &error);
        let history = rows
            .events(&places, &causes.codes, &terminal)
            .map_err(refuse)?;
        let curve = mean_cumulative_count(&history, &options).map_err(refuse)?;
        answer.curve(curve_json(
            &curve,
            group.as_deref(),
            None,
            &arguments.times,
        )?);
    }
    Ok(answer.finished())
}

/// Codes of the events that are counted, and of those that end observation: all but `--event`, where it is given.
fn counted_and_terminal(
    arguments: &EstimateArguments,
    causes: &Labels,
) -> Result<(Vec<u32>, Vec<u32>), Failure> {
    let Some(event) = &arguments.event else {
        return Ok((causes.all(), Vec::new()));
    };
    let wanted = causes.code_of(event).ok_or_else(|| {
        Failure::with_hint(
            "the cause column has no such `--event`",
            "the event is the one that is counted; all others end observation",
        )
    })?;
    Ok(causes.all().into_iter().partition(|&code| code == wanted))
}

pub(super) fn multi_state_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let from = needed("from", &arguments.from)?;
    let to = needed("to", &arguments.to)?;
    let table = table_of(
        arguments,
        &[
            &arguments.subject,
            &arguments.exit,
            &arguments.entry,
            &arguments.from,
            &arguments.group,
            &arguments.cluster,
            &arguments.weight,
        ],
        &[&arguments.to],
    )?;
    let rows = Rows::read(&table, arguments)?;
    let (states, is_zero_no_move) = states(&table.labels(from)?, &table.labels(to)?);
    let (from, to) = states.codes.split_at(rows.stop.len());
    let options = curve_options(arguments, Variance::Robust)?;
    let mut answer = begun(arguments, &table, &rows, &options);
    if let Some(until) = arguments.until {
        answer.option("until", until);
    }
    if is_zero_no_move {
        answer.note("0 under `--to` is read as no move: no row is in a state of that name");
    }
    let mut transitions = Vec::new();
    for (group, places) in rows.by_group() {
        let refuse = |error: SurvivalError| refusal(&table, &places, &error);
        let history = rows.moves(&places, from, to).map_err(refuse)?;
        let found = state_occupancy(&history, &options).map_err(refuse)?;
        let times = match arguments.until {
            Some(until) => expected_time_in_states(&history, until, &options).map_err(refuse)?,
            None => Vec::new(),
        };
        for (place, curve) in found.states.iter().enumerate() {
            let state = curve.cause.map(|state| states.json_of(state));
            let mut value = curve_json(curve, group.as_deref(), state.clone(), &arguments.times)?;
            insert_into(&mut value, "state", state);
            insert_into(&mut value, "initial", found.initial.get(place));
            if let Some(time) = times.get(place) {
                insert_mean(&mut value, time.into(), Variance::Robust);
            }
            answer.curve(value);
        }
        let of_group = found.transitions.iter();
        transitions.extend(of_group.map(|found| transition(group.as_deref(), found, &states)));
    }
    answer.part("transitions", json!(transitions));
    Ok(answer.finished())
}

/// One numbering of the states for both columns, the rows of `from` first; and whether a 0 under `to` is taken for no move, as it
/// is no cause: it is, unless rows are in a state of that name.
fn states(from: &[&str], to: &[&str]) -> (Labels, bool) {
    let is_zero = |cell: &&str| *cell == "0";
    let zero_is_a_state = from.iter().any(is_zero);
    let is_no_move = |cell: &str| {
        cell.is_empty()
            || (cell == "0" && !zero_is_a_state)
            || ["censored", "cens"]
                .iter()
                .any(|word| cell.eq_ignore_ascii_case(word))
    };
    let is_zero_no_move = !zero_is_a_state && to.iter().any(is_zero);
    (
        Labels::from_1(&[from, to].concat(), is_no_move),
        is_zero_no_move,
    )
}

fn transition(group: Option<&str>, found: &TransitionHazard, states: &Labels) -> Value {
    json!({
        "group": group,
        "from": states.json_of(found.from),
        "to": states.json_of(found.to),
        "events": found.n_events,
        "cumulative_hazard": found.hazard,
    })
}

fn begun(
    arguments: &EstimateArguments,
    table: &Table,
    rows: &Rows,
    options: &CurveOptions,
) -> Answer {
    let mut answer = Answer::new(arguments, table.n_rows(), table.n_left_out);
    answer.curve_options(options);
    answer.option("times", &arguments.times);
    if rows.cluster.is_none() {
        answer.option("cluster", "subject");
    }
    answer
}
