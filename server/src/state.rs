//! The tables of this moment: read by every request as one whole, replaced in one step.
//! It does not know where tables come from or how they are asked.

use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use arc_swap::ArcSwapOption;
use dyekin_core::table::Notice;
use dyekin_core::{Catalog, CatalogTable, Conditions, Error, ErrorKind, TableHash, TableId};
use tokio::sync::watch;

use crate::grpc::{Failure, Trouble};

/// Most imported tables.
pub const MAX_IMPORTED_TABLES: usize = 1_000;

/// Most threads in all imported tables together.
pub const MAX_IMPORTED_THREADS: usize = 2_000_000;

/// Writes whose request id is remembered.
const REMEMBERED_WRITES: usize = 1_024;

/// The catalog of one moment. A request takes it once and keeps it to its end.
#[derive(Clone, Debug)]
pub struct Snapshot {
    catalog: Catalog,
    imported: Arc<BTreeMap<TableId, Arc<CatalogTable>>>,
}

impl Snapshot {
    /// The tables.
    #[must_use]
    pub fn catalog(&self) -> &Catalog {
        &self.catalog
    }

    /// True when the table was imported and is not of the server's directory.
    #[must_use]
    pub fn is_imported(&self, id: &TableId) -> bool {
        self.imported.contains_key(id)
    }
}

/// The tables of a running server: those of its directory and, over them, the imported ones.
#[derive(Debug)]
pub struct SharedCatalog {
    live: ArcSwapOption<Snapshot>,
    holdings: Mutex<Holdings>,
    loaded: watch::Sender<bool>,
}

/// What the next snapshot is made from.
#[derive(Debug, Default)]
struct Holdings {
    directory: Catalog,
    imported: BTreeMap<TableId, Arc<CatalogTable>>,
    writes: VecDeque<Write>,
}

/// A write that had a request id, with its answer.
#[derive(Clone, Debug)]
struct Write {
    request_id: String,
    content: Content,
    outcome: Outcome,
}

/// What a write asked for, so that a reused request id is found.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Content {
    Import(TableId, TableHash),
    Delete(TableId),
}

/// What a write answered. It holds no threads: a remembered write must not keep a table alive.
#[derive(Clone, Debug)]
pub(crate) struct Outcome {
    pub(crate) table: TableHead,
    pub(crate) notices: Vec<Notice>,
}

/// A table without its threads.
#[derive(Clone, Debug)]
pub(crate) struct TableHead {
    pub(crate) id: TableId,
    pub(crate) hash: TableHash,
    pub(crate) threads: usize,
    pub(crate) conditions: Option<Conditions>,
}

impl From<&CatalogTable> for TableHead {
    fn from(held: &CatalogTable) -> Self {
        let table = held.table();
        let (id, threads) = (table.id().clone(), table.threads().len());
        Self { id, hash: table.hash(), threads, conditions: held.conditions() }
    }
}

impl Default for SharedCatalog {
    fn default() -> Self {
        Self::unloaded()
    }
}

impl SharedCatalog {
    /// A catalog that is not loaded yet: every question is refused until [`Self::replace`].
    #[must_use]
    pub fn unloaded() -> Self {
        Self {
            live: ArcSwapOption::empty(),
            holdings: Mutex::default(),
            loaded: watch::Sender::new(false),
        }
    }

    /// A loaded catalog.
    #[must_use]
    pub fn holding(catalog: Catalog) -> Self {
        let shared = Self::unloaded();
        shared.replace(catalog);
        shared
    }

    /// Replaces the tables of the directory in one step. Imported tables stay.
    pub fn replace(&self, directory: Catalog) {
        let mut holdings = self.lock();
        holdings.directory = directory;
        self.publish(&holdings);
        drop(holdings);
        self.loaded.send_replace(true);
    }

    /// The catalog of this moment; `None` while it is not loaded.
    #[must_use]
    pub fn snapshot(&self) -> Option<Arc<Snapshot>> {
        self.live.load_full()
    }

    /// Resolves once the catalog is loaded.
    pub(crate) async fn wait_until_loaded(&self) {
        let mut loaded = self.loaded.subscribe();
        // The sender lives as long as self, so waiting cannot fail.
        let _ = loaded.wait_for(|loaded| *loaded).await;
    }

    /// Adds or replaces an imported table, once per request id.
    pub(crate) fn import(
        &self,
        table: &Arc<CatalogTable>,
        notices: Vec<Notice>,
        request_id: &str,
    ) -> Result<Outcome, Failure> {
        let id = table.table().id().clone();
        let content = Content::Import(id.clone(), table.table().hash());
        let mut holdings = self.lock();
        if let Some(earlier) = holdings.earlier(request_id, &content)? {
            return Ok(earlier);
        }
        holdings.check_room(table)?;
        holdings.imported.insert(id, Arc::clone(table));
        self.publish(&holdings);
        let outcome = Outcome { table: table.as_ref().into(), notices };
        holdings.remember(request_id, content, &outcome);
        Ok(outcome)
    }

    /// Removes an imported table, once per request id.
    pub(crate) fn delete(&self, id: &TableId, request_id: &str) -> Result<Outcome, Failure> {
        let content = Content::Delete(id.clone());
        let mut holdings = self.lock();
        if let Some(earlier) = holdings.earlier(request_id, &content)? {
            return Ok(earlier);
        }
        let Some(table) = holdings.imported.remove(id) else {
            // Tells an unknown table from one of the directory.
            holdings.directory.table(id)?;
            return Err(Trouble::TableNotImported(id.to_string()).into());
        };
        self.publish(&holdings);
        let outcome = Outcome { table: table.as_ref().into(), notices: Vec::new() };
        holdings.remember(request_id, content, &outcome);
        Ok(outcome)
    }

    fn lock(&self) -> MutexGuard<'_, Holdings> {
        // Holdings are changed by whole steps, so those of a thread that panicked are whole too.
        self.holdings.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn publish(&self, holdings: &Holdings) {
        let imported = holdings.imported.values();
        let catalog = imported
            .fold(holdings.directory.clone(), |catalog, table| catalog.with(Arc::clone(table)));
        let imported = Arc::new(holdings.imported.clone());
        self.live.store(Some(Arc::new(Snapshot { catalog, imported })));
    }
}

impl Holdings {
    /// The answer to an earlier write of the same id and content.
    fn earlier(&self, request_id: &str, content: &Content) -> Result<Option<Outcome>, Failure> {
        let found = self.writes.iter().find(|write| write.request_id == request_id);
        match found {
            Some(_) if request_id.is_empty() => Ok(None),
            Some(write) if write.content == *content => Ok(Some(write.outcome.clone())),
            Some(_) => Err(Trouble::RequestIdReused(request_id.to_owned()).into()),
            None => Ok(None),
        }
    }

    fn remember(&mut self, request_id: &str, content: Content, outcome: &Outcome) {
        if request_id.is_empty() {
            return;
        }
        if self.writes.len() == REMEMBERED_WRITES {
            self.writes.pop_front();
        }
        let (request_id, outcome) = (request_id.to_owned(), outcome.clone());
        self.writes.push_back(Write { request_id, content, outcome });
    }

    fn check_room(&self, table: &CatalogTable) -> Result<(), Error> {
        let others =
            || self.imported.values().filter(|held| held.table().id() != table.table().id());
        let threads = |held: &CatalogTable| held.table().threads().len();
        let tables = others().count() + 1;
        within("imported tables", tables, MAX_IMPORTED_TABLES)?;
        let sum = others().map(|held| threads(held)).sum::<usize>() + threads(table);
        within("threads in all imported tables", sum, MAX_IMPORTED_THREADS)
    }
}

fn within(what: &str, found: usize, limit: usize) -> Result<(), Error> {
    if found <= limit {
        return Ok(());
    }
    Err(Error::new(ErrorKind::OverLimit {
        what: what.to_owned(),
        found: found as u64,
        limit: limit as u64,
    }))
}

#[cfg(test)]
mod tests {
    use dyekin_core::table::{Code, Table, Thread};
    use dyekin_core::{Color, Srgb8};

    use super::*;

    fn table(hex: &str) -> Arc<CatalogTable> {
        let color = Color::screen(Srgb8::parse_hex(hex).unwrap());
        let threads = vec![Thread::plain(Code::parse("t-1").unwrap(), "", color)];
        let id = TableId::parse("shelf").unwrap();
        Arc::new(CatalogTable::new(Table::new(id, threads).unwrap()))
    }

    #[test]
    fn a_remembered_write_is_answered_again_and_keeps_no_table_alive() {
        let shared = SharedCatalog::holding(Catalog::default());
        let (first, second) = (table("#4a6b3c"), table("#8f3a2e"));
        let (gone, hash) = (Arc::downgrade(&first), first.table().hash());
        shared.import(&first, Vec::new(), "one").unwrap();
        drop(first);
        shared.import(&second, Vec::new(), "two").unwrap();
        assert!(gone.upgrade().is_none(), "the replaced table is freed");
        let again = shared.import(&table("#4a6b3c"), Vec::new(), "one").unwrap();
        assert_eq!(again.table.hash, hash);
        let live = shared.snapshot().unwrap().catalog().tables()[0].table().hash();
        assert_ne!(live, hash, "the earlier write is not done again");
    }
}
