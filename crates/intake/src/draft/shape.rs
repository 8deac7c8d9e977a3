//! Which columns repeat: ulcers and events side by side by number, feet by side.

use std::collections::{BTreeMap, BTreeSet};

/// Columns that differ by a number or a side only, or one column alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Group {
    /// The header with `{slot}` and `{side}` in the place of what differs.
    pub(super) pattern: String,
    /// Positions in the header.
    pub(super) columns: Vec<usize>,
    /// How many numbers, from 1 on; 0 where there is none.
    pub(super) n_slots: usize,
    /// What stands for left and for right.
    pub(super) sides: Option<(String, String)>,
    /// What stands before the number; columns of one ulcer share it.
    pub(super) family: String,
    /// The words of the header without number and side.
    pub(super) words: Vec<String>,
}

/// Words for left and right that belong together.
const SIDES: [(&str, &str); 3] = [("left", "right"), ("lt", "rt"), ("l", "r")];

/// Groups the columns of a header, in file order.
pub(super) fn groups(headers: &[String]) -> Vec<Group> {
    let mut taken = BTreeSet::new();
    let mut groups = Vec::new();
    for (pattern, members) in by_number(headers) {
        let n_slots = members.len();
        let is_row = n_slots >= 2 && members.keys().copied().eq(1..=n_slots as u32);
        if is_row && members.values().all(|position| !taken.contains(position)) {
            taken.extend(members.values().copied());
            let family = pattern.split("{slot}").next().unwrap_or_default();
            groups.push(Group {
                words: words(&pattern.replace("{slot}", " ")),
                family: family.to_owned(),
                columns: members.into_values().collect(),
                n_slots,
                sides: None,
                pattern,
            });
        }
    }
    for (pattern, (left, right)) in by_side(headers) {
        let (left, right) = match (left, right) {
            (Some(left), Some(right)) => (left, right),
            _ => continue,
        };
        if taken.contains(&left.0) || taken.contains(&right.0) {
            continue;
        }
        taken.extend([left.0, right.0]);
        groups.push(Group {
            words: words(&pattern.replace("{side}", " ")),
            family: String::new(),
            columns: vec![left.0, right.0],
            n_slots: 0,
            sides: Some((left.1, right.1)),
            pattern,
        });
    }
    for (position, header) in headers.iter().enumerate() {
        if !taken.contains(&position) {
            groups.push(Group {
                pattern: header.clone(),
                columns: vec![position],
                n_slots: 0,
                sides: None,
                family: String::new(),
                words: words(header),
            });
        }
    }
    groups.sort_by_key(|group| group.columns.first().copied());
    groups
}

/// Headers by what remains when one of their numbers is left out: pattern, then number and position.
fn by_number(headers: &[String]) -> BTreeMap<String, BTreeMap<u32, usize>> {
    let mut patterns: BTreeMap<String, BTreeMap<u32, usize>> = BTreeMap::new();
    for (position, header) in headers.iter().enumerate() {
        // braces are what a layout writes for the number itself
        if header.contains(['{', '}']) {
            continue;
        }
        let mut start = 0;
        while let Some(at) = header
            .get(start..)
            .and_then(|rest| rest.find(|c: char| c.is_ascii_digit()))
        {
            let from = start + at;
            let rest = header.get(from..).unwrap_or_default();
            let n = rest.bytes().take_while(u8::is_ascii_digit).count();
            start = from + n;
            let number = rest.get(..n).unwrap_or_default();
            if n > 2 || number.starts_with('0') {
                continue;
            }
            if let (Ok(number), Some(before), Some(after)) =
                (number.parse(), header.get(..from), header.get(start..))
            {
                let pattern = format!("{before}{{slot}}{after}");
                patterns
                    .entry(pattern)
                    .or_default()
                    .entry(number)
                    .or_insert(position);
            }
        }
    }
    patterns
}

type Sided = (usize, String);

/// Headers by what remains when a word for a side is left out.
fn by_side(headers: &[String]) -> BTreeMap<String, (Option<Sided>, Option<Sided>)> {
    let mut patterns: BTreeMap<String, (Option<Sided>, Option<Sided>)> = BTreeMap::new();
    for (position, header) in headers.iter().enumerate() {
        if header.contains(['{', '}']) {
            continue;
        }
        let mut start = 0;
        for part in header.split_inclusive(|letter: char| !letter.is_alphabetic()) {
            let word = part.trim_end_matches(|letter: char| !letter.is_alphabetic());
            let lower = word.to_lowercase();
            let pair = SIDES
                .iter()
                .find(|(left, right)| [*left, *right].contains(&lower.as_str()));
            if let (Some((left, _)), Some(before), Some(after)) =
                (pair, header.get(..start), header.get(start + word.len()..))
            {
                let pattern = format!("{before}{{side}}{after}");
                let sides = patterns.entry(pattern).or_default();
                let side = if lower == *left {
                    &mut sides.0
                } else {
                    &mut sides.1
                };
                side.get_or_insert((position, word.to_owned()));
            }
            start += part.len();
        }
    }
    patterns
}

/// Lower-case words of a header, umlauts written out: parted at anything but letters and digits, and where a small letter
/// meets a capital.
pub(super) fn words(header: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut was_small = false;
    for letter in header.chars() {
        let is_part = letter.is_alphanumeric();
        if !is_part || (was_small && letter.is_uppercase()) {
            words.push(String::new());
        }
        was_small = letter.is_lowercase();
        if let (true, Some(word)) = (is_part, words.last_mut()) {
            for small in letter.to_lowercase() {
                match small {
                    'ä' => word.push_str("ae"),
                    'ö' => word.push_str("oe"),
                    'ü' => word.push_str("ue"),
                    'ß' => word.push_str("ss"),
                    other => word.push(other),
                }
            }
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn patterns(headers: &[&str]) -> Vec<String> {
        let headers: Vec<String> = headers.iter().map(|header| (*header).to_owned()).collect();
        groups(&headers)
            .iter()
            .map(|group| format!("{} {}", group.pattern, group.columns.len()))
            .collect()
    }

    #[test]
    fn columns_that_repeat_are_one_group() {
        assert_eq!(
            patterns(&[
                "id", "w1_len", "w1_wid", "w2_len", "w2_wid", "hba1c", "tcpo2"
            ]),
            [
                "id 1",
                "w{slot}_len 2",
                "w{slot}_wid 2",
                "hba1c 1",
                "tcpo2 1"
            ]
        );
        assert_eq!(
            patterns(&["Left ABI", "Right ABI", "L_toe"]),
            ["{side} ABI 2", "L_toe 1"]
        );
        assert_eq!(
            patterns(&["length1", "length2", "length4"]),
            ["length1 1", "length2 1", "length4 1"]
        );
        assert_eq!(
            patterns(&["a{slot}1", "a{slot}2"]),
            ["a{slot}1 1", "a{slot}2 1"]
        );
        assert_eq!(patterns(&[]), [""; 0]);
    }

    #[test]
    fn words_are_parted_as_a_reader_would() {
        assert_eq!(words("dateOfBirth"), ["date", "of", "birth"]);
        assert_eq!(words("HbA1c (mmol/mol)"), ["hb", "a1c", "mmol", "mol"]);
        assert_eq!(words("  "), [""; 0]);
    }
}
