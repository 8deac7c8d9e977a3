//! Why an export cannot be loaded at all. Bad rows and cells are findings, never errors.

use crate::layout::Role;
use std::fmt;
use std::io::ErrorKind;
use thiserror::Error;

/// Why an export cannot be loaded at all.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LoadError {
    /// The file cannot be opened or read.
    #[error("{file}: cannot be read: {reason}")]
    Unreadable {
        /// The file.
        file: String,
        /// The system's reason.
        reason: String,
    },
    /// A folder was given.
    #[error("{file}: is a folder, not a file")]
    IsFolder {
        /// The file.
        file: String,
    },
    /// An address was given.
    #[error("{file}: is an address, not a file of this machine")]
    IsAddress {
        /// The file.
        file: String,
    },
    /// A link, a device or a pipe was given.
    #[error("{file}: is {is}, not a plain file")]
    NotPlain {
        /// The file.
        file: String,
        /// What it is.
        is: &'static str,
    },
    /// A record goes on for longer than any row of an export.
    #[error("{file}: record {record} is longer than {most_mib} MiB")]
    RecordTooLong {
        /// The file.
        file: String,
        /// Number of the record (of the line where a line is a record), counted from 1.
        record: u64,
        /// MiB a record may have.
        most_mib: u64,
    },
    /// Nothing is in it.
    #[error("{file}: the file is empty")]
    Empty {
        /// The file.
        file: String,
    },
    /// It is not text in a known encoding, or is compressed.
    #[error("{file}: looks like {looks_like}, which is not read")]
    NotText {
        /// The file.
        file: String,
        /// What it looks like.
        looks_like: &'static str,
        /// What the reader may do about it.
        hint: &'static str,
    },
    /// So much comes out of it that it may have been made to fill the machine.
    #[error("{file}: {reason}")]
    UnpacksTooFar {
        /// The file.
        file: String,
        /// How far it goes, and which limit says so.
        reason: String,
    },
    /// Its bytes are not what its format says.
    #[error("{file}: is damaged: {what}")]
    Damaged {
        /// The file.
        file: String,
        /// What is wrong.
        what: &'static str,
    },
    /// A column of a kind that is not read.
    #[error("{file}: column `{column}` {why}")]
    ColumnNotRead {
        /// The file.
        file: String,
        /// Its name.
        column: String,
        /// Why it is not read.
        why: &'static str,
        /// What the reader may do about it.
        hint: &'static str,
    },
    /// The layout is for one JSON object a line, and the file holds something else.
    #[error("{file}: does not begin like a JSON object, and the layout reads one resource a line")]
    NotJsonLines {
        /// The file.
        file: String,
    },
    /// Two columns have one header.
    #[error("{file}: columns {first} and {second} have the same header{}", named(.header.as_deref()))]
    DuplicateHeader {
        /// The file.
        file: String,
        /// The header, when the layout names it.
        header: Option<String>,
        /// First position, counted from 1.
        first: usize,
        /// Second position, counted from 1.
        second: usize,
    },
    /// Columns the layout needs are not there.
    #[error("{file}: {}", Missing(.missing, *.n_columns))]
    MissingColumns {
        /// The file.
        file: String,
        /// The columns, in layout order.
        missing: Vec<MissingColumn>,
        /// Columns the layout looks for in this file.
        n_columns: usize,
    },
    /// The layout has several kinds of file and the input does not say which it is.
    #[error("{file}: say which of the layout's files this is")]
    RoleNeeded {
        /// The file.
        file: String,
        /// The layout's roles.
        roles: Vec<Role>,
    },
    /// The layout has no such kind of file.
    #[error("{file}: the layout `{layout}` reads no file of {role}")]
    RoleUnknown {
        /// The file.
        file: String,
        /// The layout.
        layout: String,
        /// The role asked for.
        role: Role,
        /// The layout's roles.
        roles: Vec<Role>,
    },
    /// The file is given for a join that the layout does not have, or for a role besides.
    #[error("{file}: {}", if *.has_role { "is given a role and `joined`".to_owned() } else { format!("the layout `{layout}` joins no file of that name") })]
    JoinedUnknown {
        /// The file.
        file: String,
        /// The layout.
        layout: String,
        /// Whether it has a role too.
        has_role: bool,
        /// Names that files can be given for.
        known: Vec<String>,
    },
    /// Rows are to be joined from a file that is not given.
    #[error("the layout `{layout}` joins rows as `{name}`, and no file of them is given")]
    JoinedFileMissing {
        /// The layout.
        layout: String,
        /// Name of the join.
        name: String,
        /// The role of its files, where they have one.
        role: Option<Role>,
    },
    /// Two versions of the layout apply to the file.
    #[error("{file}: two versions of the layout apply to it, `{}` and `{}`", .versions[0], .versions[1])]
    VersionUnclear {
        /// The file.
        file: String,
        /// The versions.
        versions: [String; 2],
    },
    /// Some files of a kind say when they were exported and some do not.
    #[error("{file}: does not say when it was exported, and other files of its kind do")]
    ExportDayMissing {
        /// The file.
        file: String,
    },
    /// The file changed between two readings.
    #[error("{file}: changed while it was being read")]
    Changed {
        /// The file.
        file: String,
    },
    /// Not every byte of the text is header, row used, row set aside or blank line.
    #[error("{file}: {n_text_bytes} bytes of text, of which {n_accounted} are accounted for")]
    Unreconciled {
        /// The file.
        file: String,
        /// Bytes of its text, once it is unpacked.
        n_text_bytes: u64,
        /// Bytes of header, rows and blank lines.
        n_accounted: u64,
    },
    /// More files or records than can be numbered.
    #[error("{file}: too many {what} to number")]
    TooMany {
        /// The file.
        file: String,
        /// Files or records.
        what: &'static str,
    },
}

/// A column that is not there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissingColumn {
    /// Header in the layout.
    pub column: String,
    /// A header of the file much like it.
    pub nearest: Option<String>,
}

impl LoadError {
    /// A file that cannot be read on; a packed one may be damaged, or unpack too far.
    pub(crate) fn reading(file: &str, error: &std::io::Error) -> Self {
        let file = file.to_owned();
        match error.kind() {
            ErrorKind::FileTooLarge => Self::UnpacksTooFar {
                file,
                reason: error.to_string(),
            },
            ErrorKind::InvalidInput | ErrorKind::InvalidData | ErrorKind::UnexpectedEof => {
                Self::Damaged {
                    file,
                    what: "it is packed, and cut short or changed since",
                }
            }
            _ => Self::Unreadable {
                file,
                reason: error.to_string(),
            },
        }
    }

    /// A file that others are joined to lacks the key.
    pub(crate) fn missing_key(file: &str, key: &str, headers: &[String]) -> Self {
        let nearest = crate::config::nearest(key, headers.iter().map(String::as_str));
        Self::MissingColumns {
            file: file.to_owned(),
            n_columns: 1,
            missing: vec![MissingColumn {
                column: key.to_owned(),
                nearest: nearest.map(str::to_owned),
            }],
        }
    }

    /// What the reader may do about it.
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Unreadable { .. } => {
                Some("check the name and the permissions; names in a pipeline file are relative to that file".to_owned())
            }
            Self::NotPlain { .. } => Some("name the file itself".to_owned()),
            Self::RecordTooLong { .. } => Some(
                "a quotation mark may be left open, or the file is no export of rows".to_owned(),
            ),
            Self::IsFolder { .. } => Some("name the files in it one by one".to_owned()),
            Self::IsAddress { .. } => {
                Some("copy the file to this machine first; nothing is fetched".to_owned())
            }
            Self::Empty { .. } => {
                Some("export again; a file needs at least a header row".to_owned())
            }
            Self::NotText { hint, .. } => Some((*hint).to_owned()),
            Self::UnpacksTooFar { .. } => Some(
                "if the export truly holds so much, raise that limit under [file], or unpack it first"
                    .to_owned(),
            ),
            Self::Damaged { .. } => Some("copy or export it again".to_owned()),
            Self::ColumnNotRead { hint, .. } => Some((*hint).to_owned()),
            Self::NotJsonLines { .. } => Some(
                "export newline-delimited JSON, or name a layout for delimited text".to_owned(),
            ),
            Self::DuplicateHeader { .. } => Some("rename one of them in the export".to_owned()),
            Self::MissingColumns {
                missing, n_columns, ..
            } => Some(missing_hint(missing, *n_columns)),
            Self::RoleNeeded { roles, .. } | Self::RoleUnknown { roles, .. } => {
                let roles: Vec<&str> = roles.iter().map(|role| role.code()).collect();
                Some(format!("roles of this layout: {}", roles.join(", ")))
            }
            Self::JoinedUnknown { known, .. } => Some(match known.is_empty() {
                true => "give it a role, as in [[export.file]] role = \"visits\"".to_owned(),
                false => format!(
                    "give it either a role or `joined = \"NAME\"`; names of this layout: {}",
                    known.join(", ")
                ),
            }),
            Self::JoinedFileMissing { name, role, .. } => Some(match role {
                Some(role) => format!("add a file with role = \"{role}\" under [[export.file]]"),
                None => format!("add it under [[export.file]] with joined = \"{name}\""),
            }),
            Self::ExportDayMissing { .. } => Some(
                "give `exported = 2026-01-05` with each file of this kind, or with none: then later listed is newer".to_owned(),
            ),
            Self::VersionUnclear { .. } => {
                Some("narrow the patterns under `files` of one of them".to_owned())
            }
            Self::Unreconciled { .. } => Some(
                "this is a fault of the program, not of the data; no figure is made from a file that does not add up".to_owned(),
            ),
            Self::Changed { .. } => Some("copy the export first, then run again".to_owned()),
            Self::TooMany { .. } => Some("split the export".to_owned()),
        }
    }
}

fn named(header: Option<&str>) -> String {
    header.map_or(String::new(), |header| format!(", `{header}`"))
}

struct Missing<'m>(&'m [MissingColumn], usize);

impl fmt::Display for Missing<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let n_missing = self.0.len();
        if n_missing == self.1 && n_missing > 1 {
            return write!(
                f,
                "none of the layout's {n_missing} columns is in the first row"
            );
        }
        let shown: Vec<String> = self
            .0
            .iter()
            .take(5)
            .map(|missing| format!("`{}`", missing.column))
            .collect();
        let more = n_missing.saturating_sub(shown.len());
        write!(f, "no column {}", shown.join(", "))?;
        if more > 0 {
            write!(f, " and {more} more that the layout names")?;
        }
        Ok(())
    }
}

fn missing_hint(missing: &[MissingColumn], n_columns: usize) -> String {
    if missing.len() == n_columns && n_columns > 1 {
        return "the layout is for another export, the delimiter differs, or the first row is not a header".to_owned();
    }
    let near: Vec<String> = missing
        .iter()
        .filter_map(|missing| {
            Some(format!(
                "`{}` may be `{}`",
                missing.column,
                missing.nearest.as_ref()?
            ))
        })
        .take(5)
        .collect();
    if near.is_empty() {
        return "if the export no longer has it, mark it `optional = true` in the layout"
            .to_owned();
    }
    format!("{}: correct the column in the layout", near.join(", "))
}
