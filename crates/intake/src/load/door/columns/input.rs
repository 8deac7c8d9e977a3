//! The bytes of a file of columns, and how far they may unfold.

use super::super::packed::Unpacking;
use super::compact::{HeaderFault, PageHeader, page_header};
use super::fault::Fault;
use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom};
use std::ops::Range;

/// Bytes of the largest page, packed or not. Writers make pages of about a megabyte.
const MOST_PAGE_BYTES: u64 = 64 << 20;

/// Bytes of all pages and dictionaries that are held at one time, one page of each column.
const MOST_HELD_BYTES: u64 = 2 << 30;

/// Bytes that are read for the header of a page at first, and at most: statistics in it may be long.
const HEADER_BYTES: u64 = 256;
const MOST_HEADER_BYTES: u64 = 16 << 20;

/// An open file of columns.
pub(super) struct Input {
    pub(super) file: File,
    pub(super) n_bytes: u64,
    limits: Unpacking,
    pub(super) n_packed: u64,
    n_unpacked: u64,
    n_held: u64,
    pub(super) n_text: u64,
}

impl Input {
    pub(super) const fn new(file: File, n_bytes: u64, limits: Unpacking) -> Self {
        Self {
            file,
            n_bytes,
            limits,
            n_packed: 0,
            n_unpacked: 0,
            n_held: 0,
            n_text: 0,
        }
    }

    /// Reads a range into `to`.
    pub(super) fn read(&mut self, range: Range<u64>, to: &mut Vec<u8>) -> Result<(), Fault> {
        let n = range.end.checked_sub(range.start);
        let n = n.filter(|_| range.end <= self.n_bytes);
        let n = n.ok_or(Fault::Damaged("a part of it lies beyond its end"))?;
        to.clear();
        self.file.seek(SeekFrom::Start(range.start))?;
        let n_read = (&self.file).take(n).read_to_end(to)?;
        if n_read as u64 == n {
            Ok(())
        } else {
            Err(Fault::Damaged("it ends before it says"))
        }
    }

    /// Reads the header of a page at the start of a range.
    pub(super) fn header(
        &mut self,
        chunk: &Range<u64>,
        bytes: &mut Vec<u8>,
    ) -> Result<PageHeader, Fault> {
        let damaged = Fault::Damaged("a page header cannot be read");
        let n_there = chunk.end.saturating_sub(chunk.start);
        let mut n = HEADER_BYTES;
        loop {
            let n_now = n.min(n_there);
            self.read(chunk.start..chunk.start + n_now, bytes)?;
            match page_header(bytes) {
                Ok(header) => return checked(header, n_there),
                Err(HeaderFault::Damaged) => return Err(damaged),
                Err(HeaderFault::GoesOn) if n_now == n_there || n >= MOST_HEADER_BYTES => {
                    return Err(damaged);
                }
                Err(HeaderFault::GoesOn) => n *= 16,
            }
        }
    }

    /// Notes that a page comes in: so many bytes packed and unpacked.
    pub(super) fn take_in(&mut self, n_packed: u64, n_unpacked: u64) -> Result<(), Fault> {
        self.n_packed += n_packed;
        self.n_unpacked += n_unpacked;
        self.limits
            .fault(self.n_unpacked, self.n_packed)
            .map_or(Ok(()), |reason| Err(Fault::TooFar(reason)))
    }

    /// Notes that what a column holds has grown or shrunk.
    pub(super) fn hold(&mut self, before: usize, now: usize) -> Result<(), Fault> {
        self.n_held = (self.n_held + now as u64).saturating_sub(before as u64);
        if self.n_held > MOST_HELD_BYTES {
            return Err(Fault::TooFar(format!(
                "its pages take more than {} MiB at one time; export it in smaller pages",
                MOST_HELD_BYTES >> 20
            )));
        }
        Ok(())
    }

    /// Notes the text of a record: cells that are written once and meant a thousand times unfold, too.
    pub(super) fn give_out(&mut self, n_text: u64) -> Result<(), Fault> {
        self.n_text += n_text;
        self.limits
            .fault(self.n_text, self.n_bytes)
            .map_or(Ok(()), |reason| Err(Fault::TooFar(reason)))
    }
}

fn checked(header: PageHeader, n_there: u64) -> Result<PageHeader, Fault> {
    let sizes = [header.n_packed, header.n_unpacked, header.n_level_bytes];
    let is_sized = sizes.iter().all(|size| *size >= 0);
    let n_packed = header.n_packed.cast_unsigned();
    if !is_sized || n_packed > n_there.saturating_sub(header.n_bytes as u64) {
        return Err(Fault::Damaged("a page is longer than its column"));
    }
    if n_packed.max(header.n_unpacked.cast_unsigned()) > MOST_PAGE_BYTES {
        return Err(Fault::TooFar(format!(
            "a page of it is larger than {} MiB; export it in smaller pages",
            MOST_PAGE_BYTES >> 20
        )));
    }
    Ok(header)
}
