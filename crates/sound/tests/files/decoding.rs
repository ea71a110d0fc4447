//! Every kind of file, and every kind of bad file, as the program meets them.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use sound::{Recording, RecordingError, Remarks};

fn fixture(name: &str) -> PathBuf {
    Path::new("tests/fixtures").join(name)
}

/// All samples of a recording and what was remarked; asserts that nothing was lost.
fn heard(mut recording: Recording) -> (Vec<f32>, Remarks) {
    let mut samples = Vec::new();
    while let Some(block) = recording.next_block().expect("memory and disk can be read") {
        assert_eq!(block.lost_before, 0, "nothing is missing");
        samples.extend_from_slice(block.samples);
    }
    (samples, recording.remarks().clone())
}

/// Amplitude of a tone and how many samples late it is (a whole number of periods apart).
fn tone_in(samples: &[f32], freq_hz: f64, rate_hz: u32) -> (f64, f64) {
    let step = TAU * freq_hz / f64::from(rate_hz);
    // A smooth window over the middle, so that neither ends nor odd lengths matter.
    let (from, to) = (samples.len() / 8, 7 * samples.len() / 8);
    let (mut s, mut c, mut weight) = (0.0, 0.0, 0.0);
    for (n, &x) in samples.iter().enumerate().take(to).skip(from) {
        let u = TAU * ((n - from) as f64 + 0.5) / (to - from) as f64;
        let w = 0.42 - 0.5 * u.cos() + 0.08 * (2.0 * u).cos();
        s += w * f64::from(x) * (step * n as f64).sin();
        c += w * f64::from(x) * (step * n as f64).cos();
        weight += w;
    }
    let (s, c) = (2.0 * s / weight, 2.0 * c / weight);
    (s.hypot(c), -c.atan2(s) / step)
}

/// A WAV file in memory: `tag` 1 = integers, 3 = floats; `data` is what follows the header.
pub(crate) fn wav(tag: u16, channels: u16, rate_hz: u32, bits: u16, data: &[u8]) -> Vec<u8> {
    let group = channels.wrapping_mul(bits / 8);
    let mut bytes = Vec::new();
    bytes.extend_from_slice(b"RIFF");
    bytes.extend_from_slice(&(36 + data.len() as u32).to_le_bytes());
    bytes.extend_from_slice(b"WAVEfmt ");
    bytes.extend_from_slice(&16_u32.to_le_bytes());
    bytes.extend_from_slice(&tag.to_le_bytes());
    bytes.extend_from_slice(&channels.to_le_bytes());
    bytes.extend_from_slice(&rate_hz.to_le_bytes());
    bytes.extend_from_slice(&rate_hz.wrapping_mul(u32::from(group)).to_le_bytes());
    bytes.extend_from_slice(&group.to_le_bytes());
    bytes.extend_from_slice(&bits.to_le_bytes());
    bytes.extend_from_slice(b"data");
    bytes.extend_from_slice(&(data.len() as u32).to_le_bytes());
    bytes.extend_from_slice(data);
    bytes
}

fn ramp(count: usize) -> Vec<f64> {
    let step = 1.8 / count as f64;
    (0..count).map(|n| n as f64 * step - 0.9).collect()
}

fn floats(samples: &[f32]) -> Vec<u8> {
    samples.iter().flat_map(|x| x.to_le_bytes()).collect()
}

#[test]
fn wav_files_of_every_depth_give_their_samples() {
    let ramp = ramp(3_000);
    let integers = |bits: u32| -> Vec<u8> {
        let full = 2_f64.powi(bits as i32 - 1);
        let bytes = (bits / 8) as usize;
        let value = |x: &f64| ((x * full).round() as i32).to_le_bytes()[..bytes].to_vec();
        ramp.iter().flat_map(value).collect()
    };
    let unsigned: Vec<u8> = ramp.iter().map(|x| (x * 128.0 + 128.0).round() as u8).collect();
    let single: Vec<f32> = ramp.iter().map(|&x| x as f32).collect();
    let double: Vec<u8> = ramp.iter().flat_map(|x| x.to_le_bytes()).collect();
    let kinds = [
        (1, 8, unsigned, 1.0 / 256.0),
        (1, 16, integers(16), 2_f64.powi(-16)),
        (1, 24, integers(24), 2_f64.powi(-24)),
        (1, 32, integers(32), 2_f64.powi(-25)),
        (3, 32, floats(&single), 0.0),
        (3, 64, double, 2_f64.powi(-25)),
    ];
    for (tag, bits, data, rounding) in kinds {
        let bytes = wav(tag, 1, 48_000, bits, &data);
        let recording = Recording::from_bytes(bytes, "ramp.wav").expect("a good file");
        let (samples, remarks) = heard(recording);
        assert_eq!(samples.len(), ramp.len(), "{bits} bits");
        for (got, &put) in samples.iter().zip(&ramp) {
            let off = (f64::from(*got) - put).abs();
            // Half a step of the file and half a step of f32.
            assert!(off <= rounding + 2_f64.powi(-25), "{bits} bits: {got} for {put}");
        }
        assert_eq!(remarks, Remarks::default(), "{bits} bits");
    }
}

#[test]
fn rates_from_8_to_192_khz_are_taken_and_others_refused_with_their_number() {
    let data = floats(&[0.1; 500]);
    for rate_hz in [8_000, 11_025, 22_050, 44_100, 88_200, 96_000, 192_000] {
        let bytes = wav(3, 1, rate_hz, 32, &data);
        let recording = Recording::from_bytes(bytes, "x.wav").expect("a good file");
        assert_eq!(recording.sample_rate_hz(), rate_hz);
        let stated = recording.duration_secs().expect("WAV states its length");
        assert!((stated - 500.0 / f64::from(rate_hz)).abs() < 1e-9, "{stated} s");
    }
    for rate_hz in [0, 1, 7_999, 192_001, u32::MAX] {
        let refused = Recording::from_bytes(wav(3, 1, rate_hz, 32, &data), "x.wav").err();
        let told =
            matches!(refused, Some(RecordingError::Rate { rate_hz: told, .. }) if told == rate_hz);
        assert!(told, "{rate_hz} Hz: {refused:?}");
    }
}

#[test]
fn channels_are_mixed_or_chosen() {
    for channels in [1_u16, 2, 3, 6, 8, 12, 18, 26, 27, 32, 64, 101] {
        let value = |n: usize, channel: u16| (n % 50) as f32 / 64.0 + f32::from(channel) / 256.0;
        let interleaved: Vec<f32> =
            (0..400).flat_map(|n| (0..channels).map(move |channel| value(n, channel))).collect();
        let bytes = wav(3, channels, 48_000, 32, &floats(&interleaved));
        let open = || Recording::from_bytes(bytes.clone(), "many.wav").expect("a good file");
        assert_eq!(open().channels(), usize::from(channels));
        let (mixed, _) = heard(open());
        assert_eq!(mixed.len(), 400, "{channels} channels");
        for (n, got) in mixed.iter().enumerate() {
            let mean = value(n, 0) + f32::from(channels - 1) / 512.0;
            assert!((got - mean).abs() < 1e-5, "{channels} channels, sample {n}");
        }
        for number in 1..=channels {
            let chosen = open().with_channel(number.into()).expect("it is there");
            let (samples, _) = heard(chosen);
            let expected: Vec<f32> = (0..400).map(|n| value(n, number - 1)).collect();
            assert_eq!(samples, expected, "channel {number} of {channels}");
        }
        for number in [0, usize::from(channels) + 1] {
            let refused = open().with_channel(number).err().expect("no such channel");
            let words = refused.to_string();
            let told = format!("there is no channel {number}; the file has {channels}");
            assert!(words.starts_with(&told) && words.ends_with("many.wav"), "{words}");
        }
    }
}

#[test]
fn the_extensible_form_is_read_too() {
    for channels in [2_u16, 40] {
        let value = |n: usize| (n % 90) as f32 / 128.0;
        let count = 300 * usize::from(channels);
        let data: Vec<u8> = (0..count)
            .flat_map(|n| ((value(n) * 8_388_608.0) as i32).to_le_bytes()[..3].to_vec())
            .collect();
        let mut bytes = wav(0xFFFE, channels, 96_000, 24, &data);
        // The longer format chunk: its length, 24 valid bits, no loudspeakers named, PCM.
        bytes[16] = 40;
        let length = bytes.len() as u32 + 16;
        bytes[4..8].copy_from_slice(&length.to_le_bytes());
        let tail = b"\x16\0\x18\0\0\0\0\0\x01\0\0\0\0\0\x10\0\x80\0\0\xAA\0\x38\x9B\x71";
        bytes.splice(36..36, tail.iter().copied());
        let recording = Recording::from_bytes(bytes, "x.wav").expect("a good file");
        assert_eq!(recording.channels(), usize::from(channels));
        let (samples, _) = heard(recording.with_channel(2).expect("it is there"));
        let expected: Vec<f32> = (0..300).map(|n| value(n * usize::from(channels) + 1)).collect();
        assert_eq!(samples, expected, "{channels} channels");
    }
}

#[test]
fn lossless_files_give_every_sample() {
    for name in ["two.flac", "two.aiff"] {
        for (number, freq_hz, level) in [(1, 441.0, 0.5), (2, 882.0, 0.25)] {
            let recording = Recording::open(fixture(name)).expect("a good file");
            assert_eq!((recording.sample_rate_hz(), recording.channels()), (8_000, 2));
            let recording = recording.with_channel(number).expect("two channels");
            let (samples, remarks) = heard(recording);
            assert_eq!(samples.len(), 1_600, "{name}");
            assert_eq!(remarks, Remarks::default(), "{name}");
            for (n, &got) in samples.iter().enumerate() {
                let put = level * (TAU * freq_hz * n as f64 / 8_000.0).sin();
                // One step of 24 bits.
                assert!((f64::from(got) - put).abs() < 2_f64.powi(-23), "{name}, sample {n}");
            }
        }
    }
}

#[test]
fn lossy_files_keep_pitch_level_and_time() {
    // Samples beyond the sound itself, and lateness: what cannot be known from an untagged
    // MP3 stream (1 105 samples of LAME's delay) or a raw AAC stream (1 024 of ffmpeg's).
    let files = [
        ("tone.mp3", 0, 0.0),
        ("tone.ogg", 0, 0.0),
        ("tone.m4a", 0, 0.0),
        ("tone-faststart.m4a", 0, 0.0),
        ("tone-untagged.mp3", 1_944, 1_105.0),
        ("tone.aac", 1_816, 1_024.0),
    ];
    for (name, longer, late) in files {
        let recording = Recording::open(fixture(name)).expect("a good file");
        assert_eq!((recording.sample_rate_hz(), recording.channels()), (44_100, 1));
        let (samples, remarks) = heard(recording);
        assert_eq!(samples.len(), 17_640 + longer, "{name}");
        assert_eq!(remarks, Remarks::default(), "{name}");
        let (amplitude, lag) = tone_in(&samples, 441.0, 44_100);
        // 441 Hz at 44.1 kHz: the period is 100 samples.
        let off = (lag - late + 50.0).rem_euclid(100.0) - 50.0;
        assert!(off.abs() < 0.1, "{name}: {off:.3} samples late");
        let level_db = 20.0 * (amplitude / 0.5).log10();
        assert!(level_db.abs() < 0.2, "{name}: {level_db:.3} dB");
    }
}

#[test]
fn a_codec_that_is_not_known_is_named_as_such() {
    for name in ["tone.opus", "alac.m4a"] {
        let refused = Recording::open(fixture(name)).err();
        let told = matches!(refused, Some(RecordingError::Unsupported { .. }));
        assert!(told, "{name}: {refused:?}");
        println!("{}", refused.expect("just seen"));
    }
}

#[test]
fn what_is_not_a_sound_is_refused_with_the_reason() {
    let named = |bytes: &[u8], name: &str| {
        Recording::from_bytes(bytes.to_vec(), name)
            .err()
            .unwrap_or_else(|| panic!("{name} was taken for a sound"))
    };
    let text = "Play it slowly, then with vibrato.\n".repeat(400);
    assert!(matches!(named(b"", "a.wav"), RecordingError::Empty { .. }));
    for name in ["a.txt", "a.wav", "a.mp3", "a.flac", "a.m4a", "a.ogg"] {
        let told = named(text.as_bytes(), name);
        assert!(matches!(told, RecordingError::NotAudio { .. }), "{name}: {told}");
    }
    let picture = {
        let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
        bytes.extend((0..20_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8));
        bytes
    };
    let told = named(&picture, "a.png");
    assert!(matches!(told, RecordingError::NotAudio { .. }), "{told}");
    for (name, bytes) in [
        ("zeros.wav", vec![0; 10_000]),
        ("zeros.mp3", vec![0; 10_000]),
        ("ff.mp3", vec![0xFF; 10_000]),
    ] {
        let told = named(&bytes, name);
        assert!(matches!(told, RecordingError::NotAudio { .. }), "{name}: {told}");
    }
    let no_channels = named(&wav(1, 0, 48_000, 16, &[0; 64]), "none.wav");
    assert!(matches!(no_channels, RecordingError::NoChannels { .. }), "{no_channels}");
    let no_samples = named(&wav(1, 1, 48_000, 16, &[]), "short.wav");
    assert!(matches!(no_samples, RecordingError::NoSamples { .. }), "{no_samples}");
    for length in 1..44 {
        let whole = wav(1, 1, 48_000, 16, &[0; 64]);
        let told = named(&whole[..length], "cut.wav").to_string();
        assert!(told.ends_with("cut.wav"), "{length} bytes: {told}");
    }
}

#[test]
fn places_on_disk_that_hold_no_file_are_told_apart() {
    let missing = Recording::open(fixture("no-such-file.wav")).err();
    assert!(matches!(missing, Some(RecordingError::NotFound { .. })), "{missing:?}");
    let folder = Recording::open(fixture("")).err();
    assert!(matches!(folder, Some(RecordingError::Folder { .. })), "{folder:?}");
    let device = Recording::open("/dev/zero").err();
    assert!(matches!(device, Some(RecordingError::NoFile { .. })), "{device:?}");
}

#[test]
fn a_cut_file_gives_what_is_there_and_says_so() {
    let data = floats(&[0.25; 10_000]);
    let whole = wav(3, 1, 10_000, 32, &data);
    let cut = whole[..44 + 4 * 2_500].to_vec();
    let (samples, remarks) = heard(Recording::from_bytes(cut, "cut.wav").expect("a beginning"));
    assert_eq!(samples, vec![0.25; 2_500]);
    assert_eq!(remarks.cut, Some((1.0, 0.25)));
    assert_eq!(remarks.in_words(), ["the file is cut off: 0.2 s of 1.0 s are there"]);
    for name in ["two.flac", "tone.mp3", "tone-faststart.m4a"] {
        let whole = std::fs::read(fixture(name)).expect("a fixture");
        let cut = whole[..whole.len() * 2 / 3].to_vec();
        let (samples, remarks) = heard(Recording::from_bytes(cut, name).expect("a beginning"));
        assert!(samples.len() > 500, "{name}: {} samples", samples.len());
        assert!(remarks.cut.is_some(), "{name}: {remarks:?}");
    }
}

#[test]
fn an_ogg_file_that_breaks_off_says_so_wherever_that_is() {
    let whole = std::fs::read(fixture("long.ogg")).expect("a fixture");
    let open = |bytes: &[u8]| Recording::from_bytes(bytes.to_vec(), "long.ogg");
    let (samples, remarks) = heard(open(&whole).expect("a sound"));
    assert_eq!((samples.len(), remarks), (96_000, Remarks::default()));
    let mut opened = 0;
    for at in (whole.len() / 3..whole.len()).step_by(997) {
        let Ok(recording) = open(&whole[..at]) else { continue };
        opened += 1;
        let (samples, remarks) = heard(recording);
        let secs = samples.len() as f64 / 16_000.0;
        assert_eq!(remarks.breaks_off, Some(secs), "cut at {at} of {}", whole.len());
        assert!(remarks.in_words()[0].contains("is cut off"), "{remarks:?}");
    }
    assert!(opened > 20, "{opened} could be opened");
}

#[test]
fn a_sound_that_is_not_what_its_checksum_says_is_told() {
    let whole = std::fs::read(fixture("two.flac")).expect("a fixture");
    assert_eq!(heard(Recording::open(fixture("two.flac")).expect("a sound")).1, Remarks::default());
    // The checksum ends the first block, of 34 bytes behind a head of 8.
    for at in 26..42 {
        let mut wrong = whole.clone();
        wrong[at] ^= 1;
        let (_, remarks) = heard(Recording::from_bytes(wrong, "two.flac").expect("a sound"));
        assert_eq!(remarks, Remarks { altered: true, ..Remarks::default() }, "byte {at}");
        assert!(remarks.in_words()[0].contains("checksum"), "{remarks:?}");
    }
}

#[test]
fn an_m4a_that_hides_most_of_its_sound_says_so() {
    let whole = std::fs::read(fixture("tone.m4a")).expect("a fixture");
    let header = whole.windows(4).position(|four| four == b"mvhd").expect("a header");
    let mut damaged = whole;
    // Ticks a second of the movie, in which the length of the sound is written.
    damaged[header + 16..header + 20].fill(0xFF);
    let (samples, remarks) = heard(Recording::from_bytes(damaged, "tone.m4a").expect("a sound"));
    assert!(samples.is_empty(), "{} samples", samples.len());
    let words = remarks.in_words();
    assert_eq!(words.len(), 1, "{words:?}");
    assert!(words[0].contains("only 0.0 s are to be heard"), "{words:?}");
}

#[test]
fn telephone_sound_in_an_unusual_form_is_not_called_damaged() {
    let bytes = vec![0x55; 8_000];
    for tag in [6, 7] {
        let refused = Recording::from_bytes(wav(tag, 1, 8_000, 8, &bytes), "a-law.wav").err();
        let words = refused.expect("its header is too short").to_string();
        assert!(words.contains("convert it") && !words.contains("damaged"), "{words}");
    }
}

#[test]
fn a_wav_whose_lengths_were_never_filled_in_is_heard_to_its_end() {
    // What a recorder leaves behind that was stopped by force, or that wrote into a pipe.
    for riff in [None, Some(0_u32), Some(8), Some(u32::MAX), Some(36)] {
        for data in [None, Some(0_u32), Some(u32::MAX), Some(u32::MAX - 36), Some(0x7FFF_F000)] {
            let mut bytes = wav(3, 1, 48_000, 32, &floats(&[0.25; 3_000]));
            if let Some(riff) = riff {
                bytes[4..8].copy_from_slice(&riff.to_le_bytes());
            }
            if let Some(data) = data {
                bytes[40..44].copy_from_slice(&data.to_le_bytes());
            }
            let what = format!("RIFF length {riff:x?}, data length {data:x?}");
            let recording = Recording::from_bytes(bytes, "x.wav").expect(&what);
            let (samples, remarks) = heard(recording);
            assert_eq!(samples, [0.25; 3_000], "{what}");
            assert_eq!(remarks, Remarks::default(), "{what}");
        }
    }
    let mut bytes = wav(3, 1, 48_000, 32, &[]);
    bytes.extend(b"LIST\x04\0\0\0abcd");
    let empty = Recording::from_bytes(bytes, "x.wav").err();
    assert!(matches!(empty, Some(RecordingError::NoSamples { .. })), "{empty:?}");
}

#[test]
fn samples_that_are_no_numbers_become_silence_and_are_counted() {
    let mut samples = vec![0.5_f32; 1_000];
    samples[10] = f32::NAN;
    samples[20] = f32::INFINITY;
    samples[30] = f32::NEG_INFINITY;
    samples[40] = 1e30;
    samples[50] = -2.0;
    let bytes = wav(3, 1, 48_000, 32, &floats(&samples));
    let (got, remarks) = heard(Recording::from_bytes(bytes, "nan.wav").expect("a good file"));
    for n in [10, 20, 30, 40] {
        samples[n] = 0.0;
    }
    assert_eq!(got, samples);
    assert_eq!(remarks.bad_samples, 4);
    let stereo: Vec<f32> = [f32::NAN, 0.5].repeat(100);
    let bytes = wav(3, 2, 48_000, 32, &floats(&stereo));
    let (got, remarks) = heard(Recording::from_bytes(bytes, "nan.wav").expect("a good file"));
    assert_eq!((got, remarks.bad_samples), (vec![0.25; 100], 100));
}

#[test]
fn a_damaged_place_is_a_gap_of_the_right_length() {
    let whole = std::fs::read(fixture("two.flac")).expect("a fixture");
    let open = |bytes: &[u8]| {
        let recording = Recording::from_bytes(bytes.to_vec(), "two.flac").expect("a start");
        recording.with_channel(1).expect("two channels")
    };
    let (sound, _) = heard(open(&whole));
    // In turn every place behind the header and the first frame (192 samples).
    for at in (1_200..whole.len() - 60).step_by(97) {
        let mut damaged = whole.clone();
        for byte in &mut damaged[at..at + 40] {
            *byte ^= 0x5A;
        }
        let mut recording = open(&damaged);
        let (mut place, mut lost) = (0, 0);
        while let Some(block) = recording.next_block().expect("memory can be read") {
            place += block.lost_before as usize;
            lost += block.lost_before;
            let expected = &sound[place..place + block.samples.len()];
            assert_eq!(block.samples, expected, "damage at {at}: sample {place}");
            place += block.samples.len();
        }
        let remarks = recording.remarks();
        let cut_secs = remarks.cut.map_or(0.0, |(stated, found)| stated - found);
        let missing = lost as f64 + cut_secs * 8_000.0;
        // One frame of 192 samples, or two where the damage crosses a border.
        assert!((32.0..=384.5).contains(&missing), "damage at {at}: {missing} missing");
        assert_eq!(remarks.lost_samples, lost);
        let words = remarks.in_words();
        assert!(!words.is_empty(), "damage at {at} is told");
    }
}

#[test]
fn a_start_in_the_middle_is_exact() {
    let samples: Vec<f32> = (0..20_000).map(|n| n as f32 / 32_768.0).collect();
    let bytes = wav(3, 1, 10_000, 32, &floats(&samples));
    for wanted in [0_usize, 1, 999, 1_152, 4_096, 19_999, 20_000] {
        let mut recording = Recording::from_bytes(bytes.clone(), "x.wav").expect("a good file");
        let secs = wanted as f64 / 10_000.0;
        let skipped = recording.skip_secs(secs).expect("memory can be read");
        assert_eq!(skipped, wanted as u64);
        assert!((recording.place_secs() - secs).abs() < 1e-9);
        let (rest, _) = heard(recording);
        assert_eq!(rest, samples[wanted..], "from {wanted}");
    }
    let mut recording = Recording::from_bytes(bytes, "x.wav").expect("a good file");
    let skipped = recording.skip_secs(99.0).expect("memory can be read");
    assert_eq!(skipped, 20_000, "a file that is shorter ends");
}
