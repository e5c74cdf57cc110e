//! A register's files, read piece by piece and as often as is asked: none is ever whole in memory.

use super::{End, Place};
use crate::audit::bounded::Source;
use crate::disk::Folder;
use crate::record::pour::{self, Piece};
use crate::world::StorageError;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Volumes, and how many bytes of each are read at most.
pub struct Files(Vec<(PathBuf, u64)>);

impl Files {
    /// The volumes of a folder, or a file as the only one; each could be opened just now.
    pub fn at(path: &Path) -> Result<Files, End> {
        let all = if crate::disk::is_folder(path) {
            if crate::record::volumes::names(&Folder::at(path))?.is_empty() {
                return Err(super::looking::no_register_in(path));
            }
            Place { register: path.to_owned(), seal: None, today: None }.files()?
        } else {
            vec![path.to_owned()]
        };
        all.iter().try_for_each(|file| crate::disk::reading(file).map(|_| ()))?;
        Ok(Files(all.into_iter().map(|file| (file, u64::MAX)).collect()))
    }

    /// As they stand now: what is appended meanwhile is not read.
    pub fn as_they_stand(self) -> Files {
        let now = |(file, most): (PathBuf, u64)| match crate::disk::length(&file) {
            Ok(length) => (file, length),
            // Why it cannot be read is said when it is read.
            Err(_) => (file, most),
        };
        Files(self.0.into_iter().map(now).collect())
    }

    /// The name of the first, where it is one of several volumes and not the first.
    pub fn late(&self) -> Option<String> {
        let name = self.0.first()?.0.file_name()?.to_string_lossy().into_owned();
        crate::record::volumes::number(&name).filter(|n| *n > 1).map(|_| name)
    }

    /// So many lines they have.
    pub fn lines(&self) -> u64 {
        self.pieces().map(|piece| lines_in(&piece)).sum()
    }

    /// Whether the first of them begins with these bytes.
    pub fn begins_with(&self, what: &[u8]) -> bool {
        let reading = self.0.first().and_then(|(file, _)| crate::disk::reading(file).ok());
        let mut first = Vec::new();
        let read = reading.map(|r| r.take(what.len() as u64).read_to_end(&mut first));
        matches!(read, Some(Ok(_))) && first == what
    }
}

impl Source for Files {
    fn pieces(&self) -> Box<dyn Iterator<Item = Piece<'_>> + '_> {
        let opened = self.0.iter().map(|(file, most)| Opened(crate::disk::reading(file)).take(*most));
        Box::new(pour::of_readers(opened, pour::PIECE))
    }
}

/// So many lines stand in a piece.
pub fn lines_in(piece: &Piece<'_>) -> u64 {
    match piece {
        Piece::Lines(bytes) => bytes.iter().filter(|b| **b == b'\n').count() as u64,
        Piece::Long(_) | Piece::Rest(_) | Piece::Failed(_) => 0,
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
