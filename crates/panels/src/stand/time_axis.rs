//! The axis of time that trace, strip and bow line share, and what runs through all of them.

use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::painter;
use egui::{Rect, Ui};
use pictures::sheet::Times;
use pictures::{Clock, Meaning, through, time_axis};

/// Draws the axis into `area` and what runs through `sheet`.
pub(super) fn time_axis_ui(
    ui: &mut Ui,
    area: Rect,
    sheet: Rect,
    times: &Times,
    stand: &Stand,
    theme: &Theme,
) {
    let lines = Rect::from_x_y_ranges(times.x, sheet.top()..=area.top());
    let heard = stand.picture();
    let clip = ui.clip_rect();
    painter::show(ui, area, clip, theme, |picture| {
        through(picture, lines, times, &heard.played, 4.0);
        if !stand.shell.options().still {
            return time_axis(picture, area, times, Clock::Ago);
        }
        time_axis(picture, area, times, Clock::Since(times.oldest()));
        if let Some(now) = heard.time {
            // Where the pen is on the page.
            picture.vline(Meaning::Axis, times.x_from_secs(now), lines.y_range());
        }
    });
}
