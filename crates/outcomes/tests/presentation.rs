//! Hand-worked cases of presentation, process and data: bands, footwear, cultures, visits, recall, what went out of sight.
//!
//! 2023 Q3 is story day 181 to 272.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::report::{Count, MeasureResult};
use outcomes::tables::{Dated, SourceRow, Tables};
use support::{date, measured, stories};

const CUT_OFF: i64 = 700;

fn results(tables: &Tables, id: &str) -> Vec<MeasureResult> {
    measured(tables, CUT_OFF, id, "2023Q3")
}

fn shown(count: Option<Count>) -> u64 {
    match count {
        Some(Count::Shown(n)) => n,
        other => panic!("{other:?}"),
    }
}

/// The bands that somebody falls into, with how many of how many known, and how many are unknown.
fn bands(story: &[&str], id: &str) -> Vec<String> {
    let results = results(&stories(story), id);
    let is_filled = |band: &&MeasureResult| band.numerator.is_some() && shown(band.numerator) > 0;
    let found = results.iter().filter(is_filled);
    let line = |band: &MeasureResult| {
        format!(
            "{}: {}/{}",
            band.stratum,
            shown(band.numerator),
            shown(band.denominator)
        )
    };
    found.map(line).collect()
}

/// `yes/known, unknown`.
fn answer(story: &[&str], id: &str) -> String {
    let result = results(&stories(story), id).remove(0);
    match result.n_unknown {
        None => "nobody".to_owned(),
        unknown => format!(
            "{}/{}, {}",
            shown(result.numerator),
            shown(result.denominator),
            shown(unknown)
        ),
    }
}

#[test]
fn a_shoe_is_compared_with_the_foot_of_the_ulcer_at_the_newest_examination_with_both_sizes() {
    let with = |exams: &str| format!("{exams}\n200 open right A");
    for (exams, fit, outgrown, measured) in [
        (
            "200 exam right worn=9 measured=10",
            "too small by 1 size or more: 1/1",
            "1/1, 0",
            "1/1, 0",
        ),
        (
            "214 exam right worn=9.5 measured=10",
            "too small by half to less than 1 size: 1/1",
            "0/1, 0",
            "1/1, 0",
        ),
        (
            "200 exam right worn=10 measured=10",
            "less than half a size apart: 1/1",
            "0/1, 0",
            "1/1, 0",
        ),
        (
            "200 exam right worn=11.5 measured=10",
            "too large by 1 size or more: 1/1",
            "0/1, 0",
            "1/1, 0",
        ),
        // The newer examination decides; one with a single size does not.
        (
            "100 exam right worn=9 measured=10\n190 exam right worn=10 measured=10\n200 exam right worn=8",
            "less than half a size apart: 1/1",
            "0/1, 0",
            "1/1, 0",
        ),
        // The other foot, or 15 days after: nothing is known.
        ("200 exam left worn=9 measured=10", "", "0/0, 1", "0/1, 0"),
        ("215 exam right worn=9 measured=10", "", "0/0, 1", "0/1, 0"),
    ] {
        let story = with(exams);
        assert_eq!(bands(&[&story], "footwear-fit").join("; "), fit, "{exams}");
        assert_eq!(answer(&[&story], "footwear-outgrown"), outgrown, "{exams}");
        assert_eq!(answer(&[&story], "footwear-measured"), measured, "{exams}");
    }
}

#[test]
fn a_further_course_needs_a_culture_since_the_one_before_began() {
    let id = "culture-before-repeat-antibiotic";
    let first = "150 open right A antibiotic=yes culture=yes\n170 open right A antibiotic=no";
    for (rest, expected) in [
        ("200 open right A antibiotic=yes culture=yes", "1/1, 0"),
        (
            "190 open right A antibiotic=no culture=yes\n200 open right A antibiotic=yes culture=no",
            "1/1, 0",
        ),
        ("200 open right A antibiotic=yes culture=no", "0/1, 0"),
        ("200 open right A antibiotic=yes", "0/0, 1"),
        // A culture after the course began comes too late.
        (
            "200 open right A antibiotic=yes culture=no\n201 open right A antibiotic=yes culture=yes",
            "0/1, 0",
        ),
        // Another ulcer's course is no repeat.
        ("200 open left B antibiotic=yes culture=no", "nobody"),
    ] {
        assert_eq!(
            answer(&[&format!("{first}\n{rest}")], id),
            expected,
            "{rest}"
        );
    }
    // The wound of an operation is no ulcer.
    let wound = "150 open right S origin=post-surgical antibiotic=yes\n170 open right S antibiotic=no\n200 open right S antibiotic=yes culture=no";
    assert_eq!(answer(&[wound], id), "nobody");
    // Without a visit in between that says none is taken it is one course.
    let one = "150 open right A antibiotic=yes\n200 open right A antibiotic=yes culture=yes";
    assert_eq!(answer(&[one], id), "nobody");
}

#[test]
fn attendances_are_kept_missed_or_cancelled() {
    let story = "180 visit\n190 visit\n200 visit attendance=missed\n210 visit attendance=cancelled\n220 visit\n273 visit";
    assert_eq!(
        bands(&[story], "visits-kept"),
        ["kept: 2/4", "missed: 1/4", "cancelled: 1/4"]
    );
}

#[test]
fn a_plan_that_was_made_is_started_within_28_days_of_the_prescription() {
    let id = "offloading-started-after-prescription";
    let made = "200 open right A site=mth-1-plantar offloading=none\n210 open right A offloading=prescribed";
    for (rest, expected) in [
        ("238 open right A offloading=prescribed,dispensed", "1/1, 0"),
        ("239 open right A offloading=prescribed,dispensed", "0/1, 0"),
        ("238 offloading-supplied right", "1/1, 0"),
        ("238 offloading-supplied left", "0/1, 0"),
    ] {
        assert_eq!(
            answer(&[&format!("{made}\n{rest}")], id),
            expected,
            "{rest}"
        );
    }
    let never_made = "200 open right A site=mth-1-plantar offloading=none\n229 open right A offloading=prescribed";
    assert_eq!(answer(&[never_made], id), "nobody");
}

#[test]
fn what_was_felt_is_compared_with_what_was_measured_and_never_with_itself() {
    let id = "palpation-against-measurement";
    for (exam, expected) in [
        (
            "pulses=palpable abi=0.80",
            "pulse felt, though measured as reduced: 1/1",
        ),
        (
            "pulses=palpable abi=1.00",
            "pulse felt, and measured as not reduced: 1/1",
        ),
        (
            "pulses=absent toe=40",
            "no pulse felt, and measured as reduced: 1/1",
        ),
        (
            "pulses=absent waveform=triphasic",
            "no pulse felt, though measured as not reduced: 1/1",
        ),
        ("pulses=absent", ""),
        ("abi=0.80", ""),
        // A stiff artery measures nothing.
        ("pulses=palpable abi=1.40", ""),
    ] {
        let found = bands(&[&format!("200 exam right {exam}")], id);
        assert_eq!(found.join("; "), expected, "{exam}");
    }
}

#[test]
fn delays_fall_into_bands_that_begin_at_3_14_and_62_days() {
    for (days, band) in [
        (0, "0 to 2 days"),
        (2, "0 to 2 days"),
        (3, "3 to 13 days"),
        (13, "3 to 13 days"),
        (14, "14 to 61 days"),
        (61, "14 to 61 days"),
        (62, "62 days or more"),
    ] {
        let story = format!("200 open right A onset={}", 200 - days);
        let expected = [format!("{band}: 1/1")];
        assert_eq!(bands(&[&story], "onset-to-first-visit-bands"), expected);
        // Onset and first contact so many days apart, the first visit as long after the contact.
        let mut tables = stories(&[&format!("200 open right A onset={}", 200 - 2 * days)]);
        tables.patients[0].first_contact = Some(Dated::new(date(200 - days), SourceRow::default()));
        for id in ["patient-delay-bands", "system-delay-bands"] {
            let found = results(&tables, id);
            let found = found.iter().find(|found| shown(found.numerator) == 1);
            assert_eq!(found.unwrap().stratum, band, "{id}");
        }
    }
}

#[test]
fn gaps_between_looks_at_an_open_ulcer_count_in_the_quarter_they_end_in() {
    // The wound of an operation, looked at every day, is no ulcer.
    let story = "190 open left S origin=post-surgical\n191 open left S\n192 closed left S\n150 open right A\n190 open right A\n197 open right A\n205 open right A by=patient\n211 closed right A\n250 closed right A";
    assert_eq!(
        bands(&[story], "visit-spacing-of-open-ulcers"),
        [
            "up to 7 days: 1/3",
            "8 to 14 days: 1/3",
            "29 to 90 days: 1/3"
        ]
    );
}

#[test]
fn an_open_ulcer_unseen_for_more_than_90_days_up_to_day_168_went_out_of_sight() {
    let id = "lost-from-sight-within-24-weeks";
    // Day 168 of an ulcer first seen on day 200 is story day 368; 90 days before it is 278.
    for (story, expected) in [
        ("200 open right A\n277 open right A", "1/1, 0"),
        ("200 open right A\n278 open right A", "0/1, 0"),
        ("200 open right A\n220 closed right A", "0/1, 0"),
        ("200 open right A\n230 death", "0/1, 0"),
        (
            "200 open right A\n240 open right A\n380 open right A",
            "1/1, 0",
        ),
        ("200 open right A\n230 transfer-out", "nobody"),
    ] {
        assert_eq!(answer(&[story], id), expected, "{story}");
    }
}

#[test]
fn severity_can_be_told_when_nothing_missing_would_change_it() {
    let whole = "200 exam right sensation=intact pulses=palpable toe=80\n200 open right A site=mth-1 depth=skin infection=none gangrene=none length=1 width=1";
    assert_eq!(answer(&[whole], "sinbad-gradable"), "1/1, 0");
    assert_eq!(
        answer(&["200 open right A depth=skin"], "sinbad-gradable"),
        "0/1, 0"
    );
    assert_eq!(answer(&[whole], "wifi-gradable"), "1/1, 0");
    assert_eq!(
        answer(&["200 open right A depth=skin"], "wifi-gradable"),
        "0/1, 0"
    );
}

/// Both feet examined with these findings.
fn examined(day: i64, findings: &str) -> String {
    format!("{day} exam left {findings}\n{day} exam right {findings}")
}

/// People who denied ulcers, amputations and renal disease on their first day.
fn with_history_denied(story: &str) -> Tables {
    let mut tables = stories(&[story]);
    let patient = &mut tables.patients[0];
    let denied = Dated::new(date(0), SourceRow::default());
    patient.prior_ulcer_denied = Some(denied);
    patient.prior_amputation_denied = Some(denied);
    patient.renal_replacement = Some(outcomes::tables::DatedAnswer {
        is_yes: false,
        at: denied,
    });
    tables
}

#[test]
fn an_examination_is_overdue_the_day_after_the_longest_interval_of_its_tier() {
    // 30 September 2023, the end of 2023 Q3, is story day 272. Tier 2: neuropathy and deformity, 6 months; tier 0: 12 months.
    let tier_2 = "sensation=lost pulses=palpable deformity=yes";
    let tier_0 = "sensation=intact pulses=palpable deformity=no";
    for (day, findings, expected) in [
        // 30 March is day 88, 29 March day 87.
        (88, tier_2, "0/1"),
        (87, tier_2, "1/1"),
        (87, tier_0, "0/1"),
    ] {
        let tables = with_history_denied(&examined(day, findings));
        let found = results(&tables, "foot-exam-overdue").remove(0);
        let said = format!("{}/{}", shown(found.numerator), shown(found.denominator));
        assert_eq!(said, expected, "{day} {findings}");
    }
    let tables = with_history_denied("100 visit\n200 open right A");
    let found = results(&tables, "foot-exam-overdue").remove(0);
    assert_eq!(
        found.denominator,
        Some(Count::Shown(0)),
        "an open wound is seen for that"
    );
}

#[test]
fn a_person_moves_between_tiers_from_one_quarters_end_to_the_next() {
    // The end of 2023 Q2 is story day 180.
    let intact = examined(150, "sensation=intact pulses=palpable deformity=no");
    let lost = examined(200, "sensation=lost pulses=palpable deformity=no");
    for (later, expected) in [
        ("", "same tier"),
        (lost.as_str(), "to a higher tier"),
        ("200 open right A", "new open wound"),
    ] {
        let tables = with_history_denied(&format!("{intact}\n{later}"));
        let found = results(&tables, "tier-movement");
        let moved = found.iter().find(|class| shown(class.numerator) == 1);
        assert_eq!(moved.unwrap().stratum, expected, "{later}");
    }
}
