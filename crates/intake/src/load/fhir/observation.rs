//! Observations: one answer of its own, or a panel of answers in components.

use super::super::cells::CellFault;
use super::json::{Coding, codings, date, each, reference, references, text, unit};
use super::part::{Answer, Body, Item, Observation, fault, ignored};
use super::read::{Reader, Said, known_day, status_fault};
use crate::layout::{CodeList, Panel};
use serde_json::Value as Json;

/// Reads an observation: who, when, where, of which lesion, and the answers whose codings the layout knows.
pub(super) fn read(resource: &Json, reader: &mut Reader<'_>) -> Said {
    let day = reader.day_of(
        resource,
        &["effectiveDateTime", "effectivePeriod", "effectiveInstant"],
    );
    let good = ["preliminary", "final", "amended", "corrected"];
    if let Some(fault) = status_fault(text(resource, "status"), &good) {
        return Said {
            day,
            body: Err(fault),
        };
    }
    let mut items = Vec::new();
    let mut is_known = false;
    let parts = each(resource, "component").map(|part| (part, "Observation.component"));
    for (holder, element) in std::iter::once((resource, "Observation")).chain(parts) {
        let Some(field) = field_of(holder, reader) else {
            continue;
        };
        is_known = true;
        match answer(holder, field, reader) {
            None => {}
            Some(Ok(value)) => items.push(Item {
                field,
                value,
                element,
            }),
            Some(Err(fault)) => {
                let finding = ignored(fault, element, reader.source);
                reader.findings.push(finding);
            }
        }
    }
    let panel = panel_of(resource, reader);
    if !is_known && panel.is_none() {
        let mut codes = codings(resource, "code");
        codes.extend(each(resource, "component").flat_map(|part| codings(part, "code")));
        return reader.without_meaning(&codes, known_day(day, None), day);
    }
    let lesion = references(resource, "focus")
        .into_iter()
        .find(|found| found.kind == "Condition")
        .or_else(|| reference(resource, "focus").filter(|found| found.kind.is_empty()));
    let (side, site) = reader.place(resource);
    Said {
        day,
        body: Ok(Body::Observation(Observation {
            lesion: lesion.map(|found| found.id),
            side,
            site,
            panel,
            items,
        })),
    }
}

fn field_of(holder: &Json, reader: &Reader<'_>) -> Option<usize> {
    codings(holder, "code")
        .into_iter()
        .find_map(|coding| reader.profile.by_coding.get(&coding.token()))
        .copied()
}

fn panel_of(resource: &Json, reader: &Reader<'_>) -> Option<Panel> {
    codings(resource, "code")
        .into_iter()
        .find_map(|coding| reader.profile.panels.get(&coding.token()))
        .copied()
}

/// The answer of an observation or component; `None` where it gives none or says that it is missing.
fn answer(holder: &Json, field: usize, reader: &Reader<'_>) -> Option<Result<Answer, CellFault>> {
    let values = reader.profile.fields.get(field)?.values.as_ref();
    let (key, value) = holder
        .as_object()?
        .iter()
        .find(|(key, _)| key.starts_with("value"))?;
    Some(match (key.as_str(), value) {
        ("valueBoolean", Json::Bool(is_true)) => Ok(Answer::Flag(*is_true)),
        ("valueInteger", Json::Number(number)) => Ok(Answer::Number(number.as_f64()?, None)),
        ("valueQuantity", quantity) => number(quantity),
        ("valueDateTime", _) => date(holder, key, reader.profile.dates)?
            .map(Answer::Date)
            .map_err(|()| {
                fault(
                    "unreadable-date",
                    "not a date of the standard; the answer counts as missing",
                )
            }),
        ("valueCodeableConcept", concept) => coded(concept, values)?,
        ("valueString", _) => Err(fault(
            "text-not-read",
            "an answer in free text is not read; the answer counts as missing",
        )),
        _ => Err(fault(
            "answer-of-another-kind",
            "an answer of a type that the field does not take; it counts as missing",
        )),
    })
}

fn number(quantity: &Json) -> Result<Answer, CellFault> {
    if text(quantity, "comparator").is_some() {
        return Err(fault(
            "inexact-number",
            "a number that is only a bound; the answer counts as missing",
        ));
    }
    let value = quantity.get("value").and_then(Json::as_f64).ok_or(fault(
        "unreadable-number",
        "not a number; the answer counts as missing",
    ))?;
    let unit = unit(quantity).map_err(|()| {
        fault(
            "unknown-unit",
            "a unit that the field cannot be in; the answer counts as missing",
        )
    })?;
    Ok(Answer::Number(value, unit))
}

/// An answer from a list, by the layout's words; kept as its code where the layout gives none. `None` where the layout
/// says that the code means missing.
fn coded(concept: &Json, values: Option<&CodeList>) -> Option<Result<Answer, CellFault>> {
    let codings = super::json::concept(concept);
    let Some(list) = values else {
        let code = codings.first()?.code.to_owned();
        return Some(Ok(Answer::Word(code)));
    };
    let pair = codings
        .into_iter()
        .map(Coding::token)
        .find_map(|token| list.find(&token));
    match pair {
        Some((_, pair)) => pair.ours.clone().map(|word| Ok(Answer::Word(word))),
        None => Some(Err(fault(
            "unknown-code",
            "a code that the layout does not know; the answer counts as missing",
        ))),
    }
}
