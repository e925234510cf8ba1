//! A backend for tests of commands: answers in process, writes down what was asked, fails on cue.
//! It does not answer better or worse than the embedded one.

use std::cell::RefCell;
use std::rc::Rc;

use dyekin_core::audit::{Audit, AuditOptions};
use dyekin_core::blend::BlendOptions;
use dyekin_core::compare::Comparison;
use dyekin_core::difference::Measure;
use dyekin_core::error::Error;
use dyekin_core::nearest::NearestOptions;
use dyekin_core::planner::{
    Ask, ConvertOptions, MergeList, MergeOptions, ReduceOptions, SubstituteOptions,
};
use dyekin_core::table::ReadOptions;
use dyekin_core::{
    Catalog, ChangeList, Color, Difference, PaletteSummary, Table, TableId, Thread, ThreadRef,
    Watch,
};

use super::{Answers, Backend, Blends, Embedded, Found, Imported, Subject, TableHead};
use crate::failure::{Failure, Result};

/// What was asked, one line a question with how many things it asked for.
pub(crate) type Asked = Rc<RefCell<Vec<String>>>;

/// The backend of a test.
#[derive(Debug)]
pub(crate) struct Scripted {
    inner: Embedded,
    asked: Asked,
    failure: Option<(&'static str, Failure)>,
}

impl Scripted {
    /// A backend over a catalog, and what it is asked.
    pub(crate) fn new(catalog: Catalog) -> (Self, Asked) {
        let asked = Asked::default();
        (Self { inner: Embedded::new(catalog), asked: Rc::clone(&asked), failure: None }, asked)
    }

    /// The same, failing when this method is called.
    pub(crate) fn failing(mut self, method: &'static str, failure: Failure) -> Self {
        self.failure = Some((method, failure));
        self
    }

    fn hear(&mut self, method: &str, count: usize) -> Result<&mut Embedded> {
        self.asked.borrow_mut().push(format!("{method} {count}"));
        match &self.failure {
            Some((cue, failure)) if *cue == method => Err(failure.clone()),
            _ => Ok(&mut self.inner),
        }
    }
}

impl Backend for Scripted {
    fn match_colors(
        &mut self,
        colors: &[Color],
        options: &NearestOptions,
    ) -> Result<Answers<Found>> {
        self.hear("match_colors", colors.len())?.match_colors(colors, options)
    }

    fn match_threads(
        &mut self,
        threads: &[ThreadRef],
        options: &NearestOptions,
        any_finish: bool,
    ) -> Result<Answers<Found>> {
        self.hear("match_threads", threads.len())?.match_threads(threads, options, any_finish)
    }

    fn threads(&mut self, wanted: &[ThreadRef]) -> Result<Vec<std::result::Result<Thread, Error>>> {
        self.hear("threads", wanted.len())?.threads(wanted)
    }

    fn compare(
        &mut self,
        pairs: &[(Color, Color)],
        measure: Measure,
    ) -> Result<Vec<std::result::Result<Difference, Error>>> {
        self.hear("compare", pairs.len())?.compare(pairs, measure)
    }

    fn suggest_blends(
        &mut self,
        subjects: &[Subject],
        options: &BlendOptions,
        watch: &dyn Watch,
    ) -> Result<Answers<Blends>> {
        self.hear("suggest_blends", subjects.len())?.suggest_blends(subjects, options, watch)
    }

    fn suggest_merges(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: MergeOptions,
        watch: &dyn Watch,
    ) -> Result<MergeList> {
        let inner = self.hear("suggest_merges", palette.colors().len())?;
        inner.suggest_merges(palette, ask, options, watch)
    }

    fn reduce(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ReduceOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        self.hear("reduce", palette.colors().len())?.reduce(palette, ask, options, watch)
    }

    fn substitute(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &SubstituteOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        self.hear("substitute", options.missing.len())?.substitute(palette, ask, options, watch)
    }

    fn convert(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ConvertOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        self.hear("convert", palette.colors().len())?.convert(palette, ask, options, watch)
    }

    fn check_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        self.hear("check_table", 1)?.check_table(bytes, options)
    }

    fn import_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        self.hear("import_table", 1)?.import_table(bytes, options)
    }

    fn list_tables(&mut self) -> Result<Vec<TableHead>> {
        self.hear("list_tables", 0)?.list_tables()
    }

    fn table(&mut self, id: &TableId) -> Result<Table> {
        self.hear("table", 1)?.table(id)
    }

    fn audit_table(&mut self, id: &TableId, options: &AuditOptions) -> Result<Audit> {
        self.hear("audit_table", 1)?.audit_table(id, options)
    }

    fn compare_tables(
        &mut self,
        old: &TableId,
        new: &TableId,
        measure: Measure,
    ) -> Result<Comparison> {
        self.hear("compare_tables", 2)?.compare_tables(old, new, measure)
    }

    fn delete_table(&mut self, id: &TableId) -> Result<TableHead> {
        self.hear("delete_table", 1)?.delete_table(id)
    }
}
