//! The header of a page: a struct in the compact form of Thrift.
//!
//! Source: `parquet.thrift` of the Apache Parquet format, struct `PageHeader`, and the compact protocol of Apache Thrift.

/// Structs in structs beyond this depth are damage.
const DEEPEST: u8 = 8;

/// What the header of a page says. Sizes and counts are as written and have yet to be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct PageHeader {
    pub(super) kind: i64,
    pub(super) n_unpacked: i64,
    pub(super) n_packed: i64,
    /// Checksum of the stored page, where it has one.
    pub(super) checksum: Option<i64>,
    pub(super) n_values: i64,
    pub(super) encoding: i64,
    /// How the levels of a page of the first version are written.
    pub(super) level_encoding: i64,
    /// Bytes of the levels of a page of the second version.
    pub(super) n_level_bytes: i64,
    pub(super) n_repeat_bytes: i64,
    pub(super) is_packed: bool,
    /// Bytes the header itself takes.
    pub(super) n_bytes: usize,
}

/// Why a header cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum HeaderFault {
    /// It goes on after the bytes that were given.
    GoesOn,
    Damaged,
}

/// Reads a header from the start of `bytes`.
pub(super) fn page_header(bytes: &[u8]) -> Result<PageHeader, HeaderFault> {
    let mut header = PageHeader {
        is_packed: true,
        kind: -1,
        n_unpacked: -1,
        n_packed: -1,
        n_values: -1,
        encoding: -1,
        ..PageHeader::default()
    };
    let mut input = Input { bytes, at: 0 };
    let mut id = 0;
    while let Some(field) = input.field(&mut id)? {
        match (id, field) {
            (1, I32) => header.kind = input.whole()?,
            (2, I32) => header.n_unpacked = input.whole()?,
            (3, I32) => header.n_packed = input.whole()?,
            (4, I32) => header.checksum = Some(input.whole()?),
            (5 | 7 | 8, STRUCT) => of_kind(id, &mut header, &mut input)?,
            _ => input.skip(field, 0)?,
        }
    }
    header.n_bytes = input.at;
    Ok(header)
}

/// The part of the header that is for one kind of page.
fn of_kind(part: i16, header: &mut PageHeader, input: &mut Input<'_>) -> Result<(), HeaderFault> {
    let mut id = 0;
    while let Some(field) = input.field(&mut id)? {
        match (part, id, field) {
            (_, 1, I32) => header.n_values = input.whole()?,
            (5 | 7, 2, I32) | (8, 4, I32) => header.encoding = input.whole()?,
            (5, 3, I32) => header.level_encoding = input.whole()?,
            (8, 5, I32) => header.n_level_bytes = input.whole()?,
            (8, 6, I32) => header.n_repeat_bytes = input.whole()?,
            (8, 7, TRUE | FALSE) => header.is_packed = field == TRUE,
            _ => input.skip(field, 0)?,
        }
    }
    Ok(())
}

const TRUE: u8 = 1;
const FALSE: u8 = 2;
const I32: u8 = 5;
const STRUCT: u8 = 12;

struct Input<'b> {
    bytes: &'b [u8],
    at: usize,
}

impl Input<'_> {
    fn byte(&mut self) -> Result<u8, HeaderFault> {
        let byte = self.bytes.get(self.at).ok_or(HeaderFault::GoesOn)?;
        self.at += 1;
        Ok(*byte)
    }

    fn unsigned(&mut self) -> Result<u64, HeaderFault> {
        let mut value = 0_u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            value |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(value);
            }
        }
        Err(HeaderFault::Damaged)
    }

    /// A whole number, sign in its last bit.
    fn whole(&mut self) -> Result<i64, HeaderFault> {
        let folded = self.unsigned()?;
        Ok((folded >> 1).cast_signed() ^ -(folded & 1).cast_signed())
    }

    /// The type of the next field, its number in `id`; `None` at the end of the struct.
    fn field(&mut self, id: &mut i16) -> Result<Option<u8>, HeaderFault> {
        let head = self.byte()?;
        if head == 0 {
            return Ok(None);
        }
        *id = match head >> 4 {
            0 => i16::try_from(self.whole()?).map_err(|_| HeaderFault::Damaged)?,
            step => id
                .checked_add(i16::from(step))
                .ok_or(HeaderFault::Damaged)?,
        };
        Ok(Some(head & 0x0f))
    }

    fn pass(&mut self, n: u64) -> Result<(), HeaderFault> {
        let n = usize::try_from(n).map_err(|_| HeaderFault::Damaged)?;
        let at = self.at.checked_add(n).ok_or(HeaderFault::Damaged)?;
        if at > self.bytes.len() {
            return Err(HeaderFault::GoesOn);
        }
        self.at = at;
        Ok(())
    }

    /// Passes over a value of a type that means nothing here, such as statistics.
    fn skip(&mut self, kind: u8, depth: u8) -> Result<(), HeaderFault> {
        if depth > DEEPEST {
            return Err(HeaderFault::Damaged);
        }
        match kind {
            TRUE | FALSE => Ok(()),
            3 => self.pass(1),
            4..=6 => self.whole().map(drop),
            7 => self.pass(8),
            8 => {
                let n = self.unsigned()?;
                self.pass(n)
            }
            9 | 10 => {
                let head = self.byte()?;
                let n = match head >> 4 {
                    15 => self.unsigned()?,
                    n => u64::from(n),
                };
                for _ in 0..n {
                    // yes and no take a byte in a list
                    match head & 0x0f {
                        TRUE | FALSE => self.pass(1)?,
                        kind => self.skip(kind, depth + 1)?,
                    }
                }
                Ok(())
            }
            STRUCT => {
                let mut id = 0;
                while let Some(kind) = self.field(&mut id)? {
                    self.skip(kind, depth + 1)?;
                }
                Ok(())
            }
            _ => Err(HeaderFault::Damaged),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first page header of a file written by pyarrow 26.0.1: five numbers of 64 bits, no compression, no
    /// dictionary, read back with the same library (`n_values` 5, plain).
    const WRITTEN: [u8; 63] = [
        0x15, 0x00, 0x15, 0x5c, 0x15, 0x5c, 0x2c, 0x15, 0x0a, 0x15, 0x00, 0x15, 0x06, 0x15, 0x06,
        0x1c, 0x18, 0x08, 0x05, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x18, 0x08, 0x01, 0x00,
        0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x16, 0x00, 0x28, 0x08, 0x05, 0x00, 0x00, 0x00, 0x00,
        0x00, 0x00, 0x00, 0x18, 0x08, 0x01, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00, 0x11, 0x11,
        0x00, 0x00, 0x00,
    ];

    #[test]
    fn a_header_is_read_and_statistics_are_passed_over() {
        let bytes = [&WRITTEN[..], &[0xff; 9]].concat();
        let header = page_header(&bytes).unwrap();
        assert_eq!(
            (header.kind, header.n_unpacked, header.n_packed),
            (0, 46, 46)
        );
        assert_eq!(
            (header.n_values, header.encoding, header.level_encoding),
            (5, 0, 3)
        );
        assert_eq!(header.n_bytes, WRITTEN.len());
    }

    #[test]
    fn a_header_cut_short_goes_on_and_a_senseless_one_is_damage() {
        for n in 0..WRITTEN.len() {
            assert_eq!(page_header(&WRITTEN[..n]), Err(HeaderFault::GoesOn));
        }
        assert_eq!(page_header(&[0x1f]), Err(HeaderFault::Damaged));
        // a number of too many digits, a struct too deep, fields of no known type
        let digits = [&[0x15][..], &[0xff; 400]].concat();
        assert_eq!(page_header(&digits), Err(HeaderFault::Damaged));
        assert_eq!(page_header(&[0x1c; 400]), Err(HeaderFault::Damaged));
        assert_eq!(page_header(&[0xff; 400]), Err(HeaderFault::Damaged));
    }
}
