//! Which Automerge changes may follow in a document: only such as this program writes.
//!
//! Automerge can express far more than the schema uses, and some of it is dear: a compressed chunk
//! or a run of a billion operations takes a few bytes to send. So a change must be an uncompressed
//! change chunk of a bounded number of operations, each setting a scalar at the root, with no
//! clock, message or second actor in it, and it must follow its author's last change directly.

use automerge::legacy::{Key, ObjectId, OpType};
use automerge::{ActorId, Change, ChangeHash};

use crate::{MAX_CHANGE_BYTES, Refused};

/// Most operations in one change.
const MAX_OPERATIONS: u64 = 4_096;

/// What the next change of an author must look like.
#[derive(Debug, Clone)]
pub(crate) struct Next {
    actor: ActorId,
    seq: u64,
    head: Option<ChangeHash>,
    start_op: u64,
}

impl Next {
    pub(crate) fn first(actor: ActorId) -> Self {
        Self {
            actor,
            seq: 1,
            head: None,
            start_op: 1,
        }
    }

    pub(crate) fn after(&self, change: &Change) -> Self {
        Self {
            actor: self.actor.clone(),
            seq: self.seq + 1,
            head: Some(change.hash()),
            start_op: change.max_op() + 1,
        }
    }
}

/// The change, if it is one that may follow, and what must come after it.
pub(crate) fn parse(bytes: &[u8], next: &Next) -> Result<(Change, Next), Refused> {
    if bytes.len() > MAX_CHANGE_BYTES {
        return Err(Refused::TooLarge);
    }
    match chunk::operations(bytes) {
        None => return Err(Refused::BadChange("no change chunk")),
        Some(0) => return Err(Refused::BadChange("it does nothing")),
        Some(count) if count > MAX_OPERATIONS => return Err(Refused::TooLarge),
        Some(_) => {}
    }
    let change =
        Change::try_from(bytes).map_err(|_| Refused::BadChange("no well-formed change"))?;
    follows(&change, next)?;
    sets_scalars_only(&change)?;
    let after = next.after(&change);
    Ok((change, after))
}

fn follows(change: &Change, next: &Next) -> Result<(), Refused> {
    let bad = |what| Err(Refused::BadChange(what));
    if *change.actor_id() != next.actor || !change.other_actor_ids().is_empty() {
        return bad("another actor's");
    }
    if change.seq() != next.seq || change.start_op().get() != next.start_op {
        return bad("out of sequence");
    }
    if change.deps() != next.head.as_slice() {
        return bad("it rests on another change");
    }
    if change.timestamp() != 0 || change.message().is_some() || !change.extra_bytes().is_empty() {
        return bad("it carries a time, a message or more");
    }
    Ok(())
}

fn sets_scalars_only(change: &Change) -> Result<(), Refused> {
    let plain = change.decode().operations.iter().all(|op| {
        op.obj == ObjectId::Root
            && matches!(op.key, Key::Map(_))
            && matches!(op.action, OpType::Put(_))
            && !op.insert
    });
    match plain {
        true => Ok(()),
        false => Err(Refused::BadChange("it does more than set values")),
    }
}

/// Just enough of Automerge's binary format (its published storage specification, "change chunk")
/// to count operations without making them.
mod chunk {
    const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
    const CHANGE: u8 = 1;
    /// Column 4 ("action"), type 2 (run-length encoded integers).
    const ACTION: u64 = 4 << 4 | 2;

    /// Number of operations that an uncompressed change chunk declares; `None` if it is no such
    /// chunk. Saturates.
    pub(super) fn operations(bytes: &[u8]) -> Option<u64> {
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
        let deps = input.uint()?;
        input.skip(deps.checked_mul(32)?)?;
        input.skip_prefixed()?; // actor
        input.uint()?; // seq
        input.uint()?; // start op
        input.int()?; // time
        input.skip_prefixed()?; // message
        for _ in 0..input.count()? {
            input.skip_prefixed()?; // other actors
        }
        let columns: Vec<(u64, u64)> = (0..input.count()?)
            .map(|_| Some((input.uint()?, input.uint()?)))
            .collect::<Option<_>>()?;
        for (column, length) in columns {
            let data = input.take(length)?;
            if column == ACTION {
                return runs(Input(data));
            }
        }
        Some(0)
    }

    /// Sum of the run lengths of a run-length encoded column of unsigned integers.
    fn runs(mut input: Input<'_>) -> Option<u64> {
        let mut total = 0_u64;
        while !input.0.is_empty() {
            let run = match input.int()? {
                0 => input.uint()?,
                literal if literal < 0 => {
                    for _ in 0..input.fits(literal.unsigned_abs())? {
                        input.uint()?;
                    }
                    literal.unsigned_abs()
                }
                repeat => {
                    input.uint()?;
                    repeat.unsigned_abs()
                }
            };
            total = total.saturating_add(run);
        }
        Some(total)
    }

    struct Input<'a>(&'a [u8]);

    impl<'a> Input<'a> {
        fn take(&mut self, length: u64) -> Option<&'a [u8]> {
            let (taken, rest) = self.0.split_at_checked(usize::try_from(length).ok()?)?;
            self.0 = rest;
            Some(taken)
        }

        fn skip(&mut self, length: u64) -> Option<()> {
            self.take(length).map(drop)
        }

        fn skip_prefixed(&mut self) -> Option<()> {
            let length = self.uint()?;
            self.skip(length)
        }

        /// A count of things that take a byte each at least.
        fn count(&mut self) -> Option<u64> {
            let count = self.uint()?;
            self.fits(count)
        }

        fn fits(&self, count: u64) -> Option<u64> {
            (count <= self.0.len() as u64).then_some(count)
        }

        /// LEB128, unsigned.
        fn uint(&mut self) -> Option<u64> {
            let (value, _) = self.leb()?;
            Some(value)
        }

        /// LEB128, signed.
        fn int(&mut self) -> Option<i64> {
            let (value, bits) = self.leb()?;
            let spare = 64_u32.saturating_sub(bits);
            Some((value << spare) as i64 >> spare)
        }

        /// The value and how many bits it had.
        fn leb(&mut self) -> Option<(u64, u32)> {
            let mut value = 0_u64;
            for index in 0..10 {
                let byte = self.take(1)?[0];
                value |= u64::from(byte & 0x7f).checked_shl(index * 7)?;
                if byte & 0x80 == 0 {
                    return Some((value, (index + 1) * 7));
                }
            }
            None
        }
    }
}
