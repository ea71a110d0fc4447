//! The turns of the round in a row: fingers in their order, with what was made of each.

use super::wave_axis::turn;
use super::{Phase, RoomContext, wording};
use crate::widgets::pen;
use coach::Showing;
use egui::{Id, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};

/// Room of one turn at most, in heights of its figure.
const CELL: f32 = 3.2;

/// How high the strip is.
pub(super) fn height(context: &RoomContext) -> f32 {
    let sizes = &context.theme.sizes;
    1.35 * sizes.word + 1.5 * sizes.caption
}

/// What was made of a turn, where it may be seen by now.
fn made(context: &RoomContext, number: usize) -> Option<u32> {
    let known = context.room.known();
    let shown = match context.shell.options().showing {
        Showing::Live => true,
        Showing::AfterNote => number < known.turn,
        Showing::AfterRound => false,
    };
    // Nothing is made yet of the turn that has begun.
    let begun = number == turn(context.room) && context.room.phase() == Phase::Round;
    let made = known.counts.get(number).copied();
    made.or(begun.then_some(0)).filter(|_| shown)
}

/// Draws the strip into `area`.
pub(super) fn turns_strip_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let Some(practice) = context.room.practice() else {
        return;
    };
    let (asked, theme) = (practice.asked(), context.theme);
    let sizes = &theme.sizes;
    let here = turn(context.room);
    let least = 2.6 * sizes.caption;
    let fits = ((area.width() / least) as usize).clamp(1, asked.len().max(1));
    // Where not all have room, those around the one that is played.
    let from = here.saturating_sub(fits / 2).min(asked.len() - fits.min(asked.len()));
    let wide = (area.width() / fits as f32).min(CELL * sizes.word);
    for (place, number) in (from..(from + fits).min(asked.len())).enumerate() {
        let turn = &asked[number];
        let cell = Rect::from_min_size(
            pos2(area.left() + place as f32 * wide, area.top()),
            vec2(wide, area.height()),
        );
        let made = made(context, number);
        let count = match (made, turn.count) {
            (Some(made), Some(count)) => format!("{made} of {count}"),
            (None, Some(count)) => format!("{count}"),
            _ => String::new(),
        };
        let response = ui.interact(cell, Id::unique(("turn", number)), Sense::hover());
        response.widget_info(|| {
            let who = wording::who(turn, context.shell.naming());
            let now = if number == here { ", now" } else { "" };
            let said = match (made, turn.count) {
                (Some(made), Some(count)) => {
                    format!("note {} ({who}): {made} of {count}{now}", number + 1)
                }
                (None, Some(count)) => format!("note {} ({who}): {count} asked{now}", number + 1),
                _ => format!("note {} ({who}){now}", number + 1),
            };
            WidgetInfo::labeled(Role::Label, true, said)
        });
        let painter = ui.painter_at(cell);
        if number == here {
            painter.rect_filled(cell.shrink2(vec2(2.0, 0.0)), 3.0, theme.patch);
            let line = egui::Stroke::new(sizes.value, theme.ink);
            painter.hline(cell.x_range().shrink(2.0), cell.top() + 1.0, line);
        }
        let ink = if number < here { theme.soft_ink } else { theme.ink };
        let sign = wording::sign(turn.finger);
        let font = theme.figure_font(1.15 * sizes.word);
        let left = cell.center().x - pen::width(&painter, &sign, font.clone()) / 2.0;
        let foot = cell.top() + 1.15 * sizes.word;
        pen::write(&painter, pos2(left, foot), &sign, font, ink);
        let font = theme.word_font(sizes.caption);
        let font = pen::fitting(&painter, &count, font, cell.width() - 6.0);
        let left = cell.center().x - pen::width(&painter, &count, font.clone()) / 2.0;
        let foot = cell.bottom() - 0.45 * sizes.caption;
        let ink = if made.is_some() { theme.ink } else { theme.soft_ink };
        pen::write(&painter, pos2(left, foot), &count, font, ink);
    }
}
