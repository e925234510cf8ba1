//! A standard under any formula: ranges that the differences of colors lie in for certain, and the
//! blocks that hold all colors within reach. It does not know which colors are wanted.

use super::LabIndex;
use super::around::{Around, Quadratic};
use super::bound::{Extent, with_room};
use super::boxes::Boxes;
use super::columns::{BLOCK, InstructionSet, first_of};
use super::kernel::Kernel;
use super::search::{Range, Sieve};
use crate::color::Lab;
use crate::difference::Formula;

/// A standard under one formula.
#[derive(Debug)]
pub(super) struct Ruler {
    set: InstructionSet,
    around: Around,
    /// Many colors at once, for CIEDE2000.
    kernel: Option<Kernel>,
    /// What rules out a color before its formula is asked, once there is a reach.
    form: Option<(Quadratic, f64)>,
}

impl Ruler {
    pub(super) fn new(standard: Lab, formula: Formula, extent: Extent) -> Self {
        let set = InstructionSet::best();
        let kernel = match formula {
            Formula::Ciede2000(factors) => Some(Kernel::new(set, standard, factors)),
            Formula::Cie76
            | Formula::Cie94(_)
            | Formula::Cmc(_)
            | Formula::Din99o
            | Formula::Hyab => None,
        };
        Self { set, around: Around::among(standard, formula, extent), kernel, form: None }
    }

    /// The blocks that may hold a color within reach.
    pub(super) fn within(&mut self, boxes: &Boxes, reach: f64) -> Vec<u32> {
        let cut = with_room(reach * reach);
        let form = self.around.quadratic(cut);
        self.form = Some((form, cut));
        boxes.within(self.set, &form, cut)
    }

    /// Measures the colors of blocks; answers how many.
    pub(super) fn sift(&self, index: &LabIndex, blocks: &[u32], sieve: &mut Sieve<'_, '_>) -> u64 {
        let Some(kernel) = &self.kernel else {
            return blocks.iter().map(|block| self.sift_block(index, *block, sieve)).sum();
        };
        kernel.sift(&index.blocks, blocks, sieve);
        (blocks.len() * BLOCK) as u64
    }

    fn sift_block(&self, index: &LabIndex, block: u32, sieve: &mut Sieve<'_, '_>) -> u64 {
        let mut measured = 0;
        let first = first_of(block);
        let colors = index.colors.iter().skip(first as usize).take(BLOCK);
        for (place, color) in (first..).zip(colors) {
            let at = color.lab.components();
            if self.form.is_none_or(|(form, cut)| form.at(at) <= cut) {
                measured += 1;
                sieve.keep(place, range_of(self.around.least(at)));
            }
        }
        measured
    }
}

/// Where the difference lies, from its square in double precision.
fn range_of(square: f64) -> Range {
    let room = with_room(square) - square;
    Range { least: (square - room).max(0.0).sqrt(), most: (square + room).sqrt() }
}
