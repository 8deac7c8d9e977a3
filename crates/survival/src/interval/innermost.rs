//! The innermost intervals: where any mass must lie.

use crate::interval::IntervalSample;

/// A point between times: just before a time, or just after it. (L, R] runs from after L to after R, an exact time from
/// before it to after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Boundary(u64);

impl Boundary {
    fn before(time: f64) -> Boundary {
        // bits of numbers of 0 or more sort as the numbers do and leave the top bit free
        Boundary(time.to_bits() << 1)
    }

    fn after(time: f64) -> Boundary {
        Boundary((time.to_bits() << 1) | 1)
    }

    fn time(self) -> f64 {
        f64::from_bits(self.0 >> 1)
    }
}

/// Innermost intervals in order, and for each distinct kind of row the run of them it covers.
#[derive(Debug, Clone)]
pub(crate) struct Innermost {
    pub(crate) lower: Vec<f64>,
    pub(crate) upper: Vec<f64>,
    pub(crate) spans: Vec<Span>,
    pub(crate) total_weight: f64,
}

/// Rows that cover innermost intervals `first` to `last`, both included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) first: u32,
    pub(crate) last: u32,
    pub(crate) weight: f64,
}

/// A lower end followed, with no other end between, by an upper end (Peto, Applied Statistics 1973;22:86-91; Turnbull, JRSS B
/// 1976;38:290-295). Where an upper and a lower end meet, the upper comes first: (a, b] and (b, c] share no time.
pub(crate) fn innermost(sample: &IntervalSample) -> Innermost {
    let rows: Vec<usize> = (0..sample.len())
        .filter(|&row| sample.weight_of(row) > 0.0)
        .collect();
    let mut starts: Vec<(Boundary, u32)> = Vec::with_capacity(rows.len());
    let mut ends: Vec<(Boundary, u32)> = Vec::with_capacity(rows.len());
    for (place, &row) in rows.iter().enumerate() {
        let (lower, upper) = (sample.lower()[row], sample.upper()[row]);
        starts.push((
            if lower == upper {
                Boundary::before(lower)
            } else {
                Boundary::after(lower)
            },
            place as u32,
        ));
        ends.push((Boundary::after(upper), place as u32));
    }
    starts.sort_unstable();
    ends.sort_unstable();
    let mut found = Innermost {
        lower: Vec::new(),
        upper: Vec::new(),
        spans: Vec::new(),
        total_weight: 0.0,
    };
    let mut spans = vec![
        Span {
            first: 0,
            last: 0,
            weight: 0.0
        };
        rows.len()
    ];
    let mut open: Option<Boundary> = None;
    let mut next_start = starts.iter().peekable();
    for &(end, place) in &ends {
        while let Some(&(start, place)) = next_start.next_if(|(start, _)| *start < end) {
            open = Some(start);
            spans[place as usize].first = found.lower.len() as u32;
        }
        if let Some(start) = open.take() {
            found.lower.push(start.time());
            found.upper.push(end.time());
        }
        spans[place as usize].last = found.lower.len() as u32 - 1;
    }
    for (span, &row) in spans.iter_mut().zip(&rows) {
        span.weight = sample.weight_of(row);
    }
    found.spans = merged(spans);
    found.total_weight = found.spans.iter().map(|span| span.weight).sum();
    found
}

/// Equal spans become one with the sum of their weights.
fn merged(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_unstable_by(|a, b| {
        (a.first, a.last)
            .cmp(&(b.first, b.last))
            .then(a.weight.total_cmp(&b.weight))
    });
    spans.dedup_by(|next, kept| {
        let is_same = (next.first, next.last) == (kept.first, kept.last);
        if is_same {
            kept.weight += next.weight;
        }
        is_same
    });
    spans
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn touching_intervals_share_no_time_and_an_exact_time_lies_inside_one_that_ends_there() {
        // (0,5] and (5,10] touch; the exact 5 lies in the first only
        let sample = IntervalSample::new(vec![0.0, 5.0, 5.0], vec![5.0, 10.0, 5.0]).unwrap();
        let found = innermost(&sample);
        assert_eq!(found.lower, vec![5.0, 5.0]);
        assert_eq!(found.upper, vec![5.0, 10.0]);
        let runs: Vec<(u32, u32)> = found
            .spans
            .iter()
            .map(|span| (span.first, span.last))
            .collect();
        assert_eq!(runs, vec![(0, 0), (1, 1)]);
    }
}
