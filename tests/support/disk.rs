//! A disk in memory that can stop after any call and forget what was not flushed.

use airwrit::world::{Storage, StorageError};
use std::collections::BTreeMap;

/// What a file holds now and what would be left of it.
#[derive(Clone, Debug, Default)]
struct File {
    now: Vec<u8>,
    durable: Option<Vec<u8>>,
}

/// How the machine died: what became of what was not flushed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Everything unflushed is gone.
    All,
    /// Contents are gone, names are kept.
    Contents,
    /// Contents are kept, names are gone.
    Names,
    /// The second half of each unflushed append is gone.
    Halves,
    /// Nothing is gone: the process died, the machine did not.
    Nothing,
}

pub const LOSSES: [Loss; 5] = [Loss::All, Loss::Contents, Loss::Names, Loss::Halves, Loss::Nothing];

/// The disk.
#[derive(Clone, Debug, Default)]
pub struct Disk {
    files: Vec<File>,
    names: BTreeMap<String, usize>,
    durable_names: BTreeMap<String, usize>,
    /// Calls that change something until every further call fails.
    pub left: Option<usize>,
    /// Calls that changed something so far.
    pub calls: usize,
    /// An append takes only this many bytes, once.
    pub short: Option<usize>,
    /// This call fails, once, and changes nothing.
    pub fails_at: Option<usize>,
    /// So many bytes fit on it, over all files: writing a file whole fails where they do not.
    pub holds: Option<usize>,
}

/// What a disk writes whole or not at all, bytes.
const SECTOR: usize = 512;

impl Disk {
    fn step(&mut self) -> Result<(), StorageError> {
        if self.left == Some(0) {
            return Err(StorageError { why: "the machine has stopped".into() });
        }
        self.left = self.left.map(|n| n - 1);
        let this = self.calls;
        self.calls += 1;
        if self.fails_at == Some(this) {
            return Err(StorageError { why: "input/output error".into() });
        }
        Ok(())
    }

    fn file(&mut self, name: &str) -> &mut File {
        let next = self.files.len();
        let i = *self.names.entry(name.to_owned()).or_insert(next);
        if i == next {
            self.files.push(File::default());
        }
        &mut self.files[i]
    }

    pub fn content(&self, name: &str) -> Option<Vec<u8>> {
        self.names.get(name).map(|i| self.files[*i].now.clone())
    }

    pub fn set(&mut self, name: &str, bytes: Vec<u8>) {
        self.file(name).now = bytes.clone();
        self.file(name).durable = Some(bytes);
        self.durable_names = self.names.clone();
    }

    /// The disk as the next start finds it.
    pub fn after_crash(&self, loss: Loss) -> Disk {
        let mut d = self.clone();
        d.left = None;
        d.short = None;
        if matches!(loss, Loss::All | Loss::Names) {
            d.names = d.durable_names.clone();
        }
        for f in &mut d.files {
            let durable = f.durable.clone().unwrap_or_default();
            f.now = match loss {
                Loss::All | Loss::Contents => durable,
                Loss::Names | Loss::Nothing => f.now.clone(),
                Loss::Halves if f.now.starts_with(&durable) => {
                    let keep = durable.len() + (f.now.len() - durable.len()) / 2;
                    f.now[..keep].to_vec()
                }
                Loss::Halves => durable,
            };
            f.durable = Some(f.now.clone());
        }
        d.durable_names = d.names.clone();
        d
    }
}

impl Disk {
    /// Every disk that a power cut could leave: of each file each subset of its unflushed sectors, its
    /// length old or new, and the folder's names old or new. Sectors that were never written read as zeros.
    pub fn after_sector_loss(&self) -> Vec<Disk> {
        let names = if self.names == self.durable_names {
            vec![self.names.clone()]
        } else {
            vec![self.names.clone(), self.durable_names.clone()]
        };
        let mut out = Vec::new();
        for names in names {
            let mut disks =
                vec![Disk { names: names.clone(), durable_names: names.clone(), ..Disk::default() }];
            for (i, file) in self.files.iter().enumerate() {
                let used = names.values().any(|n| *n == i);
                let contents = if used { file.after_loss() } else { vec![Vec::new()] };
                disks = disks
                    .into_iter()
                    .flat_map(|d| {
                        contents.iter().map(move |c| {
                            let mut d = d.clone();
                            d.files.push(File { now: c.clone(), durable: Some(c.clone()) });
                            d
                        })
                    })
                    .collect();
            }
            out.extend(disks);
        }
        out
    }
}

impl File {
    fn after_loss(&self) -> Vec<Vec<u8>> {
        let durable = self.durable.clone().unwrap_or_default();
        if durable == self.now {
            return vec![durable];
        }
        let longest = durable.len().max(self.now.len());
        let sector = |bytes: &[u8], n: usize| {
            let mut s = bytes.get(n * SECTOR..).unwrap_or_default().to_vec();
            s.resize(SECTOR, 0);
            s
        };
        let changed: Vec<usize> =
            (0..longest.div_ceil(SECTOR)).filter(|n| sector(&durable, *n) != sector(&self.now, *n)).collect();
        assert!(changed.len() <= 8, "an append spans few sectors");
        let mut out = Vec::new();
        for length in [durable.len(), self.now.len()] {
            for mask in 0u32..1 << changed.len() {
                let mut bytes = Vec::new();
                for n in 0..longest.div_ceil(SECTOR) {
                    let new = changed.iter().position(|c| *c == n).is_some_and(|i| mask >> i & 1 == 1);
                    bytes.extend(sector(if new { &self.now } else { &durable }, n));
                }
                bytes.truncate(length);
                out.push(bytes);
            }
        }
        out.sort();
        out.dedup();
        out
    }
}

impl Storage for Disk {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        Ok(self.names.keys().cloned().collect())
    }

    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        Ok(self.content(name))
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.step()?;
        let others: usize =
            self.names.iter().filter(|(n, _)| *n != name).map(|(_, i)| self.files[*i].now.len()).sum();
        if self.holds.is_some_and(|holds| others + bytes.len() > holds) {
            return Err(StorageError { why: "no space left on device".into() });
        }
        // A file replaced is a new file behind the same name until it is flushed.
        self.file(name).now = bytes.to_vec();
        Ok(())
    }

    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        self.step()?;
        let n = self.short.take().unwrap_or(bytes.len()).min(bytes.len());
        self.file(name).now.extend_from_slice(&bytes[..n]);
        Ok(n)
    }

    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        self.step()?;
        let at = usize::try_from(offset).unwrap();
        self.file(name).now[at..at + bytes.len()].copy_from_slice(bytes);
        Ok(())
    }

    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        self.step()?;
        self.file(name).now.truncate(usize::try_from(length).unwrap());
        Ok(())
    }

    fn flush(&mut self, name: &str) -> Result<(), StorageError> {
        self.step()?;
        let f = self.file(name);
        f.durable = Some(f.now.clone());
        Ok(())
    }

    fn flush_folder(&mut self) -> Result<(), StorageError> {
        self.step()?;
        self.durable_names = self.names.clone();
        Ok(())
    }

    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        self.step()?;
        let i = self.names.remove(from).ok_or(StorageError { why: format!("no {from}") })?;
        self.names.insert(to.to_owned(), i);
        Ok(())
    }

    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        self.step()?;
        self.names.remove(name);
        Ok(())
    }
}
