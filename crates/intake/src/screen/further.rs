//! Further shapes of identifiers: labelled cells, numbers of several countries, coordinates, ages in words. Each function judges
//! one trimmed cell. Forms of numbers and codes of countries: their issuers' pages, from memory.

use super::{Kind, headers, wordy};

/// What a cell says of itself: `Pt: John Halloran`, `MRN 451244`, `tel 555-0143`. The label is read as a header is.
pub(super) fn labelled(cell: &str) -> Option<Kind> {
    let end = cell
        .find([':', '#'])
        .or_else(|| cell.find(|letter: char| letter.is_ascii_digit()))?;
    let (label, rest) = (cell.get(..end)?, cell.get(end..)?);
    let is_marked = rest.starts_with([':', '#']);
    let rest = rest.trim_start_matches([':', '#', ' ', '.']);
    let n_words = label.split_whitespace().count();
    if !(1..=3).contains(&n_words) || rest.is_empty() {
        return None;
    }
    let n_digits = rest.bytes().filter(u8::is_ascii_digit).count();
    if is_marked && wordy::is_certain_name(rest) {
        return Some(Kind::PersonalName);
    }
    let kind = headers::kind_of(label)?;
    let is_told = match kind {
        Kind::PersonalName => is_marked && rest.starts_with(char::is_uppercase),
        Kind::FreeText | Kind::AgeOver89 => false,
        _ => n_digits >= 5,
    };
    is_told.then_some(kind)
}

/// A mail address without an ending, or with its mark spelt in brackets: `name@host`, `name[at]host.org`.
pub(super) fn is_loose_email(cell: &str) -> bool {
    let lower = cell.to_ascii_lowercase();
    let plain = lower.replace("[at]", "@").replace("(at)", "@");
    plain.split_once('@').is_some_and(|(name, host)| {
        let is_word = |text: &str| {
            text.len() >= 3
                && text.bytes().any(|byte| byte.is_ascii_lowercase())
                && text
                    .bytes()
                    .all(|byte| byte.is_ascii_alphanumeric() || b"._-+".contains(&byte))
        };
        is_word(name) && is_word(host)
    })
}

/// A telephone number in the forms of North America, its area code told.
pub(super) fn is_american_phone(cell: &str) -> bool {
    [
        "(999) 999-9999",
        "(999)999-9999",
        "999-999-9999",
        "999.999.9999",
        "999 999 9999",
    ]
    .iter()
    .any(|pattern| is_like(cell, pattern))
        && !has_health_service_check(cell)
}

/// A telephone number without its area code; much else looks like it.
pub(super) fn is_short_phone(cell: &str) -> bool {
    is_like(cell, "999-9999") || is_like(cell, "999 9999")
}

/// A telephone number whose area code is parted by a stroke, as in German: `0123/456789`.
pub(super) fn is_stroked_phone(cell: &str) -> bool {
    let is_digits = |part: &str, n: std::ops::RangeInclusive<usize>| {
        n.contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
    };
    cell.split_once('/').is_some_and(|(area, rest)| {
        let (area, rest) = (area.trim(), rest.trim().replace(' ', ""));
        area.starts_with('0') && is_digits(area, 3..=6) && is_digits(&rest, 5..=8)
    })
}

/// A personal number of a country, or of a vehicle, whose form nothing else has: Italy's tax code, a United States
/// beneficiary number, a social security number with dots, Switzerland's insurance number (country 756 first).
pub(super) fn is_personal_number(cell: &str) -> bool {
    if cell.starts_with("756.") && is_like(cell, "999.9999.9999.99") {
        return true;
    }
    [
        "AAAAAA99A99A999A",
        "9AX9-AX9-AA99",
        "9AX9AX9AA99",
        "999.99.9999",
    ]
    .iter()
    .any(|pattern| is_like(cell, pattern))
}

/// A number that may be a personal one: Spain's and Sweden's, the British health service's with its check digit, a chassis
/// number, a number plate.
pub(super) fn may_be_personal_number(cell: &str) -> bool {
    let forms = ["99999999A", "999999-9999", "99999999-9999", "AA99 AAA"];
    forms.iter().any(|pattern| is_like(cell, pattern))
        || has_health_service_check(cell)
        || is_chassis_number(cell)
}

/// Ten digits whose last is the check digit of the British health service: weights 10 to 2, modulus 11.
fn has_health_service_check(cell: &str) -> bool {
    let digits: Vec<u32> = cell
        .chars()
        .filter(|letter| *letter != ' ' && *letter != '-')
        .filter_map(|letter| letter.to_digit(10))
        .collect();
    let is_plain = cell
        .chars()
        .all(|letter| letter.is_ascii_digit() || letter == ' ' || letter == '-');
    let Some((check, first)) = digits.split_last().filter(|(_, first)| first.len() == 9) else {
        return false;
    };
    let sum: u32 = (2..=10)
        .rev()
        .zip(first)
        .map(|(weight, digit)| weight * digit)
        .sum();
    is_plain && (11 - sum % 11) % 11 == *check
}

/// Seventeen letters and digits without I, O and Q: ISO 3779.
fn is_chassis_number(cell: &str) -> bool {
    cell.len() == 17
        && cell.bytes().all(|byte| {
            byte.is_ascii_digit() || byte.is_ascii_uppercase() && !b"IOQ".contains(&byte)
        })
        && cell.bytes().filter(u8::is_ascii_uppercase).count() >= 3
        && cell.bytes().filter(u8::is_ascii_digit).count() >= 6
}

/// A postal code of another country: the Netherlands, Canada, Poland, Japan, Portugal.
pub(super) fn is_other_postal_code(cell: &str) -> bool {
    [
        "9999 AA", "9999AA", "A9A 9A9", "A9A9A9", "99-999", "999-9999", "9999-999",
    ]
    .iter()
    .any(|pattern| is_like(cell, pattern))
}

/// A point on the map: two numbers with three decimals or more.
pub(super) fn is_coordinates(cell: &str) -> bool {
    let parts: Vec<&str> = cell
        .split([',', ' ', ';'])
        .filter(|part| !part.is_empty())
        .collect();
    let is_degree = |part: &&str| {
        part.split_once('.').is_some_and(|(_, decimals)| {
            decimals.len() >= 3
                && part
                    .parse::<f64>()
                    .is_ok_and(|degree| degree.abs() <= 180.0)
        })
    };
    parts.len() == 2 && parts.iter().all(is_degree)
}

/// A British postal code behind a place: `Tarnwick QQ1 1AA`.
pub(super) fn ends_with_postal_code(cell: &str) -> bool {
    let words: Vec<&str> = cell.split_whitespace().collect();
    let [place @ .., outward, inward] = words.as_slice() else {
        return false;
    };
    let is_outward = ["A9", "A99", "AA9", "AA99", "A9A", "AA9A"]
        .iter()
        .any(|pattern| is_like(outward, pattern));
    place
        .first()
        .is_some_and(|word| word.starts_with(char::is_uppercase))
        && is_outward
        && is_like(inward, "9AA")
}

/// A house number, a name, a comma and a place: `14 Quayside, Harbourton`.
pub(super) fn may_be_address(cell: &str) -> bool {
    let Some((house, place)) = cell.split_once(',') else {
        return false;
    };
    let is_name = |word: &str| {
        word.chars().count() >= 3
            && word.starts_with(char::is_uppercase)
            && word.chars().all(char::is_alphabetic)
            && !super::names::is_clinical_word(word)
    };
    let mut words = house.split_whitespace();
    let has_number = words.next().is_some_and(|number| {
        number.len() <= 5 && number.starts_with(|first: char| first.is_ascii_digit())
    });
    has_number && words.any(is_name) && place.split_whitespace().any(is_name)
}

/// A shared folder, the address of a machine with its port, or a label that names one device (GS1 application identifiers 01
/// and 21).
pub(super) fn is_machine(cell: &str) -> bool {
    let is_share = cell.starts_with("//") || cell.starts_with("\\\\");
    let is_port = cell.split_once(':').is_some_and(|(host, port)| {
        let parts: Vec<&str> = host.split('.').collect();
        parts.len() == 4
            && parts.iter().all(|part| part.parse::<u8>().is_ok())
            && port.parse::<u16>().is_ok()
    });
    let is_device = cell
        .strip_prefix("(01)")
        .is_some_and(|rest| rest.bytes().take_while(u8::is_ascii_digit).count() == 14);
    is_share || is_port || is_device
}

/// An age of 90 or more told in words: `92 y/o`, `91 years old`, `93-year-old`, `aged 95`, `94 yrs` alone.
pub(super) fn tells_great_age(cell: &str) -> bool {
    let lower = cell.to_ascii_lowercase().replace('-', " ");
    let words: Vec<&str> = lower.split_whitespace().collect();
    words.iter().enumerate().any(|(place, word)| {
        let age = word
            .parse::<u32>()
            .is_ok_and(|age| (90..130).contains(&age));
        let next = words.get(place + 1).copied().unwrap_or_default();
        let then = words.get(place + 2).copied().unwrap_or_default();
        let is_old = ["y/o", "yo", "y.o."].contains(&next)
            || ["years", "year", "yrs", "yr"].contains(&next) && then.starts_with("old");
        let last = place.checked_sub(1).and_then(|last| words.get(last));
        let is_told = last.is_some_and(|last| ["age", "aged", "age:"].contains(last));
        let is_alone = words.len() == 2 && ["years", "yrs", "y"].contains(&next);
        age && (is_old || is_told || is_alone)
    })
}

/// Forms of address of other languages with a name behind them.
pub(super) fn is_addressed_elsewhere(cell: &str) -> bool {
    const FORMS: [&str; 14] = [
        "Frau", "Herr", "Mevr", "Dhr", "Mevrouw", "Meneer", "Mme", "Mlle", "Sra", "Srta", "Sig",
        "Pani", "Fru", "Senhora",
    ];
    let words: Vec<&str> = cell
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .collect();
    words.windows(2).any(|pair| {
        let [form, _] = pair else { return false };
        let has_name = words.iter().skip(1).any(|word| {
            word.starts_with(char::is_uppercase) && !super::names::is_clinical_word(word)
        });
        FORMS.contains(&form.trim_end_matches('.')) && has_name
    })
}

/// A date with its month in letters and nothing between: `03APR1941`.
pub(super) fn spaced_date(cell: &str) -> Option<String> {
    let letters = cell.bytes().filter(u8::is_ascii_alphabetic).count();
    if !(8..=11).contains(&cell.len()) || letters != 3 || !cell.is_ascii() {
        return None;
    }
    let first = cell.find(|letter: char| letter.is_ascii_alphabetic())?;
    let (day, rest) = cell.split_at_checked(first)?;
    let (month, year) = rest.split_at_checked(3)?;
    let is_whole = day
        .bytes()
        .chain(year.bytes())
        .all(|byte| byte.is_ascii_digit());
    (is_whole && year.len() == 4).then(|| format!("{day} {month} {year}"))
}

/// `9` stands for a digit, `A` for a letter, `X` for either, anything else for itself; case does not count.
fn is_like(cell: &str, pattern: &str) -> bool {
    cell.len() == pattern.len()
        && cell
            .bytes()
            .zip(pattern.bytes())
            .all(|(byte, expected)| match expected {
                b'9' => byte.is_ascii_digit(),
                b'A' => byte.is_ascii_alphabetic(),
                b'X' => byte.is_ascii_alphanumeric(),
                other => byte == other,
            })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_says_what_its_cell_is() {
        for (cell, kind) in [
            ("Pt: John Halloran", Some(Kind::PersonalName)),
            ("MRN 451244", Some(Kind::RecordNumber)),
            ("SSN# 078051120", Some(Kind::SocialSecurityNumber)),
            ("CRP 45", None),
            ("Band 6", None),
            ("image 3", None),
            ("Doppler: biphasic", None),
        ] {
            assert_eq!(labelled(cell), kind, "{cell}");
        }
    }

    /// 943 476 5919 is the example of the data dictionary of the health service of England (from memory): the weighted sum of
    /// its first nine digits is 299, 299 mod 11 is 2, and 11 less 2 is 9.
    #[test]
    fn numbers_are_known_by_their_check_digits() {
        assert!(may_be_personal_number("9434765919"));
        assert!(!may_be_personal_number("9434765918"));
        assert!(may_be_personal_number("1HGCM82633A004352"));
        assert!(!may_be_personal_number("20250304143000123"));
    }

    #[test]
    fn clinical_cells_are_nothing_of_the_kind() {
        for cell in [
            "2.1, 3.4",
            "12x8x3",
            "10-20",
            "72287-6",
            "E11.621",
            "1:10",
            "5@10",
            "91 months",
            "97597-59",
        ] {
            assert!(
                !is_coordinates(cell)
                    && !is_other_postal_code(cell)
                    && !is_loose_email(cell)
                    && !tells_great_age(cell)
                    && !is_machine(cell)
                    && !may_be_address(cell)
                    && labelled(cell).is_none(),
                "{cell}"
            );
        }
    }
}
