//! Blends as domain types.
//! It does not know how a message travels.

use dyekin_core::blend::{Mix, Parts};
use dyekin_core::error::Error;
use dyekin_core::{Conditions, Difference, Lab};

use super::{conditions, difference, faulty, hit, missing, refusal, table_id, thread, wire};
use crate::backend::{Blend, Blends};
use crate::failure::Result;

/// The blends of one color, or why there are none.
pub(in crate::backend::remote) fn blends(
    result: wire::BlendResult,
) -> Result<std::result::Result<Blends, Error>> {
    if let Some(problem) = &result.problem {
        return Ok(Err(refusal::error(problem)));
    }
    Ok(Ok(Blends {
        blends: result.blends.into_iter().map(blend).collect::<Result<_>>()?,
        beyond: result.beyond_limit.map(blend).transpose()?,
        alone: result.nearest_thread.map(hit).transpose()?,
    }))
}

fn blend(found: wire::Blend) -> Result<Blend> {
    let parts = match found.parts() {
        wire::BlendParts::Unspecified => return Err(missing("strands")),
        wire::BlendParts::OneAndOne => Parts::OneAndOne,
        wire::BlendParts::TwoAndOne => Parts::TwoAndOne,
    };
    let (estimate, difference, conditions) = mixed(found.estimate)?;
    let (full_spread, of_full_spread, _) = mixed(found.full_spread)?;
    Ok(Blend {
        table: table_id(&found.table_id)?,
        first: thread(found.first_thread.ok_or_else(|| missing("thread"))?)?,
        second: thread(found.second_thread.ok_or_else(|| missing("thread"))?)?,
        mix: Mix { parts, estimate, full_spread, speckle: found.speckle, conditions },
        difference,
        full_spread: of_full_spread,
    })
}

fn mixed(found: Option<wire::MixedColor>) -> Result<(Lab, Difference, Conditions)> {
    let found = found.ok_or_else(|| missing("mixed color"))?;
    let at = found.lab.ok_or_else(|| missing("mixed color"))?;
    let lab = faulty(Lab::new(at.l, at.a, at.b), "mixed color")?;
    let under = found.difference.as_ref().and_then(|found| found.sample_conditions.as_ref());
    let under = conditions(under.ok_or_else(|| missing("conditions"))?)?;
    Ok((lab, difference(found.difference.as_ref())?, under))
}
