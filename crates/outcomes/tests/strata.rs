//! Measures by stratum: hand-worked cases. 2023 Q3 is story day 181 to 272.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse, analyse_copies};
use outcomes::measure::{MEASURES, Measure, Method, SplitBy, Stratifier, find_measure};
use outcomes::report::{Audience, Count, Figure, MeasureResult, Provenance, Report, Split};
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::{Sex, Tables};
use support::{derived, horizon, stories};

const CUT_OFF: i64 = 700;

fn with_material<T>(
    tables: &Tables,
    measures: &[&'static Measure],
    strata: &[SplitBy],
    make: impl FnOnce(&Material<'_>) -> T,
) -> T {
    derived(tables, CUT_OFF, |people| {
        make(&Material {
            dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
            title: "Title",
            practice: "Tarnwick Foot Practice",
            audience: Audience::Auditor,
            quarter: Quarter::parse("2023Q3").unwrap(),
            trend_quarters: 3,
            measures,
            strata,
            tables,
            people,
            rules: &Rules::default(),
            horizon: &horizon(CUT_OFF),
            findings: &[],
            check_words: &[],
            accounts: &[],
            completeness: &[],
            provenance: &Provenance::default(),
        })
    })
}

fn report(tables: &Tables, measures: &[&'static Measure], strata: &[SplitBy]) -> Report {
    with_material(tables, measures, strata, analyse)
}

fn split(tables: &Tables, id: &str, by: Stratifier) -> Option<Split> {
    let report = report(tables, &[find_measure(id).unwrap()], &[SplitBy::Field(by)]);
    let sheet = report.families[0].measures[0].clone();
    sheet.splits.into_iter().next()
}

/// `stratum: numerator/denominator`, a line a stratum.
fn lines(split: Option<Split>) -> Vec<String> {
    let shown = |count: Option<Count>| count.map_or("-".to_owned(), |count| count.to_string());
    let line = |result: &MeasureResult| {
        let (numerator, denominator) = (result.numerator, result.denominator);
        format!(
            "{}: {}/{}",
            result.stratum,
            shown(numerator),
            shown(denominator)
        )
    };
    split
        .map(|split| split.results.iter().map(line).collect())
        .unwrap_or_default()
}

/// Four people with one ulcer each. Two are seen in the North, one in the South, one at a visit without a site.
const FOUR: [&str; 4] = [
    "200 visit at=North with=K1\n200 open right A\n240 closed right A\n300 exam right",
    "200 visit at=South\n200 open right A\n245 open right A\n400 visit at=North",
    "100 visit at=South\n200 visit at=North\n200 open right A\n230 closed right A",
    "150 visit at=South\n200 visit\n200 open left A\n220 closed left A",
];

#[test]
fn a_site_is_that_of_the_first_visit_and_nobody_is_left_out() {
    // The second person's later visit in the North moves nobody; a visit without a site is not filled from an older one.
    let split = split(&stories(&FOUR), "healed-within-12-weeks", Stratifier::Site);
    assert_eq!(
        lines(split),
        ["North: 2/2", "South: 0/1", "not recorded: 1/1"]
    );
}

#[test]
fn an_operation_belongs_to_the_site_of_the_newest_visit_before_it() {
    let tables = stories(&[
        "150 visit at=South\n190 visit at=North\n200 major-amputation right\n210 visit at=South",
        "200 major-amputation left",
    ]);
    let split = split(&tables, "major-amputations", Stratifier::Site).unwrap();
    let counts: Vec<_> = split
        .results
        .iter()
        .map(|result| (result.stratum.as_str(), result.numerator))
        .collect();
    assert_eq!(
        counts,
        [
            ("North", Some(Count::Shown(1))),
            ("not recorded", Some(Count::Shown(1)))
        ]
    );
}

#[test]
fn severity_is_that_of_the_ulcer_itself_when_ulcers_are_counted() {
    // Right A: deep (1), infected (1), 4 square cm or so (1): at least 3. Left B: shallow, clean, small, on the forefoot, and
    // the foot feels and has pulses: 0. Left C: nothing but the depth is known, 0 to 5, which tells nothing.
    let told = "exam right sensation=intact pulses=palpable\n200 exam left sensation=intact pulses=palpable";
    let one = format!(
        "200 {told}
         200 open right A site=mth-1 depth=bone-or-joint infection=moderate length=3 width=3
         200 open left B site=mth-1 depth=skin infection=none length=0.5 width=0.5
         230 closed right A
         240 closed left B"
    );
    let tables = stories(&[&one, "200 open left C depth=skin"]);
    let split = split(&tables, "healed-within-12-weeks", Stratifier::Severity);
    assert_eq!(
        lines(split),
        [
            "SINBAD 0 to 2: 1/1",
            "SINBAD 3 to 6: 1/1",
            "not gradable: 0/1"
        ]
    );
}

#[test]
fn a_person_episode_is_as_severe_as_the_worst_of_its_ulcers() {
    let told = "exam right sensation=intact pulses=palpable\n200 exam left sensation=intact pulses=palpable";
    let one = format!(
        "200 {told}
         200 open right A site=mth-1 depth=bone-or-joint infection=moderate length=3 width=3
         200 open left B site=mth-1 depth=skin infection=none length=0.5 width=0.5
         284 closed right A
         284 closed left B"
    );
    let split = split(
        &stories(&[&one]),
        "ulcer-free-at-12-weeks",
        Stratifier::Severity,
    );
    assert_eq!(lines(split), ["SINBAD 3 to 6: 1/1"]);
}

#[test]
fn severity_does_not_split_people_who_are_free_of_ulcers() {
    let split = split(
        &stories(&FOUR),
        "recurrence-within-12-months",
        Stratifier::Severity,
    );
    assert_eq!(split, None);
}

#[test]
fn a_tier_is_the_newest_one_known_on_the_day_and_never_a_later_one() {
    // The exam on day 190 finds everything in order: tier 0. A year and a day earlier tells nothing any more, an exam after
    // the index day never did.
    let whole = |day: i64| {
        ["left", "right"]
            .map(|side| {
                format!("{day} exam {side} sensation=intact pulses=palpable deformity=no\n")
            })
            .concat()
    };
    let known = format!("{}200 open right A\n240 closed right A", whole(190));
    let later = format!("200 open right A\n{}240 closed right A", whole(210));
    let mut tables = stories(&[&known, &later]);
    for patient in &mut tables.patients {
        let denied = outcomes::tables::Dated::new(support::date(100), patient.source);
        patient.prior_ulcer_denied = Some(denied);
        patient.prior_amputation_denied = Some(denied);
        patient.renal_replacement = Some(outcomes::tables::DatedAnswer {
            is_yes: false,
            at: denied,
        });
    }
    let split = split(&tables, "healed-within-12-weeks", Stratifier::Tier);
    assert_eq!(lines(split), ["tier 0: 1/1", "not recorded: 1/1"]);
}

#[test]
fn groupings_of_the_layout_and_facts_of_the_person_split_too() {
    let mut tables = stories(&FOUR);
    let (payer, public) = (tables.names.intern("payer"), tables.names.intern("public"));
    tables.patients[0].strata.push((payer, public));
    tables.patients[1].sex = Some(Sex::Female);
    let strata = [
        SplitBy::parse("strata.payer").unwrap(),
        SplitBy::parse("sex").unwrap(),
    ];
    let measure = find_measure("healed-within-12-weeks").unwrap();
    let report = report(&tables, &[measure], &strata);
    let splits = report.families[0].measures[0].splits.clone();
    let found: Vec<_> = splits.into_iter().map(|split| lines(Some(split))).collect();
    assert_eq!(
        found,
        [
            ["public: 1/1", "not recorded: 2/3"],
            ["female: 0/1", "not recorded: 3/3"]
        ]
    );
}

#[test]
fn the_strata_of_every_measure_hold_everybody_once() {
    let strata: Vec<SplitBy> = Stratifier::ALL
        .iter()
        .copied()
        .map(SplitBy::Field)
        .collect();
    let report = report(&stories(&FOUR), MEASURES, &strata);
    let sheets = report.families.iter().flat_map(|family| &family.measures);
    let number = |count: Option<Count>| match count {
        Some(Count::Shown(n)) => n,
        _ => 0,
    };
    let mut n_splits = 0;
    for sheet in sheets {
        let Some(whole) = sheet.results.first() else {
            continue;
        };
        for split in &sheet.splits {
            // A ratio counts those of known severity, so strata may each lose people; classes repeat the denominator.
            let method = find_measure(&sheet.id).unwrap().method;
            let has_classes = matches!(method, Method::Bands { .. } | Method::Snapshot { .. });
            if has_classes || sheet.id.contains("against") {
                continue;
            }
            n_splits += 1;
            let sum = |pick: fn(&MeasureResult) -> Option<Count>| -> u64 {
                let results = split.results.iter();
                results
                    .filter(|result| result.unit == whole.unit)
                    .map(|result| number(pick(result)))
                    .sum()
            };
            assert_eq!(
                sum(|result| result.denominator),
                number(whole.denominator),
                "{} {}",
                sheet.id,
                split.by
            );
            let unknown = sum(|result| result.n_unknown);
            assert_eq!(unknown, number(whole.n_unknown), "{}", sheet.id);
        }
    }
    assert!(n_splits > 50, "{n_splits}");
}

#[test]
fn the_public_copy_has_no_strata_and_no_chart_of_them() {
    let strata = [SplitBy::Field(Stratifier::Site)];
    let copies = with_material(&stories(&FOUR), MEASURES, &strata, |material| {
        analyse_copies(material, &[Audience::Clinic, Audience::Public], &[])
    });
    let n_splits = |report: &Report| -> usize {
        let sheets = report.families.iter().flat_map(|family| &family.measures);
        sheets.map(|sheet| sheet.splits.len()).sum()
    };
    let is_drawn = |report: &Report| {
        let figures = report.figures.iter();
        figures
            .filter(|figure| matches!(figure, Figure::Forest(_)))
            .any(|figure| figure.frame().id.ends_with("-by-strata"))
    };
    assert!(n_splits(&copies[0]) > 20 && is_drawn(&copies[0]));
    assert_eq!(n_splits(&copies[1]), 0);
    assert!(!is_drawn(&copies[1]));
}

#[test]
fn rows_after_the_evidence_days_move_nobody_to_another_stratum() {
    let before = stories(&FOUR);
    let later: Vec<String> = FOUR
        .iter()
        .map(|story| {
            format!("{story}\n500 visit at=West\n500 exam right sensation=lost\n500 open right Z depth=skin")
        })
        .collect();
    let later: Vec<&str> = later.iter().map(String::as_str).collect();
    let after = stories(&later);
    for by in [Stratifier::Site, Stratifier::Tier, Stratifier::Severity] {
        let of = |tables: &Tables| split(tables, "healed-within-12-weeks", by);
        assert_eq!(of(&before), of(&after), "{by}");
    }
}
