//! The spellings a layout may map its codes to, and the tables of published codes.

use intake::{CodeEntry, code_tables};
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
        "\nA site is region[-ray][-aspect]: toe-1-plantar, mth-5, heel-lateral, midfoot.\n\nPublished codes (`limbledger explain NAME` lists them):\n",
    );
    for table in code_tables() {
        let n = table.entries.len();
        let _ = writeln!(text, "{:<20} {n} lines; {}", table.system, table.edition);
    }
    text
}

/// A table of published codes: edition, sources and every line.
pub(super) fn explained_code_table(name: &str) -> Option<String> {
    let table = code_tables()
        .iter()
        .find(|table| table.system.code() == name)?;
    let mut text = format!(
        "{name}\n\nCodes of this classification turn into events, history and ulcers by the table below. In an export of\n\
         codes a layout maps `{}` under [event]; status codes are history and never date an event.\n\n\
         Edition: {}\nSHA-256: {}\n",
        name.replace('-', "_"),
        table.edition,
        table.sha256
    );
    for source in &table.sources {
        let _ = writeln!(text, "Source: {source}");
    }
    text.push_str(
        "\nCode      In force                  Means; side, level or type; in our words\n",
    );
    for entry in &table.entries {
        let _ = writeln!(text, "{}", code_line(entry));
    }
    Some(text)
}

fn code_line(entry: &CodeEntry) -> String {
    let star = if entry.is_beginning { "*" } else { "" };
    let in_force = match (entry.from, entry.to) {
        (None, None) => String::new(),
        (Some(from), None) => format!("from {from}"),
        (None, Some(to)) => format!("to {to}"),
        (Some(from), Some(to)) => format!("{from} to {to}"),
    };
    let details = [
        entry.side.map(|side| side.code()),
        entry.height.map(|height| height.code()),
        entry.level.map(|level| level.code()),
        entry.depth.map(|depth| depth.code()),
        entry.diabetes.map(|diabetes| diabetes.code()),
    ];
    let mut words = vec![entry.meaning.code()];
    words.extend(details.into_iter().flatten());
    format!(
        "{:<9} {:<25} {}: {}",
        format!("{}{star}", entry.code),
        in_force,
        words.join(", "),
        entry.words
    )
}
