//! Writing the page: beside its place first, then moved there whole.

use crate::failure::Failure;
use anyhow::Context as _;
use std::path::Path;

/// Writes a file whole or not at all. A folder, a link or a device in its place is left alone.
pub(in crate::command) fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    if let Ok(metadata) = std::fs::symlink_metadata(path)
        && !metadata.is_file()
    {
        return Err(Failure::with_hint(
            format!("{} is no plain file and is left alone", path.display()),
            "name a file to be written",
        ));
    }
    let mut name = path.file_name().map(ToOwned::to_owned).ok_or_else(|| {
        Failure::with_hint(
            format!("{} names no file", path.display()),
            "name a file to be written",
        )
    })?;
    name.push(format!(".{}.part", std::process::id()));
    let beside = path.with_file_name(name);
    let written = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, path));
    if written.is_err() {
        // what was written is of no use; that it cannot be removed changes nothing
        let _ = std::fs::remove_file(&beside);
    }
    written.with_context(|| format!("could not write {}", path.display()))?;
    Ok(())
}
