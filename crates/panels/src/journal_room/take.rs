//! The chosen take: what it is, its trace, how it is listened to, its notes with their measures.

use super::by_finger::{by_finger, fingers_ui, odd};
use super::commands::{
    AS_ECHO, AS_MODEL, BACK, COMPARE, DELETE, HALF_SPEED, KEEP, LOOP, OPEN, PART_FROM, PART_TO,
    PLAY, REPORT,
};
use super::list::{one_line, ring};
use super::wording;
use super::{Ask, JournalAction, JournalRoom, Opened, TraceOf};
use super::{judge, labels, take_trace};
use crate::shell::Shell;
use crate::theme::Theme;
use crate::widgets::form::Form;
use crate::widgets::paging::{PEDAL, tell_scrolled, turn_pages};
use crate::widgets::terms::explained;
use egui::style::ScrollAnimation;
use egui::{Id, Label, Rect, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, pos2, vec2};
use journal::{Entry, NoteMeasures, TakeFile};
use tuning::{Secs, figure, pitch_name};
use vibrato::{Quantity, Shown};

/// A turn of the page, as a share of the height that is seen.
pub(super) const PAGE: f32 = 0.85;
/// Height of a row of the notes, as a share of the type size.
const ROW: f32 = 1.65;
/// Rows so near to what is seen can be reached by Tab.
const NEAR: f32 = 12.0;
/// Height of the trace: this share of what is left, and at least and at most so many type sizes.
const TRACE_SHARE: f32 = 0.45;
const TRACE: (f32, f32) = (8.0, 32.0);

/// Draws it into what is left of `ui`; `alone` where the list is not beside it.
pub(super) fn take_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    alone: bool,
    actions: &mut Vec<JournalAction>,
) {
    let Some(entry) = room.chosen_entry() else {
        form.note(ui, "Choose a take to see it here.");
        return;
    };
    let height = ui.available_height();
    ScrollArea::vertical().id_salt("take").auto_shrink(false).show(ui, |ui| {
        tell_scrolled(ui);
        ui.set_width(ui.available_width() - 4.0);
        if alone {
            turn_pages(ui, PAGE * ui.clip_rect().height(), PEDAL);
        }
        title_ui(ui, room, entry, (form, shell), alone, actions);
        let opened = room.opened.as_ref().filter(|o| o.id == entry.id);
        care_ui(ui, room, entry, (form, shell), actions);
        match opened {
            Some(opened) => opened_ui(ui, room, opened, shell, form, height, actions),
            None => {
                actions.extend(OPEN.button_ui(ui, form, room, shell));
                form.note(ui, "Its trace, its notes with their measures, and its sound.");
            }
        }
    });
}

fn title_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    entry: &Entry,
    (form, shell): (&Form, &Shell),
    alone: bool,
    actions: &mut Vec<JournalAction>,
) {
    ui.horizontal_wrapped(|ui| {
        if alone && BACK.button_ui(ui, form, room, shell).is_some() {
            actions.push(JournalAction::Back);
        }
        form.heading(ui, &finding(room, entry, shell));
    });
    let mut about = vec![
        wording::take_in_full(&entry.id),
        wording::length(f64::from(entry.length_s)),
        wording::counted(entry.notes.len(), "note", "notes"),
    ];
    let kind = wording::about(entry, shell);
    if !kind.is_empty() {
        about.insert(0, kind);
    }
    if let Some(file) = opened_file(room, entry) {
        let fingers = by_finger(file);
        if let Some(odd) = odd(&fingers) {
            about.insert(0, odd.detail(&fingers));
        }
    }
    let of_passage = opened_file(room, entry).and_then(|file| file.pass.as_ref());
    if let Some(pass) = of_passage {
        about.insert(0, pass.said.iter().skip(1).cloned().collect::<Vec<_>>().join(" "));
    }
    if entry.keep {
        about.push("kept for ever".to_owned());
    }
    if entry.mended {
        about.push("broke off, and was mended".to_owned());
    }
    form.note(ui, &about.join(" · "));
}

/// What stands in the file of the take, if that is the one that is open.
fn opened_file<'a>(room: &'a JournalRoom, entry: &Entry) -> Option<&'a TakeFile> {
    let opened = room.opened.as_ref().filter(|opened| opened.id == entry.id)?;
    opened.file.as_deref()
}

/// The sentence that a take begins with: the finger that stands out, or what was played and how it went.
fn finding(room: &JournalRoom, entry: &Entry, shell: &Shell) -> String {
    // What was found in a passage is said by its headline.
    let file = opened_file(room, entry).filter(|file| file.pass.is_none());
    let odd = file.and_then(|file| odd(&by_finger(file)));
    odd.map_or_else(|| wording::headline(entry, shell), |odd| odd.headline())
}

/// Keep, compare, report, delete.
fn care_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    entry: &Entry,
    (form, shell): (&Form, &Shell),
    actions: &mut Vec<JournalAction>,
) {
    ui.horizontal_wrapped(|ui| {
        for row in [&KEEP, &COMPARE, &REPORT, &DELETE] {
            actions.extend(row.button_ui(ui, form, room, shell));
        }
        if form.button(ui, "Delete for good", "delete for good", room.may_write()) {
            actions.push(JournalAction::Ask(Ask::DeleteForGood(entry.id.clone())));
        }
    });
    if let [Some(first), None] | [None, Some(first)] = room.compared() {
        let next = match *first == entry.id {
            true => "Choose the other in the list.",
            false => "Compare sets this one beside it.",
        };
        let said = format!("To be compared: {}. {next}", wording::take_in_full(first));
        form.note(ui, &said);
    }
}

fn opened_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    opened: &Opened,
    shell: &Shell,
    form: &Form,
    height: f32,
    actions: &mut Vec<JournalAction>,
) {
    if let Some(words) = &opened.trouble {
        form.trouble(ui, &figure::sentence(words));
        return;
    }
    let Some(file) = &opened.file else {
        form.note(ui, "It is being read.");
        return;
    };
    figures_ui(ui, file, form);
    let size = form.size();
    let least = TRACE.0 * size;
    let high = (TRACE_SHARE * height).clamp(least, (TRACE.1 * size).max(least));
    take_trace::take_trace_ui(ui, high, opened, file, shell, form.theme, actions);
    listening_ui(ui, room, opened, (form, shell), actions);
    judge::judge_ui(ui, room, form, actions);
    labels::labels_ui(ui, room, file, shell, form, actions);
    let fingers = by_finger(file);
    if !fingers.is_empty() {
        let odd = odd(&fingers);
        fingers_ui(ui, &fingers, odd.as_ref(), form.theme);
        if let Some(odd) = odd {
            form.note(ui, &odd.leads_on(shell.drill_title("one-finger")));
        }
    }
    // Where no finger is known, the notes are all there is.
    let shown = room.measures_shown || fingers.is_empty();
    if !fingers.is_empty() {
        let text = if shown { "Hide the notes" } else { "All measures" };
        if form.button(ui, text, "all measures", true) {
            actions.push(JournalAction::ShowMeasures(!room.measures_shown));
        }
    }
    if shown {
        notes_ui(ui, opened, file, shell, form.theme, actions);
    }
}

/// The take as a whole, each measure with its doubt.
fn figures_ui(ui: &mut Ui, file: &TakeFile, form: &Form) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.4 * form.size();
        for quantity in [Quantity::Rate, Quantity::Width, Quantity::Centre] {
            let Some(mean) = file.mean(quantity) else { continue };
            let text = format!("{} {}", quantity.name(), quantity.wording(Some(mean.measure())));
            ui.add(Label::new(RichText::new(text).size(form.theme.sizes.word)).extend());
        }
    });
}

/// What is pressed to listen.
fn listening_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    opened: &Opened,
    (form, shell): (&Form, &Shell),
    actions: &mut Vec<JournalAction>,
) {
    let played = &opened.played;
    let sound = !matches!(opened.trace, TraceOf::None(_));
    ui.horizontal_wrapped(|ui| {
        actions.extend(PLAY.button_ui(ui, form, room, shell));
        let at =
            format!("{} of {}", wording::length(played.at.0), wording::length(length(opened).0));
        let place = ui.label(&at);
        place.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("place: {at}")));
        for row in [&HALF_SPEED, &LOOP, &PART_FROM, &PART_TO] {
            actions.extend(row.button_ui(ui, form, room, shell));
        }
        let whole = played.part == (Secs(0.0), length(opened));
        if form.button(ui, "All of it", "part: all of it", sound && !whole) {
            actions.push(JournalAction::PartAll);
        }
        for row in [&AS_MODEL, &AS_ECHO] {
            actions.extend(row.button_ui(ui, form, room, shell));
        }
    });
}

/// How long the take is, as its file says.
pub(super) fn length(opened: &Opened) -> Secs {
    let file = opened.file.as_ref();
    file.map_or(opened.played.part.1, |file| Secs(file.length_s))
}

/// What a note has in a column.
type Told = Box<dyn Fn(&NoteMeasures, &Shell) -> String>;

/// A column of the notes: its head, its width as a share of the type size, what a note has there.
struct Column {
    head: String,
    width: f32,
    of: Told,
}

impl Column {
    fn new(head: &str, width: f32, of: fn(&NoteMeasures, &Shell) -> String) -> Self {
        Self { head: head.to_owned(), width, of: Box::new(of) }
    }

    /// The column of a measure, as wide as its head, and no narrower than a number with its doubt.
    fn measured(quantity: Quantity) -> Self {
        let head = quantity.headed();
        let width = (HEAD_LETTER * head.chars().count() as f32 + 0.3).max(FIGURE_WIDTH);
        Self { head, width, of: Box::new(move |note, _| measured(note, quantity)) }
    }
}

/// A letter of a head, as a share of the type size.
const HEAD_LETTER: f32 = 0.5;
/// A number with its doubt, as a share of the type size.
const FIGURE_WIDTH: f32 = 5.6;

/// The columns, the most wanted first: as many are shown as there is room for.
fn columns() -> Vec<Column> {
    let first = [Quantity::Rate, Quantity::Width, Quantity::Centre, Quantity::RateSpread];
    let others = Quantity::of_vibrato()
        .filter(|quantity| quantity.row().shown >= Shown::InTables && !first.contains(quantity));
    let wanted = [
        Column::new("note", 3.2, |note, shell| pitch_name(note.midi, shell.naming())),
        Column::new("from", 4.0, |note, _| format!("{:.1} s", note.start_s)),
        Column::new("rate, Hz", 5.6, |note, _| match &note.vibrato {
            Some(_) => measured(note, Quantity::Rate),
            None => note.course().word().to_owned(),
        }),
        Column::new("width, c", 5.0, |note, _| measured(note, Quantity::Width)),
        Column::new("centre, c", 6.2, |note, _| measured(note, centre_of(note))),
        Column::new("finger", 3.8, |note, _| match note.finger {
            Some(0) => "thumb".to_owned(),
            Some(finger) => finger.to_string(),
            None => String::new(),
        }),
        Column::measured(Quantity::RateSpread),
        Column::new("lasts", 4.0, |note, _| format!("{:.1} s", note.end_s - note.start_s)),
        Column::new("", 8.0, |note, _| in_words(&note.remarks)),
    ];
    wanted.into_iter().chain(others.map(Column::measured)).collect()
}

/// The remarks in words; which of two strings was still is a number, and not for here.
fn in_words(remarks: &[String]) -> String {
    let words = remarks.iter().filter(|remark| !remark.starts_with("still-"));
    words.map(|remark| remark.replace('-', " ")).collect::<Vec<_>>().join(", ")
}

fn measured(note: &NoteMeasures, quantity: Quantity) -> String {
    note.get(quantity).map_or_else(String::new, |known| quantity.figure(Some(known)))
}

/// Where a note lies: the centre of its vibrato, or its offset.
fn centre_of(note: &NoteMeasures) -> Quantity {
    if note.vibrato.is_some() { Quantity::Centre } else { Quantity::Offset }
}

/// The notes, a row each; a press chooses the note as the part that is played.
fn notes_ui(
    ui: &mut Ui,
    opened: &Opened,
    file: &TakeFile,
    shell: &Shell,
    theme: &Theme,
    actions: &mut Vec<JournalAction>,
) {
    let size = theme.sizes.scale;
    let height = (ROW * size).round();
    let width = ui.available_width();
    let mut left = 0.0;
    let all = columns();
    let columns: Vec<(f32, &Column)> = all
        .iter()
        .map_while(|column| {
            let at = left;
            left += column.width * size;
            (left <= width + 0.5).then_some((at, column))
        })
        .collect();
    ui.spacing_mut().item_spacing.y = 0.0;
    ui.add_space(0.4 * size);
    let (head, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    let write = |ui: &Ui, rect: Rect, at: f32, column: &Column, text: &str, ink| {
        let foot = pos2(rect.left() + at, rect.bottom() - 0.25 * size);
        let room = (column.width - 0.3) * size;
        one_line(ui.painter(), foot, text, size, room, ink, theme);
    };
    for (at, column) in &columns {
        write(ui, head, *at, column, &column.head, theme.soft_ink);
        let left = head.left() + at;
        let place = head.with_min_x(left).with_max_x(left + column.width * size);
        let response = ui.interact(place, Id::unique(("head", &column.head)), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, true, &column.head));
        // The unit stands behind the word.
        explained(response, column.head.split(',').next().unwrap_or_default(), theme);
    }
    ui.painter().hline(head.x_range(), head.bottom(), theme.hairline_stroke());
    for (number, note) in file.notes.iter().enumerate() {
        let (rect, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        // What lies far off is reached by what lies before it.
        if !ui.is_rect_visible(rect.expand(NEAR * height)) {
            continue;
        }
        let id = Id::unique(("note", &opened.id, number));
        let response = ui.interact(rect, id, Sense::click());
        if response.gained_focus() {
            response.scroll_to_me_animation(None, ScrollAnimation::none());
        }
        response.widget_info(|| {
            let chosen = is_part(opened, note);
            WidgetInfo::selected(Role::Row, true, chosen, spoken(number, note, shell))
        });
        if response.clicked() {
            actions.push(JournalAction::PartOfNote(number));
        }
        if !ui.is_rect_visible(rect) {
            continue;
        }
        if is_part(opened, note) {
            ui.painter().rect_filled(rect, 2.0, theme.patch);
        }
        let at = opened.played.at.0;
        let sounds_now = opened.played.sounds && (note.start_s..note.end_s).contains(&at);
        let ink = theme.ink;
        for (at, column) in &columns {
            write(ui, rect, *at, column, &(column.of)(note, shell), ink);
        }
        if sounds_now {
            let foot = rect.bottom() - 1.0;
            ui.painter().hline(rect.x_range(), foot, theme.rule_stroke());
        }
        ring(ui, rect, response.has_focus(), theme);
    }
    if file.notes.is_empty() {
        ui.label("No note was heard in it.");
    }
}

/// The part that is played is this note.
fn is_part(opened: &Opened, note: &NoteMeasures) -> bool {
    let (from, to) = opened.played.part;
    (from.0 - note.start_s).abs() < 1e-3 && (to.0 - note.end_s).abs() < 1e-3
}

/// What a screen reader says of a note.
fn spoken(number: usize, note: &NoteMeasures, shell: &Shell) -> String {
    let name = pitch_name(note.midi, shell.naming());
    let mut said = format!("note {}, {name}", number + 1);
    if let Some(finger) = note.finger {
        said += &format!(", {}", wording::finger(finger));
    }
    match &note.vibrato {
        Some(_) => {
            for quantity in Quantity::of_vibrato().filter(|q| q.row().shown >= Shown::InTables) {
                if let Some(known) = note.get(quantity) {
                    said += &format!(", {} {}", quantity.name(), quantity.wording(Some(known)));
                }
            }
        }
        None => {
            let offset = Quantity::Offset.wording(note.get(Quantity::Offset));
            said += &format!(", {}, {offset}", note.course().wording());
        }
    }
    said
}
