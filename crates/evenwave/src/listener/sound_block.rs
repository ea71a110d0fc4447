//! Blocks of sound, handed to one who asks for them beside the ear: for the calibration, and for what a lesson plays
//! back.

use std::sync::mpsc::{Receiver, SyncSender, TrySendError};
use std::time::Instant;

use tuning::Secs;

/// Blocks that wait for one who follows the sound, at most: some seconds. Further ones are left out.
pub const MOST_BLOCKS: usize = 1_024;

/// A block of sound as the source gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundBlock {
    /// One channel, full scale = 1.0.
    pub samples: Vec<f32>,
    /// Samples a second.
    pub rate_hz: u32,
    /// The time of the sound of its first sample: the clock of all that the ear tells.
    pub start: Secs,
    /// When it was taken from the source.
    pub arrived: Instant,
}

impl SoundBlock {
    /// The time of the sound at which it ends.
    pub fn end(&self) -> Secs {
        Secs(self.start.get() + self.samples.len() as f64 / f64::from(self.rate_hz.max(1)))
    }
}

/// The listener's end of it. While nobody asks it costs one look at an empty channel for each block.
pub(super) struct BlockFeed {
    orders: Receiver<SyncSender<SoundBlock>>,
    follower: Option<SyncSender<SoundBlock>>,
}

impl BlockFeed {
    /// Takes what is asked through `orders`: the newest one who asks is served.
    pub(super) fn new(orders: Receiver<SyncSender<SoundBlock>>) -> Self {
        Self { orders, follower: None }
    }

    /// A block was heard that ends at this time of the sound. Never waits.
    pub(super) fn pass(&mut self, samples: &[f32], rate_hz: u32, end_secs: f64, arrived: Instant) {
        if let Some(asked) = self.orders.try_iter().last() {
            self.follower = Some(asked);
        }
        let Some(follower) = &self.follower else { return };
        let length = samples.len() as f64 / f64::from(rate_hz.max(1));
        let block = SoundBlock {
            samples: samples.to_vec(),
            rate_hz,
            start: Secs(end_secs - length),
            arrived,
        };
        if let Err(TrySendError::Disconnected(_)) = follower.try_send(block) {
            self.follower = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::{channel, sync_channel};

    use super::*;

    #[test]
    fn one_who_asks_is_handed_each_block_until_he_goes() {
        let (order, orders) = channel();
        let mut feed = BlockFeed::new(orders);
        let now = Instant::now();
        feed.pass(&[0.1; 480], 48_000, 1.0, now);
        let (sender, taken) = sync_channel(2);
        order.send(sender).expect("it is there");
        for block in 0..4 {
            feed.pass(&[0.2; 480], 48_000, 1.01 + 0.01 * f64::from(block), now);
        }
        let blocks: Vec<SoundBlock> = taken.try_iter().collect();
        assert_eq!(blocks.len(), 2, "no more than there is room for");
        assert!((blocks[0].start.get() - 1.0).abs() < 1e-9);
        assert!((blocks[1].end().get() - 1.02).abs() < 1e-9);
        assert_eq!(blocks[0].samples, [0.2; 480]);
        drop(taken);
        feed.pass(&[0.2; 480], 48_000, 2.0, now);
        assert!(feed.follower.is_none());
    }
}
