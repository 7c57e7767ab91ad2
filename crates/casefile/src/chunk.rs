//! A strict reader of the one kind of Automerge bytes that this program writes: an uncompressed
//! change that sets scalars at the root. Automerge's own reader trusts its input further than a
//! stranger deserves, so it is shown only what has passed here.
//!
//! Layout after Automerge's published binary format (chunks, change chunks, columns). Nothing is
//! allocated beyond the bytes given and [`MAX_OPERATIONS`].

use crate::author_doc::Value;

/// Most operations in one change.
pub(crate) const MAX_OPERATIONS: usize = 4_096;
/// Where the checksum stands: the first bytes of the change's hash.
pub(crate) const CHECKSUM: core::ops::Range<usize> = 4..8;

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const CHANGE: u8 = 1;
/// The action "put".
const PUT: u64 = 1;

/// Columns as number × 16 + type. All others are refused: those of objects, of list elements, of
/// marks, and whatever is compressed.
mod column {
    pub(super) const KEY: u64 = 0x15;
    pub(super) const INSERT: u64 = 0x34;
    pub(super) const ACTION: u64 = 0x42;
    pub(super) const VALUE_KIND: u64 = 0x56;
    pub(super) const VALUE: u64 = 0x57;
    pub(super) const PRED_COUNT: u64 = 0x70;
    pub(super) const PRED_ACTOR: u64 = 0x71;
    pub(super) const PRED_COUNTER: u64 = 0x73;
}

/// What a change says.
pub(crate) struct Chunk<'a> {
    pub(crate) deps: Vec<[u8; 32]>,
    pub(crate) actor: &'a [u8],
    pub(crate) seq: u64,
    pub(crate) start_op: u64,
    /// Every operation in order.
    pub(crate) puts: Vec<KeyPut<'a>>,
}

/// One key set.
pub(crate) struct KeyPut<'a> {
    pub(crate) key: &'a str,
    /// What it is set to; `None` for a number with a fraction, which the schema never uses.
    pub(crate) value: Option<Value>,
    /// The counter of the operation that it writes over.
    pub(crate) pred: Option<u64>,
}

/// The change in these bytes; `None` if they are anything else or out of bounds.
pub(crate) fn read(bytes: &[u8]) -> Option<Chunk<'_>> {
    let mut input = Input(bytes);
    if input.take(4)? != MAGIC {
        return None;
    }
    let _checksum = input.take(4)?;
    if input.take(1)? != [CHANGE] {
        return None;
    }
    let length = input.uint()?;
    if length != input.0.len() as u64 {
        return None;
    }
    let (deps, []) = input.take_counted(32)?.as_chunks::<32>() else {
        return None;
    };
    let actor = input.take_counted(1)?;
    let seq = input.uint()?;
    let start_op = input.uint()?;
    // No time, no message, no other actor.
    if input.take(3)? != [0, 0, 0] {
        return None;
    }
    let puts = Columns::read(&mut input)?.puts(start_op)?;
    if !input.0.is_empty() {
        return None;
    }
    Some(Chunk {
        deps: deps.to_vec(),
        actor,
        seq,
        start_op,
        puts,
    })
}

#[derive(Default)]
struct Columns<'a> {
    key: &'a [u8],
    insert: &'a [u8],
    action: &'a [u8],
    value_kind: &'a [u8],
    value: &'a [u8],
    pred_count: &'a [u8],
    pred_actor: &'a [u8],
    pred_counter: &'a [u8],
}

impl<'a> Columns<'a> {
    fn read(input: &mut Input<'a>) -> Option<Self> {
        let mut columns = Self::default();
        let count = input.uint()?;
        // The columns stand in rising order, each once.
        if count > 8 {
            return None;
        }
        let mut heads = Vec::with_capacity(8);
        for _ in 0..count {
            heads.push((input.uint()?, input.uint()?));
        }
        if !heads.is_sorted_by(|a, b| a.0 < b.0) {
            return None;
        }
        for (kind, length) in heads {
            let place = match kind {
                column::KEY => &mut columns.key,
                column::INSERT => &mut columns.insert,
                column::ACTION => &mut columns.action,
                column::VALUE_KIND => &mut columns.value_kind,
                column::VALUE => &mut columns.value,
                column::PRED_COUNT => &mut columns.pred_count,
                column::PRED_ACTOR => &mut columns.pred_actor,
                column::PRED_COUNTER => &mut columns.pred_counter,
                _ => return None,
            };
            *place = input.take(length)?;
        }
        Some(columns)
    }

    fn puts(&self, start_op: u64) -> Option<Vec<KeyPut<'a>>> {
        let keys = runs(self.key, Input::text)?;
        let actions = runs(self.action, Input::uint)?;
        if keys.is_empty() || actions.len() != keys.len() || actions.iter().any(|put| *put != PUT) {
            return None;
        }
        // Booleans are run lengths, of "no" first: as many as there are operations.
        let mut inserts = Input(self.insert);
        if inserts.uint()? != keys.len() as u64 || !inserts.0.is_empty() {
            return None;
        }
        let values = self.values(keys.len())?;
        let preds = self.preds(keys.len(), start_op)?;
        let puts = keys.into_iter().zip(values).zip(preds);
        Some(
            puts.map(|((key, value), pred)| KeyPut { key, value, pred })
                .collect(),
        )
    }

    fn values(&self, operations: usize) -> Option<Vec<Option<Value>>> {
        let kinds = runs(self.value_kind, Input::uint)?;
        let mut all = Input(self.value);
        let mut values = Vec::with_capacity(kinds.len());
        for kind in &kinds {
            let mut bytes = Input(all.take(kind >> 4)?);
            values.push(match kind & 0xF {
                0 => Some(Value::Nothing),
                1 => Some(Value::Flag(false)),
                2 => Some(Value::Flag(true)),
                3 => Some(Value::Uint(bytes.uint()?)),
                4 => Some(Value::Int(bytes.int()?)),
                5 => {
                    bytes.take(8)?;
                    None
                }
                6 => Some(Value::Text(core::str::from_utf8(bytes.rest()).ok()?.into())),
                7 => Some(Value::Bytes(bytes.rest().to_vec())),
                _ => return None,
            });
            if !bytes.0.is_empty() {
                return None;
            }
        }
        (kinds.len() == operations && all.0.is_empty()).then_some(values)
    }

    /// At most one earlier operation of the same actor for each.
    fn preds(&self, operations: usize, start_op: u64) -> Option<Vec<Option<u64>>> {
        let counts = runs(self.pred_count, Input::uint)?;
        let actors = runs(self.pred_actor, Input::uint)?;
        let steps = runs(self.pred_counter, Input::int)?;
        let all = counts.iter().filter(|count| **count == 1).count();
        let as_many = counts.len() == operations && actors.len() == all && steps.len() == all;
        if !as_many || counts.iter().any(|count| *count > 1) || actors.iter().any(|at| *at != 0) {
            return None;
        }
        let mut last = 0_i64;
        let mut counters = Vec::with_capacity(all);
        for step in steps {
            last = last.checked_add(step)?;
            let counter = u64::try_from(last).ok()?;
            if counter == 0 || counter >= start_op {
                return None;
            }
            counters.push(counter);
        }
        let mut counters = counters.into_iter();
        let pred = |count: u64| if count == 1 { counters.next() } else { None };
        Some(counts.into_iter().map(pred).collect())
    }
}

/// The values of a run-length encoded column: a positive count repeats the value that follows, a
/// negative one stands before as many single values. Absent values (count 0) are not used here.
fn runs<'a, T: Clone>(
    column: &'a [u8],
    read: impl Fn(&mut Input<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    let mut input = Input(column);
    let mut values = Vec::new();
    while !input.0.is_empty() {
        let run = input.int()?;
        let count = usize::try_from(run.unsigned_abs()).ok()?;
        if count == 0 || count > MAX_OPERATIONS - values.len() {
            return None;
        }
        if run > 0 {
            let value = read(&mut input)?;
            values.resize(values.len() + count, value);
        } else {
            for _ in 0..count {
                values.push(read(&mut input)?);
            }
        }
    }
    Some(values)
}

/// Bytes not yet read.
struct Input<'a>(&'a [u8]);

impl<'a> Input<'a> {
    fn take(&mut self, length: u64) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(usize::try_from(length).ok()?)?;
        self.0 = rest;
        Some(taken)
    }

    fn rest(&mut self) -> &'a [u8] {
        core::mem::take(&mut self.0)
    }

    /// A count, then as many things of this size.
    fn take_counted(&mut self, size: u64) -> Option<&'a [u8]> {
        let count = self.uint()?;
        self.take(count.checked_mul(size)?)
    }

    fn text(&mut self) -> Option<&'a str> {
        core::str::from_utf8(self.take_counted(1)?).ok()
    }

    /// LEB128, unsigned.
    fn uint(&mut self) -> Option<u64> {
        Some(self.leb()?.0)
    }

    /// LEB128, signed.
    fn int(&mut self) -> Option<i64> {
        let (value, bits) = self.leb()?;
        let spare = 64_u32.saturating_sub(bits);
        Some((value << spare) as i64 >> spare)
    }

    /// The value and how many bits it was written with.
    fn leb(&mut self) -> Option<(u64, u32)> {
        let mut value = 0_u64;
        for index in 0..10 {
            let byte = self.take(1)?[0];
            value |= u64::from(byte & 0x7f) << (index * 7);
            if byte & 0x80 == 0 {
                return Some((value, (index + 1) * 7));
            }
        }
        None
    }
}
