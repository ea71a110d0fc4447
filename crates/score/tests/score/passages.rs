//! What is in a score, as a passage.

use coach::plan::{Key, Mode, Origin};
use score::{Choice, MusicXml, PartContents};

fn note(pitch: &str, duration: u32, more: &str) -> String {
    let (step, rest) = pitch.split_at(1);
    let alter = if rest.len() > 1 { "<alter>1</alter>" } else { "" };
    let octave = rest.trim_start_matches('#');
    format!(
        "<note>{more}<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch><duration>{duration}</duration></note>"
    )
}

fn score(parts: &[(&str, String)]) -> MusicXml {
    let list: String = parts
        .iter()
        .map(|(name, _)| {
            format!("<score-part id=\"{name}\"><part-name>{name}</part-name></score-part>")
        })
        .collect();
    let bodies: String =
        parts.iter().map(|(name, body)| format!("<part id=\"{name}\">{body}</part>")).collect();
    let text = format!(
        "<score-partwise><work><work-title>Song</work-title></work><part-list>{list}</part-list>{bodies}</score-partwise>"
    );
    MusicXml::read(text.as_bytes()).expect("a score")
}

fn bars(score: &MusicXml, choice: &Choice) -> Vec<String> {
    let text = score.passage(choice, "song.xml").expect("a passage").passage.to_text();
    text.lines().filter(|line| line.starts_with("bar")).map(str::to_owned).collect()
}

const HEAD: &str = "<attributes><divisions>2</divisions><key><fifths>1</fifths></key><time><beats>2</beats><beat-type>4</beat-type></time>\
    <clef><sign>C</sign><line>4</line></clef></attributes>";

#[test]
fn ties_slurs_fingers_dynamics_graces_and_chords_come_along() {
    let slur = |kind: &str| format!("<notations><slur type=\"{kind}\"/></notations>");
    let body = [
        format!(
            "<measure number=\"1\">{HEAD}<direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>"
        ),
        note(
            "D3",
            2,
            "<notations><technical><fingering>4</fingering><string>3</string></technical></notations>",
        ),
        "<note><grace/><pitch><step>E</step><octave>3</octave></pitch></note>".to_owned(),
        note("F#3", 2, &format!("<tie type=\"start\"/>{}", slur("start"))),
        "</measure><measure number=\"2\">".to_owned(),
        note("F#3", 1, "<tie type=\"stop\"/>"),
        note("G3", 1, &slur("stop")),
        note("C3", 2, ""),
        note("E3", 2, "<chord/>"),
        note("G3", 2, "<chord/>"),
        "</measure>".to_owned(),
    ];
    let score = score(&[("Violoncello I", body.concat())]);
    let read = score.passage(&Choice::default(), "song.xml").expect("a passage");
    let text = read.passage.to_text();
    assert_eq!(
        bars(&score, &Choice::default()),
        [
            "bar 1  D3 1 mf finger 4 string G, F#3 1 grace E3",
            "bar 2  F#3 1/2 tied, slur G3 1/2, C3+G3 1",
        ]
    );
    for line in
        ["title Song", "instrument cello", "clef tenor", "key G major", "beats 2 of quarter"]
    {
        assert!(text.contains(line), "{line}: {text}");
    }
    assert!(read.told.iter().any(|told| told.contains("more than two notes")), "{:?}", read.told);
    assert_eq!(
        read.passage.parts_from,
        Origin::MusicXml { file: "song.xml".into(), part: "Violoncello I".into(), bars: (1, 2) }
    );
}

#[test]
fn repeats_are_written_out_with_the_numbers_of_their_bars_and_bars_can_be_chosen() {
    let bar = |number: u32, pitch: &str, more: &str| {
        let head = if number == 1 { HEAD } else { "" };
        format!("<measure number=\"{number}\">{head}{}{more}</measure>", note(pitch, 4, ""))
    };
    let back =
        "<barline><ending number=\"1\" type=\"stop\"/><repeat direction=\"backward\"/></barline>";
    let first = "<barline><ending number=\"1\" type=\"start\"/></barline>";
    let second = "<barline><ending number=\"2\" type=\"start\"/></barline><barline><ending number=\"2\" type=\"stop\"/></barline>";
    let body = [
        bar(1, "D3", ""),
        bar(2, "E3", &format!("{first}{back}")),
        bar(3, "G3", second),
        bar(4, "A3", ""),
    ];
    let score = score(&[("Cello", body.concat())]);
    let all = ["bar 1  D3 2", "bar 2  E3 2", "bar 1  D3 2", "bar 3  G3 2", "bar 4  A3 2"];
    assert_eq!(bars(&score, &Choice::default()), all);
    let some = Choice { bars: Some((2, 3)), ..Choice::default() };
    assert_eq!(bars(&score, &some), ["bar 2  E3 2", "bar 3  G3 2"]);
    let none = Choice { bars: Some((7, 9)), ..Choice::default() };
    let told = score.passage(&none, "a").expect_err("no such bars").to_string();
    assert!(told.contains("bars 1 to 4"), "{told}");
}

#[test]
fn what_sounds_is_taken_and_not_what_a_transposing_player_reads() {
    let transpose = HEAD.replace(
        "</attributes>",
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>",
    );
    let body = format!("<measure number=\"1\">{transpose}{}</measure>", note("C4", 4, ""));
    let score = score(&[("Clarinet", body)]);
    assert_eq!(bars(&score, &Choice::default()), ["bar 1  Bb3 2"]);
    let read = score.passage(&Choice::default(), "a").expect("a passage");
    assert_eq!(read.passage.key, Key { sharps: -1, mode: Mode::Major });
}

#[test]
fn a_part_or_voice_of_several_is_asked_for() {
    let bar = |pitch: &str| format!("<measure number=\"1\">{HEAD}{}</measure>", note(pitch, 4, ""));
    let two = score(&[("Violin", bar("A4")), ("Viola", bar("C4"))]);
    let told = two.passage(&Choice::default(), "a").expect_err("which?").to_string();
    assert!(told.contains("1 Violin, 2 Viola"), "{told}");
    let contents = |number, name: &str, voices: &[&str]| PartContents {
        number,
        name: name.to_owned(),
        voices: voices.iter().map(|voice| (*voice).to_owned()).collect(),
        bars: (1, 1),
    };
    let both = vec![contents(1, "Violin", &[""]), contents(2, "Viola", &[""])];
    assert_eq!(two.contents(), Ok(both));
    let part = |part: &str| Choice { part: Some(part.into()), ..Choice::default() };
    assert_eq!(bars(&two, &part("2")), bars(&two, &part("Viola")));
    assert!(two.passage(&part("3"), "a").is_err());
    let back = "<backup><duration>4</duration></backup>";
    let voices =
        [note("A4", 4, "<voice>1</voice>"), back.into(), note("C4", 2, "<voice>2</voice>")];
    let voices =
        score(&[("Viola", format!("<measure number=\"1\">{HEAD}{}</measure>", voices.concat()))]);
    let told = voices.passage(&Choice::default(), "a").expect_err("which?").to_string();
    assert!(told.contains("2 voices") && told.contains("1, 2"), "{told}");
    assert_eq!(voices.contents(), Ok(vec![contents(1, "Viola", &["1", "2"])]));
    let second = Choice { voice: Some("2".into()), ..Choice::default() };
    assert_eq!(bars(&voices, &second), ["bar 1  C4 1, rest 1"]);
}

#[test]
fn a_bar_that_was_parted_is_one_and_an_upbeat_is_bar_nought() {
    let bars_of = |bars: &[(&str, &str, u32)]| -> String {
        let head = |at: usize| if at == 0 { HEAD } else { "" };
        bars.iter()
            .enumerate()
            .map(|(at, (number, pitch, length))| {
                format!("<measure {number}>{}{}</measure>", head(at), note(pitch, *length, ""))
            })
            .collect()
    };
    let body = bars_of(&[
        ("implicit=\"yes\" number=\"0\"", "D3", 1),
        ("number=\"1\"", "E3", 2),
        ("implicit=\"yes\" number=\"X1\"", "F3", 2),
        ("number=\"2\"", "G3", 3),
    ]);
    let score = score(&[("Cello", body)]);
    assert_eq!(
        bars(&score, &Choice::default()),
        ["bar 0  D3 1/2", "bar 1  E3 1, F3 1", "bar 2  G3 1+1/2"]
    );
}
