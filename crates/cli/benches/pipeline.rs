//! The stages of a run on a practice of about ten years (60,000 visit rows): load, recount, derive, analyse, draw; and what
//! comes after the load on about 100,000 and 1,000,000 visits.
//!
//! Each stage checks that it did its work, so that a fast wrong answer does not pass for a fast one.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench")]

use divan::{Bencher, black_box};
use intake::{Input, Loaded, layout, recount};
use outcomes::analyse::{Material, analyse, analyse_copies};
use outcomes::check::check;
use outcomes::derive::{PersonOutcomes, derive, in_reading_order};
use outcomes::measure::{MEASURES, SplitBy, Stratifier, Study, prepare_all};
use outcomes::report::{Audience, Provenance, Report};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use outcomes::tables::Tables;
use simulate::{Scenario, simulate};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

const N_PATIENTS: u64 = 4_600;

const AUDIENCES: [Audience; 3] = [Audience::Clinic, Audience::Auditor, Audience::Public];

/// Visits that the larger exports have at least.
const SIZES: [usize; 2] = [100_000, 1_000_000];

/// Visits of a patient, a little less than the simulator makes on average.
const VISITS_A_PATIENT: usize = 16;

fn main() {
    divan::main();
}

fn horizon() -> DataHorizon {
    let scenario = Scenario::default();
    DataHorizon {
        data_start: scenario.data_start,
        cut_off: scenario.cut_off,
        deaths_known_to: scenario.cut_off,
        procedures_known_to: scenario.cut_off,
    }
}

fn export() -> &'static PathBuf {
    static EXPORT: OnceLock<PathBuf> = OnceLock::new();
    EXPORT.get_or_init(|| export_of(N_PATIENTS))
}

fn export_of(n_patients: u64) -> PathBuf {
    let scenario = Scenario {
        n_patients,
        ..Scenario::default()
    };
    let csv = simulate(&scenario, 1).unwrap().export_wide().unwrap().csv;
    let path = std::env::temp_dir().join(format!("limbledger-bench-visits-{n_patients}.csv"));
    std::fs::write(&path, csv).unwrap();
    path
}

fn load() -> Loaded {
    load_from(export())
}

fn load_from(export: &Path) -> Loaded {
    let text = include_str!("../../../pipelines/layouts/tarnwick-wide.toml");
    let layout = layout::parse(text, "tarnwick-wide.toml").unwrap();
    let input = Input {
        name: "visits.csv".to_owned(),
        path: export.to_owned(),
        role: None,
        joined: None,
        exported: None,
    };
    let loaded = intake::load(&[input], &layout, &horizon(), &|_| {}).unwrap();
    assert!(
        loaded
            .accounts
            .iter()
            .all(|account| account.is_balanced() && account.n_read > 50_000)
    );
    loaded
}

fn tables() -> &'static Tables {
    static TABLES: OnceLock<Tables> = OnceLock::new();
    TABLES.get_or_init(|| check(in_reading_order(load().tables)).0)
}

/// Tables of at least so many visits.
fn tables_of(n_visits: usize) -> &'static Tables {
    static TABLES: [OnceLock<Tables>; SIZES.len()] = [const { OnceLock::new() }; SIZES.len()];
    let place = SIZES.iter().position(|size| *size == n_visits).unwrap();
    TABLES[place].get_or_init(|| {
        let export = export_of((n_visits / VISITS_A_PATIENT) as u64);
        let tables = check(in_reading_order(load_from(&export).tables)).0;
        assert!(tables.visits.len() >= n_visits * 95 / 100);
        tables
    })
}

fn report() -> Report {
    let (rules, horizon) = (Rules::default(), horizon());
    let people = derive(tables(), &rules, &horizon);
    report_on(tables(), &people, &rules, &horizon)
}

fn report_on(
    tables: &Tables,
    people: &[PersonOutcomes<'_>],
    rules: &Rules,
    horizon: &DataHorizon,
) -> Report {
    let report = on_material(tables, people, rules, horizon, &[], analyse);
    assert!(report.front_page.headlines.len() > 5);
    report
}

fn on_material<T>(
    tables: &Tables,
    people: &[PersonOutcomes<'_>],
    rules: &Rules,
    horizon: &DataHorizon,
    strata: &[SplitBy],
    make: impl FnOnce(&Material<'_>) -> T,
) -> T {
    make(&Material {
        dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
        title: "Bench",
        practice: "Tarnwick Foot Practice (invented)",
        audience: Audience::Clinic,
        quarter: Quarter::of(horizon.cut_off),
        trend_quarters: 12,
        measures: MEASURES,
        strata,
        tables,
        people,
        rules,
        horizon,
        findings: &[],
        check_words: &[],
        accounts: &[],
        completeness: &[],
        provenance: &Provenance {
            accepted_columns: Vec::new(),
            program: String::new(),
            pipeline: Default::default(),
            layout: Default::default(),
            inputs: Vec::new(),
            code_tables: Vec::new(),
        },
    })
}

#[divan::bench(sample_count = 20)]
fn load_60_000_rows(bencher: Bencher<'_, '_>) {
    assert!(Path::exists(export()));
    bencher.bench(load);
}

#[divan::bench(sample_count = 20)]
fn recount_60_000_rows(bencher: Bencher<'_, '_>) {
    let tables = tables();
    bencher.bench(|| recount(black_box(tables)).unwrap());
}

#[divan::bench(sample_count = 20)]
fn check_60_000_rows(bencher: Bencher<'_, '_>) {
    let tables = tables();
    bencher
        .with_inputs(|| tables.clone())
        .bench_values(|tables| check(in_reading_order(tables)));
}

#[divan::bench(sample_count = 20)]
fn derive_60_000_rows(bencher: Bencher<'_, '_>) {
    let (tables, rules, horizon) = (tables(), Rules::default(), horizon());
    bencher.bench(|| derive(black_box(tables), &rules, &horizon).len());
}

#[divan::bench(sample_count = 20)]
fn derive_and_analyse_60_000_rows(bencher: Bencher<'_, '_>) {
    tables();
    bencher.bench(report);
}

/// The three copies of the practice in memory, with three strata, as `run` makes them.
fn copy(audience: Audience) -> &'static Report {
    static COPIES: OnceLock<Vec<Report>> = OnceLock::new();
    let copies = COPIES.get_or_init(|| {
        let (rules, horizon) = (Rules::default(), horizon());
        let people = derive(tables(), &rules, &horizon);
        let strata = [Stratifier::Site, Stratifier::Tier, Stratifier::Severity].map(SplitBy::Field);
        on_material(tables(), &people, &rules, &horizon, &strata, |material| {
            analyse_copies(material, &AUDIENCES, &[])
        })
    });
    let place = AUDIENCES.iter().position(|own| *own == audience).unwrap();
    &copies[place]
}

/// Rendering alone: a report in memory becomes a page.
#[divan::bench(args = AUDIENCES, sample_count = 20)]
fn draw_page(bencher: Bencher<'_, '_>, audience: Audience) {
    let report = copy(audience);
    bencher.bench(|| {
        let page = report::html(black_box(report)).unwrap();
        assert!(page.ends_with("</html>"));
    });
}

#[divan::bench(args = AUDIENCES, sample_count = 5)]
fn write_workbook(bencher: Bencher<'_, '_>, audience: Audience) {
    let report = copy(audience);
    bencher.bench(|| {
        let workbook = report::workbook(black_box(report)).unwrap();
        assert!(workbook.starts_with(b"PK"));
    });
}

#[divan::bench(args = AUDIENCES, sample_count = 3)]
fn set_paper(bencher: Bencher<'_, '_>, audience: Audience) {
    let report = copy(audience);
    bencher.bench(|| {
        let pdf = report::pdf(black_box(report)).unwrap();
        assert!(pdf.starts_with(b"%PDF"));
    });
}

#[divan::bench(args = SIZES, sample_count = 3)]
fn derive_visits(bencher: Bencher<'_, '_>, n_visits: usize) {
    let (tables, rules, horizon) = (tables_of(n_visits), Rules::default(), horizon());
    bencher.bench(|| derive(black_box(tables), &rules, &horizon).len());
}

/// Finds whom each measure of the catalogue counts.
#[divan::bench(args = SIZES, sample_count = 3)]
fn measure_visits(bencher: Bencher<'_, '_>, n_visits: usize) {
    let (tables, rules, horizon) = (tables_of(n_visits), Rules::default(), horizon());
    let people = derive(tables, &rules, &horizon);
    let study = Study {
        people: &people,
        rules: &rules,
        horizon: &horizon,
    };
    bencher.bench(|| prepare_all(MEASURES, black_box(&study)).len());
}

/// The clinic copy of the whole catalogue, whom each measure counts included.
#[divan::bench(args = SIZES, sample_count = 3)]
fn analyse_visits(bencher: Bencher<'_, '_>, n_visits: usize) {
    let (tables, rules, horizon) = (tables_of(n_visits), Rules::default(), horizon());
    let people = derive(tables, &rules, &horizon);
    bencher.bench(|| report_on(tables, black_box(&people), &rules, &horizon));
}
