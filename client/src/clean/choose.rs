//! The best explanation of one cell: as a settled color, or as a mix of two or three.
//! It does not know where the cell is, nor what its neighbors become.

use super::mixer::Mixer;

/// A settled color that a cell may be made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Side {
    pub(super) color: u16,
    /// What it costs to take part in the mix, by how near it stands.
    pub(super) cost: f64,
}

/// What a cell was explained by.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    /// The color that covers most of it.
    pub(super) color: u16,
    /// How badly it is explained; 0 is perfectly.
    pub(super) cost: f64,
    /// The part of the cell that the color covers, as far as the mix says.
    pub(super) share: f64,
    /// The colors of the mix; a color stands twice or three times where there are fewer.
    pub(super) of: [u16; 3],
}

/// Cost of a settled color that stands nowhere near.
pub(super) const FAR: f64 = 8.0;

/// Cost up to which colors that stand nowhere near are not asked.
const NEAR_ENOUGH: f64 = 3.0;

/// The best explanation, by the colors near the cell, or else by those farther off; never by
/// `without`.
pub(super) fn choose(
    mixer: &Mixer,
    color: u16,
    near: &[Side],
    far: &[u16],
    without: Option<u16>,
) -> Option<Choice> {
    let mut sides: Vec<Side> = Vec::with_capacity(near.len() + far.len());
    sides.extend(near.iter().filter(|side| Some(side.color) != without));
    let best = among(mixer, color, &sides, None, 0);
    if best.is_some_and(|best| best.cost <= NEAR_ENOUGH) {
        return best;
    }
    let known = sides.len();
    for other in far {
        if Some(*other) != without && !sides.iter().take(known).any(|side| side.color == *other) {
            sides.push(Side { color: *other, cost: FAR });
        }
    }
    among(mixer, color, &sides, best, known)
}

/// What a mix costs more than a color alone: one of two colors, and one of three.
const TWO: f64 = 0.5;
const THREE: f64 = 2.0;

/// Costs of its colors up to which a mix of two is tried, and one of three.
const TRY_TWO: f64 = 9.5;
const TRY_THREE: f64 = 2.5;

/// The best explanation by these colors. What the first `known` of them explain best is known.
fn among(
    mixer: &Mixer,
    color: u16,
    sides: &[Side],
    best: Option<Choice>,
    known: usize,
) -> Option<Choice> {
    let mut search = Search { mixer, color, best };
    for (number, first) in sides.iter().enumerate() {
        if number >= known {
            search.alone(first);
        }
        if first.cost > TRY_TWO {
            continue;
        }
        let from = (number + 1).max(known);
        for (other, second) in sides.iter().enumerate().skip(from) {
            let cost = first.cost + second.cost;
            if cost > TRY_TWO {
                continue;
            }
            search.two(first, second);
            if cost > TRY_THREE {
                continue;
            }
            for third in sides.iter().skip(other + 1) {
                if cost + third.cost <= TRY_THREE {
                    search.three([first, second, third]);
                }
            }
        }
    }
    search.best
}

/// Shares so near to a half say nothing.
const HALF: f64 = 0.006;

/// The best explanation so far.
struct Search<'m> {
    mixer: &'m Mixer,
    color: u16,
    best: Option<Choice>,
}

impl Search<'_> {
    fn offer(&mut self, choice: Choice) {
        if !self.is_hopeless(choice.cost) {
            self.best = Some(choice);
        }
    }

    /// A mix that costs as much by its colors alone is not worth computing.
    fn is_hopeless(&self, least: f64) -> bool {
        self.best.is_some_and(|held| least >= held.cost)
    }

    fn alone(&mut self, side: &Side) {
        let miss = self.mixer.apart(self.color, side.color);
        let cost = miss * miss + side.cost;
        self.offer(Choice { color: side.color, cost, share: 1.0, of: [side.color; 3] });
    }

    fn two(&mut self, first: &Side, second: &Side) {
        let known = first.cost + second.cost + TWO;
        if self.is_hopeless(known) {
            return;
        }
        let fit = self.mixer.pair(self.color, first.color, second.color);
        let over = (-fit.share).max(fit.share - 1.0).max(0.0) / 0.15;
        let cost = fit.miss * fit.miss + known + over * over;
        let is_half = self.mixer.is_exact() && (fit.share - 0.5).abs() <= HALF;
        let is_second = if is_half {
            self.mixer.becomes(self.color, second.color, first.color).unwrap_or(fit.share < 0.5)
        } else {
            fit.share >= 0.5
        };
        let (taken, other) = if is_second { (second, first) } else { (first, second) };
        let share = fit.share.max(1.0 - fit.share);
        let of = [taken.color, other.color, other.color];
        self.offer(Choice { color: taken.color, cost, share, of });
    }

    fn three(&mut self, sides: [&Side; 3]) {
        let known = sides.iter().map(|side| side.cost).sum::<f64>() + THREE;
        if self.is_hopeless(known) {
            return;
        }
        let of = sides.map(|side| side.color);
        let Some((shares, miss)) = self.mixer.triple(self.color, of) else { return };
        let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
        if least < -0.1 {
            return;
        }
        let under = (-least).max(0.0) / 0.05;
        let cost = miss * miss + known + under * under;
        let most = shares.iter().zip(of).max_by(|a, b| a.0.total_cmp(b.0));
        if let Some((share, taken)) = most {
            self.offer(Choice { color: taken, cost, share: *share, of });
        }
    }
}
