//! Cumulative incidence against R survival 3.5-3 (infinitesimal jackknife), cmprsk (Aalen) and etm (Greenwood).

use crate::support::{Table, assert_close, cases, label, numbers};
use survival::{CurveOptions, Variance, aalen_johansen, incidence_of_cause};

#[test]
fn incidences_and_three_variances_agree_with_reference_values() {
    let mut n_curves = 0;
    for case in cases("cr.json") {
        if case["method"] != "cumulative_incidence" {
            continue;
        }
        let table = Table::of_case(&case);
        for expected in case["values"]["curves"].as_array().unwrap() {
            let sample = table.sample(&case, &table.rows_of(&case, &expected["group"]));
            for (variance, key) in [
                (Variance::Robust, "std_err_ij"),
                (Variance::Aalen, "std_err_aalen"),
                (Variance::Greenwood, "std_err_greenwood"),
            ] {
                let options = CurveOptions {
                    variance,
                    ..CurveOptions::default()
                };
                let found = aalen_johansen(&sample, &options).unwrap();
                for cause in expected["causes"].as_array().unwrap() {
                    n_curves += 1;
                    let number = cause["cause"].as_u64().unwrap() as u32;
                    let curve = found.of_cause(number).unwrap();
                    let alone = incidence_of_cause(&sample, number, &options).unwrap();
                    assert_eq!(alone.curve.as_ref(), Some(curve));
                    let last = found.event_free.points.last();
                    assert_eq!(
                        alone.event_free_at_last,
                        last.map(|last| (last.time, last.estimate))
                    );
                    for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
                        let Some(point) = curve.at(time.unwrap()) else {
                            continue;
                        };
                        let name = format!(
                            "{} {} cause {} {key} at {time:?}",
                            case["id"],
                            label(&expected["group"]),
                            cause["cause"]
                        );
                        assert_close(
                            &name,
                            Some(point.estimate),
                            numbers(&cause["cif"])[place],
                            1e-10,
                        );
                        // not every library gives its variance at every time
                        if let Some(Some(std_error)) =
                            cause.get(key).map(|list| numbers(list)[place])
                        {
                            assert_close(
                                &format!("{name} se"),
                                point.std_error,
                                Some(std_error),
                                1e-8,
                            );
                        }
                    }
                }
                for (place, time) in numbers(&expected["time"]).into_iter().enumerate() {
                    let Some(point) = found.event_free.at(time.unwrap()) else {
                        continue;
                    };
                    let name = format!(
                        "{} {} event-free at {time:?}",
                        case["id"],
                        label(&expected["group"])
                    );
                    assert_close(
                        &name,
                        Some(point.estimate),
                        numbers(&expected["event_free"])[place],
                        1e-10,
                    );
                    if variance == Variance::Robust && point.estimate > 0.0 {
                        let std_error = numbers(&expected["event_free_std_err_ij"])[place];
                        assert_close(&format!("{name} se"), point.std_error, std_error, 1e-8);
                    }
                }
            }
        }
    }
    assert!(n_curves >= 12, "only {n_curves} curves were compared");
}
