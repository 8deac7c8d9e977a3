//! The page: one document, a section a module, all text escaped by maud.

mod anchors;
mod attention;
mod changes;
pub(crate) mod check;
mod family;
mod figure;
mod front;
mod making;
mod method;
mod research;
mod sensitivity;
mod sheet;
mod table;
mod values;
mod versions;
mod watch;

pub(crate) use attention::{lead as attention_lead, nobody};
pub(crate) use changes::{CHANGED, GIVEN_OR_NOT, RESTATED_WORDS};
pub(crate) use front::{fraction, interval as interval_words, unknown as unknown_words};
pub(crate) use making::{
    BYTES_ADD_UP, DECLARED_COLUMNS, EACH_HIDDEN, hidden_by_reason, severity as severity_words,
    share as completeness_share,
};
pub(crate) use research::{COHORT_WORDS, STATEMENT_WORDS};
pub(crate) use sensitivity::{IDLE_RULES, SENSITIVITY_WORDS};
pub(crate) use sheet::direction as direction_words;
pub(crate) use table::{cell, scrolling, words};
pub(crate) use values::{bounds as bounds_words, capitalised, interval, interval_kinds};
pub(crate) use versions::newest_of;
pub(crate) use watch::WATCHED;

use crate::{RenderError, wording};
use anchors::Anchors;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use outcomes::report::{Audience, Report};

/// What the browser may load: nothing but the style in the file itself.
const CONTENT_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'";

/// The caution that stands before any number.
pub(crate) const BANNER: &str = "This report describes care already given and recommends no treatment for any person. Clinical decisions belong to licensed practitioners and local protocols. Published figures are context, not targets. Local rules on de-identified data decide who may see this copy.";

/// What the public copy says in place of row accounts.
pub(crate) const ROWS_STAY: &str = "What became of every row, what the checks found and how complete the fields are stands in the copies kept by the practice: such counts would tell of single people.";

/// What a copy without file names says in their place.
pub(crate) const FILES_STAY: &str =
    "The files behind it are named in the copies kept by the practice.";

/// The head of a page: nothing is fetched, and nothing about it is told to anybody.
fn head(title: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta http-equiv="Content-Security-Policy" content=(CONTENT_POLICY);
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            meta name="referrer" content="no-referrer";
            title { (title) }
            style { (PreEscaped(include_str!("style.css"))) }
        }
    }
}

/// The whole document.
pub(crate) fn document(report: &Report) -> Result<Markup, RenderError> {
    let anchors = Anchors::of(report);
    let families = family::sections(report, &anchors)?;
    let front = front::section(report)?;
    let is_clinic = report.audience == Audience::Clinic;
    let title = format!("{}: {}, {}", report.practice, report.title, report.quarter);
    Ok(html! {
        (DOCTYPE)
        html lang="en-GB" {
            (head(&title))
            body {
                a.skip href="#main" { "Skip to the report" }
                (masthead(report))
                main #main {
                    (contents(report, &anchors, is_clinic))
                    p.on-paper.note { "Parts that are closed on the screen are not printed; open them before printing." }
                    (front)
                    @if let Some(changes) = &report.changes { (changes::section(report, changes, &anchors)) }
                    @if is_clinic { (attention::section(report)) }
                    (watch::section(report, &anchors))
                    (families)
                    (making::section(report))
                    (research::section(report))
                    (method::sections(report, &anchors))
                }
                footer {
                    p { (report.provenance.program) " · " (report.practice) " · " (report.quarter) " · " (audience_words(report.audience)) }
                }
            }
        }
    })
}

fn masthead(report: &Report) -> Markup {
    let horizon = &report.horizon;
    html! {
        header.masthead {
            p.practice { (report.practice) }
            h1 { (report.title) span.quarter { (report.quarter) } }
            p.period {
                (wording::date(report.quarter_start)) " to " (wording::date(report.quarter_end))
                " · " strong { (audience_words(report.audience)) }
            }
            p.horizon {
                "Visits from " (wording::date(horizon.data_start)) " to " (wording::date(horizon.cut_off))
                ". Deaths known to " (wording::date(horizon.deaths_known_to))
                ", hospital procedures to " (wording::date(horizon.procedures_known_to)) "."
            }
            p.banner role="note" { (BANNER) }
            @if !report.dates.is_plain() { (dates(report)) }
        }
    }
}

/// What the dates of the export are declared to be, and what that leaves out.
fn dates(report: &Report) -> Markup {
    let dates = &report.dates;
    html! {
        div.banner role="note" {
            p { strong { "Dates: " (dates_words(&dates.kind)) "." } @for sentence in &dates.says { " " (sentence) } }
            @if let Some(agreement) = &dates.agreement { p { "Agreement: " (agreement) "." } }
            @if !dates.withheld.is_empty() {
                p { "Left out for that:" }
                ul { @for what in &dates.withheld { li { (what) } } }
            }
        }
    }
}

/// The declared kind of dates in words.
pub(crate) fn dates_words(kind: &str) -> &str {
    match kind {
        "shifted" => "shifted, person by person",
        "year-only" => "years only",
        "limited-data-set" => "exact, in a limited data set",
        other => other,
    }
}

/// Whom a copy is for and what that means.
pub(crate) fn audience_words(audience: Audience) -> &'static str {
    match audience {
        Audience::Clinic => "Clinic copy: lists pseudonymous patients, keep inside the practice",
        Audience::Auditor => "Auditor’s copy: full tables",
        Audience::Public => "Public copy: small counts are suppressed",
    }
}

fn contents(report: &Report, anchors: &Anchors, is_clinic: bool) -> Markup {
    html! {
        nav.contents aria-label="Contents" {
            ul {
                li { a href="#in-plain-words" { "In plain words" } }
                @if report.changes.is_some() {
                    li { a href="#changes" { "What changed, and why" } }
                }
                @if is_clinic {
                    li { a href="#attention" { "People who need attention" } }
                }
                @if !report.monitoring.series.is_empty() {
                    li { a href="#watched" { "Is it chance?" } }
                }
                @for (family, anchor) in report.families.iter().zip(&anchors.families) {
                    li { a href=(format!("#{anchor}")) { (family.title) } }
                }
                li { a href="#making" { "How the numbers were made" } }
                @if report.audience == Audience::Auditor {
                    li { a href="#research" { "For researchers" } }
                }
                li { a href="#rules" { "Rules and settings" } }
                li { a href="#words" { "Words, cautions, provenance" } }
            }
        }
    }
}
