//! Dates whose month is spelt out: `3 November 2025`, `03-Nov-2025`, `03NOV2025`, `Nov 3, 2025`.

use super::Part;

/// The months in English and in German, in lower case. A name of three letters may be cut from any of them.
const MONTHS: [(&str, &str); 12] = [
    ("january", "januar"),
    ("february", "februar"),
    ("march", "märz"),
    ("april", "april"),
    ("may", "mai"),
    ("june", "juni"),
    ("july", "juli"),
    ("august", "august"),
    ("september", "september"),
    ("october", "oktober"),
    ("november", "november"),
    ("december", "dezember"),
];

/// What a date with a spelt-out month says.
pub(super) struct SpeltOut {
    pub(super) day: Option<u32>,
    pub(super) month: u32,
    pub(super) year: Part,
}

/// Reads a date whose month is spelt out, in any order of day and month; the year stands last. A time behind it is passed over.
pub(super) fn spelt_out(cell: &str) -> Option<SpeltOut> {
    let words = words(cell)?;
    let (date, time) = match words.as_slice() {
        [one, two, three, time @ ..] if three.is_number() => {
            ([Some(one), Some(two), Some(three)], time)
        }
        [one, two, time @ ..] => ([Some(one), Some(two), None], time),
        _ => return None,
    };
    // hours, minutes and seconds, and the half of the day
    let is_time = time.iter().enumerate().all(|(place, word)| match word {
        Word::Number(part) => place < 4 && part.n_digits <= 6,
        Word::Name(name) => place > 0 && ["am", "pm", "utc", "gmt"].contains(&name.as_str()),
    });
    if !is_time || (!time.is_empty() && !cell.contains(':')) {
        return None;
    }
    let day = |part: &Part| (part.n_digits <= 2).then_some(part.value);
    match date {
        [
            Some(Word::Number(first)),
            Some(Word::Name(name)),
            Some(Word::Number(year)),
        ]
        | [
            Some(Word::Name(name)),
            Some(Word::Number(first)),
            Some(Word::Number(year)),
        ] => Some(SpeltOut {
            day: Some(day(first)?),
            month: month(name)?,
            year: *year,
        }),
        // two digits behind a month may be its day
        [Some(Word::Name(name)), Some(Word::Number(year)), None]
            if year.n_digits == 4 && time.is_empty() =>
        {
            Some(SpeltOut {
                day: None,
                month: month(name)?,
                year: *year,
            })
        }
        _ => None,
    }
}

enum Word {
    Name(String),
    Number(Part),
}

impl Word {
    const fn is_number(&self) -> bool {
        matches!(self, Self::Number(_))
    }
}

/// Runs of letters and of digits; between them nothing but what stands between the parts of a date.
fn words(cell: &str) -> Option<Vec<Word>> {
    const MOST_WORDS: usize = 9;
    if cell.len() > 40 {
        return None;
    }
    let mut words: Vec<Word> = Vec::new();
    let mut goes_on = false;
    for letter in cell.chars() {
        match (letter.to_digit(10), words.last_mut()) {
            (Some(digit), Some(Word::Number(part))) if goes_on => {
                part.value = part.value.checked_mul(10)?.checked_add(digit)?;
                part.n_digits = part.n_digits.checked_add(1)?;
            }
            (Some(digit), _) => {
                words.push(Word::Number(Part {
                    value: digit,
                    n_digits: 1,
                }));
                goes_on = true;
            }
            (None, Some(Word::Name(name))) if goes_on && letter.is_alphabetic() => {
                name.extend(letter.to_lowercase());
            }
            (None, _) if letter.is_alphabetic() => {
                words.push(Word::Name(letter.to_lowercase().collect()));
                goes_on = true;
            }
            (None, _) if " -/.,:".contains(letter) => goes_on = false,
            _ => return None,
        }
        if words.len() > MOST_WORDS {
            return None;
        }
    }
    Some(words)
}

/// The number of a month by its name, or by the first three letters of it.
fn month(name: &str) -> Option<u32> {
    let is_it = |known: &str| {
        name == known
            || name.chars().count() == 3 && known.starts_with(name)
            || (name, known) == ("sept", "september")
            || (name, known) == ("mrz", "märz")
    };
    let place = MONTHS
        .iter()
        .position(|(english, german)| is_it(english) || is_it(german))?;
    u32::try_from(place + 1).ok()
}
