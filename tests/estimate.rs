//! `estimate`: numbers anyone can check by hand, and refusals that show no cell.

use crate::support::{Folder, limbledger};
use serde_json::Value;

/// Ten rows: 1 and 2 are causes; worked by hand.
const TEN_ROWS: &str = "days,outcome,arm\n2,healed,Quay\n3,amputated,Quay\n4,healed,Hill\n5,,Quay\n6,healed,Hill\n\
    7,amputated,Hill\n8,censored,Quay\n10,healed,Hill\n12,0,Quay\n12,0,Hill\n";

fn answer(folder: &Folder, arguments: &[&str]) -> Value {
    let file = folder.write("rows.csv", TEN_ROWS);
    let (method, options) = arguments.split_first().unwrap();
    let mut all = vec!["estimate", method, file.to_str().unwrap(), "--json"];
    all.extend(options);
    let output = limbledger(all);
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

fn estimate_at(curve: &Value, time: f64) -> f64 {
    let points = curve["points"].as_array().unwrap();
    let point = points
        .iter()
        .find(|point| point["time"].as_f64() == Some(time));
    point.unwrap()["estimate"].as_f64().unwrap()
}

#[test]
fn estimate_gives_the_hand_worked_incidences_by_label() {
    let folder = Folder::new("estimate-incidence");
    let found = answer(
        &folder,
        &[
            "cumulative-incidence",
            "--exit",
            "days",
            "--cause",
            "outcome",
            "--times",
            "9,13",
        ],
    );
    let curves = found["curves"].as_array().unwrap();
    let of = |cause: &str| curves.iter().find(|curve| curve["cause"] == cause).unwrap();
    assert!((estimate_at(of("healed"), 10.0) - 0.472_222_222_222).abs() < 1e-12);
    assert!((estimate_at(of("healed"), 9.0) - 0.316_666_666_667).abs() < 1e-12);
    assert!((estimate_at(of("amputated"), 7.0) - 0.216_666_666_667).abs() < 1e-12);
    let past = of("healed")["points"].as_array().unwrap().last().unwrap();
    assert!(past["estimate"].is_null());
    assert_eq!(past["note"], "past the last observation");
    assert_eq!(found["options"]["variance"], "robust");
    assert_eq!(found["options"]["limits"], "log-log");
}

#[test]
fn estimate_of_one_event_censors_the_others() {
    let folder = Folder::new("estimate-event");
    let found = answer(
        &folder,
        &[
            "kaplan-meier",
            "--exit",
            "days",
            "--cause",
            "outcome",
            "--event",
            "healed",
        ],
    );
    assert!((estimate_at(&found["curves"][0], 10.0) - 0.4375).abs() < 1e-12);
}

#[test]
fn estimate_compares_groups_named_in_the_file() {
    let folder = Folder::new("estimate-groups");
    let found = answer(
        &folder,
        &[
            "log-rank", "--exit", "days", "--cause", "outcome", "--group", "arm",
        ],
    );
    assert_eq!(found["tests"][0]["df"], 1);
    assert_eq!(found["groups"][0]["group"], "Hill");
    assert_eq!(found["groups"][1]["observed"], 2.0);
}

#[test]
fn estimate_names_the_place_of_a_bad_cell_and_not_the_cell() {
    let folder = Folder::new("estimate-bad-cell");
    let file = folder.write("rows.csv", "days,outcome\n3,1\nsecret,1\n");
    let output = limbledger([
        "estimate",
        "kaplan-meier",
        file.to_str().unwrap(),
        "--exit",
        "days",
        "--cause",
        "outcome",
    ]);
    let words = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        words.contains("record 2 (line 3), column `days`: not a number"),
        "{words}"
    );
    assert!(!words.contains("secret"), "{words}");
    assert!(output.stdout.is_empty());
}

#[test]
fn estimate_hints_at_the_nearest_column() {
    let folder = Folder::new("estimate-column");
    let file = folder.write("rows.csv", TEN_ROWS);
    let output = limbledger([
        "estimate",
        "kaplan-meier",
        file.to_str().unwrap(),
        "--exit",
        "day",
        "--cause",
        "outcome",
    ]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("hint: did you mean `days`?"));
}

#[test]
fn estimate_counts_rows_left_out() {
    let folder = Folder::new("estimate-left-out");
    let file = folder.write("rows.csv", "days,outcome\n3,1\n,1\nNA,0\n5,0\n");
    let output = limbledger([
        "estimate",
        "kaplan-meier",
        file.to_str().unwrap(),
        "--exit",
        "days",
        "--cause",
        "outcome",
        "--json",
    ]);
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (found["n"].as_u64(), found["n_left_out"].as_u64()),
        (Some(2), Some(2))
    );
}

#[test]
fn a_number_that_is_none_is_no_cause_and_no_group() {
    let folder = Folder::new("estimate-no-label");
    let file = folder.write("rows.csv", "days,outcome,arm\n3,1,a\n4,NaN,a\n5,0,inf\n");
    for (options, place) in [
        (vec![], "record 2 (line 3), column `outcome`"),
        (
            vec!["--event", "1", "--group", "arm"],
            "record 2 (line 3), column `outcome`",
        ),
    ] {
        let mut all = vec!["estimate", "cumulative-incidence", file.to_str().unwrap()];
        all.extend(["--exit", "days", "--cause", "outcome"]);
        all.extend(options);
        let output = limbledger(all);
        let words = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{words}");
        assert!(words.contains(place), "{words}");
        assert!(
            !words.contains("NaN") && words.contains("hint: "),
            "{words}"
        );
    }
}

#[test]
fn estimate_draws_limits_of_quantiles_and_says_the_seed() {
    let folder = Folder::new("estimate-draws");
    let draws = ["--draws", "200", "--seed", "3", "--cluster", "days"];
    let mut options = vec!["kaplan-meier", "--exit", "days", "--cause", "outcome"];
    options.extend(draws);
    let found = answer(&folder, &options);
    assert_eq!(found["options"]["draws"], 200);
    assert_eq!(found["options"]["seed"], 3);
    let first = &found["curves"][0]["quantiles"][0];
    let number = |name: &str| first[name].as_f64().unwrap();
    assert!(number("bootstrap_lower") <= number("estimate"));
    assert!(number("bootstrap_upper") >= number("estimate"));
    assert_eq!(found, answer(&folder, &options));
}

/// What a model predicts and leaves over: values of R 4.2.2 with survival 3.5-3 on the same table (the predicted curve with limits of
/// its logarithm, residuals of each kind, the cumulative hazard at covariates 0; averaged curves as the mean of the curves of the rows).
#[test]
fn a_model_of_hazards_gives_curves_and_residuals() {
    let output = limbledger([
        "estimate",
        "cox",
        "sample-data/estimate/follow-up.csv",
        "--exit=days",
        "--cause=outcome",
        "--event=healed",
        "--covariates=area_cm2,age,site",
        "--profile=area_cm2=3,age=70,site=Quay",
        "--adjusted-by=site",
        "--times=84",
        "--baseline",
        "--residuals",
        "--json",
    ]);
    assert!(output.status.success());
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    let near = |value: &Value, expected: f64| {
        let value = value.as_f64().unwrap();
        assert!((value - expected).abs() < 1e-9, "{value} for {expected}");
    };
    let curves = found["curves"].as_array().unwrap();
    let at_84 = |group: &str| {
        let curve = curves.iter().find(|curve| curve["group"] == group);
        let points = curve.unwrap()["points"].as_array().unwrap();
        points.iter().find(|point| point["time"] == 84.0).unwrap()
    };
    let profile = at_84("area_cm2=3,age=70,site=Quay");
    near(&profile["estimate"], 0.396_297_213_450_78);
    near(&profile["std_error"], 0.115_882_509_498_38);
    near(&profile["lower"], 0.223_418_179_747_25);
    near(&profile["upper"], 0.702_948_531_612_44);
    near(&at_84("site=Hill")["estimate"], 0.372_814_725_838_03);
    near(&at_84("site=Quay")["estimate"], 0.403_793_844_498_38);
    let row = &found["residuals"][0];
    assert_eq!(row["row"], 1);
    near(&row["martingale"], 0.419_089_169_050_08);
    near(&row["deviance"], 0.498_134_198_761_5);
    near(&row["dfbeta age"], -0.000_729_551_123_905_15);
    near(&row["score age"], -2.483_703_881_435_42);
    let event = &found["event_residuals"][0];
    assert_eq!((&event["row"], &event["time"]), (&47.into(), &7.0.into()));
    near(&event["residual age"], -14.270_953_288_772_1);
    near(&event["scaled site=Quay"], -2.011_803_995_246_25);
    let steps = found["baseline"].as_array().unwrap();
    let step = steps.iter().find(|step| step["time"] == 81.0).unwrap();
    near(&step["cumulative_hazard"], 0.965_791_980_531_28);
}

/// Repeated events: time since the event before is what the difference of the columns says.
#[test]
fn gaps_between_events_are_times_since_the_row_s_own_entry() {
    let folder = Folder::new("estimate-gap");
    let rows = [
        (1, 0, 4, 1, 0.5),
        (1, 4, 9, 1, 0.5),
        (2, 0, 7, 1, 1.5),
        (2, 7, 9, 0, 1.5),
        (3, 0, 3, 1, 0.2),
        (3, 3, 12, 1, 0.2),
    ];
    let mut text = "who,start,stop,gap,came,x\n".to_owned();
    for (who, start, stop, came, x) in rows {
        text += &format!("{who},{start},{stop},{},{came},{x}\n", stop - start);
    }
    let file = folder.write("rows.csv", &text);
    let model = |times: &[&str]| -> Value {
        let mut all = vec!["estimate", "cox", file.to_str().unwrap(), "--json"];
        all.extend(["--cause=came", "--covariates=x", "--cluster=who"]);
        all.extend(times);
        let output = limbledger(all);
        assert!(output.status.success());
        let found: Value = serde_json::from_slice(&output.stdout).unwrap();
        found["model"].clone()
    };
    let by_gap = model(&["--exit=stop", "--entry=start", "--clock=gap"]);
    assert_eq!(by_gap, model(&["--exit=gap"]));
    assert_ne!(by_gap, model(&["--exit=stop", "--entry=start"]));
}

/// Ratio, limits and both adjusted rates as epitools 0.5.10.1 under R 4.2.2 gives them for this table (exact limits: R's
/// quantiles of the gamma law).
#[test]
fn strata_are_standardised_by_a_reference_and_by_a_standard_population() {
    let folder = Folder::new("estimate-standardised");
    let file = folder.write(
        "strata.csv",
        "ref_events,ref_py,events,py\n12,12000,1,310\n45,15000,3,540\n160,16000,9,720\n320,11000,22,510\n\
         9,12500,0,290\n30,15800,2,480\n140,18000,11,800\n310,15000,17,690\n",
    );
    let of = |options: &[&str]| -> Value {
        let mut all = vec!["estimate", "standardised", file.to_str().unwrap(), "--json"];
        all.extend(["--events", "events", "--denominator", "py"]);
        all.extend(options);
        let output = limbledger(all);
        let found: Value = serde_json::from_slice(&output.stdout).unwrap();
        found["estimates"][0].clone()
    };
    let near = |found: &Value, expected: f64| {
        let found = found.as_f64().unwrap();
        assert!(
            (found - expected).abs() < 1e-12 * expected,
            "{found} {expected}"
        );
    };
    let indirect = of(&[
        "--reference-events",
        "ref_events",
        "--reference-denominator",
        "ref_py",
    ]);
    near(&indirect["expected"], 45.568_778_263_649_2);
    near(&indirect["estimate"], 1.426_415_244_752_16);
    near(&indirect["lower"], 1.100_877_171_623_71);
    near(&indirect["upper"], 1.818_083_323_115_13);
    near(&indirect["adjusted_rate"], 0.012_692_992_550_873_5);
    let direct = of(&["--standard", "ref_py"]);
    near(&direct["estimate"], 0.012_831_321_469_201_2);
    let limit = |name: &str| direct[name].as_f64().unwrap();
    assert!(limit("lower") < limit("estimate") && limit("estimate") < limit("upper"));
}

#[test]
fn moves_to_0_are_no_moves_unless_0_is_a_state() {
    let folder = Folder::new("estimate-zero");
    let of = |rows: &str| -> Value {
        let file = folder.write("moves.csv", rows);
        let output = limbledger([
            "estimate",
            "multi-state",
            file.to_str().unwrap(),
            "--subject",
            "person",
            "--exit",
            "day",
            "--from",
            "from",
            "--to",
            "to",
            "--json",
        ]);
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let states = |found: &Value| found["curves"].as_array().unwrap().len();
    let censored = of("person,day,from,to\na,3,1,2\na,9,2,0\nb,5,1,0\n");
    assert_eq!(states(&censored), 2);
    assert!(censored["notes"][0].as_str().unwrap().contains("no move"));
    let moved = of("person,day,from,to\na,3,0,2\na,9,2,0\nb,5,0,2\n");
    assert_eq!(states(&moved), 2);
    assert!(moved.get("notes").is_none());
}

/// Ten people with a chance of 1/2 each and an odds ratio of 2: an event adds ln 4/3, none takes ln 3/2 away.
#[test]
fn the_limit_of_a_cumulative_sum_is_found_for_a_run_length() {
    let folder = Folder::new("estimate-run-length");
    let file = folder.write("sum.csv", "came,chance\n1,0.5\n0,0.5\n1,0.5\n1,0.5\n");
    let of = |options: &[&str]| -> Value {
        let mut all = vec![
            "estimate",
            "cumulative-sum",
            file.to_str().unwrap(),
            "--json",
        ];
        all.extend(["--cause", "came", "--expected", "chance"]);
        all.extend(options);
        let output = limbledger(all);
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let found = of(&["--run-length", "20", "--draws", "500"]);
    assert_eq!(found["options"]["limit"], found["simulated_limit"]["limit"]);
    let mean = |found: &Value| found["mean"].as_f64().unwrap();
    assert!(mean(&found["simulated_limit"]["in_control"]) >= 20.0);
    let score = found["steps"][0]["score"].as_f64().unwrap();
    assert!((score - (4.0_f64 / 3.0).ln()).abs() < 1e-12);
    // any event signals, and half of the people have one: 2 people on average
    let given = of(&["--limit", "0.2", "--draws", "4000"]);
    let first = &given["run_lengths"][0]["people"];
    assert!((mean(first) - 2.0).abs() < 5.0 * first["std_error"].as_f64().unwrap());
}

/// Normal limits at the target: 10 of 40 overall, target -+ 1.96 root (3/16 over n) (formula worked by hand).
#[test]
fn a_funnel_has_normal_limits_beside_exact_ones() {
    let folder = Folder::new("estimate-funnel");
    let file = folder.write("units.csv", "came,n\n4,16\n6,24\n");
    let mut all = vec!["estimate", "funnel", file.to_str().unwrap(), "--json"];
    all.extend(["--events", "came", "--denominator", "n"]);
    let found: Value = serde_json::from_slice(&limbledger(all).stdout).unwrap();
    let others = found["other_limits"].as_array().unwrap();
    let normal = others.iter().find(|line| line["method"] == "normal");
    let upper = normal.unwrap()["limits"][2]["value"].as_f64().unwrap();
    let expected = 0.25 + 1.959_963_984_540_054 * (0.1875_f64 / 16.0).sqrt();
    assert!((upper - expected).abs() < 1e-12, "{upper} {expected}");
    // two units at the target spread less than by chance: nothing is widened
    assert!(others.iter().all(|line| line["widening"] == "nothing"));
}

/// Whoever has x has the event first: the likelihood rises for ever, which is an answer and no failure, also where a curve was asked for.
#[test]
fn separation_is_answered_with_the_terms_that_have_no_estimate() {
    let folder = Folder::new("estimate-separation");
    let file = folder.write(
        "rows.csv",
        "days,came,x\n1,1,1\n2,1,1\n3,1,1\n4,0,0\n5,0,0\n6,2,0\n",
    );
    let cox = ["cox", "--residuals", "--baseline"];
    for method in [&cox[..], &["fine-gray"][..]] {
        let mut all = vec!["estimate", method[0], file.to_str().unwrap(), "--json"];
        all.extend(["--exit", "days", "--cause", "came", "--event", "1"]);
        all.extend(["--covariates", "x", "--profile", "x=1"]);
        all.extend(&method[1..]);
        let found: Value = serde_json::from_slice(&limbledger(all).stdout).unwrap();
        let term = &found["model"]["terms"][0];
        assert_eq!(term["estimability"], "grows-without-bound");
        assert!(term["estimate"].is_null() && found["curves"].is_null());
        let notes = found["notes"].to_string();
        assert!(notes.contains("without a finite coefficient"), "{notes}");
    }
}
