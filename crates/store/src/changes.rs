//! Append-only changes, by document and sequence number.

use std::ops::{Bound, RangeBounds};

use rusqlite::{Connection, OptionalExtension, params};

use crate::write::{Prepared, checksum, within};
use crate::{MAX_CHANGE_BYTES, MAX_NAME_BYTES, Store, StoreError};

impl Store {
    /// Appends a change. `true` if it is new, `false` if the same bytes are already there.
    pub fn append(&self, doc: &[u8], seq: u64, bytes: &[u8]) -> Result<bool, StoreError> {
        self.append_all(&[(doc, seq, bytes)]).map(|new| new == 1)
    }

    /// Appends changes as (document, sequence number, bytes) in one transaction; how many were
    /// new.
    pub fn append_all(&self, changes: &[(&[u8], u64, &[u8])]) -> Result<usize, StoreError> {
        self.write_all(
            changes
                .iter()
                .map(|(doc, seq, bytes)| Prepared::change(doc, *seq, bytes)),
        )
    }

    /// The document's changes with these sequence numbers, in order: `1..` is all of them.
    pub fn changes(
        &self,
        doc: &[u8],
        seqs: impl RangeBounds<u64>,
    ) -> Result<Vec<(u64, Vec<u8>)>, StoreError> {
        let first = match seqs.start_bound() {
            Bound::Included(seq) => *seq,
            Bound::Excluded(seq) => seq.saturating_add(1),
            Bound::Unbounded => 0,
        };
        let last = match seqs.end_bound() {
            Bound::Included(seq) => Some(*seq),
            Bound::Excluded(seq) => seq.checked_sub(1),
            Bound::Unbounded => Some(u64::MAX),
        };
        let (Ok(first), Some(last)) = (i64::try_from(first), last) else {
            return Ok(Vec::new());
        };
        // No number is kept that the database cannot hold.
        let last = i64::try_from(last).unwrap_or(i64::MAX);
        let database = self.database()?;
        let mut rows = database.prepare_cached(
            "SELECT seq, bytes, sum FROM changes WHERE doc = ?1 AND seq >= ?2 AND seq <= ?3 \
             ORDER BY seq",
        )?;
        let rows = rows.query_map(params![doc, first, last], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })?;
        rows.map(|row| {
            let (seq, bytes, sum) = row?;
            checked(doc, seq, bytes, sum)
        })
        .collect()
    }

    /// The document's changes from a sequence number on, in order, as far as they come to so many bytes
    /// together; the first whatever its size.
    pub fn changes_within(
        &self,
        doc: &[u8],
        from: u64,
        most_bytes: usize,
    ) -> Result<Vec<(u64, Vec<u8>)>, StoreError> {
        let Ok(from) = i64::try_from(from) else {
            return Ok(Vec::new());
        };
        let database = self.database()?;
        let mut rows = database.prepare_cached(
            "SELECT seq, bytes, sum FROM changes WHERE doc = ?1 AND seq >= ?2 ORDER BY seq",
        )?;
        let mut rows = rows.query(params![doc, from])?;
        let (mut changes, mut bytes) = (Vec::new(), 0);
        while let Some(row) = rows.next()? {
            bytes += row
                .get_ref(1)?
                .as_blob()
                .map_err(rusqlite::Error::from)?
                .len();
            if bytes > most_bytes && !changes.is_empty() {
                break;
            }
            changes.push(checked(doc, row.get(0)?, row.get(1)?, row.get(2)?)?);
        }
        Ok(changes)
    }

    /// Every document with its highest sequence number.
    pub fn docs(&self) -> Result<Vec<(Vec<u8>, u64)>, StoreError> {
        let database = self.database()?;
        let mut rows = database.prepare_cached(DOCS)?;
        let rows = rows.query_map([], |row| {
            Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs()))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// Answered from the primary key's index alone.
pub(crate) const DOCS: &str = "SELECT doc, max(seq) FROM changes GROUP BY doc ORDER BY doc";

impl<'a> Prepared<'a> {
    pub(crate) fn change(doc: &'a [u8], seq: u64, bytes: &'a [u8]) -> Result<Self, StoreError> {
        within("the name of a document", doc.len(), MAX_NAME_BYTES)?;
        within("a change", bytes.len(), MAX_CHANGE_BYTES)?;
        let seq = i64::try_from(seq).map_err(|_| StoreError::TooLarge {
            what: "a sequence number",
            limit: i64::MAX as u64,
        })?;
        let sum = sum_of(doc, seq, bytes);
        Ok(Self::Change {
            doc,
            seq,
            bytes,
            sum,
        })
    }
}

fn sum_of(doc: &[u8], seq: i64, bytes: &[u8]) -> [u8; 32] {
    checksum(&[doc, &seq.to_le_bytes()], bytes)
}

fn checked(
    doc: &[u8],
    seq: i64,
    bytes: Vec<u8>,
    sum: Vec<u8>,
) -> Result<(u64, Vec<u8>), StoreError> {
    if sum != sum_of(doc, seq, &bytes) {
        return Err(StoreError::Damaged(format!("change {seq} of a document")));
    }
    Ok((seq.unsigned_abs(), bytes))
}

pub(crate) fn append(
    database: &Connection,
    doc: &[u8],
    seq: i64,
    bytes: &[u8],
    sum: &[u8; 32],
) -> Result<bool, StoreError> {
    let there: Option<Vec<u8>> = database
        .prepare_cached("SELECT sum FROM changes WHERE doc = ?1 AND seq = ?2")?
        .query_row(params![doc, seq], |row| row.get(0))
        .optional()?;
    match there {
        Some(there) if there == sum => Ok(false),
        Some(_) => Err(StoreError::Conflict {
            seq: seq.unsigned_abs(),
        }),
        None => {
            database
                .prepare_cached(
                    "INSERT INTO changes (doc, seq, bytes, sum) VALUES (?1, ?2, ?3, ?4)",
                )?
                .execute(params![doc, seq, bytes, sum])?;
            Ok(true)
        }
    }
}

/// Removes all changes of a document. `true` if there were any.
pub(crate) fn remove_doc(database: &Connection, doc: &[u8]) -> Result<bool, StoreError> {
    let removed = database
        .prepare_cached("DELETE FROM changes WHERE doc = ?1")?
        .execute(params![doc])?;
    Ok(removed > 0)
}

/// Hands every change on as (document, sequence number, bytes), in this order.
pub(crate) fn each<E: From<StoreError> + From<rusqlite::Error>>(
    database: &Connection,
    mut with: impl FnMut(&[u8], u64, &[u8]) -> Result<(), E>,
) -> Result<(), E> {
    let mut rows =
        database.prepare("SELECT doc, seq, bytes, sum FROM changes ORDER BY doc, seq")?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let doc: Vec<u8> = row.get(0)?;
        let (seq, bytes) = checked(&doc, row.get(1)?, row.get(2)?, row.get(3)?)?;
        with(&doc, seq, &bytes)?;
    }
    Ok(())
}
