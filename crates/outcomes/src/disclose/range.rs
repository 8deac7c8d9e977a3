//! What an outsider can work out about a hidden count: the lowest and highest value that fits everything printed.
//!
//! First by passing bounds along the sums until nothing moves, which is quick and exact where sums form a tree; then, for
//! what still looks safe, by linear programming over the cells that hang together, which no attacker with the same sums can
//! beat by linear reasoning.

use super::facts::{CellId, Facts};
use microlp::{ComparisonOp, OptimizationDirection, Problem};

/// The values a count can have. `highest` is `None` when nothing bounds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Range {
    /// Lowest possible value.
    pub(super) lowest: f64,
    /// Highest possible value.
    pub(super) highest: Option<f64>,
}

impl Range {
    const ANY: Self = Self {
        lowest: 0.0,
        highest: None,
    };

    fn only(count: u64) -> Self {
        Self {
            lowest: count as f64,
            highest: Some(count as f64),
        }
    }

    /// Whether the values lie more than `width` apart.
    pub(super) fn is_wider_than(&self, width: u64) -> bool {
        self.highest
            .is_none_or(|highest| highest - self.lowest > width as f64 + TOLERANCE)
    }

    fn is_one_value(&self) -> bool {
        self.highest
            .is_some_and(|highest| highest - self.lowest < TOLERANCE)
    }
}

const TOLERANCE: f64 = 1e-6;
/// Bounds settle in a few rounds; the limit only guards against slow convergence, and stopping early is safe because
/// linear programming has the last word.
const MOST_ROUNDS: usize = 100;

/// The range of every cell by passing bounds along the sums. `is_known` says which cells are printed.
pub(super) fn ranges(facts: &Facts, is_known: impl Fn(CellId) -> bool) -> Vec<Range> {
    let mut ranges: Vec<Range> = facts
        .cells()
        .iter()
        .enumerate()
        .map(|(id, cell)| match cell.truth {
            Some(truth) if is_known(id) => Range::only(truth),
            _ => Range::ANY,
        })
        .collect();
    for _ in 0..MOST_ROUNDS {
        let mut has_moved = false;
        for sum in facts.sums() {
            has_moved |= tighten(&mut ranges, sum.whole, &sum.parts);
        }
        if !has_moved {
            break;
        }
    }
    ranges
}

/// Tightens the whole by its parts and each part by the whole and the others.
fn tighten(ranges: &mut [Range], whole: CellId, parts: &[CellId]) -> bool {
    let lowest: f64 = parts.iter().map(|&part| ranges[part].lowest).sum();
    let highest: Option<f64> = parts.iter().map(|&part| ranges[part].highest).sum();
    let mut has_moved = narrow(&mut ranges[whole], lowest, highest);
    let whole = ranges[whole];
    let n_open = parts
        .iter()
        .filter(|&&part| ranges[part].highest.is_none())
        .count();
    let closed: f64 = parts.iter().filter_map(|&part| ranges[part].highest).sum();
    for &part in parts {
        let own = ranges[part];
        let at_most = whole.highest.map(|highest| highest - (lowest - own.lowest));
        // The others cannot give more than their highest values, so this part must give the remainder.
        let at_least = match (n_open, own.highest) {
            (0, Some(highest)) => whole.lowest - (closed - highest),
            (1, None) => whole.lowest - closed,
            _ => 0.0,
        };
        has_moved |= narrow(&mut ranges[part], at_least, at_most);
    }
    has_moved
}

fn narrow(range: &mut Range, lowest: f64, highest: Option<f64>) -> bool {
    let mut has_moved = false;
    if lowest > range.lowest + TOLERANCE {
        range.lowest = lowest;
        has_moved = true;
    }
    if let Some(highest) = highest
        && range.highest.is_none_or(|own| highest < own - TOLERANCE)
    {
        range.highest = Some(highest);
        has_moved = true;
    }
    has_moved
}

/// The range of one cell by linear programming over every cell that hangs together with it; `None` when the solver gives
/// no answer, which must be read as "not shown to be safe".
pub(super) fn exact_range(
    facts: &Facts,
    sums_of: &[Vec<usize>],
    known: &[Range],
    cell: CellId,
) -> Option<Range> {
    let component = component(facts, sums_of, known, cell);
    // Where nothing that hangs together with the cell is known to be more than 0, the true counts times any number fit as
    // well as the true counts do.
    let is_scalable = component
        .iter()
        .flat_map(|&sum| facts.sums()[sum].members())
        .all(|member| {
            known[member].lowest <= 0.0
                && (known[member].highest.is_none() || known[member].is_one_value())
        });
    if is_scalable && facts.cells()[cell].truth.is_some_and(|truth| truth > 0) {
        return Some(Range::ANY);
    }
    let lowest = bound(
        facts,
        known,
        &component,
        cell,
        OptimizationDirection::Minimize,
    )?;
    let highest = bound(
        facts,
        known,
        &component,
        cell,
        OptimizationDirection::Maximize,
    )?;
    Some(Range {
        lowest: lowest.unwrap_or(0.0),
        highest,
    })
}

/// Sums reached from a cell through cells whose value is open.
fn component(facts: &Facts, sums_of: &[Vec<usize>], known: &[Range], cell: CellId) -> Vec<usize> {
    let mut is_taken = vec![false; facts.sums().len()];
    let mut is_seen = vec![false; facts.cells().len()];
    let mut waiting = vec![cell];
    is_seen[cell] = true;
    while let Some(next) = waiting.pop() {
        for &position in &sums_of[next] {
            if std::mem::replace(&mut is_taken[position], true) {
                continue;
            }
            let sum = &facts.sums()[position];
            for member in sum.members() {
                if !known[member].is_one_value() && !std::mem::replace(&mut is_seen[member], true) {
                    waiting.push(member);
                }
            }
        }
    }
    (0..is_taken.len()).filter(|&n| is_taken[n]).collect()
}

/// `Some(None)`: no bound on this side.
#[allow(
    clippy::option_option,
    reason = "no answer and no bound are different things"
)]
fn bound(
    facts: &Facts,
    known: &[Range],
    component: &[usize],
    cell: CellId,
    direction: OptimizationDirection,
) -> Option<Option<f64>> {
    let mut problem = Problem::new(direction);
    let mut variables = std::collections::BTreeMap::new();
    let mut variable = |problem: &mut Problem, id: CellId| {
        *variables.entry(id).or_insert_with(|| {
            let (low, high) = (known[id].lowest, known[id].highest.unwrap_or(f64::INFINITY));
            problem.add_var(if id == cell { 1.0 } else { 0.0 }, (low, high.max(low)))
        })
    };
    let target = variable(&mut problem, cell);
    for &position in component {
        let sum = &facts.sums()[position];
        let mut terms = vec![(variable(&mut problem, sum.whole), -1.0)];
        for &part in &sum.parts {
            terms.push((variable(&mut problem, part), 1.0));
        }
        problem.add_constraint(terms.as_slice(), ComparisonOp::Eq, 0.0);
    }
    match problem.solve() {
        Ok(outcome) => Some(Some(outcome.into_solution().ok()?.var_value(target))),
        Err(microlp::Error::Unbounded) => Some(None),
        Err(_) => None,
    }
}
