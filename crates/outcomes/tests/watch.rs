//! The series watched over the quarters, and the charts of the pathway, made from rows.
//!
//! Data start on 1 January 2023; the first quarter charted is 2023 Q2, which begins 90 days later.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse};
use outcomes::measure::{MEASURES, Measure, find_measure};
use outcomes::report::{Audience, Count, Figure, Provenance, Report, Value, WatchedSeries};
use outcomes::rules::{Quarter, Rules};
use outcomes::tables::Tables;
use support::{derived, horizon, stories};

fn report(tables: &Tables, cut_off_day: i64, quarter: &str, audience: Audience) -> Report {
    let measures: Vec<&'static Measure> = MEASURES.to_vec();
    derived(tables, cut_off_day, |people| {
        analyse(&Material {
            dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
            strata: &[],
            title: "Title",
            practice: "Tarnwick Foot Practice",
            audience,
            quarter: Quarter::parse(quarter).unwrap(),
            trend_quarters: 12,
            measures: &measures,
            tables,
            people,
            rules: &Rules::default(),
            horizon: &horizon(cut_off_day),
            findings: &[],
            check_words: &[],
            accounts: &[],
            completeness: &[],
            provenance: &Provenance::default(),
        })
    })
}

/// `n` people whose only ulcer begins `day` days after data start, `n_closed` of them closed on day 60 and seen so on day 84.
fn quarter_of_people(day: i64, n: usize, n_closed: usize) -> Vec<String> {
    (0..n)
        .map(|place| {
            let (site, clinician) = (["Quay", "Hill"][place % 2], ["K1", "K2", "K3"][place % 3]);
            let state = if place < n_closed { "closed" } else { "open" };
            format!(
                "{day} visit at={site} with={clinician}\n{day} open right A\n{} {state} right A\n{} {state} right A",
                day + 60,
                day + 84
            )
        })
        .collect()
}

/// Quarters 2023 Q2 onwards, 20 people each, beginning on story day 100, 190, 280, ...
fn practice(closed_by_quarter: &[usize]) -> Tables {
    let texts: Vec<String> = closed_by_quarter
        .iter()
        .zip(0i64..)
        .flat_map(|(n_closed, quarter)| quarter_of_people(100 + 91 * quarter, 20, *n_closed))
        .collect();
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    stories(&texts)
}

fn series<'r>(report: &'r Report, id: &str) -> &'r WatchedSeries {
    let title = find_measure(id).unwrap().title;
    let all = &report.monitoring.series;
    all.iter().find(|series| series.title == title).unwrap()
}

#[derive(Debug, PartialEq)]
struct Point {
    label: String,
    value: Option<f64>,
    lower: Option<f64>,
    upper: Option<f64>,
}

fn points(report: &Report, id: &str) -> Vec<Point> {
    let figure = report.figures.iter().find(|figure| figure.frame().id == id);
    let Some(Figure::ControlChart(chart)) = figure else {
        panic!("no chart {id}")
    };
    let value = |value: &Value| match value {
        Value::Known(estimate) => Some(estimate.estimate),
        _ => None,
    };
    chart
        .points
        .iter()
        .map(|point| Point {
            label: point.label.clone(),
            value: value(&point.value),
            lower: point.lower,
            upper: point.upper,
        })
        .collect()
}

const STEADY: [usize; 8] = [10, 11, 9, 10, 12, 8, 10, 10];

#[test]
fn eight_mature_quarters_make_a_chart_and_seven_do_not() {
    // 2025 Q1 ends on day 820; 98 + 28 days later it is mature.
    let tables = practice(&STEADY);
    let early = report(&tables, 820 + 125, "2025Q1", Audience::Clinic);
    let own = series(&early, "ulcer-free-at-12-weeks");
    assert_eq!(own.finding, "needs 8 mature quarters with a value, has 7");
    assert_eq!(own.figure, None);
    let mature = report(&tables, 820 + 126, "2025Q1", Audience::Clinic);
    let own = series(&mature, "ulcer-free-at-12-weeks");
    assert_eq!(own.finding, "no signal in 8 quarters");
    let points = points(&mature, "ulcer-free-at-12-weeks-control");
    // 80 of 160: limits 0.5 plus and minus 3 sqrt(0.25 / 20).
    let reach = 3.0 * (0.25_f64 / 20.0).sqrt();
    for point in &points {
        assert!((point.lower.unwrap() - 0.5 + reach).abs() < 1e-12);
        assert!((point.upper.unwrap() - 0.5 - reach).abs() < 1e-12);
    }
    assert_eq!(
        (points[0].label.as_str(), points[0].value),
        ("2023 Q2", Some(0.5))
    );
}

#[test]
fn a_collapse_signals_and_moves_neither_limits_nor_earlier_points() {
    let before = report(&practice(&STEADY), 1200, "2025Q1", Audience::Clinic);
    let mut closed = STEADY.to_vec();
    closed.push(2);
    let after = report(&practice(&closed), 1200, "2025Q2", Audience::Clinic);
    let id = "ulcer-free-at-12-weeks-control";
    assert_eq!(points(&before, id)[..], points(&after, id)[..8]);
    let own = series(&after, "ulcer-free-at-12-weeks");
    assert!(own.is_signal);
    assert_eq!(
        own.finding,
        "2025 Q2 below the limits (for the worse), in 9 quarters"
    );
}

#[test]
fn the_limits_do_not_depend_on_the_length_of_the_trend_shown() {
    let tables = practice(&STEADY);
    let long = report(&tables, 1200, "2025Q1", Audience::Clinic);
    let short = derived(&tables, 1200, |people| {
        let measures: Vec<&'static Measure> = MEASURES.to_vec();
        analyse(&Material {
            dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
            strata: &[],
            title: "Title",
            practice: "Tarnwick Foot Practice",
            audience: Audience::Clinic,
            quarter: Quarter::parse("2025Q1").unwrap(),
            trend_quarters: 2,
            measures: &measures,
            tables: &tables,
            people,
            rules: &Rules::default(),
            horizon: &horizon(1200),
            findings: &[],
            check_words: &[],
            accounts: &[],
            completeness: &[],
            provenance: &long.provenance,
        })
    });
    assert_eq!(long.monitoring, short.monitoring);
}

#[test]
fn sites_and_clinicians_stand_by_key_and_small_ones_are_named_as_too_few() {
    let mut texts: Vec<String> = (0..4i64)
        .flat_map(|quarter| quarter_of_people(100 + 91 * quarter, 20, 10))
        .collect();
    texts.extend((0..9).map(|_| {
        "120 visit at=Ferry with=K9\n120 open right A\n180 open right A\n204 open right A"
            .to_owned()
    }));
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    let made = report(&stories(&texts), 700, "2024Q1", Audience::Clinic);
    let figure = made
        .figures
        .iter()
        .find(|figure| figure.frame().id == "ulcer-free-at-12-weeks-site-funnel");
    let Some(Figure::Funnel(funnel)) = figure else {
        panic!("no funnel")
    };
    let units: Vec<(&str, Count, bool)> = funnel
        .units
        .iter()
        .map(|unit| (unit.label.as_str(), unit.n, unit.size.is_some()))
        .collect();
    assert_eq!(
        units,
        [
            ("Ferry", Count::Shown(9), false),
            ("Hill", Count::Shown(40), true),
            ("Quay", Count::Shown(40), true)
        ]
    );
    // Everybody together, the small site too: 40 of 89.
    assert!((funnel.expected - 40.0 / 89.0).abs() < 1e-12);
    let own = made
        .monitoring
        .series
        .iter()
        .find(|series| series.title.ends_with("sites"))
        .unwrap();
    assert!(
        own.finding
            .contains("too few to compare (fewer than 10 known outcomes): Ferry")
    );
}

#[test]
fn a_public_copy_holds_no_chart_that_gives_small_counts_away() {
    let made = report(&practice(&STEADY), 1200, "2025Q1", Audience::Public);
    assert!(made.monitoring.series.is_empty() && made.monitoring.rules.is_empty());
    assert!(
        made.figures
            .iter()
            .all(|figure| !matches!(figure, Figure::ControlChart(_) | Figure::Funnel(_)))
    );
    let expectations = made
        .front_page
        .headlines
        .iter()
        .filter_map(|headline| headline.expectation.as_deref());
    for expectation in expectations {
        assert!(
            expectation.starts_with("For context, not a target: "),
            "{expectation}"
        );
    }
}

#[test]
fn the_sentence_on_chance_is_exact_for_the_two_quarters_it_names() {
    // 2024 Q1: 10 of 20, 2025 Q1: 2 of 20. Of the ways to deal 12 closed among 40, those at least 8 apart: 0.01381
    // (fisher.test of R prints 0.01381415).
    let tables = practice(&[10, 10, 10, 10, 10, 10, 10, 2]);
    let made = report(&tables, 1200, "2025Q1", Audience::Clinic);
    assert_eq!(
        made.front_page.chance,
        "Between 2024 Q1 and 2025 Q1 the share of people alive and ulcer-free at 12 weeks went from 50% (10 of 20) to 10% (2 of \
         20). If nothing had changed at all, a difference at least this large would still turn up by chance in about 1 of 100 \
         such comparisons, so chance alone is an unlikely reason."
    );
}

#[test]
fn the_pathway_chart_gives_every_step_out_of_the_same_limbs() {
    let gangrene = "200 open right A site=toe-1 gangrene=digits\n";
    let texts = [
        format!("{gangrene}200 vascular-referral right\n205 vascular-seen right\n240 open right A"),
        format!("{gangrene}210 vascular-referral right\n214 vascular-seen right\n240 open right A"),
        format!("{gangrene}203 physiologic-study right\n240 open right A"),
    ];
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    let made = report(&stories(&texts), 600, "2023Q3", Audience::Clinic);
    for id in ["vascular-pathway", "vascular-pathway-urgent"] {
        let figure = made.figures.iter().find(|figure| figure.frame().id == id);
        let Some(Figure::Pathway(pathway)) = figure else {
            panic!("no {id}")
        };
        assert_eq!(pathway.n, Count::Shown(3));
        let steps: Vec<(&str, Count)> = pathway
            .steps
            .iter()
            .map(|step| (step.label.as_str(), step.n_reached))
            .collect();
        assert_eq!(
            steps,
            [
                ("Bedside screen", Count::Shown(0)),
                ("Physiologic study", Count::Shown(1)),
                ("Imaging", Count::Shown(0)),
                ("Referral", Count::Shown(2)),
                ("Seen by the vascular service", Count::Shown(2)),
                ("Revascularisation", Count::Shown(0)),
            ]
        );
        // Half of three are two: the second referral, on day 10.
        let Value::Known(median) = &pathway.steps[3].median_days else {
            panic!("no median")
        };
        assert_eq!(median.estimate, 10.0);
        assert!(matches!(
            pathway.steps[1].median_days,
            Value::NotReached { .. }
        ));
    }
    let bands = made
        .figures
        .iter()
        .find(|figure| figure.frame().id == "vascular-referral-bands")
        .unwrap();
    assert_eq!(
        bands.frame().title,
        "From trigger to referral, 3 limbs of 2023 Q3: referred before the trigger or on its day (1), 8 to 14 days (1), not within 28 days (1)"
    );
}
