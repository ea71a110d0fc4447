//! The buttons at the foot of the room, each with the key that does the same.

use super::keys::level;
use super::limits::{may_be_free, per_beats};
use super::{DrillAction, Phase, Sight, said};
use crate::pen;
use crate::theme::Theme;
use coach::{Pace, Showing};
use egui::{
    Align2, Id, Painter, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Height of a button, room at both sides of what stands in it, and between buttons, as shares of the
/// type size.
const BUTTON: f32 = 2.0;
const PAD: f32 = 0.55;
const BETWEEN: f32 = 0.35;
/// Distance of the words from their key and from the mark that says on or off; size of that mark.
const APART: f32 = 0.45;
const MARK: f32 = 0.62;
/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;
/// How round the corners of a button are.
const ROUND: f32 = 3.0;
/// So many rows at most; the type shrinks before there are more.
const MOST_ROWS: usize = 2;

/// One button.
pub struct Item {
    action: DrillAction,
    text: String,
    key: &'static str,
    /// What a screen reader calls it.
    name: String,
    /// On or off, where it is a switch.
    on: Option<bool>,
    enabled: bool,
    /// The one that goes on.
    first: bool,
}

fn item(action: DrillAction, text: &str, key: &'static str) -> Item {
    Item {
        action,
        text: text.to_owned(),
        key,
        name: text.to_owned(),
        on: None,
        enabled: true,
        first: false,
    }
}

/// The buttons of now.
pub fn items(sight: &Sight) -> Vec<Item> {
    let room = sight.room;
    let showing = match sight.stand.options().showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the turn",
        Showing::AfterRound => "after the round",
    };
    let showing = Item {
        name: format!("way of showing: {showing}"),
        ..item(DrillAction::Showing, showing, "V")
    };
    let first = |item: Item| Item {
        first: true,
        ..item
    };
    match room.phase() {
        Phase::Choosing => vec![
            first(Item {
                enabled: !room.drills().is_empty(),
                ..item(DrillAction::Choose(room.cursor()), "open", "Enter")
            }),
            item(DrillAction::Reread, "read the files anew", "R"),
        ],
        Phase::Ready => ready(sight, showing),
        Phase::CountIn | Phase::Round => {
            vec![first(item(DrillAction::Stop, "stop", "Space")), showing]
        }
        Phase::Findings => {
            let mut all = vec![first(item(DrillAction::Ready, "again", "Enter"))];
            if let Some(level) = level(sight) {
                let text = format!("on to {level:.0}");
                all.push(Item {
                    name: format!("go to {level:.0} beats a minute"),
                    ..item(DrillAction::Level(level), &text, "Page Down")
                });
            } else if let (below, Some(above)) = room.levels() {
                if let Some(below) = below {
                    let text = format!("down to {below:.0}");
                    all.push(item(DrillAction::Level(below), &text, "Left"));
                }
                let text = format!("up to {above:.0}");
                all.push(item(DrillAction::Level(above), &text, "Right"));
            }
            let rest = room.judged().is_some_and(|round| {
                let kinds = [coach::FindingKind::Rest, coach::FindingKind::Tiring];
                round
                    .findings
                    .iter()
                    .any(|finding| kinds.contains(&finding.kind))
            });
            if rest {
                all.push(item(DrillAction::Rested, "I have rested", "R"));
            }
            all.push(item(DrillAction::Back, "back", "Page Up"));
            all
        }
    }
}

fn ready(sight: &Sight, showing: Item) -> Vec<Item> {
    let room = sight.room;
    let Some(drill) = room.drill() else {
        return Vec::new();
    };
    let switch = |item: Item, on| Item {
        on: Some(on),
        ..item
    };
    let free = drill.pace == Pace::Free;
    let mut all = vec![Item {
        first: true,
        ..item(DrillAction::Ready, "start", "Enter")
    }];
    if !free {
        let click = item(DrillAction::Click(!room.click()), "click", "C");
        all.push(switch(click, room.click()));
        let guide = item(DrillAction::Guide(!room.guided()), "guide tone", "G");
        all.push(switch(guide, room.guided()));
    }
    if may_be_free(drill) {
        let item = item(DrillAction::FreePace(!free), "free pace", "P");
        all.push(switch(item, free));
    }
    all.push(showing);
    all.push(item(DrillAction::Back, "back", "Page Up"));
    all
}

/// How many oscillations a beat can be chosen, each with whether it is.
pub fn beat_choices(sight: &Sight) -> Vec<(f64, String, bool)> {
    let Some(drill) = sight.room.drill() else {
        return Vec::new();
    };
    let Pace::Beat { per_beat: here, .. } = drill.pace else {
        return Vec::new();
    };
    let all = per_beats(drill).into_iter();
    all.map(|each| (each, said::per_beat(each), each == here))
        .collect()
}

fn widths(painter: &Painter, items: &[Item], size: f32, theme: &Theme) -> Vec<f32> {
    items
        .iter()
        .map(|item| {
            let text = pen::width(painter, &item.text, theme.word_font(size));
            let key = pen::width(painter, item.key, theme.word_font(KEY * size));
            let mark = item.on.map_or(0.0, |_| (MARK + APART) * size);
            text + key + mark + (2.0 * PAD + APART) * size
        })
        .collect()
}

/// How many stand in each row.
fn rows(widths: &[f32], room: f32, between: f32) -> Vec<usize> {
    let mut rows = vec![0];
    let mut right = 0.0;
    for &width in widths {
        if right > 0.0 && right + width > room {
            rows.push(0);
            right = 0.0;
        }
        right += width + between;
        if let Some(last) = rows.last_mut() {
            *last += 1;
        }
    }
    rows
}

/// The type size of the buttons, and how many stand in each row.
fn fitting(painter: &Painter, width: f32, items: &[Item], theme: &Theme) -> (f32, Vec<usize>) {
    let mut size = theme.sizes.caption;
    loop {
        let rows = rows(&widths(painter, items, size, theme), width, BETWEEN * size);
        if rows.len() <= MOST_ROWS || size <= theme.sizes.scale.min(15.0) {
            return (size, rows);
        }
        size -= 1.0;
    }
}

/// How high the buttons are in a room of this inner width.
pub fn height(painter: &Painter, width: f32, items: &[Item], theme: &Theme) -> f32 {
    let (size, rows) = fitting(painter, width, items, theme);
    let count = rows.len() as f32;
    (count * BUTTON + (count - 1.0) * BETWEEN) * size
}

/// Draws the buttons into `area` and says what was asked for.
pub fn foot_ui(ui: &mut Ui, area: Rect, items: &[Item], theme: &Theme) -> Vec<DrillAction> {
    let (size, rows) = fitting(ui.painter(), area.width(), items, theme);
    let widths = widths(ui.painter(), items, size, theme);
    let mut asked = Vec::new();
    let mut top = area.top();
    let mut each = items.iter().zip(widths).enumerate();
    for count in rows {
        let mut left = area.left();
        for (number, (item, width)) in each.by_ref().take(count) {
            let place = Rect::from_min_size(pos2(left, top), vec2(width, BUTTON * size));
            if button_ui(ui, place, number, item, size, theme) {
                asked.push(item.action.clone());
            }
            left = place.right() + BETWEEN * size;
        }
        top += (BUTTON + BETWEEN) * size;
    }
    asked
}

/// One button; whether it was pressed.
fn button_ui(
    ui: &mut Ui,
    place: Rect,
    number: usize,
    item: &Item,
    size: f32,
    theme: &Theme,
) -> bool {
    let sense = if item.enabled {
        Sense::click()
    } else {
        Sense::hover()
    };
    let response = ui.interact(place, Id::unique(("drill foot", number)), sense);
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Button, item.enabled, &item.name);
        info.selected = item.on;
        info
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(item.key);
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        if item.first || response.hovered() {
            painter.rect_filled(place, ROUND, theme.patch);
        }
        let edge = match (response.has_focus(), item.first) {
            (true, _) => Stroke::new(theme.sizes.value, theme.ink),
            (false, true) => Stroke::new(theme.sizes.rule, theme.ink),
            (false, false) => theme.hairline_stroke(),
        };
        painter.rect_stroke(place, ROUND, edge, StrokeKind::Inside);
        let ink = match (item.enabled, item.on) {
            (false, _) => theme.faded(theme.soft_ink, 0.6),
            (true, Some(false)) => theme.soft_ink,
            (true, _) => theme.ink,
        };
        let mut left = place.left() + PAD * size;
        if let Some(on) = item.on {
            let radius = MARK * size / 2.0;
            let centre = pos2(left + radius, place.center().y);
            painter.circle_stroke(centre, radius - 1.0, Stroke::new(theme.sizes.rule, ink));
            if on {
                painter.circle_filled(centre, radius - 1.0, ink);
            }
            left += (MARK + APART) * size;
        }
        let foot = place.center().y + 0.35 * size;
        let font = theme.word_font(size);
        pen::write(painter, pos2(left, foot), &item.text, font, ink);
        let at = pos2(place.right() - PAD * size, place.center().y + 0.05 * size);
        let font = theme.word_font(KEY * size);
        painter.text(at, Align2::RIGHT_CENTER, item.key, font, theme.soft_ink);
    }
    response.clicked()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_hold_what_fits_and_lose_nothing() {
        let widths = [100.0, 80.0, 60.0, 90.0];
        assert_eq!(rows(&widths, 400.0, 10.0), [4]);
        assert_eq!(rows(&widths, 260.0, 10.0), [3, 1]);
        assert_eq!(rows(&widths, 50.0, 10.0), [1, 1, 1, 1]);
    }
}
