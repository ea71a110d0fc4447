//! The drills that come with the program, and those of the player.

use std::path::{Path, PathBuf};

use coach::Drill;
use disk::Disk;

use crate::fault::Fault;

/// The drills that come with the program, by name.
const SHIPPED: [(&str, &str); 15] = [
    ("one-finger", include_str!("../../../assets/drills/one-finger.ron")),
    ("there-and-back", include_str!("../../../assets/drills/there-and-back.ron")),
    (
        "out-to-the-little-finger",
        include_str!("../../../assets/drills/out-to-the-little-finger.ron"),
    ),
    ("to-the-other-side", include_str!("../../../assets/drills/to-the-other-side.ron")),
    ("all-in-a-row", include_str!("../../../assets/drills/all-in-a-row.ron")),
    ("on-one-note", include_str!("../../../assets/drills/on-one-note.ron")),
    ("pace-ladder", include_str!("../../../assets/drills/pace-ladder.ron")),
    ("width-ladder", include_str!("../../../assets/drills/width-ladder.ron")),
    ("rate-ladder", include_str!("../../../assets/drills/rate-ladder.ron")),
    ("one-bow", include_str!("../../../assets/drills/one-bow.ron")),
    ("field-walk", include_str!("../../../assets/drills/field-walk.ron")),
    ("bloom", include_str!("../../../assets/drills/bloom.ron")),
    ("to-the-strong-beat", include_str!("../../../assets/drills/to-the-strong-beat.ron")),
    ("start-and-stop", include_str!("../../../assets/drills/start-and-stop.ron")),
    ("straight", include_str!("../../../assets/drills/straight.ron")),
];

/// Names of the drills that come with the program.
pub fn names() -> impl Iterator<Item = &'static str> {
    SHIPPED.iter().map(|(name, _)| *name)
}

/// The folder of the player's own drills, beside the settings; none without a home.
pub fn own() -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "evenwave")?;
    Some(folders.config_dir().join("drills"))
}

/// A shipped drill by its name, or the player's own by the path of its `.ron` file or by its name in the
/// folder `own`.
pub fn find(name_or_path: &str, own: Option<&Path>) -> Result<Drill, Fault> {
    let path = Path::new(name_or_path);
    if path.extension().is_some_and(|extension| extension == "ron") {
        return read(path);
    }
    if let Some((name, text)) = SHIPPED.iter().find(|(name, _)| *name == name_or_path) {
        return Drill::from_ron(text, name, &format!("{name}.ron"))
            .map_err(|error| Fault::Failed(error.to_string()));
    }
    let own = own.map(|own| disk::files(own, &[".ron"])).unwrap_or_default();
    if let Some(path) = own.iter().find(|path| stem(path) == name_or_path) {
        return read(path);
    }
    let mut names: Vec<String> = names().map(str::to_owned).collect();
    names.extend(own.iter().map(|path| stem(path)));
    Err(Fault::Usage(format!(
        "no drill is called \"{name_or_path}\"; choose {}, or give the path of a drill file ending in .ron",
        names.join(", ")
    )))
}

/// Lays a copy of the shipped drill `name` into the folder `own`, over nothing that is there; returns where.
pub fn copy(name: &str, own: &Path) -> Result<PathBuf, Fault> {
    let Some((_, text)) = SHIPPED.iter().find(|(shipped, _)| *shipped == name) else {
        let names: Vec<&str> = names().collect();
        return Err(Fault::Usage(format!(
            "no drill that comes with the program is called \"{name}\"; choose {}",
            names.join(", ")
        )));
    };
    let path = own.join(format!("my-{name}.ron"));
    let disk = Disk::default();
    let written = disk.create_folders(own).and_then(|()| disk.write_new(&path, text.as_bytes()));
    match written {
        Ok(()) => Ok(path),
        Err(error) => Err(Fault::Failed(format!(
            "the copy cannot be written ({error}); rename or remove what is there: {}",
            path.display()
        ))),
    }
}

/// The drill in a file.
fn read(path: &Path) -> Result<Drill, Fault> {
    let shown = path.display().to_string();
    let text = disk::text(path).map_err(|error| {
        Fault::Failed(format!("the drill cannot be read ({error}); check the path: {shown}"))
    })?;
    Drill::from_ron(&text, &stem(path), &shown).map_err(|error| Fault::Failed(error.to_string()))
}

/// The name of the drill in a file.
fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// All drills: the shipped ones in their order, then the player's own, which are the `.ron` files of the
/// folder `own`, by name. One that cannot be used is there with the reason in words.
pub fn all(own: Option<&Path>) -> Vec<(String, Result<Drill, String>)> {
    let told = |fault: Fault| fault.to_string();
    let shipped = names().map(|name| (name.to_owned(), find(name, None).map_err(told)));
    let own = own.map(|own| disk::files(own, &[".ron"])).unwrap_or_default();
    let own = own.iter().map(|path| (stem(path), read(path).map_err(told)));
    shipped.chain(own).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_hand_reaches_behind_the_nut_and_the_way_out_reaches_the_last_finger() {
        let one_note = find("on-one-note", None).expect("shipped");
        for (instrument, place) in &one_note.places {
            // The hand lies so that its last finger has the note: a semitone or a tone below it for each finger.
            let open = tuning::Instrument::shipped(instrument).expect("shipped");
            let note = place.hand[&1];
            let open = open.strings.iter().rev().find(|open| open.midi < note).expect("a string");
            let last = i32::from(*place.hand.keys().last().expect("fingers"));
            let reach = if instrument == "double-bass" { 2 } else { last - 1 };
            assert!(note - reach > open.midi, "{instrument}: finger {last} on {note}");
        }
        let out = find("out-to-the-little-finger", None).expect("shipped");
        for (instrument, place) in &out.places {
            assert!(place.fingers.contains(&4), "{instrument}");
        }
    }

    #[test]
    fn a_bass_is_asked_for_as_far_a_finger_as_a_cello() {
        let travel = |drill: &Drill, instrument: &str| {
            let place = drill.place(Some(instrument)).expect("a place");
            let tuning = tuning::Tuning::default();
            let of = tuning::Instrument::shipped(instrument).expect("shipped");
            let strings = of.stopped(&tuning).expect("their length is known");
            let hints = coach::Hints::default();
            let practice = coach::Practice::new(drill.clone(), place.clone(), tuning, hints);
            let asked = practice.asked()[0];
            let width = asked.width.expect("asked for").1;
            strings.travel(tuning.frequency(asked.midi), width).expect("stopped").1
        };
        for name in ["width-ladder", "rate-ladder", "bloom", "to-the-strong-beat", "field-walk"] {
            let drill = find(name, None).expect("shipped");
            let (bass, cello) = (travel(&drill, "double-bass"), travel(&drill, "cello"));
            assert!((bass / cello - 1.0).abs() < 0.1, "{name}: {bass} and {cello} mm");
        }
    }

    #[test]
    fn every_shipped_drill_is_well_written_and_has_a_place_on_every_instrument() {
        for name in names() {
            let drill = find(name, None).expect(name);
            assert_eq!(drill.name, name);
            assert!(!drill.about.is_empty(), "{name}: what is to be done");
            for instrument in ["violin", "viola", "cello", "double-bass"] {
                let place = drill.places.get(instrument).expect(instrument);
                assert!(!drill.turns(place).is_empty(), "{name} on {instrument}");
            }
        }
    }

    #[test]
    fn transfers_start_with_the_finger_that_learns_first() {
        // String Pedagogy Notebook: the second finger on cello and bass, the third on violin and viola.
        let drill = find("there-and-back", None).expect("shipped");
        for (instrument, finger) in [("cello", 2), ("double-bass", 2), ("violin", 3), ("viola", 3)]
        {
            assert_eq!(drill.places[instrument].fingers[0], finger, "{instrument}");
        }
    }

    #[test]
    fn the_way_out_to_the_little_finger_gets_there_and_no_hand_lies_behind_the_nut() {
        let drill = find("out-to-the-little-finger", None).expect("shipped");
        for (instrument, place) in &drill.places {
            assert!(place.fingers.contains(&4), "{instrument}: {:?}", place.fingers);
        }
        // With the fourth finger a semitone above the first, as on F3 of a D string, the hand would lie behind the nut.
        let drill = find("on-one-note", None).expect("shipped");
        for instrument in ["violin", "viola", "cello"] {
            assert!(!drill.places[instrument].hand.contains_key(&4), "{instrument}");
        }
    }

    #[test]
    fn a_kind_of_an_instrument_is_played_where_it_is() {
        let drill = find("there-and-back", None).expect("shipped");
        let fingers = |name: &str| &drill.place(Some(name)).expect("a place").fingers;
        for name in ["double-bass-five", "double-bass-solo", "some/double-bass.ron"] {
            assert_eq!(fingers(name), &[2, 4, 2], "{name}");
        }
        for name in ["double", "double-bassoon", "my.ron", ""] {
            assert_eq!(fingers(name), &[2, 3, 2], "{name}: the cello's");
        }
    }

    #[test]
    fn an_unknown_drill_names_the_known_ones() {
        let error = find("waltz", None).expect_err("not shipped").to_string();
        assert!(error.contains("there-and-back"), "{error}");
    }

    #[test]
    fn a_drill_of_ones_own_is_listed_and_a_bad_one_says_where_and_why() {
        let folder = std::env::temp_dir().join(format!("evenwave-drills-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder for the test");
        let (_, text) = SHIPPED[1];
        std::fs::write(folder.join("mine.ron"), text).expect("written");
        std::fs::write(folder.join("bad.ron"), text.replace("version: 1", "version: 9"))
            .expect("written");
        std::fs::write(folder.join("notes.txt"), "no drill").expect("written");
        let drills = all(Some(&folder));
        assert_eq!(drills.len(), SHIPPED.len() + 2);
        let own = &drills[SHIPPED.len()..];
        let words = own[0].1.as_ref().expect_err("another version");
        assert!(words.contains("bad.ron") && words.contains('9'), "{words}");
        assert_eq!(own[1].1.as_ref().map(|drill| drill.name.as_str()), Ok("mine"));
        assert_eq!(find("mine", Some(&folder)).expect("ours").name, "mine");
        let error = find("waltz", Some(&folder)).expect_err("none").to_string();
        assert!(error.contains("mine"), "{error}");
        assert_eq!(all(Some(Path::new("/nowhere"))).len(), SHIPPED.len());
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }
}
