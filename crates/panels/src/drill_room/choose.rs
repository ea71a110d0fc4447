//! The list of drills: figure, name and what to do.

use super::limits::place_of;
use super::{DrillAction, RoomContext, wording};
use crate::shell::notice;
use crate::theme::Theme;
use crate::widgets::{list_row, pen};
use egui::{Id, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use tuning::figure;

/// What the figure takes of the width, and how large it is beside a big word.
const FIGURE: f32 = 0.26;
/// Height of a row as a share of the type sizes of words and captions.
const WORDS: f32 = 1.45;
const CAPTIONS: f32 = 2.75;
/// A window so narrow for its type has the figure above the words.
const NARROW: f32 = 30.0;

/// Draws the list into `area`.
pub(super) fn choose_ui(
    ui: &mut Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<DrillAction>,
) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let drills = context.room.drills();
    let (head, cautioned) = head_ui(ui, area, context);
    let list = area.with_min_y(head);
    if drills.is_empty() {
        let said =
            "There are no drills. Read the files anew, or look where the program was installed.";
        let response = ui.interact(list, Id::unique("no drills"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, said));
        let font = theme.word_font(sizes.word);
        pen::write_lines(ui.painter(), list, said, font, sizes.scale, theme.ink);
        return;
    }
    let narrow = list.width() < NARROW * sizes.word;
    let row = WORDS * sizes.word + CAPTIONS * sizes.caption + sizes.between;
    let row = if narrow { row + 1.3 * sizes.big_word } else { row };
    list_row::list(ui, list, "drills", theme, |ui| {
        if !cautioned {
            let text = egui::RichText::new(notice::CAUTION)
                .font(theme.word_font(sizes.caption))
                .color(theme.soft_ink);
            ui.add(egui::Label::new(text).wrap());
        }
        for number in 0..drills.len() {
            let size = vec2(ui.available_width(), row);
            let (place, response) = ui.allocate_exact_size(size, Sense::click());
            row_ui(ui, place, &response, number, narrow, context);
            if response.clicked() {
                actions.push(DrillAction::Choose(number));
            }
        }
    });
}

/// What the list is, and, where it has room, the caution; says where the list begins, and whether there was.
fn head_ui(ui: &Ui, area: Rect, context: &RoomContext) -> (f32, bool) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let painter = ui.painter();
    let foot = area.top() + 0.7 * sizes.big_word;
    let title = "Choose a drill";
    let right = pen::write(
        painter,
        pos2(area.left(), foot),
        title,
        theme.figure_font(sizes.big_word),
        theme.ink,
    ) + 2.0 * sizes.between;
    let font = theme.word_font(sizes.caption);
    let galley =
        |room: f32| painter.layout(notice::CAUTION.to_owned(), font.clone(), theme.soft_ink, room);
    let room = area.right() - right;
    let beside = galley(room.max(1.0));
    let below = foot + 0.3 * sizes.big_word + sizes.between;
    // Where it has no room beside, it stands at the head of the list.
    if room < 16.0 * sizes.caption || beside.rect.height() > 1.6 * sizes.big_word {
        return (below, false);
    }
    let place = Rect::from_min_size(pos2(right, area.top()), beside.rect.size());
    painter.galley(place.min, beside, theme.soft_ink);
    let response = ui.interact(place, Id::unique("drill caution"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, notice::CAUTION));
    (below.max(place.bottom() + sizes.between), true)
}

fn row_ui(
    ui: &Ui,
    place: Rect,
    response: &egui::Response,
    number: usize,
    narrow: bool,
    context: &RoomContext,
) {
    let (theme, options) = (context.theme, context.shell.options());
    let sizes = &theme.sizes;
    let listed = &context.room.drills()[number];
    let here = number == context.room.cursor();
    let (figure, title, about, trouble) = match &listed.drill {
        Ok(drill) => {
            let fingers = place_of(drill, options).map(|place| place.fingers.as_slice());
            let figure = wording::figure(fingers.unwrap_or(&[]));
            (figure, drill.title.clone(), drill.about.clone(), false)
        }
        Err(words) => {
            let title = format!("{} cannot be used", listed.name);
            (String::new(), title, figure::sentence(words), true)
        }
    };
    response.widget_info(|| {
        let said = if trouble {
            format!("drill {title}: {about}")
        } else {
            format!("drill {title}, fingers {figure}: {about}")
        };
        let mut info = WidgetInfo::labeled(Role::Button, !trouble, said);
        info.selected = Some(here);
        info
    });
    let pointed = here.then_some(number);
    let row = (place, response);
    let Some((painter, inner)) = list_row::ground(ui, row, "drill pointed at", pointed, theme)
    else {
        return;
    };
    let across = FIGURE * inner.width();
    let font = theme.figure_font(1.25 * sizes.big_word);
    let room = if narrow { inner.width() } else { across - sizes.between };
    let font = pen::fitting(&painter, &figure, font, room);
    let (foot, text) = if narrow {
        (inner.top() + 0.95 * sizes.big_word, inner.with_min_y(inner.top() + 1.3 * sizes.big_word))
    } else {
        (
            place.center().y + 0.31 * font.size,
            middle(&painter, inner.with_min_x(inner.left() + across), &about, theme),
        )
    };
    pen::write(&painter, pos2(inner.left(), foot), &figure, font, theme.ink);
    list_row::words(&painter, text, (&title, &about), trouble, theme);
}

/// `text`, lowered so that a title and what is said under it stand in its middle.
fn middle(painter: &egui::Painter, text: Rect, about: &str, theme: &Theme) -> Rect {
    let font = theme.word_font(theme.sizes.caption);
    let lines = painter.layout(about.to_owned(), font, theme.ink, text.width());
    let high = 1.25 * theme.sizes.word + 0.35 * theme.sizes.caption + lines.rect.height();
    text.with_min_y(text.top() + (0.5 * (text.height() - high)).max(0.0))
}
