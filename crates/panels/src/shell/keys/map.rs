//! Which key does what.

use super::{Entry, key_name};
use egui::Key;
use std::collections::BTreeMap;

/// The keys a player has chosen for commands, by the names of these; the others have those of the start.
///
/// Whoever changes keys says which commands there are: a room's commands stand with the room.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KeyMap {
    chosen: BTreeMap<&'static str, Vec<Key>>,
}

impl KeyMap {
    /// The keys a player chose, by the names of the commands. `Err` says which name is not known, or which key was
    /// given twice.
    pub fn chosen(
        all: &[&'static Entry],
        choices: &BTreeMap<String, Vec<String>>,
    ) -> Result<Self, String> {
        let mut map = Self::default();
        for (name, keys) in choices {
            map.set(all, name, keys)?;
        }
        let by_player: Vec<_> =
            all.iter().filter(|entry| choices.contains_key(entry.name)).collect();
        // A key that one chosen command took from another was given twice.
        for entry in &by_player {
            let mut named = choices[entry.name].iter().filter_map(|key| Key::from_name(key));
            let Some(lost) = named.find(|key| !map.of(entry).contains(key)) else {
                continue;
            };
            let to = by_player
                .iter()
                .find(|other| other.name != entry.name && map.of(other).contains(&lost));
            return Err(format!(
                "the key \"{}\" is given to both {} and {}; leave it with one of them",
                key_name(lost),
                entry.name,
                to.map_or("", |other| other.name)
            ));
        }
        Ok(map)
    }

    /// Gives the command of this name other keys and takes them from all others that are heard where it is (an
    /// answer to a question may share a key with what is no answer, and so may rooms); `Err` says what is not
    /// known.
    pub fn set(
        &mut self,
        all: &[&'static Entry],
        name: &str,
        keys: &[String],
    ) -> Result<(), String> {
        let own = all.iter().find(|entry| entry.name == name);
        let own = own.ok_or_else(|| format!("there is no command \"{name}\""))?;
        let named = |key: &String| {
            Key::from_name(key).ok_or_else(|| format!("there is no key \"{key}\" (for {name})"))
        };
        let keys: Vec<Key> = keys.iter().map(named).collect::<Result<_, _>>()?;
        for entry in all.iter().filter(|entry| own.meets(entry)) {
            let left = self.of(entry).iter().copied().filter(|key| !keys.contains(key)).collect();
            self.give(entry, left);
        }
        self.give(own, keys);
        Ok(())
    }

    fn give(&mut self, entry: &'static Entry, keys: Vec<Key>) {
        if keys == entry.keys {
            self.chosen.remove(entry.name);
        } else {
            self.chosen.insert(entry.name, keys);
        }
    }

    /// The commands whose keys are not those of the start, with the names of theirs.
    pub fn changed(&self) -> impl Iterator<Item = (&'static str, Vec<String>)> {
        let names = |keys: &Vec<Key>| keys.iter().map(|key| key.name().to_owned()).collect();
        self.chosen.iter().map(move |(&name, keys)| (name, names(keys)))
    }

    /// The keys of a command.
    pub fn of(&self, entry: &Entry) -> &[Key] {
        self.chosen.get(entry.name).map_or(entry.keys, Vec::as_slice)
    }

    /// The name of the last key of a command, a letter at first, as it is shown on a button.
    pub fn shown(&self, entry: &Entry) -> Option<&'static str> {
        self.of(entry).last().map(|&key| key_name(key))
    }

    /// The names of all keys of a command, as they are written on them: "Page Down, V".
    pub fn listed(&self, entry: &Entry) -> String {
        let names: Vec<&str> = self.of(entry).iter().map(|&key| key_name(key)).collect();
        names.join(", ")
    }
}
