//! The directly measured signs that call for a vascular opinion.
//!
//! Cut-offs: ABI below 0.4, ankle pressure below 50, toe pressure below 30, TcPO2 below 30 mmHg, monophasic or absent
//! waveform, gangrene (IWGDF/ESVS/SVS 2023, from memory; pressure row as printed in PMC11279131, table 2).

use crate::record::Foot;
use crate::words::{Gangrene, Waveform};

/// Which signs were met at one examination of one limb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Signs {
    pub(crate) low_abi: bool,
    pub(crate) low_ankle: bool,
    pub(crate) low_toe: bool,
    pub(crate) low_tcpo2: bool,
    pub(crate) poor_waveform: bool,
    pub(crate) gangrene: bool,
}

impl Signs {
    pub(crate) fn any(self) -> bool {
        self.low_abi
            || self.low_ankle
            || self.low_toe
            || self.low_tcpo2
            || self.poor_waveform
            || self.gangrene
    }
}

/// The signs of a foot examination and of the worst gangrene on that limb.
pub(crate) fn signs(foot: Option<&Foot>, gangrene: Option<Gangrene>) -> Signs {
    let below = |value: Option<f64>, limit: f64| value.is_some_and(|value| value < limit);
    let mut signs = Signs {
        gangrene: gangrene.is_some_and(|extent| extent != Gangrene::Absent),
        ..Signs::default()
    };
    if let Some(foot) = foot {
        signs.low_abi = below(foot.abi, 0.4);
        signs.low_ankle = below(foot.ankle_mmhg, 50.0);
        signs.low_toe = below(foot.toe_mmhg, 30.0);
        signs.low_tcpo2 = below(foot.tcpo2_mmhg, 30.0);
        signs.poor_waveform =
            matches!(foot.waveform, Some(Waveform::Monophasic | Waveform::Absent));
    }
    signs
}
