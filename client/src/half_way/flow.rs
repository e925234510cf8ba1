//! The greatest flow through a net of arcs, and the sides of the least cut that it shows.
//! It does not know what flows.

use std::collections::VecDeque;

/// What has not been reached.
const FAR: u32 = u32::MAX;

/// A net of arcs with room, in pairs: each arc's way back is the other of its pair.
pub(super) struct Net {
    arcs: Vec<Arc>,
    from: Vec<Vec<u32>>,
}

#[derive(Clone, Copy, Debug)]
struct Arc {
    to: u32,
    room: u64,
}

impl Net {
    pub(super) fn new(nodes: usize) -> Self {
        Self { arcs: Vec::new(), from: vec![Vec::new(); nodes] }
    }

    /// Links two nodes, with so much room there and back.
    pub(super) fn link(&mut self, one: usize, other: usize, there: u64, back: u64) {
        for (from, to, room) in [(one, other, there), (other, one, back)] {
            let number = u32::try_from(self.arcs.len()).unwrap_or(u32::MAX);
            self.from.get_mut(from).into_iter().for_each(|arcs| arcs.push(number));
            self.arcs.push(Arc { to: u32::try_from(to).unwrap_or(u32::MAX), room });
        }
    }

    /// Sends as much as possible (Dinic 1970); `None` when the budget of arcs looked at is spent.
    pub(super) fn fill(&mut self, (source, sink): (usize, usize), budget: &mut u64) -> Option<u64> {
        let mut sum = 0;
        loop {
            let levels = self.levels(source, budget)?;
            if levels.get(sink).copied().is_none_or(|level| level == FAR) {
                return Some(sum);
            }
            let mut next = vec![0_usize; self.from.len()];
            loop {
                let sent = self.send((source, sink), &levels, &mut next, budget)?;
                if sent == 0 {
                    break;
                }
                sum += sent;
            }
        }
    }

    /// Steps from the source along arcs with room.
    fn levels(&self, source: usize, budget: &mut u64) -> Option<Vec<u32>> {
        let mut levels = vec![FAR; self.from.len()];
        levels.get_mut(source).into_iter().for_each(|level| *level = 0);
        let mut waiting = VecDeque::from([source]);
        while let Some(node) = waiting.pop_front() {
            let above = levels.get(node).copied().unwrap_or(0) + 1;
            for arc in self.out(node) {
                *budget = budget.checked_sub(1)?;
                let to = arc.to as usize;
                if let Some(level) =
                    levels.get_mut(to).filter(|level| **level == FAR && arc.room > 0)
                {
                    *level = above;
                    waiting.push_back(to);
                }
            }
        }
        Some(levels)
    }

    fn out(&self, node: usize) -> impl Iterator<Item = Arc> {
        let numbers = self.from.get(node).into_iter().flatten();
        numbers.filter_map(|number| self.arcs.get(*number as usize).copied())
    }

    /// Sends along one path that rises level by level; 0 when there is none any more.
    fn send(
        &mut self,
        (source, sink): (usize, usize),
        levels: &[u32],
        next: &mut [usize],
        budget: &mut u64,
    ) -> Option<u64> {
        let level = |node: usize| levels.get(node).copied().unwrap_or(FAR);
        let mut path: Vec<u32> = Vec::new();
        let mut node = source;
        while node != sink {
            *budget = budget.checked_sub(1)?;
            let place = next.get(node).copied().unwrap_or(0);
            let number = self.from.get(node).and_then(|arcs| arcs.get(place)).copied();
            let Some(number) = number else {
                // A dead end: back, and never here again on this level.
                let Some(last) = path.pop() else { return Some(0) };
                node = self.to(last ^ 1);
                next.get_mut(node).into_iter().for_each(|place| *place += 1);
                continue;
            };
            let is_open = self.arcs.get(number as usize).is_some_and(|arc| arc.room > 0);
            let to = self.to(number);
            if is_open && level(to) == level(node).saturating_add(1) {
                path.push(number);
                node = to;
            } else {
                next.get_mut(node).into_iter().for_each(|place| *place += 1);
            }
        }
        let rooms = path.iter().filter_map(|number| self.arcs.get(*number as usize));
        let sent = rooms.map(|arc| arc.room).min().unwrap_or(0);
        for number in path {
            let there = self.arcs.get_mut(number as usize);
            there.into_iter().for_each(|arc| arc.room -= sent);
            let back = self.arcs.get_mut((number ^ 1) as usize);
            back.into_iter().for_each(|arc| arc.room += sent);
        }
        Some(sent)
    }

    fn to(&self, number: u32) -> usize {
        self.arcs.get(number as usize).map_or(usize::MAX, |arc| arc.to as usize)
    }

    /// After filling: the fewest nodes that a least cut leaves on the source's side.
    pub(super) fn fewest_before(&self, source: usize) -> Vec<bool> {
        self.closure(source, |arc, _| arc.room > 0)
    }

    /// After filling: the most nodes that a least cut leaves on the source's side.
    pub(super) fn most_before(&self, sink: usize) -> Vec<bool> {
        let behind = self.closure(sink, |_, back| back.room > 0);
        behind.into_iter().map(|behind| !behind).collect()
    }

    /// The nodes that are reached over arcs that pass, told by the arc and its way back.
    fn closure(&self, first: usize, passes: impl Fn(Arc, Arc) -> bool) -> Vec<bool> {
        let mut reached = vec![false; self.from.len()];
        reached.get_mut(first).into_iter().for_each(|held| *held = true);
        let mut waiting = vec![first];
        while let Some(node) = waiting.pop() {
            for number in self.from.get(node).into_iter().flatten() {
                let arcs = (self.arcs.get(*number as usize), self.arcs.get((number ^ 1) as usize));
                let (Some(arc), Some(back)) = arcs else { continue };
                if let Some(held) = reached.get_mut(arc.to as usize)
                    && !*held
                    && passes(*arc, *back)
                {
                    *held = true;
                    waiting.push(arc.to as usize);
                }
            }
        }
        reached
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_flow_is_the_least_cut() {
        // Two ways of 3 and 2, joined by a side arc of 1, before a last arc of 4.
        let mut net = Net::new(5);
        net.link(0, 1, 3, 0);
        net.link(0, 2, 2, 0);
        net.link(1, 2, 1, 1);
        net.link(1, 3, 2, 0);
        net.link(2, 3, 9, 0);
        net.link(3, 4, 4, 0);
        assert_eq!(net.fill((0, 4), &mut 1_000), Some(4));
        assert_eq!(net.fewest_before(0), [true, true, true, true, false]);
        assert_eq!(net.most_before(4), [true, true, true, true, false]);
        assert_eq!(net.fill((0, 4), &mut 2), None);
    }

    #[test]
    fn a_cut_in_two_places_shows_both_sides() {
        let mut net = Net::new(4);
        net.link(0, 1, 2, 0);
        net.link(1, 2, 5, 0);
        net.link(2, 3, 2, 0);
        assert_eq!(net.fill((0, 3), &mut 1_000), Some(2));
        assert_eq!(net.fewest_before(0), [true, false, false, false]);
        assert_eq!(net.most_before(3), [true, true, true, false]);
    }
}
