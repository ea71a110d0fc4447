//! How lengths look on the staff: heads, dots, flags and tuplets.

use coach::plan::{BeatUnit, Beats};

/// One sign of a length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct NoteValue {
    /// How long it is, in quarters.
    pub(crate) quarters: f64,
    /// What it looks like, in quarters without dots: 4 is a whole note, an eighth is half.
    pub(crate) shape: f64,
    pub(crate) dots: u8,
    /// So many in the time of a smaller power of two; 1 for none.
    pub(crate) tuplet: u32,
}

impl NoteValue {
    /// Flags or beams that it has.
    pub(crate) fn flags(&self) -> usize {
        [0.5, 0.25, 0.125].iter().filter(|shape| self.shape <= **shape).count()
    }
}

const SHAPES: [f64; 7] = [8.0, 4.0, 2.0, 1.0, 0.5, 0.25, 0.125];
/// Lengths closer than this are the same; the finest that a plan holds is a 960th.
const SAME: f64 = 1e-6;

/// The signs of a length, to be tied to each other: one where one can show it.
pub(crate) fn values(beats: Beats, unit: BeatUnit) -> Vec<NoteValue> {
    let quarters = beats.get() * f64::from(unit.eighths()) / 2.0;
    let (_, of) = beats.fraction();
    // What the power of two leaves of the denominator makes the tuplet.
    let odd = of >> of.trailing_zeros();
    let tuplet = if matches!(odd, 3 | 5 | 7) { odd } else { 1 };
    let written = quarters * f64::from(tuplet) / f64::from(1 << tuplet.ilog2());
    let mut left = written;
    let mut values = Vec::new();
    while left > SAME && values.len() < 8 {
        let fits = |(shape, dots): &(f64, u8)| with_dots(*shape, *dots) <= left + SAME;
        let signs = SHAPES.iter().flat_map(|shape| [2, 1, 0].map(|dots| (*shape, dots)));
        let Some((shape, dots)) = signs.into_iter().find(fits) else { break };
        let part = with_dots(shape, dots);
        values.push(NoteValue { quarters: part * quarters / written, shape, dots, tuplet });
        left -= part;
    }
    // What is finer than any sign is drawn as the finest.
    if values.is_empty() {
        values.push(NoteValue { quarters, shape: 0.125, dots: 0, tuplet });
    }
    values
}

fn with_dots(shape: f64, dots: u8) -> f64 {
    shape * (2.0 - 0.5f64.powi(i32::from(dots)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_is_shown_by_one_sign_or_by_tied_ones() {
        let shown = |parts, of, unit| -> Vec<(f64, u8, u32)> {
            let beats = Beats::new(parts, of).expect("short");
            values(beats, unit)
                .iter()
                .map(|value| (value.shape, value.dots, value.tuplet))
                .collect()
        };
        let quarter = BeatUnit::Quarter;
        assert_eq!(shown(3, 2, quarter), [(1.0, 1, 1)]);
        assert_eq!(shown(7, 4, quarter), [(1.0, 2, 1)]);
        assert_eq!(shown(5, 4, quarter), [(1.0, 0, 1), (0.25, 0, 1)]);
        assert_eq!(shown(1, 3, quarter), [(0.5, 0, 3)]);
        assert_eq!(shown(2, 3, quarter), [(1.0, 0, 3)]);
        assert_eq!(shown(1, 5, quarter), [(0.25, 0, 5)]);
        assert_eq!(shown(3, 1, BeatUnit::Eighth), [(1.0, 1, 1)]);
        assert_eq!(shown(1, 1, BeatUnit::Half), [(2.0, 0, 1)]);
        let fifth = Beats::new(1, 5).expect("short");
        assert!((values(fifth, quarter)[0].quarters - 0.2).abs() < 1e-9);
    }
}
