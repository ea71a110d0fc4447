//! The one question of the first start: which instrument.

use super::picture::Sounding;
use super::state::Stand;
use crate::shell::action::Action;
use crate::theme::Theme;
use crate::widgets::form::Form;
use egui::{Rect, RichText, Role, Ui, UiBuilder, WidgetInfo, vec2};

/// What most people play, as the settings call it and as players do; the others are in the settings.
const INSTRUMENTS: [(&str, &str); 4] =
    [("violin", "violin"), ("viola", "viola"), ("cello", "cello"), ("double-bass", "double bass")];
const ASKED: &str = "Which instrument do you play?";

/// Asks in the lower half of `area`, as long as no instrument is chosen and nothing was played; says what was answered.
pub(super) fn instrument_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let (picture, options) = (stand.picture(), stand.shell.options());
    let played = picture.begun || picture.sounding != Sounding::Silence;
    if played || options.instrument.is_some() || stand.shell.source.trouble().is_some() {
        return Vec::new();
    }
    let form = Form { theme };
    let lower = area.with_min_y(area.center().y).shrink2(vec2(theme.sizes.between, 0.0));
    let mut ui = ui.new_child(UiBuilder::new().max_rect(lower));
    form.dress(&mut ui);
    let asked = ui.label(RichText::new(ASKED).size(theme.sizes.word));
    asked.widget_info(|| WidgetInfo::labeled(Role::Label, true, ASKED));
    let mut actions = Vec::new();
    ui.horizontal_wrapped(|ui| {
        for (name, called) in INSTRUMENTS {
            if form.button(ui, called, called, true) {
                let set = options.clone().played_on(Some(name.to_owned()));
                actions.push(Action::Set(Box::new(set)));
            }
        }
    });
    actions
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::SHIPPED_INSTRUMENTS;

    #[test]
    fn every_instrument_that_is_offered_is_there() {
        for (name, _) in INSTRUMENTS {
            assert!(SHIPPED_INSTRUMENTS.contains(&name), "{name}");
        }
    }
}
