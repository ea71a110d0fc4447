//! What runs on the device's thread, and what runs for each block after it, does not allocate.

use allocation_counter::measure;
use sound::{Playhead, Resampler, mono_ring, output_ring};

#[test]
fn the_counter_sees_an_allocation() {
    let seen = measure(|| drop(std::hint::black_box(Box::new(5))));
    assert_eq!(seen.count_total, 1);
}

#[test]
fn the_tap_does_not_allocate_whatever_it_is_given() {
    let block = vec![0.5_f32; 2 * 4_096];
    let bytes = vec![7_u8; 2 * 4_096];
    for channel in [None, Some(1)] {
        let (mut ring, mut reader) = mono_ring(2, channel, 20_000);
        let mut room = [0.0; 512];
        let mut kept = 0;
        let seen = measure(|| {
            for length in (0..=4_096).step_by(61) {
                ring.hear(&block[..2 * length]);
                ring.hear(&bytes[..length]);
                if length % 3 == 0 {
                    kept += reader.read(&mut room).count;
                }
            }
        });
        assert_eq!(seen.count_total, 0, "channel {channel:?}");
        assert!(kept > 0, "something was heard");
        // The ring has overflowed: what comes after the loss says so.
        let mut lost = 0;
        for _ in 0..100 {
            lost += reader.read(&mut room).lost_before;
            ring.hear(&block[..64]);
        }
        assert!(lost > 0, "the ring was driven over its end");
    }
}

#[test]
fn the_output_ring_does_not_allocate_whatever_is_asked_of_it() {
    let (mut ring, mut writer) = output_ring(2, 5_000);
    let mut floats = vec![0.0_f32; 2 * 4_096];
    let mut whole = vec![0_i16; 2 * 4_096];
    let samples = [0.25; 512];
    let mut played = 0;
    let seen = measure(|| {
        for length in (0..=4_096).step_by(61) {
            played += writer.play(&samples);
            ring.give(&mut floats[..2 * length], std::time::Duration::ZERO);
            ring.give(&mut whole[..length], std::time::Duration::ZERO);
            assert!(writer.position().is_some());
        }
    });
    assert_eq!(seen.count_total, 0);
    assert!(played > 0 && writer.starved() > 0, "played and starved");
}

#[test]
fn the_resampler_does_not_allocate_where_there_is_room() {
    for from_hz in [8_000, 44_100, 44_101, 48_000, 192_000] {
        let mut resampler = Resampler::new(from_hz, 48_000).expect("rates in range");
        let input = vec![0.25; 5_000];
        let mut out = Vec::with_capacity(40_000);
        let seen = measure(|| {
            for length in (0..=5_000).step_by(61) {
                resampler.push(&input[..length], &mut out);
                out.clear();
            }
            resampler.skip(1_234, &mut out);
            out.clear();
            resampler.finish(&mut out);
        });
        assert_eq!(seen.count_total, 0, "{from_hz} Hz");
    }
}

#[test]
fn sound_is_read_at_any_speed_without_allocating() {
    let samples: std::sync::Arc<[f32]> = vec![0.25; 96_000].into();
    for (rate_hz, speed) in [(48_000, 1.0), (44_100, 1.0), (48_000, 0.5), (44_100, 0.25)] {
        let samples = std::sync::Arc::clone(&samples);
        let mut playhead = Playhead::new(samples, rate_hz, speed, 48_000).expect("a usual speed");
        let mut block = [0.0; 240];
        // The first blocks find the room that is needed.
        for _ in 0..50 {
            playhead.read(&mut block);
        }
        let mut read = 0;
        let seen = measure(|| {
            for _ in 0..200 {
                read += playhead.read(&mut block);
            }
        });
        assert_eq!(seen.count_total, 0, "{rate_hz} Hz at {speed}");
        assert_eq!(read, 48_000);
    }
}
