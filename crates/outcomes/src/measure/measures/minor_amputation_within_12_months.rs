use super::limbs_kept_at_12_months::{self, LIMB_RULE};
use super::subjects;
use crate::measure::{FollowUp, FollowUpSummary, Measure, Method, Stratum, Study};
use crate::rules::{Outcome, Rule};

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "minor-amputation-within-12-months",
    title: "Minor amputation within 12 months",
    words: "The cumulative incidence of a first amputation through or below the ankle on day 365 or earlier, counted from the \
            limb's first ulcer here. An ulcer that was seen and later found removed, with no amputation of that leg recorded in \
            between, counts as one on the day it was found so. Major amputation of that limb and death compete.",
    numerator: "limbs with a minor amputation on day 365 or earlier",
    caution: "As known to this practice. A minor amputation can be good care that saves a leg; read it beside the limbs kept, \
              never alone.",
    context: &[],
    direction: "neither",
    reading: "Of 100 legs with a first ulcer, how many had a toe or a part of the foot removed within a year.",
    rule: Rule {
        event: &[Outcome::MinorAmputation],
        competing: &[Outcome::MajorAmputation, Outcome::Death],
        ..LIMB_RULE
    },
    method: Method::FollowUp {
        subjects,
        summary: FollowUpSummary::IncidenceAt {
            days: &[365],
            headline_day: 365,
        },
    },
    ..limbs_kept_at_12_months::MEASURE
};

fn subjects(study: &Study<'_>, rule: &Rule) -> Vec<FollowUp> {
    subjects::limbs(study, rule, |_, limb, followed| {
        let stratum = match limb.had_minor_before {
            Some(true) => Stratum::EarlierMinor,
            Some(false) => Stratum::NoEarlierMinor,
            None => Stratum::EarlierMinorNotRecorded,
        };
        Some(FollowUp {
            stratum: Some(stratum),
            ..followed
        })
    })
}
