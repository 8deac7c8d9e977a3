//! Everything the page-setting library may read: the template, the content, the drawings, two fonts.

use super::content::Content;
use super::{drawing, legible};
use crate::RenderError;
use std::collections::BTreeMap;
use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

const TEMPLATE: &str = include_str!("template.typ");
const FONTS: [&[u8]; 2] = [
    include_bytes!("../../fonts/SourceSans3-Regular.otf"),
    include_bytes!("../../fonts/SourceSans3-Semibold.otf"),
];

/// A closed set of files held in memory. Nothing outside it can be asked for, and there is no today.
pub(super) struct Shelf {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    template: Source,
    files: BTreeMap<String, Bytes>,
}

impl Shelf {
    /// The shelf for one document. Letters that the fonts lack are written as their number.
    pub(super) fn new(content: &Content) -> Result<Self, RenderError> {
        let fonts: Vec<Font> = FONTS
            .iter()
            .filter_map(|bytes| Font::new(Bytes::new(*bytes), 0))
            .collect();
        let mut data = serde_json::to_value(&content.paper)?;
        legible::value(&mut data, &fonts);
        let mut files: BTreeMap<String, Bytes> = content
            .drawings
            .iter()
            .map(|(name, svg)| {
                let svg = drawing::on_paper(&legible::text(svg, &fonts));
                (name.clone(), Bytes::from_string(svg))
            })
            .collect();
        files.insert(
            "content.json".to_owned(),
            Bytes::from_string(data.to_string()),
        );
        Ok(Self {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
            template: Source::new(place("template.typ")?, TEMPLATE.to_owned()),
            files,
        })
    }
}

fn place(name: &str) -> Result<FileId, RenderError> {
    let path =
        VirtualPath::new(name).map_err(|_| RenderError::Pdf("a file has no name".to_owned()))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl World for Shelf {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() {
            Ok(self.template.clone())
        } else {
            Err(FileError::AccessDenied)
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let name = id.get().vpath().get_without_slash();
        self.files.get(name).cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}
