//! What befalls one person, moment by moment: competing hazards and an agenda of appointments and hospital steps.

mod amputation;
mod hazards;
mod lesions;
mod pathway;
mod schedule;
mod state;
mod visit;

pub(crate) use hazards::YEAR_DAYS;
pub(crate) use state::{Happening, Lesion, LimbState, Status};

use crate::chance::Chance;
use crate::person::{Arrival, Person};
use crate::record::Row;
use crate::scenario::Scenario;
use crate::words::{Height, Kind, Level, Side};
use hazards::{Chanced, spent_between};

/// Something that has its moment already.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Planned {
    Appointment,
    Reopening(usize),
    Opening(usize),
    Referral(Side),
    VascularSeen(Side),
    Study(Side),
    Imaging(Side),
    Revascularisation(Side),
    StagedClosure(usize, Height),
}

/// A course under way.
pub(crate) struct Course<'a> {
    pub(crate) scenario: &'a Scenario,
    pub(crate) person: &'a Person,
    pub(crate) chance: Chance,
    pub(crate) now: f64,
    pub(crate) lesions: Vec<Lesion>,
    /// Left, right.
    pub(crate) limbs: [LimbState; 2],
    pub(crate) agenda: Vec<(f64, Planned)>,
    /// Rows without measurement error and with nothing left out.
    pub(crate) rows: Vec<Row>,
    pub(crate) happenings: Vec<Happening>,
    pub(crate) is_under_care: bool,
    pub(crate) death: Option<f64>,
    pub(crate) left_care: Option<(f64, Leaving)>,
    pub(crate) n_labels: usize,
    pub(crate) last_exam_day: Option<i32>,
}

/// Why somebody alive is not seen any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leaving {
    Lost,
    TransferredOut,
}

/// A finished course.
pub(crate) struct History {
    pub(crate) lesions: Vec<Lesion>,
    pub(crate) rows: Vec<Row>,
    pub(crate) happenings: Vec<Happening>,
    pub(crate) death: Option<f64>,
    pub(crate) left_care: Option<(f64, Leaving)>,
}

/// Follows one person from the first visit to death or to the end of the latent course.
pub(crate) fn history(scenario: &Scenario, person: &Person, chance: Chance) -> History {
    let limbs = Side::ALL.map(|side| {
        let limb = person.limb(side);
        LimbState {
            arterial: limb.arterial,
            flow: limb.flow,
            is_revascularised: false,
            has_lost_toe: limb.prior_amputation == Some(Level::Minor),
            lost: (limb.prior_amputation == Some(Level::Major))
                .then_some(f64::from(person.first_day)),
            has_measured_pressures: false,
            has_new_shoe: false,
            is_pathway_open: false,
        }
    });
    let mut course = Course {
        scenario,
        person,
        chance,
        now: f64::from(person.first_day),
        lesions: Vec::new(),
        limbs,
        agenda: Vec::new(),
        rows: Vec::new(),
        happenings: Vec::new(),
        is_under_care: true,
        death: None,
        left_care: None,
        n_labels: 0,
        last_exam_day: None,
    };
    if person.arrival != Arrival::Surveillance {
        course.present_with_ulcers();
    }
    course.visit();
    course.run(f64::from(
        scenario.last_day().saturating_add(scenario.follow_on_days),
    ));
    History {
        lesions: course.lesions,
        rows: course.rows,
        happenings: course.happenings,
        death: course.death,
        left_care: course.left_care,
    }
}

impl Course<'_> {
    fn run(&mut self, until: f64) {
        let mut hazards = Vec::new();
        while self.death.is_none() {
            self.hazards(&mut hazards);
            let per_day = hazards.iter().map(|hazard| hazard.1).sum::<f64>() / YEAR_DAYS;
            // Hazards are constant until the next step, so a fresh exponential wait is drawn at each (no memory).
            let chanced_at = self.now + self.chance.exponential(1.0 / per_day);
            let healing = self.next_closure();
            let healing_at = healing.map_or(f64::INFINITY, |closure| closure.0);
            let planned = self.next_planned();
            let planned_at = planned.map_or(f64::INFINITY, |position| self.agenda[position].0);
            let next = chanced_at.min(healing_at).min(planned_at);
            if next > until || next.is_nan() {
                break;
            }
            self.pass(next - self.now);
            self.now = next;
            match (healing, planned) {
                (Some((_, lesion)), _) if healing_at <= chanced_at.min(planned_at) => {
                    self.close(lesion)
                }
                (_, Some(position)) if planned_at <= chanced_at => {
                    let (_, planned) = self.agenda.swap_remove(position);
                    self.do_planned(planned);
                }
                _ => {
                    let position = self.chance.position(hazards.iter().map(|hazard| hazard.1));
                    self.befall(hazards[position].0);
                }
            }
        }
    }

    /// The open lesion that closes first if nothing changes, and when.
    fn next_closure(&self) -> Option<(f64, usize)> {
        self.lesions
            .iter()
            .enumerate()
            .filter(|(_, lesion)| lesion.is_open())
            .map(|(position, lesion)| (self.now + self.days_to_closure(lesion), position))
            .min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Position of what is planned next.
    fn next_planned(&self) -> Option<usize> {
        (0..self.agenda.len()).min_by(|a, b| self.agenda[*a].0.total_cmp(&self.agenda[*b].0))
    }

    /// Lets days pass: open lesions spend their healing hazard.
    fn pass(&mut self, days: f64) {
        for position in 0..self.lesions.len() {
            let lesion = &self.lesions[position];
            if lesion.is_open() {
                let per_day = self.healing_per_year(lesion) / YEAR_DAYS;
                let age = self.now - lesion.onset;
                let bands = &self.scenario.hazards.healing_bands;
                let spent = spent_between(per_day, age, age + days, bands);
                self.lesions[position].spent += spent;
            }
        }
    }

    fn do_planned(&mut self, planned: Planned) {
        match planned {
            Planned::Appointment => self.appointment(),
            Planned::Reopening(lesion) => self.reopen(lesion),
            Planned::Opening(lesion) => self.open_pre_ulcerative(lesion),
            Planned::Referral(side) => self.refer(side, self.now),
            Planned::VascularSeen(side) => self.seen_by_vascular_service(side),
            Planned::Study(side) => self.hospital_step(Kind::PhysiologicStudy, side),
            Planned::Imaging(side) => self.image(side),
            Planned::Revascularisation(side) => self.revascularise(side),
            Planned::StagedClosure(lesion, height) => self.close_stage(lesion, height),
        }
    }

    fn befall(&mut self, chanced: Chanced) {
        match chanced {
            Chanced::Death => self.die(),
            Chanced::MinorAmputation(lesion) => self.amputate_minor(lesion),
            Chanced::MajorAmputation(side) => self.amputate_major(side),
            Chanced::NewUlcer => self.new_ulcer(),
            Chanced::InfectionStarts(lesion) => self.infect(lesion),
            Chanced::InfectionEnds(lesion) => self.end_infection(lesion),
            Chanced::Split(lesion) => self.split(lesion),
            Chanced::Merge(lesion) => self.merge(lesion),
            Chanced::Loss => self.leave(Leaving::Lost),
            Chanced::Lapse => self.lapse(),
            Chanced::TransferOut => self.leave(Leaving::TransferredOut),
        }
    }

    pub(crate) fn limb(&self, side: Side) -> &LimbState {
        match side {
            Side::Left => &self.limbs[0],
            Side::Right => &self.limbs[1],
        }
    }

    pub(crate) fn limb_mut(&mut self, side: Side) -> &mut LimbState {
        match side {
            Side::Left => &mut self.limbs[0],
            Side::Right => &mut self.limbs[1],
        }
    }

    pub(crate) fn today(&self) -> i32 {
        crate::naming::visible_day(self.now)
    }
}
