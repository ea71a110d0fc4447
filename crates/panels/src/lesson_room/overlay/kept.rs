//! The lines of a long phrase, kept from one picture to the next.

use egui::Context;
use egui::cache::{ComputerMut, FrameCache};
use pictures::sheet::{Line, Times};
use pictures::stretch::Stretch;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

type Kept = FrameCache<Arc<Vec<Line>>, Liner>;

/// The lines of a part of a phrase, those of the picture before where nothing has changed.
pub(super) fn lines(ctx: &Context, part: Stretch<'_>, times: &Times) -> Arc<Vec<Line>> {
    ctx.memory_mut(|memory| Arc::clone(memory.caches.cache::<Kept>().get(Key(part, *times))))
}

/// A part of a phrase on a sheet.
#[derive(Clone, Copy)]
struct Key<'a>(Stretch<'a>, Times);

impl Hash for Key<'_> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        let Self(part, times) = self;
        part.hash(state);
        (times.span.0.to_bits(), times.x.span().to_bits()).hash(state);
    }
}

#[derive(Default)]
struct Liner;

impl ComputerMut<Key<'_>, Arc<Vec<Line>>> for Liner {
    fn compute(&mut self, Key(part, times): Key<'_>) -> Arc<Vec<Line>> {
        Arc::new(part.lines(&times))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use coach::Instant;
    use egui::Rangef;
    use tuning::{Hz, Secs};

    #[test]
    fn what_has_not_changed_is_kept_and_what_has_is_made_anew() {
        let ctx = Context::default();
        let instant = |number: usize| Instant {
            time: Secs(0.005 * number as f64),
            f0: Some(Hz(220.0 + (0.17 * number as f64).sin())),
            confidence: 0.9,
        };
        let drawn = |frames: usize, span: f64| -> Vec<Arc<Vec<Line>>> {
            let course: Vec<Instant> = (0..frames).map(instant).collect();
            let all = (Secs(0.0), Secs(f64::MAX));
            let stretch = Stretch::of(&course, all, Secs(0.0), Hz(220.0));
            let times = Times { x: Rangef::new(0.0, 700.0), newest: Secs(span), span: Secs(span) };
            stretch.parts().map(|part| lines(&ctx, part, &times)).collect()
        };
        let first = drawn(1_500, 10.0);
        let same = |other: &[Arc<Vec<Line>>]| -> Vec<bool> {
            first.iter().zip(other).map(|(a, b)| Arc::ptr_eq(a, b)).collect()
        };
        assert_eq!(same(&drawn(1_500, 10.0)), [true, true, true]);
        assert_eq!(same(&drawn(1_501, 10.0)), [true, true, false]);
        assert_eq!(same(&drawn(1_500, 20.0)), [false, false, false]);
    }
}
