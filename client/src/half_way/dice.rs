//! Random numbers from a seed, the same on every machine, for tests only.
//! It does not know what they are used for.

/// `SplitMix64` (Steele, Lea, Flood, OOPSLA 2014).
pub(super) struct Dice(pub(super) u64);

impl Dice {
    /// A number from 0 to one less than so many sides.
    pub(super) fn below(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % sides
    }

    /// The same for places.
    pub(super) fn place(&mut self, places: usize) -> usize {
        usize::try_from(self.below(places as u64)).unwrap()
    }
}
