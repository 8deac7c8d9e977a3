//! Limits of units by their size.

use super::answer::{Answer, insert};
use super::arguments::EstimateArguments;
use super::counts::{Counts, Line};
use super::follow_up::needed;
use crate::failure::Failure;
use serde_json::{Value, json};
use survival::counts::{
    FunnelMethod, FunnelOptions, FunnelPoint, Overdispersion, Scale, Widening, Winsorising,
    proportion_funnel, proportion_overdispersion, ratio_funnel, ratio_overdispersion,
};

/// Ends of the 95 % and 99.8 % limits. Source: Spiegelhalter, Stat Med 2005;24:1185-1202.
const PROBABILITIES: [f64; 4] = [0.001, 0.025, 0.975, 0.999];

pub(super) fn funnel_answer(arguments: &EstimateArguments) -> Result<Value, Failure> {
    needed("events", &arguments.events)?;
    let is_ratio = arguments.expected.is_some();
    let (name, column) = if is_ratio {
        ("expected", &arguments.expected)
    } else {
        ("denominator", &arguments.denominator)
    };
    let counts = Counts::read(arguments, name, column)?;
    let lines = counts.units();
    let n_events: u64 = lines.iter().map(|line| line.events).sum();
    let size: f64 = lines.iter().map(|line| line.against).sum();
    let target = if is_ratio {
        1.0
    } else {
        n_events as f64 / size
    };
    let options = FunnelOptions {
        target,
        probabilities: PROBABILITIES.to_vec(),
        method: FunnelMethod::Interpolated,
        widening: Widening::Nothing,
    };
    let units = if is_ratio {
        Units::Ratio(lines.iter().map(|line| line.against).collect())
    } else {
        Units::Proportion(lines.iter().map(Line::people).collect())
    };
    let estimates: Vec<Value> = lines
        .iter()
        .zip(units.limits(&options))
        .map(|(line, point)| {
            let mut object = line.begun(if is_ratio { "expected" } else { "n" });
            let estimate = (line.against > 0.0).then(|| line.events as f64 / line.against);
            insert(&mut object, "estimate", estimate);
            insert(&mut object, "limits", &point.limits);
            Value::Object(object)
        })
        .collect();
    let mut answer = Answer::of_table(arguments, &counts.table);
    answer.option("target", options.target);
    answer.option("funnel_limits", options.method);
    answer.part("estimates", json!(estimates));
    let events: Vec<u64> = lines.iter().map(|line| line.events).collect();
    let [plain, stabilised] =
        [Scale::Plain, Scale::Stabilised].map(|scale| units.spread(&events, target, scale));
    answer.part(
        "other_limits",
        other_limits(
            &lines,
            &units,
            &options,
            plain.as_ref(),
            stabilised.as_ref(),
        ),
    );
    match stabilised {
        Some(spread) => answer.part("overdispersion", json!(spread)),
        None => answer.note("spread beyond chance is not estimable"),
    }
    if let Some(spread) = plain {
        answer.part("overdispersion_plain_scale", json!(spread));
    }
    Ok(answer.finished())
}

/// Sizes of the units.
enum Units {
    /// Expected events.
    Ratio(Vec<f64>),
    /// People.
    Proportion(Vec<u64>),
}

impl Units {
    fn limits(&self, options: &FunnelOptions) -> Vec<FunnelPoint> {
        match self {
            Self::Ratio(expected) => ratio_funnel(expected, options),
            Self::Proportion(people) => proportion_funnel(people, options),
        }
    }

    fn spread(&self, events: &[u64], target: f64, scale: Scale) -> Option<Overdispersion> {
        let winsorising = Winsorising::default();
        match self {
            Self::Ratio(expected) => {
                ratio_overdispersion(events, expected, target, scale, winsorising)
            }
            Self::Proportion(people) => {
                proportion_overdispersion(events, people, target, scale, winsorising)
            }
        }
    }
}

/// Limits by other methods, and by all of them widened where units spread more than by chance. Each method is widened by the spread
/// on its own scale.
fn other_limits(
    lines: &[Line],
    units: &Units,
    options: &FunnelOptions,
    plain: Option<&Overdispersion>,
    stabilised: Option<&Overdispersion>,
) -> Value {
    let methods = [
        (FunnelMethod::Interpolated, stabilised),
        (FunnelMethod::Quantile, stabilised),
        (FunnelMethod::Stabilised, stabilised),
        (FunnelMethod::Normal, plain),
        (FunnelMethod::Wilson, plain),
    ];
    let mut found = Vec::new();
    for (method, spread) in methods {
        if method == FunnelMethod::Wilson && matches!(units, Units::Ratio(_)) {
            continue;
        }
        let by = |widen: fn(&Overdispersion) -> Widening| spread.map_or(Widening::Nothing, widen);
        let widenings = [
            ("nothing", Widening::Nothing),
            ("multiplicative", by(Overdispersion::multiplicative)),
            ("additive", by(Overdispersion::additive)),
        ];
        for (name, widening) in widenings {
            let is_plain = widening == Widening::Nothing;
            // the limits printed first, and limits that would be widened by nothing
            if is_plain && (method == options.method || name != "nothing") {
                continue;
            }
            let widened = FunnelOptions {
                method,
                widening,
                ..options.clone()
            };
            for (line, point) in lines.iter().zip(units.limits(&widened)) {
                found.push(json!({
                    "group": line.group,
                    "size": line.against,
                    "method": method,
                    "widening": name,
                    "limits": point.limits,
                }));
            }
        }
    }
    Value::Array(found)
}
