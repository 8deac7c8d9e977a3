//! Fisher's exact test of two shares. R. A. Fisher, J. R. Stat. Soc. 1935;98:39-54 (from memory).

use survival::distribution::{ln_gamma, two_sided_p_value};

/// More answers of the rarer kind are not added up one by one.
const MANY: u64 = 10_000;

/// The chance of a difference as rare as this one or rarer, both ways, where the shares are equal. Each side is (yes, all).
pub(super) fn fisher((yes_left, n_left): (u64, u64), (yes_right, n_right): (u64, u64)) -> f64 {
    let (yes_left, yes_right) = (yes_left.min(n_left), yes_right.min(n_right));
    let yes = yes_left + yes_right;
    if yes.min(n_left + n_right - yes) > MANY {
        return approximate((yes_left, n_left), (yes_right, n_right));
    }
    let log_all = log_choose(n_left + n_right, yes);
    let log_chance =
        |left: u64| log_choose(n_left, left) + log_choose(n_right, yes - left) - log_all;
    let observed = log_chance(yes_left);
    let lowest = yes.saturating_sub(n_right);
    let sum: f64 = (lowest..=yes.min(n_left))
        .map(log_chance)
        // as rare or rarer, rounding allowed for
        .filter(|log| *log <= observed + 1e-7)
        .map(f64::exp)
        .sum();
    sum.min(1.0)
}

fn log_choose(n: u64, k: u64) -> f64 {
    log_factorial(n) - log_factorial(k) - log_factorial(n.saturating_sub(k))
}

fn log_factorial(n: u64) -> f64 {
    ln_gamma(n as f64 + 1.0).unwrap_or(f64::NAN)
}

/// The same by the normal approximation, for so many answers that it is as good.
fn approximate((yes_left, n_left): (u64, u64), (yes_right, n_right): (u64, u64)) -> f64 {
    let (n_left, n_right) = (n_left as f64, n_right as f64);
    let pooled = (yes_left + yes_right) as f64 / (n_left + n_right);
    let error = (pooled * (1.0 - pooled) * (1.0 / n_left + 1.0 / n_right)).sqrt();
    if error > 0.0 {
        two_sided_p_value((yes_left as f64 / n_left - yes_right as f64 / n_right) / error)
    } else {
        1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Expected: `fisher.test` of R 4.2.2.
    #[test]
    fn the_chance_agrees_with_an_independent_library() {
        for ((left, right), expected) in [
            (((3, 4), (1, 4)), EXPECTED[0]),
            (((0, 300), (6, 60)), EXPECTED[1]),
            (((50, 100), (70, 100)), EXPECTED[2]),
            (((120, 1000), (180, 900)), EXPECTED[3]),
            (((20, 20), (20, 20)), EXPECTED[4]),
            (((0, 25), (25, 25)), EXPECTED[5]),
        ] {
            let chance = fisher(left, right);
            assert!(
                (chance / expected - 1.0).abs() < 1e-6,
                "{left:?} {right:?} {chance}"
            );
        }
    }

    const EXPECTED: [f64; 6] = [
        0.485714285714286,
        1.72675326013034e-05,
        0.00593734116601551,
        2.09735958255693e-06,
        1.0,
        1.58214572048972e-14,
    ];
}
