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
        if is_numeric(&cells, reference) {
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

fn is_numeric(cells: &[&str], reference: Option<&str>) -> bool {
    reference.is_none() && cells.iter().all(|cell| cell.parse::<f64>().is_ok())
}

/// A covariate and the value it is set to, as it is written in its column.
#[derive(Debug, Clone)]
pub(super) struct Fixed {
    pub(super) column: String,
    pub(super) value: String,
}

impl Fixed {
    /// Reads `name=value`.
    pub(super) fn parse(asked: &str) -> Result<Self, Failure> {
        let parts = asked.split_once('=');
        let (column, value) = parts.ok_or_else(|| {
            Failure::with_hint(
                "`--profile` needs a value for each covariate",
                "`--profile age=70,site=Quay`",
            )
        })?;
        Ok(Self {
            column: column.trim().to_owned(),
            value: value.trim().to_owned(),
        })
    }
}

/// Values that a curve for each of them still makes sense of.
const MOST_LEVELS: usize = 10;

/// Every value of a covariate, in sort order.
pub(super) fn levels(
    arguments: &EstimateArguments,
    table: &Table,
    column: &str,
) -> Result<Vec<Fixed>, Failure> {
    let (_, reference) = asked_for(arguments, column)?;
    let cells = table.text(column);
    let values: Vec<String> = if is_numeric(&cells, reference) {
        let mut numbers = table.numbers(column, f64::NAN)?;
        numbers.sort_by(f64::total_cmp);
        numbers.dedup();
        numbers.iter().map(f64::to_string).collect()
    } else {
        Labels::new(&cells).names().to_vec()
    };
    if values.len() > MOST_LEVELS {
        return Err(Failure::with_hint(
            format!("covariate `{column}` has more than {MOST_LEVELS} values"),
            "`--adjusted-by` draws a curve for each value; `--profile` draws one for the values it is given",
        ));
    }
    let fixed = |value: String| Fixed {
        column: column.to_owned(),
        value,
    };
    Ok(values.into_iter().map(fixed).collect())
}

/// The covariates with one of them set to a value in every row.
pub(super) fn fixed_at(
    arguments: &EstimateArguments,
    table: &Table,
    covariates: &Covariates,
    fixed: &Fixed,
) -> Result<Covariates, Failure> {
    let column = fixed.column.as_str();
    let (_, reference) = asked_for(arguments, column)?;
    let cells = table.text(column);
    let refuse = |error| table.refusal(&error);
    if is_numeric(&cells, reference) {
        let value = fixed.value.parse().map_err(|_| {
            Failure::with_hint(
                format!("covariate `{column}` needs a number"),
                "its column holds numbers only",
            )
        })?;
        return covariates.with_fixed(column, value).map_err(refuse);
    }
    let labels = Labels::new(&cells);
    if labels.code_of(&fixed.value).is_none() {
        return Err(Failure::with_hint(
            format!("column `{column}` has no such level"),
            "a level is named as it is written in the column",
        ));
    }
    let mut found = covariates.clone();
    for level in labels.names() {
        let term = format!("{column}={level}");
        // the reference level has no term
        if found.columns().iter().any(|known| known.name == term) {
            let value = f64::from(u8::from(*level == fixed.value));
            found = found.with_fixed(&term, value).map_err(refuse)?;
        }
    }
    Ok(found)
}

/// A covariate as it was asked for, with its reference level.
fn asked_for<'a>(
    arguments: &'a EstimateArguments,
    column: &str,
) -> Result<(&'a str, Option<&'a str>), Failure> {
    let mut asked = arguments
        .covariates
        .iter()
        .map(|asked| split_reference(asked));
    asked.find(|(name, _)| *name == column).ok_or_else(|| {
        Failure::with_hint(
            format!("`{column}` is not among `--covariates`"),
            "curves are predicted from the covariates of the model",
        )
    })
}
