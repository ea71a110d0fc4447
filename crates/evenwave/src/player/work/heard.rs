//! What is told of runs, chirps and clips, beside what sounds.

use tone::{GuideTurn, GuideWish, RunWish};
use tuning::{Cents, Hz, Secs};

use super::super::{Clip, FromPlayer, Playing};
use super::stage::{NEAR_SECS, Session, secs_of, sounding, world};

fn run_of(number: u64) -> Playing {
    let turn = GuideTurn {
        f0: Hz(220.0),
        start: Secs(1.0),
        end: Secs(3.0),
        rate: Hz(4.0),
        width: (Cents(40.0), Cents(40.0)),
        phase: 0.5,
        below: false,
    };
    let guide = GuideWish { turns: vec![turn], level_db: -40.0 };
    Playing {
        run: Some(RunWish {
            number,
            bpm: 120.0,
            beats: 8,
            count_in: 2,
            bar: 2,
            audible: false,
            guide: Some(guide),
        }),
        ..Playing::default()
    }
}

#[test]
fn a_run_tells_each_of_its_beats_and_its_guide_sounds_in_time_with_them() {
    for rate_hz in [44_100, 48_000] {
        let mut session = Session::new(rate_hz);
        session.run(1.0);
        session.work.wish(run_of(3));
        session.run(6.0);
        let beats: Vec<(u32, f64)> = session
            .told
            .borrow()
            .iter()
            .map(|told| match told {
                FromPlayer::RunBeat { run: 3, beat, at } => (*beat, secs_of(*at)),
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(beats.len(), 8);
        for (number, (beat, at)) in beats.iter().enumerate() {
            assert_eq!(*beat, number as u32);
            assert!((at - beats[0].1 - 0.5 * number as f64).abs() < NEAR_SECS, "{beats:?}");
        }
        let (first, last) = sounding();
        assert!((first - beats[0].1 - 1.0).abs() < NEAR_SECS, "{first} {beats:?}");
        assert!((last - beats[0].1 - 3.0).abs() < 2.0 * NEAR_SECS, "{last} {beats:?}");
        assert!(session.work.mixer.is_silent(), "a run that is over needs no loudspeaker");
    }
}

#[test]
fn a_run_goes_on_unheard_where_there_is_no_loudspeaker() {
    let mut session = Session::new(48_000);
    world(|world| world.refuses = true);
    session.work.wish(run_of(1));
    session.run(6.0);
    let told = session.told.borrow();
    let beats = told.iter().filter(|told| matches!(told, FromPlayer::RunBeat { .. }));
    assert_eq!(beats.count(), 8);
}

#[test]
fn each_chirp_is_found_in_what_sounds_when_it_was_told_to() {
    for rate_hz in [44_100, 48_000] {
        let mut session = Session::new(rate_hz);
        session.work.chirp(5);
        session.run(5.0);
        let told = session.told.borrow();
        let at: Vec<f64> = told
            .iter()
            .filter_map(|told| match told {
                FromPlayer::Chirp { at } => Some(secs_of(*at)),
                _ => None,
            })
            .collect();
        assert_eq!(at.len(), 5);
        let rate = f64::from(rate_hz);
        let begun = world(|world| world.offset);
        for at in at {
            let from = ((at - begun - 0.05) * rate) as usize;
            let part = world(|world| world.sounded[from..from + rate_hz as usize / 2].to_vec());
            let found = tone::find_chirp(&part, rate_hz).expect("it sounds");
            let heard = begun + (from as f64 + found.offset) / rate;
            assert!((heard - at).abs() < 1e-4, "{heard} {at}");
        }
    }
}

#[test]
fn a_clip_tells_where_it_is_when_that_sounds() {
    // A click each half a second, in a sound at another rate than the loudspeaker's.
    let mut samples = vec![0.0_f32; 3 * 44_100];
    for half in 0..6 {
        samples[half * 22_050 + 4_410] = 0.5;
    }
    for speed in [1.0, 0.5] {
        let mut session = Session::new(48_000);
        session.work.play(Clip { speed, ..Clip::new(9, samples.clone().into(), 44_100) });
        session.run(7.5);
        let told = session.told.borrow();
        let places: Vec<(f64, f64)> = told
            .iter()
            .filter_map(|told| match told {
                FromPlayer::At { clip: 9, place, at } => Some((place.get(), secs_of(*at))),
                _ => None,
            })
            .collect();
        assert!(places.len() as f64 > 100.0 / speed, "{}", places.len());
        let over =
            told.iter().any(|told| matches!(told, FromPlayer::ClipOver { clip: 9, why: None, .. }));
        assert!(over && session.work.mixer.is_silent());
        let begun = world(|world| world.offset);
        for half in 0..6 {
            let click = 0.1 + 0.5 * f64::from(half);
            let next = places.partition_point(|(place, _)| *place < click);
            let (place, at) = places[next - 1];
            let due = at + (click - place) / speed;
            // Where the most of it lies within 60 ms around.
            let from = ((due - 0.06 - begun) * 48e3) as usize;
            let part = world(|world| world.sounded[from..from + 5_760].to_vec());
            let power: f64 = part.iter().map(|s| f64::from(s * s)).sum();
            let moment: f64 = (0..).zip(&part).map(|(n, s)| f64::from(n) * f64::from(s * s)).sum();
            let heard = begun + (from as f64 + moment / power) / 48e3;
            let within = if speed == 1.0 { 1e-4 } else { 0.03 };
            assert!((heard - due).abs() < within, "speed {speed}: {heard} {due}");
        }
    }
}

#[test]
fn a_clip_that_cannot_be_played_says_why_and_one_that_is_stopped_is_silent() {
    let mut session = Session::new(48_000);
    let samples: std::sync::Arc<[f32]> = vec![0.1; 480_000].into();
    let slow = Clip { speed: 0.01, ..Clip::new(2, samples.clone(), 48_000) };
    session.work.play(slow);
    let told = session.told.borrow().last().cloned();
    let Some(FromPlayer::ClipOver { clip: 2, why: Some(why), .. }) = told else {
        panic!("{told:?}");
    };
    assert!(why.contains("speed"), "{why}");
    session.work.play(Clip::new(3, samples, 48_000));
    session.run(2.0);
    session.work.stop_clip();
    session.run(0.3);
    assert!(session.work.mixer.is_silent());
}
