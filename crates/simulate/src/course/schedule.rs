//! When a person attends.

use super::state::{Happening, Status};
use super::{Course, Leaving, Planned};
use crate::naming::open_day;
use crate::person::ArterialDisease;
use crate::record::Row;
use crate::words::{Attendance, Kind, Side};

impl Course<'_> {
    /// The day of an appointment has come.
    pub(crate) fn appointment(&mut self) {
        if !self.is_under_care {
            return;
        }
        let visits = &self.scenario.visits;
        let attendance = self.chance.pick([
            (Attendance::Missed, visits.share_missed),
            (Attendance::Cancelled, visits.share_cancelled),
            (
                Attendance::Kept,
                (1.0 - visits.share_missed - visits.share_cancelled).max(0.0),
            ),
        ]);
        if attendance == Attendance::Kept {
            self.visit();
            return;
        }
        let wait = self.chance.whole(7, 14);
        let mut row = Row::empty(self.today(), attendance, self.person.clinician);
        row.next_day = Some(self.plan_visit(wait));
        self.rows.push(row);
    }

    /// Plans the next visit, instead of any planned so far; gives its day.
    pub(crate) fn plan_visit(&mut self, gap_days: i32) -> i32 {
        let jitter = self.scenario.visits.jitter_days;
        let shift = self.chance.whole(-jitter, jitter);
        let day = open_day(self.scenario, self.today() + (gap_days + shift).max(1));
        self.agenda
            .retain(|planned| planned.1 != Planned::Appointment);
        self.agenda.push((f64::from(day), Planned::Appointment));
        day
    }

    /// An extra visit at about this moment, unless one comes sooner.
    pub(crate) fn bring_forward(&mut self, moment: f64) {
        let day = f64::from(open_day(self.scenario, crate::naming::visible_day(moment)));
        for planned in &mut self.agenda {
            if planned.1 == Planned::Appointment && planned.0 > day {
                planned.0 = day;
            }
        }
    }

    /// Stays away for two to five months.
    pub(crate) fn lapse(&mut self) {
        let days = self.chance.whole(60, 150);
        self.plan_visit(days);
    }

    /// Is never seen again here.
    pub(crate) fn leave(&mut self, why: Leaving) {
        self.is_under_care = false;
        self.left_care = Some((self.now, why));
        self.agenda
            .retain(|planned| planned.1 != Planned::Appointment);
        if why == Leaving::TransferredOut {
            self.happenings.push(Happening {
                kind: Kind::TransferOut,
                day: self.today(),
                side: None,
                height: None,
                lesion: None,
                is_staged: false,
                told_day: Some(self.today()),
            });
        }
    }

    /// Days to the next visit, by what this one has seen.
    pub(crate) fn next_gap_days(&self) -> i32 {
        let visits = &self.scenario.visits;
        let needs_care = |status| matches!(status, Status::Open | Status::PreUlcerative);
        let is_open = self
            .lesions
            .iter()
            .any(|lesion| lesion.label.is_some() && needs_care(lesion.status));
        let is_just_closed = self
            .lesions
            .iter()
            .any(|lesion| lesion.status == Status::Closed && lesion.n_closed_records == 1);
        if is_open {
            self.person.open_gap_days
        } else if is_just_closed {
            visits.confirmation_gap_days
        } else if self.is_high_risk() {
            visits.high_risk_gap_days
        } else {
            visits.low_risk_gap_days
        }
    }

    fn is_high_risk(&self) -> bool {
        let has_history = self.person.had_ulcer
            || !self.lesions.is_empty()
            || self.person.is_on_renal_replacement;
        let is_at_risk = Side::ALL.iter().any(|side| {
            self.person.limb(*side).has_neuropathy
                || self.limb(*side).arterial > ArterialDisease::Absent
        });
        has_history && is_at_risk
    }
}
