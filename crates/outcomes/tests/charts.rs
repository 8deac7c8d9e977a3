//! Charts that the report makes: outcomes stacked, healing by severity, movement between tiers, follow-up calendar. Cases
//! worked by hand. 2023 Q3 is story day 181 to 272, 2023 Q4 day 273 to 364.

#![allow(clippy::unwrap_used, reason = "tests")]

mod support;

use outcomes::analyse::{Material, analyse, analyse_copies};
use outcomes::measure::MEASURES;
use outcomes::report::{
    Audience, Count, Figure, IncidenceCurve, MeasureResult, Provenance, Report,
};
use outcomes::rules::{DateKind, DeclaredDates, Quarter, Rules};
use outcomes::tables::Tables;
use support::{derived, horizon, stories};

const CUT_OFF: i64 = 700;

fn with_material<T>(
    tables: &Tables,
    quarter: &str,
    dates: &DeclaredDates,
    make: impl FnOnce(&Material<'_>) -> T,
) -> T {
    derived(tables, CUT_OFF, |people| {
        make(&Material {
            dates,
            title: "Title",
            practice: "Tarnwick Foot Practice",
            audience: Audience::Auditor,
            quarter: Quarter::parse(quarter).unwrap(),
            trend_quarters: 4,
            measures: MEASURES,
            strata: &[],
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

fn report(tables: &Tables, quarter: &str) -> Report {
    with_material(tables, quarter, &DeclaredDates::AS_RECORDED, analyse)
}

fn results<'r>(report: &'r Report, id: &str) -> &'r [MeasureResult] {
    let mut sheets = report.families.iter().flat_map(|family| &family.measures);
    &sheets.find(|sheet| sheet.id == id).unwrap().results
}

/// The value of a curve on a day.
fn on(curve: &IncidenceCurve, day: f64) -> f64 {
    let step = curve.points.iter().rev().find(|point| point.day <= day);
    step.map_or(0.0, |step| step.estimate)
}

/// Ten people with one ulcer each, all followed to an end or beyond 24 weeks: five heal (day 20 to 60), one loses the toe on
/// day 30 and one the leg on day 40, one dies on day 50, two stay open.
const TEN: [&str; 10] = [
    "200 open right A\n220 closed right A",
    "200 open right A\n230 closed right A",
    "200 open right A\n240 closed right A",
    "200 open right A\n250 closed right A",
    "200 open right A\n260 closed right A",
    "200 open right A site=toe-1\n230 minor-amputation right A",
    "200 open right A\n240 major-amputation right",
    "200 open right A\n250 death",
    "200 open right A\n290 open right A\n390 open right A",
    "200 open right A\n290 open right A\n390 open right A",
];

#[test]
fn the_stack_holds_every_outcome_and_adds_up_to_everybody_on_every_day() {
    let made = report(&stories(&TEN), "2023Q3");
    let stack = made.figures.iter().find_map(|figure| match figure {
        Figure::IncidenceStack(stack) => Some(stack),
        _ => None,
    });
    let stack = stack.unwrap();
    let ends: Vec<(&str, i64)> = stack
        .layers
        .iter()
        .map(|layer| {
            (
                layer.label.as_str(),
                (on(layer, 168.0) * 10.0).round() as i64,
            )
        })
        .collect();
    assert_eq!(
        ends,
        [
            ("Healed", 5),
            ("Minor amputation", 1),
            ("Major amputation", 1),
            ("Died", 1),
            ("Still open", 2)
        ]
    );
    for day in 0..=168 {
        let sum: f64 = stack
            .layers
            .iter()
            .map(|layer| on(layer, f64::from(day)))
            .sum();
        assert!((sum - 1.0).abs() < 1e-9, "day {day}: {sum}");
    }
    // day 28: one healed; those at risk just before day 56 are the two still open and the one healed on day 60
    let counts: Vec<Count> = stack.at_risk[0].counts.clone();
    assert_eq!(counts[..3], [10, 9, 3].map(Count::Shown));
    assert_eq!(
        stack.frame.title,
        "By 24 weeks: healed 50%, minor amputation 10%, major amputation 10%, died 10%, still open 20%"
    );
    let healed = results(&made, "healed-within-24-weeks")[0].clone();
    assert_eq!(healed.numerator, Some(Count::Shown(5)));
}

#[test]
fn an_outcome_that_never_happened_has_no_layer_and_is_named() {
    let made = report(&stories(&TEN[..5]), "2023Q3");
    let stack = made.figures.iter().find_map(|figure| match figure {
        Figure::IncidenceStack(stack) => Some(stack),
        _ => None,
    });
    let stack = stack.unwrap();
    assert_eq!(stack.layers.len(), 2);
    assert!(
        stack
            .frame
            .caption
            .ends_with("Not once in that time: minor amputation, major amputation, died."),
        "{}",
        stack.frame.caption
    );
}

/// SINBAD counts site (not the forefoot), blood flow, numbness, infection, area of at least 1 square cm and depth: severe from 3.
#[test]
fn each_severity_group_has_its_own_curves_and_a_handful_has_none() {
    let mild = "site=toe-1 depth=skin infection=none length=0.5 width=0.5";
    let severe = "site=heel depth=bone-or-joint infection=moderate length=3 width=3";
    let exam = "200 exam right sensation=intact pulses=palpable";
    let person = |ulcer: &str, then: &str| format!("200 open right A {ulcer}\n{exam}\n{then}");
    let mut texts: Vec<String> = Vec::new();
    for number in 0..6 {
        texts.push(person(mild, &format!("{} closed right A", 220 + number)));
    }
    for number in 0..6 {
        let then = if number < 2 {
            "230 closed right A".to_owned()
        } else {
            "290 open right A\n390 open right A".to_owned()
        };
        texts.push(person(severe, &then));
    }
    texts.push("200 open right A\n230 closed right A".to_owned());
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    let made = report(&stories(&texts), "2023Q3");
    let chart = made.figures.iter().find_map(|figure| match figure {
        Figure::SmallMultiples(chart) => Some(chart),
        _ => None,
    });
    let chart = chart.unwrap();
    let panels: Vec<(&str, Count, Option<&str>)> = chart
        .panels
        .iter()
        .map(|panel| (panel.label.as_str(), panel.n, panel.absent.as_deref()))
        .collect();
    assert_eq!(
        panels,
        [
            ("SINBAD 0 to 2", Count::Shown(6), None),
            ("SINBAD 3 to 6", Count::Shown(6), None),
            ("not gradable", Count::Shown(1), Some("too few for a curve")),
        ]
    );
    assert!((on(&chart.panels[1].curves[0], 168.0) - 2.0 / 6.0).abs() < 1e-9);
    let names = |panel: usize| -> Vec<&str> {
        let curves = chart.panels[panel].curves.iter();
        curves.map(|curve| curve.label.as_str()).collect()
    };
    assert_eq!(names(0), names(1));
    assert_eq!(chart.panels[1].at_risk[2], Count::Shown(4));
}

/// Quarter ends: day 272 and day 364.
const MOVED: [&str; 6] = [
    // loses sensation: to tier 1
    "100 exam right sensation=intact pulses=palpable deformity=no\n100 exam left sensation=intact pulses=palpable deformity=no\n\
     300 exam right sensation=lost pulses=palpable deformity=no\n300 exam left sensation=intact pulses=palpable deformity=no",
    // opens a wound
    "100 exam right sensation=intact pulses=palpable deformity=no\n100 exam left sensation=intact pulses=palpable deformity=no\n\
     350 open right A",
    // has one closed
    "200 open right A\n260 open right A\n300 closed right A\n300 exam right sensation=lost\n300 exam left sensation=lost",
    // comes
    "300 open left B\n360 open left B",
    // dies
    "100 exam right sensation=intact pulses=palpable deformity=no\n100 exam left sensation=intact pulses=palpable deformity=no\n\
     310 death",
    // stays open
    "200 open right A\n270 open right A\n350 open right A",
];

#[test]
fn the_flows_add_up_to_both_measures_of_tiers() {
    let made = report(&stories(&MOVED), "2023Q4");
    let chart = made.figures.iter().find_map(|figure| match figure {
        Figure::Movement(chart) => Some(chart),
        _ => None,
    });
    let chart = chart.unwrap();
    let n = |keep: &dyn Fn(usize, usize) -> bool| -> u64 {
        let flows = chart.flows.iter().filter(|flow| keep(flow.from, flow.to));
        flows
            .map(|flow| match flow.n {
                Count::Shown(n) => n,
                Count::Suppressed => panic!("nothing is hidden here"),
            })
            .sum()
    };
    let last = chart.to_classes.len() - 1;
    assert_eq!(n(&|from, _| from == last), 1, "one came");
    assert_eq!(n(&|_, to| to == last), 1, "one died");
    assert_eq!(n(&|from, to| (from, to) == (4, 4)), 1, "one stayed open");
    let of_end = results(&made, "risk-tier-distribution");
    let of_end = of_end.iter().filter(|result| result.period == "2023 Q4");
    for (class, result) in of_end.enumerate() {
        assert_eq!(
            result.numerator,
            Some(Count::Shown(n(&|_, to| to == class))),
            "{}",
            result.stratum
        );
    }
    let moved = results(&made, "tier-movement");
    let of = |class: &str| -> u64 {
        let found = moved
            .iter()
            .find(|result| result.period == "2023 Q4" && result.stratum == class);
        match found.unwrap().numerator {
            Some(Count::Shown(n)) => n,
            other => panic!("{class}: {other:?}"),
        }
    };
    let is_tier = |class: usize| class < 4;
    assert_eq!(
        of("to a higher tier"),
        n(&|from, to| is_tier(from) && is_tier(to) && to > from)
    );
    assert_eq!(
        of("to a lower tier"),
        n(&|from, to| is_tier(from) && is_tier(to) && to < from)
    );
    assert_eq!(
        of("new open wound"),
        n(&|from, to| is_tier(from) && to == 4)
    );
    assert_eq!(of("wound closed"), n(&|from, to| from == 4 && is_tier(to)));
    assert_eq!(
        of("not gradable at one end or both"),
        n(&|from, to| (from == 5 && to < last) || (to == 5 && from < last))
    );
    let people = n(&|from, to| from < last && to < last);
    assert!(
        chart.frame.title.contains(&format!(" of {people} people")),
        "{}",
        chart.frame.title
    );
}

#[test]
fn the_calendar_shows_every_ulcer_of_the_trend_and_how_it_stands() {
    let mut texts = TEN.to_vec();
    // older than the trend, prevalent, and one still followed at the cut-off
    texts.extend([
        "10 open right A\n300 closed right A",
        "280 open right A\n690 open right A",
    ]);
    let made = report(&stories(&texts), "2023Q4");
    let chart = made.figures.iter().find_map(|figure| match figure {
        Figure::FollowUpCalendar(chart) => Some(chart),
        _ => None,
    });
    let chart = chart.unwrap();
    assert_eq!(chart.spans.len(), 11);
    let by_quarter: Vec<(&str, Vec<Count>)> = chart
        .quarters
        .iter()
        .filter(|bar| bar.n != Count::Shown(0))
        .map(|bar| (bar.quarter.as_str(), bar.counts.clone()))
        .collect();
    // healed, amputated, died, lost, still followed, moved away
    assert_eq!(
        by_quarter,
        [
            ("2023 Q3", [5, 2, 1, 2, 0, 0].map(Count::Shown).to_vec()),
            ("2023 Q4", [0, 0, 0, 0, 1, 0].map(Count::Shown).to_vec()),
        ]
    );
    assert!(
        chart
            .spans
            .iter()
            .any(|span| span.days == 410 && span.ending == 4)
    );
}

#[test]
fn there_is_no_calendar_of_dates_that_are_not_true_and_none_for_the_public() {
    let shifted = DeclaredDates {
        kind: DateKind::Shifted,
        ..DeclaredDates::AS_RECORDED
    };
    let is_calendar = |figure: &Figure| matches!(figure, Figure::FollowUpCalendar(_));
    let tables = stories(&TEN);
    let made = with_material(&tables, "2023Q3", &shifted, analyse);
    assert!(!made.figures.iter().any(is_calendar));
    let copies = with_material(&tables, "2023Q3", &DeclaredDates::AS_RECORDED, |material| {
        analyse_copies(material, &[Audience::Clinic, Audience::Public], &[])
    });
    assert!(copies[0].figures.iter().any(is_calendar));
    let is_new = |figure: &Figure| {
        matches!(
            figure,
            Figure::FollowUpCalendar(_)
                | Figure::SmallMultiples(_)
                | Figure::IncidenceStack(_)
                | Figure::Movement(_)
        )
    };
    assert!(
        !copies[1].figures.iter().any(is_new),
        "ten people are too few"
    );
}

/// Three hundred people at each quarter's end, in large classes that move in large groups; the same with one person moving alone.
#[test]
fn the_public_sees_movement_whole_or_not_at_all() {
    let exams = |day: u32, sensation: &str| {
        format!(
            "{day} exam right sensation={sensation} pulses=palpable deformity=no\n{day} exam left sensation={sensation} pulses=palpable deformity=no\n"
        )
    };
    let group = |n: usize, text: String| vec![text; n];
    let large: Vec<String> = [
        group(60, exams(100, "lost")),
        group(
            40,
            "200 open right A\n270 open right A\n350 open right A".to_owned(),
        ),
        group(
            30,
            format!("{}200 visit\n340 open right A", exams(100, "lost")),
        ),
    ]
    .concat();
    let public = |texts: &[String]| {
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let tables = stories(&texts);
        let mut copies =
            with_material(&tables, "2023Q4", &DeclaredDates::AS_RECORDED, |material| {
                analyse_copies(material, &[Audience::Public], &[])
            });
        let copy = copies.remove(0);
        copy.figures.into_iter().find_map(|figure| match figure {
            Figure::Movement(chart) => Some(chart),
            _ => None,
        })
    };
    let shown = public(&large).unwrap();
    for flow in &shown.flows {
        assert!(
            matches!(flow.n, Count::Shown(n) if n > 10),
            "a small move is printed"
        );
    }
    let one_more = [
        large,
        vec!["200 open right A\n270 open right A\n300 closed right A".to_owned()],
    ]
    .concat();
    assert_eq!(public(&one_more), None);
}
