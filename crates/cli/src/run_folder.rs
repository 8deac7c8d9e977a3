//! The run folder: written beside its place, then moved there whole or not at all.

use crate::failure::Failure;
use anyhow::{Context, Result};
use sha2::{Digest, Sha256};
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::BufWriter;
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
            .and_then(|()| remove_if_there(&staging))
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
    pub(crate) fn create(&self, name: &str) -> Result<BufWriter<File>> {
        let path = self.staging.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).with_context(|| format!("could not write {name}"))?;
        }
        File::create(&path)
            .map(BufWriter::new)
            .with_context(|| format!("could not write {name}"))
    }

    /// Writes one file.
    pub(crate) fn write(&mut self, name: &str, bytes: &[u8]) -> Result<()> {
        let path = self.staging.join(name);
        fs::write(&path, bytes).with_context(|| format!("could not write {name}"))?;
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
        let moved = remove_if_there(&earlier)
            .and_then(|()| {
                if had_earlier {
                    fs::rename(&self.place, &earlier)
                } else {
                    Ok(())
                }
            })
            .and_then(|()| {
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

fn beside(place: &Path, what: &str) -> PathBuf {
    let mut name = OsString::from(".");
    name.push(place.file_name().unwrap_or_default());
    name.push(format!(".{what}"));
    place.with_file_name(name)
}

fn remove_if_there(path: &Path) -> std::io::Result<()> {
    match fs::remove_dir_all(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

fn refuse_foreign(place: &Path) -> Result<(), Failure> {
    if place.file_name().is_none() {
        return Err(Failure::with_hint(
            format!("{} cannot be a run folder", place.display()),
            "name a folder that does not exist yet",
        ));
    }
    if !place.exists() {
        return Ok(());
    }
    let is_run = place.join(MANIFEST).is_file();
    let is_empty = fs::read_dir(place).is_ok_and(|mut entries| entries.next().is_none());
    if is_run || is_empty {
        Ok(())
    } else {
        Err(Failure::with_hint(
            format!(
                "{} exists and is not a run folder, so it is left alone",
                place.display()
            ),
            "name another folder with --out, or move this one away",
        ))
    }
}
