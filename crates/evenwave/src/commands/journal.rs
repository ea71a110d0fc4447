//! `evenwave journal`: lists, shows, verifies, carries out and in, and takes care of takes.

use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use disk::Fresh;
use indicatif::ProgressBar;
use journal::{
    Context, Damage, Differing, Entry, Imported, Journal, JournalError, Label, Received, Shelf,
    SoundFile, TakeId, Tasks,
};
use serde::Serialize;
use sound::{Recording, WavFormat, WavWriter};
use tuning::{Naming, Tuning};

use crate::arguments::{Deed, EarArguments, Form, JournalArguments, WantedTakes};
use crate::commands::measure::Progress;
use crate::fault::Fault;
use crate::formats::{
    StudentRecord, TakeRecord, TakeRows, days_of, sound_lines, student_lines, student_rows,
    take_heading, take_line,
};
use crate::named_takes::folder;
use crate::outputs::{as_json, json_line, lines, whole};
use crate::recordings::{self, Added};
use crate::sound_files::{Gathered, gather};
use crate::words::{aside, counted, say, unread_said};

/// Does what is asked of a journal.
pub(crate) fn run(arguments: &JournalArguments) -> Result<(), Fault> {
    let folder = folder(arguments.journal.as_deref())?;
    match &arguments.deed {
        Deed::List { wanted, notes, form } => list(&folder, wanted, *notes, *form),
        Deed::Show { takes, form } => show(&folder, takes, *form),
        Deed::Studio { form } => studio(&folder, *form),
        Deed::Verify { json } => verify(&folder, *json),
        Deed::Index => index(&folder),
        Deed::Export { player, into } => export(&folder, player.as_deref(), into),
        Deed::Import { from, replace } => import(&folder, from, *replace),
        Deed::Add { files, player, ear } => add(&folder, files, player, ear),
        Deed::ExportTask { player, into } => {
            if !Tasks::of(&folder).hand_over(player, into)? {
                return Err(Fault::Failed(format!("{} has no task", whose(player))));
            }
            say(format!("the task of {} is in {}", whose(player), into.display()));
            Ok(())
        }
        Deed::ImportTask { from, player, replace } => {
            match Tasks::of(&folder).receive(from, player.as_deref(), *replace)? {
                Received::For(player) => {
                    say(format!("{} has this task now", whose(&player)));
                    Ok(())
                }
                Received::Another(player) => Err(Fault::Failed(format!(
                    "{} has another task, which stays; --replace takes this one instead",
                    whose(&player)
                ))),
            }
        }
        Deed::Sound { take, into } => write_sound(&read(&folder)?, take, into),
        Deed::Label { takes, player, passage, finger, string, word } => {
            let labels = [
                player.clone().map(Label::Player),
                passage.clone().map(Label::Passage),
                finger.map(|finger| Label::Finger(Some(finger))),
                string.clone().map(Label::String),
                word.clone().map(Label::Word),
            ];
            label(&folder, takes, labels.into_iter().flatten().collect())
        }
        Deed::Keep { takes, no_longer: false } => {
            each(&folder, takes, "kept for ever", |journal, id| journal.keep(id, true))
        }
        Deed::Keep { takes, no_longer: true } => {
            each(&folder, takes, "no longer kept for ever", |journal, id| journal.keep(id, false))
        }
        Deed::Delete { takes, for_good: false } => {
            each(&folder, takes, "in the system's trash", |journal, id| journal.delete(id))
        }
        Deed::Delete { takes, for_good: true } => {
            each(&folder, takes, "deleted for good", |journal, id| journal.delete_for_good(id))
        }
        Deed::Erase { player, for_good } => erase(&folder, player, *for_good),
        Deed::Mend => {
            // Opening mends, and tells what it mended.
            write(&folder)?;
            say("nothing is left to be mended");
            Ok(())
        }
    }
}

/// The name, or who has none.
fn whose(player: &str) -> &str {
    if player.is_empty() { "the player without a name" } else { player }
}

/// Opens a journal to be read, as its folders are now.
fn read(folder: &Path) -> Result<Shelf, Fault> {
    let shelf = Shelf::open(folder)?;
    shelf.refresh()?;
    tell_unread(&shelf);
    Ok(shelf)
}

/// Opens a journal to be written to, but makes none: a folder may be misspelt.
fn write(folder: &Path) -> Result<Journal, Fault> {
    if !folder.is_dir() {
        let path = folder.to_owned();
        return Err(JournalError::Gone { path }.into());
    }
    open(folder)
}

fn open(folder: &Path) -> Result<Journal, Fault> {
    let opened = Journal::open(folder)?;
    opened.words().into_iter().for_each(aside);
    opened.journal.refresh()?;
    Ok(opened.journal)
}

fn tell_unread(shelf: &Shelf) {
    for (id, words) in shelf.unread() {
        aside(format!("{id} cannot be read: {words}"));
    }
}

/// Does this with each of the takes, and says what it is then.
fn each(
    folder: &Path,
    takes: &[TakeId],
    now: &str,
    mut work: impl FnMut(&Journal, &TakeId) -> Result<(), JournalError>,
) -> Result<(), Fault> {
    let journal = write(folder)?;
    takes.iter().try_for_each(|id| {
        work(&journal, id)?;
        say(format!("{id} is {now}"));
        Ok(())
    })
}

fn index(folder: &Path) -> Result<(), Fault> {
    let begun = Instant::now();
    let journal = write(folder)?;
    journal.rebuild_index()?;
    tell_unread(&journal);
    let (takes, secs) = (counted(journal.entries().len(), "take"), begun.elapsed().as_secs_f64());
    say(format!("the index is made anew: {takes} in {secs:.1} s"));
    Ok(())
}

fn list(folder: &Path, wanted: &WantedTakes, notes: bool, form: Form) -> Result<(), Fault> {
    let shelf = read(folder)?;
    let filter = wanted.filter();
    let ready = filter.ready();
    let entries = shelf.entries();
    let chosen = entries.iter().filter(|entry| ready.wants(entry) && wanted.wants_day(entry));
    let mut out = Output::new(form, notes)?;
    let mut count = 0;
    for entry in chosen {
        out.write(&shelf, entry)?;
        count += 1;
    }
    out.finish()?;
    if !form.json && !form.csv {
        say(format!("{} of {}", count, counted(entries.len(), "take")));
    }
    Ok(())
}

fn show(folder: &Path, takes: &[TakeId], form: Form) -> Result<(), Fault> {
    let shelf = read(folder)?;
    let mut out = Output::new(form, true)?;
    for id in takes {
        let Some(entry) = shelf.entry(id) else {
            // With the reason, if it is there but cannot be read.
            shelf.take(id)?;
            let path = shelf.folder().join(id.to_string());
            return Err(JournalError::Missing { path }.into());
        };
        out.write(&shelf, &entry)?;
    }
    out.finish()
}

/// The standard output in the form that was asked for.
struct Output {
    kind: Kind,
    notes: bool,
    written: usize,
}

enum Kind {
    Table,
    Json,
    Rows(Box<TakeRows<std::io::Stdout>>),
}

impl Output {
    fn new(form: Form, notes: bool) -> Result<Self, Fault> {
        let kind = match form {
            Form { json: true, .. } => Kind::Json,
            Form { csv: true, .. } => {
                Kind::Rows(Box::new(TakeRows::new(std::io::stdout(), notes)?))
            }
            _ => Kind::Table,
        };
        Ok(Self { kind, notes, written: 0 })
    }

    fn write(&mut self, shelf: &Shelf, entry: &Entry) -> Result<(), Fault> {
        let take = if self.notes {
            TakeRecord::with_notes(entry, &shelf.take(&entry.id)?, Naming::default())
        } else {
            TakeRecord::new(entry)
        };
        let first = self.written == 0;
        self.written += 1;
        let mut out = std::io::stdout().lock();
        match &mut self.kind {
            Kind::Json => {
                json_line(&mut out, &take)?;
            }
            Kind::Rows(rows) => {
                drop(out);
                rows.write(&take)?;
            }
            Kind::Table => {
                if first || self.notes {
                    lines(&mut out, take_heading())?;
                }
                writeln!(out, "{}", take_line(&take))?;
                lines(&mut out, take.measures.iter().flat_map(sound_lines).skip(1))?;
                if self.notes {
                    writeln!(out)?;
                }
            }
        }
        Ok(())
    }

    fn finish(self) -> Result<(), Fault> {
        if let Kind::Rows(rows) = self.kind {
            rows.finish()?;
        }
        Ok(std::io::stdout().flush()?)
    }
}

/// The studio sheet.
fn studio(folder: &Path, form: Form) -> Result<(), Fault> {
    let today = jiff::Zoned::now().date();
    let students = read(folder)?.studio(&[], days_of(today))?;
    let records: Vec<StudentRecord> = students.iter().map(StudentRecord::new).collect();
    let mut out = std::io::stdout().lock();
    if form.csv {
        return Ok(student_rows(out, &records)?);
    }
    if form.json {
        records.iter().try_for_each(|record| json_line(&mut out, record))?;
    } else {
        lines(&mut out, student_lines(&records))?;
    }
    Ok(out.flush()?)
}

/// A fault as JSON writes it.
#[derive(Serialize)]
struct DamageRecord<'a> {
    take: Option<String>,
    path: &'a Path,
    words: &'a str,
}

fn verify(folder: &Path, json: bool) -> Result<(), Fault> {
    let shelf = Shelf::open(folder)?;
    let damage = shelf.verify()?;
    for fault in &damage {
        let Damage { id, path, words } = fault;
        if json {
            let record = DamageRecord { take: id.as_ref().map(TakeId::to_string), path, words };
            say(as_json(&record)?);
        } else {
            say(fault);
        }
    }
    let takes = shelf.takes()?.len();
    if damage.is_empty() {
        if !json {
            say(format!("{} looked at, nothing is damaged", counted(takes, "take")));
        }
        return Ok(());
    }
    Err(Fault::Failed(format!(
        "{} in {} and what lies beside them",
        counted(damage.len(), "fault"),
        counted(takes, "take")
    )))
}

fn export(folder: &Path, player: Option<&str>, into: &Path) -> Result<(), Fault> {
    let shelf = read(folder)?;
    if let Some(name) = player
        && !is_known(&shelf, name)?
    {
        return Err(no_player(&shelf, name));
    }
    let exported = with_bar(|passed| shelf.export(player, into, passed))?;
    say(format!("{} in {}", counted(exported.takes, "take"), into.display()));
    exported.told.iter().for_each(aside);
    match (shelf.unread().len(), exported.told.len()) {
        (0, 0) => Ok(()),
        (0, _) => Err(Fault::Failed(format!(
            "not all of it is as it should be; as it is, it is safe in {}",
            into.display()
        ))),
        (unread, _) => Err(Fault::Failed(format!(
            "{}; the others are safe in {}",
            unread_said(unread),
            into.display()
        ))),
    }
}

/// Does what may take long behind a bar.
fn with_bar<T>(work: impl FnOnce(&mut dyn FnMut(usize, usize)) -> T) -> T {
    let bar = ProgressBar::new(0);
    let done = work(&mut |done, all| {
        bar.set_length(all as u64);
        bar.set_position(done as u64);
    });
    bar.finish_and_clear();
    done
}

/// Whether there is anything of a player: takes, or the task of a lesson.
fn is_known(shelf: &Shelf, name: &str) -> Result<bool, Fault> {
    let has_takes = shelf.entries().iter().any(|entry| entry.player == name);
    // Tasks that cannot be read keep nobody from their takes.
    Ok(has_takes || shelf.tasks().task(name)?.is_some())
}

fn no_player(shelf: &Shelf, name: &str) -> Fault {
    let known = shelf.players();
    let known: Vec<String> = known.iter().map(|name| format!("{name:?}")).collect();
    Fault::Failed(format!(
        "no take is of the player {name:?}; there are takes of {}",
        if known.is_empty() { "nobody".to_owned() } else { known.join(", ") }
    ))
}

fn import(folder: &Path, from: &Path, replace: bool) -> Result<(), Fault> {
    let differing = if replace { Differing::Replace } else { Differing::Leave };
    if !from.exists() {
        // Before a journal is made for it.
        let path = from.to_owned();
        return Err(JournalError::Missing { path }.into());
    }
    let journal = open(folder)?;
    let imported = with_bar(|passed| journal.import(from, differing, passed))?;
    tell_imported(&imported, from)
}

fn tell_imported(imported: &Imported, from: &Path) -> Result<(), Fault> {
    let Imported { added, known, differing, replaced, tasks, differing_tasks, unread, left_out } =
        imported;
    for id in added {
        say(format!("{id} came in"));
    }
    for id in replaced {
        say(format!("{id} is as it is there now; the file that was here lies beside it"));
    }
    for id in differing {
        say(format!(
            "{id} is here with other words, marks or measures, and stays so; --replace takes theirs"
        ));
    }
    for player in tasks {
        say(format!("the task of {player:?} came in"));
    }
    for player in differing_tasks {
        say(format!("{player:?} has another task here, and it stays so; --replace takes theirs"));
    }
    let nothing = [added, known, differing, replaced].iter().all(|takes| takes.is_empty());
    if nothing && [tasks, differing_tasks].iter().all(|players| players.is_empty()) {
        let why = left_out.iter().map(|words| format!("left out: {words}"));
        why.chain(unread.iter().map(|(id, words)| format!("{id}: {words}"))).for_each(aside);
        return Err(Fault::Failed(format!(
            "no take lies there that could come in; name a folder of takes, or a zip that `evenwave journal export` wrote: {}",
            from.display()
        )));
    }
    say(format!(
        "came in: {}, here already: {}, differing: {}, replaced: {}",
        added.len(),
        known.len(),
        differing.len(),
        replaced.len()
    ));
    for words in left_out {
        aside(format!("left out: {words}"));
    }
    for (id, words) in unread {
        aside(format!("{id} was not taken over: {words}"));
    }
    if unread.is_empty() && left_out.is_empty() {
        return Ok(());
    }
    Err(Fault::Failed("not all of it could be taken over; what came in is safe".to_owned()))
}

/// Makes takes of recordings. What cannot be read is told, and the others go on.
fn add(folder: &Path, named: &[PathBuf], player: &str, ear: &EarArguments) -> Result<(), Fault> {
    let Gathered { files, unseen, empty, .. } = gather(named)?;
    unseen.iter().chain(&empty).for_each(aside);
    let journal = open(folder)?;
    let context = Context {
        player: player.to_owned(),
        instrument: ear.instrument.as_ref().map(|chosen| chosen.asked.clone()),
        tuning: ear.tuning(Tuning::default()),
        ..Context::default()
    };
    let (mut come, mut known, mut failed) = (0, 0, unseen.len());
    let progress = Progress::of_recordings(files.len());
    for (place, path) in files.iter().enumerate() {
        let mut passed = |share| {
            progress.reached(place as f64 + share);
            true
        };
        let added = recordings::add(&journal, (path, ear.channel), &context, &mut passed);
        progress.around(|| match added {
            Ok(Added::Take(kept, remarks)) => {
                come += 1;
                say(format!("{} is {}, {:.1} s long", kept.id, path.display(), kept.length_s));
                remarks.iter().for_each(|remark| aside(format!("{}: {remark}", path.display())));
            }
            Ok(Added::Known(id)) => {
                known += 1;
                say(format!("{id} has this sound already: {}", path.display()));
            }
            Ok(Added::Stopped) => {}
            Err(fault) => {
                failed += 1;
                aside(fault);
            }
        });
    }
    drop(progress);
    say(format!("came in: {come}, here already: {known}"));
    match failed {
        0 => Ok(()),
        failed => Err(Fault::Failed(format!(
            "{} could not be taken in; the others are safe",
            counted(failed, "recording")
        ))),
    }
}

fn label(folder: &Path, takes: &[TakeId], labels: Vec<Label>) -> Result<(), Fault> {
    if labels.is_empty() {
        return Err(Fault::Usage(
            "say what is to be changed: --player, --passage, --finger, --string or --word"
                .to_owned(),
        ));
    }
    each(folder, takes, "labelled anew", |journal, id| {
        labels.iter().try_for_each(|label| journal.label(id, label.clone()))
    })
}

fn erase(folder: &Path, player: &str, for_good: bool) -> Result<(), Fault> {
    if !for_good {
        let shelf = read(folder)?;
        if !is_known(&shelf, player)? {
            return Err(no_player(&shelf, player));
        }
        let entries = shelf.entries();
        let theirs = entries.iter().filter(|entry| entry.player == player);
        return Err(Fault::Usage(format!(
            "{} of {player:?}, and any task from a lesson, would be gone and nothing could bring them back; \
             nothing was deleted. Export them first if they are wanted, then say --for-good",
            counted(theirs.count(), "take")
        )));
    }
    let journal = write(folder)?;
    if !is_known(&journal, player)? {
        return Err(no_player(&journal, player));
    }
    let count = journal.erase(player)?;
    say(format!(
        "{} of {player:?}, and any task from a lesson, deleted for good",
        counted(count, "take")
    ));
    // What cannot be read may be theirs too.
    tell_unread(&journal);
    Ok(())
}

/// Writes the sound of a take, every sample as it is.
fn write_sound(shelf: &Shelf, id: &TakeId, into: &Path) -> Result<(), Fault> {
    let take = shelf.take(id)?;
    if !matches!(take.sound, SoundFile::Whole { .. }) {
        return Err(Fault::Failed(format!(
            "{id} has no sound any more; its measures are shown by: evenwave journal show {id}"
        )));
    }
    let ending = into.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase());
    let as_it_is = match ending.as_deref() {
        Some("flac") => true,
        Some("wav") => false,
        _ => {
            return Err(Fault::Usage(format!(
                "sound is written as .wav or .flac; name such a file: {}",
                into.display()
            )));
        }
    };
    if disk::is_there(into) {
        let path = into.to_owned();
        return Err(JournalError::Occupied { path }.into());
    }
    let from = shelf.sound(id);
    let damaged = shelf.check_sound(id, &take).err();
    let written = whole(into, false, |fresh| {
        if as_it_is {
            return Ok::<(), Fault>(std::io::copy(&mut disk::open(&from)?, fresh).map(drop)?);
        }
        write_wav(&from, fresh, into)
    });
    match (damaged, written) {
        (Some(fault), Ok(())) => Err(Fault::Failed(format!(
            "{id} is damaged, and what is left of it is in {}: {fault}",
            into.display()
        ))),
        (Some(fault), Err(_)) => Err(fault.into()),
        (None, written) => {
            written?;
            say(format!("{:.1} s in {}", take.length_s, into.display()));
            Ok(())
        }
    }
}

/// As floating-point numbers, which hold 24 bits exactly.
fn write_wav(from: &Path, out: &mut Fresh, into: &Path) -> Result<(), Fault> {
    let mut recording = Recording::open(from)?;
    let rate_hz = recording.sample_rate_hz();
    let mut wav = WavWriter::new(BufWriter::new(out), into, rate_hz, 1, WavFormat::Float)?;
    while let Some(block) = recording.next_block()? {
        // A frame that cannot be read is silence, so that the rest stays in its place.
        const SILENCE: [f32; 4_096] = [0.0; 4_096];
        let mut lost = block.lost_before;
        while lost > 0 {
            let count = lost.min(SILENCE.len() as u64);
            wav.write(&SILENCE[..count as usize])?;
            lost -= count;
        }
        wav.write(block.samples)?;
    }
    Ok(wav.finish()?)
}
