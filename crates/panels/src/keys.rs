//! The keys: what each one does, and the list of them.

use crate::stand::state::Action;
use crate::theme::Theme;
use egui::{Key, Modifiers, Rect, RichText, Ui};

/// One key of the window.
struct Binding {
    /// What it is called.
    name: &'static str,
    /// What it does, in words.
    said: &'static str,
    /// The keys of the keyboard that count as it.
    keys: &'static [Key],
    /// What it asks for.
    action: fn() -> Action,
}

const BINDINGS: [Binding; 7] = [
    Binding {
        name: "Space",
        said: "hold the picture, or let it go on",
        keys: &[Key::Space],
        action: || Action::Hold,
    },
    Binding {
        name: "L",
        said: "light or dark paper",
        keys: &[Key::L],
        action: || Action::TurnPaper,
    },
    Binding {
        name: "+",
        said: "fewer cents, larger",
        keys: &[Key::Plus, Key::Equals],
        action: || Action::ZoomIn,
    },
    Binding {
        name: "−",
        said: "more cents, smaller",
        keys: &[Key::Minus],
        action: || Action::ZoomOut,
    },
    Binding {
        name: "F",
        said: "fill the screen, or stop it",
        keys: &[Key::F],
        action: || Action::FullScreen,
    },
    Binding {
        name: "M",
        said: "leave the demo session, listen to the microphone",
        keys: &[Key::M],
        action: || Action::TakeMicrophone,
    },
    Binding {
        name: "?",
        said: "show or hide this list",
        keys: &[Key::Questionmark, Key::F1],
        action: || Action::Keys,
    },
];

/// What the pressed keys ask for, in the order of the list; they are used up.
pub fn pressed(ui: &Ui) -> Vec<Action> {
    ui.input_mut(|input| {
        BINDINGS
            .iter()
            .filter(|binding| {
                binding
                    .keys
                    .iter()
                    .any(|&key| input.consume_key(Modifiers::NONE, key))
            })
            .map(|binding| (binding.action)())
            .collect()
    })
}

/// The key that opens the list.
pub fn keys_key(ui: &mut Ui, area: Rect, theme: &Theme) -> Option<Action> {
    let text = RichText::new("Keys ?")
        .font(theme.word_font(theme.sizes.caption))
        .color(theme.soft_ink);
    ui.put(area, egui::Button::new(text))
        .clicked()
        .then_some(Action::Keys)
}

/// The list of keys; each line can be clicked as well.
pub fn keys_list(ui: &mut Ui, theme: &Theme) -> Option<Action> {
    let mut asked = None;
    egui::Window::new("Keys")
        .title_bar(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .frame(
            egui::Frame::new()
                .fill(theme.patch)
                .stroke(theme.rule_stroke())
                .inner_margin(theme.sizes.margin),
        )
        .show(ui.ctx(), |ui| {
            let font = theme.word_font(theme.sizes.word);
            for binding in &BINDINGS {
                let said = format!("{}   {}", binding.name, binding.said);
                let text = RichText::new(said).font(font.clone());
                let line = egui::Button::new(text).frame(false);
                if ui.add(line).clicked() {
                    asked = Some((binding.action)());
                }
            }
            let more = "Ctrl with + or −   larger or smaller type";
            ui.label(RichText::new(more).font(font).color(theme.soft_ink));
        });
    asked
}
