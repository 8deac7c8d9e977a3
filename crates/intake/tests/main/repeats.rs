//! What counts as the same row, and the same load.

use crate::support::{export, load_wide, row};

#[test]
fn the_same_cells_under_other_headers_are_no_repeat() {
    let cells = row(&[
        ("pid", "TW-00001"),
        ("seen", "03/11/2025"),
        ("l_mono", "1"),
        ("r_mono", "0"),
    ]);
    let first = export(std::slice::from_ref(&cells));
    let swapped = first.replace("l_mono,r_mono", "r_mono,l_mono");
    let files = [
        ("a.csv", None, first.as_bytes()),
        ("b.csv", None, swapped.as_bytes()),
    ];
    let loaded = crate::support::load_files(crate::support::WIDE, &files).unwrap();
    // the second file tells the same visit differently, and is listed later
    let reasons: Vec<_> = loaded
        .accounts
        .iter()
        .map(|account| account.set_aside.clone())
        .collect();
    assert_eq!(reasons, [vec![("superseded-row".to_owned(), 1)], vec![]]);
    assert_eq!(loaded.tables.foot_exams.len(), 2);
}

#[test]
fn loading_twice_gives_the_same_findings_in_the_same_order() {
    let rows: Vec<String> = (0..40)
        .map(|number| {
            let id = format!("TW-{:05}", number % 7);
            let sex = ["F", "M", "Q"][number % 3];
            row(&[
                ("pid", &id),
                ("seen", &format!("{}/11/2025", number % 31 + 1)),
                ("sex", sex),
                ("hba1c", "x"),
            ])
        })
        .collect();
    let [first, again] = [load_wide(&export(&rows)), load_wide(&export(&rows))];
    assert_eq!(first.findings, again.findings);
    assert_eq!(
        format!("{:?}", first.tables.patients),
        format!("{:?}", again.tables.patients)
    );
    assert!(first.findings.is_sorted_by_key(|finding| finding.source));
}
