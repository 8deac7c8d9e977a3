//! Where this report answers what the statements on reporting observational studies ask for. The asking is put in our own words.
//!
//! Sources: STROBE, von Elm et al., PLoS Med 2007;4(10):e296; RECORD, Benchimol et al., PLoS Med 2015;12(10):e1001885.
//! Numbers of items from memory.

use crate::report::ChecklistItem;

/// Item, what it asks, where it is answered; an answer that begins with `People: ` is for people alone.
type Line = (&'static str, &'static str, &'static str);

const STROBE: &[Line] = &[
    (
        "1",
        "design named in title or summary; a fair summary",
        "Front page: a descriptive report of one practice's cohorts; people: name the design in a paper's title",
    ),
    (
        "2",
        "background and reason",
        "People: why the question matters here",
    ),
    (
        "3",
        "aims, with any hypotheses stated beforehand",
        "People: this report describes and tests no hypothesis of its own",
    ),
    (
        "4",
        "main features of the design",
        "Rules and settings: cohorts by the day of the first visit, read up to a fixed evidence horizon",
    ),
    (
        "5",
        "place, dates, periods of entry and follow-up",
        "Front page: dates of the export; people: the setting of the practice",
    ),
    (
        "6",
        "who could enter, how they were found and followed",
        "Each measure: denominator and who is left out; From rows to cohorts",
    ),
    (
        "7",
        "outcomes, exposures, confounders defined",
        "Each measure: definition, numerator, competing events; Words used",
    ),
    (
        "8",
        "where each variable comes from and how it is measured",
        "How complete the fields are; the layout file; people: how the clinic measures",
    ),
    (
        "9",
        "what was done about bias",
        "Cautions; bounds under loss to follow-up; prevalent ulcers left out; How much each rule decides",
    ),
    (
        "10",
        "how the size of the study came about",
        "Everybody in the export is counted; From rows to cohorts",
    ),
    (
        "11",
        "how measured values are grouped",
        "Each measure's strata; Settings in force",
    ),
    (
        "12a",
        "statistical methods",
        "Each measure: source; intervals are named beside every figure",
    ),
    (
        "12b",
        "subgroups and interactions",
        "Each measure's strata; no interaction is tested",
    ),
    (
        "12c",
        "missing data",
        "Grades are ranges where items are missing; unknown outcomes are counted and bounded; How complete the fields are",
    ),
    (
        "12d",
        "loss to follow-up",
        "Censoring in the rules table; unknown outcomes and bounds beside each figure",
    ),
    ("12e", "sensitivity analyses", "How much each rule decides"),
    ("13a", "numbers at each stage", "From rows to cohorts"),
    (
        "13b",
        "reasons for not taking part",
        "What became of every row; Each measure: who is left out",
    ),
    (
        "13c",
        "a flow diagram",
        "From rows to cohorts, as an indented list",
    ),
    ("14a", "who the participants are", "Who was followed"),
    (
        "14b",
        "how many lack each item",
        "Who was followed: last row of each characteristic; How complete the fields are",
    ),
    (
        "14c",
        "length of follow-up",
        "Curves with numbers at risk; calendar of follow-up",
    ),
    (
        "15",
        "how many outcomes, over time",
        "Each measure: counts; curves",
    ),
    (
        "16a",
        "estimates with their precision, adjusted where that is done",
        "Each measure: value and interval; observed against expected where a published expectation exists",
    ),
    ("16b", "bounds of groups", "Settings in force; Words used"),
    (
        "16c",
        "absolute besides relative risks",
        "Figures are absolute; ratios stand beside their counts",
    ),
    (
        "17",
        "other analyses done",
        "How much each rule decides; Is it chance?",
    ),
    (
        "18",
        "key results against the aims",
        "Front page; people: against the aims of a paper",
    ),
    (
        "19",
        "limitations, with direction and size of bias",
        "Cautions; Keep in mind, at each measure; bounds",
    ),
    (
        "20",
        "a careful interpretation",
        "People: the report does not interpret care",
    ),
    (
        "21",
        "whom the results can be carried over to",
        "People: other clinics see other people",
    ),
    ("22", "who paid and what part they had", "People"),
];

const RECORD: &[Line] = &[
    (
        "1.1",
        "kind of data named; databases by name",
        "Front page and provenance: visit exports of one practice, files by name and hash",
    ),
    (
        "1.2",
        "region and period",
        "Front page: period; people: region",
    ),
    (
        "1.3",
        "linkage named",
        "No linkage is done; deaths and procedures are known as far as the practice was told",
    ),
    (
        "6.1",
        "codes and algorithms that choose the people",
        "Rules and settings; layout file by hash; each measure: denominator",
    ),
    (
        "6.2",
        "validation of these codes",
        "People: whether labels and codes of the clinic were checked against notes",
    ),
    ("6.3", "linkage drawn", "No linkage is done"),
    (
        "7.1",
        "all codes for exposures, outcomes, confounders",
        "Layout file; `limbledger list codes`",
    ),
    (
        "12.1",
        "access to the data",
        "People: who may see the export",
    ),
    (
        "12.2",
        "cleaning",
        "What became of every row; What the checks found",
    ),
    (
        "12.3",
        "linkage methods and their quality",
        "No linkage is done",
    ),
    (
        "13.1",
        "selection by data quality, availability, linkage",
        "From rows to cohorts; What became of every row",
    ),
    (
        "19.1",
        "limits of data not made for research",
        "Cautions; How complete the fields are; people: what the records system leaves out",
    ),
    (
        "22.1",
        "protocol, raw data, program",
        "Provenance: program, pipeline, layout and inputs by hash; people: where they can be had",
    ),
];

/// Every item of both statements.
pub(super) fn checklist() -> Vec<ChecklistItem> {
    let of = |statement: &'static str, lines: &'static [Line]| {
        lines.iter().map(move |(item, asks, answer)| ChecklistItem {
            statement: statement.to_owned(),
            item: (*item).to_owned(),
            asks: (*asks).to_owned(),
            is_for_people: answer.starts_with("People"),
            answer: (*answer).to_owned(),
        })
    };
    of("STROBE", STROBE).chain(of("RECORD", RECORD)).collect()
}
