//! What the program itself plays, so that the ear does not take what leaks of it for the player.

use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

use tuning::Hz;

/// What was played before is expected so much longer: it fades out, and the room holds it for a while.
const FADES: Duration = Duration::from_millis(1_200);

/// The partials that may leak into the microphone.
pub(super) struct Expected {
    orders: Receiver<Vec<Hz>>,
    now: Vec<Hz>,
    /// What was played before, and until when it is expected.
    before: Option<(Vec<Hz>, Instant)>,
}

impl Expected {
    /// Nothing is played yet; what is comes through `orders`.
    pub(super) fn new(orders: Receiver<Vec<Hz>>) -> Self {
        Self { orders, now: Vec::new(), before: None }
    }

    /// Whether something else is to be expected from `at` on.
    pub(super) fn poll(&mut self, at: Instant) -> bool {
        let mut changed = self.before.take_if(|(_, until)| at >= *until).is_some();
        while let Ok(partials) = self.orders.try_recv() {
            let before = std::mem::replace(&mut self.now, partials);
            if !before.is_empty() {
                self.before = Some((before, at + FADES));
            }
            changed = true;
        }
        changed
    }

    /// All partials that are expected.
    pub(super) fn partials(&self) -> Vec<Hz> {
        let before = self.before.iter().flat_map(|(partials, _)| partials);
        self.now.iter().chain(before).copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;

    #[test]
    fn a_drone_that_fades_out_is_expected_until_it_is_gone() {
        let (order, orders) = channel();
        let mut expected = Expected::new(orders);
        let start = Instant::now();
        assert!(!expected.poll(start));
        order.send(vec![Hz(110.0)]).expect("it listens");
        assert!(expected.poll(start));
        assert_eq!(expected.partials(), [Hz(110.0)]);
        order.send(vec![Hz(98.0)]).expect("it listens");
        assert!(expected.poll(start));
        assert_eq!(expected.partials(), [Hz(98.0), Hz(110.0)]);
        order.send(Vec::new()).expect("it listens");
        assert!(expected.poll(start + FADES / 2));
        assert_eq!(expected.partials(), [Hz(98.0)]);
        assert!(!expected.poll(start + FADES));
        assert!(expected.poll(start + 2 * FADES));
        assert!(expected.partials().is_empty());
    }
}
