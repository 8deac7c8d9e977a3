//! Limbs, as perfectly written visits show them.

use super::visible_ulcers::VisibleUlcer;
use crate::record::{Event, Row};
use crate::triggers::{Signs, signs};
use crate::words::{Kind, Origin, SeenState, Side};
use serde::Serialize;

/// One limb in view. Amputations and hospital steps as far as the practice knew them by the cut-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisibleLimb {
    /// Pseudonymous id.
    pub patient: String,
    /// Leg.
    pub side: &'static str,
    /// First day an ulcer was seen open on it; a surgical wound is none.
    pub first_ulcer_day: Option<i32>,
    /// First minor amputation.
    pub minor_amputation_day: Option<i32>,
    /// Minor amputations, planned closures not counted.
    pub n_minor_amputations: usize,
    /// Major amputation.
    pub major_amputation_day: Option<i32>,
    /// First visit with an open ulcer on this limb and a directly measured sign that calls for a vascular opinion.
    pub first_sign_day: Option<i32>,
    /// First such visit by ABI below 0.4.
    pub low_abi_day: Option<i32>,
    /// First such visit by ankle pressure below 50 mmHg.
    pub low_ankle_pressure_day: Option<i32>,
    /// First such visit by toe pressure below 30 mmHg.
    pub low_toe_pressure_day: Option<i32>,
    /// First such visit by TcPO2 below 30 mmHg.
    pub low_tcpo2_day: Option<i32>,
    /// First such visit by a monophasic or absent waveform.
    pub poor_waveform_day: Option<i32>,
    /// First such visit by gangrene.
    pub gangrene_day: Option<i32>,
    /// First referral to a vascular service; may lie before the first sign.
    pub referral_day: Option<i32>,
    /// First seen there.
    pub vascular_seen_day: Option<i32>,
    /// First physiologic study.
    pub physiologic_study_day: Option<i32>,
    /// First vascular imaging.
    pub vascular_imaging_day: Option<i32>,
    /// First revascularisation.
    pub revascularisation_day: Option<i32>,
}

pub(crate) fn limb(id: &str, side: Side, rows: &[Row], ulcers: &[VisibleUlcer]) -> VisibleLimb {
    let of_limb = |event: &&Event| event.side == Some(side) && !event.is_staged;
    let events = rows.iter().flat_map(|row| &row.events).filter(of_limb);
    let first = |kind: Kind| {
        events
            .clone()
            .filter(|event| event.kind == kind)
            .map(|event| event.day)
            .min()
    };
    let seen: Vec<(i32, Signs)> = rows
        .iter()
        .filter_map(|row| Some((row.day, signs_of(row, side)?)))
        .collect();
    let first_with = |is_met: fn(&Signs) -> bool| {
        seen.iter()
            .find(|(_, signs)| is_met(signs))
            .map(|(day, _)| *day)
    };
    let of_side = ulcers
        .iter()
        .filter(|ulcer| ulcer.side == side.ours() && !ulcer.is_surgical_wound());
    VisibleLimb {
        patient: id.to_owned(),
        side: side.ours(),
        first_ulcer_day: of_side.map(|ulcer| ulcer.index_day).min(),
        minor_amputation_day: first(Kind::MinorAmputation),
        n_minor_amputations: events
            .clone()
            .filter(|event| event.kind == Kind::MinorAmputation)
            .count(),
        major_amputation_day: first(Kind::MajorAmputation),
        first_sign_day: first_with(|signs| signs.any()),
        low_abi_day: first_with(|signs| signs.low_abi),
        low_ankle_pressure_day: first_with(|signs| signs.low_ankle),
        low_toe_pressure_day: first_with(|signs| signs.low_toe),
        low_tcpo2_day: first_with(|signs| signs.low_tcpo2),
        poor_waveform_day: first_with(|signs| signs.poor_waveform),
        gangrene_day: first_with(|signs| signs.gangrene),
        referral_day: first(Kind::VascularReferral),
        vascular_seen_day: first(Kind::VascularSeen),
        physiologic_study_day: first(Kind::PhysiologicStudy),
        vascular_imaging_day: first(Kind::VascularImaging),
        revascularisation_day: first(Kind::Revascularisation),
    }
}

/// The signs of a visit, if the limb had an open ulcer then; a surgical wound alone is none.
fn signs_of(row: &Row, side: Side) -> Option<Signs> {
    let open = row.ulcers.iter().filter(|ulcer| {
        ulcer.side == side
            && ulcer.state == Some(SeenState::Open)
            && ulcer.origin != Some(Origin::PostSurgical)
    });
    open.clone().next()?;
    let [left, right] = &row.feet;
    let foot = match side {
        Side::Left => left,
        Side::Right => right,
    };
    Some(signs(
        foot.as_ref(),
        open.filter_map(|ulcer| ulcer.gangrene).max(),
    ))
}
