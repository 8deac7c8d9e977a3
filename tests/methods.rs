//! Every method of `estimate` comes with what it needs, an example that runs and a source.

use crate::support::{limbledger, printed, said};
use serde_json::Value;

/// What `explain` tells about a method.
struct Explained {
    method: String,
    text: String,
}

impl Explained {
    /// The lines under a title, joined as a shell would.
    fn part(&self, title: &str) -> String {
        let lines = self.text.lines().skip_while(|line| *line != title).skip(1);
        let lines = lines.take_while(|line| line.starts_with("  "));
        let words = lines.flat_map(|line| line.trim_end_matches('\\').split_whitespace());
        words.collect::<Vec<&str>>().join(" ")
    }

    /// The example as arguments of the program.
    fn example(&self) -> Vec<String> {
        let command = self.part("Example");
        let arguments = command.strip_prefix("limbledger ").unwrap();
        arguments.split(' ').map(str::to_owned).collect()
    }
}

fn explained() -> Vec<Explained> {
    let methods = printed(&limbledger(["list", "methods"]));
    let names = methods
        .lines()
        .filter_map(|line| line.split_whitespace().next());
    names
        .map(|method| Explained {
            method: method.to_owned(),
            text: printed(&limbledger(["explain", method])),
        })
        .collect()
}

fn holds_a_number(value: &Value) -> bool {
    match value {
        Value::Array(parts) => parts.iter().any(holds_a_number),
        Value::Object(fields) => fields.values().any(holds_a_number),
        other => other.as_f64().is_some_and(|number| number != 0.0),
    }
}

#[test]
fn every_method_has_a_source_and_an_example_that_runs_on_the_committed_tables() {
    let help = printed(&limbledger(["estimate", "--help"]));
    let all = explained();
    let names: Vec<&str> = all
        .iter()
        .map(|explained| explained.method.as_str())
        .collect();
    let refusal = said(&limbledger(["estimate", "no-such-method"]));
    let listed = format!("[possible values: {}]", names.join(", "));
    assert!(refusal.contains(&listed), "{refusal}");
    for explained in all {
        let method = &explained.method;
        assert!(
            help.contains(&format!("\n{method}: needs --")),
            "--help lacks {method}"
        );
        let first_line = explained.text.lines().skip_while(|line| *line != "Example");
        assert!(
            help.contains(first_line.clone().nth(1).unwrap()),
            "--help has another example of {method}"
        );
        let source = explained.part("Source");
        assert!(
            source.contains("from memory") && source.chars().any(|letter| letter.is_ascii_digit()),
            "{method}: {source}"
        );
        assert!(!explained.part("Formula").is_empty(), "{method}");

        let mut arguments = explained.example();
        assert_eq!(&arguments[..2], ["estimate", method]);
        arguments.push("--json".to_owned());
        let output = limbledger(&arguments);
        assert_eq!(output.status.code(), Some(0), "{method}: {}", said(&output));
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(answer["n_left_out"], 0, "{method}");
        let parts = answer.as_object().unwrap().iter();
        let results = parts
            .filter(|(name, _)| !["method", "n", "n_left_out", "options"].contains(&name.as_str()));
        assert!(
            results.clone().any(|(_, part)| holds_a_number(part)),
            "{method} answers no number"
        );
    }
}

#[test]
fn a_method_refuses_to_run_without_any_option_it_is_said_to_need() {
    for explained in explained() {
        let needs = explained.part("Needs");
        for option in needs.split(' ') {
            let mut arguments = explained.example();
            let place = arguments.iter().position(|argument| argument == option);
            let place = place.unwrap_or_else(|| panic!("{}: {option}", explained.method));
            arguments.drain(place..place + 2);
            let output = limbledger(&arguments);
            assert_eq!(output.status.code(), Some(2), "{arguments:?}");
            assert!(
                said(&output).contains(&format!("the method needs `{option}`")),
                "{arguments:?}: {}",
                said(&output)
            );
        }
    }
}

#[test]
fn options_named_for_a_method_are_options_of_estimate() {
    let help = printed(&limbledger(["estimate", "-h"]));
    for explained in explained() {
        let takes = explained.part("Also takes");
        for option in takes.split(' ') {
            assert!(
                help.contains(&format!("  {option} ")),
                "{}: {option}",
                explained.method
            );
        }
    }
}

/// Every option that gives a column or a value, with something to give.
const OPTIONS: [(&str, &str); 34] = [
    ("--exit", "days"),
    ("--entry", "days"),
    ("--cause", "days"),
    ("--group", "days"),
    ("--stratum", "days"),
    ("--cluster", "days"),
    ("--weight", "days"),
    ("--subject", "days"),
    ("--from", "days"),
    ("--to", "days"),
    ("--lower", "days"),
    ("--upper", "days"),
    ("--covariates", "days"),
    ("--events", "days"),
    ("--denominator", "days"),
    ("--expected", "days"),
    ("--event", "healed"),
    ("--level", "0.9"),
    ("--limits", "log"),
    ("--variance", "robust"),
    ("--ties", "breslow"),
    ("--family", "log-rank"),
    ("--scores", "1,2"),
    ("--until", "84"),
    ("--times", "84"),
    ("--population", "overlap"),
    ("--chart", "count"),
    ("--odds-ratio", "2"),
    ("--limit", "4"),
    ("--run-length", "100"),
    ("--distribution", "weibull"),
    ("--firth", ""),
    ("--draws", "100"),
    ("--seed", "1"),
];

#[test]
fn an_option_that_a_method_does_not_use_is_refused_or_noted_even_at_its_default() {
    for explained in explained() {
        let takes = explained.part("Also takes") + " " + &explained.part("Needs");
        let takes: Vec<&str> = takes.split(' ').collect();
        for (option, value) in OPTIONS {
            if takes.contains(&option) {
                continue;
            }
            let mut arguments = explained.example();
            arguments.push(option.to_owned());
            if !value.is_empty() {
                arguments.push(value.to_owned());
            }
            let output = limbledger(&arguments);
            let fact = format!("{} does not use `{option}`", explained.method);
            if ["--level", "--limits", "--times"].contains(&option) {
                assert_eq!(output.status.code(), Some(0), "{}", said(&output));
                assert!(printed(&output).contains(&fact), "{}", printed(&output));
            } else {
                assert_eq!(output.status.code(), Some(2), "{arguments:?}");
                assert!(said(&output).contains(&fact), "{}", said(&output));
                assert!(said(&output).contains(&format!("hint: `{option}` belongs to ")));
                assert!(output.stdout.is_empty());
            }
        }
    }
}

/// A command that is answered, what is added to it, and what is said then.
const IDLE_BESIDE_OTHERS: [(&str, &str, &str); 8] = [
    (
        "kaplan-meier follow-up.csv --exit days --cause outcome",
        "--seed 4",
        "`--draws`",
    ),
    (
        "cumulative-sum predicted.csv --cause outcome --expected predicted_chance --run-length 200",
        "--limit 2",
        "`--run-length` finds the limit",
    ),
    (
        "proportion clinicians.csv --events healed --denominator ulcers",
        "--cause healed",
        "two ways to say the same",
    ),
    (
        "proportion clinicians.csv --events healed --denominator ulcers",
        "--event 1",
        "`--event` is one of the labels of `--cause`",
    ),
    (
        "cumulative-incidence follow-up.csv --exit days --cause outcome",
        "--stratum site",
        "`--group` was not given",
    ),
    (
        "control-chart quarters.csv --chart count --events healed",
        "--denominator ulcers",
        "this `--chart` does not use `--denominator`",
    ),
    (
        "weighted-curve follow-up.csv --exit days --cause outcome --group site --covariates age --population overlap",
        "--stabilised",
        "`--stabilised` is for `--population average`",
    ),
    (
        "weighted-curve follow-up.csv --exit days --cause outcome --group site --covariates age",
        "--variance greenwood",
        "robust variance only",
    ),
];

#[test]
fn an_option_that_another_makes_idle_is_refused() {
    for (command, added, words) in IDLE_BESIDE_OTHERS {
        let mut arguments: Vec<String> = command.split(' ').map(str::to_owned).collect();
        arguments[1] = format!("sample-data/estimate/{}", arguments[1]);
        arguments.insert(0, "estimate".to_owned());
        let output = limbledger(&arguments);
        assert_eq!(output.status.code(), Some(0), "{}", said(&output));
        arguments.extend(added.split(' ').map(str::to_owned));
        let output = limbledger(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(said(&output).contains(words), "{}", said(&output));
    }
}

#[test]
fn a_variance_that_leaves_clusters_out_says_so() {
    let arguments = "estimate kaplan-meier sample-data/estimate/follow-up.csv --exit days --cause outcome --cluster person";
    let robust = printed(&limbledger(arguments.split(' ')));
    assert!(!robust.contains("leaves clusters out"));
    let greenwood = format!("{arguments} --variance greenwood");
    let greenwood = printed(&limbledger(greenwood.split(' ')));
    assert!(greenwood.contains("leaves clusters out"), "{greenwood}");
}

#[test]
fn an_event_that_is_not_in_the_cause_column_is_refused_by_every_method_that_takes_one() {
    for explained in explained() {
        let takes = explained.part("Also takes") + " " + &explained.part("Needs");
        if !takes.split(' ').any(|option| option == "--event") {
            continue;
        }
        let mut arguments = explained.example();
        if explained.method == "proportion" || explained.method == "standardised" {
            let command = format!(
                "estimate {} sample-data/estimate/predicted.csv --cause outcome",
                explained.method
            );
            arguments = command.split(' ').map(str::to_owned).collect();
            if explained.method == "standardised" {
                arguments.extend(["--expected", "predicted_chance"].map(str::to_owned));
            }
        }
        if let Some(place) = arguments.iter().position(|argument| argument == "--event") {
            arguments.drain(place..place + 2);
        }
        arguments.extend(["--event", "no-such-event"].map(str::to_owned));
        let output = limbledger(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(
            said(&output).contains("no such `--event`"),
            "{}",
            said(&output)
        );
    }
}
