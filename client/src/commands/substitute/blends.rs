//! Blends for missing threads: which come near, and which colors of the chart may be answered with
//! one. It does not choose any.

use std::collections::BTreeSet;

use dyekin_core::blend::{BlendOptions, Parts};
use dyekin_core::change::TableVersion;
use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::palette::{ChartColor, Side};
use dyekin_core::planner::Ask;
use dyekin_core::table::Finish;
use dyekin_core::{ChangeList, Srgb8, ThreadRef, Watch};

use super::super::chart_work::ChartWork;
use crate::backend::{Answers, Blend, Blends, Subject};
use crate::change_file::{BlendThread, FileBlend};
use crate::chart::{KeyThread, Usage};
use crate::failure::{Failure, Result};
use crate::summary::ColorPlace;

/// Blends listed for each missing thread, and for each color.
const LISTED: usize = 3;

/// What comes near to a missing thread, and where it may be an answer.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) missing: ThreadRef,
    pub(crate) blends: Blends,
    /// Colors of the summary whose change may be answered with a blend, each with its own.
    pub(crate) offers: Vec<(usize, Vec<FileBlend>)>,
    /// Why no color of the thread may.
    pub(crate) why_none: Option<&'static str>,
}

/// Blends of two plain threads for each missing thread, and for the colors that are changed.
pub(super) fn find(
    work: &mut ChartWork,
    ask: &Ask,
    (missing, list): (&[ThreadRef], &ChangeList),
    meter: &dyn Watch,
) -> Result<Vec<Found>> {
    let mut filter = ask.filter.clone();
    filter.excluded.extend(missing.iter().cloned());
    filter.finishes = vec![Finish::Plain];
    let options = BlendOptions {
        tables: ask.tables.clone(),
        count: LISTED,
        formula: ask.formula,
        adaptation: ask.adaptation,
        limit: None,
        filter,
        parts: Parts::ALL.to_vec(),
    };
    let near = near(work, missing, &options, meter)?;
    let usages = work.chart().map(Usage::of);
    let mut found = Vec::with_capacity(missing.len());
    for (name, blends) in missing.iter().zip(near.results) {
        let mut answer =
            Found { missing: name.clone(), blends: blends?, offers: Vec::new(), why_none: None };
        for change in list.changes.iter().filter(|change| change.before == [name.clone()]) {
            match needle(work, usages.as_deref(), change.color) {
                Ok(kinds) => {
                    let shown = (&answer.blends, near.tables.as_slice());
                    let offered = offered(work, (name, &kinds), shown, (&options, meter))?;
                    if !offered.is_empty() {
                        answer.offers.push((change.color, offered));
                    }
                }
                Err(why) => answer.why_none = Some(why),
            }
        }
        if !answer.offers.is_empty() {
            answer.why_none = None;
        }
        found.push(answer);
    }
    Ok(found)
}

/// The blends of these kinds for a color. What is shown for the thread will do when all kinds are
/// admitted; else the best of it may be of a kind that the needle has no strands for.
fn offered(
    work: &mut ChartWork,
    (missing, kinds): (&ThreadRef, &[(Parts, u8)]),
    (shown, tables): (&Blends, &[TableVersion]),
    (options, meter): (&BlendOptions, &dyn Watch),
) -> Result<Vec<FileBlend>> {
    let file_blend = |blend: &Blend, tables: &[TableVersion]| {
        let kind = kinds.iter().find(|(parts, _)| *parts == blend.mix.parts);
        file_blend(blend, kind.map_or(1, |(_, times)| *times), tables)
    };
    let parts: Vec<Parts> = kinds.iter().map(|(parts, _)| *parts).collect();
    if parts == Parts::ALL {
        return shown.blends.iter().map(|blend| file_blend(blend, tables)).collect();
    }
    let options = BlendOptions { parts, ..options.clone() };
    let own = near(work, std::slice::from_ref(missing), &options, meter)?;
    let mut offered = Vec::new();
    for blends in own.results {
        for blend in &blends?.blends {
            offered.push(file_blend(blend, &own.tables)?);
        }
    }
    Ok(offered)
}

fn near(
    work: &mut ChartWork,
    missing: &[ThreadRef],
    options: &BlendOptions,
    meter: &dyn Watch,
) -> Result<Answers<Blends>> {
    let subjects: Vec<Subject> = missing.iter().cloned().map(Subject::Thread).collect();
    work.shop.backend.suggest_blends(&subjects, options, meter)
}

/// The kinds of blend that a color may be worked in, each with how often its strands are taken; or
/// why it may not.
///
/// An area is a color without lines and knots of which fewer than two sides of a stitch, on
/// average, meet another color or bare cloth: a single stitch has four such sides, a letter or a
/// line one stitch wide has two or more. House choice.
fn needle(
    work: &ChartWork,
    usages: Option<&[Usage]>,
    color: usize,
) -> std::result::Result<Vec<(Parts, u8)>, &'static str> {
    const NO_AREA: &str = "its stitches are lone ones or thin lines, and a blend is for areas";
    let palette = work.summary.palette();
    let (Some(chart), Some(usages), Some(neighbors)) = (work.chart(), usages, palette.neighbors())
    else {
        return Err("a key alone does not say where its areas are");
    };
    let (Some(place), Some(held)) = (work.summary.places().get(color), palette.colors().get(color))
    else {
        return Err(NO_AREA);
    };
    let of_color = || place.entries().iter().filter_map(|entry| usages.get(entry.index()));
    if of_color().any(|usage| usage.line_length > 0.0 || usage.knots > 0) {
        return Err("it has back-stitch lines or knots, and a blend is for areas");
    }
    let touches = neighbors
        .iter()
        .filter(|pair| pair.first == color || pair.second == Side::Color(color))
        .fold(0_u64, |sum, pair| sum.saturating_add(pair.edges));
    if touches >= held.stitches.saturating_mul(2) {
        return Err(NO_AREA);
    }
    let entries = place.entries().iter().filter_map(|entry| chart.entry(*entry));
    let strands: BTreeSet<Option<u8>> = entries.map(|entry| entry.strands.cross()).collect();
    let mut kinds = Vec::new();
    if let [only] = strands.into_iter().collect::<Vec<_>>().as_slice() {
        kinds
            .extend(Parts::ALL.into_iter().filter_map(|parts| Some((parts, times(parts, *only)?))));
    }
    if kinds.is_empty() {
        return Err("no blend has as many strands as the chart says");
    }
    Ok(kinds)
}

/// How often the strands of a blend are taken for a needle; `None` when they do not make it up.
fn times(parts: Parts, needle: Option<u8>) -> Option<u8> {
    let (first, second) = parts.strands();
    let all = first + second;
    let Some(needle) = needle else { return Some(1) };
    (needle % all == 0).then_some(needle / all)
}

fn file_blend(blend: &Blend, times: u8, tables: &[TableVersion]) -> Result<FileBlend> {
    let version = tables.iter().find(|held| held.table == blend.table).ok_or_else(|| {
        Error::new(ErrorKind::UnknownTable {
            table: blend.table.to_string(),
            known: tables.iter().map(|held| held.table.to_string()).collect(),
        })
    })?;
    let (first, second) = blend.mix.parts.strands();
    let side = |thread: &dyekin_core::Thread, strands: u8| BlendThread {
        thread: KeyThread {
            thread: ThreadRef { table: blend.table.clone(), code: thread.code.clone() },
            table_hash: version.hash,
        },
        name: thread.name.clone(),
        strands: strands * times,
    };
    Ok(FileBlend {
        threads: [side(&blend.first, first), side(&blend.second, second)],
        hex: Srgb8::nearest_to(blend.mix.estimate),
        difference: blend.difference,
        full_spread: blend.full_spread.delta_e,
        speckle: blend.mix.speckle,
    })
}

/// The missing threads that are still to be replaced: some may be in no color any more but those
/// that were answered with a blend.
///
/// # Errors
///
/// When a thread of an answered blend is missing too, when nothing is left to replace, and half-way
/// through a piece, where colors are parts of colors.
pub(super) fn still_missing(
    work: &ChartWork,
    missing: Vec<ThreadRef>,
    half_way: bool,
) -> Result<Vec<ThreadRef>> {
    let colors = || work.summary.palette().colors().iter().zip(work.summary.places());
    let is_blended =
        |(color, place): &(&ChartColor, &ColorPlace)| color.threads != place.thread_refs();
    let blended: Vec<_> = colors().filter(is_blended).collect();
    if blended.is_empty() {
        return Ok(missing);
    }
    if half_way {
        return Err(Failure::said(
            "--answers: an answer with a blend is not held half-way through a piece",
            "answer with a thread, or carry the list out with dyekin apply",
        ));
    }
    let mut problems = Vec::new();
    for name in &missing {
        let lost = blended.iter().filter(|(color, _)| color.threads.contains(name));
        problems.extend(lost.map(|(_, place)| in_missing_blend(name, place)));
    }
    if !problems.is_empty() {
        return Err(problems.into());
    }
    let is_done = |name: &ThreadRef| {
        blended.iter().any(|(_, place)| place.thread_refs().contains(name))
            && !colors().any(|(color, _)| color.threads.contains(name))
    };
    let left: Vec<ThreadRef> = missing.into_iter().filter(|name| !is_done(name)).collect();
    if left.is_empty() {
        return Err(Failure::said(
            "--answers: every color of the missing threads is answered with a blend, and nothing is left to choose",
            "carry the list out with dyekin apply",
        ));
    }
    Ok(left)
}

fn in_missing_blend(name: &ThreadRef, place: &ColorPlace) -> Error {
    let symbols: Vec<&str> = place.symbols().iter().map(|symbol| symbol.as_str()).collect();
    Error::new(ErrorKind::BadValue {
        value: name.to_string(),
        reason: format!(
            "it is missing, and in the blend answered for {} {}",
            place.color(),
            symbols.join(" ")
        )
        .trim_end()
        .to_owned(),
        remedy: "answer with another blend or a thread".into(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strands_of_a_blend_make_up_the_needle_or_do_not() {
        for (needle, both, three) in [
            (None, Some(1), Some(1)),
            (Some(1), None, None),
            (Some(2), Some(1), None),
            (Some(3), None, Some(1)),
            (Some(4), Some(2), None),
            (Some(6), Some(3), Some(2)),
        ] {
            assert_eq!(times(Parts::OneAndOne, needle), both, "{needle:?}");
            assert_eq!(times(Parts::TwoAndOne, needle), three, "{needle:?}");
        }
    }
}
