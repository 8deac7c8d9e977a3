//! Options that were given and that the method does not read: refused, never passed over in silence.

use super::arguments::{ChartName, EstimateArguments, Method, PopulationName, VarianceName};
use crate::failure::Failure;
use clap::ValueEnum as _;
use clap::parser::ValueSource;

/// Options that change which numbers are printed beside an estimate, and never the estimate.
const OF_PRINT: [&str; 3] = ["--level", "--limits", "--times"];

/// Names of the options that stand on the command line, as they are written there.
pub(crate) fn options_given(matches: &clap::ArgMatches) -> Vec<String> {
    matches
        .ids()
        .map(clap::Id::as_str)
        .filter(|id| matches.value_source(id) == Some(ValueSource::CommandLine))
        // groups of arguments have ids too, and no dash stands before the method, the file and the form of the answer
        .filter(|id| !["EstimateArguments", "method", "file", "json"].contains(id))
        .map(|id| format!("--{}", id.replace('_', "-")))
        .collect()
}

impl Method {
    /// Whether the method reads an option.
    pub(super) fn takes(self, option: &str) -> bool {
        let guide = self.guide();
        guide.needs.contains(&option) || guide.takes.contains(&option)
    }
}

/// Refuses options that the method does not read; those that only shape what is printed become notes.
pub(super) fn checked(arguments: &EstimateArguments) -> Result<Vec<String>, Failure> {
    let method = arguments.method;
    let mut notes = Vec::new();
    for option in &arguments.given {
        if method.takes(option) {
            continue;
        }
        let fact = format!("{} does not use `{option}`", method.name());
        if OF_PRINT.contains(&option.as_str()) {
            notes.push(format!("{fact}: nothing here depends on it"));
            continue;
        }
        return Err(Failure::with_hint(fact, methods_that_take(option)));
    }
    for (is_idle, fact, hint) in idle_beside_others(arguments) {
        if is_idle {
            return Err(Failure::with_hint(fact, hint));
        }
    }
    if (arguments.cluster.is_some() || arguments.weight.is_some())
        && arguments
            .variance
            .is_some_and(|variance| variance != VarianceName::Robust)
    {
        notes.push(
            "only the robust variance honours clusters and takes weights as sampling weights; \
             the one asked for leaves clusters out and takes weights as frequencies"
                .to_owned(),
        );
    }
    if arguments.expected.is_some() && arguments.denominator.is_some() && method == Method::Funnel {
        notes.push("`--expected` was used, `--denominator` was not".to_owned());
    }
    Ok(notes)
}

fn methods_that_take(option: &str) -> String {
    let takers = Method::value_variants()
        .iter()
        .filter(|method| method.takes(option));
    let names: Vec<String> = takers.map(|method| method.name()).collect();
    format!("`{option}` belongs to {}", names.join(", "))
}

/// Options that the method reads, though not beside the others that were given: whether one is there, the fact, and a hint.
fn idle_beside_others(arguments: &EstimateArguments) -> [(bool, &'static str, &'static str); 8] {
    let method = arguments.method;
    let counts_events = arguments.events.is_some();
    let of_counts = [Method::Proportion, Method::Standardised].contains(&method);
    let has_no_size = matches!(
        arguments.chart,
        Some(
            ChartName::Individuals
                | ChartName::Count
                | ChartName::CasesBetween
                | ChartName::TimeBetween
        )
    );
    let is_given = |option: &str| arguments.given.iter().any(|given| given == option);
    [
        (
            arguments.run_length.is_some() && is_given("--limit"),
            "`--run-length` finds the limit, and `--limit` gives one",
            "with `--limit` and `--draws` the run length of a given limit is simulated",
        ),
        (
            arguments.draws.is_none() && arguments.run_length.is_none() && is_given("--seed"),
            "`--seed` is that of the samples that `--draws` asks for",
            "`--draws 1000` draws that many",
        ),
        (
            of_counts && counts_events && arguments.cause.is_some(),
            "`--events` and `--cause` are two ways to say the same",
            "`--events` sums a column of counts, `--cause` counts rows",
        ),
        (
            of_counts && arguments.cause.is_none() && arguments.event.is_some(),
            "`--event` is one of the labels of `--cause`, which was not given",
            "`--events` names a column of counts",
        ),
        (
            of_counts && arguments.cause.is_some() && arguments.denominator.is_some(),
            "with `--cause` rows are counted, and `--denominator` is not used",
            "`--events` and `--denominator` name columns of counts",
        ),
        (
            method == Method::CumulativeIncidence
                && arguments.stratum.is_some()
                && arguments.group.is_none(),
            "`--stratum` divides the comparison of groups, and `--group` was not given",
            "name the groups that are compared, or estimate each stratum apart with `--group`",
        ),
        (
            method == Method::ControlChart && has_no_size && arguments.denominator.is_some(),
            "this `--chart` does not use `--denominator`",
            "proportion, proportion-laney, rate and rate-laney have a denominator",
        ),
        (
            method == Method::WeightedCurve
                && arguments.stabilised
                && arguments.population != PopulationName::Average,
            "`--stabilised` is for `--population average`",
            "weights for the treated and for the overlap need no share",
        ),
    ]
}
