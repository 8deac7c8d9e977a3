//! However damaged the input, nothing panics and every record is accounted for.

use crate::support::{WIDE, export, load_files, row};
use intake::layout;
use proptest::prelude::*;

/// A change at a place: bytes cut out and bytes put in.
type Cut = (prop::sample::Index, usize, Vec<u8>);

fn cuts() -> impl Strategy<Value = Vec<Cut>> {
    let spice = prop::collection::vec(
        prop::sample::select(b",\"\n\r\0-/.0123456789\xff\xc3ATWYN=[]{}#'\\ ".to_vec()),
        0..4,
    );
    prop::collection::vec((any::<prop::sample::Index>(), 0_usize..4, spice), 1..8)
}

fn damaged(text: &str, cuts: &[Cut]) -> Vec<u8> {
    damaged_bytes(text.as_bytes().to_vec(), cuts)
}

fn damaged_bytes(mut bytes: Vec<u8>, cuts: &[Cut]) -> Vec<u8> {
    for (place, n_cut, put) in cuts {
        let start = place.index(bytes.len() + 1);
        let end = (start + n_cut).min(bytes.len());
        bytes.splice(start..end, put.iter().copied());
    }
    bytes
}

fn two_rows() -> String {
    let cells = [
        ("seen", "03/11/2025"),
        ("yob", "1950"),
        ("sex", "F"),
        ("w1", "A"),
        ("w1_side", "L"),
        ("w1_len", "12"),
    ];
    let of = |id| row(&[&[("pid", id)][..], &cells[..]].concat());
    export(&[of("TW-00001"), of("TW-00002")])
}

fn check_accounts(bytes: &[u8]) -> Result<(), TestCaseError> {
    if let Ok(loaded) = load_files(WIDE, &[("visits.csv", None, bytes)]) {
        prop_assert!(loaded.accounts[0].is_balanced());
        let n_found = loaded
            .findings
            .iter()
            .filter(|finding| finding.severity.code() == "set-aside")
            .count();
        prop_assert_eq!(loaded.accounts[0].n_set_aside(), n_found as u64);
        prop_assert_eq!(loaded.accounts[0].bytes, bytes.len() as u64);
        if !bytes.starts_with(b"\x1f\x8b") {
            prop_assert_eq!(loaded.accounts[0].text_bytes.total(), bytes.len() as u64);
        }
    }
    Ok(())
}

proptest! {
    #[test]
    fn arbitrary_bytes_are_accounted_for(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        check_accounts(&bytes)?;
    }

    #[test]
    fn arbitrary_rows_under_a_good_header_are_accounted_for(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut whole = format!("{}\n", crate::support::COLUMNS).into_bytes();
        whole.extend(bytes);
        check_accounts(&whole)?;
    }

    #[test]
    fn a_damaged_export_is_accounted_for(cuts in cuts()) {
        check_accounts(&damaged(&two_rows(), &cuts))?;
    }

    #[test]
    fn damaged_json_lines_are_accounted_for(cuts in cuts()) {
        check_accounts(&damaged(&crate::doors::in_json_lines(&two_rows()), &cuts))?;
    }

    #[test]
    fn a_damaged_packed_file_is_read_or_refused(cuts in cuts()) {
        let packed = crate::doors::packed(two_rows().as_bytes());
        check_accounts(&damaged_bytes(packed, &cuts))?;
    }

    #[test]
    fn a_damaged_layout_is_read_or_refused_at_a_place_in_it(cuts in cuts()) {
        let text = String::from_utf8_lossy(&damaged(WIDE, &cuts)).into_owned();
        if let Err(error) = layout::parse(&text, "layout.toml") {
            prop_assert!((1..=text.matches('\n').count() + 1).contains(&error.line), "{}", error);
            prop_assert!(error.column >= 1);
        }
    }

    #[test]
    fn shuffled_rows_give_the_same_tables(order in Just((0..8_usize).collect::<Vec<_>>()).prop_shuffle()) {
        let rows: Vec<String> = (0..8)
            .map(|number| row(&[("pid", &format!("TW-{:05}", number % 3)), ("seen", &format!("{}/11/2025", number + 1)), ("hba1c", "58")]))
            .collect();
        let summary = |rows: &[String]| {
            let loaded = load_files(WIDE, &[("visits.csv", None, export(rows).as_bytes())]).unwrap();
            let tables = &loaded.tables;
            let mut visits: Vec<_> = tables.visits.iter().map(|visit| (tables.patient(visit.patient).id.clone(), visit.date)).collect();
            visits.sort();
            visits
        };
        let shuffled: Vec<String> = order.iter().map(|place| rows[*place].clone()).collect();
        prop_assert_eq!(summary(&rows), summary(&shuffled));
    }
}
