//! Problems of a message as the domain's own errors, so that a server says what this process would.
//! It does not know status codes.

use dyekin_core::error::{Error, ErrorKind, Place};

use super::wire;
use crate::failure::Failure;

/// All problems of a refused request or file.
pub(super) fn failure(list: &wire::ProblemList) -> Failure {
    Failure::Domain {
        errors: list.problems.iter().map(error).collect(),
        unlisted: usize::try_from(list.unlisted_count).unwrap_or(0),
    }
}

/// One problem.
pub(super) fn error(problem: &wire::Problem) -> Error {
    let error = Error::new(kind(problem));
    match &problem.place {
        Some(found) => error.at(place(found)),
        None => error,
    }
}

/// A place in a file or request.
pub(super) fn place(place: &wire::Place) -> Place {
    let text = |text: &String| Some(text.clone()).filter(|text| !text.is_empty());
    Place {
        source_name: text(&place.source_name),
        line: place.line.and_then(|line| u64::try_from(line).ok()),
        column: text(&place.column),
        field: text(&place.field),
    }
}

fn kind(problem: &wire::Problem) -> ErrorKind {
    let part = |name: &str| problem.metadata.get(name).cloned().unwrap_or_default();
    let number = |name: &str| part(name).parse().unwrap_or(0);
    match problem.reason.as_str() {
        "ANSWER_INVALID" => ErrorKind::BadAnswer { change: part("change"), reason: part("reason") },
        "CODE_INVALID" => ErrorKind::BadCode { value: part("value"), reason: part("reason") },
        "COLOR_INVALID" => ErrorKind::BadColor {
            value: part("value"),
            reason: part("reason"),
            remedy: part("remedy"),
        },
        "FILE_INVALID" => ErrorKind::BadFile { reason: part("reason"), remedy: part("remedy") },
        "VALUE_INVALID" => ErrorKind::BadValue {
            value: part("value"),
            reason: part("reason"),
            remedy: part("remedy"),
        },
        "CONDITIONS_DIFFER" => {
            ErrorKind::ConditionsDiffer { standard: part("standard"), sample: part("sample") }
        }
        "CODE_DUPLICATE" => ErrorKind::DuplicateCode {
            code: part("code"),
            lines: part("lines").split(',').filter_map(|line| line.trim().parse().ok()).collect(),
        },
        "NO_CHOICE_LEFT" => {
            ErrorKind::Impossible { reason: part("reason"), nearest: part("nearest") }
        }
        "LIMIT_EXCEEDED" => ErrorKind::OverLimit {
            what: part("what"),
            found: number("found"),
            limit: number("limit"),
        },
        "WORK_STOPPED" => ErrorKind::Stopped,
        "THREAD_TABLE_NOT_FOUND" => {
            ErrorKind::UnknownTable { table: part("table"), known: listed(problem, "known") }
        }
        "THREAD_NOT_FOUND" => ErrorKind::UnknownThread {
            table: part("table"),
            code: part("code"),
            near: listed(problem, "near"),
        },
        // A newer server may know reasons that we do not; its words are still good.
        _ => ErrorKind::BadFile { reason: problem.message.clone(), remedy: problem.remedy.clone() },
    }
}

/// The values `name_1`, `name_2`, … in their order.
fn listed(problem: &wire::Problem, name: &str) -> Vec<String> {
    (1..)
        .map_while(|count: usize| problem.metadata.get(&format!("{name}_{count}")).cloned())
        .collect()
}
