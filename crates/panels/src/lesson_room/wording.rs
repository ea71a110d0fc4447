//! What the room says: where the lesson stands, and the figures of a row.

use super::action::{Laid, Side, Voice};
use super::aside;
use super::state::LessonRoom;
use crate::stand::Stand;
use coach::{Align, Difference, Showing};
use tuning::{figure, pitch_name};
use vibrato::{Note, PitchCourse, Quantity};

/// What to do before there is a model.
pub(super) const PLAY: &str = "Play the model: a note or a phrase. Silence ends it.";

/// Where the lesson stands, in a sentence.
pub(super) fn state(room: &LessonRoom, stand: &Stand) -> String {
    if let Some(word) = room.word() {
        return figure::sentence(word);
    }
    if let Some(voice) = room.voice() {
        return match voice {
            Voice::Sound(Side::Model) => "You hear the model.".to_owned(),
            Voice::Sound(Side::Echo(number)) => format!("You hear echo {}.", number + 1),
            Voice::Pitch(side, speed) => {
                let of = match side {
                    Side::Model => "the model".to_owned(),
                    Side::Echo(number) => format!("echo {}", number + 1),
                };
                format!("You hear the pitch of {of}{}.", at_speed(speed))
            }
        };
    }
    let lesson = room.lesson();
    let playing = lesson.current().is_some();
    if let Some(unlike) = lesson.doubtful().and_then(|echo| echo.comparison.unlike()) {
        return format!("{unlike} Is it an echo?");
    }
    let stands = match (lesson.model(), lesson.count()) {
        (None, _) if playing => "The model sounds. Silence ends it.".to_owned(),
        (None, _) => PLAY.to_owned(),
        (Some(_), count) if playing => format!("Echo {} sounds. Silence ends it.", count + 1),
        (Some(model), 0) => format!("The model is kept: {}. Echo it.", notes(&model.notes, stand)),
        (Some(_), count) => match room.echo_number() {
            Some(number) if number + 1 < lesson.echoes().len() => {
                format!("Echo {} of {count}. Play another when you like.", number + 1)
            }
            _ => format!("Echo {count}. Play another when you like."),
        },
    };
    match aside::told(room, stand.shell.options()) {
        Some(told) => format!("{stands} {told}"),
        None => stands,
    }
}

/// " at half speed".
pub(super) fn at_speed(speed: f64) -> &'static str {
    match speed {
        speed if speed >= 1.0 => "",
        speed if speed >= 0.5 => " at half speed",
        _ => " at a quarter of its speed",
    }
}

/// "full speed", "half speed", "quarter speed".
pub(super) fn speed(speed: f64) -> &'static str {
    match speed {
        speed if speed >= 1.0 => "full speed",
        speed if speed >= 0.5 => "half speed",
        _ => "quarter speed",
    }
}

/// "A3", "A3, B3, C4", "7 notes from A3".
pub(super) fn notes(notes: &[Note], stand: &Stand) -> String {
    let name = |note: &Note| pitch_name(note.midi, stand.shell.naming());
    match notes {
        [] => "no note".to_owned(),
        [first, .., _] if notes.len() > 4 => format!("{} notes from {}", notes.len(), name(first)),
        few => few.iter().map(name).collect::<Vec<_>>().join(", "),
    }
}

/// How model and echo are laid over each other.
pub(super) fn laid(laid: Laid) -> &'static str {
    match laid {
        Laid::Whole => "from the first onset",
        Laid::NoteByNote => "note by note",
        Laid::Note(Align::NoteStart) => "from the start of the note",
        Laid::Note(Align::Cycles) => "cycle by cycle",
    }
}

/// When measures are shown.
pub(super) fn showing(showing: Showing) -> &'static str {
    match showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the note",
        Showing::AfterRound => "after the echo",
    }
}

/// A measure of the note of this number as it stands in the table; empty where it is not known.
pub(super) fn measure(notes: &[Note], number: usize, quantity: Quantity) -> String {
    let Some(note) = notes.get(number) else {
        return String::new();
    };
    let before = number.checked_sub(1).and_then(|before| notes.get(before));
    let known = match (quantity, &note.vibrato) {
        (Quantity::Rate | Quantity::Width, None) if note.course != PitchCourse::TooShort => {
            return note.course.word().to_owned();
        }
        (Quantity::Centre, None) => Some(note.offset.bare()),
        _ => quantity.read(note, before),
    };
    known.map_or_else(String::new, |known| quantity.number(Some(known.value)))
}

/// A difference with its sign and doubt.
pub(super) fn difference(difference: &Difference) -> String {
    difference.quantity.difference(Some(difference.measure()))
}
