//! How much an event time counts in the comparison of groups.

use serde::Serialize;

/// Weight of an event time in the log-rank family. With n at risk and d events in all groups, S the pooled Kaplan-Meier curve:
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weighting {
    /// 1: Mantel, Cancer Chemother Rep 1966;50:163; Peto and Peto, JRSS A 1972;135:185.
    #[default]
    LogRank,
    /// n: Gehan, Biometrika 1965;52:203; Breslow, Biometrika 1970;57:579.
    GehanBreslow,
    /// Square root of n: Tarone and Ware, Biometrika 1977;64:156.
    TaroneWare,
    /// Product of 1 - d/(n+1), the time itself included: Peto and Peto 1972; Prentice, Biometrika 1978;65:167.
    PetoPeto,
    /// The same times n/(n+1): Andersen, Borgan, Gill, Keiding, Int Stat Rev 1982;50:219.
    PetoPetoModified,
    /// S(t-)^p (1 - S(t-))^q: Fleming and Harrington, Counting Processes 1991, chapter 7.
    FlemingHarrington {
        /// Power of S; 0 or more.
        p: f64,
        /// Power of 1 - S; 0 or more.
        q: f64,
    },
}

/// The curves the weights are made of, carried from event time to event time.
pub(super) struct Weigher {
    weighting: Weighting,
    event_free: f64,
    peto: f64,
}

impl Weigher {
    pub(super) fn new(weighting: Weighting) -> Self {
        Self {
            weighting,
            event_free: 1.0,
            peto: 1.0,
        }
    }

    /// The weight of the next event time.
    pub(super) fn next(&mut self, n_at_risk: f64, n_events: f64) -> f64 {
        let before = self.event_free;
        self.event_free *= (n_at_risk - n_events) / n_at_risk;
        self.peto *= 1.0 - n_events / (n_at_risk + 1.0);
        match self.weighting {
            Weighting::LogRank => 1.0,
            Weighting::GehanBreslow => n_at_risk,
            Weighting::TaroneWare => n_at_risk.sqrt(),
            Weighting::PetoPeto => self.peto,
            Weighting::PetoPetoModified => self.peto * n_at_risk / (n_at_risk + 1.0),
            Weighting::FlemingHarrington { p, q } => before.powf(p) * (1.0 - before).powf(q),
        }
    }
}
