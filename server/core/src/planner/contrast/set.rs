//! Which of several colors one thread should serve, when some pairs of them cost something together.
//! It does not know what multipliers are.

/// Sets that one thread may weigh before it settles for a bound.
const MAX_SETS: usize = 400;

/// Which of several rows a thread should take, when some pairs of them cost something together.
pub(super) struct Set {
    saves: Vec<f64>,
    /// Later rows that a row clashes with, and what both together cost.
    clashes: Vec<Vec<(usize, f64)>>,
    sets: usize,
    best: f64,
    best_taken: Vec<usize>,
    /// The most that sets could save that were not weighed.
    unseen: f64,
}

impl Set {
    /// Rows with what each saves, those that save most first.
    pub(super) fn new(wanted: &[(f64, usize)]) -> Self {
        Self {
            saves: wanted.iter().map(|(saves, _)| *saves).collect(),
            clashes: vec![Vec::new(); wanted.len()],
            sets: 0,
            best: 0.0,
            best_taken: Vec::new(),
            unseen: 0.0,
        }
    }

    /// Two rows, the later one second, that cost this together.
    pub(super) fn clash(&mut self, place: usize, later: usize, cost: f64) {
        self.clashes.get_mut(place).into_iter().for_each(|of| of.push((later, cost)));
    }

    /// The most that can be saved, or a bound on it, and the best set that was weighed.
    pub(super) fn best(mut self) -> (f64, Vec<usize>) {
        let saves = self.saves.clone();
        self.weigh(0, 0.0, saves, &mut Vec::new());
        (self.best.max(self.unseen), self.best_taken)
    }

    /// The most that rows from a place on could save: of two that clash, only one saves all that it
    /// can, so that what each clash is sure to cost is taken off once.
    fn hoped(&self, from: usize, left: &[f64]) -> f64 {
        let mut free: Vec<f64> = left.iter().map(|saves| saves.max(0.0)).collect();
        let mut hoped: f64 = free.iter().skip(from).sum();
        for place in from..free.len() {
            for (later, cost) in self.clashes.get(place).map_or(&[] as &[_], Vec::as_slice) {
                let one = free.get(place).copied().unwrap_or(0.0);
                if one <= 0.0 {
                    break;
                }
                let Some(other) = free.get_mut(*later) else { continue };
                let sure = cost.min(one).min(*other);
                *other -= sure;
                free.get_mut(place).into_iter().for_each(|one| *one -= sure);
                hoped -= sure;
            }
        }
        hoped
    }

    /// Decides one row after another, those that save most first.
    fn weigh(&mut self, from: usize, saved: f64, left: Vec<f64>, taken: &mut Vec<usize>) {
        let hoped = saved + self.hoped(from, &left);
        if hoped <= self.best {
            return;
        }
        if self.sets >= MAX_SETS {
            self.unseen = self.unseen.max(hoped);
            return;
        }
        let mut left = left;
        let (mut place, mut saved, held) = (from, saved, taken.len());
        // Rows that clash with nobody to come are taken as they are.
        while let Some(saves) = left.get(place).copied() {
            let clashes = self.clashes.get(place).cloned().unwrap_or_default();
            let open = |(later, _): &(usize, f64)| left.get(*later).is_some_and(|s| *s > 0.0);
            if saves > 0.0 && clashes.iter().any(open) {
                self.sets += 1;
                let mut with = left.clone();
                for (later, cost) in &clashes {
                    with.get_mut(*later).into_iter().for_each(|saves| *saves -= cost);
                }
                taken.push(place);
                self.weigh(place + 1, saved + saves, with, taken);
                taken.pop();
                if let Some(saves) = left.get_mut(place) {
                    *saves = 0.0;
                }
                self.weigh(place + 1, saved, left, taken);
                taken.truncate(held);
                return;
            }
            if saves > 0.0 {
                saved += saves;
                taken.push(place);
            }
            place += 1;
        }
        if saved > self.best {
            self.best = saved;
            self.best_taken.clone_from(taken);
        }
        taken.truncate(held);
    }
}
