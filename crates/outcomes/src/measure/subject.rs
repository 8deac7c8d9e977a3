//! What every list of subjects has in common: whose each is, on which day it began, and where.

use super::counts::CountHistory;
use super::described::Described;
use super::follow_up::FollowUp;
use super::time_free::StateCourse;
use super::{Answer, Banded, Member, Occurrence, SeverityOutcome};
use chrono::NaiveDate;

/// One that a measure counts.
pub(super) trait Subject {
    /// Whose it is, on which day it began, and where.
    fn member(&self) -> Member;

    /// The day that decides its cohort.
    fn day(&self) -> NaiveDate {
        self.member().day
    }
}

impl Subject for FollowUp {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: self.place,
        }
    }
}

impl Subject for Answer {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: self.place,
        }
    }
}

impl Subject for SeverityOutcome {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: self.place,
        }
    }
}

impl Subject for Described {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: self.place,
        }
    }
}

impl Subject for StateCourse {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: None,
        }
    }
}

impl Subject for Banded {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.index.date,
            place: self.place,
        }
    }
}

impl Subject for CountHistory {
    fn member(&self) -> Member {
        self.followed.member()
    }
}

impl Subject for Occurrence {
    fn member(&self) -> Member {
        Member {
            cluster: self.cluster,
            day: self.at.date,
            place: self.place,
        }
    }
}
