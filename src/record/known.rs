//! Which seals this station has tried already: a note in the seal's folder, so that opening a long register need not try
//! each of them anew at every entry.
//!
//! In: the bytes of volumes. Out: how many of them have nothing but seals that were tried here and were good. Always: only
//! the very same bytes count (their SHA-256), and whether a seal is good rests on the bytes of its volume alone. Nothing else
//! is spared: frame, chain, what a person signed and every rule are tried each time. A note that is missing, torn or of other
//! bytes spares nothing. It stands with the seal's keys, never beside the register: no copy of a register brings one, and
//! verifying reads none.

use super::volumes::Volume;
use crate::world::Storage;
use sha2::{Digest, Sha256};

/// The note's file.
pub const NOTE: &str = "tried";
/// Its first line; another one is of another version.
const HEAD: &str = "seals tried here, 1";

/// A volume's bytes so far.
#[derive(Clone, Debug)]
struct Sum {
    name: String,
    length: usize,
    digest: Sha256,
}

impl Sum {
    fn of(name: &str) -> Sum {
        Sum { name: name.to_owned(), length: 0, digest: Sha256::new() }
    }

    fn grow(&mut self, bytes: &[u8]) {
        self.digest.update(bytes);
        self.length += bytes.len();
    }

    fn words(&self) -> String {
        let digest = data_encoding::HEXLOWER.encode(&self.digest.clone().finalize());
        format!("{} {} {digest}", self.name, self.length)
    }
}

/// The volumes of an open register, whose seals are good so far.
#[derive(Clone, Debug, Default)]
pub struct Sums(Vec<Sum>);

impl Sums {
    /// Another volume begins, or one that has no line yet begins again.
    pub fn begin(&mut self, name: &str) {
        self.0.retain(|sum| sum.name != name);
        self.0.push(Sum::of(name));
    }

    /// These bytes follow in the last volume.
    pub fn grow(&mut self, bytes: &[u8]) {
        if let Some(sum) = self.0.last_mut() {
            sum.grow(bytes);
        }
    }

    /// A volume begins that may be noted: so many of its bytes are taken in, and spare their seals.
    pub fn begin_noted(&mut self, volume: &Volume, note: &Note) -> usize {
        let mut sum = Sum::of(&volume.name);
        if let Some(bytes) = note.length(&volume.name).and_then(|length| volume.bytes.get(..length)) {
            sum.grow(bytes);
            if !note.says(&sum) {
                sum = Sum::of(&volume.name);
            }
        }
        let known = sum.length;
        self.0.push(sum);
        known
    }

    /// All of a volume that is good ends here.
    pub fn end(&mut self, volume: &[u8], end: usize) {
        if let Some(sum) = self.0.last_mut() {
            let length = sum.length;
            sum.grow(volume.get(length..end).unwrap_or_default());
        }
    }

    /// Leaves the note. Where it cannot be written, the next opening takes longer, and that is all.
    pub fn leave(&self, seal: &mut dyn Storage) {
        let rows = self.0.iter().map(Sum::words);
        let text: String = std::iter::once(HEAD.to_owned()).chain(rows).map(|row| row + "\n").collect();
        let _ = seal.write(NOTE, text.as_bytes());
    }
}

/// A note as it was read.
#[derive(Debug, Default)]
pub struct Note(Vec<String>);

impl Note {
    /// The note in the seal's folder; none spares nothing.
    pub fn read(seal: &dyn Storage) -> Note {
        let text = seal.read(NOTE).ok().flatten().and_then(|bytes| String::from_utf8(bytes).ok());
        let rows = text.as_deref().and_then(|t| t.strip_prefix(HEAD)?.strip_prefix('\n'));
        Note(rows.unwrap_or_default().lines().map(str::to_owned).collect())
    }

    fn length(&self, name: &str) -> Option<usize> {
        let row = self.0.iter().find_map(|row| row.strip_prefix(name)?.strip_prefix(' '))?;
        row.split(' ').next()?.parse().ok()
    }

    fn says(&self, sum: &Sum) -> bool {
        self.0.contains(&sum.words())
    }
}
