//! What every check means, with the source of its limit.

use super::CheckWords;
use crate::finding::Severity;

/// Limits this project set itself; nobody has published them.
const OURS: &str = "plausibility limits of this project, no published source";
/// What people who do this work would say.
const COMMON: &str = "common practice, no source";

const fn note(name: &'static str, words: &'static str, source: &'static str) -> CheckWords {
    CheckWords {
        name,
        severity: Severity::Note,
        words,
        source,
    }
}

const fn ignored(name: &'static str, words: &'static str, source: &'static str) -> CheckWords {
    CheckWords {
        name,
        severity: Severity::CellIgnored,
        words,
        source,
    }
}

/// Every check of this crate.
pub const CHECKS: &[CheckWords] = &[
    ignored(
        "onset-after-first-visit",
        "an onset dated after the visit that recorded it; the onset counts as missing",
        "",
    ),
    ignored(
        "side-of-open-ulcer-changed",
        "a row with the label and the place of an ulcer that is open, but on the other foot, where no ulcer of that label is open; the side counts as mistyped and the row for the open ulcer. Not applied where the label was told of both feet on one day",
        COMMON,
    ),
    ignored(
        "size-zero-while-open",
        "a length, width or area of nothing at an ulcer recorded as open; that size counts as missing",
        OURS,
    ),
    ignored(
        "diabetes-year-impossible",
        "diabetes found before the year of birth or after the person's last row; the year counts as missing",
        "",
    ),
    note(
        "export-ends-early",
        "the last 30 days before the cut-off hold fewer than half of the rows that are usual, and fewer than their scatter explains; the export may have been made earlier, or half",
        OURS,
    ),
    note(
        "export-has-a-gap",
        "30 days without any row in a table that usually holds 20 or more in such a span",
        OURS,
    ),
    note(
        "row-after-death",
        "something was recorded as seen or done after the recorded death; one of the two dates is wrong",
        "",
    ),
    note(
        "open-and-closed-on-one-day",
        "two rows of one day disagree about an ulcer; it counts as open",
        "",
    ),
    note(
        "closure-not-seen-by-clinician",
        "a closure told by a patient, a home nurse or a photograph; only a clinician's examination closes an ulcer",
        "",
    ),
    note(
        "never-seen-open",
        "an ulcer that was only ever recorded as closed or pre-ulcerative; it begins no episode",
        "",
    ),
    note(
        "closed-before-seen-open",
        "an ulcer recorded as closed at its first row and as open later; what came before is not known",
        "",
    ),
    note(
        "area-grew-fourfold",
        "length times width, or the recorded area, grew more than four times between two visits; a unit may have changed",
        OURS,
    ),
    note(
        "sizes-of-another-unit",
        "the middle of the lengths, ankle pressures or toe pressures at one clinic site, of one clinician or in one quarter is five times that of all others or more, or a fifth or less; of areas 25 times. A unit may differ there; a wrong one makes areas wrong by a factor of 100",
        OURS,
    ),
    note(
        "unusually-large-ulcer",
        "a length or width above 15 cm; a unit or a decimal mark may be wrong",
        OURS,
    ),
    note(
        "unusually-deep-ulcer",
        "a depth above 3 cm; a unit or a decimal mark may be wrong",
        OURS,
    ),
    note(
        "width-exceeds-length",
        "a width greater than the length; the two may be swapped",
        OURS,
    ),
    note(
        "area-does-not-fit-size",
        "a recorded area that is within a fifth of neither length times width nor the ellipse with these axes; a unit may be wrong, or one of the three mistyped",
        OURS,
    ),
    note(
        "size-on-closed-ulcer",
        "a size above zero at an ulcer recorded as closed; it may still have been open",
        "",
    ),
    note(
        "long-gap-while-open",
        "an open ulcer was not seen for more than 180 days and then seen again; what happened between is not known",
        OURS,
    ),
    note(
        "onset-long-before-first-visit",
        "an onset more than 5 years before the first visit of the ulcer; the year may be mistyped",
        OURS,
    ),
    note(
        "onsets-heaped-on-first-of-month",
        "a fifth or more of the onsets given to the day fall on the first of a month; they are probably months, not days",
        "about 1 day in 30 is the first of a month; of 30 onsets 6 or more fall on it by chance in fewer than 1 export in 500 (binomial)",
    ),
    note(
        "amputation-without-side",
        "an amputation without a side; it cannot be given to a limb and is not counted",
        "",
    ),
    note(
        "removed-without-amputation-row",
        "an ulcer that was seen and later found removed, with no amputation of that leg recorded in between: the row of the operation is missing, or its date could not be read. It counts as a minor amputation on the day the ulcer was found removed",
        "",
    ),
    note(
        "foot-seen-after-major-amputation",
        "an open foot ulcer or an examined foot on a side whose leg was amputated before; the side or the date may be wrong",
        "",
    ),
    note(
        "side-changed",
        "one label appears on both feet and is taken as two ulcers; a side may be mistyped",
        "",
    ),
    note(
        "site-changed",
        "one label appears at different parts of a foot; it may stand for two ulcers",
        "",
    ),
    note(
        "two-labels-at-one-site",
        "two ulcers with different labels were open on one day at the same place of one foot; one ulcer may be counted twice",
        "",
    ),
    note(
        "label-not-seen",
        "an ulcer is said to come from, or to have merged into, a label that this foot never had",
        "",
    ),
    note(
        "two-visits-on-one-day",
        "two different rows of one person and day are kept visits; one may be a repeat",
        "",
    ),
    note(
        "planned-return-before-visit",
        "a planned return that lies before the visit at which it was planned",
        "",
    ),
    note(
        "last-contact-before-last-visit",
        "the last contact lies before the last kept visit",
        "",
    ),
    note(
        "first-contact-after-first-visit",
        "the first contact with any health professional lies after the first visit here",
        "",
    ),
    note(
        "unlikely-age",
        "a person younger than 18 at the first row, or older than 110 at the last; the year of birth may be mistyped",
        COMMON,
    ),
    note(
        "abi-of-stiff-arteries",
        "an ankle-brachial index above 1.4: the arteries do not give way and the index measures nothing",
        OURS,
    ),
    note(
        "abi-very-low",
        "an ankle-brachial index below 0.2; a decimal mark may be wrong",
        OURS,
    ),
    note(
        "abi-does-not-fit-pressures",
        "the recorded ankle-brachial index differs by more than 0.02 from ankle pressure over brachial pressure",
        OURS,
    ),
    note(
        "tbi-does-not-fit-pressures",
        "the recorded toe-brachial index differs by more than 0.02 from toe pressure over brachial pressure",
        OURS,
    ),
    note(
        "toe-above-ankle",
        "a toe pressure above the ankle pressure of the same leg; the two may be swapped",
        OURS,
    ),
    note(
        "date-order-suspected",
        "a twentieth or more of the dates of a column are dates only in another order than the declared one",
        OURS,
    ),
    note(
        "ids-run-on",
        "the patient ids are numbers that run on almost without gaps; they may be list positions or record numbers",
        COMMON,
    ),
    note(
        "ids-follow-first-visit",
        "the patient ids are in the order of the first visits",
        COMMON,
    ),
    note(
        "ids-follow-birth-year",
        "the patient ids are in the order of the years of birth",
        COMMON,
    ),
    note(
        "ids-hold-birth-year",
        "most patient ids hold the year of birth of their person",
        COMMON,
    ),
    note(
        "ids-hold-first-visit",
        "most patient ids hold the date of the first visit of their person",
        COMMON,
    ),
    note(
        "ids-look-hashed",
        "the patient ids are hexadecimal words of one length; a random id and a hash cannot be told apart, and a hash without a secret key can be undone",
        "45 CFR 164.514(c): a code must not be derived from information about the person (from memory)",
    ),
];
