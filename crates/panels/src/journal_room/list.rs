//! The takes by day, latest first. Only the rows that are seen are laid out.

use super::offered::Line;
use super::wording;
use super::{JournalAction, JournalRoom};
use crate::shell::Shell;
use crate::theme::Theme;
use crate::widgets::paging::tell_scrolled;
use crate::widgets::pen;
use egui::text::{LayoutJob, TextFormat};
use egui::{
    Align2, Color32, Id, Painter, Pos2, Rect, Role, ScrollArea, Sense, Stroke, Ui, WidgetInfo,
    pos2, vec2,
};
use journal::{Entry, SoundFile};

/// Height of a line, as a share of the type size.
const LINE: f32 = 2.75;
/// Space at the left of a take, before its text.
const INDENT: f32 = 0.8;

/// Draws the list into what is left of `ui`.
pub(super) fn list_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    theme: &Theme,
    actions: &mut Vec<JournalAction>,
) {
    let size = theme.sizes.caption;
    let height = (LINE * size).round();
    if room.lines.is_empty() {
        let said = "No take matches.";
        ui.label(said);
        return;
    }
    ui.spacing_mut().item_spacing.y = 0.0;
    let memory = Id::unique("journal list");
    let (moves, offset, seen) = ui
        .data(|data| data.get_temp::<(u64, f32, f32)>(memory))
        .unwrap_or((room.moves.wrapping_sub(1), 0.0, ui.available_height()));
    let mut area = ScrollArea::vertical().id_salt("takes").auto_shrink(false).animated(false);
    if moves != room.moves
        && let Some(line) = room.chosen_line
        && let Some(to) = followed(line, height, offset, seen)
    {
        area = area.vertical_scroll_offset(to);
    }
    let output = area.show_rows(ui, height, room.lines.len(), |ui, rows| {
        tell_scrolled(ui);
        for line in rows {
            line_ui(ui, (room, shell), line, height, theme, actions);
        }
    });
    let now = (room.moves, output.state.clamped_offset().y, output.inner_rect.height());
    ui.data_mut(|data| data.insert_temp(memory, now));
}

/// How far the list must be scrolled so that a line is seen; `None` where it is. The line above is seen too: it may
/// be the day's.
fn followed(line: usize, height: f32, offset: f32, seen: f32) -> Option<f32> {
    let top = line as f32 * height;
    let above = (top - height).max(0.0);
    if above < offset {
        Some(above)
    } else if top + height > offset + seen {
        Some((top + height - seen).max(0.0))
    } else {
        None
    }
}

fn line_ui(
    ui: &mut Ui,
    (room, shell): (&JournalRoom, &Shell),
    line: usize,
    height: f32,
    theme: &Theme,
    actions: &mut Vec<JournalAction>,
) {
    let place = vec2(ui.available_width(), height);
    match room.lines[line] {
        Line::Day { first, takes } => {
            let folder = room.entries[first].id.day();
            let day = wording::day_in_full(folder);
            let (rect, response) = ui.allocate_exact_size(place, Sense::hover());
            let count = wording::counted(takes, "take", "takes");
            response.widget_info(|| {
                WidgetInfo::labeled(Role::Heading, true, format!("{day}, {count}"))
            });
            let size = theme.sizes.caption;
            let foot = rect.bottom() - 0.35 * size;
            let painter = ui.painter();
            let font = theme.word_font(theme.sizes.scale);
            let count = painter.text(
                pos2(rect.right() - 0.4 * size, foot),
                Align2::RIGHT_BOTTOM,
                count,
                font,
                theme.soft_ink,
            );
            let room = count.left() - rect.left() - 0.5 * size;
            let at = pos2(rect.left(), foot);
            let day = match pen::width(painter, &day, theme.word_font(size)) <= room {
                true => day,
                false => wording::day_in_short(folder),
            };
            one_line(painter, at, &day, size, room, theme.ink, theme);
            painter.hline(rect.x_range(), rect.bottom() - 1.0, theme.hairline_stroke());
        }
        Line::Take(number) => {
            let entry = &room.entries[number];
            let chosen = room.chosen_line == Some(line);
            let id = Id::unique(("take", &entry.id));
            let (rect, _) = ui.allocate_exact_size(place, Sense::hover());
            // The arrows move in the list: it is not walked through by Tab.
            let response = ui.interact(rect, id, Sense::CLICK);
            response.widget_info(|| {
                WidgetInfo::labeled(Role::ListBoxOption, true, spoken(room, entry, shell))
            });
            ui.ctx().accesskit_node_builder(id, |node| node.set_selected(chosen));
            if response.clicked() {
                actions.push(JournalAction::Choose(entry.id.clone()));
            }
            let marks = marks(room, entry);
            if ui.is_rect_visible(rect) {
                let painter = ui.painter();
                if chosen {
                    painter.rect_filled(rect, 3.0, theme.patch);
                    let bar = Rect::from_min_size(rect.min, vec2(0.22 * place.y * 0.5, place.y));
                    painter.rect_filled(bar, 2.0, theme.ink);
                } else if response.hovered() {
                    painter.rect_filled(rect, 3.0, theme.faded(theme.patch, 0.6));
                }
                let headline = wording::headline(entry, shell);
                let further = wording::further(entry, &room.offered, shell);
                take(painter, rect, entry, [&headline, &further, &marks], theme);
            }
        }
    }
}

/// What a screen reader says of a take.
fn spoken(room: &JournalRoom, entry: &Entry, shell: &Shell) -> String {
    let kept = if entry.keep { ", kept for ever" } else { "" };
    format!(
        "take {}, {}, {}{kept}",
        wording::clock(entry.id.time()),
        wording::headline(entry, shell),
        wording::further(entry, &room.offered, shell),
    )
}

/// What stands at the right: what sets a take apart.
fn marks(room: &JournalRoom, entry: &Entry) -> String {
    let mut marks = Vec::new();
    for (place, half) in ["1st", "2nd"].into_iter().zip(&room.compared) {
        if half.as_ref().is_some_and(|(id, _)| *id == entry.id) {
            marks.push(place);
        }
    }
    if entry.keep {
        marks.push("kept");
    }
    if entry.mended {
        marks.push("mended");
    }
    match entry.sound {
        SoundFile::Whole { .. } => {}
        SoundFile::None | SoundFile::Forgotten => marks.push("no sound"),
    }
    marks.join(" · ")
}

/// What stands on the two lines of a take: how it went, and what it was; the time of day last and small.
fn take(painter: &Painter, rect: Rect, entry: &Entry, said: [&str; 3], theme: &Theme) {
    let [headline, further, marks] = said;
    let size = theme.sizes.caption;
    let small = theme.sizes.scale;
    let left = rect.left() + INDENT * size;
    let right = rect.right() - 0.4 * size;
    let middle = rect.top() + 0.54 * rect.height();
    let foot = rect.bottom() - 0.1 * size;
    let font = theme.word_font(small);
    let at_the_right = |y: f32, text: &str| {
        painter.text(pos2(right, y), Align2::RIGHT_BOTTOM, text, font.clone(), theme.soft_ink)
    };
    let time = at_the_right(middle, &wording::clock(entry.id.time()));
    let width = time.left() - left - 0.5 * size;
    one_line(painter, pos2(left, middle), headline, size, width, theme.ink, theme);
    let end = if marks.is_empty() { right } else { at_the_right(foot, marks).left() - 0.5 * size };
    one_line(painter, pos2(left, foot), further, small, end - left, theme.soft_ink, theme);
}

/// Writes one line whose lower edge is at `at`: where it has no room its last parts are left out, and then its type
/// shrinks a little. All of it is told to a screen reader.
pub(super) fn one_line(
    painter: &Painter,
    at: Pos2,
    text: &str,
    size: f32,
    room: f32,
    ink: Color32,
    theme: &Theme,
) {
    let font = theme.word_font(size);
    let mut said = text;
    while pen::width(painter, said, font.clone()) > room
        && let Some((first, _)) = said.rsplit_once(" · ")
    {
        said = first;
    }
    let font = theme.word_font(pen::fitting(painter, said, font, room).size.max(LEAST * size));
    let mut job = LayoutJob::single_section(said.to_owned(), TextFormat::simple(font, ink));
    job.wrap.max_rows = 1;
    job.wrap.max_width = room.max(size);
    job.wrap.break_anywhere = true;
    let galley = painter.layout_job(job);
    let height = galley.rect.height();
    painter.galley(at - vec2(0.0, height), galley, ink);
}

/// The type of a line shrinks to no less than this share, and then it is cut short.
const LEAST: f32 = 0.75;

/// A frame around what has the focus.
pub(super) fn ring(ui: &Ui, rect: Rect, focus: bool, theme: &Theme) {
    if focus {
        let edge = Stroke::new(theme.sizes.value, theme.ink);
        let kind = egui::StrokeKind::Inside;
        ui.painter().rect_stroke(rect, 3.0, edge, kind);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_follows_the_choice_and_no_further_than_it_must() {
        // Lines of 50 points, ten of them seen.
        let follow = |line, offset| followed(line, 50.0, offset, 500.0);
        assert_eq!(follow(5, 0.0), None);
        assert_eq!(follow(9, 0.0), None);
        assert_eq!(follow(10, 0.0), Some(50.0));
        assert_eq!(follow(400, 0.0), Some(19_550.0 + 0.0));
        assert_eq!(follow(1, 500.0), Some(0.0));
        assert_eq!(follow(10, 500.0), Some(450.0), "the day above is seen too");
    }
}
