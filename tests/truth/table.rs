//! Figures held against truths, a line each.

use outcomes::measure::{Cohort, Study, evaluate, find_measure, prepare};
use outcomes::report::{Count, Estimate, MeasureResult, Unit, Value};
use outcomes::rules::Quarter;

/// One figure and its truth.
pub(crate) struct Line {
    what: String,
    truth: f64,
    figure: f64,
    /// Standard error of the figure.
    error: f64,
    n: u64,
}

impl Line {
    /// How many standard errors the figure lies from the truth.
    fn distance(&self) -> f64 {
        let apart = self.figure - self.truth;
        if apart == 0.0 {
            0.0
        } else {
            apart / self.error
        }
    }
}

/// Lines under a title, printed as they are made.
pub(crate) struct Table {
    lines: Vec<Line>,
}

impl Table {
    pub(crate) fn new(title: &str) -> Self {
        println!("\n{title}\n\n| Figure | n | Truth | Found | Standard error | Apart by |");
        println!("|---|---|---|---|---|---|");
        Self { lines: Vec::new() }
    }

    /// A figure of the report. Its standard error is that of its own interval, a share's moved to where the truth lies: a
    /// share that is too small by chance has too small an interval.
    pub(crate) fn figure(&mut self, result: &MeasureResult, truth: f64) {
        let Value::Known(Estimate {
            estimate,
            interval: Some(interval),
        }) = &result.value
        else {
            panic!("{}, {}: {:?}", result.measure, result.stratum, result.value);
        };
        let (Some(lower), Some(upper)) = (interval.lower, interval.upper) else {
            panic!("{}, {}: no limits", result.measure, result.stratum);
        };
        let what = match result.stratum.as_str() {
            "all" => result.measure.clone(),
            stratum => format!("{}, {stratum}", result.measure),
        };
        let Some(Count::Shown(n)) = result.denominator else {
            panic!("{what}: no denominator");
        };
        // The limits of a report are at 95%.
        let at_figure = (upper - lower) / (2.0 * 1.959_964);
        let spread = |share: f64| (share * (1.0 - share)).sqrt();
        let is_inside = [*estimate, truth]
            .iter()
            .all(|share| 0.0 < *share && *share < 1.0);
        let error = if result.unit == Unit::Share && is_inside {
            at_figure * spread(truth) / spread(*estimate)
        } else {
            at_figure
        };
        self.line(&what, *estimate, truth, error, n);
    }

    /// The number of the middle subject, which has no interval: `at` gives the number below which a share of all lie.
    pub(crate) fn middle(&mut self, result: &MeasureResult, at: impl Fn(f64) -> f64) {
        let Some(Count::Shown(n)) = result.denominator else {
            panic!("{}: no denominator", result.measure);
        };
        // The share of a sample below the true middle has this standard error.
        let apart = 0.5 / (n as f64).sqrt();
        let error = (at(0.5 + apart) - at(0.5 - apart)).abs() / 2.0;
        self.line(&result.measure, number(result), at(0.5), error, n);
    }

    pub(crate) fn line(&mut self, what: &str, figure: f64, truth: f64, error: f64, n: u64) {
        let line = Line {
            what: what.to_owned(),
            truth,
            figure,
            error,
            n,
        };
        println!(
            "| {} | {} | {:.4} | {:.4} | {:.4} | {:+.2} |",
            line.what,
            line.n,
            line.truth,
            line.figure,
            line.error,
            line.distance()
        );
        self.lines.push(line);
    }

    /// Every figure lies within three of its standard errors of its truth.
    #[track_caller]
    pub(crate) fn holds(&self) {
        let far: Vec<String> = self
            .lines
            .iter()
            .filter(|line| line.distance().is_nan() || line.distance().abs() > 3.0)
            .map(|line| format!("{}: {} for {}", line.what, line.figure, line.truth))
            .collect();
        assert!(far.is_empty(), "{far:#?}");
    }

    /// This naive figure lies further than three standard errors from the truth.
    #[track_caller]
    pub(crate) fn misses(what: &str, figure: f64, truth: f64, error: f64) {
        let distance = (figure - truth) / error;
        println!(
            "naive: {what} gives {figure:.4} for {truth:.4}, apart by {distance:+.1} standard errors"
        );
        assert!(distance.abs() > 3.0, "{what}: {figure} for {truth}");
    }
}

/// From the first of two quarters to the last.
pub(crate) fn quarters(first: &str, last: &str) -> Cohort {
    Cohort {
        first: Quarter::parse(first).unwrap(),
        last: Quarter::parse(last).unwrap(),
    }
}

/// What a measure comes to, by stratum.
pub(crate) fn results(study: &Study<'_>, id: &str, cohort: &Cohort) -> Vec<MeasureResult> {
    let measure = find_measure(id).unwrap();
    evaluate(measure, &prepare(measure, study), study, cohort)
}

/// The result with this stratum.
pub(crate) fn of_stratum<'r>(results: &'r [MeasureResult], stratum: &str) -> &'r MeasureResult {
    let found = results.iter().find(|result| result.stratum == stratum);
    found.unwrap_or_else(|| panic!("no stratum {stratum}"))
}

/// The number of a result.
pub(crate) fn number(result: &MeasureResult) -> f64 {
    match &result.value {
        Value::Known(estimate) => estimate.estimate,
        other => panic!("{}: {other:?}", result.measure),
    }
}
