//! Writes the synthetic practice of `sample-data/` again.

use simulate::{Scenario, simulate, typing_errors_file};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-data");
    let practice = simulate(&Scenario::default(), 20_230_101)?;
    let wide = practice.export_wide()?;
    std::fs::write(folder.join("tarnwick-visits.csv"), &wide.csv)?;
    let truth = folder.join("truth");
    std::fs::create_dir_all(&truth)?;
    let errors = typing_errors_file(&wide.typing_errors)?;
    let latent = practice.latent_truth().files()?;
    for file in practice
        .visible_truth()
        .files()?
        .into_iter()
        .chain(latent)
        .chain([errors])
    {
        std::fs::write(truth.join(file.name), file.bytes)?;
    }
    Ok(())
}
