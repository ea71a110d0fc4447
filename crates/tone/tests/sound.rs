//! What is promised of the sound, checked from outside by other means than it is made with.

use realfft::RealFftPlanner;
use std::f64::consts::{PI, TAU};
use tone::{Bow, HOP_SECS, Join, Line, NoteSpec, Room, Shape, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};

/// One note with neither noise nor body nor room.
fn bare(note: NoteSpec, band: Hz) -> Spec {
    Spec {
        lines: vec![Line { notes: vec![note], level_db: 0.0 }],
        bow: Bow { snr_db: None, scratch_db: -80.0, band, ..Bow::default() },
        body: None,
        ..Spec::default()
    }
}

fn power(x: impl Iterator<Item = f32>) -> f64 {
    let (sum, count) =
        x.fold((0.0, 0.0), |(sum, count), v| (sum + f64::from(v).powi(2), count + 1.0));
    sum / count
}

/// Power spectrum of `size` samples from `from`, Blackman-Harris window (side lobes below −92 dB).
fn spectrum(x: &[f32], from: usize, size: usize) -> Vec<f64> {
    let mut time: Vec<f64> = (0..size)
        .map(|n| {
            let a = TAU * n as f64 / size as f64;
            let w =
                0.35875 - 0.48829 * a.cos() + 0.14128 * (2.0 * a).cos() - 0.01168 * (3.0 * a).cos();
            w * f64::from(x[from + n])
        })
        .collect();
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut bins = plan.make_output_vec();
    plan.process(&mut time, &mut bins).expect("lengths fit");
    bins.iter().map(|bin| bin.norm_sqr()).collect()
}

#[test]
fn zero_crossings_of_a_single_harmonic_tell_the_stated_pitch() {
    let (rate, width, f0) = (6.3, 108.0, 300.0);
    let mut vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
    vibrato.phase = Some(0.0);
    let note = NoteSpec::straight(Secs(0.0), Secs(3.0), Hz(f0)).with(vibrato);
    let sound = bare(note, Hz(500.0)).render().expect("playable");
    // The formula by itself: a sine from its trough.
    let hz = |t: f64| f0 * (-0.5 * width * (TAU * rate * t).cos() / 1_200.0).exp2();
    for (i, stated) in sound.truth.lines[0].f0.iter().enumerate().take(600) {
        let off = stated.expect("bowed").cents_above(Hz(hz(i as f64 * HOP_SECS))).get();
        assert!(off.abs() < 1e-6, "frame {i}: {off} cents");
    }
    // Upward crossings, each placed by the sine through the two samples around it.
    let x: Vec<f64> = sound.samples.iter().map(|&v| f64::from(v)).collect();
    let crossings: Vec<f64> = (4_800..138_000)
        .filter(|&n| x[n] < 0.0 && x[n + 1] >= 0.0)
        .map(|n| {
            // In a sine of step w between samples: tan of the distance from crossing to n + 1.
            let w = TAU * hz(n as f64 / 48_000.0) / 48_000.0;
            let share = 1.0 - (x[n + 1] * w.sin()).atan2(x[n + 1] * w.cos() - x[n]) / w;
            (n as f64 + share) / 48_000.0
        })
        .collect();
    assert!(crossings.len() > 800);
    for pair in crossings.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        // Simpson's rule for the mean of the formula between the crossings.
        let mean = (hz(a) + 4.0 * hz(0.5 * (a + b)) + hz(b)) / 6.0;
        let off = 1_200.0 * (1.0 / (b - a) / mean).log2();
        assert!(off.abs() < 0.05, "at {a} s: {off} cents");
    }
}

#[test]
fn a_steady_tone_has_power_at_its_harmonics_alone_and_none_is_folded_back() {
    for f0 in [61.7, 440.0, 1_234.5, 2_650.0] {
        let note = NoteSpec::straight(Secs(0.0), Secs(2.2), Hz(f0));
        let sound = bare(note, Hz(40_000.0)).render().expect("playable");
        let size = 65_536;
        let bins = spectrum(&sound.samples, 12_000, size);
        let per_bin = 48_000.0 / size as f64;
        let strongest = bins.iter().copied().fold(0.0, f64::max);
        for (i, value) in bins.iter().enumerate() {
            let hz = i as f64 * per_bin;
            let nearest = (hz / f0).round().max(1.0) * f0;
            let own = (hz - nearest).abs() < 6.0 * per_bin && nearest < 0.45 * 48_000.0;
            let db = 10.0 * (value / strongest).log10();
            assert!(own || db < -90.0, "{db} dB at {hz} Hz of a tone of {f0} Hz");
        }
    }
}

#[test]
fn a_wide_fast_vibrato_leaves_the_top_of_the_spectrum_empty() {
    let vibrato = VibratoSpec::regular(Hz(8.0), Cents(200.0));
    let note = NoteSpec::straight(Secs(0.0), Secs(2.2), Hz(1_900.0)).with(vibrato);
    let sound = bare(note, Hz(40_000.0)).render().expect("playable");
    let bins = spectrum(&sound.samples, 12_000, 65_536);
    let whole: f64 = bins.iter().sum();
    let top: f64 = bins[(0.46 * 65_536.0) as usize..].iter().sum();
    assert!(top / whole < 1e-9, "{}", 10.0 * (top / whole).log10());
    // Between the swept bands of the first harmonics there is nothing either.
    let gap: f64 = bins
        [(2_500.0 / 48_000.0 * 65_536.0) as usize..(3_200.0 / 48_000.0 * 65_536.0) as usize]
        .iter()
        .sum();
    assert!(gap / whole < 1e-7, "{}", 10.0 * (gap / whole).log10());
}

#[test]
fn level_and_noise_are_as_stated() {
    let note = NoteSpec::straight(Secs(0.2), Secs(2.0), Hz(196.0));
    let mut spec = bare(note, Hz(12_000.0));
    spec.body = Some(tone::Body::default());
    spec.bow.pulsed_share = 0.5;
    let quiet = spec.render().expect("playable").samples;
    let level = 10.0 * power(quiet[9_600..105_600].iter().copied()).log10();
    assert!((level - spec.level_dbfs).abs() < 0.05, "{level} dBFS");
    for snr_db in [20.0, 40.0] {
        spec.bow.snr_db = Some(snr_db);
        let noisy = spec.render().expect("playable").samples;
        let noise = power(noisy.iter().zip(&quiet).map(|(a, b)| a - b));
        let again = 10.0 * (power(quiet.iter().copied()) / noise).log10();
        assert!((again - snr_db).abs() < 0.05, "{again} dB for {snr_db} dB");
    }
}

#[test]
fn half_of_the_noise_comes_in_bursts_of_the_period() {
    let note = NoteSpec::straight(Secs(0.0), Secs(4.0), Hz(100.0));
    let mut spec = bare(note, Hz(12_000.0));
    let quiet = spec.render().expect("playable").samples;
    spec.bow.snr_db = Some(20.0);
    let mut folded = |pulsed_share: f64| {
        spec.bow.pulsed_share = pulsed_share;
        let noisy = spec.render().expect("playable").samples;
        // Power at each of the 480 places of the period.
        let mut places = vec![0.0; 480];
        for n in 4_800..182_400 {
            places[n % 480] += f64::from(noisy[n] - quiet[n]).powi(2);
        }
        let whole: f64 = places.iter().sum();
        // Bursts take a fifth of the period from its start, and a little of what follows them.
        places[..144].iter().sum::<f64>() / whole
    };
    assert!((folded(0.0) - 0.3).abs() < 0.02);
    assert!(folded(1.0) > 0.95);
    assert!((folded(0.5) - 0.64).abs() < 0.03);
}

#[test]
fn the_same_seed_gives_the_same_samples_and_another_one_others() {
    let mut vibrato = VibratoSpec::regular(Hz(5.0), Cents(30.0));
    (vibrato.rate_jitter_pct, vibrato.width_jitter_pct) = (6.0, 18.0);
    vibrato.shape = Shape::Flattened(2.0);
    let mut note = NoteSpec::straight(Secs(0.0), Secs(0.8), Hz(220.0)).with(vibrato);
    note.wander = Cents(1.5);
    let mut spec =
        Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() };
    spec.room = Some(Room { t60: Secs(0.4), drr_db: 5.0 });
    let once = spec.render().expect("playable");
    assert_eq!(once, spec.render().expect("playable"));
    spec.seed = 2;
    let other = spec.render().expect("playable");
    assert_ne!(once.samples, other.samples);
    assert_ne!(once.truth, other.truth);
}

#[test]
fn truth_covers_bowed_time_only_and_glides_without_a_gap() {
    let first = NoteSpec::straight(Secs(0.5), Secs(1.0), Hz(220.0));
    let mut second = NoteSpec::straight(Secs(1.5), Secs(1.0), Hz(246.942));
    second.join = Join::Legato;
    second.glide = Secs(0.02);
    let mut spec = bare(first, Hz(12_000.0));
    spec.lines[0].notes.push(second);
    let sound = spec.render().expect("playable");
    let f0 = &sound.truth.lines[0].f0;
    for (i, value) in f0.iter().enumerate() {
        assert_eq!(value.is_some(), (100..500).contains(&i), "frame {i}");
    }
    let at = |i: usize| f0[i].expect("bowed").get();
    assert!((at(299) - 220.0).abs() < 1e-9 && (at(304) - 246.942).abs() < 1e-9);
    // Half-way through the glide the pitch is half-way in cents.
    assert!((at(302) - (220.0f64 * 246.942).sqrt()).abs() < 1e-6);
    // The level does not dip: power in periods of 10 ms around the change.
    let levels: Vec<f64> =
        (140..160).map(|i| power(sound.samples[480 * i..480 * (i + 1)].iter().copied())).collect();
    let (low, high) = levels.iter().fold((f64::MAX, 0.0f64), |(a, b), &v| (a.min(v), b.max(v)));
    assert!(10.0 * (high / low).log10() < 3.0);
}

#[test]
fn a_bow_change_dips_in_level_and_not_in_pitch() {
    let mut note = NoteSpec::straight(Secs(0.0), Secs(2.0), Hz(440.0));
    note.bow_changes = vec![Secs(1.0)];
    let sound = bare(note, Hz(12_000.0)).render().expect("playable");
    let level = |secs: f64| {
        let n = (secs * 48_000.0) as usize;
        10.0 * power(sound.samples[n - 240..n + 240].iter().copied()).log10()
    };
    let dip = level(0.8) - level(1.0);
    assert!((11.0..15.0).contains(&dip), "{dip} dB");
    assert!((level(0.9) - level(1.1)).abs() < 0.2);
    let f0 = &sound.truth.lines[0].f0;
    assert!(f0[190..210].iter().all(|f| f.is_some_and(|f| (f.get() - 440.0).abs() < 1e-9)));
}

#[test]
fn a_string_rings_on_for_as_long_as_stated() {
    let mut note = NoteSpec::straight(Secs(0.0), Secs(1.0), Hz(300.0));
    note.ring = Secs(0.8);
    let sound = bare(note, Hz(500.0)).render().expect("playable");
    let level = |secs: f64| {
        let n = (secs * 48_000.0) as usize;
        10.0 * power(sound.samples[n - 480..n + 480].iter().copied()).log10()
    };
    // The fundamental alone falls by 60 dB in 0.8 s, plus its own dulling of 5 %.
    let slope = (level(1.35) - level(1.05)) / 0.3;
    assert!((slope / (-60.0 / 0.8 * 1.05) - 1.0).abs() < 0.03, "{slope} dB/s");
    assert!(sound.truth.lines[0].f0[205].is_none());
}

#[test]
fn oscillations_are_counted_and_measured_exactly() {
    for rate in [0.5, 1.0, 4.0, 8.0] {
        let mut vibrato = VibratoSpec::regular(Hz(rate), Cents(60.0));
        vibrato.phase = Some(0.5);
        let note = NoteSpec::straight(Secs(0.0), Secs(8.3), Hz(220.0)).with(vibrato);
        let truth = bare(note, Hz(500.0)).render().expect("playable").truth;
        let note = &truth.lines[0].notes[0];
        // From a crest: half a cycle to the first trough, then whole ones.
        let whole = (8.3 * rate - 0.5).floor() as usize;
        assert_eq!(note.oscillations.len(), whole, "at {rate} Hz");
        assert!((note.mean_rate().expect("some").get() - rate).abs() < 1e-9);
        assert!((note.mean_width().expect("some").get() - 60.0).abs() < 1e-9);
        assert!(note.centre.get().abs() < 1e-3, "{:?}", note.centre);
    }
}

#[test]
fn wandering_has_the_stated_size_and_stays_below_3_hz() {
    let mut note = NoteSpec::straight(Secs(0.0), Secs(120.0), Hz(220.0));
    note.wander = Cents(1.5);
    let truth = bare(note, Hz(500.0)).render().expect("playable").truth;
    let f0 = &truth.lines[0].f0[..24_000];
    let cents: Vec<f64> =
        f0.iter().map(|f| f.expect("bowed").cents_above(Hz(220.0)).get()).collect();
    let rms = (cents.iter().map(|c| c * c).sum::<f64>() / cents.len() as f64).sqrt();
    assert!((rms - 1.5).abs() < 0.15, "{rms} cents");
    // A sine of 3 Hz and rms 1.5 has slopes of rms 2π·3·1.5.
    let slopes: Vec<f64> = cents.windows(2).map(|c| (c[1] - c[0]) / HOP_SECS).collect();
    let steepness = (slopes.iter().map(|s| s * s).sum::<f64>() / slopes.len() as f64).sqrt();
    assert!(steepness < 2.0 * PI * 3.0 * 1.6, "{steepness} cents/s");
}

#[test]
fn other_sample_rates_tell_the_same_truth() {
    let note = NoteSpec::straight(Secs(0.1), Secs(0.5), Hz(330.0))
        .with(VibratoSpec::regular(Hz(5.0), Cents(50.0)));
    let mut spec = bare(note, Hz(8_000.0));
    let known = spec.render().expect("playable").truth;
    for rate in [8_000, 44_100, 96_000] {
        spec.sample_rate_hz = rate;
        let sound = spec.render().expect("playable");
        assert_eq!(sound.samples.len(), (1.1 * f64::from(rate)) as usize);
        assert_eq!(
            sound.truth.lines[0].notes[0].oscillations,
            known.lines[0].notes[0].oscillations
        );
        for (a, b) in sound.truth.lines[0].f0.iter().zip(&known.lines[0].f0) {
            let off = a.zip(*b).map_or(0.0, |(a, b)| a.cents_above(b).get());
            // At 44.1 kHz the frame's sample lies up to half a sample beside its time.
            assert!(off.abs() < 0.02, "{off} cents at {rate} Hz");
        }
    }
}

#[test]
fn a_short_text_is_enough_and_survives_the_round_trip() {
    let text = "(lines: [(notes: [(start: 0.0, length: 0.5, f0: 220.0, vibrato: Some((rate: 5.0, width: 30.0)))])])";
    let spec = Spec::from_ron(text).expect("readable");
    assert_eq!(spec, Spec::from_ron(&spec.to_ron().expect("writable")).expect("readable again"));
    assert!(spec.render().is_ok());
    let told =
        Spec::from_ron(&text.replace("width", "breadth")).expect_err("unknown field").to_string();
    assert!(told.contains("breadth"), "{told}");
}

#[test]
fn the_truth_as_csv_has_a_line_per_frame_and_empty_fields_for_rests() {
    let note = NoteSpec::straight(Secs(0.01), Secs(0.02), Hz(220.0));
    let mut spec =
        bare(NoteSpec { attack: Secs(0.005), release: Secs(0.005), ..note }, Hz(8_000.0));
    spec.length = Some(Secs(0.04));
    let mut csv = Vec::new();
    spec.render().expect("playable").truth.write_csv(&mut csv).expect("memory takes it");
    let csv = String::from_utf8(csv).expect("text");
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[0], "time_s,f0_1_hz");
    assert_eq!(lines.len(), 1 + 8);
    assert_eq!(lines[2], "0.005,");
    assert_eq!(lines[3], "0.010,220.000000");
}
