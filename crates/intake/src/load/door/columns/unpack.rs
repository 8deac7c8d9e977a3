//! Unpacking a page, never to more than it says.

use super::fault::Fault;
use parquet::basic::Compression;
use std::io::Read;

/// How the pages of a column are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Packing {
    Plain,
    Snappy,
    Gzip,
    Zstandard,
}

impl Packing {
    /// The packing of a column, or why it is not read.
    pub(super) fn of(compression: Compression, place: usize) -> Result<Self, Fault> {
        let why = match compression {
            Compression::UNCOMPRESSED => return Ok(Self::Plain),
            Compression::SNAPPY => return Ok(Self::Snappy),
            Compression::GZIP(_) => return Ok(Self::Gzip),
            Compression::ZSTD(_) => return Ok(Self::Zstandard),
            Compression::LZ4 | Compression::LZ4_RAW => "is packed with LZ4, which is not read here",
            Compression::BROTLI(_) => "is packed with Brotli, which is not read here",
            Compression::LZO => "is packed with LZO, which is not read here",
        };
        Err(Fault::Column {
            place,
            why,
            hint: "export with Snappy, Zstandard, gzip or no compression",
        })
    }

    /// Adds the unpacked bytes to `out`: `n_out` of them, or the page is damaged.
    pub(super) fn unpack(
        self,
        packed: &[u8],
        n_out: usize,
        out: &mut Vec<u8>,
    ) -> Result<(), Fault> {
        let damaged = || Fault::Damaged("a page does not unpack to the size it says");
        let before = out.len();
        let most = n_out as u64 + 1;
        match self {
            Self::Plain => out.extend_from_slice(packed),
            // a page of nothing may be stored as nothing
            _ if n_out == 0 && packed.is_empty() => {}
            Self::Snappy => {
                let n_says = snap::raw::decompress_len(packed).map_err(|_| damaged())?;
                if n_says != n_out {
                    return Err(damaged());
                }
                out.resize(before + n_out, 0);
                let to = out.get_mut(before..).unwrap_or_default();
                snap::raw::Decoder::new()
                    .decompress(packed, to)
                    .map_err(|_| damaged())?;
            }
            Self::Gzip => {
                flate2::read::MultiGzDecoder::new(packed)
                    .take(most)
                    .read_to_end(out)
                    .map_err(|_| damaged())?;
            }
            Self::Zstandard => {
                ruzstd::decoding::StreamingDecoder::new(packed)
                    .map_err(|_| damaged())?
                    .take(most)
                    .read_to_end(out)
                    .map_err(|_| damaged())?;
            }
        }
        if out.len() - before == n_out {
            Ok(())
        } else {
            Err(damaged())
        }
    }
}
