use super::{GradeRange, any_of};

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

/// IWGDF risk tier 0 to 3, as a range over everything the missing items allow.
///
/// 0: neither sensation lost nor arterial disease. 1: one of them. 2: both, or one with deformity.
/// 3: one of them and a history of ulcer, of amputation, or end-stage renal disease.
/// A history with neither of them is contradictory and gives the range 0 to 3, never a silent 0.
/// Source: IWGDF prevention guideline 2023, Diabetes Metab Res Rev 2024;40(3):e3651 (same tiers as 2019).
pub fn risk_tier(items: &TierItems) -> GradeRange {
    let either = |item: Option<bool>| match item {
        Some(known) => vec![known],
        None => vec![false, true],
    };
    let history = any_of(&[
        items.prior_ulcer,
        items.prior_amputation,
        items.renal_disease,
    ]);
    let has_ulcerated = items.prior_ulcer == Some(true) || items.prior_amputation == Some(true);
    if has_ulcerated && items.sensation_lost == Some(false) && items.arterial_disease == Some(false)
    {
        return GradeRange::between(0, 3);
    }
    let mut range: Option<GradeRange> = None;
    for sensation_lost in either(items.sensation_lost) {
        for arterial_disease in either(items.arterial_disease) {
            for deformity in either(items.deformity) {
                for has_history in either(history) {
                    let tier = GradeRange::exactly(exact(
                        sensation_lost,
                        arterial_disease,
                        deformity,
                        has_history,
                    ));
                    range = Some(range.map_or(tier, |range| range.joined(tier)));
                }
            }
        }
    }
    range.unwrap_or(GradeRange::between(0, 3))
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
}
