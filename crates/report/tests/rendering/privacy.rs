//! What a page must not show: hidden counts, people outside the clinic copy, requests.

use crate::{fixture, poison};
use outcomes::report::{Audience, Count, Figure, Report, Value};

fn all() -> [Report; 3] {
    [Audience::Clinic, Audience::Auditor, Audience::Public].map(fixture::report)
}

#[test]
fn nothing_runs_and_nothing_is_loaded() {
    for report in all() {
        let page = report::html(&report).unwrap();
        let policy = "content=\"default-src 'none'; style-src 'unsafe-inline'";
        assert!(page.contains(policy));
        for forbidden in [
            "<script",
            "<link",
            "<iframe",
            "<img",
            "<object",
            " src=",
            "@import",
            "url(",
            "http://",
            "https://",
            "javascript:",
            " onload",
        ] {
            assert!(!page.contains(forbidden), "{forbidden}");
        }
    }
}

#[test]
fn the_action_list_is_in_the_clinic_copy_alone() {
    let clinic = fixture::report(Audience::Clinic);
    for audience in [Audience::Clinic, Audience::Auditor, Audience::Public] {
        let report = Report {
            audience,
            ..clinic.clone()
        };
        let is_clinic = audience == Audience::Clinic;
        for words in [
            report::html(&report).unwrap(),
            report::json(&report).unwrap(),
        ] {
            assert_eq!(words.contains("TW-00042"), is_clinic);
        }
        assert_eq!(
            report::html(&report).unwrap().contains("id=\"attention\""),
            is_clinic
        );
    }
}

/// A report in which every result and every count of a figure is hidden.
pub(crate) fn hidden() -> Report {
    let mut report = fixture::report(Audience::Public);
    for result in report
        .families
        .iter_mut()
        .flat_map(|family| &mut family.measures)
        .flat_map(|sheet| &mut sheet.results)
    {
        result.value = Value::Suppressed;
        result.numerator = Some(Count::Suppressed);
        result.denominator = Some(Count::Suppressed);
        result.n_unknown = Some(Count::Suppressed);
        result.bounds = None;
        result.notes.clear();
    }
    report.figures.iter_mut().for_each(poison::hide);
    report
}

#[test]
fn a_suppressed_result_shows_no_digit() {
    let page = report::html(&hidden()).unwrap();
    let sheets: Vec<&str> = page.split("<article class=\"sheet\"").skip(1).collect();
    assert!(!sheets.is_empty());
    for sheet in sheets {
        let body = sheet.split("<tbody").nth(1).unwrap();
        let body = &body[..body.find("</tbody>").unwrap()];
        for cell in body.split("<td ").skip(1) {
            let content = &cell[cell.find('>').unwrap() + 1..cell.find("</td>").unwrap()];
            assert!(
                !content.contains(|character: char| character.is_ascii_digit()),
                "{content}"
            );
        }
        assert!(body.contains("suppressed"));
    }
}

/// Drawn layer rectangles other than the small squares beside the labels.
fn n_parts_of_bars(page: &str) -> usize {
    let rectangles = page.split("<rect class=\"layer-").skip(1);
    rectangles
        .filter(|rest| !rest[..rest.find('>').unwrap()].contains("width=\"80\" height=\"80\""))
        .count()
}

#[test]
fn a_bar_with_hidden_counts_has_no_parts_and_the_caption_says_why() {
    let page = report::html(&hidden()).unwrap();
    assert!(n_parts_of_bars(&report::html(&fixture::report(Audience::Public)).unwrap()) > 0);
    assert_eq!(n_parts_of_bars(&page), 0);
    // Two curves without counts have nothing to hide.
    let figures: Vec<&str> = page.split("<figure ").skip(1).collect();
    assert!(
        figures
            .iter()
            .filter(|figure| !figure.starts_with("id=\"figure-healing-between-visits\""))
            .all(|figure| figure.contains("suppressed to protect patients"))
    );
}

#[test]
fn a_curve_says_nothing_past_its_last_day() {
    let mut report = fixture::report(Audience::Public);
    for figure in &mut report.figures {
        if let Figure::CumulativeIncidence { curves, .. } = figure {
            curves.iter_mut().for_each(|curve| curve.until_day = 100.0);
        }
    }
    let page = report::html(&report).unwrap();
    let row = |week: &str| {
        let start = page.find(&format!(">{week}</th>")).unwrap();
        let row = &page[start..];
        row[..row.find("</tr>").unwrap()].to_owned()
    };
    assert!(row("week 12").contains("% ("));
    assert!(!row("week 16").contains('%'));
}
