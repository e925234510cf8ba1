//! A blend of a change list: two threads in one needle that the owner may answer with.
//! It does not know how the blend was found.

use dyekin_core::error::harmless;
use dyekin_core::{DeltaE, Difference, Srgb8};

use crate::chart::KeyThread;

/// One of the two threads of a blend.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlendThread {
    /// Table, table hash and code.
    pub thread: KeyThread,
    /// Its name; foreign text.
    pub name: String,
    /// Its strands in the needle, 1 or more.
    pub strands: u8,
}

/// Two threads in one needle, with the evidence for them: estimates, for areas.
#[derive(Clone, Debug, PartialEq)]
pub struct FileBlend {
    /// The thread with more strands first.
    pub threads: [BlendThread; 2],
    /// What the two look like together, as a screen shows it.
    pub hex: Srgb8,
    /// The estimated difference from the change's standard.
    pub difference: Difference,
    /// The difference at the other end of the range, if light spreads between the strands.
    pub full_spread: DeltaE,
    /// True when the two are so far apart in lightness that the eye keeps them apart.
    pub speckle: bool,
}

impl FileBlend {
    /// Strands of both threads in the needle.
    #[must_use]
    pub fn strands(&self) -> u8 {
        let [first, second] = &self.threads;
        first.strands.saturating_add(second.strands)
    }

    /// Both threads with their strands, in words.
    pub(crate) fn words(&self, with_names: bool) -> String {
        let side = |held: &BlendThread| {
            let unit = if held.strands == 1 { "strand" } else { "strands" };
            let name = if with_names { held.name.as_str() } else { "" };
            let named = format!("{} {unit} {} {name}", held.strands, held.thread.thread);
            harmless(named.trim_end())
        };
        self.threads.each_ref().map(side).join(" + ")
    }
}
