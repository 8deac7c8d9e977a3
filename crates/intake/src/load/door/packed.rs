//! Unpacking gzip, with a bound on how much may come out of how little.

use std::io::{BufRead, Error, ErrorKind, Read, Result};

/// How far a packed file may unfold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Unpacking {
    /// Bytes of text at most.
    pub(crate) most_bytes: u64,
    /// Bytes of text at most for each packed byte.
    pub(crate) most_ratio: u64,
}

impl Default for Unpacking {
    /// 64 GiB, and 250 to 1: an export of mostly empty cells packs some tens to 1 (an estimate, not measured), a bomb
    /// about 1000 to 1 (greatest ratio of the format: RFC 1951, from memory).
    fn default() -> Self {
        Self {
            most_bytes: 64 << 30,
            most_ratio: 250,
        }
    }
}

impl Unpacking {
    /// Why so many bytes out of so many are too many, when they are.
    pub(super) fn fault(self, n_out: u64, n_in: u64) -> Option<String> {
        if n_out > self.most_bytes {
            return Some(format!(
                "it unpacks to more than {} MiB; see `unpacked_mib_at_most` of the layout",
                self.most_bytes >> 20
            ));
        }
        if n_out > FREE_BYTES && n_out / n_in.max(1) > self.most_ratio {
            return Some(format!(
                "it unpacks to more than {} times its size; see `unpacked_ratio_at_most` of the layout",
                self.most_ratio
            ));
        }
        None
    }
}

/// The ratio is not looked at before so much has come out.
const FREE_BYTES: u64 = 16 << 20;

/// A gzip file of one or several members.
pub(crate) struct Gzip<R> {
    unpacked: flate2::bufread::MultiGzDecoder<Counted<R>>,
    limits: Unpacking,
    n_out: u64,
}

impl<R: BufRead> Gzip<R> {
    pub(crate) fn new(stored: R, limits: Unpacking) -> Self {
        let stored = Counted { stored, n_in: 0 };
        Self {
            unpacked: flate2::bufread::MultiGzDecoder::new(stored),
            limits,
            n_out: 0,
        }
    }

    /// Bytes that have come out.
    pub(crate) const fn n_out(&self) -> u64 {
        self.n_out
    }

    pub(crate) fn stored(&self) -> &R {
        &self.unpacked.get_ref().stored
    }

    pub(crate) fn into_stored(self) -> R {
        self.unpacked.into_inner().stored
    }
}

impl<R: BufRead> Read for Gzip<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let n = self.unpacked.read(buffer)?;
        self.n_out += n as u64;
        let fault = self.limits.fault(self.n_out, self.unpacked.get_ref().n_in);
        fault.map_or(Ok(n), |reason| {
            Err(Error::new(ErrorKind::FileTooLarge, reason))
        })
    }
}

/// Counts what is taken from the packed side.
struct Counted<R> {
    stored: R,
    n_in: u64,
}

impl<R: BufRead> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let n = self.stored.read(buffer)?;
        self.n_in += n as u64;
        Ok(n)
    }
}

impl<R: BufRead> BufRead for Counted<R> {
    fn fill_buf(&mut self) -> Result<&[u8]> {
        self.stored.fill_buf()
    }

    fn consume(&mut self, n: usize) {
        self.n_in += n as u64;
        self.stored.consume(n);
    }
}
