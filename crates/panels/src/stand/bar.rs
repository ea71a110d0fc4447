//! The buttons at the foot of the Stand.

use crate::keys::Command;
use crate::shell::rooms::Room;
use crate::stand::{Action, Stand, Take};
use crate::theme::Theme;
use crate::widgets::button_row::{self, Button, button_row_ui};
use coach::Showing;
use egui::{Rect, Ui};
use tuning::pitch_name;

/// How wide the letters of these words are on average, as a share of the type size; see the test.
const LETTER: f32 = 0.45;
/// What may stand in each button at most, key included, and whether it has a mark; for the height before
/// there is ink.
const WIDEST: [(&str, bool); 10] = [
    ("after the round V", false),
    ("straight S", true),
    ("reference R", true),
    ("drone Fis3 D", true),
    ("beat 200 B", true),
    ("takes T", true),
    ("16 s W", false),
    ("Sound O", false),
    ("Settings E", false),
    ("Keys ?", false),
];
/// So many buttons at the end stand at the right: they open sheets.
const SHEETS: usize = 3;

/// How high the buttons are in a window of this inner width.
pub fn height(width: f32, theme: &Theme) -> f32 {
    let widths = WIDEST.map(|(text, mark)| {
        let letters = text.chars().count() as f32 * LETTER;
        (letters + button_row::around(mark)) * theme.sizes.caption
    });
    button_row::height_of(&widths, width, theme)
}

fn buttons(stand: &Stand) -> [Button<Command>; 10] {
    let options = stand.options();
    let button = |command: Command, text: &str| {
        Button::new(command, text, options.keys.shown(command).unwrap_or(""))
    };
    let showing = match options.showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the note",
        Showing::AfterRound => "after the round",
    };
    let drone = pitch_name(options.drone.midi, options.naming);
    let secs = stand.span().0;
    [
        button(Command::Showing, showing)
            .longest("after the round")
            .named(format!("way of showing: {showing}")),
        button(Command::Straight, "straight").named("straight practice").switch(stand.straight),
        button(Command::TakeReference, "reference")
            .named(reference(stand))
            .switch(stand.own().is_some())
            .enabled(stand.can_take_reference()),
        button(Command::Drone, &format!("drone {drone}"))
            .longest("drone B♭3")
            .switch(stand.drone_on),
        button(Command::Beat, &format!("beat {}", options.beat.bpm))
            .longest("beat 200")
            .named(format!("metronome, {} beats a minute", options.beat.bpm))
            .switch(stand.beat_on),
        button(Command::Take, "takes").named(takes(stand.take())).switch(options.take.kept),
        button(Command::Span, &format!("{secs:.0} s"))
            .longest("16 s")
            .named(format!("span of the trace: {secs:.0} seconds")),
        button(Command::Sound, "Sound"),
        button(Command::Settings, "Settings"),
        button(Command::Keys, "Keys"),
    ]
}

fn reference(stand: &Stand) -> String {
    match stand.own() {
        Some(own) => format!(
            "take the last note as reference; now your own {}",
            pitch_name(own.midi, stand.naming())
        ),
        None => "take the last note as reference".to_owned(),
    }
}

fn takes(take: &Take) -> String {
    let state = match take {
        Take::Off => return "keep takes".to_owned(),
        Take::Ready => "the next note starts one".to_owned(),
        Take::Running => "one is being written".to_owned(),
        Take::Kept { name, .. } => format!("{name} was kept"),
        Take::Trouble(words) => words.clone(),
    };
    format!("keep takes: {state}")
}

/// Draws them into `area` and says what was asked for.
pub fn bar_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let asked = button_row_ui(ui, area, Room::Stand, &buttons(stand), SHEETS, theme);
    asked.into_iter().map(Action::Do).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_height_leaves_room_for_all_that_may_stand_in_the_buttons() {
        let theme = &crate::theme::Paper::Light.theme();
        let ctx = egui::Context::default();
        crate::theme::dress(&ctx);
        for width in [604.0, 988.0, 1244.0, 2524.0] {
            let output = ctx.run_ui(egui::RawInput::default(), |ui| {
                let mut stand = Stand::new(crate::shell::options::Options::default());
                stand.drone_on = true;
                let needed = button_row::height(ui.painter(), width, &buttons(&stand), theme);
                assert!(needed <= height(width, theme), "{width}");
            });
            output.drop_without_applying_deltas();
        }
        // The window of a small laptop has room for one row.
        assert!(height(988.0, theme) < height(604.0, theme));
        assert_eq!(height(988.0, theme), height(2524.0, theme));
    }
}
