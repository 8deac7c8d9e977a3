//! Ids of the places one can link to, each once in a document.

use outcomes::report::Report;
use std::collections::BTreeSet;

/// Ids of the places one can link to, unique in the document whatever the report calls things.
pub(crate) struct Anchors {
    /// One a family.
    pub(crate) families: Vec<String>,
    /// One a measure, by family.
    pub(crate) measures: Vec<Vec<String>>,
    /// One a figure.
    pub(crate) figures: Vec<String>,
}

impl Anchors {
    /// The anchors of this report, in its own order.
    pub(crate) fn of(report: &Report) -> Self {
        let mut taken = BTreeSet::new();
        let families = report
            .families
            .iter()
            .map(|family| unique("family", &family.id, &mut taken))
            .collect();
        let measures = report
            .families
            .iter()
            .map(|family| {
                let ids = family.measures.iter();
                ids.map(|sheet| unique("measure", &sheet.id, &mut taken))
                    .collect()
            })
            .collect();
        let figures = report
            .figures
            .iter()
            .map(|figure| unique("figure", &figure.frame().id, &mut taken))
            .collect();
        Self {
            families,
            measures,
            figures,
        }
    }

    /// Where the sheet of a measure is, if the report has one.
    pub(crate) fn of_measure(&self, report: &Report, id: &str) -> Option<&str> {
        let sheets = report.families.iter().flat_map(|family| &family.measures);
        let anchors = self.measures.iter().flatten();
        sheets
            .zip(anchors)
            .find(|(sheet, _)| sheet.id == id)
            .map(|(_, anchor)| anchor.as_str())
    }
}

const LONGEST: usize = 60;

/// `prefix-id` with only letters, digits and hyphens; a number is added when it is taken.
fn unique(prefix: &str, id: &str, taken: &mut BTreeSet<String>) -> String {
    let kept = |c: &char| c.is_ascii_alphanumeric() || *c == '-';
    let words: String = id.chars().filter(kept).take(LONGEST).collect();
    let plain = format!("{prefix}-{}", words.to_ascii_lowercase());
    let mut anchor = plain.clone();
    let mut number = 2_u32;
    while !taken.insert(anchor.clone()) {
        anchor = format!("{plain}.{number}");
        number += 1;
    }
    anchor
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hostile_and_repeated_ids_give_clean_and_different_anchors() {
        let mut taken = BTreeSet::new();
        let ids = ["healed", "healed", "he\"al<ed>", ""];
        let anchors = ids.map(|id| unique("measure", id, &mut taken));
        assert_eq!(
            anchors,
            [
                "measure-healed",
                "measure-healed.2",
                "measure-healed.3",
                "measure-"
            ]
        );
    }
}
