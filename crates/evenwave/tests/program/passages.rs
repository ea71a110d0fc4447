//! Passages from outside: drawn, and made of scores.

use crate::common::{done, fails, folder, printed};

const SCORE: &str = "<score-partwise><part-list><score-part id=\"P1\"><part-name>Cello</part-name></score-part></part-list>\
    <part id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><time><beats>2</beats><beat-type>4</beat-type></time>\
    <clef><sign>F</sign><line>4</line></clef></attributes><note><pitch><step>D</step><octave>3</octave></pitch><duration>1</duration></note>\
    <note><pitch><step>E</step><octave>3</octave></pitch><duration>1</duration></note></measure></part></score-partwise>";

#[test]
fn a_passage_is_drawn_with_its_staff_and_written_over_only_when_told() {
    let folder = folder("passage_show");
    done(&folder, &["passage", "show", "low-tide", "-o", "low-tide.svg"]);
    let picture = std::fs::read_to_string(folder.join("low-tide.svg")).expect("written");
    assert!(picture.starts_with("<svg xmlns") && picture.contains("Low tide"), "{picture}");
    for (class, least) in [("staff-sign", 8), ("planned", 10), ("bow", 1), ("stem", 8)] {
        let found = picture.matches(&format!("class=\"{class}\"")).count();
        assert!(found >= least, "{class}: {found}");
    }
    fails(&folder, &["passage", "show", "low-tide", "-o", "low-tide.svg"], 1, "--replace");
    std::fs::write(folder.join("mine.txt"), "instrument cello\nbar H3 4\nbar D3 4 warm\n")
        .expect("written");
    let mine = ["passage", "show", "mine.txt", "-o", "mine.svg"];
    fails(&folder, &mine, 1, "line 2, column 5");
    fails(&folder, &mine, 1, "line 3, column 10");
    assert!(!folder.join("mine.svg").exists());
}

#[test]
fn a_score_becomes_a_passage_as_text_and_to_be_kept() {
    let folder = folder("passage_score");
    std::fs::write(folder.join("song.musicxml"), SCORE).expect("written");
    let text = printed(&done(&folder, &["passage", "from-musicxml", "song.musicxml"]));
    assert!(text.ends_with("clef bass\nbar 1  D3 1, E3 1\n"), "{text}");
    let read =
        |more: &[&'static str]| [&["passage", "from-musicxml", "song.musicxml"], more].concat();
    done(&folder, &read(&["--bars", "1-1", "-o", "song.ron"]));
    let kept = std::fs::read_to_string(folder.join("song.ron")).expect("written");
    assert!(kept.contains("song.musicxml"), "{kept}");
    fails(&folder, &read(&["--bars", "7-9"]), 1, "bars 1 to 1");
    fails(&folder, &read(&["--replace", "-o", "song.musicxml"]), 1, "though it is read");
    fails(&folder, &["passage", "from-midi", "song.musicxml"], 1, "no MIDI file");
}
