//! Blood supply of a leg: what was measured, and the ischaemia grade it gives.

use super::GradeRange;
use crate::tables::{FootExam, Pulses, Waveform, as_written};

/// Perfusion of one leg as recorded, at one time.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Perfusion {
    /// Pedal pulses by palpation.
    pub pulses: Option<Pulses>,
    /// Doppler waveform.
    pub waveform: Option<Waveform>,
    /// Ankle systolic pressure, mmHg.
    pub ankle_mmhg: Option<f64>,
    /// Toe systolic pressure, mmHg.
    pub toe_mmhg: Option<f64>,
    /// Ankle-brachial index, two decimals as charted.
    pub abi: Option<f64>,
    /// Toe-brachial index, two decimals as charted.
    pub tbi: Option<f64>,
    /// Transcutaneous oxygen pressure, mmHg.
    pub tcpo2_mmhg: Option<f64>,
}

impl Perfusion {
    /// What one exam records. An index that was not charted is made from its pressures.
    pub fn of(exam: &FootExam) -> Self {
        let index = |charted: Option<f32>, pressure: Option<f32>| {
            charted.map(as_written).or_else(|| {
                let brachial = as_written(exam.brachial_mmhg?);
                (brachial > 0.0).then_some(as_written(pressure?) / brachial)
            })
        };
        Self {
            pulses: exam.pulses,
            waveform: exam.waveform,
            ankle_mmhg: exam.ankle_mmhg.map(as_written),
            toe_mmhg: exam.toe_mmhg.map(as_written),
            abi: index(exam.abi, exam.ankle_mmhg).map(|abi| as_charted(abi, 2)),
            tbi: index(exam.tbi, exam.toe_mmhg).map(|tbi| as_charted(tbi, 2)),
            tcpo2_mmhg: exam.tcpo2_mmhg.map(as_written),
        }
    }

    /// This record, with what it lacks taken from another.
    pub fn or(self, other: Self) -> Self {
        Self {
            pulses: self.pulses.or(other.pulses),
            waveform: self.waveform.or(other.waveform),
            ankle_mmhg: self.ankle_mmhg.or(other.ankle_mmhg),
            toe_mmhg: self.toe_mmhg.or(other.toe_mmhg),
            abi: self.abi.or(other.abi),
            tbi: self.tbi.or(other.tbi),
            tcpo2_mmhg: self.tcpo2_mmhg.or(other.tcpo2_mmhg),
        }
    }

    /// ABI and ankle pressure where the arteries can be compressed.
    pub(super) fn compressible(&self, abi_limit: f64) -> (Option<f64>, Option<f64>) {
        match self.abi {
            Some(abi) if abi > abi_limit => (None, None),
            abi => (abi, self.ankle_mmhg),
        }
    }
}

/// An index rounded to the decimals with which it is charted; indices are compared so. A half goes up: 0.795 is 0.80.
pub fn as_charted(index: f64, decimals: u32) -> f64 {
    let scale = f64::from(10u32.saturating_pow(decimals.min(6)));
    // 1.005 is stored as a little less; a billionth keeps the half that was written.
    (index * scale + 1e-9).round() / scale
}

/// Whether perfusion was measured objectively. Palpation does not count; an ABI above the limit without a
/// toe pressure, toe-brachial index, TcPO2 or waveform measures nothing.
pub fn is_measured(perfusion: &Perfusion, abi_limit: f64) -> bool {
    let (abi, ankle) = perfusion.compressible(abi_limit);
    perfusion.toe_mmhg.is_some()
        || perfusion.tbi.is_some()
        || perfusion.tcpo2_mmhg.is_some()
        || perfusion.waveform.is_some()
        || abi.is_some()
        || ankle.is_some()
}

/// Reduced flow to the foot (peripheral arterial disease for the risk tier and SINBAD's ischaemia item):
/// true when anything recorded is abnormal, false when something is normal and nothing abnormal, else unknown.
///
/// Abnormal: ABI below 0.90, TBI below 0.70, toe pressure below 60 mmHg, monophasic or absent waveform, no
/// palpable pulse. Sources: ABI and TBI, IWGDF/ESVS/SVS 2023 and AHA/ACC (from memory); toe pressure, WIfI
/// ischaemia grade 1 (J Vasc Surg 2014;59:220-234); pulse, SINBAD (Diabetes Care 2008;31:964-967).
pub fn reduced_flow(perfusion: &Perfusion, abi_limit: f64) -> Option<bool> {
    let (abi, _) = perfusion.compressible(abi_limit);
    let items = [
        abi.map(|abi| abi < 0.90),
        perfusion.tbi.map(|tbi| tbi < 0.70),
        perfusion.toe_mmhg.map(|toe| toe < 60.0),
        perfusion
            .waveform
            .map(|wave| matches!(wave, Waveform::Monophasic | Waveform::Absent)),
        perfusion.pulses.map(|pulses| pulses == Pulses::Absent),
    ];
    let recorded = items.into_iter().flatten();
    recorded.reduce(|one, other| one || other)
}

/// WIfI ischaemia grade 0 to 3; 0 to 3 as a range when nothing gradable was measured.
///
/// The toe pressure governs, then TcPO2, then the worse of ABI and ankle pressure. Cut-offs: ABI 0.80, 0.60,
/// 0.40; ankle above 100, 70, 50 mmHg; toe or TcPO2 60, 40, 30 mmHg. The published ankle ranges share 70
/// and 50; the better grade is taken there. Source: Mills et al., J Vasc Surg 2014;59:220-234.
pub fn ischaemia_grade(perfusion: &Perfusion, abi_limit: f64) -> GradeRange {
    let by = |value: f64, limits: [f64; 3]| -> u8 {
        if value >= limits[0] {
            0
        } else if value >= limits[1] {
            1
        } else if value >= limits[2] {
            2
        } else {
            3
        }
    };
    if let Some(pressure) = perfusion.toe_mmhg.or(perfusion.tcpo2_mmhg) {
        return GradeRange::exactly(by(pressure, [60.0, 40.0, 30.0]));
    }
    let (abi, ankle) = perfusion.compressible(abi_limit);
    let by_abi = abi.map(|abi| by(abi, [0.80, 0.60, 0.40]));
    let by_ankle = ankle.map(|ankle| {
        if ankle > 100.0 {
            0
        } else {
            by(ankle, [f64::INFINITY, 70.0, 50.0])
        }
    });
    match by_abi.max(by_ankle) {
        Some(grade) => GradeRange::exactly(grade),
        None => GradeRange::between(0, 3),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graded(perfusion: Perfusion) -> GradeRange {
        ischaemia_grade(&perfusion, 1.3)
    }

    #[test]
    fn every_published_cut_off_is_kept_on_both_sides() {
        for (abi, grade) in [
            (0.80, 0),
            (0.79, 1),
            (0.60, 1),
            (0.59, 2),
            (0.40, 2),
            (0.39, 3),
        ] {
            assert_eq!(
                graded(Perfusion {
                    abi: Some(abi),
                    ..Default::default()
                }),
                GradeRange::exactly(grade),
                "ABI {abi}"
            );
        }
        for (toe, grade) in [
            (60.0, 0),
            (59.0, 1),
            (40.0, 1),
            (39.0, 2),
            (30.0, 2),
            (29.0, 3),
        ] {
            assert_eq!(
                graded(Perfusion {
                    toe_mmhg: Some(toe),
                    ..Default::default()
                }),
                GradeRange::exactly(grade),
                "toe {toe}"
            );
        }
        for (ankle, grade) in [
            (101.0, 0),
            (100.0, 1),
            (70.0, 1),
            (69.0, 2),
            (50.0, 2),
            (49.0, 3),
        ] {
            assert_eq!(
                graded(Perfusion {
                    ankle_mmhg: Some(ankle),
                    ..Default::default()
                }),
                GradeRange::exactly(grade),
                "ankle {ankle}"
            );
        }
    }

    #[test]
    fn a_stiff_artery_measures_nothing_and_the_toe_governs() {
        let stiff = Perfusion {
            abi: Some(1.31),
            ankle_mmhg: Some(180.0),
            ..Default::default()
        };
        assert!(!is_measured(&stiff, 1.3));
        assert_eq!(graded(stiff), GradeRange::between(0, 3));
        let with_toe = Perfusion {
            toe_mmhg: Some(25.0),
            ..stiff
        };
        assert!(is_measured(&with_toe, 1.3));
        assert_eq!(graded(with_toe), GradeRange::exactly(3));
        assert!(is_measured(
            &Perfusion {
                abi: Some(1.30),
                ..Default::default()
            },
            1.3
        ));
    }

    #[test]
    fn palpation_alone_tells_of_flow_but_is_no_measurement() {
        let felt = Perfusion {
            pulses: Some(Pulses::Palpable),
            ..Default::default()
        };
        assert!(!is_measured(&felt, 1.3));
        assert_eq!(reduced_flow(&felt, 1.3), Some(false));
        let disagreeing = Perfusion {
            abi: Some(0.70),
            ..felt
        };
        assert_eq!(reduced_flow(&disagreeing, 1.3), Some(true));
        assert_eq!(reduced_flow(&Perfusion::default(), 1.3), None);
    }

    #[test]
    fn an_index_is_compared_as_charted_with_two_decimals() {
        let by_abi = |abi: f64| {
            graded(Perfusion {
                abi: Some(as_charted(abi, 2)),
                ..Default::default()
            })
        };
        for (abi, grade) in [
            (0.794, 1),
            (0.795, 0),
            (0.796, 0),
            (0.594, 2),
            (0.595, 1),
            (0.596, 1),
            (0.394, 3),
            (0.395, 2),
            (0.396, 2),
        ] {
            assert_eq!(by_abi(abi), GradeRange::exactly(grade), "{abi}");
        }
        assert_eq!(by_abi(1.304), GradeRange::exactly(0));
        assert_eq!(by_abi(1.305), GradeRange::between(0, 3));
        assert!((as_charted(1.005, 2) - 1.01).abs() < 1e-12);
        assert!((as_charted(0.7949, 3) - 0.795).abs() < 1e-12);
    }

    #[test]
    fn the_worse_of_index_and_ankle_counts_and_oxygen_stands_in_for_the_toe() {
        let both = Perfusion {
            abi: Some(0.85),
            ankle_mmhg: Some(69.9),
            ..Default::default()
        };
        assert_eq!(graded(both), GradeRange::exactly(2));
        let oxygen = |value| Perfusion {
            tcpo2_mmhg: Some(value),
            ..both
        };
        for (value, grade) in [
            (60.0, 0),
            (59.9, 1),
            (40.0, 1),
            (39.9, 2),
            (30.0, 2),
            (29.9, 3),
        ] {
            assert_eq!(graded(oxygen(value)), GradeRange::exactly(grade), "{value}");
        }
        for (ankle, grade) in [
            (100.1, 0),
            (100.0, 1),
            (70.0, 1),
            (69.9, 2),
            (50.0, 2),
            (49.9, 3),
        ] {
            let alone = Perfusion {
                ankle_mmhg: Some(ankle),
                ..Default::default()
            };
            assert_eq!(graded(alone), GradeRange::exactly(grade), "{ankle}");
        }
    }
}
