use std::collections::HashMap;

/// A spelling kept once in [`Names`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NameId(pub u32);

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
        let id = NameId(u32::try_from(self.spellings.len()).unwrap_or(u32::MAX));
        self.spellings.push(spelling.to_owned());
        self.positions.insert(spelling.to_owned(), id);
        id
    }

    /// The spelling behind an id; empty for an id of another list.
    pub fn get(&self, id: NameId) -> &str {
        self.spellings.get(id.0 as usize).map_or("", String::as_str)
    }
}
