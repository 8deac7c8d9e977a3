//! What is true of a person at one moment.

use crate::person::{ArterialDisease, Flow};
use crate::words::{Gangrene, Height, Infection, Kind, Origin, Place, Precision, Side, Tissue};

/// What a lesion is at this moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Status {
    PreUlcerative,
    Open,
    Closed,
    /// Removed by a minor amputation.
    Excised,
    /// Gone with the limb.
    LostWithLimb,
    /// Part of another lesion.
    Merged,
}

/// One lesion as it truly is. Moments are days from data start, with fractions.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Lesion {
    pub(crate) side: Side,
    pub(crate) site: usize,
    pub(crate) onset: f64,
    /// Day told as the onset, and how exactly.
    pub(crate) told_onset_day: i32,
    pub(crate) precision: Precision,
    pub(crate) origin: Origin,
    pub(crate) place: Place,
    pub(crate) parent: Option<usize>,
    pub(crate) merged_into: Option<usize>,
    pub(crate) start_area_cm2: f64,
    /// How many of three signs that healing takes long it had when it was presented.
    pub(crate) n_severe: usize,
    /// Length over width.
    pub(crate) stretch: f64,
    pub(crate) tissue: Tissue,
    pub(crate) gangrene: Gangrene,
    pub(crate) infection: Infection,
    pub(crate) has_osteomyelitis: bool,
    pub(crate) status: Status,
    /// Cumulative healing hazard at which it closes: exponential with mean 1.
    pub(crate) threshold: f64,
    /// Cumulative healing hazard so far.
    pub(crate) spent: f64,
    /// Every closure and reopening.
    pub(crate) closures: Vec<f64>,
    pub(crate) reopenings: Vec<f64>,
    /// When it was excised, lost with the limb or merged.
    pub(crate) ended: Option<f64>,
    /// Label in the records, once seen.
    pub(crate) label: Option<usize>,
    pub(crate) n_closed_records: u32,
    pub(crate) n_records: u32,
    pub(crate) last_record_day: i32,
    /// The end has been written down.
    pub(crate) is_end_recorded: bool,
}

impl Lesion {
    pub(crate) fn is_open(&self) -> bool {
        self.status == Status::Open
    }

    /// True area: it falls as the healing hazard is spent, to nothing at closure.
    pub(crate) fn area_cm2(&self) -> f64 {
        let left = (1.0 - self.spent / self.threshold).clamp(0.0, 1.0);
        // The power makes half the area go in a third of the healing time: 4 weeks of 12, the published midpoint
        // of about 53% (Sheehan, Diabetes Care 2003;26:1879-1882).
        self.start_area_cm2 * libm::pow(left, 1.7)
    }

    pub(crate) fn is_infected_deeply(&self) -> bool {
        self.infection >= Infection::Moderate
    }

    pub(crate) fn is_deep(&self) -> bool {
        self.tissue >= Tissue::TendonOrMuscle
    }
}

/// What changes about a limb over time.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LimbState {
    pub(crate) arterial: ArterialDisease,
    pub(crate) flow: Flow,
    pub(crate) is_revascularised: bool,
    pub(crate) has_lost_toe: bool,
    /// When it was lost; before the first visit, the day of that visit.
    pub(crate) lost: Option<f64>,
    pub(crate) has_measured_pressures: bool,
    /// Was supplied footwear that fits.
    pub(crate) has_new_shoe: bool,
    pub(crate) is_pathway_open: bool,
}

/// Something that happened, and when the practice can know it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Happening {
    pub(crate) kind: Kind,
    pub(crate) day: i32,
    pub(crate) side: Option<Side>,
    pub(crate) height: Option<Height>,
    pub(crate) lesion: Option<usize>,
    pub(crate) is_staged: bool,
    /// Day of the letter that tells it; none when no letter comes.
    pub(crate) told_day: Option<i32>,
}
