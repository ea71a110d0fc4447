//! `evenwave measure` over folders: many files, bad ones among them, broken off and gone on with.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::{done, evenwave, fails, folder, program, status, told};
use sound::WavFormat;

const FILES: usize = 300;
/// Each so many files one is bad, in one of three ways.
const BAD_EACH: usize = 30;
const RATE_HZ: u32 = 16_000;

/// 0.8 s of a tone with harmonics.
fn write_tone(path: &Path, hz: f64) {
    let samples: Vec<f32> = (0..RATE_HZ * 4 / 5)
        .map(|n| {
            let turn = f64::from(n) * hz / f64::from(RATE_HZ) * std::f64::consts::TAU;
            (1..=6)
                .map(|harmonic| ((turn * f64::from(harmonic)).sin() / f64::from(harmonic)) as f32)
                .sum::<f32>()
                * 0.2
        })
        .collect();
    sound::write_wav(path, &samples, RATE_HZ, 1, WavFormat::Int16).expect("written");
}

/// The frequency of the tone in file number `n`.
fn hz(n: usize) -> f64 {
    110.0 * 2f64.powf((n % 24) as f64 / 12.0)
}

/// The rows of a table by file, which a table on disk names from the root on.
fn rows(table: &Path) -> BTreeMap<String, Vec<String>> {
    let folder = table.parent().expect("it has one").canonicalize().expect("there");
    let folder = format!("{}/", folder.display());
    let text = fs::read_to_string(table).expect("a table");
    let mut rows: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    for row in reader.records() {
        let row = row.expect("whole rows");
        let fields: Vec<&str> = row.iter().skip(1).collect();
        let file = row[0].strip_prefix(&folder).unwrap_or(&row[0]);
        let of_file = rows.entry(file.to_owned()).or_default();
        of_file.push(fields.join(","));
    }
    rows
}

#[test]
fn a_studios_recordings_are_measured_with_bad_ones_among_them_and_gone_on_with_after_a_kill() {
    let folder = folder("batch");
    for n in 0..FILES {
        let place = folder.join(format!("recordings/month-{}", n % 5));
        fs::create_dir_all(&place).expect("made");
        let path = place.join(format!("{n:03}, \"lesson\".wav"));
        write_tone(&path, hz(n));
        match n % (3 * BAD_EACH) {
            0 => fs::write(&path, b"no sound").expect("written"),
            BAD_EACH => fs::write(&path, b"").expect("written"),
            other if other == 2 * BAD_EACH => {
                let bytes = fs::read(&path).expect("read");
                fs::write(&path, &bytes[..20]).expect("written");
            }
            _ => {}
        }
    }
    fs::write(folder.join("recordings/notes.txt"), "no sound file").expect("written");
    fs::create_dir(folder.join("recordings/.hidden")).expect("made");
    write_tone(&folder.join("recordings/.hidden/x.wav"), 220.0);
    let bad = FILES / BAD_EACH;

    // At once, for what is due.
    let output = evenwave(&folder, &["measure", "--csv", "recordings"]);
    assert_eq!(status(&output), 1, "some cannot be measured");
    fs::write(folder.join("at-once.csv"), &output.stdout).expect("written");
    let due = rows(&folder.join("at-once.csv"));
    assert_eq!(due.len(), FILES - bad);
    let words = told(&output);
    assert!(words.contains(&format!("{bad} of {FILES} files")), "{words}");
    assert_eq!(words.lines().count(), bad + 1, "each bad one is listed: {words}");

    // Into a table, killed in the middle of it, three times.
    let table = folder.join("table.csv");
    let state = folder.join("table.csv.state");
    for part in 1..=3 {
        let mut child = program(&folder, &["measure", "--into", "table.csv", "recordings"])
            .stderr(Stdio::null())
            .spawn()
            .expect("started");
        let end = Instant::now() + Duration::from_secs(60);
        loop {
            let lines = fs::read_to_string(&state).map_or(0, |text| text.lines().count());
            if lines > 50 * part || Instant::now() > end {
                break;
            }
            thread::sleep(Duration::from_millis(1));
        }
        assert!(child.try_wait().expect("asked").is_none(), "it was still at work");
        child.kill().expect("killed");
        child.wait().expect("over");
        let so_far = rows(&table).len();
        assert!(so_far > 30 * part && so_far < FILES - bad, "{so_far} files");
    }
    // As a crash of the whole computer might leave it: half a row that the state does not know of.
    let mut half = fs::read(&table).expect("there");
    half.extend(b"recordings/month-0/half");
    fs::write(&table, half).expect("written");
    let output = evenwave(&folder, &["measure", "--into", "table.csv", "recordings"]);
    assert_eq!(status(&output), 1);
    let words = told(&output);
    assert!(words.contains(&format!("{bad} of {FILES} files")), "{words}");
    assert_eq!(rows(&table), due);

    // Nothing is left but the bad ones; one that has changed is measured anew, one that is mended comes in.
    let changed = "recordings/month-1/001, \"lesson\".wav";
    write_tone(&folder.join(changed), 330.0);
    let mended = "recordings/month-0/000, \"lesson\".wav";
    write_tone(&folder.join(mended), 440.0);
    let output = evenwave(&folder, &["measure", "--into", "table.csv", "recordings"]);
    assert_eq!(status(&output), 1);
    let words = told(&output);
    let before = FILES - bad - 1;
    assert!(words.contains(&format!("2 files measured, {before} in the table before")), "{words}");
    let now = rows(&table);
    assert_eq!(now.len(), due.len() + 1);
    assert!(now[mended][0].contains(",A4,"), "{:?}", now[mended]);
    assert!(now[changed][0].contains(",E4,"), "{:?}", now[changed]);
    assert!(
        due.iter().all(|(file, rows)| file == changed || now[file] == *rows),
        "the others stay"
    );

    // What would spoil it is refused.
    let output =
        evenwave(&folder, &["measure", "--a4", "442", "--into", "table.csv", "recordings"]);
    assert_eq!(status(&output), 1);
    assert!(told(&output).contains("in another way"), "{}", told(&output));
    let text = fs::read_to_string(&table).expect("there");
    fs::write(&table, text.replacen("A4", "Z4", 1)).expect("edited");
    let output = evenwave(&folder, &["measure", "--into", "table.csv", "recordings"]);
    assert!(told(&output).contains("has changed"), "{}", told(&output));
    assert!(fs::read_to_string(&table).expect("there").contains("Z4"));
}

#[test]
fn a_folder_without_sound_is_told() {
    let folder = folder("batch_empty");
    fs::create_dir(folder.join("empty")).expect("made");
    let output = evenwave(&folder, &["measure", "empty"]);
    assert_eq!(status(&output), 2);
    assert!(told(&output).contains("no sound file"), "{}", told(&output));
}

/// A studio of two days, each with its files, and the table of both beside them.
fn studio(test: &str) -> std::path::PathBuf {
    let folder = folder(test);
    for (n, file) in ["mon/m1.wav", "mon/m2.wav", "tue/t1.wav"].into_iter().enumerate() {
        fs::create_dir_all(folder.join(file).parent().expect("a day")).expect("made");
        write_tone(&folder.join(file), hz(n));
    }
    folder
}

fn files(table: &Path) -> Vec<String> {
    rows(table).into_keys().collect()
}

#[test]
fn rows_of_files_that_are_not_found_stay_until_they_are_to_be_forgotten() {
    let folder = studio("batch_days");
    let table = folder.join("st.csv");
    let [mon, tue] = ["mon", "tue"].map(|day| folder.join(day));
    done(&mon, &["measure", "--into", "../st.csv", "m1.wav", "m2.wav"]);
    done(&tue, &["measure", "--into", "../st.csv", "t1.wav"]);
    let all = ["mon/m1.wav", "mon/m2.wav", "tue/t1.wav"];
    assert_eq!(files(&table), all);
    // Known by whatever name it is called, and from wherever.
    let output = done(&folder, &["measure", "--into", "st.csv", "tue/../mon"]);
    assert!(told(&output).contains("0 files measured, 2 in the table before"), "{}", told(&output));

    // One is moved, one has changed and is not measured now, and a drive is gone.
    fs::rename(mon.join("m1.wav"), folder.join("m1.wav")).expect("moved");
    write_tone(&mon.join("m2.wav"), 330.0);
    let before = rows(&table);
    let output = done(&folder, &["measure", "--into", "st.csv", "tue"]);
    assert!(
        told(&output).contains("rows of 1 file stay though not found now"),
        "{}",
        told(&output)
    );
    assert!(told(&output).contains("m1.wav") && told(&output).contains("--forget"));
    assert_eq!(rows(&table), before);
    fs::rename(&mon, folder.join("gone")).expect("moved");
    let output = done(&folder, &["measure", "--into", "st.csv", "tue"]);
    assert!(told(&output).contains("rows of 2 files stay"), "{}", told(&output));
    assert_eq!(rows(&table), before);
    fs::rename(folder.join("gone"), &mon).expect("moved back");

    // What cannot be measured any more keeps the rows that it had; what has changed gets new ones.
    let sound = fs::read(mon.join("m2.wav")).expect("there");
    fs::write(mon.join("m2.wav"), "no sound").expect("written");
    assert_eq!(status(&evenwave(&folder, &["measure", "--into", "st.csv", "mon"])), 1);
    assert_eq!(rows(&table), before);
    fs::write(mon.join("m2.wav"), sound).expect("written");
    done(&folder, &["measure", "--into", "st.csv", "mon"]);
    let now = rows(&table);
    assert_eq!(now.len(), 3);
    assert_eq!(now["mon/m2.wav"].len(), 1);
    assert!(now["mon/m2.wav"][0].contains(",E4,"), "{now:?}");

    // Rows go when they are to, and only those.
    let line = ["measure", "--into", "st.csv", "--forget", "wed"];
    fails(&folder, &line, 1, "has no rows of this");
    assert_eq!(rows(&table), now);
    done(&mon, &["measure", "--into", "../st.csv", "--forget", "m1.wav"]);
    assert_eq!(files(&table), ["mon/m2.wav", "tue/t1.wav"]);
    done(&folder, &["measure", "--into", "st.csv", "--forget", "mon", "tue"]);
    assert_eq!(files(&table), ["tue/t1.wav"]);
    let output = evenwave(&folder, &["measure", "--forget", "mon", "tue"]);
    assert_eq!(status(&output), 2, "{}", told(&output));
}

#[test]
fn a_table_of_an_earlier_version_with_names_as_they_were_given_goes_on() {
    let folder = studio("batch_earlier");
    done(&folder, &["measure", "--into", "st.csv", "mon"]);
    let (table, state) = (folder.join("st.csv"), folder.join("st.csv.state"));
    // As it was written then: names without their folder, and the sum of the table that has them.
    let root = format!("{}/", folder.canonicalize().expect("there").display());
    let text = fs::read_to_string(&table).expect("there").replace(&root, "");
    let lines = fs::read_to_string(&state).expect("there").replace(&root, "");
    let lines = lines.lines().map(|line| {
        let mut object: serde_json::Value = serde_json::from_str(line).expect("JSON");
        if object.get("table_crc32").is_some() {
            object["table_bytes"] = text.len().into();
            object["table_crc32"] = crc32fast::hash(text.as_bytes()).into();
        }
        format!("{object}\n")
    });
    let lines: String = lines.collect();
    fs::write(&state, lines).expect("written");
    fs::write(&table, &text).expect("written");
    let output = done(&folder, &["measure", "--into", "st.csv", "mon"]);
    assert!(told(&output).contains("0 files measured, 2 in the table before"), "{}", told(&output));
    assert_eq!(fs::read_to_string(&table).expect("there"), text);
    // From elsewhere the names lead nowhere: the rows stay.
    let output = done(&folder.join("tue"), &["measure", "--into", "../st.csv", "t1.wav"]);
    assert!(told(&output).contains("rows of 2 files stay"), "{}", told(&output));
    assert!(fs::read_to_string(&table).expect("there").starts_with(&text));
    done(&folder, &["measure", "--into", "st.csv", "--forget", "mon/m1.wav"]);
    assert_eq!(files(&table), ["mon/m2.wav", "tue/t1.wav"]);
}

#[test]
fn of_two_that_begin_one_table_at_once_one_waits_and_nothing_is_spoilt() {
    let folder = studio("batch_two");
    let table = folder.join("st.csv");
    for round in 0..20 {
        let start = |day| {
            program(&folder, &["measure", "--into", "st.csv", day])
                .stderr(Stdio::piped())
                .spawn()
                .expect("started")
        };
        let (one, other) = (start("mon"), start("tue"));
        for child in [one, other] {
            let output = child.wait_with_output().expect("it ends");
            let said = told(&output);
            let refused = status(&output) == 1 && said.contains("another evenwave");
            assert!(status(&output) == 0 || refused, "round {round}: {said}");
        }
        done(&folder, &["measure", "--into", "st.csv", "mon", "tue"]);
        assert_eq!(files(&table).len(), 3, "round {round}");
        let names = fs::read_dir(&folder).expect("there").flatten();
        assert_eq!(names.count(), 4, "round {round}: two days, the table and its state");
        fs::remove_file(&table).expect("there");
        fs::remove_file(folder.join("st.csv.state")).expect("there");
    }
}

#[test]
fn files_of_ones_own_beside_a_table_stay() {
    let folder = studio("batch_beside");
    for name in ["st.csv.new", "st.csv.state.new", "other.csv.state"] {
        fs::write(folder.join(name), "mine").expect("written");
    }
    for _ in 0..2 {
        done(&folder, &["measure", "--into", "st.csv", "mon"]);
    }
    let line = ["measure", "--into", "other.csv", "mon"];
    fails(&folder, &line, 1, "choose another name for the table");
    assert!(!folder.join("other.csv").exists());
    for name in ["st.csv.new", "st.csv.state.new", "other.csv.state"] {
        assert_eq!(fs::read_to_string(folder.join(name)).expect("there"), "mine", "{name}");
    }
}

#[test]
fn rows_stay_where_the_state_of_their_table_has_lost_them() {
    let folder = studio("batch_state");
    let (table, state) = (folder.join("st.csv"), folder.join("st.csv.state"));
    for day in ["mon", "tue"] {
        done(&folder, &["measure", "--into", "st.csv", day]);
    }
    let (whole, due) = (fs::read(&state).expect("there"), rows(&table));
    for end in (0..whole.len()).step_by(17) {
        fs::write(&state, &whole[..end]).expect("room");
        let output = evenwave(&folder, &["measure", "--into", "st.csv", "tue"]);
        assert_eq!(rows(&table), due, "state of {end} bytes: {}", told(&output));
        if status(&output) == 1 {
            assert!(told(&output).contains("cannot be gone on with"), "{}", told(&output));
        }
    }
}

#[test]
fn a_list_of_files_is_measured_as_its_files_are() {
    let folder = folder("files_from");
    for (name, hz) in [("a b.wav", 220.0), ("b.wav", 330.0)] {
        write_tone(&folder.join(name), hz);
    }
    fs::write(folder.join("list.txt"), "a b.wav\r\n\nb.wav\n").expect("written");
    let named = done(&folder, &["measure", "--json", "a b.wav", "b.wav"]);
    let listed = done(&folder, &["measure", "--json", "--files-from", "list.txt"]);
    assert_eq!(listed.stdout, named.stdout);
    // From the standard input, with one that is not there: the others are done.
    let mut list = program(&folder, &["measure", "--json", "--files-from", "-"]);
    list.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = list.spawn().expect("started");
    let mut input = child.stdin.take().expect("piped");
    std::io::Write::write_all(&mut input, b"a b.wav\ngone.wav\nb.wav").expect("written");
    drop(input);
    let output = child.wait_with_output().expect("ended");
    assert_eq!((status(&output), &output.stdout), (1, &named.stdout), "{}", told(&output));
    assert!(told(&output).contains("gone.wav"), "{}", told(&output));
    fails(&folder, &["measure", "--files-from", "no-list.txt"], 1, "no-list.txt");
}
