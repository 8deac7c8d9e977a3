//! Every check made while loading, in words.

use outcomes::check::CheckWords;
use outcomes::finding::Severity;

const fn words(name: &'static str, severity: Severity, words: &'static str) -> CheckWords {
    CheckWords {
        name,
        severity,
        words,
        source: "",
    }
}

const fn sourced(
    name: &'static str,
    severity: Severity,
    words: &'static str,
    source: &'static str,
) -> CheckWords {
    CheckWords {
        name,
        severity,
        words,
        source,
    }
}

/// Every check of this crate: rows set aside, cells ignored, notes, and what stops the run.
pub const CHECKS: &[CheckWords] = &[
    words(
        "no-patient-id",
        Severity::SetAside,
        "the row names no patient",
    ),
    words("no-visit-date", Severity::SetAside, "the row has no date"),
    words(
        "unreadable-visit-date",
        Severity::SetAside,
        "the date of the row cannot be read in the declared order of day and month",
    ),
    words(
        "visit-after-data-cut-off",
        Severity::SetAside,
        "the row is dated after the declared data cut-off",
    ),
    words(
        "visit-before-birth",
        Severity::SetAside,
        "the row is dated before the patient's year of birth",
    ),
    words(
        "visit-after-death",
        Severity::SetAside,
        "the row sees a patient after the recorded death; a row without attendance is only noted",
    ),
    words(
        "no-row-to-join",
        Severity::SetAside,
        "the row names a row of another file that is not there, and cannot be used without it; only noted where it can",
    ),
    words(
        "no-key-to-join",
        Severity::SetAside,
        "a row of a joined file has no key by which other rows could name it",
    ),
    words(
        "key-names-two-rows",
        Severity::SetAside,
        "a row of a joined file has the key of an earlier one and says something else; the earlier one is used",
    ),
    words(
        "joined-row-not-named",
        Severity::SetAside,
        "a row of a joined file that no row of another file names",
    ),
    words(
        "repeated-row",
        Severity::SetAside,
        "the row is identical to an earlier one of the same kind of file, as when exports overlap",
    ),
    words(
        "superseded-row",
        Severity::SetAside,
        "a newer export tells the same visit, examination, ulcer, event or person differently; the newer row is used, and named in the finding",
    ),
    words(
        "too-few-cells",
        Severity::SetAside,
        "the record has fewer cells than the header",
    ),
    words(
        "too-many-cells",
        Severity::SetAside,
        "the record has more cells than the header",
    ),
    words(
        "unreadable-line",
        Severity::SetAside,
        "the line is no JSON object, or not UTF-8",
    ),
    words(
        "repeated-key",
        Severity::SetAside,
        "the JSON object has a key twice",
    ),
    words(
        "nested-value",
        Severity::SetAside,
        "a value of the JSON object is a list or an object, which a cell cannot hold",
    ),
    words(
        "wrong-encoding",
        Severity::SetAside,
        "the record is not text in the encoding the layout declares",
    ),
    words(
        "nul-byte",
        Severity::SetAside,
        "the record holds a byte that no text holds",
    ),
    words(
        "unreadable-event-date",
        Severity::SetAside,
        "in a file of events: the date cannot be read",
    ),
    words(
        "no-event-date",
        Severity::CellIgnored,
        "an event without a readable date is left out; in a file of events the row is set aside",
    ),
    words(
        "no-event-kind",
        Severity::CellIgnored,
        "an event that does not say what happened is left out; in a file of events the row is set aside",
    ),
    words(
        "event-after-data-cut-off",
        Severity::CellIgnored,
        "an event dated after the declared data cut-off is left out; in a file of events the row is set aside",
    ),
    words(
        "no-ulcer-label",
        Severity::CellIgnored,
        "an ulcer without a label cannot be followed and is left out; in a file of ulcers the row is set aside",
    ),
    words(
        "no-side",
        Severity::CellIgnored,
        "an ulcer or examination without a side is left out; in a file of its own the row is set aside",
    ),
    words(
        "date-finer-than-declared",
        Severity::Stop,
        "a date tells more than the year although the layout declares years only; the cell counts as missing or the row is set aside, and the run stops",
    ),
    words(
        "unreadable-quarter",
        Severity::CellIgnored,
        "the carried quarter of a row cannot be read; the cell counts as missing",
    ),
    words(
        "quarter-contradicts-shift",
        Severity::Note,
        "the carried quarter of a row does not fit one shift of all dates of its person; the row counts where the other rows put it",
    ),
    words(
        "no-carried-quarter",
        Severity::Note,
        "no row of a person carries a quarter; the dates stay shifted and may count in a wrong quarter",
    ),
    words(
        "examination-without-attendance",
        Severity::CellIgnored,
        "an examination on a row that says nobody attended is left out",
    ),
    words(
        "unreadable-date",
        Severity::CellIgnored,
        "a cell is not a date in the declared order of day and month",
    ),
    words(
        "ambiguous-year",
        Severity::CellIgnored,
        "a date has a year of two digits",
    ),
    words(
        "date-without-day",
        Severity::CellIgnored,
        "a date names a month or year where a day is needed",
    ),
    words(
        "unreadable-year",
        Severity::CellIgnored,
        "a cell is not a year",
    ),
    words(
        "unreadable-number",
        Severity::CellIgnored,
        "a cell is not a number",
    ),
    sourced(
        "value-out-of-range",
        Severity::CellIgnored,
        "a value that cannot be true: a size, pressure, index or laboratory value beyond hard limits",
        "plausibility limits of this project, no published source",
    ),
    words(
        "unknown-code",
        Severity::CellIgnored,
        "a code that the layout does not know",
    ),
    sourced(
        "unit-suspected",
        Severity::Note,
        "the middle of a column's numbers is unusual for the declared unit and usual for another; a wrong unit makes areas wrong by a factor of 100",
        "usual middles: common practice, no source",
    ),
    sourced(
        "values-unusual-for-unit",
        Severity::Note,
        "the middle of a column's numbers is unusual for the declared unit, and no other unit explains it",
        "usual middles: common practice, no source",
    ),
    words(
        "unknown-resource-type",
        Severity::SetAside,
        "an HL7 FHIR resource of a type that nothing is read from",
    ),
    words(
        "coding-not-in-layout",
        Severity::SetAside,
        "no coding of the resource is in the layout, which reads other codings of the same system: something may be lost",
    ),
    words(
        "coding-of-no-interest",
        Severity::SetAside,
        "no coding of the resource is of a system that the layout reads as the practice's own, or of a family that the code tables cover; or the layout ignores it",
    ),
    words(
        "codes-disagree",
        Severity::Note,
        "codes of one resource tell different events, heights or sides; the layout's coding stands, or else the first code; a side told both ways counts as none",
    ),
    words(
        "entered-in-error",
        Severity::SetAside,
        "the status says that the resource was entered in error",
    ),
    words(
        "not-done",
        Severity::SetAside,
        "the status says that it did not happen or does not hold",
    ),
    words(
        "status-tells-nothing",
        Severity::SetAside,
        "the status is absent, or does not say that it has happened",
    ),
    words(
        "reference-not-found",
        Severity::SetAside,
        "the resource names a patient or a lesion that is not in the export",
    ),
    words(
        "older-version",
        Severity::SetAside,
        "the export holds a newer version of the resource",
    ),
    words(
        "appointment-of-no-visit",
        Severity::SetAside,
        "an appointment that no visit made and that was not missed",
    ),
    words(
        "observation-of-no-visit",
        Severity::SetAside,
        "an observation of a visit that is not in the export",
    ),
    words(
        "lesion-without-observation",
        Severity::SetAside,
        "an ulcer that no observation describes; one that the record calls active counts as seen open on the day it was recorded",
    ),
    words(
        "death-without-day",
        Severity::CellIgnored,
        "a death whose day is not told; the person counts as not known to have died",
    ),
    words(
        "text-not-read",
        Severity::CellIgnored,
        "an answer in free text is not read",
    ),
    words(
        "inexact-number",
        Severity::CellIgnored,
        "a number that is only a bound",
    ),
    words(
        "unknown-unit",
        Severity::CellIgnored,
        "a unit that the field cannot be in, or none where one is needed",
    ),
    words(
        "answer-of-another-kind",
        Severity::CellIgnored,
        "an answer of a type that the field does not take",
    ),
    words(
        "contradicting-observation",
        Severity::Note,
        "two observations of one foot or lesion on one day disagree; the first stands",
    ),
    words(
        "unmapped-code",
        Severity::CellIgnored,
        "a code of a family that the code tables cover, and none they hold: an amputation or revascularisation may be missing",
    ),
    words(
        "code-outside-its-dates",
        Severity::Note,
        "a code used on a day on which it was not in force; it counts for what it means",
    ),
    words(
        "side-contradicts-code",
        Severity::Note,
        "a code that names the other side than its row, or another code of it; the side that came first stands",
    ),
    words(
        "second-event-in-row",
        Severity::CellIgnored,
        "a code that means another event than its row already tells: an amputation or revascularisation may be missing",
    ),
    words(
        "code-tells-no-event",
        Severity::SetAside,
        "in a file of events: the row's codes date no event and tell no history",
    ),
    words(
        "day-taken-in-utc",
        Severity::Note,
        "a column of times in UTC, whose rows have the day they had in UTC because the layout names no offset",
    ),
    words(
        "column-not-in-layout",
        Severity::Note,
        "a column of the export that the layout neither maps nor ignores",
    ),
    words(
        "exports-in-listed-order",
        Severity::Note,
        "exports overlap and differ, and none says when it was made; the file listed later was taken for the newer",
    ),
    words(
        "exports-disagree",
        Severity::Note,
        "two exports of the same day tell one row differently; both are used",
    ),
    words(
        "not-in-newer-export",
        Severity::Note,
        "rows of an older export lie within the days of a newer one that does not hold them; they are used",
    ),
    words(
        "repeated-event",
        Severity::Note,
        "an event told before; it is counted once",
    ),
    words(
        "contradicting-amputation-level",
        Severity::Note,
        "the level or height of an amputation contradicts its kind; the kind stands",
    ),
    words(
        "contradicting-referral-source",
        Severity::Note,
        "rows of one patient disagree about who referred; the first answer stands",
    ),
    words(
        "contradicting-first-contact",
        Severity::Note,
        "rows of one patient disagree about the first contact; the first answer stands",
    ),
    words(
        "contradicting-birth-year",
        Severity::Note,
        "rows of one patient disagree about the year of birth; the first answer stands",
    ),
    words(
        "contradicting-sex",
        Severity::Note,
        "rows of one patient disagree about sex; the first answer stands",
    ),
    words(
        "contradicting-diabetes-type",
        Severity::Note,
        "rows of one patient disagree about the type of diabetes; the first answer stands",
    ),
    words(
        "contradicting-diabetes-year",
        Severity::Note,
        "rows of one patient disagree about the year diabetes was found; the first answer stands",
    ),
    words(
        "contradicting-renal-replacement",
        Severity::Note,
        "rows of one patient disagree about renal replacement; the first answer stands",
    ),
    words(
        "contradicting-smoking",
        Severity::Note,
        "rows of one patient disagree about smoking; the first answer stands",
    ),
    words(
        "contradicting-prior-ulcer",
        Severity::Note,
        "rows of one patient disagree about an earlier ulcer; from the row that says yes on, there was one",
    ),
    words(
        "contradicting-prior-amputation",
        Severity::Note,
        "rows of one patient disagree about an earlier amputation; from the row that names one on, there was one",
    ),
    words(
        "contradicting-death-date",
        Severity::Note,
        "rows of one patient disagree about the date of death; the earliest stands",
    ),
    words(
        "contradicting-stratum",
        Severity::Note,
        "rows of one patient disagree about an extra stratum; the first answer stands",
    ),
    words(
        "quotation-mark-left-open",
        Severity::Stop,
        "one record spans many lines; a quotation mark without its partner may have swallowed other records",
    ),
    words(
        "declared-not-identifying",
        Severity::Note,
        "a column that the layout declares to identify nobody, with the reason it gives and what was found in the column",
    ),
    words(
        "looks-like-email",
        Severity::Stop,
        "a column holds or announces e-mail addresses",
    ),
    words(
        "looks-like-social-security-number",
        Severity::Stop,
        "a column holds or announces social-security numbers",
    ),
    words(
        "looks-like-phone-number",
        Severity::Stop,
        "a column holds or announces telephone or fax numbers",
    ),
    words(
        "looks-like-record-number",
        Severity::Stop,
        "a column holds or announces record, insurance or account numbers",
    ),
    words(
        "looks-like-birth-date",
        Severity::Stop,
        "a column holds or announces full dates of birth",
    ),
    words(
        "looks-like-address",
        Severity::Stop,
        "a column holds or announces postal codes or addresses",
    ),
    words(
        "looks-like-name",
        Severity::Stop,
        "a column holds or announces names of persons",
    ),
    words(
        "looks-like-free-text",
        Severity::Stop,
        "a column holds or announces free text, in which anything may stand",
    ),
    words(
        "looks-like-link-or-device",
        Severity::Stop,
        "a column announces links, photographs or device numbers",
    ),
    words(
        "age-over-89",
        Severity::Stop,
        "an age over 89, or a year of birth that tells one; such ages are pooled as 90 or over",
    ),
];
