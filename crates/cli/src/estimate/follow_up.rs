//! Follow-up rows read from a table: the sample, its groups and strata, and the settings that apply.

use super::arguments::{EstimateArguments, LimitsName, VarianceName};
use super::labels::{Labels, identities, is_censored};
use super::table::{Table, Wanted, read};
use crate::failure::Failure;
use serde_json::Value;
use survival::{CurveOptions, Limits, Sample, Variance};

/// A column that the method cannot do without.
pub(super) fn needed<'a>(name: &str, column: &'a Option<String>) -> Result<&'a str, Failure> {
    column.as_deref().ok_or_else(|| {
        Failure::with_hint(
            format!("the method needs `--{name}`"),
            format!("name the column with `--{name} COLUMN`"),
        )
    })
}

/// Reads the columns that the options name.
pub(super) fn table_of(
    arguments: &EstimateArguments,
    columns: &[&Option<String>],
    may_be_empty: &[&Option<String>],
) -> Result<Table, Failure> {
    let full = columns.iter().filter_map(|column| column.as_deref());
    let loose = may_be_empty.iter().filter_map(|column| column.as_deref());
    let wanted: Vec<Wanted> = full
        .map(|name| (name, false))
        .chain(loose.map(|name| (name, true)))
        .map(|(name, may_be_empty)| Wanted {
            name: name.to_owned(),
            may_be_empty,
        })
        .collect();
    read(&arguments.file, &wanted)
}

/// Whether each row has the event of interest: the one that `--event` names, or any.
pub(super) fn has_event(
    arguments: &EstimateArguments,
    table: &Table,
    cause: &str,
) -> Result<Vec<bool>, Failure> {
    let cells = table.labels(cause)?;
    let is_event = |cell: &&str| match &arguments.event {
        Some(event) => cell == event,
        None => !is_censored(cell),
    };
    let found: Vec<bool> = cells.iter().map(is_event).collect();
    if arguments.event.is_some() && !found.contains(&true) {
        return Err(no_such_event());
    }
    Ok(found)
}

fn no_such_event() -> Failure {
    Failure::with_hint(
        "the cause column has no such `--event`",
        "an event is named as it is written in the cause column",
    )
}

/// Rows with everything an estimator of follow-up reads.
pub(super) struct FollowUp {
    pub(super) table: Table,
    pub(super) sample: Sample,
    pub(super) causes: Labels,
    pub(super) groups: Option<Labels>,
    pub(super) strata: Option<Labels>,
    /// Code of `--event`.
    pub(super) event: Option<u32>,
}

impl FollowUp {
    /// Reads follow-up; `covariates` are columns wanted besides.
    pub(super) fn read(
        arguments: &EstimateArguments,
        covariates: &[String],
    ) -> Result<Self, Failure> {
        let exit = needed("exit", &arguments.exit)?;
        let cause = needed("cause", &arguments.cause)?;
        let extra: Vec<Option<String>> = covariates.iter().cloned().map(Some).collect();
        let mut columns = vec![
            &arguments.exit,
            &arguments.entry,
            &arguments.group,
            &arguments.stratum,
            &arguments.cluster,
            &arguments.weight,
        ];
        columns.extend(&extra);
        let table = table_of(arguments, &columns, &[&arguments.cause])?;
        let causes = Labels::from_1(&table.labels(cause)?, is_censored);
        let refuse = |error: survival::SurvivalError| table.refusal(&error);
        let mut sample = Sample::new(table.numbers(exit, f64::NAN)?, causes.codes.clone())
            .map_err(refuse)?
            .with_causes(&causes.all());
        if let Some(entry) = &arguments.entry {
            sample = sample
                .with_entry(table.numbers(entry, f64::NAN)?)
                .map_err(refuse)?;
        }
        if let Some(weight) = &arguments.weight {
            sample = sample
                .with_weight(table.numbers(weight, f64::NAN)?)
                .map_err(refuse)?;
        }
        if let Some(cluster) = &arguments.cluster {
            let cluster = identities(&table.text(cluster));
            sample = sample.with_cluster(cluster).map_err(refuse)?;
        }
        let labels = |column: &Option<String>| Labels::of_column(&table, column);
        let event = match &arguments.event {
            None => None,
            Some(event) => Some(causes.code_of(event).ok_or_else(no_such_event)?),
        };
        Ok(Self {
            groups: labels(&arguments.group)?,
            strata: labels(&arguments.stratum)?,
            event,
            sample,
            causes,
            table,
        })
    }

    /// The sample as `--event` asks: its events alone, or those of any cause.
    pub(super) fn sample_of_event(&self) -> Sample {
        match self.event {
            Some(event) => self.sample.clone().only_cause(event),
            None => self.sample.clone(),
        }
    }

    /// The label of `--event`, where it was given.
    pub(super) fn event_json(&self) -> Option<Value> {
        self.event.map(|event| self.causes.json_of(event))
    }

    /// Each group with its part of a sample; the whole sample without groups.
    pub(super) fn by_group(
        &self,
        sample: &Sample,
    ) -> Result<Vec<(Option<String>, Sample)>, Failure> {
        let Some(groups) = &self.groups else {
            return Ok(vec![(None, sample.clone())]);
        };
        groups
            .all()
            .into_iter()
            .map(|group| {
                let part = sample
                    .rows(|row| groups.codes.get(row) == Some(&group))
                    .map_err(|error| self.table.refusal(&error))?;
                Ok((Some(groups.name_of(group).to_owned()), part))
            })
            .collect()
    }
}

/// The options of a curve; `usual` is the variance when nothing asks for the robust one.
pub(super) fn curve_options(
    arguments: &EstimateArguments,
    usual: Variance,
) -> Result<CurveOptions, Failure> {
    let variance = match arguments.variance {
        Some(VarianceName::Greenwood) => Variance::Greenwood,
        Some(VarianceName::Aalen) => Variance::Aalen,
        Some(VarianceName::Robust) => Variance::Robust,
        Some(VarianceName::Hypergeometric) => {
            return Err(Failure::CannotRun(
                "the hypergeometric variance belongs to log-rank".to_owned(),
            ));
        }
        None if arguments.cluster.is_some() || arguments.weight.is_some() => Variance::Robust,
        None => usual,
    };
    Ok(CurveOptions {
        level: arguments.level,
        limits: match arguments.limits {
            LimitsName::Linear => Limits::Linear,
            LimitsName::Log => Limits::Log,
            LimitsName::LogLog => Limits::LogLog,
            LimitsName::Logit => Limits::Logit,
            LimitsName::Arcsine => Limits::Arcsine,
        },
        variance,
    })
}
