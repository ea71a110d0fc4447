//! The listener's end of the ring.

use ringbuf::traits::{Consumer, Observer};

use crate::mono_ring::MonoRingReader;

/// What was read from a ring.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct RingRead {
    /// Samples written to the buffer.
    pub count: usize,
    /// Samples missing just before the first of them.
    pub lost_before: u64,
}

impl MonoRingReader {
    /// Moves what has been heard to `out`, up to its length or to the next loss, whichever comes
    /// first: read again until `count` is 0. Does not wait.
    pub fn read(&mut self, out: &mut [f32]) -> RingRead {
        // In this order: a loss is written down before the sample that follows it, so that every
        // loss among these samples can be seen now.
        let there = self.ring.occupied_len();
        let mut lost_before = 0;
        let mut count = there.min(out.len());
        if count > 0 {
            while let Some(loss) = self.losses.try_peek() {
                let until = loss.after.saturating_sub(self.read);
                if until > 0 {
                    count = count.min(usize::try_from(until).unwrap_or(usize::MAX));
                    break;
                }
                lost_before += loss.samples;
                self.losses.skip(1);
            }
        }
        let count = self.ring.pop_slice(&mut out[..count]);
        self.read += count as u64;
        RingRead { count, lost_before }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mono_ring::mono_ring;

    /// Reads everything there; lost samples become NaN.
    fn read_all(reader: &mut MonoRingReader, length: usize, heard: &mut Vec<f32>) {
        let mut out = vec![0.0; length];
        loop {
            let RingRead { count, lost_before } = reader.read(&mut out);
            if count == 0 {
                assert_eq!(lost_before, 0, "losses come with the sample after them");
                return;
            }
            heard.resize(heard.len() + lost_before as usize, f32::NAN);
            heard.extend_from_slice(&out[..count]);
        }
    }

    #[test]
    fn every_sample_is_heard_or_missed_in_its_place() {
        // A deterministic mixture of block sizes, some far beyond what the ring holds.
        let mut random = 12_345_u32;
        let mut next = move |most: u32| {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            ((random >> 8) % most) as usize
        };
        for round in 0..40 {
            let (mut ring, mut reader) = mono_ring(1, None, 500);
            let mut heard = Vec::new();
            let mut said = 0_usize;
            for _ in 0..300 {
                let block: Vec<f32> = (said..said + next(400)).map(|n| n as f32).collect();
                ring.hear(&block);
                said += block.len();
                if next(10) < 3 {
                    read_all(&mut reader, 1 + next(300), &mut heard);
                }
            }
            read_all(&mut reader, 64, &mut heard);
            // The end makes the last loss known.
            ring.hear(&[said as f32]);
            said += 1;
            read_all(&mut reader, 64, &mut heard);
            assert_eq!(heard.len(), said, "round {round}");
            let missed = heard.iter().filter(|sample| sample.is_nan()).count();
            assert!(missed > 0, "round {round} overflowed the ring");
            for (n, sample) in heard.iter().enumerate() {
                let right = sample.is_nan() || *sample == n as f32;
                assert!(right, "round {round}: {sample} at {n}");
            }
        }
    }

    #[test]
    fn more_losses_than_can_be_written_down_grow_together_and_stay_counted() {
        let (mut ring, mut reader) = mono_ring(1, None, 10);
        let mut said = 0_u64;
        let mut one = [0.0];
        let mut heard = 0_u64;
        let mut lost = 0_u64;
        for _ in 0..1_000 {
            // Overflow, then make room for a single sample: a loss each time.
            ring.hear(&[0.5; 25]);
            said += 25;
            let got = reader.read(&mut one);
            heard += got.count as u64;
            lost += got.lost_before;
        }
        loop {
            let got = reader.read(&mut one);
            heard += got.count as u64;
            lost += got.lost_before;
            if got.count == 0 {
                break;
            }
        }
        ring.hear(&[0.5]);
        said += 1;
        let got = reader.read(&mut one);
        assert_eq!(heard + lost + got.count as u64 + got.lost_before, said);
    }

    #[test]
    fn every_format_of_a_device_means_the_same() {
        fn heard_of<T>(samples: &[T]) -> Vec<f32>
        where
            T: Copy,
            f32: cpal::FromSample<T>,
        {
            let (mut ring, mut reader) = mono_ring(1, None, 16);
            ring.hear(samples);
            let mut heard = Vec::new();
            read_all(&mut reader, 16, &mut heard);
            heard
        }
        let expected = [0.0, 0.5, -0.5, -1.0];
        assert_eq!(heard_of(&[0.0_f32, 0.5, -0.5, -1.0]), expected);
        assert_eq!(heard_of(&[0.0_f64, 0.5, -0.5, -1.0]), expected);
        assert_eq!(heard_of(&[0_i16, 16_384, -16_384, i16::MIN]), expected);
        assert_eq!(heard_of(&[0_i32, 1 << 30, -(1 << 30), i32::MIN]), expected);
        let i24 = |x: i32| cpal::I24::new(x).expect("24 bits");
        let values = [i24(0), i24(1 << 22), i24(-(1 << 22)), i24(-(1 << 23))];
        assert_eq!(heard_of(&values), expected);
        assert_eq!(heard_of(&[128_u8, 192, 64, 0]), expected);
        assert_eq!(heard_of(&[32_768_u16, 49_152, 16_384, 0]), expected);
    }

    #[test]
    fn channels_are_mixed_or_chosen_and_odd_ends_dropped() {
        let groups = [0.1_f32, 0.3, 0.2, f32::NAN, 0.9];
        for (channel, expected) in
            [(None, [0.2, 0.1]), (Some(0), [0.1, 0.2]), (Some(1), [0.3, 0.0])]
        {
            let (mut ring, mut reader) = mono_ring(2, channel, 16);
            ring.hear(&groups);
            let mut heard = Vec::new();
            read_all(&mut reader, 16, &mut heard);
            assert_eq!(heard, expected, "channel {channel:?}");
        }
    }
}
