//! The life of one server process: load, serve, reload on a signal, stop on a signal.
//! It does not know the methods that are served.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use dyekin_core::Catalog;
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

use crate::config::Config;
use crate::load::{LoadProblem, forget_address, load_directory, shown, write_address};
use crate::state::SharedCatalog;
use crate::telemetry::millis;
use crate::{Ended, Server};

/// Why a server process did not come to serve.
#[derive(Debug)]
pub enum DaemonError {
    /// The file for the address cannot be written.
    AddressFile(PathBuf, io::Error),
    /// The address cannot be listened on.
    Bind(std::net::SocketAddr, io::Error),
    /// The system or the transport failed.
    Io(io::Error),
    /// The tables of the directory are not sound; each problem is logged.
    Tables(usize),
}

impl std::fmt::Display for DaemonError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::AddressFile(path, error) => {
                write!(f, "cannot write the address file {}: {error}", shown(path))
            }
            Self::Bind(address, error) => write!(f, "cannot listen on {address}: {error}"),
            Self::Io(error) => error.fmt(f),
            Self::Tables(1) => f.write_str("1 problem in the directory of tables"),
            Self::Tables(count) => write!(f, "{count} problems in the directory of tables"),
        }
    }
}

impl std::error::Error for DaemonError {}

impl From<io::Error> for DaemonError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

/// Runs a server process until a signal stops it.
///
/// # Errors
///
/// What keeps it from serving.
pub async fn run(config: Config) -> Result<(), DaemonError> {
    let begun = Instant::now();
    let bind = |error| DaemonError::Bind(config.listen, error);
    let listener = TcpListener::bind(config.listen).await.map_err(bind)?;
    let address = listener.local_addr()?;
    tracing::info!(%address, "listening");
    if !address.ip().is_loopback() {
        tracing::warn!("others can reach this server; it asks for no key and encrypts nothing");
    }
    if let Some(path) = &config.address_file {
        forget_address(path).map_err(|error| DaemonError::AddressFile(path.clone(), error))?;
    }
    let catalog = Arc::new(SharedCatalog::unloaded());
    let server = Server::new(config.limits.clone(), Arc::clone(&catalog));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let mut serving = tokio::spawn(server.serve(listener, async {
        // A dropped sender stops the server as well.
        let _ = stopped.await;
    }));
    let mut signals = Signals::listen()?;
    let mut loaded = load_or_stop(&catalog, config.tables.as_ref(), &mut signals).await;
    if let Some(first) = &loaded {
        first.as_ref().map_err(|problems| logged(problems))?;
        if let Some(path) = &config.address_file {
            write_address(path, address)
                .map_err(|error| DaemonError::AddressFile(path.clone(), error))?;
        }
        let millis = millis(begun.elapsed());
        tracing::info!(%address, millis, "serving");
    }
    while loaded.is_some() {
        let signal = tokio::select! {
            ended = &mut serving => return told(ended),
            signal = signals.next() => signal,
        };
        loaded = match signal {
            Signal::Reload => {
                let again = load_or_stop(&catalog, config.tables.as_ref(), &mut signals).await;
                again.inspect(kept)
            }
            Signal::Stop => None,
        };
    }
    drop(stop);
    told(serving.await)
}

/// The signals that a server process listens to.
struct Signals {
    hangup: tokio::signal::unix::Signal,
    interrupt: tokio::signal::unix::Signal,
    terminate: tokio::signal::unix::Signal,
}

enum Signal {
    Reload,
    Stop,
}

impl Signals {
    fn listen() -> io::Result<Self> {
        Ok(Self {
            hangup: signal(SignalKind::hangup())?,
            interrupt: signal(SignalKind::interrupt())?,
            terminate: signal(SignalKind::terminate())?,
        })
    }

    async fn next(&mut self) -> Signal {
        tokio::select! {
            _ = self.hangup.recv() => Signal::Reload,
            _ = self.interrupt.recv() => Signal::Stop,
            _ = self.terminate.recv() => Signal::Stop,
        }
    }
}

fn told(ended: Result<io::Result<Ended>, tokio::task::JoinError>) -> Result<(), DaemonError> {
    match ended.map_err(io::Error::other)?? {
        Ended::Drained => tracing::info!("stopped"),
        Ended::CutOff => tracing::warn!("stopped; calls or silent connections were cut off"),
    }
    Ok(())
}

/// Loads the tables, once more when a signal asks for it meanwhile; `None` when one says stop.
async fn load_or_stop(
    catalog: &Arc<SharedCatalog>,
    directory: Option<&PathBuf>,
    signals: &mut Signals,
) -> Option<Loading> {
    loop {
        let mut again = false;
        let mut loading = std::pin::pin!(load(catalog, directory));
        let loaded = loop {
            tokio::select! {
                loaded = &mut loading => break loaded,
                signal = signals.next() => match signal {
                    Signal::Reload => again = true,
                    Signal::Stop => return None,
                },
            }
        };
        if !again {
            return Some(loaded);
        }
    }
}

/// What came of loading: all tables, or everything that is wrong with them.
type Loading = Result<(), Vec<LoadProblem>>;

/// Reads the directory and swaps the whole catalog. Without a directory it is empty.
async fn load(catalog: &Arc<SharedCatalog>, directory: Option<&PathBuf>) -> Loading {
    let Some(directory) = directory.cloned() else {
        catalog.replace(Catalog::default());
        return Ok(());
    };
    let catalog = Arc::clone(catalog);
    let read = tokio::task::spawn_blocking(move || load_and_replace(&catalog, &directory));
    read.await.unwrap_or_else(|error| {
        let error = io::Error::other(error);
        Err(vec![LoadProblem::Io(PathBuf::from("tables"), error)])
    })
}

fn load_and_replace(catalog: &SharedCatalog, directory: &Path) -> Loading {
    let loaded = load_directory(directory)?;
    for notice in &loaded.notices {
        tracing::info!("{notice}");
    }
    let tables = loaded.catalog.tables().len();
    let threads: usize =
        loaded.catalog.tables().iter().map(|held| held.table().threads().len()).sum();
    catalog.replace(loaded.catalog);
    tracing::info!(tables, threads, "tables loaded");
    Ok(())
}

fn logged(problems: &[LoadProblem]) -> DaemonError {
    for problem in problems {
        tracing::error!("{problem}");
    }
    DaemonError::Tables(problems.len())
}

/// Says so when a reload failed; then the tables of before stay.
fn kept(reloaded: &Loading) {
    if let Err(problems) = reloaded {
        let error = logged(problems);
        tracing::error!("{error}; the tables of before stay");
    }
}
