//! Pairs of threads of one table within a small difference, nearest first, none left out.
//! It does not know why a range has them.

use super::{AuditOptions, MAX_LISTED, Twins};
use crate::catalog::CatalogTable;
use crate::difference::{DeltaE, Difference};
use crate::error::Result;
use crate::index::{Ask, Tally};
use crate::table::Thread;
use crate::watch::Watch;

/// Two rows of the index, the lower one first, with their difference.
type Pair = (DeltaE, usize, usize);

/// The pairs within the limit, and whether there are more than can be listed.
pub(super) fn find(
    held: &CatalogTable,
    options: &AuditOptions,
    watch: &dyn Watch,
) -> Result<(Vec<Twins>, bool)> {
    let mut pairs = pairs(held, options, watch)?;
    let more = pairs.len() > MAX_LISTED;
    pairs.truncate(MAX_LISTED);
    let twins = pairs.into_iter().filter_map(|(_, one, two)| {
        Some((held.thread_at(one)?.without_spectrum(), held.thread_at(two)?.without_spectrum()))
    });
    let measured = |(first, second): (Thread, Thread)| {
        let difference = Difference::between(&first.color, &second.color, options.formula)?;
        Ok(Twins { first, second, difference })
    };
    Ok((twins.map(measured).collect::<Result<_>>()?, more))
}

/// The nearest pairs, one more than can be listed. Rows of the index follow the codes, and each
/// pair is found from its lower row, so pairs of one difference come in the order of their codes.
fn pairs(held: &CatalogTable, options: &AuditOptions, watch: &dyn Watch) -> Result<Vec<Pair>> {
    let mut found: Vec<Pair> = Vec::new();
    let mut limit = options.twins;
    for row in 0..held.table().threads().len() {
        let Some(thread) = held.thread_at(row) else { continue };
        let admit = |other: usize| {
            other > row && held.thread_at(other).is_some_and(|other| thread.is_kin_of(other))
        };
        let ask = Ask {
            standard: thread.color.lab(),
            count: MAX_LISTED + 1,
            more: None,
            formula: options.formula,
            limit: Some(limit),
            admit: Some(&admit),
            watch,
        };
        let hits = held.index().nearest(&ask, &mut Tally::default())?;
        let within = hits.iter().filter(|hit| hit.delta_e.value() <= limit.value());
        found.extend(within.map(|hit| (hit.delta_e, row, hit.row)));
        if found.len() > 2 * MAX_LISTED {
            sort(&mut found);
            found.truncate(MAX_LISTED + 1);
            // A pair that is farther than all of these cannot be listed.
            limit = found.last().map_or(limit, |last| last.0);
            // Nor can a later pair of equal colors, when all of these are of equal colors.
            if limit.value() <= 0.0 {
                break;
            }
        }
    }
    sort(&mut found);
    found.truncate(MAX_LISTED + 1);
    Ok(found)
}

fn sort(pairs: &mut [Pair]) {
    pairs.sort_by(|left, right| {
        left.0.order(&right.0).then((left.1, left.2).cmp(&(right.1, right.2)))
    });
}
