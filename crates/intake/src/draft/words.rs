//! What the words of a header usually mean. Common practice, no source. German words are in `german.rs`.

use super::german;
use crate::quantity::Unit;

/// A section of a layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Section {
    Patient,
    Visit,
    Attendance,
    FootExam,
    Ulcer,
    Event,
}

impl Section {
    pub(super) const ALL: [Self; 6] = [
        Self::Patient,
        Self::Visit,
        Self::Attendance,
        Self::FootExam,
        Self::Ulcer,
        Self::Event,
    ];

    /// Its name in a layout.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Patient => "patient",
            Self::Visit => "visit",
            Self::Attendance => "attendance",
            Self::FootExam => "foot_exam",
            Self::Ulcer => "ulcer",
            Self::Event => "event",
        }
    }

    /// Words of a header that say no more than the section.
    const fn noise(self) -> &'static [&'static str] {
        match self {
            Self::Patient => &["patient", "pat", "pt", "person"],
            Self::Visit | Self::Attendance => &[
                "visit",
                "vis",
                "appointment",
                "appt",
                "attendance",
                "contact",
            ],
            Self::FootExam => &["foot", "exam", "limb", "leg"],
            Self::Ulcer => &["ulcer", "ulc", "wound", "wnd", "lesion", "w", "u"],
            Self::Event => &["event", "ev", "procedure", "proc"],
        }
    }
}

/// How well a header fits a field; the more letters of it are the field's words, the better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fit {
    /// The field's words, of so many letters, are among others.
    Partly(usize),
    /// The header says this field and nothing else.
    Wholly,
}

/// The field of a section that the words of a header say best.
pub(super) fn field_of(section: Section, words: &[String]) -> Option<(&'static str, Fit)> {
    let whole = words.join(" ");
    let without = |is_left_out: &dyn Fn(&str) -> bool| -> String {
        let kept = words.iter().map(String::as_str);
        kept.filter(|word| !is_left_out(word))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let is_noise =
        |word: &str| section.noise().contains(&word) || german::noise(section).contains(&word);
    let is_unit = |word: &str| Unit::from_written(word).is_some();
    let said = [
        whole.clone(),
        without(&is_unit),
        without(&is_noise),
        without(&|word| is_noise(word) || is_unit(word)),
    ];
    let known = || {
        let all = FIELDS.iter().chain(german::FIELDS);
        all.filter(|(known, ..)| *known == section)
    };
    // what the header says as it stands comes before what it says without its weaker words
    let wholly = said
        .iter()
        .filter(|said| !said.is_empty())
        .find_map(|said| known().find(|(_, _, names)| names.contains(&said.as_str())));
    if let Some((_, field, _)) = wholly {
        return Some((field, Fit::Wholly));
    }
    // the longest words first, so that `dressing carer` is not taken for `dressing`
    let mut partly: Vec<(usize, &str)> = known()
        .flat_map(|(_, field, names)| {
            names
                .iter()
                // a header that speaks of a wound among other things is not its mark
                .filter(|name| !Section::Ulcer.noise().contains(*name))
                .filter(|name| {
                    name.len() > 2 && format!(" {whole} ").contains(&format!(" {name} "))
                })
                .map(|name| (name.len(), *field))
        })
        .collect();
    partly.sort_by_key(|(length, _)| std::cmp::Reverse(*length));
    partly
        .first()
        .map(|(length, field)| (*field, Fit::Partly(*length)))
}

/// Section, field, and what a header says that means it.
#[rustfmt::skip]
const FIELDS: &[(Section, &str, &[&str])] = &[
    (Section::Patient, "id", &["patient id", "pat id", "pt id", "patient ref", "pat ref", "pt ref", "patient", "pat", "pid", "person id", "person", "pseudonym", "pseudo id", "study id", "subject id", "patient key", "patient no", "client id", "client no", "client", "subject", "id", "ref", "pseudo"]),
    (Section::Patient, "birth_year", &["yob", "birth year", "year of birth", "birthyear", "byear", "year born", "birth date year"]),
    (Section::Patient, "sex", &["sex", "gender"]),
    (Section::Patient, "diabetes_type", &["dm type", "diabetes type", "type of diabetes", "dmtype", "diabetes", "diab type"]),
    (Section::Patient, "diabetes_year", &["dm year", "diabetes year", "year of diabetes", "dm since", "diabetes since", "year diagnosed", "dx year"]),
    (Section::Patient, "referral_source", &["ref src", "referral source", "referred by", "ref source", "source of referral", "referrer", "ref from"]),
    (Section::Patient, "first_contact", &["first contact", "first contact date", "date of first contact", "first seen anywhere"]),
    (Section::Patient, "renal_replacement", &["rrt", "dialysis", "renal replacement", "esrd", "esrf", "renal", "on dialysis"]),
    (Section::Patient, "smoker", &["smoker", "smoke", "smoking", "smokes", "current smoker", "smoking status"]),
    (Section::Patient, "history_date", &["history date", "recorded date", "history recorded", "date recorded"]),
    (Section::Patient, "prior_ulcer", &["prior ulcer", "prev ulcer", "previous ulcer", "past ulcer", "hx ulcer", "ulcer history", "history of ulcer"]),
    (Section::Patient, "prior_amputation", &["prior amputation", "prev amp", "prior amp", "previous amputation", "prev amputation", "hx amp", "amputation history", "amp hx"]),
    (Section::Patient, "prior_amputation_side", &["prior amputation side", "prev amp side"]),
    (Section::Patient, "death", &["dod", "death", "death date", "date of death", "died", "deceased date", "date died", "date deceased", "deceased", "deceased on", "died on"]),
    (Section::Patient, "last_contact", &["last contact", "last contact date", "date of last contact", "last known alive"]),
    (Section::Visit, "patient", &["patient id", "patient", "pat ref", "patient ref", "pid", "pat id", "person id", "pseudonym", "patient key", "patient no", "client id", "subject id", "study id"]),
    (Section::Visit, "date", &["visit date", "vis date", "date", "date of visit", "appt date", "appointment date", "attendance date", "seen date", "date seen", "seen on", "contact date", "exam date", "attend date", "attended on", "encounter date", "encounter period start", "encounter start", "date of service", "service date", "treatment date"]),
    (Section::Visit, "clinic_site", &["clinic", "clinic site", "site", "clinic name", "location", "site name", "facility", "branch"]),
    (Section::Visit, "clinician", &["clinician", "clinician id", "clinician key", "clinician code", "seen by", "practitioner", "podiatrist id", "provider"]),
    (Section::Visit, "clinician_role", &["role", "clinician role", "profession", "staff group", "job role", "provider type"]),
    (Section::Visit, "setting", &["setting", "visit type", "contact type", "visit setting", "place seen", "mode"]),
    (Section::Visit, "planned_return", &["next appt", "planned return", "next visit", "return date", "next appointment", "review date", "next due", "follow up date"]),
    (Section::Visit, "hba1c", &["hba1c", "hb a1c", "a1c", "hba1c percent", "hba1c mmol", "hba1c mmol mol", "glycated haemoglobin"]),
    (Section::Attendance, "column", &["attend", "attendance", "attended", "attendance status", "appt status", "outcome of appointment", "status", "kept", "seen", "arrived", "visit status", "appointment status", "attendance code", "attendance outcome", "appt outcome"]),
    (Section::FootExam, "patient", &["patient id", "patient", "pat ref", "patient ref", "pid", "pat id", "person id", "pseudonym", "patient key", "patient no", "client id", "subject id", "study id"]),
    (Section::FootExam, "date", &["date", "visit date", "exam date", "vis date", "date of exam"]),
    (Section::FootExam, "side", &["side", "laterality", "foot", "limb"]),
    (Section::FootExam, "sensation", &["mono", "monofilament", "sensation", "protective sensation", "monofil", "10g", "sens"]),
    (Section::FootExam, "pulses", &["pulse", "pulses", "pedal pulses", "pedal pulse", "palpable pulses", "palpation"]),
    (Section::FootExam, "waveform", &["wave", "waveform", "doppler", "doppler waveform", "doppler wave"]),
    (Section::FootExam, "ankle_pressure", &["ankle", "ankle mmhg", "ankle pressure", "ankle systolic", "ankle bp", "ankle sbp"]),
    (Section::FootExam, "brachial_pressure", &["brach", "brachial", "brachial mmhg", "brachial pressure", "arm pressure", "brachial systolic"]),
    (Section::FootExam, "toe_pressure", &["toe", "toe mmhg", "toe pressure", "toe systolic", "toe bp", "tsp"]),
    (Section::FootExam, "abi", &["abi", "abpi", "ankle brachial index"]),
    (Section::FootExam, "tbi", &["tbi", "tbpi", "toe brachial index"]),
    (Section::FootExam, "tcpo2", &["tcpo2", "tcpo2 mmhg", "tcom", "transcutaneous oxygen"]),
    (Section::FootExam, "deformity", &["deform", "deformity", "foot deformity"]),
    (Section::FootExam, "charcot", &["charcot", "charcot foot", "neuroarthropathy"]),
    (Section::FootExam, "worn_size", &["worn", "worn size", "shoe size worn", "shoe size"]),
    (Section::FootExam, "measured_size", &["meas", "measured size", "measured", "size measured", "foot size"]),
    (Section::FootExam, "footwear_suitable", &["shoe ok", "footwear suitable", "footwear ok", "shoes suitable", "footwear adequate", "suitable footwear"]),
    (Section::Ulcer, "patient", &["patient id", "patient", "pat ref", "patient ref", "pid", "pat id", "person id", "pseudonym", "patient key", "patient no", "client id", "subject id", "study id"]),
    (Section::Ulcer, "date", &["date", "visit date", "vis date", "date seen", "assessment date"]),
    (Section::Ulcer, "label", &["label", "ref", "id", "no", "number", "condition identifier", "condition id", "ulcer id", "wound id", "lesion id", "wound no", "wound number", "ulcer number", "ulcer no", "key", "name", "ulcer", "wound", "lesion"]),
    (Section::Ulcer, "side", &["side", "laterality", "foot", "limb", "affected foot", "affected side", "body site laterality", "condition body site laterality"]),
    (Section::Ulcer, "site", &["site", "location", "place", "body site", "condition body site", "position", "anatomical site", "loc", "location on foot", "site on foot"]),
    (Section::Ulcer, "aspect", &["aspect", "surface"]),
    (Section::Ulcer, "onset_date", &["onset", "onset date", "date of onset", "started", "start date", "began", "noticed", "date noticed", "date ulcer noticed", "onset date time", "condition onset date time"]),
    (Section::Ulcer, "onset_precision", &["onset p", "onset precision", "onset prec", "onset accuracy"]),
    (Section::Ulcer, "origin", &["origin", "new or transferred", "source", "type of entry"]),
    (Section::Ulcer, "parent", &["from", "parent", "split from", "parent ulcer", "parent id"]),
    (Section::Ulcer, "merged_into", &["into", "merged into", "merged with", "joined"]),
    (Section::Ulcer, "length", &["length", "len", "lgth", "length cm", "length mm", "len cm", "len mm", "l cm", "l mm"]),
    (Section::Ulcer, "width", &["width", "wid", "wdth", "width cm", "width mm", "wid cm", "wid mm", "w cm", "w mm"]),
    (Section::Ulcer, "depth", &["depth", "dep", "dpth", "depth cm", "depth mm", "dep cm", "dep mm"]),
    (Section::Ulcer, "area", &["area", "area cm2", "area mm2", "wound area", "ulcer area", "size", "traced area", "surface area"]),
    (Section::Ulcer, "is_after_debridement", &["postdeb", "post deb", "post debridement", "is after debridement", "after debridement", "measured after debridement"]),
    (Section::Ulcer, "tissue_depth", &["tissue", "tissue depth", "deepest tissue", "depth of tissue", "tissue involved"]),
    (Section::Ulcer, "gangrene", &["gangrene", "gang"]),
    (Section::Ulcer, "infection", &["infection", "inf", "infected", "infection grade", "infection severity"]),
    (Section::Ulcer, "probe_to_bone", &["ptb", "probe to bone", "probes to bone", "bone probe"]),
    (Section::Ulcer, "osteomyelitis", &["osteo", "osteomyelitis", "om"]),
    (Section::Ulcer, "state", &["state", "status", "open closed", "healed", "outcome", "wound status", "ulcer status", "clinical status", "condition clinical status"]),
    (Section::Ulcer, "seen_by", &["by", "seen by", "observer", "assessed by", "reported by"]),
    (Section::Ulcer, "debrided", &["debrid", "debrided", "debridement", "debridement done"]),
    (Section::Ulcer, "cultured", &["swab", "cultured", "culture", "swab taken", "swabbed", "culture sent"]),
    (Section::Ulcer, "antibiotic", &["abx", "antibiotic", "antibiotics", "on antibiotic"]),
    (Section::Ulcer, "offloading_prescribed", &["off rx", "offloading prescribed", "offload rx", "offloading ordered", "offloading device prescribed"]),
    (Section::Ulcer, "offloading_dispensed", &["off given", "offloading dispensed", "offload given", "offloading given", "offloading supplied", "offloading device dispensed", "offloading device given"]),
    (Section::Ulcer, "dressing_on_arrival", &["dress", "dressing", "dressing on arrival", "dressing present", "dressed on arrival", "dressing in place"]),
    (Section::Ulcer, "dressing_carer", &["dress by", "dressing carer", "dressing by", "dressed by", "who dresses", "dressing done by"]),
    (Section::Event, "patient", &["patient id", "patient", "pat ref", "patient ref", "pid", "pat id", "person id", "pseudonym", "patient key", "patient no", "client id", "subject id", "study id"]),
    (Section::Event, "kind", &["kind", "event", "event type", "type", "event kind", "what", "event code"]),
    (Section::Event, "date", &["date", "event date", "date of event", "procedure date"]),
    (Section::Event, "side", &["side", "laterality", "foot", "limb"]),
    (Section::Event, "ulcer_label", &["ref", "ulcer label", "ulcer ref", "ulcer", "wound", "lesion", "label", "wound ref", "ulcer id", "wound id"]),
    (Section::Event, "is_staged", &["staged", "is staged", "planned stage", "stage"]),
    (Section::Event, "level", &["level", "amputation level", "amp level", "minor major"]),
    (Section::Event, "height", &["height", "amputation height", "amp height", "anatomical level"]),
];
