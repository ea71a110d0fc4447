//! The passages of a player: read from files of any kind, kept beside the settings, listed with those that come along.

use std::path::Path;

use coach::plan::Passage;
use disk::Disk;
use panels::passage_room::PassageFile;
use score::{Choice, Midi, MusicXml, ReadPassage};

use super::{SHIPPED, find, has, read, score_bytes};
use crate::fault::Fault;

/// What files of passages are called, and files of scores.
const TYPED: &str = ".passage.txt";
pub(crate) const SCORES: [&str; 5] = ["musicxml", "mxl", "xml", "mid", "midi"];

/// Whether a file may hold a passage or a score, by its name.
pub(crate) fn is_one(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    name.ends_with(".txt") || has(path, "ron") || SCORES.iter().any(|score| has(path, score))
}

/// What is read from a file of any kind: a typed passage, one as it is kept, or a score. Of a score with several parts it is that
/// for `instrument`, or the first one, which is told.
pub(crate) fn take_in(path: &Path, instrument: Option<&str>) -> Result<ReadPassage, Fault> {
    let whole = |passage| ReadPassage { passage, told: Vec::new() };
    if !SCORES.iter().any(|score| has(path, score)) {
        return read(path).map(whole);
    }
    let bytes = score_bytes(path)?;
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let told = |fault: score::ScoreError| Fault::Failed(format!("{fault}: {}", path.display()));
    if has(path, "mid") || has(path, "midi") {
        let midi = Midi::read(&bytes).map_err(told)?;
        return midi.passage(None, instrument.unwrap_or("cello"), &name).map_err(told);
    }
    let score = MusicXml::read(&bytes).map_err(told)?;
    let number = part_for(&score, instrument);
    let choice = Choice { part: Some((number + 1).to_string()), ..Choice::default() };
    let mut read = score.passage(&choice, &name).map_err(told)?;
    if score.parts.len() > 1 {
        let part = &score.parts[number].name;
        read.told.insert(
            0,
            format!(
                "of several parts “{part}” was taken; evenwave passage from-musicxml takes another"
            ),
        );
    }
    Ok(read)
}

/// The part that is named after the instrument, or the first one.
fn part_for(score: &MusicXml, instrument: Option<&str>) -> usize {
    let wanted = instrument.and_then(|name| name.split('-').next_back()).unwrap_or("");
    let named = |name: &str| !wanted.is_empty() && name.to_lowercase().contains(wanted);
    score.parts.iter().position(|part| named(&part.name)).unwrap_or(0)
}

/// Keeps a passage in the folder `own` under a name made of its title, over nothing that is there; says which name.
pub(crate) fn keep(passage: &Passage, own: &Path) -> Result<String, Fault> {
    let title = passage.title.to_lowercase();
    let plain: String =
        title.chars().map(|sign| if sign.is_alphanumeric() { sign } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let stem: String = words.join("-").chars().take(60).collect();
    let stem = if stem.is_empty() { "passage".to_owned() } else { stem };
    let disk = Disk::default();
    disk.create_folders(own).map_err(|error| unkept(&error, own))?;
    let taken = |name: &str| SHIPPED.iter().any(|(shipped, _)| *shipped == name);
    for number in 1..1000 {
        let name = if number == 1 { stem.clone() } else { format!("{stem}-{number}") };
        if taken(&name) {
            continue;
        }
        match disk.write_new(&own.join(format!("{name}.ron")), passage.to_ron().as_bytes()) {
            Ok(()) => return Ok(name),
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(unkept(&error, own)),
        }
    }
    Err(Fault::Failed(format!(
        "too many passages are called {stem}; rename some in {}",
        own.display()
    )))
}

/// What is told where the disk does not keep a passage.
pub(super) fn unkept(error: &std::io::Error, own: &Path) -> Fault {
    Fault::Failed(format!("the passage cannot be kept ({error}) in {}", own.display()))
}

/// All passages: those that come along in their order, then the player's own, which are the `.ron` and `.passage.txt` files of
/// the folder `own`, by name. One that cannot be used is there with the reason in words.
pub(crate) fn all(own: Option<&Path>) -> Vec<PassageFile> {
    let told = |fault: Fault| fault.to_string();
    let shipped = SHIPPED.iter().map(|(name, _)| PassageFile {
        name: (*name).to_owned(),
        passage: find(name).map_err(told),
        own: false,
    });
    let files = own.map(|own| disk::files(own, &[TYPED, ".ron"])).unwrap_or_default();
    let of_player = files.iter().map(|path| PassageFile {
        name: stem(path),
        passage: read(path).map_err(told),
        // What a hand has typed stays as it is.
        own: has(path, "ron"),
    });
    shipped.chain(of_player).collect()
}

/// The name of the passage in a file.
fn stem(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let stem = name.strip_suffix(TYPED).or_else(|| name.strip_suffix(".ron"));
    stem.unwrap_or(&name).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passage_is_kept_beside_others_and_one_that_cannot_be_used_says_why() {
        let folder = std::env::temp_dir().join(format!("evenwave-passages-{}", std::process::id()));
        std::fs::remove_dir_all(&folder).ok();
        let passage = find("low-tide").expect("shipped");
        assert_eq!(keep(&passage, &folder).expect("kept"), "low-tide-2", "one comes along");
        assert_eq!(keep(&passage, &folder).expect("kept"), "low-tide-3");
        std::fs::write(folder.join("bad.passage.txt"), "bar H3 1\n").expect("written");
        let all = all(Some(&folder));
        let names: Vec<&str> = all.iter().map(|listed| listed.name.as_str()).collect();
        assert_eq!(names[3..], ["bad", "low-tide-2", "low-tide-3"]);
        let words = all[3].passage.as_ref().expect_err("no note is called H");
        assert!(words.contains("bad.passage.txt") && words.contains("H3"), "{words}");
        assert_eq!(all[4].passage.as_ref(), Ok(&passage));
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }

    #[test]
    fn every_passage_that_comes_along_can_be_used() {
        for PassageFile { name, passage, .. } in all(None) {
            let passage = passage.expect(&name);
            assert!(passage.notes().len() > 8, "{name}");
        }
    }
}
