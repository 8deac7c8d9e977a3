//! Readings of earlier days, made once for everything that asks for them.

use super::{Person, PersonOutcomes, Reading, View, read};
use chrono::NaiveDate;
use std::borrow::Cow;

/// What was known from rows dated up to a day.
#[derive(Debug, Clone)]
pub struct EarlierReading<'a> {
    /// The newest of those rows; `None` before the first.
    pub last_row: Option<NaiveDate>,
    /// What they tell.
    pub reading: Reading<'a>,
}

impl<'a> PersonOutcomes<'a> {
    /// What was known on an earlier day.
    ///
    /// Between two rows nothing new is known, so this is the reading on the day of the last row: the one at the cut-off, one
    /// made before, or a new one. Only whether an open episode is called lost depends on the day itself, and that is told
    /// at the cut-off.
    pub fn reading_at(&self, view: &View<'_>) -> Cow<'_, Reading<'a>> {
        let last_row = self.last_row_by(view.until);
        if last_row == self.last_row_by(NaiveDate::MAX) {
            return Cow::Borrowed(&self.reading);
        }
        let mut earlier = self.earlier.iter();
        match earlier.find(|earlier| earlier.last_row == last_row) {
            Some(earlier) => Cow::Borrowed(&earlier.reading),
            None => Cow::Owned(self.read_by(last_row, view)),
        }
    }

    /// The same person with the readings that these views ask for made in advance.
    pub(crate) fn with_readings(&self, views: &[View<'_>]) -> Self {
        let whole = self.last_row_by(NaiveDate::MAX);
        let mut earlier: Vec<EarlierReading<'a>> = Vec::new();
        for view in views {
            let last_row = self.last_row_by(view.until);
            let is_made = last_row == whole || earlier.iter().any(|made| made.last_row == last_row);
            if !is_made {
                let reading = self.read_by(last_row, view);
                earlier.push(EarlierReading { last_row, reading });
            }
        }
        Self {
            earlier,
            ..self.clone()
        }
    }

    fn read_by(&self, last_row: Option<NaiveDate>, view: &View<'_>) -> Reading<'a> {
        let until = last_row.unwrap_or(view.until);
        read(&self.person, &View { until, ..*view })
    }

    /// The newest day up to `until` on which a row of this person is dated.
    fn last_row_by(&self, until: NaiveDate) -> Option<NaiveDate> {
        self.person.last_row_by(until)
    }
}

impl Person<'_> {
    /// The newest day on which a row of this person is dated.
    pub(crate) fn last_row(&self) -> Option<NaiveDate> {
        self.last_row_by(NaiveDate::MAX)
    }

    fn last_row_by(&self, until: NaiveDate) -> Option<NaiveDate> {
        let person = self.up_to(until);
        let death = person.patient.death.map(|death| death.date);
        [
            person.visits.last().map(|row| row.date),
            person.foot_exams.last().map(|row| row.date),
            person.observations.last().map(|row| row.date),
            person.events.last().map(|row| row.date),
            death.filter(|death| *death <= until),
        ]
        .into_iter()
        .flatten()
        .max()
    }
}
