//! The area of each ulcer over the first twelve weeks.

use super::sheets::last_mature_quarter;
use super::{Counted, Material};
use crate::derive::{AreaPoint as Measured, Episode};
use crate::grade::SMALLEST_FIRST_AREA_CM2;
use crate::measure::Cohort;
use crate::report::words::{counted as count_words, percent, short};
use crate::report::{AreaLine, AreaPoint, BandPoint, Count, Figure, FigureFrame, Trajectories};
use crate::rules::Outcome;

const UNTIL: u32 = 84;
const UNTIL_DAY: i64 = UNTIL as i64;
/// Lines drawn at most; of more, every so many-th is left out of the picture and not of the summary.
const LINES: usize = 200;

/// Areas as shares of the first, of the ulcers of the year to the last mature quarter that have a first area.
pub(super) fn trajectories(
    material: &Material<'_>,
    counted: &Counted,
    matured: &Counted,
) -> Option<Figure> {
    let last = last_mature_quarter(material, matured)?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let of_people = material
        .people
        .iter()
        .flat_map(|person| (person.reading.episodes.iter()).map(|ulcer| (&person.reading, ulcer)));
    let courses: Vec<Course> = of_people
        .filter(|(_, ulcer)| {
            !ulcer.is_post_surgical
                && ulcer.prevalent.is_none()
                && cohort.contains(ulcer.index.date)
        })
        .filter_map(|(reading, ulcer)| {
            let areas = reading.areas(ulcer, material.rules);
            Course::of(ulcer, &areas, UNTIL_DAY + material.rules.evidence_days)
        })
        .collect();
    let summary: Vec<BandPoint> = (0..=UNTIL / 14)
        .filter_map(|step| middle_on(&courses, i64::from(step) * 14))
        .collect();
    let at_28 = summary
        .iter()
        .find(|point| (point.day - 28.0).abs() < 1e-9)?;
    let period = cohort.label();
    let step = courses.len().div_ceil(LINES).max(1);
    let n = courses.len();
    Some(Figure::Trajectories(Trajectories {
        frame: FigureFrame {
            id: "area-trajectories".to_owned(),
            family: counted.measure.family.to_owned(),
            title: format!(
                "At 4 weeks the middle ulcer had {} of its first area",
                percent(at_28.estimate)
            ),
            caption: format!(
                "{} first seen in {period} with a first area of at least {} square cm: each area as a share of the first, one line \
                 an ulcer{}. The strong line is the middle ulcer, the band the middle half, of those still \
                 followed: between two measurements an area is read from the straight line between them, a closed ulcer stays at \
                 0, an amputated one is left out from then on. Open ulcers lost from sight drop out and closed ones never do, so that late \
                 in the twelve weeks the middle may look better than it was.",
                count_words(n, "ulcer", "ulcers"),
                short(SMALLEST_FIRST_AREA_CM2),
                if step > 1 {
                    " (some lines left out)"
                } else {
                    ""
                }
            ),
            alt: format!(
                "Lines from 100% over 12 weeks. The middle one is at {} at 4 weeks and at {} at the end.",
                percent(at_28.estimate),
                summary
                    .last()
                    .map_or_else(String::new, |point| percent(point.estimate))
            ),
        },
        until_days: UNTIL,
        ticks: (0..=6).map(|n| n * 14).collect(),
        tick_unit: "weeks".to_owned(),
        n: Count::Shown(n as u64),
        lines: courses.iter().step_by(step).map(Course::line).collect(),
        summary_label: "median and middle half".to_owned(),
        summary,
    }))
}

/// The areas of one ulcer as shares of the first, by day.
struct Course {
    points: Vec<(i64, f64)>,
    /// Day of an amputation or of death.
    ended: Option<i64>,
    /// Last day on which its state was known.
    known_to: i64,
}

impl Course {
    /// From the areas read up to a day.
    fn of(ulcer: &Episode, areas: &[Measured], to: i64) -> Option<Self> {
        let first = areas.first().filter(|first| {
            first.at.date == ulcer.index.date && first.area_cm2 >= SMALLEST_FIRST_AREA_CM2
        })?;
        let points = areas
            .iter()
            .map(|point| (ulcer.day_of(point.at), point.area_cm2 / first.area_cm2))
            .take_while(|(day, _)| *day <= to)
            .collect();
        let ends = [
            Outcome::MinorAmputation,
            Outcome::MajorAmputation,
            Outcome::Death,
        ];
        let outcomes = ulcer.outcomes();
        let ended = outcomes
            .filter(|(outcome, _)| ends.contains(outcome))
            .map(|(_, at)| ulcer.day_of(at))
            .min();
        Some(Self {
            points,
            ended,
            known_to: ulcer.day_of(ulcer.last_known),
        })
    }

    fn line(&self) -> AreaLine {
        let points = self.points.iter();
        let points = points.take_while(|(day, _)| *day <= i64::from(UNTIL));
        AreaLine {
            points: points
                .map(|(day, share_of_first)| AreaPoint {
                    day: *day as f64,
                    share_of_first: *share_of_first,
                })
                .collect(),
        }
    }

    /// The share on a day, on the straight line between the readings before and after it; after the last one as long as the
    /// ulcer is followed, and 0 once it has closed.
    fn on(&self, day: i64) -> Option<f64> {
        let place = self.points.partition_point(|(read_on, _)| *read_on <= day);
        let (before, share) = *self.points.get(place.checked_sub(1)?)?;
        let is_closed = share == 0.0;
        if self.ended.is_some_and(|ended| ended <= day) && !is_closed {
            return None;
        }
        match self.points.get(place) {
            Some((after, next)) => {
                let part = (day - before) as f64 / (after - before) as f64;
                Some(share + part * (next - share))
            }
            None => (is_closed || day <= self.known_to).then_some(share),
        }
    }
}

fn middle_on(courses: &[Course], day: i64) -> Option<BandPoint> {
    let mut shares: Vec<f64> = courses.iter().filter_map(|course| course.on(day)).collect();
    shares.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = (share * shares.len() as f64).ceil() as usize;
        shares.get(place.max(1) - 1).copied()
    };
    Some(BandPoint {
        day: day as f64,
        estimate: at(0.5)?,
        lower: at(0.25),
        upper: at(0.75),
    })
}

#[cfg(test)]
mod tests {
    use super::Course;

    #[test]
    fn an_area_between_two_readings_lies_on_the_line_between_them() {
        let course = |points: &[(i64, f64)], ended, known_to| Course {
            points: points.to_vec(),
            ended,
            known_to,
        };
        let open = course(&[(0, 1.0), (20, 0.6), (40, 0.2)], None, 50);
        assert_eq!(open.on(0), Some(1.0));
        assert!((open.on(30).unwrap() - 0.4).abs() < 1e-12);
        assert_eq!(open.on(45), Some(0.2));
        assert_eq!(open.on(51), None, "no longer followed");
        let closed = course(&[(0, 1.0), (20, 0.0)], None, 20);
        assert_eq!(closed.on(80), Some(0.0));
        let amputated = course(&[(0, 1.0), (20, 0.8)], Some(30), 30);
        assert_eq!(amputated.on(29), Some(0.8));
        assert_eq!(amputated.on(30), None);
    }
}
