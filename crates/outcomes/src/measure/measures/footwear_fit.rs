use super::footwear::{is_too_small_by, mismatch};
use super::footwear_measured;
use super::new_ulcers;
use crate::measure::{Banded, ClassPlace, Measure, Method, Study};
use crate::rules::Rule;

/// Worn against measured size. One US size is a third of an inch, 8.5 mm; half a size 4.2 mm.
const CLASSES: &[&str] = &[
    "less than half a size apart",
    "too small by 1 size or more",
    "too small by half to less than 1 size",
    "too large by half to less than 1 size",
    "too large by 1 size or more",
];

pub(in crate::measure) const MEASURE: Measure = Measure {
    id: "footwear-fit",
    title: "Shoe worn against foot measured",
    words: "How the shoe size worn compares with the foot size measured, for the feet of new ulcers, in US sizes. One size is 8.5 mm of length, half a size 4.2 mm.",
    numerator: "ulcers on a foot in the band",
    source: "One full US size is a third of an inch: common practice, no source",
    caution: "Feet swell through the day, and makers differ in their sizes. Length says nothing about width. Some shoes are rightly larger than the foot, for insoles and dressings.",
    direction: "neither",
    reading: "Of 100 new ulcers whose shoe and foot were measured, how many came in shoes of each fit.",
    method: Method::Bands {
        classes: CLASSES,
        banded,
    },
    ..footwear_measured::MEASURE
};

fn banded(study: &Study<'_>, rule: &Rule) -> Vec<Banded> {
    new_ulcers::banded(study, rule, |reading, ulcer, view| {
        Some(mismatch(reading, ulcer, view.rules).map(band))
    })
}

fn band(mismatch: f64) -> ClassPlace {
    match mismatch {
        sizes if is_too_small_by(sizes, 1.0) => 1,
        sizes if is_too_small_by(sizes, 0.5) => 2,
        sizes if is_too_small_by(-sizes, 1.0) => 4,
        sizes if is_too_small_by(-sizes, 0.5) => 3,
        _ => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_begin_at_the_half_and_at_the_full_size() {
        for (mismatch, expected) in [
            (0.0, 0),
            (-0.4, 0),
            (-0.5, 2),
            (-0.9, 2),
            (-1.0, 1),
            (-3.0, 1),
            (0.4, 0),
            (0.5, 3),
            (1.0, 4),
        ] {
            assert_eq!(band(mismatch), expected, "{mismatch}");
        }
    }
}
