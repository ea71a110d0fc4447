//! `evenwave measure` over folders: many files, bad ones among them, broken off and gone on with.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};

use crate::common::{evenwave, folder, program, status, told};
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

/// The rows of a table by file.
fn rows(table: &Path) -> BTreeMap<String, Vec<String>> {
    let text = fs::read_to_string(table).expect("a table");
    let mut rows: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    for row in reader.records() {
        let row = row.expect("whole rows");
        let fields: Vec<&str> = row.iter().skip(1).collect();
        let of_file = rows.entry(row[0].to_owned()).or_default();
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
