//! What became of the figures of an earlier run, as `compare` and `run --compare-with` work it out.

use super::PROGRAM;
use super::load::Export;
use crate::earlier_run::EarlierRun;
use crate::failure::Failure;
use crate::pipeline::Pipeline;
use outcomes::analyse::{ChangeStep, Run, changes, results_again};
use outcomes::derive::derive;
use outcomes::measure::Study;
use outcomes::report::{Cause, Changes, MeasureResult};
use outcomes::rules::{DataHorizon, Rules};
use outcomes::tables::Tables;

/// A pipeline and the export it reads.
pub(super) type Loaded<'a> = (&'a Pipeline, &'a Export);

/// What a pipeline would make its run from.
pub(super) fn run_of((pipeline, export): Loaded<'_>) -> Run {
    Run {
        program: PROGRAM.to_owned(),
        layout_sha256: export.layout_sha256.clone(),
        inputs_sha256: export
            .digests
            .iter()
            .map(|digest| digest.sha256.clone())
            .collect(),
        quarter: pipeline.quarter,
        horizon: export.horizon,
        rules: pipeline.rules.clone(),
    }
}

/// The figures of an earlier run against the export of today, one thing changed at a time: the program (where the export of
/// then is at hand), the rows that were known then, the settings, and what became known since.
pub(super) fn since(
    earlier: &EarlierRun,
    old: Option<Loaded<'_>>,
    new: Loaded<'_>,
) -> Result<Changes, Failure> {
    let (_, printed) = earlier.printed()?;
    let before = earlier.run()?;
    let after = run_of(new);
    let (pipeline, export) = new;
    let again = |tables: &Tables, rules: &Rules, horizon: &DataHorizon| {
        let people = derive(tables, rules, horizon);
        let study = Study {
            people: &people,
            rules,
            horizon,
        };
        results_again(&pipeline.measures, &study, &export.dates, &printed)
    };
    let mut steps: Vec<ChangeStep> = Vec::new();
    let mut step =
        |cause: Cause, results: Vec<MeasureResult>| steps.push(ChangeStep { cause, results });
    if let Some((_, export)) = old {
        step(
            Cause::ChangedProgram,
            again(&export.tables, &before.rules, &before.horizon),
        );
    }
    let cause = match old {
        _ if before.reads_as(&after) => Cause::ChangedProgram,
        None if before.program != after.program => Cause::CorrectedDataOrProgram,
        _ => Cause::CorrectedData,
    };
    let mut results = again(&export.tables, &before.rules, &before.horizon);
    step(cause, results.clone());
    if before.rules != after.rules {
        results = again(&export.tables, &after.rules, &before.horizon);
        step(Cause::ChangedSettings, results.clone());
    }
    if before.horizon != after.horizon {
        results = again(&export.tables, &after.rules, &after.horizon);
        step(Cause::NewData, results);
    }
    Ok(changes(&printed, &before, &after, &steps))
}

/// Two runs by what they printed alone: the cause is named where only one thing differs.
pub(super) fn by_print(earlier: &EarlierRun, later: &EarlierRun) -> Result<Changes, Failure> {
    let (_, printed) = earlier.printed()?;
    let (_, results) = later.printed()?;
    let (before, after) = (earlier.run()?, later.run()?);
    let mut causes = Vec::new();
    if before.program != after.program {
        causes.push(Cause::ChangedProgram);
    }
    if before.rules != after.rules {
        causes.push(Cause::ChangedSettings);
    }
    if !before.reads_as(&after) {
        // Another file with the same dates can only hold corrections; with later dates it may hold both.
        causes.push(Cause::CorrectedData);
    }
    if before.horizon != after.horizon {
        causes.push(Cause::NewData);
    }
    let cause = match causes.as_slice() {
        [] => Cause::ChangedProgram,
        [only] => *only,
        _ => Cause::NotToldApart,
    };
    // A figure of a quarter that the later report does not show is not known to have changed.
    let shown: Vec<MeasureResult> = printed
        .into_iter()
        .filter(|result| {
            let is_same = |other: &&MeasureResult| {
                (&other.measure, &other.period, &other.stratum)
                    == (&result.measure, &result.period, &result.stratum)
            };
            results.iter().any(|other| is_same(&other))
        })
        .collect();
    Ok(changes(
        &shown,
        &before,
        &after,
        &[ChangeStep { cause, results }],
    ))
}
