//! What is planned of each note, as a ribbon on the axis of time: as thick as the vibrato is to be wide, with a ripple as fast.

use coach::plan::{Intention, Passage, Pitch};
use emath::{Pos2, Rangef, Rect, pos2};

use crate::{Meaning, Picture};

/// Ripples whose rate is not planned are drawn at this one.
const USUAL_RATE_HZ: f64 = 5.5;
/// Points of a ripple for each oscillation.
const POINTS: f64 = 12.0;
/// How tall a cent of width is drawn, in points: more than a cent of pitch, else most vibratos were hardly seen.
pub const POINTS_A_CENT: f64 = 0.8;
/// A note that reaches less far into what is seen is not drawn, in points.
const EDGE: f32 = 1.0;
/// Cents that a ribbon needs above and below its notes.
const ABOVE_CENTS: f64 = 100.0;

/// Draws the ribbons of the notes that lie within `area`; `time_of` says where a note's time lies, in points.
pub fn planned_ribbons(
    picture: &mut Picture,
    passage: &Passage,
    area: Rect,
    time_of: impl Fn(usize) -> Option<Rangef>,
) {
    let Some(heights) = Heights::of(passage, area, picture) else { return };
    for (number, note) in passage.notes().iter().enumerate() {
        let (Pitch::Single(pitch), Some(time), false) = (note.pitch, time_of(number), note.tie)
        else {
            continue;
        };
        // All that is tied to it is one note.
        let tied = passage.notes()[number + 1..].iter().take_while(|next| next.tie).count();
        let time = Rangef::new(time.min, time_of(number + tied).map_or(time.max, |last| last.max));
        if time.max <= area.left() + EDGE || time.min >= area.right() - EDGE {
            continue;
        }
        // A little air between two notes.
        let time = Rangef::new(time.min + 2.0, time.max - 2.0);
        let middle = heights.y_of(pitch.midi());
        match note.intention {
            Intention::Straight => picture.hline(Meaning::Planned, time, middle),
            Intention::Contour { width, rate, peak_at } => {
                let notes = &passage.notes()[number..=number + tied];
                let beats: f64 = notes.iter().map(|note| note.beats.get()).sum();
                let secs = beats * passage.beat().get();
                let at = |three: [f64; 3], share: f64| course(three, peak_at, share);
                let width = |share: f64| at(width.map(|width| width.0), share);
                let rate = rate.map_or([USUAL_RATE_HZ; 3], |rate| rate.map(|rate| rate.0));
                let x = |share: f64| time.min + time.span() * share as f32;
                let edge = |share: f64, side: f64| {
                    pos2(x(share), middle - heights.off(side * width(share) / 2.0))
                };
                let peak = peak_at.clamp(0.0, 1.0);
                for (from, to) in
                    [(0.0, peak), (peak, 1.0)].into_iter().filter(|(from, to)| from < to)
                {
                    let corners =
                        vec![edge(from, 1.0), edge(to, 1.0), edge(to, -1.0), edge(from, -1.0)];
                    picture.polygon(Meaning::MiddleHalf, corners);
                }
                let mean_rate =
                    (0..8).map(|eighth| at(rate, f64::from(eighth) / 7.0)).sum::<f64>() / 8.0;
                let count = (secs * mean_rate * POINTS).clamp(8.0, 2_000.0) as usize;
                let mut phase = 0.0;
                let ripple: Vec<Pos2> = (0..=count)
                    .map(|point| {
                        let share = point as f64 / count as f64;
                        let place = edge(share, phase_sine(phase));
                        phase += at(rate, share) * secs / count as f64;
                        place
                    })
                    .collect();
                picture.line(Meaning::Planned, ripple);
            }
        }
    }
}

/// How high the notes of a passage lie on the ground of its ribbons.
pub(crate) struct Heights {
    area: Rect,
    low: f64,
    high: f64,
    points_a_cent: f64,
}

impl Heights {
    /// `None` where no single note is planned.
    pub(crate) fn of(passage: &Passage, area: Rect, picture: &Picture) -> Option<Self> {
        let midis = || {
            passage.notes().iter().filter_map(|note| match note.pitch {
                Pitch::Single(pitch) => Some(pitch.midi()),
                _ => None,
            })
        };
        let low = 100.0 * f64::from(midis().min()?) - ABOVE_CENTS;
        let high = 100.0 * f64::from(midis().max()?) + ABOVE_CENTS;
        let points_a_cent = POINTS_A_CENT * f64::from(picture.sizes.grown.strokes);
        Some(Self { area, low, high, points_a_cent })
    }

    /// The line of a note.
    pub(crate) fn y_of(&self, midi: i32) -> f32 {
        let share = (100.0 * f64::from(midi) - self.low) / (self.high - self.low);
        self.area.bottom() - self.area.height() * share as f32
    }

    /// How far from its line so many cents of a swing are drawn.
    pub(crate) fn off(&self, cents: f64) -> f32 {
        (cents * self.points_a_cent) as f32
    }
}

fn phase_sine(turns: f64) -> f64 {
    (std::f64::consts::TAU * turns).sin()
}

/// A value on two straight lines that meet at `peak_at`.
fn course([start, peak, end]: [f64; 3], peak_at: f64, share: f64) -> f64 {
    match share < peak_at {
        true => start + (peak - start) * share / peak_at,
        false if peak_at < 1.0 => peak + (end - peak) * (share - peak_at) / (1.0 - peak_at),
        false => end,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Shape, Sizes};
    use emath::vec2;

    #[test]
    fn a_ripple_swings_as_often_and_as_wide_as_planned() {
        let text = "instrument cello\npace 60\nbar A3 2 width 0 to 60 to 0 rate 5, B3 2 straight\n";
        let passage = Passage::from_text(text).expect("a passage");
        let area = Rect::from_min_size(Pos2::ZERO, vec2(800.0, 320.0));
        let mut picture = Picture::new(area, &Sizes::USUAL);
        planned_ribbons(&mut picture, &passage, area, |note| {
            Some(Rangef::new(400.0 * note as f32, 400.0 * (note + 1) as f32))
        });
        let lines: Vec<&Vec<Pos2>> = picture
            .marks
            .iter()
            .filter_map(|mark| match &mark.shape {
                Shape::Line(corners) => Some(corners),
                _ => None,
            })
            .collect();
        let ripple = lines[0];
        // 400 cents lie on 320 points; A3 is 100 cents above the foot.
        let middle = 320.0 - 320.0 * 100.0 / 400.0;
        let crossings =
            ripple.windows(2).filter(|pair| (pair[0].y > middle) != (pair[1].y > middle)).count();
        assert!((19..=21).contains(&crossings), "two seconds at 5 Hz: {crossings}");
        let top = ripple.iter().map(|at| middle - at.y).fold(0.0, f32::max);
        assert!((top - 24.0).abs() < 1.5, "30 cents up at the peak: {top}");
        assert_eq!(lines[1].len(), 2, "a straight note is a stroke");
    }
}
