//! From people and measures to the finished report value: every number and every sentence a page will say.

mod actions;
mod chance;
mod changes;
mod checklist;
mod cohort_table;
mod declared;
mod expectations;
mod figures;
mod flow;
mod follow_up_calendar;
mod forests;
mod front_page;
mod healing_by_severity;
mod interval_beside;
mod labels;
mod method_page;
mod outcomes_stacked;
mod pathway;
mod sensitivity;
mod sheets;
mod splits;
mod tier_flows;
mod trajectories;
mod watch;
mod watch_charts;
mod watch_sums;
mod watch_units;

pub(crate) use figures::HEALING_CURVE;
pub(crate) use outcomes_stacked::shares_at_the_end;

pub use changes::{ChangeStep, Run, changes, results_again};
pub(crate) use tier_flows::END_OF;

use crate::blocks::one_by_one;
use crate::derive::PersonOutcomes;
use crate::disclose::{EarlierPublicReport, PublicCopy, public_copy};
use crate::finding::{FileAccount, Finding};
use crate::measure::{
    Cohort, Measure, Method, Places, Prepared, SplitBy, Study, evaluate_at, prepare_all,
};
use crate::report::{
    Audience, Count, Family, FieldCompleteness, Figure, FindingTally, FlowStep, Horizon,
    MeasureResult, Monitoring, Provenance, Report, Split,
};
use crate::rules::{DataHorizon, DeclaredDates, Quarter, Rules};
use crate::tables::Tables;
use std::sync::{Arc, Mutex, PoisonError};

/// Everything a report is made from.
#[derive(Debug, Clone, Copy)]
pub struct Material<'a> {
    /// Title.
    pub title: &'a str,
    /// Name of the practice.
    pub practice: &'a str,
    /// Whom the copy is for.
    pub audience: Audience,
    /// The reporting quarter.
    pub quarter: Quarter,
    /// How many quarters a trend shows, the reporting quarter included.
    pub trend_quarters: u32,
    /// The measures wanted, in catalogue order.
    pub measures: &'a [&'static Measure],
    /// What every measure is split by, in this order.
    pub strata: &'a [SplitBy],
    /// The tables, for names and files.
    pub tables: &'a Tables,
    /// Everybody, derived.
    pub people: &'a [PersonOutcomes<'a>],
    /// The settings.
    pub rules: &'a Rules,
    /// What the export can know.
    pub horizon: &'a DataHorizon,
    /// What the dates of the export are declared to be.
    pub dates: &'a DeclaredDates,
    /// Findings of load and check.
    pub findings: &'a [Finding],
    /// What each check means, by name: (name, words).
    pub check_words: &'a [(&'static str, &'static str)],
    /// Row accounts.
    pub accounts: &'a [FileAccount],
    /// Completeness of fields.
    pub completeness: &'a [FieldCompleteness],
    /// What made the report.
    pub provenance: &'a Provenance,
}

impl<'a> Material<'a> {
    fn study(&self) -> Study<'a> {
        Study {
            people: self.people,
            rules: self.rules,
            horizon: self.horizon,
        }
    }

    /// Quarters of a trend, oldest first: no quarter before the one in which data start.
    fn trend(&self) -> Vec<Quarter> {
        let first = Quarter::of(self.horizon.data_start);
        (0..self.trend_quarters)
            .rev()
            .map(|n| self.quarter.back(n))
            .filter(|quarter| *quarter >= first)
            .collect()
    }
}

/// A measure together with the people it counts.
struct Counted {
    measure: &'static Measure,
    prepared: Arc<Prepared>,
    /// Where the people of each quarter stand in `prepared`.
    places: Places,
    /// What it came to for each cohort asked about so far, each made once.
    made: Mutex<Vec<(Cohort, Vec<MeasureResult>)>>,
    /// The year to the newest mature quarter by stratum.
    splits: Vec<Split>,
}

impl Counted {
    fn new(measure: &'static Measure, prepared: Arc<Prepared>, places: Places) -> Self {
        Self {
            measure,
            places,
            prepared,
            made: Mutex::new(Vec::new()),
            splits: Vec::new(),
        }
    }

    /// What the measure came to for a cohort.
    fn of(&self, material: &Material<'_>, cohort: &Cohort) -> Vec<MeasureResult> {
        let made = || self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let known = made()
            .iter()
            .find(|(known, _)| known == cohort)
            .map(|(_, results)| results.clone());
        known.unwrap_or_else(|| {
            let results = evaluate_at(
                self.measure,
                &self.prepared,
                &self.places,
                &material.study(),
                cohort,
            );
            let results = declared::as_declared(material.dates, self.measure, cohort, results);
            made().push((*cohort, results.clone()));
            results
        })
    }
}

/// Makes the report value for the audience the material names.
pub fn analyse(material: &Material<'_>) -> Report {
    let counted = count_all(material);
    copy(material, &counted, &Common::of(material, &counted))
}

/// Makes a copy of one report for each audience, in the order asked for. The numbers are counted once, so no two copies
/// can differ in them; the audience the material names is not looked at.
///
/// The public copy hides small counts, also from those who kept the `earlier` public reports; what it hides is listed in the
/// auditor's copy.
pub fn analyse_copies(
    material: &Material<'_>,
    audiences: &[Audience],
    earlier: &[EarlierPublicReport],
) -> Vec<Report> {
    let counted = count_all(material);
    let inside = audiences
        .iter()
        .find(|audience| **audience != Audience::Public);
    let common = Common::of(
        &Material {
            audience: inside.copied().unwrap_or(Audience::Public),
            ..*material
        },
        &counted,
    );
    let of = |audience: Audience| {
        let material = Material {
            audience,
            ..*material
        };
        copy(&material, &counted, &common)
    };
    let public = audiences
        .contains(&Audience::Public)
        .then(|| public_copy(&of(Audience::Public), material.rules.into(), earlier));
    let (public, log) = match public {
        Some(PublicCopy { report, log }) => (Some(report), log),
        None => (None, Vec::new()),
    };
    audiences
        .iter()
        .filter_map(|audience| match audience {
            Audience::Public => public.clone(),
            Audience::Auditor => Some(Report {
                suppressions: log.clone(),
                ..of(*audience)
            }),
            Audience::Clinic => Some(of(*audience)),
        })
        .collect()
}

/// What the copies have in common, made once for all of them.
struct Common {
    families: Vec<Family>,
    figures: Vec<Figure>,
    forests: Vec<Figure>,
    by_strata: Vec<Figure>,
    pathway: Vec<Figure>,
    watch: watch::Watch,
    flow: Vec<FlowStep>,
}

impl Common {
    fn of(material: &Material<'_>, counted: &[Counted]) -> Self {
        // every chart draws days
        let has_days = !material.dates.is_year_only();
        type Draw = fn(&Material<'_>, &[Counted]) -> Vec<Figure>;
        let drawn = |draw: Draw| {
            if has_days {
                draw(material, counted)
            } else {
                Vec::new()
            }
        };
        std::thread::scope(|scope| {
            let watched = scope.spawn(|| (watch::watch(material, counted), flow::flow(material)));
            let figures = drawn(figures::figures);
            let forests = drawn(forests::forests);
            let by_strata = drawn(splits::forests);
            let pathway = drawn(pathway::pathway_figures);
            let families = sheets::families(material, counted);
            let watched = watched.join();
            let (watch, flow) = watched.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
            Self {
                families,
                figures,
                forests,
                by_strata,
                pathway,
                watch,
                flow,
            }
        })
    }

    /// The charts of one copy. The public one has none by stratum or over all quarters.
    fn figures_for(&self, audience: Audience) -> Vec<Figure> {
        let (by_strata, watched) = match audience {
            Audience::Public => (&[][..], &[][..]),
            Audience::Clinic | Audience::Auditor => {
                (self.by_strata.as_slice(), self.watch.figures.as_slice())
            }
        };
        let parts = [
            &self.figures,
            self.forests.as_slice(),
            by_strata,
            &self.pathway,
            watched,
        ];
        parts.concat()
    }

    fn monitoring_for(&self, audience: Audience) -> Monitoring {
        match audience {
            Audience::Public => Monitoring::default(),
            Audience::Clinic | Audience::Auditor => self.watch.monitoring.clone(),
        }
    }
}

fn copy(material: &Material<'_>, counted: &[Counted], common: &Common) -> Report {
    let action_list = match material.audience {
        Audience::Clinic if declared::has_action_list(material.dates) => {
            actions::action_list(material)
        }
        Audience::Clinic | Audience::Auditor | Audience::Public => Vec::new(),
    };
    let dates = declared::statement(material);
    Report {
        format: 1,
        title: material.title.to_owned(),
        practice: material.practice.to_owned(),
        audience: material.audience,
        quarter: material.quarter.to_string(),
        quarter_start: material.quarter.start(),
        quarter_end: material.quarter.end(),
        horizon: Horizon {
            data_start: material.horizon.data_start,
            cut_off: material.horizon.cut_off,
            deaths_known_to: material.horizon.deaths_known_to,
            procedures_known_to: material.horizon.procedures_known_to,
        },
        front_page: front_page::front_page(material, counted, &action_list),
        dates,
        changes: None,
        families: common.families.clone(),
        figures: common.figures_for(material.audience),
        monitoring: common.monitoring_for(material.audience),
        action_list,
        flow: common.flow.clone(),
        accounts: material.accounts.to_vec(),
        findings: tally(material),
        completeness: material.completeness.to_vec(),
        suppressions: Vec::new(),
        sensitivity: for_the_auditor(material, || sensitivity::sensitivity(material, counted)),
        cohort_table: for_the_auditor(material, || cohort_table::cohort_table(material)),
        checklist: for_the_auditor(material, checklist::checklist),
        settings: method_page::settings(material.rules),
        rules: material
            .measures
            .iter()
            .map(|measure| measure.rule_line(material.rules))
            .collect(),
        glossary: method_page::glossary(material.rules),
        cautions: method_page::cautions(material),
        provenance: material.provenance.clone(),
    }
}

/// A part that only the auditor's copy holds.
fn for_the_auditor<T: Default>(material: &Material<'_>, make: impl FnOnce() -> T) -> T {
    match material.audience {
        Audience::Auditor if !material.dates.is_year_only() => make(),
        Audience::Auditor | Audience::Clinic | Audience::Public => T::default(),
    }
}

/// Every measure with its results, in catalogue order.
fn count_all(material: &Material<'_>) -> Vec<Counted> {
    let prepared = prepare_all(material.measures, &material.study());
    let places = one_by_one(&prepared, |prepared| Places::of(prepared));
    let mut counted: Vec<Counted> = (material.measures.iter().zip(prepared).zip(places))
        .map(|((measure, prepared), places)| Counted::new(measure, prepared, places))
        .collect();
    // Every quarter of a trend or a chart and the newest year are asked about, so all of them are made now, on every core.
    let trend = material.trend();
    let watched = watch::quarters(material);
    // A measure and a quarter at a time: some measures are much more work than others.
    let mut asked: Vec<(&Counted, Quarter)> = Vec::new();
    for counted in &counted {
        let mut quarters = trend.clone();
        if watch::is_watched(counted.measure) {
            quarters.extend(&watched);
        }
        quarters.sort_unstable();
        quarters.dedup();
        asked.extend(quarters.into_iter().map(|quarter| (counted, quarter)));
    }
    one_by_one(&asked, |(counted, quarter)| {
        counted.of(material, &Cohort::quarter(*quarter));
    });
    one_by_one(&counted, |counted| {
        let is_by_quarter = matches!(counted.measure.method, Method::Snapshot { .. });
        let last = sheets::last_mature_quarter(material, counted).filter(|_| !is_by_quarter);
        if let Some(last) = last {
            let year = Cohort::year_to(last, material.horizon.data_start);
            counted.of(material, &year);
        }
    });
    let splits = splits::splits(material, &counted);
    for (counted, splits) in counted.iter_mut().zip(splits) {
        counted.splits = splits;
    }
    counted
}

/// Findings by check, in name order, with the first three places.
fn tally(material: &Material<'_>) -> Vec<FindingTally> {
    let mut sorted: Vec<&Finding> = material.findings.iter().collect();
    sorted.sort_by_key(|finding| (finding.check, finding.source));
    sorted
        .chunk_by(|left, right| left.check == right.check)
        .map(|group| FindingTally {
            check: group[0].check.to_owned(),
            severity: group[0].severity.code().to_owned(),
            words: material
                .check_words
                .iter()
                .find(|(name, _)| *name == group[0].check)
                .map_or_else(
                    || group[0].message.clone(),
                    |(_, words)| (*words).to_owned(),
                ),
            n: Count::Shown(group.iter().map(|finding| finding.n).sum()),
            examples: group
                .iter()
                .filter_map(|finding| place(material.tables, finding))
                .take(3)
                .collect(),
        })
        .collect()
}

fn place(tables: &Tables, finding: &Finding) -> Option<String> {
    let source = finding.source?;
    Some(trace(tables, source))
}

/// A row in words: `visits.csv, record 12`.
pub(crate) fn trace(tables: &Tables, source: crate::tables::SourceRow) -> String {
    let file = tables.short_file_name(source.file);
    format!("{file}, record {}", source.record)
}
