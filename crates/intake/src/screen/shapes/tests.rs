//! What each shape of an identifier takes, and what it leaves alone.

use super::super::wordy::*;
use super::*;

type Shape = fn(&str) -> bool;

/// Invented cells; the numbers lie in ranges kept free for fiction or are printed as examples by their issuers
/// (555-01xx, 01632 960xxx, 943 476 5919, QQ123456C, 1EG4-TE5-MK73, 192.0.2.1).
#[test]
fn each_shape_takes_its_own_and_leaves_clinical_cells_alone() {
    let shapes: [(&str, Shape, &[&str]); 10] = [
        (
            "email",
            has_email,
            &["a.b@example.org", "write to a.b@example.org."],
        ),
        (
            "social",
            has_social_security_number,
            &["000-12-3456", "000 12 3456", "no. 000-12-3456", "AB123456C"],
        ),
        (
            "phone",
            has_phone,
            &[
                "202-555-0143",
                "(202) 555-0143",
                "(202)555-0143",
                "call 202-555-0143",
                "202.555.0143",
                "+44 1632 960123",
                "01632 960123",
                "(01632) 960123",
                "Tel: 01632 960123",
                "01632 960123 x12",
            ],
        ),
        (
            "record",
            is_record_number,
            &[
                "943 476 5919",
                "MRN 004512",
                "MRN:1234567",
                "1EG4-TE5-MK73",
                "1EG4TE5MK73",
            ],
        ),
        ("long number", is_long_number, &["943476591", "9434765919"]),
        (
            "postal",
            is_postal_code,
            &["90210", "90210-1234", "QQ1 1AA", "Q1A 9ZZ", "qq1 1aa"],
        ),
        (
            "address",
            is_address,
            &[
                "12 Harbour Street",
                "12A Old Mill Rd.",
                "Flat 3, 9 Example Lane",
                "PO Box 12",
                "P.O. Box 9",
            ],
        ),
        (
            "link",
            has_link,
            &[
                "https://example.org/x",
                "www.example.org",
                "192.0.2.1",
                "2001:db8::1",
                "00:1B:44:11:3A:B7",
            ],
        ),
        (
            "name",
            is_certain_name,
            &[
                "Mary O'Neil",
                "Example, John",
                "SMITH JOHN",
                "seen by Dr Example",
                "Mrs. Pellam",
            ],
        ),
        (
            "free text",
            is_free_text,
            &["came with her son and feels much better"],
        ),
    ];
    let clinical = [
        "03/11/2025",
        "2025-11-03",
        "2025-11-03 14:30:00",
        "03-11-2025 2:30 PM",
        "TW-00042",
        "MT5-P",
        "12.5",
        "0.46",
        "130/80",
        "58",
        "T2",
        "general-practice",
        "C12",
        "Y",
        "110 mmHg",
        "20251103",
        "14:30:00",
        "E11.621",
        "L97.512",
        "General Practice",
        "Left Heel",
        "St Mary Hospital",
        "MR Angiography",
        "Dr Clinic",
        "2 Wound Close",
        "1.2.3",
        "0Y6M0Z0",
        "plantar forefoot",
        "Total Contact Cast",
        "12 weeks",
        "2 x 3 cm",
        "home visit",
    ];
    for (name, is_shape, yes) in shapes {
        for cell in yes {
            assert!(is_shape(cell), "{name}: {cell}");
        }
        for cell in clinical {
            assert!(!is_shape(cell), "{name}: {cell}");
        }
    }
}

/// 943 476 5919 is the example of the NHS Data Dictionary; one digit changed breaks the check.
#[test]
fn a_health_service_number_has_its_check_digit() {
    assert!(is_health_service_number("9434765919"));
    assert!(!is_health_service_number("9434765918"));
    assert!(!is_health_service_number("943476591"));
}

#[test]
fn dates_in_other_forms_tell_their_year() {
    for (cell, expected) in [
        ("3 Apr 1941", Some(1941)),
        ("April 3, 1941", Some(1941)),
        ("03-APR-1941", Some(1941)),
        ("03/04/41", Some(1941)),
        ("03/04/25", None),
        ("3 Apr 41", Some(1941)),
        ("3 Apr 2031", None),
        ("120/80", None),
        ("2 3 4", None),
    ] {
        assert_eq!(year_of_other_date(cell, 2025), expected, "{cell}");
    }
}
