//! The only place that writes to the terminal: data, notes, errors, progress, width and color.
//! It does not know what is said: reports hand it finished lines.

use std::cell::{Cell, RefCell};
use std::io::{self, IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use dyekin_core::Srgb8;
use dyekin_core::watch::{Progress, Watch};

/// Columns when nobody says how wide the output is.
const DEFAULT_WIDTH: usize = 80;

/// Narrowest width that lines are broken for.
const MIN_WIDTH: usize = 20;

/// Work shorter than this shows no progress. House choice: half a second is noticed, less is not.
const PROGRESS_AFTER: Duration = Duration::from_millis(500);

/// Time between two states of the progress line.
const PROGRESS_EVERY: Duration = Duration::from_millis(100);

/// How much is said beside the data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verbosity {
    /// Errors only.
    Quiet,
    /// Notes and cautions too.
    Normal,
}

/// Where everything goes that a user sees.
pub struct Printer {
    out: Box<dyn Write>,
    err: Box<dyn Write>,
    width: usize,
    color: bool,
    watched: bool,
    verbosity: Verbosity,
    failed: Option<io::Error>,
    stop: Arc<AtomicBool>,
    /// True while a line of progress stands on the terminal.
    drawn: bool,
}

impl std::fmt::Debug for Printer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Printer")
            .field("width", &self.width)
            .field("color", &self.color)
            .field("verbosity", &self.verbosity)
            .finish_non_exhaustive()
    }
}

impl Printer {
    /// The printer of a real run: standard output and standard error, with the width of the
    /// terminal or of `COLUMNS`, and color unless `NO_COLOR` is set or the output is no terminal.
    #[must_use]
    pub fn standard() -> Self {
        let terminal = io::stdout().is_terminal();
        let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
            || std::env::var_os("TERM").is_some_and(|value| value == "dumb");
        Self {
            out: Box::new(io::BufWriter::new(io::stdout())),
            err: Box::new(io::stderr()),
            width: standard_width(),
            color: terminal && !plain,
            watched: io::stderr().is_terminal(),
            verbosity: Verbosity::Normal,
            failed: None,
            stop: Arc::new(AtomicBool::new(false)),
            drawn: false,
        }
    }

    /// A printer that keeps everything, for tests: no color, no progress.
    #[must_use]
    pub fn captured(width: usize) -> (Self, Captured) {
        Self::kept(width, Arc::new(AtomicBool::new(false)))
    }

    /// A printer that keeps everything said, for work beside other work, and hears the same Ctrl-C.
    #[must_use]
    pub fn kept(width: usize, stop: Arc<AtomicBool>) -> (Self, Captured) {
        let captured = Captured::default();
        let printer = Self {
            out: Box::new(captured.out.clone()),
            err: Box::new(captured.err.clone()),
            width: width.max(MIN_WIDTH),
            color: false,
            watched: false,
            verbosity: Verbosity::Normal,
            failed: None,
            stop,
            drawn: false,
        };
        (printer, captured)
    }

    /// Columns that a line may take.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// The flag that a Ctrl-C sets.
    #[must_use]
    pub fn stop_flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.stop)
    }

    /// True once a Ctrl-C was heard.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Says how much is said beside the data.
    pub fn set_verbosity(&mut self, verbosity: Verbosity) {
        self.verbosity = verbosity;
    }

    /// Two blanks on the color, for a terminal with color; nothing otherwise.
    #[must_use]
    pub fn swatch(&self, color: Srgb8) -> String {
        if !self.color {
            return String::new();
        }
        format!("\u{1b}[48;2;{};{};{}m  \u{1b}[0m ", color.red, color.green, color.blue)
    }

    /// Writes a line of data to standard output.
    pub fn data(&mut self, line: &str) {
        self.wipe();
        let result = writeln!(self.out, "{line}");
        self.keep_first_failure(result);
    }

    /// Writes a line beside the data, unless the user wants quiet.
    pub fn note(&mut self, line: &str) {
        if self.verbosity > Verbosity::Quiet {
            self.error(line);
        }
    }

    /// Writes advice beside the data, wrapped to the width, unless the user wants quiet.
    pub fn caution(&mut self, words: &str) {
        for line in crate::report::text::wrap(words, self.width, 2) {
            self.note(&line);
        }
    }

    /// Writes a line to standard error, always.
    pub fn error(&mut self, line: &str) {
        self.wipe();
        let result = self.out.flush();
        self.keep_first_failure(result);
        // Nobody is left to hear that standard error is closed.
        let _ = writeln!(self.err, "{line}");
    }

    /// Whoever read the data went away: the rest needs no work.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.failed.as_ref().is_some_and(|error| error.kind() == io::ErrorKind::BrokenPipe)
    }

    /// Writes out what is held back. A closed pipe is no error: the reader had enough.
    ///
    /// # Errors
    ///
    /// The first failure to write data, such as a full disk.
    pub fn finish(&mut self) -> io::Result<()> {
        let result = self.out.flush();
        self.keep_first_failure(result);
        match self.failed.take() {
            Some(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error),
            _ => Ok(()),
        }
    }

    /// A watch over long work: shows progress on a terminal and hears Ctrl-C.
    pub fn meter(&mut self, label: &str) -> Meter<'_> {
        let shown = self.shows_progress();
        Meter {
            line: RefCell::new(if shown { Some(&mut self.err) } else { None }),
            stop: Arc::clone(&self.stop),
            label: label.to_owned(),
            width: self.width,
            started: Instant::now(),
            drawn: Cell::new(None),
        }
    }

    /// True when a line of progress would be seen: on a terminal, unless the user wants quiet.
    #[must_use]
    pub fn shows_progress(&self) -> bool {
        self.watched && self.verbosity > Verbosity::Quiet
    }

    /// Draws a line of progress in place of the one before; what is said next wipes it.
    pub fn draw(&mut self, line: &str) {
        if self.shows_progress() {
            let result = self.out.flush();
            self.keep_first_failure(result);
            self.drawn = true;
            // A progress line that cannot be drawn is no reason to give up the work.
            let _ = write!(self.err, "\r\u{1b}[K{line}").and_then(|()| self.err.flush());
        }
    }

    /// Wipes the line of progress.
    pub fn wipe(&mut self) {
        if std::mem::take(&mut self.drawn) {
            let _ = write!(self.err, "\r\u{1b}[K").and_then(|()| self.err.flush());
        }
    }

    fn keep_first_failure(&mut self, result: io::Result<()>) {
        if let Err(error) = result {
            self.failed.get_or_insert(error);
        }
    }
}

fn standard_width() -> usize {
    let stated = std::env::var("COLUMNS").ok().and_then(|text| text.trim().parse().ok());
    let seen = || terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    stated.or_else(seen).unwrap_or(DEFAULT_WIDTH).max(MIN_WIDTH)
}

/// Shows how far long work is. The line disappears when the work is over.
pub struct Meter<'p> {
    line: RefCell<Option<&'p mut Box<dyn Write>>>,
    stop: Arc<AtomicBool>,
    label: String,
    width: usize,
    started: Instant,
    drawn: Cell<Option<Instant>>,
}

impl std::fmt::Debug for Meter<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Meter").field("label", &self.label).finish_non_exhaustive()
    }
}

impl Meter<'_> {
    fn is_due(&self, now: Instant) -> bool {
        match self.drawn.get() {
            None => now.duration_since(self.started) >= PROGRESS_AFTER,
            Some(last) => now.duration_since(last) >= PROGRESS_EVERY,
        }
    }

    fn text(&self, progress: &Progress) -> String {
        let bar = bar(progress.fraction);
        let found = progress
            .mean_difference
            .map(|mean| format!(", mean difference {:.2}", mean.value()))
            .unwrap_or_default();
        let text = format!("{} {bar}{found}", self.label);
        text.chars().take(self.width.saturating_sub(1)).collect()
    }
}

/// A bar of ten steps and the percentage.
fn bar(fraction: f64) -> String {
    let percent = (fraction.clamp(0.0, 1.0) * 100.0).round();
    let steps: String =
        (1..=10).map(|step| if f64::from(step) * 10.0 <= percent { '=' } else { ' ' }).collect();
    format!("[{steps}] {percent:.0} %")
}

impl Watch for Meter<'_> {
    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn progress(&self, progress: &Progress) {
        let now = Instant::now();
        if !self.is_due(now) {
            return;
        }
        if let Some(line) = self.line.borrow_mut().as_mut() {
            self.drawn.set(Some(now));
            // A progress line that cannot be drawn is no reason to give up the work.
            let _ = write!(line, "\r\u{1b}[K{}", self.text(progress)).and_then(|()| line.flush());
        }
    }
}

impl Drop for Meter<'_> {
    fn drop(&mut self) {
        if self.drawn.get().is_some()
            && let Some(line) = self.line.borrow_mut().as_mut()
        {
            let _ = write!(line, "\r\u{1b}[K").and_then(|()| line.flush());
        }
    }
}

/// What a captured printer wrote.
#[derive(Clone, Debug, Default)]
pub struct Captured {
    out: Shared,
    err: Shared,
}

impl Captured {
    /// Everything on standard output.
    #[must_use]
    pub fn out(&self) -> String {
        self.out.text()
    }

    /// Everything on standard error.
    #[must_use]
    pub fn err(&self) -> String {
        self.err.text()
    }
}

#[derive(Clone, Debug, Default)]
struct Shared(Arc<Mutex<Vec<u8>>>);

impl Shared {
    fn text(&self) -> String {
        let bytes = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

impl Write for Shared {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Closed;

    impl Write for Closed {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::BrokenPipe.into())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn quiet_keeps_errors_and_drops_notes() {
        let (mut printer, captured) = Printer::captured(80);
        printer.set_verbosity(Verbosity::Quiet);
        printer.note("a note");
        printer.error("error: bad");
        assert_eq!(captured.err(), "error: bad\n");
    }

    #[test]
    fn a_closed_pipe_ends_without_an_error() {
        let (mut printer, _) = Printer::captured(80);
        printer.out = Box::new(Closed);
        printer.data("line");
        assert!(printer.is_closed());
        assert!(printer.finish().is_ok());
    }

    #[test]
    fn progress_waits_half_a_second_and_then_cleans_its_line() {
        let (mut printer, captured) = Printer::captured(40);
        printer.watched = true;
        let progress = Progress { fraction: 0.5, mean_difference: None, lower_bound: None };
        {
            let mut meter = printer.meter("reduce");
            meter.progress(&progress);
            assert_eq!(captured.err(), "");
            meter.started = Instant::now().checked_sub(PROGRESS_AFTER).unwrap();
            meter.progress(&progress);
            assert!(captured.err().ends_with("reduce [=====     ] 50 %"));
        }
        assert!(captured.err().ends_with("\r\u{1b}[K"));
    }

    #[test]
    fn a_stop_flag_reaches_the_watch() {
        let (mut printer, _) = Printer::captured(80);
        let flag = printer.stop_flag();
        let meter = printer.meter("reduce");
        assert!(!meter.stopped());
        flag.store(true, Ordering::Relaxed);
        assert!(meter.stopped());
    }
}
