//! Every spelling of a thread that tables allow: its code without blanks, marks and case, with or
//! without the range before it, and its name. It does not know lines.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use dyekin_core::{ErrorKind, Table, TableId, ThreadRef, table};

/// Letters and digits of a text in capitals: what two spellings of a code share.
pub(super) fn loose(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
}

/// Threads by their spelling.
type Spellings = HashMap<String, BTreeSet<ThreadRef>>;

/// The threads that may be meant, by spelling.
pub(super) struct Shelf<'t> {
    tables: &'t [Table],
    ranges: Vec<(String, &'t TableId)>,
    full: Spellings,
    short: Spellings,
    names: Spellings,
    by_thread: BTreeMap<ThreadRef, String>,
    longest: usize,
}

impl<'t> Shelf<'t> {
    pub(super) fn of(tables: &'t [Table]) -> Self {
        let mut shelf = Self {
            tables,
            ranges: tables.iter().map(|held| (loose(held.id().as_str()), held.id())).collect(),
            full: HashMap::new(),
            short: HashMap::new(),
            names: HashMap::new(),
            by_thread: BTreeMap::new(),
            longest: 0,
        };
        tables.iter().for_each(|held| shelf.add(held));
        shelf
    }

    fn add(&mut self, held: &Table) {
        let prefix = common_prefix(held);
        let range = loose(held.id().as_str());
        for thread in held.threads() {
            let name = ThreadRef { table: held.id().clone(), code: thread.code.clone() };
            let code = loose(thread.code.as_str());
            for key in [code.clone(), format!("{range}{code}"), format!("{code}{range}")] {
                self.longest = self.longest.max(key.chars().count());
                put(&mut self.full, key, &name);
            }
            let rest = thread.code.key().get(prefix..).map(loose).unwrap_or_default();
            if rest != code && !rest.is_empty() {
                put(&mut self.short, format!("{range}{rest}"), &name);
                put(&mut self.short, rest, &name);
            }
            let called = loose(&thread.name);
            put(&mut self.names, called.clone(), &name);
            self.by_thread.insert(name, called);
        }
    }

    /// Threads of this spelling, the range before or behind the code or left out.
    pub(super) fn spelled(&self, key: &str) -> Option<&BTreeSet<ThreadRef>> {
        self.full.get(key)
    }

    /// Threads whose code has this spelling when what all codes of its table begin with is left out.
    pub(super) fn cut_short(&self, key: &str) -> Option<&BTreeSet<ThreadRef>> {
        self.short.get(key)
    }

    /// Threads of this name.
    pub(super) fn named(&self, key: &str) -> Option<&BTreeSet<ThreadRef>> {
        self.names.get(key)
    }

    /// What a thread is called, in the spelling that names are compared in.
    pub(super) fn name_of(&self, thread: &ThreadRef) -> &str {
        self.by_thread.get(thread).map_or("", String::as_str)
    }

    /// Most letters and digits of a spelling.
    pub(super) fn longest(&self) -> usize {
        self.longest
    }

    /// The ranges that a text may stand for: their name, or its beginning.
    pub(super) fn ranges(&self, key: &str) -> Vec<&'t TableId> {
        let exact = self.ranges.iter().filter(|(range, _)| range == key);
        let exact: Vec<&'t TableId> = exact.map(|(_, id)| *id).collect();
        if !exact.is_empty() || key.chars().count() < 2 {
            return exact;
        }
        let begun = self.ranges.iter().filter(|(range, _)| range.starts_with(key));
        begun.map(|(_, id)| *id).collect()
    }

    /// Codes that are spelled nearly like this.
    pub(super) fn near(&self, word: &str) -> Vec<String> {
        let mut near = Vec::new();
        for held in self.tables {
            if let Err(error) = table::find(held, word)
                && let ErrorKind::UnknownThread { near: found, .. } = error.kind()
            {
                near.extend(found.iter().cloned());
            }
        }
        near
    }
}

fn put(spellings: &mut Spellings, key: String, name: &ThreadRef) {
    if !key.is_empty() {
        spellings.entry(key).or_default().insert(name.clone());
    }
}

/// Bytes of the key that every code of a table begins with, up to and including a mark.
fn common_prefix(held: &Table) -> usize {
    let mut keys = held.threads().iter().map(|thread| thread.code.key());
    let Some(first) = keys.next() else { return 0 };
    let shared = keys.fold(first.len(), |shared, key| {
        let same = first.bytes().zip(key.bytes()).take_while(|(one, other)| one == other);
        same.count().min(shared)
    });
    let mut shared = shared;
    while !first.is_char_boundary(shared) {
        shared -= 1;
    }
    let shared = first.get(..shared).unwrap_or_default();
    shared.rfind(|c: char| c.is_ascii_punctuation() || c == ' ').map_or(0, |place| place + 1)
}
