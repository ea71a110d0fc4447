//! Drills seen from outside: the command line, the demo sessions, and the live count beside both.

use late_sound::Excerpt;
use std::path::Path;
use std::process::Output;

use crate::common::{
    done, fails, folder, objects, printed, program, samples, spec, status, told, write_session,
    write_sound,
};
use coach::{FindingKind, Hints, Judged, Practice};
use evenwave::chain::Chain;
use evenwave::drills;
use evenwave::session::Session;
use tone::{NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Instrument, Secs, Tuning};
use vibrato::Settings;

fn cello() -> Settings {
    let cello = Instrument::shipped("cello").expect("shipped");
    evenwave::arguments::settings(Tuning::default(), Some(&cello))
}

/// Plays a demo session to a drill in blocks of `block` samples; also the live counts of each round as
/// they last stood.
fn played(session: &str, drill: &str, block: usize) -> (Vec<Judged>, Vec<Vec<u32>>) {
    let session = Session::named(session).expect("shipped");
    let drill = drills::find(drill, None).expect("shipped");
    let place = drill.place(Some("cello")).expect("a place").clone();
    let mut practice = Practice::new(drill, place, Tuning::default(), Hints::default());
    let mut chain = Chain::new(session.sample_rate_hz(), cello()).expect("48 kHz");
    let mut live: Vec<Vec<u32>> = Vec::new();
    for samples in session.samples().chunks(block) {
        chain.push(0, samples, &mut |event, ended| {
            practice.hear(&event, ended.as_ref().map(Excerpt::note));
        });
        if practice.under_way() {
            let counts = practice.now().counts;
            live.resize(practice.done().len() + 1, Vec::new());
            live[practice.done().len()] = counts;
        }
    }
    chain.finish(&mut |event, ended| {
        practice.hear(&event, ended.as_ref().map(Excerpt::note));
    });
    practice.finish();
    (practice.done().to_vec(), live)
}

fn kinds(round: &Judged) -> Vec<FindingKind> {
    round.findings.iter().map(|finding| finding.kind).collect()
}

#[test]
fn a_tidy_transfer_holds_and_nothing_is_found() {
    let (rounds, _) = played("tidy-transfer", "there-and-back", 4_800);
    assert_eq!(rounds.len(), 2);
    for round in &rounds {
        let made: Vec<u32> = round.turns.iter().map(|turn| turn.made).collect();
        assert_eq!(made, [4, 4, 4]);
        assert!(round.holds);
    }
    assert!(rounds[0].findings.is_empty(), "{:#?}", rounds[0].findings);
    assert_eq!(kinds(&rounds[1]), [FindingKind::Changed]);
    let words = &rounds[1].findings[0].words;
    assert_eq!(words, "no clear change since the last round");
}

#[test]
fn a_gap_and_a_sharp_fourth_finger_are_found_where_they_are() {
    let (rounds, _) = played("stop-and-press", "all-in-a-row", 4_800);
    assert_eq!(rounds.len(), 1);
    let round = &rounds[0];
    assert!(!round.holds);
    assert_eq!(kinds(round), [FindingKind::Gap, FindingKind::Sharp, FindingKind::Try]);
    let gap = &round.findings[0];
    assert_eq!(gap.turn, Some(1), "from the second finger to the third");
    // 0.20 s on the second finger and 0.26 s on the third.
    assert!((gap.value - 0.46).abs() < 0.06, "{gap:?}");
    let sharp = &round.findings[1];
    assert_eq!(sharp.turn, Some(3));
    assert!((sharp.value - 18.0).abs() < 3.0, "{sharp:?}");
    assert!(round.findings[2].words.starts_with("go slower"), "{:?}", round.findings[2]);
}

#[test]
fn a_hand_that_tires_is_told_to_rest_from_the_fourth_round_on() {
    let (rounds, _) = played("tiring-hand", "there-and-back", 4_800);
    assert_eq!(rounds.len(), 5);
    let tired: Vec<bool> =
        rounds.iter().map(|round| kinds(round).contains(&FindingKind::Tiring)).collect();
    assert!(!tired[0] && !tired[1] && tired[3] && tired[4], "{tired:?}");
    let words =
        &rounds[4].findings.iter().find(|f| f.kind == FindingKind::Tiring).expect("found").words;
    assert!(words.contains("pain, numbness or tingling"), "{words}");
}

#[test]
fn the_live_count_and_the_command_line_agree_whatever_the_blocks() {
    let folder = folder("drills-agree");
    for (session, drill) in
        [("tidy-transfer", "there-and-back"), ("stop-and-press", "all-in-a-row")]
    {
        let file = format!("{session}.wav");
        write_session(&folder.join(&file), session);
        let rounds =
            objects(&done(&folder, &["drill", drill, "--json", "--instrument=cello", &file]));
        let (whole, _) = played(session, drill, 4_800);
        assert_eq!(rounds.len(), whole.len());
        for block in [997, 2_400] {
            let (live, counts) = played(session, drill, block);
            assert_eq!(live, whole, "blocks of {block}");
            for (round, counted) in rounds.iter().zip(&counts) {
                let turns = round["turns"].as_array().expect("a list");
                let made: Vec<u64> =
                    turns.iter().map(|t| t["made"].as_u64().expect("a number")).collect();
                let counted: Vec<u64> = counted.iter().map(|c| u64::from(*c)).collect();
                assert_eq!(counted, made, "{session}, blocks of {block}");
            }
        }
        let first = &rounds[0];
        assert_eq!(first["schema"], "evenwave.round/2");
        assert_eq!(first["drill"], drill);
        assert_eq!(
            (first["pace_bpm"].as_f64(), first["per_beat"].as_f64()),
            (Some(60.0), Some(2.0))
        );
        assert_eq!(first["turns"][1]["asked"], 4);
        let cycles = first["turns"][1]["made_cycles"].as_f64().expect("known");
        assert!((cycles - 4.0).abs() < 0.3, "{cycles}");
    }
}

#[test]
fn what_is_asked_on_the_command_line_goes_before_the_file() {
    let folder = folder("drills-overrides");
    write_session(&folder.join("r.wav"), "tidy-transfer");
    let line = [
        "drill",
        "to-the-other-side",
        "--json",
        "--pace=120",
        "--per-beat=1",
        "--count=3",
        "--fingers=2,3,2",
        "r.wav",
    ];
    let output = done(&folder, &line);
    let round = &objects(&output)[0];
    assert_eq!((round["pace_bpm"].as_f64(), round["per_beat"].as_f64()), (Some(120.0), Some(1.0)));
    let turns = round["turns"].as_array().expect("a list");
    assert_eq!(
        turns.iter().map(|t| t["finger"].as_u64()).collect::<Vec<_>>(),
        [Some(2), Some(3), Some(2)]
    );
    assert_eq!(turns[0]["asked"], 3);
    assert_eq!(round["holds"], false, "four were made");
    // A count for each finger, and one for all in its place.
    let each = include_str!("../../../../assets/drills/there-and-back.ron")
        .replace("Oscillations(4)", "Fingers({1: 4, 2: 4, 3: 2, 4: 2})");
    std::fs::write(folder.join("each.ron"), each).expect("the folder is writable");
    for (more, counts, holds) in [("--pace=60", [4, 2, 4], false), ("--count=4", [4; 3], true)] {
        let output = done(&folder, &["drill", "each.ron", "--json", more, "r.wav"]);
        let round = &objects(&output)[0];
        let turns = round["turns"].as_array().expect("a list");
        let asked: Vec<_> = turns.iter().map(|turn| turn["asked"].as_u64()).collect();
        assert_eq!(asked, counts.map(Some), "{more}");
        assert_eq!(round["holds"], holds, "{more}");
    }
    for (wrong, words) in [
        (["--pace=300", "--count=3"], "20 to 208"),
        (["--pace=200", "--per-beat=6"], "20.00 oscillations a second"),
        (["--per-beat=5", "--count=3"], "1, 2, 3, 4, 6 or 1/2"),
        (["--count=0", "--pace=60"], "1 to 16"),
        (["--fingers=2,7", "--pace=60"], "1 to 4"),
        (["--fingers=0", "--pace=60"], "no note for finger 0"),
    ] {
        fails(&folder, &["drill", "there-and-back", wrong[0], wrong[1], "r.wav"], 2, words);
    }
}

/// A walk through regions of these rates and widths, eight oscillations each.
fn walk(motions: &[(f64, f64)]) -> Vec<f32> {
    let mut start = 0.5;
    let notes = motions.iter().map(|&(rate, width)| {
        let length = 8.0 / rate;
        let note = NoteSpec::straight(Secs(start), Secs(length), Hz(174.614));
        start += length + 0.9;
        note.with(VibratoSpec::regular(Hz(rate), Cents(width)))
    });
    samples(&Spec { floor_dbfs: Some(-78.0), ..spec(notes.collect()) })
}

#[test]
fn a_take_of_a_walk_is_judged_in_the_order_it_was_played_in() {
    let folder = folder("drills-walk");
    let drill = drills::find("field-walk", None).expect("shipped");
    let drill = drill.shuffled_anew(21);
    let place = drill.place(Some("cello")).expect("a place").clone();
    // As the regions are written: slow and narrow, slow and broad, quick and narrow, quick and broad.
    let motions = [(3.2, 14.0), (3.6, 50.0), (5.6, 16.0), (6.4, 44.0)];
    let played: Vec<_> = drill.turns(&place).iter().map(|turn| motions[turn.step]).collect();
    let samples = walk(&played);
    let context =
        journal::Context { drill: Some("field-walk".to_owned()), ..journal::Context::default() };
    let journal = journal::Journal::open(&folder.join("journal")).expect("writable");
    let mut take = journal.journal.begin(&context, 48_000).expect("writable");
    take.sound(&samples).expect("writable");
    let mut chain = Chain::new(48_000, cello()).expect("48 kHz");
    let mut keep = |_, ended: Option<Excerpt>| {
        if let Some(ended) = ended {
            take.note(ended.note()).expect("writable");
        }
    };
    chain.push(0, &samples, &mut keep);
    chain.finish(&mut keep);
    let turn = journal::Turn {
        start_s: 0.5,
        end_s: 2.0,
        finger: 2,
        made: 8,
        asked: Some(8),
        shuffle: drill.shuffle(),
        secure: None,
    };
    take.turns(vec![turn]).expect("writable");
    let kept = take.finish().expect("writable");
    let take = format!("journal/{}", kept.id);
    let sound = format!("{take}/sound.flac");
    std::fs::copy(folder.join(&sound), folder.join("bare.flac")).expect("writable");
    let judged = |file: &str| {
        let line = ["drill", "field-walk", "--json", "--instrument=cello", file];
        let output = done(&folder, &line);
        let round = objects(&output).remove(0);
        let missed = round["findings"].as_array().expect("a list").iter();
        let missed = missed.filter(|found| found["kind"] == "target").count();
        (round["holds"].as_bool(), missed > 0)
    };
    assert_eq!(judged(&sound), (Some(true), false));
    assert_eq!(judged("bare.flac"), (Some(false), true), "the file's own order");
    let line = ["report", "--out=page.html", "drill", "field-walk", &take];
    done(&folder, &line);
    let page = std::fs::read_to_string(folder.join("page.html")).expect("written");
    assert!(page.contains("Secure."));
}

/// Runs evenwave in `folder`, as if that were the player's home.
fn at_home(folder: &Path, line: &[&str]) -> Output {
    program(folder, line)
        .env("HOME", folder)
        .env("XDG_CONFIG_HOME", folder)
        .output()
        .expect("the program starts")
}

#[cfg(target_os = "linux")]
#[test]
fn drills_of_ones_own_beside_the_settings_are_known_by_name() {
    let folder = folder("drills-own");
    let own = folder.join("evenwave/drills");
    std::fs::create_dir_all(&own).expect("writable");
    let shipped = include_str!("../../../../assets/drills/there-and-back.ron");
    std::fs::write(own.join("mine.ron"), shipped).expect("writable");
    write_session(&folder.join("round.wav"), "tidy-transfer");
    let output = at_home(&folder, &["drill", "mine", "round.wav", "--json"]);
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert!(objects(&output).iter().all(|round| round["drill"] == "mine"));
    let output = at_home(&folder, &["drill", "--list"]);
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert!(printed(&output).contains("\nmine "));
    // A copy to change lies beside it, and is written once.
    let output = at_home(&folder, &["drill", "bloom", "--copy"]);
    assert_eq!(status(&output), 0, "{}", told(&output));
    let copy = own.join("my-bloom.ron");
    let said = printed(&output);
    assert_eq!(said.trim_end(), copy.display().to_string());
    std::fs::write(&copy, shipped).expect("writable");
    let output = at_home(&folder, &["drill", "bloom", "--copy"]);
    assert_eq!(status(&output), 1);
    assert_eq!(std::fs::read_to_string(&copy).expect("there"), shipped);
    // One that cannot be used is told, and the others are listed.
    std::fs::write(own.join("bad.ron"), "(version: 1, kind: Waltz)").expect("writable");
    let output = at_home(&folder, &["drill", "--list"]);
    assert_eq!(status(&output), 1);
    assert!(printed(&output).contains("\nmine "));
    assert!(told(&output).contains("bad.ron"), "{}", told(&output));
}

#[test]
fn drills_are_listed_and_a_bad_one_is_told_with_its_place() {
    let folder = folder("drills-bad");
    let output = at_home(&folder, &["drill", "--list"]);
    assert_eq!(status(&output), 0);
    let list = printed(&output);
    assert_eq!(list.lines().count(), drills::names().count());
    assert!(list.contains("there-and-back") && list.contains("2-3-2"), "{list}");
    std::fs::write(
        folder.join("mine.ron"),
        "(\n    version: 1,\n    title: \"Mine\",\n    kind: Waltz,\n)",
    )
    .expect("writable");
    let output = fails(&folder, &["drill", "mine.ron", "r.wav"], 1, "line 4, column 11");
    assert!(told(&output).trim_end().ends_with("mine.ron"), "{}", told(&output));
}

#[test]
fn a_motion_meant_below_the_note_and_a_drone_reach_the_command() {
    let folder = folder("drills-meant");
    let note = |(number, midi): (usize, i32)| {
        let f0 = Tuning::default().frequency(midi).raised(Cents(-30.0));
        let start = Secs(0.5 + 2.0 * number as f64);
        let vibrato = VibratoSpec::regular(tuning::Hz(2.0), Cents(60.0));
        let join = if number == 0 { tone::Join::Detached } else { tone::Join::Legato };
        NoteSpec { join, ..NoteSpec::straight(start, Secs(2.0), f0).with(vibrato) }
    };
    let notes = [53, 54, 53].into_iter().enumerate().map(note);
    write_sound(&folder.join("r.wav"), &samples(&spec(notes.collect())));
    let found = |more: &[&str]| {
        let line = [&["drill", "there-and-back", "--json", "r.wav"], more].concat();
        printed(&done(&folder, &line))
    };
    assert!(found(&[]).contains("\"flat\""), "30 cents below, around the note");
    assert!(!found(&["--below"]).contains("\"flat\""), "the crests lie on the note");
    // F over a drone of D is a just minor third: 16 cents above the tempered one.
    assert!(found(&["--below", "--drone", "D3"]).contains("\"flat\""));
    fails(&folder, &["drill", "there-and-back", "--drone", "X9", "r.wav"], 2, "no note X9");
}
