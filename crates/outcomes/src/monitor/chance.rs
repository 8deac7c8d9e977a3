//! How often chance alone makes a difference as large as the one seen.

/// Two groups with the share that has the event in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TwoShares {
    /// With the event in the first group.
    pub n_events_first: u64,
    /// In the first group.
    pub n_first: u64,
    /// With the event in the second group.
    pub n_events_second: u64,
    /// In the second group.
    pub n_second: u64,
}

/// Chance that the shares of two groups differ by at least as much as they do, in either direction, when everybody's
/// outcome is kept and only chance decides who belongs to which group. 0 to 1.
///
/// Exact, from the hypergeometric law; people are taken as independent. `None` for an empty group or more events than
/// people. Source: permutation test of a difference of shares, after Fisher, Statistical Methods for Research Workers, 1934,
/// section 21.02; the outcomes counted as extreme are those whose difference is at least as large.
pub(crate) fn chance_of_difference(shares: TwoShares) -> Option<f64> {
    let TwoShares {
        n_events_first,
        n_first,
        n_events_second,
        n_second,
    } = shares;
    if n_first == 0 || n_second == 0 || n_events_first > n_first || n_events_second > n_second {
        return None;
    }
    let n_events = n_events_first + n_events_second;
    // n_first * n_second times the difference: whole numbers compare exactly.
    let distance = |of_first: u64| {
        let of_second = n_events - of_first;
        (i128::from(of_first) * i128::from(n_second) - i128::from(of_second) * i128::from(n_first))
            .abs()
    };
    let seen = distance(n_events_first);
    let lowest = n_events.saturating_sub(n_second);
    let highest = n_events.min(n_first);
    // Masses relative to that of the lowest count, by the ratio of neighbours, in logarithms.
    let mut log_mass = 0.0_f64;
    let mut masses = vec![(lowest, log_mass)];
    for count in lowest..highest {
        let (count, events) = (count as f64, n_events as f64);
        let (first, second) = (n_first as f64, n_second as f64);
        let ratio =
            (first - count) * (events - count) / ((count + 1.0) * (second - events + count + 1.0));
        log_mass += ratio.ln();
        masses.push((count as u64 + 1, log_mass));
    }
    let largest = masses
        .iter()
        .map(|(_, mass)| *mass)
        .fold(f64::NEG_INFINITY, f64::max);
    let sum = |is_counted: &dyn Fn(u64) -> bool| -> f64 {
        masses
            .iter()
            .filter(|(count, _)| is_counted(*count))
            .map(|(_, mass)| (mass - largest).exp())
            .sum()
    };
    Some((sum(&|count| distance(count) >= seen) / sum(&|_| true)).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chance(first: (u64, u64), second: (u64, u64)) -> f64 {
        chance_of_difference(TwoShares {
            n_events_first: first.0,
            n_first: first.1,
            n_events_second: second.0,
            n_second: second.1,
        })
        .unwrap()
    }

    /// 3 of 4 against 1 of 4: of the 70 ways to draw 4 of 8 with 4 events, 1 + 16 + 16 + 1 differ by two or more.
    #[test]
    fn the_tea_tasting_table_has_34_of_70() {
        assert!((chance((3, 4), (1, 4)) - 34.0 / 70.0).abs() < 1e-12);
        assert!((chance((4, 4), (0, 4)) - 2.0 / 70.0).abs() < 1e-12);
        assert!((chance((2, 4), (2, 4)) - 1.0).abs() < 1e-12);
    }

    /// 10 of 15 against 2 of 15, counted with whole binomial coefficients: 672,490 of 86,493,225 ways. With equal
    /// groups the usual two-sided exact test of a fourfold table agrees: fisher.test of R prints 0.00777506.
    #[test]
    fn equal_groups_agree_with_the_usual_exact_test() {
        assert!((chance((10, 15), (2, 15)) - 0.007_775_059_838_5).abs() < 1e-12);
    }

    #[test]
    fn groups_that_cannot_be_are_refused() {
        for (first, second) in [((0, 0), (1, 2)), ((1, 2), (0, 0)), ((3, 2), (0, 1))] {
            let shares = TwoShares {
                n_events_first: first.0,
                n_first: first.1,
                n_events_second: second.0,
                n_second: second.1,
            };
            assert_eq!(chance_of_difference(shares), None);
        }
    }

    proptest! {
        #[test]
        fn the_chance_is_a_probability_the_same_whichever_group_comes_first(
            first in (1u64..200).prop_flat_map(|n| (0..=n, Just(n))),
            second in (1u64..200).prop_flat_map(|n| (0..=n, Just(n))),
        ) {
            let forth = chance(first, second);
            prop_assert!((0.0..=1.0).contains(&forth) && forth > 0.0);
            prop_assert!((forth - chance(second, first)).abs() < 1e-9);
        }
    }
}
