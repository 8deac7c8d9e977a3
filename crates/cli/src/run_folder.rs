//! The run folder: written beside its place, then moved there whole or not at all.

use crate::failure::Failure;
use anyhow::{Context, Result};
use sha2::{Digest, Sha256};
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{BufReader, BufWriter, Write as _};
use std::path::{Path, PathBuf};

/// The file that marks a folder as a run of this program.
pub(crate) const MANIFEST: &str = "manifest.json";

/// A run folder that is being written. Dropping it unpublished removes what was written.
#[derive(Debug)]
pub(crate) struct RunFolder {
    place: PathBuf,
    staging: PathBuf,
    outputs: Vec<Output>,
}

/// A file of the run folder.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub(crate) struct Output {
    pub(crate) name: String,
    pub(crate) bytes: u64,
    pub(crate) sha256: String,
}

impl RunFolder {
    /// Starts a run folder that will be published at `place`. An earlier run there will be replaced; any other
    /// file or folder is refused.
    pub(crate) fn begin(place: &Path) -> Result<Self, Failure> {
        refuse_foreign(place)?;
        let staging = beside(place, "part");
        let made = staging
            .parent()
            .map_or(Ok(()), fs::create_dir_all)
            .and_then(|()| fs::create_dir(&staging));
        made.with_context(|| format!("could not make a folder beside {}", place.display()))?;
        Ok(Self {
            place: place.to_owned(),
            staging,
            outputs: Vec::new(),
        })
    }

    /// Starts a folder at a place where nothing is yet.
    pub(crate) fn begin_new(place: &Path) -> Result<Self, Failure> {
        if place.exists() {
            return Err(Failure::with_hint(
                format!("{} exists already and is left alone", place.display()),
                "name a folder that does not exist yet",
            ));
        }
        Self::begin(place)
    }

    /// Opens one file to be written piece by piece; it is not among the outputs.
    /// Folders on its way are made.
    pub(crate) fn create(&self, name: &str) -> Result<BufWriter<File>> {
        let path = self.staging.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).with_context(|| format!("could not write {name}"))?;
        }
        File::create(&path)
            .map(BufWriter::new)
            .with_context(|| format!("could not write {name}"))
    }

    /// Opens a file that was written piece by piece, to be read.
    pub(crate) fn open(&self, name: &str) -> Result<BufReader<File>> {
        File::open(self.staging.join(name))
            .map(BufReader::new)
            .with_context(|| format!("could not read {name}"))
    }

    /// Writes one file; `name` is its path in the folder, parts divided by `/`.
    pub(crate) fn write(&mut self, name: &str, bytes: &[u8]) -> Result<()> {
        let mut file = self.create(name)?;
        file.write_all(bytes)
            .and_then(|()| file.flush())
            .with_context(|| format!("could not write {name}"))?;
        self.outputs.push(Output {
            name: name.to_owned(),
            bytes: bytes.len() as u64,
            sha256: sha256(bytes),
        });
        Ok(())
    }

    /// The files written so far.
    pub(crate) fn outputs(&self) -> &[Output] {
        &self.outputs
    }

    /// Moves the folder to its place. An earlier run is set aside first and put back if the move fails.
    pub(crate) fn publish(mut self) -> Result<PathBuf, Failure> {
        refuse_foreign(&self.place)?;
        let earlier = beside(&self.place, "earlier");
        let had_earlier = self.place.exists();
        let set_aside = if had_earlier {
            fs::rename(&self.place, &earlier)
        } else {
            Ok(())
        };
        let moved = set_aside.and_then(|()| {
            fs::rename(&self.staging, &self.place).inspect_err(|_| {
                if had_earlier {
                    // The earlier run goes back to its place; the error that is reported is the first one.
                    let _ = fs::rename(&earlier, &self.place);
                }
            })
        });
        moved.with_context(|| format!("could not publish {}", self.place.display()))?;
        remove_if_there(&earlier)
            .with_context(|| format!("could not remove {}", earlier.display()))?;
        Ok(std::mem::take(&mut self.place))
    }
}

impl Drop for RunFolder {
    fn drop(&mut self) {
        // After publishing there is nothing left to remove; a failure to clean up is not worth hiding the cause.
        let _ = remove_if_there(&self.staging);
    }
}

/// SHA-256 in hexadecimal.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// A hidden neighbour of a place, named for this process so that two runs never share one.
fn beside(place: &Path, what: &str) -> PathBuf {
    let mut name = OsString::from(".");
    name.push(place.file_name().unwrap_or_default());
    name.push(format!(".{what}-{}", std::process::id()));
    place.with_file_name(name)
}

fn remove_if_there(path: &Path) -> std::io::Result<()> {
    match fs::remove_dir_all(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// Refuses a place that holds anything but a run of this program, whole and with nothing added.
fn refuse_foreign(place: &Path) -> Result<(), Failure> {
    if place.file_name().is_none() {
        return Err(Failure::with_hint(
            format!("{} cannot be a run folder", place.display()),
            "name a folder that does not exist yet",
        ));
    }
    if fs::symlink_metadata(place).is_err() {
        return Ok(());
    }
    let reason = foreign(place);
    reason.map_or(Ok(()), |reason| {
        Err(Failure::with_hint(
            format!(
                "{} is not a run folder and is left alone: {reason}",
                place.display()
            ),
            "name another folder with --out, or move this one away",
        ))
    })
}

/// Why something is not a run folder that may be replaced; `None` when it is one, or an empty folder.
fn foreign(place: &Path) -> Option<String> {
    let is_folder = fs::symlink_metadata(place).is_ok_and(|metadata| metadata.is_dir());
    if !is_folder {
        return Some("it is no folder".to_owned());
    }
    let Ok(names) = names_below(place) else {
        return Some("it cannot be read".to_owned());
    };
    if names.is_empty() {
        return None;
    }
    let Some(manifest) = earlier_manifest(place) else {
        return Some(format!("it holds no {MANIFEST} of this program"));
    };
    let is_ours = |name: &String| {
        name == MANIFEST || manifest.outputs.iter().any(|output| output.name == *name)
    };
    names
        .iter()
        .find(|name| !is_ours(name))
        .map(|extra| format!("it also holds `{extra}`"))
}

/// Paths of everything in a folder that is not itself a folder with something in it, parts divided by `/`, sorted.
pub(crate) fn names_below(folder: &Path) -> std::io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let below = if entry.file_type()?.is_dir() {
            names_below(&entry.path())?
        } else {
            Vec::new()
        };
        if below.is_empty() {
            names.push(name);
        } else {
            names.extend(below.iter().map(|below| format!("{name}/{below}")));
        }
    }
    names.sort();
    Ok(names)
}

/// What a manifest must tell to be recognised.
#[derive(Debug, serde::Deserialize)]
struct EarlierManifest {
    program: String,
    outputs: Vec<EarlierOutput>,
}

#[derive(Debug, serde::Deserialize)]
struct EarlierOutput {
    name: String,
}

fn earlier_manifest(place: &Path) -> Option<EarlierManifest> {
    let bytes = fs::read(place.join(MANIFEST)).ok()?;
    let manifest: EarlierManifest = serde_json::from_slice(&bytes).ok()?;
    manifest
        .program
        .starts_with("limbledger ")
        .then_some(manifest)
}
