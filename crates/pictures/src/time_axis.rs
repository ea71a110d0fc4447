//! The axis of time that trace, strip and bow line share, and what runs through all of them: where
//! notes begin and where samples are missing.

use crate::played::Played;
use crate::sheet::Times;
use crate::{Meaning, Picture};
use emath::{Align2, Rect, pos2};
use tuning::Secs;

/// Seconds from one written time to the next; as many as there is room for.
const STEPS_SECS: [i32; 7] = [1, 2, 4, 8, 20, 60, 120];

/// How time is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clock {
    /// Seconds before now.
    Ago,
    /// Seconds since this instant.
    Since(Secs),
}

/// Draws what runs through the sheet from `top` down to the axis: where samples are missing, with the word so far
/// below the top, and where notes begin.
pub fn through(picture: &mut Picture, rect: Rect, times: &Times, played: &Played, word: f32) {
    for &(time, length) in &played.lost {
        let left = times.x_from_secs(time).max(times.x.min);
        let right = times.x_from_secs(Secs(time.0 + length.0));
        if right < times.x.min || left > times.x.max {
            continue;
        }
        let right = right.max(left + picture.sizes.mark).min(times.x.max);
        picture.rect(Meaning::Lost, Rect::from_x_y_ranges(left..=right, rect.y_range()));
        let at = pos2(left + 4.0, rect.top() + word);
        picture.text(Meaning::LostWord, at, Align2::LEFT_TOP, "lost");
    }
    for note in &played.notes {
        let x = times.x_from_secs(note.start);
        if times.x.contains(x) {
            picture.vline(Meaning::Beginning, x, rect.y_range());
        }
    }
}

/// Draws the axis into `area`.
pub fn time_axis(picture: &mut Picture, area: Rect, times: &Times, clock: Clock) {
    match clock {
        Clock::Ago => flow(picture, area, times),
        Clock::Since(start) => since(picture, area, times, start),
    }
}

/// How many seconds lie from one written time to the next, if each needs this much room.
fn step(times: &Times, needed: f32) -> i32 {
    let second = times.x.span() / times.span.0 as f32;
    let fits = |&step: &i32| step as f32 * second >= needed;
    STEPS_SECS.into_iter().find(fits).unwrap_or(STEPS_SECS[STEPS_SECS.len() - 1])
}

/// Seconds before now.
fn flow(picture: &mut Picture, area: Rect, times: &Times) {
    let needed = 1.3 * picture.width(Meaning::ScaleNumber, "−16 s");
    let step = step(times, needed);
    for ago in 0..=times.span.0.round() as i32 {
        let x = times.x_from_secs(Secs(times.newest.0 - f64::from(ago)));
        let written = ago % step == 0;
        stroke(picture, x, area, written);
        let said = match ago {
            0 => "now".to_owned(),
            _ => format!("−{ago} s"),
        };
        let room = x - needed >= times.x.min;
        if written && (room || ago == 0) {
            let at = pos2(x - 0.4 * picture.sizes.scale, area.bottom());
            picture.text(Meaning::ScaleNumber, at, Align2::RIGHT_BOTTOM, said);
        }
    }
}

/// Seconds since an instant.
fn since(picture: &mut Picture, area: Rect, times: &Times, start: Secs) {
    let size = picture.sizes.scale;
    let longest = format!("{:.0} s", times.newest.0 - start.0);
    let step = step(times, 1.3 * picture.width(Meaning::ScaleNumber, &longest));
    let first = (times.oldest().0 - start.0 - 1e-6).ceil() as i32;
    let last = (times.newest.0 - start.0 + 1e-6).floor() as i32;
    let small = if last - first > 60 { step } else { 1 };
    for second in (first..=last).filter(|second| second % small == 0) {
        let x = times.x_from_secs(Secs(start.0 + f64::from(second)));
        let written = second % step == 0;
        stroke(picture, x, area, written);
        let said = format!("{second} s");
        let wide = picture.width(Meaning::ScaleNumber, &said);
        if written && x + 0.4 * size + wide <= times.x.max {
            let at = pos2(x + 0.4 * size, area.bottom());
            picture.text(Meaning::ScaleNumber, at, Align2::LEFT_BOTTOM, said);
        }
    }
}

fn stroke(picture: &mut Picture, x: f32, area: Rect, long: bool) {
    let top = area.top() + 2.0;
    let height = if long { 0.45 } else { 0.2 } * picture.sizes.scale;
    picture.vline(Meaning::Axis, x, top..=top + height);
}

#[cfg(test)]
mod tests {
    use super::*;
    use emath::Rangef;

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
        assert_eq!(step(&times(200.0, 16.0), 140.0), 20, "never none");
    }
}
