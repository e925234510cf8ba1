//! How the command ends, as a number for the shell.
//! It does not know why: the printer has said that before.

use std::process::ExitCode;

/// The end of one run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Exit {
    /// Done. A closed pipe counts as done too.
    Done,
    /// Done, but nothing matched: each command says in its help what that means for it.
    NothingMatched,
    /// The user's input is wrong: arguments, files, tables, charts.
    Input,
    /// The server cannot be reached or did not answer in time.
    Unreachable,
    /// A fault of this program.
    Bug,
    /// Stopped by Ctrl-C; nothing was written, but for the charts that a run over several had done.
    Stopped,
}

impl Exit {
    /// The number: 0, 1, 2, 3, 70 or 130.
    ///
    /// Source: 70 is `EX_SOFTWARE` of BSD sysexits.h; 130 is 128 + SIGINT, common practice of shells.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::NothingMatched => 1,
            Self::Input => 2,
            Self::Unreachable => 3,
            Self::Bug => 70,
            Self::Stopped => 130,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
