//! The room as it is seen.

use super::{
    EDIT_ROWS, Pass, PassageAction, PassageRoom, Phase, ROWS, RoomContext, choose, excerpt, head,
    head_sheet, sheet, wording,
};
use crate::shell::Shell;
use crate::shell::keys::Scope;
use crate::shell::room::Room;
use crate::shell::row;
use crate::theme::{self, Theme};
use crate::widgets::{button_row, pen};
use coach::played::of_passage;
use egui::{CentralPanel, Frame, Id, Rect, Role, Sense, Ui, WidgetInfo};

/// Height of the one sentence, as a share of its type size, and of what is said of the passage as a whole, of that of words.
const SENTENCE: f32 = 1.5;
const FURTHER: f32 = 2.8;
/// Below this share of the height left for staff and ribbons, what is said of the passage as a whole is left out.
const LEAST_SHEET: f32 = 0.5;

/// Draws the room and says what the player asked for.
pub fn passage_ui(ui: &mut Ui, room: &PassageRoom, shell: &Shell) -> Vec<PassageAction> {
    let options = shell.options();
    theme::lay(ui.ctx(), options.paper);
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let context = RoomContext { room, shell, theme };
    let place = match room.phase() {
        Phase::Choosing if room.score().is_some() => Scope::Excerpt,
        Phase::Choosing => Scope::Passages,
        Phase::Ready => Scope::BeforePass,
        Phase::CountIn | Phase::Playing | Phase::Judging => Scope::Pass,
        Phase::Asking => Scope::AskedOfPass,
        Phase::After => Scope::AfterPass,
        Phase::Editing if room.editing().is_some_and(|editing| editing.head) => Scope::PassageHead,
        Phase::Editing => Scope::Editing,
    };
    let mut actions = row::pressed(ui, &ROWS, &[place], room, shell);
    actions.extend(row::pressed(ui, &EDIT_ROWS, &[place], room, shell));
    CentralPanel::default().frame(Frame::new().fill(theme.paper)).show(ui, |ui| {
        let inner = ui.available_rect_before_wrap().shrink(theme.sizes.margin);
        let mut buttons = row::buttons(&ROWS, place, room, shell);
        buttons.extend(row::buttons(&EDIT_ROWS, place, room, shell));
        let (page, foot) = button_row::under(inner, theme);
        match room.phase() {
            _ if place == Scope::Excerpt => {
                // What was written counts before the key that takes it in.
                actions.splice(0..0, excerpt::excerpt_ui(ui, page, &context));
            }
            Phase::Choosing => choose::choose_ui(ui, page, &context, &mut actions),
            _ if place == Scope::PassageHead => {
                // What was written counts before the key that leaves its field.
                actions.splice(0..0, head_sheet::head_sheet_ui(ui, page, &context));
            }
            _ => page_ui(ui, page, &context, &mut actions),
        }
        let name = Room::Passage.name();
        actions.extend(button_row::button_row_ui(ui, foot, name, &buttons, theme));
    });
    actions
}

/// The passage that is open.
fn page_ui(ui: &mut Ui, page: Rect, context: &RoomContext, actions: &mut Vec<PassageAction>) {
    let sizes = &context.theme.sizes;
    let (top, below) = page.split_top_bottom_at_y(page.top() + head::height(context));
    head::head_ui(ui, top, context, actions);
    let high = SENTENCE * sizes.big_word;
    let (above, sentence) = below.split_top_bottom_at_y(below.bottom() - high);
    let further = further(context);
    let left = above.height() - FURTHER * sizes.caption;
    if further.is_empty() || left < LEAST_SHEET * page.height() {
        sentence_ui(ui, sentence, context);
        sheet::sheet_ui(ui, above, context, actions);
        return;
    }
    let up = FURTHER * sizes.caption;
    sentence_ui(ui, sentence.translate(egui::vec2(0.0, -up)), context);
    further_ui(ui, below.with_min_y(below.bottom() - up), &further, context);
    sheet::sheet_ui(ui, above.with_max_y(above.bottom() - up), context, actions);
}

/// What is said of the passage as a whole.
fn further(context: &RoomContext) -> String {
    let (room, opened) = (context.room, context.room.opened());
    let checked = room.checked(room.pass()).filter(|_| room.phase() == Phase::After);
    let Some((opened, checked)) = opened.zip(checked) else { return String::new() };
    // What comes back from pass to pass goes first: it is what to work on.
    let habit = room.habits().first().filter(|_| room.pass() != Pass::Straight).cloned();
    let said = of_passage(&opened.passage, checked);
    habit.into_iter().chain(said).collect::<Vec<_>>().join(" ")
}

fn sentence_ui(ui: &Ui, area: Rect, context: &RoomContext) {
    let theme = context.theme;
    let said = wording::sentence(context.room);
    let response = ui.interact(area, Id::unique("passage sentence"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, said.as_str()));
    let (font, least) = (theme.figure_font(theme.sizes.big_word), theme.sizes.caption);
    pen::write_row(ui.painter(), area, &said, font, least, theme.ink);
}

fn further_ui(ui: &Ui, area: Rect, said: &str, context: &RoomContext) {
    let theme = context.theme;
    let response = ui.interact(area, Id::unique("passage as a whole"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, said));
    let font = theme.word_font(theme.sizes.caption);
    pen::write_lines(ui.painter(), area, said, font, 0.8 * theme.sizes.scale, theme.soft_ink);
}
