//! From bytes to text, and the fingerprint of the bytes.

use super::door::Cells;
use crate::layout::Encoding;
use csv::ByteRecord;
use std::io::Read;

/// The bytes are no text in the declared encoding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NotText;

/// Makes text of a record's bytes; where they are none, the cells mean nothing.
pub(crate) fn decode(
    bytes: &ByteRecord,
    encoding: Encoding,
    cells: &mut Cells,
) -> Result<(), NotText> {
    let all = bytes.as_slice();
    if encoding == Encoding::Windows1252 && !all.is_ascii() {
        cells.clear();
        for cell in bytes {
            for byte in cell {
                cells.push_letter(windows_1252(*byte).ok_or(NotText)?);
            }
            cells.end_cell(cell.is_empty());
        }
        return Ok(());
    }
    let text = std::str::from_utf8(all).map_err(|_| NotText)?;
    // a letter may be torn by the end of a cell only where there are letters of several bytes
    let is_torn = || {
        let mut end = 0;
        bytes.iter().any(|cell| {
            end += cell.len();
            !text.is_char_boundary(end)
        })
    };
    if !all.is_ascii() && is_torn() {
        return Err(NotText);
    }
    cells.take_all(text, bytes.iter().map(<[u8]>::len));
    Ok(())
}

/// The letter of a byte in Windows code page 1252; five bytes have none.
/// Source: mapping table CP1252.TXT of the Unicode Consortium, from memory.
fn windows_1252(byte: u8) -> Option<char> {
    const UPPER: [u16; 32] = [
        0x20AC, 0, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160, 0x2039,
        0x0152, 0, 0x017D, 0, 0, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x02DC,
        0x2122, 0x0161, 0x203A, 0x0153, 0, 0x017E, 0x0178,
    ];
    if !(0x80..0xA0).contains(&byte) {
        return Some(char::from(byte));
    }
    let code = *UPPER.get(usize::from(byte - 0x80))?;
    (code != 0)
        .then(|| char::from_u32(u32::from(code)))
        .flatten()
}

/// Counts and hashes what passes through.
pub(crate) struct Tally<R> {
    inner: R,
    hasher: sha2::Sha256,
    n_bytes: u64,
}

impl<R> Tally<R> {
    pub(crate) fn new(inner: R) -> Self {
        Self {
            inner,
            hasher: sha2::Digest::new(),
            n_bytes: 0,
        }
    }

    pub(crate) const fn n_bytes(&self) -> u64 {
        self.n_bytes
    }

    /// SHA-256 of everything that passed, in hexadecimal.
    pub(crate) fn sha256(self) -> String {
        let digest = sha2::Digest::finalize(self.hasher);
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

impl<R: Read> Read for Tally<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        sha2::Digest::update(&mut self.hasher, buffer.get(..n).unwrap_or_default());
        self.n_bytes += n as u64;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expected letters: bytes 0x80 to 0x9F decoded by the codec cp1252 of Python 3.
    #[test]
    fn windows_1252_agrees_with_an_independent_codec() {
        let letters: String = (0x80..0xA0).filter_map(windows_1252).collect();
        assert_eq!(letters, "€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ");
        let without: Vec<u8> = (0..=255)
            .filter(|byte| windows_1252(*byte).is_none())
            .collect();
        assert_eq!(without, [0x81, 0x8D, 0x8F, 0x90, 0x9D]);
        assert_eq!(windows_1252(0xE9), Some('é'));
    }

    /// Digest of "abc": example of FIPS 180-2, appendix B.1.
    #[test]
    fn the_tally_hashes_what_passes() {
        let mut tally = Tally::new(&b"abc"[..]);
        let mut text = String::new();
        tally.read_to_string(&mut text).unwrap();
        assert_eq!((text.as_str(), tally.n_bytes()), ("abc", 3));
        assert_eq!(
            tally.sha256(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
