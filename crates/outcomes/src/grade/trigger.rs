//! Vascular triggers of a limb with an ulcer, by edition of the guideline.

use super::{Perfusion, ischaemia_grade};
use crate::coded;
use crate::rules::VascularGuideline;
use crate::tables::Waveform;

coded! {
    /// Why a limb with an ulcer needs a vascular opinion. The first that is met, in this order on one day, counts.
    ///
    /// The urgent cut-offs are those of [`urgent_cut_offs`]; the others follow the Global Vascular Guidelines 2019 and
    /// the rules of this project.
    pub enum Trigger {
        LowAbi = "ABI below the urgent cut-off",
        LowAnklePressure = "ankle pressure below the urgent cut-off",
        LowToePressure = "toe pressure below the urgent cut-off",
        LowOxygen = "TcPO2 below the urgent cut-off",
        PoorWaveform = "monophasic or absent waveform",
        Gangrene = "gangrene",
        SuspectedThreat = "suspected chronic limb-threatening ischaemia",
        IschaemiaGrade = "WIfI ischaemia grade 2 or 3",
        Stage = "WIfI stage 3 or 4 with ischaemia",
        SlowHealing = "less than half the area gone after 4 weeks, with ischaemia or without measured perfusion",
        PerfusionNotMeasured = "open for more than 6 weeks without measured perfusion",
    }
}

impl Trigger {
    /// Whether guidelines ask for urgent action: the urgent cut-offs and waveform of the guideline in force, gangrene
    /// (NICE NG19) and suspected chronic limb-threatening ischaemia (Global Vascular Guidelines 2019).
    pub fn is_urgent(self) -> bool {
        self <= Self::SuspectedThreat
    }
}

/// Below which values a guideline asks for urgent vascular imaging; a value equal to the cut-off is not below it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UrgentCutOffs {
    /// Ankle-brachial index, as charted.
    pub abi_below: f64,
    /// Ankle systolic pressure, mmHg.
    pub ankle_below_mmhg: f64,
    /// Toe systolic pressure, mmHg.
    pub toe_below_mmhg: f64,
    /// Transcutaneous oxygen pressure, mmHg.
    pub tcpo2_below_mmhg: f64,
    /// A monophasic or absent pedal waveform is one, too.
    pub reads_waveform: bool,
}

/// The urgent cut-offs of a guideline.
///
/// 2015 and 2019: ABI 0.5, ankle 50, toe 30, TcPO2 25 mmHg. 2023: ABI 0.4, ankle 50, toe 30, TcPO2 30 mmHg, monophasic or
/// absent waveform. Source: IWGDF 2015 and 2019 (from memory); IWGDF/ESVS/SVS 2023, pressures as printed in PMC11279131,
/// table 2, waveform from memory.
pub fn urgent_cut_offs(guideline: VascularGuideline) -> UrgentCutOffs {
    let is_recent = guideline == VascularGuideline::Year2023;
    UrgentCutOffs {
        abi_below: if is_recent { 0.4 } else { 0.5 },
        ankle_below_mmhg: 50.0,
        toe_below_mmhg: 30.0,
        tcpo2_below_mmhg: if is_recent { 30.0 } else { 25.0 },
        reads_waveform: is_recent,
    }
}

/// The triggers that measured perfusion meets, in order. An ABI above the limit, and the ankle pressure under it, measure
/// nothing.
pub fn perfusion_triggers(
    perfusion: &Perfusion,
    abi_limit: f64,
    guideline: VascularGuideline,
) -> Vec<Trigger> {
    let cut_offs = urgent_cut_offs(guideline);
    let (abi, ankle) = perfusion.compressible(abi_limit);
    let below = |value: Option<f64>, cut_off: f64| value.is_some_and(|value| value < cut_off);
    let is_poor = matches!(
        perfusion.waveform,
        Some(Waveform::Monophasic | Waveform::Absent)
    );
    let ischaemia = ischaemia_grade(perfusion, abi_limit);
    [
        (Trigger::LowAbi, below(abi, cut_offs.abi_below)),
        (
            Trigger::LowAnklePressure,
            below(ankle, cut_offs.ankle_below_mmhg),
        ),
        (
            Trigger::LowToePressure,
            below(perfusion.toe_mmhg, cut_offs.toe_below_mmhg),
        ),
        (
            Trigger::LowOxygen,
            below(perfusion.tcpo2_mmhg, cut_offs.tcpo2_below_mmhg),
        ),
        (Trigger::PoorWaveform, is_poor && cut_offs.reads_waveform),
        (Trigger::IschaemiaGrade, ischaemia.at_least(2) == Some(true)),
    ]
    .into_iter()
    .filter_map(|(trigger, is_met)| is_met.then_some(trigger))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_guideline_has_its_own_cut_offs_and_equality_is_not_below() {
        use VascularGuideline::{Year2019, Year2023};
        let with = |abi: f64, tcpo2: f64| Perfusion {
            abi: Some(abi),
            tcpo2_mmhg: Some(tcpo2),
            ..Perfusion::default()
        };
        let urgent = |abi, tcpo2, guideline| -> Vec<Trigger> {
            perfusion_triggers(&with(abi, tcpo2), 1.3, guideline)
                .into_iter()
                .filter(|trigger| trigger.is_urgent())
                .collect()
        };
        assert_eq!(urgent(0.39, 80.0, Year2023), [Trigger::LowAbi]);
        assert_eq!(urgent(0.40, 80.0, Year2023), []);
        assert_eq!(urgent(0.49, 80.0, Year2019), [Trigger::LowAbi]);
        assert_eq!(urgent(0.50, 80.0, Year2019), []);
        assert_eq!(urgent(1.0, 29.0, Year2023), [Trigger::LowOxygen]);
        assert_eq!(urgent(1.0, 30.0, Year2023), []);
        assert_eq!(urgent(1.0, 24.0, Year2019), [Trigger::LowOxygen]);
        assert_eq!(urgent(1.0, 25.0, Year2019), []);
    }

    #[test]
    fn a_waveform_is_urgent_since_2023_only_and_a_stiff_artery_triggers_nothing() {
        let wave = Perfusion {
            waveform: Some(Waveform::Monophasic),
            abi: Some(1.31),
            ankle_mmhg: Some(40.0),
            ..Perfusion::default()
        };
        assert_eq!(
            perfusion_triggers(&wave, 1.3, VascularGuideline::Year2023),
            [Trigger::PoorWaveform]
        );
        assert_eq!(
            perfusion_triggers(&wave, 1.3, VascularGuideline::Year2019),
            []
        );
    }
}
