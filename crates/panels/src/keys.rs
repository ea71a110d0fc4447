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

/// Room for the names of keys in the list.
const NAMES_WIDTH: f32 = 92.0;
/// How much larger or smaller the type gets at a click.
const TYPE_STEP: f32 = 1.1;

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
            ui.style_mut().wrap_mode = Some(egui::TextWrapMode::Extend);
            let font = theme.word_font(theme.sizes.word);
            let line = |ui: &mut Ui, name: &str, said: &str, ink| {
                ui.horizontal(|ui| {
                    let row = ui.fonts_mut(|fonts| fonts.row_height(&font));
                    let tall = row + 2.0 * ui.spacing().button_padding.y;
                    let room = egui::vec2(NAMES_WIDTH, tall);
                    let (names, _) = ui.allocate_exact_size(room, egui::Sense::hover());
                    let at = names.left_center();
                    let align = egui::Align2::LEFT_CENTER;
                    ui.painter()
                        .text(at, align, name, font.clone(), theme.soft_ink);
                    let said = RichText::new(said).font(font.clone()).color(ink);
                    ui.add(egui::Button::new(said).frame(false)).clicked()
                })
                .inner
            };
            for binding in &BINDINGS {
                if line(ui, binding.name, binding.said, theme.ink) {
                    asked = Some((binding.action)());
                }
            }
            for (name, factor, said) in [
                ("Ctrl +", TYPE_STEP, "larger type"),
                ("Ctrl −", 1.0 / TYPE_STEP, "smaller type"),
            ] {
                if line(ui, name, said, theme.ink) {
                    ui.ctx().set_zoom_factor(ui.ctx().zoom_factor() * factor);
                }
            }
        });
    asked
}
