//! Small cases worked by hand, as fractions.

use survival::{CurveNote, CurveOptions, Sample, SurvivalError, aalen_johansen, kaplan_meier};

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
