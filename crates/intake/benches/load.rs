//! How fast an export loads, and how fast it is recounted.
//!
//! Budget: 60,000 wide rows of more than 100 columns in well under half a second.

use chrono::NaiveDate;
use divan::counter::{BytesCount, ItemsCount};
use intake::{Input, Layout, Loaded, layout, load, recount};
use outcomes::rules::DataHorizon;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

fn main() {
    divan::main();
}

/// Patients whose visits make about 60,000 rows.
const N_PATIENTS: u64 = 3800;

fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap_or_default()
}

struct Export {
    input: Input,
    layout: Layout,
    horizon: DataHorizon,
    n_bytes: u64,
}

/// A synthetic export of the sample practice, written once.
fn export() -> &'static Export {
    static EXPORT: OnceLock<Export> = OnceLock::new();
    EXPORT.get_or_init(|| {
        let scenario = simulate::Scenario {
            n_patients: N_PATIENTS,
            ..Default::default()
        };
        let practice = simulate::simulate(&scenario, 1).unwrap_or_else(|error| panic!("{error}"));
        let csv = practice
            .export_wide()
            .unwrap_or_else(|error| panic!("{error}"))
            .csv;
        let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("bench-visits.csv");
        std::fs::write(&path, &csv).unwrap_or_else(|error| panic!("{error}"));
        let layouts = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../pipelines/layouts");
        let text = std::fs::read_to_string(layouts.join("tarnwick-wide.toml")).unwrap_or_default();
        Export {
            input: Input {
                name: "visits.csv".to_owned(),
                path,
                role: None,
                joined: None,
                exported: None,
            },
            layout: layout::parse(&text, "tarnwick-wide.toml")
                .unwrap_or_else(|error| panic!("{error}")),
            horizon: DataHorizon {
                data_start: day(2023, 1, 1),
                cut_off: day(2025, 12, 31),
                deaths_known_to: day(2025, 12, 31),
                procedures_known_to: day(2025, 12, 31),
            },
            n_bytes: csv.len() as u64,
        }
    })
}

fn loaded() -> Loaded {
    let export = export();
    load(
        std::slice::from_ref(&export.input),
        &export.layout,
        &export.horizon,
        &|_| (),
    )
    .unwrap_or_else(|error| panic!("{error}"))
}

#[divan::bench(sample_count = 10)]
fn wide_rows(bencher: divan::Bencher<'_, '_>) {
    let n_rows: u64 = loaded().accounts.iter().map(|account| account.n_read).sum();
    bencher
        .counter(ItemsCount::new(n_rows))
        .counter(BytesCount::new(export().n_bytes))
        .bench(loaded);
}

#[divan::bench(sample_count = 10)]
fn recounted(bencher: divan::Bencher<'_, '_>) {
    let tables = loaded().tables;
    bencher.bench(|| recount(&tables));
}
