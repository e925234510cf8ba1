//! The columns of a thread table and the names that headers give them.
//! It does not know how a cell is read or where the names come from.

use super::wavelength::Bands;

/// A column of the table format. JSON uses the same names as keys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Column {
    Code,
    Name,
    Hex,
    Red,
    Green,
    Blue,
    LabL,
    LabA,
    LabB,
    Illuminant,
    Observer,
    Origin,
    Uncertainty,
    Finish,
    Fiber,
    Strands,
    SkeinMetres,
    Price,
    Currency,
    Pack,
    Minimum,
    Status,
    Gtin,
    Alternates,
}

/// Number of columns.
pub(super) const COLUMNS: usize = 24;

impl Column {
    /// All columns in the order in which they are written.
    pub(super) const ALL: [Self; COLUMNS] = [
        Self::Code,
        Self::Name,
        Self::Hex,
        Self::Red,
        Self::Green,
        Self::Blue,
        Self::LabL,
        Self::LabA,
        Self::LabB,
        Self::Illuminant,
        Self::Observer,
        Self::Origin,
        Self::Uncertainty,
        Self::Finish,
        Self::Fiber,
        Self::Strands,
        Self::SkeinMetres,
        Self::Price,
        Self::Currency,
        Self::Pack,
        Self::Minimum,
        Self::Status,
        Self::Gtin,
        Self::Alternates,
    ];

    /// The three columns of a CIELAB color.
    pub(super) const LAB: [Self; 3] = [Self::LabL, Self::LabA, Self::LabB];

    /// The three columns of an sRGB color.
    pub(super) const RGB: [Self; 3] = [Self::Red, Self::Green, Self::Blue];

    /// The name that the writers use.
    pub(super) fn as_str(self) -> &'static str {
        match self {
            Self::Code => "code",
            Self::Name => "name",
            Self::Hex => "hex",
            Self::Red => "r",
            Self::Green => "g",
            Self::Blue | Self::LabB => "b",
            Self::LabL => "L",
            Self::LabA => "a",
            Self::Illuminant => "illuminant",
            Self::Observer => "observer",
            Self::Origin => "origin",
            Self::Uncertainty => "uncertainty",
            Self::Finish => "finish",
            Self::Fiber => "fiber",
            Self::Strands => "strands",
            Self::SkeinMetres => "skein_m",
            Self::Price => "price",
            Self::Currency => "currency",
            Self::Pack => "pack",
            Self::Minimum => "minimum",
            Self::Status => "status",
            Self::Gtin => "gtin",
            Self::Alternates => "alternates",
        }
    }

    /// Place in an array with one entry a column.
    pub(super) fn index(self) -> usize {
        self as usize
    }
}

/// What a header name may mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Meaning {
    Column(Column),
    /// `b` alone: blue beside r and g, b* beside L and a.
    PlainB,
    /// `color` and the like: the hex column where no column is called so, else not ours.
    LikeHex,
}

/// A named column of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Named {
    pub(super) column: Column,
    /// The header's spelling, trimmed.
    pub(super) spelled: String,
    /// Whether one leading apostrophe of each cell is not part of the text.
    pub(super) guarded: bool,
}

/// The columns of a file in its own order; `None` where a name is not ours.
#[derive(Clone, Debug, Default)]
pub(super) struct Header {
    pub(super) columns: Vec<Option<Named>>,
    /// Columns named by wavelengths.
    pub(super) bands: Bands,
    /// Names that are not ours, as spelled.
    pub(super) unknown: Vec<String>,
    /// Names that stand twice or cannot be told apart.
    pub(super) doubled: Vec<String>,
}

impl Header {
    /// Reads header names in any order and case.
    pub(super) fn parse<'n>(names: impl Iterator<Item = &'n str>) -> Self {
        let meant: Vec<(String, bool, Option<Meaning>)> = names.map(meaning_of).collect();
        let has =
            |column| meant.iter().any(|(_, _, meant)| *meant == Some(Meaning::Column(column)));
        let plain_b = if has(Column::Red) && has(Column::Green) && !has(Column::Blue) {
            Column::Blue
        } else {
            Column::LabB
        };
        let both =
            plain_b == Column::Blue && has(Column::LabL) && has(Column::LabA) && !has(Column::LabB);
        let has_hex = has(Column::Hex);
        let mut header = Self::default();
        for (spelled, guarded, meaning) in meant {
            let column = match meaning {
                Some(Meaning::Column(column)) => Some(column),
                Some(Meaning::PlainB) => Some(plain_b),
                Some(Meaning::LikeHex) => (!has_hex).then_some(Column::Hex),
                None => None,
            };
            if let Some(column) = column {
                if header.has(column) || (both && meaning == Some(Meaning::PlainB)) {
                    header.doubled.push(spelled.clone());
                }
            } else if !spelled.is_empty() {
                header.unknown.push(spelled.clone());
            }
            header.columns.push(column.map(|column| Named { column, spelled, guarded }));
        }
        header
    }

    /// Whether a record repeats the names.
    pub(super) fn stands_again<'c>(&self, cells: impl IntoIterator<Item = &'c str>) -> bool {
        let mut named = self.columns.iter().zip(cells).filter_map(|(named, cell)| {
            let named = named.as_ref()?;
            Some(cell.trim().trim_start_matches('\'') == named.spelled)
        });
        named.next() == Some(true) && named.all(|is_same| is_same)
    }

    /// The same with columns named by wavelengths, which are among the unknown ones so far.
    pub(super) fn with_bands(mut self, bands: Bands) -> Self {
        self.unknown.retain(|name| !bands.holds(name));
        self.bands = bands;
        self
    }

    /// True when the column is named.
    pub(super) fn has(&self, column: Column) -> bool {
        self.columns.iter().flatten().any(|named| named.column == column)
    }

    /// True when all three are named.
    pub(super) fn has_all(&self, columns: [Column; 3]) -> bool {
        columns.into_iter().all(|column| self.has(column))
    }

    /// True when a color can be read.
    pub(super) fn has_color(&self) -> bool {
        self.has(Column::Hex)
            || self.has_all(Column::LAB)
            || self.has_all(Column::RGB)
            || !self.bands.is_empty()
    }

    /// True when a thread can be read: a code and a color.
    pub(super) fn is_enough(&self) -> bool {
        self.has(Column::Code) && self.has_color()
    }

    /// Number of names that are ours.
    pub(super) fn known(&self) -> usize {
        self.columns.iter().flatten().count()
    }
}

/// A header name without what surrounds it.
pub(super) fn spelled(name: &str) -> &str {
    name.trim_matches(|c: char| c.is_whitespace() || matches!(c, '\u{200b}' | '\u{feff}'))
}

/// The spelling without blanks, whether it is guarded, and what it means.
fn meaning_of(name: &str) -> (String, bool, Option<Meaning>) {
    let spelled = spelled(name);
    let (bare, guarded) = match spelled.strip_prefix('\'') {
        Some(bare) => (bare, true),
        None => (spelled, false),
    };
    (spelled.to_owned(), guarded, meaning(&bare.to_lowercase().replace([' ', '-'], "_")))
}

fn meaning(name: &str) -> Option<Meaning> {
    let column = match name {
        "b" => return Some(Meaning::PlainB),
        "color" | "colour" | "rgb" => return Some(Meaning::LikeHex),
        "r" | "red" => Column::Red,
        "g" | "green" => Column::Green,
        "blue" => Column::Blue,
        "l" | "l*" | "lab_l" => Column::LabL,
        "a" | "a*" | "lab_a" => Column::LabA,
        "b*" | "lab_b" => Column::LabB,
        "fibre" => Column::Fiber,
        _ => Column::ALL.into_iter().find(|column| column.as_str() == name)?,
    };
    Some(Meaning::Column(column))
}
