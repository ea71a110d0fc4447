//! `evenwave report` seen from outside. Pages are opened, printed and checked by `cargo xtask pages`.

use std::fs;
use std::path::Path;

use crate::common::{
    done, evenwave, fails, folder, keep_take, samples, status, two_notes, write_sound,
};
use journal::{Context, Journal, TakeId};

const HOSTILE: &str = "<script>alert(1)</script>\"'><svg onload=x> </title>";

fn sound_of(rate: f64, width: f64) -> Vec<f32> {
    samples(&two_notes(rate, width))
}

fn write(folder: &Path, name: &str, rate: f64, width: f64) {
    write_sound(&folder.join(name), &sound_of(rate, width));
}

fn page(folder: &Path, line: &[&str]) -> String {
    let line = [&["report", "--replace", "--out", "page.html"][..], line].concat();
    done(folder, &line);
    fs::read_to_string(folder.join("page.html")).expect("written")
}

#[test]
fn a_recording_has_its_measures_and_its_trace_on_the_page() {
    let folder = folder("report_take");
    write(&folder, "<b>&.wav", 5.5, 40.0);
    let page = page(&folder, &["--instrument", "cello", "take", "<b>&.wav"]);
    assert!(page.contains("Recording &lt;b&gt;&amp;.wav") && !page.contains("<b>"));
    // The straight note has no part in what is said of the vibrato, and there is no mean of the two.
    assert!(page.contains("cents wide; 1 note without vibrato.</h1>") && !page.contains("mean of"));
    // The page carries its type, and may load nothing else.
    assert_eq!(page.matches("src:url(data:font/ttf;base64,").count(), 2);
    assert!(page.contains("font-src data:") && page.len() < 600_000, "{} bytes", page.len());
    // The rate within 0.5 % of what was made.
    assert!(page.contains(">5.5") || page.contains(">5.4"), "{page}");
    assert!(page.contains("class=\"trace\"") && page.contains("Trace from 0 to"));
    assert!(page.contains("class=\"oscillation-bar\"") && page.contains("class=\"loudness\""));
    assert!(page.contains("lang=\"en\"") && page.contains("numbness"));
    // What is there stays.
    let before = fs::read(folder.join("page.html")).expect("there");
    fails(&folder, &["report", "-o", "page.html", "take", "<b>&.wav"], 1, "--replace");
    let output = evenwave(&folder, &["report", "--replace", "-o", "page.html", "take", "gone.wav"]);
    assert_eq!(status(&output), 1);
    assert_eq!(fs::read(folder.join("page.html")).expect("there"), before);
}

#[test]
fn a_lesson_says_what_differs_and_the_way_there() {
    let folder = folder("report_lesson");
    write(&folder, "model.wav", 5.5, 40.0);
    write(&folder, "one.wav", 4.5, 24.0);
    write(&folder, "two.wav", 5.2, 36.0);
    let page = page(&folder, &["lesson", "model.wav", "one.wav", "two.wav"]);
    let words = evenwave(&folder, &["compare", "--json", "model.wav", "one.wav"]);
    let compared: serde_json::Value = serde_json::from_slice(&words.stdout).expect("JSON");
    let first = compared["words"][0].as_str().expect("words");
    // What differs most in the last echo comes first; that of the one before stands in its details.
    assert!(page.contains(&format!("<li>{first}</li>")), "{first}");
    assert!(
        page.contains(
            "To try: hear note 2 (A3) of the model again, and answer it a little faster."
        ),
        "{page}"
    );
    assert!(page.contains("The way from the first echo to the last"));
    assert!(page.contains("class=\"model\"") && page.contains("class=\"echo\""));
    assert!(page.contains("Echo 1") && page.contains("echo 2"));
}

/// A journal of one take of someone who means no good, with or without its sound.
fn hostile_take(folder: &Path) -> TakeId {
    let journal = Journal::open(&folder.join("takes")).expect("opened").journal;
    let context = Context {
        player: HOSTILE.to_owned(),
        word: HOSTILE.to_owned(),
        device: HOSTILE.to_owned(),
        finger: Some(2),
        ..Context::default()
    };
    keep_take(&journal, &context, &sound_of(5.0, 30.0))
}

#[test]
fn a_take_and_weeks_of_anyone_are_pages_that_run_and_fetch_nothing() {
    let folder = folder("report_hostile");
    let id = hostile_take(&folder);
    let name = id.to_string();
    let of_take = page(&folder, &["--journal", "takes", "take", &name]);
    let by_folder = page(&folder, &["take", &format!("takes/{name}")]);
    assert_eq!(of_take, by_folder);
    let of_weeks = page(&folder, &["--journal", "takes", "weeks", "--player", HOSTILE]);
    for page in [&of_take, &of_weeks] {
        assert!(!page.contains("<script") && !page.contains("<svg onload"));
        assert_eq!(page.matches("</title>").count() - 1, page.matches("role=\"img\"").count());
        assert!(page.contains("&lt;script&gt;alert(1)"));
        assert!(page.contains("default-src 'none'"));
    }
    assert!(of_weeks.contains("1 take in 1 week"), "{of_weeks}");
    // A take goes by whose it is and when in words; the name of its folder is none.
    assert!(!of_take.contains(&name), "{of_take}");
    // The measures stay when the sound is gone.
    let take = folder.join("takes").join(&name);
    fs::remove_file(take.join("sound.flac")).expect("there");
    let without = page(&folder, &["--journal", "takes", "take", &name]);
    assert!(without.contains("sound.flac") && !without.contains("class=\"trace\""));
    assert!(without.contains("All measures"));
    let output = evenwave(
        &folder,
        &["report", "-o", "x.html", "--journal", "takes", "weeks", "--player", "nobody"],
    );
    assert_eq!(status(&output), 1);
    assert!(!folder.join("x.html").exists());
}

/// A page of the window beside that of the command, for the same takes.
#[cfg(feature = "window")]
mod window {
    use coach::{Hints, Practice};
    use evenwave::drills;
    use evenwave::report::order::ReportOrder;
    use evenwave::session::Session;
    use journal::{Filter, Shelf};
    use panels::shell::report::{ReportOf, ReportState};
    use tuning::Naming;

    use super::*;

    #[test]
    fn the_window_writes_what_the_command_writes_and_writes_over_nothing() {
        let folder = folder("report_window");
        let takes = folder.join("takes");
        let journal = Journal::open(&takes).expect("opened").journal;
        let lesson = |rate, width| keep_take(&journal, &Context::default(), &sound_of(rate, width));
        let (model, echo) = (lesson(5.5, 40.0), lesson(4.5, 24.0));
        let session = Session::named("tidy-transfer").expect("shipped");
        let drilled = Context {
            player: "Mira".to_owned(),
            instrument: Some("cello".to_owned()),
            drill: Some("there-and-back".to_owned()),
            ..Context::default()
        };
        let round = keep_take(&journal, &drilled, session.samples());
        drop(journal);
        let drill = drills::find("there-and-back", None).expect("shipped");
        let place = drill.place(Some("cello")).expect("a place").clone();
        let practice = Practice::new(drill, place, tuning::Tuning::default(), Hints::default());
        let filter = Box::new(Filter { player: Some("Mira".to_owned()), ..Filter::default() });
        let (model_name, echo_name) = (model.to_string(), echo.to_string());
        let round_name = round.to_string();
        let today = Shelf::open(&takes).expect("there").entries()[0].clone();
        let since = Some(journal::day_of(&today) - 80);
        let text = "title Two\ninstrument cello\nbeats 2 of quarter\npace 60\nclef bass\n\nbar 1  A3 1 straight, A3 1 width 30\n";
        fs::write(folder.join("two.passage.txt"), text).expect("room");
        let passage = Box::new(coach::plan::Passage::from_text(text).expect("a passage"));
        let pass = ReportOf::Pass { passage, take: echo.clone(), straight: Some(model.clone()) };
        let asked: [(ReportOf, &[&str]); 5] = [
            (ReportOf::Take(model.clone()), &["take", &model_name]),
            (ReportOf::Round(round), &["drill", "there-and-back", &round_name]),
            (ReportOf::Lesson { model, echoes: vec![echo] }, &["lesson", &model_name, &echo_name]),
            (ReportOf::Weeks { filter, since }, &["weeks", "--player", "Mira"]),
            (pass, &["passage", "two.passage.txt", &echo_name, "--straight", &model_name]),
        ];
        let into = folder.join("reports");
        for (of, line) in asked {
            let practice = Some((&practice, Hints::default()));
            let order =
                ReportOrder::new(&of, practice, takes.clone(), into.clone(), Naming::German);
            let order = order.expect("there is a practice");
            let (ReportState::Written(first), ReportState::Written(second)) =
                (order.write(), order.write())
            else {
                panic!("{line:?}: {:?}", order.write());
            };
            assert_ne!(first, second, "nothing is written over");
            let line = [&["--journal", "takes", "--names", "german"], line].concat();
            let command = page(&folder, &line);
            for path in [first, second] {
                let window = fs::read_to_string(&path).expect("written");
                assert!(window == command, "{line:?}: {} differs", path.display());
            }
        }
        let count = fs::read_dir(&into).expect("made").count();
        assert_eq!(count, 10, "and nothing is left beside them");
    }

    #[test]
    fn takes_that_cannot_be_read_are_told_on_the_page_and_nowhere_else() {
        let folder = folder("report_unread");
        let takes = folder.join("takes");
        let journal = Journal::open(&takes).expect("opened").journal;
        let keep = |player: &str| {
            let context = Context { player: player.to_owned(), ..Context::default() };
            keep_take(&journal, &context, &[0.1; 4_800])
        };
        let (whole, spoilt) = (keep("Mira"), keep("Mira"));
        drop(journal);
        let spoil = |id: &TakeId| {
            let path = takes.join(id.to_string()).join("take.ron");
            fs::write(path, "(version: 1, began: ").expect("written");
        };
        spoil(&spoilt);
        let weeks = |player: &str| ReportOf::Weeks {
            filter: Box::new(Filter { player: Some(player.to_owned()), ..Filter::default() }),
            since: None,
        };
        let write = |player: &str| {
            let (takes, into) = (takes.clone(), folder.join("reports"));
            let order = ReportOrder::new(&weeks(player), None, takes, into, Naming::default());
            order.expect("no practice is needed").write()
        };
        let ReportState::Written(path) = write("Mira") else {
            panic!("one take can be read");
        };
        let page = fs::read_to_string(path).expect("written");
        let said = "1 take in the journal cannot be read and is left out, and whose is not known";
        assert!(page.contains(said) && page.contains("1 take in 1 week"));
        let ReportState::Trouble(words) = write("Jonas") else {
            panic!("there is nothing of this player");
        };
        assert!(words.contains(said), "{words}");
        let line = ["--journal", "takes", "weeks", "--player", "Mira"];
        let line = [&["report", "--out", "page.html"][..], &line].concat();
        let output = evenwave(&folder, &line);
        assert!(output.stderr.is_empty(), "{}", crate::common::told(&output));
        assert!(fs::read_to_string(folder.join("page.html")).is_ok_and(|text| text == page));
        spoil(&whole);
        assert!(matches!(write("Mira"), ReportState::Trouble(words) if words.contains("2 takes")));
    }

    #[test]
    fn what_keeps_a_report_from_being_written_is_said() {
        let folder = folder("report_window_trouble");
        let gone: TakeId = "2026-11-25/17-41-09".parse().expect("a name");
        let occupied = folder.join("occupied");
        fs::write(&occupied, "no folder").expect("written");
        let of = ReportOf::Take(gone);
        for (journal, wanted) in [(folder.join("takes"), "takes"), (occupied.clone(), "occupied")] {
            let order = ReportOrder::new(&of, None, journal, occupied.clone(), Naming::default());
            let ReportState::Trouble(words) = order.expect("a take").write() else {
                panic!("there is no such take");
            };
            assert!(words.contains(wanted), "{words}");
        }
        let id = hostile_take(&folder);
        let of = ReportOf::Take(id);
        let takes = folder.join("takes");
        let order = ReportOrder::new(&of, None, takes, occupied.clone(), Naming::default());
        let ReportState::Trouble(words) = order.expect("a take").write() else {
            panic!("the folder is a file");
        };
        assert!(words.contains("choose another place"), "{words}");
        assert_eq!(fs::read_to_string(&occupied).expect("as it was"), "no folder");
    }
}

#[test]
fn a_report_a_drill_and_a_comparison_of_damaged_sound_say_so_and_so_does_their_status() {
    let folder = folder("report_damaged");
    let journal = Journal::open(&folder.join("takes")).expect("a writable folder").journal;
    let [damaged, good] = [5.5, 5.0]
        .map(|rate| keep_take(&journal, &Context::default(), &sound_of(rate, 40.0)).to_string());
    drop(journal);
    let sound = format!("takes/{damaged}/sound.flac");
    let bytes = fs::read(folder.join(&sound)).expect("there");
    // Its last fifth is gone: all that is judged of it lies before.
    fs::write(folder.join(&sound), &bytes[..bytes.len() / 5 * 4]).expect("written");
    let place = format!("takes/{damaged}");
    let said = format!("{damaged} is damaged: its sound has changed");
    for (number, line) in [
        &["take", &place][..],
        &["--journal", "takes", "take", &damaged],
        &["take", &sound],
        &["--journal", "takes", "lesson", &good, &damaged],
        &["--journal", "takes", "lesson", &damaged, &good],
    ]
    .iter()
    .enumerate()
    {
        let out = format!("{number}.html");
        fails(&folder, &[&["report", "-o", &out][..], line].concat(), 1, &said);
        // A page begins its sentences with capitals.
        let page = fs::read_to_string(folder.join(&out)).expect("written all the same");
        let page = page.to_lowercase();
        assert!(!line.contains(&"take") || page.contains("its sound has changed"), "{line:?}");
    }
    fails(&folder, &["compare", "--journal", "takes", &good, &damaged], 1, &said);
    fails(&folder, &["compare", &sound, &format!("takes/{good}/sound.flac")], 1, &said);
    fails(&folder, &["drill", "there-and-back", &sound], 1, &said);
    done(&folder, &["compare", "--journal", "takes", &good, &good]);
    done(&folder, &["report", "-o", "good.html", "--journal", "takes", "take", &good]);
}
