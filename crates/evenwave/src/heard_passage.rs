//! A take of a passage, heard to be followed.

use std::path::Path;

use coach::follow::Heard;
use coach::plan::{Intention, Passage, Pitch};
use tuning::{Instrument, Tuning};
use vibrato::{Event, Note};

use crate::arguments::{EarArguments, settings};
use crate::fault::Fault;
use crate::heard_file::{Wanted, hear_file};
use crate::named_takes::{SOUND, harm};

/// How to listen to a take of this passage, and what its pitches are measured against.
pub(crate) fn wanted_of(passage: &Passage, ear: &EarArguments) -> (Wanted, Tuning) {
    let usual = Tuning::default();
    let tuning = ear.tuning(Tuning { a4: passage.a4.unwrap_or(usual.a4), ..usual });
    let asked = ear.instrument.as_ref().map(|chosen| chosen.instrument.clone());
    // A passage may be for an instrument that is not known here: then any bowed string may be heard.
    let instrument = asked.or_else(|| Instrument::find(&passage.instrument).ok());
    let settings = settings(tuning, instrument.as_ref());
    (Wanted { channel: ear.channel, ..Wanted::whole(settings) }, tuning)
}

/// What the ear hears of a recording or take. What is wrong with the sound of a take is added to `damaged`.
pub(crate) fn hear_passage(
    take: &Path,
    wanted: &Wanted,
    damaged: &mut Vec<String>,
) -> Result<Heard, Fault> {
    let sound = if take.is_dir() { take.join(SOUND) } else { take.to_owned() };
    damaged.extend(harm(&sound).map(|harm| format!("what is left of the sound was heard: {harm}")));
    let mut heard = Heard::default();
    let mut look = |event: &Event, note: Option<&Note>, _| heard.push(event, note);
    hear_file(&sound, wanted, &mut look, &mut |_| true)?;
    Ok(heard)
}

/// How each note of the passage was played, to be planned so; with it what could not be copied.
pub(crate) fn as_model(
    passage: &Passage,
    played: &mut Heard,
    tuning: &Tuning,
) -> Result<(Vec<Option<Intention>>, Vec<String>), Fault> {
    let checked = coach::played::check(passage, played, None, tuning);
    let copied = coach::played::as_played(passage, &checked.notes);
    let count = copied.iter().flatten().count();
    if count == 0 {
        return Err(Fault::Failed(
            "no note of the passage was found in this take; is it the passage?".to_owned(),
        ));
    }
    let could = passage
        .notes()
        .iter()
        .filter(|note| note.pitch != Pitch::Rest && !note.tie && !note.open());
    let told = match could.count() - count {
        0 => Vec::new(),
        left => vec![format!(
            "{count} notes were copied; {left} that were left out, played at another pitch, too short or on two strings stay as planned"
        )],
    };
    Ok((copied, told))
}
