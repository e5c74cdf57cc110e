//! What was read of the register, gone on with: only what was appended since is read and checked.
//!
//! Always: the last line that was read still stands in its place, byte for byte, or everything is read again; each new line
//! passes the chain and the fold as in any other reading. Where reports stand aside, or anything is damaged, everything is
//! read again. Not here: when that happens (`hand`).

use crate::actions::Looked;
use crate::disk::{Folder, read_from};
use crate::record::line::Line;
use crate::record::store::is_older;
use crate::record::{aside, volumes};
use crate::world::Storage;
use std::path::Path;

/// Where the last line begins and ends in the last volume.
fn last_line(looked: &Looked) -> Option<(u64, u64)> {
    let begun = looked.lines.iter().rposition(|l| l.kind.name == "enrol")?;
    let of_volume = looked.lines.get(begun..)?;
    let end: u64 = of_volume.iter().map(|l| l.raw.len() as u64 + 1).sum();
    Some((end - looked.lines.last()?.raw.len() as u64 - 1, end))
}

/// A register that was read whole, and where it ended.
pub struct Memory {
    looked: Looked,
    begins: u64,
    ends: u64,
    volumes: Vec<String>,
}

impl Memory {
    /// Keeps what was read.
    pub fn of(looked: Looked, register: &Path) -> Memory {
        let (begins, ends) = last_line(&looked).unwrap_or_default();
        let volumes = volumes::names(&Folder::at(register)).unwrap_or_default();
        Memory { looked, begins, ends, volumes }
    }

    /// What was read.
    pub const fn looked(&self) -> &Looked {
        &self.looked
    }

    /// What was read, for the time of a look.
    pub const fn looked_mut(&mut self) -> &mut Looked {
        &mut self.looked
    }

    /// With what was appended since; `None` where everything has to be read again.
    pub fn go_on(mut self, register: &Path, seal: Option<&Path>) -> Option<Memory> {
        let whole =
            self.ends > 0 && self.looked.broken.is_none() && !self.looked.torn && self.looked.aside == 0;
        let folder = Folder::at(register);
        if !whole || self.looked.unread > 0 || volumes::names(&folder).ok()? != self.volumes {
            return None;
        }
        let name = self.volumes.last()?;
        let bytes = read_from(&register.join(name), self.begins).ok()?;
        let (last, new) = bytes.split_at_checked(usize::try_from(self.ends - self.begins).ok()?)?;
        if last.strip_suffix(b"\n")? != self.looked.lines.last()?.raw {
            return None;
        }
        let mut rest = new;
        while let Some(len) = rest.iter().position(|b| *b == b'\n') {
            let (raw, tail) = rest.split_at(len);
            let line = Line::read(raw).ok().filter(|l| l.kind.name != "enrol")?;
            self.looked.chain.next(&line).ok()?;
            self.looked.state.take(&line).ok()?;
            self.looked.lines.push(line);
            (self.begins, self.ends) = (self.ends, self.ends + len as u64 + 1);
            rest = tail.get(1..)?;
        }
        if !rest.is_empty() {
            return None;
        }
        let seal = seal.map(Folder::at);
        if seal.as_ref().is_some_and(|s| is_older(s, &self.looked.chain)) {
            return None;
        }
        let folders: Vec<&dyn Storage> =
            std::iter::once(&folder).chain(seal.as_ref()).map(|f| f as &dyn Storage).collect();
        aside::standing(&folders, &self.looked.now.time, &|_| false).is_empty().then_some(self)
    }
}
