//! What is written under a hidden name until it is whole.

use std::fs;
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, TempPath};

use crate::{Disk, DiskFile, HIDDEN, folder_of, is_there, not_ordinary};

/// A file that is not whole yet. Dropped without an end, nothing of it stays.
pub struct Fresh {
    file: DiskFile,
    hidden: Option<TempPath>,
    path: PathBuf,
}

impl Fresh {
    pub(crate) fn begin(disk: &Disk, path: &Path) -> io::Result<Self> {
        // A pipe or a device would be replaced, a folder could not be.
        if fs::metadata(path).is_ok_and(|about| !about.is_file()) {
            return Err(not_ordinary());
        }
        disk.change()?;
        let mut builder = Builder::new();
        builder.prefix(HIDDEN).suffix(".new");
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(match disk.private {
            true => 0o600,
            // Less what the user's mask takes away.
            false => 0o666,
        }));
        let (file, hidden) = builder.tempfile_in(folder_of(path))?.into_parts();
        Ok(Self { file: disk.file(file), hidden: Some(hidden), path: path.to_owned() })
    }

    /// The file once more, for a writer that wants one of its own; all write at one place.
    pub fn again(&self) -> io::Result<DiskFile> {
        self.file.again()
    }

    /// It is whole: it takes its name, in place of the file that had it.
    pub fn put(self) -> io::Result<()> {
        self.settle(|hidden, path| hidden.persist(path))
    }

    /// It is whole: it takes its name. It is a fault if anything has that.
    pub fn put_new(self) -> io::Result<()> {
        self.settle(|hidden, path| hidden.persist_noclobber(path))
    }

    fn settle(
        mut self,
        named: impl FnOnce(TempPath, &Path) -> Result<(), tempfile::PathPersistError>,
    ) -> io::Result<()> {
        self.file.sync_all()?;
        let disk = self.file.disk.clone();
        disk.change()?;
        if let Some(hidden) = self.hidden.take() {
            named(hidden, &self.path).map_err(|fault| fault.error)?;
        }
        disk.sync_folder(folder_of(&self.path))
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        if let Some(hidden) = &mut self.hidden {
            // A disk that lets nothing happen lets nothing be taken away.
            hidden.disable_cleanup(self.file.disk.change().is_err());
        }
    }
}

impl Write for Fresh {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Seek for Fresh {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// A folder that is not whole yet. Dropped without an end, nothing of it stays.
pub struct FreshFolder {
    disk: Disk,
    hidden: PathBuf,
    path: PathBuf,
    settled: bool,
}

impl FreshFolder {
    pub(crate) fn begin(disk: &Disk, path: &Path) -> io::Result<Self> {
        disk.change()?;
        let mut builder = Builder::new();
        builder.prefix(HIDDEN).disable_cleanup(true);
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(match disk.private {
            true => 0o700,
            false => 0o777,
        }));
        let hidden = builder.tempdir_in(folder_of(path))?.keep();
        Ok(Self { disk: disk.clone(), hidden, path: path.to_owned(), settled: false })
    }

    /// Where it is until it is whole.
    pub fn hidden(&self) -> &Path {
        &self.hidden
    }

    /// It is whole: it takes its name. It is a fault if anything has that.
    pub fn put_new(mut self) -> io::Result<()> {
        self.disk.sync_folder(&self.hidden)?;
        // The system itself would put it over a folder that is empty.
        if is_there(&self.path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        self.disk.rename(&self.hidden, &self.path)?;
        self.settled = true;
        self.disk.sync_folder(folder_of(&self.path))
    }
}

impl Drop for FreshFolder {
    fn drop(&mut self) {
        if !self.settled {
            self.disk.remove_folder(&self.hidden).ok();
        }
    }
}

#[cfg(test)]
mod tests {
    use std::fs::File;

    use super::*;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().expect("a folder for the test")
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("there").flatten();
        let mut names: Vec<String> =
            entries.map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_file_takes_its_name_once_it_is_whole_and_leaves_those_beside_it_alone() {
        let folder = folder();
        let path = folder.path().join("x.zip");
        for beside in ["x.zip.new", "x.new", "x.zip.state"] {
            fs::write(folder.path().join(beside), "mine").expect("written");
        }
        let disk = Disk::default();
        let mut fresh = disk.begin(&path).expect("begun");
        fresh.write_all(b"whole").expect("written");
        assert!(!path.exists());
        fresh.put().expect("put");
        drop(disk.begin(&path).expect("begun, and broken off"));
        assert_eq!(fs::read(&path).expect("there"), b"whole");
        assert_eq!(names(folder.path()), ["x.new", "x.zip", "x.zip.new", "x.zip.state"]);
        for beside in ["x.zip.new", "x.new", "x.zip.state"] {
            assert_eq!(fs::read(folder.path().join(beside)).expect("there"), b"mine");
        }
        let error = disk.write_new(&path, b"other").expect_err("it is there");
        assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read(&path).expect("there"), b"whole");
        disk.write_whole(&path, b"other").expect("replaced");
        assert_eq!(fs::read(&path).expect("there"), b"other");
    }

    #[test]
    fn a_folder_takes_its_name_once_it_is_whole_and_never_that_of_another() {
        let folder = folder();
        let path = folder.path().join("out");
        let disk = Disk::default();
        let fresh = disk.begin_folder(&path).expect("begun");
        disk.write_whole(&fresh.hidden().join("a"), b"a").expect("written");
        assert!(!path.exists());
        fresh.put_new().expect("put");
        assert_eq!(names(&path), ["a"]);
        fs::create_dir(folder.path().join("empty")).expect("made");
        let fresh = disk.begin_folder(&folder.path().join("empty")).expect("begun");
        fresh.put_new().expect_err("it is there");
        assert_eq!(names(folder.path()), ["empty", "out"], "nothing stays of what broke off");
    }

    #[cfg(unix)]
    #[test]
    fn no_link_is_followed_to_write_or_to_delete() {
        use std::os::unix::fs::symlink;
        let folder = folder();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("theirs")).expect("made");
        fs::write(at("theirs/file"), "theirs").expect("written");
        for name in ["a", "b", "c"] {
            symlink(at("theirs/file"), at(name)).expect("linked");
        }
        symlink(at("theirs"), at("d")).expect("linked");
        symlink(at("gone"), at("e")).expect("linked");
        let disk = Disk::default();
        disk.create(&at("a")).err().expect("a link has the name");
        disk.append(&at("a")).err().expect("a link has the name");
        disk.create(&at("e")).err().expect("a link has the name");
        disk.append(&at("e")).err().expect("a link has the name");
        disk.remove_folder(&at("d")).expect_err("it is a link");
        disk.write_whole(&at("b"), b"mine").expect("in place of the link");
        disk.remove_file(&at("c")).expect("the link goes");
        fs::create_dir(at("mine")).expect("made");
        symlink(at("theirs"), at("mine/link")).expect("linked");
        disk.remove_folder(&at("mine")).expect("with the link in it");
        assert_eq!(fs::read(at("theirs/file")).expect("there"), b"theirs");
        assert!(!at("gone").exists() && !at("mine").exists());
        assert_eq!(fs::read(at("b")).expect("there"), b"mine");
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_neither_replaced_nor_opened() {
        let folder = folder();
        let pipe = folder.path().join("pipe");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status();
        assert!(made.is_ok_and(|status| status.success()));
        let disk = Disk::default();
        assert!(disk.begin(&pipe).is_err() && disk.append(&pipe).is_err());
        assert!(crate::open(&pipe).is_err());
        assert_eq!(names(folder.path()), ["pipe"]);
    }

    #[cfg(unix)]
    #[test]
    fn what_is_private_is_for_the_owner_alone() {
        use std::os::unix::fs::PermissionsExt;
        let folder = folder();
        let mode = |name: &str| {
            let about = fs::metadata(folder.path().join(name)).expect("there");
            about.permissions().mode() & 0o777
        };
        let at = |name: &str| folder.path().join(name);
        fs::write(at("plain"), "").expect("written");
        let (disk, own) = (Disk::default(), Disk::default().private());
        disk.write_whole(&at("whole"), b"").expect("written");
        assert_eq!(mode("whole"), mode("plain"), "as the user's mask has it");
        own.write_whole(&at("a"), b"").expect("written");
        own.create(&at("b")).expect("made");
        own.append(&at("c")).expect("made");
        own.create_folders(&at("d")).expect("made");
        own.begin_folder(&at("e")).expect("begun").put_new().expect("put");
        assert_eq!(["a", "b", "c", "d", "e"].map(mode), [0o600, 0o600, 0o600, 0o700, 0o700]);
    }

    #[test]
    fn what_a_crash_left_is_swept_away_and_nothing_else() {
        let folder = folder();
        let at = |name: &str| folder.path().join(name);
        std::mem::forget(Disk::default().begin(&at("x")).expect("begun"));
        File::create(at("a.copying")).expect("made");
        assert_eq!(names(folder.path()).len(), 2);
        Disk::default().sweep(folder.path());
        assert_eq!(names(folder.path()), ["a.copying"]);
    }
}
