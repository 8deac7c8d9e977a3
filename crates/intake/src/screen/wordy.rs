//! What identifiers written in words look like: names, streets, free text, dates in other forms. Each function judges one
//! trimmed cell.

use super::names::{is_clinical_word, is_given_name};

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
    is_box || has_street || is_other_address(&words)
}

/// An address as other languages write it, or a dwelling: the kind of street before its name, the number behind it, kind and
/// name in one word.
fn is_other_address(words: &[&str]) -> bool {
    const KINDS: [&str; 17] = [
        "rue", "avenue", "allée", "chemin", "impasse", "calle", "avenida", "plaza", "camino",
        "via", "viale", "corso", "piazza", "rua", "travessa", "am", "an",
    ];
    const ENDS: [&str; 8] = [
        "strasse", "straße", "str", "weg", "gasse", "platz", "allee", "straat",
    ];
    const DWELLINGS: [&str; 4] = ["flat", "apartment", "apt", "cottage"];
    let is_number =
        |word: &&str| word.len() <= 5 && word.starts_with(|first: char| first.is_ascii_digit());
    let is_name = |word: &&str| word.starts_with(char::is_uppercase) && !is_clinical_word(word);
    let lower: Vec<String> = words.iter().map(|word| word.to_lowercase()).collect();
    let has_number = words.iter().any(is_number);
    let kind = lower.iter().position(|word| KINDS.contains(&word.as_str()));
    let is_kind_and_name = kind.is_some_and(|place| {
        place <= 1 && words.iter().skip(place + 1).any(is_name) && words.len() >= 3
    });
    let is_one_word = lower.iter().zip(words).any(|(lower, word)| {
        is_name(word)
            && ENDS
                .iter()
                .any(|end| lower.ends_with(end) && lower.len() > end.len() + 2)
    });
    let dwelling = lower
        .iter()
        .position(|word| DWELLINGS.contains(&word.as_str()));
    let is_dwelling = dwelling.is_some_and(|place| words.len() >= 3 && place <= 1)
        && words.iter().filter(|word| is_name(word)).count() >= 2;
    (has_number && (is_kind_and_name || is_one_word)) || is_dwelling
}

/// Somebody told by what they are to the patient and by a given name: `lives with wife Jean`.
pub(super) fn is_relative(cell: &str) -> bool {
    const RELATIONS: [&str; 20] = [
        "wife",
        "husband",
        "son",
        "daughter",
        "partner",
        "mother",
        "father",
        "mum",
        "dad",
        "sister",
        "brother",
        "niece",
        "nephew",
        "grandson",
        "granddaughter",
        "carer",
        "neighbour",
        "neighbor",
        "friend",
        "spouse",
    ];
    let words: Vec<&str> = cell.split(|letter: char| !letter.is_alphabetic()).collect();
    words
        .iter()
        .any(|word| RELATIONS.contains(&word.to_lowercase().as_str()))
        && words.iter().any(|word| is_lone_given_name(word))
}

/// Two or three words of letters with a given name among them, whatever their case: many different ones are names.
pub(super) fn is_name_in_any_case(cell: &str) -> bool {
    let words: Vec<&str> = cell
        .split([' ', ','])
        .filter(|word| !word.is_empty())
        .collect();
    (2..=3).contains(&words.len())
        && words.iter().all(|word| {
            word.chars()
                .all(|letter| letter.is_alphabetic() || "'’-.".contains(letter))
        })
        && words.iter().any(|word| is_given_name(word))
        && !words.iter().any(|word| is_clinical_word(word))
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
    let n_letters = |word: &str| word.chars().filter(|letter| letter.is_alphabetic()).count();
    let is_name = |word: &str, fewest: usize| {
        word.starts_with(char::is_uppercase) && n_letters(word) >= fewest && !is_clinical_word(word)
    };
    let is_addressed = words.iter().enumerate().any(|(place, form)| {
        let next = |n: usize| words.get(place + n).copied().unwrap_or_default();
        let is_initial = n_letters(next(1)) == 1 && next(1).starts_with(char::is_uppercase);
        FORMS.contains(&form.trim_end_matches('.'))
            && (is_name(next(1), 2) || is_initial && is_name(next(2), 3))
    });
    // typed without capitals; `ms` is a diagnosis as well
    let is_lower = matches!(words.as_slice(), [form, names @ ..]
    if ["mr", "mrs", "miss"].contains(&form.trim_end_matches('.'))
        && (1..=2).contains(&names.len())
        && names.iter().all(|name| {
            n_letters(name) >= 3 && name.chars().all(char::is_alphabetic) && !is_clinical_word(name)
        }));
    is_addressed
        || is_lower
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

/// `Surname, Given`: two words of letters with a comma between, as lists of people have them.
pub(super) fn is_inverted_name(cell: &str) -> bool {
    let is_name = |part: &str| {
        let part = part.trim();
        part.chars().count() >= 3
            && part.starts_with(char::is_uppercase)
            && (part.chars()).all(|letter| letter.is_alphabetic() || "'’-".contains(letter))
            && !is_clinical_word(part)
    };
    let parts = cell.split_once(',');
    parts.is_some_and(|(surname, given)| is_name(surname) && is_name(given))
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
    if let (0, [year, month, day]) = (n_months, numbers.as_slice())
        && parts.iter().all(|part| part.len() == 2)
        && (1..=12).contains(month)
        && (1..=31).contains(day)
        && *year > 31
    {
        return Some(
            latest - latest.rem_euclid(100) - 100 * i32::from(*year > latest.rem_euclid(100))
                + year,
        );
    }
    match (n_months, numbers.as_slice()) {
        (1, [_, year] | [year, _]) if (1900..=latest).contains(year) => Some(*year),
        (1, [day, year]) | (0, [day, _, year]) if is_short_year && (1..=31).contains(day) => {
            let short = latest.rem_euclid(100);
            (*year > short && *year < 100).then_some(latest - short - 100 + year)
        }
        _ => None,
    }
}
