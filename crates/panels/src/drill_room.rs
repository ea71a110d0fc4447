//! The room "Drill": counted oscillations, carried from finger to finger.
//!
//! State ([`DrillRoom`]) changed in one place, and a view that reads it. A drill is chosen, made ready,
//! counted in, played against the pace wave, and judged.

mod action;
mod changes;
mod choose;
mod commands;
mod drill_task;
mod findings;
mod guide;
mod heard;
mod limits;
mod measures;
mod part;
mod plane;
mod ready;
mod round;
mod state;
mod table;
mod turns_strip;
mod wave;
mod wave_axis;
mod wave_beats;
mod wave_ground;
mod wording;

use crate::shell::Shell;
use crate::shell::keys::Scope;
use crate::shell::room::Room;
use crate::shell::row;
use crate::theme::{self, Theme};
use crate::widgets::button_row;
use egui::{CentralPanel, Frame, Ui};

pub use action::{DrillAction, DrillFile, Phase, Sounds};
pub(crate) use commands::ROWS;
pub use drill_task::DrillTask;
pub use guide::GuidePart;
pub use state::DrillRoom;

/// What a part of the room is drawn from.
#[derive(Clone, Copy)]
struct RoomContext<'a> {
    room: &'a DrillRoom,
    shell: &'a Shell,
    theme: &'a Theme,
}

/// Draws the room and says what the player asked for.
pub fn drill_ui(ui: &mut Ui, room: &DrillRoom, shell: &Shell) -> Vec<DrillAction> {
    let options = shell.options();
    theme::lay(ui.ctx(), options.paper);
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let context = RoomContext { room, shell, theme };
    let place = match room.phase() {
        Phase::Choosing => Scope::Drills,
        Phase::Ready => Scope::Ready,
        Phase::CountIn | Phase::Round => Scope::Round,
        Phase::Findings => Scope::Findings,
    };
    if place == Scope::Findings {
        findings::scroll_keys(ui, shell);
    }
    let mut actions = row::pressed(ui, &ROWS, &[place], room, shell);
    CentralPanel::default().frame(Frame::new().fill(theme.paper)).show(ui, |ui| {
        let inner = ui.available_rect_before_wrap().shrink(theme.sizes.margin);
        let buttons = row::buttons(&ROWS, place, room, shell);
        let (page, foot) = button_row::under(inner, theme);
        match room.phase() {
            Phase::Choosing => choose::choose_ui(ui, page, &context, &mut actions),
            Phase::Ready => ready::ready_ui(ui, page, &context, &mut actions),
            Phase::CountIn | Phase::Round => round::round_ui(ui, page, &context),
            Phase::Findings => findings::findings_ui(ui, page, &context),
        }
        let name = Room::Drill.name();
        actions.extend(button_row::button_row_ui(ui, foot, name, &buttons, theme));
    });
    actions
}
