//! Links over iroh: QUIC with TLS 1.3, both devices proven by their Ed25519 keys.

use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::{fmt, io};

use iroh::endpoint::{
    Connection, ConnectionError, ReadError, RecvStream, SendStream, VarInt, WriteError,
};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use units::DeviceId;

use super::{Calls, Link, Reader, Soon, Writer};
use crate::close::{Close, Lost};

/// A QUIC connection.
pub(crate) struct Quic(pub(crate) Connection);

impl fmt::Debug for Quic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Quic").field(&self.peer()).finish()
    }
}

impl Link for Quic {
    fn peer(&self) -> DeviceId {
        DeviceId(*self.0.remote_id().as_bytes())
    }

    fn addrs(&self) -> Vec<SocketAddr> {
        let paths = self.0.paths();
        let addrs = paths.iter().filter_map(|path| match path.remote_addr() {
            iroh::TransportAddr::Ip(addr) => Some(*addr),
            _ => None,
        });
        let mut addrs: Vec<_> = addrs.collect();
        addrs.sort_unstable();
        addrs.dedup();
        addrs
    }

    fn open(&self) -> Soon<'_, Result<(Writer, Reader), Lost>> {
        Box::pin(async { Ok(halves(self.0.open_bi().await?)) })
    }

    fn accept(&self) -> Soon<'_, Result<(Writer, Reader), Lost>> {
        Box::pin(async { Ok(halves(self.0.accept_bi().await?)) })
    }

    fn close(&self, reason: Close) {
        let code = VarInt::from_u32(reason.code());
        self.0.close(code, reason.text().as_bytes());
    }

    fn closed(&self) -> Soon<'_, Lost> {
        Box::pin(async { self.0.closed().await.into() })
    }

    fn calls(&self) -> Calls {
        Calls::Pooled
    }
}

fn halves((send, recv): (SendStream, RecvStream)) -> (Writer, Reader) {
    (Box::new(Sending(send)), Box::new(Receiving(recv)))
}

struct Sending(SendStream);
struct Receiving(RecvStream);

impl AsyncWrite for Sending {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let stream = Pin::new(&mut self.0);
        stream
            .poll_write(context, bytes)
            .map_err(|error| match error {
                WriteError::ConnectionLost(error) => io::Error::other(Lost::from(error)),
                error => error.into(),
            })
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(self.0.finish().map_err(io::Error::from))
    }
}

impl AsyncRead for Receiving {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        onto: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        // By this way the room is not filled with noughts before each read.
        let read = ready!(AsyncRead::poll_read(Pin::new(&mut self.0), context, onto));
        Poll::Ready(read.map_err(|error| match error.downcast() {
            Ok(ReadError::ConnectionLost(error)) => io::Error::other(Lost::from(error)),
            Ok(error) => error.into(),
            Err(error) => error,
        }))
    }
}

/// TLS alert 120, `no_application_protocol` (RFC 7301), as a QUIC error (RFC 9001, 4.8).
const NO_PROTOCOL: u64 = 0x178;
/// QUIC's CONNECTION_REFUSED (RFC 9000, 20.1).
const REFUSED: u64 = 0x02;

impl From<ConnectionError> for Lost {
    fn from(error: ConnectionError) -> Self {
        let text = error.to_string();
        match error {
            ConnectionError::ApplicationClosed(close) => {
                match Close::of(close.error_code.into_inner()) {
                    Some(reason) => Self::Closed(reason),
                    None => Self::Broken(text),
                }
            }
            ConnectionError::ConnectionClosed(close) => match u64::from(close.error_code) {
                NO_PROTOCOL => Self::NoProtocol,
                REFUSED => Self::Refused,
                _ => Self::Broken(text),
            },
            ConnectionError::TransportError(error) if u64::from(error.code) == NO_PROTOCOL => {
                Self::NoProtocol
            }
            ConnectionError::LocallyClosed => Self::Here,
            ConnectionError::TimedOut => Self::TimedOut,
            _ => Self::Broken(text),
        }
    }
}
