//! Questions about blends from wire. It does not know the answers.

use dyekin_core::blend::{BlendOptions, Parts};
use dyekin_core::{Color, ThreadRef};
use dyekin_proto::v1 as pb;

use super::matching::{Query, match_options};
use super::{Path, Problems, color, each, label, one_to, thread_ref};

/// Most queries of one request: each looks at all pairs of threads.
const MAX_BLEND_QUERIES: usize = 100;

/// Most blends in one response; each has two threads.
const MAX_BLENDS: usize = 2_000;

/// What blends should look like.
pub(in crate::grpc) enum Subject {
    Color(Color),
    Thread(ThreadRef),
}

pub(in crate::grpc) fn blend_queries(
    wire: &[pb::BlendQuery],
    problems: &mut Problems,
) -> Option<Vec<Query<Subject>>> {
    let path = Path::Top("queries");
    one_to("queries in one request", path, wire.len(), MAX_BLEND_QUERIES, problems)?;
    each(wire, path, problems, |query, path, problems| {
        let asked = subject(query.subject.as_ref(), path, problems);
        let id = label(&query.query_id, path.field("query_id"), problems);
        Some(Query { id: id?, asked: asked? })
    })
}

fn subject(
    wire: Option<&pb::blend_query::Subject>,
    path: Path<'_>,
    problems: &mut Problems,
) -> Option<Subject> {
    use pb::blend_query::Subject as Wire;
    match wire {
        Some(Wire::Color(found)) => {
            color(Some(found), path.field("color"), problems).map(Subject::Color)
        }
        Some(Wire::Thread(found)) => {
            thread_ref(found, path.field("thread"), problems).map(Subject::Thread)
        }
        None => {
            problems.bad(path, "", "a color or thread is missing", "give one of the two");
            None
        }
    }
}

/// What all queries share. `None` with problems noted.
pub(in crate::grpc) fn blend_options(
    wire: &pb::SuggestBlendsRequest,
    problems: &mut Problems,
) -> Option<BlendOptions> {
    let shared = match_options(wire.options.as_ref(), wire.queries.len(), problems);
    if wire.options.as_ref().is_some_and(|options| !options.lights.is_empty()) {
        let reason = "a blend is estimated from listed colors, not from spectra";
        problems.bad(Path::Top("options").field("lights"), "", reason, "leave the lights out");
        return None;
    }
    let parts = all_parts(&wire.parts, problems);
    let (shared, parts) = (shared?, parts?);
    let asked = wire.queries.len().saturating_mul(shared.count);
    let path = Path::Top("options");
    let few = problems.within(path.field("count"), "blends in one response", asked, MAX_BLENDS);
    few.then_some(BlendOptions {
        tables: shared.tables,
        count: shared.count,
        formula: shared.formula,
        adaptation: shared.adaptation,
        limit: shared.limit,
        filter: shared.filter,
        parts,
    })
}

fn all_parts(wire: &[i32], problems: &mut Problems) -> Option<Vec<Parts>> {
    if wire.is_empty() {
        return Some(Parts::ALL.to_vec());
    }
    let path = Path::Top("parts");
    let mut seen = Vec::new();
    for (index, number) in wire.iter().enumerate() {
        let (reason, remedy) = match pb::BlendParts::try_from(*number).map(parts) {
            Ok(Some(found)) if !seen.contains(&found) => {
                seen.push(found);
                continue;
            }
            Ok(Some(_)) => ("the same strands twice", "name each once"),
            Ok(None) | Err(_) => ("no known strands", "use a value of the contract"),
        };
        problems.bad(path.item(index), number, reason, remedy);
    }
    (seen.len() == wire.len()).then_some(seen)
}

fn parts(wire: pb::BlendParts) -> Option<Parts> {
    match wire {
        pb::BlendParts::Unspecified => None,
        pb::BlendParts::OneAndOne => Some(Parts::OneAndOne),
        pb::BlendParts::TwoAndOne => Some(Parts::TwoAndOne),
    }
}
