//! Kaplan-Meier against R survival 3.5-3 (checked there against lifelines, scikit-survival and statsmodels).

use crate::support::{Table, assert_close, cases, label, numbers};
use survival::{CurveOptions, Limits, Variance, kaplan_meier};

const LIMITS: [(&str, Limits); 5] = [
    ("plain", Limits::Linear),
    ("log", Limits::Log),
    ("log-log", Limits::LogLog),
    ("logit", Limits::Logit),
    ("arcsin", Limits::Arcsine),
];

#[test]
fn curves_limits_and_quantiles_agree_with_reference_values() {
    let mut n_curves = 0;
    for case in cases("km.json") {
        let table = Table::of_case(&case);
        let is_robust = case["options"]["variance"]
            .as_str()
            .unwrap()
            .starts_with("robust");
        for expected in case["values"]["curves"].as_array().unwrap() {
            n_curves += 1;
            let name = format!("{} {}", case["id"], label(&expected["group"]));
            let sample = table.sample(&case, &table.rows_of(&case, &expected["group"]));
            for (key, limits) in LIMITS {
                let options = CurveOptions {
                    limits,
                    variance: if is_robust {
                        Variance::Robust
                    } else {
                        Variance::Greenwood
                    },
                    ..CurveOptions::default()
                };
                let curve = kaplan_meier(&sample, &options).unwrap();
                assert_eq!(curve.n as u64, expected["n"].as_u64().unwrap(), "{name}");
                let column = |key: &str| numbers(&expected[key]);
                let (lower, upper) = (
                    numbers(&expected["conf"][key]["lower"]),
                    numbers(&expected["conf"][key]["upper"]),
                );
                let last = curve.points.last().unwrap();
                for (place, time) in column("time").into_iter().enumerate() {
                    let time = time.unwrap();
                    // the reference carries the curve on past its last time; here that is not estimable
                    let point = curve.at(time);
                    let Some(point) = point else {
                        assert!(time > last.time, "{name} at {time}");
                        continue;
                    };
                    let name = format!("{name} {key} at {time}");
                    let at = |key: &str| column(key)[place];
                    assert_close(
                        &format!("{name} at risk"),
                        Some(point.n_at_risk),
                        at("n_risk"),
                        1e-12,
                    );
                    let is_point = curve.points.iter().any(|known| known.time == time);
                    if is_point {
                        for (key, count) in
                            [("n_event", point.n_events), ("n_censor", point.n_censored)]
                        {
                            if let Some(list) = expected.get(key) {
                                let name = format!("{name} {key}");
                                assert_close(&name, Some(count), numbers(list)[place], 1e-12);
                            }
                        }
                    }
                    assert_close(&name, Some(point.estimate), at("surv"), 1e-10);
                    if point.estimate > 0.0 {
                        assert_close(&format!("{name} se"), point.std_error, at("std_err"), 1e-8);
                        if point.estimate < 1.0 {
                            assert_close(&format!("{name} lower"), point.lower, lower[place], 1e-8);
                            assert_close(&format!("{name} upper"), point.upper, upper[place], 1e-8);
                        }
                    }
                }
                let quantiles = &expected["quantiles"];
                let of = |list: &serde_json::Value| numbers(list);
                for (place, probability) in of(&quantiles["probs"]).into_iter().enumerate() {
                    let found = curve.quantile(probability.unwrap());
                    let name = format!("{name} {key} quantile {probability:?}");
                    assert_close(
                        &name,
                        found.estimate,
                        of(&quantiles["estimate"])[place],
                        1e-12,
                    );
                    let conf = &quantiles["conf"][key];
                    assert_close(
                        &format!("{name} lower"),
                        found.lower,
                        of(&conf["lower"])[place],
                        1e-12,
                    );
                    assert_close(
                        &format!("{name} upper"),
                        found.upper,
                        of(&conf["upper"])[place],
                        1e-12,
                    );
                }
            }
        }
    }
    assert!(n_curves >= 10, "only {n_curves} curves were compared");
}
