//! Hand-worked rows of every check across rows: which of them are found, and which at the limit are not.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use chrono::NaiveDate;
use outcomes::check::{CHECKS, check, check_ends};
use outcomes::tables::{DatePrecision, Dated, Onset, Side, SourceRow, Tables};
use support::{horizon, stories, story};

/// Names of what was found, with the record of each: `width-exceeds-length 2`.
fn found(tables: Tables) -> Vec<String> {
    check(tables)
        .1
        .iter()
        .map(|finding| match finding.source {
            Some(source) => format!("{} {}", finding.check, source.record),
            None => finding.check.to_owned(),
        })
        .collect()
}

fn expect(text: &str, expected: &[&str]) {
    assert_eq!(found(story(text)), expected, "{text}");
}

/// Limits: plausibility limits of this project; areas by hand: 2 x 1 cm is a rectangle of 2 and an ellipse of 1.571 square cm,
/// so that 1.257 to 2.4 fit.
#[test]
fn sizes_of_one_row() {
    expect("0 open left A length=2 width=1", &[]);
    expect(
        "0 open left A length=1 width=2",
        &["width-exceeds-length 1"],
    );
    expect("0 open left A length=2 width=2", &[]);
    expect("0 open left A length=15 width=1", &[]);
    expect(
        "0 open left A length=15.1 width=1",
        &["unusually-large-ulcer 1"],
    );
    expect("0 open left A deep=3", &[]);
    expect("0 open left A deep=3.1", &["unusually-deep-ulcer 1"]);
    expect("0 open left A length=2 width=1 area=2.4", &[]);
    expect(
        "0 open left A length=2 width=1 area=2.41",
        &["area-does-not-fit-size 1"],
    );
    expect("0 open left A length=2 width=1 area=1.26", &[]);
    expect(
        "0 open left A length=2 width=1 area=1.25",
        &["area-does-not-fit-size 1"],
    );
    expect(
        "0 open left A length=2 width=1 area=157",
        &["area-does-not-fit-size 1"],
    );
    expect(
        "0 open left A length=0 width=1",
        &["size-zero-while-open 1"],
    );
    expect("0 open left A\n7 closed left A length=0 width=0", &[]);
    expect(
        "0 open left A\n7 closed left A length=1",
        &["size-on-closed-ulcer 2"],
    );
}

#[test]
fn a_size_of_nothing_counts_as_missing_while_the_others_stay() {
    let (tables, _) = check(story("0 open left A length=0 width=1 area=0"));
    let row = &tables.ulcer_observations[0];
    assert_eq!(
        (row.length_cm, row.width_cm, row.area_cm2),
        (None, Some(1.0), None)
    );
}

/// By hand: an operation lies between the last look at an ulcer and the day it was found removed.
#[test]
fn removals_without_the_row_of_their_operation() {
    expect(
        "200 open left A\n230 excised left A",
        &["removed-without-amputation-row 2"],
    );
    expect(
        "200 open left A\n230 minor-amputation left A\n230 excised left A",
        &[],
    );
}

/// Index by hand: 96 / 120 = 0.80.
#[test]
fn pressures_of_one_examination() {
    expect("0 exam left abi=0.82 ankle=96 brachial=120", &[]);
    expect(
        "0 exam left abi=0.83 ankle=96 brachial=120",
        &["abi-does-not-fit-pressures 1"],
    );
    expect("0 exam left abi=0.83 ankle=96 brachial=0", &[]);
    expect("0 exam left tbi=0.52 toe=60 brachial=120", &[]);
    expect(
        "0 exam left tbi=0.53 toe=60 brachial=120",
        &["tbi-does-not-fit-pressures 1"],
    );
    expect("0 exam left abi=1.4", &[]);
    expect("0 exam left abi=1.41", &["abi-of-stiff-arteries 1"]);
    expect("0 exam left abi=0.2", &[]);
    expect("0 exam left abi=0.19", &["abi-very-low 1"]);
    expect("0 exam left toe=100 ankle=100", &[]);
    expect("0 exam left toe=101 ankle=100", &["toe-above-ankle 1"]);
}

#[test]
fn rows_of_one_ulcer() {
    // 4 times is not more than 4 times
    expect(
        "0 open left A length=1 width=1\n7 open left A length=2 width=2\n14 open left A length=4.1 width=4",
        &["area-grew-fourfold 3"],
    );
    // the recorded area grows a hundredfold, as when square millimetres replace square centimetres
    expect(
        "0 open left A area=1.5\n7 open left A area=150",
        &["area-grew-fourfold 2"],
    );
    expect(
        "0 closed left A\n7 open left A",
        &["closed-before-seen-open 1"],
    );
    expect("0 closed left A\n7 closed left A", &["never-seen-open 1"]);
    expect("0 open left A\n180 open left A", &[]);
    expect(
        "0 open left A\n181 closed left A",
        &["long-gap-while-open 2"],
    );
    expect("0 open left A\n7 closed left A\n400 open left A", &[]);
    expect(
        "0 open left A site=toe-1-plantar\n7 open left A site=toe-2-plantar",
        &["site-changed 2"],
    );
    expect(
        "0 open left A site=toe-1-plantar\n7 open left A site=mth-1-plantar",
        &[],
    );
    expect(
        "0 open left A site=heel\n7 open left A site=midfoot",
        &["site-changed 2"],
    );
    expect("0 open left A\n7 open right A", &["side-changed 2"]);
}

/// One label, one exact place: the ulcer is where it was first seen, as long as it is open. Worked by hand.
#[test]
fn the_side_of_an_open_ulcer() {
    let place = "site=toe-1-plantar";
    let sides = |text: &str| -> (String, String) {
        let (tables, findings) = check(story(&text.replace('@', place)));
        let sides = (tables.ulcer_observations.iter())
            .map(|row| if row.side == Side::Left { 'L' } else { 'R' })
            .collect();
        let found = (findings.iter())
            .filter(|finding| finding.check.starts_with("side-"))
            .map(|finding| format!("{} {}", finding.check, finding.source.unwrap().record))
            .collect::<Vec<_>>();
        (sides, found.join(", "))
    };
    let mistyped = "side-of-open-ulcer-changed 2";
    for (text, expected, named) in [
        // in the middle, at its closure, and from the second row on: the first row decides
        (
            "0 open left A @\n7 open right A @\n14 open left A @",
            "LLL",
            mistyped,
        ),
        (
            "0 open left A @\n7 closed right A @\n21 closed left A @",
            "LLL",
            mistyped,
        ),
        (
            "0 open right A @\n7 open left A @\n14 open left A @",
            "RRR",
            "side-of-open-ulcer-changed 2, side-of-open-ulcer-changed 3",
        ),
        // closed before: the label was used again
        (
            "0 open left A @\n7 closed left A @\n9 open right A @",
            "LLR",
            "side-changed 3",
        ),
        // another place, or a place not told: nothing says that it is the same ulcer
        (
            "0 open left A @\n7 open right A site=toe-2-plantar",
            "LR",
            "side-changed 2",
        ),
        ("0 open left A @\n7 open right A", "LR", "side-changed 2"),
        // another label
        ("0 open left A @\n7 open right B @", "LR", ""),
        // told of both feet on one day: numbered by foot, then and ever after
        (
            "0 open left A @\n0 open right A @\n7 closed left A @\n14 open right A @",
            "LRLR",
            "side-changed 2",
        ),
        // a closure that no clinician saw closes nothing
        (
            "0 open left A @\n7 closed left A @ by=patient\n14 open right A @",
            "LLL",
            "side-of-open-ulcer-changed 3",
        ),
    ] {
        assert_eq!(
            sides(text),
            (expected.to_owned(), named.to_owned()),
            "{text}"
        );
    }
}

#[test]
fn ulcers_of_one_foot() {
    let place = "site=toe-1-plantar";
    expect(
        &format!(
            "0 open left A {place}\n0 open left B {place}\n7 open left A {place}\n7 open left B {place}"
        ),
        &["two-labels-at-one-site 2"],
    );
    // a split, another surface, another day, a part of the foot that may hold several
    expect(
        &format!("0 open left A {place}\n0 open left B {place} parent=A"),
        &[],
    );
    expect(
        &format!("0 open left A {place}\n0 open left B site=toe-1-dorsal"),
        &[],
    );
    expect(
        &format!("0 open left A {place}\n7 open left B {place}"),
        &[],
    );
    expect("0 open left A site=heel\n0 open left B site=heel", &[]);
    expect("0 open left A\n7 open left B parent=A", &[]);
    expect(
        "0 open left A\n7 open left B parent=C",
        &["label-not-seen 2"],
    );
    expect(
        "0 open right A\n7 open left B parent=A",
        &["label-not-seen 2"],
    );
}

#[test]
fn feet_after_a_major_amputation() {
    expect(
        "0 open left A\n7 major-amputation left\n8 open right B",
        &[],
    );
    expect(
        "0 open left A\n7 major-amputation left\n8 open left B",
        &["foot-seen-after-major-amputation 3"],
    );
    expect("0 open left A\n7 major-amputation left\n7 open left A", &[]);
    expect(
        "0 open left A\n7 major-amputation left\n9 open left B site=stump",
        &[],
    );
    expect(
        "7 major-amputation left\n9 exam left pulses=palpable",
        &["foot-seen-after-major-amputation 2"],
    );
    expect("7 major-amputation left\n9 exam left deformity=yes", &[]);
    expect("7 minor-amputation left\n9 exam left pulses=palpable", &[]);
}

#[test]
fn visits_of_one_person() {
    expect("0 visit return=0", &[]);
    expect("10 visit return=9", &["planned-return-before-visit 1"]);
    expect(
        "0 visit at=Quay\n0 visit at=Hill",
        &["two-visits-on-one-day 2"],
    );
    expect("0 visit at=Quay\n0 visit at=Hill attendance=missed", &[]);
    assert_eq!(found(stories(&["0 visit", "0 visit"])), [""; 0]);
}

/// Day 0 of a story is 1 January 2023, day 7 the 8th.
#[test]
fn what_is_said_about_a_person() {
    let with =
        |birth: Option<i32>, diabetes: Option<i32>, contact: Option<i64>, last: Option<i64>| {
            let mut tables = story("7 visit\n20 visit");
            let person = &mut tables.patients[0];
            person.birth_year = birth;
            person.diabetes_year = diabetes;
            person.first_contact =
                contact.map(|day| Dated::new(support::date(day), SourceRow::default()));
            person.last_contact = last.map(support::date);
            let (tables, findings) = check(tables);
            let names: Vec<&str> = findings.iter().map(|finding| finding.check).collect();
            (names.join(" "), tables.patients[0].diabetes_year)
        };
    for (birth, diabetes, contact, last, expected) in [
        (Some(1950), Some(1995), Some(7), Some(20), ""),
        (Some(2005), None, None, None, ""),
        (Some(2006), None, None, None, "unlikely-age"),
        (Some(1913), None, None, None, ""),
        (Some(1912), None, None, None, "unlikely-age"),
        (
            Some(1950),
            Some(1949),
            None,
            None,
            "diabetes-year-impossible",
        ),
        (Some(1950), Some(1950), None, None, ""),
        (None, Some(2023), None, None, ""),
        (None, Some(2024), None, None, "diabetes-year-impossible"),
        (None, None, Some(8), None, "first-contact-after-first-visit"),
        (None, None, None, Some(19), "last-contact-before-last-visit"),
    ] {
        let (names, year) = with(birth, diabetes, contact, last);
        assert_eq!(
            names, expected,
            "{birth:?} {diabetes:?} {contact:?} {last:?}"
        );
        assert_eq!(
            year.is_none(),
            diabetes.is_none() || expected.starts_with("diabetes")
        );
    }
}

/// Five years before 1 January 2023 is 1 January 2018.
#[test]
fn onsets_long_ago() {
    for (year, day, expected) in [(2018, 1, ""), (2017, 31, "onset-long-before-first-visit 1")] {
        let mut tables = story("0 open left A");
        let month = if year == 2018 { 1 } else { 12 };
        tables.ulcer_observations[0].onset = Some(Onset {
            dated: Dated::new(
                NaiveDate::from_ymd_opt(year, month, day).unwrap(),
                tables.ulcer_observations[0].source,
            ),
            precision: DatePrecision::Day,
        });
        assert_eq!(found(tables).join(" "), expected);
    }
}

/// 30 onsets, of which 5 or 6 fall on the first of a month (story day 0 is one, day 31 the next).
#[test]
fn onsets_rounded_to_the_month() {
    for (n_first, expected) in [(5, ""), (6, "onsets-heaped-on-first-of-month")] {
        let lines: Vec<String> = (0..30)
            .map(|n| {
                let onset = if n < n_first { 0 } else { 1 + n % 20 };
                format!("40 open left U{n} onset={onset}")
            })
            .collect();
        assert_eq!(found(story(&lines.join("\n"))).join(" "), expected);
    }
    // 30 days of which a fraction 12 / 365.25 is the first of a month: six or more in fewer than 1 of 500 exports
    let p: f64 = 12.0 / 365.25;
    let exactly = |k: i32| {
        let ways: f64 = (0..k)
            .map(|i| f64::from(30 - i) / f64::from(i + 1))
            .product();
        ways * p.powi(k) * (1.0 - p).powi(30 - k)
    };
    let at_least_six = 1.0 - (0..6).map(exactly).sum::<f64>();
    assert!(at_least_six < 1.0 / 500.0, "{at_least_six}");
}

#[test]
fn every_check_has_a_name_of_its_own_and_whole_words() {
    for (place, check) in CHECKS.iter().enumerate() {
        assert!(
            CHECKS[..place]
                .iter()
                .all(|earlier| earlier.name != check.name),
            "{}",
            check.name
        );
        assert!(
            !check.words.ends_with('.') && check.words.len() > 20,
            "{}",
            check.name
        );
    }
}

/// Two visits every working day for two years: 43 or so in thirty days. By hand: without the last forty days the last span holds
/// none and the newest row lies 41 days back; with every second row of the last thirty days left out nothing is said yet, since
/// a half is not below one half.
#[test]
fn an_export_that_ends_before_its_cut_off_is_told() {
    let horizon = horizon(730);
    let visits = |is_there: &dyn Fn(u64) -> bool| {
        let text: String = (0..=730)
            .filter(|n| n % 7 < 5 && is_there(*n))
            .map(|n| format!("{n} visit\n{n} visit\n"))
            .collect();
        let said: Vec<String> = check_ends(&story(&text), &horizon)
            .into_iter()
            .map(|finding| format!("{}: {}", finding.check, finding.message))
            .collect();
        said
    };
    assert_eq!(visits(&|_| true), Vec::<String>::new());
    let early = visits(&|n| n < 690);
    assert_eq!(early.len(), 1, "{early:?}");
    assert!(
        early[0].starts_with(
            "export-ends-early: visits: the last 30 days before the cut-off hold 0 rows"
        ),
        "{early:?}"
    );
    assert!(
        early[0].ends_with("lies 41 days before the cut-off"),
        "{early:?}"
    );
    let thin = visits(&|n| n < 701 || n % 7 == 0);
    assert!(thin[0].starts_with("export-ends-early"), "{thin:?}");
    let gap = visits(&|n| !(300..370).contains(&n));
    assert!(
        gap[0].starts_with("export-has-a-gap: visits: 2 spans"),
        "{gap:?}"
    );
}

/// Ten people at each of two sites, three lengths each; those of one site are a tenth, as millimetres read from centimetres.
#[test]
fn a_site_whose_sizes_are_of_another_order_is_found() {
    let tables = |n_people: usize, here: f64, elsewhere: f64| {
        let person = |site: &str, length: f64| {
            let days =
                (0..3).map(|n| format!("{n} visit at={site}\n{n} open left A length={length}\n"));
            days.collect::<String>()
        };
        let mut texts: Vec<String> = (0..n_people).map(|_| person("quay", here)).collect();
        texts.extend((0..10).map(|_| person("hill", elsewhere)));
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        found(stories(&texts))
    };
    let both = ["sizes-of-another-unit 2", "sizes-of-another-unit 62"];
    assert_eq!(tables(10, 0.2, 2.0), both);
    assert_eq!(tables(10, 2.0, 0.2), both);
    assert_eq!(tables(10, 0.5, 2.0), Vec::<String>::new());
    // too few numbers or people say nothing of a site
    assert_eq!(tables(4, 0.2, 2.0), Vec::<String>::new());
}
