//! The age file around a part.

use std::cell::RefCell;
use std::io::{self, BufRead, BufReader, Chain, Cursor, Read, Write};
use std::rc::Rc;

use age::stream::StreamReader;
use age::x25519::{Identity, Recipient};
use age::{DecryptError, Decryptor, Encryptor};

use super::{OpenError, PART_BYTES, RECIPIENTS};

const FAMILY: &[u8] = b"age-encryption.org/";
const FIRST_LINE: &[u8] = b"age-encryption.org/v1\n";
const STANZA: &[u8] = b"-> ";
const PASSPHRASE: &[u8] = b"-> scrypt ";
const LAST_LINE: &[u8] = b"---";
/// A stanza for each device, and one that says nothing: files have it so that readers
/// learn to pass over stanzas that they do not know.
const STANZAS: usize = RECIPIENTS + 1;
/// `-> X25519`, a space, and twice 32 bytes in base64, each with its end of line.
const STANZA_BYTES: u64 = 98;
/// First line, last line with its MAC, and the longest stanza that says nothing.
const OTHER_LINES: u64 = 22 + 48 + 208;
/// Longest header of a file. Ours are shorter.
const HEADER_BYTES: u64 = 8 << 10;
const _: () = assert!(STANZA_BYTES * RECIPIENTS as u64 + OTHER_LINES < HEADER_BYTES);
const NONCE: u64 = 16;
const CHUNK: u64 = 64 << 10;
const TAG: u64 = 16;
/// Memory is taken for so many bytes at first, and later for as many as have come.
const STEP: usize = 64 << 10;

/// Encrypts one run of bytes after the other to all of these.
pub(super) fn encrypt<'a>(to: &[Recipient], runs: impl IntoIterator<Item = &'a [u8]>) -> Vec<u8> {
    let to = to.iter().map(|key| key as &dyn age::Recipient);
    let encryptor = Encryptor::with_recipients(to).expect("recipients of one kind, at least one");
    let write = || -> io::Result<Vec<u8>> {
        let mut stream = encryptor.wrap_output(Vec::new())?;
        for run in runs {
            stream.write_all(run)?;
        }
        stream.finish()
    };
    write().expect("memory takes all bytes")
}

/// The longest that a file can be that holds so many bytes for so many devices.
pub(super) fn longest(plain: u64, recipients: usize) -> u64 {
    OTHER_LINES + STANZA_BYTES * recipients as u64 + payload(plain)
}

/// The most bytes that surely fit into a file of this length.
pub(super) fn room(file: u64, recipients: usize) -> u64 {
    let rest = file.saturating_sub(longest(0, recipients) - TAG);
    rest.saturating_sub(TAG * rest.div_ceil(CHUNK + TAG))
}

/// What so many bytes are encrypted.
fn payload(plain: u64) -> u64 {
    NONCE + plain + TAG * plain.div_ceil(CHUNK).max(1)
}

/// The header, which has been read, and what follows it.
type Whole<R> = Chain<Cursor<Vec<u8>>, BufReader<Source<R>>>;

/// What is inside a file, from its beginning on.
pub(super) struct Plain<R: Read> {
    stream: StreamReader<Whole<R>>,
    watch: Watch,
    header: u64,
    expected: Option<u64>,
}

impl<R: Read> Plain<R> {
    /// Reads the header, within its bounds, and finds this device among the recipients.
    pub(super) fn open(file: R, key: &Identity) -> Result<Self, OpenError> {
        let watch = Watch::default();
        let source = Source {
            inner: file,
            watch: watch.clone(),
        };
        let mut source = BufReader::new(source);
        let header = header(&mut source).map_err(|error| watch.or(error))?;
        let length = header.len() as u64;
        let decryptor = Decryptor::new_buffered(Cursor::new(header).chain(source));
        let stream = decryptor.and_then(|decryptor| decryptor.decrypt([key as _].into_iter()));
        let stream = stream.map_err(|error| {
            watch.or(match error {
                DecryptError::NoMatchingKeys => OpenError::Foreign,
                DecryptError::Io(_) => OpenError::Cut,
                _ => OpenError::Damaged,
            })
        })?;
        Ok(Self {
            stream,
            watch,
            header: length,
            expected: None,
        })
    }

    /// Says how many bytes there should be in all, so that a file that is cut off can be
    /// told from a damaged one.
    pub(super) fn expect(&mut self, plain: u64) {
        self.expected = Some(self.header + payload(plain));
    }

    /// The next bytes, exactly so many. Memory is taken as they come.
    pub(super) fn next(&mut self, length: usize) -> Result<Vec<u8>, OpenError> {
        let mut bytes = Vec::new();
        while bytes.len() < length {
            let more = bytes.len().max(STEP).min(length - bytes.len());
            bytes.reserve_exact(more);
            let read = (&mut self.stream).take(more as u64).read_to_end(&mut bytes);
            if !read.is_ok_and(|read| read == more) {
                return Err(self.fault());
            }
        }
        Ok(bytes)
    }

    /// Nothing may follow.
    pub(super) fn end(&mut self) -> Result<(), OpenError> {
        match self.stream.read(&mut [0]) {
            Ok(0) => Ok(()),
            _ => Err(self.fault()),
        }
    }

    fn fault(&self) -> OpenError {
        let watched = self.watch.0.borrow();
        let cut = self.expected.is_some_and(|bytes| watched.bytes < bytes);
        let fault = if watched.ended && cut {
            OpenError::Cut
        } else {
            OpenError::Damaged
        };
        drop(watched);
        self.watch.or(fault)
    }
}

/// Reads the lines up to the end of the header.
fn header(source: &mut impl BufRead) -> Result<Vec<u8>, OpenError> {
    let mut header = Vec::new();
    let mut source = source.take(HEADER_BYTES);
    let mut line = |header: &mut Vec<u8>| {
        let at = header.len();
        // A failure of the source is told by who watches it.
        let read = source.read_until(b'\n', header);
        (
            read.is_ok_and(|bytes| bytes > 0) && header.ends_with(b"\n"),
            at,
        )
    };
    let (whole, _) = line(&mut header);
    if header != FIRST_LINE {
        return Err(if FIRST_LINE.starts_with(&header) {
            OpenError::Cut
        } else if whole && header.starts_with(FAMILY) {
            OpenError::Newer
        } else {
            OpenError::NotPost
        });
    }
    let mut stanzas = 0;
    loop {
        let (whole, at) = line(&mut header);
        let line = &header[at..];
        if line.starts_with(PASSPHRASE) {
            return Err(OpenError::NotPost);
        }
        stanzas += usize::from(line.starts_with(STANZA));
        if stanzas > STANZAS {
            return Err(OpenError::TooLarge { what: "recipients" });
        }
        match whole {
            true if line.starts_with(LAST_LINE) => return Ok(header),
            true => {}
            false if header.len() as u64 == HEADER_BYTES => {
                return Err(OpenError::TooLarge { what: "header" });
            }
            false => return Err(OpenError::Cut),
        }
    }
}

/// What happened to the source of a file.
#[derive(Clone, Default)]
struct Watch(Rc<RefCell<Watched>>);

#[derive(Default)]
struct Watched {
    bytes: u64,
    ended: bool,
    failed: Option<io::Error>,
}

impl Watch {
    /// The source's own failure, if there was one; else the fault found.
    fn or(&self, fault: OpenError) -> OpenError {
        let mut watched = self.0.borrow_mut();
        match watched.failed.take() {
            Some(error) => OpenError::Read(error),
            None if watched.bytes > PART_BYTES => OpenError::TooLarge { what: "file" },
            None => fault,
        }
    }
}

/// A file that is read no further than a file may reach.
struct Source<R> {
    inner: R,
    watch: Watch,
}

impl<R: Read> Read for Source<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let mut watched = self.watch.0.borrow_mut();
        match self.inner.read(into) {
            Ok(read) => {
                watched.bytes += read as u64;
                watched.ended |= read == 0 && !into.is_empty();
                if watched.bytes > PART_BYTES {
                    return Err(io::ErrorKind::FileTooLarge.into());
                }
                Ok(read)
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => Err(error),
            Err(error) => {
                let kind = error.kind();
                watched.failed = Some(error);
                Err(kind.into())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::keys;
    use super::*;

    #[test]
    fn as_much_as_there_is_room_for_makes_no_longer_file() {
        let key = keys::identity(&[1; 32]).to_public();
        for file in [
            600,
            1000,
            CHUNK,
            2 * CHUNK + 411,
            2 * CHUNK + 412,
            5 * CHUNK,
        ] {
            let plain = vec![0; room(file, 2) as usize];
            let sealed = encrypt(&[key.clone(), key.clone()], [&plain[..]]);
            assert!(sealed.len() as u64 <= file, "{} of {file}", sealed.len());
            assert!(
                sealed.len() as u64 + 256 >= file,
                "{} of {file}",
                sealed.len()
            );
        }
    }

    proptest! {
        #[test]
        fn room_undoes_length(plain in 0..u64::from(u32::MAX), recipients in 1..=RECIPIENTS) {
            prop_assert_eq!(room(longest(plain, recipients), recipients), plain);
        }
    }
}
