//! The volumes of a register: `0001.jsonl`, `0002.jsonl` ... in its folder. All are one history: read one
//! after another, the bytes of one volume follow those of the volume before.
//!
//! Not here: what line 0 of a later volume must say (`chain`), writing (`store`).

use crate::tongue::say;
use crate::world::{Storage, StorageError};

/// One volume's file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Volume {
    /// Name of the file.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// The file of a volume, counted from 1.
pub fn name(number: u32) -> String {
    format!("{number:04}.jsonl")
}

/// The number in a volume's name.
pub fn number(name: &str) -> Option<u32> {
    let digits = name.strip_suffix(".jsonl")?;
    let good = digits.len() == 4 && digits.bytes().all(|b| b.is_ascii_digit());
    digits.parse().ok().filter(|n| good && *n > 0)
}

/// Names of the volumes in a folder, ascending. A file that ends like a volume and is not named like one
/// is an error: nobody could say where it belongs.
pub fn names(folder: &dyn Storage) -> Result<Vec<String>, StorageError> {
    let (good, strange): (Vec<String>, Vec<String>) =
        folder.list()?.into_iter().filter(|n| n.ends_with(".jsonl")).partition(|n| number(n).is_some());
    match strange.first() {
        None => Ok(good),
        Some(n) => Err(StorageError {
            why: say!(
                "{file} stands among the volumes; they are named 0001.jsonl, 0002.jsonl and so on. Move it to another \
                 folder",
                file = crate::text::safe_line(n)
            ),
        }),
    }
}

/// Every volume of a folder, ascending.
pub fn read(folder: &dyn Storage) -> Result<Vec<Volume>, StorageError> {
    let mut volumes = Vec::new();
    for name in names(folder)? {
        if let Some(bytes) = folder.read(&name)? {
            volumes.push(Volume { name, bytes });
        }
    }
    Ok(volumes)
}
