//! Texts that would break a page or run on it stay texts.

use crate::{accessibility, fixture, poison};
use outcomes::report::{Audience, Figure, Report};
use proptest::prelude::*;

/// The fixture with this text in strings of every kind.
pub(crate) fn poisoned(text: &str) -> Report {
    let mut report = fixture::report(Audience::Clinic);
    report.title = text.into();
    report.practice = text.into();
    report.quarter = text.into();
    report.front_page.sentences.push(text.into());
    report.front_page.chance = text.into();
    for headline in &mut report.front_page.headlines {
        headline.title = text.into();
        headline.reading = text.into();
        headline.result.cohort = text.into();
        for point in &mut headline.trend {
            point.quarter = text.into();
            point.absent = Some(text.into());
        }
    }
    for family in &mut report.families {
        family.id = text.into();
        family.title = text.into();
        for sheet in &mut family.measures {
            sheet.id = text.into();
            sheet.title = text.into();
            sheet.source = text.into();
            sheet.context = vec![text.into()];
            sheet.direction = text.into();
            for result in &mut sheet.results {
                result.stratum = text.into();
                result.notes = vec![text.into()];
            }
        }
    }
    for figure in &mut report.figures {
        poison::figure(figure, text);
    }
    report.monitoring.rules = vec![text.into()];
    for series in &mut report.monitoring.series {
        series.title = text.into();
        series.figure = Some(text.into());
        series.finding = text.into();
    }
    for headline in &mut report.front_page.headlines {
        headline.expectation = Some(text.into());
    }
    for item in &mut report.action_list {
        item.patient = text.into();
        item.trace = text.into();
    }
    for account in &mut report.accounts {
        account.file = text.into();
    }
    for setting in &mut report.settings {
        setting.default = Some(text.into());
    }
    for rule in &mut report.rules {
        rule.measure = text.into();
    }
    for field in &mut report.completeness {
        field.quarters = vec![(text.into(), 1, 2)];
    }
    report.glossary.push((text.into(), text.into()));
    report.provenance.pipeline.1 = text.into();
    report
}

/// The page without its charts.
fn outside_charts(page: &str) -> String {
    accessibility::svgs(page)
        .iter()
        .fold(page.to_owned(), |page, chart| page.replace(chart, ""))
}

/// Checks that a text in every string adds neither element nor attribute to the page.
fn assert_inert(text: &str) {
    let page = report::html(&poisoned(text)).unwrap();
    let plain = report::html(&poisoned("plain")).unwrap();
    let (words, plain_words) = (outside_charts(&page), outside_charts(&plain));
    for mark in ["<", ">", "\""] {
        let (found, expected) = (
            words.matches(mark).count(),
            plain_words.matches(mark).count(),
        );
        assert_eq!(found, expected, "{mark} in {text:?}");
    }
    for chart in accessibility::svgs(&page) {
        let document = roxmltree::Document::parse(chart).unwrap();
        for element in document.descendants().filter(|node| node.is_element()) {
            let name = element.tag_name().name();
            assert!(
                ["svg", "title", "desc", "text", "path", "rect", "circle"].contains(&name),
                "{name}"
            );
            assert!(
                element
                    .attributes()
                    .all(|attribute| !attribute.name().starts_with("on"))
            );
        }
    }
    let is_hidden = |c: char| {
        (c.is_control() && c != '\n' && c != '\t') || ('\u{202a}'..='\u{202e}').contains(&c)
    };
    assert!(!page.contains(is_hidden));
}

#[test]
fn markup_in_any_string_stays_text() {
    assert_inert("</style></title></svg><script>alert(1)</script>");
    assert_inert(
        "x><img/src=x onerror=alert(1)>"
            .replace(" onerror=", "/onerror=")
            .as_str(),
    );
    assert_inert("]]>--><!--&amp;&#60;");
}

#[test]
fn control_and_direction_characters_become_visible() {
    assert_inert("a\u{202e}b\u{0}c\u{7}d\u{2066}");
    let page = report::html(&poisoned("a\u{202e}b")).unwrap();
    assert!(page.contains("a⟨U+202E⟩b"));
}

#[test]
fn a_string_of_ten_thousand_characters_is_cut_in_charts_and_kept_in_words() {
    let text = "W".repeat(10_000);
    let page = report::html(&poisoned(&text)).unwrap();
    assert!(page.contains(&text));
    for chart in accessibility::svgs(&page) {
        let document = roxmltree::Document::parse(chart).unwrap();
        let longest = document
            .descendants()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text())
            .map(|text| text.chars().count())
            .max();
        assert!(longest.unwrap_or(0) < 120);
    }
}

#[test]
fn numbers_that_are_not_finite_are_never_drawn() {
    let mut report = fixture::report(Audience::Clinic);
    report.figures.iter_mut().for_each(poison::unbounded);
    let page = report::html(&report).unwrap();
    for forbidden in ["NaN", "inf", "2147483647"] {
        let charts = accessibility::svgs(&page);
        assert!(
            charts
                .iter()
                .all(|chart| !chart.contains(&format!("{forbidden}\""))
                    && !chart.contains(&format!("{forbidden}%")))
        );
    }
}

#[test]
fn a_figure_whose_parts_do_not_fit_is_an_error_that_names_it() {
    let mut report = fixture::report(Audience::Clinic);
    for figure in &mut report.figures {
        if let Figure::CumulativeIncidence { at_risk, .. } = figure {
            at_risk[0].counts.pop();
        }
    }
    let fault = report::html(&report).unwrap_err().to_string();
    assert_eq!(
        fault,
        "figure `healing-curves`: numbers at risk and ticks differ in length"
    );
}

#[test]
fn an_empty_report_still_renders() {
    let mut report = fixture::report(Audience::Clinic);
    report.families.clear();
    report.figures.clear();
    report.action_list.clear();
    report.flow.clear();
    report.accounts.clear();
    report.findings.clear();
    report.completeness.clear();
    report.settings.clear();
    report.rules.clear();
    report.front_page.headlines.clear();
    assert!(
        report::html(&report)
            .unwrap()
            .contains("Nobody meets a rule of the action list.")
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn any_text_is_inert(text in "\\PC{0,40}|[<>&\"'\u{0}-\u{1f}\u{202a}-\u{202e} =/a-z]{0,40}") {
        assert_inert(&text);
    }
}
