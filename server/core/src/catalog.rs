//! The tables of one moment with an index each. A catalog never changes: a change makes a new one.
//! It does not know where tables come from or how long they live.

pub(crate) mod near;
mod sight;

use std::sync::Arc;

use crate::color::{Color, Conditions};
use crate::error::{Error, ErrorKind, Result};
use crate::index::LabIndex;
use crate::noise;
use crate::table::{Table, TableId, Thread, ThreadRef, unknown_thread};
use sight::Sights;

/// An immutable set of tables, ordered by id.
#[derive(Clone, Debug, Default)]
pub struct Catalog {
    tables: Vec<Arc<CatalogTable>>,
}

/// A table and the index over its colors.
#[derive(Debug)]
pub struct CatalogTable {
    table: Table,
    /// The table's rows in the order of their codes: the index breaks ties by its own row numbers,
    /// which are places in this list.
    by_code: Vec<u32>,
    index: LabIndex,
    /// Conditions of the measured colors: a table has one set of them.
    measured: Option<Conditions>,
    least_certain: f64,
    sights: Sights,
}

impl CatalogTable {
    /// Builds the index of a table.
    #[must_use]
    pub fn new(table: Table) -> Self {
        let threads = table.threads();
        let mut by_code: Vec<u32> = (0..).take(threads.len()).collect();
        by_code.sort_unstable_by_key(|row| threads.get(*row as usize).map(|thread| &thread.code));
        let in_order = by_code.iter().filter_map(|row| threads.get(*row as usize));
        let index = LabIndex::build(in_order.map(|thread| thread.color.lab()));
        let mut colors = threads.iter().map(|thread| &thread.color);
        let measured = colors.find(|color| color.origin().is_measured());
        let measured = measured.map(Color::conditions);
        let least_certain =
            threads.iter().map(|thread| noise::of(&thread.color)).fold(0.0, f64::max);
        let sights = Sights::default();
        Self { table, by_code, index, measured, least_certain, sights }
    }

    /// The table.
    #[must_use]
    pub fn table(&self) -> &Table {
        &self.table
    }

    pub(crate) fn index(&self) -> &LabIndex {
        &self.index
    }

    /// The thread at a row of the index.
    pub(crate) fn thread_at(&self, row: usize) -> Option<&Thread> {
        self.by_code.get(row).and_then(|row| self.table.threads().get(*row as usize))
    }

    /// The conditions of the table's colors: those of its measured threads, else of its first one.
    #[must_use]
    pub fn conditions(&self) -> Option<Conditions> {
        let first = || self.table.threads().first().map(|thread| thread.color.conditions());
        self.measured.or_else(first)
    }

    /// The uncertainty of the least certain color, for telling threads apart.
    pub(crate) fn least_certain(&self) -> f64 {
        self.least_certain
    }
}

impl Catalog {
    /// A catalog of tables. Of two tables with one id the later one stays.
    #[must_use]
    pub fn build(tables: impl IntoIterator<Item = Table>) -> Self {
        tables.into_iter().fold(Self::default(), |catalog, table| {
            catalog.with(Arc::new(CatalogTable::new(table)))
        })
    }

    /// The same catalog with a table added or replaced. The others are shared, not rebuilt.
    #[must_use]
    pub fn with(&self, table: Arc<CatalogTable>) -> Self {
        let mut tables = self.tables.clone();
        match tables.binary_search_by(|held| held.table.id().cmp(table.table.id())) {
            Ok(place) => {
                if let Some(held) = tables.get_mut(place) {
                    *held = table;
                }
            }
            Err(place) => tables.insert(place, table),
        }
        Self { tables }
    }

    /// The same catalog without a table.
    #[must_use]
    pub fn without(&self, id: &TableId) -> Self {
        let tables = self.tables.iter().filter(|held| held.table.id() != id).cloned().collect();
        Self { tables }
    }

    /// All tables, ordered by id.
    #[must_use]
    pub fn tables(&self) -> &[Arc<CatalogTable>] {
        &self.tables
    }

    /// A table by its id.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::UnknownTable`] with the ids that exist.
    pub fn table(&self, id: &TableId) -> Result<&Arc<CatalogTable>> {
        self.tables
            .binary_search_by(|held| held.table.id().cmp(id))
            .ok()
            .and_then(|place| self.tables.get(place))
            .ok_or_else(|| self.unknown_table(id))
    }

    /// The tables of these ids, in catalog order; all tables when no id is given.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::UnknownTable`] for the first id that does not exist.
    pub fn choose(&self, ids: &[TableId]) -> Result<Vec<&Arc<CatalogTable>>> {
        for id in ids {
            self.table(id)?;
        }
        let wanted = |held: &&Arc<CatalogTable>| ids.is_empty() || ids.contains(held.table.id());
        Ok(self.tables.iter().filter(wanted).collect())
    }

    /// A thread by its table and code.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::UnknownTable`] or [`ErrorKind::UnknownThread`].
    pub fn thread(&self, wanted: &ThreadRef) -> Result<&Thread> {
        let held = self.table(&wanted.table)?;
        held.table.thread(&wanted.code).ok_or_else(|| unknown_thread(&held.table, &wanted.code))
    }

    fn unknown_table(&self, id: &TableId) -> Error {
        Error::new(ErrorKind::UnknownTable {
            table: id.to_string(),
            known: self.tables.iter().take(10).map(|held| held.table.id().to_string()).collect(),
        })
    }
}
