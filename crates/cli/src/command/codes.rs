//! The spellings a layout may map its codes to.

use outcomes::tables::{
    AmputationHeight, Aspect, Attendance, DatePrecision, DiabetesType, DressingCarer, EventKind,
    Gangrene, InfectionGrade, Origin, Pulses, Region, SeenBy, Sensation, Setting, Sex, Side,
    TissueDepth, UlcerState, Waveform,
};
use std::fmt::Write as _;

/// One line a kind of code.
pub(super) fn codes() -> String {
    let mut text = String::new();
    let mut line = |name: &str, codes: Vec<&'static str>| {
        let _ = writeln!(text, "{name:<20} {}", codes.join(", "));
    };
    macro_rules! lines {
        ($($name:literal: $kind:ident),+ $(,)?) => {
            $(line($name, $kind::ALL.iter().map(|value| value.code()).collect());)+
        };
    }
    lines! {
        "sex": Sex, "diabetes type": DiabetesType, "attendance": Attendance, "setting": Setting, "side": Side,
        "sensation": Sensation, "pulses": Pulses, "waveform": Waveform, "site region": Region, "site aspect": Aspect,
        "ulcer state": UlcerState, "seen by": SeenBy, "origin": Origin, "onset precision": DatePrecision,
        "tissue depth": TissueDepth, "gangrene": Gangrene, "infection": InfectionGrade, "dressing carer": DressingCarer,
        "event": EventKind, "amputation height": AmputationHeight,
    }
    text.push_str(
        "\nA site is region[-ray][-aspect]: toe-1-plantar, mth-5, heel-lateral, midfoot.\n",
    );
    text
}
