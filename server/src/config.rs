//! What the server is told: flag, or else environment variable, or else default.
//! It does not open, bind or read anything.

use std::fmt;
use std::net::SocketAddr;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::str::FromStr;
use std::time::Duration;

use clap::Parser;
use tracing::level_filters::LevelFilter;

use crate::telemetry::LogFormat;

/// Where the server listens unless told otherwise: loopback only.
pub const DEFAULT_LISTEN: &str = "127.0.0.1:7493";

/// Settings of one process, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Config {
    /// Address to listen on; port 0 takes any free one.
    pub listen: SocketAddr,
    /// Directory of thread tables to load before serving.
    pub tables: Option<PathBuf>,
    /// File that gets the address once the server serves.
    pub address_file: Option<PathBuf>,
    /// Least important lines that are logged.
    pub log_level: LevelFilter,
    /// How log lines look.
    pub log_format: LogFormat,
    /// What the service allows.
    pub limits: Limits,
}

/// What the service allows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Threads for long work.
    pub workers: usize,
    /// Open connections.
    pub connections: usize,
    /// Time from accepting a connection to its first whole frame.
    pub first_bytes: Duration,
    /// Time that running calls get when the server stops.
    pub drain: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            workers: std::thread::available_parallelism().map_or(1, usize::from),
            connections: 1_000,
            first_bytes: Duration::from_secs(5),
            drain: Duration::from_secs(10),
        }
    }
}

/// A setting that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConfigError {
    flag: &'static str,
    variable: &'static str,
    value: String,
    expected: &'static str,
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { flag, variable, value, expected } = self;
        let value = dyekin_core::error::shown(value);
        write!(f, "`{flag}` (or {variable}) is `{value}`: {expected}")
    }
}

impl std::error::Error for ConfigError {}

/// Answers questions about thread colors over gRPC.
///
/// Every option can also be given as the environment variable beside it; the option wins.
#[derive(Debug, Parser)]
#[command(name = "dyekin-server", version)]
pub struct Options {
    /// Address to listen on; port 0 takes any free one (`DYEKIN_LISTEN`, default 127.0.0.1:7493)
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<String>,
    /// Directory of thread tables, loaded before serving and again on SIGHUP (`DYEKIN_TABLES`)
    #[arg(long, value_name = "DIR")]
    tables: Option<String>,
    /// File that gets the address once the server serves (`DYEKIN_ADDRESS_FILE`)
    #[arg(long, value_name = "FILE")]
    address_file: Option<String>,
    /// error, warn, info, debug or trace; debug has every call (`DYEKIN_LOG`, default info)
    #[arg(long, value_name = "LEVEL")]
    log: Option<String>,
    /// text or json (`DYEKIN_LOG_FORMAT`, default text)
    #[arg(long, value_name = "FORMAT")]
    log_format: Option<String>,
    /// Threads for long work (`DYEKIN_WORKERS`, default one per processor)
    #[arg(long, value_name = "COUNT")]
    workers: Option<String>,
    /// Most open connections (`DYEKIN_CONNECTIONS`, default 1000)
    #[arg(long, value_name = "COUNT")]
    connections: Option<String>,
    /// Seconds that running calls get when the server stops (`DYEKIN_DRAIN`, default 10)
    #[arg(long, value_name = "SECONDS")]
    drain: Option<String>,
}

impl Options {
    /// Checks what was given and adds the environment and the defaults.
    ///
    /// # Errors
    ///
    /// The first setting that cannot be used.
    pub fn resolve(
        self,
        environment: impl Fn(&str) -> Option<String>,
    ) -> Result<Config, ConfigError> {
        let given = |flag: Option<String>, variable: &str| flag.or_else(|| environment(variable));
        let defaults = Limits::default();
        let listen = given(self.listen, "DYEKIN_LISTEN").unwrap_or_else(|| DEFAULT_LISTEN.into());
        let log = given(self.log, "DYEKIN_LOG").unwrap_or_else(|| "info".into());
        let format = given(self.log_format, "DYEKIN_LOG_FORMAT").unwrap_or_else(|| "text".into());
        let workers = Setting("--workers", "DYEKIN_WORKERS", "a number from 1 to 256");
        let connections =
            Setting("--connections", "DYEKIN_CONNECTIONS", "a number from 1 to 100000");
        let drain = Setting("--drain", "DYEKIN_DRAIN", "a number of seconds from 0 to 600");
        Ok(Config {
            listen: Setting("--listen", "DYEKIN_LISTEN", "an address such as 127.0.0.1:7493")
                .parse(listen)?,
            tables: Setting("--tables", "DYEKIN_TABLES", "a directory of thread tables")
                .path(given(self.tables, "DYEKIN_TABLES"))?,
            address_file: Setting("--address-file", "DYEKIN_ADDRESS_FILE", "a file to write")
                .path(given(self.address_file, "DYEKIN_ADDRESS_FILE"))?,
            log_level: Setting("--log", "DYEKIN_LOG", "error, warn, info, debug or trace")
                .parse(log)?,
            log_format: log_format(format)?,
            limits: Limits {
                workers: workers.count(
                    given(self.workers, workers.1),
                    defaults.workers,
                    &(1..=256),
                )?,
                connections: connections.count(
                    given(self.connections, connections.1),
                    defaults.connections,
                    &(1..=100_000),
                )?,
                drain: drain
                    .count(given(self.drain, drain.1), defaults.drain.as_secs(), &(0..=600))
                    .map(Duration::from_secs)?,
                ..defaults
            },
        })
    }
}

/// Flag, variable and what is expected of the value.
struct Setting(&'static str, &'static str, &'static str);

impl Setting {
    fn bad(&self, value: String) -> ConfigError {
        ConfigError { flag: self.0, variable: self.1, value, expected: self.2 }
    }

    fn parse<T: FromStr>(&self, value: String) -> Result<T, ConfigError> {
        value.trim().parse().map_err(|_| self.bad(value))
    }

    fn path(&self, value: Option<String>) -> Result<Option<PathBuf>, ConfigError> {
        match value {
            Some(empty) if empty.is_empty() => Err(self.bad(empty)),
            given => Ok(given.map(PathBuf::from)),
        }
    }

    fn count<T>(
        &self,
        value: Option<String>,
        default: T,
        range: &RangeInclusive<T>,
    ) -> Result<T, ConfigError>
    where
        T: FromStr + PartialOrd,
    {
        let Some(value) = value else { return Ok(default) };
        match value.trim().parse::<T>() {
            Ok(number) if range.contains(&number) => Ok(number),
            Ok(_) | Err(_) => Err(self.bad(value)),
        }
    }
}

fn log_format(value: String) -> Result<LogFormat, ConfigError> {
    match value.trim() {
        "json" => Ok(LogFormat::Json),
        "text" => Ok(LogFormat::Text),
        _ => Err(Setting("--log-format", "DYEKIN_LOG_FORMAT", "text or json").bad(value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn resolve(args: &[&str], environment: &[(&str, &str)]) -> Result<Config, ConfigError> {
        let all = std::iter::once("dyekin-server").chain(args.iter().copied());
        Options::try_parse_from(all).unwrap().resolve(|wanted| {
            environment.iter().find(|(name, _)| *name == wanted).map(|(_, v)| (*v).to_owned())
        })
    }

    #[test]
    fn listens_on_loopback_unless_told_otherwise() {
        assert!(resolve(&[], &[]).unwrap().listen.ip().is_loopback());
    }

    #[test]
    fn a_flag_wins_over_the_environment_and_that_over_the_default() {
        let environment = [("DYEKIN_LISTEN", "127.0.0.1:2"), ("DYEKIN_DRAIN", "3")];
        let config = resolve(&["--listen", "127.0.0.1:1"], &environment).unwrap();
        assert_eq!(config.listen.port(), 1);
        assert_eq!(config.limits.drain, Duration::from_secs(3));
        assert_eq!(config.limits.connections, 1_000);
    }

    #[test]
    fn a_bad_value_names_flag_variable_and_value() {
        for (args, environment) in
            [(vec!["--listen", "nowhere"], vec![]), (vec![], vec![("DYEKIN_LISTEN", "nowhere")])]
        {
            let text = resolve(&args, &environment).unwrap_err().to_string();
            for part in ["--listen", "DYEKIN_LISTEN", "nowhere", "127.0.0.1:7493"] {
                assert!(text.contains(part), "{text}");
            }
        }
    }

    #[test]
    fn values_out_of_range_are_refused() {
        for args in [["--workers", "0"], ["--connections", "0"], ["--drain", "601"]] {
            assert!(resolve(&args, &[]).is_err(), "{args:?}");
        }
        assert!(resolve(&["--log", "loud"], &[]).is_err());
        assert!(resolve(&["--log-format", "xml"], &[]).is_err());
        assert!(resolve(&["--tables", ""], &[]).is_err());
        assert!(resolve(&[], &[("DYEKIN_ADDRESS_FILE", "")]).is_err());
    }
}
