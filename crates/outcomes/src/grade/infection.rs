//! The IDSA/IWGDF grade of infection, from local and systemic signs.

use super::{any_of, either};
use crate::coded;

coded! {
    /// Edition of the IDSA/IWGDF infection criteria.
    ///
    /// They differ in where 2 cm of redness belongs: mild in 2012, moderate since 2019. Osteomyelitis counts without local
    /// signs since 2019 (from memory).
    pub enum InfectionCriteria {
        Year2012 = "2012",
        Year2019 = "2019",
        Year2023 = "2023",
    }
}

/// Signs of infection of one foot; `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct InfectionSigns {
    /// Swelling or induration.
    pub has_swelling: Option<bool>,
    /// Redness more than 0.5 cm around the wound; the extent decides where both are recorded.
    pub has_erythema: Option<bool>,
    /// How far redness reaches from the wound, cm.
    pub erythema_cm: Option<f64>,
    /// Tenderness or pain.
    pub has_tenderness: Option<bool>,
    /// Warmth.
    pub has_warmth: Option<bool>,
    /// Purulent discharge.
    pub has_purulence: Option<bool>,
    /// Another cause explains the signs (trauma, gout, acute Charcot, fracture, thrombosis, venous stasis).
    pub has_other_cause: Option<bool>,
    /// Tissue deeper than skin and subcutis is involved (abscess, fasciitis, tendon, muscle, joint).
    pub is_deep: Option<bool>,
    /// Osteomyelitis.
    pub has_osteomyelitis: Option<bool>,
    /// Two or more systemic criteria are met.
    pub is_systemic: Option<bool>,
}

/// Measurements behind the systemic criteria; `None` is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SystemicSigns {
    /// Body temperature, degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Heart rate a minute.
    pub heart_rate: Option<f64>,
    /// Breaths a minute.
    pub respiratory_rate: Option<f64>,
    /// Arterial carbon dioxide pressure, mmHg.
    pub paco2_mmhg: Option<f64>,
    /// White blood cells a cubic mm.
    pub white_cells_per_mm3: Option<f64>,
    /// Immature (band) forms, percent.
    pub bands_percent: Option<f64>,
}

/// How many criteria of a list are met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CriteriaCount {
    /// Met.
    pub n_met: usize,
    /// Not recorded.
    pub n_unknown: usize,
}

impl CriteriaCount {
    fn of(criteria: &[Option<bool>]) -> Self {
        let count = |wanted| criteria.iter().filter(|item| **item == wanted).count();
        Self {
            n_met: count(Some(true)),
            n_unknown: count(None),
        }
    }

    /// Whether at least `n` are met; `None` when the unknown ones decide.
    pub fn at_least(self, n: usize) -> Option<bool> {
        if self.n_met >= n {
            Some(true)
        } else if self.n_met + self.n_unknown < n {
            Some(false)
        } else {
            None
        }
    }
}

/// Systemic (SIRS) criteria met, of four: temperature above 38 or below 36 C; heart rate above 90; breathing above 20 a
/// minute or PaCO2 below 32 mmHg; white cells above 12,000 or below 4,000 a cubic mm or 10% bands or more.
///
/// Of two ways to meet one criterion, the one recorded decides; both missing is unknown. Equality meets only the bands.
/// Source: Lipsky et al., IDSA 2012; IWGDF/IDSA 2019 and 2023 (same criteria).
pub fn systemic_criteria(signs: &SystemicSigns) -> CriteriaCount {
    let one_of = |first: Option<bool>, second: Option<bool>| match (first, second) {
        (None, None) => None,
        _ => Some(first == Some(true) || second == Some(true)),
    };
    CriteriaCount::of(&[
        signs
            .temperature_c
            .map(|celsius| !(36.0..=38.0).contains(&celsius)),
        signs.heart_rate.map(|rate| rate > 90.0),
        one_of(
            signs.respiratory_rate.map(|rate| rate > 20.0),
            signs.paco2_mmhg.map(|pressure| pressure < 32.0),
        ),
        one_of(
            signs
                .white_cells_per_mm3
                .map(|cells| !(4_000.0..=12_000.0).contains(&cells)),
            signs.bands_percent.map(|percent| percent >= 10.0),
        ),
    ])
}

/// Grades of infection that a record allows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InfectionGraded {
    /// IWGDF grades 1 (uninfected) to 4 (severe), ascending.
    pub possible: Vec<u8>,
    /// Whether "(O)" stands behind a grade of 3 or 4; `None` when osteomyelitis is not recorded.
    pub has_osteomyelitis: Option<bool>,
    /// Osteomyelitis without two local signs, which the criteria of 2012 do not foresee.
    pub is_contradictory: bool,
}

/// Local signs of inflammation, of five: swelling, redness more than 0.5 cm, tenderness, warmth, pus.
pub fn local_signs(signs: &InfectionSigns) -> CriteriaCount {
    let erythema = match signs.erythema_cm {
        Some(extent) => Some(extent > 0.5),
        None => signs.has_erythema,
    };
    CriteriaCount::of(&[
        signs.has_swelling,
        erythema,
        signs.has_tenderness,
        signs.has_warmth,
        signs.has_purulence,
    ])
}

/// IDSA/IWGDF infection grade from signs, as every grade the missing items allow.
///
/// Infected: two or more local signs, and no other cause that explains them ("not recorded" is read as none: whoever
/// wrote the signs down has judged so). 1 uninfected. 2 mild: skin and subcutis only, redness below 2 cm (2012: up to and
/// including 2 cm). 3 moderate: redness of 2 cm or more (2012: more than 2), or deeper tissue or bone. 4 severe: two or
/// more systemic criteria. Since 2019 a recorded osteomyelitis is at least 3 without local signs (from memory).
/// Source: Lipsky et al., IDSA 2012; IWGDF/IDSA 2019 and 2023.
pub fn grade_infection(signs: &InfectionSigns, criteria: InfectionCriteria) -> InfectionGraded {
    let is_2012 = criteria == InfectionCriteria::Year2012;
    let has_local = if signs.has_other_cause == Some(true) {
        Some(false)
    } else {
        local_signs(signs).at_least(2)
    };
    let bone_alone = signs.has_osteomyelitis == Some(true) && !is_2012;
    let reaches_far = match signs.erythema_cm {
        Some(extent) if is_2012 => Some(extent > 2.0),
        Some(extent) => Some(extent >= 2.0),
        None if signs.has_erythema == Some(false) => Some(false),
        None => None,
    };
    let is_spread = any_of(&[signs.is_deep, signs.has_osteomyelitis, reaches_far]);
    let mut possible = Vec::new();
    for &has_local in either(has_local) {
        if !has_local && !bone_alone {
            possible.push(1);
            continue;
        }
        for &is_systemic in either(signs.is_systemic) {
            for &is_spread in either(is_spread) {
                possible.push(match (is_systemic, is_spread) {
                    (true, _) => 4,
                    (false, true) => 3,
                    (false, false) => 2,
                });
            }
        }
    }
    let is_contradictory =
        is_2012 && signs.has_osteomyelitis == Some(true) && has_local == Some(false);
    if is_contradictory {
        possible.push(3);
    }
    possible.sort_unstable();
    possible.dedup();
    InfectionGraded {
        possible,
        has_osteomyelitis: signs.has_osteomyelitis,
        is_contradictory,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use InfectionCriteria::{Year2012, Year2019, Year2023};

    /// Warm and swollen, nothing deep, nothing systemic.
    const MILD: InfectionSigns = InfectionSigns {
        has_swelling: Some(true),
        has_erythema: None,
        erythema_cm: Some(0.4),
        has_tenderness: Some(false),
        has_warmth: Some(true),
        has_purulence: Some(false),
        has_other_cause: Some(false),
        is_deep: Some(false),
        has_osteomyelitis: Some(false),
        is_systemic: Some(false),
    };

    fn graded(signs: InfectionSigns, criteria: InfectionCriteria) -> Vec<u8> {
        grade_infection(&signs, criteria).possible
    }

    #[test]
    fn two_centimetres_are_mild_in_2012_and_moderate_since_2019() {
        for (extent, in_2012, since_2019) in [(0.5, 2, 2), (1.9, 2, 2), (2.0, 2, 3), (2.1, 3, 3)] {
            let signs = InfectionSigns {
                erythema_cm: Some(extent),
                ..MILD
            };
            assert_eq!(graded(signs, Year2012), [in_2012], "{extent}");
            assert_eq!(graded(signs, Year2019), [since_2019], "{extent}");
            assert_eq!(graded(signs, Year2023), [since_2019], "{extent}");
        }
    }

    #[test]
    fn redness_is_a_sign_only_beyond_half_a_centimetre() {
        let with = |extent| InfectionSigns {
            has_warmth: Some(false),
            erythema_cm: Some(extent),
            ..MILD
        };
        assert_eq!(graded(with(0.5), Year2023), [1]);
        assert_eq!(graded(with(0.6), Year2023), [2]);
    }

    #[test]
    fn all_243_records_of_the_five_local_signs_follow_the_rule_of_two() {
        let values = [Some(true), Some(false), None];
        for code in 0..243usize {
            let item = |place: u32| values[code / 3usize.pow(place) % 3];
            let signs = InfectionSigns {
                has_swelling: item(0),
                has_erythema: item(1),
                erythema_cm: None,
                has_tenderness: item(2),
                has_warmth: item(3),
                has_purulence: item(4),
                is_deep: Some(true),
                ..MILD
            };
            let all = [item(0), item(1), item(2), item(3), item(4)];
            let n_yes = all.iter().filter(|item| **item == Some(true)).count();
            let n_unknown = all.iter().filter(|item| item.is_none()).count();
            let wanted: &[u8] = if n_yes >= 2 {
                &[3]
            } else if n_yes + n_unknown < 2 {
                &[1]
            } else {
                &[1, 3]
            };
            assert_eq!(graded(signs, Year2023), wanted, "{all:?}");
        }
    }

    #[test]
    fn systemic_criteria_hold_at_their_limits() {
        let one = |signs: SystemicSigns| systemic_criteria(&signs).n_met;
        let blank = SystemicSigns::default();
        for (signs, met) in [
            (
                SystemicSigns {
                    temperature_c: Some(38.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    temperature_c: Some(38.1),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    temperature_c: Some(36.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    temperature_c: Some(35.9),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    heart_rate: Some(90.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    heart_rate: Some(91.0),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    respiratory_rate: Some(20.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    respiratory_rate: Some(21.0),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    paco2_mmhg: Some(32.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    paco2_mmhg: Some(31.9),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    white_cells_per_mm3: Some(12_000.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    white_cells_per_mm3: Some(12_001.0),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    white_cells_per_mm3: Some(4_000.0),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    white_cells_per_mm3: Some(3_999.0),
                    ..blank
                },
                1,
            ),
            (
                SystemicSigns {
                    bands_percent: Some(9.9),
                    ..blank
                },
                0,
            ),
            (
                SystemicSigns {
                    bands_percent: Some(10.0),
                    ..blank
                },
                1,
            ),
        ] {
            assert_eq!(one(signs), met, "{signs:?}");
        }
        let two = SystemicSigns {
            temperature_c: Some(38.5),
            heart_rate: Some(80.0),
            respiratory_rate: Some(18.0),
            ..blank
        };
        assert_eq!(systemic_criteria(&two).at_least(2), None);
        let settled = SystemicSigns {
            white_cells_per_mm3: Some(8_000.0),
            ..two
        };
        assert_eq!(systemic_criteria(&settled).at_least(2), Some(false));
    }

    #[test]
    fn bone_counts_alone_since_2019_and_is_contradictory_before() {
        let bone = InfectionSigns {
            has_swelling: Some(false),
            has_warmth: Some(false),
            has_osteomyelitis: Some(true),
            ..MILD
        };
        assert_eq!(graded(bone, Year2023), [3]);
        let earlier = grade_infection(&bone, Year2012);
        assert_eq!(earlier.possible, [1, 3]);
        assert!(earlier.is_contradictory);
        let severe = InfectionSigns {
            is_systemic: Some(true),
            ..bone
        };
        assert_eq!(graded(severe, Year2019), [4]);
    }

    #[test]
    fn a_missing_item_widens_the_grade_only_where_it_can_matter() {
        let unmeasured = InfectionSigns {
            is_systemic: None,
            ..MILD
        };
        assert_eq!(graded(unmeasured, Year2023), [2, 4]);
        let shallow = InfectionSigns {
            is_deep: None,
            ..MILD
        };
        assert_eq!(graded(shallow, Year2023), [2, 3]);
        assert_eq!(graded(InfectionSigns::default(), Year2023), [1, 2, 3, 4]);
        let explained = InfectionSigns {
            has_other_cause: Some(true),
            is_systemic: None,
            ..MILD
        };
        assert_eq!(graded(explained, Year2023), [1]);
    }
}
