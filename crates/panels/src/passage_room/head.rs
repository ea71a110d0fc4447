//! The top of the room: title and pace, and the four passes as a line of steps; or what holds for all of a plan.

use super::{Pass, PassageAction, RoomContext, wording};
use crate::widgets::pen;
use coach::plan::{Passage, PlanNote};
use egui::{
    Id, Painter, Pos2, Rangef, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2,
};

/// Heights as shares of the type size of captions, and the room between two steps of that of what lies between parts.
const TITLE: f32 = 1.7;
const STEPS: f32 = 2.1;
const APART: f32 = 2.0;
/// The tick of a pass that was played, as a share of the type size.
const TICK: f32 = 0.8;

/// How high it is.
pub(super) fn height(context: &RoomContext) -> f32 {
    (TITLE + STEPS) * context.theme.sizes.caption
}

/// Draws it into `area`.
pub(super) fn head_ui(
    ui: &mut Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<PassageAction>,
) {
    let sizes = &context.theme.sizes;
    let (title, steps) = area.split_top_bottom_at_y(area.top() + TITLE * sizes.caption);
    if let Some(editing) = context.room.editing() {
        let passage = editing.passage();
        title_ui(ui, title, &passage.title, &place(passage, editing.note()), context);
        return head_of_plan_ui(ui, steps, &wording::head(passage), context);
    }
    if let Some(opened) = context.room.opened() {
        title_ui(ui, title, &opened.passage.title, &wording::pace(context.room), context);
    }
    let apart = APART * sizes.between;
    let wide = (steps.width() - 3.0 * apart) / 4.0;
    for pass in Pass::ALL {
        let left = steps.left() + pass.place() as f32 * (wide + apart);
        let place = Rect::from_x_y_ranges(left..=left + wide, steps.y_range());
        if step_ui(ui, place, pass, context) {
            actions.push(PassageAction::Pass(pass));
        }
    }
}

/// Where in a plan one is: "note 5 of 16, bar 2".
fn place(passage: &Passage, note: usize) -> String {
    let begins = |note: &&PlanNote| !note.tie;
    let count = |notes: &[PlanNote]| notes.iter().filter(begins).count();
    let (notes, bar) = (passage.notes(), passage.notes()[note].at.bar);
    format!("note {} of {}, bar {bar}", count(&notes[..=note]), count(notes))
}

/// What holds for all of the plan that is edited.
fn head_of_plan_ui(ui: &Ui, area: Rect, said: &str, context: &RoomContext) {
    let theme = context.theme;
    let response = ui.interact(area, Id::unique("passage head"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, said));
    let size = theme.sizes.caption;
    let font = pen::fitting(ui.painter(), said, theme.word_font(size), area.width());
    let foot = pos2(area.left(), area.bottom() - 0.75 * size);
    pen::write(ui.painter(), foot, said, font, theme.soft_ink);
}

fn title_ui(ui: &Ui, area: Rect, title: &str, aside: &str, context: &RoomContext) {
    let theme = context.theme;
    let response = ui.interact(area, Id::unique("passage title"), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Heading, true, format!("passage {title}, {aside}"))
    });
    let painter = ui.painter();
    let foot = area.top() + 0.95 * theme.sizes.caption;
    let font = theme.word_font(theme.sizes.caption);
    let wide = pen::width(painter, aside, font.clone()).min(0.5 * area.width());
    let small = pen::fitting(painter, aside, font.clone(), wide);
    pen::write(painter, pos2(area.right() - wide, foot), aside, small, theme.soft_ink);
    let room = area.width() - wide - theme.sizes.between;
    let font = pen::fitting(painter, title, font, room);
    pen::write(painter, pos2(area.left(), foot), title, font, theme.ink);
}

/// One pass; whether it was pressed.
fn step_ui(ui: &Ui, place: Rect, pass: Pass, context: &RoomContext) -> bool {
    let (room, theme) = (context.room, context.theme);
    let sizes = &theme.sizes;
    let (here, done) = (room.pass() == pass, room.checked(pass).is_some());
    let sense = if room.moving() { Sense::hover() } else { Sense::click() };
    let response = ui.interact(place, Id::unique(("pass", pass.number())), sense);
    response.widget_info(|| {
        let played = if done { ", played" } else { "" };
        let said = format!("pass {}, {}{played}", pass.number(), pass.name());
        WidgetInfo::selected(Role::Tab, true, here, said)
    });
    let painter = ui.painter();
    let size = sizes.caption;
    let tick = if done { 1.5 * TICK * size } else { 0.0 };
    let number = pass.number().to_string();
    let foot = place.bottom() - 0.75 * size;
    let ink = if here || response.hovered() { theme.ink } else { theme.soft_ink };
    let figure = theme.figure_font(1.15 * size);
    let left = pen::write(painter, pos2(place.left(), foot), &number, figure, theme.ink);
    let left = left + 0.5 * size;
    let font = theme.word_font(size);
    let font = pen::fitting(painter, pass.name(), font, place.right() - left - tick);
    pen::write(painter, pos2(left, foot), pass.name(), font, ink);
    if done {
        ticked(painter, pos2(place.right() - TICK * size, foot), TICK * size, context);
    }
    let y = place.bottom() - 0.15 * size;
    let line = match here {
        true => Stroke::new(1.2 * sizes.value, theme.ink),
        false => theme.rule_stroke(),
    };
    painter.hline(Rangef::new(place.left(), place.right()), y, line);
    if response.has_focus() {
        let edge = Stroke::new(sizes.value, theme.ink);
        painter.rect_stroke(place.shrink(1.0), 3.0, edge, StrokeKind::Inside);
    }
    response.clicked()
}

fn ticked(painter: &Painter, foot: Pos2, size: f32, context: &RoomContext) {
    let theme = context.theme;
    let corners = [(0.0, -0.4), (0.35, 0.0), (1.0, -0.85)];
    let line = corners.map(|(x, y)| foot + size * egui::vec2(x, y)).to_vec();
    painter.line(line, Stroke::new(0.7 * theme.sizes.value, theme.ink));
}
