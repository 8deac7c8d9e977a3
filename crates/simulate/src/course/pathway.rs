//! From a vascular trigger to referral and revascularisation.

use super::state::Happening;
use super::{Course, Planned};
use crate::naming::visible_day;
use crate::person::{ArterialDisease, flow};
use crate::words::{Kind, Side};

impl Course<'_> {
    /// A visit has seen a trigger on a limb with an open ulcer: decides when, if ever, it is referred.
    pub(crate) fn open_pathway(&mut self, side: Side) {
        if self.limb(side).is_pathway_open {
            return;
        }
        self.limb_mut(side).is_pathway_open = true;
        let pathway = &self.scenario.pathway;
        let way = self.chance.uniform();
        let late_days = self.chance.exponential(pathway.mean_late_days);
        let early_days = self.chance.between(1.0, 60.0);
        if way < pathway.share_before {
            self.refer(side, self.now - early_days);
        } else if way < pathway.share_before + pathway.share_same_day {
            self.refer(side, self.now);
        } else if way < pathway.share_before + pathway.share_same_day + pathway.share_late {
            self.agenda
                .push((self.now + late_days, Planned::Referral(side)));
        }
    }

    /// A referral made at this moment, which may lie before today when somebody else made it.
    pub(crate) fn refer(&mut self, side: Side, moment: f64) {
        if self.limb(side).lost.is_some() {
            return;
        }
        let told = self.now;
        self.note(Kind::VascularReferral, side, moment, told);
        let pathway = &self.scenario.pathway;
        let seen = self.now + self.chance.exponential(pathway.mean_seen_days);
        let study = self.now + self.chance.exponential(pathway.mean_study_days);
        self.agenda.push((seen, Planned::VascularSeen(side)));
        if self.chance.happens(0.6) {
            self.agenda.push((study, Planned::Study(side)));
        }
    }

    pub(crate) fn seen_by_vascular_service(&mut self, side: Side) {
        self.hospital_step(Kind::VascularSeen, side);
        let imaging = self.now
            + self
                .chance
                .exponential(self.scenario.pathway.mean_imaging_days);
        self.agenda.push((imaging, Planned::Imaging(side)));
    }

    pub(crate) fn image(&mut self, side: Side) {
        self.hospital_step(Kind::VascularImaging, side);
        let pathway = &self.scenario.pathway;
        let wait = self.chance.exponential(pathway.mean_revascularisation_days);
        let is_operable = self.limb(side).arterial >= ArterialDisease::Moderate;
        if self.chance.happens(pathway.share_revascularised) && is_operable {
            self.agenda
                .push((self.now + wait, Planned::Revascularisation(side)));
        }
    }

    /// Opens the arteries: flow is that of mild disease from now on, and so is healing.
    pub(crate) fn revascularise(&mut self, side: Side) {
        if self.limb(side).lost.is_some() {
            return;
        }
        self.hospital_step(Kind::Revascularisation, side);
        let is_calcified = self.person.limb(side).is_calcified;
        let flow = flow(
            ArterialDisease::Mild,
            is_calcified,
            self.person.brachial_mmhg,
            &mut self.chance,
        );
        let limb = self.limb_mut(side);
        limb.flow = flow;
        limb.arterial = ArterialDisease::Mild;
        limb.is_revascularised = true;
        limb.has_measured_pressures = false;
    }

    /// Something done elsewhere, told by letter.
    pub(crate) fn hospital_step(&mut self, kind: Kind, side: Side) {
        if self.limb(side).lost.is_some() {
            return;
        }
        let letter = self.chance.between(2.0, 12.0);
        self.note(kind, side, self.now, self.now + letter);
    }

    pub(crate) fn note(&mut self, kind: Kind, side: Side, moment: f64, told: f64) {
        self.happenings.push(Happening {
            kind,
            day: visible_day(moment),
            side: Some(side),
            height: None,
            lesion: None,
            is_staged: false,
            told_day: Some(visible_day(told)),
        });
    }
}
