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
use crate::load::{LoadProblem, load_directory, write_address};
use crate::state::SharedCatalog;
use crate::{Ended, Server};

/// Why a server process did not come to serve.
#[derive(Debug)]
pub enum DaemonError {
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
            Self::Bind(address, error) => write!(f, "cannot listen on {address}: {error}"),
            Self::Io(error) => error.fmt(f),
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
    let catalog = Arc::new(SharedCatalog::unloaded());
    let server = Server::new(config.limits.clone(), Arc::clone(&catalog));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let mut serving = tokio::spawn(server.serve(listener, async {
        // A dropped sender stops the server as well.
        let _ = stopped.await;
    }));
    let mut signals = Signals::listen()?;
    load(&catalog, config.tables.clone()).await.map_err(|found| logged(&found))?;
    if let Some(path) = &config.address_file {
        write_address(path, address)?;
    }
    let millis = begun.elapsed().as_secs_f64() * 1e3;
    tracing::info!(%address, millis, "serving");
    loop {
        tokio::select! {
            ended = &mut serving => return told(ended),
            signal = signals.next() => match signal {
                Signal::Reload => reload(&catalog, config.tables.clone()).await,
                Signal::Stop => break,
            },
        }
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

/// Reads the directory and swaps the whole catalog. Without a directory it is empty.
async fn load(
    catalog: &Arc<SharedCatalog>,
    directory: Option<PathBuf>,
) -> Result<(), Vec<LoadProblem>> {
    let Some(directory) = directory else {
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

fn load_and_replace(catalog: &SharedCatalog, directory: &Path) -> Result<(), Vec<LoadProblem>> {
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

/// Reloads; when any table fails, the tables of before stay.
async fn reload(catalog: &Arc<SharedCatalog>, directory: Option<PathBuf>) {
    if let Err(problems) = load(catalog, directory).await {
        let error = logged(&problems);
        tracing::error!("{error}; the tables of before stay");
    }
}
