//! Connections from a listening socket: how many, how fast they must begin, without delay of small
//! packets. It does not know what is said over them.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc};
use tokio::time::{Sleep, sleep};
use tokio_stream::wrappers::ReceiverStream;
use tonic::transport::server::{Connected, TcpConnectInfo};

use crate::config::Limits;

/// Rest after a failed accept, as when file descriptors have run out.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);

/// Bytes of a client's first words: the preface and the header of its first frame (RFC 9113, 3.4).
const FIRST_WORDS: usize = 24 + 9;

/// Accepts until the receiving end is dropped; then the socket closes.
pub(crate) fn accept(
    listener: TcpListener,
    limits: &Limits,
) -> ReceiverStream<io::Result<Connection>> {
    let (sender, receiver) = mpsc::channel(1);
    let slots = Arc::new(Semaphore::new(limits.connections));
    let first_bytes = limits.first_bytes;
    tokio::spawn(async move {
        let mut failing = false;
        loop {
            let accepted = tokio::select! {
                () = sender.closed() => break,
                accepted = next(&listener, &slots) => accepted,
            };
            match accepted {
                Ok((stream, slot)) => {
                    failing = false;
                    let connection = Connection::new(stream, slot, first_bytes);
                    if sender.send(Ok(connection)).await.is_err() {
                        break;
                    }
                }
                Err(error) => {
                    if !failing {
                        tracing::warn!(%error, "cannot accept connections; trying on");
                    }
                    failing = true;
                    sleep(ACCEPT_PAUSE).await;
                }
            }
        }
    });
    ReceiverStream::new(receiver)
}

/// The next connection, once there is a slot for it: further ones wait in the system's queue.
async fn next(
    listener: &TcpListener,
    slots: &Arc<Semaphore>,
) -> io::Result<(TcpStream, OwnedSemaphorePermit)> {
    let slot = Arc::clone(slots).acquire_owned().await.map_err(io::Error::other)?;
    let (stream, _) = listener.accept().await?;
    stream.set_nodelay(true)?;
    Ok((stream, slot))
}

/// A connection that ends when its client does not begin to speak in time.
#[derive(Debug)]
pub(crate) struct Connection {
    stream: TcpStream,
    first_words: Option<FirstWords>,
    _slot: OwnedSemaphorePermit,
}

#[derive(Debug)]
struct FirstWords {
    missing: usize,
    deadline: Pin<Box<Sleep>>,
}

impl Connection {
    fn new(stream: TcpStream, slot: OwnedSemaphorePermit, first_bytes: Duration) -> Self {
        let deadline = Box::pin(sleep(first_bytes));
        let first_words = Some(FirstWords { missing: FIRST_WORDS, deadline });
        Self { stream, first_words, _slot: slot }
    }
}

impl Connected for Connection {
    type ConnectInfo = TcpConnectInfo;

    fn connect_info(&self) -> TcpConnectInfo {
        self.stream.connect_info()
    }
}

impl AsyncRead for Connection {
    fn poll_read(
        self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let this = self.get_mut();
        let before = buffer.filled().len();
        let Some(first) = &mut this.first_words else {
            return Pin::new(&mut this.stream).poll_read(cx, buffer);
        };
        if let Poll::Ready(read) = Pin::new(&mut this.stream).poll_read(cx, buffer) {
            first.missing = first.missing.saturating_sub(buffer.filled().len() - before);
            if first.missing == 0 {
                this.first_words = None;
            }
            return Poll::Ready(read);
        }
        ready!(first.deadline.as_mut().poll(cx));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncWrite for Connection {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write_vectored(cx, bytes)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}
