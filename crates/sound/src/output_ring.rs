//! AUDIO THREAD. No allocation, no lock, no log, no wait, no panic: see `tests/no_alloc.rs`.
//!
//! This end of the ring stands in the loudspeaker's callback: it gives the device what waits in the ring, silence
//! where nothing does, and tells what will sound when. What the device is given is counted in *places*,
//! from the first sample that was played on: one for each sample and one for each sample of silence
//! given in its stead, so that places pass as time does.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering, fence};
use std::time::{Duration, Instant};

use cpal::{FromSample, Sample};
use ringbuf::traits::{Consumer, Observer, Producer, Split};
use ringbuf::{HeapCons, HeapProd, HeapRb};

/// Samples taken from the ring at a time, on the stack.
const BLOCK: usize = 256;

/// Which sample sounds when; written by the device's thread, read by any.
struct Progress {
    origin: Instant,
    /// Odd while the two below are being written.
    version: AtomicU64,
    /// The first place that the device was last given...
    place: AtomicU64,
    /// ...and when it sounds, in nanoseconds from `origin`.
    sounds_at: AtomicU64,
    /// Places that were given silence because nothing waited.
    starved: AtomicU64,
}

/// The reading end, for the device's thread.
pub struct OutputRing {
    channels: usize,
    ring: HeapCons<f32>,
    progress: Arc<Progress>,
    /// Places given; they are counted once there was a sample to give.
    given: u64,
}

/// The writing end.
pub struct OutputRingWriter {
    ring: HeapProd<f32>,
    progress: Arc<Progress>,
}

/// Both ends of a ring of `capacity` samples for a device of `channels` channels, at least 1.
pub fn output_ring(channels: usize, capacity: usize) -> (OutputRing, OutputRingWriter) {
    assert!(channels > 0, "a device has at least one channel");
    let (ring, ring_out) = HeapRb::new(capacity).split();
    let progress = Arc::new(Progress {
        origin: Instant::now(),
        version: AtomicU64::new(0),
        place: AtomicU64::new(0),
        sounds_at: AtomicU64::new(0),
        starved: AtomicU64::new(0),
    });
    let reader = OutputRing { channels, ring: ring_out, progress: Arc::clone(&progress), given: 0 };
    (reader, OutputRingWriter { ring, progress })
}

impl OutputRing {
    /// Fills what the device asks for, interleaved; it will sound `after` now.
    pub fn give<T>(&mut self, interleaved: &mut [T], after: Duration)
    where
        T: Sample + FromSample<f32>,
    {
        let counts = self.given > 0 || !self.ring.is_empty();
        if counts {
            self.tell(after);
        }
        let mut mono = [0.0; BLOCK];
        for part in interleaved.chunks_mut(BLOCK * self.channels) {
            let count = part.len() / self.channels;
            let waiting = self.ring.pop_slice(&mut mono[..count]);
            mono[waiting..count].fill(0.0);
            if counts {
                self.given += count as u64;
                let silent = (count - waiting) as u64;
                self.progress.starved.fetch_add(silent, Ordering::Release);
            }
            for (group, &sample) in part.chunks_mut(self.channels).zip(&mono) {
                group.fill(T::from_sample(sample.clamp(-1.0, 1.0)));
            }
        }
    }

    /// The next place sounds `after` now.
    fn tell(&self, after: Duration) {
        let progress = &self.progress;
        let sounds_at = progress.origin.elapsed().saturating_add(after);
        let nanos = u64::try_from(sounds_at.as_nanos()).unwrap_or(u64::MAX);
        progress.version.fetch_add(1, Ordering::Relaxed);
        fence(Ordering::Release);
        progress.place.store(self.given, Ordering::Relaxed);
        progress.sounds_at.store(nanos, Ordering::Relaxed);
        progress.version.fetch_add(1, Ordering::Release);
    }
}

impl OutputRingWriter {
    /// Samples that find room now.
    pub fn room(&self) -> usize {
        self.ring.vacant_len()
    }

    /// Samples that wait to be given to the device.
    pub fn waiting(&self) -> usize {
        self.ring.occupied_len()
    }

    /// Takes as many of `samples` as find room and says how many that was.
    pub fn play(&mut self, samples: &[f32]) -> usize {
        self.ring.push_slice(samples)
    }

    /// A place and the instant at which it sounds, as the device told last; `None` before the device
    /// has taken any sample.
    pub fn position(&self) -> Option<(u64, Instant)> {
        let progress = &self.progress;
        // The device's thread writes for a moment a hundred times a second.
        for _ in 0..1_000 {
            let before = progress.version.load(Ordering::Acquire);
            let place = progress.place.load(Ordering::Relaxed);
            let nanos = progress.sounds_at.load(Ordering::Relaxed);
            fence(Ordering::Acquire);
            if before == 0 {
                return None;
            }
            if before.is_multiple_of(2) && before == progress.version.load(Ordering::Relaxed) {
                return Some((place, progress.origin + Duration::from_nanos(nanos)));
            }
        }
        None
    }

    /// Places that were given silence because nothing waited.
    pub fn starved(&self) -> u64 {
        self.progress.starved.load(Ordering::Acquire)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_channel_gets_what_waits_and_then_silence() {
        let (mut ring, mut writer) = output_ring(2, 1_000);
        assert_eq!(writer.play(&[0.5; 300]), 300);
        let mut out = [9_i16; 2 * 400];
        ring.give(&mut out, Duration::from_millis(20));
        assert!(out[..600].iter().all(|s| *s == 16_384), "{:?}", &out[..4]);
        assert!(out[600..].iter().all(|s| *s == 0));
        assert_eq!(writer.starved(), 100);
    }

    #[test]
    fn places_are_counted_from_the_first_sample_and_through_silence() {
        let (mut ring, mut writer) = output_ring(1, 1_000);
        let mut out = [0.0_f32; 200];
        ring.give(&mut out, Duration::ZERO);
        assert_eq!((writer.position(), writer.starved()), (None, 0));
        writer.play(&[0.5; 50]);
        ring.give(&mut out, Duration::from_millis(20));
        let (place, at) = writer.position().expect("the device has taken some");
        assert_eq!((place, writer.starved()), (0, 150));
        let ahead = at.saturating_duration_since(Instant::now());
        assert!(ahead <= Duration::from_millis(20), "{ahead:?}");
        ring.give(&mut out, Duration::ZERO);
        assert_eq!(writer.position().expect("again").0, 200);
        assert_eq!(writer.starved(), 350);
    }

    #[test]
    fn a_place_and_its_instant_are_always_read_together() {
        let (mut ring, mut writer) = output_ring(1, 100);
        writer.play(&[0.0; 100]);
        let done = std::sync::atomic::AtomicBool::new(false);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                // Each place sounds so many hours after the one before that nothing else counts.
                for hour in 0..20_000_u64 {
                    ring.give(&mut [0.0_f32], Duration::from_secs(3_600 * hour));
                }
                done.store(true, Ordering::Release);
            });
            while !done.load(Ordering::Acquire) {
                if let Some((place, at)) = writer.position() {
                    let after = at.saturating_duration_since(writer.progress.origin);
                    assert_eq!(place, after.as_secs() / 3_600);
                }
            }
        });
    }

    #[test]
    fn what_is_beyond_full_scale_is_clipped_and_not_wrapped() {
        let (mut ring, mut writer) = output_ring(1, 10);
        writer.play(&[3.0, -3.0]);
        let mut out = [0_i32; 2];
        ring.give(&mut out, Duration::ZERO);
        assert!(out[0] > i32::MAX - 1_000 && out[1] < i32::MIN + 1_000, "{out:?}");
    }
}
