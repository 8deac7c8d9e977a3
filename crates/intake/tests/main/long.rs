//! Five files in our own spelling.

use crate::support::{day, lines, shipped_layout};
use intake::{Input, Loaded, Role, load};
use outcomes::tables::EventKind;

const PATIENTS: &str = "\
patient,recorded_date,referral_source,first_contact,birth_year,sex,diabetes_type,diabetes_year,renal_replacement,smoker,prior_ulcer,prior_amputation_left,prior_amputation_right,death_date,last_contact
TW-00001,2024-02-01,self,2024-01-20,90+,male,type-2,1999,no,yes,yes,minor,no,2025-06-01,2025-05-20
TW-00002,,,,1950,female,,,,,no,no,no,,
";
const VISITS: &str = "\
patient,date,clinic_site,clinician,clinician_role,setting,attendance,planned_return,hba1c_percent
TW-00001,2024-02-01,Quay,C1,podiatrist,clinic,kept,2024-02-15,8.1
TW-00001,2024-02-15,Quay,,,,missed,,
TW-00001,2025-06-02,Quay,C1,podiatrist,clinic,kept,,
";
const FOOT_EXAMS: &str = "\
patient,date,side,sensation,pulses,waveform,ankle_mmhg,brachial_mmhg,toe_mmhg,abi,tbi,tcpo2_mmhg,deformity,charcot,worn_size,measured_size,footwear_suitable
TW-00001,2024-02-01,left,lost,absent,monophasic,70,140,38,0.5,0.27,,yes,no,9,9.5,no
TW-00001,2024-02-01,,lost,absent,,,,,,,,,,,,
";
const ULCERS: &str = "\
patient,date,side,label,site,onset,onset_precision,origin,parent,merged_into,length_cm,width_cm,depth_cm,area_cm2,is_after_debridement,tissue_depth,gangrene,infection,probe_to_bone,osteomyelitis,state,seen_by,debrided,cultured,antibiotic,offloading_prescribed,offloading_dispensed,dressing_on_arrival,dressing_carer
TW-00001,2024-02-01,left,A,toe-1-plantar,2024-01-17,month,new,,,1.2,0.8,0.3,,no,subcutaneous,none,mild,no,no,open,clinician,yes,no,no,yes,no,yes,family
TW-00001,2024-02-01,left,,toe-2,,,,,,,,,,,,,,,,open,clinician,,,,,,,
";
const EVENTS: &str = "\
patient,date,kind,side,ulcer_label,is_staged,height
TW-00001,2024-03-01,minor-amputation,left,A,no,toe
TW-00001,2026-03-01,minor-amputation,left,A,no,toe
TW-00001,2024-04-01,,left,,,
TW-00003,2024-05-01,death,,,no,
";

fn loaded() -> Loaded {
    let files = [
        ("events.csv", Role::Events, EVENTS),
        ("ulcers.csv", Role::UlcerObservations, ULCERS),
        ("exams.csv", Role::FootExams, FOOT_EXAMS),
        ("visits.csv", Role::Visits, VISITS),
        ("patients.csv", Role::Patients, PATIENTS),
    ];
    let kept: Vec<_> = files
        .iter()
        .map(|(_, _, text)| crate::support::TestFile::new(text.as_bytes()))
        .collect();
    let inputs: Vec<Input> = files
        .iter()
        .zip(&kept)
        .map(|((name, role, _), file)| Input {
            name: (*name).to_owned(),
            path: file.path.clone(),
            role: Some(*role),
            joined: None,
            exported: None,
        })
        .collect();
    load(
        &inputs,
        &shipped_layout("tarnwick-long.toml"),
        &crate::support::horizon(),
        &|_| (),
    )
    .unwrap()
}

#[test]
fn files_are_read_persons_first_whatever_their_order() {
    let names: Vec<String> = loaded()
        .tables
        .files
        .iter()
        .map(|file| file.name.clone())
        .collect();
    assert_eq!(
        names,
        [
            "patients.csv",
            "visits.csv",
            "exams.csv",
            "ulcers.csv",
            "events.csv"
        ]
    );
}

#[test]
fn each_file_fills_its_table() {
    let loaded = loaded();
    let tables = &loaded.tables;
    let patient = &tables.patients[0];
    assert!(patient.is_90_or_over && patient.birth_year.is_none());
    assert_eq!(patient.prior_ulcer.unwrap().date, day("2024-02-01"));
    assert_eq!(patient.prior_amputations.len(), 1);
    assert!(tables.patients[1].prior_amputation_denied.is_some());
    assert!(tables.patients[1].prior_ulcer_denied.is_some());
    assert_eq!(tables.patients[2].death.unwrap().date, day("2024-05-01"));
    assert_eq!(tables.visits.len(), 2);
    assert_eq!(tables.foot_exams[0].toe_mmhg, Some(38.0));
    let ulcer = &tables.ulcer_observations[0];
    assert_eq!(ulcer.onset.unwrap().dated.date, day("2024-01-01"));
    assert_eq!(
        tables
            .events
            .iter()
            .map(|event| event.kind)
            .collect::<Vec<_>>(),
        [EventKind::MinorAmputation, EventKind::Death]
    );
}

#[test]
fn a_row_that_cannot_be_used_is_set_aside_in_its_own_file() {
    let loaded = loaded();
    let accounts: Vec<String> = loaded
        .accounts
        .iter()
        .map(|account| {
            assert!(account.is_balanced());
            format!(
                "{} {}/{} {:?}",
                account.file, account.n_used, account.n_read, account.set_aside
            )
        })
        .collect();
    assert_eq!(
        accounts,
        [
            "patients.csv 2/2 []",
            "visits.csv 2/3 [(\"visit-after-death\", 1)]",
            "exams.csv 1/2 [(\"no-side\", 1)]",
            "ulcers.csv 1/2 [(\"no-ulcer-label\", 1)]",
            "events.csv 2/4 [(\"event-after-data-cut-off\", 1), (\"no-event-kind\", 1)]",
        ]
    );
    assert_eq!(
        lines(&loaded)
            .iter()
            .filter(|line| line.starts_with("set-aside"))
            .count(),
        5
    );
}

#[test]
fn a_file_must_say_which_table_it_holds() {
    let file = crate::support::TestFile::new(VISITS.as_bytes());
    let input = Input {
        name: "visits.csv".to_owned(),
        path: file.path.clone(),
        role: None,
        joined: None,
        exported: None,
    };
    let error = load(
        &[input],
        &shipped_layout("tarnwick-long.toml"),
        &crate::support::horizon(),
        &|_| (),
    )
    .unwrap_err();
    assert_eq!(
        error.to_string(),
        "visits.csv: say which of the layout's files this is"
    );
    assert_eq!(
        error.hint().unwrap(),
        "roles of this layout: patients, visits, foot-exams, ulcer-observations, events"
    );
}
