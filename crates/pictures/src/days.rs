//! Pictures over days: measures over the weeks, and how much was played.

use crate::scale::{Axis, Scale};
use crate::{Meaning, Picture, Shape};
use emath::{Align2, Pos2, Rect, pos2, vec2};
use jiff::ToSpan;
use jiff::civil::Date;
use tuning::figure::number;

/// A day: the number of days since 1970-01-01.
pub type Day = i32;

/// Room that the label of a day needs, as a share of the type size.
const LABEL: f32 = 6.0;
/// How many days wide the bar of a week is.
const BAR_DAYS: f64 = 6.4;
/// Where weeks lie closer than marks are wide, the line says enough.
const MOST_MEDIANS: usize = 60;
/// How strong the dot of one note is.
const NOTE_STRENGTH: f32 = 0.75;

/// The days and values that are shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// From the first day to the end of the last.
    pub days: (f64, f64),
    /// From the least to the greatest value.
    pub values: (f64, f64),
}

/// A week of one measure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Week {
    /// Its Monday.
    pub monday: Day,
    /// The median of its notes, and from where to where the middle half of them reaches.
    pub median: f64,
    /// The lower end of the middle half.
    pub low: f64,
    /// The upper end of the middle half.
    pub high: f64,
}

/// Where days and values lie.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Plot {
    rect: Rect,
    days: Axis,
    values: Axis,
}

impl Plot {
    fn place(&self, day: f64, value: f64) -> Pos2 {
        pos2(self.days.at(day), self.values.at(value))
    }

    /// A bar over so many days around `middle`, as far as it is seen.
    fn bar(&self, middle: f64, days: f64, (from, to): (f64, f64)) -> Option<Rect> {
        let [left, right] = [-0.5, 0.5].map(|half| self.days.at(middle + half * days));
        let rect = Rect::from_x_y_ranges(left..=right, self.values.at(to)..=self.values.at(from));
        (right > left).then_some(rect)
    }
}

/// Axes of days and values, quiet lines on round places, and the name of the values above; the rest of the area is for
/// what is shown.
fn plot(picture: &mut Picture, area: Rect, name: &str, window: Window) -> Plot {
    let size = picture.sizes.scale;
    let top = area.top() + 1.5 * size;
    let room = (area.bottom() - 1.5 * size - top).max(size);
    let values = Scale::straight(window.values.0, window.values.1);
    let ticks = values.marks((room / (3.0 * size)).clamp(2.0, 9.0) as usize);
    let said = |tick: &crate::Tick| number(Some(tick.value), tick.decimals, false);
    let widest = ticks.iter().map(|tick| picture.width(Meaning::ScaleNumber, &said(tick)));
    let numbers = widest.fold(0.0, f32::max);
    let rect = Rect::from_min_max(
        pos2(area.left() + numbers + 0.5 * size, top),
        pos2(area.right(), top + room),
    );
    let days = Scale::straight(window.days.0, window.days.1);
    let plot = Plot {
        rect,
        days: Axis::new(days, rect.left(), rect.right()),
        values: Axis::new(values, rect.bottom(), rect.top()),
    };
    picture.write(Meaning::ScaleNumber, pos2(area.left(), area.top() + size), name);
    for tick in &ticks {
        let y = plot.values.at(tick.value);
        picture.hline(Meaning::Guide, rect.x_range(), y);
        let at = pos2(rect.left() - 0.4 * size, y);
        picture.text(Meaning::ScaleNumber, at, Align2::RIGHT_CENTER, said(tick));
    }
    let most = f64::from(rect.width() / (LABEL * size));
    for (day, step) in day_marks(window.days, most) {
        let x = plot.days.at(day);
        picture.vline(Meaning::Guide, x, rect.y_range());
        let label = day_label(day, step);
        let half = picture.width(Meaning::ScaleNumber, &label) / 2.0;
        if x - half >= area.left() && x + half <= area.right() {
            let at = pos2(x, rect.bottom() + 0.15 * size);
            picture.text(Meaning::ScaleNumber, at, Align2::CENTER_TOP, label);
        }
    }
    plot
}

/// Draws one measure over the weeks: every note a dot, each week's middle half a bar, its median a diamond; weeks that
/// follow each other are joined by a line, and only those.
pub fn trend(
    picture: &mut Picture,
    area: Rect,
    name: &str,
    window: Window,
    dots: &[(f64, f64)],
    weeks: &[Week],
) {
    let plot = plot(picture, area, name, window);
    let (first, last) = window.days;
    let seen: Vec<Week> = weeks
        .iter()
        .filter(|week| f64::from(week.monday) + 7.0 > first && f64::from(week.monday) < last)
        .copied()
        .collect();
    let middle = |week: &Week| f64::from(week.monday) + 3.5;
    for week in &seen {
        if let Some(bar) = plot.bar(middle(week), BAR_DAYS, (week.low, week.high)) {
            picture.rect(Meaning::MiddleHalf, bar);
        }
    }
    let radius = 0.55 * picture.sizes.mark;
    for &(day, value) in dots.iter().filter(|dot| (first..=last).contains(&dot.0)) {
        let middle = plot.place(day, value);
        picture.mark(Meaning::OneNote, Shape::Circle { middle, radius }).strength = NOTE_STRENGTH;
    }
    let median = |week: &Week| plot.place(middle(week), week.median);
    for run in seen.chunk_by(|one, next| next.monday - one.monday == 7) {
        if run.len() > 1 {
            picture.line(Meaning::Medians, run.iter().map(median).collect());
        }
    }
    if seen.len() <= MOST_MEDIANS {
        let half = 1.5 * picture.sizes.mark;
        for at in seen.iter().map(median) {
            let corners = [vec2(0.0, -half), vec2(half, 0.0), vec2(0.0, half), vec2(-half, 0.0)];
            picture.polygon(Meaning::Median, corners.map(|corner| at + corner).to_vec());
        }
    }
}

/// Draws amounts of days or weeks as bars.
pub fn amounts(
    picture: &mut Picture,
    area: Rect,
    name: &str,
    window: Window,
    bars: &[(Day, f64)],
    by_week: bool,
) {
    let plot = plot(picture, area, name, window);
    let (width, middle) = if by_week { (5.5, 3.5) } else { (0.72, 0.5) };
    for &(day, amount) in bars {
        if let Some(bar) = plot.bar(f64::from(day) + middle, width, (0.0, amount)) {
            picture.rect(Meaning::Amount, bar);
        }
    }
    picture.hline(Meaning::Axis, plot.rect.x_range(), plot.rect.bottom());
}

fn date(day: f64) -> Date {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch.checked_add((day as i64).days()).unwrap_or(epoch)
}

/// "9 Nov 26" where marks are less than a month apart, "Nov 2026" else, "2026" where they are years.
fn day_label(day: f64, step_days: f64) -> String {
    let day = date(day.round());
    if step_days < 27.0 {
        day.strftime("%-d %b %y").to_string()
    } else if step_days < 360.0 {
        day.strftime("%b %Y").to_string()
    } else {
        day.year().to_string()
    }
}

/// The Monday of the week of a day; 1970-01-01 was a Thursday.
fn monday_of(day: i64) -> i64 {
    day - (day + 3).rem_euclid(7)
}

/// Marks on whole weeks, months or years, no more than `most`, each with the days to the next.
fn day_marks((from, to): (f64, f64), most: f64) -> Vec<(f64, f64)> {
    let span = to - from;
    if !span.is_finite() || span <= 0.0 {
        return Vec::new();
    }
    let most = most.max(2.0);
    for step in [7.0, 14.0] {
        if span / step <= most {
            let first = monday_of(from.ceil() as i64) as f64;
            let marks = (0..).map(|n| first + f64::from(n) * step);
            let marks = marks.take_while(|day| *day <= to).filter(|day| *day >= from);
            return marks.map(|day| (day, step)).collect();
        }
    }
    let months = [1_i64, 2, 3, 6, 12, 24, 60, 120];
    let months =
        months.into_iter().find(|months| span / (30.4 * *months as f64) <= most).unwrap_or(240);
    let mut marks = Vec::new();
    let mut day = year_start(from);
    let epoch = jiff::civil::date(1970, 1, 1);
    loop {
        let value = epoch.until(day).map_or(f64::MAX, |s| f64::from(s.get_days()));
        if value > to {
            return marks;
        }
        if value >= from {
            marks.push((value, 30.0 * months as f64));
        }
        let Ok(next) = day.checked_add(months.months()) else {
            return marks;
        };
        day = next;
    }
}

/// The first of January of a day's year; of a whole decade, so that marks of several years agree.
fn year_start(day: f64) -> Date {
    let year = date(day.floor()).year();
    Date::new(year - year.rem_euclid(10), 1, 1).unwrap_or(Date::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_lie_on_mondays_months_and_years() {
        let weeks = day_marks((20_700.0, 20_784.0), 13.0);
        // 2026-11-23 is a Monday.
        assert_eq!(monday_of(20_782), 20_780);
        assert!(weeks.iter().all(|(day, _)| monday_of(*day as i64) == *day as i64));
        assert_eq!(weeks.len(), 12);
        let year = day_marks((20_420.0, 20_784.0), 8.0);
        let labels: Vec<String> = year.iter().map(|(day, step)| day_label(*day, *step)).collect();
        assert_eq!(labels[0], "Jan 2026", "{labels:?}");
        assert!(labels.len() <= 8, "{labels:?}");
        let decade = day_marks((17_000.0, 20_784.0), 12.0);
        assert!((3..=12).contains(&decade.len()));
        assert_eq!(day_label(decade[0].0, decade[0].1), "2017");
        assert!(day_marks((f64::NAN, 1.0), 8.0).is_empty());
    }
}
