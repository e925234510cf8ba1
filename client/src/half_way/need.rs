//! How much thread stitches take, from the least to the most that is likely.
//! It does not know charts, and it rounds so that what is planned with the most is never short.

/// Millimetres in an inch.
const INCH_MM: f64 = 25.4;

/// Fewest and most stitches to the inch that are believed. House choice.
pub(crate) const COUNTS: (f64, f64) = (4.0, 60.0);

/// Cell sides that the needle travels for a cross at least: a long row in two passes, front and
/// back. Source: the path of the thread along the cloth.
const LEAST_PATH: f64 = 2.0 * std::f64::consts::SQRT_2 + 2.0;

/// The same where every cross is finished before the next one.
const MOST_PATH: f64 = 3.0 * std::f64::consts::SQRT_2 + 1.0;

/// Millimetres that each of a cross's four passages through the cloth takes at most. An
/// assumption: no published figure was found.
const CLOTH_MM: f64 = 0.5;

/// Passages through the cloth of one cross.
const PASSAGES: f64 = 4.0;

/// Cell sides that the needle travels for a cell side of line: there and back again with running
/// stitches at least, back stitches at most. Source: the path of the thread along the cloth.
const LINE_PATH: (f64, f64) = (2.0, 3.0);

/// Passages through the cloth of a cell side of line at most: one back stitch.
const LINE_PASSAGES: f64 = 2.0;

/// Millimetres in the needle for a knot: two wraps of 0.8 mm needle and 0.4 mm thread, and what is
/// usually planned. Values from memory, no source.
const KNOT_MM: (f64, f64) = (7.5, 10.0);

/// What is unpicked, cut off or lost, as a factor. Common practice, no source.
const WASTE: f64 = 1.2;

/// Millimetres of a length in the needle that can be worked. Common practice, no source.
const LENGTH_MM: f64 = 400.0;

/// Millimetres for the beginning and the end of each length. Common practice, no source.
const TAILS_MM: f64 = 50.0;

/// Strands of a thread as sold, where its table does not say. Common practice, no source.
pub(crate) const STRANDS_SOLD: u8 = 6;

/// Micrometres in a millimetre.
const MICRO: f64 = 1_000.0;

/// What thread use rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Basis {
    /// Stitches to the inch: of the cloth, or half of that for stitches over two.
    Count(f64),
    /// Meters of thread as sold for a stitch, as its owner found them.
    MetersPerStitch(f64),
}

/// Thread use of one needle, in micrometres of thread as sold.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Need {
    least: Rate,
    most: Rate,
    marks: MarkRates,
}

/// An amount of thread from the least to the most that is likely, in micrometres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Ends {
    pub(crate) least: u64,
    pub(crate) most: u64,
}

/// Thread in the needle for lines, and what beginnings take.
#[derive(Clone, Copy, Debug)]
struct MarkRates {
    /// Millimetres for a cell side of line.
    least_side: f64,
    most_side: f64,
    /// Millimetres for the beginning and the end of a length, at least.
    least_tails: f64,
    /// Strands of the thread as sold.
    sold: f64,
}

/// Thread for each quarter of a stitch, and for each length that is begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Rate {
    quarter: u64,
    start: u64,
    /// Quarters that one length does.
    quarters_in_length: u64,
}

impl Rate {
    fn of(&self, quarters: u64) -> u64 {
        let starts = quarters.div_ceil(self.quarters_in_length.max(1));
        quarters.saturating_mul(self.quarter).saturating_add(starts.saturating_mul(self.start))
    }
}

impl Need {
    /// Thread use with so many strands in the needle, of a thread sold with `sold` strands.
    pub(crate) fn new(basis: Basis, strands: u8, sold: u8) -> Self {
        let sold = f64::from(sold.max(1));
        let share = f64::from(strands) / sold;
        let start = TAILS_MM * MICRO * share;
        match basis {
            Basis::Count(count) => {
                let side = INCH_MM / count;
                let least = LEAST_PATH * side / 4.0;
                let most = (MOST_PATH * side + PASSAGES * CLOTH_MM) / 4.0;
                let marks = MarkRates {
                    least_side: LINE_PATH.0 * side,
                    most_side: LINE_PATH.1 * side + LINE_PASSAGES * CLOTH_MM,
                    least_tails: TAILS_MM,
                    sold,
                };
                Self {
                    marks,
                    least: Rate {
                        quarter: whole((least * MICRO * share).floor()),
                        start: whole(start.floor()),
                        quarters_in_length: whole((LENGTH_MM / least).ceil()),
                    },
                    most: Rate {
                        quarter: whole((most * MICRO * share * WASTE).ceil()),
                        start: whole((start * WASTE).ceil()),
                        quarters_in_length: whole((LENGTH_MM / most).floor()),
                    },
                }
            }
            // A figure of the owner's own has its tails in it; a few stitches alone take more.
            Basis::MetersPerStitch(meters) => {
                let quarter = meters * MICRO * MICRO / 4.0;
                let none = u64::MAX;
                let cross = meters * MICRO / share.max(f64::MIN_POSITIVE);
                let marks = MarkRates {
                    least_side: cross * LINE_PATH.0 / MOST_PATH,
                    most_side: cross * LINE_PATH.1 / LEAST_PATH,
                    least_tails: 0.0,
                    sold,
                };
                Self {
                    marks,
                    least: Rate {
                        quarter: whole(quarter.floor()),
                        start: 0,
                        quarters_in_length: none,
                    },
                    most: Rate {
                        quarter: whole((quarter * WASTE).ceil()),
                        start: whole((start * WASTE).ceil()),
                        quarters_in_length: none,
                    },
                }
            }
        }
    }

    /// The most that one piece of so many quarters of a stitch takes, in micrometres.
    pub(crate) fn most(&self, quarters: u64) -> u64 {
        self.most.of(quarters)
    }

    /// The least that it takes.
    pub(crate) fn least(&self, quarters: u64) -> u64 {
        self.least.of(quarters)
    }

    /// What lines that hang together take, told as cell sides and strands in the needle.
    pub(crate) fn lines(&self, lines: &[(f64, u8)]) -> Ends {
        let rates = &self.marks;
        let sides: f64 = lines.iter().map(|(sides, _)| sides).sum();
        let all: f64 = lines.iter().map(|(sides, strands)| sides * f64::from(*strands)).sum();
        let strands = |found: Option<u8>| f64::from(found.unwrap_or(1));
        let fewest = strands(lines.iter().map(|(_, strands)| *strands).min());
        let most = strands(lines.iter().map(|(_, strands)| *strands).max());
        // The needle need not come back behind the last stitch.
        let back = (2.0 * sides - 1.0).max(sides) / (2.0 * sides).max(f64::MIN_POSITIVE);
        let starts = |side: f64| (side * sides / LENGTH_MM).ceil();
        let least = all * rates.least_side * back
            + starts(rates.least_side * back) * rates.least_tails * fewest;
        let taken = all * rates.most_side + starts(rates.most_side) * TAILS_MM * most;
        rates.ends(least, taken)
    }

    /// What knots take, told as strands in the needle: at best one after the other, at worst each
    /// begun by itself.
    pub(crate) fn knots(&self, strands: &[u8]) -> Ends {
        let rates = &self.marks;
        let all: f64 = strands.iter().copied().map(f64::from).sum();
        let fewest = strands.iter().copied().min().map_or(0.0, f64::from);
        let least = all * KNOT_MM.0 + fewest * rates.least_tails;
        rates.ends(least, all * (KNOT_MM.1 + TAILS_MM))
    }

    /// The most quarters in one piece that are surely done with so much thread.
    pub(crate) fn reach(&self, micrometres: u64) -> u64 {
        largest(micrometres, &|quarters| self.most(quarters))
    }

    /// The most quarters that so much thread could do with luck.
    pub(crate) fn lucky_reach(&self, micrometres: u64) -> u64 {
        largest(micrometres, &|quarters| self.least(quarters))
    }
}

impl MarkRates {
    /// Millimetres of single strand as thread as sold, what is lost added at the high end.
    fn ends(&self, least: f64, most: f64) -> Ends {
        Ends {
            least: whole((least / self.sold * MICRO).floor()),
            most: whole((most / self.sold * WASTE * MICRO).ceil()),
        }
    }
}

/// The largest number of quarters whose need is within the room; needs grow with it.
fn largest(room: u64, need: &dyn Fn(u64) -> u64) -> u64 {
    let (mut low, mut high) = (0, room.saturating_add(1));
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if need(middle) <= room { low = middle } else { high = middle }
    }
    low
}

/// Strands in the needle for crosses, where the key does not say: fewer on finer cloth. Common
/// practice, no source; where two are usual, the larger number.
pub(crate) fn usual_strands(basis: Basis) -> u8 {
    match basis {
        Basis::Count(count) if count < 12.5 => 3,
        Basis::Count(count) if count >= 20.0 => 1,
        Basis::Count(_) | Basis::MetersPerStitch(_) => 2,
    }
}

/// Meters as micrometres.
pub(crate) fn micrometres(meters: f64) -> u64 {
    whole((meters * MICRO * MICRO).round())
}

/// Micrometres as meters.
pub(crate) fn meters(micrometres: u64) -> f64 {
    let high = u32::try_from(micrometres / 1_000_000).unwrap_or(u32::MAX);
    let low = u32::try_from(micrometres % 1_000_000).unwrap_or(0);
    f64::from(high) + f64::from(low) / (MICRO * MICRO)
}

fn whole(value: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0 to 1e15 in the same line"
    )]
    let whole = value.clamp(0.0, 1e15) as u64;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Path lengths of rows of crosses: length of the thread's path along the cloth, computed by
    /// hand from the stitch's geometry (a row of n in two passes, 2n√2 + 2n - 1 sides).
    #[test]
    fn a_stitch_takes_what_its_path_takes() {
        let need = Need::new(Basis::Count(14.0), 2, 6);
        // 8.760 mm of needle path on 14 count, two of six strands: 2.920 mm of thread as sold.
        let without_tails = need.least.quarter * 4;
        assert!(without_tails.abs_diff(2_920) <= 4, "{without_tails}");
        // (5.2426 x 1.8143 + 2.0) mm, a third, and a fifth more.
        let most = need.most.quarter * 4;
        assert!(most.abs_diff(4_605) <= 4, "{most}");
        // 100 crosses in one piece: lengths of 400 mm, 50 mm of tails each.
        assert_eq!(need.most(400), 400 * need.most.quarter + 3 * need.most.start);
    }

    #[test]
    fn single_stitches_take_more_than_a_block_of_as_many() {
        for basis in [Basis::Count(14.0), Basis::MetersPerStitch(0.004)] {
            let need = Need::new(basis, 2, 6);
            assert!(100 * need.most(4) > need.most(400) * 3, "{basis:?}");
            assert!(need.least(400) < need.most(400));
        }
    }

    /// 250 back-stitch segments of one side in one line are (3·250 - 2) sides of path, and 250 mm
    /// through the cloth: common practice for the cloth, no source, geometry for the rest.
    #[test]
    fn a_line_takes_what_its_path_takes() {
        let need = Need::new(Basis::Count(14.0), 2, 6);
        let line = need.lines(&[(250.0, 1)]);
        let path = 748.0 * 25.4 / 14.0 + 250.0;
        let tails = 5.0 * 50.0;
        let most = micrometres((path + tails) / 1_000.0 / 6.0 * 1.2);
        // The last stitch is counted as the others are: two sides more.
        assert!((most..most + 1_000).contains(&line.most), "{} of {most}", line.most);
        assert!(line.least < line.most / 2 && line.least > micrometres(0.907 / 6.0), "{line:?}");
        // One side alone does not come back.
        let one = need.lines(&[(1.0, 1)]);
        assert!(one.least.abs_diff(micrometres((25.4 / 14.0 + 50.0) / 6_000.0)) <= 1, "{one:?}");
        // Strands count, whatever the crosses have.
        assert!(need.lines(&[(9.0, 2)]).most.abs_diff(2 * need.lines(&[(9.0, 1)]).most) <= 1);
        let fine = Need::new(Basis::Count(14.0), 1, 6);
        assert_eq!(fine.lines(&[(9.0, 1)]), need.lines(&[(9.0, 1)]));
    }

    #[test]
    fn knots_begun_one_by_one_take_most() {
        for basis in [Basis::Count(14.0), Basis::MetersPerStitch(0.004)] {
            let need = Need::new(basis, 2, 6);
            let ends = need.knots(&[2; 10]);
            // 60 mm in two strands each, a third of thread as sold, a fifth more.
            assert_eq!(ends.most, 10 * 24_000);
            assert!(ends.least >= 25_000 && ends.least < ends.most / 3, "{ends:?}");
            assert_eq!(need.knots(&[]), Ends::default());
        }
    }

    #[test]
    fn the_reach_is_the_last_that_is_within_the_room() {
        for count in [11.0, 14.0, 18.0, 28.0] {
            let need = Need::new(Basis::Count(count), usual_strands(Basis::Count(count)), 6);
            for room in [0, 1, 20_000, 4_200_000, 8_000_000] {
                let reach = need.reach(room);
                assert!(need.most(reach) <= room || reach == 0);
                assert!(need.most(reach + 1) > room);
                assert!(need.lucky_reach(room) >= reach);
            }
        }
    }

    #[test]
    fn meters_and_micrometres_are_the_same_length() {
        assert_eq!(micrometres(4.2), 4_200_000);
        assert!((meters(4_200_000) - 4.2).abs() < 1e-12);
    }
}
