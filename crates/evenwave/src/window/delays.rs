//! How late the picture is, from the clock of the samples to the drawing, and what it costs.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

use panels::stand::Figures;
use tuning::Secs;

/// Over how long figures are told.
const SPAN: Duration = Duration::from_secs(10);

/// One picture.
struct Drawn {
    at: Instant,
    /// From the sound of its newest frame; `None` if it showed no newer one than the picture before.
    delay_ms: Option<f64>,
    /// The window's own work: taking in what was heard, and laying the picture out.
    work_ms: f64,
}

/// Gathers the delays of the last pictures.
#[derive(Default)]
pub(super) struct Delays {
    /// When the first sample sounded.
    pub origin: Option<Instant>,
    newest: Option<Secs>,
    drawn: VecDeque<Drawn>,
}

impl Delays {
    /// A picture was drawn at `now` whose newest frame stands for `newest`; `None` while nothing sounds.
    pub(super) fn draw(&mut self, now: Instant, newest: Option<Secs>, work: Duration) {
        let fresh = newest.filter(|_| newest != self.newest);
        self.newest = newest.or(self.newest);
        let delay_ms = fresh.zip(self.origin).map(|(newest, origin)| {
            1e3 * (now.saturating_duration_since(origin).as_secs_f64() - newest.0)
        });
        self.drawn.push_back(Drawn { at: now, delay_ms, work_ms: 1e3 * work.as_secs_f64() });
        let old = |drawn: &Drawn| now.saturating_duration_since(drawn.at) > SPAN;
        while self.drawn.front().is_some_and(old) {
            self.drawn.pop_front();
        }
    }

    /// The figures of the last seconds; `None` before the first picture with sound.
    pub(super) fn figures(&self) -> Option<Figures> {
        let mut delays: Vec<f64> = self.drawn.iter().filter_map(|d| d.delay_ms).collect();
        let mut work: Vec<f64> = self.drawn.iter().map(|d| d.work_ms).collect();
        delays.sort_by(f64::total_cmp);
        work.sort_by(f64::total_cmp);
        let (first, last) = (self.drawn.front()?, self.drawn.back()?);
        let secs = last.at.saturating_duration_since(first.at).as_secs_f64();
        Some(Figures {
            delay_median_ms: *delays.get(delays.len() / 2)?,
            delay_most_ms: *delays.last()?,
            work_p99_ms: *work.get((work.len() * 99 / 100).min(work.len() - 1))?,
            pictures_per_sec: (self.drawn.len() - 1) as f64 / secs.max(1e-3),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_delay_runs_from_the_sample_clock_to_the_drawing() {
        let origin = Instant::now();
        let mut delays = Delays { origin: Some(origin), ..Delays::default() };
        for picture in 1..=100_u32 {
            let sounded = f64::from(picture) * 0.02;
            let late = if picture == 50 { 0.09 } else { 0.04 };
            let now = origin + Duration::from_secs_f64(sounded + late);
            delays.draw(now, Some(Secs(sounded)), Duration::from_millis(2));
            // A picture of the same sound, drawn for another reason, says nothing of the delay.
            delays.draw(now + Duration::from_millis(5), Some(Secs(sounded)), Duration::ZERO);
        }
        let figures = delays.figures().expect("sound was drawn");
        assert!((figures.delay_median_ms - 40.0).abs() < 0.01, "{figures:?}");
        assert!((figures.delay_most_ms - 90.0).abs() < 0.01, "{figures:?}");
        assert!((figures.work_p99_ms - 2.0).abs() < 0.01, "{figures:?}");
        assert!((figures.pictures_per_sec - 100.0).abs() < 2.0, "{figures:?}");
    }
}
