//! Answers in this process, from tables that were read for this run.
//! It does not know charts, files or what is printed.

use std::sync::Arc;

use dyekin_core::audit::{Audit, AuditOptions, audit};
use dyekin_core::blend::{self, BlendOptions, Blender, SuggestedBlends};
use dyekin_core::catalog::CatalogTable;
use dyekin_core::change::TableVersion;
use dyekin_core::compare::{Comparison, compare};
use dyekin_core::difference::Measure;
use dyekin_core::error::{Error, ErrorKind};
use dyekin_core::nearest::{self, Match, Nearest, NearestOptions};
use dyekin_core::planner::{
    self, Ask, ConvertOptions, MergeList, MergeOptions, ReduceOptions, SubstituteOptions,
};
use dyekin_core::spectrum::Seen;
use dyekin_core::table::{Loaded, ReadOptions};
use dyekin_core::watch::Patient;
use dyekin_core::{
    Catalog, ChangeList, Color, Difference, PaletteSummary, Table, TableId, Thread, ThreadRef,
    Watch, table,
};

use super::{Answers, Backend, Blend, Blends, Found, Hit, Imported, Subject, TableHead};
use crate::failure::Result;

/// The domain in this process.
#[derive(Clone, Debug, Default)]
pub struct Embedded {
    catalog: Catalog,
}

impl Embedded {
    /// A backend over these tables.
    #[must_use]
    pub fn new(catalog: Catalog) -> Self {
        Self { catalog }
    }

    fn versions(&self, tables: &[TableId]) -> Result<Vec<TableVersion>> {
        let chosen = self.catalog.choose(tables)?;
        Ok(chosen.into_iter().map(|held| version(held)).collect())
    }

    fn stand_ins(
        &self,
        asked: &ThreadRef,
        options: &NearestOptions,
        any_finish: bool,
    ) -> std::result::Result<Found, Error> {
        let thread = self.catalog.thread(asked)?;
        let mut options = options.clone();
        options.filter.excluded.push(asked.clone());
        if options.filter.finishes.is_empty() && !any_finish {
            options.filter.finishes.push(thread.finish);
        }
        let seen = Seen { color: &thread.color, spectrum: thread.spectrum.as_deref() };
        nearest::nearest_seen(&self.catalog, seen, &options, &Patient)
            .map(|nearest| found(&nearest))
    }
}

fn version(held: &CatalogTable) -> TableVersion {
    TableVersion { table: held.table().id().clone(), hash: held.table().hash() }
}

fn found(nearest: &Nearest<'_>) -> Found {
    Found {
        matches: nearest.matches.iter().map(hit).collect(),
        more_as_near: nearest.more_as_near,
        beyond: nearest.beyond.as_ref().map(hit),
        left_out: nearest.left_out,
    }
}

fn hit(found: &Match<'_>) -> Hit {
    Hit {
        table: found.table.table().id().clone(),
        thread: found.thread.without_spectrum(),
        difference: found.difference,
        as_near: found.as_near,
        over_lights: found.over_lights.clone(),
    }
}

/// The thread asked for is part of the question, so that it takes no part in the answer.
fn blends(
    catalog: &Catalog,
    blender: &Blender<'_, '_>,
    subject: &Subject,
    watch: &dyn Watch,
) -> std::result::Result<Blends, Error> {
    let (color, without) = match subject {
        Subject::Color(color) => (*color, None),
        Subject::Thread(wanted) => (catalog.thread(wanted)?.color, Some(wanted)),
    };
    let SuggestedBlends { blends, beyond, alone, .. } =
        blender.suggest_without(&color, without, watch)?;
    Ok(Blends {
        blends: blends.iter().map(blend).collect(),
        beyond: beyond.as_ref().map(blend),
        alone: alone.as_ref().map(hit),
    })
}

fn blend(found: &blend::Blend<'_>) -> Blend {
    Blend {
        table: found.table.table().id().clone(),
        first: found.first.without_spectrum(),
        second: found.second.without_spectrum(),
        mix: found.mix,
        difference: found.difference,
        full_spread: found.full_spread,
    }
}

impl Backend for Embedded {
    fn match_colors(
        &mut self,
        colors: &[Color],
        options: &NearestOptions,
    ) -> Result<Answers<Found>> {
        let tables = self.versions(&options.tables)?;
        let results = colors
            .iter()
            .map(|color| {
                nearest::nearest(&self.catalog, color, options).map(|nearest| found(&nearest))
            })
            .collect();
        Ok(Answers { results, tables })
    }

    fn match_threads(
        &mut self,
        threads: &[ThreadRef],
        options: &NearestOptions,
        any_finish: bool,
    ) -> Result<Answers<Found>> {
        let tables = self.versions(&options.tables)?;
        let results =
            threads.iter().map(|asked| self.stand_ins(asked, options, any_finish)).collect();
        Ok(Answers { results, tables })
    }

    fn threads(&mut self, wanted: &[ThreadRef]) -> Result<Vec<std::result::Result<Thread, Error>>> {
        Ok(wanted.iter().map(|wanted| self.catalog.thread(wanted).cloned()).collect())
    }

    fn compare(
        &mut self,
        pairs: &[(Color, Color)],
        measure: Measure,
    ) -> Result<Vec<std::result::Result<Difference, Error>>> {
        let compare =
            |(standard, sample): &(Color, Color)| Difference::measured(standard, sample, measure);
        Ok(pairs.iter().map(compare).collect())
    }

    fn suggest_blends(
        &mut self,
        subjects: &[Subject],
        options: &BlendOptions,
        watch: &dyn Watch,
    ) -> Result<Answers<Blends>> {
        let tables = self.versions(&options.tables)?;
        let blender = Blender::new(&self.catalog, options)?;
        let mut results = Vec::with_capacity(subjects.len());
        for subject in subjects {
            match blends(&self.catalog, &blender, subject, watch) {
                Err(error) if *error.kind() == ErrorKind::Stopped => return Err(error.into()),
                answer => results.push(answer),
            }
        }
        Ok(Answers { results, tables })
    }

    fn suggest_merges(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: MergeOptions,
        watch: &dyn Watch,
    ) -> Result<MergeList> {
        Ok(planner::suggest_merges(&self.catalog, palette, ask, options, watch)?)
    }

    fn reduce(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ReduceOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        Ok(planner::reduce(&self.catalog, palette, ask, options, watch)?)
    }

    fn substitute(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &SubstituteOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        Ok(planner::substitute(&self.catalog, palette, ask, options, watch)?)
    }

    fn convert(
        &mut self,
        palette: &PaletteSummary,
        ask: &Ask,
        options: &ConvertOptions,
        watch: &dyn Watch,
    ) -> Result<ChangeList> {
        Ok(planner::convert(&self.catalog, palette, ask, options, watch)?)
    }

    fn check_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        let Loaded { table, notices } = table::read(bytes, options)?;
        Ok(Imported { table: TableHead::of(&table), notices, durable: false })
    }

    fn import_table(&mut self, bytes: &[u8], options: &ReadOptions) -> Result<Imported> {
        let Loaded { table, notices } = table::read(bytes, options)?;
        let head = TableHead::of(&table);
        self.catalog = self.catalog.with(Arc::new(CatalogTable::new(table)));
        Ok(Imported { table: head, notices, durable: false })
    }

    fn list_tables(&mut self) -> Result<Vec<TableHead>> {
        Ok(self.catalog.tables().iter().map(|held| TableHead::of(held.table())).collect())
    }

    fn table(&mut self, id: &TableId) -> Result<Table> {
        Ok(self.catalog.table(id)?.table().clone())
    }

    fn audit_table(&mut self, id: &TableId, options: &AuditOptions) -> Result<Audit> {
        Ok(audit(self.catalog.table(id)?, options, &Patient)?)
    }

    fn compare_tables(
        &mut self,
        old: &TableId,
        new: &TableId,
        measure: Measure,
    ) -> Result<Comparison> {
        let (old, new) = (self.catalog.table(old)?, self.catalog.table(new)?);
        Ok(compare(old, new, measure, &Patient)?)
    }

    fn delete_table(&mut self, id: &TableId) -> Result<TableHead> {
        let head = TableHead::of(self.catalog.table(id)?.table());
        self.catalog = self.catalog.without(id);
        Ok(head)
    }
}
