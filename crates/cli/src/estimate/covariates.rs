//! Covariates of a regression, from columns of numbers or labels.

use super::arguments::EstimateArguments;
use super::labels::Labels;
use super::table::Table;
use crate::failure::Failure;
use survival::regression::{Covariate, Covariates};

/// The columns behind the covariates, without their reference levels.
pub(super) fn column_names(arguments: &EstimateArguments) -> Vec<String> {
    let name = |asked: &String| split_reference(asked).0.to_owned();
    arguments.covariates.iter().map(name).collect()
}

fn split_reference(asked: &str) -> (&str, Option<&str>) {
    match asked.split_once(':') {
        Some((name, reference)) => (name, Some(reference)),
        None => (asked, None),
    }
}

/// Columns of numbers as they are; others, and those with a reference level, as an indicator for each further level.
pub(super) fn covariates(
    arguments: &EstimateArguments,
    table: &Table,
) -> Result<Covariates, Failure> {
    let mut columns = Vec::new();
    for asked in &arguments.covariates {
        let (name, reference) = split_reference(asked);
        let cells = table.text(name);
        let is_numeric =
            reference.is_none() && cells.iter().all(|cell| cell.parse::<f64>().is_ok());
        if is_numeric {
            columns.push(Covariate {
                name: name.to_owned(),
                values: table.numbers(name, f64::NAN)?,
            });
            continue;
        }
        let labels = Labels::new(&cells);
        let reference = match reference {
            None => labels.all().first().copied().unwrap_or(0),
            Some(reference) => labels.code_of(reference).ok_or_else(|| {
                Failure::with_hint(
                    format!("column `{name}` has no such reference level"),
                    "a level is named as it is written in the column",
                )
            })?,
        };
        for level in labels.all().into_iter().filter(|&level| level != reference) {
            columns.push(Covariate {
                name: format!("{name}={}", labels.name_of(level)),
                values: labels
                    .codes
                    .iter()
                    .map(|&code| f64::from(u8::from(code == level)))
                    .collect(),
            });
        }
    }
    Covariates::new(table.n_rows(), columns).map_err(|error| table.refusal(&error))
}
