//! What the ear tells of notes, heard in sound made here: where they begin and end, what their pitch does, and which
//! of them clips.

use std::f64::consts::TAU;
use tuning::{Hz, Secs};
use vibrato::{Ear, Event, Motion, Note, PitchCourse, Quantity, Settings};

const RATE: f64 = 48_000.0;
/// Amplitude of the fundamental, full scale = 1.
const SOFT: f64 = 0.02;

const C3: f64 = 130.81;
const EB3: f64 = 155.56;
const A3: f64 = 220.0;

/// A sawtooth of 8 partials whose pitch in Hz and gain are known at each second; it is silent where the gain is 0.
fn sound(secs: f64, pitch: impl Fn(f64) -> f64, gain: impl Fn(f64) -> f64) -> Vec<f32> {
    let mut turns = 0.0;
    (0..(secs * RATE) as usize)
        .map(|i| {
            let at = i as f64 / RATE;
            turns += pitch(at) / RATE;
            let saw: f64 = (1..=8).map(f64::from).map(|k| (TAU * k * turns).sin() / k).sum();
            (SOFT * gain(at) * saw).clamp(-1.0, 1.0) as f32
        })
        .collect()
}

/// The notes of a sound, and all events, with half a second of quiet around it.
fn hear_all(sound: &[f32]) -> (Vec<Note>, Vec<Event>) {
    let quiet = vec![0.0; RATE as usize / 2];
    let (events, notes) = Ear::new(Settings::default()).all_of(&[&quiet, sound, &quiet].concat());
    (notes, events)
}

fn notes(sound: &[f32]) -> Vec<Note> {
    hear_all(sound).0
}

/// A note of one second, then another of one second in one bow, whose start is `gain` times louder for `hold` seconds
/// and comes back within `tail` seconds.
fn accented(from: f64, to: f64, gain: f64, hold: f64, tail: f64) -> Vec<f32> {
    let loud = |at: f64| {
        let since = at - 1.0;
        if !(0.0..hold + tail).contains(&since) {
            1.0
        } else if since < hold {
            gain
        } else {
            gain + (1.0 - gain) * (since - hold) / tail
        }
    };
    sound(2.0, |at| if at < 1.0 { from } else { to }, loud)
}

#[test]
fn a_change_of_note_is_told_however_loud_the_new_bow_begins() {
    let pairs =
        [(C3, EB3, 48, 51), (A3, 261.63, 57, 60), (A3, 207.65, 57, 56), (C3, 196.0, 48, 55)];
    let mut wrong = Vec::new();
    for (from, to, first, second) in pairs {
        for gain in [1.5, 2.0, 3.0, 4.0, 6.0, 9.0] {
            for hold in [0.01, 0.03] {
                for tail in [0.0, 0.005, 0.01, 0.02] {
                    let told = notes(&accented(from, to, gain, hold, tail));
                    let names: Vec<i32> = told.iter().map(|note| note.midi).collect();
                    let right = names == [first, second]
                        && (told[0].end.get() - 1.5).abs() < 0.04
                        && (told[1].start.get() - 1.5).abs() < 0.04
                        && (told[1].end.get() - 2.5).abs() < 0.04
                        && told[1].offset.value.get().abs() < 2.0;
                    if !right {
                        let spans: Vec<_> =
                            told.iter().map(|n| (n.midi, n.start.get(), n.end.get())).collect();
                        wrong.push(format!("{from} {to} x{gain} {hold} {tail}: {spans:?}"));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} of 192:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn clipping_is_told_of_the_note_it_lies_in() {
    // A clean note, a rest, and one whose attack alone clips.
    for rest in [0.02, 0.05, 0.2] {
        for attack in [0.02, 0.05] {
            let second = 1.0 + rest;
            let gain = |at: f64| match at {
                at if at < 1.0 => 10.0,
                at if at < second => 0.0,
                at if at < second + attack => 60.0,
                _ => 10.0,
            };
            let told = notes(&sound(2.0 + rest, |at| if at < second { A3 } else { C3 }, gain));
            let clipped: Vec<bool> = told.iter().map(|note| note.remarks.clipped).collect();
            assert_eq!(clipped, [false, true], "{rest} {attack}");
        }
    }
    // In one bow, and the other way about.
    for (loud, expected) in [(1.0, [false, true]), (0.5, [true, false])] {
        let gain = |at: f64| if (loud..loud + 0.03).contains(&at) { 60.0 } else { 10.0 };
        let told = notes(&sound(2.0, |at| if at < 1.0 { A3 } else { EB3 }, gain));
        let clipped: Vec<bool> = told.iter().map(|note| note.remarks.clipped).collect();
        assert_eq!(clipped, expected);
    }
}

#[test]
fn lost_samples_are_told_between_what_lies_before_and_behind_them() {
    for lost in [1, 480, 24_000, 480_000] {
        let sound = sound(1.0, |_| A3, |_| 5.0);
        let mut ear = Ear::new(Settings::default());
        let (mut events, mut notes) = (Vec::new(), Vec::new());
        let mut keep = |event, ear: &Ear| {
            notes.extend(ear.note().cloned());
            events.push(event);
        };
        ear.hear(&sound, &mut keep);
        ear.skip(lost);
        ear.hear(&sound, &mut keep);
        ear.finish();
        ear.hear(&[], &mut keep);
        let frames = |events: &[Event]| -> Vec<f64> {
            let time = |event: &Event| match event {
                Event::Frame(frame) => Some(frame.time.get()),
                _ => None,
            };
            events.iter().filter_map(time).collect()
        };
        let at = events.iter().position(|event| matches!(event, Event::Lost { .. }));
        let (before, behind) = events.split_at(at.expect("the loss is told"));
        assert!(frames(before).iter().all(|time| *time < 1.0), "{lost}");
        assert!(frames(before).len() >= 200, "{lost}: {} before it", frames(before).len());
        assert!(frames(behind).iter().all(|time| *time >= 1.0), "{lost}");
        assert!(notes[0].remarks.lost, "{lost}");
    }
}

#[test]
fn a_sound_that_is_cut_off_has_no_other_pitch_in_its_last_frames() {
    for (pitch, secs) in [(C3, 0.8031), (A3, 0.8012), (440.0, 0.8047), (831.0, 0.8022)] {
        let (events, _) = Ear::new(Settings::default()).all_of(&sound(secs, |_| pitch, |_| 1.0));
        for event in events {
            let Event::Frame(frame) = event else { continue };
            let Some(f0) = frame.f0.filter(|_| frame.time.get() > 0.5) else { continue };
            let off = f0.cents_above(Hz(pitch)).get();
            assert!(off.abs() < 50.0, "{pitch} Hz, cut at {secs} s: {off:.0} cents, {frame:?}");
        }
    }
}

#[test]
fn a_contour_has_no_point_behind_the_end_of_its_note() {
    // The string rings on and swings while the sound fades by 40 dB a second.
    let gain = |at: f64| 5.0 * 10.0_f64.powf(-2.0 * (at - 1.5).max(0.0));
    let mut points = 0;
    for step in 0..10 {
        let start = 0.01 * f64::from(step);
        let pitch = |at: f64| A3 * (15.0 / 1200.0 * (TAU * 5.5 * at).sin()).exp2();
        let told = notes(&sound(3.0, pitch, |at| if at < start { 0.0 } else { gain(at) }));
        let contour = &told[0].vibrato.as_ref().expect("it is played with vibrato").contour;
        points += contour.len();
        let last = contour.last().expect("there are points").time;
        assert!(last < told[0].end, "{start}: a point at {last:?}, the end {:?}", told[0].end);
    }
    assert!(points > 100, "{points}");
}

/// A first stretch of so many seconds at `first` Hz, so many times as loud, and C3 for a second after it.
fn led_in(first: f64, secs: f64, gain: f64) -> Vec<(i32, f64)> {
    let before = |at: f64| at < secs;
    let sound = sound(
        secs + 1.0,
        |at| if before(at) { first } else { C3 },
        |at| if before(at) { gain } else { 1.0 },
    );
    notes(&sound).iter().map(|note| (note.midi, note.start.get() - 0.5)).collect()
}

#[test]
fn a_soft_sound_before_the_bow_speaks_is_no_note() {
    for (first, secs) in [(C3 * 1.5, 0.12), (C3 * 1.5, 0.18), (C3 * 2.0, 0.18), (A3, 0.15)] {
        let told = led_in(first, secs, 0.2);
        assert_eq!(told.len(), 1, "{first} Hz, {secs} s: {told:?}");
        let (midi, start) = told[0];
        assert!(midi == 48 && (start - secs).abs() < 0.04, "{first} Hz, {secs} s: {told:?}");
    }
}

#[test]
fn an_octave_or_a_twelfth_at_a_hard_attack_is_the_start_of_the_note() {
    for slip in [2.0, 3.0] {
        let told = led_in(C3 * slip, 0.11, 1.0);
        assert!(told.len() == 1 && told[0].0 == 48, "{slip}: {told:?}");
        assert!(told[0].1.abs() < 0.04, "the attack counts: {slip}: {told:?}");
    }
}

/// What a loud note of a second leaves, which fades by 60 dB in this time, with another sound over it.
fn over_a_ring(pitch: f64, fades_secs: f64, other: Vec<f32>) -> Vec<f32> {
    let fading = |at: f64| 6.0 * 10_f64.powf(-3.0 * (at - 1.0).max(0.0) / fades_secs);
    let rings = sound(2.5, |_| pitch, fading);
    rings.iter().zip(other).map(|(one, other)| one + other).collect()
}

#[test]
fn a_note_much_softer_than_the_one_before_is_told_and_what_rings_on_is_not() {
    for (from, to) in [(A3, EB3), (C3, A3), (EB3, C3)] {
        for soft in [1.0, 0.7] {
            let bowed = |at: f64| if at > 1.1 { soft } else { 0.0 };
            let told = notes(&over_a_ring(from, 0.4, sound(2.5, |_| to, bowed)));
            let starts: Vec<f64> = told.iter().map(|note| note.start.0).collect();
            assert_eq!(told.len(), 2, "{from} to {to}, {soft}: {starts:?}");
            // Where what rings is no longer the louder of the two.
            assert!((1.6..1.76).contains(&starts[1]), "{from} to {to}, {soft}: {starts:?}");
        }
    }
    // An open string that swings along, and on by itself for seconds.
    for rings_secs in [2.0, 8.0] {
        let string =
            |at: f64| 0.7 * at.min(1.0) * 10_f64.powf(-3.0 * (at - 1.0).max(0.0) / rings_secs);
        let told = notes(&over_a_ring(A3, 0.4, sound(2.5, |_| 98.0, string)));
        let starts: Vec<(f64, f64)> = told.iter().map(|n| (n.start.0, n.f0.value.get())).collect();
        assert_eq!(told.len(), 1, "{rings_secs}: {starts:?}");
    }
    // One that beats as it rings, as two strings nearly in tune do.
    for beats_hz in [0.7, 1.0, 1.5] {
        let string = |at: f64| {
            let beat = 1.0 + 0.12 * (TAU * beats_hz * at).sin();
            1.5 * beat * 10_f64.powf(-3.0 * (at - 1.0).max(0.0) / 8.0)
        };
        let told = notes(&over_a_ring(A3, 0.4, sound(2.5, |_| 98.0, string)));
        let starts: Vec<(f64, f64)> = told.iter().map(|n| (n.start.0, n.f0.value.get())).collect();
        assert_eq!(told.len(), 1, "{beats_hz}: {starts:?}");
    }
}

#[test]
fn a_thump_an_octave_below_a_new_bow_is_no_note() {
    for thump in [0.22, 0.28] {
        let gain = |at: f64| if (0.5..0.6).contains(&at) { thump } else { 0.0 };
        let low = (0..(1.5 * RATE) as usize).map(|i| {
            let at = i as f64 / RATE;
            (SOFT * gain(at) * (TAU * A3 / 2.0 * at).sin()) as f32
        });
        let high = sound(1.5, |at| if at < 0.5 { 184.8 } else { A3 }, |_| 1.0);
        let told = notes(&high.iter().zip(low).map(|(high, low)| high + low).collect::<Vec<f32>>());
        let said: Vec<_> = told.iter().map(|n| (n.start.0, n.f0.value.get())).collect();
        assert_eq!(told.len(), 2, "{thump}: {said:?}");
        assert!((said[1].0 - 1.0).abs() < 0.04 && (said[1].1 - A3).abs() < 0.1, "{said:?}");
    }
}

#[test]
fn a_note_that_speaks_slowly_begins_where_it_speaks() {
    // By 24 dB in a second, out of the ring of another bow on the same pitch.
    let speaks = |at: f64| match at - 1.12 {
        since if since < 0.0 => 0.0,
        since => 4.0 * 10_f64.powf(-1.2 * (1.0 - since).max(0.0)),
    };
    let told = notes(&over_a_ring(A3, 0.25, sound(2.5, |_| A3 * 1.0003, speaks)));
    let starts: Vec<f64> = told.iter().map(|note| note.start.0).collect();
    assert_eq!(told.len(), 2, "{starts:?}");
    assert!((1.6..1.8).contains(&starts[1]), "{starts:?}");
}

#[test]
fn a_short_or_a_soft_note_before_another_stays_one() {
    for (first, secs, gain, midi) in [
        (EB3, 0.15, 1.0, 51),
        (C3 * 2.0, 0.2, 1.0, 60),
        (C3 * 1.5, 0.4, 0.2, 55),
        (A3, 0.15, 0.4, 57),
    ] {
        let told = led_in(first, secs, gain);
        let names: Vec<i32> = told.iter().map(|(midi, _)| *midi).collect();
        assert_eq!(names, [midi, 48], "{first} Hz, {secs} s, {gain}: {told:?}");
    }
}

#[test]
fn a_new_bow_soon_after_a_change_of_note_is_the_next_notes() {
    // Softer by 11 dB, so that the change is believed late; the bow turns 0.06 s behind it.
    let dip = |at: f64| 1.0 - 0.55 * (-((at - 1.06) / 0.015).powi(2)).exp();
    let gain = |at: f64| if at < 1.0 { 5.0 } else { 5.0 * 0.27 * dip(at) };
    let told = notes(&sound(2.0, |at| if at < 1.0 { A3 } else { 261.63 }, gain));
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told[0].rebows.is_empty());
    let rebows: Vec<Secs> = told[1].rebows.clone();
    assert!(rebows.len() == 1 && (rebows[0].get() - 1.56).abs() < 0.02, "{rebows:?}");
}

/// The only note of a sound of so many seconds whose pitch lies so many cents above A3 at each second, and what was told
/// of it just before its end.
fn one(secs: f64, cents: impl Fn(f64) -> f64) -> (Note, Motion) {
    let (notes, events) = hear_all(&sound(secs, |at| A3 * (cents(at) / 1200.0).exp2(), |_| 5.0));
    let live = events.iter().rev().find_map(|event| match event {
        Event::Live(live) if live.time.get() < 0.5 + secs - 0.05 => Some(live.motion),
        _ => None,
    });
    assert_eq!(notes.len(), 1, "{notes:?}");
    (notes.into_iter().next().expect("one"), live.expect("it sounded"))
}

#[test]
fn a_glide_is_no_straight_note_and_is_told_in_cents_a_second() {
    for (secs, cents) in [(2.0, 100.0), (3.0, 200.0), (2.0, -100.0), (4.0, 60.0), (1.0, 50.0)] {
        let (note, live) = one(secs, |at| cents / secs * at);
        let PitchCourse::Glides(glide) = note.course else {
            panic!("{cents} cents in {secs} s: {:?}", note.course);
        };
        let se = glide.se.expect("its doubt is known").get();
        let off = glide.value.get() - cents / secs;
        assert!(off.abs() < 0.5 && se < 0.5, "{cents} cents in {secs} s: {glide:?}");
        assert!(matches!(live, Motion::Glides(_)), "{cents} cents in {secs} s: {live:?}");
        // An even slope strays from its mean by its height over the root of 12.
        let whole = cents.abs() / 12.0_f64.sqrt();
        let unsteadiness = note.unsteadiness.get();
        assert!((0.75 * whole..whole).contains(&unsteadiness), "{unsteadiness} of {whole}");
        assert!(note.vibrato.is_none() && !note.straight());
    }
}

#[test]
fn a_step_within_a_note_and_a_slow_swing_move() {
    let step = |at: f64| if at < 1.0 { 0.0 } else { 55.0 };
    let swing = |at: f64| 40.0 * (TAU * 0.6 * at).sin();
    let slide = |at: f64| 40.0 * ((at - 0.8) / 0.3).clamp(0.0, 1.0);
    let each: [(f64, &dyn Fn(f64) -> f64); 3] = [(2.0, &step), (3.3, &swing), (2.0, &slide)];
    for (number, (secs, cents)) in each.into_iter().enumerate() {
        let (note, live) = one(secs, cents);
        assert_eq!(note.course, PitchCourse::Moves, "{number}");
        assert!(note.unsteadiness.get() > 15.0, "{number}: {:?}", note.unsteadiness);
        assert_ne!(live, Motion::Straight, "{number}");
    }
}

#[test]
fn a_note_that_sags_by_a_few_cents_is_straight_and_its_unsteadiness_says_so() {
    let (note, live) = one(3.0, |at| -3.0 * at);
    assert!(note.straight() && live == Motion::Straight, "{:?} {live:?}", note.course);
    assert!((2.0..2.7).contains(&note.unsteadiness.get()), "{:?}", note.unsteadiness);
    let (short, live) = one(0.3, |_| 0.0);
    assert!(short.straight() && live == Motion::Unknown, "{:?} {live:?}", short.course);
    let (shorter, _) = one(0.2, |_| 0.0);
    assert_eq!(shorter.course, PitchCourse::TooShort);
}

#[test]
fn a_vibrato_of_one_and_a_half_oscillations_is_told_with_its_doubt() {
    for (rate_hz, secs) in [(4.0, 0.42), (5.5, 0.34), (6.5, 0.6), (7.5, 0.3)] {
        for phase in [0.0, 0.25, 0.5, 0.75] {
            let swing = |at: f64| 15.0 * (TAU * (rate_hz * at + phase)).sin() - 10.0 * at;
            let (note, _) = one(secs, swing);
            let vibrato = note.vibrato.unwrap_or_else(|| panic!("{rate_hz} Hz from {phase}"));
            let (rate, width) = (vibrato.rate.bare(), vibrato.width.bare());
            let case = format!("{rate_hz} Hz from {phase}: {rate:?} {width:?}");
            assert!((rate.value - rate_hz).abs() < 0.05, "{case}");
            assert!((width.value - 30.0).abs() < 0.6, "{case}");
            assert!(rate.se.is_some_and(|se| se < 0.1) && width.se.is_some_and(|se| se < 1.0));
            let spreads = [Quantity::RateSpread, Quantity::WidthSpread, Quantity::OutOfRound];
            assert!(spreads.iter().all(|spread| vibrato.get(*spread).is_none()), "{case}");
        }
    }
}

#[test]
fn the_rate_of_a_few_oscillations_whose_period_wanders_carries_the_wandering() {
    // Now a little faster, now a little slower.
    let turns = |at: f64| 4.5 * at + 0.03 * (TAU * 0.8 * at).sin();
    let (note, _) = one(1.4, |at| 20.0 * (TAU * turns(at)).sin());
    let vibrato = note.vibrato.expect("it swings");
    let periods: Vec<f64> = vibrato.oscillations.iter().map(|o| o.period.get()).collect();
    let count = periods.len() as f64;
    let mean = periods.iter().sum::<f64>() / count;
    let squares: f64 = periods.iter().map(|period| (period / mean - 1.0).powi(2)).sum();
    let chance = (squares / (count - 1.0) / count).sqrt();
    assert!((4.0..=6.0).contains(&count) && (0.005..0.015).contains(&chance), "{periods:?}");
    let doubt = vibrato.rate.se.expect("known").get() / vibrato.rate.value.get();
    assert!(doubt > 0.5 * chance, "{doubt} beside {chance}");
}

#[test]
fn what_is_no_vibrato_of_a_short_note_is_called_none() {
    let smooth = |at: f64| 0.5 - 0.5 * (TAU / 2.0 * at.clamp(0.0, 1.0)).cos();
    let slip = |at: f64| 30.0 * smooth((at - 0.2) / 0.04);
    let back = |at: f64| slip(at) - 30.0 * smooth((at - 0.3) / 0.04);
    let slide = |at: f64| 50.0 * smooth((at - 0.1) / 0.25);
    let attack = |at: f64| 30.0 * (-at / 0.05).exp() * (TAU * 7.0 * at).cos();
    let release = |at: f64| 30.0 * smooth((at - 0.38) / 0.07);
    let glide = |at: f64| 200.0 * at;
    let once = |at: f64| 25.0 * (TAU * 2.5 * at).sin();
    let each: [(&str, &dyn Fn(f64) -> f64); 7] = [
        ("slip", &slip),
        ("slip and back", &back),
        ("slide", &slide),
        ("attack", &attack),
        ("release", &release),
        ("glide", &glide),
        ("once to and fro", &once),
    ];
    for (name, cents) in each {
        let (note, _) = one(0.45, cents);
        assert_eq!(note.vibrato, None, "{name}");
    }
}

#[test]
fn the_time_up_of_an_oscillation_is_told_beside_its_time_down() {
    for (up_pct, rate_hz) in [(50.0, 5.0), (35.0, 5.0), (65.0, 5.0), (40.0, 6.5), (50.0, 3.0)] {
        let share = up_pct / 100.0;
        // Half a cosine up, in its share of the cycle, and half a cosine down.
        let cents = |at: f64| {
            let cycle = (at * rate_hz).fract();
            let half = if cycle < share {
                0.5 * cycle / share
            } else {
                0.5 + 0.5 * (cycle - share) / (1.0 - share)
            };
            -25.0 * (TAU * half).cos()
        };
        let (note, _) = one(2.5, cents);
        let vibrato = note.vibrato.expect("it swings");
        let told = vibrato.get(Quantity::TimeUp).expect("many oscillations");
        let se = told.se.expect("many oscillations");
        let apart = (told.value - up_pct).abs();
        assert!(apart < 2.0 * se && apart < 4.0, "{up_pct} % at {rate_hz} Hz: {told:?}");
    }
}
