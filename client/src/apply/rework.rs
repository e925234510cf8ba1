//! The new key and grid: entries get their new threads, and those that become the same are joined.
//! It does not know answers, only what each color becomes.

use dyekin_core::error::Error;

use super::{Goal, Move, NewThread, Target, no_such_color};
use crate::change_file::{ChangeFile, ColorRef, FileBlend};
use crate::chart::problems::{bad_file, bad_value};
use crate::chart::{
    Blend, Chart, Draft, Entry, EntryId, KeyThread, Knot, Label, Line, MAX_ENTRIES, Strands,
    SymbolSet, Work, mixed,
};
use crate::summary::{Areas, ColorPlace, Spot};

/// An entry of the new key while it is built.
struct Planned {
    /// The old entry and the area (0 is none) that it comes from; they order the new key.
    origin: (usize, usize),
    entry: Entry,
}

/// Which old entry, in which area, becomes which planned one.
struct Step {
    from: (usize, usize),
    to: usize,
    changed: bool,
}

/// The chart with each target carried out; `None` when a problem was found.
pub(super) fn rework(
    chart: &Chart,
    file: &ChangeFile,
    targets: &[Target<'_>],
    problems: &mut Vec<Error>,
) -> Option<(Chart, Vec<Move>)> {
    let split = split_areas(file);
    let apart = file.apart();
    let areas = Areas::of(chart, &split, apart.as_ref());
    let places = areas.places();
    let mut wanted: Vec<Option<&Target<'_>>> = vec![None; places.len()];
    for target in targets {
        match places.iter().position(|place| is_color(place, target.of)) {
            Some(place) => {
                wanted.get_mut(place).into_iter().for_each(|held| *held = Some(target));
            }
            None => problems.push(no_such_color(target.of)),
        }
    }
    if !problems.is_empty() {
        return None;
    }
    let (planned, steps) = plan(chart, &areas, &wanted, problems)?;
    if planned.len() > MAX_ENTRIES {
        let reason =
            format!("{} entries in the new key, the limit is {MAX_ENTRIES}", planned.len());
        problems.push(bad_file(reason, "split fewer areas"));
        return None;
    }
    built(chart, &areas, planned, &steps, problems)
}

/// The areas that the list speaks of, each once.
fn split_areas(file: &ChangeFile) -> Vec<Label> {
    let changed = file.changes.iter().map(|change| &change.of);
    let mut names: Vec<&str> =
        changed.chain(&file.unchanged).filter_map(ColorRef::area_of_chart).collect();
    names.sort_unstable();
    names.dedup();
    names.into_iter().filter_map(|name| Label::parse(name).ok()).collect()
}

fn is_color(place: &ColorPlace, of: &ColorRef) -> bool {
    place.color() == of.hex
        && place.threads() == of.before
        && place.area().map(Label::as_str) == of.area.as_deref()
}

/// Plans the new key: what stays first, then changes from the largest to the smallest, so that a
/// thread that the chart uses already keeps its symbol, and otherwise the largest color's stays.
fn plan(
    chart: &Chart,
    areas: &Areas,
    wanted: &[Option<&Target<'_>>],
    problems: &mut Vec<Error>,
) -> Option<(Vec<Planned>, Vec<Step>)> {
    let mut planned: Vec<Planned> = Vec::new();
    let mut steps = Vec::new();
    let mut changing = Vec::new();
    for (old, entry) in chart.key().iter().enumerate() {
        let mut stays = None;
        let mut used = false;
        for (area, place, stitches) in areas.uses(old) {
            used = true;
            if let Some(target) = wanted.get(place).copied().flatten() {
                changing.push((std::cmp::Reverse(stitches), old, area, target));
            } else {
                let to = *stays.get_or_insert_with(|| keep(&mut planned, old, entry));
                steps.push(Step { from: (old, area), to, changed: false });
            }
        }
        if !used {
            keep(&mut planned, old, entry);
        }
    }
    changing.sort_by_key(|(stitches, old, area, _)| (*stitches, *old, *area));
    for (_, old, area, target) in changing {
        let Some(entry) = chart.key().get(old) else { continue };
        let entry = match &target.goal {
            Goal::Blend(blend) => blended(entry, blend),
            Goal::Threads(threads) => renewed(entry, threads),
        };
        match entry {
            Ok(entry) => {
                let to = join(&mut planned, (old, area), entry);
                steps.push(Step { from: (old, area), to, changed: true });
            }
            Err(problem) => problems.push(problem),
        }
    }
    problems.is_empty().then_some((planned, steps))
}

fn keep(planned: &mut Vec<Planned>, old: usize, entry: &Entry) -> usize {
    planned.push(Planned { origin: (old, 0), entry: entry.clone() });
    planned.len() - 1
}

/// The planned entry of the same threads and strands, or a new one.
fn join(planned: &mut Vec<Planned>, origin: (usize, usize), mut entry: Entry) -> usize {
    let same = planned.iter().position(|held| {
        held.entry.work == entry.work && agreed(held.entry.strands, entry.strands).is_some()
    });
    if let Some(place) = same {
        if let Some(held) = planned.get_mut(place) {
            held.entry.strands =
                agreed(held.entry.strands, entry.strands).unwrap_or(held.entry.strands);
        }
        return place;
    }
    let taken = planned.iter().any(|held| held.entry.symbol == entry.symbol);
    if taken {
        // The old entry lives on elsewhere and keeps its symbol.
        entry.symbol = None;
    }
    planned.push(Planned { origin, entry });
    planned.len() - 1
}

/// Strands of both where they do not contradict each other.
fn agreed(one: Strands, other: Strands) -> Option<Strands> {
    let both = |one: Option<u8>, other: Option<u8>| match (one, other) {
        (Some(one), Some(other)) if one != other => None,
        (one, other) => Some(one.or(other)),
    };
    let cross = both(one.cross(), other.cross())?;
    let line = both(one.line(), other.line())?;
    let knot = both(one.knot(), other.knot())?;
    Strands::new(cross, line, knot).ok()
}

/// An entry with other threads. Its symbol and strands stay.
fn renewed(entry: &Entry, threads: &[NewThread]) -> Result<Entry, Error> {
    match threads {
        [one] => Ok(Entry {
            symbol: entry.symbol.clone(),
            color: one.color,
            work: Work::Thread(one.thread.clone()),
            strands: strands_of_one(entry)?,
            name: one.name.clone(),
        }),
        // Both strands of a blend may end up in one thread.
        [first, second] if first.thread == second.thread => {
            renewed(entry, std::slice::from_ref(first))
        }
        [first, second] => {
            let (of_first, of_second) = strands_of_two(entry);
            let strand =
                |held: &NewThread, count: u8| -> (KeyThread, u8) { (held.thread.clone(), count) };
            Ok(Entry {
                symbol: entry.symbol.clone(),
                color: mixed(first.color, second.color),
                work: Work::Blend(Blend::new(strand(first, of_first), strand(second, of_second))?),
                strands: entry.strands,
                name: None,
            })
        }
        _ => Err(bad_file("a change without a thread after it", "make the list again")),
    }
}

/// An entry in a blend with its own strands. Its symbol stays.
fn blended(entry: &Entry, blend: &FileBlend) -> Result<Entry, Error> {
    let strands = blend.strands();
    // A chart that was corrected may say otherwise than when the list was made.
    if let Some(wanted) = entry.strands.cross().filter(|wanted| *wanted != strands) {
        return Err(bad_value(
            &blend.words(false),
            format!("the chart works this color with {wanted} strands, the blend has {strands}"),
            "make the list again, or answer with a thread",
        ));
    }
    let [first, second] = blend.threads.each_ref().map(|held| (held.thread.clone(), held.strands));
    Ok(Entry {
        symbol: entry.symbol.clone(),
        color: blend.hex,
        work: Work::Blend(Blend::new(first, second)?),
        strands: entry.strands,
        name: None,
    })
}

/// A blend that becomes one thread keeps the number of strands in the needle.
fn strands_of_one(entry: &Entry) -> Result<Strands, Error> {
    let strands = entry.strands;
    let Work::Blend(blend) = &entry.work else { return Ok(strands) };
    let all = blend.threads().iter().map(|(_, count)| *count).fold(0, u8::saturating_add);
    let all = all.min(crate::chart::MAX_STRANDS);
    Strands::new(strands.cross().or(Some(all)), strands.line(), strands.knot())
}

/// Strands of the two threads of a blend: as before, or half of the crosses' each, at least 1.
fn strands_of_two(entry: &Entry) -> (u8, u8) {
    if let Work::Blend(blend) = &entry.work {
        let [(_, first), (_, second)] = blend.threads();
        return (*first, *second);
    }
    let all = entry.strands.cross().unwrap_or(2);
    (all.div_ceil(2), (all / 2).max(1))
}

/// Builds the new chart from the plan.
fn built(
    chart: &Chart,
    areas: &Areas,
    planned: Vec<Planned>,
    steps: &[Step],
    problems: &mut Vec<Error>,
) -> Option<(Chart, Vec<Move>)> {
    let mut order: Vec<usize> = (0..planned.len()).collect();
    order.sort_by_key(|place| planned.get(*place).map(|held| held.origin));
    let mut new_place = vec![0_usize; planned.len()];
    for (new, place) in order.iter().enumerate() {
        new_place.get_mut(*place).into_iter().for_each(|held| *held = new);
    }
    let mut key: Vec<(usize, Entry)> =
        planned.into_iter().enumerate().map(|(old, held)| (old, held.entry)).collect();
    key.sort_by_key(|(old, _)| new_place.get(*old).copied());
    let mut names = vec![None; areas.count() * chart.key().len()];
    let mut moves = Vec::with_capacity(steps.len());
    for step in steps {
        let to = new_place.get(step.to).copied().and_then(EntryId::new);
        let from = EntryId::new(step.from.0);
        if let (Some(to), Some(from)) = (to, from) {
            let slot = step.from.1 * chart.key().len() + step.from.0;
            names.get_mut(slot).into_iter().for_each(|name| *name = Some(to));
            moves.push(Move { from, to, changed: step.changed });
        }
    }
    moves.sort_by_key(|held| (held.from, held.to));
    let name = |entry: EntryId, spot: Spot| {
        let slot = areas.area(entry, spot) * chart.key().len() + entry.index();
        names.get(slot).copied().flatten().unwrap_or(entry)
    };
    let draft = renamed(chart, key.into_iter().map(|(_, entry)| entry).collect(), &name);
    match draft.and_then(Chart::new) {
        Ok(chart) => Some((chart.with_symbols(SymbolSet::All), moves)),
        Err(found) => {
            problems.extend(found);
            None
        }
    }
}

/// Everything that names an entry, under its new number.
fn renamed(
    chart: &Chart,
    key: Vec<Entry>,
    name: &dyn Fn(EntryId, Spot) -> EntryId,
) -> Result<Draft, Vec<Error>> {
    let draft = chart.clone().into_draft();
    let lines: Result<Vec<Line>, Error> = draft
        .lines
        .iter()
        .map(|line| Line::new(line.from(), line.to(), name(line.entry, Spot::of(line))))
        .collect();
    let knot = |knot: &Knot| Knot { at: knot.at, entry: name(knot.entry, Spot::of(knot)) };
    Ok(Draft {
        key,
        grid: draft.grid.renamed(&|entry, place| name(entry, Spot::Cell(place))),
        lines: lines.map_err(|problem| vec![problem])?,
        knots: draft.knots.iter().map(knot).collect(),
        ..draft
    })
}
