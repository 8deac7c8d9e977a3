//! The few shapes of HL7 FHIR R4 that are read: codings, references, dates, quantities.
//! Source: HL7 FHIR R4 (4.0.1), data types and references. Display names, narrative and notes are never read.

use crate::dates::{DateForm, WrittenDate, read_date};
use crate::quantity::Unit;
use serde_json::Value as Json;

/// The text under a key.
pub(super) fn text<'j>(json: &'j Json, key: &str) -> Option<&'j str> {
    json.get(key)?.as_str().filter(|text| !text.is_empty())
}

/// The elements under a key: those of a list, or the one that stands there alone.
pub(super) fn each<'j>(json: &'j Json, key: &str) -> impl Iterator<Item = &'j Json> + use<'j> {
    let found = json.get(key);
    let list = found.and_then(Json::as_array);
    let alone = found.filter(|_| list.is_none());
    list.into_iter().flatten().chain(alone)
}

/// One coding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Coding<'j> {
    pub(crate) system: &'j str,
    pub(crate) code: &'j str,
}

impl<'j> Coding<'j> {
    /// A coding with a code; `None` for one that only has words.
    pub(super) fn read(json: &'j Json) -> Option<Self> {
        Some(Self {
            system: text(json, "system").unwrap_or(""),
            code: text(json, "code")?,
        })
    }

    /// `system|code`, as layouts write it.
    pub(crate) fn token(self) -> String {
        format!("{}|{}", self.system, self.code)
    }
}

/// The codings of the concepts under a key.
pub(super) fn codings<'j>(json: &'j Json, key: &str) -> Vec<Coding<'j>> {
    each(json, key).flat_map(concept).collect()
}

/// The codings of one concept.
pub(super) fn concept(json: &Json) -> Vec<Coding<'_>> {
    each(json, "coding").filter_map(Coding::read).collect()
}

/// The resource a reference points at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Reference {
    /// Type; empty where the reference does not say it.
    pub(super) kind: String,
    pub(super) id: String,
}

/// The first reference under a key: `Type/id`, an address that ends so, with or without a version, or `urn:uuid:id`. A
/// reference into the resource itself is none. Where it does not name the type, the element `type` beside it may.
pub(super) fn reference(json: &Json, key: &str) -> Option<Reference> {
    references(json, key).into_iter().next()
}

/// All references under a key.
pub(super) fn references(json: &Json, key: &str) -> Vec<Reference> {
    each(json, key)
        .filter_map(|element| {
            let written = text(element, "reference")?;
            let plain = written.split("/_history/").next().unwrap_or(written);
            if plain.starts_with('#') {
                return None;
            }
            let (kind, id) = match plain.rsplit_once('/') {
                Some((before, id)) => (before.rsplit('/').next().unwrap_or(""), id),
                None => ("", plain.strip_prefix("urn:uuid:").unwrap_or(plain)),
            };
            let said = text(element, "type").filter(|_| kind.is_empty());
            (!id.is_empty()).then(|| Reference {
                kind: said.unwrap_or(kind).to_owned(),
                id: id.to_owned(),
            })
        })
        .collect()
}

/// A date, date and time, or instant: the calendar day as written where it was written, whatever its offset; one in UTC has
/// the day of the clinic's clocks, where the layout names their offset.
pub(super) fn date(json: &Json, key: &str, form: DateForm) -> Option<Result<WrittenDate, ()>> {
    let written = text(json, key)?;
    Some(read_date(written, form).map_err(|_| ()))
}

/// The unit of a quantity by its UCUM code. `Ok(None)` where it has none.
/// Source of the codes: UCUM; `{...}` is an annotation of a pure number.
pub(super) fn unit(quantity: &Json) -> Result<Option<Unit>, ()> {
    let Some(code) = text(quantity, "code").or_else(|| text(quantity, "unit")) else {
        return Ok(None);
    };
    Ok(Some(match code {
        "cm" => Unit::Centimetre,
        "mm" => Unit::Millimetre,
        "[in_i]" => Unit::Inch,
        "cm2" => Unit::SquareCentimetre,
        "mm2" => Unit::SquareMillimetre,
        "mm[Hg]" => Unit::MillimetreOfMercury,
        "kPa" => Unit::Kilopascal,
        "%" => Unit::Percent,
        "mmol/mol" => Unit::MillimolePerMole,
        "1" => return Ok(None),
        code if code.starts_with('{') && code.ends_with('}') => return Ok(None),
        _ => return Err(()),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn references_are_read_in_every_form_the_standard_allows() {
        for (written, kind, id) in [
            ("Patient/a-1", "Patient", "a-1"),
            ("https://records.example/fhir/Patient/a-1", "Patient", "a-1"),
            ("Patient/a-1/_history/3", "Patient", "a-1"),
            ("urn:uuid:0c3151bd", "", "0c3151bd"),
        ] {
            let found = reference(&json!({"subject": {"reference": written}}), "subject").unwrap();
            assert_eq!((found.kind.as_str(), found.id.as_str()), (kind, id));
        }
        for written in ["#inside", "", "Patient/"] {
            let json = json!({"subject": {"reference": written}});
            assert_eq!(reference(&json, "subject"), None, "{written}");
        }
    }

    #[test]
    fn a_coding_without_a_code_is_none() {
        let json =
            json!({"code": {"coding": [{"display": "words"}, {"code": "x"}], "text": "words"}});
        let tokens: Vec<String> = codings(&json, "code")
            .into_iter()
            .map(Coding::token)
            .collect();
        assert_eq!(tokens, ["|x"]);
    }
}
