//! What is forgotten, and what goes with it.

use std::collections::{BTreeMap, BTreeSet};

use crate::BookKind;
use crate::author_doc::Value;
use crate::merged::kind;

/// What is forgotten: ids, and whatever names them.
pub(crate) struct Forgotten {
    ids: BTreeSet<[u8; 16]>,
    text: BTreeSet<String>,
    /// The first bytes of all ids, to tell quickly where none can begin.
    first: [bool; 256],
}

impl Forgotten {
    pub(crate) fn new<'a>(ids: impl IntoIterator<Item = &'a [u8; 16]>) -> Self {
        let mut forgotten = Self {
            ids: BTreeSet::new(),
            text: BTreeSet::new(),
            first: [false; 256],
        };
        for id in ids {
            forgotten.add(*id);
        }
        forgotten
    }

    fn add(&mut self, id: [u8; 16]) -> bool {
        let hex = id.iter().map(|byte| format!("{byte:02x}")).collect();
        self.text.insert(hex);
        self.first[usize::from(id[0])] = true;
        self.ids.insert(id)
    }

    pub(crate) fn is_nothing(&self) -> bool {
        self.ids.is_empty()
    }

    /// Whether a key or its value names something that is forgotten. Bytes are searched and not
    /// unpacked, so that this holds for records of newer versions too. A page and what was practised name
    /// the task that they answer, but are not part of it: these go by their key alone, else a task that
    /// is forgotten would take along what a child wrote for it later.
    pub(crate) fn touches(&self, key: &str, value: &Value) -> bool {
        if self.ids.is_empty() {
            return false;
        }
        let by_key = key.starts_with("page/") || key.starts_with("practised/");
        let named = |text: &str| {
            let mut parts = text.split(['/', '@']);
            parts.any(|part| self.text.contains(part))
        };
        let in_value = match value {
            _ if by_key => false,
            Value::Bytes(bytes) => bytes.windows(16).any(|window| {
                let id = window.first_chunk::<16>();
                self.first[usize::from(window[0])] && id.is_some_and(|id| self.ids.contains(id))
            }),
            Value::Text(text) => named(text),
            _ => false,
        };
        in_value || named(key)
    }

    /// Forgets also what stands under an id of its own and names something forgotten: a mark on a page
    /// that goes, and then that the mark was removed.
    ///
    /// That is so only if whatever has this id, in whichever document, names something forgotten. Anybody may
    /// give a record an id that is another's, and must not take that other's away by it.
    pub(crate) fn spread<'a>(
        &mut self,
        values: impl Iterator<Item = (BookKind, &'a String, &'a Value)>,
    ) {
        if self.ids.is_empty() {
            return;
        }
        let mut all: BTreeMap<[u8; 16], Vec<(&str, &Value)>> = BTreeMap::new();
        for (book, key, value) in values {
            if let Some(id) = id_of(key).filter(|_| kind(book, key).is_some()) {
                all.entry(id).or_default().push((key, value));
            }
        }
        all.retain(|_, values| values.iter().any(|(key, _)| may_go_with_another(key)));
        loop {
            let goes = |values: &[(&str, &Value)]| {
                let mut values = values.iter();
                values.all(|(key, value)| self.touches(key, value))
            };
            let more = all.iter().filter(|(_, values)| goes(values));
            let more: Vec<[u8; 16]> = more.map(|(id, _)| *id).collect();
            if more.is_empty() {
                return;
            }
            for id in more {
                all.remove(&id);
                self.add(id);
            }
        }
    }
}

/// The id that a record or register is about; `None` for what only says something about another record.
pub(crate) fn id_of(key: &str) -> Option<[u8; 16]> {
    const ABOUT_OTHERS: [&str; 5] = ["unmark", "remark", "unamend", "unask", "unpractised"];
    let (head, rest) = key.split_once('/')?;
    let id = rest.split_once('/').map_or(rest, |(id, _)| id);
    let id: units::PageId = id.parse().ok()?;
    (!ABOUT_OTHERS.contains(&head)).then_some(id.0)
}

/// Whether this is a record with an id of its own that may be about something else.
fn may_go_with_another(key: &str) -> bool {
    const HEADS: [&str; 6] = ["mark", "amend", "reply", "practised", "setup", "ask"];
    let head = key.split_once('/').map(|(head, _)| head);
    head.is_some_and(|head| HEADS.contains(&head))
}
