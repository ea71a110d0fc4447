//! Each kind of drill from sound to finding: what is played as asked holds, what is not is named.
//!
//! Everything is short sound of `tone` with a known truth, heard by the ear and judged as the program does.

use coach::{
    Count, Drill, FindingKind, Fingering, Join, Judged, Kind, Moves, Next, Order, Pace, Practice,
    Region, held_moved_pct,
};
use tone::{Factor, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Ear, Event, Settings};
use whole_chain::drill_corpus::made_drill;

/// Silence before the first note.
const LEAD_SECS: f64 = 0.4;
/// The player's fingers 2 and 3: F3 and F sharp 3.
const HAND: [(u8, i32); 2] = [(2, 53), (3, 54)];

/// A drill with rules that ask for the count and a gap below 0.2 s.
fn drill(kind: Kind, fingers: &[u8], count: Count, pace: Pace, join: Join) -> Drill {
    let made = made_drill(kind, HAND, fingers.to_vec(), count, pace, join);
    Drill { count_in: 1, ..made }
}

fn place(hand: &[(u8, i32)], fingers: &[u8]) -> Fingering {
    Fingering {
        place: String::new(),
        hand: hand.iter().copied().collect(),
        fingers: fingers.to_vec(),
        width_share: 1.0,
    }
}

fn beat(bpm: f64, per_beat: f64) -> Pace {
    Pace::Beat { bpm, per_beat }
}

/// What is played, note after note on one string.
struct Hand {
    spec: Spec,
    time: f64,
}

impl Hand {
    fn new() -> Self {
        let spec = Spec { lines: vec![tone::Line::default()], ..Spec::default() };
        Self { spec, time: LEAD_SECS }
    }

    fn samples(&self) -> Vec<f32> {
        self.spec.render().expect("playable").samples
    }

    fn silence(&mut self, secs: f64) {
        self.time += secs;
    }

    /// A note of `secs`, joined to the one before it unless there was silence.
    fn note(&mut self, midi: i32, secs: f64, vibrato: Option<VibratoSpec>) -> &mut NoteSpec {
        let notes = &mut self.spec.lines[0].notes;
        let mut note =
            NoteSpec::straight(Secs(self.time), Secs(secs), Tuning::default().frequency(midi));
        let before = notes.last().map(|last| last.end().get());
        if before.is_some_and(|end| (end - self.time).abs() < 1e-9) {
            note.join = tone::Join::Legato;
        }
        note.vibrato = vibrato;
        self.time += secs;
        notes.push(note);
        notes.last_mut().expect("just pushed")
    }

    /// `cycles` oscillations of `rate` Hz and `width` cents that set out upward from the straight pitch, or
    /// that go on from such ones.
    fn swing(&mut self, midi: i32, cycles: f64, rate: f64, width: f64) {
        let mut vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
        vibrato.phase = Some(0.25);
        self.note(midi, cycles / rate, Some(vibrato));
    }
}

/// All rounds of `drill` in what `hand` played; with `pacer` it starts so many seconds into the sound.
fn judged(drill: &Drill, hand: &Hand, pacer: Option<f64>) -> (Practice, Vec<Judged>) {
    judged_in(Tuning::default(), drill, hand, pacer)
}

fn judged_in(
    tuning: Tuning,
    drill: &Drill,
    hand: &Hand,
    pacer: Option<f64>,
) -> (Practice, Vec<Judged>) {
    judged_of(tuning, drill, &[(0, &hand.samples())], pacer)
}

/// The same of sound in parts, before each of which so many samples are missing.
fn judged_of(
    tuning: Tuning,
    drill: &Drill,
    parts: &[(usize, &[f32])],
    pacer: Option<f64>,
) -> (Practice, Vec<Judged>) {
    let place = drill.place(None).expect("a place").clone();
    let mut practice = Practice::new(drill.clone(), place, tuning, coach::Hints::default());
    if let Some(start) = pacer {
        practice.start(Secs(start)).expect("paced");
    }
    let mut ear = Ear::new(Settings { tuning, ..Settings::default() });
    let mut hear = |event: Event, ear: &Ear| {
        practice.hear(&event, ear.note());
    };
    for (lost, samples) in parts {
        if *lost > 0 {
            ear.skip(*lost as u64);
        }
        ear.hear(samples, &mut hear);
    }
    ear.finish();
    ear.hear(&[], &mut hear);
    practice.finish();
    let done = practice.done().to_vec();
    (practice, done)
}

fn only(mut rounds: Vec<Judged>) -> Judged {
    assert_eq!(rounds.len(), 1, "{rounds:#?}");
    rounds.remove(0)
}

fn has(round: &Judged, kind: FindingKind) -> bool {
    round.findings.iter().any(|finding| finding.kind == kind)
}

fn made(round: &Judged) -> Vec<u32> {
    round.turns.iter().map(|turn| turn.made).collect()
}

#[test]
fn a_pace_ladder_goes_up_after_a_round_that_held_and_down_after_one_that_did_not() {
    let kind = Kind::PaceLadder { bpm: vec![50.0, 60.0, 72.0], moves: Moves::WithRounds };
    let drill = drill(kind, &[2, 3], Count::Oscillations(4), beat(60.0, 4.0), Join::Legato);
    for (second, holds, next) in [(4.0, true, Next::Up(72.0)), (6.0, false, Next::Down(50.0))] {
        let mut hand = Hand::new();
        hand.swing(53, 4.0, 4.0, 40.0);
        hand.swing(54, second, 4.0, 40.0);
        let (practice, rounds) = judged(&drill, &hand, None);
        let round = only(rounds);
        assert_eq!(made(&round), [4, second as u32]);
        assert_eq!(round.holds, holds, "{:?}", round.findings);
        assert_eq!(practice.next(), Some(next));
    }
}

#[test]
fn a_width_ladder_tells_how_much_the_rate_moved_with_the_width() {
    let kind = Kind::WidthLadder { rate: Hz(5.0), widths: vec![Cents(20.0), Cents(50.0)] };
    let drill = drill(kind, &[2], Count::Oscillations(6), beat(75.0, 4.0), Join::Stop);
    for (rate, moved) in [(5.0, 0.0), (6.0, 100.0 / 5.5)] {
        let mut hand = Hand::new();
        hand.swing(53, 6.0, 5.0, 20.0);
        hand.silence(0.4);
        hand.swing(53, 6.0, rate, 50.0);
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(made(&round), [6, 6]);
        let told = held_moved_pct(&drill, &round.turns).expect("two steps");
        assert!((told - moved).abs() < 2.0, "{told} % not {moved}");
        assert_eq!(has(&round, FindingKind::Coupled), moved > 0.0, "{:?}", round.findings);
        // The second step's rate is more than a tenth beside what is asked.
        assert_eq!(round.holds, moved == 0.0, "{:?}", round.findings);
    }
}

#[test]
fn a_rate_ladder_tells_how_much_the_width_moved_with_the_rate() {
    let kind = Kind::RateLadder { width: Cents(40.0), rates: vec![Hz(4.0), Hz(6.0)] };
    let drill = drill(kind, &[2], Count::Oscillations(6), Pace::Free, Join::Stop);
    for (width, moved) in [(40.0, 0.0), (64.0, 100.0 * 24.0 / 52.0)] {
        let mut hand = Hand::new();
        hand.swing(53, 6.0, 4.0, 40.0);
        hand.silence(0.4);
        hand.swing(53, 6.0, 6.0, width);
        let round = only(judged(&drill, &hand, None).1);
        let told = held_moved_pct(&drill, &round.turns).expect("two steps");
        assert!((told - moved).abs() < 3.0, "{told} % not {moved}");
        assert_eq!(has(&round, FindingKind::Coupled), moved > 0.0, "{:?}", round.findings);
    }
}

#[test]
fn a_field_walk_names_the_region_that_was_not_reached() {
    let region = |name: &str, rate: (f64, f64), width: (f64, f64)| Region {
        name: name.to_owned(),
        rate: (Hz(rate.0), Hz(rate.1)),
        width: (Cents(width.0), Cents(width.1)),
    };
    let kind = Kind::FieldWalk {
        regions: vec![
            region("slow and broad", (2.5, 4.5), (35.0, 80.0)),
            region("quick and narrow", (5.0, 7.5), (8.0, 22.0)),
        ],
        order: Order::Given,
    };
    let drill = drill(kind, &[2], Count::Oscillations(6), Pace::Free, Join::Stop);
    for (width, reached) in [(15.0, true), (45.0, false)] {
        let mut hand = Hand::new();
        hand.swing(53, 6.0, 4.0, 50.0);
        hand.silence(0.4);
        hand.swing(53, 6.0, 6.0, width);
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(round.holds, reached, "{:?}", round.findings);
        let missed: Vec<(Option<usize>, &str)> = round
            .findings
            .iter()
            .filter(|finding| finding.kind == FindingKind::Target)
            .map(|finding| (finding.turn, finding.measure.name()))
            .collect();
        let expected: &[(Option<usize>, &str)] = if reached { &[] } else { &[(Some(1), "width")] };
        assert_eq!(missed, expected);
    }
}

#[test]
fn a_bloom_is_held_against_its_drawn_contour() {
    let kind = Kind::Bloom { width: Cents(40.0), beats: [2.0, 2.0, 2.0] };
    let drill = drill(kind, &[2], Count::Beats(6), beat(120.0, 3.0), Join::Stop);
    let factor = |time: f64, width: f64| Factor { time: Secs(time), width, rate: 1.0 };
    let drawn = vec![factor(0.0, 0.0), factor(1.0, 1.0), factor(2.0, 1.0), factor(3.0, 0.0)];
    for (contour, kept) in [(drawn, true), (Vec::new(), false)] {
        let mut hand = Hand::new();
        let mut vibrato = VibratoSpec::regular(Hz(6.0), Cents(40.0));
        vibrato.contour = contour;
        hand.note(53, 3.0, Some(vibrato));
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(
            has(&round, FindingKind::Bloom),
            !kept,
            "{:?} {:?}",
            round.findings,
            round.turns[0].contour
        );
        assert_eq!(round.holds, kept);
    }
}

#[test]
fn start_and_stop_counts_each_start_and_lets_the_stillness_between_be() {
    let drill = drill(
        Kind::StartAndStop { times: 3 },
        &[2],
        Count::Beats(1),
        beat(75.0, 4.0),
        Join::Legato,
    );
    for (second, holds) in [(4.0, true), (2.0, false)] {
        let mut hand = Hand::new();
        for cycles in [4.0, second, 4.0] {
            hand.swing(53, cycles, 5.0, 40.0);
            hand.note(53, 1.6 - cycles / 5.0, None);
        }
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(made(&round), [4, second as u32, 4], "{:?}", round.turns);
        assert!(!has(&round, FindingKind::Gap), "{:?}", round.findings);
        assert_eq!(round.holds, holds, "{:?}", round.findings);
    }
}

#[test]
fn a_straight_note_holds_when_it_is_steady_and_not_when_it_drifts() {
    let kind = Kind::Straight { beats: 2.0, within: Cents(5.0), beside: Cents(5.0) };
    let drill = drill(kind, &[2, 3], Count::Beats(2), beat(90.0, 1.0), Join::Stop);
    for (drift, steady) in [(0.0, true), (18.0, false)] {
        let mut hand = Hand::new();
        hand.note(53, 1.33, None);
        hand.silence(0.4);
        hand.note(54, 1.33, None).drift = Cents(drift);
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(round.holds, steady, "{:?}", round.findings);
        let told = round.findings.iter().find(|finding| {
            finding.kind == FindingKind::Unsteady && finding.measure.name() == "drift"
        });
        assert_eq!(told.map(|finding| finding.turn), (!steady).then_some(Some(1)));
        if let Some(finding) = told {
            // From the mean of the first third to that of the last: two thirds of the whole.
            assert!((finding.value - 12.0).abs() < 2.0, "{finding:?}");
        }
    }
}

#[test]
fn a_finger_put_in_for_another_on_the_same_note_is_told_by_the_break_in_the_motion() {
    let mut drill =
        drill(Kind::Transfer, &[2, 3], Count::Oscillations(4), Pace::Free, Join::Legato);
    let same = place(&[(2, 53), (3, 53)], &[2, 3]);
    drill.places.insert("cello".to_owned(), same);
    // As many as asked, and a player who makes one less and one more.
    for (first, second) in [(4.0, 4.0), (3.0, 5.0)] {
        let mut hand = Hand::new();
        hand.swing(53, first, 5.0, 40.0);
        hand.note(53, 0.35, None);
        hand.swing(53, second, 5.0, 40.0);
        let round = only(judged(&drill, &hand, None).1);
        assert_eq!(made(&round), [first as u32, second as u32]);
        let gap = round.turns[0].gap.expect("between two fingers").value.get();
        assert!((gap - 0.35).abs() < 0.03, "{gap}");
        assert!(has(&round, FindingKind::Gap), "{:?}", round.findings);
    }
}

#[test]
fn a_finger_put_in_for_another_without_a_break_is_told_by_the_beat() {
    let mut drill =
        drill(Kind::Transfer, &[2, 3], Count::Oscillations(4), beat(75.0, 4.0), Join::Legato);
    let same = place(&[(2, 53), (3, 53)], &[2, 3]);
    drill.places.insert("cello".to_owned(), same);
    for (second, holds) in [(4.0, true), (6.0, false)] {
        let mut hand = Hand::new();
        hand.swing(53, 4.0 + second, 5.0, 40.0);
        // One beat is counted in, and the first note sounds with the second beat.
        let pacer = LEAD_SECS - 0.8;
        let round = only(judged(&drill, &hand, Some(pacer)).1);
        assert_eq!(made(&round), [4, second as u32]);
        let start = round.turns[1].start.get();
        assert!((start - LEAD_SECS - 0.8).abs() < 0.01, "{start}");
        assert_eq!(round.holds, holds, "{:?}", round.findings);
    }
}

#[test]
fn a_turn_left_out_is_found_in_a_high_tuning_too() {
    // More than half a semitone above 440 Hz: there the second to the fifth of a chromatic row look like the first
    // four of one that lies a semitone higher.
    let high = Tuning { a4: Hz(456.0), ..Tuning::default() };
    let row = [(0, 53), (1, 54), (2, 55), (3, 56), (4, 57)];
    let kind = Kind::Transfer;
    let mut drill =
        drill(kind, &[0, 1, 2, 3, 4], Count::Oscillations(4), beat(60.0, 4.0), Join::Stop);
    drill.places = [("cello".to_owned(), place(&row, &[0, 1, 2, 3, 4]))].into();
    let mut hand = Hand::new();
    for (_, midi) in &row[1..] {
        hand.swing(*midi, 4.0, 4.0, 30.0);
        hand.spec.lines[0].notes.last_mut().expect("just played").f0 = high.frequency(*midi);
        hand.silence(1.0);
    }
    let round = only(judged_in(high, &drill, &hand, None).1);
    let asked: Vec<usize> = round.turns.iter().map(|turn| turn.asked).collect();
    assert_eq!(asked, [1, 2, 3, 4], "{:?}", round.findings);
}

/// The only round of four fingers of four oscillations each where `lost` samples are missing in the third.
fn with_loss(lost: usize, join: Join) -> Vec<Judged> {
    let drill = drill(Kind::Transfer, &[2, 3, 2, 3], Count::Oscillations(4), beat(60.0, 4.0), join);
    let mut hand = Hand::new();
    for midi in [53, 54, 53, 54] {
        hand.swing(midi, 4.0, 4.0, 30.0);
        if join == Join::Stop {
            hand.silence(1.0);
        }
    }
    let at = hand.spec.lines[0].notes[2].start.get() + 0.5;
    let sound = hand.samples();
    let from = (48_000.0 * at) as usize;
    let parts = [(0, &sound[..from]), (lost, &sound[from + lost..])];
    judged_of(Tuning::default(), &drill, &parts, None).1
}

#[test]
fn a_few_lost_samples_end_no_round_and_are_told_of_their_turn() {
    for join in [Join::Legato, Join::Stop] {
        for lost in [1, 480, 1_920] {
            let round = only(with_loss(lost, join));
            assert_eq!(
                made(&round),
                [4, 4, 4, 4],
                "{join:?}, {lost} samples: {:?}",
                round.findings
            );
            let told = |found: &&coach::Finding| found.kind == FindingKind::Lost;
            let turns: Vec<_> =
                round.findings.iter().filter(told).map(|found| found.turn).collect();
            assert_eq!(turns, [Some(2)], "{join:?}, {lost} samples");
        }
        assert!(with_loss(12_000, join).len() > 1, "a quarter of a second ends it");
    }
}

#[test]
fn notes_in_tune_with_ones_own_open_strings_pass_the_drill_without_vibrato() {
    let text = include_str!("../../../assets/drills/straight.ron");
    let drill = Drill::from_ron(text, "straight", "straight.ron").expect("shipped");
    // F3 and F sharp 3 as they are in tune with the open A and D of a cello, 8 cents below and 6 above the tempered ones.
    for (by, holds) in [([-7.8, 5.9, -7.8], true), ([-7.8, 18.0, -7.8], false)] {
        let mut hand = Hand::new();
        for (midi, cents) in [53, 54, 53].into_iter().zip(by) {
            let note = hand.note(midi, 3.5, None);
            note.f0 = note.f0.raised(Cents(cents));
            hand.silence(0.5);
        }
        let (_, rounds) = judged(&drill, &hand, None);
        assert_eq!(only(rounds).holds, holds, "{by:?}");
    }
}

#[test]
fn a_drill_asked_at_one_oscillation_a_second_and_played_at_six_is_hurried() {
    let drill = drill(Kind::Transfer, &[2], Count::Oscillations(8), beat(60.0, 1.0), Join::Legato);
    for (rate, hurries) in [(6.0, true), (1.0, false)] {
        let mut hand = Hand::new();
        hand.swing(53, 8.0, rate, 40.0);
        let (_, rounds) = judged(&drill, &hand, None);
        let round = only(rounds);
        assert_eq!(has(&round, FindingKind::Hurrying), hurries, "{:?}", round.findings);
        assert_eq!(round.holds, !hurries, "{:?}", round.findings);
    }
}

#[test]
fn an_artists_gap_passes_at_full_speed_and_a_stop_of_a_whole_slow_oscillation_does_not() {
    let drill = |per_beat: f64| {
        let drill = drill(
            Kind::Transfer,
            &[2, 3],
            Count::Oscillations(6),
            beat(60.0, per_beat),
            Join::Legato,
        );
        Drill {
            rules: coach::Rules { gap_below: Some(coach::GapLimit::Usual), ..drill.rules },
            ..drill
        }
    };
    for (per_beat, rate, gap, stops) in [(6.0, 5.7, 0.31, false), (2.0, 2.0, 0.6, true)] {
        let mut hand = Hand::new();
        hand.swing(53, 6.0, rate, 40.0);
        hand.note(53, 0.5 * gap, None);
        hand.note(54, 0.5 * gap, None);
        hand.swing(54, 6.0, rate, 40.0);
        let (_, rounds) = judged(&drill(per_beat), &hand, None);
        let round = only(rounds);
        assert_eq!(has(&round, FindingKind::Gap), stops, "{:?}", round.findings);
    }
}

/// One bow on F3 with so many oscillations to each step, which lasts `beats` at 60: 40 cents wide.
fn one_bow(steps: &[f64], beats: f64) -> Hand {
    const CHANGE_SECS: f64 = 0.02;
    let mut vibrato = VibratoSpec::regular(Hz(1.0), Cents(40.0));
    vibrato.phase = Some(0.0);
    for (number, &rate) in steps.iter().enumerate() {
        let at = |secs: f64| Factor { time: Secs(secs), width: 1.0, rate };
        let start = beats * number as f64;
        vibrato.contour.extend([at(start), at(start + beats - CHANGE_SECS)]);
    }
    let mut hand = Hand::new();
    hand.note(53, beats * steps.len() as f64, Some(vibrato));
    hand
}

#[test]
fn on_one_bow_each_count_is_heard_though_the_pace_changes_within_the_note() {
    let steps = [1.0, 2.0, 3.0, 4.0, 6.0, 4.0, 3.0, 2.0, 1.0];
    for beats in [1, 2] {
        let drill = drill(
            Kind::OneBow { per_beat: steps.to_vec() },
            &[2],
            Count::Beats(beats),
            beat(60.0, 1.0),
            Join::Legato,
        );
        let start = Some(LEAD_SECS);
        let counted: Vec<u32> = steps.iter().map(|step| beats * *step as u32).collect();
        let mut silent = one_bow(&steps, f64::from(beats));
        silent.spec.lines[0].notes[0].start = Secs(LEAD_SECS + 1.0);
        let round = only(judged(&drill, &silent, start).1);
        assert_eq!(made(&round), counted, "{:#?}", round.findings);
        assert!(round.holds, "{:#?}", round.findings);
        // Four and no six in the middle.
        let calm = [1.0, 2.0, 3.0, 4.0, 4.0, 4.0, 3.0, 2.0, 1.0];
        let mut silent = one_bow(&calm, f64::from(beats));
        silent.spec.lines[0].notes[0].start = Secs(LEAD_SECS + 1.0);
        let round = only(judged(&drill, &silent, start).1);
        assert!(!round.holds, "{:#?}", round.turns);
        let miscounted = |finding: &coach::Finding| {
            finding.kind == FindingKind::Count && finding.turn == Some(4)
        };
        assert!(round.findings.iter().any(miscounted), "{:#?}", round.findings);
    }
}
