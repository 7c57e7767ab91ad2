//! What stands in a backup, inside the encryption.
//!
//! Numbers are little-endian.
//!
//! | bytes | |
//! |---|---|
//! | 15 | `pothook backup\n` |
//! | 1 | version of this form: 1 |
//! | … | records: all changes, then all settings, then all blobs |
//! | … | the end, which is one more record, and nothing after it |
//!
//! A record:
//!
//! | bytes | change | setting | blob | end |
//! |---|---|---|---|---|
//! | 1 | 1 | 2 | 3 | 4 |
//! | 8 | sequence number | 0 | 0 | number of records before |
//! | 2 | length of the next field but one, the name | | | |
//! | 4 | length of the last field, the bytes | | | |
//! | … | name: the document's | the setting's, in UTF-8 | BLAKE3 of the bytes | BLAKE3 of the file up to this record |
//! | … | the change | the value | the blob | nothing |
//!
//! Records stand in the order of kind, name and number, and none stands twice.

use std::io::{self, Read, Write};

use units::BlobId;

use super::BackupReport;
use crate::{
    BackupError, MAX_BLOB_BYTES, MAX_CHANGE_BYTES, MAX_NAME_BYTES, MAX_SETTING_BYTES, blobs,
};

const MAGIC: &[u8; 15] = b"pothook backup\n";
const VERSION: u8 = 1;
const HEAD: usize = 15;

const CHANGE: u8 = 1;
const SETTING: u8 = 2;
const BLOB: u8 = 3;
const END: u8 = 4;

/// One thing that is backed up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Record<'a> {
    Change {
        doc: &'a [u8],
        seq: u64,
        bytes: &'a [u8],
    },
    Setting {
        name: &'a str,
        bytes: &'a [u8],
    },
    Blob {
        id: BlobId,
        bytes: &'a [u8],
    },
}

impl Record<'_> {
    /// Kind, number, name and bytes.
    fn fields(&self) -> (u8, u64, &[u8], &[u8]) {
        match self {
            Self::Change { doc, seq, bytes } => (CHANGE, *seq, doc, bytes),
            Self::Setting { name, bytes } => (SETTING, 0, name.as_bytes(), bytes),
            Self::Blob { id, bytes } => (BLOB, 0, &id.0, bytes),
        }
    }
}

/// Counts records as they come, written or read.
#[derive(Default)]
struct Tally {
    report: BackupReport,
    last_doc: Option<Vec<u8>>,
}

impl Tally {
    fn count(&mut self, record: &Record<'_>) {
        match record {
            Record::Change { doc, .. } => {
                self.report.changes += 1;
                // They come one document after the other.
                if self.last_doc.as_deref() != Some(doc) {
                    self.report.documents += 1;
                    self.last_doc = Some(doc.to_vec());
                }
            }
            Record::Setting { .. } => self.report.settings += 1,
            Record::Blob { .. } => self.report.blobs += 1,
        }
    }

    fn records(&self) -> u64 {
        self.report.changes + self.report.settings + self.report.blobs
    }
}

/// Writes records.
pub(super) struct Writer<W> {
    to: W,
    hash: blake3::Hasher,
    tally: Tally,
}

impl<W: Write> Writer<W> {
    pub(super) fn new(to: W) -> Result<Self, BackupError> {
        let mut writer = Self {
            to,
            hash: blake3::Hasher::new(),
            tally: Tally::default(),
        };
        writer.write(MAGIC)?;
        writer.write(&[VERSION])?;
        Ok(writer)
    }

    pub(super) fn put(&mut self, record: &Record<'_>) -> Result<(), BackupError> {
        let (kind, number, name, bytes) = record.fields();
        self.write(&head(kind, number, name, bytes))?;
        self.write(name)?;
        self.write(bytes)?;
        self.tally.count(record);
        Ok(())
    }

    pub(super) fn finish(mut self) -> Result<(W, BackupReport), BackupError> {
        let hash = self.hash.finalize();
        self.write(&head(END, self.tally.records(), hash.as_bytes(), &[]))?;
        self.write(hash.as_bytes())?;
        Ok((self.to, self.tally.report))
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.hash.update(bytes);
        self.to.write_all(bytes)
    }
}

/// Every part is within its bounds, so that no length is cut.
fn head(kind: u8, number: u64, name: &[u8], bytes: &[u8]) -> [u8; HEAD] {
    let mut head = [0; HEAD];
    head[0] = kind;
    head[1..9].copy_from_slice(&number.to_le_bytes());
    head[9..11].copy_from_slice(&(name.len() as u16).to_le_bytes());
    head[11..].copy_from_slice(&(bytes.len() as u32).to_le_bytes());
    head
}

/// Hands every record on, checked. What was handed on counts only if this returns a report.
pub(super) fn read(
    from: impl Read,
    mut with: impl FnMut(Record<'_>) -> Result<(), BackupError>,
) -> Result<BackupReport, BackupError> {
    let mut reader = Reader {
        from,
        hash: blake3::Hasher::new(),
    };
    reader.begin()?;
    let mut tally = Tally::default();
    let mut last = None;
    let (mut name, mut bytes) = (Vec::new(), Vec::new());
    loop {
        let hash = reader.hash.finalize();
        let [kind, rest @ ..] = reader.take::<HEAD>()?;
        let number = u64::from_le_bytes(field(&rest, 0));
        let name_length = u16::from_le_bytes(field(&rest, 8)).into();
        let length = u32::from_le_bytes(field(&rest, 10));
        let limit = match kind {
            CHANGE => MAX_CHANGE_BYTES,
            SETTING => MAX_SETTING_BYTES,
            BLOB => MAX_BLOB_BYTES,
            END => 0,
            _ => return Err(damaged("it holds something unknown")),
        };
        if name_length > MAX_NAME_BYTES || length as usize > limit {
            return Err(damaged("it holds something too large"));
        }
        reader.fill(&mut name, name_length)?;
        reader.fill(&mut bytes, length as usize)?;
        if kind == END {
            if number != tally.records() || name != hash.as_bytes() {
                return Err(damaged("it is not whole"));
            }
            reader.end()?;
            return Ok(tally.report);
        }
        let this = (kind, name.clone(), number);
        if last.as_ref().is_some_and(|last| *last >= this) {
            return Err(damaged("its records are not in order"));
        }
        last = Some(this);
        let record = record(kind, number, &name, &bytes)?;
        tally.count(&record);
        with(record)?;
    }
}

fn record<'a>(
    kind: u8,
    number: u64,
    name: &'a [u8],
    bytes: &'a [u8],
) -> Result<Record<'a>, BackupError> {
    match kind {
        CHANGE => Ok(Record::Change {
            doc: name,
            seq: number,
            bytes,
        }),
        SETTING if number == 0 => {
            let name = std::str::from_utf8(name).map_err(|_| damaged("a setting has no name"))?;
            Ok(Record::Setting { name, bytes })
        }
        BLOB if number == 0 => {
            let id = blobs::name_of(bytes);
            let is_named = id.0 == name;
            is_named
                .then_some(Record::Blob { id, bytes })
                .ok_or_else(|| damaged("a blob is not the one that its name stands for"))
        }
        _ => Err(damaged("it holds something unknown")),
    }
}

fn field<const N: usize>(bytes: &[u8], at: usize) -> [u8; N] {
    core::array::from_fn(|index| bytes[at + index])
}

fn damaged(what: &str) -> BackupError {
    BackupError::Damaged(what.to_owned())
}

/// What a failed read of a sealed file means.
pub(super) fn unreadable(error: io::Error) -> BackupError {
    match error.kind() {
        io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidData => {
            damaged("it was cut short or altered")
        }
        _ => error.into(),
    }
}

struct Reader<R> {
    from: R,
    hash: blake3::Hasher,
}

impl<R: Read> Reader<R> {
    fn begin(&mut self) -> Result<(), BackupError> {
        if self.take()? != *MAGIC {
            return Err(BackupError::NotABackup);
        }
        match self.take()? {
            [VERSION] => Ok(()),
            [0] => Err(damaged("it has no version")),
            [version] => Err(BackupError::Newer {
                version: version.into(),
            }),
        }
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], BackupError> {
        let mut bytes = [0; N];
        self.from.read_exact(&mut bytes).map_err(unreadable)?;
        self.hash.update(&bytes);
        Ok(bytes)
    }

    /// Memory grows with what is there, not with what a record says of itself.
    fn fill(&mut self, bytes: &mut Vec<u8>, length: usize) -> Result<(), BackupError> {
        bytes.clear();
        let mut limited = (&mut self.from).take(length as u64);
        limited.read_to_end(bytes).map_err(unreadable)?;
        if bytes.len() < length {
            return Err(damaged("it was cut short or altered"));
        }
        self.hash.update(bytes);
        Ok(())
    }

    /// Reading on to the end is also what shows that nothing was cut off the encryption.
    fn end(&mut self) -> Result<(), BackupError> {
        match self.from.read(&mut [0]).map_err(unreadable)? {
            0 => Ok(()),
            _ => Err(damaged("something follows its end")),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn written(records: &[Record<'_>]) -> Vec<u8> {
        let mut writer = Writer::new(Vec::new()).unwrap();
        for record in records {
            writer.put(record).unwrap();
        }
        writer.finish().unwrap().0
    }

    fn is_read(bytes: &[u8]) -> Result<BackupReport, BackupError> {
        read(bytes, |_| Ok(()))
    }

    fn some() -> Vec<u8> {
        let blob = blobs::name_of(b"a photograph");
        written(&[
            Record::Change {
                doc: b"a",
                seq: 2,
                bytes: b"two",
            },
            Record::Change {
                doc: b"a",
                seq: 10,
                bytes: b"ten",
            },
            Record::Change {
                doc: b"b",
                seq: 1,
                bytes: b"",
            },
            Record::Setting {
                name: "name",
                bytes: b"value",
            },
            Record::Blob {
                id: blob,
                bytes: b"a photograph",
            },
        ])
    }

    #[test]
    fn any_altered_byte_and_any_cut_is_noticed() {
        let whole = some();
        let report = is_read(&whole).unwrap();
        let counts = [
            report.documents,
            report.changes,
            report.settings,
            report.blobs,
        ];
        assert_eq!(counts, [2, 3, 1, 1]);
        for at in 0..whole.len() {
            for bit in 0..8 {
                let mut bytes = whole.clone();
                bytes[at] ^= 1 << bit;
                assert!(is_read(&bytes).is_err(), "bit {bit} of {at}");
            }
            assert!(is_read(&whole[..at]).is_err(), "cut at {at}");
        }
        assert!(is_read(&[whole, vec![0]].concat()).is_err());
    }

    #[test]
    fn records_out_of_order_or_twice_are_refused() {
        let change = |doc, seq| Record::Change {
            doc,
            seq,
            bytes: b"x",
        };
        let setting = |name| Record::Setting { name, bytes: b"x" };
        let refused = |records: &[Record<'_>]| {
            matches!(is_read(&written(records)), Err(BackupError::Damaged(_)))
        };
        assert!(!refused(&[
            change(b"a", 1),
            change(b"a", 2),
            setting("a"),
            setting("b")
        ]));
        assert!(refused(&[change(b"a", 1), change(b"a", 1)]));
        assert!(refused(&[change(b"a", 2), change(b"a", 1)]));
        assert!(refused(&[change(b"b", 1), change(b"a", 2)]));
        assert!(refused(&[setting("a"), change(b"a", 1)]));
        assert!(refused(&[setting("a"), setting("a")]));
    }

    #[test]
    fn a_blob_under_a_false_name_is_refused() {
        let record = Record::Blob {
            id: BlobId([7; 32]),
            bytes: b"something else",
        };
        assert!(matches!(
            is_read(&written(&[record])),
            Err(BackupError::Damaged(_))
        ));
    }

    /// Bytes that never end, and how many of them were asked for.
    struct Endless<'a>(&'a [u8], usize);

    impl Read for Endless<'_> {
        fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
            let begun = self.0.read(to)?;
            self.1 += to.len();
            to[begun..].fill(0x5A);
            Ok(to.len())
        }
    }

    #[test]
    fn a_record_that_never_ends_is_read_to_its_bound_only() {
        let start = [MAGIC.as_slice(), &[VERSION]].concat();
        let most = |kind, length: u32| {
            let mut bytes = start.clone();
            bytes.push(kind);
            bytes.extend([0; 8]);
            bytes.extend(4_u16.to_le_bytes());
            bytes.extend(length.to_le_bytes());
            let mut endless = Endless(&bytes, 0);
            assert!(read(&mut endless, |_| Ok(())).is_err());
            endless.1
        };
        for length in [MAX_BLOB_BYTES as u32 + 1, u32::MAX] {
            assert!(most(BLOB, length) < 1000);
        }
        assert!(most(CHANGE, MAX_CHANGE_BYTES as u32 + 1) < 1000);
        assert!(most(SETTING, MAX_SETTING_BYTES as u32 + 1) < 1000);
        assert!(most(END, 1) < 1000);
        let largest = most(BLOB, MAX_BLOB_BYTES as u32);
        assert!(largest < MAX_BLOB_BYTES + 1000, "{largest}");
    }

    #[test]
    fn a_length_that_lies_takes_no_memory() {
        let mut bytes = [MAGIC.as_slice(), &[VERSION, BLOB]].concat();
        bytes.extend([0; 8]);
        bytes.extend(0_u16.to_le_bytes());
        bytes.extend((MAX_BLOB_BYTES as u32).to_le_bytes());
        bytes.extend(b"short");
        let mut reader = Reader {
            from: bytes.as_slice(),
            hash: blake3::Hasher::new(),
        };
        reader.begin().unwrap();
        reader.take::<HEAD>().unwrap();
        let mut taken = Vec::new();
        assert!(reader.fill(&mut taken, MAX_BLOB_BYTES).is_err());
        assert!(taken.capacity() < 10_000, "{}", taken.capacity());
    }

    proptest! {
        #[test]
        fn bytes_from_nowhere_are_refused(tail in proptest::collection::vec(any::<u8>(), 0..400)) {
            prop_assert!(is_read(&tail).is_err());
            let begun = [MAGIC.as_slice(), &[VERSION], &tail].concat();
            prop_assert!(is_read(&begun).is_err());
        }

        /// Heads with plausible lengths, so that the parser gets further.
        #[test]
        fn records_from_nowhere_are_read_or_refused(
            heads in proptest::collection::vec((0..6_u8, 0..3_u64, 0..5_usize, 0..9_usize), 0..12),
        ) {
            let mut bytes = [MAGIC.as_slice(), &[VERSION]].concat();
            for (kind, number, name, length) in heads {
                bytes.extend(head(kind, number, &vec![b'a'; name], &vec![0; length]));
                bytes.extend(vec![b'a'; name + length]);
            }
            prop_assert!(is_read(&bytes).is_err());
        }
    }
}
