//! Several rows a subject: states moved between, and events that happen again.

use super::answer::{Answer, curve_json};
use super::arguments::EstimateArguments;
use super::follow_up::{curve_options, needed, table_of};
use super::labels::{Labels, identities, is_censored};
use super::table::{Table, said_of};
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::{
    CurveOptions, EventHistory, StateHistory, SurvivalError, Variance, expected_time_in_states,
    mean_cumulative_count, state_occupancy,
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
    let terminal: Vec<u32> = match &arguments.event {
        None => Vec::new(),
        Some(event) => {
            let counted = causes.code_of(event).ok_or_else(|| {
                Failure::with_hint(
                    "the cause column has no such `--event`",
                    "the event is the one that is counted; all others end observation",
                )
            })?;
            causes
                .all()
                .into_iter()
                .filter(|&code| code != counted)
                .collect()
        }
    };
    let options = curve_options(arguments, Variance::Robust)?;
    let mut answer = begun(arguments, &table, &rows, &options);
    let names =
        |codes: &[u32]| -> Vec<Value> { codes.iter().map(|&code| causes.json_of(code)).collect() };
    let counted: Vec<u32> = causes
        .all()
        .into_iter()
        .filter(|code| !terminal.contains(code))
        .collect();
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
        let mut history = EventHistory::new(
            picked(&rows.subject, &places),
            picked(&rows.start, &places),
            picked(&rows.stop, &places),
            picked(&causes.codes, &places),
            &terminal,
        )
        .map_err(refuse)?;
        if let Some(weight) = &rows.weight {
            history = history
                .with_weight(picked(weight, &places))
                .map_err(refuse)?;
        }
        if let Some(cluster) = &rows.cluster {
            history = history
                .with_cluster(picked(cluster, &places))
                .map_err(refuse)?;
        }
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
    let (from, to) = (table.labels(from)?, table.labels(to)?);
    // one numbering of the states for both columns
    // 0 is no move, as it is no cause, unless rows are in a state of that name
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
    let states = Labels::from_1(&[from.as_slice(), to.as_slice()].concat(), is_no_move);
    let (from, to) = states.codes.split_at(from.len());
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
        let mut history = StateHistory::new(
            picked(&rows.subject, &places),
            picked(&rows.start, &places),
            picked(&rows.stop, &places),
            picked(from, &places),
            picked(to, &places)
                .into_iter()
                .map(|code| (code > 0).then_some(code))
                .collect(),
        )
        .map_err(refuse)?;
        if let Some(weight) = &rows.weight {
            history = history
                .with_weight(picked(weight, &places))
                .map_err(refuse)?;
        }
        if let Some(cluster) = &rows.cluster {
            history = history
                .with_cluster(picked(cluster, &places))
                .map_err(refuse)?;
        }
        let found = state_occupancy(&history, &options).map_err(refuse)?;
        let times = match arguments.until {
            Some(until) => expected_time_in_states(&history, until, &options).map_err(refuse)?,
            None => Vec::new(),
        };
        for (place, curve) in found.states.iter().enumerate() {
            let state = curve.cause.map(|state| states.json_of(state));
            let mut value = curve_json(curve, group.as_deref(), state.clone(), &arguments.times)?;
            if let Some(object) = value.as_object_mut() {
                object.insert("state".to_owned(), json!(state));
                object.insert("initial".to_owned(), json!(found.initial.get(place)));
                if let Some(time) = times.get(place) {
                    let mut part = json!({
                        "until": time.until,
                        "estimate": time.estimate,
                        "std_error": time.std_error,
                        "lower": time.lower,
                        "upper": time.upper,
                        "limits": "linear",
                        "variance": "robust",
                    });
                    if let (Some(last), Some(part)) = (time.carried_on_from, part.as_object_mut()) {
                        let note = format!("carried on flat from {last}, the last time observed");
                        part.insert("note".to_owned(), json!(note));
                    }
                    object.insert("restricted_mean".to_owned(), part);
                }
            }
            answer.curve(value);
        }
        transitions.extend(found.transitions.iter().map(|transition| {
            json!({
                "group": group,
                "from": states.json_of(transition.from),
                "to": states.json_of(transition.to),
                "events": transition.n_events,
                "cumulative_hazard": transition.hazard,
            })
        }));
    }
    answer.part("transitions", json!(transitions));
    Ok(answer.finished())
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
