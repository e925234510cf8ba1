//! Blends of a change list from their objects, and the answer that names one.
//! It does not know which colors may be worked in a blend.

use dyekin_core::change::TableVersion;
use dyekin_core::{Lab, Srgb8};

use super::super::BlendThread;
use super::{BLEND_FIELDS, BLEND_THREAD_FIELDS, FileAnswer, FileBlend, Reader};
use crate::chart::MAX_STRANDS;
use crate::json::{Node, Object};

impl Reader<'_> {
    pub(super) fn blends(
        &mut self,
        object: Object<'_>,
        path: &str,
        standard: Option<Lab>,
    ) -> Vec<FileBlend> {
        let mut blends = Vec::new();
        for (number, node) in self.check.list_of(object, "blends").iter().enumerate() {
            blends.extend(self.blend(node, &format!("{path}.blends[{number}]"), standard));
        }
        blends
    }

    fn blend(&mut self, node: &Node, path: &str, standard: Option<Lab>) -> Option<FileBlend> {
        let object = self.check.object(node, path, &BLEND_FIELDS)?;
        let nodes = self.check.list_of(object, "threads");
        let read = nodes.iter().map(|node| self.blend_thread(node, path)).collect::<Vec<_>>();
        let hex = self.check.needed(object, "hex", path, Srgb8::parse_hex);
        let difference = self.difference(object, path, standard);
        let full_spread = self.delta_e(object, "full_spread", path);
        let speckle = self.check.need(object, "speckle", path);
        let speckle = speckle.and_then(|flag| self.check.flag(flag, path));
        let Ok(threads) = <[_; 2]>::try_from(read) else {
            let reason = "a blend has two threads";
            self.check.bad(node, path, reason, "leave blends as they were made");
            return None;
        };
        let [first, second] = threads;
        let (first, second): (BlendThread, BlendThread) = (first?, second?);
        if first.thread.thread == second.thread.thread
            || first.strands.saturating_add(second.strands) > MAX_STRANDS
        {
            let reason =
                format!("a blend has two different threads and {MAX_STRANDS} strands at most");
            self.check.bad(node, path, &reason, "leave blends as they were made");
            return None;
        }
        Some(FileBlend {
            threads: [first, second],
            hex: hex?,
            difference: difference?,
            full_spread: full_spread?,
            speckle: speckle?,
        })
    }

    fn blend_thread(&mut self, node: &Node, path: &str) -> Option<BlendThread> {
        let path = format!("{path}.threads");
        let object = self.check.object(node, &path, &BLEND_THREAD_FIELDS)?;
        let thread = self.key_thread(object, &path);
        let name = self.check.optional(object, "name", |text| Ok(text.to_owned()));
        let count = self.check.need(object, "strands", &path)?;
        let strands = self.check.whole(count, &path, MAX_STRANDS.into())?;
        if strands == 0 {
            self.check.bad(count, &path, "a thread without strands", "write 1 or more");
            return None;
        }
        let thread = thread?;
        let listed = TableVersion { table: thread.thread.table.clone(), hash: thread.table_hash };
        if !self.tables.contains(&listed) {
            let reason = "a thread of a table, or of a version, that `tables` does not name";
            self.check.bad(node, &path, reason, "make the list again");
        }
        let strands = u8::try_from(strands).ok()?;
        Some(BlendThread { thread, name: name.unwrap_or_default(), strands })
    }

    /// The blend that an answer names, by its number from 1.
    pub(super) fn blend_answer(
        &mut self,
        node: &Node,
        path: &str,
        offered: usize,
    ) -> Option<FileAnswer> {
        let number = self.check.whole(node, path, u64::from(u32::MAX))?;
        let place = usize::try_from(number).ok()?.checked_sub(1).filter(|place| *place < offered);
        if place.is_none() {
            let (reason, remedy) = match offered {
                0 => (
                    "the change has no blends: they are for areas only, and substitute lists them with --blends".to_owned(),
                    "answer yes, no or another thread".to_owned(),
                ),
                1 => ("the change has one blend".to_owned(), "write {\"blend\": 1}".to_owned()),
                _ => (
                    format!("the change has {offered} blends, counted from 1"),
                    format!("write a number from 1 to {offered}"),
                ),
            };
            self.check.bad(node, path, &reason, &remedy);
        }
        place.map(FileAnswer::Blend)
    }
}
