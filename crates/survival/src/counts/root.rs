//! One root finder for every limit that has no closed form.

/// The argument at which a monotone function crosses zero between `lower` and `upper`.
///
/// Ridders' method: the bracket at least halves at every step, so it ends for any function whatever its shape. It stops
/// when the guess moves by no more than `tolerance` plus two units in the last place. `None` when the ends do not bracket
/// a crossing or a value is not a number.
/// Source: Ridders, IEEE Transactions on Circuits and Systems 1979;26:979-980, equation 4.
pub(crate) fn crossing(
    function: impl Fn(f64) -> f64,
    lower: f64,
    upper: f64,
    tolerance: f64,
) -> Option<f64> {
    let (mut left, mut right) = (lower, upper);
    let (mut at_left, mut at_right) = (function(left), function(right));
    if at_left == 0.0 {
        return Some(left);
    }
    if at_right == 0.0 {
        return Some(right);
    }
    if at_left.is_nan() || at_right.is_nan() || (at_left > 0.0) == (at_right > 0.0) {
        return None;
    }
    let mut previous = f64::NAN;
    for _ in 0..MAX_STEPS {
        let middle = left + (right - left) / 2.0;
        if middle <= left || middle >= right {
            break;
        }
        let at_middle = function(middle);
        if at_middle == 0.0 {
            return Some(middle);
        }
        let spread = (at_middle * at_middle - at_left * at_right).sqrt();
        let step = (middle - left) * (at_left - at_right).signum() * at_middle / spread;
        let guess = if step.is_finite() {
            (middle + step).clamp(left, right)
        } else {
            middle
        };
        let at_guess = function(guess);
        if at_guess == 0.0 {
            return Some(guess);
        }
        if (guess - previous).abs() <= tolerance + 2.0 * f64::EPSILON * guess.abs() {
            return Some(guess);
        }
        previous = guess;
        if at_middle.is_nan() || at_guess.is_nan() {
            return None;
        }
        // Keep the tightest pair of the four points that still has the crossing between its ends.
        let (first, at_first, second, at_second) = if middle <= guess {
            (middle, at_middle, guess, at_guess)
        } else {
            (guess, at_guess, middle, at_middle)
        };
        if (at_left > 0.0) != (at_first > 0.0) {
            (right, at_right) = (first, at_first);
        } else if (at_first > 0.0) != (at_second > 0.0) {
            (left, at_left) = (first, at_first);
            (right, at_right) = (second, at_second);
        } else {
            (left, at_left) = (second, at_second);
        }
        if right - left <= tolerance + f64::EPSILON * left.abs().max(right.abs()) {
            break;
        }
    }
    Some(left + (right - left) / 2.0)
}

/// The bracket halves at each step; doubles span about 2100 halvings, ordinary limits need under twenty.
const MAX_STEPS: usize = 2200;

#[cfg(test)]
mod tests {
    use super::crossing;

    #[test]
    fn rising_and_falling_functions_give_the_same_root() {
        let rising = crossing(|x| x * x - 2.0, 0.0, 2.0, 0.0).unwrap();
        let falling = crossing(|x| 2.0 - x * x, 0.0, 2.0, 0.0).unwrap();
        assert!((rising - std::f64::consts::SQRT_2).abs() < 1e-15);
        assert!((falling - std::f64::consts::SQRT_2).abs() < 1e-15);
    }

    #[test]
    fn step_function_is_found_at_its_jump() {
        let jump = crossing(|x| if x < 0.3 { -1.0 } else { 1.0 }, 0.0, 1.0, 0.0).unwrap();
        assert!((jump - 0.3).abs() < 1e-15);
    }

    #[test]
    fn no_crossing_or_not_a_number_gives_nothing() {
        assert_eq!(crossing(|x| x * x + 1.0, -1.0, 1.0, 0.0), None);
        assert_eq!(crossing(|_| f64::NAN, 0.0, 1.0, 0.0), None);
        assert_eq!(crossing(|x| x, f64::NAN, 1.0, 0.0), None);
    }
}
