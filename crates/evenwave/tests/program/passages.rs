//! Passages from outside: drawn, and made of scores.

use crate::common::{done, fails, folder, printed, told};

const SCORE: &str = "<score-partwise><part-list><score-part id=\"P1\"><part-name>Cello</part-name></score-part></part-list>\
    <part id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><time><beats>2</beats><beat-type>4</beat-type></time>\
    <clef><sign>F</sign><line>4</line></clef></attributes><note><pitch><step>D</step><octave>3</octave></pitch><duration>1</duration></note>\
    <note><pitch><step>E</step><octave>3</octave></pitch><duration>1</duration></note></measure></part></score-partwise>";

#[test]
fn a_passage_is_drawn_with_its_staff_and_written_over_only_when_told() {
    let folder = folder("passage_show");
    done(&folder, &["passage", "show", "low-tide", "-o", "low-tide.svg"]);
    let picture = std::fs::read_to_string(folder.join("low-tide.svg")).expect("written");
    assert!(
        picture.starts_with("<svg xmlns") && picture.contains("Low tide"),
        "{}",
        &picture[..200]
    );
    for (class, least) in [("staff-sign", 10), ("planned", 10), ("bow", 4), ("stem", 8)] {
        let found = picture.matches(&format!("class=\"{class}\"")).count();
        assert!(found >= least, "{class}: {found}");
    }
    let again = fails(&folder, &["passage", "show", "low-tide", "-o", "low-tide.svg"]);
    assert!(told(&again).contains("--replace"), "{}", told(&again));
    done(&folder, &["passage", "show", "low-tide", "--replace", "-o", "low-tide.svg"]);
    std::fs::write(folder.join("mine.passage.txt"), "instrument cello\nbar H3 4\nbar D3 4 warm\n")
        .expect("written");
    let wrong = told(&fails(&folder, &["passage", "show", "mine.passage.txt", "-o", "mine.svg"]));
    assert!(wrong.contains("line 2, column 5") && wrong.contains("line 3, column 10"), "{wrong}");
    assert!(!folder.join("mine.svg").exists());
}

#[test]
fn a_score_becomes_a_passage_as_text_and_to_be_kept() {
    let folder = folder("passage_score");
    std::fs::write(folder.join("song.musicxml"), SCORE).expect("written");
    let text = printed(&done(&folder, &["passage", "from-musicxml", "song.musicxml"]));
    assert!(text.ends_with("clef bass\nbar 1  D3 1, E3 1\n"), "{text}");
    done(
        &folder,
        &["passage", "from-musicxml", "song.musicxml", "--bars", "1-1", "-o", "song.ron"],
    );
    done(&folder, &["passage", "show", "song.ron", "-o", "song.svg"]);
    let kept = std::fs::read_to_string(folder.join("song.ron")).expect("written");
    assert!(kept.contains("song.musicxml"), "{kept}");
    let none =
        told(&fails(&folder, &["passage", "from-musicxml", "song.musicxml", "--bars", "7-9"]));
    assert!(none.contains("bars 1 to 1"), "{none}");
    let over = fails(
        &folder,
        &["passage", "from-musicxml", "song.musicxml", "--replace", "-o", "song.musicxml"],
    );
    assert!(told(&over).contains("though it is read"), "{}", told(&over));
    std::fs::write(folder.join("bomb.xml"), "<!DOCTYPE a [<!ENTITY b \"c\">]><a>&b;</a>")
        .expect("written");
    let bomb = told(&fails(&folder, &["passage", "from-musicxml", "bomb.xml"]));
    assert!(bomb.contains("entities") && bomb.contains("bomb.xml"), "{bomb}");
    let midi = told(&fails(&folder, &["passage", "from-midi", "song.musicxml"]));
    assert!(midi.contains("no MIDI file"), "{midi}");
}
