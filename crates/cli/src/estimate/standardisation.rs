//! Standardisation over the strata of a table: by the sizes of a standard population, or by the rates of a reference.

use super::answer::{Answer, insert, insert_limits};
use super::arguments::EstimateArguments;
use super::follow_up::{needed, table_of};
use super::labels::Labels;
use super::table::Table;
use crate::failure::Failure;
use serde_json::{Map, Value, json};
use survival::counts::{
    DirectStratum, EventLaw, IndirectStratum, RateLimits, direct_standardisation,
    indirect_standardisation,
};

/// The counts of a table in which a row is a stratum of its group.
struct Strata {
    table: Table,
    groups: Option<Labels>,
    events: Vec<u64>,
    exposure: Vec<f64>,
}

impl Strata {
    fn read(arguments: &EstimateArguments, further: &[&Option<String>]) -> Result<Strata, Failure> {
        if arguments.expected.is_some() {
            return Err(Failure::with_hint(
                "`--expected` is there already, and strata would make it",
                "leave it out, or leave `--standard` and the reference out",
            ));
        }
        let events = needed("events", &arguments.events)?;
        let exposure = needed("denominator", &arguments.denominator)?;
        let mut columns = vec![&arguments.group, &arguments.events, &arguments.denominator];
        columns.extend(further);
        let table = table_of(arguments, &columns, &[])?;
        Ok(Strata {
            events: table.counts(events)?,
            exposure: table.numbers(exposure, f64::NAN)?,
            groups: Labels::of_column(&table, &arguments.group)?,
            table,
        })
    }

    /// Rows of each group, with its name.
    fn by_group(&self) -> Vec<(Option<&str>, Vec<usize>)> {
        let all = 0..self.events.len();
        let Some(groups) = &self.groups else {
            return vec![(None, all.collect())];
        };
        let rows_of = |group: u32| {
            let is_in = |row: &usize| groups.codes.get(*row) == Some(&group);
            (
                Some(groups.name_of(group)),
                all.clone().filter(is_in).collect(),
            )
        };
        groups.all().into_iter().map(rows_of).collect()
    }

    /// A line of the answer with the sums of its rows.
    fn line(&self, group: Option<&str>, rows: &[usize]) -> Map<String, Value> {
        let at = |column: &[f64], row: usize| column.get(row).copied().unwrap_or(f64::NAN);
        let mut object = Map::new();
        if let Some(group) = group {
            insert(&mut object, "group", group);
        }
        let events: u64 = rows.iter().filter_map(|&row| self.events.get(row)).sum();
        let exposure: f64 = rows.iter().map(|&row| at(&self.exposure, row)).sum();
        insert(&mut object, "events", events);
        insert(&mut object, "exposure", exposure);
        insert(&mut object, "n_strata", rows.len());
        object
    }
}

/// The rate that the standard population would have at the rates of the strata.
pub(super) fn direct_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let strata = Strata::read(arguments, &[&arguments.standard])?;
    let standard = strata
        .table
        .numbers(needed("standard", &arguments.standard)?, f64::NAN)?;
    let estimates = strata.by_group().into_iter().map(|(group, rows)| {
        let own: Vec<DirectStratum> = rows
            .iter()
            .filter_map(|&row| {
                Some(DirectStratum {
                    n_events: *strata.events.get(row)?,
                    exposure: *strata.exposure.get(row)?,
                    standard_weight: *standard.get(row)?,
                })
            })
            .collect();
        let of = |law| direct_standardisation(&own, arguments.level, law);
        let (rate, share) = (of(EventLaw::Rate), of(EventLaw::Proportion));
        let mut object = strata.line(group, &rows);
        insert_limits(&mut object, rate.estimate, rate.gamma_limits);
        insert(&mut object, "std_error", rate.variance.map(f64::sqrt));
        insert(&mut object, "crude", rate.crude);
        insert(&mut object, "normal", rate.normal_limits);
        // where the denominators are people, their shares vary less than counts do
        insert(
            &mut object,
            "of_proportions",
            json!({ "std_error": share.variance.map(f64::sqrt), "limits": share.normal_limits }),
        );
        Value::Object(object)
    });
    let estimates: Vec<Value> = estimates.collect();
    let mut answer = answer_of(arguments, &strata.table, "direct", "gamma");
    answer.option("standard", &arguments.standard);
    answer.part("estimates", json!(estimates));
    Ok(answer.finished())
}

/// Events over those expected at the rates of a reference population.
pub(super) fn indirect_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    let reference = [
        &arguments.reference_events,
        &arguments.reference_denominator,
    ];
    let strata = Strata::read(arguments, &reference)?;
    let column =
        |name: &str, column: &Option<String>| strata.table.numbers(needed(name, column)?, f64::NAN);
    let events = column("reference-events", &arguments.reference_events)?;
    let exposure = column("reference-denominator", &arguments.reference_denominator)?;
    let estimates = strata.by_group().into_iter().map(|(group, rows)| {
        let own: Vec<IndirectStratum> = rows
            .iter()
            .filter_map(|&row| {
                Some(IndirectStratum {
                    n_events: *strata.events.get(row)?,
                    exposure: *strata.exposure.get(row)?,
                    reference_events: *events.get(row)?,
                    reference_exposure: *exposure.get(row)?,
                })
            })
            .collect();
        let found = indirect_standardisation(&own, arguments.level, RateLimits::Exact);
        let mut object = strata.line(group, &rows);
        let ratio = found.as_ref().map(|found| &found.ratio);
        insert_limits(
            &mut object,
            ratio.and_then(|ratio| ratio.estimate),
            ratio.and_then(|ratio| ratio.limits),
        );
        if let Some(found) = found {
            insert(&mut object, "expected", found.ratio.exposure);
            insert(
                &mut object,
                "expected_by_stratum",
                &found.expected_by_stratum,
            );
            insert(
                &mut object,
                "std_error",
                found.ratio_variance.map(f64::sqrt),
            );
            insert(&mut object, "crude", found.crude_rate);
            insert(&mut object, "reference_rate", found.reference_rate);
            insert(&mut object, "adjusted_rate", found.adjusted_rate);
            insert(&mut object, "adjusted_limits", found.adjusted_limits);
        } else {
            insert(
                &mut object,
                "note",
                "not estimable: a stratum without reference, or an amount that is no amount",
            );
        }
        Value::Object(object)
    });
    let estimates: Vec<Value> = estimates.collect();
    let mut answer = answer_of(arguments, &strata.table, "indirect", "exact");
    answer.option("reference_events", &arguments.reference_events);
    answer.option("reference_denominator", &arguments.reference_denominator);
    answer.part("estimates", json!(estimates));
    if estimates.len() > 1 {
        answer.note("ratios of groups rest on the strata of each group and are not to be ranked against each other");
    }
    Ok(answer.finished())
}

/// An answer that says which standardisation and which limits it is of.
fn answer_of(arguments: &EstimateArguments, table: &Table, kind: &str, limits: &str) -> Answer {
    let mut answer = Answer::of_table(arguments, table);
    answer.option("standardisation", kind);
    answer.option("limits", limits);
    answer
}
