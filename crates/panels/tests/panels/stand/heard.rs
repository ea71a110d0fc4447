//! Notes as the ear would report them, made by hand, so that every word that follows is known.

use panels::shell::options::Options;
use panels::stand::{Action, Heard, Stand};
use pitch::Frame;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{
    Event, Live, Measure, Measures, Motion, Note, Oscillation, PitchCourse, Quantity, Remarks,
    Vibrato,
};

/// The note that is played here.
pub const B_FLAT_3: i32 = 58;

/// A Stand that has heard nothing.
pub fn stand() -> Stand {
    Stand::new(Options::default())
}

/// Its frequency.
pub fn reference() -> Hz {
    Tuning::default().frequency(B_FLAT_3)
}

/// Tells the Stand one event.
pub fn hear(stand: &mut Stand, event: Event) {
    stand.apply(Action::Heard(Heard::Event(event)));
}

/// A measure with its doubt.
pub fn measure<T>(value: T, se: T) -> Measure<T> {
    Measure { value, se: Some(se) }
}

/// A note from 0.5 s on, heard up to `until`, with this motion.
pub fn sound(stand: &mut Stand, until: f64, motion: Motion) {
    let start = Secs(0.5);
    hear(stand, Event::NoteBegan { start, midi: B_FLAT_3, reference: reference() });
    let mut time = start.0;
    while time < until {
        hear(
            stand,
            Event::Frame(Frame {
                time: Secs(time),
                f0: Some(reference().raised(Cents(-6.0))),
                confidence: 0.95,
                level_dbfs: -20.0,
                disagreement: None,
            }),
        );
        hear(
            stand,
            Event::Live(Live {
                time: Secs(time),
                midi: B_FLAT_3,
                reference: reference(),
                centre: measure(Cents(-6.2), Cents(0.8)),
                motion,
                two_strings: false,
                room: false,
            }),
        );
        time += 0.005;
    }
}

/// An ordinary vibrato.
pub fn vibrato() -> Motion {
    Motion::Vibrato { rate: measure(Hz(5.62), Hz(0.2)), width: measure(Cents(34.4), Cents(2.6)) }
}

/// That note with its measures, straight or with vibrato.
pub fn ended(straight: bool) -> Note {
    let oscillation = Oscillation {
        start: Secs(0.92),
        period: Secs(0.178),
        crest: Cents(10.7),
        trough: Cents(-22.9),
    };
    Note {
        start: Secs(0.5),
        end: Secs(2.0),
        midi: B_FLAT_3,
        reference: reference(),
        f0: measure(reference(), Hz(0.1)),
        offset: measure(Cents(-6.1), Cents(0.3)),
        level_dbfs: -20.0,
        confidence: 0.95,
        unsteadiness: Cents(1.24),
        vibrato: (!straight).then(|| Vibrato {
            rate: measure(Hz(5.618), Hz(0.03)),
            width: measure(Cents(33.6), Cents(0.7)),
            centre: measure(Cents(-6.1), Cents(0.4)),
            others: Measures::default().with(Quantity::RateSpread, 6.2, Some(1.2)),
            onset: measure(Secs(0.42), Secs(0.02)),
            contour: Vec::new(),
            oscillations: vec![oscillation; 7],
        }),
        course: if straight { PitchCourse::Straight } else { PitchCourse::Vibrato },
        rebows: Vec::new(),
        remarks: Remarks::default(),
    }
}

/// A note with vibrato (or straight) from its beginning to its end.
pub fn play(stand: &mut Stand, straight: bool) {
    let motion = if straight { Motion::Straight } else { vibrato() };
    sound(stand, 2.0, motion);
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(straight)))));
}

/// The same with another width and centre.
pub fn play_as(stand: &mut Stand, width: Cents, centre: Cents) {
    sound(stand, 2.0, vibrato());
    let mut note = ended(false);
    if let Some(vibrato) = &mut note.vibrato {
        vibrato.width = measure(width, Cents(0.5));
        vibrato.centre = measure(centre, Cents(0.5));
        for oscillation in &mut vibrato.oscillations {
            oscillation.crest = Cents(centre.0 + width.0 / 2.0);
            oscillation.trough = Cents(centre.0 - width.0 / 2.0);
        }
    }
    stand.apply(Action::Heard(Heard::Note(Box::new(note))));
}
