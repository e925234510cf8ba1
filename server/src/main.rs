//! The `dyekin-server` binary: settings, log, serve, exit code. It does not know how any of them
//! works.
//!
//! Exit codes: 0 stopped by a signal, 2 wrong settings or tables, 70 a defect.

use std::process::ExitCode;
use std::time::Duration;

use clap::Parser;
use dyekin_server::config::{Config, Options};
use dyekin_server::daemon::{self, DaemonError};
use dyekin_server::telemetry;

/// Time that workers get to notice that they are stopped.
const WORKER_BOUND: Duration = Duration::from_secs(1);

fn main() -> ExitCode {
    // A value that is no Unicode is refused by name like any other that cannot be used.
    let given = |name: &str| std::env::var_os(name).map(|text| text.to_string_lossy().into_owned());
    let config = Options::parse().resolve(given);
    match config {
        Ok(config) => serve(config),
        Err(error) => {
            telemetry::start(tracing::level_filters::LevelFilter::INFO, telemetry::LogFormat::Text);
            tracing::error!("{error}");
            ExitCode::from(2)
        }
    }
}

fn serve(config: Config) -> ExitCode {
    telemetry::start(config.log_level, config.log_format);
    tracing::info!(?config, version = env!("CARGO_PKG_VERSION"), "dyekin-server");
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => {
            tracing::error!(%error, "no runtime");
            return ExitCode::from(70);
        }
    };
    let ended = runtime.block_on(daemon::run(config));
    runtime.shutdown_timeout(WORKER_BOUND);
    match ended {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            tracing::error!("{error}");
            match error {
                DaemonError::AddressFile(..) | DaemonError::Bind(..) | DaemonError::Tables(_) => {
                    ExitCode::from(2)
                }
                DaemonError::Io(_) => ExitCode::from(70),
            }
        }
    }
}
