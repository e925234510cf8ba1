//! A list of what is there of threads, in skeins and meters: read, and told in meters alone.
//! It does not know what threads are needed for.

use std::path::Path;

use dyekin_core::ThreadRef;
use dyekin_core::error::{Error, ErrorKind, Place};
use dyekin_core::planner::ThreadStock;

use super::convert::own_list;
use super::shop::Shop;
use crate::failure::{Failure, Result};
use crate::own_threads::{Count, Own};
use crate::printer::Printer;

/// What a list says is there, in meters, beside what a stitch takes.
///
/// # Errors
///
/// A length of a stitch that is none; every line that names no thread or no amount.
pub(crate) fn list(
    shop: &mut Shop,
    (path, meters_per_stitch): (&Path, f64),
    shown: usize,
    printer: &mut Printer,
) -> Result<ThreadStock> {
    per_stitch(meters_per_stitch)?;
    let list = own_list(shop, path, shown, printer)?;
    let names: Vec<ThreadRef> = list.threads.iter().map(|own| own.thread.clone()).collect();
    let (mut meters, mut problems) = (Vec::new(), Vec::new());
    for (own, thread) in list.threads.iter().zip(shop.backend.threads(&names)?) {
        let skein = thread.ok().and_then(|thread| thread.skein_metres);
        match in_meters(own, skein) {
            Ok(length) => meters.push((own.thread.clone(), length)),
            Err((reason, remedy)) => {
                let source_name = Some(path.to_string_lossy().into_owned());
                let place = Place { source_name, line: Some(own.line), ..Place::default() };
                let value = own.thread.to_string();
                let (reason, remedy) = (reason.to_owned(), remedy.to_owned());
                problems.push(Error::new(ErrorKind::BadValue { value, reason, remedy }).at(place));
            }
        }
    }
    if problems.is_empty() {
        Ok(ThreadStock { meters, meters_per_stitch })
    } else {
        Err(problems.into())
    }
}

/// Checks a length of thread that a stitch takes, in meters.
pub(crate) fn per_stitch(meters: f64) -> Result<()> {
    if meters.is_finite() && meters > 0.0 {
        return Ok(());
    }
    Err(Failure::said(
        format!("--meters-per-stitch {meters}: a stitch takes more than no thread"),
        "write for example --meters-per-stitch 0.01",
    ))
}

/// Skeins and meters of a thread together, in meters; or why not, and what to do.
fn in_meters(
    own: &Own,
    skein: Option<f64>,
) -> std::result::Result<f64, (&'static str, &'static str)> {
    let meters = own.meters.map_or(0.0, Count::value);
    match (own.count, skein) {
        (None, _) if own.meters.is_none() => {
            Err(("the list does not say how much of it is there", "write x2 or 12 m behind it"))
        }
        (None, _) => Ok(meters),
        (Some(count), Some(skein)) => Ok(meters + count.value() * skein),
        (Some(_), None) => {
            Err(("its table does not say how long a skein is", "write meters, such as 12 m"))
        }
    }
}
