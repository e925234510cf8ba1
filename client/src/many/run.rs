//! The workers: charts handed out one by one, each worked on by itself, results heard as they come.
//! It does not know what the work is.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

use super::State;
use crate::commands::Shop;
use crate::failure::Failure;

/// Longest time without a sign of life.
const TICK: Duration = Duration::from_millis(100);

/// Most charts at the same time. House choice: more than any machine's processors help with.
const MAX_WORKERS: usize = 256;

/// What the run hears of its workers.
#[derive(Debug)]
pub(crate) enum Heard {
    /// A chart is over; its place in the list.
    Over(usize, State),
    /// Nothing happened for a moment.
    Waiting,
}

/// The tables of one worker; none before its first chart, and after one that broke down.
pub(crate) type Slot = Option<Shop>;

/// Charts to be gone through.
#[derive(Clone, Copy)]
pub(crate) struct Run<'r> {
    /// How many there are.
    pub(crate) count: usize,
    /// Charts at the same time; one for each processor when it is not said.
    pub(crate) at_once: Option<usize>,
    /// Set by Ctrl-C: no further chart is begun.
    pub(crate) stop: &'r AtomicBool,
    /// The work on the chart at a place.
    pub(crate) work: &'r (dyn Fn(&mut Slot, usize) -> State + Sync),
}

impl std::fmt::Debug for Run<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Run").field("count", &self.count).finish_non_exhaustive()
    }
}

impl Run<'_> {
    /// Goes through them all, in any order. `hear` runs on this thread and says whether to go on.
    pub(crate) fn go(&self, mut hear: impl FnMut(Heard) -> bool) {
        let processors = std::thread::available_parallelism().map_or(1, usize::from);
        let workers = self.at_once.unwrap_or(processors).clamp(1, MAX_WORKERS).min(self.count);
        let (next, halt) = (AtomicUsize::new(0), AtomicBool::new(false));
        // A worker that is far ahead waits until its results are heard.
        let (say, heard) = mpsc::sync_channel(workers);
        std::thread::scope(|scope| {
            for _ in 0..workers {
                let (say, next, halt) = (say.clone(), &next, &halt);
                scope.spawn(move || {
                    let mut slot: Slot = None;
                    while !halt.load(Ordering::Relaxed) && !self.stop.load(Ordering::Relaxed) {
                        let place = next.fetch_add(1, Ordering::Relaxed);
                        if place >= self.count
                            || say.send((place, self.one(&mut slot, place))).is_err()
                        {
                            break;
                        }
                    }
                });
            }
            drop(say);
            loop {
                let goes_on = match heard.recv_timeout(TICK) {
                    Ok((place, state)) => hear(Heard::Over(place, state)),
                    Err(RecvTimeoutError::Timeout) => hear(Heard::Waiting),
                    Err(RecvTimeoutError::Disconnected) => break,
                };
                if !goes_on {
                    halt.store(true, Ordering::Relaxed);
                }
            }
        });
    }

    /// One chart. A fault in the work on it is no reason to lose the others.
    fn one(&self, slot: &mut Slot, place: usize) -> State {
        match catch_unwind(AssertUnwindSafe(|| (self.work)(slot, place))) {
            Ok(state) => state,
            Err(_) => {
                *slot = None;
                State::Failed(Failure::Bug { what: "the work on this chart broke down".to_owned() })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exit::Exit;

    fn heard(run: &Run<'_>) -> Vec<(usize, bool)> {
        let mut all = Vec::new();
        run.go(|heard| {
            if let Heard::Over(place, state) = heard {
                all.push((place, matches!(state, State::Skipped(_))));
            }
            true
        });
        all.sort_unstable();
        all
    }

    #[test]
    fn every_chart_is_heard_once_and_a_breakdown_is_one_failure() {
        let stop = AtomicBool::new(false);
        let work = |_: &mut Slot, place: usize| {
            assert!(place != 3, "this one breaks down");
            State::Skipped(Exit::Done)
        };
        for at_once in [Some(1), Some(3), Some(1_000), None] {
            let run = Run { count: 20, at_once, stop: &stop, work: &work };
            let expected: Vec<(usize, bool)> = (0..20).map(|place| (place, place != 3)).collect();
            assert_eq!(heard(&run), expected);
        }
    }

    #[test]
    fn a_stop_begins_no_further_chart() {
        let stop = AtomicBool::new(false);
        let work = |_: &mut Slot, place: usize| {
            stop.store(place >= 2, Ordering::Relaxed);
            State::Skipped(Exit::Done)
        };
        let run = Run { count: 20, at_once: Some(1), stop: &stop, work: &work };
        assert_eq!(heard(&run).len(), 3);
    }

    #[test]
    fn whoever_hears_can_end_the_run() {
        let stop = AtomicBool::new(false);
        let work = |_: &mut Slot, _: usize| State::Skipped(Exit::Done);
        let run = Run { count: 1_000, at_once: Some(2), stop: &stop, work: &work };
        let mut count = 0;
        run.go(|heard| {
            count += usize::from(matches!(heard, Heard::Over(..)));
            false
        });
        assert!(count < 20, "{count}");
    }
}
