//! Long work away from the threads that serve connections: bounded, and stopped when its caller
//! goes or its time runs out. It does not know what the work is.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use dyekin_core::watch::Progress;
use dyekin_core::{ErrorKind, Watch};
use tokio::sync::Semaphore;

use super::record::Facts;
use super::status::{Failure, Trouble};

/// Longest time for most calls.
pub(super) const USUAL_TIME: Duration = Duration::from_secs(10);

/// Jobs that may wait for each worker; further ones are refused.
const WAITING_PER_WORKER: usize = 64;

/// When an answer is no longer wanted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Deadline {
    pub(crate) at: Instant,
    pub(crate) timeout: Duration,
}

impl Deadline {
    /// A deadline from now on.
    pub(crate) fn after(timeout: Duration) -> Self {
        Self { at: Instant::now() + timeout, timeout }
    }

    /// The failure that says so.
    pub(crate) fn exceeded(self) -> Failure {
        Trouble::DeadlineExceeded(self.timeout).into()
    }
}

/// What the guard gives a call: when it must end, and where it tells what it did.
#[derive(Clone, Debug)]
pub(crate) struct Call {
    pub(crate) deadline: Deadline,
    pub(crate) facts: Arc<Facts>,
}

impl Call {
    /// The call of a request; a request that no guard saw has the usual time.
    pub(super) fn of<T>(request: &tonic::Request<T>) -> Self {
        let given = request.extensions().get::<Self>().cloned();
        given.unwrap_or_else(|| Self {
            deadline: Deadline::after(USUAL_TIME),
            facts: Arc::default(),
        })
    }
}

/// Counts how often work asked whether it should stop: at least once per 256 formula calls.
#[derive(Debug, Default)]
pub struct WorkMeter {
    polls: AtomicU64,
}

impl WorkMeter {
    /// How often work asked, since the start of the server.
    #[must_use]
    pub fn polls(&self) -> u64 {
        self.polls.load(Ordering::Relaxed)
    }
}

/// The workers that all calls share.
#[derive(Clone, Debug)]
pub(crate) struct Workers {
    free: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    most_waiting: usize,
    meter: Arc<WorkMeter>,
}

impl Workers {
    pub(crate) fn new(count: usize, meter: Arc<WorkMeter>) -> Self {
        Self {
            free: Arc::new(Semaphore::new(count)),
            waiting: Arc::default(),
            most_waiting: count * WAITING_PER_WORKER,
            meter,
        }
    }

    /// Runs a job on a worker. Dropping the future stops the job at its next question.
    pub(crate) async fn run<T: Send + 'static>(
        &self,
        deadline: Deadline,
        job: impl FnOnce(&CallWatch) -> Result<T, Failure> + Send + 'static,
    ) -> Result<T, Failure> {
        let free = self.wait_for_worker().await?;
        let watch = self.watch(deadline);
        let guard = StopOnDrop(Arc::clone(&watch.stopped));
        let joined = tokio::task::spawn_blocking(move || {
            // The permit goes with the work: work that nobody waits for still occupies a worker.
            let _free = free;
            job(&watch)
        })
        .await;
        drop(guard);
        match joined {
            Ok(outcome) => outcome.map_err(|failure| told_apart(failure, deadline)),
            Err(_) => Err(defect("a worker panicked")),
        }
    }

    /// Runs a small job at once, on the thread that asks.
    pub(crate) fn run_here<T>(
        &self,
        deadline: Deadline,
        job: impl FnOnce(&CallWatch) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        job(&self.watch(deadline)).map_err(|failure| told_apart(failure, deadline))
    }

    fn watch(&self, deadline: Deadline) -> CallWatch {
        CallWatch {
            stopped: Arc::default(),
            deadline: deadline.at,
            meter: Arc::clone(&self.meter),
            told: None,
        }
    }

    async fn wait_for_worker(&self) -> Result<tokio::sync::OwnedSemaphorePermit, Failure> {
        let _place = Place::take(&self.waiting, self.most_waiting)?;
        let free = Arc::clone(&self.free).acquire_owned().await;
        free.map_err(|_| defect("workers are closed"))
    }
}

/// A place in the queue, given back when dropped.
struct Place<'w>(&'w AtomicUsize);

impl<'w> Place<'w> {
    fn take(waiting: &'w AtomicUsize, most: usize) -> Result<Self, Failure> {
        let place = Self(waiting);
        if waiting.fetch_add(1, Ordering::Relaxed) >= most {
            return Err(Trouble::Busy.into());
        }
        Ok(place)
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Work that stopped because of its deadline says so.
fn told_apart(failure: Failure, deadline: Deadline) -> Failure {
    match &failure {
        Failure::Domain(errors, _)
            if errors.iter().any(|error| *error.kind() == ErrorKind::Stopped)
                && Instant::now() >= deadline.at =>
        {
            deadline.exceeded()
        }
        Failure::Domain(..) | Failure::Table(_) | Failure::Trouble(_) => failure,
    }
}

/// A defect, logged under an id that the caller hears.
pub(super) fn defect(what: &str) -> Failure {
    static COUNT: AtomicU64 = AtomicU64::new(1);
    let error_id = format!("defect-{}", COUNT.fetch_add(1, Ordering::Relaxed));
    tracing::error!(error_id, what, "defect of the server");
    Trouble::Internal(error_id).into()
}

struct StopOnDrop(Arc<AtomicBool>);

impl Drop for StopOnDrop {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Passes progress on.
type Tell = Box<dyn Fn(&Progress) + Send>;

/// The one who waits for a call's answer.
pub(crate) struct CallWatch {
    stopped: Arc<AtomicBool>,
    deadline: Instant,
    meter: Arc<WorkMeter>,
    told: Option<Tell>,
}

impl CallWatch {
    /// The same watch that also passes progress on.
    pub(crate) fn telling(&self, tell: impl Fn(&Progress) + Send + 'static) -> Self {
        Self {
            stopped: Arc::clone(&self.stopped),
            deadline: self.deadline,
            meter: Arc::clone(&self.meter),
            told: Some(Box::new(tell)),
        }
    }

    /// Fails once the answer is no longer wanted.
    pub(crate) fn check(&self) -> Result<(), Failure> {
        if self.stopped() {
            return Err(dyekin_core::Error::new(ErrorKind::Stopped).into());
        }
        Ok(())
    }
}

impl Watch for CallWatch {
    fn stopped(&self) -> bool {
        self.meter.polls.fetch_add(1, Ordering::Relaxed);
        self.stopped.load(Ordering::Relaxed) || Instant::now() >= self.deadline
    }

    fn progress(&self, progress: &Progress) {
        if let Some(tell) = &self.told {
            tell(progress);
        }
    }
}
