//! The note in large type: its name, and how far its centre lies from it.

use crate::pen;
use crate::stand::picture::Sounding;
use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::words;
use egui::{Rect, Role, Sense, Ui, WidgetInfo, pos2};
use tuning::{Cents, pitch_name};
use vibrato::Measure;

/// What the head says.
#[derive(Clone, Debug, PartialEq)]
struct Said {
    name: String,
    centre: Option<Measure<Cents>>,
    live: bool,
}

fn said(stand: &Stand) -> Option<Said> {
    let picture = stand.picture();
    let (midi, centre, live) = match picture.sounding {
        Sounding::Note(live) => (live.midi, Some(live.centre), true),
        Sounding::Begun(begun) => (begun.midi, None, true),
        Sounding::Silence => {
            let note = picture.last.as_ref()?;
            let centre = note.vibrato.as_ref().map_or(note.offset, |v| v.centre);
            (note.midi, Some(centre), false)
        }
    };
    Some(Said {
        name: pitch_name(midi, stand.naming()),
        centre,
        live,
    })
}

/// "cents sharp", "cents flat" or "cents" for a value that rounds to none.
fn direction(centre: Cents) -> &'static str {
    match centre.0.round() {
        c if c > 0.0 => "cents sharp",
        c if c < 0.0 => "cents flat",
        _ => "cents",
    }
}

/// What a screen reader says of the note.
pub fn spoken(stand: &Stand) -> String {
    if !stand.revealed() {
        return "listening".to_owned();
    }
    let Some(said) = said(stand) else {
        return "no note yet".to_owned();
    };
    let of = if said.live { "note" } else { "last note" };
    match said.centre {
        Some(centre) => format!(
            "{of} {}, centre {:.0} {} {}",
            said.name,
            centre.value.0.abs(),
            direction(centre.value),
            words::doubt(centre.se.map(Cents::get))
        ),
        None => format!("{of} {}", said.name),
    }
}

/// Draws the head into `area`.
pub fn note_head_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let said = said(stand);
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &stand.calm().note));
    if !ui.is_rect_visible(area) {
        return;
    }
    let sizes = &theme.sizes;
    let painter = ui.painter_at(area.expand(4.0));
    let foot = area.top() + sizes.figure_height + 12.0;
    let at = pos2(area.left(), foot);
    let Some(said) = said else {
        if stand.source.trouble().is_some() {
            return;
        }
        let word = theme.figure_font(sizes.big_word);
        pen::write(&painter, at, "Play a note", word, theme.soft_ink);
        return;
    };
    let ink = if said.live { theme.ink } else { theme.soft_ink };
    let figures = theme.figure_font(sizes.figure);
    pen::write(&painter, at, &said.name, figures.clone(), ink);
    // The figure starts at one place for all names of usual length, so that it does not jump.
    let name_slot = pen::width(&painter, "C♯4", figures.clone()) + 26.0;
    let name_wide = pen::width(&painter, &said.name, figures.clone()) + 26.0;
    let left = area.left() + name_slot.max(name_wide);
    let Some(centre) = said.centre else { return };
    // The figure ends at one place, next to its unit.
    let figure = words::signed(centre.value.0, 0);
    let slot = pen::width(&painter, "+00", figures.clone());
    let wide = pen::width(&painter, &figure, figures.clone());
    let at = pos2(left + (slot - wide).max(0.0), foot);
    let right = pen::write(&painter, at, &figure, figures, ink);
    let small = theme.word_font(sizes.word);
    let doubt = words::doubt(centre.se.map(Cents::get));
    let unit = format!("cents {doubt}");
    let soft = theme.soft_ink;
    pen::write(&painter, pos2(right + 12.0, foot), &unit, small, soft);
    let caption = if said.live { "centre" } else { "last note" };
    pen::write(
        &painter,
        pos2(right + 12.0, foot - sizes.word - 10.0),
        caption,
        theme.word_font(sizes.caption),
        soft,
    );
}
