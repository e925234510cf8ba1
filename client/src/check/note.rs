//! A note: its code, its degree, what was found, in which colors and where.
//! It does not know how a note is worded, nor how anything is found.

use dyekin_core::color::contrast;
use dyekin_core::difference::Difference;
use dyekin_core::table::{Finish, Status};
use dyekin_core::vision::Deficiency;
use dyekin_core::{DeltaE, Srgb8, TableId, ThreadRef};

use crate::chart::{Label, Symbol};

/// How much a note matters. Ordered: the last one matters most.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Degree {
    /// For information: nothing has to be done.
    Information,
    /// Look: only a person can judge it.
    Look,
    /// Fix before selling: whoever buys the chart is held up by it.
    Fix,
}

impl Degree {
    /// All of them, the worst first.
    pub const ALL: [Self; 3] = [Self::Fix, Self::Look, Self::Information];

    /// The word of options, profiles and files.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Information => "information",
            Self::Look => "look",
            Self::Fix => "fix",
        }
    }

    /// Reads the word, in any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|held| held.as_str().eq_ignore_ascii_case(text.trim()))
    }
}

/// What a note is about. The words are stable: profiles and programs rely on them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Code {
    /// A thread that cannot be bought.
    ThreadGone,
    /// A thread of which little is left, or that has to be waited for.
    ThreadLow,
    /// A thread that its table does not have.
    ThreadUnknown,
    /// Stitches that a separate key counts otherwise than the chart.
    KeyCount,
    /// Entries of the key that nothing is worked in.
    KeyUnused,
    /// Entries of the key for the same threads and strands.
    KeyTwice,
    /// An entry that the chart shows in another color than its thread's.
    KeyColor,
    /// Entries without a symbol in a key that has symbols.
    NoSymbol,
    /// Threads whose table does not say whether they can be bought.
    StatusUntold,
    /// A thread without one color: what is computed from its color is not to be relied on.
    NoSingleColor,
    /// Two colors that people with a color vision deficiency cannot tell apart, with symbols that
    /// look alike.
    ColorVision,
    /// Two symbols that look alike.
    LikeSymbols,
    /// Two colors that can hardly be told apart.
    NearColors,
    /// Stitches in mixes of the two sides of an edge.
    StrayEdges,
    /// Stitches without an equal one around.
    LoneStitches,
    /// A color with a handful of stitches.
    FewStitches,
    /// A color that vanishes on the cloth.
    LikeCloth,
    /// An outline in the color of what it outlines.
    LostOutline,
    /// Dark, vivid or red colors that touch pale ones.
    MayBleed,
    /// Colors that have no thread yet.
    NoThread,
    /// The chart was made with another version of a table.
    OtherVersion,
    /// Something that could not be looked at, and why.
    NotChecked,
}

impl Code {
    /// All of them, in the order in which notes of one degree are listed.
    pub const ALL: [Self; 22] = [
        Self::ThreadGone,
        Self::ThreadLow,
        Self::ThreadUnknown,
        Self::KeyCount,
        Self::KeyUnused,
        Self::KeyTwice,
        Self::KeyColor,
        Self::NoSymbol,
        Self::StatusUntold,
        Self::NoSingleColor,
        Self::ColorVision,
        Self::LikeSymbols,
        Self::NearColors,
        Self::StrayEdges,
        Self::LoneStitches,
        Self::FewStitches,
        Self::LikeCloth,
        Self::LostOutline,
        Self::MayBleed,
        Self::NoThread,
        Self::OtherVersion,
        Self::NotChecked,
    ];

    /// The stable word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::ThreadGone => "thread-gone",
            Self::ThreadLow => "thread-low",
            Self::ThreadUnknown => "thread-unknown",
            Self::KeyCount => "key-count",
            Self::KeyUnused => "key-unused",
            Self::KeyTwice => "key-twice",
            Self::KeyColor => "key-color",
            Self::NoSymbol => "no-symbol",
            Self::StatusUntold => "status-untold",
            Self::NoSingleColor => "no-single-color",
            Self::ColorVision => "color-vision",
            Self::LikeSymbols => "like-symbols",
            Self::NearColors => "near-colors",
            Self::StrayEdges => "stray-edges",
            Self::LoneStitches => "lone-stitches",
            Self::FewStitches => "few-stitches",
            Self::LikeCloth => "like-cloth",
            Self::LostOutline => "lost-outline",
            Self::MayBleed => "may-bleed",
            Self::NoThread => "no-thread",
            Self::OtherVersion => "other-version",
            Self::NotChecked => "not-checked",
        }
    }

    /// Reads the word.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|code| code.as_str() == text)
    }
}

/// A color of the chart, as a note names it.
#[derive(Clone, Debug, PartialEq)]
pub struct Worked {
    /// The color as the chart shows it.
    pub color: Srgb8,
    /// The threads that it is worked in: none, one or the two of a blend.
    pub threads: Vec<ThreadRef>,
    /// Its symbols, as far as it has any.
    pub symbols: Vec<Symbol>,
    /// Its name in the key. Foreign text: escape it before it is shown.
    pub name: Option<Label>,
    /// Its stitches, counted as [`crate::chart::Usage::stitches`] does.
    pub stitches: u64,
    /// Column and row, from 0, of its first stitch in reading order; of a color of nothing but lines
    /// and knots, the cell at which the first one begins; `None` in a key alone.
    pub first: Option<(u16, u16)>,
}

/// Where a note applies.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cells {
    /// Columns and rows, from 0, in reading order: the first [`Cells::MOST`] of them.
    pub first: Vec<(u16, u16)>,
    /// How many they are altogether.
    pub count: u64,
}

impl Cells {
    /// Most places that one note lists.
    pub const MOST: usize = 20;

    /// No place of its own: the colors have theirs.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    pub(super) fn of(places: impl IntoIterator<Item = usize>, width: usize) -> Self {
        let mut cells = Self::default();
        for place in places {
            cells.count += 1;
            let width = width.max(1);
            let at = (u16::try_from(place % width), u16::try_from(place / width));
            if let (true, (Ok(x), Ok(y))) = (cells.first.len() < Self::MOST, at) {
                cells.first.push((x, y));
            }
        }
        cells
    }
}

/// Why something could not be looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reason {
    /// The table that threads of the chart come from is not at hand.
    NoTable(TableId),
    /// The chart has bare cells, and nobody says what color the cloth has.
    NoCloth,
    /// A key alone has no picture.
    KeyAlone,
}

/// What was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// [`Code::ColorVision`].
    ColorVision {
        /// From the first color to the second, as they are shown and for usual sight.
        difference: Difference,
        /// Who tells them apart least.
        deficiency: Deficiency,
        /// The difference of the simulated colors.
        simulated: DeltaE,
    },
    /// [`Code::FewStitches`].
    FewStitches,
    /// [`Code::KeyColor`].
    KeyColor {
        /// From the thread's color to the one that is shown.
        difference: Difference,
    },
    /// [`Code::KeyCount`].
    KeyCount {
        /// The code as the separate key has it, where the chart has nothing of it.
        written: Option<String>,
        /// Stitches by the separate key; `None` where it does not list the thread.
        in_key: Option<u64>,
        /// Stitches of the chart.
        in_chart: u64,
    },
    /// [`Code::KeyTwice`].
    KeyTwice,
    /// [`Code::KeyUnused`].
    KeyUnused,
    /// [`Code::LikeCloth`]: how far the color is from the cloth, and along how many stitch sides it
    /// touches it.
    LikeCloth {
        /// From the cloth to the color.
        difference: Difference,
        /// The color of the cloth.
        cloth: Srgb8,
        /// Stitch sides between the two.
        edges: u64,
    },
    /// [`Code::LikeSymbols`].
    LikeSymbols {
        /// From the first color to the second, as they are shown.
        difference: Difference,
    },
    /// [`Code::LoneStitches`].
    LoneStitches {
        /// Their share of the cells with stitches, in percent.
        percent: f64,
    },
    /// [`Code::LostOutline`]. Lines are counted in pieces between the grid lines that they cross.
    LostOutline {
        /// From the color of the line to what it lies on.
        difference: Difference,
        /// Pieces with nothing else on either side.
        over: u64,
        /// Pieces with something else on one side.
        beside: u64,
        /// Both, of all lines in this color, in percent.
        percent: f64,
        /// True when the line lies on bare cloth.
        on_cloth: bool,
    },
    /// [`Code::MayBleed`].
    MayBleed {
        /// Stitch sides between these colors and pale ones.
        edges: u64,
    },
    /// [`Code::NearColors`].
    NearColors {
        /// From the first color to the second.
        difference: Difference,
        /// Stitch sides between the two; `None` in a key alone.
        edges: Option<u64>,
    },
    /// [`Code::NoSingleColor`].
    NoSingleColor {
        /// The thread.
        thread: ThreadRef,
        /// Its finish.
        finish: Finish,
    },
    /// [`Code::NoSymbol`].
    NoSymbol,
    /// [`Code::NoThread`].
    NoThread,
    /// [`Code::NotChecked`].
    NotChecked {
        /// Why.
        reason: Reason,
    },
    /// [`Code::OtherVersion`].
    OtherVersion {
        /// The table.
        table: TableId,
    },
    /// [`Code::StatusUntold`].
    StatusUntold,
    /// [`Code::StrayEdges`].
    StrayEdges {
        /// Colors that nothing but strays are worked in.
        colors: u64,
    },
    /// [`Code::ThreadGone`].
    ThreadGone {
        /// The thread.
        thread: ThreadRef,
        /// Discontinued or unavailable.
        status: Status,
    },
    /// [`Code::ThreadLow`].
    ThreadLow {
        /// The thread.
        thread: ThreadRef,
        /// Low or on back order.
        status: Status,
    },
    /// [`Code::ThreadUnknown`].
    ThreadUnknown {
        /// The thread.
        thread: ThreadRef,
        /// Codes of the table that are spelled alike.
        near: Vec<String>,
    },
}

impl Finding {
    /// The code that it belongs to.
    #[must_use]
    pub fn code(&self) -> Code {
        match self {
            Self::ColorVision { .. } => Code::ColorVision,
            Self::FewStitches => Code::FewStitches,
            Self::KeyColor { .. } => Code::KeyColor,
            Self::KeyCount { .. } => Code::KeyCount,
            Self::KeyTwice => Code::KeyTwice,
            Self::KeyUnused => Code::KeyUnused,
            Self::LikeCloth { .. } => Code::LikeCloth,
            Self::LikeSymbols { .. } => Code::LikeSymbols,
            Self::LoneStitches { .. } => Code::LoneStitches,
            Self::LostOutline { .. } => Code::LostOutline,
            Self::MayBleed { .. } => Code::MayBleed,
            Self::NearColors { .. } => Code::NearColors,
            Self::NoSingleColor { .. } => Code::NoSingleColor,
            Self::NoSymbol => Code::NoSymbol,
            Self::NoThread => Code::NoThread,
            Self::NotChecked { .. } => Code::NotChecked,
            Self::OtherVersion { .. } => Code::OtherVersion,
            Self::StatusUntold => Code::StatusUntold,
            Self::StrayEdges { .. } => Code::StrayEdges,
            Self::ThreadGone { .. } => Code::ThreadGone,
            Self::ThreadLow { .. } => Code::ThreadLow,
            Self::ThreadUnknown { .. } => Code::ThreadUnknown,
        }
    }

    /// The difference that it rests on.
    #[must_use]
    pub fn difference(&self) -> Option<&Difference> {
        if let Self::ColorVision { difference, .. }
        | Self::KeyColor { difference }
        | Self::LikeCloth { difference, .. }
        | Self::LikeSymbols { difference }
        | Self::LostOutline { difference, .. }
        | Self::NearColors { difference, .. } = self
        {
            return Some(difference);
        }
        None
    }

    /// The thread that is gone or running out, and what its table says of it.
    #[must_use]
    pub fn supply(&self) -> Option<(&ThreadRef, Status)> {
        if let Self::ThreadGone { thread, status } | Self::ThreadLow { thread, status } = self {
            return Some((thread, *status));
        }
        None
    }

    /// Stitch sides along which the colors touch.
    #[must_use]
    pub fn edges(&self) -> Option<u64> {
        if let Self::NearColors { edges, .. } = self {
            return *edges;
        }
        if let Self::LikeCloth { edges, .. } | Self::MayBleed { edges } = self {
            return Some(*edges);
        }
        None
    }
}

/// One thing to know.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// How much it matters.
    pub degree: Degree,
    /// What was found.
    pub finding: Finding,
    /// The colors that it is about; of a pair the first is the standard.
    pub colors: Vec<Worked>,
    /// The stitches that it is about; none where it is about whole colors.
    pub cells: Cells,
}

impl Note {
    /// The code.
    #[must_use]
    pub fn code(&self) -> Code {
        self.finding.code()
    }

    /// The contrast of the colors that differ (WCAG 2.2), 1 to 21.
    #[must_use]
    pub fn contrast(&self) -> Option<f64> {
        let first = self.colors.first()?.color;
        let second = if let Finding::LikeCloth { cloth, .. } = &self.finding {
            *cloth
        } else {
            self.colors.get(1)?.color
        };
        Some(contrast(first, second))
    }

    /// How early it comes among notes of its code: stitches, or for a pair how near it is.
    pub(super) fn weight(&self) -> f64 {
        let near = if let Finding::ColorVision { simulated, .. } = &self.finding {
            Some(*simulated)
        } else if let Finding::NearColors { difference, .. } | Finding::LikeSymbols { difference } =
            &self.finding
        {
            Some(difference.delta_e)
        } else {
            None
        };
        if let Some(near) = near {
            return -near.value();
        }
        let stitches: u64 = self.colors.iter().map(|color| color.stitches).sum();
        #[expect(clippy::cast_precision_loss, reason = "only the order of counts matters")]
        let weight = stitches as f64;
        if matches!(self.finding, Finding::FewStitches) { -weight } else { weight }
    }
}
