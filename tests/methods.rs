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
