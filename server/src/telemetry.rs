//! Log lines on standard error. It does not know what is logged; colors and secrets never are.

use std::time::Duration;

use tracing::Subscriber;
use tracing::level_filters::LevelFilter;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::registry::LookupSpan;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{Layer, fmt, registry};

/// How log lines look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogFormat {
    /// One JSON object a line.
    Json,
    /// Text for people.
    Text,
}

/// Starts logging. Lines of the libraries below are left out unless they warn; `trace` has them
/// all. A second call does nothing.
pub fn start(level: LevelFilter, format: LogFormat) {
    let below = if level == LevelFilter::TRACE { level } else { level.min(LevelFilter::WARN) };
    let chosen = Targets::new().with_target("dyekin_server", level).with_default(below);
    // Fails only when a subscriber is there already, as in tests that share a process.
    let _ = registry().with(lines(format).with_filter(chosen)).try_init();
}

fn lines<S>(format: LogFormat) -> Box<dyn Layer<S> + Send + Sync>
where
    S: Subscriber + for<'s> LookupSpan<'s>,
{
    let lines = fmt::layer().with_writer(std::io::stderr).with_target(false).with_ansi(false);
    match format {
        LogFormat::Json => lines.json().flatten_event(true).boxed(),
        LogFormat::Text => lines.boxed(),
    }
}

/// Milliseconds to three decimals.
pub(crate) fn millis(time: Duration) -> f64 {
    (time.as_secs_f64() * 1e6).round() / 1e3
}
