//! `draft-layout`: a first layout for an export that nobody has described yet.

use super::check::page;
use super::{out, say};
use crate::arguments::DraftArguments;
use crate::failure::Failure;
use crate::inert::for_terminal;
use intake::draft::{DraftFile, draft};

pub(super) fn draft_layout(arguments: &DraftArguments) -> Result<(), Failure> {
    if let Some(path) = &arguments.out
        && path.exists()
    {
        return Err(Failure::with_hint(
            format!("{} exists already and is left alone", path.display()),
            "name a file that does not exist yet",
        ));
    }
    let files: Vec<DraftFile> = arguments
        .files
        .iter()
        .map(|path| DraftFile {
            name: path
                .file_name()
                .map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            path: path.clone(),
        })
        .collect();
    let drafted = draft(&files).map_err(super::load::load_failure)?;
    match &arguments.out {
        Some(path) => {
            page::write(path, drafted.text.as_bytes())?;
            out(&format!("{}\n", path.display()))?;
        }
        None => out(&drafted.text)?,
    }
    say(&format!(
        "{} lines are sure, {} are left for you; the file says what and why",
        drafted.n_sure, drafted.n_left
    ));
    if drafted.identifying.is_empty() {
        return Ok(());
    }
    let mut words = String::from(
        "columns that look like what identifies a person; leave them out of the export",
    );
    for (file, column, check) in &drafted.identifying {
        words.push_str(&format!(
            "\n  {}, column `{}` ({check})",
            for_terminal(file),
            for_terminal(column)
        ));
    }
    Err(Failure::Data(words))
}
