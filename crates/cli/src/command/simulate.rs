//! `simulate`: a synthetic export and its truth, in a folder of their own.

use super::{out, say};
use crate::arguments::SimulateArguments;
use crate::failure::Failure;
use crate::pipeline::{config_failure, read_text};
use crate::progress::Progress;
use crate::run_folder::RunFolder;
use anyhow::Context as _;
use simulate::{
    FhirFiles, LongFiles, Practice, Scenario, simulate as make, typing_errors_file, write_shifted,
    write_text_columns, write_typed_columns,
};
use std::io::Write as _;

/// Name of the wide export in the folder.
const WIDE: &str = "tarnwick-visits.csv";

/// Name of the wide export with shifted dates.
const SHIFTED: &str = "tarnwick-visits-shifted.csv";

/// Names of the files of a practice that changed its records system.
const OLD_SYSTEM: &str = "tarnwick-visits-old-system.csv";
const NEW_SYSTEM: &str = "tarnwick-visits-new-system.csv";

pub(super) fn simulate(arguments: &SimulateArguments) -> Result<(), Failure> {
    let mut scenario = match &arguments.scenario {
        None => Scenario::default(),
        Some(path) => {
            let text = read_text(path, "scenario file")?;
            intake::config::parse(&text, &path.display().to_string()).map_err(config_failure)?
        }
    };
    if let Some(n_patients) = arguments.patients {
        scenario.n_patients = u64::from(n_patients);
    }
    let practice = make(&scenario, arguments.seed).map_err(|error| {
        Failure::with_hint(
            error,
            "see the scenario's settings and their ranges in sample-data/README.md",
        )
    })?;
    let progress = Progress::start();
    let written = write(&practice, arguments, &progress);
    progress.finish();
    written?;
    say("everybody in this export is invented");
    out(&format!("{}\n", arguments.out.display()))
}

fn write(
    practice: &Practice,
    arguments: &SimulateArguments,
    progress: &Progress,
) -> Result<(), Failure> {
    let folder = RunFolder::begin_new(&arguments.out)?;
    progress.say("making the wide export");
    let mut wide = folder.create(WIDE)?;
    let mistakes = practice
        .write_wide(&mut wide)
        .and_then(|mistakes| wide.flush().map(|()| mistakes));
    let mistakes = mistakes.context("could not write the wide export")?;
    if let Some(day) = arguments.upgraded_on {
        progress.say("making the export of two systems");
        let (mut old, mut new) = (folder.create(OLD_SYSTEM)?, folder.create(NEW_SYSTEM)?);
        practice
            .write_wide_upgraded(day, &mut old, &mut new)
            .and_then(|()| old.flush())
            .and_then(|()| new.flush())
            .context("could not write the export of two systems")?;
    }
    if let Some(most_days) = arguments.shifted_by_at_most_days {
        progress.say("making the export with shifted dates");
        let mut shifted = folder.create(SHIFTED)?;
        write_shifted(folder.open(WIDE)?, &mut shifted, arguments.seed, most_days)
            .and_then(|()| shifted.flush())
            .context("could not write the export with shifted dates")?;
    }
    progress.say("making the long export");
    write_long(practice, &folder)?;
    if arguments.fhir {
        progress.say("making the HL7 FHIR export");
        write_fhir(practice, &folder)?;
    }
    if arguments.parquet {
        progress.say("making the Parquet export");
        write_parquet(&folder)?;
    }
    progress.say("writing down the truth");
    let visible = practice.visible_truth().files();
    let latent = practice.latent_truth().files();
    let all = visible.and_then(|visible| Ok((visible, latent?, typing_errors_file(&mistakes)?)));
    let (visible, latent, mistakes) = all.context("could not write the truth")?;
    for file in visible.into_iter().chain(latent).chain([mistakes]) {
        let mut to = folder.create(&format!("truth/{}", file.name))?;
        to.write_all(&file.bytes)
            .and_then(|()| to.flush())
            .context("could not write the truth")?;
    }
    folder.publish()?;
    Ok(())
}

fn write_long(practice: &Practice, folder: &RunFolder) -> anyhow::Result<()> {
    let mut files = LongFiles {
        patients: folder.create("long/patients.csv")?,
        visits: folder.create("long/visits.csv")?,
        foot_exams: folder.create("long/foot-exams.csv")?,
        ulcer_observations: folder.create("long/ulcer-observations.csv")?,
        events: folder.create("long/events.csv")?,
    };
    practice
        .write_long(LongFiles {
            patients: &mut files.patients,
            visits: &mut files.visits,
            foot_exams: &mut files.foot_exams,
            ulcer_observations: &mut files.ulcer_observations,
            events: &mut files.events,
        })
        .context("could not write the long export")?;
    let LongFiles {
        mut patients,
        mut visits,
        mut foot_exams,
        mut ulcer_observations,
        mut events,
    } = files;
    for file in [
        &mut patients,
        &mut visits,
        &mut foot_exams,
        &mut ulcer_observations,
        &mut events,
    ] {
        file.flush().context("could not write the long export")?;
    }
    Ok(())
}

/// What has been written as text, once more as columns.
fn write_parquet(folder: &RunFolder) -> anyhow::Result<()> {
    let failed = "could not write the Parquet export";
    let to = folder.create("parquet/tarnwick-visits.parquet")?;
    write_text_columns(folder.open(WIDE)?, to).context(failed)?;
    for table in [
        "patients",
        "visits",
        "foot-exams",
        "ulcer-observations",
        "events",
    ] {
        let to = folder.create(&format!("parquet/{table}.parquet"))?;
        write_typed_columns(folder.open(&format!("long/{table}.csv"))?, to).context(failed)?;
    }
    Ok(())
}

fn write_fhir(practice: &Practice, folder: &RunFolder) -> anyhow::Result<()> {
    let names = FhirFiles::<()>::default().named().map(|(name, ())| name);
    let mut files = Vec::with_capacity(names.len());
    for name in names {
        files.push(folder.create(&format!("fhir/{name}"))?);
    }
    let [
        patients,
        encounters,
        appointments,
        conditions,
        observations,
        procedures,
        service_requests,
        diagnostic_reports,
    ] = files.as_mut_slice()
    else {
        anyhow::bail!("the HL7 FHIR export has other files than expected");
    };
    practice
        .write_fhir(FhirFiles {
            patients,
            encounters,
            appointments,
            conditions,
            observations,
            procedures,
            service_requests,
            diagnostic_reports,
        })
        .context("could not write the HL7 FHIR export")
}
