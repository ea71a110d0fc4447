//! What is shown in place of the trace while the measures are hidden: that it listens, and the question.

use crate::stand::{Action, Stand};
use crate::theme::Theme;
use egui::{Rect, Ui};

/// Draws it into `area` and says what was answered.
pub fn question_ui(_ui: &mut Ui, _area: Rect, _stand: &Stand, _theme: &Theme) -> Vec<Action> {
    Vec::new()
}
