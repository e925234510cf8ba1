//! Makes a covering question smaller without changing its answer: rows that others settle, columns
//! that others outdo, columns without which a row is lost. It does not search.

use crate::error::Result;
use crate::planner::median::cells::{Cells, name};
use crate::planner::median::{Beyond, Pace};

/// What is left to decide.
#[derive(Debug)]
pub(super) struct Shrunk {
    /// Columns that are open in any case.
    pub(super) open: Vec<usize>,
    /// The columns that are left, by the numbers of the whole question.
    pub(super) columns: Vec<usize>,
    /// The rows that are left, at no cost.
    pub(super) cells: Cells,
}

/// Rows and columns as lists of each other.
struct Lists {
    rows: Vec<Vec<usize>>,
    columns: Vec<Vec<usize>>,
    open: Vec<usize>,
}

/// Opens the locked columns and shrinks what they leave.
pub(super) fn shrink(cells: &Cells, locked: &[bool], pace: &mut dyn Pace) -> Result<Shrunk> {
    let rows: Vec<Vec<usize>> =
        (0..cells.rows()).map(|row| sorted(cells.row(row).map(|(_, column)| column))).collect();
    let mut columns = vec![Vec::new(); cells.columns()];
    for (row, list) in rows.iter().enumerate() {
        for column in list {
            if let Some(list) = columns.get_mut(*column) {
                list.push(row);
            }
        }
    }
    let mut lists = Lists { rows, columns, open: Vec::new() };
    let locked = locked.iter().enumerate().filter(|(_, locked)| **locked);
    locked.for_each(|(column, _)| lists.choose(column));
    loop {
        let before = lists.size();
        lists.choose_needed();
        lists.drop_easy_rows(pace)?;
        lists.drop_outdone_columns(pace)?;
        if lists.size() == before {
            return Ok(lists.shrunk());
        }
    }
}

fn sorted(places: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut list: Vec<usize> = places.collect();
    list.sort_unstable();
    list
}

/// True when the sorted list holds all of the other.
fn holds(list: &[usize], other: &[usize]) -> bool {
    let mut rest = list.iter();
    list.len() >= other.len() && other.iter().all(|wanted| rest.any(|held| held == wanted))
}

impl Lists {
    fn size(&self) -> usize {
        self.rows.iter().map(Vec::len).sum()
    }

    fn list(lists: &[Vec<usize>], place: usize) -> &[usize] {
        lists.get(place).map_or(&[], Vec::as_slice)
    }

    /// Opens a column: its rows are settled.
    fn choose(&mut self, column: usize) {
        self.open.push(column);
        for row in Self::list(&self.columns, column).to_vec() {
            self.drop_row(row);
        }
    }

    fn drop_row(&mut self, row: usize) {
        let list = self.rows.get_mut(row).map(std::mem::take).unwrap_or_default();
        for column in list {
            if let Some(rows) = self.columns.get_mut(column) {
                rows.retain(|held| *held != row);
            }
        }
    }

    fn drop_column(&mut self, column: usize) {
        let list = self.columns.get_mut(column).map(std::mem::take).unwrap_or_default();
        for row in list {
            if let Some(columns) = self.rows.get_mut(row) {
                columns.retain(|held| *held != column);
            }
        }
    }

    /// Opens the only column of a row.
    fn choose_needed(&mut self) {
        for row in 0..self.rows.len() {
            if let [only] = Self::list(&self.rows, row) {
                self.choose(*only);
            }
        }
    }

    /// Drops rows that are served wherever another one is.
    fn drop_easy_rows(&mut self, pace: &mut dyn Pace) -> Result<()> {
        for row in 0..self.rows.len() {
            pace.look()?;
            let own = Self::list(&self.rows, row).to_vec();
            let len = |column: &usize| Self::list(&self.columns, *column).len();
            let Some(rarest) = own.iter().copied().min_by_key(len) else { continue };
            for other in Self::list(&self.columns, rarest).to_vec() {
                let theirs = Self::list(&self.rows, other);
                // Of equal rows the first stays.
                let is_easier = theirs.len() > own.len() || other > row;
                if other != row && is_easier && holds(theirs, &own) {
                    self.drop_row(other);
                }
            }
        }
        Ok(())
    }

    /// Drops columns all of whose rows another column serves too.
    fn drop_outdone_columns(&mut self, pace: &mut dyn Pace) -> Result<()> {
        for column in 0..self.columns.len() {
            pace.look()?;
            let own = Self::list(&self.columns, column);
            let len = |row: &usize| Self::list(&self.rows, *row).len();
            let Some(rarest) = own.iter().copied().min_by_key(len) else { continue };
            let outdone = Self::list(&self.rows, rarest).iter().any(|other| {
                let theirs = Self::list(&self.columns, *other);
                let is_better = theirs.len() > own.len() || *other < column;
                *other != column && is_better && holds(theirs, own)
            });
            if outdone {
                self.drop_column(column);
            }
        }
        Ok(())
    }

    fn shrunk(self) -> Shrunk {
        let left = |lists: &[Vec<usize>]| -> Vec<usize> {
            let used = lists.iter().enumerate().filter(|(_, list)| !list.is_empty());
            used.map(|(place, _)| place).collect()
        };
        let columns = left(&self.columns);
        let rows = left(&self.rows);
        let renamed = |row: &usize| {
            let list = Self::list(&self.rows, *row).iter();
            list.filter_map(|column| columns.binary_search(column).ok())
                .map(|column| (0.0, name(column)))
                .collect()
        };
        let cells = Cells::new(
            columns.len(),
            rows.iter().map(renamed).collect(),
            vec![Beyond::NOTHING; rows.len()],
        );
        Shrunk { open: self.open, columns, cells }
    }
}
