//! Who is at the other end of a connection, and how long one may be held without an answer.

use crate::limits::{BODY_SECONDS, DROPPED_SECONDS};
use axum::extract::connect_info::Connected;
use axum::serve::{IncomingStream, Listener};
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll, ready};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep, sleep};

/// The other end of a connection.
#[derive(Debug, Clone)]
pub struct Caller {
    /// Its address.
    pub ip: IpAddr,
    known: Arc<AtomicBool>,
}

impl Caller {
    /// It has shown the key: a photograph may take its time to arrive.
    pub fn is_known(&self) {
        self.known.store(true, Ordering::Relaxed);
    }
}

/// Takes connections in and ends those that keep it waiting.
#[derive(Debug)]
pub struct Door(pub TcpListener);

impl Listener for Door {
    type Io = Line;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Line, SocketAddr) {
        let (stream, from) = Listener::accept(&mut self.0).await;
        let known = Arc::new(AtomicBool::new(false));
        let caller = Caller {
            ip: from.ip(),
            known,
        };
        let ends = Box::pin(sleep(Duration::from_secs(BODY_SECONDS.most())));
        let patient = false;
        (
            Line {
                stream,
                caller,
                ends,
                patient,
            },
            from,
        )
    }

    fn local_addr(&self) -> std::io::Result<SocketAddr> {
        self.0.local_addr()
    }
}

impl Connected<IncomingStream<'_, Door>> for Caller {
    fn connect_info(stream: IncomingStream<'_, Door>) -> Caller {
        stream.io().caller.clone()
    }
}

/// A connection that ends when it has had no answer for too long; sending little by little doesn't help.
#[derive(Debug)]
pub struct Line {
    stream: TcpStream,
    caller: Caller,
    ends: Pin<Box<Sleep>>,
    /// Waits as long as for one who is known.
    patient: bool,
}

impl Line {
    fn wait_anew(&mut self) {
        let limit = match self.caller.known.load(Ordering::Relaxed) {
            true => DROPPED_SECONDS,
            false => BODY_SECONDS,
        };
        let ends = Instant::now() + Duration::from_secs(limit.most());
        self.ends.as_mut().reset(ends);
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        to: &mut ReadBuf<'_>,
    ) -> Poll<std::io::Result<()>> {
        if self.caller.known.load(Ordering::Relaxed) && !self.patient {
            self.patient = true;
            self.wait_anew();
        }
        if self.ends.as_mut().poll(cx).is_ready() {
            return Poll::Ready(Err(std::io::ErrorKind::TimedOut.into()));
        }
        Pin::new(&mut self.stream).poll_read(cx, to)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<std::io::Result<usize>> {
        let written = ready!(Pin::new(&mut self.stream).poll_write(cx, bytes));
        self.wait_anew();
        Poll::Ready(written)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<std::io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}
