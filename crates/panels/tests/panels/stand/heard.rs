//! Notes as the ear would report them, made by hand, so that every word that follows is known.

use panels::shell::options::Options;
use panels::stand::{Action, Heard, Stand};
use pitch::Frame;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Event, Live, Measure, Measures, Motion, Note, Oscillation, Quantity, Vibrato};

/// The note that is played here.
pub(super) const B_FLAT_3: i32 = 58;

/// A Stand that has heard nothing.
pub(super) fn stand() -> Stand {
    Stand::new(Options::default())
}

/// Its frequency.
pub(super) fn reference() -> Hz {
    Tuning::default().frequency(B_FLAT_3)
}

/// Tells the Stand one event.
pub(super) fn hear(stand: &mut Stand, event: Event) {
    stand.apply(Action::Heard(Heard::Event(event)));
}

/// A note from 0.5 s on, heard up to `until`, with this motion.
pub(super) fn sound(stand: &mut Stand, until: f64, motion: Motion) {
    let start = Secs(0.5);
    hear(stand, Event::NoteBegan { start, midi: B_FLAT_3, reference: reference() });
    let mut time = start.0;
    while time < until {
        hear(
            stand,
            Event::Frame(Frame::plain(Secs(time), Some(reference().raised(Cents(-6.0))), -20.0)),
        );
        hear(
            stand,
            Event::Live(Live::plain(
                Secs(time),
                B_FLAT_3,
                reference(),
                Measure::known(Cents(-6.2), Cents(0.8)),
                motion,
            )),
        );
        time += 0.005;
    }
}

/// An ordinary vibrato.
pub(crate) fn vibrato() -> Motion {
    Motion::Vibrato {
        rate: Measure::known(Hz(5.62), Hz(0.2)),
        width: Measure::known(Cents(34.4), Cents(2.6)),
    }
}

/// That note with its measures, straight or with vibrato.
pub(crate) fn ended(straight: bool) -> Note {
    let plain = Note {
        offset: Measure::known(Cents(-6.1), Cents(0.3)),
        confidence: 0.95,
        unsteadiness: Cents(1.24),
        ..Note::plain(B_FLAT_3, reference(), Secs(0.5), Secs(2.0))
    };
    if straight {
        return plain;
    }
    let oscillation = Oscillation {
        start: Secs(0.92),
        period: Secs(0.178),
        crest: Cents(10.7),
        trough: Cents(-22.9),
    };
    plain.vibrated(Vibrato {
        rate: Measure::known(Hz(5.618), Hz(0.03)),
        width: Measure::known(Cents(33.6), Cents(0.7)),
        centre: Measure::known(Cents(-6.1), Cents(0.4)),
        others: Measures::default().with(Quantity::RateSpread, 6.2, Some(1.2)),
        onset: Measure::known(Secs(0.42), Secs(0.02)),
        contour: Vec::new(),
        oscillations: vec![oscillation; 7],
    })
}

/// A note with vibrato (or straight) from its beginning to its end.
pub(super) fn play(stand: &mut Stand, straight: bool) {
    let motion = if straight { Motion::Straight } else { vibrato() };
    sound(stand, 2.0, motion);
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(straight)))));
}

/// The same with another width and centre.
pub(super) fn play_as(stand: &mut Stand, width: Cents, centre: Cents) {
    sound(stand, 2.0, vibrato());
    let mut note = ended(false);
    if let Some(vibrato) = &mut note.vibrato {
        vibrato.width = Measure::known(width, Cents(0.5));
        vibrato.centre = Measure::known(centre, Cents(0.5));
        for oscillation in &mut vibrato.oscillations {
            oscillation.crest = Cents(centre.0 + width.0 / 2.0);
            oscillation.trough = Cents(centre.0 - width.0 / 2.0);
        }
    }
    stand.apply(Action::Heard(Heard::Note(Box::new(note))));
}
