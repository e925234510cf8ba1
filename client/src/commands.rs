//! From what was typed to the end of the run: one verb a file below.
//! It does not write to the terminal itself and does not compute.

mod affected;
mod apply;
mod apply_stitches;
mod blend;
mod chart_work;
mod check;
mod clean;
mod compare;
mod convert;
mod key_output;
mod matching;
mod merge;
mod outputs;
mod planned;
mod reduce;
mod several;
mod shop;
mod stocked;
mod substitute;
mod table;
mod table_convert;
mod undo;
mod walk;

pub(crate) use clean::Lone;
pub(crate) use outputs::Carried;
pub(crate) use planned::files_object;
pub(crate) use shop::Shop;

use std::ffi::OsString;
use std::path::Path;

use clap::{CommandFactory, FromArgMatches};

use crate::cli::{Cli, Command, ShowArgs, asked_for};
use crate::exit::Exit;
use crate::failure::{Failure, Result};
use crate::files;
use crate::printer::{Printer, Verbosity};
use crate::report::text;

/// Runs one command as typed, program name first. Everything a user sees goes to the printer.
pub fn run(args: impl IntoIterator<Item = OsString>, printer: &mut Printer) -> Exit {
    let exit = match parse(args, printer) {
        Ok(cli) => answer(&cli, printer),
        Err(exit) => exit,
    };
    match printer.finish() {
        Ok(()) if printer.is_closed() => Exit::Done,
        Ok(()) => exit,
        Err(error) => {
            printer.error(&format!("error: writing the answer: {}", files::said(&error)));
            Exit::Input
        }
    }
}

fn parse(
    args: impl IntoIterator<Item = OsString>,
    printer: &mut Printer,
) -> std::result::Result<Cli, Exit> {
    let command = Cli::command().term_width(printer.width());
    let parsed = command.try_get_matches_from(args).and_then(|found| {
        let asked = asked_for(&found);
        Cli::from_arg_matches(&found).map(|cli| cli.with_asked(asked))
    });
    parsed.map_err(|error| {
        let said = error.render().to_string();
        if error.use_stderr() {
            for line in said.trim_end().lines() {
                printer.error(&dyekin_core::error::harmless(line));
            }
            Exit::Input
        } else {
            printer.data(said.trim_end());
            Exit::Done
        }
    })
}

fn answer(cli: &Cli, printer: &mut Printer) -> Exit {
    let Some(command) = &cli.command else {
        let help = Cli::command().term_width(printer.width()).render_help().to_string();
        printer.data(help.trim_end());
        return Exit::Done;
    };
    if show(command).quiet {
        printer.set_verbosity(Verbosity::Quiet);
    }
    dispatch(command, printer).unwrap_or_else(|failure| complain(&failure, printer))
}

fn dispatch(command: &Command, printer: &mut Printer) -> Result<Exit> {
    match command {
        Command::Match(typed) => matching::run(typed, printer),
        Command::Blend(typed) => blend::run(typed, printer),
        Command::Compare(typed) => compare::run(typed, printer),
        Command::Table(typed) => table::run(typed, printer),
        Command::Merge(typed) => merge::run(typed, printer),
        Command::Reduce(typed) => reduce::run(typed, printer),
        Command::Substitute(typed) => substitute::run(typed, printer),
        Command::Convert(typed) => convert::run(typed, printer),
        Command::Check(typed) => check::run(typed, printer),
        Command::Clean(typed) => clean::run(typed, printer),
        Command::Affected(typed) => affected::run(typed, printer),
        Command::Apply(typed) => apply::run(typed, printer),
        Command::Undo(typed) => undo::run(typed, printer),
    }
}

fn show(command: &Command) -> ShowArgs {
    use crate::cli::TableCommand;
    match command {
        Command::Match(typed) => typed.show,
        Command::Blend(typed) => typed.show,
        Command::Compare(typed) => typed.show,
        Command::Merge(typed) => typed.show,
        Command::Reduce(typed) => typed.plan.show,
        Command::Substitute(typed) => typed.plan.show,
        Command::Convert(typed) => typed.plan.show,
        Command::Check(typed) => typed.show,
        Command::Clean(typed) => typed.show,
        Command::Affected(typed) => typed.show,
        Command::Apply(typed) => typed.show,
        Command::Undo(typed) => typed.show,
        Command::Table(TableCommand::Check(typed) | TableCommand::Import(typed)) => typed.show,
        Command::Table(TableCommand::Convert(typed)) => typed.show,
        Command::Table(TableCommand::Audit(typed)) => typed.show,
        Command::Table(TableCommand::Compare(typed)) => typed.show,
        Command::Table(TableCommand::List(typed)) => typed.show,
        Command::Table(TableCommand::Delete(typed)) => typed.show,
    }
}

/// Prints a failure and says how the run ends.
fn complain(failure: &Failure, printer: &mut Printer) -> Exit {
    for line in text::failure(failure) {
        printer.error(&line);
    }
    failure.exit()
}

/// The words of a path for messages and the id that a table of this file gets.
pub(crate) fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}
