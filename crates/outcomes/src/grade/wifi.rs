//! The WIfI clinical stage, from its table of 64 cells.

use super::GradeRange;
use crate::tables::{FootSite, Gangrene, InfectionGrade, Region, TissueDepth};

/// Clinical stage by wound, ischaemia and foot infection grade: `STAGE[wound][ischaemia][infection]`.
///
/// Source: Mills et al., J Vasc Surg 2014;59:220-234, as transcribed alike in three independent public copies
/// (the first citing Global Vascular Guidelines 2019, table 3.5). It is a table, never the sum of the grades.
const STAGE: [[[u8; 4]; 4]; 4] = [
    [[1, 1, 2, 3], [1, 2, 3, 4], [2, 2, 3, 4], [2, 3, 3, 4]],
    [[1, 1, 2, 3], [1, 2, 3, 4], [2, 3, 4, 4], [3, 3, 4, 4]],
    [[2, 2, 3, 4], [3, 3, 4, 4], [3, 4, 4, 4], [4, 4, 4, 4]],
    [[3, 3, 4, 4], [4, 4, 4, 4], [4, 4, 4, 4], [4, 4, 4, 4]],
];

/// WIfI clinical stage 1 to 4 over all combinations the three ranges allow.
pub fn stage(wound: GradeRange, ischaemia: GradeRange, infection: GradeRange) -> GradeRange {
    // The table never falls along any axis, so its ends lie at the ends of the ranges.
    let at = |wound: u8, ischaemia: u8, infection: u8| {
        STAGE[usize::from(wound.min(3))][usize::from(ischaemia.min(3))]
            [usize::from(infection.min(3))]
    };
    GradeRange::between(
        at(wound.lowest, ischaemia.lowest, infection.lowest),
        at(wound.highest, ischaemia.highest, infection.highest),
    )
}

/// Wound grade of an ulcer, 1 to 3.
///
/// Depth outranks size. Bone under a toe may be the distal phalanx alone (grade 1) or more (grade 2), which exports
/// do not tell. "Extensive" is read from gangrene only, so a deep ulcer away from the heel is grade 2.
/// Source: Mills et al. 2014, table of wound grades.
pub fn wound_grade(
    depth: Option<TissueDepth>,
    site: Option<FootSite>,
    gangrene: Option<Gangrene>,
) -> GradeRange {
    let region = site.map(|site| site.region);
    let is_heel = region == Some(Region::Heel);
    let by_depth = match depth {
        Some(TissueDepth::Skin | TissueDepth::Subcutaneous) if is_heel => GradeRange::exactly(2),
        Some(TissueDepth::Skin | TissueDepth::Subcutaneous) if region.is_some() => {
            GradeRange::exactly(1)
        }
        Some(TissueDepth::Skin | TissueDepth::Subcutaneous) => GradeRange::between(1, 2),
        Some(_) if is_heel => GradeRange::exactly(3),
        Some(TissueDepth::BoneOrJoint) if region == Some(Region::Toe) => GradeRange::between(1, 2),
        Some(_) if region.is_some() => GradeRange::exactly(2),
        Some(_) => GradeRange::between(2, 3),
        None if is_heel => GradeRange::between(2, 3),
        None => GradeRange::between(1, 3),
    };
    match gangrene {
        Some(Gangrene::Extensive) => GradeRange::exactly(3),
        Some(Gangrene::Digits) => {
            GradeRange::between(by_depth.lowest.max(2), by_depth.highest.max(2))
        }
        Some(Gangrene::Absent) => by_depth,
        // Not recorded is not "none": there may be any amount of it.
        None => GradeRange::between(by_depth.lowest, 3),
    }
}

/// Foot infection grade 0 to 3 (IDSA/IWGDF: none, mild, moderate, severe). Osteomyelitis is at least moderate.
pub fn infection_grade(
    infection: Option<InfectionGrade>,
    osteomyelitis: Option<bool>,
) -> GradeRange {
    let recorded = match infection {
        Some(InfectionGrade::Uninfected) => GradeRange::exactly(0),
        Some(InfectionGrade::Mild) => GradeRange::exactly(1),
        Some(InfectionGrade::Moderate) => GradeRange::exactly(2),
        Some(InfectionGrade::Severe) => GradeRange::exactly(3),
        None => GradeRange::between(0, 3),
    };
    if osteomyelitis == Some(true) {
        GradeRange::between(recorded.lowest.max(2), recorded.highest.max(2))
    } else {
        recorded
    }
}

/// Published one-year major amputation risk of a stage: 0%, 8%, 11% and 38%.
///
/// Source: van Reijen et al., Eur J Vasc Endovasc Surg 2019;58:362-371 (569 people in 4 studies; limits 8: 3-21,
/// 11: 6-18, 38: 21-58). Context for a group, not a prognosis for a person.
pub fn expected_major_amputation(stage: u8) -> Option<f64> {
    match stage {
        1 => Some(0.0),
        2 => Some(0.08),
        3 => Some(0.11),
        4 => Some(0.38),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn staged(wound: u8, ischaemia: u8, infection: u8) -> u8 {
        let exactly = GradeRange::exactly;
        stage(exactly(wound), exactly(ischaemia), exactly(infection))
            .known()
            .unwrap()
    }

    #[test]
    fn the_table_has_its_published_counts_and_never_falls_along_an_axis() {
        let mut counts = [0; 5];
        for wound in 0..4 {
            for ischaemia in 0..4 {
                for infection in 0..4 {
                    let here = staged(wound, ischaemia, infection);
                    counts[usize::from(here)] += 1;
                    assert!(wound == 3 || staged(wound + 1, ischaemia, infection) >= here);
                    assert!(ischaemia == 3 || staged(wound, ischaemia + 1, infection) >= here);
                    assert!(infection == 3 || staged(wound, ischaemia, infection + 1) >= here);
                }
            }
        }
        assert_eq!(counts, [0, 6, 10, 16, 32]);
    }

    #[test]
    fn published_anchor_cells_are_met() {
        // wound, ischaemia, infection -> stage
        for (cell, wanted) in [
            ([0, 0, 0], 1),
            ([0, 0, 1], 1),
            ([0, 0, 3], 3),
            ([0, 1, 2], 3),
            ([0, 2, 0], 2),
            ([1, 1, 0], 1),
            ([1, 2, 2], 4),
            ([1, 3, 0], 3),
            ([2, 0, 0], 2),
            ([2, 2, 1], 4),
            ([2, 3, 0], 4),
            ([3, 0, 0], 3),
            ([3, 0, 1], 3),
            ([3, 0, 2], 4),
            ([3, 3, 3], 4),
        ] {
            assert_eq!(staged(cell[0], cell[1], cell[2]), wanted, "{cell:?}");
        }
    }

    #[test]
    fn an_unmeasured_item_gives_a_range_of_stages() {
        let unknown = GradeRange::between(0, 3);
        assert_eq!(
            stage(GradeRange::exactly(1), unknown, GradeRange::exactly(0)),
            GradeRange::between(1, 3)
        );
        assert_eq!(
            stage(GradeRange::exactly(3), unknown, GradeRange::exactly(2)),
            GradeRange::exactly(4)
        );
    }

    #[test]
    fn depth_and_place_decide_the_wound_grade() {
        let at = |code: &str| FootSite::from_code(code);
        assert_eq!(
            wound_grade(
                Some(TissueDepth::Skin),
                at("mth-1-plantar"),
                Some(Gangrene::Absent)
            ),
            GradeRange::exactly(1)
        );
        assert_eq!(
            wound_grade(Some(TissueDepth::Skin), at("mth-1-plantar"), None),
            GradeRange::between(1, 3)
        );
        assert_eq!(
            wound_grade(Some(TissueDepth::Skin), at("heel"), Some(Gangrene::Absent)),
            GradeRange::exactly(2)
        );
        assert_eq!(
            wound_grade(Some(TissueDepth::BoneOrJoint), at("heel"), None),
            GradeRange::exactly(3)
        );
        assert_eq!(
            wound_grade(
                Some(TissueDepth::BoneOrJoint),
                at("toe-1-tip"),
                Some(Gangrene::Absent)
            ),
            GradeRange::between(1, 2)
        );
        assert_eq!(
            wound_grade(Some(TissueDepth::Skin), at("toe-2"), Some(Gangrene::Digits)),
            GradeRange::exactly(2)
        );
        assert_eq!(
            wound_grade(None, None, Some(Gangrene::Extensive)),
            GradeRange::exactly(3)
        );
        assert_eq!(wound_grade(None, None, None), GradeRange::between(1, 3));
    }

    #[test]
    fn every_triple_of_ranges_spans_the_cells_in_it() {
        let ranges: Vec<GradeRange> = (0..4)
            .flat_map(|lowest| (lowest..4).map(move |highest| GradeRange::between(lowest, highest)))
            .collect();
        for &wound in &ranges {
            for &ischaemia in &ranges {
                for &infection in &ranges {
                    let mut cells = Vec::new();
                    for w in wound.lowest..=wound.highest {
                        for i in ischaemia.lowest..=ischaemia.highest {
                            for f in infection.lowest..=infection.highest {
                                cells.push(staged(w, i, f));
                            }
                        }
                    }
                    assert_eq!(
                        Some(stage(wound, ischaemia, infection)),
                        GradeRange::spanning(&cells)
                    );
                }
            }
        }
    }
}
