//! What identifiers look like, letter by letter. Each function judges one trimmed cell.

/// An e-mail address: one `@` with a name before it and a dotted domain after it.
pub(super) fn is_email(cell: &str) -> bool {
    let Some((name, domain)) = cell.split_once('@') else {
        return false;
    };
    let ends_well = domain
        .rsplit_once('.')
        .is_some_and(|(host, end)| !host.is_empty() && end.len() >= 2);
    !name.is_empty() && ends_well && !domain.contains(['@', ' '])
}

/// A social-security number as written in the United States: three, two and four digits with dashes or spaces.
pub(super) fn is_social_security_number(cell: &str) -> bool {
    has_pattern(cell, "999-99-9999") || has_pattern(cell, "999 99 9999")
}

/// A telephone number: grouped as in North America, or with a leading `+` or `0` and grouping, 9 to 15 digits.
pub(super) fn is_phone(cell: &str) -> bool {
    let n_digits = cell.bytes().filter(u8::is_ascii_digit).count();
    let is_dialled = cell
        .bytes()
        .all(|byte| byte.is_ascii_digit() || b"+()-. /".contains(&byte));
    if !is_dialled || !(9..=15).contains(&n_digits) {
        return false;
    }
    let is_grouped = cell.bytes().any(|byte| b"() -.".contains(&byte));
    let american = [
        "999-999-9999",
        "999.999.9999",
        "999 999 9999",
        "(999) 999-9999",
        "1-999-999-9999",
    ];
    cell.starts_with('+')
        || (cell.starts_with('0') && is_grouped && !cell.contains('.'))
        || american.iter().any(|pattern| has_pattern(cell, pattern))
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
        || british.iter().any(|pattern| has_pattern(cell, pattern))
}

/// A personal name: two to four words of letters, each with a capital first, or `Surname, Forename`.
pub(super) fn is_personal_name(cell: &str) -> bool {
    let mut n_words = 0;
    for word in cell.split([' ', ',']).filter(|word| !word.is_empty()) {
        n_words += 1;
        let starts_well = word.chars().next().is_some_and(char::is_uppercase);
        if !starts_well
            || !word
                .chars()
                .all(|letter| letter.is_alphabetic() || "'-.".contains(letter))
        {
            return false;
        }
    }
    (2..=4).contains(&n_words) && cell.chars().any(char::is_lowercase)
}

/// Free text: six words or more, or more than sixty letters.
pub(super) fn is_free_text(cell: &str) -> bool {
    cell.len() > 60
        || cell
            .split_whitespace()
            .filter(|word| word.chars().any(char::is_alphabetic))
            .count()
            >= 6
}

/// `9` stands for a digit, `A` for a capital letter, anything else for itself.
fn has_pattern(cell: &str, pattern: &str) -> bool {
    cell.len() == pattern.len()
        && cell
            .bytes()
            .zip(pattern.bytes())
            .all(|(byte, expected)| match expected {
                b'9' => byte.is_ascii_digit(),
                b'A' => byte.is_ascii_uppercase(),
                other => byte == other,
            })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented cells; the numbers lie in ranges kept free for fiction (555-01xx, 01632 960xxx).
    #[test]
    fn each_shape_takes_its_own_and_leaves_clinical_cells_alone() {
        let shapes: [(&str, super::super::Shape, &[&str]); 7] = [
            ("email", is_email, &["a.b@example.org"]),
            (
                "social",
                is_social_security_number,
                &["000-12-3456", "000 12 3456"],
            ),
            (
                "phone",
                is_phone,
                &[
                    "202-555-0143",
                    "(202) 555-0143",
                    "+44 1632 960123",
                    "01632 960123",
                ],
            ),
            ("long number", is_long_number, &["943476591", "9434765919"]),
            (
                "postal",
                is_postal_code,
                &["90210", "90210-1234", "QQ1 1AA", "Q1A 9ZZ"],
            ),
            (
                "name",
                is_personal_name,
                &["Ann Example", "Example, Ann", "Mary O'Neil"],
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
}
