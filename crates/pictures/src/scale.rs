//! Scales: how values lie along a length, and where its strokes and numbers stand.

/// How values lie along a length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// The value at the beginning.
    pub from: f64,
    /// The value at the end.
    pub to: f64,
    /// Values lie by the square root of their distance from the beginning, so that small ones have room.
    pub by_root: bool,
    /// Where strokes stand; empty where round values are taken as they fit.
    pub strokes: &'static [f64],
    /// Which of them are written out.
    pub written: &'static [f64],
}

/// Oscillations per second: what is measured reaches from 0.5 to 10 Hz.
pub const RATE: Scale = Scale {
    from: 0.0,
    to: 10.0,
    by_root: false,
    strokes: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0],
    written: &[0.0, 2.0, 4.0, 6.0, 8.0, 10.0],
};

/// The same where a vibrato is seen among others: practice begins at about 2 Hz.
pub const FIELD_RATE: Scale = Scale { from: 2.0, ..RATE };

/// Cents from crest to trough: what is measured reaches from 4 to 250 cents.
pub const WIDTH: Scale = Scale {
    from: 0.0,
    to: 250.0,
    by_root: true,
    strokes: &[0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0],
    written: &[0.0, 10.0, 20.0, 40.0, 60.0, 100.0, 150.0, 250.0],
};

/// The distance of a note from what it is held against, in cents.
pub const OFFSET: Scale = Scale {
    from: -50.0,
    to: 50.0,
    by_root: false,
    strokes: &[-50.0, -40.0, -30.0, -20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0, 50.0],
    written: &[-50.0, -30.0, -10.0, 0.0, 10.0, 30.0, 50.0],
};

/// A spread from cycle to cycle, in percent.
pub const SPREAD: Scale = Scale {
    from: 0.0,
    to: 50.0,
    by_root: true,
    strokes: &[0.0, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0],
    written: &[0.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0],
};

impl Scale {
    /// A straight scale with strokes on round values. Where all values are one, there is room around it.
    pub fn straight(from: f64, to: f64) -> Self {
        let (from, to) = if to - from > 1e-9 { (from, to) } else { (from - 0.5, from + 0.5) };
        Self { from, to, by_root: false, strokes: &[], written: &[] }
    }

    /// Where `value` lies, from 0 at the beginning to 1 at the end; what lies beyond stays there.
    pub fn share(&self, value: f64) -> f32 {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        (if self.by_root { share.sqrt() } else { share }) as f32
    }

    /// The value that lies there.
    pub fn value(&self, share: f32) -> f64 {
        let share = f64::from(share.clamp(0.0, 1.0));
        self.from + (self.to - self.from) * if self.by_root { share * share } else { share }
    }

    /// Where strokes stand and what is written there: its own strokes, or round values, about as many as wanted.
    pub fn marks(&self, wanted: usize) -> Vec<Tick> {
        if !self.strokes.is_empty() {
            let tick =
                |&value: &f64| Tick { value, decimals: 0, written: self.written.contains(&value) };
            let within = |value: &&f64| !(**value < self.from || **value > self.to);
            return self.strokes.iter().filter(within).map(tick).collect();
        }
        let span = self.to - self.from;
        let step = round_step(span / wanted.max(1) as f64);
        if !(step.is_finite() && step > 0.0) {
            return Vec::new();
        }
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        let decimals = (-step.log10().floor()).clamp(0.0, 4.0) as usize;
        // A scale of a broken file must not have endless lines.
        (first..=last.min(first.saturating_add(60)))
            .map(|n| Tick { value: n as f64 * step, decimals, written: true })
            .collect()
    }
}

/// A stroke along a scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tick {
    /// Where.
    pub value: f64,
    /// With so many decimals it is written.
    pub decimals: usize,
    /// Its number is written.
    pub written: bool,
}

/// The least of 1, 2, 5, 10 and so on, times a power of ten, that is no less than `least`.
pub fn round_step(least: f64) -> f64 {
    let unit = 10f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * unit);
    steps.into_iter().find(|step| *step >= least * (1.0 - 1e-9)).unwrap_or(least)
}

/// A scale laid along a picture: from `at_from` to `at_to`, in points, either way round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// How values lie.
    pub scale: Scale,
    /// Where the beginning lies.
    pub at_from: f32,
    /// Where the end lies.
    pub at_to: f32,
}

impl Axis {
    /// This scale from one place to another.
    pub fn new(scale: Scale, at_from: f32, at_to: f32) -> Self {
        Self { scale, at_from, at_to }
    }

    /// Where `value` lies.
    pub fn at(&self, value: f64) -> f32 {
        self.at_from + self.scale.share(value) * (self.at_to - self.at_from)
    }

    /// What lies at this place; beyond the ends, what lies there.
    pub fn value(&self, at: f32) -> f64 {
        self.scale.value((at - self.at_from) / (self.at_to - self.at_from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_lie_where_the_scale_says() {
        let rate = Axis::new(RATE, 100.0, 500.0);
        assert_eq!([0.0, 5.0, 10.0].map(|hz| rate.at(hz)), [100.0, 300.0, 500.0]);
        let width = Axis::new(WIDTH, 500.0, 100.0);
        assert_eq!(width.at(62.5), 300.0, "a quarter of the top lies halfway");
        assert_eq!((width.at(900.0), width.at(-3.0)), (100.0, 500.0), "what is beyond stays");
        for value in [4.0, 33.0, 220.0] {
            assert!((width.value(width.at(value)) - value).abs() < 1e-3);
        }
    }

    #[test]
    fn a_scale_has_round_ticks_within_it_and_an_end() {
        let values = |scale: Scale, wanted| -> Vec<f64> {
            scale.marks(wanted).iter().map(|tick| tick.value).collect()
        };
        assert_eq!(values(Scale::straight(3.1, 7.9), 5), [4.0, 5.0, 6.0, 7.0]);
        let fine = Scale::straight(0.0, 0.5).marks(5);
        assert_eq!((fine.len(), fine[1].decimals), (6, 1));
        let one = Axis::new(Scale::straight(2.0, 2.0), 0.0, 10.0);
        assert_eq!(one.at(2.0), 5.0);
        assert!(values(Scale::straight(0.0, 1e300), 5).len() < 100);
        assert!(values(Scale { from: f64::NAN, ..RATE }, 5).len() == RATE.strokes.len());
    }

    #[test]
    fn every_written_number_has_a_stroke_and_room() {
        for scale in [RATE, WIDTH, SPREAD] {
            assert!(scale.written.iter().all(|v| scale.strokes.contains(v)));
            // The narrowest gauge is about 300 points wide, three figures about 27.
            let places: Vec<f32> = scale.written.iter().map(|&v| scale.share(v)).collect();
            assert!(places.windows(2).all(|pair| (pair[1] - pair[0]) * 280.0 > 22.0), "{places:?}");
        }
    }
}
