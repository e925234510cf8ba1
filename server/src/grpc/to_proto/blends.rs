//! Blends to wire. It cannot fail and does not know the requests.

use dyekin_core::blend::{Blend, Parts, SuggestedBlends};
use dyekin_core::{Conditions, Difference, Lab, Srgb8};
use dyekin_proto::v1 as pb;

use super::{a_match, difference, lab, thread};
use crate::grpc::status;

/// The answer to one query.
pub(in crate::grpc) fn blend_result(
    query_id: String,
    standard: Conditions,
    found: &SuggestedBlends<'_>,
) -> pb::BlendResult {
    pb::BlendResult {
        blends: found.blends.iter().map(|found| blend(found, standard)).collect(),
        beyond_limit: found.beyond.as_ref().map(|found| blend(found, standard)),
        nearest_thread: found.alone.as_ref().map(|found| a_match(found, standard)),
        problem: None,
        query_id,
    }
}

/// A query without an answer.
pub(in crate::grpc) fn no_blends(query_id: String, error: &dyekin_core::Error) -> pb::BlendResult {
    pb::BlendResult { problem: Some(status::problem(error)), query_id, ..Default::default() }
}

fn blend(found: &Blend<'_>, standard: Conditions) -> pb::Blend {
    let parts = match found.mix.parts {
        Parts::OneAndOne => pb::BlendParts::OneAndOne,
        Parts::TwoAndOne => pb::BlendParts::TwoAndOne,
    };
    let sides = (standard, found.mix.conditions);
    pb::Blend {
        table_id: found.table.table().id().to_string(),
        first_thread: Some(thread(found.first)),
        second_thread: Some(thread(found.second)),
        parts: parts.into(),
        estimate: Some(mixed(found.mix.estimate, &found.difference, sides)),
        full_spread: Some(mixed(found.mix.full_spread, &found.full_spread, sides)),
        speckle: found.mix.speckle,
    }
}

fn mixed(
    at: Lab,
    far: &Difference,
    (standard, sample): (Conditions, Conditions),
) -> pb::MixedColor {
    pb::MixedColor {
        lab: Some(lab(at)),
        screen_hex: Srgb8::nearest_to(at).to_string(),
        difference: Some(difference(far, standard, sample)),
    }
}
