//! `explain` and `list`: the catalogue in words.

use super::codes::explained_code_table;
use super::out;
use super::scales::{explained_scale, list_of_scales, scale_names};
use crate::arguments::Listing;
use crate::estimate::{explained_method, list_of_methods, method_names};
use crate::failure::Failure;
use outcomes::check::CHECKS;
use outcomes::measure::{FAMILIES, MEASURES, Measure, Stratifier, find_measure};
use outcomes::rules::{AreaFormula, Clock, Rules, SETTINGS, VascularGuideline};
use std::fmt::Write as _;

/// The name under which the schema of report.json is printed.
const REPORT_SCHEMA: &str = "report-schema";

/// Everything known about one measure, check, setting or method.
pub(crate) fn explain(name: &str) -> Result<(), Failure> {
    if name == REPORT_SCHEMA {
        return out(include_str!(
            "../../../../reports/schema/report.schema.json"
        ));
    }
    let found = explained(name)
        .or_else(|| explained_method(name))
        .or_else(|| explained_scale(name))
        .or_else(|| explained_code_table(name));
    let text = found.ok_or_else(|| {
        let fact = format!("`{name}` is no measure, check, setting, method, scale or code table");
        let names = names();
        match intake::config::nearest(name, names.iter().map(String::as_str)) {
            Some(near) => Failure::with_hint(fact, format!("did you mean `{near}`?")),
            None => Failure::with_hint(fact, "`limbledger list measures` shows what there is"),
        }
    })?;
    out(&text)
}

/// One list.
pub(crate) fn list(what: Listing) -> Result<(), Failure> {
    out(&match what {
        Listing::Measures => measures(),
        Listing::Checks => checks(),
        Listing::Settings => settings(),
        Listing::Codes => super::codes::codes(),
        Listing::Methods => list_of_methods(),
        Listing::Scales => list_of_scales(),
        Listing::Strata => strata(),
    })
}

fn names() -> Vec<String> {
    let measures = MEASURES.iter().map(|measure| measure.id);
    measures
        .chain(all_checks().map(|check| check.name))
        .chain(SETTINGS.iter().map(|setting| setting.name))
        .map(str::to_owned)
        .chain(method_names())
        .chain(scale_names().into_iter().map(str::to_owned))
        .chain(
            intake::CodeSystem::ALL
                .iter()
                .map(|system| system.code().to_owned()),
        )
        .collect()
}

fn all_checks() -> impl Iterator<Item = &'static outcomes::check::CheckWords> {
    intake::CHECKS.iter().chain(CHECKS)
}

fn explained(name: &str) -> Option<String> {
    if let Some(measure) = find_measure(name) {
        return Some(explain_measure(measure));
    }
    if let Some(check) = all_checks().find(|check| check.name == name) {
        let source = if check.source.is_empty() {
            String::new()
        } else {
            format!("Source: {}\n", check.source)
        };
        return Some(format!(
            "{}\n\n{}\n\nEffect on the row: {}\n{source}",
            check.name, check.words, check.severity
        ));
    }
    let setting = SETTINGS.iter().find(|setting| setting.name == name)?;
    let values = match setting.name {
        "area_formula" => format!("\nValues: {}", joined(AreaFormula::ALL)),
        "vascular_guideline" => format!("\nValues: {}", joined(VascularGuideline::ALL)),
        "clock" => format!("\nValues: {}", joined(Clock::ALL)),
        _ => String::new(),
    };
    Some(format!(
        "{}\n\n{}\n\nDefault: {}{values}\nSource: {}\nWhere: [rules] in the pipeline file\n",
        setting.name,
        setting.words,
        (setting.value)(&Rules::default()),
        setting.source
    ))
}

fn joined<T: std::fmt::Display>(values: &[T]) -> String {
    values
        .iter()
        .map(T::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

fn explain_measure(measure: &Measure) -> String {
    let rules = Rules::default();
    let line = measure.rule_line(&rules);
    let mut text = format!(
        "{}\n{}\n\n{}\n",
        measure.id,
        measure.title,
        measure.words_under(&rules)
    );
    let mut row = |name: &str, words: &str| {
        let _ = writeln!(text, "\n{name}\n  {words}");
    };
    row("Numerator", &rules.fill(measure.numerator));
    row("Denominator", &rules.fill(measure.denominator));
    row("Left out", &measure.exclusions_under(&rules));
    row("Unit of analysis", &line.unit);
    row("Clock starts", &line.clock);
    row("At risk from", &line.entry);
    row("Event", &line.event);
    row("Competing", &line.competing);
    row("Follow-up ends", &line.censoring);
    row("On the same day", &line.same_day);
    row("Known outcome", &line.known);
    row("Maturity", &measure.maturity(&Rules::default()));
    row(
        "Direction",
        &match measure.direction {
            "neither" => "neither a higher nor a lower figure is better in itself".to_owned(),
            direction => format!("a higher figure is {direction}"),
        },
    );
    row("How to read it", measure.reading);
    row("Caution", &rules.fill(measure.caution));
    row("Source", measure.source);
    for context in measure.context {
        row("Context, not a target", context);
    }
    text
}

fn measures() -> String {
    let mut text = String::new();
    for family in FAMILIES {
        let _ = writeln!(text, "{}", family.title);
        for measure in MEASURES
            .iter()
            .filter(|measure| measure.family == family.id)
        {
            let _ = writeln!(text, "  {:<36} {}", measure.id, measure.title);
        }
    }
    text
}

fn strata() -> String {
    let mut text = String::new();
    for field in Stratifier::ALL {
        let _ = writeln!(text, "{:<18} {}", field.code(), field.words());
    }
    text.push_str(
        "strata.NAME        a grouping that the layout names under [strata]\n\n\
         Named in the pipeline file under [report], for example strata = [\"site\", \"tier\"].\n",
    );
    text
}

fn checks() -> String {
    let mut text = String::new();
    for check in all_checks() {
        let _ = writeln!(
            text,
            "{:<34} {:<13} {}",
            check.name,
            check.severity.code(),
            check.words
        );
    }
    text
}

fn settings() -> String {
    let rules = Rules::default();
    let mut text = String::new();
    for setting in SETTINGS {
        let _ = writeln!(
            text,
            "{:<40} {:<12} {}",
            setting.name,
            (setting.value)(&rules),
            setting.words
        );
    }
    text
}
