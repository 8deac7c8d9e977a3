//! Stretches of days, joined where they overlap.

/// From a day on, until another if it ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) start: f64,
    pub(crate) end: Option<f64>,
}

/// The union of the stretches, in order; one that begins on the very day another ends is joined to it.
pub(crate) fn joined(mut stretches: Vec<Stretch>) -> Vec<Stretch> {
    stretches.sort_by(|a, b| a.start.total_cmp(&b.start));
    let mut union: Vec<Stretch> = Vec::new();
    for stretch in stretches {
        match union.last_mut() {
            Some(last) if last.end.is_none_or(|end| stretch.start <= end) => {
                last.end = match (last.end, stretch.end) {
                    (Some(one), Some(other)) => Some(one.max(other)),
                    _ => None,
                };
            }
            _ => union.push(stretch),
        }
    }
    union
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(start: f64, end: Option<f64>) -> Stretch {
        Stretch { start, end }
    }

    #[test]
    fn stretches_that_touch_are_one_and_an_open_end_swallows_the_rest() {
        let days = vec![
            stretch(40.0, Some(50.0)),
            stretch(0.0, Some(10.0)),
            stretch(10.0, Some(20.0)),
            stretch(60.0, None),
            stretch(70.0, Some(80.0)),
        ];
        let union = vec![
            stretch(0.0, Some(20.0)),
            stretch(40.0, Some(50.0)),
            stretch(60.0, None),
        ];
        assert_eq!(joined(days), union);
    }
}
