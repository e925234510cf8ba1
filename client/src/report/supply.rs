//! Where the threads of a conversion come from, for people: ranges, own threads, what to buy.
//! It does not decide anything, and it does not write.

use dyekin_core::change::{OwnReport, Purchase, Question, RangeReport};
use dyekin_core::{ChangeList, DeltaE};
use serde_json::{Value, json};

use super::changes::{shown_gap, trust};
use super::{counted, json as as_json, rounded, text, thousands};

/// Sentences about the supply; none where a conversion had nothing to choose.
pub(super) fn sentences(list: &ChangeList, details: bool) -> Vec<String> {
    let mut said = Vec::new();
    if list.question == Question::Convert {
        said.extend(apart(list));
    }
    if let Some(report) = &list.ranges {
        said.extend(ranges(list, report, details));
    }
    if let Some(report) = &list.own {
        said.extend(own(report));
    }
    said
}

/// How far colors stay apart, where each was to have a thread of its own.
fn apart(list: &ChangeList) -> Option<String> {
    let joint = list.joint.as_ref().filter(|joint| joint.loosened.is_empty())?;
    let best = list.totals.proved_best && list.ranges.is_none();
    let best = if best { " No others are nearer." } else { "" };
    Some(match joint.least_apart {
        Some(least) => format!(
            "Every color has a thread of its own, {:.1} from the next one at least.{best}",
            least.value()
        ),
        None => format!("Every color has a thread of its own.{best}"),
    })
}

fn ranges(list: &ChangeList, report: &RangeReport, details: bool) -> Vec<String> {
    let (used, unused): (Vec<_>, Vec<_>) =
        report.ranges.iter().partition(|range| range.threads > 0);
    let mut used: Vec<_> = used;
    used.sort_by_key(|range| std::cmp::Reverse(range.stitches));
    let gives = used.iter().map(|range| {
        let threads = counted(range.threads as u64, "thread", "threads");
        format!("{threads} of {}", range.table)
    });
    let mut said = vec![format!("{}.", gives.collect::<Vec<_>>().join(", "))];
    let spared: Vec<&str> = unused
        .iter()
        .filter(|range| range.price > DeltaE::default())
        .map(|range| range.table.as_str())
        .collect();
    if !spared.is_empty() {
        let (is, its) = if spared.len() == 1 { ("is", "its") } else { ("are", "their") };
        said.push(format!("{} {is} not worth {its} price.", spared.join(", ")));
    }
    let trust = trust(list);
    if report.proved_best {
        said.push("No other choice of ranges does better.".to_owned());
    } else if let Some(bound) = report.lower_bound.map(DeltaE::value).filter(|bound| *bound > 0.0) {
        let gap = ((report.cost.value() / bound - 1.0) * 100.0).max(0.0);
        said.push(format!("At most {} % from the best possible.", shown_gap(gap)));
    }
    if details {
        let bound = report.lower_bound.map_or(0.0, DeltaE::value);
        said.push(format!(
            "Mean difference with the prices of ranges {}, lower bound {bound:.4}.",
            rounded(report.cost.value(), trust)
        ));
    }
    said
}

fn own(report: &OwnReport) -> Vec<String> {
    let all = report.usable + report.unsuited;
    let threads = counted(all as u64, "thread that you own", "threads that you own");
    let serve = if report.used == 1 { "serves" } else { "serve" };
    let mut said = vec![format!("{} of {threads} {serve}.", thousands(report.used as u64))];
    if report.unsuited > 0 {
        let left = counted(report.unsuited as u64, "is", "are");
        said.push(format!("{left} left out: excluded, or of another finish or fiber."));
    }
    let Some(limit) = report.within else {
        said.extend(report.purchases.iter().map(buy));
        return said;
    };
    let limit = limit.value();
    let bought = report.purchases.len();
    let few = if report.proved_fewest { "no fewer do" } else { "perhaps fewer do" };
    said.push(match bought {
        0 => format!("Nothing to buy: what you own is within {limit:.1}."),
        1 => format!("1 thread to buy, to come within {limit:.1}:"),
        _ => {
            let bought = thousands(bought as u64);
            format!("{bought} threads to buy, to come within {limit:.1}; {few}:")
        }
    });
    said.extend(report.purchases.iter().map(buy));
    if report.beyond > 0 {
        let colors = counted(report.beyond as u64, "color has", "colors have");
        said.push(format!(
            "{colors} no thread within {limit:.1} in the tables, and {} the nearest at hand.",
            if report.beyond == 1 { "gets" } else { "get" }
        ));
    }
    said
}

fn buy(purchase: &Purchase) -> String {
    let colors = counted(purchase.colors as u64, "color", "colors");
    let stitches = counted(purchase.stitches, "stitch", "stitches");
    let name = text::thread_name(&purchase.thread, &purchase.name);
    format!("buy {name} for {colors}, {stitches}")
}

/// The ranges as JSON.
pub(super) fn ranges_json(report: &RangeReport) -> Value {
    let ranges: Vec<Value> = report
        .ranges
        .iter()
        .map(|range| {
            json!({
                "table": range.table.as_str(),
                "price": range.price.value(),
                "threads": range.threads,
                "stitches": range.stitches,
            })
        })
        .collect();
    json!({
        "ranges": ranges,
        "cost": report.cost.value(),
        "lower_bound": report.lower_bound.map(DeltaE::value),
        "proved_best": report.proved_best,
    })
}

/// The own threads as JSON.
pub(super) fn own_json(report: &OwnReport) -> Value {
    let purchase = |held: &Purchase| {
        let mut object = serde_json::Map::new();
        object.insert("table".into(), json!(held.thread.table.as_str()));
        object.insert("code".into(), json!(held.thread.code.as_str()));
        object.insert("name".into(), json!(held.name));
        if let Value::Object(members) = as_json::color(&held.color) {
            object.extend(members);
        }
        object.insert("colors".into(), json!(held.colors));
        object.insert("stitches".into(), json!(held.stitches));
        Value::Object(object)
    };
    json!({
        "usable": report.usable,
        "unsuited": report.unsuited,
        "used": report.used,
        "buy_within": report.within.map(DeltaE::value),
        "buy": report.purchases.iter().map(purchase).collect::<Vec<_>>(),
        "beyond": report.beyond,
        "proved_fewest": report.proved_fewest,
    })
}
