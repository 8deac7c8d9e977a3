//! Where things go: axis ticks, and labels that must not lie on one another.

/// An axis from 0 with evenly spaced ticks.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Axis {
    pub(crate) top: f64,
    pub(crate) ticks: Vec<f64>,
}

/// Ends of a share axis, each with its number of equal parts.
const SHARE_AXES: [(f64, u32); 8] = [
    (0.02, 4),
    (0.05, 5),
    (0.1, 5),
    (0.2, 4),
    (0.4, 4),
    (0.6, 3),
    (0.8, 4),
    (1.0, 4),
];

/// The shortest of our share axes (2% to 100%) that holds `highest`.
pub(crate) fn share_axis(highest: f64) -> Axis {
    let (top, parts) = SHARE_AXES
        .into_iter()
        .find(|(top, _)| highest <= *top)
        .unwrap_or((1.0, 4));
    evenly(top, parts)
}

/// An axis from 0 to a round number not below `highest`: 1, 2, 4, 5 or 10 times a power of ten.
pub(crate) fn open_axis(highest: f64) -> Axis {
    if !highest.is_finite() || highest <= 0.0 {
        return evenly(1.0, 4);
    }
    let power = 10_f64.powi(highest.log10().floor() as i32);
    let factor = [1.0, 2.0, 4.0, 5.0, 10.0]
        .into_iter()
        .find(|factor| highest <= factor * power)
        .unwrap_or(10.0);
    evenly(
        factor * power,
        if factor == 4.0 || factor == 2.0 { 4 } else { 5 },
    )
}

fn evenly(top: f64, parts: u32) -> Axis {
    let ticks = (0..=parts)
        .map(|part| top * f64::from(part) / f64::from(parts))
        .collect();
    Axis { top, ticks }
}

/// Every how many-th tick can carry a label of this width when ticks stand this far apart.
pub(crate) fn label_every(label_width: f64, tick_gap: f64) -> usize {
    if tick_gap <= 0.0 || !label_width.is_finite() {
        return 1;
    }
    (label_width / tick_gap).ceil().clamp(1.0, 1000.0) as usize
}

/// Middles for labels of these heights, each near its wish, none on another, all from `top` to `bottom`
/// as far as there is room. Order of the answers is that of the wishes.
pub(crate) fn spread(wishes: &[Wish], top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wishes.len()).collect();
    order.sort_by(|a, b| {
        wish(wishes, *a)
            .middle
            .total_cmp(&wish(wishes, *b).middle)
            .then(a.cmp(b))
    });
    let mut middles = vec![0.0; wishes.len()];
    let mut floor = top;
    for place in &order {
        let label = wish(wishes, *place);
        let middle = label.middle.max(floor + label.height / 2.0);
        set(&mut middles, *place, middle);
        floor = middle + label.height / 2.0;
    }
    let mut ceiling = bottom;
    for place in order.iter().rev() {
        let label = wish(wishes, *place);
        let middle = middles
            .get(*place)
            .copied()
            .unwrap_or_default()
            .min(ceiling - label.height / 2.0);
        set(&mut middles, *place, middle);
        ceiling = middle - label.height / 2.0;
    }
    middles
}

/// A label that would like its middle at this height.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wish {
    pub(crate) middle: f64,
    pub(crate) height: f64,
}

fn wish(wishes: &[Wish], place: usize) -> Wish {
    wishes.get(place).copied().unwrap_or(Wish {
        middle: 0.0,
        height: 0.0,
    })
}

fn set(middles: &mut [f64], place: usize, middle: f64) {
    if let Some(slot) = middles.get_mut(place) {
        *slot = middle;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_axis_is_as_short_as_the_data_allow() {
        for (highest, top) in [
            (0.0, 0.02),
            (0.05, 0.05),
            (0.33, 0.4),
            (0.81, 1.0),
            (1.3, 1.0),
        ] {
            assert_eq!(share_axis(highest).top, top);
        }
    }

    #[test]
    fn an_open_axis_ends_at_a_round_number_above_the_data() {
        for (highest, top) in [
            (0.0, 1.0),
            (7.0, 10.0),
            (13.0, 20.0),
            (52.0, 100.0),
            (330.0, 400.0),
        ] {
            assert_eq!(open_axis(highest).top, top);
        }
    }

    #[test]
    fn labels_that_want_the_same_place_stand_one_under_the_other() {
        let wishes = [90.0, 92.0, 20.0].map(|middle| Wish {
            middle,
            height: 20.0,
        });
        assert_eq!(spread(&wishes, 0.0, 100.0), [70.0, 90.0, 20.0]);
    }

    #[test]
    fn crowded_ticks_are_labelled_every_other_time() {
        assert_eq!(label_every(18.0, 20.0), 1);
        assert_eq!(label_every(30.0, 20.0), 2);
    }
}
