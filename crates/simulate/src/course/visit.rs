//! What a visit sees, and what is written down of it.

use super::Course;
use super::state::{Lesion, Status};
use crate::record::{Foot, Row, Ulcer, two_decimals};
use crate::triggers::signs;
use crate::words::{
    Attendance, Carer, Gangrene, Infection, Kind, Pulses, Role, SITES, SeenBy, SeenState,
    Sensation, Setting, Side, Tissue,
};

/// A site seen open again this soon after it was last written down keeps its label; so does one still followed up.
const LABEL_KEPT_DAYS: i32 = 56;
/// Visits at which a closed lesion is still written down.
const N_CLOSED_RECORDS: u32 = 3;
/// Ulcers that have room in one row.
const N_SLOTS: usize = 4;

impl Course<'_> {
    /// A kept visit: writes down what is there to be seen, and plans the next.
    pub(crate) fn visit(&mut self) {
        let visits = &self.scenario.visits;
        let is_first = self.rows.is_empty();
        let mut setting = self.chance.pick([
            (Setting::Home, visits.share_home),
            (Setting::Remote, visits.share_remote),
            (
                Setting::Clinic,
                (1.0 - visits.share_home - visits.share_remote).max(0.0),
            ),
        ]);
        if is_first {
            setting = Setting::Clinic;
        }
        let mut row = Row::empty(self.today(), Attendance::Kept, self.clinician_of_the_day());
        row.setting = setting;
        row.role = match setting == Setting::Home && self.chance.happens(0.5) {
            true => Role::Nurse,
            false => Role::Podiatrist,
        };
        let seen_by = match setting {
            Setting::Remote => self
                .chance
                .pick([(SeenBy::Patient, 0.6), (SeenBy::Photograph, 0.4)]),
            _ => SeenBy::Clinician,
        };
        let has_new_ulcer = self
            .lesions
            .iter()
            .any(|lesion| lesion.is_open() && lesion.label.is_none());
        row.ulcers = self.see_ulcers(seen_by);
        let exam_gap = self.scenario.visits.exam_gap_days - 10;
        let is_due = self
            .last_exam_day
            .is_none_or(|day| row.day - day >= exam_gap);
        if setting != Setting::Remote && (is_due || has_new_ulcer) {
            self.last_exam_day = Some(row.day);
            row.feet = [self.examine(Side::Left), self.examine(Side::Right)];
            row.hba1c_mmol =
                Some((self.person.hba1c_mmol + 4.0 * self.chance.normal()).clamp(30.0, 140.0));
        }
        self.act_on_signs(&row);
        let gap = self.next_gap_days();
        row.next_day = Some(self.plan_visit(gap));
        self.rows.push(row);
    }

    fn clinician_of_the_day(&mut self) -> u32 {
        let n = self.scenario.n_clinicians_per_clinic.max(1);
        match self.chance.happens(0.2) {
            true => u32::try_from(self.chance.whole(1, i32::try_from(n).unwrap_or(1))).unwrap_or(1),
            false => self.person.clinician,
        }
    }

    fn see_ulcers(&mut self, seen_by: SeenBy) -> Vec<Ulcer> {
        let today = self.today();
        let mut seen: Vec<(usize, SeenState)> = (0..self.lesions.len())
            .filter_map(|position| Some((position, seen_state(&self.lesions[position])?)))
            .collect();
        // What is open has room before what is only being followed up.
        seen.sort_by_key(|(_, state)| *state == SeenState::Closed);
        seen.truncate(N_SLOTS);
        for (position, _) in &seen {
            self.give_label(*position, today);
        }
        // A site that opened again under the letter of the lesion before it has one entry, not two.
        seen.retain(|(position, state)| {
            *state != SeenState::Closed
                || self.lesions[*position].n_closed_records < N_CLOSED_RECORDS
        });
        let mut ulcers: Vec<Ulcer> = Vec::with_capacity(seen.len());
        for (position, state) in seen {
            let ulcer = self.see_ulcer(position, state, seen_by);
            let lesion = &mut self.lesions[position];
            lesion.n_records += 1;
            lesion.last_record_day = today;
            match state {
                SeenState::Closed if seen_by == SeenBy::Clinician => lesion.n_closed_records += 1,
                SeenState::Excised => lesion.is_end_recorded = true,
                _ => lesion.is_end_recorded |= lesion.status == Status::Merged,
            }
            ulcers.push(ulcer);
        }
        ulcers.sort_by_key(|ulcer| ulcer.label);
        ulcers
    }

    /// A lesion seen for the first time gets a label, or that of the lesion that was at its site a short while ago.
    fn give_label(&mut self, position: usize, today: i32) {
        let lesion = &self.lesions[position];
        if lesion.label.is_some() {
            return;
        }
        let predecessor = self.lesions[..position].iter().rposition(|earlier| {
            earlier.side == lesion.side
                && earlier.site == lesion.site
                && earlier.status == Status::Closed
                && lesion.parent.is_none() == earlier.parent.is_none()
                && earlier.label.is_some()
                && (today - earlier.last_record_day <= LABEL_KEPT_DAYS
                    || earlier.n_closed_records < N_CLOSED_RECORDS)
        });
        let label = match predecessor {
            Some(earlier) => {
                self.lesions[earlier].n_closed_records = N_CLOSED_RECORDS;
                self.lesions[earlier].label
            }
            None => {
                self.n_labels += 1;
                Some(self.n_labels - 1)
            }
        };
        self.lesions[position].label = label;
    }

    fn see_ulcer(&mut self, position: usize, state: SeenState, seen_by: SeenBy) -> Ulcer {
        let is_first = self.lesions[position].n_records == 0;
        let is_open = state == SeenState::Open;
        let is_examined = is_open && seen_by == SeenBy::Clinician;
        let is_debrided = self.chance.happens(0.6);
        let is_measured_after = self.chance.happens(0.8);
        let is_offloaded = self.chance.happens(0.85);
        let is_dispensed = self.chance.happens(0.8);
        let is_cultured = self.chance.happens(0.55);
        let has_dressing = self.chance.happens(0.92);
        let is_area_traced = self.chance.happens(0.06);
        let carer = self.chance.pick([
            (Carer::HomeNurse, 0.4),
            (Carer::Patient, 0.25),
            (Carer::Family, 0.2),
            (Carer::Clinic, 0.15),
        ]);
        let lesion = &self.lesions[position];
        let label_of =
            |position: Option<usize>| position.and_then(|position| self.lesions[position].label);
        let area = lesion.area_cm2().max(0.02);
        let length_mm = 10.0 * libm::sqrt(area * lesion.stretch * 4.0 / std::f64::consts::PI);
        let left = area / lesion.start_area_cm2;
        let is_infected = lesion.infection != Infection::Uninfected;
        let is_plantar = SITES[lesion.site].is_plantar();
        let ulcer = Ulcer {
            lesion: position,
            label: lesion.label.unwrap_or(0),
            side: lesion.side,
            site: lesion.site,
            is_examined,
            onset_day: is_open.then_some(lesion.told_onset_day),
            precision: is_open.then_some(lesion.precision),
            origin: Some(lesion.origin),
            parent: label_of(lesion.parent),
            merged_into: label_of(lesion.merged_into),
            length_mm: is_examined.then_some(length_mm),
            width_mm: is_examined.then_some(length_mm / lesion.stretch),
            depth_mm: is_examined.then(|| (depth_mm(lesion.tissue) * libm::sqrt(left)).max(1.0)),
            area_cm2: (is_examined && is_area_traced).then_some(area),
            after_debridement: is_examined.then_some(is_debrided && is_measured_after),
            tissue: is_examined.then_some(lesion.tissue),
            gangrene: is_examined.then_some(lesion.gangrene),
            infection: is_examined.then_some(lesion.infection),
            probe_to_bone: (is_examined && lesion.is_deep())
                .then_some(lesion.tissue == Tissue::BoneOrJoint),
            osteomyelitis: (is_examined && lesion.is_deep()).then_some(lesion.has_osteomyelitis),
            state: Some(state),
            seen_by,
            debrided: is_examined.then_some(is_debrided),
            cultured: is_examined.then_some(is_infected && is_cultured),
            antibiotic: is_examined.then_some(is_infected),
            offloading_prescribed: is_examined.then_some(is_plantar && is_offloaded),
            offloading_dispensed: is_examined.then_some(is_plantar && is_offloaded && is_dispensed),
            dressing_on_arrival: is_examined.then_some(has_dressing),
            dressing_carer: is_examined.then_some(carer),
        };
        if is_first && ulcer.offloading_dispensed == Some(true) {
            self.note(Kind::OffloadingSupplied, ulcer.side, self.now, self.now);
        }
        ulcer
    }

    /// Examines a foot that is there; pressures only where an ulcer gives reason.
    fn examine(&mut self, side: Side) -> Option<Foot> {
        let has_ulcer = self
            .lesions
            .iter()
            .any(|lesion| lesion.side == side && lesion.is_open() && lesion.label.is_some());
        let does_doppler = self.chance.happens(if has_ulcer { 0.6 } else { 0.2 });
        let does_pressures = self.chance.happens(self.scenario.visits.share_pressures);
        let does_oxygen = self.chance.happens(0.1);
        let does_measure_shoe = self.chance.happens(0.45);
        let notes_screen = self.chance.happens(0.3);
        let supplies_shoe = self.chance.happens(0.3);
        let limb = self.limb(side);
        if limb.lost.is_some() {
            return None;
        }
        let basis = self.person.limb(side);
        let flow = limb.flow;
        let worn_size = if limb.has_new_shoe {
            basis.foot_size
        } else {
            basis.worn_size
        };
        let brachial = self.person.brachial_mmhg.round();
        let ankle = flow.ankle_mmhg.round();
        let toe = flow.toe_mmhg.round();
        let does_pressures = does_pressures && has_ulcer && !limb.has_measured_pressures;
        let has_toe = !limb.has_lost_toe;
        let foot = Foot {
            sensation: Some(if basis.has_neuropathy {
                Sensation::Lost
            } else {
                Sensation::Intact
            }),
            pulses: Some(if flow.has_palpable_pulse {
                Pulses::Palpable
            } else {
                Pulses::Absent
            }),
            waveform: does_doppler.then_some(flow.waveform),
            ankle_mmhg: does_pressures.then_some(ankle),
            brachial_mmhg: does_pressures.then_some(brachial),
            toe_mmhg: (does_pressures && has_toe).then_some(toe),
            abi: does_pressures.then(|| two_decimals(ankle / brachial)),
            tbi: (does_pressures && has_toe && does_oxygen).then(|| two_decimals(toe / brachial)),
            tcpo2_mmhg: (does_pressures && does_oxygen).then_some(flow.tcpo2_mmhg.round()),
            deformity: Some(basis.has_deformity),
            charcot: Some(basis.has_charcot),
            worn_size: does_measure_shoe.then_some(worn_size),
            measured_size: does_measure_shoe.then_some(basis.foot_size),
            shoe_suitable: Some((worn_size - basis.foot_size).abs() < 0.5),
        };
        if does_pressures {
            self.limb_mut(side).has_measured_pressures = true;
        }
        if does_doppler && has_ulcer && notes_screen {
            self.note(Kind::BedsideScreen, side, self.now, self.now);
        }
        if foot.shoe_suitable == Some(false) && supplies_shoe {
            self.limb_mut(side).has_new_shoe = true;
            self.note(Kind::FootwearSupplied, side, self.now, self.now);
        }
        Some(foot)
    }

    fn act_on_signs(&mut self, row: &Row) {
        for (side, foot) in Side::ALL.into_iter().zip(&row.feet) {
            let open = row
                .ulcers
                .iter()
                .filter(|ulcer| ulcer.side == side && ulcer.state == Some(SeenState::Open));
            if open.clone().next().is_some() {
                let gangrene = open.filter_map(|ulcer| ulcer.gangrene).max();
                if signs(foot.as_ref(), gangrene.or(Some(Gangrene::Absent))).any() {
                    self.open_pathway(side);
                }
            }
        }
    }
}

/// How a lesion is written down at a visit, if at all.
fn seen_state(lesion: &Lesion) -> Option<SeenState> {
    let is_known = lesion.label.is_some();
    match lesion.status {
        Status::PreUlcerative => Some(SeenState::PreUlcerative),
        Status::Open => Some(SeenState::Open),
        Status::Closed if is_known && lesion.n_closed_records < N_CLOSED_RECORDS => {
            Some(SeenState::Closed)
        }
        Status::Excised if is_known && !lesion.is_end_recorded => Some(SeenState::Excised),
        Status::Merged if is_known && !lesion.is_end_recorded => Some(SeenState::Open),
        _ => None,
    }
}

/// Depth of a fresh ulcer, mm; invented.
fn depth_mm(tissue: Tissue) -> f64 {
    match tissue {
        Tissue::Skin => 1.5,
        Tissue::Subcutaneous => 4.0,
        Tissue::TendonOrMuscle => 7.0,
        Tissue::BoneOrJoint => 11.0,
    }
}
