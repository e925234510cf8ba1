//! Why a command could not answer: what is wrong with the input, the files, the server or us.
//! It does not know how a failure is printed.

use std::fmt;

use dyekin_core::table::Refused;
use dyekin_core::{Error, ErrorKind};

use crate::exit::Exit;

/// A result of this crate.
pub type Result<T> = std::result::Result<T, Failure>;

/// Why a command gave up.
#[derive(Clone, Debug, PartialEq)]
pub enum Failure {
    /// A fault of this program or of the server.
    Bug {
        /// What did not hold.
        what: String,
    },
    /// Problems that the domain found, all at once.
    Domain {
        /// The problems, in the order of the input.
        errors: Vec<Error>,
        /// Problems beyond those listed.
        unlisted: usize,
    },
    /// Arguments or files that cannot be used as they are.
    Said {
        /// What is wrong.
        message: String,
        /// What to do, when there is something.
        hint: Option<String>,
    },
    /// The server did not answer before the deadline.
    TimedOut {
        /// The server as the user named it.
        server: String,
    },
    /// The server cannot be reached.
    Unreachable {
        /// The server as the user named it.
        server: String,
        /// What the network said.
        reason: String,
    },
}

impl Failure {
    /// A message with a hint.
    pub fn said(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Said { message: message.into(), hint: Some(hint.into()) }
    }

    /// How the command ends.
    #[must_use]
    pub fn exit(&self) -> Exit {
        match self {
            Self::Bug { .. } => Exit::Bug,
            Self::Domain { errors, .. } if errors.iter().any(is_stop) => Exit::Stopped,
            Self::Domain { .. } | Self::Said { .. } => Exit::Input,
            Self::TimedOut { .. } | Self::Unreachable { .. } => Exit::Unreachable,
        }
    }
}

fn is_stop(error: &Error) -> bool {
    *error.kind() == ErrorKind::Stopped
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        Self::Domain { errors: vec![error], unlisted: 0 }
    }
}

impl From<Refused> for Failure {
    fn from(refused: Refused) -> Self {
        Self::Domain { errors: refused.problems, unlisted: refused.unlisted }
    }
}

impl From<Vec<Error>> for Failure {
    fn from(errors: Vec<Error>) -> Self {
        Self::Domain { errors, unlisted: 0 }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bug { what } => f.write_str(what),
            Self::Domain { errors, .. } => match errors.first() {
                Some(error) => error.fmt(f),
                None => f.write_str("the input cannot be used"),
            },
            Self::Said { message, .. } => f.write_str(message),
            Self::TimedOut { server } => write!(f, "{server} did not answer in time"),
            Self::Unreachable { server, reason } => {
                write!(f, "{server} cannot be reached: {reason}")
            }
        }
    }
}

impl std::error::Error for Failure {}
