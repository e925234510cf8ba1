//! Lists of threads in text files: one thread a line.
//! It does not know what a list is for.

use std::path::Path;

use dyekin_core::ThreadRef;
use dyekin_core::error::{Error, Place, harmless};

use super::shop::Shop;
use crate::asked::{self, Asked};
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::Printer;

/// Lines with unknown threads that are shown.
const SHOWN: usize = 3;

/// One line of a list: what it says, and where.
struct Line<'l> {
    text: &'l str,
    place: Place,
}

/// The lines of a list; empty ones and those that begin with `#` say nothing.
fn lines<'l>(text: &'l str, path: &Path) -> Vec<Line<'l>> {
    let name = path.to_string_lossy().into_owned();
    let numbered = (1..).zip(text.lines()).map(|(number, line)| (number, line.trim()));
    numbered
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'))
        .map(|(number, text)| {
            let place = Place { source_name: Some(name.clone()), ..Place::line(number) };
            Line { text, place }
        })
        .collect()
}

fn read(path: &Path) -> Result<String> {
    let bytes = files::read(path)?;
    crate::chart::decode_text(&bytes).map(|text| text.to_owned()).map_err(|error| {
        let place = Place {
            source_name: Some(path.to_string_lossy().into_owned()),
            ..error.place().cloned().unwrap_or_default()
        };
        Failure::from(error.at(place))
    })
}

/// The threads of the tables that one text names, or why there is none.
fn threads(text: &str, shop: &mut Shop) -> Result<std::result::Result<Vec<ThreadRef>, Vec<Error>>> {
    let (table, code) = match asked::thread(text) {
        Ok(Asked::Thread { table, code }) => (table, code),
        Ok(Asked::Color(_) | Asked::Either(..)) => return Ok(Ok(Vec::new())),
        Err(error) => return Ok(Err(vec![error])),
    };
    let tables = match table {
        Some(table) => vec![table],
        None => shop.searched()?,
    };
    let refs: Vec<ThreadRef> =
        tables.into_iter().map(|table| ThreadRef { table, code: code.clone() }).collect();
    let (known, unknown) = shop.known(&refs)?;
    Ok(if known.is_empty() { Err(unknown) } else { Ok(known) })
}

/// The threads that a person owns. Those that no table has are said and left out: they may be of
/// ranges that are not asked.
pub(crate) fn owned(path: &Path, shop: &mut Shop, printer: &mut Printer) -> Result<Vec<ThreadRef>> {
    let text = read(path)?;
    let (mut owned, mut unknown) = (Vec::new(), Vec::new());
    for line in lines(&text, path) {
        match threads(line.text, shop)? {
            Ok(known) => owned.extend(known),
            Err(errors) => {
                unknown.extend(errors.into_iter().take(1).map(|e| e.at(line.place.clone())))
            }
        }
    }
    for error in unknown.iter().take(SHOWN) {
        printer.note(&format!("note: reading {}; left out", harmless(&error.to_string())));
    }
    if unknown.len() > SHOWN {
        let more = unknown.len() - SHOWN;
        printer.note(&format!("note: {more} more lines of {} left out", files::shown(path)));
    }
    owned.sort();
    owned.dedup();
    Ok(owned)
}
