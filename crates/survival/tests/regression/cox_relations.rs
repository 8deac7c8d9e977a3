//! Relations a proportional hazards fit must keep, whatever the data.

use proptest::prelude::*;
use survival::Sample;
use survival::regression::cox::{CoxFit, CoxOptions, Ties, cox};
use survival::regression::{Covariate, Covariates};

/// One row as drawn: whole times so that ties are common, entry before exit.
#[derive(Debug, Clone)]
struct Row {
    entry: f64,
    exit: f64,
    cause: u32,
    treated: f64,
    score: f64,
    stratum: u32,
}

fn rows() -> impl Strategy<Value = Vec<Row>> {
    let row = (
        0_u32..10,
        1_u32..20,
        0_u32..2,
        0_u32..2,
        -30_i32..30,
        0_u32..2,
    )
        .prop_map(|(entry, length, cause, treated, score, stratum)| Row {
            entry: f64::from(entry),
            exit: f64::from(entry + length),
            cause,
            treated: f64::from(treated),
            score: f64::from(score) / 10.0,
            stratum,
        });
    prop::collection::vec(row, 25..60)
}

fn column(rows: &[Row], value: impl Fn(&Row) -> f64) -> Vec<f64> {
    rows.iter().map(value).collect()
}

fn sample(rows: &[Row]) -> Sample {
    Sample::new(
        column(rows, |row| row.exit),
        rows.iter().map(|row| row.cause).collect(),
    )
    .unwrap()
    .with_entry(column(rows, |row| row.entry))
    .unwrap()
}

fn covariates(rows: &[Row]) -> Covariates {
    let treated = Covariate {
        name: "treated".to_owned(),
        values: column(rows, |row| row.treated),
    };
    let score = Covariate {
        name: "score".to_owned(),
        values: column(rows, |row| row.score),
    };
    Covariates::new(rows.len(), vec![treated, score]).unwrap()
}

fn strata(rows: &[Row]) -> Vec<u32> {
    rows.iter().map(|row| row.stratum).collect()
}

fn fit_with(rows: &[Row], sample: &Sample, ties: Ties) -> Option<CoxFit> {
    let options = CoxOptions {
        ties,
        ..CoxOptions::default()
    };
    cox(sample, &covariates(rows), Some(&strata(rows)), &options)
        .ok()
        .filter(|fit| fit.terms.iter().all(|term| term.estimate.is_some()))
}

fn fit(rows: &[Row], ties: Ties) -> Option<CoxFit> {
    fit_with(rows, &sample(rows), ties)
}

fn estimates(fit: &CoxFit) -> Vec<f64> {
    fit.terms
        .iter()
        .map(|term| term.estimate.unwrap())
        .collect()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-8 * (1.0 + a.abs().max(b.abs()))
}

fn all_near(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| near(*a, *b))
}

fn ties() -> impl Strategy<Value = Ties> {
    prop_oneof![Just(Ties::Efron), Just(Ties::Breslow), Just(Ties::Exact)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_order_of_rows_does_not_matter(rows in rows(), ties in ties()) {
        let reversed: Vec<Row> = rows.iter().rev().cloned().collect();
        if let (Some(one), Some(other)) = (fit(&rows, ties), fit(&reversed, ties)) {
            prop_assert!(all_near(&estimates(&one), &estimates(&other)));
            prop_assert!(near(one.log_likelihood, other.log_likelihood));
        }
    }

    #[test]
    fn the_unit_of_time_does_not_matter(rows in rows(), ties in ties(), unit in 1_u32..50) {
        let scaled: Vec<Row> = rows
            .iter()
            .map(|row| Row { entry: row.entry * f64::from(unit) / 7.0, exit: row.exit * f64::from(unit) / 7.0, ..row.clone() })
            .collect();
        if let (Some(one), Some(other)) = (fit(&rows, ties), fit(&scaled, ties)) {
            prop_assert!(all_near(&estimates(&one), &estimates(&other)));
        }
    }

    #[test]
    fn a_row_repeated_equals_a_row_of_weight_two_under_breslow(rows in rows()) {
        let twice: Vec<Row> = rows.iter().chain(rows.iter().filter(|row| row.treated > 0.0)).cloned().collect();
        let weighted = sample(&rows).with_weight(column(&rows, |row| 1.0 + row.treated)).unwrap();
        if let (Some(one), Some(other)) = (fit(&twice, Ties::Breslow), fit_with(&rows, &weighted, Ties::Breslow)) {
            prop_assert!(all_near(&estimates(&one), &estimates(&other)));
            prop_assert!(near(one.log_likelihood, other.log_likelihood));
            for (a, b) in one.terms.iter().zip(&other.terms) {
                prop_assert!(near(a.std_error.unwrap(), b.std_error.unwrap()));
            }
        }
    }

    #[test]
    fn splitting_follow_up_at_any_day_changes_nothing(rows in rows(), ties in ties(), cut in 2_u32..20) {
        let cut = f64::from(cut);
        let mut split = Vec::new();
        let mut of_whole = Vec::new();
        for (number, row) in rows.iter().enumerate() {
            if row.entry < cut && cut < row.exit {
                split.push(Row { exit: cut, cause: 0, ..row.clone() });
                split.push(Row { entry: cut, ..row.clone() });
                of_whole.extend([number as u32, number as u32]);
            } else {
                split.push(row.clone());
                of_whole.push(number as u32);
            }
        }
        if let (Some(one), Some(other)) = (fit(&rows, ties), fit(&split, ties)) {
            prop_assert!(all_near(&estimates(&one), &estimates(&other)));
            prop_assert!(near(one.log_likelihood, other.log_likelihood));
        }
        if ties != Ties::Exact {
            let alone = sample(&rows).with_cluster((0..rows.len() as u32).collect()).unwrap();
            let together = sample(&split).with_cluster(of_whole).unwrap();
            if let (Some(one), Some(other)) = (fit_with(&rows, &alone, ties), fit_with(&split, &together, ties)) {
                for (a, b) in one.terms.iter().zip(&other.terms) {
                    prop_assert!(near(a.robust_std_error.unwrap(), b.robust_std_error.unwrap()));
                }
            }
        }
    }

    #[test]
    fn clusters_of_one_give_the_robust_error_of_equal_weights(rows in rows(), far in 0_u32..3) {
        // labels far apart take another way to dense numbers
        let labels = (0..rows.len() as u32).map(|row| row * 1_000_000_u32.pow(far.min(1))).collect();
        let singletons = sample(&rows).with_cluster(labels).unwrap();
        let weighted = sample(&rows).with_weight(vec![1.0; rows.len()]).unwrap();
        if let (Some(one), Some(other)) = (fit_with(&rows, &singletons, Ties::Efron), fit_with(&rows, &weighted, Ties::Efron)) {
            for (a, b) in one.terms.iter().zip(&other.terms) {
                prop_assert!(near(a.robust_std_error.unwrap(), b.robust_std_error.unwrap()));
            }
        }
    }

    #[test]
    fn shifting_and_scaling_a_covariate_scales_its_coefficient(rows in rows(), ties in ties(), shift in -1000_i32..1000, scale in 1_u32..1000) {
        let (shift, scale) = (f64::from(shift), f64::from(scale) / 8.0);
        let moved: Vec<Row> = rows.iter().map(|row| Row { score: (row.score + shift) * scale, ..row.clone() }).collect();
        if let (Some(one), Some(other)) = (fit(&rows, ties), fit(&moved, ties)) {
            let (a, b) = (&one.terms[1], &other.terms[1]);
            prop_assert!(near(a.estimate.unwrap(), b.estimate.unwrap() * scale));
            prop_assert!(near(a.std_error.unwrap(), b.std_error.unwrap() * scale));
            prop_assert!(near(one.terms[0].estimate.unwrap(), other.terms[0].estimate.unwrap()));
        }
    }

    #[test]
    fn martingale_residuals_add_up_to_zero_and_score_residuals_to_the_score(rows in rows(), is_efron in any::<bool>()) {
        let ties = if is_efron { Ties::Efron } else { Ties::Breslow };
        if let Some(fit) = fit(&rows, ties) {
            let residuals = fit.residuals().unwrap();
            let martingale: f64 = residuals.martingale.iter().map(|value| value.unwrap()).sum();
            prop_assert!(martingale.abs() < 1e-8);
            for term in 0..2 {
                let score: f64 = residuals.score.iter().map(|row| row.as_ref().unwrap()[term]).sum();
                prop_assert!(score.abs() < 1e-5);
            }
        }
    }

    #[test]
    fn concordance_matches_the_count_over_all_pairs(rows in rows()) {
        let score = column(&rows, |row| row.score.round() + 0.0);
        let found = survival::regression::concordance::concordance(&sample(&rows), &score, None, Default::default());
        let (mut agreeing, mut comparable) = (0.0, 0.0);
        for (i, first) in rows.iter().enumerate().filter(|(_, row)| row.cause == 1) {
            for (j, second) in rows.iter().enumerate() {
                let is_later = second.exit > first.exit || (second.exit == first.exit && second.cause == 0);
                // an entry at 0 is an entry at the origin
                let is_at_risk = second.entry < first.exit || second.entry == 0.0;
                if i != j && is_later && is_at_risk {
                    comparable += 1.0;
                    agreeing += match score[i].total_cmp(&score[j]) {
                        std::cmp::Ordering::Greater => 1.0,
                        std::cmp::Ordering::Equal => 0.5,
                        std::cmp::Ordering::Less => 0.0,
                    };
                }
            }
        }
        if let Ok(Some(found)) = found {
            prop_assert!(near(found.estimate, agreeing / comparable));
        } else {
            prop_assert!(comparable == 0.0);
        }
    }
}

/// Schoenfeld's residual of an event is its covariates less their weighted mean in the risk set (Biometrika 1982;69:239), whatever it
/// weighs itself. First event: risk sets of 2 rows of x = 0 and of weight 3 + 1 at x = 1, relative risk r. R survival 3.5-3 agrees.
#[test]
fn a_residual_of_an_event_does_not_grow_with_its_weight() {
    let sample = Sample::new(vec![1.0, 2.0, 3.0, 4.0], vec![1, 1, 1, 0])
        .and_then(|sample| sample.with_weight(vec![3.0, 1.0, 1.0, 1.0]))
        .unwrap();
    let x = Covariate {
        name: "x".to_owned(),
        values: vec![1.0, 0.0, 1.0, 0.0],
    };
    let covariates = Covariates::new(4, vec![x]).unwrap();
    let fit = cox(&sample, &covariates, None, &CoxOptions::default()).unwrap();
    let ratio = fit.terms[0].estimate.unwrap().exp();
    let expected = [
        1.0 - 4.0 * ratio / (2.0 + 4.0 * ratio),
        -ratio / (2.0 + ratio),
        1.0 - ratio / (1.0 + ratio),
    ];
    let found = fit.event_residuals().unwrap();
    for (found, expected) in found.iter().zip(expected) {
        assert!((found.residual[0] - expected).abs() < 1e-9);
    }
}
