//! What the report says must follow the settings in force.
#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse};
use outcomes::derive::derive;
use outcomes::measure::{MEASURES, SplitBy, Stratifier};
use outcomes::report::{Audience, Provenance};
use outcomes::rules::{Quarter, Rules};
use support::{horizon, story};

#[test]
fn no_sentence_states_a_default_that_is_not_in_force() {
    let rules = Rules {
        confirmation_gap_days: 15,
        reopening_window_days: 17,
        evidence_days: 19,
        lost_after_days: 71,
        prevalent_window_days: 73,
        death_link_days: 77,
        referral_look_back_days: 37,
        staged_amputation_days: 39,
        seen_within_months: 7,
        ..Rules::default()
    };
    let tables = story("200 open right A\n230 closed right A");
    let horizon = horizon(700);
    let people = derive(&tables, &rules, &horizon);
    let strata: Vec<SplitBy> = Stratifier::ALL
        .iter()
        .copied()
        .map(SplitBy::Field)
        .collect();
    let report = analyse(&Material {
        dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
        title: "t",
        practice: "Tarnwick Foot Practice",
        audience: Audience::Clinic,
        quarter: Quarter::parse("2024Q3").unwrap(),
        trend_quarters: 8,
        measures: MEASURES,
        strata: &strata,
        tables: &tables,
        people: &people,
        rules: &rules,
        horizon: &horizon,
        findings: &[],
        check_words: &[],
        accounts: &[],
        completeness: &[],
        provenance: &Provenance::default(),
    });
    let said = format!(
        "{:?} {:?} {:?} {:?} {:?} {:?}",
        report.front_page,
        report.families,
        report.figures,
        report.rules,
        report.glossary,
        report.flow
    );
    // The vascular measure reads 1, 7, 14 and 28 days, and areas are read nearest day 28, whatever the settings.
    let said = said
        .replace("nearest day 28", "")
        .replace("1, 7, 14 and 28 days", "")
        .replace("within 28 days", "")
        // Bands of days between visits, whatever the settings.
        .replace("15 to 28 days", "")
        .replace("29 to 90 days", "")
        .replace("more than 90 days\"", "")
        .replace("day 28 and 19 more", "");
    for default in [
        "28 days",
        "day 28",
        "90 days",
        "12 months before",
        "14 days apart",
    ] {
        let place = said
            .find(default)
            .map_or("", |at| &said[at.saturating_sub(60)..at + 20]);
        assert!(place.is_empty(), "the report still says: {place}");
    }
    for setting in outcomes::rules::SETTINGS {
        let placeholder = format!("{{{}}}", setting.name);
        let place = said
            .find(&placeholder)
            .map_or("", |at| &said[at.saturating_sub(90)..at]);
        assert!(
            place.is_empty(),
            "a setting was not filled in after: {place}"
        );
    }
    assert!(said.contains("within 17 days") && said.contains("up to 37 days"));
}
