//! Symbols for entries that have none yet, far apart in shape, the same for the same key.
//! It does not know fonts or pages.

use std::collections::HashSet;

use super::{Chart, Entry, Symbol};

/// Single characters, each unlike those before it. House choice: no formula start of spreadsheets,
/// no thin mark that fades in print, no pair that is alike or alike when the chart is turned, none
/// whose width depends on the language of the terminal (UAX #11 class A), no emoji.
const SHAPES: [&str; 41] = [
    "X", "❖", "A", "⊟", "S", "▚", "4", "⌂", "T", "⊠", "K", "✿", "7", "⚑", "E", "◍", "H", "✚", "2",
    "⋈", "V", "▰", "G", "%", "R", "⏣", "J", "?", "◰", "D", "&", "⧫", "Y", "⊛", "9", "Q", "#", "✥",
    "8", "W", "∎",
];

/// Letters and digits that are told apart at any size, for symbols of several characters.
const LETTERS: [char; 13] = ['A', 'H', 'T', 'X', 'K', 'V', 'E', 'Y', 'J', 'R', 'D', 'G', 'Q'];
const DIGITS: [char; 5] = ['2', '4', '7', '8', '9'];

/// Which characters new symbols are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SymbolSet {
    /// Letters, digits and shapes.
    All,
    /// ASCII only, for printers and programs that know nothing else.
    Ascii,
}

impl Chart {
    /// The same chart with a symbol for every entry that lacks one. Symbols that are there stay.
    #[must_use]
    pub fn with_symbols(mut self, set: SymbolSet) -> Self {
        give_symbols(&mut self.key, set);
        self
    }
}

fn give_symbols(key: &mut [Entry], set: SymbolSet) {
    let taken: HashSet<String> = key
        .iter()
        .filter_map(|entry| entry.symbol.as_ref())
        .map(|s| s.as_str().to_owned())
        .collect();
    let mut free = candidates(set).filter(|symbol| !taken.contains(symbol));
    for entry in key.iter_mut().filter(|entry| entry.symbol.is_none()) {
        entry.symbol = free.next().and_then(|symbol| Symbol::parse(&symbol).ok());
    }
}

/// More symbols than a key has entries: single ones, then A2, A24, AH24.
fn candidates(set: SymbolSet) -> impl Iterator<Item = String> {
    let single = SHAPES.iter().filter(move |shape| set == SymbolSet::All || shape.is_ascii());
    let digits = || DIGITS.iter();
    let two = LETTERS.iter().flat_map(move |letter| digits().map(move |d| format!("{letter}{d}")));
    let pairs = || {
        DIGITS.iter().flat_map(|first| DIGITS.iter().map(move |second| format!("{first}{second}")))
    };
    let three = LETTERS.iter().flat_map(move |l| pairs().map(move |p| format!("{l}{p}")));
    let letters = LETTERS.iter().flat_map(|l| LETTERS.iter().map(move |m| format!("{l}{m}")));
    let four = letters.flat_map(move |l| pairs().map(move |p| format!("{l}{p}")));
    single.map(|shape| (*shape).to_owned()).chain(two).chain(three).chain(four)
}

/// The first symbols that are given out: all single ones and those of two and three characters.
#[cfg(test)]
pub(crate) fn given_symbols() -> Vec<String> {
    candidates(SymbolSet::All).take(200).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use dyekin_core::Srgb8;

    #[test]
    fn a_full_key_gets_different_symbols() {
        for set in [SymbolSet::All, SymbolSet::Ascii] {
            let mut key = vec![Entry::of_color(Srgb8::new(1, 2, 3)); super::super::MAX_ENTRIES];
            give_symbols(&mut key, set);
            let different: HashSet<_> = key.iter().map(|entry| entry.symbol.clone()).collect();
            assert_eq!(different.len(), key.len());
            assert!(!different.contains(&None));
        }
    }

    #[test]
    fn symbols_that_are_there_stay() {
        let mut key = vec![Entry::of_color(Srgb8::new(1, 2, 3)); 3];
        key[1].symbol = Some(Symbol::parse("X").unwrap());
        give_symbols(&mut key, SymbolSet::All);
        let shown: Vec<_> = key.iter().map(|e| e.symbol.as_ref().unwrap().as_str()).collect();
        assert_eq!(shown, ["❖", "X", "A"]);
    }

    #[test]
    fn no_symbol_starts_a_formula() {
        for symbol in candidates(SymbolSet::All) {
            assert_eq!(super::super::text::guarded(&symbol), symbol);
        }
    }
}
