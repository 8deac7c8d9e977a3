//! Relations that hold for any weighted comparison.

use proptest::prelude::*;
use survival::regression::{Covariate, Covariates};
use survival::weighting::{
    Contrast, Population, PropensityModel, PropensityWeights, Target, WeightOptions,
    effective_size, propensity_weights, weighted_contrast, weighted_contrast_of_model,
};
use survival::{CurveOptions, Sample, Variance, kaplan_meier};

#[derive(Debug, Clone)]
struct Rows {
    exit: Vec<f64>,
    cause: Vec<u32>,
    is_treated: Vec<bool>,
    propensity: Vec<f64>,
}

impl Rows {
    fn sample(&self) -> Sample {
        Sample::new(self.exit.clone(), self.cause.clone()).unwrap()
    }

    fn weights(&self, population: Population) -> PropensityWeights {
        let options = WeightOptions {
            population,
            ..WeightOptions::default()
        };
        propensity_weights(&self.is_treated, &self.propensity, &options).unwrap()
    }

    fn contrast(&self, sample: &Sample, target: Target) -> Option<Contrast> {
        weighted_contrast(
            sample,
            &self.is_treated,
            &self.weights(Population::Average),
            target,
            0.95,
        )
        .unwrap()
    }

    fn turned(&self) -> Rows {
        let mut turned = self.clone();
        turned.exit.reverse();
        turned.cause.reverse();
        turned.is_treated.reverse();
        turned.propensity.reverse();
        turned
    }
}

prop_compose! {
    fn rows()(rows in prop::collection::vec((1_u32..30, 0_u32..3, any::<bool>(), 0.05..0.95_f64), 6..50)) -> Rows {
        let mut rows = rows;
        // Both groups have somebody.
        rows[0].2 = true;
        rows[1].2 = false;
        Rows {
            exit: rows.iter().map(|row| f64::from(row.0)).collect(),
            cause: rows.iter().map(|row| row.1).collect(),
            is_treated: rows.iter().map(|row| row.2).collect(),
            propensity: rows.iter().map(|row| row.3).collect(),
        }
    }
}

fn targets(time: f64) -> [Target; 3] {
    [
        Target::EventFree { time },
        Target::Incidence { cause: 1, time },
        Target::RestrictedMean { until: time },
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn row_order_does_not_matter(rows in rows(), time in 1.0..25.0_f64) {
        let turned = rows.turned();
        for target in targets(time) {
            let (own, other) = (rows.contrast(&rows.sample(), target), turned.contrast(&turned.sample(), target));
            prop_assert_eq!(own.is_some(), other.is_some());
            if let (Some(own), Some(other)) = (own, other) {
                prop_assert!((own.difference.estimate - other.difference.estimate).abs() < 1e-12 * time);
                prop_assert!((own.difference.std_error - other.difference.std_error).abs() < 1e-12 * time);
            }
        }
    }

    #[test]
    fn clusters_of_one_row_change_nothing(rows in rows(), time in 1.0..25.0_f64) {
        let singles = rows.sample().with_cluster((0..rows.exit.len() as u32).rev().collect()).unwrap();
        for target in targets(time) {
            let (own, other) = (rows.contrast(&rows.sample(), target), rows.contrast(&singles, target));
            if let (Some(own), Some(other)) = (own, other) {
                prop_assert!((own.difference.std_error - other.difference.std_error).abs() < 1e-12 * time);
            }
        }
    }

    #[test]
    fn incidences_and_event_free_probability_add_to_one(rows in rows(), time in 1.0..25.0_f64) {
        let sample = rows.sample();
        let of = |target| rows.contrast(&sample, target).map(|contrast| contrast.treated.estimate);
        let parts = [Target::EventFree { time }, Target::Incidence { cause: 1, time }, Target::Incidence { cause: 2, time }];
        let parts: Option<Vec<f64>> = parts.into_iter().map(of).collect();
        if let Some(parts) = parts {
            prop_assert!((parts.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn equal_chances_give_the_plain_robust_curve(rows in rows(), time in 1.0..25.0_f64) {
        let even = Rows { propensity: vec![0.5; rows.exit.len()], ..rows };
        let kept: Vec<usize> = (0..even.exit.len()).filter(|row| even.is_treated[*row]).collect();
        let treated = Sample::new(
            kept.iter().map(|row| even.exit[*row]).collect(),
            kept.iter().map(|row| even.cause[*row]).collect(),
        );
        let options = CurveOptions { variance: Variance::Robust, ..CurveOptions::default() };
        let plain = kaplan_meier(&treated.unwrap(), &options).unwrap().at(time);
        let found = even.contrast(&even.sample(), Target::EventFree { time });
        if let (Some(plain), Some(found)) = (plain, found) {
            prop_assert!((plain.estimate - found.treated.estimate).abs() < 1e-12);
            if let Some(std_error) = plain.std_error {
                prop_assert!((std_error - found.treated.std_error).abs() < 1e-10);
            }
        }
    }

    #[test]
    fn estimated_share_alone_changes_no_average_effect(rows in rows(), time in 1.0..25.0_f64) {
        // A model with an intercept alone gives both groups constant weights, which cancel within each group.
        let share = rows.is_treated.iter().filter(|treated| **treated).count() as f64 / rows.exit.len() as f64;
        let even = Rows { propensity: vec![share; rows.exit.len()], ..rows };
        let none = Covariates::new(even.exit.len(), Vec::<Covariate>::new()).unwrap();
        let model = PropensityModel { covariates: &none, propensity: &even.propensity };
        let sample = even.sample();
        for target in targets(time) {
            let options = WeightOptions::default();
            let found = weighted_contrast_of_model(&sample, &even.is_treated, &model, &options, target, 0.95).unwrap();
            let known = even.contrast(&sample, target);
            prop_assert_eq!(found.is_some(), known.is_some());
            if let (Some(found), Some(known)) = (found, known) {
                prop_assert!((found.difference.std_error - known.difference.std_error).abs() < 1e-9 * time);
            }
        }
    }

    #[test]
    fn effective_size_lies_between_one_and_n(weights in prop::collection::vec(1e-3..1e3_f64, 1..60), by in 1e-3..1e3_f64) {
        let size = effective_size(&weights).effective.unwrap();
        prop_assert!(size >= 1.0 - 1e-12 && size <= weights.len() as f64 + 1e-9);
        let scaled: Vec<f64> = weights.iter().map(|weight| weight * by).collect();
        prop_assert!((effective_size(&scaled).effective.unwrap() - size).abs() < 1e-9 * size);
    }

    #[test]
    fn overlap_weights_never_exceed_one(rows in rows()) {
        let found = rows.weights(Population::Overlap);
        prop_assert!(found.weights.iter().all(|weight| (0.0..=1.0).contains(weight)));
        prop_assert!(rows.weights(Population::Average).weights.iter().all(|weight| *weight >= 1.0));
    }
}
