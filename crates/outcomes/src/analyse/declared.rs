//! What a report may claim of an export whose dates are declared to be shifted, years only, or those of a limited data set.

use super::Material;
use crate::measure::{Cohort, Measure, Method};
use crate::report::{Audience, DatesDeclared, MeasureResult, Value, words};
use crate::rules::{DateKind, DeclaredDates, UnitOfAnalysis};

/// The statement that belongs to every copy.
pub(super) fn statement(material: &Material<'_>) -> DatesDeclared {
    let dates = material.dates;
    let (says, withheld) = match dates.kind {
        DateKind::AsRecorded => return DatesDeclared::default(),
        DateKind::Shifted => shifted(material),
        DateKind::YearOnly => year_only(),
        DateKind::LimitedDataSet => limited(material),
    };
    let owned = |sentences: Vec<&str>| sentences.into_iter().map(str::to_owned).collect();
    DatesDeclared {
        kind: dates.kind.code().to_owned(),
        agreement: (dates.agreement.clone()).filter(|_| material.audience != Audience::Public),
        says,
        withheld: owned(withheld),
    }
}

fn shifted(material: &Material<'_>) -> (Vec<String>, Vec<&'static str>) {
    let dates = material.dates;
    let days = dates.shifted_by_at_most_days.unwrap_or_default() as usize;
    let days = words::counted(days, "day", "days");
    let mut says = vec![format!(
        "Dates of this export were shifted: all dates of a person by the same number of days, at most {days} either way. Numbers of \
         days between two dates of one person are true; the dates are not, and a rule that counts calendar months may fall a day or \
         two otherwise."
    )];
    let mut withheld = vec![
        "The list of people to look at: it asks what is due today, and today is another shifted day for each person.",
        "Days between amputations of different people: their dates were shifted differently.",
    ];
    if dates.has_quarters {
        says.push(
            "Quarters are true: the export carries them. Each person's dates were moved together by the fewest days that put the \
             visits into their carried quarters, so a date printed here is neither true nor that of the export."
                .to_owned(),
        );
    } else {
        says.push(format!(
            "Quarters are those of shifted dates and are labelled so: what happened in one of them truly happened up to {days} \
             earlier or later. Only the part that the export holds for everybody, whatever their shift, is read: {} to {}.",
            words::date(material.horizon.data_start),
            words::date(material.horizon.cut_off)
        ));
        withheld.push(
            "Differences between quarters or from a year before, charts that watch for change, cumulative sums and seasons: people \
             of neighbouring quarters are mixed.",
        );
    }
    says.push(
        "Shifting dates does not by itself make data de-identified under 45 CFR 164.514(b); that takes an expert's determination."
            .to_owned(),
    );
    (says, withheld)
}

fn year_only() -> (Vec<String>, Vec<&'static str>) {
    let says = [
        "Dates of this export tell years only. Nothing that takes days, weeks or an order within a year can be worked out: such \
         measures say \"not estimable\". Events are counted by whole calendar years.",
        "Two identical rows of one year cannot be told from a row exported twice and count once; so do two events of one kind \
         on one limb in one year.",
    ];
    let withheld = vec![
        "Charts, splits, the trace and rows of people: each needs days.",
        "The list of people to look at: nobody can be overdue by days.",
        "Checks across the rows of a person: they need the order of visits.",
    ];
    (says.map(str::to_owned).to_vec(), withheld)
}

fn limited(material: &Material<'_>) -> (Vec<String>, Vec<&'static str>) {
    let mut says = vec![
        "The export is declared a limited data set: exact dates, without direct identifiers (45 CFR 164.514(e)). The agreement \
         under which it is used decides who may see this copy and for what."
            .to_owned(),
    ];
    if material.audience == Audience::Public {
        says.push(
            "Quarters are elements of dates. Whether sums by quarter may be made public is for the agreement to say; this copy \
             hides small counts and prints no date of a person, which does not replace that permission."
                .to_owned(),
        );
        return (says, Vec::new());
    }
    let withheld = vec![
        "The list of people to look at: who receives a limited data set may neither identify nor contact anybody in it.",
    ];
    (says, withheld)
}

/// Whether the action list can be made: somebody's days up to today are known, and somebody may act on them.
pub(super) fn has_action_list(dates: &DeclaredDates) -> bool {
    dates.kind == DateKind::AsRecorded
}

/// Whether nothing is left of a measure once dates tell years only.
fn needs_days(measure: &Measure) -> bool {
    let is_of_attendances = measure.rule.unit == UnitOfAnalysis::Attendance;
    !is_of_attendances
        && !matches!(
            measure.method,
            Method::Count { .. } | Method::CountRatio { .. }
        )
}

/// Results as far as the declared dates carry them.
pub(super) fn as_declared(
    dates: &DeclaredDates,
    measure: &Measure,
    cohort: &Cohort,
    results: Vec<MeasureResult>,
) -> Vec<MeasureResult> {
    if !dates.is_year_only() {
        return results;
    }
    let reason = if needs_days(measure) {
        "the export tells years only, and this takes days"
    } else if !cohort.is_of_whole_years() {
        "the export tells years only, so what fell in a quarter cannot be told"
    } else {
        return results;
    };
    let first = results.into_iter().next();
    first
        .map(|result| MeasureResult {
            stratum: "all".to_owned(),
            value: Value::NotEstimable {
                reason: reason.to_owned(),
            },
            numerator: None,
            denominator: None,
            n_unknown: None,
            bounds: None,
            notes: Vec::new(),
            ..result
        })
        .into_iter()
        .collect()
}
