//! The IWGDF risk tier, and when the feet should be looked at again.

use super::{GradeRange, any_of, either};

/// What the IWGDF risk tier asks about; `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TierItems {
    /// Loss of protective sensation in either foot.
    pub sensation_lost: Option<bool>,
    /// Peripheral arterial disease in either leg.
    pub arterial_disease: Option<bool>,
    /// Foot deformity.
    pub deformity: Option<bool>,
    /// History of foot ulcer, dated before the exam.
    pub prior_ulcer: Option<bool>,
    /// History of lower-extremity amputation, dated before the exam.
    pub prior_amputation: Option<bool>,
    /// End-stage renal disease.
    pub renal_disease: Option<bool>,
}

/// Months after which the feet should be looked at again, both ends of the published interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScreeningInterval {
    /// Shortest, in calendar months.
    pub shortest_months: u32,
    /// Longest, in calendar months; a foot unseen for longer is overdue.
    pub longest_months: u32,
}

/// How often a tier is to be screened; `None` for a number that is no tier.
///
/// Tier 0 every 12 months, 1 every 6 to 12, 2 every 3 to 6, 3 every 1 to 3.
/// Source: IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651.
pub fn screening_interval(tier: u8) -> Option<ScreeningInterval> {
    let (shortest_months, longest_months) = match tier {
        0 => (12, 12),
        1 => (6, 12),
        2 => (3, 6),
        3 => (1, 3),
        _ => return None,
    };
    Some(ScreeningInterval {
        shortest_months,
        longest_months,
    })
}

/// A foot that has ulcerated or was amputated though neither sensation nor blood supply is impaired: outside the letter
/// of every tier.
pub fn is_contradictory(items: &TierItems) -> bool {
    (items.prior_ulcer == Some(true) || items.prior_amputation == Some(true))
        && items.sensation_lost == Some(false)
        && items.arterial_disease == Some(false)
}

/// IWGDF risk tier 0 to 3, as a range over everything the missing items allow; see [`possible_tiers`].
pub fn risk_tier(items: &TierItems) -> GradeRange {
    let mut range: Option<(u8, u8)> = None;
    each_possible(items, |tier| {
        let (lowest, highest) = range.unwrap_or((tier, tier));
        range = Some((lowest.min(tier), highest.max(tier)));
    });
    let (lowest, highest) = range.unwrap_or((0, 3));
    GradeRange::between(lowest, highest)
}

/// Every IWGDF risk tier that the missing items allow, ascending.
///
/// 0: neither sensation lost nor arterial disease. 1: one of them. 2: both, or one with deformity.
/// 3: one of them and a history of ulcer, of amputation, or end-stage renal disease.
/// A history with neither of them is contradictory and gives 0 or 3, never a silent 0.
/// Source: IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651 (same tiers as 2019).
pub fn possible_tiers(items: &TierItems) -> Vec<u8> {
    let mut possible = Vec::new();
    each_possible(items, |tier| possible.push(tier));
    possible.sort_unstable();
    possible.dedup();
    possible
}

/// Tells the tier of every completion of the missing items, in no order and with repeats.
fn each_possible(items: &TierItems, mut tell: impl FnMut(u8)) {
    if is_contradictory(items) {
        tell(0);
        tell(3);
        return;
    }
    let history = any_of(&[
        items.prior_ulcer,
        items.prior_amputation,
        items.renal_disease,
    ]);
    for &sensation_lost in either(items.sensation_lost) {
        for &arterial_disease in either(items.arterial_disease) {
            for &deformity in either(items.deformity) {
                for &has_history in either(history) {
                    tell(exact(
                        sensation_lost,
                        arterial_disease,
                        deformity,
                        has_history,
                    ));
                }
            }
        }
    }
}

fn exact(sensation_lost: bool, arterial_disease: bool, deformity: bool, has_history: bool) -> u8 {
    match (sensation_lost, arterial_disease) {
        (false, false) => 0,
        _ if has_history => 3,
        (true, true) => 2,
        _ if deformity => 2,
        _ => 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_published_criteria_give_the_published_tiers() {
        // sensation lost, arterial disease, deformity, history -> tier
        for (sensation, arterial, deformity, history, tier) in [
            (false, false, false, false, 0),
            (false, false, true, false, 0),
            (true, false, false, false, 1),
            (false, true, false, false, 1),
            (true, true, false, false, 2),
            (true, false, true, false, 2),
            (false, true, true, false, 2),
            (true, false, false, true, 3),
            (false, true, false, true, 3),
            (true, true, true, true, 3),
        ] {
            let items = TierItems {
                sensation_lost: Some(sensation),
                arterial_disease: Some(arterial),
                deformity: Some(deformity),
                prior_ulcer: Some(history),
                prior_amputation: Some(false),
                renal_disease: Some(false),
            };
            assert_eq!(risk_tier(&items), GradeRange::exactly(tier), "{items:?}");
        }
    }

    #[test]
    fn an_untested_sensation_is_unknown_and_not_intact() {
        let items = TierItems {
            sensation_lost: None,
            arterial_disease: Some(false),
            deformity: Some(false),
            prior_ulcer: Some(true),
            prior_amputation: Some(false),
            renal_disease: Some(false),
        };
        assert_eq!(risk_tier(&items), GradeRange::between(0, 3));
    }

    #[test]
    fn intact_feet_are_tier_0_unless_they_have_ulcerated() {
        let intact = TierItems {
            sensation_lost: Some(false),
            arterial_disease: Some(false),
            ..TierItems::default()
        };
        assert_eq!(risk_tier(&intact), GradeRange::exactly(0));
        let contradictory = TierItems {
            prior_ulcer: Some(true),
            ..intact
        };
        assert_eq!(risk_tier(&contradictory), GradeRange::between(0, 3));
        let renal = TierItems {
            renal_disease: Some(true),
            ..intact
        };
        assert_eq!(risk_tier(&renal), GradeRange::exactly(0));
    }

    #[test]
    fn a_missing_item_that_cannot_matter_leaves_the_tier_known() {
        let items = TierItems {
            sensation_lost: Some(true),
            prior_ulcer: Some(true),
            ..TierItems::default()
        };
        assert_eq!(risk_tier(&items), GradeRange::exactly(3));
    }

    #[test]
    fn all_729_records_with_gaps_allow_the_tiers_of_their_completions() {
        let values = [Some(true), Some(false), None];
        let record = |item: &dyn Fn(u32) -> Option<bool>| TierItems {
            sensation_lost: item(0),
            arterial_disease: item(1),
            deformity: item(2),
            prior_ulcer: item(3),
            prior_amputation: item(4),
            renal_disease: item(5),
        };
        for code in 0..729usize {
            let item = |place: u32| values[code / 3usize.pow(place) % 3];
            let mut wanted: Vec<u8> = (0u8..64)
                .filter(|bits| {
                    (0..6).all(|place| {
                        item(place).is_none_or(|known| known == (bits & (1 << place) != 0))
                    })
                })
                .flat_map(|bits| possible_tiers(&record(&|place| Some(bits & (1 << place) != 0))))
                .collect();
            wanted.sort_unstable();
            wanted.dedup();
            let items = record(&item);
            // A contradiction must be recorded; an unknown history of intact feet leaves them at tier 0.
            let is_intact =
                items.sensation_lost == Some(false) && items.arterial_disease == Some(false);
            if is_intact && !is_contradictory(&items) {
                wanted = vec![0];
            }
            assert_eq!(possible_tiers(&items), wanted, "{items:?}");
        }
    }

    #[test]
    fn tiers_are_screened_as_published() {
        let longest = |tier| screening_interval(tier).map(|every| every.longest_months);
        assert_eq!(
            [longest(0), longest(1), longest(2), longest(3), longest(4)],
            [Some(12), Some(12), Some(6), Some(3), None]
        );
    }
}
