//! Whether counts of a figure are hidden.

use super::Figure;
use crate::report::{Count, Value};

impl Figure {
    /// Whether any count or value of the chart is hidden to protect patients.
    pub fn is_partly_hidden(&self) -> bool {
        match self {
            Self::CumulativeIncidence { at_risk, .. } => {
                any(at_risk.iter().flat_map(|row| &row.counts))
            }
            Self::StackedShares { quarters, .. } => quarters
                .iter()
                .any(|quarter| hides(quarter.n) || any(&quarter.counts)),
            Self::QuarterlyTrend { points, .. } => {
                any(points.iter().filter_map(|point| point.n.as_ref()))
            }
            Self::IncidenceStack(chart) => any(chart.at_risk.iter().flat_map(|row| &row.counts)),
            Self::SmallMultiples(chart) => chart.panels.iter().any(|panel| {
                hides(panel.n)
                    || any(&panel.at_risk)
                    || panel.absent.as_deref() == Some("suppressed")
            }),
            Self::IntervalBeside(_) => false,
            Self::Trajectories(chart) => hides(chart.n),
            Self::FollowUpCalendar(chart) => chart
                .quarters
                .iter()
                .any(|quarter| hides(quarter.n) || any(&quarter.counts)),
            Self::ControlChart(chart) => chart
                .points
                .iter()
                .any(|point| point.value == Value::Suppressed || any(&point.n)),
            Self::Funnel(chart) => chart
                .units
                .iter()
                .any(|unit| unit.value == Value::Suppressed || hides(unit.n)),
            Self::Forest(chart) => chart.rows.iter().any(|row| {
                row.value == Value::Suppressed || any(row.n.iter().chain(&row.n_events))
            }),
            Self::Movement(chart) => chart.flows.iter().any(|flow| hides(flow.n)),
            Self::Pathway(chart) => {
                hides(chart.n)
                    || chart.steps.iter().any(|step| {
                        hides(step.n_reached)
                            || step.median_days == Value::Suppressed
                            || step.reached.contains(&Value::Suppressed)
                    })
            }
        }
    }
}

fn hides(count: Count) -> bool {
    count == Count::Suppressed
}

fn any<'a>(counts: impl IntoIterator<Item = &'a Count>) -> bool {
    counts.into_iter().any(|count| hides(*count))
}
