//! Where the threads of a conversion come from: ranges with a price, and the owner's own threads.
//! It does not know how they were chosen.

use crate::color::Color;
use crate::difference::DeltaE;
use crate::table::{TableId, ThreadRef};

/// One range that a conversion may take threads from.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeUse {
    /// The range.
    pub table: TableId,
    /// What it costs once any thread is taken from it, as mean difference per stitch; 0 for none.
    pub price: DeltaE,
    /// Threads of the new chart that come from it.
    pub threads: usize,
    /// Stitches that are worked in them; a blend counts for each range that it has a strand of.
    pub stitches: u64,
}

/// Which ranges threads come from, and what that costs.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeReport {
    /// Every range that could be chosen or is used, by table id.
    pub ranges: Vec<RangeUse>,
    /// Mean difference per stitch and the prices of all ranges in use, together.
    pub cost: DeltaE,
    /// No choice of threads costs less; `None` when no bound is known.
    pub lower_bound: Option<DeltaE>,
    /// True when the cost is proved to be the least under everything that was asked for.
    pub proved_best: bool,
}

/// A thread to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct Purchase {
    /// The thread.
    pub thread: ThreadRef,
    /// Its name; foreign text.
    pub name: String,
    /// Its color.
    pub color: Color,
    /// Colors of the chart that are worked in it.
    pub colors: usize,
    /// Stitches that are worked in it.
    pub stitches: u64,
}

/// How far the owner's own threads reach.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnReport {
    /// Own threads that may answer.
    pub usable: usize,
    /// Own threads that may not: of another finish or fiber, or excluded.
    pub unsuited: usize,
    /// Own threads that the new chart uses.
    pub used: usize,
    /// The difference that purchases were to bring every color within; `None` when nothing is to be
    /// bought for it.
    pub within: Option<DeltaE>,
    /// Threads of the new chart that are not owned, most stitches first: bought for the limit, or
    /// asked for by keeps and answers.
    pub purchases: Vec<Purchase>,
    /// Colors that no thread brings within the limit; they have the nearest of those at hand.
    pub beyond: usize,
    /// True when it is proved that no fewer purchases bring as many colors within the limit.
    pub proved_fewest: bool,
}
