//! Small cases worked by hand, as fractions.

use survival::{
    CurveNote, CurveOptions, Limits, Sample, StateHistory, SurvivalError, Variance, aalen_johansen,
    kaplan_meier, nelson_aalen, restricted_mean, state_occupancy,
};

fn options() -> CurveOptions {
    CurveOptions::default()
}

#[track_caller]
fn assert_near(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() < 1e-14,
        "found {found}, expected {expected}"
    );
}

#[test]
fn events_come_before_censorings_at_a_tie() {
    // 4 at risk at 2: one event, one censored; then 2 at risk at 3
    let sample = Sample::new(vec![2.0, 2.0, 3.0, 4.0], vec![1, 0, 1, 0]).unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_near(curve.at(2.0).unwrap().estimate, 3.0 / 4.0);
    assert_near(curve.at(3.0).unwrap().estimate, 3.0 / 8.0);
    assert_near(curve.at(2.0).unwrap().n_at_risk, 4.0);
    assert_near(curve.at(2.5).unwrap().n_at_risk, 2.0);
    assert_near(curve.at(2.5).unwrap().n_events, 0.0);
}

#[test]
fn events_at_time_0_count() {
    let sample = Sample::new(vec![0.0, 0.0, 1.0, 2.0], vec![1, 0, 1, 0]).unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_near(curve.at(0.0).unwrap().estimate, 3.0 / 4.0);
    assert_near(curve.at(0.0).unwrap().n_at_risk, 4.0);
    assert_near(curve.at(1.0).unwrap().estimate, 3.0 / 8.0);
    let with_entry_0 = sample.with_entry(vec![0.0; 4]).unwrap();
    assert_eq!(
        kaplan_meier(&with_entry_0, &options()).unwrap().points,
        curve.points
    );
}

#[test]
fn late_rows_are_at_risk_only_after_their_entry() {
    // at 2: rows 1 and 2 (row 3 enters at 2, not yet at risk); at 4: rows 2 and 3
    let sample = Sample::new(vec![2.0, 5.0, 4.0], vec![1, 0, 1])
        .unwrap()
        .with_entry(vec![0.0, 1.0, 2.0])
        .unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_near(curve.at(2.0).unwrap().estimate, 1.0 / 2.0);
    assert_near(curve.at(4.0).unwrap().estimate, 1.0 / 4.0);
    for (time, n_at_risk) in [
        (0.0, 1.0),
        (1.0, 1.0),
        (1.5, 2.0),
        (2.0, 2.0),
        (3.0, 2.0),
        (5.0, 1.0),
        (6.0, 0.0),
    ] {
        assert_near(curve.n_at_risk_at(time), n_at_risk);
    }
    assert!(curve.notes.is_empty(), "{:?}", curve.notes);
}

#[test]
fn a_risk_set_that_empties_before_later_entries_is_noted() {
    let sample = Sample::new(vec![2.0, 9.0, 8.0], vec![1, 1, 0])
        .unwrap()
        .with_entry(vec![0.0, 5.0, 5.0])
        .unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_eq!(curve.notes, vec![CurveNote::RiskSetEmptied { time: 2.0 }]);
    let sample = Sample::new(vec![2.0, 9.0, 8.0], vec![0, 1, 0])
        .unwrap()
        .with_entry(vec![0.0, 5.0, 5.0])
        .unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_eq!(
        curve.notes,
        vec![CurveNote::NobodyAtRisk { from: 2.0, to: 8.0 }]
    );
}

/// Times 2,3,4,5,6,7,8,10,12,12 with causes 1,2,1,0,1,2,0,1,0,0, worked by hand.
#[test]
fn incidences_of_ten_rows_are_the_hand_worked_fractions() {
    let sample = Sample::new(
        vec![2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 12.0],
        vec![1, 2, 1, 0, 1, 2, 0, 1, 0, 0],
    )
    .unwrap();
    let found = aalen_johansen(&sample, &options()).unwrap();
    let one = found.of_cause(1).unwrap();
    for (time, incidence) in [
        (2.0, 1.0 / 10.0),
        (4.0, 2.0 / 10.0),
        (6.0, 2.0 / 10.0 + 7.0 / 60.0),
        (10.0, 2.0 / 10.0 + 7.0 / 60.0 + 7.0 / 45.0),
    ] {
        assert_near(one.at(time).unwrap().estimate, incidence);
    }
    assert_near(
        found.of_cause(2).unwrap().at(7.0).unwrap().estimate,
        1.0 / 10.0 + 7.0 / 60.0,
    );
    assert_near(found.event_free.at(10.0).unwrap().estimate, 14.0 / 45.0);
}

#[test]
fn nothing_is_known_past_the_last_observation_and_nothing_happened_before_the_first() {
    let sample = Sample::new(vec![2.0, 3.0], vec![1, 0]).unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    let start = curve.at(1.0).unwrap();
    assert_eq!(
        (start.estimate, start.lower, start.upper),
        (1.0, Some(1.0), Some(1.0))
    );
    assert_eq!(curve.at(3.5), None);
    assert_eq!(curve.at(-1.0), None);
    assert_eq!(curve.at(f64::NAN), None);
}

#[test]
fn a_median_met_exactly_over_a_span_is_its_middle() {
    let sample = Sample::new(vec![1.0, 2.0, 5.0, 9.0], vec![1, 1, 1, 1]).unwrap();
    let curve = kaplan_meier(&sample, &options()).unwrap();
    assert_eq!(curve.quantile(0.5).estimate, Some(3.5));
    assert_eq!(curve.quantile(0.0).estimate, None);
    assert_eq!(curve.quantile(0.6).estimate, Some(5.0));
}

#[test]
fn damaged_columns_are_refused_by_name_and_row() {
    use SurvivalError::*;
    let two = || Sample::new(vec![1.0, 2.0], vec![1, 0]).unwrap();
    assert_eq!(Sample::new(vec![], vec![]), Err(NoRows));
    assert_eq!(
        Sample::new(vec![1.0], vec![]),
        Err(UnequalColumns {
            column: "cause",
            n_expected: 1,
            n_found: 0
        })
    );
    for bad in [f64::NAN, f64::INFINITY] {
        assert_eq!(
            Sample::new(vec![1.0, bad], vec![1, 1]),
            Err(NotFinite {
                column: "exit",
                row: 2
            })
        );
    }
    assert_eq!(
        Sample::new(vec![-1.0], vec![1]),
        Err(Negative {
            column: "exit",
            row: 1
        })
    );
    assert_eq!(
        two().with_entry(vec![0.0, 3.0]),
        Err(ExitBeforeEntry { row: 2 })
    );
    assert_eq!(
        two().with_entry(vec![1.0, 0.0]),
        Err(EventAtEntry { row: 1 })
    );
    assert_eq!(two().with_weight(vec![0.0, 0.0]), Err(NoWeight));
    assert_eq!(
        two().with_weight(vec![1.0, -1.0]),
        Err(Negative {
            column: "weight",
            row: 2
        })
    );
    let wrong_level = CurveOptions {
        level: 95.0,
        ..options()
    };
    assert_eq!(kaplan_meier(&two(), &wrong_level), Err(LevelOutOfRange));
}

/// The 6-MP arm of Freireich's trial (Blood 1963;21:699), weeks; the printed figures are those of the textbooks
/// (Andersen, Borgan, Gill, Keiding 1993; Kalbfleisch and Prentice 2002).
fn treated_arm() -> Sample {
    let rows = [
        (6, 1),
        (6, 1),
        (6, 1),
        (6, 0),
        (7, 1),
        (9, 0),
        (10, 1),
        (10, 0),
        (11, 0),
        (13, 1),
        (16, 1),
        (17, 0),
        (19, 0),
        (20, 0),
        (22, 1),
        (23, 1),
        (25, 0),
        (32, 0),
        (32, 0),
        (34, 0),
        (35, 0),
    ];
    let times = rows.iter().map(|&(week, _)| f64::from(week)).collect();
    Sample::new(times, rows.iter().map(|&(_, cause)| cause).collect()).unwrap()
}

fn control_arm() -> Sample {
    let weeks = [
        1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23,
    ];
    Sample::new(weeks.map(f64::from).to_vec(), vec![1; 21]).unwrap()
}

#[test]
fn freireichs_treated_arm_gives_the_printed_curve() {
    let curve = kaplan_meier(&treated_arm(), &options()).unwrap();
    for (week, n_at_risk, estimate, std_error) in [
        (6.0, 21.0, 0.857143, 0.07636),
        (7.0, 17.0, 0.806723, 0.08694),
        (10.0, 15.0, 0.752941, 0.09635),
        (13.0, 12.0, 0.690196, 0.10681),
        (16.0, 11.0, 0.627451, 0.11405),
        (22.0, 7.0, 0.537815, 0.12823),
        (23.0, 6.0, 0.448179, 0.13459),
    ] {
        let point = curve.at(week).unwrap();
        assert_near(point.n_at_risk, n_at_risk);
        assert!((point.estimate - estimate).abs() < 5e-7, "{point:?}");
        assert!(
            (point.std_error.unwrap() - std_error).abs() < 5e-6,
            "{point:?}"
        );
    }
    let log = CurveOptions {
        limits: Limits::Log,
        ..options()
    };
    let last = kaplan_meier(&treated_arm(), &log)
        .unwrap()
        .at(23.0)
        .unwrap();
    assert!(
        (last.lower.unwrap() - 0.2488).abs() < 5e-5 && (last.upper.unwrap() - 0.8074).abs() < 5e-5
    );
    let hazard = nelson_aalen(&treated_arm(), &options())
        .unwrap()
        .at(23.0)
        .unwrap();
    assert!((hazard.estimate - 0.752114).abs() < 5e-7);
}

#[test]
fn freireichs_medians_and_restricted_means_are_the_printed_ones() {
    for (limits, treated, control) in [
        (Limits::Linear, (13.0, None), (4.0, 11.0)),
        (Limits::LogLog, (13.0, None), (4.0, 11.0)),
        (Limits::Log, (16.0, None), (4.0, 12.0)),
    ] {
        let of = |sample: &Sample| {
            let options = CurveOptions {
                limits,
                ..options()
            };
            kaplan_meier(sample, &options).unwrap().quantile(0.5)
        };
        let found = of(&treated_arm());
        assert_eq!(
            (found.estimate, found.lower, found.upper),
            (Some(23.0), Some(treated.0), treated.1)
        );
        let found = of(&control_arm());
        assert_eq!(
            (found.estimate, found.lower, found.upper),
            (Some(8.0), Some(control.0), Some(control.1))
        );
    }
    for (sample, until, estimate, std_error) in [
        (treated_arm(), 23.0, 17.91, 1.55),
        (treated_arm(), 35.0, 23.29, 2.83),
        (control_arm(), 23.0, 8.67, 1.38),
        (control_arm(), 35.0, 8.67, 1.38),
    ] {
        let found = restricted_mean(&sample, until, &options()).unwrap();
        assert!((found.estimate - estimate).abs() < 5e-3, "{found:?}");
        assert!((found.std_error - std_error).abs() < 5e-3, "{found:?}");
    }
}

/// The ten rows above: variances at 10 of cause 1 as computed by cmprsk 2.2.11 (Aalen) and R survival 3.5-3.
#[test]
fn variances_of_the_ten_rows_are_those_of_two_libraries() {
    let sample = Sample::new(
        vec![2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 12.0],
        vec![1, 2, 1, 0, 1, 2, 0, 1, 0, 0],
    )
    .unwrap();
    let at_10 = |variance| {
        let options = CurveOptions {
            variance,
            ..options()
        };
        let found = aalen_johansen(&sample, &options).unwrap();
        found
            .of_cause(1)
            .unwrap()
            .at(10.0)
            .unwrap()
            .std_error
            .unwrap()
    };
    assert!((at_10(Variance::Aalen).powi(2) - 0.042368).abs() < 5e-7);
    assert!((at_10(Variance::Robust) - 0.178125).abs() < 5e-7);
}

/// Klein and Moeschberger 2003, example 4.3 in kind: a small early risk set under delayed entry empties and ends the curve.
#[test]
fn conditioning_on_a_landmark_restores_a_curve_that_a_small_risk_set_ended() {
    let (entry, exit) = (
        vec![0.0, 0.0, 5.0, 5.0, 5.0, 5.0],
        vec![1.0, 2.0, 7.0, 8.0, 9.0, 10.0],
    );
    let cause = vec![1, 1, 1, 1, 0, 0];
    let whole = Sample::new(exit.clone(), cause.clone())
        .unwrap()
        .with_entry(entry)
        .unwrap();
    let ended = kaplan_meier(&whole, &options()).unwrap();
    assert_eq!(ended.at(9.0).unwrap().estimate, 0.0);
    assert_eq!(ended.notes, vec![CurveNote::RiskSetEmptied { time: 2.0 }]);
    let from_5 = Sample::new(exit[2..].to_vec(), cause[2..].to_vec())
        .unwrap()
        .with_entry(vec![5.0; 4])
        .unwrap();
    assert_near(
        kaplan_meier(&from_5, &options())
            .unwrap()
            .at(9.0)
            .unwrap()
            .estimate,
        0.5,
    );
}

#[test]
fn a_move_at_time_0_counts_once() {
    // subject 1 is admitted to state 0 and moves to 1 at once; subject 2 stays
    let history = StateHistory::new(
        vec![1, 1, 2],
        vec![0.0, 0.0, 0.0],
        vec![0.0, 4.0, 4.0],
        vec![0, 1, 0],
        vec![Some(1), None, None],
    )
    .unwrap();
    let found = state_occupancy(
        &history,
        &CurveOptions {
            variance: Variance::Robust,
            ..options()
        },
    )
    .unwrap();
    assert_eq!(found.initial, vec![1.0, 0.0]);
    let point = found.states[0].at(0.0).unwrap();
    assert_eq!((point.n_at_risk, point.estimate), (2.0, 0.5));
    assert_eq!(found.states[1].at(4.0).unwrap().n_at_risk, 1.0);
}
