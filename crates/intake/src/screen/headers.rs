//! Headers that announce an identifier.

use super::Kind;

/// A header's kind of identifier, judged word by word; `dateOfBirth`, `date_of_birth` and `DATE OF BIRTH` are alike.
pub(super) fn kind_of(header: &str) -> Option<Kind> {
    let words = words(header);
    let phrase = words.join(" ");
    KINDS
        .iter()
        .find(|(_, phrases)| phrases.iter().any(|wanted| has_words(&phrase, wanted)))
        .map(|(kind, _)| *kind)
}

/// Words that announce each kind. Source of the kinds: the identifiers of 45 CFR 164.514(b)(2)(i); of the words: common
/// practice, no source.
const KINDS: [(Kind, &[&str]); 9] = [
    (Kind::Email, &["email", "e mail", "mail"]),
    (
        Kind::SocialSecurityNumber,
        &["ssn", "social security", "national insurance", "nino"],
    ),
    (
        Kind::Phone,
        &[
            "phone",
            "telephone",
            "tel",
            "mobile",
            "fax",
            "cell phone",
            "cellphone",
        ],
    ),
    (
        Kind::RecordNumber,
        &[
            "mrn",
            "nhs number",
            "nhs no",
            "medical record",
            "record number",
            "hospital number",
            "insurance number",
            "policy number",
            "member id",
            "account number",
            "license",
            "licence",
            "passport",
        ],
    ),
    (
        Kind::BirthDate,
        &[
            "dob",
            "date of birth",
            "birth date",
            "birthdate",
            "birthday",
            "born",
        ],
    ),
    (
        Kind::PostalCode,
        &[
            "zip",
            "zipcode",
            "zip code",
            "postcode",
            "post code",
            "postal",
            "address",
            "street",
            "city",
            "town",
        ],
    ),
    (
        Kind::PersonalName,
        &[
            "name",
            "surname",
            "forename",
            "firstname",
            "lastname",
            "fullname",
            "first name",
            "last name",
            "maiden",
            "initials",
        ],
    ),
    (
        Kind::FreeText,
        &[
            "note",
            "notes",
            "comment",
            "comments",
            "remark",
            "remarks",
            "narrative",
            "free text",
            "freetext",
        ],
    ),
    (
        Kind::Link,
        &[
            "url",
            "website",
            "ip address",
            "photo",
            "photograph",
            "image",
            "device id",
            "serial",
        ],
    ),
];

fn has_words(phrase: &str, wanted: &str) -> bool {
    let padded = format!(" {phrase} ");
    padded.contains(&format!(" {wanted} "))
}

/// Lower-case words of a header, split at anything but letters, and where a small letter meets a capital.
pub(super) fn words(header: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut was_small = false;
    for letter in header.chars() {
        let starts_word = was_small && letter.is_uppercase();
        was_small = letter.is_lowercase();
        if !letter.is_alphabetic() || starts_word {
            words.push(String::new());
        }
        if let (true, Some(word)) = (letter.is_alphabetic(), words.last_mut()) {
            word.extend(letter.to_lowercase());
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_of_identifiers_are_known_in_every_spelling() {
        for (header, kind) in [
            ("dateOfBirth", Kind::BirthDate),
            ("DATE OF BIRTH", Kind::BirthDate),
            ("pat_dob", Kind::BirthDate),
            ("Surname", Kind::PersonalName),
            ("patient name", Kind::PersonalName),
            ("tel_home", Kind::Phone),
            ("E-Mail", Kind::Email),
            ("ZIP", Kind::PostalCode),
            ("ssn4", Kind::SocialSecurityNumber),
            ("MRN", Kind::RecordNumber),
            ("visit_notes", Kind::FreeText),
        ] {
            assert_eq!(kind_of(header), Some(kind), "{header}");
        }
    }

    #[test]
    fn headers_of_clinical_columns_are_left_alone() {
        for header in [
            "pat_ref",
            "yob",
            "birth_year",
            "first_contact",
            "vis_date",
            "clinician",
            "w1_dress_by",
            "setting",
            "telescope",
        ] {
            assert_eq!(kind_of(header), None, "{header}");
        }
    }
}
