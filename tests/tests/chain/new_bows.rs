//! Recorded notes (`tests/recordings`, see its README.md) bowed again and again on one pitch: where the bow changes the ear
//! slips for some frames, and no oscillation may be made of that.

use std::path::Path;

use vibrato::{Ear, Note, Settings};

/// An oscillation of a note that is bowed anew may be so much wider than the widest of the note alone, in cents: each bow
/// begins a little off the pitch that the last one left.
const WIDER_CENTS: f64 = 6.0;
/// Bows on one pitch.
const BOWS: usize = 4;

/// A recording at the rate of the ear.
fn recording(name: &str) -> Vec<f32> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("recordings").join(name);
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
