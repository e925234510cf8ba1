//! Requests about whole tables from wire. It does not know the answers.

use dyekin_core::audit::AuditOptions;
use dyekin_core::difference::Measure;
use dyekin_core::{DeltaE, TableId};
use dyekin_proto::v1 as pb;

use super::{Path, Problems, conditions, formula, limit, measure, origin, request_id, table_id};

/// Near-twins when the request does not say: near-identical under CIEDE2000. House choice.
const TWINS: f64 = 1.0;

/// No thread near when the request does not say: twice clearly different. House choice.
const GAP: f64 = 10.0;

/// The table and how to audit it.
pub(in crate::grpc) fn audit(
    wire: &pb::AuditTableRequest,
    problems: &mut Problems,
) -> Option<(TableId, AuditOptions)> {
    let table = table_id(&wire.table_id, Path::Top("table_id"), problems);
    let formula = formula(wire.formula.as_ref(), Path::Top("formula"), problems);
    let twins = or(wire.twin_delta_e, TWINS, Path::Top("twin_delta_e"), problems);
    let gap = or(wire.gap_delta_e, GAP, Path::Top("gap_delta_e"), problems);
    Some((table?, AuditOptions { formula: formula?, twins: twins?, gap: gap? }))
}

fn or(wire: Option<f64>, absent: f64, path: Path<'_>, problems: &mut Problems) -> Option<DeltaE> {
    limit(Some(wire.unwrap_or(absent)), path, problems)?
}

/// The old version, the new one and how they are measured.
pub(in crate::grpc) fn versions(
    wire: &pb::CompareTableVersionsRequest,
    problems: &mut Problems,
) -> Option<(TableId, TableId, Measure)> {
    let old = table_id(&wire.old_table_id, Path::Top("old_table_id"), problems);
    let new = table_id(&wire.new_table_id, Path::Top("new_table_id"), problems);
    let measure = measure((wire.formula.as_ref(), wire.adaptation), problems);
    Some((old?, new?, measure?))
}

pub(in crate::grpc) fn import_header(
    wire: &pb::ImportTableHeader,
    problems: &mut Problems,
) -> Option<dyekin_core::table::ReadOptions> {
    let path = Path::Top("header");
    let id = table_id(&wire.table_id, path.field("table_id"), problems);
    let name = path.field("source_name");
    let named =
        problems.within(name, "characters in a name", wire.source_name.chars().count(), 255);
    let measurement = path.field("measurement");
    let length = wire.measurement.chars().count();
    let named = problems.within(measurement, "characters in a name", length, 255) & named;
    let under = match wire.conditions {
        Some(found) => conditions(found, path.field("conditions"), problems).map(Some),
        None => Some(None),
    };
    let origin = origin(wire.origin, path.field("origin"), problems);
    request_id(&wire.request_id, path.field("request_id"), problems)?;
    let id = id?;
    named.then(|| {
        let source_name =
            if wire.source_name.is_empty() { id.to_string() } else { wire.source_name.clone() };
        Some(dyekin_core::table::ReadOptions {
            id,
            source_name,
            conditions: under?,
            origin: origin?,
            alpha_first: wire.alpha_first,
            measurement: Some(wire.measurement.clone()).filter(|text| !text.is_empty()),
        })
    })?
}

/// Most entries of one page through lists of what was found.
const MAX_ENTRIES: usize = 10_000;

/// Entries of one page, `Some(None)` for all at once.
pub(in crate::grpc) fn entries(wire: i32, problems: &mut Problems) -> Option<Option<usize>> {
    match usize::try_from(wire) {
        Ok(0) => Some(None),
        Ok(size) => Some(Some(size.min(MAX_ENTRIES))),
        Err(_) => {
            let remedy = "leave it out for the whole answer";
            problems.bad(Path::Top("page_size"), wire, "a page size is 0 or more", remedy);
            None
        }
    }
}

/// A page size: 0 is the default, more than the most is the most.
pub(in crate::grpc) fn page_size(wire: i32, problems: &mut Problems) -> Option<usize> {
    match usize::try_from(wire) {
        Ok(0) => Some(100),
        Ok(size) => Some(size.min(1_000)),
        Err(_) => {
            problems.bad(
                Path::Top("page_size"),
                wire,
                "a page size is 0 or more",
                "leave it out for 100",
            );
            None
        }
    }
}
