//! Every measure by what the pipeline file names: site, clinician, tier, severity and the like. Nobody is ranked.

use super::forests::told_shares;
use super::labels::Labels;
use super::sheets::{headline_of, last_mature_quarter};
use super::{Counted, Material, front_page};
use crate::blocks::one_by_one;
use crate::measure::{Cohort, FollowUpSummary, Member, Method, evaluate_split, members, within};
use crate::report::{
    Audience, Figure, FigureFrame, Forest, ForestRow, MeasureResult, Split, Unit, Value, words,
};

/// Rows of one split that a chart holds; a longer one stands in its table only.
const ROWS_DRAWN: usize = 12;

/// The splits of each measure, in the order of the measures.
pub(super) fn splits(material: &Material<'_>, counted: &[Counted]) -> Vec<Vec<Split>> {
    if material.strata.is_empty() || material.dates.is_year_only() {
        return vec![Vec::new(); counted.len()];
    }
    let cohorts: Vec<Option<Cohort>> = counted
        .iter()
        .map(|counted| cohort_of(material, counted))
        .collect();
    let everybody: Vec<Member> = counted
        .iter()
        .zip(&cohorts)
        .filter_map(|(counted, cohort)| Some(members(&counted.prepared, cohort.as_ref()?)))
        .flatten()
        .collect();
    let labels = Labels::of(material, everybody);
    let pairs: Vec<(&Counted, &Option<Cohort>)> = counted.iter().zip(&cohorts).collect();
    one_by_one(&pairs, |(counted, cohort)| match cohort {
        Some(cohort) => of_measure(material, counted, cohort, &labels),
        None => Vec::new(),
    })
}

/// The year to the newest mature quarter; of classes of people, that quarter's end.
fn cohort_of(material: &Material<'_>, counted: &Counted) -> Option<Cohort> {
    let last = last_mature_quarter(material, counted)?;
    Some(match counted.measure.method {
        Method::Snapshot { .. } => Cohort::quarter(last),
        _ => Cohort::year_to(last, material.horizon.data_start),
    })
}

fn of_measure(
    material: &Material<'_>,
    counted: &Counted,
    cohort: &Cohort,
    labels: &Labels,
) -> Vec<Split> {
    let measure = counted.measure;
    let within = match measure.method {
        Method::FollowUp {
            summary: FollowUpSummary::IncidenceAt { days, headline_day },
            ..
        } if days.len() > 1 => format!(", {}", within(headline_day, "all")),
        _ => String::new(),
    };
    material
        .strata
        .iter()
        .enumerate()
        .filter(|(_, by)| by.suits(measure))
        .map(|(position, by)| Split {
            by: by.code(),
            title: format!("{}{within}", by.title()),
            words: by.words().to_owned(),
            results: evaluate_split(
                measure,
                &counted.prepared,
                &material.study(),
                cohort,
                &|member| labels.get(member, position),
            ),
        })
        .filter(|split| !split.results.is_empty())
        .collect()
}

/// One chart a headline measure: every stratum with its interval around the line of all together.
pub(super) fn forests(material: &Material<'_>, counted: &[Counted]) -> Vec<Figure> {
    if material.audience == Audience::Public {
        return Vec::new();
    }
    counted
        .iter()
        .filter(|counted| front_page::is_headline(counted.measure))
        .filter(|counted| counted.measure.unit == Unit::Share)
        .filter_map(|counted| forest(material, counted))
        .collect()
}

fn forest(material: &Material<'_>, counted: &Counted) -> Option<Figure> {
    let measure = counted.measure;
    let cohort = cohort_of(material, counted)?;
    let all = headline_of(measure, counted.of(material, &cohort))?;
    let Value::Known(together) = &all.value else {
        return None;
    };
    let (drawn, long): (Vec<&Split>, Vec<&Split>) = counted
        .splits
        .iter()
        .partition(|split| split.results.len() <= ROWS_DRAWN);
    let rows: Vec<ForestRow> = drawn
        .iter()
        .flat_map(|split| split.results.iter().map(|result| row(split, result)))
        .collect();
    if rows.len() < 2 {
        return None;
    }
    let left_out = if long.is_empty() {
        String::new()
    } else {
        let titles: Vec<String> = long
            .iter()
            .map(|split| split.title.to_lowercase())
            .collect();
        format!(
            " Not drawn, in the table only: {}, more than {ROWS_DRAWN} rows.",
            titles.join(", ")
        )
    };
    let told = told_shares(&rows);
    Some(Figure::Forest(Forest {
        frame: FigureFrame {
            id: format!("{}-by-strata", measure.id),
            family: measure.family.to_owned(),
            title: format!(
                "{}, {}: {} for all together, {}",
                measure.title,
                cohort.label(),
                words::percent(together.estimate),
                away_words(&rows, together.estimate)
            ),
            caption: format!(
                "The line stands at {} for all together. Strata differ in whom they treat, which this chart does not allow for, \
                 and with several strata one in {:.0} intervals misses by chance alone. The order is that of the strata; nobody is \
                 ranked.{left_out}",
                words::percent(together.estimate),
                1.0 / (1.0 - material.rules.confidence_level)
            ),
            alt: format!("Shares with their intervals. {}.", told.join("; ")),
        },
        unit: Unit::Share,
        reference: Some((together.estimate, "all together".to_owned())),
        rows,
    }))
}

/// How many strata have an interval that leaves out the figure of all together.
fn away_words(rows: &[ForestRow], together: f64) -> String {
    let intervals = rows.iter().filter_map(|row| match &row.value {
        Value::Known(estimate) => estimate
            .interval
            .as_ref()?
            .lower
            .zip(estimate.interval.as_ref()?.upper),
        _ => None,
    });
    let is_away: Vec<bool> = intervals
        .map(|(lower, upper)| together < lower || together > upper)
        .collect();
    let (n, of) = (is_away.iter().filter(|away| **away).count(), is_away.len());
    match n {
        0 => format!("inside the interval of each of {of} strata"),
        1 => format!("outside the interval of 1 of {of} strata"),
        _ => format!("outside the intervals of {n} of {of} strata"),
    }
}

fn row(split: &Split, result: &MeasureResult) -> ForestRow {
    ForestRow {
        group: Some(split.title.clone()),
        label: result.stratum.clone(),
        value: result.value.clone(),
        n: result.denominator,
        n_events: result.numerator,
    }
}
