//! Processes that move between states at rates that do not change: what a practice with constant hazards comes to.

/// Days of a year, for hazards given by the year.
const YEAR_DAYS: f64 = 365.25;

/// Moves from state to state, each with its rate a day.
pub(crate) struct Chain {
    n_states: usize,
    moves: Vec<(usize, usize, f64)>,
}

/// A hazard of so many events a year, as a rate a day.
pub(crate) fn per_year(hazard: f64) -> f64 {
    hazard / YEAR_DAYS
}

impl Chain {
    pub(crate) fn new(moves: &[(usize, usize, f64)]) -> Self {
        let highest = moves.iter().map(|(from, to, _)| *from.max(to)).max();
        Self {
            n_states: highest.map_or(1, |highest| highest + 1),
            moves: moves.to_vec(),
        }
    }

    pub(crate) fn moves(&self) -> &[(usize, usize, f64)] {
        &self.moves
    }

    /// Probability of each state after so many days, from these probabilities on day 0.
    ///
    /// The process is seen as one that may move at the moments of a Poisson process: Jensen 1953, from memory.
    pub(crate) fn after(&self, start: &[f64], days: f64) -> Vec<f64> {
        let leaving = |state: usize| -> f64 {
            let from = self.moves.iter().filter(|(from, ..)| *from == state);
            from.map(|(.., rate)| rate).sum()
        };
        let pace = (0..self.n_states).map(leaving).fold(1e-9, f64::max);
        let mut now = start.to_vec();
        now.resize(self.n_states, 0.0);
        let mut weight = (-pace * days).exp();
        let mut after = vec![0.0; self.n_states];
        let mut left = 1.0;
        let mut n_moves = 0.0;
        while left > 1e-13 && n_moves < 5_000.0 {
            for (sum, state) in after.iter_mut().zip(&now) {
                *sum += weight * state;
            }
            left -= weight;
            let mut next = now.clone();
            for &(from, to, rate) in &self.moves {
                let moved = now[from] * rate / pace;
                next[from] -= moved;
                next[to] += moved;
            }
            now = next;
            n_moves += 1.0;
            weight *= pace * days / n_moves;
        }
        after
    }

    /// Probability of one state after so many days, all beginning in state 0.
    pub(crate) fn reached(&self, state: usize, days: f64) -> f64 {
        self.after(&[1.0], days)[state]
    }
}

#[test]
fn two_competing_moves_have_their_closed_form_and_a_move_and_its_return_theirs() {
    // h/H (1 - exp(-H t)); and b/(a+b) + a/(a+b) exp(-(a+b) t).
    let ends = Chain::new(&[(0, 1, 0.02), (0, 2, 0.01)]);
    let wanted = 2.0 / 3.0 * (1.0 - (-0.03f64 * 50.0).exp());
    assert!((ends.reached(1, 50.0) - wanted).abs() < 1e-12);
    let back = Chain::new(&[(0, 1, 0.02), (1, 0, 0.05)]);
    let wanted = (5.0 + 2.0 * (-0.07f64 * 400.0).exp()) / 7.0;
    assert!((back.reached(0, 400.0) - wanted).abs() < 1e-12);
}
