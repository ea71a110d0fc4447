//! What the plots have in common: axes of days, quiet lines, nothing that moves by itself.

use super::Span;
use super::said::date;
use crate::theme::Theme;
use egui::{Response, Role, Sense, Ui, Vec2b, WidgetInfo, vec2};
use egui_plot::{AxisHints, GridInput, GridMark, Plot, PlotBounds, PlotUi};
use jiff::ToSpan;
use jiff::civil::Date;
use journal::Day;

/// Room that the label of a day needs, as a share of the type size.
const LABEL: f64 = 6.0;

/// What a plot is called.
pub(super) struct Called {
    /// What tells it from others of the window.
    pub key: String,
    /// What a screen reader says of it.
    pub spoken: String,
    /// What its values are, with their unit.
    pub axis: String,
}

/// The days and values that a plot shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Window {
    /// From the first day to the end of the last.
    pub days: (f64, f64),
    /// From the least to the greatest value.
    pub values: (f64, f64),
}

/// The days of a span that ends with the last day there is.
pub(super) fn days(span: Span, first: Day, last: Day) -> (f64, f64) {
    let to = f64::from(last) + 1.0;
    let from = match span.days() {
        Some(days) => to - f64::from(days),
        None => f64::from(first).min(to - 28.0),
    };
    (from, to)
}

/// A plot over days, so high.
pub(super) fn plot_ui<'a>(
    ui: &mut Ui,
    called: &Called,
    window: Window,
    height: f32,
    theme: &Theme,
    build: impl FnOnce(&mut PlotUi<'a>) + 'a,
) -> Response {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let width = f64::from(ui.available_width().max(100.0) / size);
    let days = AxisHints::new_x()
        .formatter(|mark, _| day_label(mark))
        .tick_label_font(font.clone())
        .tick_label_color(theme.soft_ink)
        .label_spacing(0.1..=0.2)
        .label("");
    let values = AxisHints::new_y()
        .formatter(|mark, _| value_label(mark))
        .tick_label_font(font)
        .tick_label_color(theme.soft_ink)
        .label_spacing(0.1..=0.2)
        .min_thickness(3.2 * size)
        .label(egui::RichText::new(&called.axis).size(size).color(theme.soft_ink));
    let rows = f64::from(height / size);
    let shown = Plot::new(&called.key)
        .height(height)
        .show_x(false)
        .show_y(false)
        .show_crosshair(false)
        .show_background(false)
        .allow_zoom(false)
        .allow_drag(false)
        .allow_scroll(false)
        .allow_axis_zoom_drag(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .sense(Sense::hover())
        .auto_bounds(Vec2b::FALSE)
        .set_margin_fraction(vec2(0.0, 0.0))
        .grid_color(theme.hairline)
        .grid_fade(0.0)
        .x_grid_spacer(move |input| {
            let (from, to) = input.bounds;
            // The last label has room before the edge.
            let room = LABEL / 2.0 * (to - from) / width;
            let mut marks = day_marks((from, to), width / LABEL);
            marks.retain(|mark| mark.value <= to - room);
            marks
        })
        .y_grid_spacer(move |input: GridInput| value_marks(input.bounds, rows / 3.0))
        .custom_x_axes(vec![days])
        .custom_y_axes(vec![values])
        .show(ui, move |plot| {
            let (days, values) = (window.days, window.values);
            plot.set_plot_bounds(PlotBounds::from_min_max([days.0, values.0], [days.1, values.1]));
            build(plot);
        });
    let response = shown.response;
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &called.spoken));
    response
}

/// "9 Nov 2026" where marks are less than a month apart, "Nov 2026" else, "2026" where they are years.
fn day_label(mark: GridMark) -> String {
    let day = date(mark.value.round() as Day);
    if mark.step_size < 27.0 {
        day.strftime("%-d %b %y").to_string()
    } else if mark.step_size < 360.0 {
        day.strftime("%b %Y").to_string()
    } else {
        day.year().to_string()
    }
}

/// As many decimals as the step needs.
fn value_label(mark: GridMark) -> String {
    let decimals = (-mark.step_size.log10().floor()).clamp(0.0, 3.0) as usize;
    tuning::figure::number(Some(mark.value), decimals, false)
}

/// Marks on whole weeks, months or years, no more than `most`.
fn day_marks(bounds: (f64, f64), most: f64) -> Vec<GridMark> {
    let span = bounds.1 - bounds.0;
    if !span.is_finite() || span <= 0.0 {
        return Vec::new();
    }
    let most = most.max(2.0);
    for weeks in [1, 2] {
        let step = f64::from(7 * weeks);
        if span / step <= most {
            let first = f64::from(journal::monday_of(bounds.0.ceil() as Day));
            let marks = (0..).map(|n| first + f64::from(n) * step);
            return marks
                .take_while(|day| *day <= bounds.1)
                .filter(|day| *day >= bounds.0)
                .map(|value| GridMark { value, step_size: step })
                .collect();
        }
    }
    let months = [1_i64, 2, 3, 6, 12, 24, 60, 120];
    let months =
        months.into_iter().find(|months| span / (30.4 * *months as f64) <= most).unwrap_or(240);
    let mut marks = Vec::new();
    let mut day = year_start(bounds.0);
    let epoch = jiff::civil::date(1970, 1, 1);
    loop {
        let value = epoch.until(day).map_or(f64::MAX, |s| f64::from(s.get_days()));
        if value > bounds.1 {
            return marks;
        }
        if value >= bounds.0 {
            marks.push(GridMark { value, step_size: 30.0 * months as f64 });
        }
        let Ok(next) = day.checked_add(months.months()) else {
            return marks;
        };
        day = next;
    }
}

/// The first of January of a day's year; of a whole decade, so that marks of several years agree.
fn year_start(day: f64) -> Date {
    let year = date(day.floor() as Day).year();
    Date::new(year - year.rem_euclid(10), 1, 1).unwrap_or(Date::ZERO)
}

/// Marks on round values, no more than `most`.
fn value_marks(bounds: (f64, f64), most: f64) -> Vec<GridMark> {
    let span = bounds.1 - bounds.0;
    if !span.is_finite() || span <= 0.0 {
        return Vec::new();
    }
    let least = span / most.clamp(2.0, 9.0);
    let power = 10_f64.powf(least.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|unit| unit * power)
        .find(|step| *step >= least)
        .unwrap_or(10.0 * power);
    let (from, to) = ((bounds.0 / step).ceil(), (bounds.1 / step).floor());
    (from as i64..=to as i64)
        .map(|number| GridMark { value: number as f64 * step, step_size: step })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_lie_on_mondays_months_and_years() {
        let weeks = day_marks((20_700.0, 20_784.0), 13.0);
        assert!(weeks.iter().all(|m| journal::monday_of(m.value as Day) == m.value as Day));
        assert_eq!(weeks.len(), 12);
        let year = day_marks((20_420.0, 20_784.0), 8.0);
        let labels: Vec<String> = year.iter().map(|mark| day_label(*mark)).collect();
        assert_eq!(labels[0], "Jan 2026", "{labels:?}");
        assert!(labels.len() <= 8, "{labels:?}");
        let decade = day_marks((17_000.0, 20_784.0), 12.0);
        assert!((3..=12).contains(&decade.len()));
        assert_eq!(day_label(decade[0]), "2017");
        assert!(day_marks((f64::NAN, 1.0), 8.0).is_empty());
    }

    #[test]
    fn values_are_marked_at_round_numbers() {
        let marks = value_marks((4.13, 6.92), 7.0);
        let values: Vec<String> = marks.into_iter().map(value_label).collect();
        assert_eq!(values, ["4.5", "5.0", "5.5", "6.0", "6.5"]);
        let below = value_marks((-22.0, 11.0), 4.0);
        assert_eq!(
            below.iter().map(|m| value_label(*m)).collect::<Vec<_>>(),
            ["−20", "−10", "0", "10"]
        );
    }
}
