//! The outside made of files: storage, the lock, the clock, randomness.
//!
//! The only place that touches files, the clock or the system's randomness. Decides nothing.

#![allow(clippy::disallowed_methods, reason = "the one place that touches the outside")]

use crate::tongue::say;
use crate::world::{Random, Storage, StorageError};
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A folder on disk.
#[derive(Clone, Debug)]
pub struct Folder {
    path: PathBuf,
    private: bool,
}

impl Folder {
    /// A folder that exists, or is made.
    pub fn make(path: &Path) -> Result<Folder, StorageError> {
        std::fs::create_dir_all(path).map_err(|e| trouble(Tried::MakeTheFolder, path, &e))?;
        Ok(Folder { path: path.to_owned(), private: false })
    }

    /// A folder for secrets: only its owner may enter and read.
    pub fn make_private(path: &Path) -> Result<Folder, StorageError> {
        let mut builder = std::fs::DirBuilder::new();
        builder.recursive(true);
        #[cfg(unix)]
        {
            use std::os::unix::fs::DirBuilderExt;
            builder.mode(0o700);
        }
        builder.create(path).map_err(|e| trouble(Tried::MakeTheFolder, path, &e))?;
        Ok(Folder { path: path.to_owned(), private: true })
    }

    /// A folder for secrets that is there; none is made, so that the real one can be put back in its place.
    pub fn at_private(path: &Path) -> Folder {
        Folder { path: path.to_owned(), private: true }
    }

    /// A folder to read from; it need not exist.
    pub fn at(path: &Path) -> Folder {
        Folder { path: path.to_owned(), private: false }
    }

    fn open_to_write(&self, name: &str, append: bool, cut: bool) -> Result<File, StorageError> {
        let path = self.path.join(name);
        plain(&path)?;
        // What is replaced is what stands here, never a file elsewhere that a link leads to.
        if cut && std::fs::symlink_metadata(&path).is_ok_and(|m| m.is_symlink()) {
            std::fs::remove_file(&path).map_err(|e| trouble(Tried::Remove, &path, &e))?;
        }
        let mut options = OpenOptions::new();
        options.create(true).append(append).write(true).truncate(cut);
        #[cfg(unix)]
        if self.private {
            use std::os::unix::fs::OpenOptionsExt;
            options.mode(0o600);
        }
        options.open(&path).map_err(|e| trouble(Tried::Open, &path, &e))
    }
}

/// What was tried with a file or folder.
#[derive(Clone, Copy)]
enum Tried {
    AppendTo,
    AskHowMuchIs,
    Cut,
    Flush,
    List,
    LookAt,
    MakeTheFolder,
    Open,
    Read,
    Remove,
    Rename,
    Write,
    WriteProtect,
}

fn trouble(what: Tried, path: &Path, e: &std::io::Error) -> StorageError {
    let (file, why) = (path.display(), e);
    let why = match what {
        Tried::AppendTo => say!("cannot append to {file}: {why}", file, why),
        Tried::AskHowMuchIs => say!("cannot ask how much is free at {file}: {why}", file, why),
        Tried::Cut => say!("cannot cut {file}: {why}", file, why),
        Tried::Flush => say!("cannot flush {file}: {why}", file, why),
        Tried::List => say!("cannot list {file}: {why}", file, why),
        Tried::LookAt => say!("cannot look at {file}: {why}", file, why),
        Tried::MakeTheFolder => say!("cannot make the folder {file}: {why}", file, why),
        Tried::Open => say!("cannot open {file}: {why}", file, why),
        Tried::Read => say!("cannot read {file}: {why}", file, why),
        Tried::Remove => say!("cannot remove {file}: {why}", file, why),
        Tried::Rename => say!("cannot rename {file}: {why}", file, why),
        Tried::Write => say!("cannot write {file}: {why}", file, why),
        Tried::WriteProtect => say!("cannot write-protect {file}: {why}", file, why),
    };
    StorageError { why }
}

/// What is read and written here are plain files. A pipe or a device in their place would be waited for
/// while somebody calls everyone out; so it is refused before it is opened.
fn plain(path: &Path) -> Result<(), StorageError> {
    match std::fs::metadata(path) {
        Ok(m) if !m.is_file() && !m.is_dir() => {
            Err(StorageError { why: say!("{file} is no plain file", file = path.display()) })
        }
        Ok(_) | Err(_) => Ok(()),
    }
}

/// No file that is read here is larger: a register of 1 GiB holds about a million lines.
const MOST: u64 = 1 << 30;

/// A folder with all files in it and in its folders: nobody writes them by mistake.
pub fn read_only(path: &Path) -> Result<(), StorageError> {
    let set = |path: &Path| -> std::io::Result<()> {
        let mut permissions = std::fs::metadata(path)?.permissions();
        permissions.set_readonly(true);
        std::fs::set_permissions(path, permissions)
    };
    let entries = std::fs::read_dir(path).map_err(|e| trouble(Tried::List, path, &e))?;
    for entry in entries {
        let inside = entry.map_err(|e| trouble(Tried::List, path, &e))?.path();
        match inside.is_dir() {
            true => read_only(&inside)?,
            false => set(&inside).map_err(|e| trouble(Tried::WriteProtect, &inside, &e))?,
        }
    }
    Ok(())
}

/// The bytes of a file of at most [`MOST`] bytes; one without an end is not read for ever.
fn bounded(path: &Path) -> std::io::Result<Vec<u8>> {
    let file = File::open(path)?;
    let too_large = || std::io::Error::new(ErrorKind::FileTooLarge, say!("larger than 1 GiB"));
    if file.metadata()?.len() > MOST {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    match file.take(MOST + 1).read_to_end(&mut bytes)? as u64 > MOST {
        true => Err(too_large()),
        false => Ok(bytes),
    }
}

impl Storage for Folder {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        let entries = match std::fs::read_dir(&self.path) {
            Ok(entries) => entries,
            Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(e) => return Err(trouble(Tried::List, &self.path, &e)),
        };
        let mut names = Vec::new();
        for entry in entries {
            let entry = entry.map_err(|e| trouble(Tried::List, &self.path, &e))?;
            names.push(entry.file_name().to_string_lossy().into_owned());
        }
        names.sort();
        Ok(names)
    }

    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let path = self.path.join(name);
        plain(&path)?;
        match bounded(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
            Err(e) => Err(trouble(Tried::Read, &path, &e)),
        }
    }

    fn stamp(&self, name: &str) -> Option<String> {
        let meta = std::fs::symlink_metadata(self.path.join(name)).ok()?;
        let since = meta.modified().ok()?.duration_since(std::time::UNIX_EPOCH).ok()?;
        Some(format!("{} {}", meta.len(), since.as_nanos()))
    }

    fn room(&self) -> Option<u64> {
        free(&self.path).ok()
    }

    fn read_from(&self, name: &str, offset: u64) -> Result<Option<Vec<u8>>, StorageError> {
        let path = self.path.join(name);
        if path.exists() { read_from(&path, offset).map(Some) } else { Ok(None) }
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        let mut file = self.open_to_write(name, false, true)?;
        file.write_all(bytes).map_err(|e| trouble(Tried::Write, &self.path.join(name), &e))
    }

    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        let mut file = self.open_to_write(name, true, false)?;
        file.write(bytes).map_err(|e| trouble(Tried::AppendTo, &self.path.join(name), &e))
    }

    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        let mut file = self.open_to_write(name, false, false)?;
        file.seek(SeekFrom::Start(offset))
            .and_then(|_| file.write_all(bytes))
            .map_err(|e| trouble(Tried::Write, &self.path.join(name), &e))
    }

    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        let file = self.open_to_write(name, false, false)?;
        file.set_len(length).map_err(|e| trouble(Tried::Cut, &self.path.join(name), &e))
    }

    fn flush(&mut self, name: &str) -> Result<(), StorageError> {
        let file = self.open_to_write(name, true, false)?;
        file.sync_all().map_err(|e| trouble(Tried::Flush, &self.path.join(name), &e))
    }

    fn flush_folder(&mut self) -> Result<(), StorageError> {
        // Folders cannot be flushed on every system; where they cannot, renames are durable by
        // themselves (NTFS journals them).
        #[cfg(unix)]
        File::open(&self.path)
            .and_then(|f| f.sync_all())
            .map_err(|e| trouble(Tried::Flush, &self.path, &e))?;
        Ok(())
    }

    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        std::fs::rename(self.path.join(from), self.path.join(to))
            .map_err(|e| trouble(Tried::Rename, &self.path.join(from), &e))
    }

    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        match std::fs::remove_file(self.path.join(name)) {
            Err(e) if e.kind() != ErrorKind::NotFound => {
                Err(trouble(Tried::Remove, &self.path.join(name), &e))
            }
            Ok(()) | Err(_) => Ok(()),
        }
    }
}

/// A folder's files in memory, to try something on: nothing of it reaches the disk.
#[derive(Clone, Debug, Default)]
pub struct Copy {
    files: BTreeMap<String, Vec<u8>>,
}

impl Copy {
    /// The files of a folder.
    pub fn of(path: &Path) -> Result<Copy, StorageError> {
        let folder = Folder::at(path);
        let mut files = BTreeMap::new();
        for name in folder.list()? {
            if path.join(&name).is_file()
                && let Some(bytes) = folder.read(&name)?
            {
                files.insert(name, bytes);
            }
        }
        Ok(Copy { files })
    }
}

impl Storage for Copy {
    fn list(&self) -> Result<Vec<String>, StorageError> {
        Ok(self.files.keys().cloned().collect())
    }

    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        Ok(self.files.get(name).cloned())
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.files.insert(name.to_owned(), bytes.to_owned());
        Ok(())
    }

    fn append(&mut self, name: &str, bytes: &[u8]) -> Result<usize, StorageError> {
        self.files.entry(name.to_owned()).or_default().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn write_at(&mut self, name: &str, offset: u64, bytes: &[u8]) -> Result<(), StorageError> {
        let file = self.files.entry(name.to_owned()).or_default();
        let start = usize::try_from(offset).unwrap_or(usize::MAX).min(file.len());
        let end = (start + bytes.len()).min(file.len());
        file.splice(start..end, bytes.iter().copied());
        Ok(())
    }

    fn truncate(&mut self, name: &str, length: u64) -> Result<(), StorageError> {
        let file = self.files.entry(name.to_owned()).or_default();
        file.truncate(usize::try_from(length).unwrap_or(usize::MAX));
        Ok(())
    }

    fn flush(&mut self, _name: &str) -> Result<(), StorageError> {
        Ok(())
    }

    fn flush_folder(&mut self) -> Result<(), StorageError> {
        Ok(())
    }

    fn rename(&mut self, from: &str, to: &str) -> Result<(), StorageError> {
        if let Some(bytes) = self.files.remove(from) {
            self.files.insert(to.to_owned(), bytes);
        }
        Ok(())
    }

    fn remove(&mut self, name: &str) -> Result<(), StorageError> {
        self.files.remove(name);
        Ok(())
    }
}

/// Bytes that are free on the disk of a path.
pub fn free(path: &Path) -> Result<u64, StorageError> {
    fs4::available_space(path).map_err(|e| trouble(Tried::AskHowMuchIs, path, &e))
}

/// The permission bits of a path for owner, group and others; `None` where the system has none.
pub fn mode(path: &Path) -> Result<Option<u32>, StorageError> {
    let meta = std::fs::metadata(path).map_err(|e| trouble(Tried::LookAt, path, &e))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        Ok(Some(meta.permissions().mode() & 0o777))
    }
    #[cfg(not(unix))]
    {
        let _ = meta;
        Ok(None)
    }
}

/// A path from the root, links followed as far as they lead somewhere.
pub fn whole_path(path: &Path) -> PathBuf {
    path.canonicalize().or_else(|_| std::path::absolute(path)).unwrap_or_else(|_| path.to_owned())
}

/// The lock on a register, held while a line is decided and written. Freed when dropped.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock of a register's folder, waiting at most 2 s.
    pub fn take(folder: &Path) -> Result<Lock, StorageError> {
        let path = folder.join("lock");
        plain(&path)?;
        let file = OpenOptions::new()
            .create(true)
            .write(true)
            .truncate(false)
            .open(&path)
            .map_err(|e| trouble(Tried::Open, &path, &e))?;
        let until = Instant::now() + Duration::from_secs(2);
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Lock { _file: file }),
                Err(std::fs::TryLockError::WouldBlock) if Instant::now() < until => {
                    std::thread::sleep(Duration::from_millis(20));
                }
                Err(e) => {
                    return Err(StorageError {
                        why: say!(
                            "another airwrit is writing to {folder}: {why}",
                            folder = folder.display(),
                            why = e
                        ),
                    });
                }
            }
        }
    }
}

/// The system's randomness.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemRandom;

impl Random for SystemRandom {
    fn fill(&mut self, bytes: &mut [u8]) -> Result<(), String> {
        getrandom::fill(bytes).map_err(|e| say!("the system gives no randomness: {why}", why = e))
    }
}

/// True if something stands at this path.
pub fn exists(path: &Path) -> bool {
    path.exists()
}

/// True if it is a folder.
pub fn is_folder(path: &Path) -> bool {
    path.is_dir()
}

/// True if it is a folder with something in it.
pub fn holds_something(path: &Path) -> bool {
    path.read_dir().is_ok_and(|mut d| d.next().is_some())
}

/// The bytes of a file that a stranger may have made, at most so many of them.
pub fn read_at_most(path: &Path, most: u64) -> Result<Vec<u8>, StorageError> {
    use std::io::Read;
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(|e| trouble(Tried::Read, path, &e))?;
    file.take(most).read_to_end(&mut bytes).map_err(|e| trouble(Tried::Read, path, &e))?;
    Ok(bytes)
}

/// A plain file, to be read piece by piece.
pub fn reading(path: &Path) -> Result<File, StorageError> {
    plain(path)?;
    File::open(path).map_err(|e| trouble(Tried::Read, path, &e))
}

/// How many bytes a plain file has.
pub fn length(path: &Path) -> Result<u64, StorageError> {
    plain(path)?;
    std::fs::metadata(path).map(|m| m.len()).map_err(|e| trouble(Tried::LookAt, path, &e))
}

/// The bytes of a file a user named.
pub fn read_file(path: &Path) -> Result<Vec<u8>, StorageError> {
    plain(path)?;
    bounded(path).map_err(|e| trouble(Tried::Read, path, &e))
}

/// Whether a file can be written at a path: a new one is made, and taken away again; in one that stands nothing is
/// changed.
pub fn can_write(path: &Path, replace: bool) -> Result<(), StorageError> {
    if replace {
        return OpenOptions::new()
            .write(true)
            .open(path)
            .map(drop)
            .map_err(|e| trouble(Tried::Write, path, &e));
    }
    write_file(path, b"", false, false)?;
    std::fs::remove_file(path).map_err(|e| trouble(Tried::Remove, path, &e))
}

/// Writes a file a user named; an existing one is kept unless `replace`. Secrets are for the owner only.
pub fn write_file(path: &Path, bytes: &[u8], replace: bool, secret: bool) -> Result<(), StorageError> {
    let mut options = OpenOptions::new();
    options.write(true).create(replace).truncate(replace).create_new(!replace);
    #[cfg(unix)]
    if secret {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut file = options.open(path).map_err(|e| trouble(Tried::Write, path, &e))?;
    file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|e| trouble(Tried::Write, path, &e))
}

/// The user's folder for state, from the environment: where seal keys stand unless told otherwise.
pub fn state_folder() -> Option<PathBuf> {
    let from = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    from("XDG_STATE_HOME")
        .or_else(|| from("HOME").map(|h| h.join(".local").join("state")))
        .or_else(|| from("LOCALAPPDATA"))
        .map(|d| d.join("airwrit"))
}

/// The seconds of the system's clock, UTC.
pub fn second() -> i64 {
    jiff::Timestamp::now().as_second()
}

/// The bytes of a file from an offset on.
pub fn read_from(path: &Path, offset: u64) -> Result<Vec<u8>, StorageError> {
    plain(path)?;
    let read = || -> std::io::Result<Vec<u8>> {
        let mut file = File::open(path)?;
        file.seek(SeekFrom::Start(offset))?;
        let mut bytes = Vec::new();
        file.take(MOST).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    read().map_err(|e| trouble(Tried::Read, path, &e))
}

/// The first line of a file without its LF; no more than so many bytes are read.
pub fn first_line(path: &Path, most: usize) -> Result<Vec<u8>, StorageError> {
    plain(path)?;
    let read = || -> std::io::Result<Vec<u8>> {
        let mut line = Vec::new();
        BufReader::new(File::open(path)?).take(most as u64 + 1).read_until(b'\n', &mut line)?;
        line.pop_if(|b| *b == b'\n');
        Ok(line)
    };
    read().map_err(|e| trouble(Tried::Read, path, &e))
}

/// What says of a folder whether anything was written to it: names, lengths, times.
pub type Stamps = Vec<(String, u64, Option<std::time::SystemTime>)>;

/// Names, lengths and times of the files of a folder: what says that nothing was written since.
pub fn stamps(path: &Path) -> Stamps {
    let Ok(entries) = path.read_dir() else { return Vec::new() };
    let one = |e: std::fs::DirEntry| {
        let meta = e.metadata().ok()?;
        Some((e.file_name().to_string_lossy().into_owned(), meta.len(), meta.modified().ok()))
    };
    let mut all: Vec<_> = entries.flatten().filter_map(one).collect();
    all.sort();
    all
}

/// Removes a folder of the demo's, and nothing else: its name says so, and it holds what the demo wrote.
pub fn remove_demo(path: &Path) -> Result<(), StorageError> {
    if !path.join(DEMO_MARK).is_file() {
        return Err(StorageError {
            why: say!("{folder} was not made by the demo; nothing is removed", folder = path.display()),
        });
    }
    std::fs::remove_dir_all(path).map_err(|e| trouble(Tried::Remove, path, &e))
}

/// The file that says of a folder that the demo made it.
pub const DEMO_MARK: &str = "made-by-the-demo";
