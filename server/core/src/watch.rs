//! How long work hears that it should stop, and how it tells how far it is.
//! It does not know who waits: a terminal, a stream or a test.

use crate::DeltaE;

/// The one who waits for an answer. Long work asks [`Watch::stopped`] at least once per 256
/// formula calls of its own, before each search of an index and for each thread that it weighs
/// against the chosen ones, and gives up with [`crate::ErrorKind::Stopped`].
pub trait Watch {
    /// True once the answer is no longer wanted.
    fn stopped(&self) -> bool;

    /// Hears how far the work is. May be called often; must be cheap.
    fn progress(&self, progress: &Progress);
}

/// How far a search for a palette is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Part of the iteration budget that is spent, 0 to 1.
    pub fraction: f64,
    /// Stitch-weighted mean difference of the best palette so far.
    pub mean_difference: Option<DeltaE>,
    /// No palette can do better than this mean difference, when known.
    pub lower_bound: Option<DeltaE>,
}

/// Waits to the end and says nothing.
#[derive(Clone, Copy, Debug)]
pub struct Patient;

impl Watch for Patient {
    fn stopped(&self) -> bool {
        false
    }

    fn progress(&self, _: &Progress) {}
}
