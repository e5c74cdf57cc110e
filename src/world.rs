//! The outside as traits: storage, randomness. Time is always an argument.
//!
//! Always: nothing behind these traits is decided upon; they only carry bytes. `disk` implements them
//! on files; tests implement them in memory, stopping after any call and dropping what was not flushed.

/// Why a storage call did not do what it was asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StorageError {
    /// In words, with the name of the file.
    pub why: String,
}

impl std::fmt::Display for StorageError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.why)
    }
}

/// A folder of files that can be written durably. Names are plain file names, no paths.
pub trait Storage {
    /// Names of the files, ascending.
    fn list(&self) -> Result<Vec<String>, StorageError>;
    /// The whole of a file; `None` if there is none.
    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError>;
    /// A file from an offset on; `None` if there is none. Nothing where it is shorter.
    fn read_from(&self, name: &str, offset: u64) -> Result<Option<Vec<u8>>, StorageError> {
        let from =
            |bytes: Vec<u8>| bytes.into_iter().skip(usize::try_from(offset).unwrap_or(usize::MAX)).collect();
        Ok(self.read(name)?.map(from))
    }
    /// What changes with every change of a file: its length and the time of the last one. `None` where that is not known.
    fn stamp(&self, _name: &str) -> Option<String> {
        None
    }
    /// Bytes that are free where the files stand. `None` where that is not known.
    fn room(&self) -> Option<u64> {
        None
    }
    /// Creates or replaces a file with these bytes. Not durable until [`Storage::flush`].
    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError>;
    /// Appends with one write; returns how many bytes went in. Creates the file if there is none.
    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError>;
    /// Overwrites bytes in place at an offset.
    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError>;
    /// Cuts a file to this length.
    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError>;
    /// Makes the content of a file durable.
    fn flush(&mut self, name: &str) -> Result<(), StorageError>;
    /// Makes creations, renames and removals in this folder durable.
    fn flush_folder(&mut self) -> Result<(), StorageError>;
    /// Renames, replacing.
    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError>;
    /// Removes a file; nothing happens if there is none.
    fn remove(&mut self, name: &str) -> Result<(), StorageError>;
}

/// Randomness for keys and ids.
pub trait Random {
    /// Fills with unpredictable bytes.
    fn fill(&mut self, bytes: &mut [u8]) -> Result<(), String>;
}
