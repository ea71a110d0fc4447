//! All commands of the window, of whatever room.

use crate::shell::keys::Entry;
use crate::shell::overlays::{Behind, Line};
use crate::shell::row::Row;
use crate::stand::{self, Stand};
use crate::{drill_room, journal_room, lesson_room, passage_room, shell};

/// What the settings file and the list of keys say of each, in the order they are listed.
pub fn all() -> Vec<&'static Entry> {
    fn of<R, A>(rows: &'static [Row<R, A>]) -> impl Iterator<Item = &'static Entry> {
        rows.iter().map(|row| &row.entry)
    }
    of(&stand::ROWS)
        .chain(of(&stand::QUESTION))
        .chain(of(&shell::commands::ROWS))
        .chain(of(&drill_room::ROWS))
        .chain(of(&journal_room::ROWS))
        .chain(of(&journal_room::LEAPS))
        .chain(of(&lesson_room::ROWS))
        .chain(of(&passage_room::ROWS))
        .chain(of(&passage_room::EDIT_ROWS))
        .collect()
}

/// What the sheets tell of the rooms behind them.
pub fn behind(stand: &Stand) -> Behind {
    let last = stand.picture().last.as_ref().and_then(|note| note.vibrato.as_ref());
    Behind {
        lines: lines(stand),
        own: stand.own(),
        last: last.map(|vibrato| (vibrato.rate.value, vibrato.width.value)),
    }
}

/// The lines of the list of keys. Those of the Stand and of all rooms can be pressed there; what another room does,
/// it does only where the list does not lie over it.
pub fn lines(stand: &Stand) -> Vec<Line> {
    let of_stand = |name: &str| {
        let rows = stand::ROWS.iter().chain(&stand::QUESTION);
        rows.filter(|row| row.entry.name == name).find_map(|row| row.action(stand, &stand.shell))
    };
    let of_all = |name: &str| {
        let row = shell::commands::ROWS.iter().find(|row| row.entry.name == name)?;
        row.action(&(), &stand.shell)
    };
    let action = |entry: &Entry| of_stand(entry.name).or_else(|| of_all(entry.name));
    all().into_iter().map(|entry| Line { entry, action: action(entry) }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::keys::{KeyMap, Scope};
    use crate::shell::options::Options;
    use crate::shell::overlays::hidden;
    use egui::Key;

    fn entry(name: &str) -> &'static Entry {
        all().into_iter().find(|entry| entry.name == name).expect("a command")
    }

    /// The command of a key in this place.
    fn at(map: &KeyMap, place: Scope, key: Key) -> Option<&'static str> {
        let mut here = all().into_iter().filter(|entry| entry.scopes.contains(&place));
        here.find(|entry| map.of(entry).contains(&key)).map(|entry| entry.name)
    }

    fn chosen(all: &[(&str, &[&str])]) -> Result<KeyMap, String> {
        let keys = |keys: &[&str]| keys.iter().map(|key| (*key).to_owned()).collect();
        let all = all.iter().map(|(name, each)| ((*name).to_owned(), keys(each)));
        KeyMap::chosen(&super::all(), &all.collect())
    }

    #[test]
    fn no_two_commands_that_are_heard_together_share_a_key_or_a_name() {
        let all = all();
        for (number, entry) in all.iter().enumerate() {
            assert!(!entry.scopes.is_empty() && !entry.keys.is_empty(), "{}", entry.name);
            for other in &all[number + 1..] {
                assert_ne!(entry.name, other.name);
                let shared = entry.keys.iter().find(|key| other.keys.contains(key));
                assert!(
                    shared.is_none() || !entry.meets(other),
                    "{shared:?}: {} and {}",
                    entry.name,
                    other.name
                );
            }
        }
        let lines = lines(&Stand::new(Options::default()));
        assert_eq!(hidden(&KeyMap::default(), &lines), Vec::<String>::new());
    }

    #[test]
    fn a_key_that_a_player_gave_twice_is_told_and_one_that_a_room_hides_too() {
        let twice = chosen(&[("lesson-pitch", &["X"]), ("lesson-speed", &["X", "W"])]);
        let told = twice.expect_err("one key, two commands");
        assert!(told.contains("lesson-pitch") && told.contains("lesson-speed"), "{told}");
        assert!(told.contains("\"X\""), "{told}");
        // Two rooms are never heard together.
        let map = chosen(&[("lesson-pitch", &["X"]), ("drill-click", &["X"])]).expect("apart");
        assert_eq!(at(&map, Scope::Lesson, Key::X), Some("lesson-pitch"));
        assert_eq!(at(&map, Scope::Ready, Key::X), Some("drill-click"));
        let map = chosen(&[("lesson-pitch", &["L"])]).expect("a room goes first");
        assert_eq!(
            hidden(&map, &lines(&Stand::new(Options::default()))),
            [
                "Lesson: L is “hear the pitch as a plain tone” here, and not “light or dark paper” as elsewhere."
            ]
        );
        assert_eq!(map.of(entry("paper")), [Key::L]);
    }

    #[test]
    fn a_name_of_the_settings_file_is_told_if_it_is_not_known() {
        let map = chosen(&[("paper", &["F11"])]).expect("both exist");
        assert_eq!(map.of(entry("paper")), [Key::F11]);
        assert_eq!(map.changed().collect::<Vec<_>>(), [("paper", vec!["F11".to_owned()])]);
        let error = chosen(&[("papers", &[])]).expect_err("no such command");
        assert!(error.contains("papers"), "{error}");
        let error = chosen(&[("paper", &["Pedal"])]).expect_err("no such key");
        assert!(error.contains("Pedal") && error.contains("paper"), "{error}");
    }

    #[test]
    fn a_key_that_is_given_to_another_command_is_taken_from_the_first() {
        let mut map = KeyMap::default();
        map.set(&all(), "hold", &["PageDown".to_owned()]).expect("both exist");
        assert_eq!(map.of(entry("showing")), [Key::V]);
        assert_eq!(at(&map, Scope::Stand, Key::PageDown), Some("hold"));
        // While a question is asked the same key still answers it.
        assert_eq!(at(&map, Scope::Question, Key::PageDown), Some("second-answer"));
        // Given the keys of the start again, nothing is chosen any more.
        map.set(&all(), "hold", &["Space".to_owned()]).expect("both exist");
        map.set(&all(), "showing", &["PageDown".to_owned(), "V".to_owned()]).expect("both exist");
        assert_eq!(map, KeyMap::default());
    }

    #[test]
    fn every_key_of_the_start_survives_the_settings_file() {
        for entry in all() {
            for key in entry.keys {
                assert_eq!(Key::from_name(key.name()), Some(*key), "{}", entry.name);
            }
        }
    }
}
