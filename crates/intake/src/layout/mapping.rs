//! One line of a section: our field, their cell, and whether the two fit.

use super::compile::{Blanks, Compiler};
use super::raw::{RawEntry, RawMapping, RawMappingTable, RawSection, RawUnit};
use super::{Cell, CellPlace, CodeList, Mapped, UnitColumn};
use crate::config::{ConfigError, name_hint};
use crate::dates::DateForm;
use crate::fields::{Codes, Field, Kind};
use crate::quantity::Unit;
use std::ops::Range;
use std::sync::Arc;
use toml::Spanned;

impl Compiler<'_> {
    /// Every mapped field of a section, in the order of our list; `keys` are mapped elsewhere.
    pub(super) fn fields<R>(
        &self,
        section: &Spanned<RawSection>,
        name: &str,
        keys: &[&str],
        known: &'static [Field<R>],
        blanks: Blanks<'_>,
    ) -> Result<Vec<Mapped<R>>, ConfigError> {
        let mut mapped = Vec::new();
        for entry in &section.get_ref().entries {
            let key = entry.key.get_ref().as_str();
            if keys.contains(&key) {
                continue;
            }
            let path = format!("{name}.{key}");
            let Some(position) = known.iter().position(|field| field.name == key) else {
                let error = self.error(&entry.key.span(), format!("unknown field `{path}`"));
                let names: Vec<&str> = keys
                    .iter()
                    .copied()
                    .chain(known.iter().map(|field| field.name))
                    .collect();
                return Err(ConfigError {
                    hint: name_hint(key, &names),
                    ..error
                });
            };
            let Some(field) = known.get(position) else {
                continue;
            };
            let cell = self.cell(&entry.mapping, &path, blanks)?;
            self.check_kind(&cell, field, entry, &path)?;
            mapped.push((position, Mapped { field, cell }));
        }
        mapped.sort_by_key(|(position, _)| *position);
        Ok(mapped.into_iter().map(|(_, mapped)| mapped).collect())
    }

    pub(super) fn cell(
        &self,
        mapping: &Spanned<RawMapping>,
        path: &str,
        blanks: Blanks<'_>,
    ) -> Result<Cell, ConfigError> {
        let table = match mapping.get_ref() {
            RawMapping::Number(_) => {
                return Err(self.error(
                    &mapping.span(),
                    format!("`{path}` must name a column, or give {{ value = \"...\" }}"),
                ));
            }
            RawMapping::Column(column) => &RawMappingTable::of_column(column),
            RawMapping::Table(table) => table.as_ref(),
        };
        let place = match (&table.column, &table.value) {
            (Some(column), None) => CellPlace::Column {
                header: blanks.fill(column),
                is_optional: table.optional,
            },
            (None, Some(value)) => CellPlace::Constant(blanks.fill(value.get_ref())),
            _ => {
                return Err(self.error(
                    &mapping.span(),
                    format!("`{path}` needs either `column` or `value`"),
                ));
            }
        };
        let codes = table
            .codes
            .as_ref()
            .map(|name| self.list(name))
            .transpose()?;
        let (unit, unit_told) = match &table.unit {
            None => (None, None),
            Some(unit) => match unit.get_ref() {
                RawUnit::Named(name) => (Some(self.unit(name, &unit.span())?), None),
                RawUnit::Told(told) => {
                    let codes = told
                        .codes
                        .as_ref()
                        .map(|name| self.list(name))
                        .transpose()?;
                    for pair in codes.iter().flat_map(|list| &list.codes) {
                        if let Some(ours) = &pair.ours {
                            self.unit(ours, &unit.span())?;
                        }
                    }
                    let header = blanks.fill(&told.column);
                    (None, Some(UnitColumn { header, codes }))
                }
            },
        };
        let part = match &table.part {
            None => None,
            Some(part) => Some(
                (u8::try_from(*part.get_ref()).ok())
                    .filter(|place| (1..=3).contains(place))
                    .ok_or_else(|| {
                        let message =
                            format!("`{path}.part` must be 1, 2 or 3: which number of the cell");
                        self.error(&part.span(), message)
                    })?,
            ),
        };
        Ok(Cell {
            place,
            codes,
            unit,
            unit_told,
            part,
            dates: DateForm {
                order: table.format.unwrap_or(self.dates.order),
                ..self.dates
            },
        })
    }

    /// The code list of a name.
    fn list(&self, name: &Spanned<String>) -> Result<Arc<CodeList>, ConfigError> {
        self.lists
            .get(name.get_ref().as_str())
            .cloned()
            .ok_or_else(|| {
                let known: Vec<&str> = self.lists.keys().copied().collect();
                ConfigError {
                    hint: name_hint(name.get_ref(), &known),
                    ..self.error(
                        &name.span(),
                        format!("unknown code list `{}`", name.get_ref()),
                    )
                }
            })
    }

    fn unit(&self, name: &str, span: &Range<usize>) -> Result<Unit, ConfigError> {
        Unit::from_code(name).ok_or_else(|| {
            let known: Vec<&str> = Unit::ALL.iter().map(|unit| unit.code()).collect();
            ConfigError {
                hint: name_hint(name, &known),
                ..self.error(span, format!("unknown unit `{name}`"))
            }
        })
    }

    /// Refuses a unit on what is no number, and codes that are not the field's.
    fn check_kind<R>(
        &self,
        cell: &Cell,
        field: &Field<R>,
        entry: &RawEntry,
        path: &str,
    ) -> Result<(), ConfigError> {
        let quantity = match &field.kind {
            Kind::Number(quantity, _) => Some(*quantity),
            _ => None,
        };
        if cell.unit_told.is_some() && quantity.is_none() {
            let message = format!("`{path}` is no quantity and has no unit");
            return Err(self.error(&entry.mapping.span(), message));
        }
        if let (Some(unit), RawMapping::Table(table)) = (cell.unit, entry.mapping.get_ref()) {
            let span = table
                .unit
                .as_ref()
                .map_or_else(|| entry.mapping.span(), Spanned::span);
            match quantity {
                None => {
                    return Err(
                        self.error(&span, format!("`{path}` is no quantity and has no unit"))
                    );
                }
                Some(quantity) if !quantity.units().contains(&unit) => {
                    let known: Vec<&str> =
                        quantity.units().iter().map(|unit| unit.code()).collect();
                    let error = self.error(&span, format!("`{path}` cannot be in `{unit}`"));
                    return Err(error.with_hint(format!("units here: {}", known.join(", "))));
                }
                Some(_) => {}
            }
        }
        if cell.part.is_some() && quantity.is_none() {
            let message = format!("`{path}` is no quantity, of which a cell could hold several");
            return Err(self.error(&entry.mapping.span(), message));
        }
        let expected = field.kind.codes();
        if let (Some(list), RawMapping::Table(table)) = (&cell.codes, entry.mapping.get_ref()) {
            let list_name = table
                .codes
                .as_ref()
                .map_or("", |name| name.get_ref().as_str());
            if let Some(expected) = expected {
                self.check_codes(list, list_name, expected, path)?;
            } else if !field.kind.takes_codes() {
                return Err(self.error(
                    &entry.mapping.span(),
                    format!("`{path}` takes no code list"),
                ));
            }
        }
        if let (CellPlace::Constant(value), Some(expected)) = (&cell.place, expected)
            && cell.codes.is_none()
            && !(expected.is_known)(value)
        {
            let known = (expected.spellings)();
            let error = self.error(
                &entry.mapping.span(),
                format!("`{value}` is no value of `{path}`"),
            );
            return Err(ConfigError {
                hint: name_hint(value, &known),
                ..error
            });
        }
        Ok(())
    }

    fn check_codes(
        &self,
        list: &CodeList,
        name: &str,
        expected: Codes,
        path: &str,
    ) -> Result<(), ConfigError> {
        for (position, pair) in list.codes.iter().enumerate() {
            let Some(ours) = &pair.ours else { continue };
            if (expected.is_known)(ours) {
                continue;
            }
            let span = self
                .spans
                .get(name)
                .and_then(|spans| spans.get(position))
                .cloned()
                .unwrap_or(0..0);
            let known = (expected.spellings)();
            let error = self.error(
                &span,
                format!("`codes.{name}`: `{ours}` is no value of `{path}`"),
            );
            return Err(ConfigError {
                hint: name_hint(ours, &known),
                ..error
            });
        }
        Ok(())
    }
}

impl RawMappingTable {
    fn of_column(column: &str) -> Self {
        Self {
            column: Some(column.to_owned()),
            value: None,
            unit: None,
            codes: None,
            format: None,
            part: None,
            optional: false,
        }
    }
}
