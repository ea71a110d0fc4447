//! The Stand as it is drawn: a picture of [`Stand`] that says what the player asked for.

use super::commands;
use super::layout::{Layout, Needs, beside_width, labels_width};
use super::state::Stand;
use crate::shell::action::Action;
use crate::shell::{delays_shown, notice};
use crate::stand::bow_line::bow_line_ui;
use crate::stand::field::field_ui;
use crate::stand::oscillation_strip::oscillation_strip_ui;
use crate::stand::time_axis::time_axis_ui;
use crate::stand::{
    bar, foot, gauges, instrument, measures, note_head, question, steadiness, trace,
};
use crate::theme::{self, Theme};
use crate::widgets::gauge::gauge_ui;
use egui::{CentralPanel, Frame, Rangef, Ui};
use pictures::sheet::Times;

/// The pen of the trace that is looked at, in points at the usual size.
const PEN: f32 = 3.6;

/// Draws the Stand over the whole window and says what was asked for.
pub fn stand_ui(ui: &mut Ui, stand: &Stand) -> Vec<Action> {
    let options = stand.shell.options();
    theme::lay(ui.ctx(), options.paper);
    let window = ui.ctx().content_rect().size();
    let mut theme = Theme::in_window(options.paper, options.text_scale, window);
    theme.sizes.pen = PEN * theme.sizes.grown.strokes;
    let theme = &theme;
    let mut actions = commands::pressed(ui, stand);
    CentralPanel::default().frame(Frame::new().fill(theme.paper)).show(ui, |ui| {
        let room = ui.available_rect_before_wrap();
        let needs = Needs {
            wanted: options.wanted != crate::shell::options::Wanted::default(),
            straight: stand.without_vibrato(),
            side: options.side,
        };
        let layout = Layout::of(room, theme, needs);
        actions.extend(parts_ui(ui, &layout, stand, theme));
        actions.extend(bar::bar_ui(ui, layout.bar, stand, theme));
        actions.extend(notices_ui(ui, &layout, stand, theme));
    });
    actions
}

fn parts_ui(ui: &mut Ui, layout: &Layout, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let mut actions = Vec::new();
    note_head::note_head_ui(ui, layout.note, stand, theme);
    foot::foot_ui(ui, layout.words, stand, theme);
    if stand.revealed() {
        sheet_ui(ui, layout, stand, theme);
        actions.extend(instrument::instrument_ui(ui, layout.trace, stand, theme));
    }
    actions.extend(question::question_ui(ui, layout.sheet, stand, theme));
    if stand.without_vibrato() {
        steadiness::steadiness_ui(ui, layout, stand, theme);
    } else {
        gauge_ui(ui, layout.rate, &gauges::rate(stand), theme);
        gauge_ui(ui, layout.width, &gauges::width(stand), theme);
        if let Some(field) = layout.field {
            actions.extend(field_ui(ui, field, stand, theme));
        }
    }
    if stand.revealed() {
        measures::told_ui(ui, layout.note, stand);
    }
    actions
}

/// What lies over the parts.
fn notices_ui(ui: &mut Ui, layout: &Layout, stand: &Stand, theme: &Theme) -> Vec<Action> {
    delays_shown::figures_ui(ui, layout.sheet, &stand.shell, theme);
    notice::trouble_ui(ui, layout.sheet, &stand.shell, theme);
    if matches!(stand.curtain(), coach::Curtain::Asking(_)) {
        // The question comes first.
        return Vec::new();
    }
    notice::word_ui(ui, layout.sheet, &stand.shell, theme)
}

/// All that shares the axis of time.
fn sheet_ui(ui: &mut Ui, layout: &Layout, stand: &Stand, theme: &Theme) {
    let trace = layout.trace;
    let times = Times {
        x: Rangef::new(trace.left() + labels_width(theme), trace.right() - beside_width(theme)),
        newest: stand.right_edge(),
        span: stand.span(),
    };
    time_axis_ui(ui, layout.time, layout.sheet, &times, stand, theme);
    trace::past_ui(ui, &layout.past, &times, stand, theme);
    trace::trace_ui(ui, trace, &times, stand, theme);
    if let Some(marks) = layout.marks {
        let sheet = trace::sheet(trace, &times, stand, theme);
        steadiness::marks_ui(ui, marks, &sheet, stand, theme);
    }
    if let Some(strip) = layout.strip {
        oscillation_strip_ui(ui, strip, &times, stand, theme);
    }
    if let Some(bow) = layout.bow {
        bow_line_ui(ui, bow, &times, stand, theme);
    }
}
