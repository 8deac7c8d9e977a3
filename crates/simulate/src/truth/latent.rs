//! The course as it truly was.

use super::spells::{Stretch, joined};
use super::{TruthFile, csv_file};
use crate::course::{Happening, Leaving, Lesion, Status};
use crate::naming::label;
use crate::patient::Patient;
use crate::person::Arrival;
use crate::practice::Practice;
use crate::words::{Kind, Level, SITES, Side};
use serde::Serialize;

/// The course as it was, seen or not, up to the cut-off and the follow-on days after it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LatentTruth {
    /// One row a lesion: ulcers, parts of ulcers, surgical wounds, and lesions that never were seen.
    pub ulcers: Vec<LatentUlcer>,
    /// One row a person.
    pub people: Vec<LatentPerson>,
    /// Two rows a person, left first.
    pub limbs: Vec<LatentLimb>,
}

/// One lesion as it was. Days carry fractions; something is visible at a visit from the next whole day on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LatentUlcer {
    /// Pseudonymous id.
    pub patient: String,
    /// Position among the lesions of this person, counted from 1.
    pub lesion: usize,
    /// Letter in the records; none when it was never seen. A letter can cover two lesions of one site.
    pub label: Option<String>,
    /// Foot.
    pub side: &'static str,
    /// Site, our spelling.
    pub site: &'static str,
    /// Origin, our spelling.
    pub origin: &'static str,
    /// Where it lies seen from the ulcer before: first, same-site, same-foot, other-foot.
    pub place: &'static str,
    /// Lesion it split from, or that it replaced as a surgical wound.
    pub parent: Option<usize>,
    /// Day the skin broke.
    pub onset_day: f64,
    /// Area at presentation, square cm.
    pub start_area_cm2: f64,
    /// Deepest tissue.
    pub tissue: &'static str,
    /// Closures that broke open again within four weeks.
    pub n_reopenings: usize,
    /// Day it closed for good; none when it did not.
    pub lasting_healing_day: Option<f64>,
    /// What became of it: healed, excised, lost-with-limb, merged, open, pre-ulcerative.
    pub end: &'static str,
    /// Day of that end, for excised, lost-with-limb and merged.
    pub end_day: Option<f64>,
}

/// One person as they were.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LatentPerson {
    /// Pseudonymous id.
    pub patient: String,
    /// Day of the first visit; negative before data start.
    pub first_visit_day: i32,
    /// Why they came: new-ulcer, transferred-in, surveillance.
    pub arrival: &'static str,
    /// Age at the first visit, years.
    pub age_years: f64,
    /// On renal replacement.
    pub is_on_renal_replacement: bool,
    /// Had an ulcer before the first visit.
    pub had_ulcer: bool,
    /// Their own ratio on the healing hazard.
    pub healing_frailty: f64,
    /// Day all wounds on both feet were first closed for good.
    pub all_healed_day: Option<f64>,
    /// Day of the next ulcer after that, anywhere.
    pub recurrence_day: Option<f64>,
    /// Where: same-site, same-foot, other-foot.
    pub recurrence_place: Option<&'static str>,
    /// Day of death, told or not.
    pub death_day: Option<f64>,
    /// Day they left: lost or transferred out.
    pub left_day: Option<f64>,
    /// How they left: lost, transferred-out.
    pub left_how: Option<&'static str>,
}

/// One limb as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LatentLimb {
    /// Pseudonymous id.
    pub patient: String,
    /// Leg.
    pub side: &'static str,
    /// Protective sensation is lost.
    pub has_neuropathy: bool,
    /// Arterial disease at the first visit: none, mild, moderate, severe.
    pub arterial_disease: &'static str,
    /// Ankle arteries too stiff to be compressed.
    pub is_calcified: bool,
    /// Foot deformity.
    pub has_deformity: bool,
    /// Lost before the first visit.
    pub was_lost_before: bool,
    /// First minor amputation.
    pub minor_amputation_day: Option<i32>,
    /// Minor amputations, planned closures not counted.
    pub n_minor_amputations: usize,
    /// Major amputation.
    pub major_amputation_day: Option<i32>,
    /// First referral to a vascular service.
    pub referral_day: Option<i32>,
    /// First seen there.
    pub vascular_seen_day: Option<i32>,
    /// First revascularisation.
    pub revascularisation_day: Option<i32>,
}

impl LatentTruth {
    /// The three files of this truth.
    ///
    /// # Errors
    /// When a row cannot be written as CSV.
    pub fn files(&self) -> Result<Vec<TruthFile>, csv::Error> {
        Ok(vec![
            csv_file("latent-ulcers.csv", &self.ulcers)?,
            csv_file("latent-people.csv", &self.people)?,
            csv_file("latent-limbs.csv", &self.limbs)?,
        ])
    }
}

impl Practice {
    /// The course as it was. Only patients with a row in the export are in it.
    pub fn latent_truth(&self) -> LatentTruth {
        let mut truth = LatentTruth::default();
        for (_, patient) in self.patients() {
            let lesions = patient.history.lesions.iter().enumerate();
            truth
                .ulcers
                .extend(lesions.map(|(position, lesion)| ulcer(&patient, position, lesion)));
            truth.people.push(person(&patient));
            truth
                .limbs
                .extend(Side::ALL.iter().map(|side| limb(&patient, *side)));
        }
        truth
    }
}

fn ulcer(patient: &Patient, position: usize, lesion: &Lesion) -> LatentUlcer {
    LatentUlcer {
        patient: patient.person.id.clone(),
        lesion: position + 1,
        label: lesion.label.map(label),
        side: lesion.side.ours(),
        site: SITES[lesion.site].ours,
        origin: lesion.origin.ours(),
        place: lesion.place.ours(),
        parent: lesion.parent.map(|parent| parent + 1),
        onset_day: three_decimals(lesion.onset),
        start_area_cm2: three_decimals(lesion.start_area_cm2),
        tissue: lesion.tissue.ours(),
        n_reopenings: lesion.reopenings.len(),
        lasting_healing_day: lesion.lasting_healing().map(three_decimals),
        end: match lesion.status {
            Status::PreUlcerative => "pre-ulcerative",
            Status::Open => "open",
            Status::Closed => "healed",
            Status::Excised => "excised",
            Status::LostWithLimb => "lost-with-limb",
            Status::Merged => "merged",
        },
        end_day: lesion.ended.map(three_decimals),
    }
}

fn person(patient: &Patient) -> LatentPerson {
    let (person, history) = (&patient.person, &patient.history);
    let was_open = |lesion: &&Lesion| lesion.status != Status::PreUlcerative;
    let stretches = history
        .lesions
        .iter()
        .filter(was_open)
        .map(|lesion| Stretch {
            start: lesion.onset,
            end: lesion.ended.or(lesion.lasting_healing()),
        });
    let spells = joined(stretches.collect());
    let recurrence_day = spells.get(1).map(|spell| spell.start);
    let recurrence = history
        .lesions
        .iter()
        .find(|lesion| Some(lesion.onset) == recurrence_day);
    LatentPerson {
        patient: person.id.clone(),
        first_visit_day: person.first_day,
        arrival: match person.arrival {
            Arrival::NewUlcer => "new-ulcer",
            Arrival::TransferredIn => "transferred-in",
            Arrival::Surveillance => "surveillance",
        },
        age_years: three_decimals(person.age_years),
        is_on_renal_replacement: person.is_on_renal_replacement,
        had_ulcer: person.had_ulcer,
        healing_frailty: three_decimals(person.healing_frailty),
        all_healed_day: spells
            .first()
            .and_then(|spell| spell.end)
            .map(three_decimals),
        recurrence_day: recurrence_day.map(three_decimals),
        recurrence_place: recurrence.map(|lesion| lesion.place.ours()),
        death_day: history.death.map(three_decimals),
        left_day: history.left_care.map(|(moment, _)| three_decimals(moment)),
        left_how: history.left_care.map(|(_, how)| match how {
            Leaving::Lost => "lost",
            Leaving::TransferredOut => "transferred-out",
        }),
    }
}

fn limb(patient: &Patient, side: Side) -> LatentLimb {
    let basis = patient.person.limb(side);
    let of_limb = |happening: &&Happening| happening.side == Some(side) && !happening.is_staged;
    let happenings = patient.history.happenings.iter().filter(of_limb);
    let first = |kind: Kind| {
        happenings
            .clone()
            .filter(|h| h.kind == kind)
            .map(|h| h.day)
            .min()
    };
    LatentLimb {
        patient: patient.person.id.clone(),
        side: side.ours(),
        has_neuropathy: basis.has_neuropathy,
        arterial_disease: basis.arterial.ours(),
        is_calcified: basis.is_calcified,
        has_deformity: basis.has_deformity,
        was_lost_before: basis.prior_amputation == Some(Level::Major),
        minor_amputation_day: first(Kind::MinorAmputation),
        n_minor_amputations: happenings
            .clone()
            .filter(|h| h.kind == Kind::MinorAmputation)
            .count(),
        major_amputation_day: first(Kind::MajorAmputation),
        referral_day: first(Kind::VascularReferral),
        vascular_seen_day: first(Kind::VascularSeen),
        revascularisation_day: first(Kind::Revascularisation),
    }
}

impl Lesion {
    /// When it closed for good; none while it is open, or when something else ended it.
    pub(crate) fn lasting_healing(&self) -> Option<f64> {
        (self.status == Status::Closed)
            .then(|| self.closures.last().copied())
            .flatten()
    }
}

fn three_decimals(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
