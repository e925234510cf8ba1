//! What a conversion has to find threads for: each free color, or each strand of its blend.
//! It does not know where the threads come from.

use super::super::case::{Candidate, Case, Wish, whole};
use crate::color::Color;
use crate::palette::ChartColor;

/// A color, or one strand of a blend, that needs a thread.
#[derive(Clone, Debug)]
pub(super) struct Need<'c> {
    /// The color's place in the palette.
    pub(super) color: usize,
    /// What differences are measured from.
    pub(super) standard: Color,
    /// Share of all stitches; a strand has its part of the blend's.
    pub(super) weight: f64,
    /// The thread that it is worked in, where that one may answer.
    pub(super) own: Option<Candidate<'c>>,
    /// The same whether it may answer or not.
    pub(super) before: Option<Candidate<'c>>,
}

/// All needs, by color and strand.
pub(super) fn needs<'c>(case: &Case<'_, 'c>) -> Vec<Need<'c>> {
    let colors = case.palette.colors().iter().enumerate().zip(case.weights());
    let mut needs = Vec::new();
    for (((color, held), weight), wish) in colors.zip(&case.wishes) {
        if matches!(wish, Wish::Free(_)) {
            needs.extend(of_color(case, (color, held), weight));
        }
    }
    needs
}

fn of_color<'c>(
    case: &Case<'_, 'c>,
    (color, held): (usize, &ChartColor),
    weight: f64,
) -> Vec<Need<'c>> {
    let shown = case.standards.get(color).copied().unwrap_or(held.color);
    let may_stay = |thread: &Candidate<'c>| case.admits(*thread) && !case.refuses(color, *thread);
    let own = case.own_threads(held).unwrap_or_default();
    let need = |standard: Color, weight: f64, before: Option<Candidate<'c>>| Need {
        color,
        standard,
        weight,
        own: before.filter(may_stay),
        before,
    };
    match own.as_slice() {
        [] => vec![need(shown, weight, None)],
        [only] => vec![need(shown, weight, Some(*only))],
        strands => {
            let part = weight / whole(strands.len() as u64);
            let of = |strand: &Candidate<'c>| need(strand.thread.color, part, Some(*strand));
            strands.iter().map(of).collect()
        }
    }
}
