//! Headers that announce an identifier.

use super::Kind;

/// A header's kind of identifier, judged word by word; `dateOfBirth`, `date_of_birth` and `DATE OF BIRTH` are alike,
/// and so are words run together (`dateofbirth`) where no other word holds them.
pub(super) fn kind_of(header: &str) -> Option<Kind> {
    let words = words(header);
    let phrase = words.join(" ");
    let joined = words.concat();
    KINDS
        .iter()
        .filter(|(kind, ..)| !is_about_a_thing(*kind, &words))
        .find(|(_, phrases, run_together)| {
            phrases.iter().any(|wanted| has_words(&phrase, wanted))
                || run_together.iter().any(|wanted| joined.contains(wanted))
        })
        .map(|(kind, ..)| *kind)
}

/// Words that announce each kind, alone or run together with others. Source of the kinds: the eighteen identifiers of
/// 45 CFR 164.514(b)(2)(i); of the words: common practice, no source.
#[rustfmt::skip]
const KINDS: [(Kind, &[&str], &[&str]); 9] = [
    (Kind::Email, &["email", "e mail", "mail", "correo"], &["emailaddr", "mailaddress"]),
    (
        Kind::SocialSecurityNumber,
        &["ssn", "social security", "social insurance", "national insurance", "ni number", "ni no", "nino", "national id", "tax id"],
        &["socialsecurity", "nationalinsurance", "ssnumber"],
    ),
    (
        Kind::Phone,
        &["phone", "telephone", "tel", "tel no", "mobile", "fax", "cell phone", "telefon", "telefono", "pager"],
        &["phoneno", "phonenum", "telephone", "homephone", "mobileno", "cellphone", "faxno"],
    ),
    (
        Kind::RecordNumber,
        &[
            "mrn", "nhs", "nhs number", "nhs no", "medical record", "record number", "record no", "chart number", "chart no",
            "hospital number", "hospital no", "hosp no", "insurance number", "insurance no", "insurance id", "policy number",
            "policy no", "member id", "member number", "subscriber", "beneficiary", "health plan", "medicare number",
            "medicare no", "medicare id", "medicaid number", "medicaid id", "account number", "account no", "acct", "license",
            "licence", "passport", "certificate number", "certificate no", "vehicle", "number plate", "vin", "username",
            "user name", "login",
        ],
        &["nhsnumber", "medicalrecord", "hospitalno", "hospitalnumber", "patientmrn", "insuranceno", "accountno"],
    ),
    (
        Kind::BirthDate,
        &["dob", "date of birth", "birth date", "birth day", "birthdate", "birthday", "born", "geburtsdatum", "naissance"],
        &["dateofbirth", "birthdate", "dateborn"],
    ),
    (
        Kind::Link,
        &[
            "url", "website", "web address", "ip address", "ip addr", "mac address", "photo", "photos", "photograph", "image",
            "images", "picture", "device id", "device serial", "serial", "serial number", "udi", "imei", "fingerprint",
            "biometric", "voiceprint",
        ],
        &["ipaddress", "serialno", "serialnumber", "deviceid", "photourl", "imageurl"],
    ),
    (
        Kind::PostalCode,
        &[
            "zip", "zipcode", "zip code", "postcode", "post code", "postal", "address", "addr", "street", "city",
            "town", "county", "parish", "latitude", "longitude", "geocode", "adresse",
        ],
        &["postcode", "zipcode", "postalcode", "homeaddress", "addressline", "streetaddress"],
    ),
    (
        Kind::PersonalName,
        &[
            "name", "names", "surname", "forename", "firstname", "lastname", "fullname", "first name", "last name", "maiden",
            "initials", "next of kin", "nok", "kin", "emergency contact", "signature", "employer", "vorname", "nachname",
            "prenom", "nombre", "apellido", "fname", "lname", "alias",
        ],
        &["surname", "forename", "firstname", "lastname", "fullname", "patientname", "patname", "ptname", "givenname", "familyname"],
    ),
    (
        Kind::FreeText,
        &[
            "note", "notes", "comment", "comments", "remark", "remarks", "narrative", "free text", "freetext", "memo",
        ],
        &["freetext", "visitnotes", "clinicalnotes"],
    ),
];

/// Whether the words say that the column is about a thing or a deed, not about a person: the name of a clinic, whether a
/// photograph was taken, a review by telephone. The cells of such a column are still looked at.
#[rustfmt::skip]
fn is_about_a_thing(kind: Kind, words: &[String]) -> bool {
    const DEEDS: [&str; 15] = [
        "taken", "done", "consent", "consented", "count", "visit", "consult", "consultation", "review", "advice", "triage",
        "appointment", "appt", "setting", "yn",
    ];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    match kind {
        Kind::PersonalName => names_things(words),
        Kind::Link | Kind::Phone | Kind::Email => has(&DEEDS),
        _ => false,
    }
}

/// Whether a header is about names of things, which are many and capitalised too.
#[rustfmt::skip]
pub(super) fn names_things(words: &[String]) -> bool {
    const THINGS: [&str; 30] = [
        "clinic", "site", "hospital", "ward", "location", "team", "service", "drug", "medication", "antibiotic", "organism",
        "dressing", "product", "brand", "device", "test", "procedure", "operation", "code", "file", "column", "field", "form",
        "study", "practice", "room", "template", "footwear", "shoe", "offloading",
    ];
    words.iter().any(|word| THINGS.contains(&word.as_str()))
}

/// Whether a column tells the age of a person: not of an ulcer or of a shoe.
pub(super) fn is_age(words: &[String]) -> bool {
    const OTHERS: [&str; 12] = [
        "ulcer", "wound", "lesion", "dressing", "shoe", "device", "days", "weeks", "months",
        "cast", "record", "insole",
    ];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    has(&[
        "age", "ages", "aged", "ageyears", "ageyrs", "patage", "ptage",
    ]) && !has(&OTHERS)
}

/// Whether a column tells the year somebody was born.
pub(super) fn is_birth_year(words: &[String]) -> bool {
    let phrase = words.join(" ");
    [
        "yob",
        "birth year",
        "year of birth",
        "birthyear",
        "yearofbirth",
        "year born",
    ]
    .iter()
    .any(|wanted| has_words(&phrase, wanted))
}

/// Whether five digits under this header are the code of something, not of a place.
pub(super) fn is_code(words: &[String]) -> bool {
    const CODES: [&str; 15] = [
        "cpt",
        "hcpcs",
        "icd",
        "pcs",
        "code",
        "codes",
        "procedure",
        "proc",
        "snomed",
        "loinc",
        "opcs",
        "drg",
        "dx",
        "px",
        "diagnosis",
    ];
    let has_code = words.iter().any(|word| CODES.contains(&word.as_str()));
    has_code && !words.iter().any(|word| word == "area")
}

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
            ("DATEOFBIRTH", Kind::BirthDate),
            ("DATE OF BIRTH", Kind::BirthDate),
            ("pat_dob", Kind::BirthDate),
            ("Surname", Kind::PersonalName),
            ("patient name", Kind::PersonalName),
            ("PATNAME", Kind::PersonalName),
            ("ptFirstName", Kind::PersonalName),
            ("tel_home", Kind::Phone),
            ("HOMEPHONE", Kind::Phone),
            ("E-Mail", Kind::Email),
            ("ZIP", Kind::PostalCode),
            ("home_addr_1", Kind::PostalCode),
            ("ssn4", Kind::SocialSecurityNumber),
            ("MRN", Kind::RecordNumber),
            ("NHSNumber", Kind::RecordNumber),
            ("health_plan_id", Kind::RecordNumber),
            ("visit_notes", Kind::FreeText),
            ("ip_address", Kind::Link),
            ("device serial no", Kind::Link),
            ("wound_photo", Kind::Link),
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
            "clinic_name",
            "drug name",
            "site_name",
            "photo_taken",
            "telephone_review",
            "IP_joint",
            "hba1c",
            "state",
            "wound_age_days",
            "single_limb",
            "l_toe",
            "headache",
        ] {
            assert_eq!(kind_of(header), None, "{header}");
        }
    }

    #[test]
    fn only_the_age_of_a_person_is_an_age() {
        for (header, expected) in [
            ("age", true),
            ("pat_age", true),
            ("AgeAtVisit", true),
            ("age_years", true),
            ("ulcer_age", false),
            ("wound age (days)", false),
            ("stage", false),
            ("bandage", false),
            ("dosage", false),
        ] {
            assert_eq!(is_age(&words(header)), expected, "{header}");
        }
    }
}
