//! Notes about colors: too near to each other, to the cloth, of few stitches, likely to bleed.
//! It does not know where a chart's stitches lie.

use dyekin_core::{DeltaE, Lab};

use super::note::{Cells, Code, Finding, Reason, Worked};
use super::view::View;
use super::{Findings, Limits, MAX_NOTES};

/// Largest weight of lightness in CIEDE2000 (ISO/CIE 11664-6, `S_L` for L* of 0 or 102): two colors
/// within X differ by at most this times X in L*.
const LIGHTNESS_WEIGHT: f64 = 1.78;

/// Hues of red in CIELAB, in degrees. House choice: from crimson to brick.
const RED_FROM: f64 = 345.0;
const RED_TO: f64 = 45.0;

/// Chroma from which a hue is called red. House choice: below it is a brown or a rose.
const RED_CHROMA: f64 = 30.0;

/// Chroma up to which a light color is pale. House choice.
const PALE_CHROMA: f64 = 30.0;

/// Colors of nothing but strays go with the strays: they get no notes of their own for being near to
/// others or for their few stitches.
pub(super) fn find(view: &View<'_>, strays: &[bool], found: &mut Findings<'_>) {
    let limits = found.limits;
    let stays = |number: usize| !strays.get(number).copied().unwrap_or(false);
    let staying: Vec<usize> = (0..view.colors().len()).filter(|number| stays(*number)).collect();
    if found.wants(Code::NearColors) {
        near(view, staying.clone(), found);
    }
    if found.wants(Code::LikeCloth) {
        like_cloth(view, limits, found);
    }
    let staying = staying.iter().filter_map(|number| view.colors().get(*number));
    for color in staying.filter(|color| color.stitches < limits.few_below) {
        found.add(Finding::FewStitches, vec![color.clone()], Cells::none());
    }
    if found.wants(Code::MayBleed) {
        may_bleed(view, limits, found);
    }
}

/// Pairs that can hardly be told apart. Entries of one thread are one color to whoever stitches.
fn near(view: &View<'_>, mut order: Vec<usize>, found: &mut Findings<'_>) {
    let lightness = |number: usize| view.color(number).map_or(0.0, |color| color.lab().l());
    order.sort_by(|one, other| lightness(*one).total_cmp(&lightness(*other)).then(one.cmp(other)));
    let within = found.limits.near_within.value();
    let reach = within * LIGHTNESS_WEIGHT;
    let mut pairs: Vec<(DeltaE, usize, usize)> = Vec::new();
    for (place, first) in order.iter().enumerate() {
        let darker = lightness(*first);
        let lighter = order.iter().skip(place + 1);
        for second in lighter.take_while(|second| lightness(**second) - darker <= reach) {
            let (first, second) = (*first.min(second), *first.max(second));
            if let Some(difference) = view.difference(first, second)
                && difference.delta_e.value() <= within
                && !is_one_thread(view, first, second)
            {
                pairs.push((difference.delta_e, first, second));
            }
        }
    }
    pairs.sort_by(|one, other| one.0.order(&other.0).then((one.1, one.2).cmp(&(other.1, other.2))));
    found.leave_out(Code::NearColors, pairs.len().saturating_sub(MAX_NOTES));
    for (_, first, second) in pairs.into_iter().take(MAX_NOTES) {
        let colors = [first, second].into_iter().filter_map(|at| view.colors().get(at).cloned());
        let Some(difference) = view.difference(first, second) else { continue };
        let edges = view.edges(first, second);
        found.add(Finding::NearColors { difference, edges }, colors.collect(), Cells::none());
    }
}

fn is_one_thread(view: &View<'_>, first: usize, second: usize) -> bool {
    let threads = |number: usize| view.colors().get(number).map(|color| &color.threads);
    threads(first).is_some_and(|held| !held.is_empty() && Some(held) == threads(second))
}

/// Colors that touch bare cloth and can hardly be told from it.
fn like_cloth(view: &View<'_>, limits: &Limits, found: &mut Findings<'_>) {
    let on_cloth = |number: usize| view.cloth_edges(number) > 0;
    let Some(cloth) = view.cloth() else {
        if (0..view.colors().len()).any(on_cloth) {
            let finding = Finding::NotChecked { reason: Reason::NoCloth };
            found.add(finding, Vec::new(), Cells::none());
        }
        return;
    };
    for (number, worked) in view.colors().iter().enumerate().filter(|(n, _)| on_cloth(*n)) {
        let Some(difference) = view.against_cloth(number) else { continue };
        if difference.delta_e <= limits.cloth_within {
            let edges = view.cloth_edges(number);
            let finding = Finding::LikeCloth { difference, cloth: cloth.srgb(), edges };
            found.add(finding, vec![worked.clone()], Cells::none());
        }
    }
}

/// One note for all colors whose threads may bleed into pale ones that they touch, those with the
/// longest contact first.
fn may_bleed(view: &View<'_>, limits: &Limits, found: &mut Findings<'_>) {
    let lab = |number: usize| view.color(number).map(|color| color.lab());
    let colors = view.colors().len();
    let risky: Vec<bool> =
        (0..colors).map(|number| lab(number).is_some_and(|lab| is_risky(lab, limits))).collect();
    let pale: Vec<bool> =
        (0..colors).map(|number| lab(number).is_some_and(|lab| is_pale(lab, limits))).collect();
    let is = |of: &[bool], number: usize| of.get(number).copied().unwrap_or(false);
    let mut edges = vec![0_u64; colors];
    for ((first, second), sides) in view.pairs() {
        for (one, other) in [(first, second), (second, first)] {
            if is(&risky, one) && is(&pale, other) {
                edges.get_mut(one).into_iter().for_each(|held| *held += sides);
            }
        }
    }
    let mut touching: Vec<(&Worked, u64)> =
        view.colors().iter().zip(edges).filter(|(_, edges)| *edges > 0).collect();
    touching.sort_by_key(|(_, edges)| std::cmp::Reverse(*edges));
    let edges: u64 = touching.iter().map(|(_, edges)| edges).sum();
    if edges > 0 {
        let colors = touching.into_iter().map(|(color, _)| color.clone()).collect();
        found.add(Finding::MayBleed { edges }, colors, Cells::none());
    }
}

fn is_risky(lab: Lab, limits: &Limits) -> bool {
    let hue = lab.hue_degrees();
    let is_red = lab.chroma() >= RED_CHROMA && (hue >= RED_FROM || hue <= RED_TO);
    !is_pale(lab, limits)
        && (lab.l() <= limits.dark_below || lab.chroma() >= limits.vivid_above || is_red)
}

fn is_pale(lab: Lab, limits: &Limits) -> bool {
    lab.l() >= limits.pale_above && lab.chroma() <= PALE_CHROMA
}
