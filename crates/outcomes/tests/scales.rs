//! Clinical scales read from cells, as the `grade` command reads them. Cut-offs stand beside each case.

#![allow(clippy::unwrap_used, reason = "tests")]

use outcomes::grade::InfectionCriteria;
use outcomes::grade::scale::{
    Answer, Answers, GradeOptions, Graded, SCALES, Scale, find_scale, read_answer,
};

/// Grades rows of `item=cell` pairs separated by commas.
fn graded(scale: &str, rows: &[&str], options: &GradeOptions) -> Vec<Graded> {
    let scale = find_scale(scale).unwrap();
    let answers: Vec<Vec<Answer>> = rows.iter().map(|row| answers(scale, row)).collect();
    let rows: Vec<Answers<'_>> = answers
        .iter()
        .map(|answers| Answers::new(scale.items, answers))
        .collect();
    scale.grade(&rows, options)
}

fn answers(scale: &'static Scale, row: &str) -> Vec<Answer> {
    let pairs: Vec<(&str, &str)> = row
        .split(',')
        .filter_map(|pair| pair.trim().split_once('='))
        .collect();
    for (name, _) in &pairs {
        assert!(scale.items.iter().any(|item| item.name == *name), "{name}");
    }
    let cell = |name: &str| {
        pairs
            .iter()
            .find(|(known, _)| *known == name)
            .map_or("", |(_, cell)| cell)
    };
    scale
        .items
        .iter()
        .map(|item| read_answer(item, cell(item.name), 1.0).unwrap_or_else(|| panic!("{row}")))
        .collect()
}

fn one(scale: &str, row: &str) -> Graded {
    graded(scale, &[row], &GradeOptions::default()).remove(0)
}

fn shown(scale: &str, row: &str) -> String {
    one(scale, row).shown
}

/// The cell of a further column.
fn more(scale: &str, row: &str, column: &str) -> String {
    let columns = find_scale(scale).unwrap().columns;
    let place = columns
        .iter()
        .position(|known| known.name == column)
        .unwrap();
    one(scale, row).more[place].to_string()
}

#[test]
fn every_scale_answers_an_empty_row_with_not_gradable_and_fills_all_its_columns() {
    for scale in SCALES {
        let empty = one(scale.id, "");
        assert_eq!(empty.shown, "not gradable", "{}", scale.id);
        assert_eq!(empty.more.len(), scale.columns.len(), "{}", scale.id);
        assert!(!scale.source.is_empty() && !scale.caution.is_empty());
        let mut names: Vec<&str> = scale
            .items
            .iter()
            .flat_map(|item| {
                std::iter::once(item.name).chain(item.also.iter().map(|other| other.name))
            })
            .collect();
        names.sort_unstable();
        names.dedup();
        let n_names: usize = scale.items.iter().map(|item| 1 + item.also.len()).sum();
        assert_eq!(
            names.len(),
            n_names,
            "{}: two items share a header",
            scale.id
        );
    }
}

#[test]
fn sinbad_scores_an_area_of_exactly_one_and_bounds_what_is_missing() {
    let full = "site=heel,ischaemia=no,neuropathy=lost,bacterial_infection=none,depth=skin";
    assert_eq!(shown("sinbad", &format!("{full},area_cm2=1.0")), "3");
    assert_eq!(shown("sinbad", &format!("{full},area_cm2=0.99")), "2");
    assert_eq!(
        more("sinbad", &format!("{full},area_cm2=0.99"), "severe"),
        "no"
    );
    assert_eq!(shown("sinbad", full), "2 or 3");
    assert_eq!(more("sinbad", full, "severe"), "unknown");
    assert_eq!(more("sinbad", full, "items"), "S1 I0 N1 B0 A? D0");
}

#[test]
fn risk_tiers_follow_the_published_rows_and_a_contradiction_is_never_a_silent_zero() {
    let rest = "deformity=no,prior_amputation=no,esrd=no";
    for (row, wanted) in [
        ("lops=no,pad=no,prior_ulcer=no", "0"),
        ("lops=yes,pad=no,prior_ulcer=no", "1"),
        ("lops=yes,pad=yes,prior_ulcer=no", "2"),
        ("lops=yes,pad=no,prior_ulcer=yes", "3"),
        ("lops=no,pad=no,prior_ulcer=yes", "0 or 3"),
        ("lops=yes,pad=no", "1 or 3"),
        ("pad=no,prior_ulcer=no", "0 or 1"),
        ("sensation=absent,pad=no,prior_ulcer=no", "1"),
        (
            "lops=yes,pad=no,prior_ulcer=no,active_ulcer=yes",
            "active ulcer",
        ),
    ] {
        assert_eq!(
            shown("risk-tier", &format!("{row},{rest}")),
            wanted,
            "{row}"
        );
    }
}

#[test]
fn all_64_cells_of_wifi_are_read_from_the_table_with_their_counts() {
    let mut counts = [0; 5];
    for w in 0..4 {
        for i in 0..4 {
            for f in 0..4 {
                let stage = shown("wifi", &format!("wound={w},ischaemia={i},infection={f}"));
                counts[stage.parse::<usize>().unwrap()] += 1;
            }
        }
    }
    assert_eq!(counts, [0, 6, 10, 16, 32]);
    assert_eq!(
        more("wifi", "wound=3,ischaemia=1,infection=2", "benefit"),
        "needs source"
    );
    assert_eq!(
        more("wifi", "wound=1,ischaemia=3,infection=0", "benefit"),
        "high"
    );
}

#[test]
fn wifi_from_measurements_rounds_as_charted_and_leaves_what_is_missing_open() {
    let row = "depth=skin,site=heel,gangrene=none,infection=none";
    // W2: I0 is stage 2, I1 is stage 3.
    assert_eq!(shown("wifi", &format!("{row},abi=0.795")), "2");
    assert_eq!(shown("wifi", &format!("{row},abi=0.794")), "3");
    // A stiff artery measures nothing: W2 fI0 is stage 2 to 4 over I0 to I3.
    assert_eq!(shown("wifi", &format!("{row},abi=1.31")), "2 to 4");
    assert_eq!(
        shown("wifi", &format!("{row},abi=1.31,toe_pressure_mmhg=60")),
        "2"
    );
    let open = "depth=skin,site=forefoot,infection=none,ischaemia=0";
    assert_eq!(more("wifi", open, "wound_used"), "1 to 3");
}

#[test]
fn texas_and_wagner_name_every_cell_that_is_possible() {
    assert_eq!(
        shown("texas", "depth=tendon,infection=yes,ischaemia=no"),
        "2B"
    );
    assert_eq!(shown("texas", "depth=tendon,infection=yes"), "2B or 2D");
    assert_eq!(shown("texas", "depth=3,infection=no,ischaemia=yes"), "3C");
    assert_eq!(
        shown("wagner", "depth=bone,deep_infection=no,gangrene=none"),
        "2"
    );
    assert_eq!(shown("wagner", "depth=bone,gangrene=none"), "2 or 3");
    assert_eq!(shown("wagner", "gangrene=whole-foot"), "5");
}

#[test]
fn infection_is_graded_by_the_edition_asked_for_and_bone_is_marked() {
    let row =
        "swelling=yes,warmth=yes,tenderness=no,purulence=no,deep_tissue=no,sirs=no,erythema_cm=2.0";
    let by = |row: &str, infection_criteria| {
        let options = GradeOptions {
            infection_criteria,
            ..GradeOptions::default()
        };
        graded("infection", &[row], &options).remove(0).shown
    };
    let clear = format!("{row},osteomyelitis=no");
    assert_eq!(by(&clear, InfectionCriteria::Year2012), "2");
    assert_eq!(by(&clear, InfectionCriteria::Year2023), "3");
    let bone = format!("{row},osteomyelitis=yes");
    assert_eq!(by(&bone, InfectionCriteria::Year2023), "3(O)");
}

#[test]
fn perfusion_makes_the_index_from_the_higher_ankle_and_the_higher_arm() {
    let row = "dorsalis_pedis_mmhg=96,posterior_tibial_mmhg=104,brachial_left_mmhg=130,brachial_right_mmhg=120";
    assert_eq!(more("perfusion", row, "abi_used"), "0.8");
    // The ankle is above 100 and the index 0.80: both grade 0.
    assert_eq!(shown("perfusion", row), "0");
    assert_eq!(shown("perfusion", "pulses=palpable"), "not gradable");
    assert_eq!(more("perfusion", "pulses=palpable", "measured"), "no");
    assert_eq!(
        more("perfusion", "abi=1.31", "abi_means"),
        "non-compressible"
    );
    assert_eq!(more("perfusion", "abi=0.90", "abi_means"), "abnormal");
}

#[test]
fn triggers_are_urgent_routine_or_none_and_unmeasured_perfusion_is_never_none() {
    for (row, wanted) in [
        ("abi=0.39,gangrene=none", "urgent"),
        ("abi=0.40,gangrene=none", "routine"),
        ("toe_pressure_mmhg=90,abi=1.0,gangrene=none", "none"),
        ("waveform=monophasic,gangrene=none", "urgent"),
        ("gangrene=digits", "urgent"),
        ("days_open=43,gangrene=none", "routine or urgent"),
        (
            "days_open=42,gangrene=none,area_reduction_percent=60",
            "not gradable",
        ),
        (
            "abi=0.75,gangrene=none,wifi_stage=2,days_open=28,area_reduction_percent=49",
            "routine",
        ),
        (
            "abi=0.75,gangrene=none,wifi_stage=2,days_open=28,area_reduction_percent=50",
            "none",
        ),
        (
            "abi=0.75,gangrene=none,wifi_stage=2,days_open=27,area_reduction_percent=49",
            "none",
        ),
        ("toe_pressure_mmhg=90,days_open=10", "none or urgent"),
    ] {
        assert_eq!(shown("vascular-trigger", row), wanted, "{row}");
    }
}

#[test]
fn the_area_method_of_an_ulcer_is_that_of_its_first_row_and_never_mixed() {
    let rows = [
        "ulcer=A,day=28,area_cm2=1.8",
        "ulcer=A,day=0,length_cm=3,width_cm=2",
        "ulcer=B,day=0,area_cm2=4.4",
        "ulcer=B,day=14,length_cm=2,width_cm=1,area_cm2=3",
    ];
    let all: Vec<String> = graded("area", &rows, &GradeOptions::default())
        .into_iter()
        .map(|graded| graded.shown)
        .collect();
    assert_eq!(all, ["not gradable", "4.712389", "4.4", "3"]);
}

#[test]
fn the_four_week_reading_is_the_nearest_to_day_28_and_the_later_of_two() {
    let rows = [
        "ulcer=A,day=0,area_cm2=4",
        "ulcer=A,day=26,area_cm2=1.9",
        "ulcer=A,day=30,area_cm2=1.5",
        "start_area_cm2=4,area_cm2=2,days=28",
        "start_area_cm2=0.19,area_cm2=0.1,days=28",
    ];
    let all: Vec<(String, String, String)> =
        graded("area-reduction", &rows, &GradeOptions::default())
            .into_iter()
            .map(|graded| {
                (
                    graded.shown.clone(),
                    graded.more[1].to_string(),
                    graded.more[2].to_string(),
                )
            })
            .collect();
    let wanted = [
        ("not gradable", "no", "unknown"),
        ("52.5", "no", "yes"),
        ("62.5", "yes", "yes"),
        ("50", "yes", "yes"),
        ("not gradable", "yes", "unknown"),
    ];
    for (got, wanted) in all.iter().zip(wanted) {
        assert_eq!((got.0.as_str(), got.1.as_str(), got.2.as_str()), wanted);
    }
    assert_eq!(
        shown(
            "edge-advance",
            "start_area_cm2=4.0,start_perimeter_cm=7.5,area_cm2=2.5,perimeter_cm=6.0,days=14"
        ),
        "0.222222"
    );
    assert_eq!(
        shown("healing-rate", "start_area_cm2=2,area_cm2=1,days=28"),
        "0.173287"
    );
}

#[test]
fn a_cell_is_read_whatever_its_case_and_refused_when_it_is_none_of_the_accepted() {
    let item = |scale: &str, name: &str| {
        *find_scale(scale)
            .unwrap()
            .items
            .iter()
            .find(|item| item.name == name)
            .unwrap()
    };
    let lops = item("risk-tier", "lops");
    assert_eq!(read_answer(&lops, " YES ", 1.0), Some(Answer::YesNo(true)));
    assert_eq!(read_answer(&lops, "n/a", 1.0), Some(Answer::Missing));
    assert_eq!(read_answer(&lops, "maybe", 1.0), None);
    let abi = item("wifi", "abi");
    for cell in ["nan0", "inf", "0", "-1", "3.01", "0,8", "=1"] {
        assert_eq!(read_answer(&abi, cell, 1.0), None, "{cell}");
    }
    let length = item("area", "length_cm");
    assert_eq!(read_answer(&length, "35", 0.1), Some(Answer::Number(3.5)));
    assert_eq!(
        read_answer(&item("sinbad", "site"), "MTH-2-plantar", 1.0),
        Some(Answer::Word("mth"))
    );
}
