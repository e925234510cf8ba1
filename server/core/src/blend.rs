//! Two threads in one needle: what their mix looks like, and which mixes come near a color.
//! It does not know charts, needles or how an estimate is printed.
//!
//! # Model
//!
//! Each strand is an opaque patch, wide against the way that light travels inside the fiber, so the
//! mix is the average of their light by area: ratios to the white, linear in light (n = 1). Light that
//! does spread moves the mix toward the Yule-Nielsen average, whose limit for full spread is n = 2:
//! `R = (sum of a_i R_i^(1/2))²`, darker than n = 1. Both ends are given, and everything here is an
//! estimate: no published test of hand-stitched blends was found. Threads of unlike lightness do not
//! fuse at arm's length, hence the warning of speckle.
//!
//! # Light
//!
//! A mix belongs to the light under which a measured thread of it was measured. A color measured under
//! another light is carried over to that one on request, and compared with mixes of two pictures of
//! threads as it is, as everywhere.

mod search;
mod tree;

use crate::catalog::near::Around;
use crate::catalog::{Catalog, CatalogTable};
use crate::color::xyz::{compressed, ratios};
use crate::color::{AdaptationMethod, Color, Conditions, Lab, Trust};
use crate::difference::{DeltaE, Difference, Formula, Measure, Pair};
use crate::error::{Error, ErrorKind, Result};
use crate::nearest::{Match, Tally, ThreadFilter};
use crate::table::{Finish, TableId, Thread, ThreadRef};
use crate::watch::Watch;
use search::{Found, Question, Search};
use tree::{Strand, Tree};

/// Lightness difference of two threads above which their mix shows visible speckle. House choice
/// from contrast sensitivity at 40 cm: alternating stitches are seen as such.
pub const SPECKLE_LIGHTNESS: f64 = 10.0;

/// Most threads of one table that are tried in pairs: eight million pairs.
pub const MAX_THREADS: usize = 4_000;

/// Most threads of all tables together, so that gathering them takes no more than moments.
pub const MAX_ALL_THREADS: usize = 100_000;

/// What must stand beside every blend that is shown.
pub const CAUTION: &str = "A blend is an estimate, for areas: not for single stitches or lettering. Stitch a sample first.";

/// How many strands of each of the two threads are in the needle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Parts {
    /// One strand of each.
    OneAndOne,
    /// Two strands of the first, one of the second.
    TwoAndOne,
}

impl Parts {
    /// Both of them.
    pub const ALL: [Self; 2] = [Self::OneAndOne, Self::TwoAndOne];

    /// Strands of the first and of the second thread.
    #[must_use]
    pub fn strands(self) -> (u8, u8) {
        match self {
            Self::OneAndOne => (1, 1),
            Self::TwoAndOne => (2, 1),
        }
    }

    /// As written: `1+1`, `2+1`.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::OneAndOne => "1+1",
            Self::TwoAndOne => "2+1",
        }
    }

    /// Reads `1+1` or `2+1`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|parts| parts.as_str() == text.trim())
    }

    /// Part of the area that the first thread takes, 0 to 1.
    fn share(self) -> f64 {
        let (first, second) = self.strands();
        f64::from(first) / f64::from(first + second)
    }
}

/// The estimated color of two threads in one needle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mix {
    /// Strands of each.
    pub parts: Parts,
    /// The average of light by area, n = 1: the estimate.
    pub estimate: Lab,
    /// The other end of the range: the Yule-Nielsen average with n = 2.
    pub full_spread: Lab,
    /// True when the lightness of the two threads differs by more than [`SPECKLE_LIGHTNESS`].
    pub speckle: bool,
    /// Light and observer of both values: those of a measured thread, else of the first one.
    pub conditions: Conditions,
}

impl Mix {
    /// Mixes two colors, of which the first gives the larger part.
    ///
    /// ```
    /// use dyekin_core::blend::{Mix, Parts};
    /// use dyekin_core::{Color, Srgb8};
    ///
    /// let ink = Color::screen(Srgb8::parse_hex("#1d2b4a")?);
    /// let chalk = Color::screen(Srgb8::parse_hex("#eceae2")?);
    /// let mix = Mix::of(&ink, &chalk, Parts::OneAndOne)?;
    /// assert!(mix.speckle);
    /// assert!(mix.full_spread.l() < mix.estimate.l());
    /// # Ok::<(), dyekin_core::Error>(())
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::ConditionsDiffer`] when both are measured under different conditions,
    /// [`ErrorKind::BadColor`] when the mix is no CIELAB value that is taken.
    pub fn of(first: &Color, second: &Color, parts: Parts) -> Result<Self> {
        Color::trust(first, second)?;
        let [one, other] = [first.lab(), second.lab()];
        let lights = (ratios(one), ratios(other));
        let measured = [first, second].into_iter().find(|color| color.origin().is_measured());
        Ok(Self {
            parts,
            estimate: lab(average(lights.0, lights.1, parts.share()))?,
            full_spread: lab(spread(lights.0, lights.1, parts.share()))?,
            speckle: (one.l() - other.l()).abs() > SPECKLE_LIGHTNESS,
            conditions: measured.unwrap_or(first).conditions(),
        })
    }
}

/// The average by area, in ratios to the white.
fn average(first: [f64; 3], second: [f64; 3], share: f64) -> [f64; 3] {
    each(first, second, |first, second| share * first + (1.0 - share) * second)
}

/// Yule-Nielsen with n = 2. Ratios below 0, which only colors outside every gamut have, count as 0.
fn spread(first: [f64; 3], second: [f64; 3], share: f64) -> [f64; 3] {
    let root = |ratio: f64| ratio.max(0.0).sqrt();
    each(first, second, |first, second| {
        (share * root(first) + (1.0 - share) * root(second)).powi(2)
    })
}

fn each([a1, a2, a3]: [f64; 3], [b1, b2, b3]: [f64; 3], mix: impl Fn(f64, f64) -> f64) -> [f64; 3] {
    [mix(a1, b1), mix(a2, b2), mix(a3, b3)]
}

fn lab(ratios: [f64; 3]) -> Result<Lab> {
    let [l, a, b] = compressed(ratios);
    Lab::new(l, a, b)
}

/// What is asked, with every field given by the caller.
#[derive(Clone, Debug, PartialEq)]
pub struct BlendOptions {
    /// Tables to search; empty means all. Both threads of a blend come from one table.
    pub tables: Vec<TableId>,
    /// Most blends to answer.
    pub count: usize,
    /// The formula that ranks.
    pub formula: Formula,
    /// How a measured color is carried over to tables that were measured under another light;
    /// without it such a question is refused.
    pub adaptation: Option<AdaptationMethod>,
    /// Blends farther than this are not suggested.
    pub limit: Option<DeltaE>,
    /// Which threads may take part.
    pub filter: ThreadFilter,
    /// Strands to try; each once, at least one.
    pub parts: Vec<Parts>,
}

/// A mix of two threads beside the color asked for.
#[derive(Clone, Debug)]
pub struct Blend<'c> {
    /// The table of both.
    pub table: &'c CatalogTable,
    /// The thread with as many strands as the other or more; of equal ones the lower code.
    pub first: &'c Thread,
    /// The other thread.
    pub second: &'c Thread,
    /// What the two look like together.
    pub mix: Mix,
    /// From the color asked for to [`Mix::estimate`]. Never checked: rough, or adapted.
    pub difference: Difference,
    /// From the color asked for to [`Mix::full_spread`].
    pub full_spread: Difference,
}

/// The answer to one color.
#[derive(Clone, Debug)]
pub struct SuggestedBlends<'c> {
    /// Blends within the limit: by difference, then table id, first code, second code, parts.
    pub blends: Vec<Blend<'c>>,
    /// The nearest blend beyond the limit, when none is within it.
    pub beyond: Option<Blend<'c>>,
    /// The nearest single thread of those that may take part, whatever the limit: what a blend must
    /// beat to be worth the trouble.
    pub alone: Option<Match<'c>>,
    /// The work done.
    pub tally: Tally,
}

/// The threads that may be blended, ready for many colors: the entry for whoever wants the best
/// blends of colors among threads that a filter admits (a stitcher's own, those to be had).
///
/// Plain threads only: the others have no one color that could be averaged.
#[derive(Clone, Debug)]
pub struct Blender<'c, 'o> {
    shelves: Vec<Shelf<'c>>,
    options: &'o BlendOptions,
}

/// The threads of one table that may take part.
#[derive(Clone, Debug)]
struct Shelf<'c> {
    held: &'c CatalogTable,
    tree: Tree<'c>,
}

/// What was found in one table, and how the color asked for looks there.
struct Hit<'c> {
    held: &'c CatalogTable,
    face: Color,
    found: Found<'c>,
}

impl<'c, 'o> Blender<'c, 'o> {
    /// Gathers the threads of the tables asked for that the filter admits.
    ///
    /// # Errors
    ///
    /// - [`ErrorKind::BadValue`] when no parts are given, or one twice.
    /// - [`ErrorKind::UnknownTable`].
    /// - [`ErrorKind::OverLimit`] when more than [`MAX_THREADS`] threads of a table may take part, or
    ///   [`MAX_ALL_THREADS`] of all tables.
    pub fn new(catalog: &'c Catalog, options: &'o BlendOptions) -> Result<Self> {
        check_parts(&options.parts)?;
        let (mut shelves, mut all, leaf) = (Vec::new(), 0, search::leaf(options.formula));
        for held in catalog.choose(&options.tables)? {
            let strands = strands(held, &options.filter)?;
            all += strands.len();
            within("threads of all tables to blend", all, MAX_ALL_THREADS)?;
            shelves.push(Shelf { held, tree: Tree::new(strands, leaf) });
        }
        Ok(Self { shelves, options })
    }

    /// Threads that may take part, of all tables.
    #[must_use]
    pub fn threads(&self) -> usize {
        self.shelves.iter().map(|shelf| shelf.tree.strands().len()).sum()
    }

    /// The blends of two threads of one table that come nearest to a color, exact over all pairs.
    ///
    /// # Errors
    ///
    /// - [`ErrorKind::ConditionsDiffer`] when the color and a thread of a table were measured under
    ///   different lights and no adaptation is asked for.
    /// - [`ErrorKind::BadValue`] when they were measured for different observers and it is.
    /// - [`ErrorKind::Stopped`].
    pub fn suggest(&self, standard: &Color, watch: &dyn Watch) -> Result<SuggestedBlends<'c>> {
        self.suggest_without(standard, None, watch)
    }

    /// The same for a thread: its color is asked for, and it takes no part itself.
    ///
    /// # Errors
    ///
    /// Those of [`Blender::suggest`].
    pub fn suggest_without(
        &self,
        standard: &Color,
        without: Option<&ThreadRef>,
        watch: &dyn Watch,
    ) -> Result<SuggestedBlends<'c>> {
        let options = self.options;
        for shelf in &self.shelves {
            shelf.held.accept_adapting(standard, options.adaptation)?;
        }
        let mut tally = Tally::default();
        let (mut found, mut alone) = (Vec::new(), Vec::new());
        for shelf in &self.shelves {
            let asked = Asked { standard, without, options, watch };
            found.extend(shelf.blends(&asked, &mut tally)?);
            alone.extend(shelf.alone(&asked, &mut tally)?);
        }
        // Tables come in the order of their ids, so a stable sort settles ties between them.
        found.sort_by(|left, right| left.found.delta_e.order(&right.found.delta_e));
        found.truncate(options.count);
        let within = options.limit.map_or(found.len(), |limit| {
            found.partition_point(|hit| hit.found.delta_e.value() <= limit.value())
        });
        let whole = |hit: &Hit<'c>| blend(hit, options.formula);
        let beyond = found.first().filter(|_| within == 0).map(whole).transpose()?;
        let blends = found.iter().take(within).map(whole).collect::<Result<_>>()?;
        let nearer = |one: &Match<'_>, other: &Match<'_>| {
            one.difference.delta_e.order(&other.difference.delta_e)
        };
        Ok(SuggestedBlends { blends, beyond, alone: alone.into_iter().min_by(nearer), tally })
    }
}

/// One question to all shelves.
struct Asked<'a> {
    standard: &'a Color,
    without: Option<&'a ThreadRef>,
    options: &'a BlendOptions,
    watch: &'a dyn Watch,
}

impl<'c> Shelf<'c> {
    fn blends(&self, asked: &Asked<'_>, tally: &mut Tally) -> Result<Vec<Hit<'c>>> {
        let mut found = Vec::new();
        let faces = self.held.faces(asked.standard, asked.options.adaptation)?;
        for (face, part) in faces.into_iter().flatten() {
            let question =
                Question { standard: face.lab(), part, without: self.left_out(asked.without) };
            let search = Search::new(&self.tree, question, asked.options, asked.watch);
            let hits = search.run(tally)?.into_iter();
            found.extend(hits.map(|found| Hit { held: self.held, face, found }));
        }
        found.sort_by(|left, right| left.found.order(&right.found));
        Ok(found)
    }

    /// The row of a thread of this table that takes no part.
    fn left_out(&self, without: Option<&ThreadRef>) -> Option<usize> {
        let without = without.filter(|thread| thread.table == *self.held.table().id())?;
        let mut strands = self.tree.strands().iter();
        strands.find(|strand| strand.thread.code == without.code).map(|strand| strand.row)
    }

    fn alone(&self, asked: &Asked<'_>, tally: &mut Tally) -> Result<Option<Match<'c>>> {
        let options = asked.options;
        let left_out = self.left_out(asked.without);
        let admit = |row: usize| {
            let thread = self.held.thread_at(row).filter(|_| left_out != Some(row));
            thread.is_some_and(|thread| takes_part(self.held, thread, &options.filter))
        };
        let measure = Measure { formula: options.formula, adaptation: options.adaptation };
        let watch = asked.watch;
        let around =
            Around { count: 1, more: None, measure, limit: None, admit: Some(&admit), watch };
        let found = self.held.near(asked.standard, &around, tally)?.pop();
        Ok(found.and_then(|near| {
            let thread = self.held.thread_at(near.row)?;
            let (table, difference) = (self.held, near.difference);
            let over_lights = None;
            Some(Match { table, thread, difference, as_near: false, over_lights })
        }))
    }
}

/// The best blends of one color; for several colors [`Blender`] gathers the threads once.
///
/// # Errors
///
/// Those of [`Blender::new`] and [`Blender::suggest`].
pub fn suggest_blends<'c>(
    catalog: &'c Catalog,
    standard: &Color,
    options: &BlendOptions,
    watch: &dyn Watch,
) -> Result<SuggestedBlends<'c>> {
    Blender::new(catalog, options)?.suggest(standard, watch)
}

fn takes_part(held: &CatalogTable, thread: &Thread, filter: &ThreadFilter) -> bool {
    thread.finish == Finish::Plain && filter.admits(held.table().id(), thread)
}

fn strands<'c>(held: &'c CatalogTable, filter: &ThreadFilter) -> Result<Vec<Strand<'c>>> {
    let strand = |row| {
        let thread = held.thread_at(row).filter(|thread| takes_part(held, thread, filter))?;
        Some(Strand::new(row, thread))
    };
    let strands: Vec<Strand<'c>> = (0..held.table().threads().len()).filter_map(strand).collect();
    let what = format!("threads of table {} to blend", held.table().id());
    within(&what, strands.len(), MAX_THREADS)?;
    Ok(strands)
}

fn within(what: &str, found: usize, limit: usize) -> Result<()> {
    if found <= limit {
        return Ok(());
    }
    let (what, found, limit) = (what.to_owned(), found as u64, limit as u64);
    Err(Error::new(ErrorKind::OverLimit { what, found, limit }))
}

fn check_parts(parts: &[Parts]) -> Result<()> {
    let twice = (0..)
        .zip(parts)
        .find(|(before, one)| parts.iter().take(*before).any(|other| other == *one))
        .map(|(_, one)| one.as_str());
    let reason = match (parts, twice) {
        ([], _) => "no strands to try",
        (_, Some(_)) => "the same strands twice",
        (_, None) => return Ok(()),
    };
    Err(Error::new(ErrorKind::BadValue {
        value: twice.unwrap_or_default().into(),
        reason: reason.into(),
        remedy: "ask for 1+1, 2+1 or both".into(),
    }))
}

fn blend<'c>(hit: &Hit<'c>, formula: Formula) -> Result<Blend<'c>> {
    let Hit { held: table, face, found } = hit;
    let (first, second) = (found.first, found.second);
    let mix = Mix::of(&first.color, &second.color, found.parts)?;
    let trust = face.adapted().map_or(Trust::Rough, |label| Trust::Adapted(label.method));
    let from = |sample: Lab| {
        let pair = Pair { standard: face.lab(), sample };
        Difference::of_pair(pair, formula, trust)
    };
    let (difference, full_spread) = (from(mix.estimate), from(mix.full_spread));
    Ok(Blend { table, first, second, mix, difference, full_spread })
}

#[cfg(test)]
mod tests;
