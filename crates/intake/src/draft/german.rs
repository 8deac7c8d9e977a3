//! What the words of a German header and German codes usually mean. Common practice, no source. Letters are written without
//! umlauts, as headers are compared: `Länge` is looked for as `laenge`.

use super::words::Section;

/// Words of a header that say no more than the section.
pub(super) const fn noise(section: Section) -> &'static [&'static str] {
    match section {
        Section::Patient => &["patient", "patienten"],
        Section::Visit | Section::Attendance => &["besuch", "termin", "behandlung"],
        Section::FootExam => &["fuss", "untersuchung"],
        Section::Ulcer => &["wunde", "wund", "ulkus", "ulcus", "laesion"],
        Section::Event => &["ereignis", "massnahme", "prozedur"],
    }
}

/// What the name of a file says of the table in it.
pub(super) const fn file_names(section: Section) -> &'static [&'static str] {
    match section {
        Section::Patient => &["stammdaten"],
        Section::Visit | Section::Attendance => &["besuch", "termin", "kontakte"],
        Section::FootExam => &["untersuchung", "befund", "fuss"],
        Section::Ulcer => &["wunde", "ulkus", "ulcus", "ulzer"],
        Section::Event => &["ereignis", "massnahme", "eingriff", "prozedur"],
    }
}

const PERSON: &[&str] = &[
    "pat nr",
    "patient nr",
    "patienten nr",
    "patientennr",
    "patnr",
    "patientennummer",
    "patienten id",
    "patientenkennung",
    "pseudonym",
];

const SIDE: &[&str] = &["seite", "fuss", "bein", "koerperseite"];

/// Section, field, and what a header says that means it.
#[rustfmt::skip]
pub(super) const FIELDS: &[(Section, &str, &[&str])] = &[
    (Section::Patient, "id", PERSON),
    (Section::Patient, "birth_year", &["geburtsjahr", "jahrgang"]),
    (Section::Patient, "sex", &["geschlecht"]),
    (Section::Patient, "diabetes_type", &["diabetestyp", "diabetes typ", "dm typ"]),
    (Section::Patient, "diabetes_year", &["diabetes seit", "diabetes jahr", "dm seit"]),
    (Section::Patient, "referral_source", &["zuweiser", "ueberweiser", "ueberwiesen von", "zuweisung"]),
    (Section::Patient, "first_contact", &["erstkontakt", "erster kontakt"]),
    (Section::Patient, "renal_replacement", &["dialyse", "nierenersatz", "dialysepflichtig", "nierenersatztherapie"]),
    (Section::Patient, "smoker", &["raucher", "raucherin", "rauchen", "raucherstatus", "nikotin"]),
    (Section::Patient, "prior_ulcer", &["frueheres ulkus", "fruehere ulzera", "ulkus anamnese", "z n ulkus", "frueheres ulcus"]),
    (Section::Patient, "prior_amputation", &["fruehere amputation", "amputation anamnese", "z n amputation"]),
    (Section::Patient, "death", &["verstorben am", "todesdatum", "sterbedatum", "verstorben"]),
    (Section::Patient, "last_contact", &["letzter kontakt"]),
    (Section::Visit, "patient", PERSON),
    (Section::Visit, "date", &["besuchsdatum", "datum", "termindatum", "behandlungsdatum", "kontaktdatum", "datum des besuchs"]),
    (Section::Visit, "clinic_site", &["standort", "praxis", "ambulanz", "filiale"]),
    (Section::Visit, "clinician", &["behandler", "behandlerin", "therapeut", "podologe", "podologin", "arzt kuerzel", "behandlerkuerzel"]),
    (Section::Visit, "clinician_role", &["berufsgruppe", "rolle", "funktion"]),
    (Section::Visit, "setting", &["besuchsart", "kontaktart", "behandlungsort"]),
    (Section::Visit, "planned_return", &["wiedervorstellung", "naechster termin", "folgetermin", "kontrolltermin", "wv am", "wiedervorstellung am"]),
    (Section::Attendance, "column", &["terminstatus", "erschienen", "anwesenheit", "status termin"]),
    (Section::FootExam, "patient", PERSON),
    (Section::FootExam, "date", &["untersuchungsdatum", "datum", "besuchsdatum", "befunddatum"]),
    (Section::FootExam, "side", SIDE),
    (Section::FootExam, "sensation", &["monofilament", "sensibilitaet", "schutzsensibilitaet"]),
    (Section::FootExam, "pulses", &["fusspulse", "pulse", "fusspuls", "pulsstatus"]),
    (Section::FootExam, "waveform", &["doppler", "dopplerkurve", "flussprofil"]),
    (Section::FootExam, "ankle_pressure", &["knoecheldruck", "knoechelarteriendruck"]),
    (Section::FootExam, "brachial_pressure", &["armdruck", "oberarmdruck"]),
    (Section::FootExam, "toe_pressure", &["zehendruck", "grosszehendruck"]),
    (Section::FootExam, "abi", &["knoechel arm index", "kai"]),
    (Section::FootExam, "tbi", &["zehen arm index", "zehen index"]),
    (Section::FootExam, "deformity", &["deformitaet", "fussdeformitaet", "fehlstellung"]),
    (Section::FootExam, "charcot", &["charcot fuss"]),
    (Section::FootExam, "worn_size", &["schuhgroesse", "getragene schuhgroesse", "schuhgroesse getragen"]),
    (Section::FootExam, "measured_size", &["gemessene schuhgroesse", "schuhgroesse gemessen", "fussgroesse"]),
    (Section::FootExam, "footwear_suitable", &["schuhwerk geeignet", "schuhe geeignet", "schuhwerk passend"]),
    (Section::Ulcer, "patient", PERSON),
    (Section::Ulcer, "date", &["befunddatum", "datum", "besuchsdatum", "wunddatum"]),
    (Section::Ulcer, "label", &["wunde", "wund nr", "wundnr", "wundnummer", "wund id", "ulkus", "ulkus nr", "ulcus nr", "laesion", "nr", "nummer"]),
    (Section::Ulcer, "side", SIDE),
    (Section::Ulcer, "site", &["lokalisation", "wundlokalisation", "lage", "ort", "koerperstelle"]),
    (Section::Ulcer, "onset_date", &["beginn", "wundbeginn", "entstanden am", "besteht seit", "seit", "erstmals bemerkt"]),
    (Section::Ulcer, "origin", &["herkunft", "entstehung"]),
    (Section::Ulcer, "length", &["laenge", "wundlaenge"]),
    (Section::Ulcer, "width", &["breite", "wundbreite"]),
    (Section::Ulcer, "depth", &["tiefe", "wundtiefe"]),
    (Section::Ulcer, "area", &["flaeche", "wundflaeche", "wundgroesse"]),
    (Section::Ulcer, "is_after_debridement", &["nach debridement", "gemessen nach debridement"]),
    (Section::Ulcer, "tissue_depth", &["gewebetiefe", "tiefe gewebe", "betroffenes gewebe"]),
    (Section::Ulcer, "gangrene", &["gangraen", "nekrose"]),
    (Section::Ulcer, "infection", &["infektion", "infektionsgrad", "wundinfektion"]),
    (Section::Ulcer, "probe_to_bone", &["knochenkontakt", "probe to bone", "sondierung knochen"]),
    (Section::Ulcer, "osteomyelitis", &["osteitis", "osteomyelitis"]),
    (Section::Ulcer, "state", &["status", "wundstatus", "zustand", "wundzustand"]),
    (Section::Ulcer, "debrided", &["debridement", "debridiert"]),
    (Section::Ulcer, "cultured", &["abstrich", "wundabstrich"]),
    (Section::Ulcer, "antibiotic", &["antibiotikum", "antibiotika", "antibiose"]),
    (Section::Ulcer, "offloading_prescribed", &["entlastung verordnet", "druckentlastung verordnet"]),
    (Section::Ulcer, "offloading_dispensed", &["entlastung abgegeben", "entlastung versorgt", "entlastung erhalten", "druckentlastung abgegeben"]),
    (Section::Ulcer, "dressing_on_arrival", &["verband bei ankunft", "verband vorhanden"]),
    (Section::Ulcer, "dressing_carer", &["verbandwechsel durch", "verband durch"]),
    (Section::Event, "patient", PERSON),
    (Section::Event, "kind", &["ereignis", "massnahme", "art", "ereignisart", "prozedur", "eingriff"]),
    (Section::Event, "date", &["datum", "ereignisdatum", "eingriffsdatum"]),
    (Section::Event, "side", SIDE),
    (Section::Event, "ulcer_label", &["wunde", "wund nr", "wundnummer", "ulkus"]),
    (Section::Event, "height", &["hoehe", "amputationshoehe"]),
];

/// Field, our word, codes that mean it for sure, codes that probably do.
#[rustfmt::skip]
pub(super) const CODES: &[(&str, &str, &str, &str)] = &[
    ("sex", "female", "weiblich", "w"),
    ("sex", "male", "maennlich", ""),
    ("sex", "other", "divers", "d"),
    ("diabetes_type", "type-1", "typ 1", ""),
    ("diabetes_type", "type-2", "typ 2", ""),
    ("diabetes_type", "other", "", "anderer|sonstiger|pankreopriv"),
    ("prior_amputation", "none", "keine|nein", ""),
    ("attendance", "kept", "erschienen|wahrgenommen", ""),
    ("attendance", "missed", "nicht erschienen|versaeumt|nicht wahrgenommen", ""),
    ("attendance", "cancelled", "abgesagt|storniert", ""),
    ("setting", "clinic", "ambulant|praxis|ambulanz", ""),
    ("setting", "home", "hausbesuch", ""),
    ("setting", "remote", "telefonisch|telefon", ""),
    ("setting", "ward", "stationaer", ""),
    ("sensation", "intact", "intakt|erhalten|vorhanden", ""),
    ("sensation", "lost", "aufgehoben|fehlend|vermindert", ""),
    ("pulses", "palpable", "tastbar", "vorhanden"),
    ("pulses", "absent", "nicht tastbar|fehlend", ""),
    ("waveform", "triphasic", "triphasisch", ""),
    ("waveform", "biphasic", "biphasisch", ""),
    ("waveform", "monophasic", "monophasisch", ""),
    ("side", "left", "links|linker", ""),
    ("side", "right", "rechts|rechter", ""),
    ("origin", "new", "neu", ""),
    ("origin", "transferred-in", "uebernommen", ""),
    ("origin", "post-surgical", "postoperativ", ""),
    ("gangrene", "none", "keine|nein", ""),
    ("infection", "none", "keine|nein", ""),
    ("infection", "mild", "leicht|mild", ""),
    ("infection", "moderate", "maessig|mittel|moderat", ""),
    ("infection", "severe", "schwer", ""),
    ("state", "pre-ulcerative", "praeulzerativ", "vorstufe"),
    ("state", "open", "offen", ""),
    ("state", "closed", "geschlossen|abgeheilt|verheilt|zu", ""),
    ("state", "excised", "", "amputiert|exzidiert"),
    ("kind", "vascular-referral", "", "ueberweisung gefaesse"),
    ("kind", "revascularisation", "revaskularisation", "pta|bypass"),
    ("kind", "minor-amputation", "minoramputation", ""),
    ("kind", "major-amputation", "majoramputation", ""),
    ("kind", "admission", "", "aufnahme|stationaere aufnahme"),
    ("kind", "death", "verstorben|tod", ""),
    ("kind", "footwear-supplied", "", "schuhversorgung"),
    ("kind", "offloading-supplied", "", "entlastung"),
];

/// Yes and no.
pub(super) const YES_NO: [(&str, &str); 2] = [("ja", "yes"), ("nein", "no")];
