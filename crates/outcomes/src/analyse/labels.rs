//! The stratum of everybody counted, as known at the end of the evidence days after their day.

use super::Material;
use crate::blocks::in_blocks;
use crate::derive::{Episode, PersonOutcomes, Reading};
use crate::grade::any_of;
use crate::measure::{Label, Member, SplitBy, Stratifier};
use crate::tables::{Aspect, Attendance, InfectionGrade, NameId, Region, TissueDepth, Visit};
use chrono::Datelike;

/// SINBAD score from which an ulcer is called severe, as the national audit of England and Wales does.
const SEVERE_FROM: u8 = 3;

/// Upper ends of the age bands, the last one open.
const AGE_BANDS: [(i32, &str); 4] = [
    (49, "under 50"),
    (64, "50 to 64"),
    (79, "65 to 79"),
    (i32::MAX, "80 or over"),
];

/// The labels of many members, found again by member.
pub(super) struct Labels {
    members: Vec<Member>,
    /// One list a member, in the order of the strata asked for.
    labels: Vec<Vec<Label>>,
}

impl Labels {
    /// Labels everybody once, whoever counts them.
    pub(super) fn of(material: &Material<'_>, mut members: Vec<Member>) -> Self {
        members.sort_unstable();
        members.dedup();
        let of_block = |block: &[Member]| -> Vec<Vec<Label>> {
            block
                .iter()
                .map(|member| labels_of(material, member))
                .collect()
        };
        let labels = in_blocks(&members, of_block).into_iter().flatten();
        Self {
            labels: labels.collect(),
            members,
        }
    }

    /// The label of a member by the stratum at a position.
    pub(super) fn get(&self, member: &Member, position: usize) -> Label {
        let found = self.members.binary_search(member).ok();
        found
            .and_then(|found| self.labels.get(found)?.get(position).cloned())
            .unwrap_or_else(Label::not_recorded)
    }
}

fn labels_of(material: &Material<'_>, member: &Member) -> Vec<Label> {
    let person = usize::try_from(member.cluster.0)
        .ok()
        .and_then(|position| material.people.get(position));
    let Some(person) = person else {
        return vec![Label::not_recorded(); material.strata.len()];
    };
    let reading = person.reading_at(&material.study().view(member.day, 0));
    let own = Own {
        material,
        member,
        person,
        reading: &reading,
    };
    material
        .strata
        .iter()
        .map(|by| match by {
            SplitBy::Field(field) => own.label(*field),
            SplitBy::Named(name) => own.named(name),
        })
        .collect()
}

/// One member and what was known then.
struct Own<'a> {
    material: &'a Material<'a>,
    member: &'a Member,
    person: &'a PersonOutcomes<'a>,
    reading: &'a Reading<'a>,
}

impl Own<'_> {
    fn label(&self, field: Stratifier) -> Label {
        let patient = self.person.person.patient;
        let label = match field {
            Stratifier::Site => self.of_visit(|visit| visit.clinic_site),
            Stratifier::Clinician => self.of_visit(|visit| visit.clinician),
            Stratifier::ClinicianRole => self.of_visit(|visit| visit.clinician_role),
            Stratifier::Setting => self
                .visits_of_day()
                .iter()
                .find_map(|visit| visit.setting)
                .map(|setting| Label::nth(setting as usize, setting.code())),
            Stratifier::Tier => self.tier(),
            Stratifier::Severity => self.severity(),
            Stratifier::Sex => patient.sex.map(|sex| Label::nth(sex as usize, sex.code())),
            Stratifier::AgeBand => self.age_band(),
            Stratifier::DiabetesType => patient
                .diabetes_type
                .map(|kind| Label::nth(kind as usize, kind.code())),
            Stratifier::RenalReplacement => patient
                .renal_replacement
                .filter(|answer| answer.at.date <= self.member.day)
                .map(|answer| yes_no(answer.is_yes, "renal replacement")),
            Stratifier::Smoking => patient.smoker.map(|is_yes| yes_no(is_yes, "smoker")),
            Stratifier::ReferralSource => patient.referral_source.map(|name| self.name(name)),
            Stratifier::Foot => self
                .member
                .place
                .map(|place| Label::nth(place.side as usize, place.side.code())),
            Stratifier::Region => self
                .ulcer()
                .and_then(|ulcer| ulcer.site)
                .map(|site| Label::nth(place_in(Region::ALL, site.region), site.region.code())),
            Stratifier::Surface => self
                .ulcer()
                .and_then(|ulcer| ulcer.site?.aspect)
                .map(|aspect| Label::nth(place_in(Aspect::ALL, aspect), aspect.code())),
            Stratifier::Depth => self
                .ulcer()
                .and_then(|ulcer| self.presentation(ulcer).depth)
                .map(|depth| Label::nth(place_in(TissueDepth::ALL, depth), depth.code())),
            Stratifier::Infection => self.infection(),
        };
        label.unwrap_or_else(Label::not_recorded)
    }

    fn named(&self, name: &str) -> Label {
        let names = &self.material.tables.names;
        let strata = &self.person.person.patient.strata;
        strata
            .iter()
            .find(|(stratum, _)| names.get(*stratum) == name)
            .map_or_else(Label::not_recorded, |(_, value)| self.name(*value))
    }

    fn name(&self, name: NameId) -> Label {
        Label::name(self.material.tables.names.get(name))
    }

    /// Kept visits of the day; where there was none, those of the newest day before.
    fn visits_of_day(&self) -> Vec<&Visit> {
        let by_then = self.person.person.up_to(self.member.day).visits.iter();
        let kept: Vec<&Visit> = by_then
            .filter(|visit| visit.attendance == Attendance::Kept)
            .collect();
        let newest = kept.last().map(|visit| visit.date);
        kept.into_iter()
            .filter(|visit| Some(visit.date) == newest)
            .collect()
    }

    fn of_visit(&self, pick: fn(&Visit) -> Option<NameId>) -> Option<Label> {
        let named = self.visits_of_day().into_iter().find_map(pick);
        named.map(|name| self.name(name))
    }

    fn tier(&self) -> Option<Label> {
        let record = self.reading.tier_on(self.member.day, self.material.rules)?;
        Some(match record.tier.known() {
            Some(tier) => Label::nth(usize::from(tier), format!("tier {tier}")),
            None => Label::not_gradable(),
        })
    }

    fn severity(&self) -> Option<Label> {
        let scores = self.ulcers().into_iter();
        let scores: Vec<_> = scores
            .map(|ulcer| self.presentation(ulcer).sinbad)
            .collect();
        if scores.is_empty() {
            return Some(Label::nth(2, "no open ulcer"));
        }
        // One severe ulcer is enough; all must be known to be less for "less".
        let is_severe: Vec<Option<bool>> = scores
            .iter()
            .map(|score| score.at_least(SEVERE_FROM))
            .collect();
        Some(match any_of(&is_severe) {
            Some(false) => Label::nth(0, "SINBAD 0 to 2"),
            Some(true) => Label::nth(1, "SINBAD 3 to 6"),
            None => Label::not_gradable(),
        })
    }

    fn infection(&self) -> Option<Label> {
        let grade = self.presentation(self.ulcer()?).infection;
        let known = grade.known().map(usize::from);
        let named = known.and_then(|grade| Some((grade, InfectionGrade::ALL.get(grade)?)));
        Some(match named {
            Some((0, _)) => Label::nth(0, "not infected"),
            Some((grade, infection)) => Label::nth(grade, infection.code()),
            None => Label::not_gradable(),
        })
    }

    fn age_band(&self) -> Option<Label> {
        let patient = self.person.person.patient;
        if patient.is_90_or_over {
            return AGE_BANDS.last().map(|(_, words)| Label::nth(3, *words));
        }
        let age = self.member.day.year() - patient.birth_year?;
        let position = AGE_BANDS.iter().position(|(last, _)| age <= *last)?;
        Some(Label::nth(position, AGE_BANDS.get(position)?.1))
    }

    fn presentation(&self, ulcer: &Episode) -> crate::derive::Presentation {
        self.reading.presentation(ulcer, self.material.rules)
    }

    /// The ulcer counted.
    fn ulcer(&self) -> Option<&Episode> {
        let place = self.member.place?;
        let label = place.label?;
        self.reading.episodes.iter().find(|ulcer| {
            (ulcer.side, ulcer.label) == (place.side, label) && ulcer.index.date == self.member.day
        })
    }

    /// The ulcer counted, or the ulcers open on the day on the leg or the feet counted.
    fn ulcers(&self) -> Vec<&Episode> {
        let rules = self.material.rules;
        if let Some(ulcer) = self.ulcer() {
            return vec![ulcer];
        }
        let day = self.member.day;
        let is_of = |ulcer: &&Episode| {
            !ulcer.is_post_surgical
                && ulcer.index.date <= day
                && self
                    .member
                    .place
                    .is_none_or(|place| place.side == ulcer.side)
                && ulcer.is_open_on(day, ulcer.resolved(), rules)
        };
        self.reading.episodes.iter().filter(is_of).collect()
    }
}

fn yes_no(is_yes: bool, what: &str) -> Label {
    if is_yes {
        Label::nth(0, what)
    } else {
        Label::nth(1, format!("no {what}"))
    }
}

fn place_in<T: PartialEq>(all: &[T], one: T) -> usize {
    all.iter().position(|known| *known == one).unwrap_or(0)
}
