//! The list of passages: what each is called, and what it is.

use super::{PassageAction, RoomContext, wording};
use crate::widgets::{list_row, pen};
use egui::{Rect, Response, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use tuning::figure;

/// Height of a row, as shares of the type sizes of words and captions; more lines where a file cannot be used.
const WORDS: f32 = 1.6;
const CAPTIONS: f32 = 1.5;
const TROUBLE: f32 = 3.6;

/// Draws the list into `area`.
pub(super) fn choose_ui(
    ui: &mut Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<PassageAction>,
) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let title = "Choose a passage";
    let foot = area.top() + 0.7 * sizes.big_word;
    let font = theme.figure_font(sizes.big_word);
    let font = pen::fitting(ui.painter(), title, font, area.width());
    pen::write(ui.painter(), pos2(area.left(), foot), title, font, theme.ink);
    let list = area.with_min_y(foot + 0.3 * sizes.big_word + sizes.between);
    let passages = context.room.passages();
    list_row::list(ui, list, "passages", theme, |ui| {
        for (number, listed) in passages.iter().enumerate() {
            let captions = if listed.passage.is_ok() { CAPTIONS } else { TROUBLE };
            let high = WORDS * sizes.word + captions * sizes.caption + sizes.between;
            let size = vec2(ui.available_width(), high);
            let (place, response) = ui.allocate_exact_size(size, Sense::click());
            row_ui(ui, place, &response, number, context);
            if response.clicked() {
                actions.push(PassageAction::Choose(number));
            }
        }
    });
}

fn row_ui(ui: &Ui, place: Rect, response: &Response, number: usize, context: &RoomContext) {
    let theme = context.theme;
    let listed = &context.room.passages()[number];
    let here = number == context.room.cursor();
    let (title, about, trouble) = match &listed.passage {
        Ok(passage) => (passage.title.clone(), wording::about(passage), false),
        Err(words) => (format!("{} cannot be used", listed.name), figure::sentence(words), true),
    };
    response.widget_info(|| {
        let said = format!("passage {title}: {about}");
        let mut info = WidgetInfo::labeled(Role::Button, !trouble, said);
        info.selected = Some(here);
        info
    });
    let pointed = here.then_some(number);
    let row = (place, response);
    let Some((painter, inner)) = list_row::ground(ui, row, "passage pointed at", pointed, theme)
    else {
        return;
    };
    list_row::words(&painter, inner, (&title, &about), trouble, theme);
}
