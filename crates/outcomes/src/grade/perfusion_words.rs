//! What a test of blood supply means, by published categories.

use crate::coded;
use crate::rules::VascularGuideline;
use crate::tables::Waveform;

use super::Perfusion;

coded! {
    /// Ankle-brachial index. Categories of AHA/ACC (from memory); above the limit the arteries are too stiff to tell.
    pub enum AbiCategory {
        /// 0.90 or below.
        Abnormal = "abnormal",
        /// 0.91 to 0.99.
        Borderline = "borderline",
        /// 1.00 up to the limit.
        Normal = "normal",
        /// Above the limit.
        NonCompressible = "non-compressible",
    }
}

/// Category of an index rounded as charted.
pub fn abi_category(abi: f64, non_compressible_above: f64) -> AbiCategory {
    if abi > non_compressible_above {
        AbiCategory::NonCompressible
    } else if abi <= 0.90 {
        AbiCategory::Abnormal
    } else if abi < 1.0 {
        AbiCategory::Borderline
    } else {
        AbiCategory::Normal
    }
}

coded! {
    /// Toe-brachial index: below 0.70 abnormal (from memory).
    pub enum TbiCategory { Abnormal = "abnormal", Normal = "normal" }
}

/// Category of an index rounded as charted.
pub fn tbi_category(tbi: f64) -> TbiCategory {
    if tbi < 0.70 {
        TbiCategory::Abnormal
    } else {
        TbiCategory::Normal
    }
}

coded! {
    /// Toe pressure or TcPO2 against the urgent cut-off of the guideline and the WIfI limit of 60 mmHg.
    pub enum PressureCategory {
        /// Below the urgent cut-off.
        Critical = "below the urgent cut-off",
        /// From there to below 60 mmHg.
        Reduced = "reduced",
        /// 60 mmHg or more.
        Normal = "normal",
    }
}

fn pressure_category(mmhg: f64, urgent_below_mmhg: f64) -> PressureCategory {
    if mmhg < urgent_below_mmhg {
        PressureCategory::Critical
    } else if mmhg < 60.0 {
        PressureCategory::Reduced
    } else {
        PressureCategory::Normal
    }
}

/// Category of a toe pressure in mmHg.
pub fn toe_category(mmhg: f64, guideline: VascularGuideline) -> PressureCategory {
    pressure_category(mmhg, super::urgent_cut_offs(guideline).toe_below_mmhg)
}

/// Category of a transcutaneous oxygen pressure in mmHg.
pub fn oxygen_category(mmhg: f64, guideline: VascularGuideline) -> PressureCategory {
    pressure_category(mmhg, super::urgent_cut_offs(guideline).tcpo2_below_mmhg)
}

/// Whether arterial disease is less likely: ABI 0.90 to 1.30, a good waveform, and a high toe-brachial index, all three.
///
/// Waveform triphasic (2015, 2019) or also biphasic (2023); index at least 0.75 (2015, 2019) or 0.70 (2023, from memory).
/// `None` when an item is missing and none of the recorded ones speaks against it.
pub fn is_arterial_disease_less_likely(
    perfusion: &Perfusion,
    guideline: VascularGuideline,
) -> Option<bool> {
    let is_recent = guideline == VascularGuideline::Year2023;
    let items = [
        perfusion.abi.map(|abi| (0.90..=1.30).contains(&abi)),
        perfusion
            .waveform
            .map(|wave| wave == Waveform::Triphasic || (is_recent && wave == Waveform::Biphasic)),
        perfusion
            .tbi
            .map(|tbi| tbi >= if is_recent { 0.70 } else { 0.75 }),
    ];
    // "All of" is the denial of "any of the denials".
    super::any_of(&items.map(|item| item.map(|is_good| !is_good))).map(|is_any| !is_any)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cut_off_holds_one_below_at_and_one_above() {
        use AbiCategory::{Abnormal, Borderline, NonCompressible, Normal};
        for (abi, wanted) in [
            (0.89, Abnormal),
            (0.90, Abnormal),
            (0.91, Borderline),
            (0.99, Borderline),
            (1.00, Normal),
            (1.30, Normal),
            (1.31, NonCompressible),
        ] {
            assert_eq!(abi_category(abi, 1.3), wanted, "{abi}");
        }
        assert_eq!(abi_category(1.40, 1.4), Normal);
        assert_eq!(abi_category(1.41, 1.4), NonCompressible);
        assert_eq!(tbi_category(0.69), TbiCategory::Abnormal);
        assert_eq!(tbi_category(0.70), TbiCategory::Normal);
        for (guideline, mmhg, wanted) in [
            (
                VascularGuideline::Year2023,
                29.0,
                PressureCategory::Critical,
            ),
            (VascularGuideline::Year2023, 30.0, PressureCategory::Reduced),
            (
                VascularGuideline::Year2019,
                24.0,
                PressureCategory::Critical,
            ),
            (VascularGuideline::Year2019, 25.0, PressureCategory::Reduced),
            (VascularGuideline::Year2023, 59.0, PressureCategory::Reduced),
            (VascularGuideline::Year2023, 60.0, PressureCategory::Normal),
        ] {
            assert_eq!(oxygen_category(mmhg, guideline), wanted, "{mmhg}");
        }
        assert_eq!(
            toe_category(29.0, VascularGuideline::Year2015),
            PressureCategory::Critical
        );
        assert_eq!(
            toe_category(30.0, VascularGuideline::Year2015),
            PressureCategory::Reduced
        );
    }

    #[test]
    fn less_likely_needs_all_three_and_one_bad_test_settles_it() {
        let good = Perfusion {
            abi: Some(1.0),
            waveform: Some(Waveform::Biphasic),
            tbi: Some(0.70),
            ..Perfusion::default()
        };
        let by = |perfusion, guideline| is_arterial_disease_less_likely(&perfusion, guideline);
        assert_eq!(by(good, VascularGuideline::Year2023), Some(true));
        assert_eq!(by(good, VascularGuideline::Year2019), Some(false));
        let unmeasured = Perfusion { tbi: None, ..good };
        assert_eq!(by(unmeasured, VascularGuideline::Year2023), None);
        let stiff = Perfusion {
            abi: Some(1.31),
            ..unmeasured
        };
        assert_eq!(by(stiff, VascularGuideline::Year2023), Some(false));
    }
}
