//! Passages that are edited in the window, kept beside those of the player. What could not be written waits, and is tried
//! again with the next.

use std::collections::BTreeMap;
use std::path::PathBuf;

use coach::plan::Passage;
use disk::Disk;

use super::shelf::{keep, unkept};
use crate::fault::Fault;

/// Keeps them in one folder. Each passage has a number for as long as the window is open.
pub(crate) struct Keeper {
    folder: PathBuf,
    names: BTreeMap<u64, String>,
    waiting: BTreeMap<u64, Passage>,
}

impl Keeper {
    /// In this folder, which is made when it is needed.
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder, names: BTreeMap::new(), waiting: BTreeMap::new() }
    }

    /// Keeps a passage, in the file of this name if it has one. What was not kept before is tried again.
    pub(crate) fn keep(
        &mut self,
        id: u64,
        name: Option<String>,
        passage: Passage,
    ) -> Result<(), Fault> {
        if let Some(name) = name {
            self.names.insert(id, name);
        }
        self.waiting.insert(id, passage);
        self.go_on()
    }

    /// Writes what waits.
    pub(crate) fn go_on(&mut self) -> Result<(), Fault> {
        while let Some((&id, passage)) = self.waiting.first_key_value() {
            match self.names.get(&id) {
                Some(name) => {
                    let path = self.folder.join(format!("{name}.ron"));
                    let disk = Disk::default();
                    let written = disk
                        .create_folders(&self.folder)
                        .and_then(|()| disk.write_whole(&path, passage.to_ron().as_bytes()));
                    written.map_err(|error| unkept(&error, &self.folder))?;
                }
                None => {
                    let name = keep(passage, &self.folder)?;
                    self.names.insert(id, name);
                }
            }
            self.waiting.remove(&id);
        }
        Ok(())
    }

    /// Something waits.
    pub(crate) fn waits(&self) -> bool {
        !self.waiting.is_empty()
    }

    /// The name of the file of a passage, once it has one.
    pub(crate) fn name(&self, id: u64) -> Option<&str> {
        self.names.get(&id).map(String::as_str)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::passages::{all, find};

    #[test]
    fn what_a_disk_refuses_is_told_and_kept_with_what_comes_later() {
        let folder = std::env::temp_dir().join(format!("evenwave-keeper-{}", std::process::id()));
        std::fs::remove_dir_all(&folder).ok();
        std::fs::remove_file(&folder).ok();
        std::fs::write(&folder, "in the way").expect("written");
        let (tide, hill) = (find("low-tide").expect("there"), find("up-the-hill").expect("there"));
        let titled = |title: &str, passage: &Passage| {
            let mut passage = passage.clone();
            passage.title = title.to_owned();
            passage
        };
        let mut keeper = Keeper::new(folder.join("passages"));
        let told = keeper.keep(1, None, titled("Mine", &tide)).expect_err("a file is no folder");
        assert!(told.to_string().contains("cannot be kept"), "{told}");
        assert!(keeper.waits() && keeper.name(1).is_none());
        std::fs::remove_file(&folder).expect("the test's own");
        keeper.keep(2, None, titled("Mine", &hill)).expect("kept now");
        assert!(!keeper.waits());
        assert_eq!((keeper.name(1), keeper.name(2)), (Some("mine"), Some("mine-2")));
        // What is edited further goes into the same file, whatever its title is now.
        keeper.keep(1, None, titled("Ours", &tide)).expect("kept");
        keeper.keep(3, Some("mine-2".to_owned()), titled("Hers", &hill)).expect("kept");
        let all = all(Some(&folder.join("passages")));
        let mut own: Vec<(&str, &str)> = all
            .iter()
            .filter(|listed| listed.own)
            .map(|listed| {
                (listed.name.as_str(), listed.passage.as_ref().expect("read").title.as_str())
            })
            .collect();
        own.sort_unstable();
        assert_eq!(own, [("mine", "Ours"), ("mine-2", "Hers")]);
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }
}
