//! The likely benefit of revascularisation by WIfI grades, from its table of 64 cells.

use super::GradeRange;
use crate::coded;

coded! {
    /// Likelihood of benefit of, or requirement for, revascularisation, assuming that infection can be controlled first.
    pub enum Benefit {
        VeryLow = "very low",
        Low = "low",
        Moderate = "moderate",
        High = "high",
    }
}

use Benefit::{High as H, Low as L, Moderate as M, VeryLow as V};

/// `BENEFIT[wound][ischaemia][infection]`.
///
/// Source: Mills et al., J Vasc Surg 2014;59:220-234, figure 1B; 63 cells agree between one public transcription and
/// recall. The cell of [`UNSETTLED`] does not and is never read from here.
const BENEFIT: [[[Benefit; 4]; 4]; 4] = [
    [[V, V, V, V], [V, L, L, M], [L, L, M, M], [M, H, H, H]],
    [[V, V, V, V], [L, M, M, M], [M, H, H, H], [H, H, H, H]],
    [[V, V, V, V], [M, M, H, H], [H, H, H, H], [H, H, H, H]],
    [[V, V, V, V], [M, M, M, H], [H, H, H, H], [H, H, H, H]],
];

/// Wound 3, ischaemia 1, infection 2: moderate in the transcription, high from memory. It needs its source read.
const UNSETTLED: [u8; 3] = [3, 1, 2];

/// Benefit of one cell; `None` for the unsettled cell (moderate or high, needs its source) and for grades above 3.
pub fn benefit(wound: u8, ischaemia: u8, infection: u8) -> Option<Benefit> {
    if [wound, ischaemia, infection] == UNSETTLED {
        return None;
    }
    let row = BENEFIT
        .get(usize::from(wound))?
        .get(usize::from(ischaemia))?;
    row.get(usize::from(infection)).copied()
}

/// Every benefit that three ranges allow, in order; the unsettled cell allows moderate and high.
pub fn possible_benefits(
    wound: GradeRange,
    ischaemia: GradeRange,
    infection: GradeRange,
) -> Vec<Benefit> {
    let mut possible = Vec::new();
    for w in wound.lowest..=wound.highest.min(3) {
        for i in ischaemia.lowest..=ischaemia.highest.min(3) {
            for f in infection.lowest..=infection.highest.min(3) {
                match benefit(w, i, f) {
                    Some(known) => possible.push(known),
                    None => possible.extend([M, H]),
                }
            }
        }
    }
    possible.sort_unstable();
    possible.dedup();
    possible
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sixty_three_cells_have_their_published_counts_and_one_needs_its_source() {
        let mut counts = [0; 4];
        let mut unsettled = Vec::new();
        for w in 0..4 {
            for i in 0..4 {
                for f in 0..4 {
                    match benefit(w, i, f) {
                        Some(known) => {
                            counts[Benefit::ALL.iter().position(|b| *b == known).unwrap()] += 1
                        }
                        None => unsettled.push([w, i, f]),
                    }
                }
            }
        }
        // Published counts 17, 5, 13 and 29 with the unsettled cell as moderate.
        assert_eq!(counts, [17, 5, 12, 29]);
        assert_eq!(unsettled, [[3, 1, 2]]);
    }

    #[test]
    fn without_ischaemia_nothing_is_gained_and_a_settled_benefit_never_falls_along_an_axis() {
        for w in 0..4 {
            for f in 0..4 {
                assert_eq!(benefit(w, 0, f), Some(Benefit::VeryLow));
            }
            for i in 0..4 {
                for f in 0..4 {
                    let Some(here) = benefit(w, i, f) else {
                        continue;
                    };
                    for next in [
                        benefit(w + 1, i, f),
                        benefit(w, i + 1, f),
                        benefit(w, i, f + 1),
                    ] {
                        assert!(next.is_none_or(|next| next >= here), "{w}{i}{f}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_range_over_the_unsettled_cell_allows_both_of_its_readings() {
        let exactly = GradeRange::exactly;
        assert_eq!(
            possible_benefits(exactly(3), exactly(1), exactly(2)),
            [Benefit::Moderate, Benefit::High]
        );
        assert_eq!(
            possible_benefits(exactly(1), GradeRange::between(0, 1), exactly(0)),
            [Benefit::VeryLow, Benefit::Low]
        );
    }
}
