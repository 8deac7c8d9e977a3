//! One invented figure of every further kind.

use crate::fixture::{QUARTERS, curve, date, known};
use outcomes::report::*;

fn frame(id: &str, family: &str, title: &str) -> FigureFrame {
    FigureFrame {
        id: id.into(),
        family: family.into(),
        title: title.into(),
        caption: "Who is drawn, what the marks mean and how to read them.".into(),
        alt: format!("{title}, in words for those who cannot see the picture."),
    }
}

/// One of each kind, in the order of the enumeration.
pub(crate) fn all() -> Vec<Figure> {
    vec![
        Figure::IncidenceStack(stack()),
        Figure::SmallMultiples(multiples()),
        Figure::IntervalBeside(beside()),
        Figure::Trajectories(trajectories()),
        Figure::FollowUpCalendar(calendar()),
        Figure::ControlChart(control()),
        Figure::Funnel(funnel()),
        Figure::Forest(forest()),
        Figure::Movement(movement()),
        Figure::Pathway(pathway()),
    ]
}

const TICKS: [u32; 7] = [0, 28, 56, 84, 112, 140, 168];

fn stack() -> IncidenceStack {
    let healed = curve("Healed without amputation", true, 0.62, 80.0, 0.14);
    let amputated = curve("Amputated", false, 0.08, 70.0, 0.12);
    let died = curve("Died", false, 0.05, 90.0, 0.1);
    let mut open = curve("Still open", false, 0.0, 80.0, 0.1);
    open.points = healed.points.clone();
    open.points.insert(
        0,
        BandPoint {
            day: 0.0,
            estimate: 1.0,
            lower: Some(1.0),
            upper: Some(1.0),
        },
    );
    for (place, point) in open.points.iter_mut().enumerate().skip(1) {
        let others = [&healed, &amputated, &died].map(|curve| curve.points[place - 1].estimate);
        point.estimate = 1.0 - others.iter().sum::<f64>();
        point.lower = Some((point.estimate - 0.07).max(0.0));
        point.upper = Some((point.estimate + 0.07).min(1.0));
    }
    IncidenceStack {
        frame: frame(
            "outcomes-stacked",
            "healing",
            "Six in ten heal in 24 weeks; one in four is still open",
        ),
        until_days: 168,
        ticks: TICKS.to_vec(),
        tick_unit: "weeks".into(),
        layers: vec![healed, amputated, died, open],
        at_risk: vec![AtRiskRow {
            label: "At risk".into(),
            counts: [182, 140, 101, 77, 60, 48, 30].map(Count::Shown).to_vec(),
        }],
    }
}

fn multiples() -> SmallMultiples {
    let panel = |label: &str, level: f64, n: u64| SmallPanel {
        label: label.into(),
        n: Count::Shown(n),
        curves: vec![
            curve("Healed without amputation", true, level, 70.0, 0.3),
            curve("Amputated", false, 0.12, 80.0, 0.2),
        ],
        at_risk: (0..7).map(|step| Count::Shown(n - n * step / 8)).collect(),
        absent: None,
    };
    let mut panels = vec![
        panel("SINBAD 0 to 2", 0.75, 96),
        panel("SINBAD 3 to 6", 0.45, 64),
        panel("Not gradable", 0.6, 22),
        panel("Gangrene", 0.2, 4),
    ];
    panels[3].absent = Some("not estimable".into());
    panels[3].curves.clear();
    SmallMultiples {
        frame: frame(
            "healing-by-severity",
            "healing",
            "Severe ulcers heal less often",
        ),
        until_days: 168,
        ticks: TICKS.to_vec(),
        tick_unit: "weeks".into(),
        panels,
    }
}

fn beside() -> IntervalBeside {
    let masses = [
        (10.0, 21.0, 0.08),
        (21.0, 28.0, 0.12),
        (40.0, 56.0, 0.18),
        (70.0, 84.0, 0.12),
        (100.0, 126.0, 0.1),
    ];
    let mut masses: Vec<IntervalMass> = masses
        .map(|(after_day, by_day, probability)| IntervalMass {
            after_day,
            by_day: Some(by_day),
            probability,
        })
        .to_vec();
    masses.push(IntervalMass {
        after_day: 160.0,
        by_day: None,
        probability: 0.4,
    });
    IntervalBeside {
        frame: frame(
            "healing-between-visits",
            "healing",
            "Dating healing at visits makes it look about a week slower",
        ),
        until_days: 168,
        ticks: TICKS.to_vec(),
        tick_unit: "weeks".into(),
        conventional: curve("Dated at the visit that saw it", true, 0.65, 80.0, 0.12),
        interval_label: "Known only between visits".into(),
        masses,
    }
}

fn trajectories() -> Trajectories {
    let line = |speed: f64| AreaLine {
        points: (0..6)
            .map(|visit| {
                let day = f64::from(visit) * 14.0;
                let share_of_first = (1.0 + speed * day / 28.0).max(0.0);
                AreaPoint {
                    day,
                    share_of_first,
                }
            })
            .collect(),
    };
    Trajectories {
        frame: frame(
            "area-courses",
            "healing",
            "Half of the ulcers have lost half their area by week 5",
        ),
        until_days: 84,
        ticks: vec![0, 28, 56, 84],
        tick_unit: "weeks".into(),
        n: Count::Shown(12),
        lines: (0..12).map(|n| line(0.2 - 0.07 * f64::from(n))).collect(),
        summary_label: "median and middle half".into(),
        summary: (0..7)
            .map(|week| {
                let day = f64::from(week) * 14.0;
                let estimate = 0.985_f64.powf(day);
                BandPoint {
                    day,
                    estimate,
                    lower: Some(estimate * 0.6),
                    upper: Some(estimate * 1.4),
                }
            })
            .collect(),
    }
}

fn calendar() -> FollowUpCalendar {
    let spans = (0..24_u32)
        .map(|n| FollowUpSpan {
            start: date(2024, 1 + n / 2 % 12, 1 + n),
            days: 40 + n * 13 % 170,
            ending: (n % 5) as usize,
        })
        .collect();
    let bar = |quarter: &str, counts: [u64; 5]| StackedQuarter {
        quarter: quarter.into(),
        counts: counts.map(Count::Shown).to_vec(),
        n: Count::Shown(counts.iter().sum()),
    };
    FollowUpCalendar {
        frame: frame(
            "follow-up-calendar",
            "healing",
            "Nearly everybody is followed to an outcome",
        ),
        from: date(2024, 1, 1),
        to: date(2025, 9, 30),
        until_days: 364,
        endings: [
            "healed",
            "amputated",
            "died",
            "lost from sight",
            "still followed",
        ]
        .map(str::to_owned)
        .to_vec(),
        spans,
        quarters: vec![
            bar("2024 Q1", [20, 2, 1, 3, 0]),
            bar("2024 Q2", [18, 1, 2, 2, 4]),
        ],
    }
}

fn control() -> ControlChart {
    let point = |(quarter, (estimate, n)): (&&str, (f64, u64))| ControlPoint {
        label: (*quarter).into(),
        value: Value::Known(Estimate {
            estimate,
            interval: None,
        }),
        n: Some(Count::Shown(n)),
        centre: Some(0.44),
        lower: Some(0.44 - 1.5 / (n as f64).sqrt()),
        upper: Some(0.44 + 1.5 / (n as f64).sqrt()),
        signals: Vec::new(),
    };
    let values = [0.38, 0.44, 0.36, 0.41, 0.47, 0.43, 0.49, 0.17, 0.72];
    let mut points: Vec<ControlPoint> = QUARTERS
        .iter()
        .zip(values.into_iter().zip([41, 43, 39, 44, 45, 42, 47, 48, 40]))
        .map(point)
        .collect();
    points[7].signals = vec!["beyond a limit".into()];
    points[8].signals = vec!["beyond a limit".into(), "two of three".into()];
    points.push(ControlPoint {
        label: QUARTERS[9].into(),
        value: Value::NotYet {
            matures_on: date(2026, 1, 14),
        },
        n: None,
        centre: None,
        lower: None,
        upper: None,
        signals: Vec::new(),
    });
    ControlChart {
        frame: frame(
            "healed-control",
            "healing",
            "Two quarters lie beyond the limits",
        ),
        unit: Unit::Share,
        kind_of_chart: "proportions with limits from each quarter’s number".into(),
        limits_words: "3 standard deviations from the centre".into(),
        points,
        signals: vec![
            NamedSignal {
                name: "beyond a limit".into(),
                words: "one point beyond a limit".into(),
            },
            NamedSignal {
                name: "two of three".into(),
                words: "2 of 3 points in a row more than 2 standard deviations out on one side"
                    .into(),
            },
        ],
    }
}

fn funnel() -> Funnel {
    let limits = |level: f64, factor: f64| FunnelLimits {
        level,
        points: (5..=60)
            .map(|n| {
                let half = factor * (0.44 * 0.56 / f64::from(n)).sqrt();
                FunnelLimit {
                    size: f64::from(n),
                    lower: (0.44 - half).max(0.0),
                    upper: (0.44 + half).min(1.0),
                }
            })
            .collect(),
    };
    let unit = |label: &str, n: u64, share: f64, place: &str| FunnelUnit {
        label: label.into(),
        size: Some(n as f64),
        n: Count::Shown(n),
        value: known(share, share - 0.1, share + 0.1, "Wilson"),
        place: place.into(),
    };
    Funnel {
        frame: frame(
            "sites-funnel",
            "healing",
            "Both sites lie within what chance leaves",
        ),
        unit: Unit::Share,
        size_words: "ulcers".into(),
        expected: 0.44,
        limits: vec![limits(0.95, 1.96), limits(0.998, 3.09)],
        units: vec![
            unit("Quay", 48, 0.49, "inside the 95% limits"),
            unit("Hill", 21, 0.38, "inside the 95% limits"),
            unit("Home visits", 12, 0.08, "below the 95% limits"),
        ],
    }
}

fn forest() -> Forest {
    let row = |group: Option<&str>, label: &str, value: Value, n: u64| ForestRow {
        group: group.map(str::to_owned),
        label: label.into(),
        value,
        n: Some(Count::Shown(n)),
        n_events: None,
    };
    let matures_on = date(2026, 1, 14);
    Forest {
        frame: frame(
            "observed-against-expected",
            "healing",
            "As many heal as their severity lets expect",
        ),
        unit: Unit::Ratio,
        reference: Some((1.0, "as expected".into())),
        rows: vec![
            row(
                None,
                "Healed by 20 weeks",
                known(0.98, 0.81, 1.17, "exact"),
                122,
            ),
            row(
                Some("By stage"),
                "Stage 3",
                known(0.0, 0.0, 2.4, "exact"),
                9,
            ),
            row(
                Some("By stage"),
                "Stage 4, seen late and with a long label that wraps",
                known(2.1, 0.3, 14.0, "exact"),
                4,
            ),
            row(
                Some("By stage"),
                "Stage 1",
                Value::NotYet { matures_on },
                12,
            ),
        ],
    }
}

fn movement() -> Movement {
    let flow = |from, to, n| MovementFlow {
        from,
        to,
        n: Count::Shown(n),
    };
    Movement {
        frame: frame(
            "tier-movement",
            "risk-tiers",
            "Most people stay in their tier; 14 of 60 rose by one",
        ),
        from: "End of 2025 Q2".into(),
        to: "End of 2025 Q3".into(),
        from_classes: [
            "Very low risk",
            "Moderate risk",
            "High risk",
            "Not seen before",
        ]
        .map(str::to_owned)
        .to_vec(),
        to_classes: [
            "Very low risk",
            "Moderate risk",
            "High risk",
            "No longer seen",
        ]
        .map(str::to_owned)
        .to_vec(),
        flows: vec![
            flow(0, 0, 30),
            flow(0, 1, 9),
            flow(1, 1, 20),
            flow(1, 2, 5),
            flow(2, 2, 24),
            flow(2, 3, 3),
            flow(3, 0, 6),
            flow(3, 2, 2),
        ],
    }
}

fn pathway() -> Pathway {
    let step = |label: &str, shares: [f64; 4], median_days: Value, n: u64| PathwayStep {
        label: label.into(),
        reached: shares
            .map(|share| {
                known(
                    share,
                    (share - 0.15).max(0.0),
                    (share + 0.15).min(1.0),
                    "log-log",
                )
            })
            .to_vec(),
        median_days,
        n_reached: Count::Shown(n),
    };
    let day = |estimate| {
        Value::Known(Estimate {
            estimate,
            interval: None,
        })
    };
    Pathway {
        frame: frame(
            "vascular-pathway",
            "vascular",
            "Two in three threatened limbs are referred within a week",
        ),
        start: "limbs that met a vascular trigger".into(),
        n: Count::Shown(35),
        days: vec![1, 7, 14, 28],
        steps: vec![
            step("Referral", [0.4, 0.66, 0.71, 0.8], day(3.0), 28),
            step(
                "Seen by the vascular service",
                [0.0, 0.2, 0.37, 0.57],
                day(20.0),
                20,
            ),
            step(
                "Revascularisation",
                [0.0, 0.03, 0.11, 0.2],
                Value::NotReached { lower: None },
                7,
            ),
        ],
    }
}
