//! Commands under wine: what they print and write is what they print and write here.

use std::collections::BTreeSet;
use std::ffi::OsString;
use std::fs;
use std::path::Path;

use serde_json::Value;

use super::Bench;
use crate::checks::{Checks, farthest, records};
use crate::package::{VERSION, recorded};
use crate::shell::{Fault, empty};

/// Figures of the two may be so far apart: the mathematical libraries of the two systems round differently.
const NEAR: f64 = 1e-3;
/// Sessions that tones are made of, and a drill that one of them plays.
const SESSIONS: [&str; 2] = ["demo-sessions/four-fingers.ron", "demo-sessions/stop-and-press.ron"];
const DRILL: &str = "all-in-a-row";
/// Names that Windows keeps for itself, or does not allow in a file.
const ODD_NAMES: [&str; 5] =
    ["CON", "NUL", "a: b? <c>*|\"d\"", "ends with a dot.", "Žofie Ångström 🎻"];

/// Does them all.
pub(super) fn run(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\ncommands, beside those of this system");
    let said = bench.theirs(&["--version"])?;
    let version = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    checks.that(version == format!("evenwave {VERSION}"), "it says its version", &version);
    tones(bench, checks)?;
    figures(bench, checks)?;
    report(bench, checks)?;
    tables(bench, checks)?;
    journal(bench, checks)
}

fn tones(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    for (number, session) in SESSIONS.iter().enumerate() {
        let made = |who: &str| format!("{who}-{number}.wav");
        let words =
            |who: &str| ["tone".to_owned(), bench.file(session), "-o".to_owned(), made(who)];
        bench.theirs(&words("theirs"))?;
        bench.ours(&words("ours"))?;
        let [theirs, ours] = ["theirs", "ours"]
            .map(|who| fs::read(bench.folder.join(made(who))).unwrap_or_default());
        let apart = samples(&theirs).zip(samples(&ours)).map(|(one, other)| (one - other).abs());
        let apart = apart.fold(0.0_f32, f32::max);
        checks.that(
            theirs.len() == ours.len() && ours.len() > 100_000 && apart <= 1e-6,
            &format!("`tone` makes the same sound of {session}"),
            &format!("{} bytes, at most {apart:.0e} of full scale apart", theirs.len()),
        );
    }
    Ok(())
}

/// The samples of a WAV file of 32-bit floats, its head among them, which is the same in both.
fn samples(wav: &[u8]) -> impl Iterator<Item = f32> {
    let head = wav.len() % 4;
    wav[head..]
        .chunks_exact(4)
        .skip(20)
        .map(|four| f32::from_le_bytes([four[0], four[1], four[2], four[3]]))
}

/// `measure`, `drill` and `compare` as JSON.
fn figures(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let recorded: Vec<String> = recorded()?.iter().map(|path| path.display().to_string()).collect();
    let [viola, other] =
        ["tests/recordings/fluid-viola-064-l.wav", "tests/recordings/fluid-viola-082-r.wav"]
            .map(|name| bench.file(name));
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
    for (what, count, words) in [
        ("measure", recorded.len(), [words(&["measure", "--json"]), recorded].concat()),
        ("measure", 1, words(&["measure", "--json", "--instrument", "cello", "ours-0.wav"])),
        ("drill", 1, words(&["drill", DRILL, "--json", "--instrument", "cello", "ours-1.wav"])),
        ("compare", 1, words(&["compare", "--json", &viola, &other])),
    ] {
        let [theirs, ours] =
            [bench.theirs(&words)?, bench.ours(&words)?].map(|said| records(&said.stdout));
        let apart = farthest(&Value::Array(theirs.clone()), &Value::Array(ours.clone()));
        checks.that(
            ours.len() == count && apart <= NEAR,
            &format!("`{what}` finds the same, {count} times"),
            &format!("at most {apart:.1e} apart"),
        );
    }
    Ok(())
}

fn report(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let page = |who: &str| format!("{who}.html");
    let words = |who: &str| {
        [
            "report".to_owned(),
            "--out".to_owned(),
            page(who),
            "take".to_owned(),
            "ours-0.wav".to_owned(),
        ]
    };
    bench.theirs(&words("theirs"))?;
    bench.ours(&words("ours"))?;
    let [theirs, ours] = ["theirs", "ours"]
        .map(|who| fs::read_to_string(bench.folder.join(page(who))).unwrap_or_default());
    // Lines of a picture may differ in their last digit.
    let same = theirs.lines().zip(ours.lines()).filter(|(one, other)| one == other).count();
    let all = ours.lines().count();
    checks.that(
        theirs.lines().count() == all && theirs.contains("<svg") && same * 100 >= all * 95,
        "`report` writes the same page",
        &format!("{same} of {all} lines to the letter"),
    );
    Ok(())
}

/// A table that is gone on with is put in the place of the old one, unless another program holds that.
fn tables(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let into = |file: &str| bench.theirs(&["measure", "--into", "table.csv", file]);
    into("ours-0.wav")?;
    let table = bench.folder.join("table.csv");
    let read = || fs::read_to_string(&table).unwrap_or_default();
    let before = read();
    if let Some(mut office) = bench.office(&table)? {
        let files = names_in(&bench.folder)?;
        let said = into("ours-1.wav")?;
        let told = String::from_utf8_lossy(&said.stderr).trim().to_owned();
        checks.that(
            !said.status.success()
                && told.contains("table.csv")
                && told.contains("close it in other programs")
                && read() == before
                && names_in(&bench.folder)? == files,
            "a table that another program holds open stays as it is, and that is told",
            &told,
        );
        drop(office.stdin.take());
        office.wait().map_err(Fault::at(&table))?;
    } else {
        checks.that(false, "another program can hold a table open", "it could not");
    }
    let said = into("ours-1.wav")?;
    let rows = |text: &str| text.lines().count();
    checks.that(
        said.status.success() && rows(&before) > 1 && rows(&read()) > rows(&before),
        "`measure --into` goes on with its table",
        &format!("{} lines, then {}", rows(&before), rows(&read())),
    );
    let said = bench.theirs(&["tone", &bench.file(SESSIONS[0]), "-o", "NUL.wav"])?;
    let told = String::from_utf8_lossy(&said.stderr).trim().to_owned();
    checks.that(
        !told.contains("panicked"),
        "a file named after a device of Windows is told, or made",
        &format!("{:?} {told}", said.status.code()),
    );
    Ok(())
}

/// The names in a folder, but for hidden ones: a state that waits for its table is taken up by the next run.
fn names_in(folder: &Path) -> Result<BTreeSet<OsString>, Fault> {
    let entries = fs::read_dir(folder).map_err(Fault::at(folder))?;
    let names = entries.flatten().map(|entry| entry.file_name());
    Ok(names.filter(|name| !name.as_encoded_bytes().starts_with(b".")).collect())
}

/// Takes made, listed, named, checked, carried out and in, and put away.
fn journal(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let long = format!("{}/takes", ["a folder with a rather long name of its own"; 6].join("/"));
    fs::create_dir_all(bench.folder.join(&long)).map_err(Fault::at(&bench.folder))?;
    let in_journal = |words: &[&str]| {
        let mut all = vec!["journal".to_owned(), "--journal".to_owned(), long.clone()];
        all.extend(words.iter().map(|word| (*word).to_owned()));
        bench.theirs(&all)
    };
    let listed =
        || -> Result<Vec<Value>, Fault> { Ok(records(&in_journal(&["list", "--json"])?.stdout)) };
    let name = |take: &Value| take["take"].as_str().unwrap_or_default().to_owned();

    for (player, sound) in ODD_NAMES.iter().zip(recorded()?) {
        in_journal(&[
            "add",
            "--player",
            player,
            "--instrument",
            "cello",
            &sound.display().to_string(),
        ])?;
    }
    let takes = listed()?;
    let players: Vec<&str> = takes.iter().filter_map(|take| take["player"].as_str()).collect();
    checks.that(
        ODD_NAMES.iter().all(|name| players.contains(name)),
        "takes are added for players of odd names, in a long path",
        &format!("{players:?}, {} signs", bench.folder.join(&long).display().to_string().len()),
    );
    let first = takes.first().map(name).unwrap_or_default();
    for words in [
        &["verify"][..],
        &["label", &first, "--player", "Mira", "--passage", "COM1", "--word", "slow: 1/2?"],
        &["keep", &first],
        &["index"],
        &["verify"],
        &["sound", &first, "take.wav"],
        &["export", "parcel.zip"],
        &["export", "copies"],
    ] {
        let said = in_journal(words)?;
        let told = String::from_utf8_lossy(&said.stderr).trim().to_owned();
        checks.that(said.status.success(), &format!("`journal {}`", words[0]), &told);
    }
    carried_here(bench, checks, takes.len())?;
    let last = takes.last().map(name).unwrap_or_default();
    // Wine has no trash; what Windows does with it must be seen there.
    let said = in_journal(&["delete", &last])?;
    let told = String::from_utf8_lossy(&said.stderr).trim().to_owned();
    checks.that(
        told.contains("deleted for good") && listed()?.len() == takes.len(),
        "where there is no trash that is told, and the take stays",
        &told,
    );
    in_journal(&["delete", "--for-good", &last])?;
    in_journal(&["erase", "Mira", "--for-good"])?;
    checks.that(
        listed()?.len() + 2 == takes.len(),
        "a take goes for good, and all of a player",
        &format!("{} of {} are left", listed()?.len(), takes.len()),
    );
    Ok(())
}

/// What was carried out on Windows comes in here, whole, and the other way.
fn carried_here(bench: &Bench, checks: &mut Checks, count: usize) -> Result<(), Fault> {
    empty(&bench.folder.join("here"))?;
    let here = |words: &[&str]| bench.ours(&[&["journal", "--journal", "here"], words].concat());
    let there =
        |words: &[&str]| bench.theirs(&[&["journal", "--journal", "there"], words].concat());
    here(&["import", "parcel.zip"])?;
    let whole = here(&["verify"])?.status.success();
    here(&["export", "back.zip"])?;
    there(&["import", "back.zip"])?;
    let [here, there] =
        [here(&["list", "--json"])?, there(&["list", "--json"])?].map(|said| records(&said.stdout));
    checks.that(
        whole
            && here.len() == count
            && farthest(&Value::Array(here), &Value::Array(there.clone())) == 0.0,
        "takes carried from there to here and back are the same",
        &format!("{} takes", there.len()),
    );
    Ok(())
}
