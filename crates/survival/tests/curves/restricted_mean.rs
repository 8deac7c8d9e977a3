//! Restricted means against R survival 3.5-3, and the cumulative hazard beside them.

use crate::support::{Table, assert_close, cases, label, numbers};
use survival::{
    CurveOptions, Sample, SurvivalError, Variance, kaplan_meier, nelson_aalen, restricted_mean,
    restricted_means,
};

#[test]
fn restricted_means_and_cumulative_hazards_agree_with_reference_values() {
    let (mut n_means, mut n_hazards) = (0, 0);
    for case in cases("km.json") {
        let table = Table::of_case(&case);
        let is_robust = case["options"]["variance"]
            .as_str()
            .unwrap()
            .starts_with("robust");
        let (of_mean, of_hazard) = if is_robust {
            (Variance::Robust, Variance::Robust)
        } else {
            (Variance::Greenwood, Variance::Aalen)
        };
        let with = |variance| CurveOptions {
            variance,
            ..CurveOptions::default()
        };
        for expected in case["values"]["curves"].as_array().unwrap() {
            let name = format!("{} {}", case["id"], label(&expected["group"]));
            let sample = table.sample(&case, &table.rows_of(&case, &expected["group"]));
            let hazard = nelson_aalen(&sample, &with(of_hazard)).unwrap();
            for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
                let Some(point) = hazard.at(time.unwrap()) else {
                    continue;
                };
                n_hazards += 1;
                assert_close(
                    &name,
                    Some(point.estimate),
                    numbers(&expected["cumhaz"])[place],
                    1e-10,
                );
                let std_error = numbers(&expected["std_cumhaz"])[place];
                assert_close(&format!("{name} se"), point.std_error, std_error, 1e-8);
            }
            for mean in expected["rmst"].as_array().into_iter().flatten() {
                n_means += 1;
                let until = mean["tau"].as_f64().unwrap();
                let found = restricted_mean(&sample, until, &with(of_mean)).unwrap();
                assert_close(&name, Some(found.estimate), mean["rmst"].as_f64(), 1e-10);
                let name = format!("{name} mean se");
                assert_close(&name, Some(found.std_error), mean["std_err"].as_f64(), 1e-8);
            }
        }
    }
    assert!(n_means >= 10 && n_hazards >= 50, "{n_means} {n_hazards}");
}

#[test]
fn the_area_of_a_small_curve_is_the_hand_worked_one() {
    // S = 1 to 1, 3/4 to 2, 3/8 to 4: 1 + 3/4 + 3/4; variance (3/2)^2/12 + (3/4)^2/2
    let sample = Sample::new(vec![1.0, 1.0, 2.0, 4.0], vec![1, 0, 1, 0]).unwrap();
    let found = restricted_mean(&sample, 4.0, &CurveOptions::default()).unwrap();
    assert!((found.estimate - 2.5).abs() < 1e-14);
    assert!((found.std_error.powi(2) - (2.25 / 12.0 + 0.5625 / 2.0)).abs() < 1e-14);
    assert_eq!(found.carried_on_from, None);
    let beyond = restricted_mean(&sample, 6.0, &CurveOptions::default()).unwrap();
    assert!((beyond.estimate - 3.25).abs() < 1e-14);
    assert_eq!(beyond.carried_on_from, Some(4.0));
    let before = restricted_mean(&sample, 0.5, &CurveOptions::default()).unwrap();
    assert_eq!((before.estimate, before.std_error), (0.5, 0.0));
}

#[test]
fn a_bound_that_is_not_a_positive_time_is_refused() {
    let sample = Sample::new(vec![1.0], vec![1]).unwrap();
    for until in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(
            restricted_mean(&sample, until, &CurveOptions::default()),
            Err(SurvivalError::SettingOutOfRange {
                setting: "until",
                ..
            })
        ));
    }
}

#[test]
fn clusters_across_groups_narrow_the_difference_they_share() {
    // each cluster has the same time in both groups: the difference is 0 without error
    let times = vec![1.0, 2.0, 3.0, 4.0, 1.0, 2.0, 3.0, 4.0];
    let sample = Sample::new(times, vec![1; 8])
        .unwrap()
        .with_cluster(vec![0, 1, 2, 3, 0, 1, 2, 3])
        .unwrap();
    let group = [0, 0, 0, 0, 1, 1, 1, 1];
    let robust = CurveOptions {
        variance: Variance::Robust,
        ..CurveOptions::default()
    };
    let found = restricted_means(&sample, &group, 4.0, &robust).unwrap();
    assert_eq!(
        (found.differences[0].std_error, found.differences[0].p_value),
        (0.0, None)
    );
    let apart = restricted_means(&sample, &group, 4.0, &CurveOptions::default()).unwrap();
    assert!(
        (apart.differences[0].std_error - apart.means[0].std_error * 2.0_f64.sqrt()).abs() < 1e-14
    );
}

#[test]
fn robust_and_greenwood_means_agree_without_weights_and_clusters() {
    let sample = Sample::new(
        vec![2.0, 3.0, 3.0, 5.0, 8.0, 8.0, 9.0, 12.0],
        vec![1, 0, 1, 1, 0, 1, 1, 0],
    )
    .unwrap();
    let with = |variance| CurveOptions {
        variance,
        ..CurveOptions::default()
    };
    for until in [4.0, 8.0, 12.0] {
        let robust = restricted_mean(&sample, until, &with(Variance::Robust)).unwrap();
        let plain = restricted_mean(&sample, until, &with(Variance::Greenwood)).unwrap();
        assert!((robust.std_error - plain.std_error).abs() < 1e-13);
        let area: f64 = (0..1200)
            .map(|step| (f64::from(step) + 0.5) * 0.01)
            .filter(|&time| time < until)
            .map(|time| {
                0.01 * kaplan_meier(&sample, &with(Variance::Aalen))
                    .unwrap()
                    .at(time)
                    .unwrap()
                    .estimate
            })
            .sum();
        assert!((robust.estimate - area).abs() < 1e-10);
    }
}
