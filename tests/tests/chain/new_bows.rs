//! Recorded notes (`tests/recordings`, see its README.md) bowed again and again on one pitch: where the bow changes the ear
//! slips for some frames, and no oscillation may be made of that.

use std::path::Path;

use tone::{Body, Bow, Line, NoteSpec, Room, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Note, Settings};
use whole_chain::listening::listen;

/// An oscillation of a note that is bowed anew may be so much wider than the widest of the note alone, in cents: each bow
/// begins a little off the pitch that the last one left.
const WIDER_CENTS: f64 = 6.0;
/// Bows on one pitch.
const BOWS: usize = 4;

/// A recording at the rate of the ear.
fn recording(name: &str) -> Vec<f32> {
    let path = Path::new("recordings").join(name);
    let mut file = sound::Recording::open(path).expect("a recording");
    let mut resampler =
        sound::Resampler::new(file.sample_rate_hz(), pitch::SAMPLE_RATE).expect("a usual rate");
    let mut samples = Vec::new();
    while let Some(block) = file.next_block().expect("readable") {
        resampler.push(block.samples, &mut samples);
    }
    resampler.finish(&mut samples);
    samples
}

fn widest_cents(notes: &[Note]) -> f64 {
    let oscillations = notes.iter().filter_map(|note| note.vibrato.as_ref());
    let widths = oscillations.flat_map(|vibrato| &vibrato.oscillations);
    widths.map(|one| one.crest.get() - one.trough.get()).fold(0.0, f64::max)
}

#[test]
fn no_oscillation_is_made_of_a_change_of_bow() {
    for name in ["fluid-viola-064-l", "fluid-cello-046-l", "fluid-violin-056-l"] {
        let once = recording(&format!("{name}.wav"));
        let notes = |samples: &[f32]| Ear::new(Settings::default()).all_of(samples).1;
        let alone = widest_cents(&notes(&once));
        let again = widest_cents(&notes(&once.repeat(BOWS)));
        assert!(alone > 5.0, "{name}: it vibrates, {alone} cents");
        assert!(again < alone + WIDER_CENTS, "{name}: {again} cents after {alone}");
    }
}

/// A note of this pitch, with vibrato of so many cents if any, bowed anew at these seconds from its start.
fn bowed_anew(hz: f64, width: f64, bows: &[f64], dip_db: f64) -> NoteSpec {
    let mut note = NoteSpec::straight(Secs(0.3), Secs(3.0), Hz(hz));
    note.bow_changes = bows.iter().map(|at| Secs(*at)).collect();
    note.dip_db = dip_db;
    note.vibrato = (width > 0.0).then(|| VibratoSpec::regular(Hz(5.3), Cents(width)));
    note
}

/// Seconds from the start of the only note to each new bow that is told.
fn told_bows(note: NoteSpec, room: Option<(f64, f64)>, seed: u64) -> Vec<f64> {
    let start = note.start.get();
    let spec = Spec {
        seed,
        lines: vec![Line { notes: vec![note], level_db: 0.0 }],
        bow: Bow { snr_db: Some(30.0), ..Bow::default() },
        body: Some(Body::default()),
        room: room.map(|(t60, drr_db)| Room { t60: Secs(t60), drr_db }),
        ..Spec::default()
    };
    let heard = listen(spec, Settings::default()).expect("within its bounds");
    assert_eq!(heard.notes.len(), 1, "{:?}", heard.notes);
    heard.notes[0].rebows.iter().map(|at| at.get() - start).collect()
}

const ROOMS: [Option<(f64, f64)>; 3] = [None, Some((0.4, 6.0)), Some((0.8, 6.0))];
/// C2, A3, F sharp 5.
const PITCHES_HZ: [f64; 3] = [65.4, 220.0, 740.0];

#[test]
fn short_bows_on_one_pitch_are_told_dry_and_in_a_ringing_room() {
    let bows = [0.4, 0.8, 1.6, 2.1, 2.5];
    let (mut found, mut all) = (0, 0);
    for room in ROOMS {
        for hz in PITCHES_HZ {
            for width in [0.0, 40.0] {
                let told = told_bows(bowed_anew(hz, width, &bows, 12.0), room, 5);
                let near = |at: &&f64| told.iter().any(|told| (told - **at).abs() < 0.06);
                let heard = bows.iter().filter(near).count();
                assert!(told.len() == heard, "{room:?} {hz} Hz, {width} cents: {told:?}");
                (found, all) = (found + heard, all + bows.len());
            }
        }
    }
    assert!(found * 100 >= 95 * all, "{found} of {all} new bows");
}

#[test]
fn a_wide_vibrato_on_an_instrument_with_a_body_is_no_new_bow() {
    let mut told = 0;
    for room in ROOMS {
        for hz in PITCHES_HZ {
            for (width, seed) in [(60.0, 3), (100.0, 4), (150.0, 5)] {
                told += told_bows(bowed_anew(hz, width, &[], 0.0), room, seed).len();
            }
        }
    }
    assert_eq!(told, 0, "of 27 notes");
}
