//! The SINBAD score.

use super::GradeRange;

/// The six SINBAD items; `Some(true)` scores 1, `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SinbadItems {
    /// Midfoot or hindfoot.
    pub site: Option<bool>,
    /// Clinical evidence of reduced pedal flow.
    pub ischaemia: Option<bool>,
    /// Protective sensation lost.
    pub neuropathy: Option<bool>,
    /// Infected.
    pub bacterial_infection: Option<bool>,
    /// At least 1 square cm.
    pub area: Option<bool>,
    /// Muscle, tendon or deeper.
    pub depth: Option<bool>,
}

/// SINBAD score 0 to 6, as a range where items are missing; 3 or more is severe.
///
/// Source: Ince et al., Diabetes Care 2008;31:964-967. With m items missing the score is s to s + m.
pub fn sinbad(items: &SinbadItems) -> GradeRange {
    let all = [
        items.site,
        items.ischaemia,
        items.neuropathy,
        items.bacterial_infection,
        items.area,
        items.depth,
    ];
    let count = |wanted: Option<bool>| {
        all.iter()
            .filter(|item| **item == wanted)
            .map(|_| 1u8)
            .sum::<u8>()
    };
    let scored = count(Some(true));
    GradeRange::between(scored, scored + count(None))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_sixty_four_complete_records_score_their_number_of_ones() {
        let mut severe = 0;
        for bits in 0u8..64 {
            let item = |bit: u8| Some(bits & (1 << bit) != 0);
            let items = SinbadItems {
                site: item(0),
                ischaemia: item(1),
                neuropathy: item(2),
                bacterial_infection: item(3),
                area: item(4),
                depth: item(5),
            };
            assert_eq!(
                sinbad(&items),
                GradeRange::exactly(u8::try_from(bits.count_ones()).unwrap())
            );
            severe += u32::from(sinbad(&items).at_least(3) == Some(true));
        }
        // 64 - (1 + 6 + 15) combinations have three ones or more.
        assert_eq!(severe, 42);
    }

    #[test]
    fn a_missing_item_widens_the_score_and_never_counts_as_zero() {
        let items = SinbadItems {
            site: Some(true),
            ischaemia: Some(true),
            ..Default::default()
        };
        assert_eq!(sinbad(&items), GradeRange::between(2, 6));
        assert_eq!(sinbad(&items).at_least(3), None);
        assert_eq!(sinbad(&items).at_least(2), Some(true));
    }

    #[test]
    fn all_729_records_with_gaps_score_what_their_completions_score() {
        let values = [Some(true), Some(false), None];
        for code in 0..729usize {
            let item = |place: u32| values[code / 3usize.pow(place) % 3];
            let record = [item(0), item(1), item(2), item(3), item(4), item(5)];
            let completions: Vec<u8> = (0u8..64)
                .filter(|bits| {
                    record.iter().enumerate().all(|(place, item)| {
                        item.is_none_or(|item| item == (bits & (1 << place) != 0))
                    })
                })
                .map(|bits| u8::try_from(bits.count_ones()).unwrap())
                .collect();
            let range = sinbad(&SinbadItems {
                site: item(0),
                ischaemia: item(1),
                neuropathy: item(2),
                bacterial_infection: item(3),
                area: item(4),
                depth: item(5),
            });
            assert_eq!(Some(range), GradeRange::spanning(&completions));
            let severe: Vec<bool> = completions.iter().map(|score| *score >= 3).collect();
            let wanted = match (severe.contains(&true), severe.contains(&false)) {
                (true, false) => Some(true),
                (false, true) => Some(false),
                _ => None,
            };
            assert_eq!(range.at_least(3), wanted, "{record:?}");
        }
    }
}
