//! Facts that hold for every sample.

use proptest::prelude::*;
use survival::{Curve, CurveOptions, Limits, Sample, Variance, aalen_johansen, kaplan_meier};

#[derive(Debug, Clone)]
struct Row {
    entry: f64,
    exit: f64,
    cause: u32,
    cluster: u32,
    weight: f64,
}

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let row = (0_u32..6, 0_u32..12, 0_u32..4, 0_u32..8, 1_u32..4).prop_map(
        |(entry, more, cause, cluster, weight)| Row {
            entry: f64::from(entry),
            exit: f64::from(entry + more + u32::from(entry > 0)),
            cause,
            cluster,
            weight: f64::from(weight) / 2.0,
        },
    );
    prop::collection::vec(row, 1..60)
}

fn sample(rows: &[Row]) -> Sample {
    sample_with(rows, [true; 3])
}

/// A sample with entries, weights and clusters as asked.
fn sample_with(rows: &[Row], [has_entry, has_weight, has_cluster]: [bool; 3]) -> Sample {
    let column = |of: fn(&Row) -> f64| rows.iter().map(of).collect::<Vec<f64>>();
    let mut sample = Sample::new(
        column(|row| row.exit),
        rows.iter().map(|row| row.cause).collect(),
    )
    .unwrap();
    if has_entry {
        sample = sample.with_entry(column(|row| row.entry)).unwrap();
    }
    if has_weight {
        sample = sample.with_weight(column(|row| row.weight)).unwrap();
    }
    if has_cluster {
        let cluster = rows.iter().map(|row| row.cluster).collect();
        sample = sample.with_cluster(cluster).unwrap();
    }
    sample
}

fn options(variance: Variance) -> CurveOptions {
    CurveOptions {
        variance,
        ..CurveOptions::default()
    }
}

fn all_curves(sample: &Sample, variance: Variance) -> Vec<Curve> {
    let mut found = aalen_johansen(sample, &options(variance)).unwrap();
    found.causes.push(found.event_free);
    found.causes
}

fn assert_same(left: &[Curve], right: &[Curve], tolerance: f64) {
    assert_eq!(left.len(), right.len());
    for (left, right) in left.iter().zip(right) {
        assert_eq!(left.points.len(), right.points.len());
        for (left, right) in left.points.iter().zip(&right.points) {
            assert!(
                (left.estimate - right.estimate).abs() <= tolerance,
                "{left:?} {right:?}"
            );
            match (left.std_error, right.std_error) {
                // a variance of 0 has an error of sqrt(1e-16)
                (Some(left), Some(right)) => {
                    assert!(
                        (left * left - right * right).abs() <= tolerance,
                        "{left} {right}"
                    );
                }
                (left, right) => assert_eq!(left, right),
            }
        }
    }
}

/// Whether there are entries, weights and clusters.
const ALL_COLUMNS: [[bool; 3]; 8] = [
    [false, false, false],
    [false, false, true],
    [false, true, false],
    [false, true, true],
    [true, false, false],
    [true, false, true],
    [true, true, false],
    [true, true, true],
];

proptest! {
    #[test]
    fn the_order_of_the_rows_changes_no_estimate(rows in rows(), turn in 0_usize..60) {
        let mut turned = rows.clone();
        turned.rotate_left(turn % rows.len());
        turned.reverse();
        // not in the last digit either
        for columns in ALL_COLUMNS {
            for variance in [Variance::Greenwood, Variance::Aalen, Variance::Robust] {
                let (left, right) = (sample_with(&rows, columns), sample_with(&turned, columns));
                prop_assert_eq!(all_curves(&left, variance), all_curves(&right, variance));
            }
        }
    }

    #[test]
    fn rows_counted_by_day_and_rows_sorted_by_time_give_the_same(rows in rows()) {
        for columns in ALL_COLUMNS {
            // weights of 1, entries of 0 and times off the whole days take the ways for rows of any kind
            let plain = sample_with(&rows, columns);
            let ones = plain.clone().with_weight(vec![1.0; rows.len()]).unwrap();
            let halves: Vec<Row> = rows
                .iter()
                .map(|row| Row { entry: row.entry / 2.0, exit: row.exit / 2.0, ..row.clone() })
                .collect();
            for variance in [Variance::Greenwood, Variance::Robust] {
                let expected = all_curves(&plain, variance);
                if !columns[1] {
                    assert_same(&expected, &all_curves(&ones, variance), 1e-12);
                }
                assert_same(&expected, &all_curves(&sample_with(&halves, columns), variance), 1e-12);
            }
        }
    }

    #[test]
    fn a_row_twice_is_a_row_of_double_weight(rows in rows()) {
        let twice: Vec<Row> = rows.iter().chain(&rows).cloned().collect();
        let heavy: Vec<Row> = rows.iter().map(|row| Row { weight: 2.0 * row.weight, ..row.clone() }).collect();
        for variance in [Variance::Greenwood, Variance::Aalen, Variance::Robust] {
            assert_same(&all_curves(&sample(&twice), variance), &all_curves(&sample(&heavy), variance), 1e-11);
        }
    }

    #[test]
    fn the_unit_of_time_changes_only_the_times(rows in rows(), scale in 0.001_f64..1000.0) {
        let scaled: Vec<Row> = rows
            .iter()
            .map(|row| Row { entry: row.entry * scale, exit: row.exit * scale, ..row.clone() })
            .collect();
        for variance in [Variance::Greenwood, Variance::Robust] {
            assert_same(&all_curves(&sample(&rows), variance), &all_curves(&sample(&scaled), variance), 1e-11);
        }
    }

    #[test]
    fn splitting_follow_up_changes_nothing(rows in rows(), cut in 0.5_f64..11.5) {
        let mut split = Vec::new();
        for (number, row) in rows.iter().enumerate() {
            let row = Row { cluster: number as u32, ..row.clone() };
            if row.entry < cut && cut < row.exit {
                split.push(Row { exit: cut, cause: 0, ..row.clone() });
                split.push(Row { entry: cut, ..row });
            } else {
                split.push(row);
            }
        }
        let whole: Vec<Row> = rows.iter().enumerate().map(|(number, row)| Row { cluster: number as u32, ..row.clone() }).collect();
        for variance in [Variance::Greenwood, Variance::Robust] {
            let (whole, split) = (all_curves(&sample(&whole), variance), all_curves(&sample(&split), variance));
            for (whole, split) in whole.iter().zip(&split) {
                for point in &whole.points {
                    let other = split.at(point.time).unwrap();
                    prop_assert!((point.estimate - other.estimate).abs() < 1e-11);
                    let variance = |std_error: Option<f64>| std_error.map_or(-1.0, |std_error| std_error * std_error);
                    prop_assert!((variance(point.std_error) - variance(other.std_error)).abs() < 1e-11);
                    prop_assert!((point.n_at_risk - other.n_at_risk).abs() < 1e-11);
                }
            }
        }
    }

    #[test]
    fn causes_and_event_free_add_up_to_1(rows in rows()) {
        let curves = all_curves(&sample(&rows), Variance::Greenwood);
        for position in 0..curves[0].points.len() {
            let sum: f64 = curves.iter().map(|curve| curve.points[position].estimate).sum();
            prop_assert!((sum - 1.0).abs() < 1e-11, "{sum}");
        }
    }

    #[test]
    fn one_cause_is_one_minus_kaplan_meier_with_the_same_variances(rows in rows()) {
        let rows: Vec<Row> = rows.into_iter().map(|row| Row { cause: row.cause.min(1), ..row.clone() }).collect();
        let sample = sample(&rows).with_causes(&[1]);
        for variance in [Variance::Greenwood, Variance::Robust] {
            let incidence = aalen_johansen(&sample, &options(variance)).unwrap();
            let event_free = kaplan_meier(&sample, &options(variance)).unwrap();
            for (left, right) in incidence.causes[0].points.iter().zip(&event_free.points) {
                prop_assert!((left.estimate + right.estimate - 1.0).abs() < 1e-11);
                if let Some(std_error) = right.std_error {
                    prop_assert!((left.std_error.unwrap().powi(2) - std_error.powi(2)).abs() < 1e-11);
                }
            }
        }
    }

    #[test]
    fn limits_hold_the_estimate_and_widen_with_the_level(rows in rows()) {
        for limits in [Limits::Linear, Limits::Log, Limits::LogLog, Limits::Logit, Limits::Arcsine] {
            let at = |level| kaplan_meier(&sample(&rows), &CurveOptions { level, limits, ..CurveOptions::default() }).unwrap();
            for (narrow, wide) in at(0.8).points.iter().zip(&at(0.99).points) {
                let (Some(lower), Some(upper)) = (narrow.lower, narrow.upper) else { continue };
                prop_assert!(0.0 <= lower && lower <= narrow.estimate && narrow.estimate <= upper && upper <= 1.0);
                prop_assert!(wide.lower.unwrap() <= lower && upper <= wide.upper.unwrap());
            }
        }
    }

    #[test]
    fn without_delay_weights_and_clusters_robust_is_greenwood(rows in rows()) {
        let plain = Sample::new(
            rows.iter().map(|row| row.exit).collect(),
            rows.iter().map(|row| row.cause).collect(),
        )
        .unwrap();
        assert_same(&all_curves(&plain, Variance::Greenwood), &all_curves(&plain, Variance::Robust), 1e-11);
        let singletons = plain.clone().with_cluster((0..rows.len() as u32).rev().collect()).unwrap();
        assert_same(&all_curves(&plain, Variance::Robust), &all_curves(&singletons, Variance::Robust), 1e-11);
    }
}
