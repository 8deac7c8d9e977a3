//! Spellings, each kept once.

use std::collections::HashMap;
use std::num::NonZeroU32;

/// A spelling kept once in [`Names`].
///
/// Numbers begin at one, so that no name at all takes no more room than a name: millions of rows carry some.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NameId(NonZeroU32);

impl NameId {
    /// The spelling at a place of the list, counted from 0. Places beyond any list there can be share one id.
    pub const fn at(place: u32) -> Self {
        Self(NonZeroU32::MIN.saturating_add(place))
    }

    /// A number that no other spelling of the list has.
    pub const fn number(self) -> u32 {
        self.0.get()
    }

    fn place(self) -> usize {
        (self.0.get() - 1) as usize
    }
}

/// An append-only list of distinct spellings, so that a row carries four bytes instead of a string.
#[derive(Debug, Clone, Default)]
pub struct Names {
    spellings: Vec<String>,
    positions: HashMap<String, NameId>,
}

impl Names {
    /// The id of a spelling, adding it when it is new.
    pub fn intern(&mut self, spelling: &str) -> NameId {
        if let Some(id) = self.positions.get(spelling) {
            return *id;
        }
        let id = NameId::at(u32::try_from(self.spellings.len()).unwrap_or(u32::MAX));
        self.spellings.push(spelling.to_owned());
        self.positions.insert(spelling.to_owned(), id);
        id
    }

    /// The spelling behind an id; empty for an id of another list.
    pub fn get(&self, id: NameId) -> &str {
        self.spellings.get(id.place()).map_or("", String::as_str)
    }
}
