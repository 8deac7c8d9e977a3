//! Rows that belong together: their influences are added before they are squared.

use crate::halves::fill_in_halves;
use crate::influence::numbered_clusters;
use crate::regression::SquareMatrix;
use crate::regression::gram::weighted_products;

/// Dense cluster numbers by position; rows without clusters each stand alone.
#[derive(Debug, Clone)]
pub(crate) struct ClusterIndex {
    pub(crate) of_position: Vec<u32>,
    pub(crate) n_clusters: usize,
}

impl ClusterIndex {
    /// `order` lists input rows.
    pub(crate) fn of(cluster: Option<&[u32]>, n_rows: usize, order: &[u32]) -> ClusterIndex {
        if cluster.is_none() {
            // in the order of the positions, so that sums over clusters do not follow that of the input
            return ClusterIndex {
                of_position: (0..order.len() as u32).collect(),
                n_clusters: order.len(),
            };
        }
        let (number, n_clusters) = numbered_clusters(cluster, n_rows);
        let mut of_position = vec![0; order.len()];
        fill_in_halves(&mut of_position, 1, |first, part| {
            for (cluster, &row) in part.iter_mut().zip(&order[first..]) {
                *cluster = number[row as usize];
            }
        });
        ClusterIndex {
            of_position,
            n_clusters,
        }
    }

    /// Clusters with a row.
    pub(crate) fn n_with_rows(&self) -> usize {
        let mut has_row = vec![false; self.n_clusters];
        for &cluster in &self.of_position {
            has_row[cluster as usize] = true;
        }
        has_row.iter().filter(|&&has_row| has_row).count()
    }
}

/// Sums rows of `width` values by cluster.
pub(crate) fn summed_by_cluster(rows: &[f64], width: usize, clusters: &ClusterIndex) -> Vec<f64> {
    let mut sums = vec![0.0; clusters.n_clusters * width];
    if width == 0 {
        return sums;
    }
    for (row, &cluster) in rows.chunks_exact(width).zip(&clusters.of_position) {
        let start = cluster as usize * width;
        for (sum, value) in sums[start..start + width].iter_mut().zip(row) {
            *sum += value;
        }
    }
    sums
}

/// Sum over clusters of the outer square of their summed rows: the variance of a sum of rows that depend only within
/// clusters.
pub(crate) fn cluster_variance(
    rows: &[f64],
    width: usize,
    clusters: &ClusterIndex,
) -> SquareMatrix {
    outer_square(&summed_by_cluster(rows, width, clusters), width)
}

/// Sum of the outer squares of rows held one after the other.
pub(crate) fn outer_square(rows: &[f64], width: usize) -> SquareMatrix {
    let ones = vec![1.0; rows.len() / width.max(1)];
    SquareMatrix::from_packed_lower(width, &weighted_products(rows, width, &ones))
}
