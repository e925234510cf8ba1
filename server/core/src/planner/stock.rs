//! Lengths of thread that are there, added up by thread and checked. It does not know what they are
//! needed for.

use std::collections::BTreeMap;

use super::case::find;
use super::{MAX_STOCKED, ThreadStock};
use crate::catalog::Catalog;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::table::ThreadRef;

/// The field of a request that tells the stock.
const FIELD: &str = "stock";

/// Meters of each thread of a stock.
pub(super) fn lengths(catalog: &Catalog, stock: &ThreadStock) -> Result<BTreeMap<ThreadRef, f64>> {
    if stock.meters.len() > MAX_STOCKED {
        let (found, limit) = (stock.meters.len() as u64, MAX_STOCKED as u64);
        let what = "threads in one stock".to_owned();
        let place = Place::field(format!("{FIELD}.threads"));
        return Err(Error::new(ErrorKind::OverLimit { what, found, limit }).at(place));
    }
    check_per_stitch(stock.meters_per_stitch, &format!("{FIELD}.meters_per_stitch"))?;
    let mut meters: BTreeMap<ThreadRef, f64> = BTreeMap::new();
    for (place, (name, length)) in stock.meters.iter().enumerate() {
        let field = format!("{FIELD}.threads[{place}]");
        if !length.is_finite() || *length < 0.0 {
            return Err(bad(*length, "a length is 0 or more", &format!("{field}.meters")));
        }
        let thread = find(catalog, name).map_err(|error| error.at(Place::field(field)))?;
        *meters.entry(thread.name()).or_default() += length;
    }
    Ok(meters)
}

/// Refuses a length of a stitch that is none.
pub(super) fn check_per_stitch(meters: f64, field: &str) -> Result<()> {
    if meters.is_finite() && meters > 0.0 {
        return Ok(());
    }
    Err(bad(meters, "a stitch takes more than no thread", field))
}

fn bad(value: f64, reason: &str, field: &str) -> Error {
    let remedy = "write meters, such as 0.01".to_owned();
    let (value, reason) = (value.to_string(), reason.to_owned());
    Error::new(ErrorKind::BadValue { value, reason, remedy }).at(Place::field(field))
}
