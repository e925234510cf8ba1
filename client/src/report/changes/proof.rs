//! How good a reduction is, in words: what no other threads do, or how far from the best it may be.
//! It does not prove anything.

use dyekin_core::change::{Combined, Question, ReduceReport, ThreadNeed, Weighing, to_pay};
use dyekin_core::{ChangeList, DeltaE};

use super::{Told, combined_gap_percent, gap_percent};
use crate::report::{counted, text};

/// Largest gap, in percent, that is worth saying without being asked. House choice.
const GAP_WORTH_SAYING: f64 = 25.0;

/// Gap, in percent, that a search calls closed: a ten-thousandth of what is shown.
const GAP_CLOSED: f64 = 1e-4;

/// The sentences, where a number of threads was chosen.
pub(super) fn said(told: &Told<'_>) -> Option<String> {
    let list = told.list;
    if list.question != Question::Reduce {
        return None;
    }
    let report = list.reduction.as_ref();
    let mut said: Vec<String> = Vec::new();
    said.extend(report.and_then(|report| fewest(report, list.totals.threads_after)));
    if list.totals.proved_best {
        said.push(best(list));
    } else if let Some(combined) = &list.totals.combined {
        said.extend(with_edges(told, combined));
    } else {
        let worth_saying = |gap: &f64| told.details || *gap <= GAP_WORTH_SAYING;
        let gap = gap_percent(list).filter(worth_saying);
        said.extend(gap.map(|gap| format!("At most {} % from the best possible.", shown_gap(gap))));
    }
    said.extend(report.and_then(|report| to_get(report, list.totals.threads_after)));
    said.extend(report.and_then(|report| to_pay(&report.needs)).map(|(skeins, price)| {
        let skeins = counted(skeins, "skein", "skeins");
        format!("{skeins} to buy for {}.", text::price(price))
    }));
    if told.details {
        said.extend(bound(list));
        said.extend(list.totals.combined.as_ref().map(|combined| {
            let Combined { lost_contrast, total, lower_bound, .. } = combined;
            format!(
                "Lost contrast {lost_contrast:.4}, together {total:.4}, lower bound {lower_bound:.4}."
            )
        }));
    }
    (!said.is_empty()).then(|| said.join(" "))
}

/// How good mean difference and lost contrast are together.
fn with_edges(told: &Told<'_>, combined: &Combined) -> Option<String> {
    let threads = counted(told.list.totals.threads_after as u64, "thread does", "threads do");
    let best = match told.list.reduction.as_ref().is_some_and(is_priced) {
        true => "No other choice is worth more with edges kept.".to_owned(),
        false => format!("No {threads} better with edges kept."),
    };
    match combined_gap_percent(combined)? {
        gap if gap <= GAP_CLOSED => Some(best),
        gap => (told.details || gap <= GAP_WORTH_SAYING).then(|| {
            format!("At most {} % from the best possible with edges kept.", shown_gap(gap))
        }),
    }
}

/// That fewer threads do not hold the tolerance.
fn fewest(report: &ReduceReport, found: usize) -> Option<String> {
    let fewest = report.fewest?;
    let tolerance = report.tolerance?.value();
    let fewer = fewest.checked_sub(1).filter(|fewer| *fewer > 0);
    let no = fewer.map(|fewer| {
        let threads = counted(fewer as u64, "thread keeps", "threads keep");
        format!("No {threads} every color within {tolerance}")
    });
    match (no, fewest < found) {
        (Some(no), true) => Some(format!("{no}; the fewest found are {found}.")),
        (Some(no), false) => Some(format!("{no}.")),
        (None, true) => Some(format!("Fewer than {found} threads were not found.")),
        (None, false) => None,
    }
}

/// That nothing is better in what was made small.
fn best(list: &ChangeList) -> String {
    let threads = counted(list.totals.threads_after as u64, "thread", "threads");
    let verb = if list.totals.threads_after == 1 { "does" } else { "do" };
    let Some(report) = list.reduction.as_ref() else {
        return format!("No {threads} {verb} better.");
    };
    let by = match report.weighing {
        Weighing::Plain => "",
        Weighing::Squared => " by squared differences",
    };
    if is_priced(report) {
        return format!("No other choice is worth more{by}.");
    }
    match report.tolerance {
        Some(most) => format!("No {threads} within {} {verb} better{by}.", most.value()),
        None => format!("No {threads} {verb} better{by}."),
    }
}

/// How many threads are not owned, where some are.
fn to_get(report: &ReduceReport, all: usize) -> Option<String> {
    let owned = all.checked_sub(report.threads_to_get).filter(|owned| *owned > 0)?;
    is_priced(report).then(|| format!("Of the {all} threads you own {owned}."))
}

fn is_priced(report: &ReduceReport) -> bool {
    report.thread_worth > DeltaE::default() || report.money_worth > DeltaE::default()
}

/// How much of each thread is needed, a line each.
pub(super) fn needs(list: &ChangeList) -> Vec<String> {
    let needs = list.reduction.as_ref().map_or(&[] as &[_], |report| &report.needs);
    let line = |need: &ThreadNeed| {
        let mut said = format!("{}: {:.1} m", text::thread_name(&need.thread, ""), need.meters);
        if let Some(skeins) = need.skeins {
            said.push_str(&format!(", {}", counted(skeins, "skein", "skeins")));
        }
        if let Some(price) = need.price {
            said.push_str(&format!(", {}", text::price(price)));
        }
        if need.owned {
            said.push_str(", owned");
        }
        if let Some(meters) = need.stock_meters {
            said.push_str(&format!("; {meters:.1} m are there"));
        }
        said
    };
    needs.iter().map(line).collect()
}

fn bound(list: &ChangeList) -> Option<String> {
    let formula = list.formula;
    let totals = &list.totals;
    if let Some(bound) = totals.lower_bound {
        let (mean, bound) = (totals.mean_difference.value(), bound.value());
        return Some(format!("Mean difference {mean:.4}, lower bound {bound:.4}, {formula}."));
    }
    let report = list.reduction.as_ref()?;
    let (total, bound) = (report.total, report.bound?);
    Some(format!("Made small: {total:.4}, lower bound {bound:.4}, {formula}."))
}

/// A gap as people read it: never rounded down to nothing.
pub(crate) fn shown_gap(gap: f64) -> String {
    let tenths = (gap * 10.0).ceil() / 10.0;
    format!("{tenths:.1}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_is_never_rounded_down() {
        assert_eq!(shown_gap(0.01), "0.1");
        assert_eq!(shown_gap(0.4), "0.4");
        assert_eq!(shown_gap(3.21), "3.3");
    }

    fn report(fewest: usize) -> ReduceReport {
        ReduceReport {
            max_threads: None,
            tolerance: Some(DeltaE::new(6.5).unwrap()),
            fewest: Some(fewest),
            weighing: Weighing::Plain,
            thread_worth: DeltaE::default(),
            threads_to_get: 9,
            money_worth: DeltaE::default(),
            needs: Vec::new(),
            total: 1.0,
            bound: Some(1.0),
        }
    }

    #[test]
    fn the_fewest_threads_are_told_from_the_fewest_found() {
        let said = |proved, found| fewest(&report(proved), found);
        assert_eq!(said(1, 1), None);
        assert_eq!(said(2, 2).unwrap(), "No 1 thread keeps every color within 6.5.");
        assert_eq!(said(9, 9).unwrap(), "No 8 threads keep every color within 6.5.");
        let open = "No 7 threads keep every color within 6.5; the fewest found are 9.";
        assert_eq!(said(8, 9).unwrap(), open);
        assert_eq!(said(0, 9).unwrap(), "Fewer than 9 threads were not found.");
    }
}
