//! What went wrong, as a gRPC status with its details: the one place where kinds become codes and
//! reasons. It does not know which method failed.

use std::time::Duration;

use dyekin_core::table::Refused;
use dyekin_core::{Error, ErrorKind, Place};
use dyekin_proto::{ERROR_DOMAIN, v1 as pb};
use prost::Message;
use prost_types::Any;
use tonic::{Code, Status};
use tonic_types::pb as rpc;

/// Longest variable part that a status repeats, in characters.
const PART_CHARS: usize = 200;

/// Longest part that we wrote ourselves, such as a remedy that lists codes, in characters.
const OWN_CHARS: usize = 800;

/// Longest status message, in bytes: some proxies lose longer ones.
const MESSAGE_BYTES: usize = 900;

/// Room for listed problems. With the rest and base64 the trailers stay below the 8 KiB that common
/// clients take.
const PROBLEM_BYTES: usize = 4_096;

/// Full name of the detail that every error has.
const ERROR_INFO: &str = "google.rpc.ErrorInfo";

/// How long a client waits before it asks a busy server again.
const BUSY_DELAY: Duration = Duration::from_millis(500);

/// Why a request got no answer.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The domain refused it, for these reasons; more are not listed.
    Domain(Vec<Error>, usize),
    /// A table file has problems.
    Table(Refused),
    /// The service itself could not.
    Trouble(Trouble),
}

/// Trouble of the service itself, apart from the domain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Trouble {
    Busy,
    CatalogNotLoaded,
    DeadlineExceeded(Duration),
    Internal(String),
    MessageTooLarge(String),
    MessageUnreadable(String),
    MethodUnknown(String),
    PageTokenInvalid,
    RequestIdReused(String),
    TableNotImported(String),
}

/// Code, reason and variable parts of one kind.
struct Row {
    code: Code,
    reason: &'static str,
    metadata: Vec<(String, String)>,
}

impl Row {
    fn new(code: Code, reason: &'static str, parts: &[(&str, &str)]) -> Self {
        let part = |(name, value): &(&str, &str)| ((*name).to_owned(), cut_part(name, value));
        Self { code, reason, metadata: parts.iter().map(part).collect() }
    }

    fn with_list(mut self, name: &str, values: &[String]) -> Self {
        for (place, value) in values.iter().enumerate() {
            self.metadata.push((format!("{name}_{}", place + 1), cut(value)));
        }
        self
    }
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        Self::Domain(vec![error], 0)
    }
}

impl From<Refused> for Failure {
    fn from(refused: Refused) -> Self {
        Self::Table(refused)
    }
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

impl From<Failure> for Status {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::Domain(errors, unlisted) => domain(&errors, unlisted),
            Failure::Table(refused) => table_refused(&refused),
            Failure::Trouble(trouble) => trouble_status(&trouble),
        }
    }
}

impl From<Trouble> for Status {
    fn from(trouble: Trouble) -> Self {
        trouble_status(&trouble)
    }
}

/// The table of kinds. A new kind does not compile until it has its row.
fn row(kind: &ErrorKind) -> Row {
    match kind {
        ErrorKind::BadAnswer { change, reason } => Row::new(
            Code::InvalidArgument,
            "ANSWER_INVALID",
            &[("change", change), ("reason", reason)],
        ),
        ErrorKind::BadCode { value, reason } => {
            Row::new(Code::InvalidArgument, "CODE_INVALID", &[("value", value), ("reason", reason)])
        }
        ErrorKind::BadColor { value, reason, remedy } => Row::new(
            Code::InvalidArgument,
            "COLOR_INVALID",
            &[("value", value), ("reason", reason), ("remedy", remedy)],
        ),
        ErrorKind::BadFile { reason, remedy } => Row::new(
            Code::InvalidArgument,
            "FILE_INVALID",
            &[("reason", reason), ("remedy", remedy)],
        ),
        ErrorKind::BadValue { value, reason, remedy } => Row::new(
            Code::InvalidArgument,
            "VALUE_INVALID",
            &[("value", value), ("reason", reason), ("remedy", remedy)],
        ),
        ErrorKind::ConditionsDiffer { standard, sample } => Row::new(
            Code::FailedPrecondition,
            "CONDITIONS_DIFFER",
            &[("standard", standard), ("sample", sample)],
        ),
        ErrorKind::DuplicateCode { code, lines } => Row::new(
            Code::InvalidArgument,
            "CODE_DUPLICATE",
            &[("code", code), ("lines", &joined(lines))],
        ),
        ErrorKind::Impossible { reason, nearest } => Row::new(
            Code::FailedPrecondition,
            "NO_CHOICE_LEFT",
            &[("reason", reason), ("nearest", nearest)],
        ),
        ErrorKind::OverLimit { what, found, limit } => Row::new(
            Code::ResourceExhausted,
            "LIMIT_EXCEEDED",
            &[("what", what), ("found", &found.to_string()), ("limit", &limit.to_string())],
        ),
        ErrorKind::Stopped => Row::new(Code::Cancelled, "WORK_STOPPED", &[]),
        ErrorKind::UnknownTable { table, known } => {
            Row::new(Code::NotFound, "THREAD_TABLE_NOT_FOUND", &[("table", table)])
                .with_list("known", known)
        }
        ErrorKind::UnknownThread { table, code, near } => {
            Row::new(Code::NotFound, "THREAD_NOT_FOUND", &[("table", table), ("code", code)])
                .with_list("near", near)
        }
    }
}

/// Code, reason, message and variable parts of the service's own trouble.
fn trouble_row(trouble: &Trouble) -> (Row, String) {
    match trouble {
        Trouble::Busy => (
            Row::new(Code::ResourceExhausted, "SERVER_BUSY", &[]),
            "too much work is waiting; ask again".into(),
        ),
        Trouble::CatalogNotLoaded => (
            Row::new(Code::Unavailable, "CATALOG_NOT_LOADED", &[]),
            "the thread tables are not loaded yet; ask again".into(),
        ),
        Trouble::DeadlineExceeded(timeout) => (
            Row::new(
                Code::DeadlineExceeded,
                "DEADLINE_EXCEEDED",
                &[("timeout_millis", &timeout.as_millis().to_string())],
            ),
            format!("no answer within {} s", timeout.as_secs_f64()),
        ),
        Trouble::Internal(error_id) => (
            Row::new(Code::Internal, "INTERNAL", &[("error_id", error_id)]),
            format!("a defect of the server, logged as {error_id}"),
        ),
        Trouble::MessageTooLarge(message) => {
            (Row::new(Code::ResourceExhausted, "MESSAGE_TOO_LARGE", &[]), message.clone())
        }
        Trouble::MessageUnreadable(message) => {
            (Row::new(Code::InvalidArgument, "MESSAGE_UNREADABLE", &[]), message.clone())
        }
        Trouble::MethodUnknown(path) => (
            Row::new(Code::Unimplemented, "METHOD_UNKNOWN", &[("path", path)]),
            "the server has no such method".into(),
        ),
        Trouble::PageTokenInvalid => (
            Row::new(Code::InvalidArgument, "PAGE_TOKEN_INVALID", &[]),
            "the page token belongs to another request or table version; begin anew".into(),
        ),
        Trouble::RequestIdReused(id) => (
            Row::new(Code::InvalidArgument, "REQUEST_ID_REUSED", &[("request_id", id)]),
            "the request id belongs to another request; give each write its own".into(),
        ),
        Trouble::TableNotImported(table) => (
            Row::new(Code::FailedPrecondition, "TABLE_NOT_IMPORTED", &[("table", table)]),
            format!(
                "table {table} is a file of the server's directory; remove the file and reload"
            ),
        ),
    }
}

fn trouble_status(trouble: &Trouble) -> Status {
    let (row, message) = trouble_row(trouble);
    let mut details = vec![any(ERROR_INFO, &error_info(row.reason, row.metadata))];
    if *trouble == Trouble::Busy {
        let retry_delay = prost_types::Duration::try_from(BUSY_DELAY).ok();
        details.push(any("google.rpc.RetryInfo", &rpc::RetryInfo { retry_delay }));
    }
    status(row.code, &message, details)
}

fn domain(errors: &[Error], unlisted: usize) -> Status {
    let Some(first) = errors.first() else {
        return trouble_status(&Trouble::Internal("no-reason".into()));
    };
    let row = row(first.kind());
    let listed = Listed::new(errors, unlisted);
    let mut details = vec![any(ERROR_INFO, &error_info(row.reason, row.metadata))];
    details.extend(listed.into_details());
    status(row.code, &summary(errors, unlisted), details)
}

fn table_refused(refused: &Refused) -> Status {
    let count = refused.problems.len() + refused.unlisted;
    let listed = Listed::new(&refused.problems, refused.unlisted);
    let parts = vec![
        ("problem_count".to_owned(), count.to_string()),
        ("listed_count".to_owned(), listed.list.problems.len().to_string()),
    ];
    let mut details = vec![any(ERROR_INFO, &error_info("TABLE_REFUSED", parts))];
    details.extend(listed.into_details());
    status(Code::InvalidArgument, &summary(&refused.problems, refused.unlisted), details)
}

fn summary(errors: &[Error], unlisted: usize) -> String {
    let more = errors.len().saturating_sub(1) + unlisted;
    match errors.first() {
        Some(first) if more == 0 => first.to_string(),
        Some(first) => format!("{first} (and {more} more)"),
        None => "the request is refused".to_owned(),
    }
}

/// The problems that fit, in both forms: ours with every part, and the standard one.
struct Listed {
    list: pb::ProblemList,
    bad_request: rpc::BadRequest,
}

impl Listed {
    fn new(errors: &[Error], unlisted: usize) -> Self {
        let mut list = pb::ProblemList { problems: Vec::new(), unlisted_count: 0 };
        let mut bad_request = rpc::BadRequest { field_violations: Vec::new() };
        let mut bytes = 0;
        for error in errors {
            let problem = problem(error);
            let violation = violation(error, &problem.reason);
            bytes += problem.encoded_len() + violation.encoded_len();
            if bytes > PROBLEM_BYTES && !list.problems.is_empty() {
                break;
            }
            list.problems.push(problem);
            bad_request.field_violations.push(violation);
        }
        let left = errors.len() - list.problems.len() + unlisted;
        list.unlisted_count = i64::try_from(left).unwrap_or(i64::MAX);
        Self { list, bad_request }
    }

    fn into_details(self) -> [Any; 2] {
        [any("google.rpc.BadRequest", &self.bad_request), any("dyekin.v1.ProblemList", &self.list)]
    }
}

/// A problem with every part that the same error can be made from again.
pub(super) fn problem(error: &Error) -> pb::Problem {
    let row = row(error.kind());
    let metadata: std::collections::BTreeMap<_, _> = row.metadata.into_iter().collect();
    pb::Problem {
        reason: row.reason.to_owned(),
        message: cut(&error.kind().to_string()),
        place: error.place().map(place),
        value: metadata.get("value").cloned().unwrap_or_default(),
        remedy: error.hint().map(|hint| cut_part("remedy", &hint)).unwrap_or_default(),
        metadata,
    }
}

/// A place on the wire.
pub(super) fn place(place: &Place) -> pb::Place {
    pb::Place {
        source_name: place.source_name.as_deref().map(cut).unwrap_or_default(),
        line: place.line.and_then(|line| i64::try_from(line).ok()),
        column: place.column.as_deref().map(cut).unwrap_or_default(),
        field: place.field.as_deref().map(cut).unwrap_or_default(),
    }
}

fn violation(error: &Error, reason: &str) -> rpc::bad_request::FieldViolation {
    rpc::bad_request::FieldViolation {
        field: error.place().map(|place| cut(&place.to_string())).unwrap_or_default(),
        description: cut(&error.kind().to_string()),
        reason: reason.to_owned(),
        localized_message: None,
    }
}

fn error_info(reason: &str, metadata: Vec<(String, String)>) -> rpc::ErrorInfo {
    rpc::ErrorInfo {
        reason: reason.to_owned(),
        domain: ERROR_DOMAIN.to_owned(),
        metadata: metadata.into_iter().collect(),
    }
}

fn any(name: &str, message: &impl Message) -> Any {
    Any { type_url: format!("type.googleapis.com/{name}"), value: message.encode_to_vec() }
}

fn status(code: Code, message: &str, details: Vec<Any>) -> Status {
    let message: String = dyekin_core::error::harmless(message);
    let message = message.get(..message.floor_char_boundary(MESSAGE_BYTES)).unwrap_or_default();
    let all = rpc::Status { code: code.into(), message: message.to_owned(), details };
    Status::with_details(code, message, all.encode_to_vec().into())
}

/// A variable part, cut at 200 characters.
fn cut(text: &str) -> String {
    text.chars().take(PART_CHARS).collect()
}

/// A part by its name: words of our own may be longer than what a caller sent.
fn cut_part(name: &str, text: &str) -> String {
    match name {
        "remedy" | "nearest" => text.chars().take(OWN_CHARS).collect(),
        _ => cut(text),
    }
}

fn joined(lines: &[u64]) -> String {
    lines.iter().map(ToString::to_string).collect::<Vec<_>>().join(",")
}

#[cfg(test)]
mod tests {
    use tonic_types::StatusExt;

    use super::*;

    fn every_kind() -> Vec<(ErrorKind, Code, &'static str)> {
        let text = || "text".to_owned();
        let texts = || vec!["one".to_owned(), "two".to_owned()];
        let bad = Code::InvalidArgument;
        vec![
            (ErrorKind::BadAnswer { change: text(), reason: text() }, bad, "ANSWER_INVALID"),
            (ErrorKind::BadCode { value: text(), reason: text() }, bad, "CODE_INVALID"),
            (
                ErrorKind::BadColor { value: text(), reason: text(), remedy: text() },
                bad,
                "COLOR_INVALID",
            ),
            (ErrorKind::BadFile { reason: text(), remedy: text() }, bad, "FILE_INVALID"),
            (
                ErrorKind::BadValue { value: text(), reason: text(), remedy: text() },
                bad,
                "VALUE_INVALID",
            ),
            (
                ErrorKind::ConditionsDiffer { standard: text(), sample: text() },
                Code::FailedPrecondition,
                "CONDITIONS_DIFFER",
            ),
            (ErrorKind::DuplicateCode { code: text(), lines: vec![3, 9] }, bad, "CODE_DUPLICATE"),
            (
                ErrorKind::Impossible { reason: text(), nearest: text() },
                Code::FailedPrecondition,
                "NO_CHOICE_LEFT",
            ),
            (
                ErrorKind::OverLimit { what: text(), found: 2, limit: 1 },
                Code::ResourceExhausted,
                "LIMIT_EXCEEDED",
            ),
            (ErrorKind::Stopped, Code::Cancelled, "WORK_STOPPED"),
            (
                ErrorKind::UnknownTable { table: text(), known: texts() },
                Code::NotFound,
                "THREAD_TABLE_NOT_FOUND",
            ),
            (
                ErrorKind::UnknownThread { table: text(), code: text(), near: texts() },
                Code::NotFound,
                "THREAD_NOT_FOUND",
            ),
        ]
    }

    #[test]
    fn every_kind_has_its_code_reason_and_all_its_parts() {
        for (kind, code, reason) in every_kind() {
            let parts = format!("{kind:?}").matches(['"']).count() / 2;
            let error = Error::new(kind).at(Place::cell(7, "hex"));
            let status = Status::from(Failure::from(error.clone()));
            assert_eq!(status.code(), code, "{reason}");
            let info = status.get_details_error_info().unwrap();
            assert_eq!((info.reason.as_str(), info.domain.as_str()), (reason, ERROR_DOMAIN));
            // Lists of numbers are one part, numbers are parts too.
            assert!(info.metadata.len() >= parts, "{reason}: {:?}", info.metadata);
            let field = &status.get_details_bad_request().unwrap().field_violations[0].field;
            assert_eq!(field, "line 7, column hex");
            let problem = problem(&error);
            assert_eq!(problem.place.unwrap().line, Some(7));
            assert_eq!(problem.message, error.kind().to_string());
            assert_eq!(problem.remedy, error.hint().unwrap_or_default());
        }
    }

    #[test]
    fn a_long_part_is_cut_and_the_rest_is_counted() {
        let error = |place: u64| {
            let value = "\u{202e}".repeat(5_000);
            Error::new(ErrorKind::BadCode { value, reason: "why".into() }).at(Place::line(place))
        };
        let errors: Vec<_> = (0..50).map(error).collect();
        let listed = Listed::new(&errors, 3);
        let shown = listed.list.problems.len();
        assert!((1..50).contains(&shown));
        assert_eq!(listed.list.unlisted_count, i64::try_from(53 - shown).unwrap());
        let status = Status::from(Failure::Domain(errors, 3));
        assert!(status.details().len() < 6_000, "{}", status.details().len());
        assert!(status.message().len() <= MESSAGE_BYTES);
        assert!(!status.message().contains('\u{202e}'));
    }
}
