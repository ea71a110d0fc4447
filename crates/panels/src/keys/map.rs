//! Which key does what, and where.

use super::{Command, Does, Entry, Place, entries, said};
use egui::Key;
use std::collections::BTreeMap;

/// Which key does what: for each of [`entries`], in their order, its keys.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyMap {
    keys: Vec<Vec<Key>>,
}

impl Default for KeyMap {
    fn default() -> Self {
        Self { keys: entries().map(|entry| entry.keys.to_vec()).collect() }
    }
}

impl KeyMap {
    /// The keys a player chose, by the names of the commands, and those of the start for the rest. `Err` says
    /// which name is not known, or which key was given twice.
    pub fn chosen(choices: &BTreeMap<String, Vec<String>>) -> Result<Self, String> {
        let mut map = Self::default();
        for (name, keys) in choices {
            map.set(name, keys)?;
        }
        let by_player = |entry: &Entry| choices.contains_key(entry.name);
        let all: Vec<_> = map.all().filter(|(entry, _)| by_player(entry)).collect();
        // What was taken from one chosen command by another was given twice.
        for (entry, keys) in &all {
            let wanted = choices.get(entry.name).map_or(0, Vec::len);
            if keys.len() == wanted {
                continue;
            }
            let lost = choices[entry.name]
                .iter()
                .filter_map(|key| Key::from_name(key))
                .find(|key| !keys.contains(key));
            let to = all
                .iter()
                .find(|(other, keys)| {
                    other.name != entry.name && lost.is_some_and(|lost| keys.contains(&lost))
                })
                .map_or("", |(other, _)| other.name);
            let key = lost.map_or("", said);
            return Err(format!(
                "the key \"{key}\" is given to both {} and {to}; leave it with one of them",
                entry.name
            ));
        }
        Ok(map)
    }

    /// The keys of each command, in the order of [`entries`].
    pub fn all(&self) -> impl Iterator<Item = (&'static Entry, &[Key])> {
        entries().zip(self.keys.iter().map(Vec::as_slice))
    }

    /// Gives the command of this name other keys and takes them from all others that are heard where it is (an
    /// answer to a question may share a key with what is no answer, and so may rooms); `Err` says what is not
    /// known.
    pub fn set(&mut self, name: &str, keys: &[String]) -> Result<(), String> {
        let place = entries().position(|entry| entry.name == name);
        let place = place.ok_or_else(|| format!("there is no command \"{name}\""))?;
        let named = |key: &String| {
            Key::from_name(key).ok_or_else(|| format!("there is no key \"{key}\" (for {name})"))
        };
        let keys: Vec<Key> = keys.iter().map(named).collect::<Result<_, _>>()?;
        let own = entries().nth(place);
        for (entry, others) in entries().zip(&mut self.keys) {
            if own.is_some_and(|own| own.meets(entry)) {
                others.retain(|key| !keys.contains(key));
            }
        }
        self.keys[place] = keys;
        Ok(())
    }

    /// The commands whose keys are not those of the start, with the names of theirs.
    pub fn changed(&self) -> Vec<(&'static str, Vec<String>)> {
        self.all()
            .filter(|(entry, keys)| entry.keys != *keys)
            .map(|(entry, keys)| {
                let names = keys.iter().map(|key| key.name().to_owned()).collect();
                (entry.name, names)
            })
            .collect()
    }

    /// What a key does in a room that it does not do elsewhere, in sentences: a room hears its own keys first.
    /// There is none among the keys of the start.
    pub fn hidden(&self) -> Vec<String> {
        let mut all = Vec::new();
        let everywhere = || {
            let common = |entry: &Entry| entry.places.contains(&Place::Everywhere);
            // What lies over a room is closed before the room hears a key.
            let closes = |entry: &Entry| entry.does == Does::Command(Command::Close);
            self.all().filter(move |(entry, _)| common(entry) && !closes(entry))
        };
        for (entry, keys) in self.all() {
            let Some(place) = entry.places.iter().find(|place| place.is_in_a_room()) else {
                continue;
            };
            for (common, others) in everywhere() {
                if let Some(key) = keys.iter().find(|key| others.contains(key)) {
                    all.push(format!(
                        "{}: {} is “{}” here, and not “{}” as elsewhere.",
                        place.name(),
                        said(*key),
                        entry.said,
                        common.said
                    ));
                }
            }
        }
        all
    }

    /// The name of the last key of a command, a letter at first, as it is shown on a button.
    pub fn shown(&self, does: impl Into<Does>) -> Option<&'static str> {
        self.of(does).last().map(|&key| said(key))
    }

    /// Words of a button with the key that does the same.
    pub(crate) fn beside(&self, text: &str, does: impl Into<Does>) -> String {
        format!("{text}  {}", self.shown(does).unwrap_or(""))
    }

    /// The keys of a command.
    pub fn of(&self, does: impl Into<Does>) -> &[Key] {
        let does = does.into();
        let found = self.all().find(|(entry, _)| entry.does == does);
        found.map_or(&[], |(_, keys)| keys)
    }

    /// The names of all keys of a command, as they are written on them: "Page Down, V".
    pub fn listed(&self, does: impl Into<Does>) -> String {
        let names: Vec<&str> = self.of(does).iter().map(|&key| said(key)).collect();
        names.join(", ")
    }

    /// What a key does in this place, and there alone.
    pub fn at(&self, place: Place, key: Key) -> Option<Does> {
        let mut all = self.all();
        let found = all.find(|(entry, keys)| entry.places.contains(&place) && keys.contains(&key));
        found.map(|(entry, _)| entry.does)
    }

    /// The command of a key in the first of these places where it has one.
    pub(super) fn command(&self, places: &[Place], key: Key) -> Option<Command> {
        places.iter().find_map(|&place| match self.at(place, key)? {
            Does::Command(command) => Some(command),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{ASKED, DrillKey, LessonKey, STAND};
    use super::*;

    #[test]
    fn no_two_commands_that_are_heard_together_share_a_key_or_a_name() {
        let map = KeyMap::default();
        for (number, (entry, keys)) in map.all().enumerate() {
            assert!(!entry.places.is_empty() && !keys.is_empty(), "{}", entry.name);
            for (other, others) in map.all().skip(number + 1) {
                assert_ne!(entry.name, other.name);
                assert_ne!(entry.does, other.does, "{}", entry.name);
                let shared = keys.iter().find(|key| others.contains(key));
                assert!(
                    shared.is_none() || !entry.meets(other),
                    "{shared:?}: {} and {}",
                    entry.name,
                    other.name
                );
            }
        }
        assert_eq!(map.hidden(), Vec::<String>::new());
    }

    #[test]
    fn a_key_that_a_player_gave_twice_is_told_and_one_that_a_room_hides_too() {
        let keys = |keys: &[&str]| keys.iter().map(|key| (*key).to_owned()).collect();
        let chosen = |all: &[(&str, &[&str])]| {
            let all = all.iter().map(|(name, each)| ((*name).to_owned(), keys(each)));
            KeyMap::chosen(&all.collect())
        };
        let twice = chosen(&[("lesson-pitch", &["X"]), ("lesson-speed", &["X", "W"])]);
        let told = twice.expect_err("one key, two commands");
        assert!(told.contains("lesson-pitch") && told.contains("lesson-speed"), "{told}");
        assert!(told.contains("\"X\""), "{told}");
        // Two rooms are never heard together.
        let map = chosen(&[("lesson-pitch", &["X"]), ("drill-click", &["X"])]).expect("apart");
        assert_eq!(map.at(Place::Lesson, Key::X), Some(LessonKey::Pitch.into()));
        assert_eq!(map.at(Place::Ready, Key::X), Some(DrillKey::Click.into()));
        let map = chosen(&[("lesson-pitch", &["L"])]).expect("a room goes first");
        let hidden = map.hidden();
        assert_eq!(
            hidden,
            [
                "Lesson: L is “hear the pitch as a plain tone” here, and not “light or dark paper” as elsewhere."
            ]
        );
        assert_eq!(map.of(Command::Paper), [Key::L]);
    }

    #[test]
    fn a_name_of_the_settings_file_is_told_if_it_is_not_known() {
        let mut map = KeyMap::default();
        map.set("paper", &["F9".to_owned()]).expect("both exist");
        assert_eq!(map.of(Command::Paper), [Key::F9]);
        assert_eq!(map.changed(), [("paper", vec!["F9".to_owned()])]);
        let error = map.set("papers", &[]).expect_err("no such command");
        assert!(error.contains("papers"), "{error}");
        let key = ["Pedal".to_owned()];
        let error = map.set("paper", &key).expect_err("no such key");
        assert!(error.contains("Pedal") && error.contains("paper"), "{error}");
    }

    #[test]
    fn a_key_that_is_given_to_another_command_is_taken_from_the_first() {
        let mut map = KeyMap::default();
        map.set("hold", &["PageDown".to_owned()]).expect("both exist");
        assert_eq!(map.of(Command::Showing), [Key::V]);
        assert_eq!(map.command(&STAND, Key::PageDown), Some(Command::Hold));
        // While a question is asked the same key still answers it.
        assert_eq!(map.command(&ASKED, Key::PageDown), Some(Command::Answer(1)));
    }

    #[test]
    fn every_key_of_the_start_survives_the_settings_file() {
        let map = KeyMap::default();
        for (entry, keys) in map.all() {
            for key in keys {
                assert_eq!(Key::from_name(key.name()), Some(*key), "{}", entry.name);
            }
        }
    }

    #[test]
    fn the_question_comes_first_only_while_it_is_asked() {
        let map = KeyMap::default();
        assert_eq!(map.command(&ASKED, Key::PageUp), Some(Command::Answer(0)));
        assert_eq!(map.command(&STAND, Key::PageUp), Some(Command::Straight));
        assert_eq!(map.command(&ASKED, Key::L), Some(Command::Paper));
        assert_eq!(map.command(&STAND, Key::Num1), None);
    }
}
