//! One column: what it costs by how much it serves, and how much it may serve.
//! It does not know the rows.

/// What a column costs and holds. Amounts are in the unit of the rows' weights.
#[derive(Clone, Copy, Debug)]
pub(in crate::planner) struct Column {
    /// What it costs once open, 0 or more.
    pub(in crate::planner) open: f64,
    /// What each further piece costs, 0 or more.
    pub(in crate::planner) piece: f64,
    /// How much one piece serves, more than 0.
    pub(in crate::planner) yields: f64,
    /// How much is there already and costs nothing.
    pub(in crate::planner) there: f64,
    /// Most that it may serve, infinite without a limit.
    pub(in crate::planner) holds: f64,
    /// How much is taken beside the rows; counts toward pieces and limit.
    pub(in crate::planner) taken: f64,
    /// Open in any case.
    pub(in crate::planner) locked: bool,
}

/// Part of a piece that rounding may add: a need of exactly so many pieces takes no more.
const WHOLE: f64 = 1e-9;

impl Column {
    /// What it costs once open, serving this much beside what is taken.
    pub(in crate::planner) fn price(&self, load: f64) -> f64 {
        self.open + self.piece * self.pieces(load)
    }

    /// Pieces that are needed for this much beside what is taken.
    pub(in crate::planner) fn pieces(&self, load: f64) -> f64 {
        let wanted = load + self.taken - self.there;
        if self.piece > 0.0 && wanted > 0.0 {
            (wanted / self.yields - WHOLE).ceil().max(0.0)
        } else {
            0.0
        }
    }

    /// How much room there is beside what is taken.
    pub(super) fn room(&self) -> f64 {
        self.holds - self.taken
    }

    /// How much so many pieces serve beside what is taken, within the limit.
    pub(super) fn served_by(&self, pieces: f64) -> f64 {
        let served = if self.piece > 0.0 {
            self.there + (pieces + WHOLE) * self.yields
        } else {
            f64::INFINITY
        };
        served.min(self.holds) - self.taken
    }
}
