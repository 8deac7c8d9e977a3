//! The time observed of one subject, and how it ended.

use super::Place;
use crate::coded;
use crate::expectation::SeverityItems;
use crate::grade::expected_major_amputation;
use crate::rules::{Outcome, Rule, whole_days};
use crate::tables::{Dated, PatientKey};
use chrono::NaiveDate;

/// Time observed of one subject in whole days, `(entry, exit]`; entry 0 means from the start, day 0 included.
///
/// Many measures follow everybody, so a follow-up holds its days and words small: sixty bytes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FollowUp {
    /// The person, as the cluster number.
    pub cluster: PatientKey,
    /// The day that decides the cohort, and its row.
    pub index: Dated,
    /// The leg or the ulcer followed; `None` when it is the person.
    pub place: Option<Place>,
    /// Day of entry into the risk set.
    pub entry_day: i32,
    /// Last day observed, or the day of the outcome.
    pub exit_day: i32,
    /// Last day on which visits had shown that the outcome had not come, where it is only known to lie between two visits:
    /// it came after this day and up to `exit_day`. `None` where its day is known, and without an outcome.
    pub not_yet_day: Option<i32>,
    /// What ended it; `None` when it was censored.
    pub ending: Option<Outcome>,
    /// The row that gave the outcome.
    pub ended_at: Option<Dated>,
    /// Stratum this subject belongs to besides "all".
    pub stratum: Option<Stratum>,
    /// A remark to be counted beside the figure.
    pub remark: Option<Remark>,
    /// Severity items at the first visit, where the measure asks for them.
    pub severity: Option<SeverityItems>,
    /// WIfI stage 1 to 4, where it is exactly known and the measure compares with what is published for it.
    pub stage: Option<u8>,
}

impl FollowUp {
    /// Probability of the event expected from its severity, where one is published.
    pub fn expected(&self) -> Option<f64> {
        self.stage.and_then(expected_major_amputation)
    }
}

coded! {
    /// A part of those followed that a measure also tells of apart.
    pub enum Stratum {
        Stage3 = "WIfI stage 3",
        Stage4 = "WIfI stage 4",
        AfterAmputationWound = "after an amputation wound",
        AfterHealing = "after healing without amputation",
        EarlierMinor = "earlier minor amputation",
        EarlierMinorNotRecorded = "earlier minor amputation not recorded",
        FirstMajor = "first amputation major",
        FirstMinor = "first amputation minor",
        GangreneAtLowerStage = "gangrene at a lower stage",
        NoEarlierMinor = "no earlier minor amputation",
        RoutineTrigger = "routine trigger",
        StageNotKnown = "stage not exactly known",
        UrgentTrigger = "urgent trigger",
    }
}

coded! {
    /// Something odd about a follow-up that readers are told of.
    pub enum Remark {
        BeforeReferral = "before the referral, counted as day 0",
        BeforeTrigger = "before the trigger, counted as day 0",
    }
}

/// The follow-up of one subject by one row of the rules table.
///
/// The first outcome that the rule names as event or competing ends it; on one day the order of [`Outcome`] decides.
/// Without one it is censored on `known_to`, on day 0 at the earliest. `None` when it ends before the rule's entry day.
pub fn follow_up(
    rule: &Rule,
    cluster: PatientKey,
    index: Dated,
    outcomes: impl IntoIterator<Item = (Outcome, Dated)>,
    known_to: NaiveDate,
) -> Option<FollowUp> {
    let first = outcomes
        .into_iter()
        .filter(|(outcome, _)| rule.event.contains(outcome) || rule.competing.contains(outcome))
        .min_by_key(|(outcome, at)| (at.date, *outcome));
    let exit = first.map_or(known_to, |(_, at)| at.date);
    let exit_day = whole_days(index.date, exit).max(0);
    let entry_day = i32::try_from(rule.entry_day).unwrap_or(i32::MAX);
    let is_in_time = entry_day == 0 || exit_day > entry_day;
    is_in_time.then_some(FollowUp {
        cluster,
        index,
        place: None,
        entry_day,
        exit_day,
        not_yet_day: None,
        ending: first.map(|(outcome, _)| outcome),
        ended_at: first.map(|(_, at)| at),
        stratum: None,
        remark: None,
        severity: None,
        stage: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::{Censoring, KnownRule, UnitOfAnalysis};
    use crate::tables::SourceRow;

    const RULE: Rule = Rule {
        unit: UnitOfAnalysis::Ulcer,
        clock: "first visit",
        entry_day: 0,
        event: &[Outcome::Healed],
        competing: &[
            Outcome::MinorAmputation,
            Outcome::MajorAmputation,
            Outcome::Death,
        ],
        censoring: Censoring::LastStateKnown,
        known: KnownRule::Censored,
        horizon_days: 84,
    };

    fn at(day: u32) -> Dated {
        Dated::new(
            NaiveDate::from_ymd_opt(2024, 3, day).unwrap(),
            SourceRow::default(),
        )
    }

    fn ending(outcomes: &[(Outcome, Dated)]) -> (i32, Option<Outcome>) {
        let followed = follow_up(
            &RULE,
            PatientKey(0),
            at(1),
            outcomes.iter().copied(),
            at(20).date,
        )
        .unwrap();
        (followed.exit_day, followed.ending)
    }

    #[test]
    fn on_one_day_a_major_amputation_comes_before_a_minor_one_then_healing_then_death() {
        use Outcome::{Death, Healed, MajorAmputation, MinorAmputation};
        assert_eq!(
            ending(&[(Death, at(11)), (Healed, at(11))]),
            (10, Some(Healed))
        );
        assert_eq!(
            ending(&[(Healed, at(11)), (MinorAmputation, at(11))]),
            (10, Some(MinorAmputation))
        );
        assert_eq!(
            ending(&[(MinorAmputation, at(11)), (MajorAmputation, at(11))]),
            (10, Some(MajorAmputation))
        );
    }

    /// There is one for each ulcer, limb or person in each of some thirty lists.
    #[test]
    fn a_follow_up_stays_small() {
        assert!(size_of::<FollowUp>() <= 60);
    }

    #[test]
    fn an_outcome_the_rule_does_not_name_ends_nothing() {
        assert_eq!(ending(&[(Outcome::NewUlcer, at(5))]), (19, None));
    }

    #[test]
    fn day_0_counts_and_an_entry_day_must_be_passed() {
        assert_eq!(
            ending(&[(Outcome::Healed, at(1))]),
            (0, Some(Outcome::Healed))
        );
        let late = Rule {
            entry_day: 28,
            ..RULE
        };
        assert_eq!(
            follow_up(&late, PatientKey(0), at(1), [], at(29).date),
            None
        );
        let later = follow_up(&late, PatientKey(0), at(1), [], at(30).date).unwrap();
        assert_eq!((later.entry_day, later.exit_day), (28, 29));
    }
}
