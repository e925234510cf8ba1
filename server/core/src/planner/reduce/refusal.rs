//! Reductions that cannot be had: what is impossible, and the nearest that is possible.
//! It does not search for it.

use super::ReduceOptions;
use crate::difference::DeltaE;
use crate::error::{Error, ErrorKind, Result};
use crate::planner::case::Case;
use crate::planner::meter::Meter;
use crate::planner::model::Reduction;

/// Refuses when some color has no thread left: its owner refused them all, or none is within the
/// tolerance.
pub(in crate::planner) fn can_be_served(
    case: &Case<'_, '_>,
    reduction: &Reduction<'_>,
    options: &ReduceOptions,
    meter: &mut Meter<'_>,
) -> Result<()> {
    let mut far: Vec<(f64, usize)> = Vec::new();
    for (row, place) in reduction.colors.iter().enumerate() {
        if reduction.problem.cells.row(row).next().is_some() {
            continue;
        }
        match case.nearest_to(*place, 1, meter)?.first() {
            Some((_, difference)) => far.push((*difference, *place)),
            None => return Err(all_refused(case, *place)),
        }
    }
    let farthest =
        far.iter().max_by(|(one, first), (two, second)| one.total_cmp(two).then(second.cmp(first)));
    match (farthest, options.tolerance) {
        (Some((difference, place)), Some(tolerance)) => {
            let place = named(case, *place);
            Err(none_within(tolerance, (far.len(), &place), *difference))
        }
        (Some((_, place)), None) => Err(all_refused(case, *place)),
        (None, _) => Ok(()),
    }
}

fn named(case: &Case<'_, '_>, place: usize) -> String {
    let shown = case.palette.colors().get(place).map(|color| color.color.srgb());
    let shown = shown.map(|shown| shown.to_string()).unwrap_or_default();
    format!("color {place} ({shown})")
}

fn all_refused(case: &Case<'_, '_>, place: usize) -> Error {
    Error::new(ErrorKind::Impossible {
        reason: format!("every admitted thread is refused for {}", named(case, place)),
        nearest: "admit more threads, or answer `another`".into(),
    })
}

fn none_within(tolerance: DeltaE, (count, farthest): (usize, &str), difference: f64) -> Error {
    let most = tolerance.value();
    // Rounded up, so that asking for it will do.
    let enough = (difference * 100.0).ceil() / 100.0;
    let reason = match count {
        1 => format!("{farthest} has no thread within {most}; the nearest differs by {enough}"),
        _ => format!(
            "{count} colors have no thread within {most}; of {farthest} the nearest differs by {enough}"
        ),
    };
    Error::new(ErrorKind::Impossible {
        reason,
        nearest: format!("allow {enough}, admit more threads, or keep such colors as they are"),
    })
}

/// The error for refusals or a tolerance that so few threads cannot meet, with the fewest that can.
pub(super) fn too_few(
    options: &ReduceOptions,
    reduction: &Reduction<'_>,
    fewest: Option<usize>,
    at_least: usize,
) -> Error {
    let said = if at_least > reduction.problem.most { "no" } else { "found no" };
    let most = options.max_threads.unwrap_or(usize::MAX);
    let threads = if most == 1 { "thread".to_owned() } else { format!("{most} threads") };
    let verb = if most == 1 { "keeps" } else { "keep" };
    let reason = match options.tolerance {
        Some(tolerance) => {
            format!("{said} {threads} {verb} every color within {}", tolerance.value())
        }
        None => format!("{said} {threads} that the answers leave to every color"),
    };
    let nearest = match (fewest, options.tolerance) {
        (Some(fewest), Some(_)) => format!(
            "ask for {}, or allow a larger difference",
            fewest.saturating_add(reduction.beside.len())
        ),
        (Some(fewest), None) => {
            format!("ask for {}", fewest.saturating_add(reduction.beside.len()))
        }
        (None, _) => "admit more threads, or refuse fewer".to_owned(),
    };
    Error::new(ErrorKind::Impossible { reason, nearest })
}
