//! Notes about symbols that look alike in print, and about color pairs that only symbols could save.
//! It does not know fonts: likeness is a table of our own, and Unicode's.

use dyekin_core::vision::least_seen;
use dyekin_core::{Color, DeltaE, Difference, Formula};
use unicode_security::skeleton;

use super::note::{Cells, Code, Finding};
use super::view::View;
use super::{Findings, Worked};

/// Groups of characters that look alike at the size of a stitch; a character may be in several.
///
/// House choice, after pairs of characters of a common sans-serif font were drawn 16 pixels high and compared dot
/// by dot, the best of small shifts: these differ in at most 40 % of their ink. Charts are turned on
/// the knee, so what is the same when turned is alike too. Beside them count what Unicode calls
/// confusable (UTS #39) and letters whose two cases differ in size only.
const ALIKE: [&str; 34] = [
    "0O○◯",
    "OQ",
    "CG",
    "1lI|!",
    "2Z",
    "5S",
    "8B",
    "PR",
    "HN",
    "NZ",
    "MW",
    "nu",
    "69",
    "bq9",
    "dp",
    "UV",
    "+✚",
    "✕×X",
    "■●◼▪∎",
    "▲♣♠",
    "▼♥",
    "◆♦⧫",
    "◆♠",
    "◆✚",
    "◇◊",
    "□◻▫",
    "⊞⊡",
    "⊕⊙⊗",
    "◪◢",
    "◩◤",
    "◐◑◒◓◧◨",
    "▲▼◀▶",
    "△▽◁▷",
    "←→↑↓",
];

/// Most pairs that are looked at closely. House choice: no key that a person reads has as many.
const MAX_PAIRS: usize = 10_000;

/// Letters whose small form is the large one made smaller.
const SAME_SHAPE: &str = "ckopsuvwxz";

/// A character of a symbol, made ready to be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Glyph {
    folded: char,
    /// One bit for each group of [`ALIKE`] that it is in.
    groups: u64,
}

impl Glyph {
    fn of(character: char) -> Self {
        let small = character.to_ascii_lowercase();
        let folded = if SAME_SHAPE.contains(small) { small } else { character };
        let bit = |(place, group): (usize, &&str)| {
            if group.contains(character) { 1_u64 << place } else { 0 }
        };
        Self { folded, groups: ALIKE.iter().enumerate().map(bit).sum() }
    }

    fn is_like(self, other: Self) -> bool {
        self.folded == other.folded || self.groups & other.groups != 0
    }
}

/// A symbol, made ready to be compared.
#[derive(Clone, Debug)]
struct Likeness {
    drawn: Vec<Glyph>,
    /// The same with what Unicode calls confusable made one.
    skeleton: Vec<Glyph>,
}

impl Likeness {
    fn of(symbol: &str) -> Self {
        Self {
            drawn: symbol.chars().map(Glyph::of).collect(),
            skeleton: skeleton(symbol).map(Glyph::of).collect(),
        }
    }

    fn is_like(&self, other: &Self) -> bool {
        let alike = |one: &[Glyph], other: &[Glyph]| {
            one.len() == other.len()
                && one.iter().zip(other).all(|(one, other)| one.is_like(*other))
        };
        alike(&self.drawn, &other.drawn) || alike(&self.skeleton, &other.skeleton)
    }
}

/// True when two symbols are easily taken for each other in print.
#[must_use]
pub fn look_alike(one: &str, other: &str) -> bool {
    Likeness::of(one).is_like(&Likeness::of(other))
}

pub(super) fn find(view: &View<'_>, found: &mut Findings<'_>) {
    if !found.wants(Code::LikeSymbols) && !found.wants(Code::ColorVision) {
        return;
    }
    let symbols: Vec<(usize, Likeness)> = view
        .colors()
        .iter()
        .enumerate()
        .flat_map(|(number, color)| color.symbols.iter().map(move |symbol| (number, symbol)))
        .map(|(number, symbol)| (number, Likeness::of(symbol.as_str())))
        .collect();
    let (mut measured, mut unmeasured) = (0, 0);
    for (place, (first, one)) in symbols.iter().enumerate() {
        for (second, other) in symbols.iter().skip(place + 1) {
            // Two entries of one color and thread are one color: nothing is confused.
            if first == second || !one.is_like(other) {
                continue;
            }
            if measured < MAX_PAIRS {
                measured += 1;
                pair(view, (*first, *second), found);
            } else {
                unmeasured += 1;
            }
        }
    }
    found.leave_out(Code::LikeSymbols, unmeasured);
}

/// A pair whose symbols look alike.
fn pair(view: &View<'_>, (first, second): (usize, usize), found: &mut Findings<'_>) {
    let Some((one, other)) = view.colors().get(first).zip(view.colors().get(second)) else {
        return;
    };
    // What a reader of the chart has before the eyes are its colors, not the threads'.
    let shown = |worked: &Worked| Color::screen(worked.color);
    let Ok(normal) = Difference::between(&shown(one), &shown(other), Formula::DEFAULT) else {
        return;
    };
    let least = least_seen(one.color, other.color, Formula::DEFAULT);
    let is_lost = normal.delta_e >= found.limits.seen_above
        && DeltaE::value(least.delta_e) < found.limits.lost_below.value();
    let finding = match least.deficiency {
        Some(deficiency) if is_lost => {
            Finding::ColorVision { difference: normal, deficiency, simulated: least.delta_e }
        }
        Some(_) | None => Finding::LikeSymbols { difference: normal },
    };
    found.add(finding, vec![one.clone(), other.clone()], Cells::none());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn alike_in_print_turned_or_by_unicode() {
        let pairs = [
            ("O", "0"),
            ("o", "O"),
            ("x", "X"),
            ("6", "9"),
            ("▲", "▼"),
            ("■", "●"),
            ("M", "W"),
            // Latin and Cyrillic, Latin and Greek.
            ("A", "\u{410}"),
            ("H", "\u{397}"),
            ("A1", "AI"),
            ("8B", "B8"),
        ];
        for (one, other) in pairs {
            assert!(look_alike(one, other) && look_alike(other, one), "{one} {other}");
        }
        for (one, other) in [("X", "A"), ("A2", "A8"), ("A", "AA"), ("h", "H"), ("b", "d")] {
            assert!(!look_alike(one, other), "{one} {other}");
        }
    }

    #[test]
    fn no_symbol_that_is_given_out_looks_like_another() {
        let given = crate::chart::given_symbols();
        let given: Vec<_> = given.iter().map(|symbol| (symbol, Likeness::of(symbol))).collect();
        for (place, (one, shape)) in given.iter().enumerate() {
            for (other, other_shape) in given.iter().skip(place + 1) {
                assert!(!shape.is_like(other_shape), "{one} {other}");
            }
        }
    }
}
