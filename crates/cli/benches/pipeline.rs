//! The stages of a run on a practice of about ten years (60,000 visit rows): load, recount, derive, analyse, draw.
//!
//! Each stage checks that it did its work, so that a fast wrong answer does not pass for a fast one.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench")]

use divan::{Bencher, black_box};
use intake::{Input, Loaded, layout, recount};
use outcomes::analyse::{Material, analyse};
use outcomes::check::check;
use outcomes::derive::{derive, in_reading_order};
use outcomes::measure::MEASURES;
use outcomes::report::{Audience, Provenance, Report};
use outcomes::rules::{DataHorizon, Quarter, Rules};
use outcomes::tables::Tables;
use simulate::{Scenario, simulate};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

const N_PATIENTS: u64 = 4_600;

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
    EXPORT.get_or_init(|| {
        let scenario = Scenario {
            n_patients: N_PATIENTS,
            ..Scenario::default()
        };
        let csv = simulate(&scenario, 1).unwrap().export_wide().unwrap().csv;
        let path = std::env::temp_dir().join("limbledger-bench-visits.csv");
        std::fs::write(&path, csv).unwrap();
        path
    })
}

fn load() -> Loaded {
    let text = include_str!("../../../pipelines/layouts/tarnwick-wide.toml");
    let layout = layout::parse(text, "tarnwick-wide.toml").unwrap();
    let input = Input {
        name: "visits.csv".to_owned(),
        path: export().clone(),
        role: None,
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

fn report() -> Report {
    let (rules, horizon) = (Rules::default(), horizon());
    let people = derive(tables(), &rules, &horizon);
    let report = analyse(&Material {
        dates: &outcomes::rules::DeclaredDates::AS_RECORDED,
        title: "Bench",
        practice: "Tarnwick Foot Practice (invented)",
        audience: Audience::Clinic,
        quarter: Quarter::of(horizon.cut_off),
        trend_quarters: 12,
        measures: MEASURES,
        strata: &[],
        tables: tables(),
        people: &people,
        rules: &rules,
        horizon: &horizon,
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
    });
    assert!(report.front_page.headlines.len() > 5);
    report
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

#[divan::bench(sample_count = 20)]
fn draw_report(bencher: Bencher<'_, '_>) {
    let report = report();
    bencher.bench(|| report::html(black_box(&report)).unwrap().len());
}
