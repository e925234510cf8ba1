//! Log lines on standard error. It does not know what is logged; colors and secrets never are.

use tracing::level_filters::LevelFilter;

/// How log lines look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogFormat {
    /// One JSON object a line.
    Json,
    /// Text for people.
    Text,
}

/// Starts logging. A second call does nothing.
pub fn start(level: LevelFilter, format: LogFormat) {
    let builder = tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_max_level(level)
        .with_target(false)
        .with_ansi(false);
    // Fails only when a subscriber is there already, as in tests that share a process.
    let _ = match format {
        LogFormat::Json => builder.json().flatten_event(true).try_init(),
        LogFormat::Text => builder.try_init(),
    };
}
