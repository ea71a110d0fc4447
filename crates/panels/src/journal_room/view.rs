//! The Journal as it is drawn: a picture of [`JournalRoom`] that says what the player asked for.

use super::{JournalAction, JournalRoom, Page, Writing};
use super::{asking, commands, compare, filtering, heading, list, minutes, players, take, trends};
use crate::shell::Shell;
use crate::shell::source::Source;
use crate::theme::{self, Theme};
use crate::widgets::form::Form;
use crate::widgets::paging::{PEDAL, tell_scrolled, turn_pages};
use egui::{CentralPanel, Frame, Margin, ScrollArea, Ui, UiBuilder, vec2};
use tuning::figure;

/// Least width, as a share of the type size, in which the list and a take stand beside each other.
const BESIDE: f32 = 46.0;
/// Width of the list there: this share of all, and at least and at most so many type sizes.
const LIST_SHARE: f32 = 0.34;
const LIST: (f32, f32) = (18.0, 30.0);

/// Draws the Journal over the whole of `ui` and says what was asked for.
pub fn journal_ui(ui: &mut Ui, room: &JournalRoom, shell: &Shell) -> Vec<JournalAction> {
    let options = shell.options();
    theme::lay(ui.ctx(), options.paper);
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let alone = !is_wide(ui.available_width() - 2.0 * theme.sizes.margin, theme);
    let mut actions = commands::pressed(ui, room, shell, alone);
    let margin = theme.sizes.margin as i8;
    CentralPanel::default()
        .frame(Frame::new().fill(theme.paper).inner_margin(Margin::symmetric(margin, margin / 2)))
        .show(ui, |ui| {
            let form = Form { theme };
            form.dress(ui);
            heading::heading_ui(ui, room, shell, &form, &mut actions);
            let body = ui.available_rect_before_wrap();
            let mut ui = ui.new_child(UiBuilder::new().max_rect(body));
            ui.set_clip_rect(ui.clip_rect().intersect(body.expand(4.0)));
            page_ui(&mut ui, room, shell, &form, &mut actions);
        });
    asking::asking_ui(ui, room, shell, theme, &mut actions);
    actions
}

fn page_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    if let Some(words) = &room.no_journal {
        form.trouble(ui, &figure::sentence(words));
        return;
    }
    if !room.told {
        form.note(ui, "The journal is being opened.");
        return;
    }
    if room.entries.is_empty() && room.page != Page::Players {
        empty_ui(ui, room, shell, form);
        return;
    }
    match room.page {
        Page::Takes => takes_ui(ui, room, shell, form, actions),
        Page::Trends => scrolled(ui, "trends", |ui| {
            filtering::filter_ui(ui, room, shell, form, actions);
            trends::trends_ui(ui, room, shell, form, actions);
        }),
        Page::Minutes => scrolled(ui, "minutes", |ui| {
            filtering::filter_ui(ui, room, shell, form, actions);
            minutes::minutes_ui(ui, room, form, actions);
        }),
        Page::Compare => scrolled(ui, "compare", |ui| {
            compare::compare_ui(ui, room, shell, form, actions);
        }),
        Page::Players => scrolled(ui, "players", |ui| {
            players::players_ui(ui, room, shell, form, actions);
        }),
    }
}

fn scrolled(ui: &mut Ui, name: &str, body: impl FnOnce(&mut Ui)) {
    ScrollArea::vertical().id_salt(name).auto_shrink(false).show(ui, |ui| {
        tell_scrolled(ui);
        // Rings of focus have room at the edge.
        ui.set_width(ui.available_width() - 4.0);
        turn_pages(ui, take::PAGE * ui.clip_rect().height(), PEDAL);
        body(ui);
    });
}

/// How the first take comes to be.
fn empty_ui(ui: &mut Ui, room: &JournalRoom, shell: &Shell, form: &Form) {
    ui.add_space(form.size());
    form.heading(ui, "There is no take yet.");
    let kept = shell.options().take.kept;
    let words = match (&room.writing, kept) {
        (Writing::OnlyReading(_), _) => {
            "What another window keeps appears here by itself, a moment after it was played."
        }
        (_, true) if matches!(shell.source, Source::Demo { .. } | Source::Found) => {
            "A demo session is nobody's take. What you play yourself becomes one: a note starts it, and silence ends it. \
             Then it appears here."
        }
        (_, true) => {
            "Play on the Stand: a note starts a take, and silence ends it. Then it appears here with its sound and its \
             measures, and it stays on this computer."
        }
        (_, false) => {
            "Takes are turned off. Turn them on with T on the Stand, or in the settings; from then on a note starts a \
             take, and silence ends it."
        }
    };
    form.note(ui, words);
}

/// Whether the list and a take have room beside each other.
fn is_wide(width: f32, theme: &Theme) -> bool {
    width >= BESIDE * theme.sizes.caption
}

/// The list, and the chosen take beside it or instead of it.
fn takes_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let theme: &Theme = form.theme;
    let size = form.size();
    let width = ui.available_width();
    if !is_wide(width, theme) {
        if room.in_take {
            take::take_ui(ui, room, shell, form, true, actions);
        } else {
            filtering::filter_ui(ui, room, shell, form, actions);
            list::list_ui(ui, room, shell, theme, actions);
        }
        return;
    }
    if room.chosen != room.opened.as_ref().map(|opened| opened.id.clone()) {
        actions.push(JournalAction::Show);
    }
    let list = (LIST_SHARE * width).clamp(LIST.0 * size, LIST.1 * size);
    let area = ui.available_rect_before_wrap();
    let (left, right) = area.split_left_right_at_x(area.left() + list);
    let mut list_side = ui.new_child(UiBuilder::new().max_rect(left));
    filtering::filter_ui(&mut list_side, room, shell, form, actions);
    list::list_ui(&mut list_side, room, shell, theme, actions);
    let x = right.left() + 0.5 * theme.sizes.margin;
    ui.painter().vline(x, area.y_range(), theme.hairline_stroke());
    let right = right.translate(vec2(theme.sizes.margin, 0.0)).intersect(area);
    let mut take_side = ui.new_child(UiBuilder::new().max_rect(right));
    take_side.set_clip_rect(ui.clip_rect().intersect(right.expand(4.0)));
    take::take_ui(&mut take_side, room, shell, form, false, actions);
}
