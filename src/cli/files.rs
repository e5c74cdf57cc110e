//! A register's files, read piece by piece and as often as is asked: none is ever whole in memory.

use super::{End, Place};
use crate::audit::bounded::Source;
use crate::record::pour::{self, Piece};
use crate::world::StorageError;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Volumes.
pub struct Files(Vec<PathBuf>);

impl Files {
    /// The volumes of a folder, or a file as the only one; each could be opened just now.
    pub fn at(path: &Path) -> Result<Files, End> {
        let all = if crate::disk::is_folder(path) {
            Place { register: path.to_owned(), seal: None, today: None }.files()?
        } else {
            vec![path.to_owned()]
        };
        all.iter().try_for_each(|file| crate::disk::reading(file).map(|_| ()))?;
        Ok(Files(all))
    }

    /// Whether the first of them begins with these bytes.
    pub fn begins_with(&self, what: &[u8]) -> bool {
        let reading = self.0.first().and_then(|file| crate::disk::reading(file).ok());
        let mut first = Vec::new();
        let read = reading.map(|r| r.take(what.len() as u64).read_to_end(&mut first));
        matches!(read, Some(Ok(_))) && first == what
    }
}

impl Source for Files {
    fn pieces(&self) -> Box<dyn Iterator<Item = Piece<'_>> + '_> {
        Box::new(pour::of_readers(self.0.iter().map(|file| Opened(crate::disk::reading(file))), pour::PIECE))
    }
}

/// A file, or why it could not be opened: said when it is read.
struct Opened<R>(Result<R, StorageError>);

impl<R: Read> Read for Opened<R> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        match &mut self.0 {
            Ok(file) => file.read(into),
            Err(e) => Err(std::io::Error::other(e.why.clone())),
        }
    }
}
