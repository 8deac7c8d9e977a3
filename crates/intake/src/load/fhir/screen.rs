//! The identifier screen of resources: elements that name a person, and every other text by its path.
//!
//! Elements of a Patient that identify stop the run by being there. All other texts are looked at like the cells of a
//! column, a path a column. Codes, addresses of code systems and references are not: they are the standard's own.

use super::json::{each, reference, text};
use crate::dates::DateOrder;
use crate::layout::Layout;
use crate::load::Cells;
use crate::screen::{Screen, Use, over_89_before};
use outcomes::finding::{Finding, Severity};
use outcomes::rules::DataHorizon;
use outcomes::tables::SourceRow;
use serde_json::Value as Json;
use std::collections::BTreeMap;

/// Elements of a Patient that name who it is, and the check each of them is. Kinds of identifiers: 45 CFR
/// 164.514(b)(2)(i); elements: HL7 FHIR R4, Patient.
const NAMING: [(&str, &str); 6] = [
    ("name", "looks-like-name"),
    ("contact", "looks-like-name"),
    ("telecom", "looks-like-phone-number"),
    ("identifier", "looks-like-record-number"),
    ("address", "looks-like-address"),
    ("photo", "looks-like-link-or-device"),
];

/// Resources about a person who is cared for or kin, wherever they stand.
const PERSONS: [&str; 3] = ["Patient", "RelatedPerson", "Person"];

/// Elements of any resource that are told by being there.
const WORDS: [&str; 3] = ["text", "note", "identifier"];

/// Keys whose text is the standard's own, or is followed and never kept.
const OWN: [&str; 23] = [
    "resourceType",
    "reference",
    "system",
    "code",
    "url",
    "version",
    "unit",
    "status",
    "type",
    "use",
    "lastUpdated",
    "versionId",
    "profile",
    "intent",
    "priority",
    "comparator",
    "gender",
    "mode",
    "required",
    "language",
    "birthDate",
    "implicitRules",
    "id",
];

/// The screen of one file.
pub(super) struct ResourceScreen<'s> {
    layout: &'s Layout,
    horizon: &'s DataHorizon,
    columns: BTreeMap<String, Screen>,
    /// (check, path) -> first place and how many.
    named: BTreeMap<(&'static str, String), (SourceRow, u64)>,
    cell: Cells,
}

impl<'s> ResourceScreen<'s> {
    pub(super) fn new(layout: &'s Layout, horizon: &'s DataHorizon) -> Self {
        Self {
            layout,
            horizon,
            columns: BTreeMap::new(),
            named: BTreeMap::new(),
            cell: Cells::default(),
        }
    }

    /// Looks at one resource.
    pub(super) fn look(&mut self, kind: &str, resource: &Json, source: SourceRow) {
        for key in ["subject", "patient"] {
            self.look_at_subject(kind, key, resource.get(key), source);
        }
        for part in each(resource, "participant") {
            let is_patient = reference(part, "actor").is_some_and(|who| who.kind == "Patient");
            if is_patient {
                let path = format!("{kind}.participant");
                self.look_at_subject(&path, "actor", part.get("actor"), source);
            }
        }
        // narrative repeats in words what the elements say, and notes say anything
        for element in ["text", "note"] {
            if each(resource, element).any(is_filled_text) {
                let path = format!("{kind}.{element}");
                self.name("looks-like-free-text", path, source);
            }
        }
        // a number of an encounter or an order leads to the person as a record number does
        let is_numbered = each(resource, "identifier").any(|one| {
            let is_label = kind == "Condition" && self.is_label_system(text(one, "system"));
            is_filled(one) && !is_label
        });
        if is_numbered && kind != "Patient" {
            let path = format!("{kind}.identifier");
            self.name("looks-like-record-number", path, source);
        }
        let mut path = kind.to_owned();
        self.walk(resource, &mut path, source);
    }

    /// A resource about a person, at the top or contained in another.
    fn look_at_person(&mut self, resource: &Json, path: &str, source: SourceRow) {
        for (element, check) in NAMING {
            let is_told = each(resource, element).any(|part| match element {
                "address" => names_more_than_a_state(part),
                _ => is_filled(part),
            });
            if is_told {
                self.name(check, format!("{path}.{element}"), source);
            }
        }
        if let Some(birth) = text(resource, "birthDate") {
            let is_year = birth.len() == 4 && birth.bytes().all(|byte| byte.is_ascii_digit());
            let year = birth.parse::<i32>().ok().filter(|_| is_year);
            match year {
                None => self.name("looks-like-birth-date", format!("{path}.birthDate"), source),
                Some(year) if year < over_89_before(self.horizon) => {
                    self.name("age-over-89", format!("{path}.birthDate"), source);
                }
                Some(_) => {}
            }
        }
        if let Some(id) = text(resource, "id") {
            self.look_at(&format!("{path}.id"), id, Use::PatientId, source);
        }
    }

    /// A reference to a person must not carry their name or number beside it.
    fn look_at_subject(&mut self, kind: &str, key: &str, who: Option<&Json>, source: SourceRow) {
        let Some(who) = who else { return };
        if text(who, "display").is_some() {
            self.name("looks-like-name", format!("{kind}.{key}.display"), source);
        }
        if who.get("identifier").is_some_and(is_filled) {
            let path = format!("{kind}.{key}.identifier");
            self.name("looks-like-record-number", path, source);
        }
    }

    fn is_label_system(&self, system: Option<&str>) -> bool {
        let profile = self.layout.fhir.as_ref();
        let labels = profile.and_then(|profile| profile.label_system.as_deref());
        labels.is_some() && labels == system
    }

    fn name(&mut self, check: &'static str, path: String, source: SourceRow) {
        let (_, n) = self.named.entry((check, path)).or_insert((source, 0));
        *n += 1;
    }

    fn walk(&mut self, json: &Json, path: &mut String, source: SourceRow) {
        match json {
            Json::Object(entries) => {
                let is_coding = entries.contains_key("code");
                let is_concept = entries.contains_key("coding");
                let is_person =
                    text(json, "resourceType").is_some_and(|kind| PERSONS.contains(&kind));
                if is_person {
                    self.look_at_person(json, path, source);
                }
                if is_age_over_89(json) {
                    self.name("age-over-89", path.clone(), source);
                }
                if entries.contains_key("data") && entries.contains_key("contentType") {
                    self.name("looks-like-link-or-device", path.clone(), source);
                }
                for (key, value) in entries {
                    let is_told = is_person && NAMING.iter().any(|(name, _)| name == key);
                    let is_words = !path.contains('.') && WORDS.contains(&key.as_str());
                    let is_own = is_told
                        || is_words
                        || OWN.contains(&key.as_str())
                        || (key == "display" && is_coding)
                        || (key == "text" && is_concept);
                    if is_own {
                        continue;
                    }
                    let length = path.len();
                    path.push('.');
                    path.push_str(key);
                    self.walk(value, path, source);
                    path.truncate(length);
                }
            }
            Json::Array(items) => {
                for item in items {
                    self.walk(item, path, source);
                }
            }
            Json::String(text) => self.look_at(path, text, use_of(path), source),
            Json::Null | Json::Bool(_) | Json::Number(_) => {}
        }
    }

    fn look_at(&mut self, path: &str, text: &str, used: Use, source: SourceRow) {
        if !self.columns.contains_key(path) {
            let used = match (self.is_listed(path), self.reason(path)) {
                (true, _) => Use::Dropped,
                (false, Some(_)) => Use::Accepted,
                (false, None) => used,
            };
            let header = path.to_owned();
            let screen = Screen::new(std::slice::from_ref(&header), &[used], self.horizon);
            self.columns.insert(header, screen);
        }
        if let Some(screen) = self.columns.get_mut(path) {
            self.cell.clear();
            self.cell.push(text);
            screen.look(&self.cell, source);
        }
    }

    fn is_listed(&self, path: &str) -> bool {
        self.layout.ignore.iter().any(|listed| covers(listed, path))
    }

    fn reason(&self, path: &str) -> Option<&'s str> {
        let mut accepted = self.layout.accepted.iter();
        accepted
            .find(|(listed, _)| covers(listed, path))
            .map(|(_, reason)| reason.as_str())
    }

    /// What was found, path by path.
    pub(super) fn findings(&self, file: &str) -> Vec<Finding> {
        let mut findings = Vec::new();
        for ((check, path), (first, n)) in &self.named {
            if self.is_listed(path) {
                continue;
            }
            findings.push(match self.reason(path) {
                Some(reason) => Finding {
                    check: "declared-not-identifying",
                    severity: Severity::Note,
                    source: None,
                    column: Some(path.clone()),
                    message: format!(
                        "{file}: the layout declares that the element identifies nobody ({reason}); {check} in {n} resources"
                    ),
                    hint: None,
 n: 1,
},
                None => Finding {
                    check,
                    severity: Severity::Stop,
                    source: Some(*first),
                    column: Some(path.clone()),
                    message: format!("{n} resources carry an element that identifies a person"),
                    hint: Some(
                        "export without it, or list it under `ignore` in the layout; if it identifies nobody, declare it under [accept] with the reason"
                            .to_owned(),
                    ),
 n: 1,
},
            });
        }
        for (path, screen) in &self.columns {
            findings.extend(screen.findings(file, |_| self.reason(path)));
        }
        findings
    }
}

/// Whether a listed path covers a path: itself or something above it. Without a type it covers those of all types.
fn covers(listed: &str, path: &str) -> bool {
    let begins = |path: &str| {
        path.strip_prefix(listed)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    begins(path) || path.split_once('.').is_some_and(|(_, below)| begins(below))
}

fn use_of(path: &str) -> Use {
    let last = path.rsplit('.').next().unwrap_or(path);
    let is_date = last.ends_with("DateTime") || last.ends_with("Date");
    if is_date || ["start", "end", "issued", "created", "authoredOn", "date"].contains(&last) {
        return Use::Date(DateOrder::Iso.into());
    }
    Use::Open
}

/// Whether an element says something. One that only carries extensions, such as why it is absent, says nothing.
fn is_filled(json: &Json) -> bool {
    match json {
        Json::Null => false,
        Json::Object(entries) => entries
            .iter()
            .any(|(key, value)| !key.starts_with('_') && key != "extension" && is_filled(value)),
        Json::Array(items) => items.iter().any(is_filled),
        Json::Bool(_) | Json::Number(_) | Json::String(_) => true,
    }
}

/// A quantity in years above 89 (45 CFR 164.514(b)(2)(i)(C)). UCUM writes a year as `a`.
fn is_age_over_89(quantity: &Json) -> bool {
    let unit = text(quantity, "code").or_else(|| text(quantity, "unit"));
    let is_years = unit.is_some_and(|unit| ["a", "year", "years", "yr", "yrs"].contains(&unit));
    let value = quantity.get("value").and_then(Json::as_f64);
    is_years && value.is_some_and(|value| value > 89.0)
}

/// Whether a narrative or a note holds words.
fn is_filled_text(words: &Json) -> bool {
    ["div", "text"].iter().any(|key| text(words, key).is_some())
}

/// A state and a country are no identifier; anything finer is (45 CFR 164.514(b)(2)(i)(B)).
fn names_more_than_a_state(address: &Json) -> bool {
    let Json::Object(entries) = address else {
        return is_filled(address);
    };
    let coarse = ["state", "country", "use", "type", "period", "extension"];
    entries.iter().any(|(key, value)| {
        !key.starts_with('_') && !coarse.contains(&key.as_str()) && is_filled(value)
    })
}
