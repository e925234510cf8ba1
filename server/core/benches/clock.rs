//! The CPU time of the thread: it leaves out what else runs on a machine.
//! It does not know what is timed.

use std::time::Duration;

use rustix::time::{ClockId, clock_gettime};

/// What work returns, and the CPU time that it takes.
pub(crate) fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let start = thread_time();
    let done = work();
    (done, thread_time() - start)
}

/// CPU time of this thread so far.
fn thread_time() -> Duration {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    let whole = Duration::from_secs(u64::try_from(time.tv_sec).unwrap_or(0));
    whole + Duration::from_nanos(u64::try_from(time.tv_nsec).unwrap_or(0))
}
