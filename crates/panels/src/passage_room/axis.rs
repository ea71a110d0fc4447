//! The one axis of time on which staff and ribbons lie: whole bars, page by page, so that nothing moves but what sounds.

use super::Opened;
use egui::Rangef;

/// The bars that are seen, and where they lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axis {
    /// Where the first of them begins, in points.
    left: f32,
    /// Points between two lines of the staff.
    pub(super) space: f32,
    /// What is seen, in spaces of the staff.
    pub(super) seen: Rangef,
}

impl Axis {
    /// The page on which `note` begins, in `x` points, with about so many points to a space; a bar never needs more than the page.
    pub(super) fn of(opened: &Opened, note: usize, x: Rangef, space: f32) -> Self {
        let (_, end) = opened.staff().widths();
        let bars = opened.bars();
        let ends = bars.iter().skip(1).chain([&end]);
        let widest = bars.iter().zip(ends).map(|(from, to)| to - from).fold(1.0, f32::max);
        let space = space.min(x.span() / widest);
        let room = x.span() / space + 1e-3;
        let time = opened.time_of(note).map_or(0.0, |time| time.min) + 1e-3;
        let last_within = |from: f32| {
            let fits = |bar: usize| bars.get(bar + 1).copied().unwrap_or(end) <= from + room;
            (0..bars.len()).rev().find(|&bar| fits(bar)).unwrap_or(0)
        };
        // The last bar of a page is the first of the next one, so that what comes is always in sight.
        let mut first = 0;
        loop {
            let last = last_within(bars.get(first).copied().unwrap_or(0.0)).max(first);
            let next = if last > first { last } else { first + 1 };
            let begins = bars.get(next).copied().filter(|_| last + 1 < bars.len());
            match begins.filter(|begins| *begins <= time) {
                Some(_) => first = next,
                None => {
                    let seen = Rangef::new(
                        bars.get(first).copied().unwrap_or(0.0),
                        bars.get(last + 1).copied().unwrap_or(end),
                    );
                    return Self { left: x.min, space, seen };
                }
            }
        }
    }

    /// Where a place of the staff lies.
    pub(super) fn x(&self, spaces: f32) -> f32 {
        self.left + (spaces - self.seen.min) * self.space
    }

    /// Where the time of a note lies.
    pub(super) fn of_note(&self, opened: &Opened, note: usize) -> Option<Rangef> {
        let time = opened.time_of(note)?;
        Some(Rangef::new(self.x(time.min), self.x(time.max)))
    }

    /// All that is seen.
    pub(super) fn x_range(&self) -> Rangef {
        Rangef::new(self.x(self.seen.min), self.x(self.seen.max))
    }

    /// A place on the page.
    pub(super) fn shows(&self, x: Rangef) -> bool {
        let seen = self.x_range();
        x.min < seen.max - 0.5 && x.max > seen.min + 0.5
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use coach::plan::Passage;

    #[test]
    fn pages_are_whole_bars_and_each_shows_the_last_of_the_one_before() {
        let bars: String =
            (1..=20).map(|bar| format!("bar {bar} A3 1, B3 1, C4 1, D4 1\n")).collect();
        let text = format!("instrument cello\npace 60\n{bars}");
        let opened = Opened::new("mine", Passage::from_text(&text).expect("a passage"));
        let page = |note: usize| Axis::of(&opened, note, Rangef::new(100.0, 1100.0), 10.0);
        let first = page(0);
        assert_eq!((first.x(first.seen.min), first.space), (100.0, 10.0));
        assert!(first.x_range().max <= 1100.0, "{first:?}");
        let mut before = first;
        for note in 0..80 {
            let here = page(note);
            let x = here.of_note(&opened, note).expect("a note");
            assert!(here.shows(x), "note {note} on {here:?}");
            if here != before {
                assert!(here.seen.min < before.seen.max, "{here:?} after {before:?}");
                before = here;
            }
        }
        assert!(before.seen.min > first.seen.max);
        let narrow = Axis::of(&opened, 79, Rangef::new(0.0, 120.0), 10.0);
        assert!(narrow.space < 10.0 && narrow.x_range().max <= 120.1, "{narrow:?}");
    }
}
