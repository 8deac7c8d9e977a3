use crate::fixture;
use outcomes::report::{Audience, Count, Report, Value};

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

/// A report in which every result is hidden.
fn hidden() -> Report {
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
