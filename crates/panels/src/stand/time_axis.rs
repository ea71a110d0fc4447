//! The axis of time that trace, strip and bow line share, and what runs through all of them: where
//! notes begin and where samples are missing.

use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::plot_area::Times;
use egui::{Align2, Painter, Rect, Ui, pos2};
use tuning::Secs;

/// Seconds from one written time to the next; as many as there is room for.
const STEPS: [i32; 4] = [1, 2, 4, 8];

/// Draws the axis into `area` and what runs through `sheet`.
pub(super) fn time_axis_ui(
    ui: &mut Ui,
    area: Rect,
    sheet: Rect,
    times: &Times,
    stand: &Stand,
    theme: &Theme,
) {
    let painter = ui.painter();
    let through = Rect::from_x_y_ranges(times.x, sheet.top()..=area.top());
    missing(painter, through, times, stand, theme);
    beginnings(painter, through, times, stand, theme);
    if stand.shell.options().still {
        page(painter, area, through, times, stand, theme);
    } else {
        flow(painter, area, times, theme);
    }
}

/// How many seconds lie from one written time to the next, if each needs this much room.
fn step(times: &Times, needed: f32) -> i32 {
    let second = times.x.span() / times.span.0 as f32;
    let fits = |&step: &i32| step as f32 * second >= needed;
    STEPS.into_iter().find(fits).unwrap_or(STEPS[3])
}

/// Seconds before now.
fn flow(painter: &Painter, area: Rect, times: &Times, theme: &Theme) {
    let font = theme.word_font(theme.sizes.scale);
    let needed = 1.3 * pen::width(painter, "−16 s", font.clone());
    let step = step(times, needed);
    for ago in 0..=times.span.0.round() as i32 {
        let x = times.x_from_secs(Secs(times.newest.0 - f64::from(ago)));
        let written = ago % step == 0;
        stroke(painter, x, area, written, theme);
        let said = match ago {
            0 => "now".to_owned(),
            _ => format!("−{ago} s"),
        };
        let room = x - needed >= times.x.min;
        if written && (room || ago == 0) {
            let at = pos2(x - 6.0, area.bottom());
            painter.text(at, Align2::RIGHT_BOTTOM, said, font.clone(), theme.soft_ink);
        }
    }
}

/// Seconds from the start of the page, and a hairline where the pen is.
fn page(painter: &Painter, area: Rect, through: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    let font = theme.word_font(theme.sizes.scale);
    let step = step(times, 1.3 * pen::width(painter, "16 s", font.clone()));
    let start = times.oldest().0;
    for second in 0..=times.span.0.round() as i32 {
        let x = times.x_from_secs(Secs(start + f64::from(second)));
        let written = second % step == 0;
        stroke(painter, x, area, written, theme);
        if written && second < times.span.0.round() as i32 {
            let at = pos2(x + 6.0, area.bottom());
            let said = format!("{second} s");
            painter.text(at, Align2::LEFT_BOTTOM, said, font.clone(), theme.soft_ink);
        }
    }
    if let Some(now) = stand.picture().time {
        painter.vline(times.x_from_secs(now), through.y_range(), theme.rule_stroke());
    }
}

fn stroke(painter: &Painter, x: f32, area: Rect, long: bool, theme: &Theme) {
    let top = area.top() + 2.0;
    let height = if long { 0.45 } else { 0.2 } * theme.sizes.scale;
    painter.vline(x, top..=top + height, theme.rule_stroke());
}

/// Where notes begin: a hairline.
fn beginnings(painter: &Painter, through: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    for note in &stand.picture().notes {
        let x = times.x_from_secs(note.start);
        if times.x.contains(x) {
            painter.vline(x, through.y_range(), theme.hairline_stroke());
        }
    }
}

/// Where samples are missing: a patch over the full height, and the word.
fn missing(painter: &Painter, through: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    for &(time, length) in &stand.picture().lost {
        let left = times.x_from_secs(time).max(times.x.min);
        let right = times.x_from_secs(Secs(time.0 + length.0));
        if right < times.x.min {
            continue;
        }
        let right = right.max(left + theme.sizes.mark).min(times.x.max);
        let patch = Rect::from_x_y_ranges(left..=right, through.y_range());
        painter.rect_filled(patch, 0.0, theme.missing);
        painter.text(
            pos2(left + 4.0, through.top() + crate::stand::layout::lane_height(theme) + 4.0),
            Align2::LEFT_TOP,
            "lost",
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;

    #[test]
    fn times_are_written_as_often_as_there_is_room() {
        let times = |width: f32, span: f64| Times {
            x: Rangef::new(60.0, 60.0 + width),
            newest: Secs(0.0),
            span: Secs(span),
        };
        assert_eq!(step(&times(800.0, 4.0), 70.0), 1);
        assert_eq!(step(&times(800.0, 16.0), 70.0), 2);
        assert_eq!(step(&times(300.0, 16.0), 70.0), 4);
        assert_eq!(step(&times(200.0, 16.0), 140.0), 8, "never none");
    }
}
