//! Model and echo laid over each other: a phrase as a whole, or one note of it.

mod kept;

use super::action::{Laid, LessonAction};
use super::state::LessonRoom;
use super::wording;
use crate::stand::Stand;
use crate::stand::picture::Sounding;
use crate::theme::Theme;
use crate::widgets::painter;
use coach::Align;
use egui::{Context, Rect, Role, Sense, Ui, WidgetInfo};
use pictures::overlay::{self, OneNote, one_note};
use pictures::phrase::{Whole, phrase};
use pictures::sheet::Times;
use pictures::stretch::Stretch;
use pictures::{Meaning, Picture};
use tuning::{Hz, Secs, pitch_name};

/// Draws it into `area` and says which note was pointed at.
pub(super) fn overlay_ui(
    ui: &mut Ui,
    area: Rect,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
) -> Option<LessonAction> {
    let whole = !matches!(room.laid(), Laid::Note(_));
    let sense = if whole { Sense::click() } else { Sense::hover() };
    let response = ui.allocate_rect(area, sense);
    let revealed = room.revealed(stand.shell.options().showing);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(room, stand, revealed)));
    if !ui.is_rect_visible(area) {
        return None;
    }
    let mut picture = Picture::new(area, &theme.sizes);
    if !revealed {
        overlay::hidden(&mut picture, area, &hidden(stand));
        painter::paint(&ui.painter_at(area), &picture, theme);
        return None;
    }
    legend(&mut picture, area, room, stand);
    let drawn = if whole {
        whole_phrase(&mut picture, area, ui.ctx(), room, stand)
    } else {
        one_note(&mut picture, area, &of_note(room, stand));
        None
    };
    painter::paint(&ui.painter_at(area), &picture, theme);
    let at = response.interact_pointer_pos().filter(|_| response.clicked())?;
    let (whole, times) = drawn.filter(|(_, times)| times.x.contains(at.x))?;
    Some(LessonAction::Into(whole.note_at(&times, at.x)))
}

/// Draws the phrase; says what it shows, and how time lies on it.
fn whole_phrase<'a>(
    picture: &mut Picture,
    area: Rect,
    ctx: &Context,
    room: &'a LessonRoom,
    stand: &Stand,
) -> Option<(Whole<'a>, Times)> {
    let whole = of_phrase(room, stand)?;
    let lines = |part: Stretch<'_>, times: &Times| kept::lines(ctx, part, times);
    let times = phrase(picture, area, &whole, Some(room.note()), lines);
    Some((whole, times))
}

/// The phrase as it is looked at; `None` before there is a model.
fn of_phrase<'a>(room: &'a LessonRoom, stand: &Stand) -> Option<Whole<'a>> {
    let (model, naming) = (room.lesson().model()?, stand.shell.naming());
    if let Some(current) = room.lesson().current() {
        return Whole::sounding(model, current, begun(room, stand), naming);
    }
    let echo = room.shown_echo().map(|echo| (&echo.phrase, &echo.comparison));
    Whole::of(model, echo, room.laid() == Laid::NoteByNote, naming)
}

/// The note that is looked at; while something sounds it is drawn as it comes.
fn of_note(room: &LessonRoom, stand: &Stand) -> OneNote {
    let (lesson, naming) = (room.lesson(), stand.shell.naming());
    if let Some(current) = lesson.current() {
        return OneNote::sounding(lesson.model(), current, begun(room, stand), naming);
    }
    let align = match room.laid() {
        Laid::Note(align) => align,
        Laid::Whole | Laid::NoteByNote => Align::NoteStart,
    };
    let answer = room.shown_echo().zip(room.shown_pair());
    let answer = answer.map(|(echo, (comparison, pair))| (&echo.phrase, comparison, pair));
    let of = |model| OneNote::of(model, room.note(), answer, align, naming);
    lesson.model().map(of).unwrap_or_default()
}

/// When the note that sounds began, and its line in the tuning.
fn begun(room: &LessonRoom, stand: &Stand) -> (Option<Secs>, Option<Hz>) {
    let reference = match stand.live().sounding {
        Sounding::Note(live) => Some(live.reference),
        Sounding::Begun(begun) => Some(begun.reference),
        Sounding::Silence => None,
    };
    (room.sounding(), reference)
}

/// Which line is whose, above the sheet; and which note it is.
fn legend(picture: &mut Picture, area: Rect, room: &LessonRoom, stand: &Stand) {
    let lesson = room.lesson();
    let playing = lesson.current().is_some();
    let echo = room.echo_number().map(|number| format!("echo {}", number + 1));
    let mut entries = Vec::new();
    if lesson.model().is_some() {
        entries.push((Meaning::Model, "model"));
    }
    if playing {
        entries.push((Meaning::Echo, "what sounds"));
    } else if let Some(echo) = &echo {
        entries.push((Meaning::Echo, echo));
    }
    let phrase = lesson.model().filter(|model| model.notes.len() > 1 && !playing);
    let which = phrase.map(|model| {
        let note = model.notes.get(room.note());
        let name = note.map(|note| pitch_name(note.midi, stand.shell.naming()));
        let (number, count) = (room.note() + 1, model.notes.len());
        format!("note {number} of {count}, {}", name.unwrap_or_default())
    });
    overlay::legend(picture, area, &entries, which.as_deref());
}

fn hidden(stand: &Stand) -> String {
    let when = wording::showing(stand.shell.options().showing);
    format!("Listening; shown {when}")
}

/// What a screen reader says of the picture.
fn spoken(room: &LessonRoom, stand: &Stand, revealed: bool) -> String {
    if !revealed {
        return hidden(stand);
    }
    let lesson = room.lesson();
    let Some(model) = lesson.model() else {
        return "no model yet".to_owned();
    };
    let note = model.notes.get(room.note());
    let name = note.map_or_else(String::new, |note| pitch_name(note.midi, stand.shell.naming()));
    let laid = wording::laid(room.laid());
    if !matches!(room.laid(), Laid::Note(_)) {
        let said = of_phrase(room, stand).map(|whole| whole.said()).unwrap_or_default();
        let echo = room.echo_number().filter(|_| lesson.current().is_none());
        return match echo {
            Some(number) => {
                format!("model and echo {} as a whole over each other, {laid}: {said}", number + 1)
            }
            None => format!("the model as a whole: {said}"),
        };
    }
    match (room.echo_number(), room.shown_pair()) {
        (Some(number), Some(_)) => {
            format!("model and echo {} of {name} over each other, {laid}", number + 1)
        }
        (Some(number), None) => {
            format!("the model's {name}; not in echo {}", number + 1)
        }
        (None, _) => format!("the model's {name}"),
    }
}
