//! What a table's owner should look at: near-twins, rows that look swapped, colors without a thread.
//! It does not know charts, and it changes nothing.

mod gaps;
mod swaps;
mod twins;

use crate::catalog::CatalogTable;
use crate::change::TableVersion;
use crate::color::Color;
use crate::difference::{DeltaE, Difference, Formula};
use crate::error::Result;
use crate::table::Thread;
use crate::watch::Watch;

/// Most pairs of near-twins and most colors without a thread that one audit lists.
pub const MAX_LISTED: usize = 500;

/// How a table is audited, with every field given by the caller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AuditOptions {
    /// The formula that measures.
    pub formula: Formula,
    /// Threads that differ by this or less are near-twins, in units of the formula.
    pub twins: DeltaE,
    /// A color whose nearest thread differs by more than this has no thread near.
    pub gap: DeltaE,
}

/// Two threads of one table that can hardly be told apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Twins {
    /// The thread whose code comes first; the standard of the difference.
    pub first: Thread,
    /// The other one; of the same finish, and of no other fiber as far as the table says.
    pub second: Thread,
    /// How far they differ.
    pub difference: Difference,
}

/// Why two rows look swapped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clue {
    /// The rows around them run from light to dark or from dark to light, which only these two
    /// break; exchanged, they follow.
    Lightness,
    /// Each color is far from all rows around it and near to those around the other.
    Neighbors,
}

/// Two rows whose colors fit each other's place far better than their own.
#[derive(Clone, Debug, PartialEq)]
pub struct Swap {
    /// The upper row of the table; the standard of the difference.
    pub first: Thread,
    /// The lower row.
    pub second: Thread,
    /// What gives them away.
    pub clue: Clue,
    /// How far their colors differ.
    pub difference: Difference,
}

/// A color that no plain thread of the table comes near to.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// The color: a screen color, compared white to white. The standard of the difference.
    pub color: Color,
    /// The nearest plain thread.
    pub nearest: Thread,
    /// How far it is.
    pub difference: Difference,
}

/// What was found in a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Audit {
    /// The table as it stood.
    pub table: TableVersion,
    /// Pairs of near-twins: by difference, then by the codes. At most [`MAX_LISTED`].
    pub twins: Vec<Twins>,
    /// True when there are more pairs than are listed.
    pub more_twins: bool,
    /// Rows that look swapped, in the order of the table.
    pub swaps: Vec<Swap>,
    /// Colors without a thread near, the largest difference first. At most [`MAX_LISTED`].
    pub gaps: Vec<Gap>,
    /// True when there are more gaps than are listed.
    pub more_gaps: bool,
    /// Plain threads of the table: those that can fill a gap. With 0 no gaps are looked for.
    pub plain_threads: usize,
}

impl Audit {
    /// True when nothing was found.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.twins.is_empty() && self.swaps.is_empty() && self.gaps.is_empty()
    }
}

/// Audits a table. The same table and options always give the same answer.
///
/// ```
/// use dyekin_core::audit::{AuditOptions, audit};
/// use dyekin_core::table::{Code, Table, TableId, Thread};
/// use dyekin_core::watch::Patient;
/// use dyekin_core::{CatalogTable, Color, DeltaE, Formula, Srgb8};
///
/// # fn main() -> Result<(), dyekin_core::Error> {
/// let thread = |code: &str, hex: &str| -> Result<Thread, dyekin_core::Error> {
///     Ok(Thread::plain(Code::parse(code)?, "", Color::screen(Srgb8::parse_hex(hex)?)))
/// };
/// let threads = vec![thread("moss", "#4a6b3c")?, thread("fern", "#4b6b3c")?];
/// let table = Table::new(TableId::parse("shelf")?, threads).map_err(|mut all| all.remove(0))?;
///
/// let options = AuditOptions {
///     formula: Formula::DEFAULT,
///     twins: DeltaE::new(1.0)?,
///     gap: DeltaE::new(12.0)?,
/// };
/// let found = audit(&CatalogTable::new(table), &options, &Patient)?;
/// assert_eq!(found.twins[0].first.code.as_str(), "fern");
/// assert_eq!(found.twins[0].second.code.as_str(), "moss");
/// assert!(!found.gaps.is_empty());
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`crate::ErrorKind::Stopped`] when the one who waits no longer does.
pub fn audit(held: &CatalogTable, options: &AuditOptions, watch: &dyn Watch) -> Result<Audit> {
    let table = held.table();
    let (twins, more_twins) = twins::find(held, options, watch)?;
    let swaps = swaps::find(table.threads(), options.formula, watch)?;
    let plain_threads = table.threads().iter().filter(|thread| gaps::may_fill(thread)).count();
    let (gaps, more_gaps) = gaps::find(held, options, watch)?;
    let table = TableVersion { table: table.id().clone(), hash: table.hash() };
    Ok(Audit { table, twins, more_twins, swaps, gaps, more_gaps, plain_threads })
}

#[cfg(test)]
mod tests;
