//! The note that sounds or sounded last: its name, how far its centre lies from what it is measured
//! against, and what that is.

use crate::stand::picture::Sounding;
use crate::stand::state::{From, Stand};
use crate::stand::words;
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::terms::explained;
use coach::{Around, Swing};
use egui::{Id, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use tuning::{Cents, figure, pitch_name};
use vibrato::Measure;

/// As many cycles of a note that sounds say how its swing lies.
const CYCLES: usize = 3;

/// What the head says.
#[derive(Clone, Debug, PartialEq)]
struct Said {
    name: String,
    centre: Option<Measure<Cents>>,
    against: String,
    live: bool,
}

fn said(stand: &Stand) -> Option<Said> {
    let picture = stand.picture();
    let (midi, reference, centre, live) = match picture.sounding {
        Sounding::Note(live) => (live.midi, live.reference, Some(live.centre), true),
        Sounding::Begun(begun) => (begun.midi, begun.reference, None, true),
        Sounding::Silence => {
            let note = picture.last.as_ref()?;
            let centre = note.vibrato.as_ref().map_or(note.offset, |v| v.centre);
            (note.midi, note.reference, Some(centre), false)
        }
    };
    let its = stand.reference(midi);
    let shift = reference.cents_above(its.f0).0;
    let name = pitch_name(midi, stand.shell.naming());
    let around = if live { around_now(stand, shift) } else { stand.around() };
    let against = match around.filter(|_| its.from == From::Own && stand.revealed()) {
        Some(around) => words::around(around, &format!("your own {name}")),
        None => words::against(stand, midi),
    };
    let below = stand.shell.options().swing == Swing::Below && !stand.without_vibrato();
    let against = if below { format!("{against} · vibrato below the note") } else { against };
    Some(Said {
        name,
        centre: centre
            .map(|centre| Measure { value: Cents(centre.value.0 + shift), se: centre.se }),
        against,
        live,
    })
}

/// How the last cycles of the note that sounds lie around a reference that its own lies so much above.
fn around_now(stand: &Stand, shift: f64) -> Option<Around> {
    let cycles = &stand.picture().oscillations;
    let count = cycles.len();
    if count < CYCLES {
        return None;
    }
    let mean = |of: fn(&vibrato::Oscillation) -> Cents| {
        cycles.iter().map(|cycle| of(cycle).0).sum::<f64>() / count as f64 + shift
    };
    let (above, below) = (mean(|cycle| cycle.crest), -mean(|cycle| cycle.trough));
    Some(Around { above: Cents(above), below: Cents(below), centre: Cents((above - below) / 2.0) })
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
pub(super) fn spoken(stand: &Stand) -> String {
    if !stand.revealed() {
        return "listening".to_owned();
    }
    let Some(said) = said(stand) else {
        return "no note yet".to_owned();
    };
    let of = if said.live { "note" } else { "last note" };
    let centre = said.centre.map_or_else(String::new, |centre| {
        format!(
            ", centre {:.0} {} {}",
            centre.value.0.abs(),
            direction(centre.value),
            figure::doubt(centre.se.map(Cents::get), 1)
        )
    });
    format!("{of} {}{centre}", said.name)
}

/// Draws the head into `area`.
pub(super) fn note_head_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let said = said(stand);
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &stand.spoken_summary().note));
    explained(response, "centre", theme);
    let sizes = &theme.sizes;
    let foot = area.top() + sizes.figure_height;
    let against = said.as_ref().map_or("", |said| said.against.as_str());
    if !against.is_empty() {
        let response = ui.interact(area, Id::unique("against"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Note, true, against));
    }
    if !ui.is_rect_visible(area) {
        return;
    }
    // A flat sign is taller than the figures.
    let painter = ui.painter_at(area.expand(0.1 * sizes.figure));
    let at = pos2(area.left(), foot);
    let Some(said) = said else {
        if stand.shell.source.trouble().is_none() {
            let word = theme.figure_font(sizes.big_word);
            pen::write(&painter, at, "Play a note", word, theme.soft_ink);
        }
        return;
    };
    let in_doubt = matches!(stand.picture().sounding, Sounding::Note(live) if live.two_strings);
    let ink = if said.live && !in_doubt { theme.ink } else { theme.soft_ink };
    let figures = theme.figure_font(sizes.figure);
    pen::write(&painter, at, &said.name, figures.clone(), ink);
    // The words start at one place for all names of usual length, so that they do not jump.
    let name_slot = pen::width(&painter, "C♯4", figures.clone());
    let name_wide = pen::width(&painter, &said.name, figures);
    let left = area.left() + name_slot.max(name_wide) + 0.3 * sizes.figure;
    let room = area.right() - left;
    let line = match said.centre {
        _ if !stand.revealed() => "hidden while you listen".to_owned(),
        _ if stand.without_vibrato() => {
            let swings = stand.picture().swings();
            if swings { "the pitch swings" } else { "without vibrato" }.to_owned()
        }
        Some(centre) => {
            let doubt = figure::doubt(centre.se.map(Cents::get), 1);
            format!("centre {} {doubt} cents", figure::signed(centre.value.0, 0))
        }
        None => String::new(),
    };
    let under = pos2(left, area.bottom() - 0.6 * sizes.caption);
    let above = pos2(left, under.y - 1.3 * sizes.caption);
    let font = pen::fitting(&painter, &line, theme.word_font(sizes.word), room);
    pen::write(&painter, above, &line, font, ink);
    let small = pen::fitting(&painter, &said.against, theme.word_font(sizes.caption), room);
    pen::write(&painter, under, &said.against, small, theme.soft_ink);
}
