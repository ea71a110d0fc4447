//! The one writer of files. What it writes is there whole or not at all.
//!
//! A file is written under a hidden name of its own beside the place where it belongs, synced, and only then
//! given its name; so is a folder. Files are made anew and never through a link. Nothing is deleted through
//! a link either. All that is written passes here, so that tests can let it go wrong.

mod fresh;

use std::fs::{self, DirBuilder, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use fresh::{Fresh, FreshFolder};

/// Begins the name of everything that is not whole yet. No take and no file of a user is called so.
pub const HIDDEN: &str = ".evenwave-";

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
    #[cfg_attr(
        not(unix),
        expect(
            dead_code,
            reason = "elsewhere a user's folders are closed to others by themselves"
        )
    )]
    private: bool,
}

impl Disk {
    /// A disk that only lets happen what `fate` does.
    pub fn with(fate: Arc<dyn DiskFault>) -> Self {
        Self { fate: Some(fate), private: false }
    }

    /// The same disk, but what is made on it is for the owner alone.
    pub fn private(self) -> Self {
        Self { private: true, ..self }
    }

    fn change(&self) -> io::Result<()> {
        self.fate.as_ref().map_or(Ok(()), |fate| fate.change())
    }

    fn file(&self, file: File) -> DiskFile {
        DiskFile { file, disk: self.clone() }
    }

    fn new_file(&self) -> OpenOptions {
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        if self.private {
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        }
        options
    }

    /// Makes a file; it is a fault if anything, even a link, has its name.
    pub fn create(&self, path: &Path) -> io::Result<DiskFile> {
        self.change()?;
        Ok(self.file(self.new_file().open(path)?))
    }

    /// Opens a file to be written on at its end, and makes it if it is not there. It is a fault if a link or
    /// anything but a file has its name.
    pub fn append(&self, path: &Path) -> io::Result<DiskFile> {
        self.change()?;
        Ok(self.file(self.lock_file(path)?))
    }

    /// The same, to lock it: nothing is written, so that a full disk does not matter.
    pub fn lock_file(&self, path: &Path) -> io::Result<File> {
        match self.new_file().append(true).open(path) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                file_itself(path)?;
                OpenOptions::new().append(true).open(path)
            }
            opened => opened,
        }
    }

    /// Makes a folder and those it lies in.
    pub fn create_folders(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        let mut builder = DirBuilder::new();
        #[cfg(unix)]
        if self.private {
            std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        }
        builder.recursive(true).create(path)
    }

    /// Begins a file that takes the name `path` once it is whole.
    pub fn begin(&self, path: &Path) -> io::Result<Fresh> {
        Fresh::begin(self, path)
    }

    /// Begins a folder that takes the name `path` once it is whole.
    pub fn begin_folder(&self, path: &Path) -> io::Result<FreshFolder> {
        FreshFolder::begin(self, path)
    }

    /// Writes a file so that it is there whole or not at all, and stays.
    pub fn write_whole(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut fresh = self.begin(path)?;
        fresh.write_all(bytes)?;
        fresh.put()
    }

    /// Writes a file that is not there yet, whole or not at all. It is a fault if anything has its name.
    pub fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut fresh = self.begin(path)?;
        fresh.write_all(bytes)?;
        fresh.put_new()
    }

    /// Copies a file to a new name.
    pub fn copy(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut fresh = self.begin(to)?;
        io::copy(&mut open(from)?, &mut fresh)?;
        fresh.put()
    }

    /// Gives a file or an own folder another name.
    pub fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.change()?;
        fs::rename(from, to)
    }

    /// Takes a file away; it is no fault if there is none. Of a link the link goes.
    pub fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        match fs::remove_file(path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(()),
        }
    }

    /// Takes a folder away with all that is in it, piece by piece. Of a link in it the link goes; a link in its
    /// place is a fault.
    pub fn remove_folder(&self, path: &Path) -> io::Result<()> {
        if !fs::symlink_metadata(path)?.is_dir() {
            return Err(io::Error::other("it is no folder but a link or a file"));
        }
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

    /// Takes a folder away, first its name and then what is in it: what a crash leaves of it is hidden. On a full
    /// disk, where even another name may find no room, it goes piece by piece.
    pub fn discard_folder(&self, path: &Path) -> io::Result<()> {
        if !fs::symlink_metadata(path)?.is_dir() {
            return Err(io::Error::other("it is no folder but a link or a file"));
        }
        let folder = folder_of(path);
        let aside = (1..)
            .map(|number| folder.join(format!("{HIDDEN}{number}.gone")))
            .find(|aside| !is_there(aside))
            .unwrap_or_else(|| path.to_owned());
        match self.rename(path, &aside) {
            Err(error) if error.kind() == io::ErrorKind::StorageFull => self.remove_folder(path),
            renamed => {
                renamed?;
                self.sync_folder(folder)?;
                self.remove_folder(&aside)
            }
        }
    }

    /// Takes a folder away if it is empty.
    pub fn tidy(&self, path: &Path) {
        if self.change().is_ok() {
            fs::remove_dir(path).ok();
        }
    }

    /// Takes away the files that were begun in this folder and never became whole, as a crash leaves them. For
    /// folders alone in which nobody else writes.
    pub fn sweep(&self, folder: &Path) {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let hidden = entry.file_name().as_encoded_bytes().starts_with(HIDDEN.as_bytes());
            if hidden && entry.file_type().is_ok_and(|kind| kind.is_file()) {
                // What remains is tried again the next time.
                self.remove_file(&entry.path()).ok();
            }
        }
    }

    /// Makes a change of names in a folder last.
    pub fn sync_folder(&self, path: &Path) -> io::Result<()> {
        self.change()?;
        // Only Unix can open a folder; elsewhere the system sees to it.
        if cfg!(unix) {
            File::open(path)?.sync_all()?;
        }
        Ok(())
    }
}

/// Leaves a folder or file to its owner alone, unless a group was let in to write. What cannot be changed stays as it is.
pub fn close(path: &Path) {
    #[cfg(unix)]
    if let Ok(about) = fs::symlink_metadata(path) {
        use std::os::unix::fs::PermissionsExt;
        let mode = about.permissions().mode();
        let open = mode & if mode & 0o020 == 0 { 0o077 } else { 0o007 };
        if !about.is_symlink() && open != 0 {
            fs::set_permissions(path, fs::Permissions::from_mode(mode & !open)).ok();
        }
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// Whether anything has this name, be it a link that leads nowhere.
pub fn is_there(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

/// It is a fault if `path` is no file but a folder, a pipe, a device, or a link to a file.
pub fn file_itself(path: &Path) -> io::Result<()> {
    match fs::symlink_metadata(path)?.is_file() {
        true => Ok(()),
        false => Err(not_ordinary()),
    }
}

/// Opens a file to be read. A pipe or device in its place would be waited for, or read, without end.
pub fn open(path: &Path) -> io::Result<File> {
    match fs::metadata(path)?.is_file() {
        true => File::open(path),
        false => Err(not_ordinary()),
    }
}

/// All of a file.
pub fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The longest text that a hand writes for the program.
const LONGEST_TEXT: u64 = 4_000_000;

/// All of a text that a hand may have written: a drill, a specification, settings.
pub fn text(path: &Path) -> io::Result<String> {
    let mut text = String::new();
    open(path)?.take(LONGEST_TEXT + 1).read_to_string(&mut text)?;
    if text.len() as u64 > LONGEST_TEXT {
        return Err(io::Error::other("it is longer than 4 MB, too long for such a file"));
    }
    Ok(text)
}

fn not_ordinary() -> io::Error {
    io::Error::other("it is no ordinary file")
}

/// The files of a folder whose names end with one of `endings`, by name; none where there is no folder. A folder of such a
/// name is there, too, to be told of; a pipe, which would be waited for, is not.
pub fn files(folder: &Path, endings: &[&str]) -> Vec<PathBuf> {
    let is_one = |path: &PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        endings.iter().any(|ending| name.ends_with(ending)) && (path.is_file() || path.is_dir())
    };
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(is_one).collect();
    files.sort();
    files
}

/// The folder that a file lies in.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    }
}

/// A file that is written.
pub struct DiskFile {
    file: File,
    disk: Disk,
}

impl DiskFile {
    /// Sees to it that what was written is on the disk.
    pub fn sync_data(&self) -> io::Result<()> {
        self.disk.change()?;
        self.file.sync_data()
    }

    /// The same, with all that is known of the file.
    pub fn sync_all(&self) -> io::Result<()> {
        self.disk.change()?;
        self.file.sync_all()
    }

    fn again(&self) -> io::Result<Self> {
        Ok(self.disk.file(self.file.try_clone()?))
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
