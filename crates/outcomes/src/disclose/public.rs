//! The public copy itself: a report rewritten by what was decided of each count.

use super::choose::{Choice, Reason, choose};
use super::collect::{Collected, Weighed, collect};
use super::pages::{public_figure, public_front_page};
use super::told::{EarlierPublicReport, Told};
use crate::report::{
    Audience, CohortTable, Count, Estimate, Family, Figure, Interval, MeasureResult, MeasureSheet,
    Monitoring, Provenance, Report, Unit, Value,
};
use crate::rules::Rules;
use serde::Serialize;

/// How a public copy is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DisclosureRules {
    /// Counts from 1 to this are hidden.
    pub small_count: u64,
    /// Days between the points of a curve, at least.
    pub curve_grid_days: u32,
}

impl From<&Rules> for DisclosureRules {
    fn from(rules: &Rules) -> Self {
        Self {
            small_count: rules.public_small_count,
            curve_grid_days: rules.public_curve_days,
        }
    }
}

/// The public copy and what was hidden in it.
#[derive(Debug, Clone, PartialEq)]
pub struct PublicCopy {
    /// The report, safe to hand out.
    pub report: Report,
    /// One line a hidden result, for the auditor. It never holds the count.
    pub log: Vec<SuppressionLine>,
}

/// One thing hidden in the public copy.
#[derive(Debug, Clone, PartialEq, Eq, schemars::JsonSchema, Serialize)]
pub struct SuppressionLine {
    /// Id of the measure.
    pub measure: String,
    /// Which people, in words.
    pub cohort: String,
    /// Stratum, or `all`.
    pub stratum: String,
    /// What is hidden: `result`, `unknown outcomes`, `bar`, `chart`, `measure`.
    pub what: String,
    /// Why, in words.
    pub reason: String,
}

/// What becomes of one result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Fate {
    own: Option<Reason>,
    unknown: Option<Reason>,
}

/// Every result of a report with its fate, found again by its words.
pub(super) struct Fates {
    pub(super) told: Vec<Told>,
    fates: Vec<Fate>,
}

impl Fates {
    fn of(&self, result: &Told) -> Option<Fate> {
        let is_same = |told: &Told| {
            told.measure == result.measure
                && told.unit == result.unit
                && told.period == result.period
                && told.stratum == result.stratum
        };
        let same = self.told.iter().zip(&self.fates);
        same.filter(|(told, _)| is_same(told))
            .map(|(_, fate)| *fate)
            .reduce(|one, other| Fate {
                own: one.own.or(other.own),
                unknown: one.unknown.or(other.unknown),
            })
    }

    /// Whether a result may be printed. What was never weighed is not printed.
    pub(super) fn is_printed(&self, result: &Told) -> bool {
        self.of(result).is_some_and(|fate| fate.own.is_none())
    }
}

/// Makes the public copy. `earlier` holds what earlier public reports of this practice printed.
pub fn public_copy(
    report: &Report,
    rules: DisclosureRules,
    earlier: &[EarlierPublicReport],
) -> PublicCopy {
    let results = published_results(report);
    let bars = bars(report);
    let mut told: Vec<Told> = results.iter().map(|result| Told::of(result)).collect();
    told.extend(bars.iter().cloned());
    let before: Vec<Told> = earlier
        .iter()
        .flat_map(|earlier| earlier.told(|figure| measure_of_bars(report, figure)))
        .collect();
    let collected = collect(&told, &before);
    let choice = choose(&collected.facts, &collected.items, rules.small_count);
    let fates = fates(told, &results, &collected, &choice, rules);
    let public = rewrite(report, &fates, rules);
    let log = log(report, &public, &fates, results.len());
    PublicCopy {
        report: public,
        log,
    }
}

/// Results that a public copy may print at all: none by clinician.
pub(super) fn published_results(report: &Report) -> Vec<&MeasureResult> {
    let mut seen: Vec<Told> = Vec::new();
    report
        .families
        .iter()
        .flat_map(|family| &family.measures)
        .flat_map(|sheet| &sheet.results)
        .filter(|result| is_for_the_public(result))
        .filter(|result| {
            let told = Told::of(result);
            let is_new = !seen.contains(&told);
            if is_new {
                seen.push(told);
            }
            is_new
        })
        .collect()
}

/// Measures whose counts the public may see. All that ties one of them to another is written down in `collect`; a measure comes
/// in here when its ties to all others do, since a count that stands elsewhere under another name gives a hidden one away.
const PUBLIC_MEASURES: &[&str] = &[
    "healed-within-12-weeks",
    "healed-within-24-weeks",
    "ulcer-free-at-12-weeks",
    "ulcer-free-at-24-weeks",
    "median-time-to-healing",
    "recurrence-within-12-months",
    "threatened-limbs-kept-at-12-months",
    "limbs-kept-at-12-months",
    "major-amputations",
    "minor-amputations",
    "vascular-referral-after-trigger",
    "risk-tier-distribution",
];

pub(super) fn is_public_measure(id: &str) -> bool {
    PUBLIC_MEASURES.contains(&id)
}

fn is_for_the_public(result: &MeasureResult) -> bool {
    is_public_measure(&result.measure) && !result.stratum.starts_with("clinician")
}

/// What the bars of stacked charts tell, under the measure they show.
fn bars(report: &Report) -> Vec<Told> {
    let mut told = Vec::new();
    for figure in &report.figures {
        if let Figure::StackedShares {
            frame,
            layers,
            quarters,
        } = figure
        {
            let Some(measure) = measure_of_bars(report, &frame.id) else {
                continue;
            };
            for bar in quarters {
                let layers = layers.iter().zip(&bar.counts);
                told.extend(
                    layers.map(|(layer, count)| Told::of_layer(&measure, bar, layer, *count)),
                );
            }
        }
    }
    told
}

/// The public measure whose classes are the layers of a chart of bars. Bars of anything else are not printed.
pub(super) fn measure_of_bars(report: &Report, figure: &str) -> Option<String> {
    let layers = report.figures.iter().find_map(|known| match known {
        Figure::StackedShares { frame, layers, .. } if frame.id == figure => Some(layers),
        _ => None,
    })?;
    let is_class_of = |sheet: &&MeasureSheet| {
        let is_class = |layer: &String| sheet.results.iter().any(|result| result.stratum == *layer);
        is_public_measure(&sheet.id) && layers.iter().all(is_class)
    };
    let mut sheets = report.families.iter().flat_map(|family| &family.measures);
    sheets.find(is_class_of).map(|sheet| sheet.id.clone())
}

fn fates(
    told: Vec<Told>,
    results: &[&MeasureResult],
    collected: &Collected,
    choice: &Choice,
    rules: DisclosureRules,
) -> Fates {
    let hidden =
        |item: Option<usize>| item.and_then(|item| choice.hidden.get(item).copied().flatten());
    let fates = collected
        .of_result
        .iter()
        .enumerate()
        .map(|(position, weighed)| {
            let (own, unknown) = match *weighed {
                Weighed::Items { own, unknown } => (hidden(own), hidden(unknown)),
                Weighed::Barred => (Some(Reason::Overlaps), None),
            };
            let is_single_person = results
                .get(position)
                .is_some_and(|result| shows_few_days(result, rules.small_count));
            let own = own.or(is_single_person.then_some(Reason::Small));
            Fate {
                own,
                unknown: own.or(unknown),
            }
        })
        .collect();
    Fates { told, fates }
}

/// A quantile of days is the day of one person; half of too few people lie before it.
fn shows_few_days(result: &MeasureResult, small_count: u64) -> bool {
    let is_day = result.unit == Unit::Days && matches!(result.value, Value::Known(_));
    is_day
        && match result.denominator {
            Some(Count::Shown(n)) => n < 2 * (small_count + 1),
            Some(Count::Suppressed) | None => true,
        }
}

fn log(report: &Report, public: &Report, fates: &Fates, n_results: usize) -> Vec<SuppressionLine> {
    let line = |told: &Told, what: &str, reason: Reason| SuppressionLine {
        measure: told.measure.clone(),
        cohort: told.cohort.clone(),
        stratum: told.stratum.clone(),
        what: what.to_owned(),
        reason: match reason {
            Reason::Small => "shows a small count",
            Reason::Protects => "would let a small count elsewhere be worked out",
            Reason::Overlaps => {
                "an earlier public report gave this stratum for a period that overlaps this one"
            }
        }
        .to_owned(),
    };
    let mut lines = Vec::new();
    for (position, (told, fate)) in fates.told.iter().zip(&fates.fates).enumerate() {
        let what = if position < n_results {
            "result"
        } else {
            "bar"
        };
        match (fate.own, fate.unknown) {
            (Some(reason), _) => lines.push(line(told, what, reason)),
            (None, Some(reason)) => lines.push(line(told, "unknown outcomes", reason)),
            (None, None) => {}
        }
    }
    let sheets = report.families.iter().flat_map(|family| &family.measures);
    let whole = sheets.filter(|sheet| !is_public_measure(&sheet.id));
    lines.extend(whole.map(|sheet| {
        SuppressionLine {
            measure: sheet.id.clone(),
            cohort: "all".to_owned(),
            stratum: "all".to_owned(),
            what: "measure".to_owned(),
            reason: "its ties to other measures are not weighed, so that it is not printed at all"
                .to_owned(),
        }
    }));
    let is_left_out = |figure: &&Figure| {
        let mut printed = public.figures.iter();
        printed.all(|printed| printed.frame().id != figure.frame().id)
    };
    let left_out = report.figures.iter().filter(is_left_out);
    lines.extend(left_out.map(|figure| SuppressionLine {
        measure: figure.frame().id.clone(),
        cohort: "all".to_owned(),
        stratum: "all".to_owned(),
        what: "chart".to_owned(),
        reason: why_left_out(figure).to_owned(),
    }));
    lines
}

/// Why a chart is not in a public copy.
fn why_left_out(figure: &Figure) -> &'static str {
    match figure {
        Figure::CumulativeIncidence { .. } | Figure::IncidenceStack(_) => {
            "too few people behind one of its steps or outcomes"
        }
        Figure::Movement(_) => "too few people in one of its moves or classes",
        Figure::StackedShares { .. } | Figure::QuarterlyTrend { .. } => {
            "no quarter of it that could be shown"
        }
        Figure::SmallMultiples(_)
        | Figure::IntervalBeside(_)
        | Figure::Trajectories(_)
        | Figure::FollowUpCalendar(_)
        | Figure::ControlChart(_)
        | Figure::Funnel(_)
        | Figure::Forest(_)
        | Figure::Pathway(_) => {
            "a chart of single people, strata, units or limits from which counts can be read"
        }
    }
}

/// Builds the copy. Every field of the report is named here, so that a new one cannot slip into the public copy unseen.
fn rewrite(report: &Report, fates: &Fates, rules: DisclosureRules) -> Report {
    let Report {
        format,
        title,
        practice,
        audience: _,
        quarter,
        quarter_start,
        quarter_end,
        horizon,
        // made for each audience, without the agreement
        dates,
        front_page,
        changes: _,
        families,
        figures,
        monitoring: _,
        action_list: _,
        flow: _,
        accounts: _,
        findings: _,
        completeness: _,
        suppressions: _,
        sensitivity: _,
        cohort_table: _,
        checklist: _,
        settings,
        rules: rule_lines,
        glossary,
        cautions,
        provenance,
    } = report;
    let Provenance {
        program,
        pipeline: _,
        layout: _,
        inputs: _,
        code_tables: _,
        accepted_columns: _,
    } = provenance;
    let families: Vec<Family> = families
        .iter()
        .map(|family| Family {
            id: family.id.clone(),
            title: family.title.clone(),
            lead: family.lead.clone(),
            measures: family
                .measures
                .iter()
                .filter(|sheet| is_public_measure(&sheet.id))
                .map(|sheet| public_sheet(sheet, fates))
                .collect(),
        })
        .filter(|family: &Family| !family.measures.is_empty())
        .collect();
    let mut cautions = cautions.clone();
    cautions.push(format!(
        "This is the public copy. Counts from 1 to {0}, whatever shows them, and whatever would let them be worked out are \
         hidden; zero is not. Shares are given in whole percentages and days in whole weeks.",
        rules.small_count
    ));
    Report {
        format: *format,
        title: title.clone(),
        practice: practice.clone(),
        audience: Audience::Public,
        quarter: quarter.clone(),
        quarter_start: *quarter_start,
        quarter_end: *quarter_end,
        horizon: horizon.clone(),
        dates: dates.clone(),
        front_page: public_front_page(front_page, fates),
        changes: None,
        figures: figures
            .iter()
            .filter_map(|figure| public_figure(report, figure, fates, rules))
            .collect(),
        families,
        monitoring: Monitoring::default(),
        action_list: Vec::new(),
        flow: Vec::new(),
        accounts: Vec::new(),
        findings: Vec::new(),
        completeness: Vec::new(),
        suppressions: Vec::new(),
        sensitivity: Vec::new(),
        cohort_table: CohortTable::default(),
        checklist: Vec::new(),
        settings: settings.clone(),
        rules: (rule_lines.iter())
            .filter(|line| is_public_measure(&line.measure))
            .cloned()
            .collect(),
        glossary: glossary.clone(),
        cautions,
        provenance: Provenance {
            program: program.clone(),
            ..Provenance::default()
        },
    }
}

fn public_sheet(sheet: &MeasureSheet, fates: &Fates) -> MeasureSheet {
    MeasureSheet {
        results: sheet
            .results
            .iter()
            .filter(|result| is_for_the_public(result))
            .map(|result| public_result(result, fates))
            .collect(),
        // Strata of sites and clinicians are small, and their ties are not weighed.
        splits: Vec::new(),
        ..sheet.clone()
    }
}

/// A result as the public sees it. Every field is named, so that a new one cannot slip in unseen.
pub(super) fn public_result(result: &MeasureResult, fates: &Fates) -> MeasureResult {
    let MeasureResult {
        measure,
        cohort,
        period,
        stratum,
        unit,
        value,
        numerator,
        denominator,
        n_unknown,
        bounds: _,
        notes: _,
    } = result;
    let fate = fates.of(&Told::of(result)).unwrap_or(Fate {
        own: Some(Reason::Small),
        unknown: Some(Reason::Small),
    });
    let hide = |count: &Option<Count>| count.map(|_| Count::Suppressed);
    // The unknown outcomes together with a share that allows for them would tell the events exactly.
    let numerator = match fate.unknown {
        None => *numerator,
        Some(_) => hide(numerator),
    };
    MeasureResult {
        measure: measure.clone(),
        cohort: cohort.clone(),
        period: period.clone(),
        stratum: stratum.clone(),
        unit: *unit,
        value: match (fate.own, value) {
            (_, Value::NotYet { .. }) => value.clone(),
            (Some(_), _) => Value::Suppressed,
            (None, value) => coarse_value(*unit, value),
        },
        numerator,
        denominator: match fate.own {
            None => *denominator,
            Some(_) => hide(denominator),
        },
        n_unknown: match fate.unknown {
            None => *n_unknown,
            Some(_) => hide(n_unknown),
        },
        bounds: None,
        notes: Vec::new(),
    }
}

/// The value in steps too wide to give more away than its counts do.
fn coarse_value(unit: Unit, value: &Value) -> Value {
    match value {
        Value::Known(Estimate { estimate, interval }) => Value::Known(Estimate {
            estimate: coarse(unit, *estimate),
            interval: interval.as_ref().map(|interval| Interval {
                lower: interval.lower.map(|limit| coarse(unit, limit)),
                upper: interval.upper.map(|limit| coarse(unit, limit)),
                level: interval.level,
                method: interval.method.clone(),
            }),
        }),
        Value::NotReached { lower } => Value::NotReached {
            lower: lower.map(|limit| coarse(unit, limit)),
        },
        Value::NotEstimable { .. } => Value::NotEstimable {
            reason: "this number does not exist for these people".to_owned(),
        },
        Value::NotYet { .. } | Value::Suppressed => value.clone(),
    }
}

pub(super) fn coarse(unit: Unit, number: f64) -> f64 {
    let step = match unit {
        Unit::Share => 0.01,
        Unit::Days => 7.0,
        Unit::Count => 1.0,
        Unit::Per100PersonYears | Unit::Per100People => 1.0,
        Unit::Ratio | Unit::MillimetresPerWeek | Unit::PerWeek => 0.1,
    };
    let steps = (number / step).round();
    // Written as a division where that gives the shortest decimal.
    match unit {
        Unit::Share => steps / 100.0,
        Unit::Ratio | Unit::MillimetresPerWeek | Unit::PerWeek => steps / 10.0,
        Unit::Days | Unit::Count | Unit::Per100PersonYears | Unit::Per100People => steps * step,
    }
}
