//! HTTP written out by hand, as no browser would be made to speak it.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// An answer.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
    /// All that went over the wire, both ways.
    pub bytes: Vec<u8>,
}

/// Address and port of a URL.
pub fn host(url: &str) -> String {
    let rest = url.strip_prefix("http://").expect("plain HTTP");
    rest.split('/').next().unwrap().to_owned()
}

/// Whether nobody listens there.
pub fn refused(url: &str) -> bool {
    TcpStream::connect(host(url)).is_err()
}

/// Sends a request with the length of its body.
pub fn send(host: &str, request: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
    let length = body.len().to_string();
    let headers = [headers, &[("Content-Length", length.as_str())]].concat();
    send_as_it_is(host, request, &headers, body)
}

/// Sends a request with these headers only, and reads until the other side closes.
pub fn send_as_it_is(host: &str, request: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(host).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_secs(60)))
        .unwrap();
    let mut sent = format!("{request}\r\nConnection: close\r\n").into_bytes();
    for (name, value) in headers {
        sent.extend_from_slice(format!("{name}: {value}\r\n").as_bytes());
    }
    sent.extend_from_slice(b"\r\n");
    sent.extend_from_slice(body);
    // A side that refuses early need not read to the end.
    let _ = stream.write_all(&sent);
    let mut got = Vec::new();
    let _ = stream.read_to_end(&mut got);
    let end = got.windows(4).position(|four| four == b"\r\n\r\n");
    let end = end.unwrap_or_else(|| panic!("no answer to {request}"));
    let head = String::from_utf8(got[..end].to_vec()).unwrap();
    Answer {
        status: head[9..12].parse().unwrap(),
        head,
        body: got[end + 4..].to_vec(),
        bytes: [sent, got].concat(),
    }
}
