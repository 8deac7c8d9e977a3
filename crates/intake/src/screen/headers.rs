//! Headers that announce an identifier.

use super::Kind;

/// A header's kind of identifier, judged word by word; `dateOfBirth`, `date_of_birth` and `DATE OF BIRTH` are alike,
/// and so are words run together (`dateofbirth`) where no other word holds them.
pub(super) fn kind_of(header: &str) -> Option<Kind> {
    let words = words(header);
    let phrase = words.join(" ");
    let joined = words.concat();
    if let [only] = words.as_slice()
        && let Some((kind, _)) = ALONE
            .iter()
            .find(|(_, known)| known.contains(&only.as_str()))
    {
        return Some(*kind);
    }
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
    (Kind::Email, &["email", "e mail", "mail", "correo", "courriel", "eml"], &["emailaddr", "mailaddress"]),
    (
        Kind::SocialSecurityNumber,
        &["ssn", "social security", "social insurance", "national insurance", "ni number", "ni no", "nino", "national id", "tax id", "codice fiscale", "dni", "personnummer", "personnr", "pesel", "bsn", "cpf"],
        &["socialsecurity", "nationalinsurance", "ssnumber"],
    ),
    (
        Kind::Phone,
        &[
            "phone", "telephone", "tel", "tel no", "mobile", "mob", "fax", "cell phone", "telefon", "telefono", "telefoon",
            "telefone", "handy", "movil", "cellulare", "portable", "pager", "whatsapp", "telno", "contact no", "contact num", "contact number",
        ],
        &["phoneno", "phonenum", "telephone", "homephone", "mobileno", "cellphone", "faxno", "telefonnummer", "telefonnr", "handynummer", "mobilnummer"],
    ),
    (
        Kind::RecordNumber,
        &[
            "mrn", "nhs", "nhs number", "nhs no", "medical record", "record number", "record no", "chart number", "chart no",
            "hospital number", "hospital no", "hosp no", "hosp num", "hosp number", "hospital num", "hospital id", "identity card",
            "id card", "resident id", "emirates id", "medicare", "medicaid", "reg plate", "registration plate", "iban", "insurance number", "insurance no", "insurance id", "policy number",
            "policy no", "member id", "member number", "subscriber", "beneficiary", "health plan", "medicare number",
            "medrec", "medrecno", "med rec", "unit record", "insur", "chi", "nhi", "driver lic", "drivers lic", "lic no", "car reg", "vehicle reg", "medicare no", "medicare id", "medicaid number", "medicaid id", "account number", "account no", "acct", "license",
            "licence", "passport", "certificate number", "certificate no", "vehicle", "number plate", "vin", "username",
            "user name", "login",
        ],
        &["nhsnumber", "medicalrecord", "hospitalno", "hospitalnumber", "patientmrn", "insuranceno", "accountno", "versichertennummer", "versichertennr", "versicherungsnummer", "versicherungsnr", "fallnummer", "aktenzeichen", "aktennummer"],
    ),
    (
        Kind::BirthDate,
        &[
            "dob", "date of birth", "birth date", "birth day", "birthdt", "birth dt", "birthdate", "birthday", "born", "d o b", "geburtsdatum", "geburtstag",
            "gebdat", "geb datum", "naissance", "fecha nacimiento", "fecha nac", "nascita", "nascimento", "geboortedatum",
        ],
        &["dateofbirth", "birthdate", "dateborn"],
    ),
    (
        Kind::Link,
        &[
            "url", "website", "web address", "ip address", "ip addr", "mac address", "photo", "photos", "photograph", "image",
            "images", "picture", "device id", "device serial", "serial", "serial number", "udi", "imei", "fingerprint",
            "biometric", "voiceprint", "sn", "homepage", "web page", "portal", "mugshot", "selfie", "pic", "pics", "pictures", "img", "imgs", "foto", "fotos",
        ],
        &["ipaddress", "serialno", "serialnumber", "deviceid", "photourl", "imageurl"],
    ),
    (
        Kind::PostalCode,
        &[
            "zip", "zipcode", "zip code", "postcode", "post code", "postal", "address", "addr", "street", "city",
            "town", "village", "hamlet", "county", "parish", "lng", "gps", "pcode", "birthplace", "place of birth", "latitude", "longitude", "geocode", "adresse", "anschrift", "strasse", "straße", "plz", "postleitzahl", "wohnort", "rue",
            "ville", "code postal", "direccion", "domicilio", "calle", "codigo postal", "indirizzo", "adres",
            "woonplaats", "morada", "endereco",
        ],
        &["postcode", "zipcode", "postalcode", "homeaddress", "addressline", "streetaddress"],
    ),
    (
        Kind::PersonalName,
        &[
            "name", "names", "surname", "forename", "firstname", "lastname", "fullname", "first name", "last name", "maiden",
            "initials", "next of kin", "nok", "kin", "emergency contact", "signature", "employer", "vorname", "nachname",
            "familienname", "prenom", "nom", "nombre", "nombres", "apellido", "apellidos", "cognome", "nome", "sobrenome",
            "achternaam", "voornaam", "naam", "imie", "imię", "nazwisko", "förnamn", "fornamn", "efternamn", "fornavn", "etternavn", "etunimi", "sukunimi", "nume", "prenume", "prénom", "jmeno", "prijmeni", "soyad", "surn", "full nm", "fname", "lname", "alias",
        ],
        &["surname", "forename", "firstname", "lastname", "fullname", "patientname", "patientenname", "patname", "ptname", "givenname", "familyname"],
    ),
    (
        Kind::FreeText,
        &[
            "note", "notes", "txt", "summary", "anamnese", "comment", "comments", "remark", "remarks", "narrative", "free text", "freetext", "memo", "observations", "observation text", "bemerkung", "bemerkungen", "kommentar",
            "remarque", "remarques", "commentaire", "freitext", "anmerkung", "anmerkungen", "observaciones", "notas", "osservazioni", "opmerkingen", "observacoes",
        ],
        &["freetext", "visitnotes", "clinicalnotes"],
    ),
];

/// Words that announce an identifier only where they stand alone: beside others they speak of something else.
const ALONE: [(Kind, &[&str]); 5] = [
    (
        Kind::PersonalName,
        &[
            "mother", "father", "spouse", "wife", "husband", "guardian", "given",
        ],
    ),
    (Kind::BirthDate, &["birth"]),
    (Kind::PostalCode, &["lat", "lon", "long"]),
    (Kind::FreeText, &["hx"]),
    (Kind::RecordNumber, &["chart"]),
];

/// Whether the words say that the column is about a thing or a deed, not about a person: the name of a clinic, whether a
/// photograph was taken, a review by telephone. The cells of such a column are still looked at.
#[rustfmt::skip]
fn is_about_a_thing(kind: Kind, words: &[String]) -> bool {
    const DEEDS: [&str; 29] = [
        "taken", "done", "consent", "consented", "count", "visit", "consult", "consultation", "review", "advice", "triage",
        "appointment", "appt", "setting", "yn", "recorded", "changed", "level", "type", "flag", "verified", "checked", "sent",
        "required", "needed", "known", "status", "reminder", "scanned",
    ];
    const QUESTIONS: [&str; 8] = ["changed", "verified", "checked", "recorded", "level", "yn", "flag", "count"];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    match kind {
        Kind::PersonalName => has(&QUESTIONS) || names_things(words),
        Kind::BirthDate | Kind::SocialSecurityNumber | Kind::AgeOver89 => false,
        Kind::RecordNumber | Kind::PostalCode | Kind::FreeText => has(&QUESTIONS),
        Kind::Link | Kind::Phone | Kind::Email => has(&DEEDS),
    }
}

/// Words of a header for a person.
#[rustfmt::skip]
const PERSONS: [&str; 53] = [
    "patient", "pat", "pt", "person", "client", "subject", "member", "customer", "user", "first", "last", "middle", "full",
    "given", "family", "maiden", "birth", "sur", "fore", "other", "preferred", "known", "legal", "nick", "mother", "father",
    "mothers", "fathers", "parent", "spouse", "partner", "wife", "husband", "relative", "guardian", "carer", "kin", "nok",
    "contact", "gp", "doctor", "dr", "physician", "consultant", "surgeon", "nurse", "podiatrist", "clinician",
    "practitioner", "staff", "employer", "next", "interpreter",
];

/// Whether a header has a word for a person.
pub(super) fn is_about_a_person(words: &[String]) -> bool {
    words.iter().any(|word| PERSONS.contains(&word.as_str()))
}

/// Whether a header is about names of things, which are many and capitalised too: it says `name` and no word for a person,
/// or it says a thing.
#[rustfmt::skip]
pub(super) fn names_things(words: &[String]) -> bool {
    const THINGS: [&str; 30] = [
        "clinic", "site", "hospital", "ward", "location", "team", "service", "drug", "medication", "antibiotic", "organism",
        "dressing", "product", "brand", "device", "test", "procedure", "operation", "code", "file", "column", "field", "form",
        "study", "practice", "room", "template", "footwear", "shoe", "offloading",
    ];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    let says_name = has(&["name", "names"]);
    let is_alone = words.iter().all(|word| ["name", "names", "of", "the", "s"].contains(&word.as_str()));
    has(&THINGS) || says_name && !is_alone && !is_about_a_person(words)
}

/// Whether a column tells the age of a person: not of an ulcer or of a shoe.
pub(super) fn is_age(words: &[String]) -> bool {
    const OTHERS: [&str; 12] = [
        "ulcer", "wound", "lesion", "dressing", "shoe", "device", "days", "weeks", "months",
        "cast", "record", "insole",
    ];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    has(&[
        "age", "ages", "aged", "ageyears", "ageyrs", "patage", "ptage", "alter", "edad", "eta",
        "leeftijd", "idade",
    ]) && !has(&OTHERS)
}

/// Whether a column tells the year somebody was born, by its header: one word for both, or a word for each.
pub(super) fn is_birth_year(words: &[String]) -> bool {
    const BOTH: [&str; 6] = [
        "yob",
        "birthyear",
        "yearofbirth",
        "geburtsjahr",
        "jahrgang",
        "geboortejaar",
    ];
    const YEAR: [&str; 6] = ["year", "yr", "jahr", "annee", "année", "jaar"];
    const BORN: [&str; 6] = [
        "birth",
        "born",
        "birthdate",
        "naissance",
        "geburt",
        "geboorte",
    ];
    let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
    has(&BOTH) || has(&YEAR) && has(&BORN)
}

/// Whether five digits under this header are the code of something, not of a place.
pub(super) fn is_code(words: &[String]) -> bool {
    const CODES: [&str; 18] = [
        "cpt",
        "hcpcs",
        "icd",
        "pcs",
        "code",
        "codes",
        "procedure",
        "proc",
        "snomed",
        "sct",
        "gtin",
        "ean",
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
