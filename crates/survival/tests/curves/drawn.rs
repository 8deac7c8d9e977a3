//! Dates drawn inside their intervals.

use survival::interval::{DrawOptions, drawn_incidence};
use survival::{CurveOptions, Limits, Sample, SurvivalError, Variance, aalen_johansen};

const OPTIONS: DrawOptions = DrawOptions {
    n_draws: 20,
    seed: 7,
    level: 0.95,
    limits: Limits::LogLog,
};

/// Ten rows worked by hand in the definitions: incidence of cause 1 is 0.2 by 4, 0.316667 by 6, 0.472222 by 10.
fn ten() -> Sample {
    Sample::new(
        vec![2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 12.0],
        vec![1, 2, 1, 0, 1, 2, 0, 1, 0, 0],
    )
    .unwrap()
}

#[test]
fn intervals_without_width_give_the_curve_itself() {
    let sample = ten();
    let exact = sample.exit().to_vec();
    let drawn = drawn_incidence(&sample, &exact, 1, &[4.0, 6.0, 10.0, 13.0], &OPTIONS).unwrap();
    let options = CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    };
    let curve = aalen_johansen(&sample, &options).unwrap();
    for (point, by_hand) in drawn.points.iter().zip([0.2, 0.316667, 0.472222]) {
        let wanted = curve.of_cause(1).unwrap().at(point.time).unwrap();
        assert!((point.estimate.unwrap() - by_hand).abs() < 1e-6);
        assert!((point.std_error.unwrap() - wanted.std_error.unwrap()).abs() < 1e-12);
        assert!(point.between.unwrap() < 1e-12);
        assert!((point.lower.unwrap() - wanted.lower.unwrap()).abs() < 1e-12);
        assert!((point.upper.unwrap() - wanted.upper.unwrap()).abs() < 1e-12);
    }
    assert_eq!(drawn.points[3].estimate, None, "nobody was seen so late");
}

#[test]
fn events_spread_evenly_over_their_intervals_and_what_is_not_known_widens_the_limits() {
    // 400 rows, each with its event in (0, 10]: by time 3 three of ten. A draw has variance 0.3 x 0.7/400 within and as much
    // between draws, so that the pooled variance is (2 + 1/20) times that, up to chance.
    let n = 400;
    let sample = Sample::new(vec![10.0; n], vec![1; n]).unwrap();
    let drawn = drawn_incidence(&sample, &vec![0.0; n], 1, &[3.0, 10.0, 20.0], &OPTIONS).unwrap();
    let point = &drawn.points[0];
    let one: f64 = (0.3f64 * 0.7 / 400.0).sqrt();
    assert!((point.estimate.unwrap() - 0.3).abs() < 4.0 * one / 20.0f64.sqrt());
    let ratio = point.std_error.unwrap() / (2.05f64.sqrt() * one);
    assert!((0.75..1.25).contains(&ratio), "{ratio}");
    // Everybody has had it by 10, and nothing changes after that.
    assert!((drawn.points[1].estimate.unwrap() - 1.0).abs() < 1e-12);
    assert!((drawn.points[2].estimate.unwrap() - 1.0).abs() < 1e-12);
}

#[test]
fn an_interval_never_opens_before_a_delayed_entry() {
    let n = 200;
    let sample = Sample::new(vec![10.0; n], vec![1; n])
        .and_then(|sample| sample.with_entry(vec![5.0; n]))
        .unwrap();
    let drawn = drawn_incidence(&sample, &vec![0.0; n], 1, &[5.0, 7.5], &OPTIONS).unwrap();
    assert!((drawn.points[0].estimate.unwrap()).abs() < 1e-12);
    assert!((drawn.points[1].estimate.unwrap() - 0.5).abs() < 0.05);
}

#[test]
fn the_same_seed_gives_the_same_digits_and_another_seed_others() {
    let n = 50;
    let sample = Sample::new(vec![10.0; n], vec![1; n]).unwrap();
    let with = |seed| {
        let options = DrawOptions { seed, ..OPTIONS };
        drawn_incidence(&sample, &vec![0.0; n], 1, &[4.0], &options).unwrap()
    };
    assert_eq!(with(1), with(1));
    assert_ne!(with(1).points, with(2).points);
}

#[test]
fn bad_columns_and_settings_are_refused() {
    let sample = ten();
    let refused = |not_yet: &[f64], options: &DrawOptions| {
        drawn_incidence(&sample, not_yet, 1, &[4.0], options).unwrap_err()
    };
    assert!(matches!(
        refused(&[0.0; 9], &OPTIONS),
        SurvivalError::UnequalColumns { .. }
    ));
    assert!(matches!(
        refused(&[-1.0; 10], &OPTIONS),
        SurvivalError::Negative { row: 1, .. }
    ));
    assert!(matches!(
        refused(&[f64::NAN; 10], &OPTIONS),
        SurvivalError::NotFinite { row: 1, .. }
    ));
    for n_draws in [0, 1, 1001] {
        let options = DrawOptions { n_draws, ..OPTIONS };
        assert!(matches!(
            refused(&[0.0; 10], &options),
            SurvivalError::SettingOutOfRange { .. }
        ));
    }
    assert!(matches!(
        refused(
            &[0.0; 10],
            &DrawOptions {
                level: 1.0,
                ..OPTIONS
            }
        ),
        SurvivalError::LevelOutOfRange
    ));
}
