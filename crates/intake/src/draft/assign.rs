//! Which column fills which field.

use super::german;
use super::judge::{Line, Sureness, line};
use super::leftover::Leftover;
use super::sample::Sampled;
use super::shape::{Group, groups};
use super::words::{Fit, Section, field_of};
use std::collections::BTreeMap;

/// The lines of a layout, and the columns that no line reads.
pub(super) struct Plan {
    /// Whether every table has a file of its own.
    pub(super) is_long: bool,
    /// What each file holds.
    pub(super) roles: Vec<Section>,
    /// Lines, with the file they were drafted from.
    pub(super) lines: Vec<(usize, Line)>,
    /// Columns that nothing was found for.
    pub(super) unmatched: Vec<Leftover>,
    /// Columns that look like the days of visits side by side, as one row a person has them.
    pub(super) visits_side_by_side: Option<String>,
}

const TABLES: [Section; 5] = [
    Section::Patient,
    Section::Visit,
    Section::FootExam,
    Section::Ulcer,
    Section::Event,
];

/// Assigns the columns of all files.
pub(super) fn assign(files: &[Sampled]) -> Plan {
    let grouped: Vec<Vec<Group>> = files.iter().map(|file| groups(&file.headers)).collect();
    let roles: Vec<Section> = files
        .iter()
        .zip(&grouped)
        .map(|(file, groups)| role(file, groups))
        .collect();
    let is_long = roles.iter().any(|role| Some(role) != roles.first());
    let mut plan = Plan {
        is_long,
        lines: Vec::new(),
        unmatched: Vec::new(),
        visits_side_by_side: None,
        roles: roles.clone(),
    };
    let mut described: Vec<(Section, &[String])> = Vec::new();
    for (number, (file, groups)) in files.iter().zip(&grouped).enumerate() {
        let Some(role) = roles.get(number) else {
            continue;
        };
        // yearly files with the same columns need one description
        let section = if is_long { *role } else { Section::Visit };
        if described.contains(&(section, &file.headers)) {
            continue;
        }
        described.push((section, &file.headers));
        assign_file(number, file, groups, is_long.then_some(*role), &mut plan);
    }
    plan
}

/// The table whose words the headers of a file say most, its name included.
fn role(file: &Sampled, groups: &[Group]) -> Section {
    let name = file
        .name
        .rsplit(['/', '\\'])
        .next()
        .unwrap_or_default()
        .to_lowercase();
    let names: [(Section, &[&str]); 5] = [
        (
            Section::Patient,
            &["patient", "person", "people", "demograph"],
        ),
        (
            Section::Visit,
            &["visit", "appointment", "attendance", "encounter"],
        ),
        (Section::FootExam, &["exam", "foot", "vascular"]),
        (Section::Ulcer, &["ulcer", "wound", "lesion"]),
        (Section::Event, &["event", "procedure", "referral"]),
    ];
    let score = |section: Section| {
        let said = groups
            .iter()
            .filter(|group| matches!(field_of(section, &group.words), Some((_, Fit::Wholly))));
        let is_named = names.iter().any(|(named, words)| {
            let words = words.iter().chain(german::file_names(section));
            *named == section && words.into_iter().any(|word| name.contains(word))
        });
        said.count() + if is_named { 3 } else { 0 }
    };
    TABLES
        .into_iter()
        .rev()
        .max_by_key(|section| score(*section))
        .unwrap_or(Section::Visit)
}

fn assign_file(
    number: usize,
    file: &Sampled,
    groups: &[Group],
    role: Option<Section>,
    plan: &mut Plan,
) {
    let families = families(groups);
    let has_people = plan.roles.contains(&Section::Patient);
    let has_slots = families.values().any(|section| *section == Section::Ulcer);
    let mut drafted: Vec<(&Group, Line)> = Vec::new();
    for group in groups {
        let sections: Vec<Section> = match role {
            Some(Section::Visit) if has_people => vec![Section::Visit, Section::Attendance],
            // facts about the person may stand on the rows of visits
            Some(Section::Visit) => vec![Section::Visit, Section::Attendance, Section::Patient],
            Some(role) => vec![role],
            None if group.n_slots > 0 => families.get(&group.family).copied().into_iter().collect(),
            None if group.sides.is_some() => vec![Section::FootExam, Section::Patient],
            None if has_slots => vec![Section::Patient, Section::Visit, Section::Attendance],
            None => Section::ALL.to_vec(),
        };
        let best = best(file, group, &sections, role.is_some() && !has_people);
        match best {
            // the ulcers of one row are seen on one day
            Some(line) if role.is_none() && line.n_slots > 0 && is_day_of_ulcer(&line) => {
                plan.visits_side_by_side = Some(line.pattern);
                plan.unmatched.push(Leftover::new(number, group));
            }
            Some(line) => drafted.push((group, line)),
            None => plan.unmatched.push(Leftover::new(number, group)),
        }
    }
    // one column a field: the surest, then the first
    let mut order: Vec<usize> = (0..drafted.len()).collect();
    order.sort_by_key(|place| drafted.get(*place).map(|(_, line)| line.sureness));
    let mut taken: Vec<(Section, &str)> = Vec::new();
    let mut keeps = vec![false; drafted.len()];
    for place in order {
        let (Some((_, line)), Some(keep)) = (drafted.get(place), keeps.get_mut(place)) else {
            continue;
        };
        let already = (line.section, line.field);
        if !taken.contains(&already) {
            taken.push(already);
            *keep = true;
        }
    }
    for ((group, line), keep) in drafted.into_iter().zip(keeps) {
        if keep {
            plan.lines.push((number, line));
        } else {
            plan.unmatched.push(Leftover::new(number, group));
        }
    }
}

fn is_day_of_ulcer(line: &Line) -> bool {
    (line.section, line.field) == (Section::Ulcer, "date")
}

/// What the columns of each family describe: ulcers or events.
fn families(groups: &[Group]) -> BTreeMap<String, Section> {
    let mut scores: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for group in groups.iter().filter(|group| group.n_slots > 0) {
        let (ulcer, event) = scores.entry(&group.family).or_default();
        let weight = |section| match field_of(section, &group.words) {
            Some((_, Fit::Wholly)) => 2,
            Some((_, Fit::Partly(_))) => 1,
            None => 0,
        };
        *ulcer += weight(Section::Ulcer);
        *event += weight(Section::Event);
    }
    scores
        .into_iter()
        .filter(|(_, (ulcer, event))| ulcer + event > 0)
        .map(|(family, (ulcer, event))| {
            let section = if ulcer >= event {
                Section::Ulcer
            } else {
                Section::Event
            };
            (family.to_owned(), section)
        })
        .collect()
}

/// The surest line for a group of columns among some sections. Two sections that fit equally leave it undecided. Where people have
/// no file of their own in a long export, nothing is their id: each table names them itself.
fn best(
    file: &Sampled,
    group: &Group,
    sections: &[Section],
    is_without_people: bool,
) -> Option<Line> {
    let mut lines: Vec<(Fit, Line)> = sections
        .iter()
        .filter_map(|section| {
            let words: Vec<String> = group
                .words
                .iter()
                .filter(|word| word.parse::<u32>().is_err())
                .cloned()
                .collect();
            let (field, fit) = field_of(*section, &words)?;
            let field = sided(field, group)?;
            if is_without_people && (*section, field) == (Section::Patient, "id") {
                return None;
            }
            if *section != Section::Patient
                && *section != Section::FootExam
                && group.sides.is_some()
            {
                return None;
            }
            Some((fit, line(file, group, *section, field, fit)))
        })
        .collect();
    // cells whose meaning is known tell more than a header; a side alone is that of the ulcer, and so is a mark
    lines.sort_by_key(|(fit, line)| {
        (
            std::cmp::Reverse(*fit),
            line.sureness,
            !line.is_understood,
            matches!(
                (line.section, line.field),
                (Section::FootExam, "side") | (Section::Event, "side" | "ulcer_label")
            ),
        )
    });
    let is_tied = match lines.as_slice() {
        [(first_fit, first), (second_fit, second), ..] => {
            first_fit == second_fit
                && first.sureness == second.sureness
                && first.is_understood == second.is_understood
                && first.section != second.section
        }
        _ => false,
    };
    let (_, mut line) = lines.into_iter().next()?;
    if is_tied && line.sureness == Sureness::Sure && needs_care(line.section, line.field) {
        line.sureness = Sureness::Likely;
        line.reason
            .push_str("; another field of that name fits as well");
    }
    Some(line)
}

/// Fields of which the header alone does not tell whose they are.
fn needs_care(section: Section, field: &str) -> bool {
    !matches!(
        (section, field),
        (Section::Patient, _) | (Section::Visit, "date")
    )
}

/// The field of a column that exists for each side.
fn sided(field: &'static str, group: &Group) -> Option<&'static str> {
    match (field, &group.sides) {
        ("prior_amputation", Some(_)) => Some("prior_amputation_{side}"),
        (field, _) => Some(field),
    }
}
