//! A run that was made before, read back: its manifest, its printed figures.

use crate::failure::Failure;
use crate::run_folder::{MANIFEST, sha256};
use chrono::NaiveDate;
use outcomes::analyse::Run;
use outcomes::report::{Audience, MeasureResult};
use outcomes::rules::{DataHorizon, DeclaredDates, Quarter, Rules, label_quarters_as_shifted};
use serde::Deserialize;
use std::io::Read as _;
use std::path::{Component, Path, PathBuf};

/// A run folder whose manifest could be read.
#[derive(Debug)]
pub(crate) struct EarlierRun {
    /// The folder.
    pub(crate) place: PathBuf,
    /// Its manifest.
    pub(crate) manifest: EarlierManifest,
    /// SHA-256 of the manifest itself, for which nothing else vouches.
    pub(crate) manifest_sha256: String,
}

/// What a manifest says, as far as it is read back. More keys are welcome.
#[derive(Debug, Deserialize)]
pub(crate) struct EarlierManifest {
    pub(crate) program: String,
    pub(crate) pipeline: FileSaid,
    pub(crate) layout: FileSaid,
    pub(crate) inputs: Vec<FileSaid>,
    pub(crate) quarter: String,
    pub(crate) data_start: NaiveDate,
    pub(crate) cut_off: NaiveDate,
    pub(crate) deaths_known_to: NaiveDate,
    pub(crate) procedures_known_to: NaiveDate,
    /// Runs that do not say had dates as recorded.
    #[serde(default)]
    pub(crate) dates: DeclaredDates,
    pub(crate) rules: Rules,
    pub(crate) outputs: Vec<OutputSaid>,
}

/// A file and its hash as the manifest says.
#[derive(Debug, Deserialize)]
pub(crate) struct FileSaid {
    pub(crate) file: String,
    pub(crate) sha256: String,
}

/// An output and its hash as the manifest says.
#[derive(Debug, Deserialize)]
pub(crate) struct OutputSaid {
    pub(crate) name: String,
    pub(crate) bytes: u64,
    pub(crate) sha256: String,
}

#[derive(Deserialize)]
struct PrintedReport {
    families: Vec<PrintedFamily>,
}

#[derive(Deserialize)]
struct PrintedFamily {
    measures: Vec<PrintedSheet>,
}

#[derive(Deserialize)]
struct PrintedSheet {
    results: Vec<MeasureResult>,
    #[serde(default)]
    splits: Vec<PrintedSplit>,
}

/// A measure by what the pipeline file named, such as the site.
#[derive(Debug, Deserialize)]
pub(crate) struct PrintedSplit {
    pub(crate) title: String,
    pub(crate) results: Vec<MeasureResult>,
}

impl EarlierRun {
    /// Reads the manifest of a run folder.
    pub(crate) fn read(place: &Path) -> Result<Self, Failure> {
        let path = place.join(MANIFEST);
        let bytes = std::fs::read(&path).map_err(|error| {
            let hint = "name a run folder: the one that holds manifest.json";
            Failure::with_hint(format!("{}: {}", path.display(), error.kind()), hint)
        })?;
        let manifest: EarlierManifest = serde_json::from_slice(&bytes).map_err(|error| {
            Failure::with_hint(
                format!(
                    "{}: line {}: no manifest that this program can read",
                    path.display(),
                    error.line()
                ),
                "a run of a much older or newer program is read by that program",
            )
        })?;
        if manifest.dates.has_shifted_quarters() {
            label_quarters_as_shifted();
        }
        Ok(Self {
            place: place.to_owned(),
            manifest_sha256: sha256(&bytes),
            manifest,
        })
    }

    /// What the run was made from.
    pub(crate) fn run(&self) -> Result<Run, Failure> {
        let manifest = &self.manifest;
        let quarter = Quarter::parse(&manifest.quarter).ok_or_else(|| {
            let fact = format!("{}: the manifest names no quarter", self.place.display());
            Failure::with_hint(fact, "make the run again")
        })?;
        Ok(Run {
            program: manifest.program.clone(),
            layout_sha256: manifest.layout.sha256.clone(),
            inputs_sha256: manifest
                .inputs
                .iter()
                .map(|input| input.sha256.clone())
                .collect(),
            quarter,
            horizon: manifest.dates.certain(&DataHorizon {
                data_start: manifest.data_start,
                cut_off: manifest.cut_off,
                deaths_known_to: manifest.deaths_known_to,
                procedures_known_to: manifest.procedures_known_to,
            }),
            rules: manifest.rules.clone(),
        })
    }

    /// The figures printed for the fullest audience there is, and which that was. The public copy hides some, so it will not do.
    pub(crate) fn printed(&self) -> Result<(Audience, Vec<MeasureResult>), Failure> {
        let (audience, sheets) = self.sheets()?;
        Ok((audience, sheets.flat_map(|sheet| sheet.results).collect()))
    }

    /// The same by what the pipeline file named.
    pub(crate) fn printed_splits(&self) -> Result<Vec<PrintedSplit>, Failure> {
        Ok(self.sheets()?.1.flat_map(|sheet| sheet.splits).collect())
    }

    fn sheets(&self) -> Result<(Audience, impl Iterator<Item = PrintedSheet>), Failure> {
        let is_there = |audience: &Audience| self.report_of(*audience).is_file();
        let Some(audience) = [Audience::Auditor, Audience::Clinic]
            .into_iter()
            .find(is_there)
        else {
            return Err(Failure::with_hint(
                format!(
                    "{}: there is neither an auditor's nor a clinic's copy",
                    self.place.display()
                ),
                "the public copy hides figures and cannot stand in for them",
            ));
        };
        let path = self.report_of(audience);
        let fault = |why: String| {
            Failure::with_hint(format!("{}: {why}", path.display()), "make the run again")
        };
        let bytes = std::fs::read(&path).map_err(|error| fault(error.kind().to_string()))?;
        let report: PrintedReport = serde_json::from_slice(&bytes)
            .map_err(|error| fault(format!("line {}: no report of this program", error.line())))?;
        let families = report.families.into_iter();
        let sheets = families.flat_map(|family| family.measures);
        Ok((audience, sheets))
    }

    fn report_of(&self, audience: Audience) -> PathBuf {
        self.place.join(audience.code()).join("report.json")
    }
}

/// A name of the manifest as a path inside the run folder; `None` for one that leads out of it.
pub(crate) fn inside(place: &Path, name: &str) -> Option<PathBuf> {
    let path = Path::new(name);
    let is_plain = path
        .components()
        .all(|part| matches!(part, Component::Normal(_)));
    (is_plain && !name.is_empty()).then(|| place.join(path))
}

/// Size and SHA-256 of a file of any size.
pub(crate) fn digest_of(path: &Path) -> std::io::Result<(u64, String)> {
    use sha2::{Digest as _, Sha256};
    let mut file = std::fs::File::open(path)?;
    let (mut hash, mut bytes) = (Sha256::new(), 0_u64);
    let mut buffer = vec![0; 1 << 16];
    loop {
        let n = file.read(&mut buffer)?;
        if n == 0 {
            break;
        }
        hash.update(buffer.get(..n).unwrap_or_default());
        bytes += n as u64;
    }
    let hex = hash
        .finalize()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    Ok((bytes, hex))
}
