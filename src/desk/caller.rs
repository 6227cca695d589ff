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
use tokio::sync::{Semaphore, mpsc};
use tokio::time::{Instant, Sleep, sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::server::TlsStream;

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
    type Io = Line<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Line<TcpStream>, SocketAddr) {
        let (stream, from) = Listener::accept(&mut self.0).await;
        (Line::new(stream, from), from)
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

/// Takes connections in that speak TLS. Each is greeted beside the others: one that says nothing keeps nobody waiting.
#[derive(Debug)]
pub struct SafeDoor {
    greeted: mpsc::Receiver<(Line<TlsStream<TcpStream>>, SocketAddr)>,
    address: SocketAddr,
}

/// Connections that are greeted at one time.
const GREETED: usize = 64;

impl SafeDoor {
    /// Listens there.
    ///
    /// # Errors
    /// What the system says of the listener.
    pub fn new(listener: TcpListener, tls: Arc<ServerConfig>) -> std::io::Result<SafeDoor> {
        let address = listener.local_addr()?;
        let (to, greeted) = mpsc::channel(GREETED);
        let places = Arc::new(Semaphore::new(GREETED));
        let acceptor = TlsAcceptor::from(tls);
        let mut door = listener;
        tokio::spawn(async move {
            loop {
                let Ok(place) = places.clone().acquire_owned().await else {
                    return;
                };
                let (stream, from) = Listener::accept(&mut door).await;
                let (acceptor, to) = (acceptor.clone(), to.clone());
                tokio::spawn(async move {
                    let limit = Duration::from_secs(BODY_SECONDS.most());
                    if let Ok(Ok(stream)) = timeout(limit, acceptor.accept(stream)).await {
                        // Nobody listens any more only when the desk ends
                        let _ = to.send((Line::new(stream, from), from)).await;
                    }
                    drop(place);
                });
            }
        });
        Ok(SafeDoor { greeted, address })
    }
}

impl Listener for SafeDoor {
    type Io = Line<TlsStream<TcpStream>>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> (Self::Io, SocketAddr) {
        match self.greeted.recv().await {
            Some(line) => line,
            // The task that greets never ends
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> std::io::Result<SocketAddr> {
        Ok(self.address)
    }
}

impl Connected<IncomingStream<'_, SafeDoor>> for Caller {
    fn connect_info(stream: IncomingStream<'_, SafeDoor>) -> Caller {
        stream.io().caller.clone()
    }
}

/// A connection that ends when it has had no answer for too long; sending little by little doesn't help.
#[derive(Debug)]
pub struct Line<S> {
    stream: S,
    caller: Caller,
    ends: Pin<Box<Sleep>>,
    /// Waits as long as for one who is known.
    patient: bool,
}

impl<S> Line<S> {
    fn new(stream: S, from: SocketAddr) -> Line<S> {
        let known = Arc::new(AtomicBool::new(false));
        Line {
            stream,
            caller: Caller {
                ip: from.ip(),
                known,
            },
            ends: Box::pin(sleep(Duration::from_secs(BODY_SECONDS.most()))),
            patient: false,
        }
    }

    fn wait_anew(&mut self) {
        let limit = match self.caller.known.load(Ordering::Relaxed) {
            true => DROPPED_SECONDS,
            false => BODY_SECONDS,
        };
        let ends = Instant::now() + Duration::from_secs(limit.most());
        self.ends.as_mut().reset(ends);
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Line<S> {
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

impl<S: AsyncWrite + Unpin> AsyncWrite for Line<S> {
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
