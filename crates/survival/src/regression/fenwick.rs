//! Running sums by rank.

/// Weights by rank, with the sum below any rank in logarithmic time (Fenwick, Software: Practice and Experience
/// 1994;24:327-336).
#[derive(Debug, Clone)]
pub(crate) struct RankSums {
    tree: Vec<f64>,
    own: Vec<f64>,
    total: f64,
}

/// Weight at smaller, equal and larger ranks.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Split {
    pub(crate) below: f64,
    pub(crate) equal: f64,
    pub(crate) above: f64,
}

impl RankSums {
    pub(crate) fn zero(n_ranks: usize) -> RankSums {
        RankSums {
            tree: vec![0.0; n_ranks + 1],
            own: vec![0.0; n_ranks],
            total: 0.0,
        }
    }

    pub(crate) fn add(&mut self, rank: usize, weight: f64) {
        self.own[rank] += weight;
        self.total += weight;
        let mut node = rank + 1;
        while node < self.tree.len() {
            self.tree[node] += weight;
            node += node & node.wrapping_neg();
        }
    }

    pub(crate) fn split(&self, rank: usize) -> Split {
        let mut below = 0.0;
        let mut node = rank;
        while node > 0 {
            below += self.tree[node];
            node &= node - 1;
        }
        let equal = self.own[rank];
        Split {
            below,
            equal,
            above: self.total - below - equal,
        }
    }
}

/// Dense ranks, from 0, of finite numbers; equal numbers share a rank.
pub(crate) struct DenseRanks {
    pub(crate) ranks: Vec<u32>,
    pub(crate) n_ranks: usize,
}

pub(crate) fn dense_ranks(values: &[f64]) -> DenseRanks {
    let mut order: Vec<u32> = (0..values.len() as u32).collect();
    order.sort_unstable_by(|&a, &b| values[a as usize].total_cmp(&values[b as usize]));
    let mut ranks = vec![0; values.len()];
    let mut n_ranks = 0;
    let mut previous: Option<f64> = None;
    for &place in &order {
        let value = values[place as usize];
        if previous != Some(value) {
            n_ranks += 1;
            previous = Some(value);
        }
        ranks[place as usize] = (n_ranks - 1) as u32;
    }
    DenseRanks { ranks, n_ranks }
}
