//! The published severity strata of healing: one point each for age, size and grade.

use crate::derive::{Episode, Presentation};
use crate::grade::{GangreneExtent, GradeRange, LesionDepth, WagnerItems, wagner_grades};
use crate::tables::{DatePrecision, Gangrene, Onset};
use chrono::{Days, Months, NaiveDate};

/// The three items of the published count; `None` where the records do not tell.
///
/// Source: Margolis et al., Am J Med 2003;115:627-631: one point each for a wound older than 2 months, larger than
/// 2 square cm, and of grade 3 or more on a six-point scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct SeverityItems {
    /// Open for more than 2 months at the first visit.
    pub is_older_than_2_months: Option<bool>,
    /// Larger than 2 square cm at the first visit.
    pub is_larger_than_2_cm2: Option<bool>,
    /// Grade 3 or more: bone infection, a deep abscess or gangrene.
    pub is_grade_3_or_more: Option<bool>,
}

impl SeverityItems {
    fn as_list(self) -> [Option<bool>; 3] {
        [
            self.is_older_than_2_months,
            self.is_larger_than_2_cm2,
            self.is_grade_3_or_more,
        ]
    }

    /// How many of the three are met, 0 to 3; a range where items are missing.
    pub fn count(self) -> GradeRange {
        let items = self.as_list();
        let n = |wanted: &[Option<bool>]| items.iter().filter(|item| wanted.contains(item)).count();
        let grade = |n: usize| u8::try_from(n).unwrap_or(3);
        GradeRange::between(grade(n(&[Some(true)])), grade(n(&[Some(true), None])))
    }

    /// The items, when all three are known.
    pub fn known(self) -> Option<[bool; 3]> {
        let [age, size, grade] = self.as_list();
        Some([age?, size?, grade?])
    }

    /// Every set of known items that these allow.
    pub fn completions(self) -> Vec<[bool; 3]> {
        let all = (0..8u8).map(|bits| [0, 1, 2].map(|place| bits >> place & 1 == 1));
        let items = self.as_list();
        let is_allowed = |whole: &[bool; 3]| {
            whole
                .iter()
                .zip(items)
                .all(|(value, item)| item.is_none_or(|item| item == *value))
        };
        all.filter(is_allowed).collect()
    }
}

/// Published chance that an ulcer heals within 20 weeks: 65%, 53%, 34% and 19% with 0 to 3 points.
///
/// Share, 0 to 1; `None` beyond 3 points. Source: Margolis et al., Am J Med 2003;115:627-631, validation set (not healed
/// 0.35, 0.47, 0.66, 0.81). Another case-mix and other care: context for a group, not a prognosis for a person.
pub(crate) fn expected_healing_at_20_weeks(count: u8) -> Option<f64> {
    match count {
        0 => Some(0.65),
        1 => Some(0.53),
        2 => Some(0.34),
        3 => Some(0.19),
        _ => None,
    }
}

/// The items of one ulcer at its first visit.
pub(crate) fn severity_items(ulcer: &Episode, presentation: &Presentation) -> SeverityItems {
    SeverityItems {
        is_older_than_2_months: is_older_than_2_months(ulcer.onset, ulcer.index.date),
        is_larger_than_2_cm2: presentation.area_cm2.map(|area| area > 2.0),
        is_grade_3_or_more: is_grade_3_or_more(presentation),
    }
}

/// Whether an ulcer had been open for more than 2 calendar months on a day; exactly 2 months is not more.
///
/// An onset told as a week, month or year may be any day of it up to `on`; where its first and last day do not agree the
/// answer is unknown.
pub(super) fn is_older_than_2_months(onset: Option<Onset>, on: NaiveDate) -> Option<bool> {
    let onset = onset?;
    let first = onset.dated.date;
    let last = last_day_of(first, onset.precision).min(on.max(first));
    let limit = on.checked_sub_months(Months::new(2))?;
    if last < limit {
        Some(true)
    } else if first >= limit {
        Some(false)
    } else {
        None
    }
}

fn last_day_of(first: NaiveDate, precision: DatePrecision) -> NaiveDate {
    let next = match precision {
        DatePrecision::Day => first.succ_opt(),
        DatePrecision::Week => first.checked_add_days(Days::new(7)),
        DatePrecision::Month => first.checked_add_months(Months::new(1)),
        DatePrecision::Year => first.checked_add_months(Months::new(12)),
    };
    next.and_then(|next| next.pred_opt()).unwrap_or(first)
}

/// Whether an ulcer is of Wagner grade 3 or more: deep with an abscess, bone or joint infection, or with gangrene.
///
/// Bone infection is a deep infection; a foot that is uninfected has none, nor has one infected mildly with bone infection
/// ruled out. A moderate or severe infection may hold an abscess, which exports do not tell: unknown. The published strata
/// name a six-point scale; that it is this one is from memory.
pub(super) fn is_grade_3_or_more(presentation: &Presentation) -> Option<bool> {
    let infection = presentation.infection;
    let deep_infection = match presentation.has_osteomyelitis {
        Some(true) => Some(true),
        _ if infection.highest == 0 => Some(false),
        Some(false) if infection.highest <= 1 => Some(false),
        _ => None,
    };
    let depth = presentation.depth.and_then(|tissue| {
        let mut depths = LesionDepth::ALL.iter().copied();
        depths.find(|depth| depth.tissue() == Some(tissue))
    });
    let grades = wagner_grades(&WagnerItems {
        depth,
        deep_infection,
        gangrene: presentation.gangrene.map(|gangrene| match gangrene {
            Gangrene::Absent => GangreneExtent::Absent,
            Gangrene::Digits => GangreneExtent::Digits,
            Gangrene::Extensive => GangreneExtent::Extensive,
        }),
    });
    let lowest = grades.iter().copied().min()?;
    let highest = grades.iter().copied().max()?;
    GradeRange::between(lowest, highest).at_least(3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::{Dated, SourceRow, TissueDepth};

    fn date(year: i32, month: u32, day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(year, month, day).unwrap()
    }

    fn onset(date: NaiveDate, precision: DatePrecision) -> Option<Onset> {
        Some(Onset {
            dated: Dated::new(date, SourceRow::default()),
            precision,
        })
    }

    #[test]
    fn missing_items_widen_the_count_and_never_lower_it() {
        let items = |age, size, grade| SeverityItems {
            is_older_than_2_months: age,
            is_larger_than_2_cm2: size,
            is_grade_3_or_more: grade,
        };
        for (items, wanted, n_completions) in [
            (items(Some(true), Some(true), Some(true)), (3, 3), 1),
            (items(Some(false), Some(false), Some(false)), (0, 0), 1),
            (items(Some(true), None, Some(false)), (1, 2), 2),
            (items(None, None, None), (0, 3), 8),
        ] {
            let count = items.count();
            assert_eq!((count.lowest, count.highest), wanted, "{items:?}");
            assert_eq!(items.completions().len(), n_completions, "{items:?}");
        }
    }

    #[test]
    fn two_calendar_months_to_the_day_is_not_more_than_two_months() {
        let on = date(2024, 4, 15);
        for (onset_date, wanted) in [
            (date(2024, 2, 14), Some(true)),
            (date(2024, 2, 15), Some(false)),
            (date(2024, 4, 15), Some(false)),
        ] {
            let told = onset(onset_date, DatePrecision::Day);
            assert_eq!(is_older_than_2_months(told, on), wanted, "{onset_date}");
        }
        assert_eq!(is_older_than_2_months(None, on), None);
    }

    #[test]
    fn an_onset_told_as_a_month_is_judged_only_where_every_day_of_it_agrees() {
        let on = date(2024, 4, 15);
        for (first, precision, wanted) in [
            (date(2024, 1, 1), DatePrecision::Month, Some(true)),
            (date(2024, 2, 1), DatePrecision::Month, None),
            (date(2024, 3, 1), DatePrecision::Month, Some(false)),
            (date(2023, 1, 1), DatePrecision::Year, Some(true)),
            (date(2024, 1, 1), DatePrecision::Year, None),
            (date(2024, 2, 7), DatePrecision::Week, Some(true)),
            (date(2024, 2, 8), DatePrecision::Week, Some(true)),
            (date(2024, 2, 9), DatePrecision::Week, None),
        ] {
            let told = onset(first, precision);
            assert_eq!(
                is_older_than_2_months(told, on),
                wanted,
                "{first} {precision}"
            );
        }
    }

    #[test]
    fn grade_3_needs_gangrene_or_a_deep_infection() {
        let none = GradeRange::exactly(0);
        let mild = GradeRange::exactly(1);
        let moderate = GradeRange::exactly(2);
        let unknown = GradeRange::between(0, 3);
        let absent = Some(Gangrene::Absent);
        let (skin, tendon, bone) = (
            Some(TissueDepth::Skin),
            Some(TissueDepth::TendonOrMuscle),
            Some(TissueDepth::BoneOrJoint),
        );
        // gangrene, depth, bone infection, infection -> grade 3 or more
        for (gangrene, depth, osteomyelitis, infection, wanted) in [
            (Some(Gangrene::Digits), None, None, unknown, Some(true)),
            (Some(Gangrene::Extensive), skin, None, none, Some(true)),
            (absent, skin, None, unknown, Some(false)),
            (None, skin, None, none, None),
            (None, tendon, Some(true), moderate, Some(true)),
            (absent, tendon, None, none, Some(false)),
            (absent, bone, Some(false), mild, Some(false)),
            (absent, bone, None, mild, None),
            (absent, bone, Some(false), moderate, None),
            (absent, None, None, unknown, None),
            (absent, None, None, none, Some(false)),
        ] {
            let presentation = Presentation {
                area_cm2: None,
                sinbad: GradeRange::between(0, 6),
                wifi_stage: GradeRange::between(1, 4),
                ischaemia: unknown,
                infection,
                gangrene,
                depth,
                has_osteomyelitis: osteomyelitis,
            };
            assert_eq!(
                is_grade_3_or_more(&presentation),
                wanted,
                "{presentation:?}"
            );
        }
    }
}
