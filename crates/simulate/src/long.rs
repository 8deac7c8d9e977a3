//! The long export: five plain files in our own spelling, ISO dates and cm. It holds what the wide one was meant to hold:
//! the same measurement error and missing items, no typing mistakes. Administrative rows give their events only.

use crate::naming::{date, label};
use crate::patient::Patient;
use crate::practice::Practice;
use crate::record::{Event, Foot, Row, Ulcer};
use crate::recording::{BirthYear, PriorAmputation};
use crate::scenario::Scenario;
use crate::words::{Attendance, SITES, Side};
use std::io::{self, Write};

/// One writer or one buffer for each file of the long export.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct LongFiles<T> {
    /// One row a patient.
    pub patients: T,
    /// One row an appointment.
    pub visits: T,
    /// One row a foot and visit.
    pub foot_exams: T,
    /// One row a lesion and visit.
    pub ulcer_observations: T,
    /// One row an event.
    pub events: T,
}

const PATIENTS: &[&str] = &[
    "patient",
    "recorded_date",
    "referral_source",
    "first_contact",
    "birth_year",
    "sex",
    "diabetes_type",
    "diabetes_year",
    "renal_replacement",
    "smoker",
    "prior_ulcer",
    "prior_amputation_left",
    "prior_amputation_right",
    "death_date",
    "last_contact",
];
const VISITS: &[&str] = &[
    "patient",
    "date",
    "clinic_site",
    "clinician",
    "clinician_role",
    "setting",
    "attendance",
    "planned_return",
    "hba1c_percent",
];
const FOOT_EXAMS: &[&str] = &[
    "patient",
    "date",
    "side",
    "sensation",
    "pulses",
    "waveform",
    "ankle_mmhg",
    "brachial_mmhg",
    "toe_mmhg",
    "abi",
    "tbi",
    "tcpo2_mmhg",
    "deformity",
    "charcot",
    "worn_size",
    "measured_size",
    "footwear_suitable",
];
const ULCERS: &[&str] = &[
    "patient",
    "date",
    "side",
    "label",
    "site",
    "onset",
    "onset_precision",
    "origin",
    "parent",
    "merged_into",
    "length_cm",
    "width_cm",
    "depth_cm",
    "area_cm2",
    "is_after_debridement",
    "tissue_depth",
    "gangrene",
    "infection",
    "probe_to_bone",
    "osteomyelitis",
    "state",
    "seen_by",
    "debrided",
    "cultured",
    "antibiotic",
    "offloading_prescribed",
    "offloading_dispensed",
    "dressing_on_arrival",
    "dressing_carer",
];
const EVENTS: &[&str] = &[
    "patient",
    "date",
    "kind",
    "side",
    "ulcer_label",
    "is_staged",
    "height",
];

impl Practice {
    /// Writes the long export.
    ///
    /// # Errors
    /// Those of the writers.
    pub fn write_long<W: Write>(&self, files: LongFiles<W>) -> io::Result<()> {
        let mut files = LongFiles {
            patients: table(files.patients, PATIENTS)?,
            visits: table(files.visits, VISITS)?,
            foot_exams: table(files.foot_exams, FOOT_EXAMS)?,
            ulcer_observations: table(files.ulcer_observations, ULCERS)?,
            events: table(files.events, EVENTS)?,
        };
        let scenario = &self.scenario;
        for (_, patient) in self.patients() {
            files
                .patients
                .write_record(patient_cells(&patient, scenario))?;
            for row in &patient.rows {
                let key = [
                    patient.person.id.clone(),
                    date(scenario, row.day).to_string(),
                ];
                if row.attendance != Attendance::Administrative {
                    files.visits.write_record(
                        key.iter()
                            .cloned()
                            .chain(visit_cells(&patient, row, scenario)),
                    )?;
                }
                for (side, foot) in Side::ALL.into_iter().zip(&row.feet) {
                    if let Some(foot) = foot {
                        files
                            .foot_exams
                            .write_record(key.iter().cloned().chain(foot_cells(side, foot)))?;
                    }
                }
                for ulcer in &row.ulcers {
                    files
                        .ulcer_observations
                        .write_record(key.iter().cloned().chain(ulcer_cells(ulcer, scenario)))?;
                }
                for event in &row.events {
                    files
                        .events
                        .write_record(event_cells(&patient, event, scenario))?;
                }
            }
        }
        files.patients.flush()?;
        files.visits.flush()?;
        files.foot_exams.flush()?;
        files.ulcer_observations.flush()?;
        files.events.flush()
    }
}

fn table<W: Write>(out: W, header: &[&str]) -> io::Result<csv::Writer<W>> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(header)?;
    Ok(table)
}

fn text<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn yes_no(answer: Option<bool>) -> String {
    text(answer.map(|yes| if yes { "yes" } else { "no" }))
}

fn patient_cells(patient: &Patient, scenario: &Scenario) -> Vec<String> {
    let facts = &patient.facts;
    let day = |day: Option<i32>| text(day.map(|day| date(scenario, day)));
    let [left, right] = facts.prior_amputations.map(|answer| {
        text(answer.map(|answer| match answer {
            PriorAmputation::Never => "no",
            PriorAmputation::Had(level) => level.ours(),
        }))
    });
    vec![
        patient.person.id.clone(),
        day(patient.rows.first().map(|row| row.day)),
        text(facts.referral_source.map(|source| source.ours())),
        day(facts.first_contact_day),
        text(facts.birth_year.map(|year| match year {
            BirthYear::Year(year) => year.to_string(),
            BirthYear::NinetyOrOver => "90+".to_owned(),
        })),
        text(facts.sex.map(|sex| sex.ours())),
        text(facts.diabetes.map(|diabetes| diabetes.ours())),
        text(facts.diabetes_year),
        yes_no(facts.is_on_renal_replacement),
        text(facts.smoking.map(|smoking| smoking.ours())),
        yes_no(facts.had_ulcer),
        left,
        right,
        day(facts.death_day),
        day(facts.last_contact_day),
    ]
}

fn visit_cells(patient: &Patient, row: &Row, scenario: &Scenario) -> Vec<String> {
    let kept = row.attendance == Attendance::Kept;
    vec![
        text(scenario.clinics.get(patient.person.clinic)),
        text(kept.then(|| patient.clinician_key(row, scenario))),
        text(kept.then(|| row.role.ours())),
        text(kept.then(|| row.setting.ours())),
        row.attendance.ours().to_owned(),
        text(row.next_day.map(|day| date(scenario, day))),
        // The IFCC-NGSP master equation, from memory: percent = mmol/mol / 10.929 + 2.15.
        text(row.hba1c_mmol.map(|mmol| mmol / 10.929 + 2.15)),
    ]
}

fn foot_cells(side: Side, foot: &Foot) -> Vec<String> {
    vec![
        side.ours().to_owned(),
        text(foot.sensation.map(|sensation| sensation.ours())),
        text(foot.pulses.map(|pulses| pulses.ours())),
        text(foot.waveform.map(|waveform| waveform.ours())),
        text(foot.ankle_mmhg),
        text(foot.brachial_mmhg),
        text(foot.toe_mmhg),
        text(foot.abi),
        text(foot.tbi),
        text(foot.tcpo2_mmhg),
        yes_no(foot.deformity),
        yes_no(foot.charcot),
        text(foot.worn_size),
        text(foot.measured_size),
        yes_no(foot.shoe_suitable),
    ]
}

fn ulcer_cells(ulcer: &Ulcer, scenario: &Scenario) -> Vec<String> {
    let cm = |mm: Option<f64>| text(mm.map(|mm| mm / 10.0));
    vec![
        ulcer.side.ours().to_owned(),
        label(ulcer.label),
        SITES[ulcer.site].ours.to_owned(),
        text(ulcer.onset_day.map(|day| date(scenario, day))),
        text(
            ulcer
                .onset_day
                .and(ulcer.precision)
                .map(|precision| precision.ours()),
        ),
        text(ulcer.origin.map(|origin| origin.ours())),
        text(ulcer.parent.map(label)),
        text(ulcer.merged_into.map(label)),
        cm(ulcer.length_mm),
        cm(ulcer.width_mm),
        cm(ulcer.depth_mm),
        text(ulcer.area_cm2),
        yes_no(ulcer.after_debridement),
        text(ulcer.tissue.map(|tissue| tissue.ours())),
        text(ulcer.gangrene.map(|gangrene| gangrene.ours())),
        text(ulcer.infection.map(|infection| infection.ours())),
        yes_no(ulcer.probe_to_bone),
        yes_no(ulcer.osteomyelitis),
        text(ulcer.state.map(|state| state.ours())),
        ulcer.seen_by.ours().to_owned(),
        yes_no(ulcer.debrided),
        yes_no(ulcer.cultured),
        yes_no(ulcer.antibiotic),
        yes_no(ulcer.offloading_prescribed),
        yes_no(ulcer.offloading_dispensed),
        yes_no(ulcer.dressing_on_arrival),
        text(ulcer.dressing_carer.map(|carer| carer.ours())),
    ]
}

fn event_cells(patient: &Patient, event: &Event, scenario: &Scenario) -> Vec<String> {
    vec![
        patient.person.id.clone(),
        date(scenario, event.day).to_string(),
        event.kind.ours().to_owned(),
        text(event.side.map(|side| side.ours())),
        text(event.label.map(label)),
        yes_no(Some(event.is_staged)),
        text(event.height.map(|height| height.ours())),
    ]
}
