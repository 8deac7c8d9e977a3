//! What a reader must know of the method: settings in force, words, cautions.

use super::Material;
use super::declared::statement;
use crate::report::SettingLine;
use crate::rules::{DateKind, Rules, SETTINGS};

/// Every setting in force; a default that was changed is shown beside it.
pub(super) fn settings(rules: &Rules) -> Vec<SettingLine> {
    let defaults = Rules::default();
    SETTINGS
        .iter()
        .map(|setting| {
            let value = (setting.value)(rules);
            let default = Some((setting.value)(&defaults)).filter(|default| *default != value);
            SettingLine {
                name: setting.name.to_owned(),
                value,
                default,
                words: format!("{} ({})", setting.words, setting.source),
            }
        })
        .collect()
}

/// Words used in the report.
pub(super) fn glossary(rules: &Rules) -> Vec<(String, String)> {
    let mut words: Vec<(String, String)> = [
        ("Interval", "The range of true values that would not surprise us, given how few people were counted. Two figures whose ranges overlap widely may differ by chance alone."),
        ("ABI", "Ankle-brachial index: pressure at the ankle divided by pressure in the arm. Low means poor flow; very high means stiff arteries and tells nothing."),
        ("Censored", "Not followed further, without the outcome. Such people count for as long as they were seen."),
        ("Delayed entry", "Counted only from a later day, because before it nobody here could have seen the outcome."),
        ("Exact Poisson, log-log, Wilson", "Names of ways to work out an interval, so that an auditor can repeat it."),
        ("Remission", "A spell without any open wound on either foot."),
        ("Trigger", "A sign of poor blood supply that guidelines take as a reason to ask a vascular opinion."),
        ("Closure, healed", "Skin fully covered without drainage, seen by a clinician. The date is that of the first closed visit; a reopening within {reopening_window_days} days cancels it."),
        ("Cohort", "The people or ulcers that a figure counts, by the quarter in which they began. They are other people than those seen in the reporting quarter."),
        ("Competing event", "Something that makes the outcome impossible: an ulcer of an amputated toe cannot heal."),
        ("Cumulative incidence", "The probability that the outcome has happened by a day, with competing events allowed for."),
        ("Evidence horizon", "A figure about 12 weeks uses only rows up to 12 weeks plus {evidence_days} days. Later exports do not change it unless old rows were corrected."),
        ("IWGDF risk tier", "0 very low, 1 low, 2 moderate, 3 high risk of foot ulceration; screening every 12, 6 to 12, 3 to 6, 1 to 3 months."),
        ("Major, minor amputation", "Above the ankle joint; through it or below it."),
        ("Not estimable", "The number does not exist for these data, for example because nobody was followed long enough."),
        ("Not yet", "The people have not been followed long enough. The date says when the figure will be mature."),
        ("Person-episode", "From a person's first open ulcer until every wound on both feet is closed."),
        ("Prevalent", "First seen in the first {prevalent_window_days} days of the export, or transferred in: such ulcers may be older than they look and would make the figures look better or worse than they are."),
        ("Robust limits", "Limits that allow for several ulcers of one person being alike."),
        ("WIfI stage", "1 to 4, from wound, ischaemia and foot infection: how much a limb is threatened."),
    ]
    .into_iter()
    .map(|(word, meaning)| (word.to_owned(), rules.fill(meaning)))
    .collect();
    words.sort();
    words
}

/// What must be kept in mind.
pub(super) fn cautions(material: &Material<'_>) -> Vec<String> {
    let dates = statement(material);
    let mut cautions = [
        "This report describes care already given. It recommends no treatment for any person; clinical decisions belong to licensed practitioners and local protocols.",
        "Scores and stages describe groups. They are not a prognosis for an individual.",
        "Published figures are context, not targets: other clinics see other people.",
        "Amputations and deaths outside this practice are counted only as far as it was told.",
        "Healing is dated at visits. Practices with visits further apart look slower than they are.",
        "Quarters and visit dates are elements of dates under United States privacy rules (45 CFR 164.514): this copy is for the practice's own health-care operations. What may leave the practice is decided by privacy law and local policy.",
    ]
    .map(str::to_owned)
    .to_vec();
    if material.dates.kind == DateKind::LimitedDataSet {
        // the agreement says what it is for
        cautions.pop();
    }
    cautions.extend(dates.says);
    cautions.extend(
        dates
            .withheld
            .iter()
            .map(|what| format!("Left out. {what}")),
    );
    cautions
}
