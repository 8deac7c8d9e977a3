//! An invented quarter of the invented Tarnwick Foot Practice.

use chrono::NaiveDate;
use outcomes::finding::{ByteAccount, FileAccount};
use outcomes::report::*;

pub(crate) fn date(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

/// The whole report for this audience.
pub(crate) fn report(audience: Audience) -> Report {
    Report {
        format: 1,
        title: "Quarterly foot outcomes".into(),
        practice: "Tarnwick Foot Practice".into(),
        audience,
        quarter: "2025 Q3".into(),
        quarter_start: date(2025, 7, 1),
        quarter_end: date(2025, 9, 30),
        horizon: Horizon {
            data_start: date(2021, 1, 1),
            cut_off: date(2025, 9, 30),
            deaths_known_to: date(2025, 9, 30),
            procedures_known_to: date(2025, 8, 31),
        },
        dates: DatesDeclared::default(),
        front_page: front_page(),
        changes: (audience == Audience::Auditor).then(changes),
        families: vec![healing(), limbs(), vascular(), tiers()],
        figures: figures(),
        monitoring: monitoring(audience),
        action_list: if audience == Audience::Clinic { actions() } else { Vec::new() },
        flow: flow(),
        accounts: accounts(),
        findings: findings(),
        completeness: completeness(),
        settings: settings(),
        rules: rules(),
        glossary: vec![
            ("Cumulative incidence".into(), "The share expected to have had the event by a day, when other events can come first.".into()),
            ("Index visit".into(), "The first visit here at which this ulcer is seen; day 0.".into()),
            ("SINBAD".into(), "A score from 0 to 6 for site, ischaemia, neuropathy, bacterial infection, area and depth of an ulcer.".into()),
            ("Not yet".into(), "The cohort has not been followed long enough; the date says when it will have been.".into()),
        ],
        cautions: vec![
            "Scores describe groups; they are not prognoses for an individual.".into(),
            "Differences between quarters of this size often arise by chance.".into(),
            "Amputations and deaths are as known to this practice up to the dates on the first page.".into(),
        ],
        suppressions: Vec::new(),
        sensitivity: if audience == Audience::Auditor { sensitivity() } else { Vec::new() },
        cohort_table: if audience == Audience::Auditor { cohort_table() } else { CohortTable::default() },
        checklist: if audience == Audience::Auditor { checklist() } else { Vec::new() },
        provenance: Provenance {
            accepted_columns: Vec::new(),
            program: "limbledger 0.1.0".into(),
            pipeline: ("quarterly.toml".into(), "3f2a".repeat(16)),
            layout: ("tarnwick-2025.toml".into(), "9bc1".repeat(16)),
            inputs: vec![
                ("visits.csv.gz".into(), 4_218_330, "07de".repeat(16)),
                ("events.csv".into(), 8_812, "a41f".repeat(16)),
            ],
            code_tables: vec![("ICD-10-CM, fiscal year 2026".into(), "5e0c".repeat(16))],
        },
    }
}

pub(crate) const QUARTERS: [&str; 10] = [
    "2023 Q2", "2023 Q3", "2023 Q4", "2024 Q1", "2024 Q2", "2024 Q3", "2024 Q4", "2025 Q1",
    "2025 Q2", "2025 Q3",
];

fn trend(values: &[(f64, f64, f64, u64)], absent: &str) -> Vec<TrendPoint> {
    QUARTERS
        .iter()
        .enumerate()
        .map(|(place, quarter)| match values.get(place) {
            Some((estimate, lower, upper, n)) => TrendPoint {
                quarter: (*quarter).into(),
                estimate: Some(*estimate),
                lower: Some(*lower),
                upper: Some(*upper),
                n: Some(Count::Shown(*n)),
                absent: None,
            },
            None => TrendPoint {
                quarter: (*quarter).into(),
                estimate: None,
                lower: None,
                upper: None,
                n: None,
                absent: Some(absent.into()),
            },
        })
        .collect()
}

fn healed_trend() -> Vec<TrendPoint> {
    trend(
        &[
            (0.38, 0.25, 0.53, 41),
            (0.44, 0.30, 0.59, 43),
            (0.36, 0.23, 0.52, 39),
            (0.41, 0.28, 0.56, 44),
            (0.47, 0.33, 0.61, 45),
            (0.43, 0.29, 0.58, 42),
            (0.49, 0.35, 0.63, 47),
            (0.46, 0.33, 0.60, 48),
        ],
        "not yet",
    )
}

fn result(measure: &str, cohort: &str, period: &str, unit: Unit, value: Value) -> MeasureResult {
    MeasureResult {
        measure: measure.into(),
        cohort: cohort.into(),
        period: period.into(),
        stratum: "all".into(),
        unit,
        value,
        numerator: None,
        denominator: None,
        n_unknown: None,
        bounds: None,
        notes: Vec::new(),
    }
}

pub(crate) fn known(estimate: f64, lower: f64, upper: f64, method: &str) -> Value {
    Value::Known(Estimate {
        estimate,
        interval: Some(Interval {
            lower: Some(lower),
            upper: Some(upper),
            level: 0.95,
            method: method.into(),
        }),
    })
}

fn of(numerator: u64, denominator: u64, result: MeasureResult) -> MeasureResult {
    MeasureResult {
        numerator: Some(Count::Shown(numerator)),
        denominator: Some(Count::Shown(denominator)),
        ..result
    }
}

fn monitoring(audience: Audience) -> Monitoring {
    if audience == Audience::Public {
        return Monitoring::default();
    }
    Monitoring {
        rules: vec![
            "Rules: 1 point beyond 3 standard deviations; 7 in a row on one side of the centre."
                .into(),
        ],
        series: vec![
            WatchedSeries {
                title: "Healed by 12 weeks, no amputation".into(),
                figure: Some("healed-trend".into()),
                finding: "no signal in 9 quarters".into(),
                is_signal: false,
            },
            WatchedSeries {
                title: "Outcome known at 12 weeks".into(),
                figure: None,
                finding: "2025 Q1 below the limits".into(),
                is_signal: true,
            },
        ],
    }
}

fn front_page() -> FrontPage {
    let headline =
        |title: &str, result: MeasureResult, trend: Vec<TrendPoint>, reading: &str| Headline {
            title: title.into(),
            result,
            trend,
            expectation: None,
            reading: reading.into(),
        };
    let share = Unit::Share;
    FrontPage {
        sentences: vec![
            "Between July and September 2025 the practice saw 312 people and 38 new ulcers in 35 people.".into(),
            "Of the ulcers first seen in January to March, 46% had healed by 12 weeks without an amputation; a year earlier it was 41%.".into(),
            "Two of 21 limbs that came in under threat twelve months ago have been lost.".into(),
            "Nine people wait for a vascular referral although a trigger was met.".into(),
        ],
        headlines: vec![
            headline("Healed by 12 weeks, no amputation",
                of(22, 48, result("healed-within-12-weeks", "ulcers first seen in 2025 Q1", "2025 Q1", share, known(0.46, 0.33, 0.60, "clustered"))),
                healed_trend(), "Nearly half heal in twelve weeks; the interval is wide, so this quarter cannot be told from the last."),
            headline("Alive and ulcer-free at 12 weeks",
                of(19, 44, result("alive-and-ulcer-free", "people first seen in 2025 Q1", "2025 Q1", share, known(0.43, 0.30, 0.58, "Wilson"))),
                healed_trend(), "Counts people, not ulcers, and amputation wounds that closed count as closed."),
            headline("Median time to healing",
                MeasureResult { denominator: Some(Count::Shown(182)), ..result("median-time-to-healing", "ulcers first seen in the last year", "rolling", Unit::Days, known(93.0, 74.0, 121.0, "log-log")) },
                Vec::new(), "Half of the ulcers are healed by then, those that never heal included."),
            headline("Came back within 12 months",
                result("recurrence-within-12-months", "people healed in 2024 Q3", "2024 Q3", share, Value::NotYet { matures_on: date(2026, 1, 14) }),
                trend(&[(0.40, 0.26, 0.56, 31), (0.35, 0.21, 0.51, 29), (0.42, 0.28, 0.57, 33)], "not yet"),
                "Any new ulcer on either foot, from 28 days after all wounds had closed."),
            headline("Threatened limbs kept at 12 months",
                of(19, 21, result("amputation-avoidance", "limbs first seen under threat in 2024 Q3", "2024 Q3", share, known(0.905, 0.711, 0.973, "Wilson"))),
                trend(&[(0.85, 0.64, 0.95, 20), (0.88, 0.66, 0.97, 17), (0.905, 0.711, 0.973, 21)], "not yet"),
                "Expected from their stage at arrival: 84%. This does not show that care caused the difference."),
            headline("Perfusion measured near the first visit",
                of(31, 38, result("perfusion-measured", "ulcers first seen in 2025 Q3", "2025 Q3", share, known(0.816, 0.666, 0.908, "Wilson"))),
                trend(&[(0.55, 0.40, 0.69, 41), (0.60, 0.45, 0.73, 43), (0.62, 0.46, 0.75, 39), (0.66, 0.51, 0.78, 44), (0.71, 0.57, 0.82, 45), (0.69, 0.54, 0.81, 42), (0.74, 0.60, 0.85, 47), (0.77, 0.63, 0.87, 48), (0.80, 0.65, 0.90, 40), (0.816, 0.666, 0.908, 38)], ""),
                "A pressure, a waveform or a study; feeling for pulses alone does not count."),
            headline("Major amputations",
                MeasureResult { denominator: Some(Count::Shown(402)), ..result("major-amputations", "limbs at risk in 2025 Q3", "2025 Q3", Unit::Count, Value::Known(Estimate { estimate: 1.0, interval: Some(Interval { lower: Some(0.0), upper: Some(5.6), level: 0.95, method: "exact Poisson".into() }) })) },
                Vec::new(), "One event a quarter is too few for a trend; look at the days between events instead."),
            headline("Outcome known at 12 weeks",
                of(44, 48, result("outcome-known", "ulcers first seen in 2025 Q1", "2025 Q1", share, known(0.917, 0.804, 0.967, "Wilson"))),
                Vec::new(), "Above the 75% below which no comparison is made."),
        ],
        chance: "With about 45 ulcers a quarter, a change of 10 points between two quarters arises by chance about one time in three, with no change in care at all.".into(),
    }
}

fn sheet(
    id: &str,
    title: &str,
    words: &str,
    direction: &str,
    results: Vec<MeasureResult>,
) -> MeasureSheet {
    MeasureSheet {
        id: id.into(),
        title: title.into(),
        version_of: None,
        speaks_of: "The newest figure speaks of those whose follow-up has ended; those of the reporting quarter are not in it yet.".into(),
        words: words.into(),
        numerator: "Those of the denominator with the event on or before the day.".into(),
        denominator: "Ulcers first seen here in the quarter, one row an ulcer.".into(),
        exclusions: "Ulcers first seen within 90 days of the start of the data, and ulcers transferred in (prevalent).".into(),
        maturity: "The cut-off lies more than 112 days after the last index visit.".into(),
        source: "Definition of this practice; healing as in the practical guidelines of the International Working Group on the Diabetic Foot.".into(),
        caution: "Ulcers of one person are alike; the interval allows for that. Healing is seen only at visits.".into(),
        context: vec!["24% (19.5% to 28.8%) healed by 12 weeks in the control arms of four trials (Margolis, Diabetes Care 1999;22:692).".into()],
        direction: direction.into(),
        results,
        splits: Vec::new(),
    }
}

fn healing() -> Family {
    let id = "healed-within-12-weeks";
    let mut results = vec![
        MeasureResult {
            denominator: Some(Count::Shown(38)),
            ..result(
                id,
                "ulcers first seen in 2025 Q3",
                "2025 Q3",
                Unit::Share,
                Value::NotYet {
                    matures_on: date(2026, 1, 20),
                },
            )
        },
        MeasureResult {
            denominator: Some(Count::Shown(40)),
            ..result(
                id,
                "ulcers first seen in 2025 Q2",
                "2025 Q2",
                Unit::Share,
                Value::NotYet {
                    matures_on: date(2025, 10, 21),
                },
            )
        },
        MeasureResult {
            n_unknown: Some(Count::Shown(4)),
            bounds: Some(Bounds {
                lowest: 0.42,
                highest: 0.50,
            }),
            ..of(
                22,
                48,
                result(
                    id,
                    "ulcers first seen in 2025 Q1",
                    "2025 Q1",
                    Unit::Share,
                    known(0.46, 0.33, 0.60, "clustered"),
                ),
            )
        },
    ];
    for (quarter, estimate, lower, upper, healed, n) in [
        ("2024 Q4", 0.49, 0.35, 0.63, 23, 47),
        ("2024 Q3", 0.43, 0.29, 0.58, 18, 42),
        ("2024 Q2", 0.47, 0.33, 0.61, 21, 45),
        ("2024 Q1", 0.41, 0.28, 0.56, 18, 44),
        ("2023 Q4", 0.36, 0.23, 0.52, 14, 39),
        ("2023 Q3", 0.44, 0.30, 0.59, 19, 43),
        ("2023 Q2", 0.38, 0.25, 0.53, 16, 41),
    ] {
        results.push(MeasureResult {
            n_unknown: Some(Count::Shown(3)),
            bounds: Some(Bounds {
                lowest: estimate - 0.04,
                highest: estimate + 0.04,
            }),
            ..of(
                healed,
                n,
                result(
                    id,
                    &format!("ulcers first seen in {quarter}"),
                    quarter,
                    Unit::Share,
                    known(estimate, lower, upper, "clustered"),
                ),
            )
        });
    }
    let site = |name: &str, value: Value, n: Count| MeasureResult {
        stratum: format!("site {name}"),
        denominator: Some(n),
        numerator: Some(n),
        ..result(
            id,
            "ulcers first seen in the last four quarters",
            "rolling",
            Unit::Share,
            value,
        )
    };
    results.push(site(
        "Quay",
        known(0.47, 0.38, 0.56, "clustered"),
        Count::Shown(118),
    ));
    results.push(site("Hill", Value::Suppressed, Count::Suppressed));
    let median = "median-time-to-healing";
    Family {
        id: "healing".into(),
        title: "Healing".into(),
        lead: "How many ulcers heal, how fast, and whether that is more or less than their size, age and grade would lead one to expect.".into(),
        measures: vec![
            sheet(id, "Healed within 12 weeks, without amputation", "Cumulative incidence of healing by day 84 after the index visit; minor amputation of that lesion, major amputation of that limb and death compete.", "better", results),
            MeasureSheet {
                context: Vec::new(),
                splits: vec![Split {
                    by: "site".into(),
                    title: "By site".into(),
                    words: "of the kept visit of that day; where there was none, of the newest before".into(),
                    results: vec![
                        MeasureResult { denominator: Some(Count::Shown(101)), stratum: "Harbour <clinic>".into(), ..result(median, "ulcers first seen in the last year", "rolling", Unit::Days, known(90.0, 70.0, 118.0, "log-log")) },
                        MeasureResult { denominator: Some(Count::Shown(81)), stratum: "not recorded".into(), ..result(median, "ulcers first seen in the last year", "rolling", Unit::Days, Value::NotReached { lower: None }) },
                    ],
                }],
                ..sheet(median, "Median time to healing", "The day on which the cumulative incidence of healing first reaches one half.", "worse", vec![
                    MeasureResult { denominator: Some(Count::Shown(182)), ..result(median, "ulcers first seen in the last year", "rolling", Unit::Days, known(93.0, 74.0, 121.0, "log-log")) },
                    MeasureResult { denominator: Some(Count::Shown(41)), stratum: "severe at presentation".into(), ..result(median, "ulcers first seen in the last year", "rolling", Unit::Days, Value::NotReached { lower: Some(148.0) }) },
                    MeasureResult { denominator: Some(Count::Shown(0)), stratum: "post-surgical".into(), ..result(median, "ulcers first seen in the last year", "rolling", Unit::Days, Value::NotEstimable { reason: "no such ulcer".into() }) },
                ])
            },
        ],
    }
}

fn limbs() -> Family {
    let id = "amputation-avoidance";
    Family {
        id: "limbs".into(),
        title: "Limbs".into(),
        lead: "How many limbs that came in under threat are kept, and how many toes, feet and legs are lost.".into(),
        measures: vec![sheet(id, "Threatened limbs kept at 12 months", "Limbs with WIfI stage 3 or 4 or gangrene at presentation that have had no major amputation by day 365; death competes.", "better", vec![
            of(19, 21, result(id, "limbs first seen under threat in 2024 Q3", "2024 Q3", Unit::Share, known(0.905, 0.711, 0.973, "Wilson"))),
            MeasureResult { notes: vec!["Expected 84%.".into(), "As known to this practice.".into()], ..of(15, 17, result(id, "limbs first seen under threat in 2024 Q2", "2024 Q2", Unit::Share, known(0.88, 0.66, 0.97, "exact binomial"))) },
        ])],
    }
}

fn vascular() -> Family {
    Family {
        id: "vascular-pathway".into(),
        title: "Vascular pathway".into(),
        lead: "How long people with blocked arteries wait before anybody acts.".into(),
        measures: Vec::new(),
    }
}

fn tiers() -> Family {
    let id = "major-amputation-rate";
    Family {
        id: "risk-tiers".into(),
        title: "Risk tiers".into(),
        lead: "Who is at which risk, and whose examination is overdue.".into(),
        measures: vec![sheet(
            id,
            "Examination overdue for tier",
            "People whose last complete examination is older than their tier allows.",
            "worse",
            vec![
                of(
                    1204,
                    12_983,
                    result(
                        id,
                        "people seen in the last 12 months",
                        "2025 Q3",
                        Unit::Share,
                        known(0.0927, 0.088, 0.098, "Wilson"),
                    ),
                ),
                result(
                    id,
                    "person-time in 2025",
                    "2025 Q3",
                    Unit::Per100PersonYears,
                    known(22.1, 19.0, 25.2, "exact Poisson"),
                ),
                result(
                    id,
                    "observed over expected",
                    "2025 Q3",
                    Unit::Ratio,
                    known(1.35, 0.94, 1.68, "exact Poisson"),
                ),
            ],
        )],
    }
}

pub(crate) fn curve(
    label: &str,
    is_main: bool,
    plateau: f64,
    pace: f64,
    width: f64,
) -> IncidenceCurve {
    let points = (1..=24)
        .map(|week| {
            let day = f64::from(week) * 7.0 - f64::from(week % 3);
            let estimate = plateau * (1.0 - (-day / pace).exp());
            let half = width * (estimate * (1.0 - estimate)).sqrt();
            BandPoint {
                day,
                estimate,
                lower: Some((estimate - half).max(0.0)),
                upper: Some(estimate + half),
            }
        })
        .collect();
    IncidenceCurve {
        label: label.into(),
        is_main,
        until_day: 168.0,

        points,
    }
}

fn figures() -> Vec<Figure> {
    let mut figures = everyday_figures();
    figures.extend(crate::fixture_figures::all());
    figures
}

fn everyday_figures() -> Vec<Figure> {
    vec![
        Figure::CumulativeIncidence {
            frame: FigureFrame {
                id: "healing-curves".into(),
                family: "healing".into(),
                title: "Nearly half of the ulcers heal by 12 weeks; few end in amputation or death".into(),
                caption: "Ulcers first seen from October 2023 to March 2025, from the first visit here. Lines: share with each outcome by that day; bands: 95% interval, ulcers of one person kept together.".into(),
                alt: "Healing rises from 0 to about 45 percent at 12 weeks and 62 percent at 24 weeks. Minor amputation stays below 9 percent, major amputation and death below 5 percent.".into(),
            },
            until_days: 168,
            ticks: vec![0, 28, 56, 84, 112, 140, 168],
            tick_unit: "weeks".into(),
            curves: vec![
                curve("Healed without amputation", true, 0.70, 80.0, 0.14),
                curve("Minor amputation of that lesion", false, 0.10, 70.0, 0.12),
                curve("Major amputation or death", false, 0.06, 90.0, 0.1),
            ],
            at_risk: vec![AtRiskRow {
                label: "At risk, all ulcers".into(),
                counts: [1266, 948, 671, 420, 288, 190, 121].map(Count::Shown).to_vec(),
            }],
            marks: vec![(84, "12 weeks".into()), (168, "24 weeks".into())],
        },
        Figure::QuarterlyTrend {
            frame: FigureFrame {
                id: "healed-trend".into(),
                family: "healing".into(),
                title: "Healing by 12 weeks has moved within chance for two years".into(),
                caption: "One dot a quarter of first visit; the line through it is the 95% interval. Quarters that have not been followed long enough are left open.".into(),
                alt: "Between 36 and 49 percent healed by 12 weeks in each of eight quarters, with wide overlapping intervals; the last two quarters are not yet mature.".into(),
            },
            unit: Unit::Share,
            points: healed_trend(),
            context: Some((0.242, "Control arms of four trials (Margolis, Diabetes Care 1999;22:692)".into())),
        },
        Figure::StackedShares {
            frame: FigureFrame {
                id: "tiers-by-quarter".into(),
                family: "risk-tiers".into(),
                title: "One person in nine has an active ulcer; the high-risk tier is growing".into(),
                caption: "People alive and seen in the last 12 months, by risk tier on the last day of each quarter. The number above a bar is how many people it stands for.".into(),
                alt: "Ten stacked bars. Very low risk falls from 34 to 30 percent, high risk rises from 17 to 22 percent, active ulcer stays near 11 percent.".into(),
            },
            layers: vec!["Very low risk".into(), "Low risk".into(), "Moderate risk".into(), "High risk".into(), "Active ulcer".into()],
            quarters: QUARTERS
                .iter()
                .zip(0_u64..)
                .map(|(quarter, step)| {
                    let counts = [240 - 2 * step, 170 - step, 95 + step, 120 + 5 * step, 75 + step % 3];
                    StackedQuarter {
                        quarter: (*quarter).into(),
                        counts: counts.map(Count::Shown).to_vec(),
                        n: Count::Shown(counts.iter().sum()),
                    }
                })
                .collect(),
        },
    ]
}

fn actions() -> Vec<ActionItem> {
    let item = |patient: &str,
                place: &str,
                rule: &str,
                reason: &str,
                days: i64,
                clears_when: &str,
                is_urgent: bool| ActionItem {
        patient: patient.into(),
        place: place.into(),
        rule: rule.into(),
        reason: reason.into(),
        days,
        clears_when: clears_when.into(),
        is_urgent,
        trace: "visits.csv.gz, record 41,207".into(),
    };
    vec![
        item(
            "TW-00042",
            "left, hallux",
            "urgent-vascular-trigger",
            "Toe pressure below 30 mmHg and no referral on record.",
            12,
            "a vascular referral or a visit to a vascular service is recorded",
            true,
        ),
        item(
            "TW-00317",
            "right, heel",
            "trigger-without-referral",
            "Ankle-brachial index below 0.5, no referral on record.",
            33,
            "a vascular referral is recorded",
            false,
        ),
        item(
            "TW-00108",
            "left, forefoot plantar",
            "open-over-12-weeks",
            "Open for 131 days since the first visit.",
            47,
            "the ulcer is closed, or its end is recorded",
            false,
        ),
        item(
            "TW-00251",
            "right, midfoot",
            "open-and-unseen",
            "Open when last seen, no visit since.",
            29,
            "a visit is recorded",
            false,
        ),
    ]
}

fn flow() -> Vec<FlowStep> {
    let step = |depth: u8, label: &str, n: u64| FlowStep {
        label: label.into(),
        n: Count::Shown(n),
        depth,
    };
    vec![
        step(0, "Records read", 61_342),
        step(1, "Set aside, each with its reason", 118),
        step(1, "Used", 61_224),
        step(0, "Ulcer episodes", 1_904),
        step(
            1,
            "Prevalent at the start of the data or transferred in",
            213,
        ),
        step(1, "First seen here", 1_691),
        step(2, "Post-surgical wounds, counted apart", 37),
    ]
}

fn accounts() -> Vec<FileAccount> {
    vec![
        FileAccount {
            file: "visits.csv.gz".into(),
            bytes: 4_218_330,
            text_bytes: ByteAccount::default(),
            n_read: 61_011,
            n_used: 60_897,
            set_aside: vec![
                ("duplicate-record".into(), 92),
                ("visit-after-data-cut-off".into(), 22),
            ],
        },
        FileAccount {
            file: "events.csv".into(),
            bytes: 8_812,
            text_bytes: ByteAccount::default(),
            n_read: 331,
            n_used: 327,
            set_aside: vec![("event-after-death".into(), 4)],
        },
    ]
}

fn findings() -> Vec<FindingTally> {
    let tally = |check: &str, severity: &str, words: &str, n: u64| FindingTally {
        check: check.into(),
        severity: severity.into(),
        words: words.into(),
        n: Count::Shown(n),
        examples: vec![
            "visits.csv.gz, record 1,022".into(),
            "visits.csv.gz, record 8,410".into(),
        ],
    };
    vec![
        tally(
            "duplicate-record",
            "set-aside",
            "The same record appears more than once.",
            92,
        ),
        tally(
            "visit-after-data-cut-off",
            "set-aside",
            "The visit is dated after the last day of the export.",
            22,
        ),
        tally(
            "area-does-not-match-sides",
            "note",
            "Area and length times width disagree by more than half.",
            61,
        ),
        tally(
            "pressure-out-of-range",
            "cell-ignored",
            "A pressure lies outside what the scale allows.",
            7,
        ),
    ]
}

fn completeness() -> Vec<FieldCompleteness> {
    [
        ("ulcer_observations", "area", 9_120_u64, 8_402_u64),
        ("foot_exams", "toe_pressure", 4_410, 1_204),
        ("patients", "diabetes_type", 1_310, 1_310),
        ("events", "level", 0, 0),
    ]
    .into_iter()
    .map(|(table, field, n_rows, n_present)| FieldCompleteness {
        table: table.into(),
        field: field.into(),
        n_rows,
        n_present,
        quarters: QUARTERS
            .iter()
            .map(|quarter| ((*quarter).to_owned(), n_present / 10, n_rows / 10))
            .collect(),
    })
    .collect()
}

fn settings() -> Vec<SettingLine> {
    let line = |name: &str, value: &str, default: Option<&str>, words: &str| SettingLine {
        name: name.into(),
        value: value.into(),
        default: default.map(Into::into),
        words: words.into(),
    };
    vec![
        line(
            "episodes.confirmation_gap_days",
            "14",
            None,
            "Days between the first closed visit and the one that confirms it (strict variant).",
        ),
        line(
            "episodes.reopening_window_days",
            "28",
            None,
            "A wound of the same site that reopens within this many days was not healed.",
        ),
        line(
            "episodes.lost_after_days",
            "120",
            Some("90"),
            "Open and unseen for more than this many days before the cut-off counts as lost.",
        ),
    ]
}

fn rules() -> Vec<RuleLine> {
    ["healed-within-12-weeks", "amputation-avoidance"]
        .into_iter()
        .map(|measure| RuleLine {
            measure: measure.into(),
            unit: "ulcer".into(),
            clock: "first visit here".into(),
            entry: "day 0, seen once or not".into(),
            event: "first closed visit, not followed by a reopening within 28 days".into(),
            competing: "minor amputation of that lesion, major amputation of that limb, death"
                .into(),
            censoring: "last visit at which the state of that ulcer was known".into(),
            same_day: "major amputation, minor amputation, healed, death, then censoring".into(),
            known: "an end is recorded or the ulcer was seen at or after the horizon".into(),
        })
        .collect()
}

/// One figure of the healing family as it was, and as it is under another rule or after a correction.
fn pair() -> (MeasureResult, MeasureResult) {
    let result = healing().measures[0].results[0].clone();
    let other = MeasureResult {
        numerator: Some(Count::Shown(30)),
        ..result.clone()
    };
    (result, other)
}

fn changes() -> Changes {
    let (before, after) = pair();
    let changed = ChangedResult {
        before,
        after: Some(after),
        causes: vec![Cause::CorrectedData, Cause::ChangedSettings],
    };
    Changes {
        earlier_quarter: "2025 Q2".into(),
        earlier_cut_off: date(2025, 6, 30),
        sentences: vec![
            "1 figure had a value then and has another now: 1 by corrected data, changed settings."
                .into(),
        ],
        differences: vec!["The export files are other files than then.".into()],
        counts: vec![ChangeCount {
            measure: changed.before.measure.clone(),
            causes: "corrected data, changed settings".into(),
            n_restated: 1,
            n_new: 0,
            n_gone: 0,
        }],
        restatements: vec![changed.clone()],
        others: vec![ChangedResult {
            after: None,
            ..changed
        }],
    }
}

fn sensitivity() -> Vec<Sensitivity> {
    let (in_force, alternative) = pair();
    let line = Sensitivity {
        rule: "reopening_window_days".into(),
        words: "a reopening up to this many days after the closure cancels it".into(),
        in_force: "28".into(),
        alternative: "14".into(),
        changed: vec![SensitiveFigure {
            in_force,
            alternative,
            difference: Some(0.034),
        }],
        unchanged: Vec::new(),
    };
    let idle = Sensitivity {
        rule: "lost_after_days".into(),
        changed: Vec::new(),
        ..line.clone()
    };
    vec![line, idle]
}

fn cohort_table() -> CohortTable {
    let cell = |n: u64, words: &str| CohortCell {
        n: Count::Shown(n),
        of: Count::Shown(40),
        quartiles: None,
        words: words.into(),
    };
    CohortTable {
        columns: vec!["2025".into(), "all".into()],
        groups: vec![CohortGroup {
            title: "Smoker".into(),
            of: "people".into(),
            rows: vec![CohortRow {
                label: "yes".into(),
                cells: vec![cell(10, "10 (25%)"), cell(10, "10 (25%)")],
            }],
        }],
    }
}

fn checklist() -> Vec<ChecklistItem> {
    vec![ChecklistItem {
        statement: "STROBE".into(),
        item: "22".into(),
        asks: "who paid and what part they had".into(),
        answer: "People".into(),
        is_for_people: true,
    }]
}
