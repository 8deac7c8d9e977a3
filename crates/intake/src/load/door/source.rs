//! A file on this machine: what may be opened, and what it holds by its first bytes.

use super::super::error::LoadError;
use super::super::file::Tally;
use super::columns::{ENCRYPTED_MARK, MARK};
use super::packed::Gzip;
use crate::layout::Form;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

/// A file to be opened.
#[derive(Clone, Copy)]
pub(crate) struct Source<'s> {
    pub(crate) path: &'s Path,
    pub(crate) name: &'s str,
}

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Format {
    /// Delimited text, packed or not.
    Delimited,
    /// One JSON object a line, packed or not.
    Lines,
    /// Columns with types: Parquet.
    Columns,
}

/// Bytes that tell a format.
const N_FIRST_BYTES: usize = 4096;

const GZIP: &[u8] = b"\x1f\x8b";

const AS_TEXT: &str = "export as comma-separated text in UTF-8 or Windows-1252";
const UNPACK: &str = "unpack it first; text may be packed with gzip";
const IN_UTF_8: &str =
    "save it again as text in UTF-8, in the program that wrote it or in a text editor";
const ONE_A_LINE: &str = "export newline-delimited JSON: one object a line, no list around them";

/// Formats that are often exported by mistake, by their first bytes, and what to do about them.
const OTHERS: [(&[u8], &str, &str); 14] = [
    (MARK, "a Parquet file packed with gzip", "unpack it first"),
    (ENCRYPTED_MARK, "an encrypted Parquet file", AS_TEXT),
    (
        b"PK\x03\x04",
        "a workbook or archive",
        "save the sheet of a workbook as comma-separated text; unpack an archive first",
    ),
    (b"\xd0\xcf\x11\xe0", "an old workbook", AS_TEXT),
    (b"%PDF", "a PDF document", AS_TEXT),
    (b"\xff\xfe", "UTF-16 text", IN_UTF_8),
    (b"\xfe\xff", "UTF-16 text", IN_UTF_8),
    (b"\x28\xb5\x2f\xfd", PACKED_OTHERWISE, UNPACK),
    (b"BZh", PACKED_OTHERWISE, UNPACK),
    (b"\xfd7zXZ", PACKED_OTHERWISE, UNPACK),
    (b"7z\xbc\xaf", PACKED_OTHERWISE, UNPACK),
    (b"Rar!", PACKED_OTHERWISE, UNPACK),
    (b"SQLite format 3", "a database", AS_TEXT),
    (
        b"ARROW1",
        "an Arrow file",
        "export it as Parquet, or as text",
    ),
];

const PACKED_OTHERWISE: &str = "a file packed by another program than gzip";

/// What else the beginning of a text shows it to be, and what to do about it.
fn other_text(text: &[u8]) -> Option<(&'static str, &'static str)> {
    let line = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let n_nul = line.iter().filter(|byte| **byte == 0).count();
    if n_nul > 0 {
        return Some(match 3 * n_nul > line.len() {
            true => ("UTF-16 text without a byte-order mark", IN_UTF_8),
            false => ("no text at all", AS_TEXT),
        });
    }
    let text = text.trim_ascii_start();
    match text {
        [b'<', b'?' | b'!' | b'a'..=b'z' | b'A'..=b'Z', ..] => Some(("a web page or XML", AS_TEXT)),
        [b'[', rest @ ..] if rest.trim_ascii_start().starts_with(b"{") => {
            Some(("a list in JSON", ONE_A_LINE))
        }
        [b'{', b'\r' | b'\n', ..] => Some(("one JSON object over many lines", ONE_A_LINE)),
        _ => None,
    }
}

impl Source<'_> {
    pub(super) fn unreadable(&self, error: &std::io::Error) -> LoadError {
        LoadError::reading(self.name, error)
    }

    /// Opens a plain file. A link, a device or a pipe is refused before it is opened, because opening one may wait for
    /// ever or read something else than was checked.
    pub(super) fn file(&self) -> Result<File, LoadError> {
        let file = || self.name.to_owned();
        if self.path.to_string_lossy().contains("://") {
            return Err(LoadError::IsAddress { file: file() });
        }
        let metadata =
            std::fs::symlink_metadata(self.path).map_err(|error| self.unreadable(&error))?;
        if metadata.is_dir() {
            return Err(LoadError::IsFolder { file: file() });
        }
        if metadata.is_symlink() {
            return Err(LoadError::NotPlain {
                file: file(),
                is: "a link",
            });
        }
        if !metadata.is_file() {
            return Err(LoadError::NotPlain {
                file: file(),
                is: "a device or a pipe",
            });
        }
        File::open(self.path).map_err(|error| self.unreadable(&error))
    }

    /// Size as stored, once the file is known to be plain.
    pub(crate) fn size(&self) -> Result<u64, LoadError> {
        self.n_bytes(&self.file()?)
    }

    /// Size as stored.
    pub(super) fn n_bytes(&self, file: &File) -> Result<u64, LoadError> {
        let metadata = file.metadata().map_err(|error| self.unreadable(&error))?;
        Ok(metadata.len())
    }

    /// The text of the file, unpacked where it is packed.
    pub(super) fn text(&self, form: &Form) -> Result<Text, LoadError> {
        let mut stored = BufReader::with_capacity(1 << 17, Tally::new(self.file()?));
        let start = stored.fill_buf().map_err(|error| self.unreadable(&error))?;
        if start.starts_with(GZIP) {
            return Ok(Text::Packed(Box::new(Gzip::new(stored, form.unpacking))));
        }
        Ok(Text::Plain(stored))
    }

    /// What the file holds. Delimited text has no mark of its own: what is nothing else is taken for it, and its header
    /// then has to be the layout's.
    pub(super) fn format(&self) -> Result<Format, LoadError> {
        let refused = |looks_like, hint| LoadError::NotText {
            file: self.name.to_owned(),
            looks_like,
            hint,
        };
        let first = self.first_bytes(self.file()?)?;
        if first.is_empty() {
            return Err(LoadError::Empty {
                file: self.name.to_owned(),
            });
        }
        if first.starts_with(MARK) {
            return Ok(Format::Columns);
        }
        let first = match first.starts_with(GZIP) {
            true => self.first_bytes(flate2::read::MultiGzDecoder::new(self.file()?))?,
            false => first,
        };
        if first.starts_with(GZIP) {
            return Err(refused("a file packed twice", "unpack it once"));
        }
        if let Some((_, looks_like, hint)) =
            OTHERS.iter().find(|(mark, ..)| first.starts_with(mark))
        {
            return Err(refused(looks_like, hint));
        }
        let text = first.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&first);
        if let Some((looks_like, hint)) = other_text(text) {
            return Err(refused(looks_like, hint));
        }
        let is_object = text.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'{');
        Ok(if is_object {
            Format::Lines
        } else {
            Format::Delimited
        })
    }

    fn first_bytes(&self, from: impl Read) -> Result<Vec<u8>, LoadError> {
        let mut first = Vec::with_capacity(N_FIRST_BYTES);
        from.take(N_FIRST_BYTES as u64)
            .read_to_end(&mut first)
            .map_err(|error| self.unreadable(&error))?;
        Ok(first)
    }
}

/// The bytes of a text file as they come from the disk.
pub(super) type Stored = BufReader<Tally<File>>;

/// Text, unpacked on the way where it is packed.
pub(super) enum Text {
    Plain(Stored),
    Packed(Box<Gzip<Stored>>),
}

impl Text {
    /// Bytes of text that have come out.
    pub(super) fn n_text_bytes(&self) -> u64 {
        match self {
            Self::Plain(stored) => stored.get_ref().n_bytes(),
            Self::Packed(packed) => packed.n_out(),
        }
    }

    pub(super) fn stored(&self) -> &Tally<File> {
        match self {
            Self::Plain(stored) => stored.get_ref(),
            Self::Packed(packed) => packed.stored().get_ref(),
        }
    }

    pub(super) fn into_stored(self) -> Tally<File> {
        match self {
            Self::Plain(stored) => stored.into_inner(),
            Self::Packed(packed) => packed.into_stored().into_inner(),
        }
    }
}

impl Read for Text {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        match self {
            Self::Plain(stored) => stored.read(buffer),
            Self::Packed(packed) => packed.read(buffer),
        }
    }
}
