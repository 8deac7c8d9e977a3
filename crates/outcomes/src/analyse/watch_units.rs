//! Funnels of sites and clinicians. Ordered by key; nobody is ranked.

use super::sheets::last_mature_quarter;
use super::watch::Series;
use super::{Counted, Material};
use crate::expectation::Refusal;
use crate::measure::{Answer, Cohort, Prepared};
use crate::monitor::{FunnelChart, LEVELS, SizeLimits, UnitCount, UnitPlace, unit_funnel};
use crate::report::{
    Count, Estimate, Figure, FigureFrame, Funnel, FunnelLimit, FunnelLimits, FunnelUnit, Value,
    WatchedSeries, words,
};
use crate::tables::{Attendance, NameId, Visit};
use std::collections::BTreeMap;

/// What units are compared.
struct Kind {
    id: &'static str,
    one: &'static str,
    many: &'static str,
    of: fn(&Visit) -> Option<NameId>,
}

const KINDS: [Kind; 2] = [
    Kind {
        id: "site",
        one: "site",
        many: "sites",
        of: |visit| visit.clinic_site,
    },
    Kind {
        id: "clinician",
        one: "clinician",
        many: "clinicians",
        of: |visit| visit.clinician,
    },
];

/// One funnel of sites and one of clinicians, over the year to the newest mature quarter. A person-episode belongs to the
/// site and the clinician of its first visit.
pub(super) fn funnels(material: &Material<'_>, counted: &Counted) -> Vec<Series> {
    KINDS
        .iter()
        .map(|kind| {
            let title = format!("{}, {}", counted.measure.title, kind.many);
            match made(material, counted, kind) {
                Ok(made) => series(material, counted, kind, title, &made),
                Err(refusal) => Series::refused(title, refusal),
            }
        })
        .collect()
}

struct Made {
    funnel: FunnelChart,
    cohort: Cohort,
    n_without_unit: usize,
}

fn made(material: &Material<'_>, counted: &Counted, kind: &Kind) -> Result<Made, Refusal> {
    let Prepared::Answers(all) = &*counted.prepared else {
        return Err(Refusal::new("no answers are counted"));
    };
    let last = last_mature_quarter(material, counted)
        .ok_or_else(|| Refusal::new("no quarter is mature"))?;
    let cohort = Cohort::year_to(last, material.horizon.data_start);
    let known = all
        .iter()
        .filter(|answer| cohort.contains(answer.index.date))
        .filter_map(|answer| Some((answer, answer.is_yes?)));
    let mut units: BTreeMap<String, UnitCount> = BTreeMap::new();
    let mut n_without_unit = 0;
    for (answer, is_yes) in known {
        let Some(name) = unit_of(material, answer, kind) else {
            n_without_unit += 1;
            continue;
        };
        let key = material.tables.names.get(name).to_owned();
        let unit = units.entry(key.clone()).or_insert(UnitCount {
            key,
            n_events: 0,
            n: 0,
        });
        unit.n += 1;
        unit.n_events += u64::from(is_yes);
    }
    let n_least = u64::try_from(material.rules.funnel_least).unwrap_or(u64::MAX);
    Ok(Made {
        funnel: unit_funnel(units.into_values().collect(), n_least)?,
        cohort,
        n_without_unit,
    })
}

/// The unit recorded for the first day, by the first kept visit of that day that names one.
fn unit_of(material: &Material<'_>, answer: &Answer, kind: &Kind) -> Option<NameId> {
    let person = material
        .people
        .get(usize::try_from(answer.cluster.0).ok()?)?;
    let visits = person.person.visits;
    visits
        .iter()
        .filter(|visit| visit.date == answer.index.date && visit.attendance == Attendance::Kept)
        .find_map(|visit| (kind.of)(visit))
}

fn series(
    material: &Material<'_>,
    counted: &Counted,
    kind: &Kind,
    title: String,
    made: &Made,
) -> Series {
    let funnel = &made.funnel;
    let far: Vec<String> = funnel
        .units
        .iter()
        .filter(|unit| matches!(unit.place, UnitPlace::Outside { .. }))
        .map(|unit| format!("{} {}", unit.unit.key, place_words(unit.place)))
        .collect();
    let n = funnel.units.len();
    let compared = words::counted(n, kind.one, kind.many);
    let mut finding = if far.is_empty() {
        format!("no signal, {compared} inside the outer limits")
    } else {
        format!("{}, of {compared}", far.join("; "))
    };
    let least = material.rules.funnel_least;
    if !funnel.too_few.is_empty() {
        let names: Vec<&str> = funnel
            .too_few
            .iter()
            .map(|unit| unit.key.as_str())
            .collect();
        finding.push_str(&format!(
            "; too few to compare (fewer than {least} known outcomes): {}",
            names.join(", ")
        ));
    }
    let figure = figure(counted, kind, &title, &finding, made, least);
    Series {
        line: WatchedSeries {
            title,
            figure: Some(figure.frame.id.clone()),
            finding,
            is_signal: !far.is_empty(),
        },
        figure: Some(Figure::Funnel(figure)),
        false_alarm: None,
    }
}

fn figure(
    counted: &Counted,
    kind: &Kind,
    title: &str,
    finding: &str,
    made: &Made,
    least: i64,
) -> Funnel {
    let funnel = &made.funnel;
    let n = funnel.units.len();
    Funnel {
        frame: FigureFrame {
            id: format!("{}-{}-funnel", counted.measure.id, kind.id),
            family: counted.measure.family.to_owned(),
            title: format!("{title}: {finding}"),
            caption: caption(kind, made),
            alt: format!(
                "Funnel of {} around {}: {finding}.",
                words::counted(n, kind.one, kind.many),
                words::percent(funnel.target)
            ),
        },
        unit: counted.measure.unit,
        size_words: "person-episodes with a known outcome".to_owned(),
        expected: funnel.target,
        limits: limits(funnel),
        units: units(funnel, least),
    }
}

fn caption(kind: &Kind, made: &Made) -> String {
    let funnel = &made.funnel;
    let n = funnel.units.len();
    let inner = 1.0 - LEVELS[0];
    let spread = match funnel.phi {
        Some(phi) if funnel.is_widened => format!(
            " They spread by more than chance (mean squared distance {}), so the limits are widened by {}.",
            words::decimal(phi, 1),
            words::decimal(phi.sqrt(), 2)
        ),
        _ => String::new(),
    };
    let without = if made.n_without_unit > 0 {
        format!(
            " {} without a recorded {} are left out.",
            words::counted(made.n_without_unit, "person-episode", "person-episodes"),
            kind.one
        )
    } else {
        String::new()
    };
    format!(
        "Person-episodes that began in {} with a known outcome, by the {} of the first visit, against the share of \
         all together. Limits are exact for that share: chance alone leaves about {} of {n} outside the inner ones. \
         {} differ in whom they treat, which this chart does not allow for; it ranks nobody.{spread}{without}",
        made.cohort.label(),
        kind.one,
        words::decimal(inner * n as f64, 1),
        super::watch_charts::capitalised(kind.many),
    )
}

/// Every unit in name order, those too small to compare included.
fn units(funnel: &FunnelChart, least: i64) -> Vec<FunnelUnit> {
    let compared = funnel.units.iter().map(|unit| FunnelUnit {
        label: unit.unit.key.clone(),
        size: Some(unit.unit.n as f64),
        n: Count::Shown(unit.unit.n),
        value: Value::Known(Estimate {
            estimate: unit.share,
            interval: None,
        }),
        place: place_words(unit.place).to_owned(),
    });
    let too_few = funnel.too_few.iter().map(|unit| FunnelUnit {
        label: unit.key.clone(),
        size: None,
        n: Count::Shown(unit.n),
        value: Value::NotEstimable {
            reason: "too few".to_owned(),
        },
        place: format!("too few: fewer than {least} known outcomes"),
    });
    let mut units: Vec<FunnelUnit> = compared.chain(too_few).collect();
    units.sort_by(|one, other| one.label.cmp(&other.label));
    units
}

/// The limits of chance at each level.
fn limits(funnel: &FunnelChart) -> Vec<FunnelLimits> {
    let of_level = |(level, limits): (&f64, &Vec<SizeLimits>)| FunnelLimits {
        level: *level,
        points: limits
            .iter()
            .map(|limits| FunnelLimit {
                size: limits.size as f64,
                lower: limits.lower,
                upper: limits.upper,
            })
            .collect(),
    };
    LEVELS.iter().zip(&funnel.limits).map(of_level).collect()
}

fn place_words(place: UnitPlace) -> &'static str {
    match place {
        UnitPlace::Inside => "inside the inner limits",
        UnitPlace::Between { is_above: true } => "above the inner limits, inside the outer ones",
        UnitPlace::Between { is_above: false } => "below the inner limits, inside the outer ones",
        UnitPlace::Outside { is_above: true } => "above the outer limits",
        UnitPlace::Outside { is_above: false } => "below the outer limits",
    }
}
