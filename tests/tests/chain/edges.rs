//! What is drawn of a note where the bow catches the string and where it leaves it.

use vibrato::Settings;
use whole_chain::corpus::{Condition, Register, main_cell};
use whole_chain::listening::{HeardSound, listen};

/// So near to the start or the end of a bowed note lies its edge, in seconds.
const EDGE_SECS: f64 = 0.15;
/// A stroke so far beside the true pitch is a spike, in cents.
const SPIKE_CENTS: f64 = 15.0;
/// A frame of a note less confident than this is never drawn.
const LEAST_CONFIDENCE: f64 = 0.25;

/// Of the frames at the edges of heard notes, sure enough to be drawn: how many, how many of them are drawn, and the spikes
/// among all and among those drawn.
fn edges(heard: &HeardSound) -> [usize; 4] {
    let mut counts = [0; 4];
    for frame in heard.frames.iter().filter(|frame| frame.confidence >= LEAST_CONFIDENCE) {
        let at = frame.time.get();
        let near = |edge: f64| (at - edge).abs() < EDGE_SECS;
        let at_edge =
            heard.true_notes().iter().any(|note| near(note.start.get()) || near(note.end.get()));
        let told = heard.notes.iter().any(|note| (note.start.get()..note.end.get()).contains(&at));
        let pair = frame.f0.zip(heard.true_f0(at)).filter(|_| at_edge && told);
        let Some((f0, truth)) = pair else { continue };
        let (spike, drawn) =
            (f0.cents_above(truth).get().abs() > SPIKE_CENTS, frame.drawn().is_some());
        let these = [true, drawn, spike, spike && drawn];
        counts.iter_mut().zip(these).for_each(|(count, this)| *count += usize::from(this));
    }
    counts
}

/// The same of notes with rests between them, in all registers.
fn edges_of(condition: Condition, count: usize) -> [usize; 4] {
    let mut sum = [0; 4];
    for register in Register::MAIN {
        // Every third file has a rest between its two notes.
        for spec in main_cell(4242, register, condition, count).into_iter().skip(2).step_by(3) {
            let counts = edges(&listen(spec, Settings::default()).expect("within its bounds"));
            sum.iter_mut().zip(counts).for_each(|(sum, count)| *sum += count);
        }
    }
    println!("{}: frames, drawn, spikes, spikes drawn: {sum:?}", condition.name());
    assert!(sum[1] as f64 > 0.95 * sum[0] as f64, "too much is left out: {sum:?}");
    sum
}

#[test]
fn hardly_a_spike_is_drawn_where_the_bow_catches_or_leaves_the_string() {
    let all = Condition::DRY.map(|condition| edges_of(condition, 9));
    let [drawn, spikes, spikes_drawn] =
        [1, 2, 3].map(|i| all.iter().map(|counts| counts[i]).sum::<usize>());
    assert!(spikes > 1, "nothing was to be left out: {all:?}");
    assert!(spikes_drawn as f64 <= 0.001 * drawn as f64, "{spikes_drawn} of {drawn} frames");
}
