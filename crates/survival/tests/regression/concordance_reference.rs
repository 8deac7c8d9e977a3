//! Every concordance case of `reference/expected/cox.json`, which names the library and version behind each value.

use serde_json::Value;
use survival::regression::concordance::{Concordance, TimeWeight, concordance};

use crate::support::{assert_near, cases, number, rows_of, sample_of};

#[test]
fn concordance_of_a_score_agrees_for_every_time_weight() {
    let mut n_checked = 0;
    for case in cases("cox.json")
        .iter()
        .filter(|case| case["method"] == "concordance")
    {
        let table = rows_of(case);
        let is_longer = case["options"]["larger_score_means"]
            .as_str()
            .unwrap()
            .starts_with("longer");
        let score: Vec<f64> = table
            .numbers(case["columns"]["score"].as_str().unwrap())
            .iter()
            .map(|&score| if is_longer { -score } else { score })
            .collect();
        for values in case["values"]["by_timewt"].as_array().unwrap() {
            let weight = match values["timewt"].as_str().unwrap() {
                "n" => TimeWeight::AtRisk,
                "S" => TimeWeight::Survival,
                "S/G" => TimeWeight::SurvivalOverCensoring,
                "n/G2" => TimeWeight::InverseCensoringSquared,
                "I" => TimeWeight::Events,
                other => panic!("unknown weight {other}"),
            };
            let found = concordance(&sample_of(case, &table), &score, None, weight)
                .unwrap()
                .unwrap();
            check_concordance(&format!("{} {weight:?}", case["id"]), &found, values);
            n_checked += 1;
        }
    }
    assert!(n_checked >= 10, "{n_checked} concordances");
}

pub(crate) fn check_concordance(name: &str, found: &Concordance, expected: &Value) {
    assert_near(
        &format!("{name} concordance"),
        found.estimate,
        number(&expected["c"]),
        1e-10,
    );
    assert_near(
        &format!("{name} concordance error"),
        found.std_error,
        number(&expected["std_err"]),
        1e-8,
    );
    let counts = &expected["counts"];
    for (kind, count) in [
        ("concordant", found.concordant),
        ("discordant", found.discordant),
        ("tied.x", found.tied_score),
        ("tied.y", found.tied_time),
        ("tied.xy", found.tied_both),
    ] {
        assert_near(
            &format!("{name} {kind}"),
            count,
            number(&counts[kind]),
            1e-9,
        );
    }
}
