//! Poisson-binomial law and observed/expected limits: scipy poisson_binom; Clopper-Pearson as special case.

use super::support::{assert_near, case, numbers};
use survival::counts::{
    PoissonBinomial, clopper_pearson, observed_against_expected, poisson_exact,
};

#[test]
fn law_agrees_with_scipy_to_the_last_digits_of_both_tails() {
    let reference = case("counts_scipy.json", "poisson-binomial-40");
    let values = &reference["values"];
    let law = PoissonBinomial::new(&numbers(&values["chances"])).unwrap();
    assert_near(law.mean(), values["mean"].as_f64().unwrap(), 1e-12);
    assert_near(law.variance(), values["variance"].as_f64().unwrap(), 1e-12);
    for (count, expected) in numbers(&values["pmf"]).into_iter().enumerate() {
        assert_near(law.probability(count as u64), expected, 1e-12);
    }
    assert_eq!(
        law.quantile(0.025),
        Some(values["q025"].as_f64().unwrap() as u64)
    );
    assert_eq!(
        law.quantile(0.975),
        Some(values["q975"].as_f64().unwrap() as u64)
    );
}

#[test]
fn limits_and_tails_agree_with_scipy() {
    let reference = case("counts_scipy.json", "poisson-binomial-40");
    let chances = numbers(&reference["values"]["chances"]);
    for row in reference["values"]["limits"].as_array().unwrap() {
        let result =
            observed_against_expected(row["observed"].as_u64().unwrap(), &chances, 0.95).unwrap();
        let limits = result.limits.unwrap();
        assert_near(limits.lower, row["lower"].as_f64().unwrap(), 1e-9);
        assert_near(limits.upper, row["upper"].as_f64().unwrap(), 1e-9);
        assert_near(result.p_at_most, row["p_at_most"].as_f64().unwrap(), 1e-12);
        assert_near(
            result.p_at_least,
            row["p_at_least"].as_f64().unwrap(),
            1e-12,
        );
    }
}

#[test]
fn common_outcome_signals_where_poisson_limits_do_not() {
    // Published strata: 20, 30, 25, 10 people at 0.65, 0.53, 0.34, 0.19; 50 seen where 39.3 were expected.
    let chances: Vec<f64> = [(20, 0.65), (30, 0.53), (25, 0.34), (10, 0.19)]
        .iter()
        .flat_map(|&(n, chance)| std::iter::repeat_n(chance, n))
        .collect();
    let result = observed_against_expected(50, &chances, 0.95).unwrap();
    assert_near(result.expected, 39.3, 1e-9);
    assert_near(result.variance, 19.172, 1e-9);
    assert_near(result.ratio.unwrap(), 1.272, 5e-4);
    assert_near(result.z.unwrap(), 2.444, 5e-4);
    assert!(result.limits.unwrap().lower > 1.0 && result.p_two_sided < 0.05);
    let poisson = poisson_exact(50, 0.95).unwrap();
    assert_near(poisson.lower / 39.3, 0.944, 5e-4);
    assert_near(poisson.upper / 39.3, 1.677, 5e-4);
}

#[test]
fn equal_chances_give_clopper_pearson_limits_over_the_chance() {
    for (observed, n, chance) in [(0, 12, 0.3), (5, 12, 0.3), (12, 12, 0.3), (40, 150, 0.5)] {
        let result = observed_against_expected(observed, &vec![chance; n], 0.95).unwrap();
        let exact = clopper_pearson(observed, n as u64, 0.95).unwrap();
        assert_near(result.limits.unwrap().lower, exact.lower / chance, 1e-10);
        assert_near(result.limits.unwrap().upper, exact.upper / chance, 1e-10);
    }
}

#[test]
fn three_unequal_chances_by_hand() {
    // 1/2, 1/4, 1/8: none 21/64, one 31/64, two 11/64, three 1/64.
    let law = PoissonBinomial::new(&[0.5, 0.25, 0.125]).unwrap();
    for (count, expected) in [(0, 21.0), (1, 31.0), (2, 11.0), (3, 1.0), (4, 0.0)] {
        assert_eq!(law.probability(count), expected / 64.0);
    }
    assert_eq!(law.at_most(1), 52.0 / 64.0);
    assert_eq!(law.at_least(2), 12.0 / 64.0);
}

#[test]
fn certain_chances_bound_the_count() {
    let chances = [1.0, 1.0, 0.0, 0.5];
    let law = PoissonBinomial::new(&chances).unwrap();
    assert_eq!(
        (law.probability(1), law.probability(2), law.probability(3)),
        (0.0, 0.5, 0.5)
    );
    assert_eq!(
        (law.at_least(0), law.at_least(3), law.at_most(u64::MAX)),
        (1.0, 0.5, 1.0)
    );
    assert_eq!(
        observed_against_expected(1, &chances, 0.95).unwrap().limits,
        None
    );
    assert_eq!(
        observed_against_expected(4, &chances, 0.95).unwrap().limits,
        None
    );
    let possible = observed_against_expected(3, &chances, 0.95)
        .unwrap()
        .limits
        .unwrap();
    assert_near(possible.upper, 3.0 / 2.5, 1e-12);
}

#[test]
fn nobody_expected_is_not_estimable() {
    let empty = observed_against_expected(0, &[], 0.95).unwrap();
    assert_eq!((empty.ratio, empty.limits, empty.z), (None, None, None));
    assert_eq!((empty.p_at_most, empty.p_at_least), (1.0, 1.0));
    let hopeless = observed_against_expected(0, &[0.0, 0.0], 0.95).unwrap();
    assert_eq!((hopeless.ratio, hopeless.limits), (None, None));
    assert_eq!(observed_against_expected(1, &[0.5, f64::NAN], 0.95), None);
    assert_eq!(observed_against_expected(3, &[0.5, 0.5], 0.95), None);
}

#[test]
fn twenty_thousand_chances_keep_their_moments() {
    let chances: Vec<f64> = (0..20_000)
        .map(|k| 0.1 + 0.8 * f64::from(k % 97) / 97.0)
        .collect();
    let law = PoissonBinomial::new(&chances).unwrap();
    let middle = law.quantile(0.5).unwrap() as f64;
    assert_near(middle, law.mean(), 1.0);
    let high = law.quantile(0.975).unwrap() as f64;
    assert_near(high, law.mean() + 1.959964 * law.variance().sqrt(), 1.5);
    assert_near(law.at_most(20_000), 1.0, 1e-11);
}

#[test]
fn limits_of_very_many_people_stay_close_to_clopper_pearson() {
    // Above a variance of 10 000 tails come from the refined normal law; 0.2 for all is skew.
    for (observed, n, chance) in [(20_910, 41_000, 0.5), (14_200, 70_000, 0.2)] {
        let limits = observed_against_expected(observed, &vec![chance; n], 0.95)
            .unwrap()
            .limits
            .unwrap();
        let exact = clopper_pearson(observed, n as u64, 0.95).unwrap();
        assert_near(limits.lower, exact.lower / chance, 1e-6);
        assert_near(limits.upper, exact.upper / chance, 1e-6);
    }
}
