//! Two versions of a table compared: what is gone, new, recolored, renamed, and what that means for
//! substitutions. It does not know which charts use the threads.

use std::collections::BTreeSet;

use crate::catalog::CatalogTable;
use crate::catalog::near::Around;
use crate::change::TableVersion;
use crate::color::Color;
use crate::difference::{Difference, Formula, Measure};
use crate::error::{Error, ErrorKind, Result};
use crate::index::Tally;
use crate::table::{Code, Status, Table, Thread};
use crate::watch::Watch;

/// Rows between two looks at whether the answer is still wanted.
const CHUNK: usize = 64;

/// A thread that stands in both versions, with something changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Changed {
    /// As the old version has it.
    pub before: Thread,
    /// As the new version has it.
    pub after: Thread,
}

/// A thread whose color changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Recolored {
    /// As the old version has it; its color is the standard.
    pub before: Thread,
    /// As the new version has it.
    pub after: Thread,
    /// How far the new color is from the old one; [`ErrorKind::ConditionsDiffer`] when both are
    /// measured under different conditions.
    pub difference: std::result::Result<Difference, Error>,
}

/// A field of a thread beside code, name, color value and status.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// Preferred alternates.
    Alternates,
    /// The fiber.
    Fiber,
    /// The finish.
    Finish,
    /// The trade item number.
    Gtin,
    /// The fewest skeins that can be ordered.
    Minimum,
    /// Where the color comes from.
    Origin,
    /// Skeins in a pack.
    Pack,
    /// The price or its currency.
    Price,
    /// The length of a skein.
    SkeinMetres,
    /// The reflectance spectrum.
    Spectrum,
    /// The number of strands.
    Strands,
    /// How far the color may be off.
    Uncertainty,
}

impl Field {
    /// All fields, in the order of their names.
    pub const ALL: [Self; 12] = [
        Self::Alternates,
        Self::Fiber,
        Self::Finish,
        Self::Gtin,
        Self::Minimum,
        Self::Origin,
        Self::Pack,
        Self::Price,
        Self::SkeinMetres,
        Self::Spectrum,
        Self::Strands,
        Self::Uncertainty,
    ];

    /// The name of the table format's column.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Alternates => "alternates",
            Self::Fiber => "fiber",
            Self::Finish => "finish",
            Self::Gtin => "gtin",
            Self::Minimum => "minimum",
            Self::Origin => "origin",
            Self::Pack => "pack",
            Self::Price => "price",
            Self::SkeinMetres => "skein_m",
            Self::Spectrum => "spectrum",
            Self::Strands => "strands",
            Self::Uncertainty => "uncertainty",
        }
    }

    /// Reads a name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|field| field.as_str() == text)
    }

    fn differs(self, one: &Thread, two: &Thread) -> bool {
        match self {
            Self::Alternates => one.alternates != two.alternates,
            Self::Fiber => one.fiber != two.fiber,
            Self::Finish => one.finish != two.finish,
            Self::Gtin => one.gtin != two.gtin,
            Self::Minimum => one.minimum != two.minimum,
            Self::Origin => one.color.origin() != two.color.origin(),
            Self::Pack => one.pack != two.pack,
            Self::Price => one.price != two.price,
            Self::SkeinMetres => one.skein_metres != two.skein_metres,
            Self::Spectrum => one.spectrum != two.spectrum,
            Self::Strands => one.strands != two.strands,
            Self::Uncertainty => one.color.uncertainty() != two.color.uncertainty(),
        }
    }
}

/// Other fields of one thread that changed.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherChange {
    /// The code as the new version writes it.
    pub code: Code,
    /// The fields, in the order of their names; at least one.
    pub fields: Vec<Field>,
}

/// The thread that would stand in for one that cannot be had.
#[derive(Clone, Debug, PartialEq)]
pub struct StandIn {
    /// The thread.
    pub thread: Thread,
    /// Its difference from the thread that cannot be had, which is the standard.
    pub difference: Difference,
    /// True when the table's owner lists it as an alternate; else it is the nearest one.
    pub preferred: bool,
}

/// What stands in, in one version: nothing when that version has no admissible thread, an error
/// when their colors cannot be compared.
pub type Answer = std::result::Result<Option<StandIn>, Error>;

/// A thread that cannot be had in at least one version, and whose stand-in changed or is needed
/// only now.
#[derive(Clone, Debug, PartialEq)]
pub struct Substitution {
    /// The thread: as the new version has it, or as the old one had it when it is gone.
    pub thread: Thread,
    /// True when the new version has it no longer.
    pub gone: bool,
    /// What would stand in by the old version. Nothing when that one does not have the thread.
    pub before: Answer,
    /// What stands in by the new version.
    pub after: Answer,
}

/// What two versions of a table differ in. Every list is in the order of the codes.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The old version.
    pub old: TableVersion,
    /// The new version.
    pub new: TableVersion,
    /// The formula of all differences.
    pub formula: Formula,
    /// Codes that both versions have.
    pub shared: usize,
    /// Threads of the old version whose code the new one does not have.
    pub gone: Vec<Thread>,
    /// Threads of the new version whose code the old one does not have.
    pub added: Vec<Thread>,
    /// Threads whose color value or its conditions changed.
    pub recolored: Vec<Recolored>,
    /// Threads whose name changed.
    pub renamed: Vec<Changed>,
    /// Threads whose status changed.
    pub restated: Vec<Changed>,
    /// Changes of other fields.
    pub others: Vec<OtherChange>,
    /// Threads that cannot be had and get another stand-in, get the same one at another difference,
    /// or need one only now.
    pub substitutions: Vec<Substitution>,
}

impl Comparison {
    /// True when no list has an entry. The order of the rows does not count.
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.gone.is_empty()
            && self.added.is_empty()
            && self.recolored.is_empty()
            && self.renamed.is_empty()
            && self.restated.is_empty()
            && self.others.is_empty()
            && self.substitutions.is_empty()
    }
}

/// Compares two versions of a table. Threads are the same when their codes are.
///
/// A thread can stand in for another when it is of the same finish, contradicts its fiber in
/// nothing, and is not gone for sale itself; an unknown status is no hindrance. Alternates that the
/// table's owner lists come first, best first, then the nearest.
///
/// # Errors
///
/// [`ErrorKind::Stopped`] when the one who waits no longer does. Colors that cannot be compared have
/// their error in their place.
pub fn compare(
    old: &CatalogTable,
    new: &CatalogTable,
    measure: Measure,
    watch: &dyn Watch,
) -> Result<Comparison> {
    let mut found = Comparison {
        old: version(old.table()),
        new: version(new.table()),
        formula: measure.formula,
        shared: 0,
        gone: lacking(old, new),
        added: lacking(new, old),
        recolored: Vec::new(),
        renamed: Vec::new(),
        restated: Vec::new(),
        others: Vec::new(),
        substitutions: Vec::new(),
    };
    for (place, after) in by_code(new).enumerate() {
        if place % CHUNK == 0 && watch.stopped() {
            return Err(ErrorKind::Stopped.into());
        }
        if let Some(before) = old.table().thread(&after.code) {
            found.note(before, after, measure);
        }
    }
    found.substitutions = substitutions(old, new, measure, watch)?;
    Ok(found)
}

impl Comparison {
    /// Notes how one thread changed.
    fn note(&mut self, before: &Thread, after: &Thread, measure: Measure) {
        self.shared += 1;
        let changed =
            || Changed { before: before.without_spectrum(), after: after.without_spectrum() };
        if !is_one_color(&before.color, &after.color) {
            let difference = Difference::measured(&before.color, &after.color, measure);
            let Changed { before, after } = changed();
            self.recolored.push(Recolored { before, after, difference });
        }
        if before.name != after.name {
            self.renamed.push(changed());
        }
        if before.status != after.status {
            self.restated.push(changed());
        }
        let fields: Vec<Field> =
            Field::ALL.into_iter().filter(|field| field.differs(before, after)).collect();
        if !fields.is_empty() {
            self.others.push(OtherChange { code: after.code.clone(), fields });
        }
    }
}

fn version(table: &Table) -> TableVersion {
    TableVersion { table: table.id().clone(), hash: table.hash() }
}

fn by_code(held: &CatalogTable) -> impl Iterator<Item = &Thread> {
    (0..held.table().threads().len()).filter_map(|row| held.thread_at(row))
}

/// Threads of one table whose codes another does not have, in the order of the codes.
fn lacking(held: &CatalogTable, other: &CatalogTable) -> Vec<Thread> {
    let gone = by_code(held).filter(|thread| other.table().thread(&thread.code).is_none());
    gone.map(Thread::without_spectrum).collect()
}

fn is_one_color(one: &Color, two: &Color) -> bool {
    one.lab() == two.lab() && one.conditions() == two.conditions()
}

/// True when the table says that it cannot be bought now.
fn is_out(status: Status) -> bool {
    match status {
        Status::BackOrder | Status::Discontinued | Status::Unavailable => true,
        Status::Available | Status::Low | Status::Unknown => false,
    }
}

fn substitutions(
    old: &CatalogTable,
    new: &CatalogTable,
    measure: Measure,
    watch: &dyn Watch,
) -> Result<Vec<Substitution>> {
    let out = |held: &CatalogTable| -> Vec<Code> {
        by_code(held)
            .filter(|thread| is_out(thread.status))
            .map(|thread| thread.code.clone())
            .collect()
    };
    let mut codes: BTreeSet<Code> = lacking(old, new).into_iter().map(|gone| gone.code).collect();
    codes.extend(out(old));
    codes.extend(out(new));
    let mut changed = Vec::new();
    for code in codes {
        let (was, is) = (old.table().thread(&code), new.table().thread(&code));
        let Some(thread) = is.or(was) else { continue };
        let before = match was {
            Some(was) => stand_in(old, was, measure, watch)?,
            None => Ok(None),
        };
        let after = stand_in(new, thread, measure, watch)?;
        let needed = |thread: Option<&Thread>| thread.is_none_or(|thread| is_out(thread.status));
        let only_now = !needed(was) && needed(is);
        if only_now || !is_same_answer(&before, &after) {
            let (thread, gone) = (thread.without_spectrum(), is.is_none());
            changed.push(Substitution { thread, gone, before, after });
        }
    }
    Ok(changed)
}

/// The same thread at the same difference, or nothing in both.
fn is_same_answer(before: &Answer, after: &Answer) -> bool {
    match (before, after) {
        (Ok(None), Ok(None)) => true,
        (Ok(Some(one)), Ok(Some(two))) => {
            one.thread.code == two.thread.code
                && one.difference == two.difference
                && one.preferred == two.preferred
        }
        (Err(one), Err(two)) => one.kind() == two.kind(),
        (Ok(_), _) | (Err(_), Ok(_)) => false,
    }
}

/// What stands in for a thread in a table. The outer error is [`ErrorKind::Stopped`] alone.
fn stand_in(
    held: &CatalogTable,
    missing: &Thread,
    measure: Measure,
    watch: &dyn Watch,
) -> Result<Answer> {
    let may = |other: &Thread| other.code != missing.code && !is_out(other.status);
    let mut listed = missing.alternates.iter().filter_map(|code| held.table().thread(code));
    if let Some(thread) = listed.find(|thread| may(thread)) {
        return Ok(answer(missing, thread, measure, true));
    }
    if let Err(refused) = held.accept_adapting(&missing.color, measure.adaptation) {
        return Ok(Err(refused));
    }
    let admit = |row: usize| {
        held.thread_at(row).is_some_and(|other| may(other) && missing.is_kin_of(other))
    };
    let around = Around { count: 1, more: None, measure, limit: None, admit: Some(&admit), watch };
    let near = held.near(&missing.color, &around, &mut Tally::default())?;
    let nearest = near.first().and_then(|near| Some((held.thread_at(near.row)?, near.difference)));
    let whole = |(thread, difference): (&Thread, Difference)| StandIn {
        thread: thread.without_spectrum(),
        difference,
        preferred: false,
    };
    Ok(Ok(nearest.map(whole)))
}

fn answer(missing: &Thread, thread: &Thread, measure: Measure, preferred: bool) -> Answer {
    let difference = Difference::measured(&missing.color, &thread.color, measure)?;
    Ok(Some(StandIn { thread: thread.without_spectrum(), difference, preferred }))
}

#[cfg(test)]
mod tests;
