//! What an answer says, before it has a shape: a title and blocks. One document prints as text at a width
//! ([`Document::text`]), as a page ([`Document::page`]) and as pieces for a page of somebody else's making
//! ([`Document::fragments`]).

mod page;
mod text;

pub use page::{Fragment, STYLE, escape};
pub use text::{COLUMNS, wrap};

use super::base64::base64;
use super::figure::Figure;
use super::place::Whereabouts;
use super::told::Words;
use crate::scenario::model::Site;

/// An answer in words, numbers and pictures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Document {
    /// What it is about.
    pub title: String,
    /// Its parts, in the order of reading.
    pub blocks: Vec<Block>,
    /// How it is printed on paper.
    pub sheet: Sheet,
}

/// How a document is printed on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sheet {
    /// On as many sheets as it takes.
    #[default]
    Any,
    /// On one sheet, in small type.
    Small,
    /// On one sheet to hang up, in large type.
    Large,
    /// The same for one with much on it.
    Full,
}

/// A part of a document. Everything in it is plain text: shapes escape what they must.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// Head of what follows.
    Heading(String),
    /// The sentences that matter most.
    Lead(String),
    /// What explains the lead.
    Under(String),
    /// Sentences.
    Paragraph(String),
    /// What must not be overlooked.
    Caution(String),
    /// Whose data it is: in small type at the foot.
    Foot(String),
    /// Some things in a row.
    List(List),
    /// Sentences beside a mark or a name: what each stands for.
    Entries(Vec<(String, Vec<String>)>),
    /// Rows and columns.
    Table(Table),
    /// A picture with its data.
    Figure(Box<Figure>),
    /// Lines that are kept as they are: something to copy.
    Verbatim(String),
    /// A photograph.
    Photograph(Photograph),
}

/// A photograph that stands in a page itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Photograph {
    /// What it is called.
    pub name: String,
    /// Its media type, like "image/jpeg".
    pub media: &'static str,
    /// Its bytes in base 64 (RFC 4648, section 4).
    pub base64: String,
}

impl Photograph {
    /// A photograph from the bytes of a file; `None` for anything but JPEG and PNG, which their first bytes tell.
    #[must_use]
    pub fn of(name: &str, bytes: &[u8]) -> Option<Photograph> {
        let media = match bytes {
            [0xff, 0xd8, 0xff, ..] => "image/jpeg",
            [0x89, b'P', b'N', b'G', ..] => "image/png",
            _ => return None,
        };
        Some(Photograph { name: name.to_string(), media, base64: base64(bytes) })
    }
}

/// Some things in a row.
#[derive(Debug, Clone, PartialEq)]
pub struct List {
    /// The things.
    pub items: Vec<String>,
    /// Whether their order matters.
    pub numbered: bool,
}

/// How a column is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its head.
    pub name: String,
    /// Unit of its cells, where these do not hold it themselves.
    pub unit: &'static str,
    /// Its head where there is little room; the whole one where this is empty.
    pub short: String,
    /// How it is set.
    pub align: Align,
}

impl Column {
    /// A column of words.
    #[must_use]
    pub fn left(name: impl Into<String>) -> Column {
        Column { name: name.into(), unit: "", short: String::new(), align: Align::Left }
    }

    /// A column of numbers.
    #[must_use]
    pub fn right(name: impl Into<String>) -> Column {
        Column { align: Align::Right, ..Column::left(name) }
    }

    /// With a unit.
    #[must_use]
    pub fn unit(mut self, unit: &'static str) -> Column {
        self.unit = unit;
        self
    }

    /// With a shorter head.
    #[must_use]
    pub fn short(mut self, short: impl Into<String>) -> Column {
        self.short = short.into();
        self
    }
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words or numbers with their units.
    Text(String),
    /// A bar of this share of the longest one, 0 to 1.
    Bar(f64),
}

impl From<String> for Cell {
    fn from(text: String) -> Cell {
        Cell::Text(text)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Cell {
        Cell::Text(text.into())
    }
}

/// What a table becomes where there is too little room for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Narrow {
    /// Each row a stack of its cells, with their heads beside them.
    Stacks,
    /// The columns stay side by side: text breaks them into several tables, a page lets them scroll in a frame.
    Scrolls,
}

/// Rows under heads.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The columns; the first names the row.
    pub columns: Vec<Column>,
    /// The rows, each as long as there are columns.
    pub rows: Vec<Vec<Cell>>,
    /// What becomes of it where there is too little room.
    pub narrow: Narrow,
    /// Whether text leaves the heads out, where the cells say by themselves what they are.
    pub bare: bool,
    /// Names of the rows' places on a page, for marks that lead to them; none where nothing does.
    pub anchors: Vec<String>,
}

impl Table {
    /// An empty table.
    #[must_use]
    pub fn new(columns: impl IntoIterator<Item = Column>) -> Table {
        let columns = columns.into_iter().collect();
        Table { columns, rows: Vec::new(), narrow: Narrow::Stacks, bare: false, anchors: Vec::new() }
    }

    /// With rows of words and numbers.
    #[must_use]
    pub fn rows<R, C>(mut self, rows: impl IntoIterator<Item = R>) -> Table
    where
        R: IntoIterator<Item = C>,
        C: Into<Cell>,
    {
        self.rows.extend(rows.into_iter().map(|row| row.into_iter().map(Into::into).collect::<Vec<Cell>>()));
        self
    }

    /// Whose columns stay side by side.
    #[must_use]
    pub fn scrolls(mut self) -> Table {
        self.narrow = Narrow::Scrolls;
        self
    }

    /// Whose rows marks lead to.
    #[must_use]
    pub fn anchors(mut self, anchors: impl IntoIterator<Item = String>) -> Table {
        self.anchors = anchors.into_iter().collect();
        self
    }

    /// Whose heads text leaves out.
    #[must_use]
    pub fn bare(mut self) -> Table {
        self.bare = true;
        self
    }
}

impl Document {
    /// An empty document.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Document {
        Document { title: title.into(), ..Document::default() }
    }

    /// Adds a block.
    pub fn add(&mut self, block: Block) -> &mut Document {
        self.blocks.push(block);
        self
    }

    /// Begins a section.
    pub fn head(&mut self, text: impl Into<String>) -> &mut Document {
        self.add(Block::Heading(text.into()))
    }

    /// Adds the sentences that matter most.
    pub fn lead(&mut self, text: impl Into<String>) -> &mut Document {
        let text = text.into();
        if text.trim().is_empty() { self } else { self.add(Block::Lead(text)) }
    }

    /// Adds what explains the lead; nothing where there is nothing.
    pub fn under(&mut self, text: impl Into<String>) -> &mut Document {
        let text = text.into();
        if text.trim().is_empty() { self } else { self.add(Block::Under(text)) }
    }

    /// Adds where the kit stands, behind the title.
    pub fn placed(&mut self, site: &Site) -> &mut Document {
        self.under(Whereabouts::of(site).words())
    }

    /// Adds sentences; nothing where there are none.
    pub fn say(&mut self, text: impl Into<String>) -> &mut Document {
        let text = text.into();
        if text.trim().is_empty() { self } else { self.add(Block::Paragraph(text)) }
    }

    /// Adds what must not be overlooked; nothing where there is nothing.
    pub fn caution(&mut self, text: impl Into<String>) -> &mut Document {
        let text = text.into();
        if text.trim().is_empty() { self } else { self.add(Block::Caution(text)) }
    }

    /// Adds whose data it is, at the foot; nothing where there is nothing.
    pub fn foot(&mut self, text: impl Into<String>) -> &mut Document {
        let text = text.into();
        if text.trim().is_empty() { self } else { self.add(Block::Foot(text)) }
    }

    /// Adds things in no order; nothing where there are none.
    pub fn list<S: Into<String>>(&mut self, items: impl IntoIterator<Item = S>) -> &mut Document {
        self.listed(items, false)
    }

    /// Adds things in their order.
    pub fn steps<S: Into<String>>(&mut self, items: impl IntoIterator<Item = S>) -> &mut Document {
        self.listed(items, true)
    }

    /// Adds sentences beside marks; nothing where there are none.
    pub fn entries(&mut self, entries: Vec<(String, Vec<String>)>) -> &mut Document {
        if entries.is_empty() { self } else { self.add(Block::Entries(entries)) }
    }

    fn listed<S: Into<String>>(&mut self, items: impl IntoIterator<Item = S>, numbered: bool) -> &mut Document {
        let items: Vec<String> = items.into_iter().map(Into::into).collect();
        if items.is_empty() { self } else { self.add(Block::List(List { items, numbered })) }
    }

    /// Adds a table; nothing where it has no rows.
    pub fn table(&mut self, table: Table) -> &mut Document {
        if table.rows.is_empty() { self } else { self.add(Block::Table(table)) }
    }

    /// Adds a picture.
    pub fn figure(&mut self, figure: Figure) -> &mut Document {
        self.add(Block::Figure(Box::new(figure)))
    }

    /// The pictures.
    pub fn figures(&self) -> impl Iterator<Item = &Figure> {
        self.blocks.iter().filter_map(|block| match block {
            Block::Figure(figure) => Some(&**figure),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests;
