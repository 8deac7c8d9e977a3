//! Faults of a layout are told with line, column and the nearest right name.

use crate::support::WIDE;
use intake::layout;

/// The position of `needle` in the text, as line and column from 1.
fn position(text: &str, needle: &str) -> (usize, usize) {
    let offset = text.find(needle).unwrap();
    let before = &text[..offset];
    (
        before.matches('\n').count() + 1,
        offset - before.rfind('\n').map_or(0, |at| at + 1) + 1,
    )
}

#[test]
fn each_fault_is_pointed_at() {
    // (what is replaced, by what, where the error points, message, hint)
    let cases = [
        (
            "format = \"day-first\"\n",
            "format = \"day-first\"\nkind = \"shiftd\"\n",
            "\"shiftd\"",
            "`dates.kind`: unknown value `shiftd`",
            "did you mean `shifted`?",
        ),
        (
            "format = \"day-first\"\n",
            "format = \"day-first\"\nkind = \"shifted\"\n",
            "\"shifted\"",
            "`dates.kind = \"shifted\"` needs `dates.shifted_by_at_most_days`",
            "the most days by which any person's dates were moved, earlier or later; whoever shifted them knows",
        ),
        (
            "format = \"day-first\"\n",
            "format = \"day-first\"\nkind = \"limited-data-set\"\nagreement = \" \"\n",
            "\"limited-data-set\"",
            "`dates.kind = \"limited-data-set\"` needs `dates.agreement`",
            "name the data use agreement as your records name it; the manifest keeps it",
        ),
        (
            "date = \"seen\"\n",
            "date = \"seen\"\nquarter = \"q\"\n",
            "quarter = ",
            "`visit.quarter` is read only where `dates.kind = \"shifted\"`",
            "other dates say themselves which quarter they are in",
        ),
        (
            "shape = \"wide\"",
            "shpe = \"wide\"",
            "shpe",
            "unknown key `file.shpe`",
            "did you mean `shape`?",
        ),
        (
            "\"wide\"\n",
            "\"wid\"\n",
            "\"wid\"\n",
            "`file.shape`: unknown value `wid`",
            "did you mean `wide`?",
        ),
        (
            "\"day-first\"",
            "\"day-frist\"",
            "\"day-frist\"",
            "`dates.format`: unknown value `day-frist`",
            "did you mean `day-first`?",
        ),
        (
            "slots = 2",
            "slot = \"x\"",
            "slot = ",
            "unknown field `ulcer.slot`",
            "did you mean `slots`?",
        ),
        (
            "slots = 2",
            "slots = 200",
            "200",
            "`ulcer.slots` must be a whole number from 1 to 99",
            "",
        ),
        (
            "birth_year =",
            "birthyear =",
            "birthyear",
            "unknown field `patient.birthyear`",
            "did you mean `birth_year`?",
        ),
        (
            "unit = \"mm\"",
            "unit = \"mmm\"",
            "\"mmm\"",
            "unknown unit `mmm`",
            "did you mean `mm`?",
        ),
        (
            "unit = \"mm\"",
            "unit = \"kPa\"",
            "\"kPa\"",
            "`ulcer.length` cannot be in `kPa`",
            "units here: cm, mm, in",
        ),
        (
            "codes = \"feeling\"",
            "codes = \"feling\"",
            "\"feling\"",
            "unknown code list `feling`",
            "did you mean `feeling`?",
        ),
        (
            "O = \"open\"",
            "O = \"opne\"",
            "\"opne\"",
            "`codes.state`: `opne` is no value of `ulcer.state`",
            "did you mean `open`?",
        ),
        (
            "unit = \"mmol/mol\"",
            "units = \"mmol/mol\"",
            "units =",
            "unknown key `visit.hba1c.units`",
            "did you mean `unit`?",
        ),
        (
            "missed = [\"DNA\"]",
            "missed = [\"att\"]",
            "\"att\"",
            "`attendance`: `att` is listed twice; case does not count",
            "",
        ),
        (
            "L = \"left\"",
            "L = \"left\"\nl = \"right\"",
            "\"right\"\nR",
            "`codes.side`: `l` has two meanings; case does not count",
            "",
        ),
        (
            "date = \"seen\"\n",
            "",
            "[visit]",
            "missing key `visit.date`",
            "",
        ),
        (
            "name = \"small-wide\"",
            "name = 7",
            "7",
            "`name`: invalid type: integer `7`, expected a string",
            "",
        ),
    ];
    for (from, to, at, message, hint) in cases {
        assert!(WIDE.contains(from), "{from}");
        let text = WIDE.replacen(from, to, 1);
        let error = layout::parse(&text, "small.toml").unwrap_err();
        assert_eq!(error.message, message);
        assert_eq!(error.hint.as_deref().unwrap_or_default(), hint, "{message}");
        assert_eq!((error.line, error.column), position(&text, at), "{message}");
        assert_eq!(
            error.to_string(),
            format!("small.toml:{}:{}: {message}", error.line, error.column)
        );
    }
}

/// `LIMBLEDGER_REFRESH=1` writes the list anew.
#[test]
fn the_list_of_fields_beside_the_layouts_is_current() {
    const START: &str = "<!-- fields: made from the program; a test keeps it current -->\n";
    const END: &str = "<!-- end of fields -->";
    let path = crate::support::repository().join("pipelines/layouts/README.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let rows: String = layout::fields()
        .iter()
        .map(|words| {
            format!(
                "| `{}` | `{}` | {} |\n",
                words.section, words.field, words.takes
            )
        })
        .collect();
    let table = format!("| Section | Field | Takes |\n|---|---|---|\n{rows}");
    let (before, rest) = text.split_once(START).unwrap();
    let (written, after) = rest.split_once(END).unwrap();
    if std::env::var_os("LIMBLEDGER_REFRESH").is_some() {
        std::fs::write(&path, format!("{before}{START}{table}{END}{after}")).unwrap();
    } else {
        assert_eq!(written, table);
    }
}
