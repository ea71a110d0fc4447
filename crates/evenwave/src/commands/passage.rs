//! `evenwave passage`: passages drawn, and made of scores.

use std::io::Write;
use std::path::{Path, PathBuf};

use coach::follow::{Heard, played_once};
use coach::plan::{Edit, Editor, Passage, Pitch, PlanFault, TakeDown, TakenDown, from_notes};
use coach::played::{PlayedNote, Written, habits};
use emath::{Rangef, Rect, pos2, vec2};
use pictures::{Meaning, Paper, Picture, Sizes, Staff, planned_ribbons, svg};
use score::{Choice, Midi, MusicXml, ReadPassage};
use tuning::Tuning;

use crate::arguments::{EarArguments, PassageArguments, PassageDeed, PassageTo, settings};
use crate::fault::Fault;
use crate::formats::passage_lines;
use crate::heard_file::Wanted;
use crate::heard_passage::{as_model, hear_passage, wanted_of};
use crate::named_takes::place_of_take;
use crate::outputs::{json_line, lines, not_over, only_new, only_over, whole};
use crate::passages::{find, score_bytes};
use crate::words::{aside, say};

/// Does it.
pub(super) fn run(arguments: &PassageArguments) -> Result<(), Fault> {
    match &arguments.deed {
        PassageDeed::Show { plan, out, replace } => {
            let passage = find(plan)?;
            only_new(out, *replace)?;
            only_over(out, "<svg", "picture")?;
            let text = drawn(&passage);
            whole(out, *replace, |fresh| Ok::<_, Fault>(fresh.write_all(text.as_bytes())?))?;
            say(out.display());
            Ok(())
        }
        PassageDeed::Check { plan, take, straight, json, ear } => {
            check(&find(plan)?, take, straight.as_deref(), *json, ear)
        }
        PassageDeed::Habits { plan, takes, json, ear } => {
            what_comes_back(&find(plan)?, takes, *json, ear)
        }
        PassageDeed::FromMusicxml { file, part, voice, bars, instrument, to } => {
            let (part, voice, instrument) = (part.clone(), voice.clone(), instrument.clone());
            let choice = Choice { part, voice, bars: *bars, instrument };
            let bytes = score_bytes(file)?;
            let read = MusicXml::read(&bytes).and_then(|score| score.passage(&choice, &name(file)));
            let ReadPassage { passage, told } = read.map_err(|fault| told_of(file, &fault))?;
            written((&passage, &told), file, to)
        }
        PassageDeed::FromMidi { file, track, instrument, to } => {
            let bytes = score_bytes(file)?;
            let midi = Midi::read(&bytes);
            let read = midi.and_then(|midi| midi.passage(*track, instrument, &name(file)));
            let ReadPassage { passage, told } = read.map_err(|fault| told_of(file, &fault))?;
            written((&passage, &told), file, to)
        }
        deed @ PassageDeed::FromTake { take, to, .. } => {
            let (passage, told, damaged) = taken_down(deed, take)?;
            written((&passage, &told), take, to)?;
            whole_sound(&damaged)
        }
        PassageDeed::FromModel { plan, take, to, ear } => {
            let passage = find(plan)?;
            let mut damaged = Vec::new();
            let (mut played, tuning) = heard_as(&passage, take, ear, &mut damaged)?;
            let (passage, told) = planned_as(passage, &mut played, &tuning)?;
            written((&passage, &told), take, to)?;
            whole_sound(&damaged)
        }
    }
}

/// Says what comes back from take to take.
fn what_comes_back(
    passage: &Passage,
    takes: &[PathBuf],
    json: bool,
    ear: &EarArguments,
) -> Result<(), Fault> {
    let mut damaged = Vec::new();
    let mut notes = Vec::with_capacity(takes.len());
    for take in takes {
        let (mut played, tuning) = heard_as(passage, take, ear, &mut damaged)?;
        notes.push(coach::played::check(passage, &mut played, None, &tuning).notes);
    }
    let notes: Vec<&[PlayedNote]> = notes.iter().map(Vec::as_slice).collect();
    let habits = habits(passage, &notes);
    let mut out = std::io::stdout().lock();
    match json {
        true => json_line(&mut out, &habits)?,
        false => lines(&mut out, habits.said)?,
    }
    out.flush()?;
    whole_sound(&damaged)
}

/// Takes a passage down; with it what was decided, and what was wrong with the sound.
fn taken_down(
    deed: &PassageDeed,
    take: &Path,
) -> Result<(Passage, Vec<String>, Vec<String>), Fault> {
    let PassageDeed::FromTake { pace, beats, key, title, as_played, ear, .. } = deed else {
        return Err(Fault::Failed("no take is named".to_owned()));
    };
    let tuning = ear.tuning(Tuning::default());
    let instrument = ear.instrument.as_ref().map(|chosen| chosen.instrument.clone());
    let wanted =
        Wanted { channel: ear.channel, ..Wanted::whole(settings(tuning, instrument.as_ref())) };
    let mut damaged = Vec::new();
    let mut heard = hear_passage(take, &wanted, &mut damaged)?;
    let of_journal = place_of_take(take).map(|(_, id)| id.to_string());
    let asked = TakeDown {
        title,
        instrument: ear.instrument.as_ref().map_or("cello", |chosen| &chosen.asked),
        bpm: *pace,
        meter: *beats,
        key: *key,
        take: of_journal.as_deref(),
    };
    let taken = from_notes(&played_once(&mut heard), &asked).map_err(|fault| match fault {
        PlanFault::Empty => {
            Fault::Failed(format!("no note was heard; check the file: {}", take.display()))
        }
        fault => told_of(take, &fault),
    })?;
    let TakenDown { mut passage, mut told } = taken;
    if (tuning.a4.get() - Tuning::default().a4.get()).abs() > 0.0 {
        passage.a4 = Some(tuning.a4);
    }
    if *as_played {
        let (copied, more) = planned_as(passage, &mut heard, &tuning)?;
        told.extend(more);
        passage = copied;
    }
    Ok((passage, told, damaged))
}

/// The passage with each note planned as it was played; with it what could not be copied.
fn planned_as(
    passage: Passage,
    played: &mut Heard,
    tuning: &Tuning,
) -> Result<(Passage, Vec<String>), Fault> {
    let (copied, told) = as_model(&passage, played, tuning)?;
    let mut editor = Editor::new(passage);
    let edited = editor.apply(&Edit::IntendAll(copied));
    edited.map_err(|fault| Fault::Failed(fault.to_string()))?;
    Ok((editor.passage().clone(), told))
}

/// Says at the end what was wrong with the sound.
fn whole_sound(damaged: &[String]) -> Result<(), Fault> {
    if damaged.is_empty() { Ok(()) } else { Err(Fault::Failed(damaged.join("; "))) }
}

/// What the ear hears of a take of this passage, and what its pitches are measured against.
fn heard_as(
    passage: &Passage,
    take: &Path,
    ear: &EarArguments,
    damaged: &mut Vec<String>,
) -> Result<(Heard, Tuning), Fault> {
    let (wanted, tuning) = wanted_of(passage, ear);
    Ok((hear_passage(take, &wanted, damaged)?, tuning))
}

/// Says what was made of a passage.
fn check(
    passage: &Passage,
    take: &Path,
    straight: Option<&Path>,
    json: bool,
    ear: &EarArguments,
) -> Result<(), Fault> {
    let (wanted, tuning) = wanted_of(passage, ear);
    let mut damaged = Vec::new();
    let mut played = hear_passage(take, &wanted, &mut damaged)?;
    let mut before = straight.map(|take| hear_passage(take, &wanted, &mut damaged)).transpose()?;
    let checked = coach::played::check(passage, &mut played, before.as_mut(), &tuning);
    let mut out = std::io::stdout().lock();
    match json {
        true => json_line(&mut out, &Written { passage, checked: &checked })?,
        false => lines(&mut out, passage_lines(passage, &checked))?,
    }
    out.flush()?;
    whole_sound(&damaged)
}

fn name(file: &Path) -> String {
    file.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

fn told_of(file: &Path, fault: &impl std::fmt::Display) -> Fault {
    Fault::Failed(format!("{fault}: {}", file.display()))
}

/// Writes a passage that was made of a file, and says what was left out or decided.
fn written(
    (passage, told): (&Passage, &[String]),
    from: &Path,
    to: &PassageTo,
) -> Result<(), Fault> {
    told.iter().for_each(aside);
    let Some(out) = &to.out else {
        return Ok(std::io::stdout().lock().write_all(passage.to_text().as_bytes())?);
    };
    only_new(out, to.replace)?;
    not_over(out, from)?;
    let text = match out.extension().is_some_and(|extension| extension == "ron") {
        true => passage.to_ron(),
        false => passage.to_text(),
    };
    whole(out, to.replace, |fresh| Ok::<_, Fault>(fresh.write_all(text.as_bytes())?))?;
    say(out.display());
    Ok(())
}

/// Points between two lines of the staff, and heights of what stands over and under it.
const SPACE: f32 = 8.0;
const MARGIN: f32 = 24.0;
const TITLE: f32 = 40.0;
const RIBBONS: f32 = 140.0;
const NAMES: f32 = 28.0;

/// The passage as a picture of its own.
fn drawn(passage: &Passage) -> String {
    let staff = Staff::new(passage);
    let (head, bars) = staff.widths();
    let reach = staff.reach();
    let lines = pos2(MARGIN + head * SPACE, MARGIN + TITLE - reach.min * SPACE);
    let under = lines.y + reach.max * SPACE + MARGIN;
    let size = vec2(lines.x + bars * SPACE + MARGIN, under + RIBBONS + NAMES + MARGIN);
    let area = Rect::from_min_size(pos2(0.0, 0.0), size);
    let mut picture = Picture::new(area, &Sizes::USUAL);
    picture.rect(Meaning::RegionGround, area);
    picture.write(Meaning::Name, pos2(MARGIN, MARGIN + 18.0), &passage.title);
    staff.draw(&mut picture, lines, SPACE, Rangef::EVERYTHING, true);
    let ribbons = Rect::from_min_max(pos2(lines.x, under), pos2(size.x - MARGIN, under + RIBBONS));
    let foot = ribbons.bottom() + NAMES;
    for (number, x) in staff.bar_lines() {
        let x = lines.x + x * SPACE;
        picture.vline(Meaning::Guide, x, ribbons.y_range());
        picture.write(Meaning::ScaleNumber, pos2(x + 3.0, under - 6.0), &number.to_string());
    }
    let time_of = |note: usize| {
        let time = staff.time_of(note)?;
        Some(Rangef::new(lines.x + time.min * SPACE, lines.x + time.max * SPACE))
    };
    planned_ribbons(&mut picture, passage, ribbons, time_of);
    for (number, note) in passage.notes().iter().enumerate().filter(|(_, note)| !note.tie) {
        if let (Pitch::Single(pitch), Some(time)) = (note.pitch, time_of(number)) {
            picture.write(Meaning::ScaleNumber, pos2(time.min + 3.0, foot), &pitch.to_string());
        }
    }
    let vibrated =
        passage.notes().iter().filter(|note| note.intention.mean_width().get() > 0.0).count();
    picture.says = format!(
        "{} in {} bars, for {}: {} notes and rests, {vibrated} of them with vibrato",
        passage.title,
        passage.bars().len(),
        passage.instrument,
        passage.notes().len()
    );
    let svg = svg(&picture, &passage.title, Paper::Light).into_string();
    // A picture by itself says what it is.
    svg.replacen(
        "<svg ",
        "<svg xmlns=\"http://www.w3.org/2000/svg\" font-family=\"Andika, sans-serif\" ",
        1,
    )
}
