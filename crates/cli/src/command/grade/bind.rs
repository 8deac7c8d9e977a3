//! Which column of the table tells which item of the scale.

use super::table::Table;
use crate::failure::Failure;
use crate::inert::for_terminal;
use outcomes::grade::scale::{Item, Scale};
use std::collections::BTreeMap;

/// The column that tells an item.
pub(super) struct Bound {
    pub(super) item: &'static Item,
    /// Position of its column; `None` when the table has none.
    pub(super) column: Option<usize>,
    /// What a number is multiplied with.
    pub(super) times: f64,
}

/// Headers are compared without regard to case, and to the difference between blank, `-` and `_`.
pub(super) fn plain(header: &str) -> String {
    header.trim().to_lowercase().replace([' ', '-'], "_")
}

/// The column of each item: as named on the command line, or the one whose header is one of the item's names.
pub(super) fn bind(
    scale: &'static Scale,
    table: &Table,
    named: &[String],
) -> Result<Vec<Bound>, Failure> {
    let wanted = named_columns(scale, table, named)?;
    let mut bound = Vec::new();
    for item in scale.items {
        let found = match wanted.get(item.name) {
            Some(&named) => Some(named),
            None => by_header(item, table, &wanted)?,
        };
        bound.push(Bound {
            item,
            column: found.map(|(column, _)| column),
            times: found.map_or(1.0, |(_, times)| times),
        });
    }
    if bound.iter().all(|bound| bound.column.is_none()) {
        let names: Vec<&str> = scale.items.iter().map(|item| item.name).collect();
        return Err(Failure::with_hint(
            format!("{}: no column that `{}` reads", table.file, scale.id),
            format!(
                "name columns {}; or say which is which with `--column item=HEADER`",
                names.join(", ")
            ),
        ));
    }
    Ok(bound)
}

/// Names of the items for which the table has no column.
pub(super) fn items_without_column(bound: &[Bound]) -> Vec<&'static str> {
    let missing = bound.iter().filter(|bound| bound.column.is_none());
    missing.map(|bound| bound.item.name).collect()
}

/// Position of a column, and what its numbers are multiplied with.
type Place = (usize, f64);

/// The one column whose header names the item and that is not taken; `None` where there is none.
fn by_header(
    item: &'static Item,
    table: &Table,
    taken: &BTreeMap<&'static str, Place>,
) -> Result<Option<Place>, Failure> {
    let names = std::iter::once((item.name, 1.0))
        .chain(item.also.iter().map(|other| (other.name, other.times)));
    let found: Vec<Place> = names
        .flat_map(|(name, times)| {
            let headers = table.headers.iter().enumerate();
            headers
                .filter(move |(_, header)| plain(header) == name)
                .map(move |(column, _)| (column, times))
        })
        .filter(|(column, _)| !taken.values().any(|(taken, _)| taken == column))
        .collect();
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(*one)),
        [..] => {
            let headers: Vec<String> = found
                .iter()
                .filter_map(|(column, _)| table.headers.get(*column))
                .map(|header| format!("`{}`", for_terminal(header)))
                .collect();
            Err(Failure::with_hint(
                format!(
                    "{}: {} may all be `{}`",
                    table.file,
                    headers.join(" and "),
                    item.name
                ),
                format!("say which with `--column {}=HEADER`", item.name),
            ))
        }
    }
}

/// Items named on the command line: name -> their column.
fn named_columns(
    scale: &'static Scale,
    table: &Table,
    named: &[String],
) -> Result<BTreeMap<&'static str, Place>, Failure> {
    let mut wanted = BTreeMap::new();
    for pair in named {
        let Some((name, header)) = pair.split_once('=') else {
            return Err(Failure::with_hint(
                format!("`--column {}` names no header", for_terminal(pair)),
                "write `--column item=HEADER`",
            ));
        };
        let is_of =
            |item: &Item| item.name == name || item.also.iter().any(|other| other.name == name);
        let Some(item) = scale.items.iter().find(|item| is_of(item)) else {
            let names = scale.items.iter().map(|item| item.name);
            return Err(Failure::with_hint(
                format!("`{}` is no item of `{}`", for_terminal(name), scale.id),
                match intake::config::nearest(name, names) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("`limbledger explain {}` lists its items", scale.id),
                },
            ));
        };
        let times = item
            .also
            .iter()
            .find(|other| other.name == name)
            .map_or(1.0, |other| other.times);
        let mut columns = table
            .headers
            .iter()
            .enumerate()
            .filter(|(_, known)| known.as_str() == header);
        match (columns.next(), columns.next()) {
            (Some((column, _)), None) => {
                wanted.insert(item.name, (column, times));
            }
            (Some(_), Some(_)) => {
                return Err(Failure::CannotRun(format!(
                    "{}: two columns are named `{}`",
                    table.file,
                    for_terminal(header)
                )));
            }
            (None, _) => {
                let near =
                    intake::config::nearest(header, table.headers.iter().map(String::as_str));
                return Err(Failure::with_hint(
                    format!(
                        "{}: there is no column `{}`",
                        table.file,
                        for_terminal(header)
                    ),
                    near.map_or_else(
                        || "the first row of the file names its columns".to_owned(),
                        |near| format!("did you mean `{}`?", for_terminal(near)),
                    ),
                ));
            }
        }
    }
    Ok(wanted)
}
