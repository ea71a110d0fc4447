//! The passages of a player: read from files of any kind, kept beside the settings, listed with those that come along.

use std::path::{Path, PathBuf};

use coach::plan::Passage;
use disk::Disk;
use panels::passage_room::{Excerpt, PassageFile, Score, ScorePart};
use score::{Choice, Midi, MusicXml, PartContents, ReadPassage, ScoreError};

use super::{SHIPPED, find, has, read, score_bytes};
use crate::fault::Fault;

/// What files of passages are called, and files of scores.
const TYPED: &str = ".passage.txt";
pub(crate) const SCORES: [&str; 5] = ["musicxml", "mxl", "xml", "mid", "midi"];

/// So many bars are practised whole.
const FEW_BARS: u32 = 24;

/// Whether a file may hold a passage or a score, by its name.
pub(crate) fn is_one(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    name.ends_with(".txt") || has(path, "ron") || SCORES.iter().any(|score| has(path, score))
}

/// What comes of a file.
pub(crate) enum TakenIn {
    /// A passage.
    Read(ReadPassage),
    /// A score of which something is to be chosen: its file, and which part is likely wanted, by its place.
    Asked(PathBuf, Score, usize),
}

/// What is read from a file of any kind: a typed passage, one as it is kept, or a score. Of a score with several parts or
/// voices, or of many bars, it is asked what is wanted, the part for `instrument` first of all.
pub(crate) fn take_in(path: &Path, instrument: Option<&str>) -> Result<TakenIn, Fault> {
    if !SCORES.iter().any(|score| has(path, score)) {
        return read(path).map(|passage| TakenIn::Read(ReadPassage { passage, told: Vec::new() }));
    }
    let score = Score { name: file_name(path), parts: parts(path)? };
    let few = score.parts.iter().all(|part| {
        part.voices.is_empty() && part.bars.is_none_or(|(from, to)| to - from < FEW_BARS)
    });
    let number = part_for(&score, instrument);
    match &score.parts[..] {
        [only] if few => {
            let whole = Excerpt { part: 0, voice: 0, bars: only.bars };
            take_excerpt(path, &score, &whole, instrument).map(TakenIn::Read)
        }
        _ => Ok(TakenIn::Asked(path.to_owned(), score, number)),
    }
}

/// The parts of a score that hold notes; at least one.
fn parts(path: &Path) -> Result<Vec<ScorePart>, Fault> {
    let bytes = score_bytes(path)?;
    let called = |name: &str, number: u32| match name.trim() {
        "" => format!("part {number}"),
        name => name.to_owned(),
    };
    if is_midi(path) {
        let midi = Midi::read(&bytes).map_err(unread(path))?;
        let part = |(number, name, _): &(u32, String, usize)| ScorePart {
            number: *number,
            name: called(name, *number),
            voices: Vec::new(),
            bars: None,
        };
        return Ok(midi.tracks.iter().map(part).collect());
    }
    let contents =
        MusicXml::read(&bytes).and_then(|score| score.contents()).map_err(unread(path))?;
    let part = |part: PartContents| ScorePart {
        number: part.number,
        name: called(&part.name, part.number),
        voices: if part.voices.len() > 1 { part.voices } else { Vec::new() },
        bars: Some(part.bars),
    };
    Ok(contents.into_iter().map(part).collect())
}

/// What was chosen of a score, read anew.
pub(crate) fn take_excerpt(
    path: &Path,
    score: &Score,
    excerpt: &Excerpt,
    instrument: Option<&str>,
) -> Result<ReadPassage, Fault> {
    let bytes = score_bytes(path)?;
    let part = &score.parts[excerpt.part];
    if is_midi(path) {
        let midi = Midi::read(&bytes).map_err(unread(path))?;
        let instrument = instrument.unwrap_or("cello");
        return midi.passage(Some(part.number), instrument, &score.name).map_err(unread(path));
    }
    let choice = Choice {
        part: Some(part.number.to_string()),
        voice: part.voices.get(excerpt.voice).cloned(),
        bars: excerpt.bars,
        instrument: None,
    };
    MusicXml::read(&bytes).and_then(|read| read.passage(&choice, &score.name)).map_err(unread(path))
}

fn is_midi(path: &Path) -> bool {
    has(path, "mid") || has(path, "midi")
}

fn unread(path: &Path) -> impl Fn(ScoreError) -> Fault {
    move |fault| Fault::Failed(format!("{fault}: {}", path.display()))
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The part that is named after the instrument, or the first one.
fn part_for(score: &Score, instrument: Option<&str>) -> usize {
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
    let name = file_name(path);
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
    fn of_a_score_of_several_parts_it_is_asked_which_and_what_was_chosen_is_read() {
        let part = |id: u32, step: &str| {
            let bar = |number: u32| {
                let head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
                let head = if number == 1 { head } else { "" };
                format!(
                    "<measure number=\"{number}\">{head}<note><pitch><step>{step}</step><octave>3</octave></pitch><duration>4</duration></note></measure>"
                )
            };
            format!("<part id=\"P{id}\">{}</part>", (1..=3).map(bar).collect::<String>())
        };
        let named = |id, name| {
            format!("<score-part id=\"P{id}\"><part-name>{name}</part-name></score-part>")
        };
        let folder = std::env::temp_dir().join(format!("evenwave-score-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("made");
        let path = folder.join("duet.musicxml");
        let score = |list: String, parts: String| {
            let text =
                format!("<score-partwise><part-list>{list}</part-list>{parts}</score-partwise>");
            std::fs::write(&path, text).expect("written");
        };
        score(named(1, "Viola") + &named(2, "Violoncello"), part(1, "A") + &part(2, "C"));
        let Ok(TakenIn::Asked(asked, of, 1)) = take_in(&path, Some("cello")) else {
            panic!("it has two parts, and the second is the cello's");
        };
        assert_eq!((asked, of.name.as_str()), (path.clone(), "duet.musicxml"));
        let chosen = Excerpt { part: 1, voice: 0, bars: Some((2, 3)) };
        let read = take_excerpt(&path, &of, &chosen, Some("cello")).expect("read").passage;
        assert_eq!(read.notes().len(), 2, "two bars of the three");
        assert_eq!(read.instrument, "cello");
        score(named(1, "Viola"), part(1, "A"));
        let Ok(TakenIn::Read(read)) = take_in(&path, None) else { panic!("nothing to ask") };
        assert_eq!(read.passage.notes().len(), 3);
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
