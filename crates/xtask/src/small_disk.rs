//! A disk that is all but full.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::shell::{Fault, Step};

/// A disk in memory; dropping it takes it away with all that is on it.
pub(crate) struct SmallDisk {
    folder: PathBuf,
}

impl SmallDisk {
    /// One of this size, as `mount` takes it, on `folder`, which is made; `None`, which is told, where none can be
    /// mounted.
    pub(crate) fn or_skipped(folder: &Path, size: &str) -> Result<Option<Self>, Fault> {
        let disk = Self::mount(folder, size);
        if let Err(fault) = &disk {
            println!("skipped: no small disk can be mounted here, which takes root: {fault}");
        }
        Ok(disk.ok())
    }

    /// The same where one can be.
    pub(crate) fn mount(folder: &Path, size: &str) -> Result<Self, Fault> {
        fs::create_dir_all(folder).map_err(Fault::at(folder))?;
        let mount = Step::new("mount").args(["-t", "tmpfs", "-o", size, "none"]).arg(folder);
        let done = mount.listen()?;
        if !done.status.success() {
            let said = String::from_utf8_lossy(&done.stderr).trim().to_owned();
            return Err(Fault::Tool(said));
        }
        Ok(Self { folder: folder.to_owned() })
    }

    /// Takes away what may be mounted on `folder`. A program that is just being started may hold it for a moment.
    pub(crate) fn leave(folder: &Path) {
        for _ in 0..200 {
            let Ok(done) = Step::new("umount").arg(folder).listen() else { return };
            if !String::from_utf8_lossy(&done.stderr).contains("busy") {
                return;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Fills it but for so many bytes.
    pub(crate) fn fill(&self, room: u64) -> Result<(), Fault> {
        let filling = self.filling();
        let mut file = File::create(&filling).map_err(Fault::at(&filling))?;
        let block = vec![0; 1 << 16];
        let mut length: u64 = 0;
        loop {
            match file.write(&block) {
                Ok(count) => length += count as u64,
                Err(error) if error.kind() == io::ErrorKind::StorageFull => break,
                Err(error) => return Err(Fault::at(&filling)(error)),
            }
        }
        file.set_len(length.saturating_sub(room)).map_err(Fault::at(&filling))
    }

    /// Gives the room back.
    pub(crate) fn free(&self) -> Result<(), Fault> {
        let filling = self.filling();
        match fs::remove_file(&filling) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                Err(Fault::at(&filling)(error))
            }
            _ => Ok(()),
        }
    }

    fn filling(&self) -> PathBuf {
        self.folder.join("filling")
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        Self::leave(&self.folder);
    }
}
