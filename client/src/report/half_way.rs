//! What becomes of a piece half-way through, for people and as JSON: which areas to finish with
//! what is left, which to give to the new thread, and where the two meet.
//! It does not decide anything, and it does not write.

use dyekin_core::ChangeList;
use dyekin_core::change::Change;
use serde_json::{Value, json};

use super::{counted, text, thousands};
use crate::half_way::{AreaPlan, Join, MarksPlan, ThreadPlan, meters};
use crate::summary::Summary;

/// Areas that a sentence names without being asked for details.
const NAMED: usize = 6;

/// Sentences about each thread, each to be wrapped as one paragraph.
pub(crate) fn sentences(
    plans: &[ThreadPlan],
    (list, summary): (&ChangeList, &Summary),
    details: bool,
) -> Vec<String> {
    let told = |plan| Told { plan, list, summary, details };
    plans.iter().flat_map(|plan| told(plan).sentences()).collect()
}

struct Told<'r> {
    plan: &'r ThreadPlan,
    list: &'r ChangeList,
    summary: &'r Summary,
    details: bool,
}

impl Told<'_> {
    fn sentences(&self) -> Vec<String> {
        let plan = self.plan;
        let whole = |area: &&(usize, &AreaPlan)| area.1.kept_quarters == area.1.quarters;
        let none = |area: &&(usize, &AreaPlan)| area.1.kept_quarters == 0;
        let numbered: Vec<(usize, &AreaPlan)> =
            plan.areas.iter().enumerate().map(|(place, area)| (place + 1, area)).collect();
        let finished: Vec<&(usize, &AreaPlan)> = numbered.iter().filter(whole).collect();
        let given: Vec<&(usize, &AreaPlan)> = numbered.iter().filter(none).collect();
        let shared = numbered.iter().filter(|area| !whole(area) && !none(area));
        let old = text::thread_name(&plan.left.thread, "");
        let mut said = vec![self.headline(&old)];
        if !finished.is_empty() {
            let areas = counted(finished.len() as u64, "area", "areas");
            let most = finished.iter().map(|(_, area)| area.takes.most).sum();
            let named = self.named(&finished);
            said.push(format!("Finish {areas} with {old}, up to {}: {named}.", length(most)));
        }
        let new = self.new_thread();
        if !given.is_empty() {
            let areas = counted(given.len() as u64, "area", "areas");
            said.push(format!("Give {areas} to {new}: {}.", self.named(&given)));
        }
        for (number, area) in shared {
            said.push(format!(
                "Join in {}: {} stay with {old}, up to {}, and {} go to {new}.",
                place(*number, area),
                stitches(area.kept_quarters),
                length(area.takes.most),
                stitches(area.quarters - area.kept_quarters)
            ));
        }
        said.extend(self.marks(&old, &new));
        said.extend(self.joins());
        said
    }

    fn headline(&self, old: &str) -> String {
        let plan = self.plan;
        let open: u64 = plan.areas.iter().map(|area| area.quarters).sum();
        let done = stitches(plan.done_quarters);
        let verb = if (1..=4).contains(&plan.done_quarters) { "is" } else { "are" };
        let left = lengths(plan.left.low, plan.left.high);
        let (least, most) = (plan.reach.0 / 4, plan.reach.1 / 4);
        let reach = match (plan.left.high, open) {
            (0, _) => "nothing is left of it".to_owned(),
            (_, 0) => format!("{left} are left"),
            _ => format!(
                "the {left} left do for {} to {} stitches in one piece",
                thousands(least),
                thousands(most)
            ),
        };
        format!(
            "Half-way: {done} of {old} {verb} done, {} to go; {reach}.",
            thousands(open.div_ceil(4))
        )
    }

    fn named(&self, areas: &[&(usize, &AreaPlan)]) -> String {
        let most = if self.details || areas.len() <= NAMED + 1 { areas.len() } else { NAMED };
        let named: Vec<String> =
            areas.iter().take(most).map(|(number, area)| place(*number, area)).collect();
        let rest = areas.len() - most;
        let more =
            if rest > 0 { format!(" and {} more", thousands(rest as u64)) } else { String::new() };
        format!("{}{more}", named.join("; "))
    }

    /// What takes over, by name.
    fn new_thread(&self) -> String {
        let old = &self.plan.left.thread;
        let after = |change: &Change| {
            let before = self.summary.places().get(change.color)?.thread_refs();
            let strand = before.iter().position(|held| held == old)?;
            let new = change.after.get(strand).or_else(|| change.after.first())?;
            Some(text::thread_name(&new.thread, &new.name))
        };
        let name = self.list.changes.iter().find_map(after);
        name.unwrap_or_else(|| "the new thread".to_owned())
    }

    /// What becomes of lines and knots, and what was assumed of them.
    fn marks(&self, old: &str, new: &str) -> Vec<String> {
        let plan = self.plan;
        if plan.marks.is_empty() && plan.done_marks == (0, 0) {
            return Vec::new();
        }
        let mut said = Vec::new();
        let (stay, go): (Vec<&MarksPlan>, Vec<&MarksPlan>) =
            plan.marks.iter().partition(|marks| marks.stays);
        if !stay.is_empty() {
            let what = all_marks(stay.iter().copied());
            let most = stay.iter().map(|marks| marks.takes.most).sum();
            said.push(format!("Work {what} with {old}, up to {}.", length(most)));
        }
        if !go.is_empty() {
            let what = all_marks(go.iter().copied());
            let most = if self.details || go.len() <= NAMED + 1 { go.len() } else { NAMED };
            let named: Vec<String> = go.iter().take(most).map(|marks| marks_place(marks)).collect();
            let rest = (go.len() - most) as u64;
            let more =
                if rest > 0 { format!(" and {} more", thousands(rest)) } else { String::new() };
            said.push(format!("Work {what} with {new}: {}{more}.", named.join("; ")));
        }
        said.push(match plan.done_marks {
            (0, 0) => {
                "Lines and knots are taken as not worked yet; --done \"lines rows 1-40\" says \
                       which are."
                    .to_owned()
            }
            (lines, knots) => format!(
                "{} of it {} taken as worked, as --done says, and no others.",
                marks_counted(lines, knots),
                if lines + knots == 1 { "is" } else { "are" }
            ),
        });
        said
    }

    /// Where old and new meet, and whether less is possible.
    fn joins(&self) -> Vec<String> {
        let plan = self.plan;
        let at: Vec<(usize, &Join)> = plan
            .areas
            .iter()
            .enumerate()
            .filter_map(|(place, area)| Some((place + 1, area.join.as_ref()?)))
            .collect();
        let best = match (plan.proved, plan.cost.0 == plan.joins_floor) {
            (true, _) => "No other choice does better.".to_owned(),
            (false, true) => "No other choice has less to join.".to_owned(),
            (false, false) => format!(
                "Perhaps less would do: by their weights the joins are {}, and no choice has less than {}.",
                halves(plan.cost.0),
                halves(plan.joins_floor)
            ),
        };
        let met: Vec<&MarksPlan> =
            plan.marks.iter().filter(|marks| marks.meets > 0 && !marks.stays).collect();
        let lines: u64 = met.iter().filter(|held| held.lines > 0).map(|held| held.meets).sum();
        let knots = met.iter().filter(|held| held.knots > 0).count() as u64;
        let mut beside = Vec::new();
        if lines > 0 {
            let points = counted(lines, "point", "points");
            beside.push(format!("Lines go on in the new thread at {points}."));
        }
        if knots > 0 {
            let areas = counted(knots, "area", "areas");
            beside.push(format!(
                "In {areas} some knots are worked and the others get the new thread."
            ));
        }
        beside.push(best);
        if !plan.shares.is_empty() {
            let names: Vec<String> =
                plan.shares.iter().map(|thread| text::thread_name(thread, "")).collect();
            beside.push(format!(
                "It shares needles with {}: these areas are finished with both, or go to the new \
                 threads together, and the joins are counted together.",
                names.join(" and ")
            ));
        }
        let best = beside.join(" ");
        if at.is_empty() {
            return vec![format!("Old and new meet inside no area. {best}")];
        }
        let joins = counted(at.len() as u64, "join", "joins");
        let most = if self.details || at.len() <= NAMED + 1 { at.len() } else { NAMED };
        let named: Vec<String> = at
            .iter()
            .take(most)
            .map(|(number, join)| {
                format!("{} long in area {number}, {}", long(join), spans(join.rows, join.columns))
            })
            .collect();
        let rest = at.len() - most;
        let more =
            if rest > 0 { format!(" and {} more", thousands(rest as u64)) } else { String::new() };
        vec![format!("{joins} of old and new: {}{more}. {best}", named.join("; "))]
    }
}

/// Lines and knots by their numbers.
fn marks_counted(lines: u64, knots: u64) -> String {
    let mut what = Vec::new();
    if lines > 0 {
        what.push(counted(lines, "line", "lines"));
    }
    if knots > 0 {
        what.push(counted(knots, "knot", "knots"));
    }
    what.join(" and ")
}

fn all_marks<'m>(marks: impl Iterator<Item = &'m MarksPlan>) -> String {
    let (mut lines, mut knots) = (0, 0);
    marks.for_each(|held| (lines, knots) = (lines + held.lines, knots + held.knots));
    marks_counted(lines, knots)
}

fn marks_place(marks: &MarksPlan) -> String {
    let begun = if marks.meets > 0 { ", begun" } else { "" };
    format!(
        "{} ({}{begun})",
        marks_counted(marks.lines, marks.knots),
        spans(marks.rows, marks.columns)
    )
}

/// A join's length for people.
fn long(join: &Join) -> String {
    let edges = counted(join.edges, "stitch", "stitches");
    match (join.edges, join.corners) {
        (_, 0) => edges,
        (0, corners) => counted(corners, "corner", "corners"),
        (_, corners) => format!("{edges} and {}", counted(corners, "corner", "corners")),
    }
}

fn place(number: usize, area: &AreaPlan) -> String {
    let begun = if area.begun { ", begun" } else { "" };
    format!(
        "area {number} ({}, {}{begun})",
        spans(area.rows, area.columns),
        stitches(area.quarters)
    )
}

/// Rows and columns as people count them, from 1.
fn spans(rows: (usize, usize), columns: (usize, usize)) -> String {
    let span = |one: &str, many: &str, (first, last): (usize, usize)| match first == last {
        true => format!("{one} {}", first + 1),
        false => format!("{many} {}-{}", first + 1, last + 1),
    };
    format!("{}, {}", span("row", "rows", rows), span("column", "columns", columns))
}

/// Quarters as stitches, a started one counted whole.
fn stitches(quarters: u64) -> String {
    counted(quarters.div_ceil(4), "stitch", "stitches")
}

/// Below this, in micrometres, lengths are told in centimeters.
const METER: u64 = 1_000_000;

fn length(micrometres: u64) -> String {
    lengths(micrometres, micrometres)
}

/// One length, or two with their unit said once.
fn lengths(low: u64, high: u64) -> String {
    let (low, high, unit) = match high < METER {
        true => {
            (format!("{:.1}", meters(low) * 100.0), format!("{:.1}", meters(high) * 100.0), "cm")
        }
        false => (format!("{:.2}", meters(low)), format!("{:.2}", meters(high)), "m"),
    };
    if low == high { format!("{high} {unit}") } else { format!("{low} to {high} {unit}") }
}

/// Halves as a number.
fn halves(halves: u64) -> String {
    let half = if halves % 2 == 1 { ".5" } else { "" };
    format!("{}{half}", thousands(halves / 2))
}

/// The plans as JSON.
pub(crate) fn as_json(plans: &[ThreadPlan]) -> Value {
    plans.iter().map(thread_json).collect()
}

fn thread_json(plan: &ThreadPlan) -> Value {
    let areas: Vec<Value> = plan.areas.iter().enumerate().map(area_json).collect();
    let marks: Vec<Value> = plan
        .marks
        .iter()
        .map(|marks| {
            json!({
                "lines": marks.lines,
                "knots": marks.knots,
                "rows": from_one(marks.rows),
                "columns": from_one(marks.columns),
                "begun": marks.meets > 0,
                "thread": if marks.stays { "old" } else { "new" },
                "meters": ends(marks.takes.least, marks.takes.most),
            })
        })
        .collect();
    let shares: Vec<String> = plan.shares.iter().map(ToString::to_string).collect();
    json!({
        "table": plan.left.thread.table.as_str(),
        "code": plan.left.thread.code.as_str(),
        "left": ends(plan.left.low, plan.left.high),
        "done": in_stitches(plan.done_quarters),
        "done_lines": plan.done_marks.0,
        "done_knots": plan.done_marks.1,
        "shares_needles_with": shares,
        "areas": areas,
        "marks": marks,
        "weighed_joins": in_edges(plan.cost.0),
        "weighed_joins_floor": in_edges(plan.joins_floor),
        "proved_shortest": plan.cost.0 == plan.joins_floor,
        "proved_best": plan.proved,
    })
}

fn area_json((place, area): (usize, &AreaPlan)) -> Value {
    let thread = match area.kept_quarters {
        0 => "new",
        kept if kept == area.quarters => "old",
        _ => "both",
    };
    json!({
        "number": place + 1,
        "rows": from_one(area.rows),
        "columns": from_one(area.columns),
        "stitches": in_stitches(area.quarters),
        "old_stitches": in_stitches(area.kept_quarters),
        "begun": area.begun,
        "thread": thread,
        "meters": ends(area.takes.least, area.takes.most),
        "weight": area.weight,
        "join": area.join.as_ref().map(|join| json!({
            "edges": join.edges,
            "corners": join.corners,
            "rows": from_one(join.rows),
            "columns": from_one(join.columns),
        })),
    })
}

fn from_one((first, last): (usize, usize)) -> Value {
    json!([first + 1, last + 1])
}

fn ends(low: u64, high: u64) -> Value {
    json!({"low": meters(low), "high": meters(high)})
}

/// Halves of a cell edge as edges.
fn in_edges(halves: u64) -> f64 {
    meters(halves.saturating_mul(500_000))
}

fn in_stitches(quarters: u64) -> f64 {
    meters(quarters.saturating_mul(250_000))
}
