//! The measures of the note that ended last, as a screen reader tells them.

use crate::stand::state::Stand;
use crate::stand::words;
use egui::{Id, Rect, Role, Sense, Ui, WidgetInfo};
use tuning::pitch_name;

/// Tells a screen reader the measures, until the next note begins.
pub(super) fn told_ui(ui: &mut Ui, area: Rect, stand: &Stand) {
    let Some(note) = &stand.picture().last else {
        return;
    };
    let response = ui.interact(area, Id::unique("measures"), Sense::hover());
    response.widget_info(|| {
        let measures = words::measures(note);
        let all: Vec<String> =
            measures.iter().map(|(caption, value)| format!("{caption} {value}")).collect();
        let name = pitch_name(note.midi, stand.shell.naming());
        let said = format!("measures of {name}: {}", all.join(", "));
        WidgetInfo::labeled(Role::Note, true, said)
    });
}
