//! What identifiers look like, letter by letter. Each function judges one trimmed cell.

use super::names::{is_clinical_word, is_given_name};

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

/// A postal code: five digits, five and four digits, or the British form with its space.
pub(super) fn is_postal_code(cell: &str) -> bool {
    let british = [
        "A9 9AA", "A99 9AA", "AA9 9AA", "AA99 9AA", "A9A 9AA", "AA9A 9AA",
    ];
    has_pattern(cell, "99999")
        || has_pattern(cell, "99999-9999")
        || british
            .iter()
            .any(|pattern| has_pattern(&cell.to_ascii_uppercase(), pattern))
}

/// An address: a house number, a capitalised word and a word for a street; or a post-office box.
pub(super) fn is_address(cell: &str) -> bool {
    const STREETS: [&str; 22] = [
        "street",
        "st",
        "road",
        "rd",
        "avenue",
        "ave",
        "lane",
        "ln",
        "drive",
        "dr",
        "close",
        "court",
        "crescent",
        "boulevard",
        "blvd",
        "way",
        "terrace",
        "square",
        "highway",
        "gardens",
        "grove",
        "row",
    ];
    let words: Vec<&str> = cell
        .split([' ', ',', '.'])
        .filter(|word| !word.is_empty())
        .collect();
    let is_box = cell
        .to_ascii_lowercase()
        .replace('.', "")
        .contains("po box ");
    let has_street = words
        .windows(2)
        .enumerate()
        .any(|(place, pair)| match pair {
            [number, name] => {
                number.starts_with(|first: char| first.is_ascii_digit())
                    && number.len() <= 6
                    && name.starts_with(char::is_uppercase)
                    && !is_clinical_word(name)
                    && !STREETS.contains(&name.to_lowercase().as_str())
                    && words
                        .iter()
                        .skip(place + 2)
                        .any(|word| STREETS.contains(&word.to_lowercase().as_str()))
            }
            _ => false,
        });
    is_box || has_street
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

/// Words of a cell that may be a name: letters, hyphens, apostrophes, dots; `None` when anything else is in it.
fn name_words(cell: &str) -> Option<Vec<&str>> {
    let words: Vec<&str> = cell
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .collect();
    let are_letters = words.iter().all(|word| {
        word.chars()
            .all(|letter| letter.is_alphabetic() || "'’-.".contains(letter))
    });
    let are_capitalised = words
        .iter()
        .all(|word| word.starts_with(char::is_uppercase));
    (are_letters && are_capitalised && (1..=4).contains(&words.len())).then_some(words)
}

/// A name beyond doubt: a form of address with a name, or two to four capitalised words with a common given name and none
/// that belongs to a clinic or a foot.
pub(super) fn is_certain_name(cell: &str) -> bool {
    const FORMS: [&str; 11] = [
        "Mr", "Mrs", "Ms", "Miss", "Dr", "Prof", "MR", "MRS", "MISS", "DR", "Sr",
    ];
    let words: Vec<&str> = cell
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .collect();
    let is_addressed = words.windows(2).any(|pair| match pair {
        [form, name] => {
            FORMS.contains(&form.trim_end_matches('.'))
                && name.starts_with(char::is_uppercase)
                && name.chars().filter(|letter| letter.is_alphabetic()).count() >= 2
                && !is_clinical_word(name)
        }
        _ => false,
    });
    is_addressed
        || name_words(cell).is_some_and(|words| {
            words.len() >= 2
                && words.iter().any(|word| is_given_name(word))
                && !words.iter().any(|word| is_clinical_word(word))
        })
}

/// A personal name perhaps: one to four words of letters, each with a capital first, or `Surname, Forename`, and no word
/// that belongs to a clinic or a foot. Many different ones make a column of names.
pub(super) fn is_personal_name(cell: &str) -> bool {
    name_words(cell).is_some_and(|words| {
        let is_long_enough = words.len() >= 2 || cell.chars().count() >= 4;
        is_long_enough && !words.iter().any(|word| is_clinical_word(word))
    })
}

/// One common given name and nothing else.
pub(super) fn is_lone_given_name(cell: &str) -> bool {
    cell.starts_with(char::is_uppercase) && is_given_name(cell)
}

/// Free text: six words or more, or more than sixty letters.
pub(super) fn is_free_text(cell: &str) -> bool {
    cell.chars().count() > 60 || n_words(cell) >= 6
}

/// Three words or more: many different ones make a column of free text.
pub(super) fn is_phrase(cell: &str) -> bool {
    n_words(cell) >= 3
}

fn n_words(cell: &str) -> usize {
    cell.split_whitespace()
        .filter(|word| word.chars().any(char::is_alphabetic))
        .count()
}

/// The year of a date written in a form that no declared order covers: with the month in letters, or with two digits
/// for a year that cannot lie ahead.
pub(super) fn year_of_other_date(cell: &str, latest: i32) -> Option<i32> {
    const MONTHS: [&str; 12] = [
        "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec",
    ];
    let parts: Vec<&str> = cell
        .split(['/', '-', '.', ' ', ','])
        .filter(|part| !part.is_empty())
        .collect();
    if parts.len() != 3 {
        return None;
    }
    let number = |part: &str| {
        part.trim_end_matches(|letter: char| letter.is_ascii_alphabetic())
            .parse::<i32>()
            .ok()
    };
    let is_month = |part: &str| {
        let lower = part.to_ascii_lowercase();
        MONTHS.iter().any(|month| lower.starts_with(month))
    };
    let n_months = parts.iter().filter(|part| is_month(part)).count();
    let numbers: Vec<i32> = parts
        .iter()
        .filter(|part| !is_month(part))
        .filter_map(|part| number(part))
        .collect();
    let is_short_year = parts.last().is_some_and(|last| last.len() == 2)
        && parts.iter().all(|part| part.len() <= 3);
    match (n_months, numbers.as_slice()) {
        (1, [_, year] | [year, _]) if (1900..=latest).contains(year) => Some(*year),
        (1, [day, year]) | (0, [day, _, year]) if is_short_year && (1..=31).contains(day) => {
            let short = latest.rem_euclid(100);
            (*year > short && *year < 100).then_some(latest - short - 100 + year)
        }
        _ => None,
    }
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
mod tests {
    use super::*;

    type Shape = fn(&str) -> bool;

    /// Invented cells; the numbers lie in ranges kept free for fiction or are printed as examples by their issuers
    /// (555-01xx, 01632 960xxx, 943 476 5919, QQ123456C, 1EG4-TE5-MK73, 192.0.2.1).
    #[test]
    fn each_shape_takes_its_own_and_leaves_clinical_cells_alone() {
        let shapes: [(&str, Shape, &[&str]); 10] = [
            (
                "email",
                has_email,
                &["a.b@example.org", "write to a.b@example.org."],
            ),
            (
                "social",
                has_social_security_number,
                &["000-12-3456", "000 12 3456", "no. 000-12-3456", "AB123456C"],
            ),
            (
                "phone",
                has_phone,
                &[
                    "202-555-0143",
                    "(202) 555-0143",
                    "(202)555-0143",
                    "call 202-555-0143",
                    "202.555.0143",
                    "+44 1632 960123",
                    "01632 960123",
                    "(01632) 960123",
                    "Tel: 01632 960123",
                    "01632 960123 x12",
                ],
            ),
            (
                "record",
                is_record_number,
                &[
                    "943 476 5919",
                    "MRN 004512",
                    "MRN:1234567",
                    "1EG4-TE5-MK73",
                    "1EG4TE5MK73",
                ],
            ),
            ("long number", is_long_number, &["943476591", "9434765919"]),
            (
                "postal",
                is_postal_code,
                &["90210", "90210-1234", "QQ1 1AA", "Q1A 9ZZ", "qq1 1aa"],
            ),
            (
                "address",
                is_address,
                &[
                    "12 Harbour Street",
                    "12A Old Mill Rd.",
                    "Flat 3, 9 Example Lane",
                    "PO Box 12",
                    "P.O. Box 9",
                ],
            ),
            (
                "link",
                has_link,
                &[
                    "https://example.org/x",
                    "www.example.org",
                    "192.0.2.1",
                    "2001:db8::1",
                    "00:1B:44:11:3A:B7",
                ],
            ),
            (
                "name",
                is_certain_name,
                &[
                    "Mary O'Neil",
                    "Example, John",
                    "SMITH JOHN",
                    "seen by Dr Example",
                    "Mrs. Pellam",
                ],
            ),
            (
                "free text",
                is_free_text,
                &["came with her son and feels much better"],
            ),
        ];
        let clinical = [
            "03/11/2025",
            "2025-11-03",
            "2025-11-03 14:30:00",
            "03-11-2025 2:30 PM",
            "TW-00042",
            "MT5-P",
            "12.5",
            "0.46",
            "130/80",
            "58",
            "T2",
            "general-practice",
            "C12",
            "Y",
            "110 mmHg",
            "20251103",
            "14:30:00",
            "E11.621",
            "L97.512",
            "General Practice",
            "Left Heel",
            "St Mary Hospital",
            "MR Angiography",
            "Dr Clinic",
            "2 Wound Close",
            "1.2.3",
            "0Y6M0Z0",
            "plantar forefoot",
            "Total Contact Cast",
            "12 weeks",
            "2 x 3 cm",
            "home visit",
        ];
        for (name, is_shape, yes) in shapes {
            for cell in yes {
                assert!(is_shape(cell), "{name}: {cell}");
            }
            for cell in clinical {
                assert!(!is_shape(cell), "{name}: {cell}");
            }
        }
    }

    /// 943 476 5919 is the example of the NHS Data Dictionary; one digit changed breaks the check.
    #[test]
    fn a_health_service_number_has_its_check_digit() {
        assert!(is_health_service_number("9434765919"));
        assert!(!is_health_service_number("9434765918"));
        assert!(!is_health_service_number("943476591"));
    }

    #[test]
    fn dates_in_other_forms_tell_their_year() {
        for (cell, expected) in [
            ("3 Apr 1941", Some(1941)),
            ("April 3, 1941", Some(1941)),
            ("03-APR-1941", Some(1941)),
            ("03/04/41", Some(1941)),
            ("03/04/25", None),
            ("3 Apr 41", Some(1941)),
            ("3 Apr 2031", None),
            ("120/80", None),
            ("2 3 4", None),
        ] {
            assert_eq!(year_of_other_date(cell, 2025), expected, "{cell}");
        }
    }
}
