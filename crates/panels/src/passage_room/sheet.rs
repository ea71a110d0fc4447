//! Staff, planned ribbon and played ribbon, on one axis of time.

use super::axis::Axis;
use super::state::ZERO;
use super::{Drag, Opened, Pass, PassageAction, Phase, PlanAction, RoomContext, wording};
use crate::theme::Theme;
use crate::widgets::{painter, pen};
use coach::follow::How;
use coach::plan::{Edit, Go, Passage, Pitch};
use coach::played::{Checked, PlayedNote, words};
use egui::{
    Align2, Id, Painter, Pos2, Rangef, Rect, Response, Role, Sense, Stroke, Ui, WidgetInfo, pos2,
    vec2,
};
use pictures::{Meaning, POINTS_A_CENT, Picture, Sounded, planned_ribbons, played_ribbons};
use tuning::{Cents, Tuning};

/// Points between two lines of the staff in a window of the usual size.
const SPACE: f32 = 10.0;
/// The staff takes no more than this of the height.
const STAFF: f32 = 0.42;
/// Of what is left, the planned ribbon takes so much.
const PLANNED: f32 = 0.45;
/// Ribbons so low, in sizes of captions, go without the names of notes.
const LOW: f32 = 5.0;
/// A mouse that is held moves so far, in points, before anything is brushed or pulled.
const PULL: f32 = 5.0;
/// So many notes are marked at most.
const MARKS: usize = 2;

/// Where each part lies.
struct Parts {
    /// The top line of the staff.
    top_line: f32,
    planned: Rect,
    /// The feet of the names of notes, if there is room for them.
    names: Option<f32>,
    played: Rect,
    marks: f32,
}

/// Draws it into `area`.
pub(super) fn sheet_ui(
    ui: &Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<PassageAction>,
) {
    let (room, theme) = (context.room, context.theme);
    let Some(opened) = room.opened() else { return };
    let sense = if room.editing().is_some() { Sense::click_and_drag() } else { Sense::hover() };
    let response = ui.interact(area, Id::unique("passage sheet"), sense);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(context, opened)));
    let sizes = &theme.sizes;
    let reach = opened.staff().reach();
    let most = STAFF * area.height() / (reach.span() + 2.5);
    let space = (SPACE * sizes.grown.strokes).min(most);
    let words = ["planned", "played"].map(|word| label_width(ui, word, theme));
    let label = words[0].max(words[1]) + sizes.between;
    let left = area.left() + (opened.staff().widths().0 * space).max(label);
    let axis = Axis::of(opened, here(context), Rangef::new(left, area.right()), space);
    let parts = parts(area, &axis, reach, context);
    actions.extend(edited(ui, &response, context, opened, &axis, &parts).map(PassageAction::Plan));
    let clip = ui.clip_rect().intersect(area.expand(2.0));
    let (hidden, asks) = (room.hides(), room.phase() == Phase::Asking);
    if !hidden || asks {
        bands(&ui.painter_at(clip), context, opened, &axis, &parts);
    }
    painter::show(ui, area, clip, theme, |picture| {
        let origin = pos2(axis.x(0.0), parts.top_line);
        let seen = Rangef::new(axis.seen.min * axis.space, (axis.seen.max - 0.01) * axis.space);
        opened.staff().draw(picture, origin, axis.space, seen, true);
        bars(picture, opened, &axis, &parts, hidden);
        if !hidden {
            ribbons(picture, context, opened, &axis, &parts);
        }
    });
    let painter = ui.painter_at(clip);
    if hidden {
        if asks {
            caret(&painter, context, opened, &axis, &parts);
        }
        return;
    }
    labels(&painter, area, &parts, context);
    names(&painter, opened, &axis, &parts, theme);
    caret(&painter, context, opened, &axis, &parts);
    marks(&painter, context, opened, &axis, &parts);
}

fn label_width(ui: &Ui, word: &str, theme: &Theme) -> f32 {
    pen::width(ui.painter(), word, theme.word_font(theme.sizes.caption))
}

/// The note that is looked at: its page is seen.
fn here(context: &RoomContext) -> usize {
    let room = context.room;
    let worst = || {
        let checked = room.checked(room.pass()).filter(|_| room.phase() == Phase::After)?;
        let (place, _) = checked.worst().first().copied()?;
        checked.notes[place].aligned.note
    };
    let playing = room.place().map(|(now, _)| now.note);
    let edited = room.editing().map(|editing| editing.note());
    edited.or(room.note()).or(playing).or_else(worst).unwrap_or(0)
}

fn parts(area: Rect, axis: &Axis, reach: Rangef, context: &RoomContext) -> Parts {
    let sizes = &context.theme.sizes;
    let editing = context.room.editing().is_some();
    let top_line = area.top() + sizes.between - reach.min.min(-1.5) * axis.space;
    let staff_foot = top_line + reach.max.max(5.5) * axis.space + 1.2 * sizes.scale;
    let marks = if editing { area.bottom() } else { area.bottom() - 1.6 * sizes.caption };
    let room = marks - staff_foot;
    let name = 1.3 * sizes.caption;
    let with_names = room - name > LOW * sizes.caption;
    let under = if with_names { name } else { 0.0 };
    // While it is edited there is nothing but the plan.
    let share = if editing { 1.0 } else { PLANNED };
    let planned_foot = staff_foot + share * (room - under);
    let planned = Rect::from_x_y_ranges(axis.x_range(), staff_foot..=planned_foot);
    let played = Rect::from_x_y_ranges(axis.x_range(), planned.bottom() + under..=marks);
    let names = with_names.then_some(planned.bottom() + 0.95 * sizes.caption);
    Parts { top_line, planned, names, played, marks }
}

/// What the mouse does to a plan that is edited.
fn edited(
    ui: &Ui,
    response: &Response,
    context: &RoomContext,
    opened: &Opened,
    axis: &Axis,
    parts: &Parts,
) -> Option<PlanAction> {
    let editing = context.room.editing()?;
    if response.drag_stopped() {
        return Some(PlanAction::Drop);
    }
    let here = response.interact_pointer_pos()?;
    let note_at = |at: Pos2| {
        let begins = |note: &usize| !opened.passage.notes()[*note].tie;
        let holds = |note: &usize| axis.of_note(opened, *note).is_some_and(|x| x.contains(at.x));
        (0..opened.passage.notes().len()).filter(begins).find(holds)
    };
    if response.clicked() {
        let extend = ui.input(|input| input.modifiers.shift);
        let to = Go::To(note_at(here)?);
        return Some(PlanAction::Make(Edit::Go { to, extend }));
    }
    let origin = ui.input(|input| input.pointer.press_origin()).filter(|_| response.dragged())?;
    let moved = here - origin;
    // Which way it goes is not known before.
    if moved.length() < PULL && !editing.holds() {
        return None;
    }
    let points = POINTS_A_CENT * f64::from(context.theme.sizes.grown.strokes);
    Some(PlanAction::Drag(Drag {
        from: note_at(origin)?,
        to: note_at(here).unwrap_or(note_at(origin)?),
        // Both edges of the ribbon move.
        wider: Cents((-2.0 * f64::from(moved.y) / points).round()),
        over: moved.x.abs() >= moved.y.abs() || origin.y < parts.planned.top(),
    }))
}

/// Bar lines through the ribbons, with the numbers of the bars.
fn bars(picture: &mut Picture, opened: &Opened, axis: &Axis, parts: &Parts, hidden: bool) {
    let foot = parts.planned.top() - 0.2 * picture.sizes.scale;
    let lines = opened.staff().bar_lines();
    for (number, x) in lines.filter(|(_, x)| *x >= axis.seen.min && *x < axis.seen.max) {
        let x = axis.x(x);
        picture.write(
            Meaning::ScaleNumber,
            pos2(x + 0.6 * picture.sizes.scale, foot),
            &number.to_string(),
        );
        if !hidden {
            picture.vline(Meaning::Guide, x, Rangef::new(parts.planned.top(), parts.marks));
        }
    }
    if !hidden {
        let end = axis.x_range().max;
        picture.vline(Meaning::Guide, end, Rangef::new(parts.planned.top(), parts.marks));
        picture.hline(Meaning::Guide, axis.x_range(), parts.played.top());
    }
}

fn ribbons(
    picture: &mut Picture,
    context: &RoomContext,
    opened: &Opened,
    axis: &Axis,
    parts: &Parts,
) {
    let room = context.room;
    let editing = room.editing().is_some();
    let straight = room.pass() == Pass::Straight && !editing;
    let plan = if straight { &opened.straight } else { &opened.passage };
    planned_ribbons(picture, plan, parts.planned, |note| axis.of_note(opened, note));
    if editing {
        return;
    }
    let tuning = context.shell.tuning();
    match room.done() {
        Some(done) => {
            let notes = sounded(&done.checked, opened, axis, &tuning);
            played_ribbons(picture, plan, parts.played, &notes, &done.heard, straight);
        }
        None => {
            let notes = passed(context, opened, axis, &tuning);
            played_ribbons(picture, plan, parts.played, &notes, room.points(), straight);
        }
    }
}

/// The planned pitch of a note.
fn line(passage: &Passage, note: usize, tuning: &Tuning) -> Cents {
    match passage.notes()[note].pitch {
        Pitch::Single(one) => {
            let a4 = passage.a4.unwrap_or(tuning.a4);
            Tuning { a4, ..*tuning }.frequency(one.midi()).cents_above(ZERO)
        }
        _ => Cents(0.0),
    }
}

/// Notes that were found in a pass, the last time that each was played.
fn sounded<'a>(
    checked: &'a Checked,
    opened: &Opened,
    axis: &Axis,
    tuning: &Tuning,
) -> Vec<Sounded<'a>> {
    let shown = |one: &&PlayedNote| {
        use How::{LeftOut, OtherPitch, Played, Unheard};
        matches!(one.aligned.how, Played | OtherPitch | LeftOut | Unheard)
    };
    let notes: Vec<&PlayedNote> = checked.notes.iter().filter(shown).collect();
    let heads = opened.heads();
    let mut all: Vec<Sounded> = Vec::with_capacity(notes.len());
    for (at, one) in notes.iter().enumerate() {
        let aligned = one.aligned;
        let Some(note) = aligned.note else { continue };
        let Some(time) = axis.of_note(opened, note).filter(|time| axis.shows(*time)) else {
            continue;
        };
        let next = heads.binary_search(&note).ok().and_then(|at| heads.get(at + 1));
        let follows = notes.get(at + 1).filter(|after| {
            let sounds = after.aligned.how != How::LeftOut;
            sounds && after.aligned.note == next.copied() && aligned.how != How::LeftOut
        });
        let to = follows.and_then(|after| {
            let x = axis.of_note(opened, after.aligned.note?)?.min;
            Some((after.aligned.start, x))
        });
        let (until, x) = to.unwrap_or((aligned.end, time.max));
        all.retain(|before| before.note != note);
        all.push(Sounded {
            note,
            how: aligned.how,
            start: aligned.start,
            end: if aligned.end < until { aligned.end } else { until },
            until,
            x: Rangef::new(time.min, x),
            line: line(&opened.passage, note, tuning),
            course: &one.course,
        });
    }
    all
}

/// Notes that the player has passed in the pass that goes on.
fn passed(
    context: &RoomContext,
    opened: &Opened,
    axis: &Axis,
    tuning: &Tuning,
) -> Vec<Sounded<'static>> {
    let spans = context.room.passed().iter();
    let notes = spans.filter_map(|span| {
        let x = axis.of_note(opened, span.note)?;
        let double = matches!(opened.passage.notes()[span.note].pitch, Pitch::Double(..));
        Some(Sounded {
            note: span.note,
            how: if double { How::Unheard } else { How::Played },
            start: span.start,
            end: span.end,
            until: span.end,
            x,
            line: line(&opened.passage, span.note, tuning),
            course: &[],
        })
    });
    notes.collect()
}

fn labels(painter: &Painter, area: Rect, parts: &Parts, context: &RoomContext) {
    let theme = context.theme;
    let font = theme.word_font(theme.sizes.caption);
    for (word, rect) in [("planned", parts.planned), ("played", parts.played)] {
        let at = pos2(area.left(), rect.center().y);
        if word == "played" && context.room.editing().is_some() {
            return;
        }
        let ink = if word == "planned" { theme.soft_ink } else { theme.ink };
        painter.text(at, Align2::LEFT_CENTER, word, font.clone(), ink);
    }
}

/// The names of the notes under their ribbons, as far as they have room: behind a short note's a name may stand a little to the right.
fn names(painter: &Painter, opened: &Opened, axis: &Axis, parts: &Parts, theme: &Theme) {
    let Some(foot) = parts.names else { return };
    let font = theme.word_font(theme.sizes.scale);
    let mut free = f32::NEG_INFINITY;
    for &note in opened.heads() {
        let Some(x) = axis.of_note(opened, note).filter(|x| axis.shows(*x)) else { continue };
        let name = wording::name(&opened.passage.notes()[note]);
        let at = pos2(free.max(x.min + 2.0), foot);
        let right = at.x + pen::width(painter, &name, font.clone());
        if at.x <= x.center().max(x.min + 2.0) && right <= axis.x_range().max {
            pen::write(painter, at, &name, font.clone(), theme.soft_ink);
            free = right + 0.4 * theme.sizes.scale;
        }
    }
}

/// A soft band behind all notes that the player may be at, or behind the one that was walked to.
fn bands(painter: &Painter, context: &RoomContext, opened: &Opened, axis: &Axis, parts: &Parts) {
    let (room, theme) = (context.room, context.theme);
    let chosen = room.editing().map(|editing| editing.chosen().collect());
    let walked = chosen.or_else(|| room.note().map(|note| vec![note]));
    let playing = || room.place().map(|(now, _)| now.may_be.clone());
    let y = Rangef::new(parts.planned.top(), parts.marks);
    let notes = walked.or_else(playing).unwrap_or_default();
    for x in notes.iter().filter_map(|&note| axis.of_note(opened, note)) {
        if axis.shows(x) {
            let band = Rect::from_x_y_ranges(x, y).shrink2(vec2(1.0, 0.0));
            painter.rect_filled(band, 2.0, theme.faded(theme.doubt, 0.5));
        }
    }
}

/// Where the player is: a stroke; of a note that was walked to, its beginning.
fn caret(painter: &Painter, context: &RoomContext, opened: &Opened, axis: &Axis, parts: &Parts) {
    let (room, theme) = (context.room, context.theme);
    let y = Rangef::new(parts.planned.top(), parts.marks);
    let walked = room.editing().map(|editing| editing.note()).or(room.note());
    let at = match (walked, room.place()) {
        (Some(note), _) => axis.of_note(opened, note).map(|x| x.min),
        (None, Some((now, since))) => axis.of_note(opened, now.note).map(|x| {
            let beats = opened.passage.notes()[now.note].beats.get();
            let played = (room.time().0 - since.0) / (beats * room.beat().0).max(0.05);
            x.min + x.span() * played.clamp(0.0, 1.0) as f32
        }),
        (None, None) => None,
    };
    let Some(at) = at else { return };
    if !axis.shows(Rangef::new(at, at + 1.0)) {
        return;
    }
    painter.vline(at, y, Stroke::new(theme.sizes.value, theme.ink));
    let side = 0.55 * theme.sizes.scale;
    let corners = vec![
        pos2(at - side, y.min - side),
        pos2(at + side, y.min - side),
        pos2(at, y.min + 0.4 * side),
    ];
    painter.add(egui::Shape::convex_polygon(corners, theme.ink, Stroke::NONE));
}

/// The notes that matter most, underlined, with what differs.
fn marks(painter: &Painter, context: &RoomContext, opened: &Opened, axis: &Axis, parts: &Parts) {
    let (room, theme) = (context.room, context.theme);
    let Some(done) = room.done() else { return };
    let font = theme.word_font(theme.sizes.caption);
    let foot = parts.marks + 1.2 * theme.sizes.caption;
    let worst = done.checked.worst();
    let mut marked: Vec<(Rangef, String)> = worst
        .iter()
        .take(MARKS)
        .filter_map(|(place, difference)| {
            let note = done.checked.notes[*place].aligned.note?;
            let x = axis.of_note(opened, note).filter(|x| axis.shows(*x))?;
            Some((x, words(difference)))
        })
        .collect();
    marked.sort_by(|a, b| a.0.min.total_cmp(&b.0.min));
    let mut right = axis.x_range().max;
    let mut free = axis.x_range().min;
    let widths: Vec<f32> =
        marked.iter().map(|(_, said)| pen::width(painter, said, font.clone())).collect();
    // What comes later needs its room, too.
    let later: f32 = widths.iter().skip(1).map(|wide| wide + theme.sizes.caption).sum();
    right -= later;
    for ((x, said), wide) in marked.iter().zip(&widths) {
        let line = Stroke::new(1.4 * theme.sizes.value, theme.attention);
        painter.hline(Rangef::new(x.min + 2.0, x.max - 2.0), parts.marks, line);
        let left = x.min.min(right - wide).max(free);
        if left + wide <= axis.x_range().max + 0.5 {
            pen::write(painter, pos2(left, foot), said, font.clone(), theme.attention);
            free = left + wide + theme.sizes.caption;
        }
        right += wide + theme.sizes.caption;
    }
}

/// What a screen reader says of it.
fn spoken(context: &RoomContext, opened: &Opened) -> String {
    let room = context.room;
    let passage = &opened.passage;
    let place = |note: usize| {
        let plan = &passage.notes()[note];
        format!("{} in bar {}", wording::name(plan), plan.at.bar)
    };
    if let Some(editing) = room.editing() {
        let here = place(editing.note());
        return format!("staff and ribbons of {}: its plan, at {here}", passage.title);
    }
    let state = match room.phase() {
        Phase::Choosing | Phase::Ready | Phase::Editing => "before the pass".to_owned(),
        Phase::CountIn => "counting in".to_owned(),
        Phase::Playing if room.pass() == Pass::Unseen => "playing, not shown".to_owned(),
        Phase::Playing => match room.place() {
            Some((now, _)) => format!("playing, at {}", place(now.note)),
            None => "waiting for the first note".to_owned(),
        },
        Phase::Judging => "being looked at".to_owned(),
        Phase::Asking => "asked of, not shown".to_owned(),
        Phase::After => "what was found".to_owned(),
    };
    let walked = room.note().map(|note| format!("; at {}", place(note)));
    format!(
        "staff and ribbons of {}: pass {}, {}, {state}{}",
        passage.title,
        room.pass().number(),
        room.pass().name(),
        walked.unwrap_or_default()
    )
}
