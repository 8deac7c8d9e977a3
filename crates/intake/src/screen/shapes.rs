//! What numbers, mail addresses and links look like, letter by letter. Each function judges one trimmed cell.

/// What a cell is made of, counted once; most cells can be passed over by these counts alone.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Made {
    pub(super) n_digits: usize,
    pub(super) n_letters: usize,
    pub(super) n_gaps: usize,
    pub(super) has_at: bool,
    pub(super) n_dots: usize,
    pub(super) n_colons: usize,
}

impl Made {
    pub(super) fn of(cell: &str) -> Self {
        let mut made = Self::default();
        for byte in cell.bytes() {
            match byte {
                b'0'..=b'9' => made.n_digits += 1,
                b'a'..=b'z' | b'A'..=b'Z' | 0x80.. => made.n_letters += 1,
                b' ' | b',' | b'\t' | b'\n' | b'\r' => made.n_gaps += 1,
                b'@' => made.has_at = true,
                b'.' => made.n_dots += 1,
                b':' => made.n_colons += 1,
                _ => {}
            }
        }
        made
    }
}

/// An e-mail address anywhere in the cell: one `@` with a name before it and a dotted domain after it.
pub(super) fn has_email(cell: &str) -> bool {
    cell.split([' ', ',', ';', '<', '>', '(', ')', ':', '\n'])
        .any(|word| {
            word.split_once('@').is_some_and(|(name, domain)| {
                let ends_well = domain
                    .trim_end_matches('.')
                    .rsplit_once('.')
                    .is_some_and(|(host, end)| !host.is_empty() && end.len() >= 2);
                !name.is_empty() && ends_well && !domain.contains('@')
            })
        })
}

/// An e-mail address spelt out, as people do to hide it from machines: `name at host dot org`.
pub(super) fn has_spelt_email(cell: &str) -> bool {
    let lower = cell.to_ascii_lowercase();
    let words: Vec<&str> = lower.split_whitespace().collect();
    let at = words
        .iter()
        .position(|word| ["at", "(at)", "[at]"].contains(word));
    let dot = words
        .iter()
        .rposition(|word| ["dot", "(dot)", "[dot]"].contains(word));
    matches!((at, dot), (Some(at), Some(dot)) if at > 0 && dot > at + 1 && dot + 2 == words.len())
}

/// A social-security number of the United States written with dashes or spaces, anywhere in the cell, or a national
/// insurance number of the United Kingdom (two letters, six digits, a letter A to D; prefixes as published by the tax
/// authority, from memory).
pub(super) fn has_social_security_number(cell: &str) -> bool {
    holds_pattern(cell, "999-99-9999")
        || holds_pattern(cell, "999 99 9999")
        || ["AA999999A", "AA 99 99 99 A"].iter().any(|pattern| {
            has_pattern(cell, pattern)
                && cell.ends_with(['A', 'B', 'C', 'D'])
                && !cell.starts_with(['D', 'F', 'I', 'Q', 'U', 'V'])
                && !["BG", "GB", "NK", "KN", "TN", "NT", "ZZ"]
                    .contains(&cell.get(..2).unwrap_or_default())
                && !cell
                    .get(1..2)
                    .is_some_and(|second| "DFIOQUV".contains(second))
        })
}

/// A telephone number: grouped as in North America anywhere in the cell, or the whole cell with a leading `+` or `0` and
/// grouping, 9 to 15 digits.
pub(super) fn has_phone(cell: &str) -> bool {
    let american = [
        "999-999-9999",
        "999.999.9999",
        "999 999 9999",
        "(999) 999-9999",
        "(999)999-9999",
        "(999) 999 9999",
    ];
    if american.iter().any(|pattern| holds_pattern(cell, pattern)) {
        return !is_health_service_number(cell);
    }
    let number = ["ext", "x", "Ext", "Tel", "tel", "Ph", "ph", ":"]
        .iter()
        .fold(cell, |number, word| {
            number
                .split(word)
                .find(|part| !part.trim().is_empty())
                .unwrap_or(number)
        })
        .trim();
    let n_digits = number.bytes().filter(u8::is_ascii_digit).count();
    let is_dialled = number
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b"+()-. /".contains(&byte));
    let is_grouped = number.bytes().any(|byte| b"() -".contains(&byte)) && !number.contains('.');
    let starts_well = number.starts_with('+') || is_grouped && number.starts_with(['0', '(']);
    is_dialled && starts_well && (9..=15).contains(&n_digits) && !starts_with_date(number)
}

/// Whether the first word has the form of a date with a year of four digits.
fn starts_with_date(cell: &str) -> bool {
    let first = cell.split(' ').next().unwrap_or_default();
    let lengths: Vec<usize> = first.split(['-', '/', '.']).map(str::len).collect();
    matches!(lengths.as_slice(), [1 | 2, 1 | 2, 4] | [4, 1 | 2, 1 | 2])
}

/// A number of the British health service: ten digits with a check digit, plain or in groups of three, three and four.
///
/// Check digit: digits weighted 10 to 2, eleven minus the remainder modulo 11 (NHS Data Dictionary, NHS NUMBER).
pub(super) fn is_health_service_number(cell: &str) -> bool {
    let is_grouped = has_pattern(cell, "999 999 9999") || has_pattern(cell, "999-999-9999");
    if !is_grouped && !has_pattern(cell, "9999999999") {
        return false;
    }
    let digits: Vec<u32> = cell
        .chars()
        .filter_map(|digit| digit.to_digit(10))
        .collect();
    let Some((check, weighted)) = digits.split_last() else {
        return false;
    };
    let sum: u32 = weighted
        .iter()
        .zip((2..=10).rev())
        .map(|(digit, weight)| digit * weight)
        .sum();
    (11 - sum % 11) % 11 == *check && sum % 11 != 1
}

/// A number that can only be a record, insurance or card number: announced as such, with a check digit and groups, or in
/// the form of a Medicare beneficiary number (published by the Centers for Medicare & Medicaid Services, from memory).
pub(super) fn is_record_number(cell: &str) -> bool {
    let is_announced = ["MRN", "NHS", "SSN", "DOB", "ACCT", "HOSP NO", "MEMBER"]
        .iter()
        .any(|word| {
            let start = cell
                .get(..word.len())
                .filter(|start| start.eq_ignore_ascii_case(word));
            start
                .and_then(|start| cell.get(start.len()..))
                .is_some_and(|rest| {
                    let rest = rest.trim_start_matches([' ', ':', '#', '-', '.']);
                    rest.len() >= 4
                        && rest
                            .bytes()
                            .all(|byte| byte.is_ascii_digit() || b"-/ ".contains(&byte))
                })
        });
    let is_grouped = cell.contains([' ', '-']);
    is_announced
        || is_grouped && is_health_service_number(cell)
        || has_pattern(cell, "9999 9999 9999 9999")
        || has_pattern(cell, "9999-9999-9999-9999")
        || is_beneficiary_number(cell)
        || is_bank_account(cell)
}

/// An international bank account number: two letters, two check digits, up to thirty further signs, and the whole leaves 1
/// when divided by 97 (ISO 13616 and ISO 7064, from memory).
fn is_bank_account(cell: &str) -> bool {
    let plain: String = cell.chars().filter(|letter| *letter != ' ').collect();
    let bytes = plain.as_bytes();
    let has_form = (15..=34).contains(&bytes.len())
        && bytes.iter().take(2).all(u8::is_ascii_uppercase)
        && bytes.iter().skip(2).take(2).all(u8::is_ascii_digit)
        && bytes
            .iter()
            .all(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit());
    let turned = bytes.iter().skip(4).chain(bytes.iter().take(4));
    has_form
        && turned.fold(0_u32, |rest, byte| match byte {
            b'0'..=b'9' => (rest * 10 + u32::from(byte - b'0')) % 97,
            _ => (rest * 100 + u32::from(byte - b'A') + 10) % 97,
        }) == 1
}

fn is_beneficiary_number(cell: &str) -> bool {
    let plain: String = cell.chars().filter(|letter| *letter != '-').collect();
    let has_form = plain.len() == 11
        && plain
            .bytes()
            .zip(b"CALNALNAANN")
            .all(|(byte, form)| match form {
                b'C' => (b'1'..=b'9').contains(&byte),
                b'A' => byte.is_ascii_uppercase(),
                b'N' => byte.is_ascii_digit(),
                _ => byte.is_ascii_uppercase() || byte.is_ascii_digit(),
            });
    has_form && (cell.len() == 11 || has_pattern_of_lengths(cell, &[4, 3, 4]))
}

fn has_pattern_of_lengths(cell: &str, lengths: &[usize]) -> bool {
    cell.split('-').map(str::len).eq(lengths.iter().copied())
}

/// A long number without separators, as record, insurance and telephone numbers are.
pub(super) fn is_long_number(cell: &str) -> bool {
    (9..=18).contains(&cell.len()) && cell.bytes().all(|byte| byte.is_ascii_digit())
}

/// Nine to eighteen digits in three groups or more, as identity and insurance numbers are written; no date, no time, no
/// measurement.
pub(super) fn is_grouped_number(cell: &str) -> bool {
    let groups: Vec<&str> = cell.split(['-', ' ']).collect();
    let are_digits = groups
        .iter()
        .all(|group| !group.is_empty() && group.bytes().all(|byte| byte.is_ascii_digit()));
    let n_digits: usize = groups.iter().map(|group| group.len()).sum();
    are_digits && groups.len() >= 3 && (9..=18).contains(&n_digits) && !starts_with_date(cell)
}

/// The name of a file that shows or describes somebody.
pub(super) fn is_file_of_a_person(cell: &str) -> bool {
    const ENDS: [&str; 20] = [
        "jpg", "jpeg", "png", "heic", "tif", "tiff", "bmp", "gif", "dcm", "mp4", "mov", "pdf",
        "doc", "docx", "arw", "cr2", "nef", "raw", "webp", "heif",
    ];
    cell.rsplit_once('.').is_some_and(|(name, end)| {
        !name.is_empty() && ENDS.contains(&end.to_ascii_lowercase().as_str())
    })
}

/// A postal code: five digits, five and four digits, or the British form with its space or without.
pub(super) fn is_postal_code(cell: &str) -> bool {
    let british = [
        "A9 9AA", "A99 9AA", "AA9 9AA", "AA99 9AA", "A9A 9AA", "AA9A 9AA", "A99AA", "A999AA",
        "AA99AA", "AA999AA", "A9A9AA", "AA9A9AA",
    ];
    has_pattern(cell, "99999")
        || has_pattern(cell, "99999-9999")
        || british
            .iter()
            .any(|pattern| has_pattern(&cell.to_ascii_uppercase(), pattern))
}

/// A link, or the address of a machine: an internet address of either kind, or of a network card.
pub(super) fn has_link(cell: &str) -> bool {
    let lower = cell.to_ascii_lowercase();
    if ["http://", "https://", "www.", "ftp://", "file://"]
        .iter()
        .any(|start| lower.contains(start))
    {
        return true;
    }
    if has_host_and_path(&lower) {
        return true;
    }
    let parts: Vec<&str> = cell.split('.').collect();
    let is_internet_address = parts.len() == 4
        && cell.len() >= 7
        && parts
            .iter()
            .all(|part| part.len() <= 3 && part.parse::<u8>().is_ok());
    let groups: Vec<&str> = cell.split(':').collect();
    let are_hexadecimal = |groups: &[&str], longest: usize| {
        groups.iter().all(|group| {
            group.len() <= longest && group.bytes().all(|byte| byte.is_ascii_hexdigit())
        })
    };
    let is_long_address = (3..=8).contains(&groups.len())
        && (groups.len() == 8 || cell.contains("::"))
        && are_hexadecimal(&groups, 4);
    let is_network_card = [':', '-'].iter().any(|mark| {
        let pairs: Vec<&str> = cell.split(*mark).collect();
        pairs.len() == 6 && pairs.iter().all(|pair| pair.len() == 2) && are_hexadecimal(&pairs, 2)
    });
    is_internet_address || is_long_address || is_network_card
}

/// A host with a path behind it, without the words that links begin with: `host.org/path`.
fn has_host_and_path(lower: &str) -> bool {
    lower.split_whitespace().any(|word| {
        word.split_once('/').is_some_and(|(host, path)| {
            let is_host = host.rsplit_once('.').is_some_and(|(name, end)| {
                name.bytes().any(|byte| byte.is_ascii_lowercase())
                    && end.len() >= 2
                    && end.bytes().all(|byte| byte.is_ascii_lowercase())
            });
            is_host && !path.is_empty()
        })
    })
}

/// `9` stands for a digit, `A` for a capital letter, anything else for itself.
fn has_pattern(cell: &str, pattern: &str) -> bool {
    fits(cell.as_bytes(), pattern.as_bytes())
}

fn fits(cell: &[u8], pattern: &[u8]) -> bool {
    cell.len() == pattern.len()
        && cell
            .iter()
            .zip(pattern)
            .all(|(byte, expected)| match expected {
                b'9' => byte.is_ascii_digit(),
                b'A' => byte.is_ascii_uppercase(),
                other => byte == other,
            })
}

/// The pattern anywhere in the cell, with no digit or letter touching it.
fn holds_pattern(cell: &str, pattern: &str) -> bool {
    let bytes = cell.as_bytes();
    let n = pattern.len();
    bytes.len() >= n
        && bytes.windows(n).enumerate().any(|(place, window)| {
            let touches = |at: Option<usize>| {
                at.and_then(|at| bytes.get(at))
                    .is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'-')
            };
            fits(window, pattern.as_bytes())
                && !touches(place.checked_sub(1))
                && !touches(Some(place + n))
        })
}

#[cfg(test)]
mod tests;
