//! The committed example report is the report of the committed sample practice.

use crate::support::{names_below, root, sample_run};

#[test]
fn the_example_report_is_current() {
    let out = sample_run();
    let example = root().join("reports/example");
    for name in names_below(out) {
        let fresh = std::fs::read(out.join(&name)).unwrap();
        if std::env::var_os("LIMBLEDGER_REFRESH").is_some() {
            std::fs::create_dir_all(example.join(&name).parent().unwrap()).unwrap();
            std::fs::write(example.join(&name), &fresh).unwrap();
        }
        let kept = std::fs::read(example.join(&name)).unwrap_or_default();
        assert!(
            kept == fresh,
            "reports/example/{name} is not current; refresh it and read the difference"
        );
    }
}
