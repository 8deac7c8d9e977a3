//! Where the subjects of each quarter stand in what was prepared, so that a cohort is found without going through everybody.

use super::cohort::Cohort;
use super::subject::Subject;
use super::summary::Prepared;
use crate::rules::Quarter;
use std::collections::BTreeMap;

/// The positions of the subjects of each quarter, ascending. Events and classes of people are few or sorted already, and
/// have none.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Places(Option<BTreeMap<Quarter, Vec<u32>>>);

impl Places {
    /// No positions: a cohort is then found by going through everybody.
    pub(super) const UNKNOWN: Self = Self(None);

    /// Puts everybody into the quarter in which they began.
    pub fn of(prepared: &Prepared) -> Self {
        match prepared {
            Prepared::FollowUps(all) => sorted(all),
            Prepared::Answers(all) => sorted(all),
            Prepared::Severities(all) => sorted(all),
            Prepared::Numbers(all) => sorted(all),
            Prepared::Courses(all) => sorted(all),
            Prepared::Banded(all) => sorted(all),
            Prepared::Histories(all) => sorted(all),
            Prepared::TwoKinds(..) | Prepared::Events(_) | Prepared::Classes(_) => Self::UNKNOWN,
        }
    }

    /// Those of a list that belong to a cohort, in the order of the list.
    pub(super) fn within<'p, T: Subject>(&self, all: &'p [T], cohort: &Cohort) -> Vec<&'p T> {
        let Some(quarters) = &self.0 else {
            return of_cohort(all, cohort);
        };
        if cohort.first > cohort.last {
            return Vec::new();
        }
        let own = quarters.range(cohort.first..=cohort.last);
        let mut places: Vec<u32> = own.flat_map(|(_, places)| places.iter().copied()).collect();
        if cohort.first != cohort.last {
            places.sort_unstable();
        }
        places
            .into_iter()
            .filter_map(|place| all.get(usize::try_from(place).ok()?))
            .collect()
    }
}

/// Those of a list that belong to a cohort.
pub(super) fn of_cohort<'p, T: Subject>(all: &'p [T], cohort: &Cohort) -> Vec<&'p T> {
    let is_own = |one: &&T| cohort.contains(one.day());
    all.iter().filter(is_own).collect()
}

fn sorted<T: Subject>(all: &[T]) -> Places {
    let mut quarters: BTreeMap<Quarter, Vec<u32>> = BTreeMap::new();
    for (place, one) in all.iter().enumerate() {
        let Ok(place) = u32::try_from(place) else {
            return Places::UNKNOWN;
        };
        quarters
            .entry(Quarter::of(one.day()))
            .or_default()
            .push(place);
    }
    for places in quarters.values_mut() {
        places.shrink_to_fit();
    }
    Places(Some(quarters))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Member;
    use crate::tables::PatientKey;
    use chrono::NaiveDate;

    /// A day alone, of nobody and nowhere.
    impl Subject for NaiveDate {
        fn member(&self) -> Member {
            Member {
                cluster: PatientKey(0),
                day: *self,
                place: None,
            }
        }
    }

    #[test]
    fn a_cohort_found_by_its_places_is_the_one_found_by_asking_everybody() {
        let day = |n: u64| NaiveDate::from_ymd_opt(2024, 1, 1).unwrap() + chrono::Days::new(n);
        // not in the order of dates, as people are not
        let days: Vec<NaiveDate> = (0..400).map(|n| day(n * 149 % 500)).collect();
        let places = sorted(&days);
        let quarter = |text| Quarter::parse(text).unwrap();
        for (first, last) in [
            ("2024Q1", "2024Q1"),
            ("2024Q2", "2025Q1"),
            ("2023Q1", "2023Q4"),
            ("2025Q1", "2024Q1"),
        ] {
            let cohort = Cohort {
                first: quarter(first),
                last: quarter(last),
            };
            let asked = of_cohort(&days, &cohort);
            assert_eq!(places.within(&days, &cohort), asked, "{first}");
            let unknown = Places::UNKNOWN.within(&days, &cohort);
            assert_eq!(unknown, asked, "{first}");
        }
    }
}
