//! Three scales of how a wound's area changes, over the same two layouts: a pair of readings in one row, or a row a visit.

use super::area::{DAY, PATIENT, ULCER, area_by, by_ulcer, method_of, method_word};
use super::graded::because;
use super::item::{Item, ItemKind, OtherName, same};
use super::items::{AREA, LENGTH, WIDTH, area_item, length_item};
use super::{Answers, Cell, ColumnWords, GradeOptions, Graded, Scale, ScaleMethod};
use crate::grade::{
    AreaMethod, FOUR_WEEK_WINDOW, Outline, area_from_lengths_cm2, area_reduction_percent,
    edge_advance_cm, ellipse_perimeter_cm, exponential_rate_per_week, four_week_reading,
};

const ITEMS: &[Item] = &[
    PATIENT,
    ULCER,
    DAY,
    LENGTH,
    WIDTH,
    AREA,
    length_item("perimeter_cm", "perimeter, cm", &[same("perimeter")]),
    Item {
        name: "closed",
        words: "the wound is closed: its area is 0",
        kind: ItemKind::YesNo {
            yes: &["closed", "healed"],
            no: &["open"],
        },
        also: &[same("healed"), same("state")],
    },
    area_item(
        "start_area_cm2",
        "first area, square cm, where one row holds both readings",
        &[
            same("initial_area_cm2"),
            same("baseline_area_cm2"),
            same("area0_cm2"),
        ],
    ),
    length_item(
        "start_length_cm",
        "first length, cm",
        &[same("initial_length_cm"), same("baseline_length_cm")],
    ),
    length_item(
        "start_width_cm",
        "first width, cm",
        &[same("initial_width_cm"), same("baseline_width_cm")],
    ),
    length_item(
        "start_perimeter_cm",
        "first perimeter, cm",
        &[same("initial_perimeter_cm"), same("baseline_perimeter_cm")],
    ),
    Item {
        name: "days",
        words: "days between the two readings, where one row holds both",
        kind: ItemKind::Number {
            lowest: 0.0,
            has_lowest: true,
            highest: 20_000.0,
        },
        also: &[OtherName {
            name: "weeks",
            times: 7.0,
        }],
    },
];

const LAYOUT: &str = "A row with a first reading of its own (`start_...`) is compared with that; otherwise every row is compared with the first row of its ulcer, by `ulcer` and `day`.";
const NOT_MIXED: &str = "Both areas are made by one method: length and width where the first reading has both, else the traced areas. Methods are never mixed. A closed wound has an area of 0.";

pub(super) const REDUCTION: Scale = Scale {
    id: "area-reduction",
    also: &["percentage-area-reduction", "par"],
    title: "Area reduction since the first reading",
    words: "share of the first area that has gone, percent: 100 (first - now) / first; negative for growth",
    rules: &[
        LAYOUT,
        NOT_MIXED,
        "No reduction is given when the first area is missing or below 0.2 square cm (a setting; exactly 0.2 is enough).",
        "The four-week reading is the one nearest to day 28 within day 21 to 35, of two equally near the later; day 14 is not four weeks. `half_gone` is yes from 50% on.",
    ],
    items: ITEMS,
    columns: &[
        ColumnWords {
            name: "days_between",
            words: "days since the first reading",
        },
        ColumnWords {
            name: "is_four_week_reading",
            words: "yes, no or unknown",
        },
        ColumnWords {
            name: "half_gone",
            words: "yes, no or unknown: a reduction of 50% or more",
        },
        ColumnWords {
            name: "first_area_used_cm2",
            words: "first area, square cm",
        },
        ColumnWords {
            name: "area_used_cm2",
            words: "area of this reading, square cm",
        },
    ],
    source: "Sheehan et al., Diabetes Care 2003;26:1879-1882 (midpoint between healers and non-healers 53%); window 21 to 35 days and smallest first area: rules of this project",
    caution: "With the usual error of measurement one wound in seven with a true reduction of 60% reads as below 50%: a prompt, not a verdict.",
    method: ScaleMethod::Table(reductions),
};

pub(super) const EDGE_ADVANCE: Scale = Scale {
    id: "edge-advance",
    also: &["linear-advance", "gilman"],
    title: "Linear advance of the wound edge",
    words: "mean distance by which the edge has moved inwards since the first reading, cm: (first - second area) / mean of the two perimeters",
    rules: &[
        LAYOUT,
        NOT_MIXED,
        "A perimeter that is not recorded is that of the ellipse with the recorded length and width; a closed wound has a perimeter of 0. Negative for growth.",
    ],
    items: ITEMS,
    columns: &[
        ColumnWords {
            name: "days_between",
            words: "days since the first reading",
        },
        ColumnWords {
            name: "cm_per_week",
            words: "advance a week, cm",
        },
    ],
    source: "Gilman 1990 (from memory); perimeter of an ellipse: Ramanujan 1914",
    caution: "Made from length and width it assumes an ellipse.",
    method: ScaleMethod::Table(advances),
};

pub(super) const HEALING_RATE: Scale = Scale {
    id: "healing-rate",
    also: &["exponential-rate"],
    title: "Exponential healing rate",
    words: "rate of exponential shrinking a week since the first reading: ln(first / now) / weeks; negative for growth",
    rules: &[
        LAYOUT,
        NOT_MIXED,
        "Not gradable without days between, and for a closed wound: no finite rate leads to an area of 0.",
    ],
    items: ITEMS,
    columns: &[
        ColumnWords {
            name: "days_between",
            words: "days since the first reading",
        },
        ColumnWords {
            name: "half_time_weeks",
            words: "weeks in which the area halves, where it shrinks",
        },
    ],
    source: "A(t) = A0 exp(-kt); halving in 4 weeks is 0.1733 a week",
    caution: "Two readings make a rate with no interval; a wound rarely shrinks exponentially to the end.",
    method: ScaleMethod::Table(rates),
};

/// Two readings of one wound.
#[derive(Debug, Clone, Copy, Default)]
struct Pair {
    first_cm2: Option<f64>,
    now_cm2: Option<f64>,
    first_perimeter_cm: Option<f64>,
    now_perimeter_cm: Option<f64>,
    days: Option<f64>,
    /// `None` when the days are unknown.
    is_four_week_reading: Option<bool>,
    method: Option<AreaMethod>,
    is_first: bool,
}

fn perimeter_of(row: &Answers<'_>) -> Option<f64> {
    if row.is("closed") == Some(true) {
        return Some(0.0);
    }
    let ellipse = || {
        Some(ellipse_perimeter_cm(
            row.number("length_cm")?,
            row.number("width_cm")?,
        ))
    };
    row.number("perimeter_cm").or_else(ellipse)
}

fn area_now(row: &Answers<'_>, method: Option<AreaMethod>) -> Option<f64> {
    if row.is("closed") == Some(true) {
        return Some(0.0);
    }
    area_by(row, method?)
}

/// Both readings in one row; `None` when the row has no first reading of its own.
fn pair_in_row(row: &Answers<'_>, options: &GradeOptions) -> Option<Pair> {
    let lengths = row
        .number("start_length_cm")
        .zip(row.number("start_width_cm"));
    let by_lengths = AreaMethod::FromLengths(options.area_formula);
    let traced = row.number("start_area_cm2");
    let now_lengths = area_by(row, by_lengths).is_some();
    // Both given: the one of which the second reading has its half, lengths first.
    let (first, method) = match (lengths, traced) {
        (Some((length, width)), other) if now_lengths || other.is_none() => (
            area_from_lengths_cm2(length, width, options.area_formula),
            by_lengths,
        ),
        (_, Some(area)) => (area, AreaMethod::Traced),
        (Some((length, width)), None) => (
            area_from_lengths_cm2(length, width, options.area_formula),
            by_lengths,
        ),
        (None, None) => return None,
    };
    let days = row.number("days");
    let ellipse = lengths.map(|(length, width)| ellipse_perimeter_cm(length, width));
    Some(Pair {
        first_cm2: Some(first),
        now_cm2: area_now(row, Some(method)),
        first_perimeter_cm: row.number("start_perimeter_cm").or(ellipse),
        now_perimeter_cm: perimeter_of(row),
        days,
        is_four_week_reading: days.map(|days| {
            (*FOUR_WEEK_WINDOW.start() as f64..=*FOUR_WEEK_WINDOW.end() as f64).contains(&days)
        }),
        method: Some(method),
        is_first: false,
    })
}

fn pairs(rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Pair> {
    let mut pairs = vec![Pair::default(); rows.len()];
    for positions in by_ulcer(rows) {
        let Some(first) = positions.first().and_then(|first| rows.get(*first)) else {
            continue;
        };
        let method = method_of(first, options.area_formula);
        let start = first.day("day");
        let day_of = |row: &Answers<'_>| Some(row.day("day")? - start?);
        let members: Vec<&Answers<'_>> = positions.iter().filter_map(|at| rows.get(*at)).collect();
        let readable: Vec<(usize, i64)> = members
            .iter()
            .enumerate()
            .filter(|(_, row)| area_now(row, method).is_some())
            .filter_map(|(place, row)| Some((place, day_of(row)?)))
            .collect();
        let days: Vec<i64> = readable.iter().map(|(_, day)| *day).collect();
        let chosen = four_week_reading(&days)
            .and_then(|at| readable.get(at))
            .map(|(place, _)| *place);
        for (place, (row, position)) in members.iter().zip(&positions).enumerate() {
            let day = day_of(row);
            let own = pair_in_row(row, options).unwrap_or(Pair {
                first_cm2: area_now(first, method),
                now_cm2: area_now(row, method),
                first_perimeter_cm: perimeter_of(first),
                now_perimeter_cm: perimeter_of(row),
                days: day.map(|day| day as f64),
                is_four_week_reading: day.map(|_| chosen == Some(place)),
                method,
                is_first: place == 0,
            });
            if let Some(pair) = pairs.get_mut(*position) {
                *pair = own;
            }
        }
    }
    pairs
}

fn why(pair: &Pair) -> String {
    let area = |name: &str, area: Option<f64>| match area {
        Some(area) => format!("{name} {} square cm", Cell::Number(area)),
        None => format!("{name} not known"),
    };
    let mut reasons = Vec::new();
    if pair.is_first {
        reasons.push("the first reading of this ulcer, with nothing before it".to_owned());
    }
    reasons.push(area("first", pair.first_cm2));
    reasons.push(area("now", pair.now_cm2));
    reasons.extend(
        pair.method
            .map(|method| format!("by {}", method_word(method))),
    );
    reasons.push(pair.days.map_or("days not known".to_owned(), |days| {
        format!("{} days between", Cell::Number(days))
    }));
    because(&reasons)
}

fn reductions(rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Graded> {
    let grade = |pair: Pair| {
        let reduction = pair
            .first_cm2
            .zip(pair.now_cm2)
            .filter(|_| !pair.is_first)
            .and_then(|(first, now)| {
                area_reduction_percent(first, now, options.smallest_first_area_cm2)
            });
        let mut why = why(&pair);
        if pair
            .first_cm2
            .is_some_and(|first| first < options.smallest_first_area_cm2)
        {
            why += "; the first area is too small to be compared";
        }
        let more = vec![
            Cell::number(pair.days),
            Cell::answer(pair.is_four_week_reading),
            Cell::answer(reduction.map(|reduction| reduction >= 50.0)),
            Cell::number(pair.first_cm2),
            Cell::number(pair.now_cm2),
        ];
        Graded::measured(reduction, more, why)
    };
    pairs(rows, options).into_iter().map(grade).collect()
}

fn outline(area_cm2: Option<f64>, perimeter_cm: Option<f64>) -> Option<Outline> {
    Some(Outline {
        area_cm2: area_cm2?,
        perimeter_cm: perimeter_cm?,
    })
}

fn advances(rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Graded> {
    let grade = |pair: Pair| {
        let first = outline(pair.first_cm2, pair.first_perimeter_cm);
        let second = outline(pair.now_cm2, pair.now_perimeter_cm);
        let advance = first
            .zip(second)
            .filter(|_| !pair.is_first)
            .and_then(|(first, second)| edge_advance_cm(first, second));
        let weeks = pair.days.filter(|days| *days > 0.0).map(|days| days / 7.0);
        let per_week = advance.zip(weeks).map(|(advance, weeks)| advance / weeks);
        let more = vec![Cell::number(pair.days), Cell::number(per_week)];
        Graded::measured(advance, more, why(&pair))
    };
    pairs(rows, options).into_iter().map(grade).collect()
}

fn rates(rows: &[Answers<'_>], options: &GradeOptions) -> Vec<Graded> {
    let grade = |pair: Pair| {
        let areas = pair.first_cm2.zip(pair.now_cm2).zip(pair.days);
        let rate = areas
            .filter(|_| !pair.is_first)
            .and_then(|((first, now), days)| exponential_rate_per_week(first, now, days));
        let half_time = rate
            .filter(|rate| *rate > 0.0)
            .map(|rate| std::f64::consts::LN_2 / rate);
        let more = vec![Cell::number(pair.days), Cell::number(half_time)];
        Graded::measured(rate, more, why(&pair))
    };
    pairs(rows, options).into_iter().map(grade).collect()
}
