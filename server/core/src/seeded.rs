//! Random bits from a seed, the same on every machine, for tests only.
//! It does not know what they are used for.

/// The next 64 bits of `SplitMix64` (Steele, Lea, Flood, OOPSLA 2014).
pub(crate) fn bits(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut mixed = *state;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    mixed ^ (mixed >> 31)
}
