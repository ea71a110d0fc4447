//! All that is written passes here, so that tests can let it go wrong.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Arc;

/// Decides what a disk lets happen. Tests have one that runs full or breaks.
pub trait DiskFault: Send + Sync {
    /// How many of so many bytes, at least 1, can still be written.
    fn write(&self, bytes: usize) -> io::Result<usize>;
    /// Whether a file can be made, synced, renamed or taken away now.
    fn change(&self) -> io::Result<()>;
}

/// The disk, as the system has it or with a fate.
#[derive(Clone, Default)]
pub struct Disk {
    fate: Option<Arc<dyn DiskFault>>,
}

impl Disk {
    /// A disk that only lets happen what `fate` does.
    pub fn with(fate: Arc<dyn DiskFault>) -> Self {
        Self { fate: Some(fate) }
    }

    fn change(&self) -> io::Result<()> {
        self.fate.as_ref().map_or(Ok(()), |fate| fate.change())
    }

    fn file(&self, file: File) -> DiskFile {
        DiskFile { file, disk: self.clone() }
    }

    pub(crate) fn create(&self, path: &Path) -> io::Result<DiskFile> {
        self.change()?;
        Ok(self.file(File::create(path)?))
    }

    pub(crate) fn append(&self, path: &Path) -> io::Result<DiskFile> {
        self.change()?;
        let file = OpenOptions::new().create(true).append(true).open(path)?;
        Ok(self.file(file))
    }

    /// Makes a folder and those it lies in.
    pub fn create_folders(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        fs::create_dir_all(path)
    }

    pub(crate) fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.change()?;
        fs::rename(from, to)
    }

    /// Takes a file away; it is no fault if there is none.
    pub(crate) fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        match fs::remove_file(path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    /// Takes a folder away with all that is in it, piece by piece.
    pub(crate) fn remove_folder(&self, path: &Path) -> io::Result<()> {
        for entry in fs::read_dir(path)? {
            let entry = entry?;
            if entry.file_type()?.is_dir() {
                self.remove_folder(&entry.path())?;
            } else {
                self.remove_file(&entry.path())?;
            }
        }
        self.change()?;
        fs::remove_dir(path)
    }

    /// Takes a folder away if it is empty.
    pub(crate) fn tidy(&self, path: &Path) {
        if self.change().is_ok() {
            fs::remove_dir(path).ok();
        }
    }

    /// Makes a change of names in a folder last.
    pub(crate) fn sync_folder(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        // Only Unix can open a folder; elsewhere the system sees to it.
        if cfg!(unix) {
            File::open(path)?.sync_all()?;
        }
        Ok(())
    }

    /// Writes a file so that it is there whole or not at all, and stays.
    pub fn write_whole(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let fresh = path.with_extension("new");
        let written = self.create(&fresh).and_then(|mut file| {
            file.write_all(bytes)?;
            file.sync_all()
        });
        let done = written.and_then(|()| self.rename(&fresh, path));
        if let Err(error) = done {
            self.remove_file(&fresh).ok();
            return Err(error);
        }
        path.parent().map_or(Ok(()), |folder| self.sync_folder(folder))
    }

    /// Copies a file, which stays.
    pub(crate) fn copy(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut file = self.create(to)?;
        io::copy(&mut open(from)?, &mut file)?;
        file.sync_all()
    }
}

/// Opens a file to be read. A pipe or device in its place would be waited for, or read, without end.
pub(crate) fn open(path: &Path) -> io::Result<File> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::other("it is no ordinary file"));
    }
    File::open(path)
}

/// All of a file.
pub(crate) fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A file that is written.
pub(crate) struct DiskFile {
    file: File,
    disk: Disk,
}

impl DiskFile {
    pub(crate) fn sync_data(&self) -> io::Result<()> {
        self.disk.change()?;
        self.file.sync_data()
    }

    pub(crate) fn sync_all(&self) -> io::Result<()> {
        self.disk.change()?;
        self.file.sync_all()
    }
}

impl Write for DiskFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let fitting = match &self.disk.fate {
            Some(fate) if !bytes.is_empty() => fate.write(bytes.len())?.min(bytes.len()),
            _ => bytes.len(),
        };
        self.file.write(&bytes[..fitting])
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Seek for DiskFile {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}
