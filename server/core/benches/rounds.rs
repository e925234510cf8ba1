//! Rounds in which all that is compared takes turns, timed by the CPU time of the thread.
//! It does not know what is measured.
//!
//! Wall time on a shared machine moves by a factor of three, and a slow minute hits what happens to
//! run then. CPU time leaves out the others, turns spread what is left over all alike, and the
//! median of the rounds drops what still sticks out.

#[path = "clock.rs"]
mod clock;

use clock::timed;

/// Rounds of each comparison. The median of 15 or more moved by under 5 % on a loaded machine.
pub(crate) const ROUNDS: usize = 15;

/// One of the things that are compared.
pub(crate) struct Turn<'a> {
    calls: u32,
    run: Box<dyn FnMut() + 'a>,
}

impl<'a> Turn<'a> {
    /// Work that counts as so many calls each time it is run.
    pub(crate) fn new(calls: u32, run: impl FnMut() + 'a) -> Self {
        Self { calls, run: Box::new(run) }
    }

    fn nanoseconds_per_call(&mut self) -> f64 {
        timed(&mut self.run).1.as_secs_f64() * 1e9 / f64::from(self.calls)
    }
}

/// Median nanoseconds of one call of each, after one round that does not count.
pub(crate) fn medians(mut turns: Vec<Turn<'_>>) -> Vec<f64> {
    let mut rounds: Vec<Vec<f64>> = vec![Vec::new(); turns.len()];
    for round in 0..=ROUNDS {
        for (turn, times) in turns.iter_mut().zip(&mut rounds) {
            let time = turn.nanoseconds_per_call();
            if round > 0 {
                times.push(time);
            }
        }
    }
    rounds.into_iter().map(median).collect()
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times.get(times.len() / 2).copied().unwrap_or(f64::NAN)
}
