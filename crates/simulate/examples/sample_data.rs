//! Writes the synthetic practice of `sample-data/` again.

use simulate::{Scenario, simulate};
use std::path::Path;

fn main() -> std::io::Result<()> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-data");
    let practice = simulate(&Scenario::default(), 20_230_101);
    let mut wide = Vec::new();
    practice.write_wide(&mut wide)?;
    std::fs::write(folder.join("tarnwick-visits.csv"), wide)
}
