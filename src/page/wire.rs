//! A connection of the page: whoever does not read what was asked for is not waited for, and whoever was not let in keeps no
//! place from those who were.
//!
//! Always: what is written may stand still for so long, and what was read earns little time anew, so that nobody holds a
//! connection by reading a byte now and then. Not here: how long a request may take to come, what is answered.

use std::collections::VecDeque;
use std::io::{Error, ErrorKind, IoSlice, Result};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::task::AbortHandle;
use tokio::time::{Sleep, sleep};

/// Longest that what is written may stand still, in all.
pub const WRITTEN_WITHIN: Duration = Duration::from_secs(10);
/// It is counted so finely: what stands still for less is read.
const TICK: Duration = Duration::from_millis(50);
/// Bytes that are read earn a second.
const A_SECOND: u32 = 64 * 1024;
/// Connections of those who were not let in, or have not yet said who they are.
pub const STRANGERS: usize = 64;
/// Connections at once, before the next one waits.
pub const CONNECTIONS: usize = 256;

/// A stream that is written to for so long and no longer.
pub struct Bounded {
    stream: TcpStream,
    within: Duration,
    /// How long it stood still up to now, in whole ticks.
    stood: Duration,
    tick: Option<Pin<Box<Sleep>>>,
}

impl Bounded {
    /// Of a connection.
    pub fn new(stream: TcpStream, within: Duration) -> Bounded {
        Bounded { stream, within, stood: Duration::ZERO, tick: None }
    }

    fn watched(&mut self, cx: &mut Context<'_>, came: Poll<Result<usize>>) -> Poll<Result<usize>> {
        match &came {
            Poll::Pending => {
                let tick = self.tick.get_or_insert_with(|| Box::pin(sleep(TICK)));
                while tick.as_mut().poll(cx).is_ready() {
                    self.stood += TICK;
                    tick.set(sleep(TICK));
                }
                match self.stood >= self.within {
                    true => Poll::Ready(Err(Error::from(ErrorKind::TimedOut))),
                    false => Poll::Pending,
                }
            }
            Poll::Ready(Ok(n)) => {
                self.tick = None;
                let earned = Duration::from_secs(1) * u32::try_from(*n).unwrap_or(u32::MAX) / A_SECOND;
                self.stood = self.stood.saturating_sub(earned);
                came
            }
            Poll::Ready(Err(_)) => came,
        }
    }
}

impl AsyncRead for Bounded {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, to: &mut ReadBuf<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, to)
    }
}

impl AsyncWrite for Bounded {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, from: &[u8]) -> Poll<Result<usize>> {
        let came = Pin::new(&mut self.stream).poll_write(cx, from);
        self.watched(cx, came)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        from: &[IoSlice<'_>],
    ) -> Poll<Result<usize>> {
        let came = Pin::new(&mut self.stream).poll_write_vectored(cx, from);
        self.watched(cx, came)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

/// Whether somebody who was let in asked for something on a connection.
pub type LetIn = Arc<AtomicBool>;

/// The connections that stand open, the oldest first.
#[derive(Default)]
pub struct Open(VecDeque<(AbortHandle, LetIn)>);

impl Open {
    /// Makes room for one more: of strangers, the one that has been here longest goes. Says whether there is room.
    pub fn room(&mut self) -> bool {
        self.0.retain(|(task, _)| !task.is_finished());
        let stranger = |(_, let_in): &(AbortHandle, LetIn)| !let_in.load(Ordering::Relaxed);
        if self.0.iter().filter(|c| stranger(c)).count() >= STRANGERS
            && let Some((task, _)) = self.0.iter().position(stranger).and_then(|at| self.0.remove(at))
        {
            task.abort();
        }
        self.0.len() < CONNECTIONS
    }

    /// One more.
    pub fn add(&mut self, task: AbortHandle, let_in: LetIn) {
        self.0.push_back((task, let_in));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::disallowed_methods)]
    use super::*;
    use std::io::Read;
    use std::net::TcpListener;
    use std::time::Instant;
    use tokio::task::yield_now;

    /// Writes `bytes` to whoever reads in `reads`; how it ended and after how long.
    fn written(
        bytes: usize,
        reads: impl FnOnce(std::net::TcpStream) + Send + 'static,
    ) -> (Result<()>, Duration) {
        let listener = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let there = listener.local_addr().unwrap();
        std::thread::spawn(move || reads(std::net::TcpStream::connect(there).unwrap()));
        let (stream, _) = listener.accept().unwrap();
        stream.set_nonblocking(true).unwrap();
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_io().enable_time().build().unwrap();
        runtime.block_on(async {
            let mut to = Bounded::new(TcpStream::from_std(stream).unwrap(), Duration::from_millis(400));
            let (begun, all) = (Instant::now(), vec![7u8; bytes]);
            let mut left = &all[..];
            while !left.is_empty() {
                let wrote = std::future::poll_fn(|cx| {
                    Pin::new(&mut to).poll_write(cx, &left[..left.len().min(8192)])
                });
                match wrote.await {
                    Ok(n) => left = &left[n..],
                    Err(e) => return (Err(e), begun.elapsed()),
                }
                yield_now().await;
            }
            (Ok(()), begun.elapsed())
        })
    }

    #[test]
    fn who_reads_nothing_or_a_little_now_and_then_is_not_waited_for() {
        let nothing = |stream: std::net::TcpStream| {
            std::thread::sleep(Duration::from_secs(3));
            drop(stream);
        };
        let (came, after) = written(64 << 20, nothing);
        assert_eq!(came.unwrap_err().kind(), ErrorKind::TimedOut);
        assert!(after >= Duration::from_millis(400) && after < Duration::from_secs(2), "{after:?}");
        let little = |mut stream: std::net::TcpStream| {
            let mut some = [0u8; 4096];
            while stream.read(&mut some).is_ok_and(|n| n > 0) {
                std::thread::sleep(Duration::from_millis(100));
            }
        };
        let (came, after) = written(64 << 20, little);
        assert_eq!(came.unwrap_err().kind(), ErrorKind::TimedOut);
        assert!(after < Duration::from_secs(9), "{after:?}");
    }

    #[test]
    fn who_reads_gets_all_of_it() {
        let all = |mut stream: std::net::TcpStream| {
            let mut some = vec![0u8; 1 << 20];
            while stream.read(&mut some).is_ok_and(|n| n > 0) {
                std::thread::sleep(Duration::from_millis(20));
            }
        };
        written(48 << 20, all).0.unwrap();
    }
}
