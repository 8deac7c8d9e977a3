//! The wide export: one row a visit, ulcers side by side, in the clinic's own codes and units.

mod cells;
mod columns;
pub(crate) mod typing;
pub(crate) mod upgrade;

pub(crate) use cells::Cells;
use cells::Pen;
pub(crate) use columns::N_ULCER_SLOTS;
pub use columns::{Column, codebook, wide_columns};

use crate::chance::Chance;
use crate::naming::{date, label};
use crate::patient::Patient;
use crate::record::{Event, Foot, Row, Ulcer};
use crate::recording::{BirthYear, PriorAmputation};
use crate::scenario::Scenario;
use crate::words::{Attendance, SITES, Side};

/// Fills the cells of one row.
pub(crate) fn fill(
    cells: &mut Cells,
    patient: &Patient,
    row: &Row,
    scenario: &Scenario,
    chance: &mut Chance,
) {
    cells.restart();
    let mut pen = Pen {
        cells,
        typing: &scenario.typing,
        chance,
    };
    write_facts(&mut pen, patient, scenario);
    write_visit(&mut pen, patient, row, scenario);
    for foot in &row.feet {
        write_foot(&mut pen, foot.as_ref());
    }
    for slot in 0..N_ULCER_SLOTS {
        write_ulcer(&mut pen, row.ulcers.get(slot), scenario);
    }
    for slot in 0..columns::N_EVENT_SLOTS {
        write_event(&mut pen, row.events.get(slot), scenario);
    }
}

fn write_facts(pen: &mut Pen<'_>, patient: &Patient, scenario: &Scenario) {
    let facts = &patient.facts;
    pen.cells.text(&patient.person.id);
    match facts.birth_year {
        Some(BirthYear::Year(year)) => pen.cells.number(f64::from(year)),
        Some(BirthYear::NinetyOrOver) => pen.cells.text("90+"),
        None => pen.missing(),
    }
    pen.code(facts.sex.map(|sex| sex.clinic()));
    pen.code(facts.diabetes.map(|diabetes| diabetes.clinic()));
    pen.number(facts.diabetes_year.map(f64::from));
    pen.code(facts.referral_source.map(|source| source.clinic()));
    pen.date(facts.first_contact_day.map(|day| date(scenario, day)));
    pen.yes_no(facts.is_on_renal_replacement);
    pen.code(facts.smoking.map(|smoking| smoking.clinic()));
    pen.yes_no(facts.had_ulcer);
    for answer in facts.prior_amputations {
        pen.code(answer.map(|answer| match answer {
            PriorAmputation::Never => "N",
            PriorAmputation::Had(level) => level.clinic(),
        }));
    }
    for day in [facts.death_day, facts.last_contact_day] {
        match day {
            Some(day) => pen.cells.date(date(scenario, day)),
            None => pen.cells.skip(1),
        }
    }
}

fn write_visit(pen: &mut Pen<'_>, patient: &Patient, row: &Row, scenario: &Scenario) {
    let is_visit = row.attendance == Attendance::Kept;
    pen.cells.date(date(scenario, row.day));
    pen.cells.text(
        scenario
            .clinics
            .get(patient.person.clinic)
            .map_or("", String::as_str),
    );
    if is_visit {
        pen.cells.text(&patient.clinician_key(row, scenario));
        pen.cells.text(row.role.clinic());
        pen.cells.text(row.setting.clinic());
    } else {
        pen.cells.skip(3);
    }
    pen.cells.text(row.attendance.clinic());
    match row.next_day {
        Some(day) => pen.cells.date(date(scenario, day)),
        None => pen.cells.skip(1),
    }
    match row.hba1c_mmol {
        Some(value) => pen.cells.number(value),
        None => pen.cells.skip(1),
    }
    if is_visit {
        let room = pen
            .chance
            .pick([("R1", 1.0), ("R2", 1.0), ("R3", 1.0), ("R4", 1.0)]);
        pen.cells.text(room);
        let minutes = pen.chance.pick([("30", 0.6), ("20", 0.25), ("45", 0.15)]);
        pen.cells.text(minutes);
    } else {
        pen.cells.skip(2);
    }
}

fn write_foot(pen: &mut Pen<'_>, foot: Option<&Foot>) {
    let Some(foot) = foot else {
        pen.cells.skip(columns::n_foot_columns());
        return;
    };
    pen.code(foot.sensation.map(|sensation| sensation.clinic()));
    pen.code(foot.pulses.map(|pulses| pulses.clinic()));
    // Not done at every examination, so a blank is the usual thing here and no gap.
    let blank_or = |pen: &mut Pen<'_>, value: Option<f64>| match value {
        Some(value) => pen.cells.number(value),
        None => pen.cells.skip(1),
    };
    match foot.waveform {
        Some(waveform) => pen.cells.text(waveform.clinic()),
        None => pen.cells.skip(1),
    }
    for value in [
        foot.ankle_mmhg,
        foot.brachial_mmhg,
        foot.toe_mmhg,
        foot.abi,
        foot.tbi,
        foot.tcpo2_mmhg,
    ] {
        blank_or(pen, value);
    }
    pen.yes_no(foot.deformity);
    pen.yes_no(foot.charcot);
    blank_or(pen, foot.worn_size);
    blank_or(pen, foot.measured_size);
    pen.yes_no(foot.shoe_suitable);
}

fn write_ulcer(pen: &mut Pen<'_>, ulcer: Option<&Ulcer>, scenario: &Scenario) {
    let Some(ulcer) = ulcer else {
        pen.cells.skip(columns::n_ulcer_columns());
        return;
    };
    let label_or_blank = |pen: &mut Pen<'_>, position: Option<usize>| match position {
        Some(position) => pen.cells.text(&label(position)),
        None => pen.cells.skip(1),
    };
    label_or_blank(pen, Some(ulcer.label));
    pen.cells.text(ulcer.side.clinic());
    pen.cells.text(SITES[ulcer.site].clinic);
    let is_examined = ulcer.is_examined;
    // A closed lesion, or one not examined, has no measurements to be missing.
    macro_rules! when_examined {
        ($write:expr) => {
            if is_examined {
                $write
            } else {
                pen.cells.skip(1)
            }
        };
    }
    match ulcer.precision {
        Some(precision) => {
            pen.date(ulcer.onset_day.map(|day| date(scenario, day)));
            pen.cells.text(if ulcer.onset_day.is_some() {
                precision.clinic()
            } else {
                ""
            });
        }
        None => pen.cells.skip(2),
    }
    pen.code(ulcer.origin.map(|origin| origin.clinic()));
    label_or_blank(pen, ulcer.parent);
    label_or_blank(pen, ulcer.merged_into);
    when_examined!(pen.number(ulcer.length_mm));
    when_examined!(pen.number(ulcer.width_mm));
    when_examined!(pen.number(ulcer.depth_mm));
    match ulcer.area_cm2 {
        Some(area) => pen.cells.number(area),
        None => pen.cells.skip(1),
    }
    when_examined!(pen.yes_no(ulcer.after_debridement));
    when_examined!(pen.code(ulcer.tissue.map(|tissue| tissue.clinic())));
    when_examined!(pen.code(ulcer.gangrene.map(|gangrene| gangrene.clinic())));
    when_examined!(pen.code(ulcer.infection.map(|infection| infection.clinic())));
    for answer in [ulcer.probe_to_bone, ulcer.osteomyelitis] {
        match answer {
            Some(_) => pen.yes_no(answer),
            None => pen.cells.skip(1),
        }
    }
    pen.code(ulcer.state.map(|state| state.clinic()));
    pen.cells.text(ulcer.seen_by.clinic());
    for answer in [
        ulcer.debrided,
        ulcer.cultured,
        ulcer.antibiotic,
        ulcer.offloading_prescribed,
        ulcer.offloading_dispensed,
        ulcer.dressing_on_arrival,
    ] {
        when_examined!(pen.yes_no(answer));
    }
    when_examined!(pen.code(ulcer.dressing_carer.map(|carer| carer.clinic())));
}

fn write_event(pen: &mut Pen<'_>, event: Option<&Event>, scenario: &Scenario) {
    let Some(event) = event else {
        pen.cells.skip(columns::n_event_columns());
        return;
    };
    pen.cells.text(event.kind.clinic());
    pen.cells.date(date(scenario, event.day));
    pen.cells.text(event.side.map_or("", Side::clinic));
    pen.cells
        .text(event.kind.level().map_or("", |level| level.clinic()));
    pen.cells
        .text(event.height.map_or("", |height| height.clinic()));
    match event.label {
        Some(position) => pen.cells.text(&label(position)),
        None => pen.cells.skip(1),
    }
    pen.cells.text(if event.is_staged { "Y" } else { "" });
}
