//! A practice changed its records system in mid-course: its two exports give the report of the one it would have had.

use crate::overlaps::{first_difference, pipeline, reported, without_sources};
use crate::support::{Folder, limbledger, said};

#[test]
fn the_exports_of_two_systems_give_the_report_of_their_twin() {
    let folder = Folder::new("upgrade");
    let made = folder.path("made");
    let output = limbledger([
        "simulate".as_ref(),
        "--patients".as_ref(),
        "120".as_ref(),
        "--seed".as_ref(),
        "5".as_ref(),
        "--upgraded-on".as_ref(),
        "2024-07-01".as_ref(),
        "--out".as_ref(),
        made.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let new = std::fs::read_to_string(made.join("tarnwick-visits-new-system.csv")).unwrap();
    assert!(new.starts_with("person_key;yob;"), "{}", &new[..40]);
    let days = "2026-01-05";
    let two = [
        ("made/tarnwick-visits-old-system.csv", days),
        ("made/tarnwick-visits-new-system.csv", days),
    ];
    let twin = [("made/tarnwick-visits.csv", days)];
    let (two, manifest) = reported(&pipeline(&folder, "two.toml", &two), &folder.path("two"));
    let (twin, _) = reported(&pipeline(&folder, "twin.toml", &twin), &folder.path("twin"));
    for part in [
        "front_page",
        "families",
        "figures",
        "monitoring",
        "action_list",
    ] {
        let (two, twin) = (without_sources(&two[part]), without_sources(&twin[part]));
        assert!(two == twin, "{part}: {:?}", first_difference(&two, &twin));
    }
    let accounts = manifest["accounts"].as_array().unwrap();
    assert!(
        accounts
            .iter()
            .all(|account| account["n_used"].as_u64() > Some(300))
    );
}
