//! AUDIO THREAD. No allocation, no lock, no log, no wait, no panic: see `tests/no_alloc.rs`.
//!
//! This end of the ring stands in the device's callback: it makes mono of what the device hears and puts it in
//! the ring. Where the ring is full, samples are lost; how many, and after which sample, goes
//! through a second ring, so that the reader can place every loss exactly.

use cpal::{FromSample, Sample};
use ringbuf::traits::Producer;
use ringbuf::{HeapCons, HeapProd, HeapRb, traits::Split};

/// Samples mixed at a time, on the stack.
const BLOCK: usize = 256;

/// Losses that can wait to be read. Were there more, the later ones would grow into one.
const LOSSES: usize = 64;

/// Samples that found no room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Loss {
    /// Samples put in the ring before it, since the start.
    pub after: u64,
    /// How many are missing there.
    pub samples: u64,
}

/// The writing end, for the device's thread.
pub struct MonoRing {
    channels: usize,
    channel: Option<usize>,
    ring: HeapProd<f32>,
    losses: HeapProd<Loss>,
    /// Samples put in the ring so far.
    kept: u64,
    /// Samples lost since the last one that was kept.
    losing: u64,
}

/// The reading end, for the listener.
pub struct MonoRingReader {
    pub(crate) ring: HeapCons<f32>,
    pub(crate) losses: HeapCons<Loss>,
    /// Samples read so far.
    pub(crate) read: u64,
}

/// Both ends of a ring of `capacity` samples for a device of `channels` channels, of which one
/// (counted from 0) is heard, or the mean of all. `channels` is at least 1.
pub fn mono_ring(
    channels: usize,
    channel: Option<usize>,
    capacity: usize,
) -> (MonoRing, MonoRingReader) {
    assert!(channels > 0, "a device has at least one channel");
    assert!(
        channel.is_none_or(|channel| channel < channels),
        "channel {channel:?} is one of {channels}"
    );
    let (ring, ring_out) = HeapRb::new(capacity).split();
    let (losses, losses_out) = HeapRb::new(LOSSES).split();
    let writer = MonoRing { channels, channel, ring, losses, kept: 0, losing: 0 };
    let reader = MonoRingReader { ring: ring_out, losses: losses_out, read: 0 };
    (writer, reader)
}

impl MonoRing {
    /// Takes what the device gives: interleaved samples of any kind and number.
    /// Samples that are no numbers become 0; a group cut off at the end is dropped.
    pub fn hear<T>(&mut self, interleaved: &[T])
    where
        T: Copy,
        f32: FromSample<T>,
    {
        let mut mono = [0.0; BLOCK];
        for part in interleaved.chunks(BLOCK * self.channels) {
            let groups = part.chunks_exact(self.channels);
            let count = groups.len();
            for (mono, group) in mono.iter_mut().zip(groups) {
                *mono = match self.channel {
                    Some(channel) => group.get(channel).copied().map_or(0.0, number),
                    None => {
                        let sum: f32 = group.iter().copied().map(number).sum();
                        sum / self.channels as f32
                    }
                };
            }
            self.put(&mono[..count]);
        }
    }

    fn put(&mut self, mono: &[f32]) {
        if self.losing > 0 && !self.tell_loss() {
            self.losing += mono.len() as u64;
            return;
        }
        let kept = self.ring.push_slice(mono);
        self.kept += kept as u64;
        self.losing += (mono.len() - kept) as u64;
    }

    /// Writes down the loss before the samples that follow it. With no room for either, it goes on.
    fn tell_loss(&mut self) -> bool {
        use ringbuf::traits::Observer;
        if self.ring.is_full() {
            return false;
        }
        let loss = Loss { after: self.kept, samples: self.losing };
        let told = self.losses.try_push(loss).is_ok();
        if told {
            self.losing = 0;
        }
        told
    }
}

/// The sample as a number, full scale = 1.0.
fn number<T>(sample: T) -> f32
where
    f32: FromSample<T>,
{
    let number = f32::from_sample(sample);
    if number.is_finite() { number } else { 0.0 }
}
