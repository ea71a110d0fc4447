//! Passages from outside: drawn, and made of scores.

use std::path::Path;

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

/// A phrase of four notes and one way of playing it: the second note, planned with a vibrato, stays straight, and the last is
/// wider than it was meant.
#[test]
fn what_was_made_of_a_passage_is_told_note_by_note() {
    let folder = folder("passage_check");
    let plan = "title Four notes\ninstrument cello\nbeats 4 of quarter\npace 60\nclef bass\n\
        bar 1  D3 2 straight, F3 2 width 40\nbar 2  G3 2 straight, A3 2 width 30\n";
    std::fs::write(folder.join("plan.txt"), plan).expect("written");
    four_notes(&folder);
    let told = printed(&done(&folder, &["passage", "check", "plan.txt", "take.wav"]));
    assert!(told.starts_with("4 of 4 notes reached"), "{told}");
    let row = |name: &str| {
        let found = told.lines().find(|line| line.contains(&format!("  {name} ")));
        found.unwrap_or_else(|| panic!("{name}: {told}")).to_owned()
    };
    assert!(row("F3").contains("40") && row("F3").contains("straight"), "{told}");
    assert!(row("A3").contains("30") && !row("A3").contains("straight"), "{told}");
    assert!(told.lines().all(|line| line.chars().count() <= 120), "{told}");
    let json = printed(&done(&folder, &["passage", "check", "--json", "plan.txt", "take.wav"]));
    let value: serde_json::Value = serde_json::from_str(&json).expect("one object");
    assert_eq!(
        (&value["schema"], &value["notes_reached"]),
        (&"evenwave.passage/1".into(), &4.into())
    );
    let width = value["notes"][3]["width_cents"].as_f64().expect("a width");
    assert!((width - 60.0).abs() < 1.0, "{json}");
    let differs = |note: usize| -> Vec<String> {
        let all = value["notes"][note]["differences"].as_array().expect("a list").clone();
        all.iter().map(ToString::to_string).collect()
    };
    assert!(differs(0).is_empty() && differs(2).is_empty(), "{json}");
    assert!(!differs(1).is_empty() && !differs(3).is_empty(), "{json}");
    fails(&folder, &["passage", "check", "plan.txt", "gone.wav"], 1, "gone.wav");
    fails(&folder, &["passage", "check", "no-plan", "take.wav"], 1, "low-tide");
}

#[test]
fn a_passage_has_a_page_with_its_notes_its_ribbons_and_what_differs() {
    let folder = folder("passage_page");
    four_notes(&folder);
    let plan = "title Four <notes>\ninstrument cello\nbar 1  D3 2 straight, F3 2 width 40\nbar 2  G3 2 straight, A3 2 width 30\n";
    std::fs::write(folder.join("plan.txt"), plan).expect("written");
    done(&folder, &["report", "-o", "page.html", "passage", "plan.txt", "take.wav"]);
    let page = std::fs::read_to_string(folder.join("page.html")).expect("written");
    assert!(page.contains("<h1>4 of 4 notes reached.</h1>"), "{page}");
    assert!(page.contains("Four &lt;notes&gt;: take.wav") && !page.contains("<notes>"));
    assert!(page.contains("<li>Note 2 (F3, bar 1): straight, where you planned a vibrato.</li>"));
    assert!(page.contains("<li>Note 4 (A3, bar 2): ") && !page.contains("<li>Note 1 "));
    for (class, least) in [("staff-sign", 2), ("planned", 2), ("stem", 2)] {
        let found = page.matches(&format!("class=\"{class}\"")).count();
        assert!(found >= least, "{class}: {found}");
    }
    fails(
        &folder,
        &["report", "-o", "page.html", "passage", "plan.txt", "take.wav"],
        1,
        "--replace",
    );
    fails(&folder, &["report", "-o", "new.html", "passage", "no-plan", "take.wav"], 1, "low-tide");
}

#[test]
fn what_comes_back_in_three_takes_is_told_and_of_two_nothing() {
    let folder = folder("passage_habits");
    four_notes(&folder);
    let plan = "instrument cello\nbar 1  D3 2 straight, F3 2\nbar 2  G3 2, A3 2 straight\n";
    std::fs::write(folder.join("plan.txt"), plan).expect("written");
    let two = ["passage", "habits", "plan.txt", "take.wav", "take.wav"];
    assert!(printed(&done(&folder, &two)).contains("3 takes or more"));
    let five = [&two[..], &["take.wav"; 3]].concat();
    let said = printed(&done(&folder, &five));
    let due = "Note 4 (A3, bar 2), meant straight, was vibrated in each of 5 takes.\n";
    assert_eq!(said, due);
    let json = printed(&done(&folder, &[&five[..], &["--json"]].concat()));
    let value: serde_json::Value = serde_json::from_str(&json).expect("one object");
    assert_eq!(value["schema"], "evenwave.habits/1");
    assert_eq!((&value["habits"][0]["note"], &value["habits"][0]["takes"]), (&4.into(), &5.into()));
    fails(&folder, &["passage", "habits", "plan.txt"], 2, "TAKE");
}

/// Writes `take.wav`: D3, F3, G3 and A3, two seconds each, the last with a vibrato of 60 cents at 5 Hz.
fn four_notes(folder: &Path) {
    let note = |start: f64, f0: f64, width: Option<f64>| {
        let vibrato = width.map_or_else(String::new, |width| {
            format!(", vibrato: Some((rate: 5.0, width: {width:.1}))")
        });
        format!("(start: {start}, length: 1.9, f0: {f0}{vibrato}),")
    };
    let notes = [
        note(0.5, 146.83, None),
        note(2.5, 174.61, None),
        note(4.5, 196.0, None),
        note(6.5, 220.0, Some(60.0)),
    ];
    let spec = format!(
        "(version: 1, seed: 7, sample_rate_hz: 48000, level_dbfs: -20.0, floor_dbfs: Some(-70.0), lines: [(notes: [{}])])",
        notes.concat()
    );
    std::fs::write(folder.join("take.ron"), spec).expect("written");
    done(folder, &["tone", "take.ron", "-o", "take.wav"]);
}

#[test]
fn a_take_becomes_a_passage_and_a_model_is_copied_into_one() {
    let folder = folder("passage_take");
    four_notes(&folder);
    let take = ["passage", "from-take", "take.wav", "--pace", "60", "--instrument", "cello"];
    let straight = printed(&done(&folder, &take));
    assert!(straight.contains("key A minor\n") && straight.contains("clef bass\n"), "{straight}");
    assert!(straight.ends_with("bar 1  D3 2, F3 2\nbar 2  G3 2, A3 2\n"), "{straight}");
    let played = printed(&done(&folder, &[&take[..], &["--as-played"]].concat()));
    assert!(played.contains("G3 2, A3 2 width 60 rate 5"), "{played}");
    fails(&folder, &["passage", "from-take", "take.wav", "--key", "H major"], 2, "key D minor");
    fails(&folder, &["passage", "from-take", "take.wav", "--beats", "4"], 2, "beats 4 of quarter");
    fails(&folder, &["passage", "from-take", "take.wav", "--pace", "900"], 2, "10 to 300");

    let plan =
        "instrument cello\nbar 1  D3 2 width 30, F3 2\nbar 2  G3 2 straight, A3 2 width 20\n";
    std::fs::write(folder.join("plan.txt"), plan).expect("written");
    done(&folder, &["passage", "from-model", "plan.txt", "take.wav", "-o", "hers.txt"]);
    let hers = std::fs::read_to_string(folder.join("hers.txt")).expect("written");
    assert!(hers.ends_with("bar 1  D3 2, F3 2\nbar 2  G3 2, A3 2 width 60 rate 5\n"), "{hers}");
    let longer = plan.replace("A3 2 width 20", "A3 1+1/2, B3 1/2") + "bar 3  C4 4\n";
    std::fs::write(folder.join("longer.txt"), longer).expect("written");
    let said = done(&folder, &["passage", "from-model", "longer.txt", "take.wav"]);
    let aside = String::from_utf8_lossy(&said.stderr);
    assert!(aside.contains("2 that were left out"), "{aside}");
    fails(
        &folder,
        &["passage", "from-model", "plan.txt", "take.wav", "-o", "hers.txt"],
        1,
        "--replace",
    );
    fails(
        &folder,
        &["passage", "from-model", "plan.txt", "take.wav", "--replace", "-o", "take.wav"],
        1,
        "read",
    );
}
