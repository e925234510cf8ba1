//! The `dyekin` command. All it knows is how a process begins and ends.

use std::process::ExitCode;
use std::sync::atomic::Ordering;

use dyekin_client::{Exit, Printer, run};

fn main() -> ExitCode {
    let mut printer = Printer::standard();
    let stop = printer.stop_flag();
    // A second Ctrl-C ends a command that does not hear the first one.
    let hears = ctrlc::set_handler(move || {
        if stop.swap(true, Ordering::Relaxed) {
            std::process::exit(Exit::Stopped.code().into());
        }
    });
    if hears.is_err() {
        printer.note("note: Ctrl-C ends this command at once");
    }
    run(std::env::args_os(), &mut printer).into()
}
