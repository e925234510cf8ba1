//! The best palettes of each number of threads as bars that any terminal can show.
//! It does not know how they were found.

use dyekin_core::color::Trust;
use dyekin_core::planner::{CurvePoint, MergeList, MergeStep};

use super::changes::shown_gap;
use super::text;

/// Widest that the bars and what stands before them may be, in columns of the terminal.
const WIDEST: usize = 72;

/// Differences, in percent of the best, that are rounding and no difference.
const NOTHING: f64 = 1e-6;

/// The curve: a heading, a row for some of its points, and how sure it is. Nothing without points.
pub(crate) fn lines(list: &MergeList, trust: Trust, width: usize) -> Vec<String> {
    let shown = shown(list);
    let Some(longest) = shown.last() else { return Vec::new() };
    let adapted = match trust {
        Trust::Adapted(method) => format!(", adapted by {method}"),
        Trust::Measured | Trust::Rough => String::new(),
    };
    let heading = format!(
        "Best palette of each number of threads, by average difference over all stitches{adapted}"
    );
    let mut lines = text::wrap(&heading, width, 2);
    let counts = column(shown.iter().map(|point| point.threads.to_string()));
    let means = column(shown.iter().map(|point| average(point, trust)));
    let lead = 2 + counts.first().map_or(0, String::len) + 2 + means.first().map_or(0, String::len);
    let room = width.min(WIDEST).saturating_sub(lead + 2);
    for ((point, count), mean) in shown.iter().zip(&counts).zip(&means) {
        let mark = if list.anchor == Some(point.threads) { '>' } else { ' ' };
        let bar = "=".repeat(length(point, longest, room));
        lines.push(format!("{mark} {count}  {mean}  {bar}").trim_end().to_owned());
    }
    lines.extend(text::wrap(&sureness(list), width, 2));
    lines
}

/// Points worth a row: the fewest threads that serve as well as any number, then fewer and fewer at
/// about even steps, and the anchor.
fn shown(list: &MergeList) -> Vec<&CurvePoint> {
    let Some(first) = list.curve.first() else { return Vec::new() };
    let none = first.mean_difference.value() * (1.0 + NOTHING / 100.0);
    let as_good = list.curve.partition_point(|point| point.mean_difference.value() <= none);
    let top = list.curve.get(as_good.saturating_sub(1)).map_or(first.threads, |top| top.threads);
    let last = list.curve.last().map_or(1, |last| last.threads);
    let wanted = |point: &&CurvePoint| {
        let ends = point.threads == top || point.threads == last;
        ends || list.anchor == Some(point.threads)
            || (point.threads < top && is_even_step(point.threads))
    };
    list.curve.iter().filter(wanted).collect()
}

/// True for 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32 and so on.
fn is_even_step(count: usize) -> bool {
    let octave = count.checked_ilog2().unwrap_or(0);
    let quarter = (1_usize << octave).div_ceil(4);
    count.is_multiple_of(quarter) && count / quarter != 7
}

/// Cells of one column, aligned at the right.
fn column(cells: impl Iterator<Item = String>) -> Vec<String> {
    let cells: Vec<String> = cells.collect();
    let width = cells.iter().map(String::len).max().unwrap_or(0);
    cells.into_iter().map(|cell| format!("{cell:>width$}")).collect()
}

fn average(point: &CurvePoint, trust: Trust) -> String {
    let mean = point.mean_difference.value();
    match trust {
        Trust::Measured => format!("{mean:.2}"),
        Trust::Adapted(_) | Trust::Rough => format!("~{mean:.1}"),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "a part of the width of a terminal"
)]
fn length(point: &CurvePoint, longest: &CurvePoint, room: usize) -> usize {
    let (mean, most) = (point.mean_difference.value(), longest.mean_difference.value());
    if most > 0.0 { (mean / most * room as f64).round() as usize } else { 0 }
}

/// How far any point of the curve can be from the best possible.
fn sureness(list: &MergeList) -> String {
    if list.curve.iter().all(|point| point.proved_best) {
        return "No other palette of as many threads does better.".to_owned();
    }
    let gaps: Option<Vec<f64>> = list.curve.iter().map(gap_percent).collect();
    match gaps {
        Some(gaps) => format!(
            "At most {} % from the best possible.",
            shown_gap(gaps.into_iter().fold(0.0, f64::max))
        ),
        None => "How much better a palette could be is not known everywhere.".to_owned(),
    }
}

/// How far a point can be from the best possible, in percent of the latter; `None` when the bound
/// says nothing.
pub(crate) fn gap_percent(point: &CurvePoint) -> Option<f64> {
    if point.proved_best {
        return Some(0.0);
    }
    let (bound, mean) = (point.lower_bound.value(), point.mean_difference.value());
    (bound > 0.0).then(|| ((mean / bound - 1.0) * 100.0).max(0.0))
}

/// How much more difference a step leaves than the best palette of as many threads, in words.
pub(crate) fn over_best(list: &MergeList, step: &MergeStep) -> String {
    let Some(best) = list.best(step.threads_left) else { return "?".to_owned() };
    let more = step.mean_difference.value() - best.mean_difference.value();
    let at_most = if best.proved_best { "" } else { "<=" };
    match list.gap_percent(step) {
        _ if best.proved_best && more <= step.mean_difference.value() * NOTHING / 100.0 => {
            "best".to_owned()
        }
        Some(gap) => format!("{at_most}{} %", shown_gap(gap)),
        // Of nothing there is no percentage.
        None => format!("{at_most}{more:.2}"),
    }
}

#[cfg(test)]
mod tests {
    use dyekin_core::planner::MergeStep;
    use dyekin_core::{Code, DeltaE, Formula, TableId, ThreadRef};

    use super::*;

    /// A curve whose mean difference is 20 divided by the number of threads, level from 50 on.
    fn list(counts: usize, anchor: Option<usize>) -> MergeList {
        let point = |threads: usize| {
            let mean = DeltaE::new(20.0 / f64::from(u32::try_from(threads.min(50)).unwrap()));
            let mean = mean.unwrap();
            CurvePoint {
                threads,
                mean_difference: mean,
                max_difference: mean,
                lower_bound: mean,
                proved_best: true,
            }
        };
        MergeList {
            formula: Formula::DEFAULT,
            tables: Vec::new(),
            colors: counts,
            anchor,
            steps: Vec::new(),
            curve: (1..=counts).rev().map(point).collect(),
        }
    }

    fn step(threads_left: usize, mean: f64) -> MergeStep {
        let mean = DeltaE::new(mean).unwrap();
        MergeStep {
            threads_left,
            leaving: ThreadRef {
                table: TableId::parse("t").unwrap(),
                code: Code::parse("A1").unwrap(),
            },
            moves: Vec::new(),
            stitches_moved: 0,
            mean_difference: mean,
            max_difference: mean,
        }
    }

    #[test]
    fn rows_thin_out_and_end_where_more_threads_bring_nothing() {
        let counts = |list: &MergeList| shown(list).iter().map(|at| at.threads).collect::<Vec<_>>();
        let even = [50, 48, 40, 32, 24, 20, 16, 12, 10, 8, 6, 5, 4, 3, 2, 1];
        assert_eq!(counts(&list(89, None)), even);
        assert!(counts(&list(89, Some(23))).contains(&23));
        assert_eq!(counts(&list(3, None)), [3, 2, 1]);
        assert!(counts(&list(0, None)).is_empty());
        assert!(counts(&list(4_096, None)).len() < 24);
    }

    #[test]
    fn bars_fit_the_width_and_are_plain() {
        for width in [40, 60, 80, 200] {
            let lines = lines(&list(89, Some(24)), Trust::Rough, width);
            assert!(lines.iter().all(|line| line.is_ascii() && line.len() <= width), "{lines:#?}");
            let longest = lines.iter().find(|line| line.contains("~20.0")).unwrap();
            assert_eq!(longest.len(), width.min(WIDEST));
            assert!(lines.iter().any(|line| line.starts_with("> 24")));
        }
    }

    #[test]
    fn a_step_says_how_far_the_best_palette_is() {
        let mut list = list(10, None);
        assert_eq!(over_best(&list, &step(10, 2.0)), "best");
        assert_eq!(over_best(&list, &step(10, 2.01)), "0.5 %");
        assert_eq!(over_best(&list, &step(11, 2.0)), "best");
        list.curve[0].proved_best = false;
        list.curve[0].lower_bound = DeltaE::new(1.9).unwrap();
        assert_eq!(over_best(&list, &step(10, 2.0)), "<=5.3 %");
        assert!(sureness(&list).contains("5.3 %"), "{}", sureness(&list));
        list.curve[0].lower_bound = DeltaE::default();
        assert_eq!(over_best(&list, &step(10, 2.0)), "<=0.00");
        assert!(sureness(&list).contains("not known"), "{}", sureness(&list));
    }
}
