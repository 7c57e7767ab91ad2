//! What goes into which part.

use units::BlobId;

use super::Parcel;
use super::head::{BLOBS, CHANGES, PieceHead};
use crate::frame::Octets;
use crate::outline::{GROUP, Outline};

/// The most that the head grows by a change, by a blob, and by a piece with its outline.
const CHANGE_ENTRY: u64 = 5;
const BLOB_ENTRY: u64 = 32 + 5;
const PIECE_ENTRY: u64 = 32 + 3 * 5 + 3;

/// The content of one part.
#[derive(Default)]
pub(super) struct Load<'a> {
    pub(super) changes: Vec<&'a [u8]>,
    pub(super) blobs: Vec<(BlobId, &'a [u8])>,
    pub(super) pieces: Vec<(PieceHead, &'a [u8])>,
    /// Of this part's room.
    used: u64,
}

impl<'a> Load<'a> {
    /// Everything, in the order in which it is written.
    pub(super) fn runs(&self) -> impl Iterator<Item = &'a [u8]> {
        let blobs = self.blobs.iter().map(|(_, bytes)| *bytes);
        let pieces = self.pieces.iter().map(|(_, bytes)| *bytes);
        self.changes.iter().copied().chain(blobs).chain(pieces)
    }
}

/// More room than a part has.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct NoRoom {
    pub(super) needed: u64,
}

/// Packs the changes and then the blobs, in their order, into parts of this much room
/// each. A blob is split only if no part could hold it: what is whole is of use at once.
/// At least one part, even if there is nothing to pack.
pub(super) fn pack(parcel: &Parcel, room: u64) -> Result<Vec<Load<'_>>, NoRoom> {
    let mut packer = Packer {
        room,
        full: Vec::new(),
        open: Load::default(),
    };
    for change in &parcel.changes {
        let cost = CHANGE_ENTRY + change.len() as u64;
        packer.make_room(cost, |open| open.changes.len() < CHANGES)?;
        packer.open.changes.push(change);
    }
    for (id, bytes) in &parcel.blobs {
        let cost = BLOB_ENTRY + bytes.len() as u64;
        if cost > room {
            packer.split(*id, bytes)?;
            continue;
        }
        packer.make_room(cost, |open| open.blobs.len() < BLOBS)?;
        packer.open.blobs.push((*id, bytes));
    }
    packer.full.push(packer.open);
    Ok(packer.full)
}

struct Packer<'a> {
    room: u64,
    full: Vec<Load<'a>>,
    open: Load<'a>,
}

impl<'a> Packer<'a> {
    /// Takes from the open part's room, or from a new one's.
    fn make_room(&mut self, cost: u64, more: impl Fn(&Load) -> bool) -> Result<(), NoRoom> {
        if cost > self.room {
            return Err(NoRoom { needed: cost });
        }
        if cost > self.room - self.open.used || !more(&self.open) {
            self.begin();
        }
        self.open.used += cost;
        Ok(())
    }

    fn begin(&mut self) {
        self.full.push(std::mem::take(&mut self.open));
    }

    /// Puts a blob into as many parts as it takes, as many groups into each as it holds.
    fn split(&mut self, id: BlobId, blob: &'a [u8]) -> Result<(), NoRoom> {
        let outline = Outline::of(blob);
        let entry = PIECE_ENTRY + outline.len() as u64;
        let group = GROUP as u64;
        let mut from = 0;
        while from < blob.len() {
            let left = (self.room - self.open.used).saturating_sub(entry);
            let most = (left - left % group) as usize;
            if most == 0 {
                self.begin();
                if self.room < entry + group {
                    let needed = entry + group;
                    return Err(NoRoom { needed });
                }
                continue;
            }
            let piece = &blob[from..blob.len().min(from.saturating_add(most))];
            let head = PieceHead {
                id: id.0,
                length: blob.len() as u32,
                from: from as u32,
                bytes: piece.len() as u32,
                outline: Octets(outline.clone()),
            };
            self.open.pieces.push((head, piece));
            self.open.used += entry + piece.len() as u64;
            from += piece.len();
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::head::PIECES;
    use super::*;

    fn parcel(changes: &[usize], blobs: &[usize]) -> Parcel {
        Parcel {
            changes: changes.iter().map(|length| vec![1; *length]).collect(),
            blobs: blobs
                .iter()
                .map(|length| (BlobId([0; 32]), vec![2; *length]))
                .collect(),
            ..Parcel::default()
        }
    }

    fn shape(loads: &[Load]) -> Vec<(usize, usize, usize)> {
        let shape = loads
            .iter()
            .map(|load| (load.changes.len(), load.blobs.len(), load.pieces.len()));
        shape.collect()
    }

    #[test]
    fn nothing_is_one_empty_part() {
        assert_eq!(shape(&pack(&parcel(&[], &[]), 0).unwrap()), [(0, 0, 0)]);
    }

    #[test]
    fn a_part_is_filled_to_its_last_byte_and_not_beyond() {
        let parcel = parcel(&[95, 95, 95], &[263]);
        let shape_in = |room| shape(&pack(&parcel, room).unwrap());
        assert_eq!(shape_in(600), [(3, 1, 0)]);
        assert_eq!(shape_in(599), [(3, 0, 0), (0, 1, 0)]);
        assert_eq!(shape_in(300), [(3, 0, 0), (0, 1, 0)]);
    }

    #[test]
    fn a_change_that_fits_no_part_is_told_with_what_it_needs() {
        let refused = pack(&parcel(&[95, 96], &[]), 100).map(|_| ());
        assert_eq!(refused, Err(NoRoom { needed: 101 }));
    }

    #[test]
    fn counts_are_bounded_in_each_part() {
        let parcel = parcel(&vec![0; CHANGES + 1], &vec![0; BLOBS + 2]);
        let loads = pack(&parcel, 1 << 30).unwrap();
        assert_eq!(shape(&loads), [(CHANGES, 0, 0), (1, BLOBS, 0), (0, 2, 0)]);
    }

    #[test]
    fn a_blob_is_split_at_groups_and_only_if_it_must_be() {
        let group = GROUP as u64;
        let entry = PIECE_ENTRY + 5 * 32;
        let length = 4 * GROUP + 1;
        // Whole, in a part of its own.
        let small = parcel(&[10], &[length]);
        let whole = pack(&small, BLOB_ENTRY + length as u64).unwrap();
        assert_eq!(shape(&whole), [(1, 0, 0), (0, 1, 0)]);
        // One byte less: begun in the room that is left.
        let cut = pack(&small, BLOB_ENTRY + length as u64 - 1).unwrap();
        assert_eq!(shape(&cut), [(1, 0, 1), (0, 0, 1)]);
        // A group to a part.
        let narrow = pack(&small, entry + group).unwrap();
        let from: Vec<_> = narrow.iter().flat_map(|load| &load.pieces).collect();
        let from: Vec<_> = from
            .iter()
            .map(|(head, bytes)| (head.from, bytes.len()))
            .collect();
        let at = |nth: usize| (nth * GROUP) as u32;
        let rest = [1, 2, 3].map(|nth| (at(nth), GROUP));
        assert_eq!(from, [&[(0, GROUP)], &rest[..], &[(at(4), 1)]].concat());
        let refused = pack(&small, entry + group - 1).map(|_| ());
        assert_eq!(
            refused,
            Err(NoRoom {
                needed: entry + group
            })
        );
    }

    #[test]
    fn what_follows_a_last_piece_has_the_room_that_is_left() {
        let entry = PIECE_ENTRY + 2 * 32;
        let room = entry + GROUP as u64;
        let left = room - entry - 1000;
        for (blob, parts) in [(left - BLOB_ENTRY, 2), (left - BLOB_ENTRY + 1, 3)] {
            let parcel = parcel(&[], &[GROUP + 1000, blob as usize]);
            assert_eq!(pack(&parcel, room).unwrap().len(), parts);
        }
    }

    #[test]
    fn no_part_has_more_than_the_end_of_one_blob_and_the_beginning_of_another() {
        let parcel = parcel(&[], &[3 * GROUP + 9; 40]);
        let room = 3 * GROUP as u64;
        let loads = pack(&parcel, room).unwrap();
        let most = loads.iter().map(|load| load.pieces.len()).max();
        assert_eq!(most, Some(PIECES));
    }
}
