//! Streams of responses whose end is always told: an error, a missed deadline or a panic comes as
//! the last item. It does not know the items.

use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Status;

use super::status::Failure;
use super::work::{Deadline, defect};

/// Items that wait for a slow client before the work waits too.
const WAITING_ITEMS: usize = 16;

/// What a method with a stream of responses returns.
pub(super) type Responses<T> = ReceiverStream<Result<T, Status>>;

/// Where a driver puts its items.
pub(super) type Items<T> = mpsc::Sender<Result<T, Status>>;

/// Runs a driver that fills a stream, until it is done, its time runs out or nobody listens.
pub(super) fn driven<T, D, F>(deadline: Deadline, driver: D) -> Responses<T>
where
    T: Send + 'static,
    D: FnOnce(Items<T>) -> F,
    F: Future<Output = Result<(), Failure>> + Send + 'static,
{
    let (items, receiver) = mpsc::channel(WAITING_ITEMS);
    let work = driver(items.clone());
    tokio::spawn(async move {
        // A task of its own, so that a panic is seen and told instead of ending the stream early.
        let mut task = tokio::spawn(work);
        let outcome = tokio::select! {
            outcome = &mut task => outcome.unwrap_or_else(|_| Err(defect("a stream panicked"))),
            () = tokio::time::sleep_until(deadline.at.into()) => Err(deadline.exceeded()),
            () = items.closed() => Ok(()),
        };
        task.abort();
        if let Err(failure) = outcome {
            // Nobody to tell when the client is gone.
            let _ = items.send(Err(failure.into())).await;
        }
    });
    ReceiverStream::new(receiver)
}
