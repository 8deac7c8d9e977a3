//! Weighted sums over a risk set, and what the events tied at one time take from them.

/// Sum of risks, and of risk times covariates.
#[derive(Debug, Clone)]
pub(crate) struct Moments {
    pub(crate) risk: f64,
    pub(crate) first: Vec<f64>,
}

impl Moments {
    pub(crate) fn zero(n_terms: usize) -> Moments {
        Moments {
            risk: 0.0,
            first: vec![0.0; n_terms],
        }
    }

    pub(crate) fn clear(&mut self) {
        self.risk = 0.0;
        self.first.fill(0.0);
    }

    /// Adds a row; a negative risk takes it away again.
    #[inline]
    pub(crate) fn add(&mut self, risk: f64, row: &[f64]) {
        self.risk += risk;
        for (first, &value) in self.first.iter_mut().zip(row) {
            *first += risk * value;
        }
    }

    /// Adds rows held one after the other. Models of the usual size have their loops unrolled.
    pub(crate) fn add_rows(&mut self, risks: &[f64], rows: &[f64]) {
        match self.first.len() {
            0 => self.risk += risks.iter().sum::<f64>(),
            1 => self.add_rows_of::<1>(risks, rows),
            2 => self.add_rows_of::<2>(risks, rows),
            3 => self.add_rows_of::<3>(risks, rows),
            4 => self.add_rows_of::<4>(risks, rows),
            5 => self.add_rows_of::<5>(risks, rows),
            6 => self.add_rows_of::<6>(risks, rows),
            7 => self.add_rows_of::<7>(risks, rows),
            8 => self.add_rows_of::<8>(risks, rows),
            9 => self.add_rows_of::<9>(risks, rows),
            10 => self.add_rows_of::<10>(risks, rows),
            11 => self.add_rows_of::<11>(risks, rows),
            12 => self.add_rows_of::<12>(risks, rows),
            n_terms => {
                for (&risk, row) in risks.iter().zip(rows.chunks_exact(n_terms)) {
                    self.add(risk, row);
                }
            }
        }
    }

    fn add_rows_of<const N: usize>(&mut self, risks: &[f64], rows: &[f64]) {
        let mut total = 0.0;
        let mut sums = [0.0; N];
        let (rows, _) = rows.as_chunks::<N>();
        for (risk, row) in risks.iter().zip(rows) {
            total += risk;
            for (sum, value) in sums.iter_mut().zip(row) {
                *sum += risk * value;
            }
        }
        self.risk += total;
        for (first, sum) in self.first.iter_mut().zip(&sums) {
            *first += sum;
        }
    }

    /// Adds the sums of other rows.
    pub(crate) fn merge(&mut self, other: &Moments) {
        self.risk += other.risk;
        for (first, other) in self.first.iter_mut().zip(&other.first) {
            *first += other;
        }
    }

    /// Becomes the sums of `base` with `share` times those of `other`.
    pub(crate) fn combine(&mut self, base: &Moments, share: f64, other: &Moments) {
        self.risk = base.risk + share * other.risk;
        for ((cell, base), other) in self.first.iter_mut().zip(&base.first).zip(&other.first) {
            *cell = base + share * other;
        }
    }
}

/// How events at one time share a denominator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sharing {
    /// Each event meets the whole risk set (Breslow, Biometrics 1974;30:89-99).
    Whole,
    /// The l-th of d events meets the risk set less (l-1)/d of the tied events' risk (Efron, JASA 1977;72:557-565, eq. 4.2).
    Shrinking,
}

/// The sums over l = 0..d of `w/den`, with `den = risk - (l/d) tied`, that every quantity at an event time is made of; `w`
/// is the mean case weight of the tied events.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct TieSums {
    /// Sum of w/den: the hazard increment of those at risk without the event.
    pub(crate) plain: f64,
    /// Sum of (l/d) w/den.
    pub(crate) faded: f64,
    /// Sum of w/den^2.
    pub(crate) square: f64,
    /// Sum of (l/d) w/den^2.
    pub(crate) square_faded: f64,
    /// Sum of (l/d)^2 w/den^2.
    pub(crate) square_faded_twice: f64,
    /// Sum of w ln den.
    pub(crate) log: f64,
}

impl TieSums {
    /// `total_weight` is the sum of case weights of the `n_events` tied events.
    pub(crate) fn of(
        sharing: Sharing,
        n_events: u32,
        total_weight: f64,
        risk: f64,
        tied_risk: f64,
    ) -> TieSums {
        if sharing == Sharing::Whole || n_events <= 1 {
            let plain = total_weight / risk;
            return TieSums {
                plain,
                square: plain / risk,
                log: total_weight * risk.ln(),
                ..TieSums::default()
            };
        }
        let mean_weight = total_weight / f64::from(n_events);
        let mut sums = TieSums::default();
        for event in 0..n_events {
            let faded = f64::from(event) / f64::from(n_events);
            let denominator = risk - faded * tied_risk;
            let plain = mean_weight / denominator;
            let square = plain / denominator;
            sums.plain += plain;
            sums.faded += faded * plain;
            sums.square += square;
            sums.square_faded += faded * square;
            sums.square_faded_twice += faded * faded * square;
            sums.log += mean_weight * denominator.ln();
        }
        sums
    }

    /// Adds the sum over l of w times the products of the mean covariates of the l-th risk set, packed by lower triangle,
    /// times `factor`.
    pub(crate) fn add_mean_products(
        &self,
        factor: f64,
        at_risk: &Moments,
        tied: &Moments,
        packed: &mut [f64],
    ) {
        let has_ties = self.square_faded != 0.0;
        let mut rest = packed;
        for (row, (&s, &d)) in at_risk.first.iter().zip(&tied.first).enumerate() {
            let (line, remainder) = rest.split_at_mut(row + 1);
            rest = remainder;
            let d = if has_ties { d } else { 0.0 };
            let left = factor * (self.square * s - self.square_faded * d);
            for (cell, other) in line.iter_mut().zip(&at_risk.first) {
                *cell += left * other;
            }
            if has_ties {
                let right = factor * (self.square_faded_twice * d - self.square_faded * s);
                for (cell, other) in line.iter_mut().zip(&tied.first) {
                    *cell += right * other;
                }
            }
        }
    }

    /// Sum over l of w times the mean covariate of the l-th risk set.
    pub(crate) fn mean_covariate(&self, at_risk: &Moments, tied: &Moments, term: usize) -> f64 {
        self.plain * at_risk.first[term] - self.faded * tied.first[term]
    }
}
