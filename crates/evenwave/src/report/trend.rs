//! A trend: every note as a dot, each week's median and quartiles over them.

use journal::{Aspect, Day, Part, Trend};
use maud::{Markup, html};

use super::figure::{Scale, WIDTH, figure, place, tick};
use super::page::measure;

/// Decimals of a value that mean something.
pub fn decimals(aspect: Aspect) -> usize {
    match aspect {
        Aspect::Rate | Aspect::Gap => 2,
        Aspect::Centre => 1,
        _ => 0,
    }
}

/// What a part is called.
pub fn part_name(part: Part) -> String {
    match part {
        Part::All => "all notes".to_owned(),
        Part::Finger(0) => "thumb".to_owned(),
        Part::Finger(finger) => format!("finger {finger}"),
        Part::From(midi) => {
            format!("from {} up", tuning::pitch_name(i32::from(midi), tuning::Naming::default()))
        }
    }
}

/// A day as it is written.
pub fn day_name(day: Day) -> String {
    jiff::civil::date(1970, 1, 1)
        .checked_add(jiff::Span::new().days(i64::from(day)))
        .map_or_else(|_| String::new(), |date| date.strftime("%-d %b %Y").to_string())
}

/// So many dates find room below; over more days than these they are months with their year.
const MOST_DATES: usize = 5;
const LONG_DAYS: f64 = 300.0;

fn short_name(day: Day, long: bool) -> String {
    let name = day_name(day);
    match (long, name.split_once(' '), name.rsplit_once(' ')) {
        (true, Some((_, month)), _) => month.to_owned(),
        (false, _, Some((day, _))) => day.to_owned(),
        _ => name,
    }
}

/// Draws it over these days; all of one aspect on one scale of values.
pub fn trend(aspect: Aspect, trend: &Trend, days: (f64, f64), values: (f64, f64)) -> Markup {
    let (left, right, top, bottom) = (38.0, WIDTH - 8.0, 24.0, 170.0);
    let along = Scale::new(days.0, days.1, left, right);
    let up = Scale::new(values.0, values.1, bottom, top);
    let (ticks, tick_decimals) = up.ticks(5);
    let weeks = &trend.weeks;
    // Of a long time not every week has room for its date.
    let shown = weeks.len().div_ceil(MOST_DATES).max(1);
    let long = days.1 - days.0 > LONG_DAYS;
    let middle = |monday: Day| along.at(f64::from(monday) + 3.5);
    let line: Vec<(f64, f64)> =
        weeks.iter().map(|week| (middle(week.monday), up.at(week.median))).collect();
    let drawn = html! {
        text class="name" x="4" y="13" { (part_name(trend.part)) ": " (aspect.name()) ", " (aspect.unit()) }
        @for at in &ticks {
            @let y = place(up.at(*at));
            line class="hair" x1=(left) x2=(right) y1=(y) y2=(y) {}
            text x=(left - 4.0) y=(place(up.at(*at) + 4.0)) text-anchor="end" { (tick(*at, tick_decimals)) }
        }
        @for (day, value) in &trend.dots {
            circle class="faint" cx=(place(along.at(*day))) cy=(place(up.at(*value))) r="1.5" {}
        }
        path class="pen" d=(super::figure::path(&line)) {}
        @for (number, week) in weeks.iter().enumerate() {
            @let x = place(middle(week.monday));
            line class="value" x1=(x) x2=(x) y1=(place(up.at(week.low))) y2=(place(up.at(week.high))) stroke-opacity="0.55" {}
            rect x=(place(middle(week.monday) - 3.0)) y=(place(up.at(week.median) - 3.0)) width="6" height="6" fill="#1b202e" {}
            @if number % shown == 0 {
                @let at = middle(week.monday).clamp(left - 12.0, right - 20.0);
                text x=(place(at)) y=(bottom + 15.0) text-anchor="middle" { (short_name(week.monday, long)) }
            }
        }
    };
    let says: Vec<String> = weeks
        .iter()
        .map(|week| {
            let word =
                |value| measure(Some(value), None, decimals(aspect), aspect == Aspect::Centre);
            format!(
                "week of {}: median {} {} of {} notes, half of them from {} to {}",
                day_name(week.monday),
                word(week.median),
                aspect.unit(),
                week.count,
                word(week.low),
                word(week.high)
            )
        })
        .collect();
    figure(
        &format!("{} of {}", aspect.name(), part_name(trend.part)),
        &says.join("; "),
        bottom + 20.0,
        drawn,
        "",
    )
}
