//! The report of a take or a recording.

use coach::{band, beyond_doubt, continuity_said};
use maud::{Markup, html};
use pictures::field::{self, Field, Spot};
use pictures::gauge::{self, Gauge, Reading};
use pictures::{OFFSET, RATE, SPREAD, Scale, WIDTH};
use tuning::figure::sentence;
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Note, Quantity, Vibrato};

use super::figure::{QUARTER, empty, figure, sized, sizes};
use super::measures::measures;
use super::page::{Page, details, measure};
use super::playing::Playing;
use super::traced::traced;
use crate::formats::NoteRecord;
use crate::words::counted;

/// The page.
pub fn take_page(playing: &Playing, naming: Naming) -> Page {
    let title = match &playing.take {
        Some(_) => playing.called(),
        None => format!("Recording {}", playing.name),
    };
    let records = records(&playing.notes, naming);
    let several = vibratos(&playing.notes).len() > 1;
    let (unsteady, to_try) = least_even(playing, naming).unzip();
    let remarks = playing.remarks.iter().map(|words| sentence(words));
    let lead = remarks.chain(unsteady).chain(continuity_said(&playing.notes)).collect();
    let body = html! {
        (traces(playing, naming, &[]))
        (gauges(&playing.notes, None))
        @if !records.is_empty() {
            (details("All measures", records.len(), &measures(&records, &playing.fingers)))
        }
        @if several {
            (details("Rate and width", usize::MAX, &html! {
                div class="figures" { (field(&numbered(&playing.notes, naming))) }
            }))
        }
    };
    let sentence = in_one_sentence(&playing.notes, naming);
    let damaged = playing.damaged.clone().into_iter().collect();
    Page { title, sentence, lead, to_try, about: playing.about(), body, damaged }
}

/// What was played: from the least to the greatest of each measure, for the notes may be meant to differ.
fn in_one_sentence(notes: &[Note], naming: Naming) -> String {
    let of = |quantity: Quantity| {
        let values = vibratos(notes).into_iter().filter_map(move |one| one.get(quantity));
        let (least, most) = range(values.map(|one| one.value))?;
        let (least, most) = (quantity.rounded(least), quantity.rounded(most));
        Some(if least == most { least } else { format!("{least} to {most}") })
    };
    let names = range(notes.iter().map(|note| f64::from(note.midi)));
    let names = names.map_or_else(String::new, |(low, high)| {
        let name = |midi: f64| pitch_name(midi as i32, naming);
        if low < high { format!("{}–{}", name(low), name(high)) } else { name(low) }
    });
    let straight = notes.iter().filter(|note| note.straight()).count();
    match (of(Quantity::Rate), of(Quantity::Width)) {
        (Some(rate), Some(width)) => {
            let without = match straight {
                0 => String::new(),
                straight => format!("; {} without vibrato", counted(straight, "note")),
            };
            format!("{names}: {rate} Hz, {width} cents wide{without}.")
        }
        _ if straight > 0 => format!("{names}: {} without vibrato.", counted(straight, "note")),
        _ => format!("{names}: {}.", counted(notes.len(), "note")),
    }
}

/// The least and the greatest of some values.
fn range(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |all, value| {
        let (least, most) = all.unwrap_or((value, value));
        Some((value.min(least), value.max(most)))
    })
}

/// Which note was least even beside the most even one, where that is beyond doubt, and what to try.
fn least_even(playing: &Playing, naming: Naming) -> Option<(String, String)> {
    let mut known: Vec<(usize, Measure<f64>)> = Vec::new();
    for (number, note) in playing.notes.iter().enumerate() {
        let spread = note.vibrato.as_ref().and_then(|one| one.get(Quantity::RateSpread));
        known.extend(spread.filter(|spread| spread.se.is_some()).map(|spread| (number, spread)));
    }
    known.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let (best, worst) = (*known.first()?, *known.last()?);
    // As many pairs could have been told.
    if !beyond_doubt(worst.1.above(best.1), known.len() * (known.len() - 1) / 2) {
        return None;
    }
    let called = |number: usize| {
        let name = pitch_name(playing.notes[number].midi, naming);
        match playing.fingers.get(number).copied().flatten() {
            Some(by) => format!("note {} ({name}, {})", number + 1, finger(by)),
            None => format!("note {} ({name})", number + 1),
        }
    };
    let spread = |one: Measure<f64>| Quantity::RateSpread.figure(Some(one));
    let said = format!(
        "Least even: {}, {} % from one oscillation to the next; most even: {}, {} %.",
        called(worst.0),
        spread(worst.1),
        called(best.0),
        spread(best.1)
    );
    let to_try = format!(
        "To try: play {} and {} in turn, slowly, until they feel alike.",
        called(best.0),
        called(worst.0)
    );
    Some((said, to_try))
}

/// What a finger is called.
pub(super) fn finger(finger: u8) -> String {
    match finger {
        0 => "thumb".to_owned(),
        finger => format!("finger {finger}"),
    }
}

/// The trace of all of it, if there is one.
pub(super) fn traces(playing: &Playing, naming: Naming, sections: &[(Secs, String)]) -> Markup {
    html! {
        @if !playing.frames.is_empty() {
            (traced(playing, naming, sections))
            p class="note" {
                "Thin where it is not sure. Below: each oscillation, as long as its period and as tall as its width; how loud it is."
            }
        }
    }
}

/// The notes as they are written.
pub(super) fn records(notes: &[Note], naming: Naming) -> Vec<NoteRecord> {
    notes.iter().map(|note| NoteRecord::new(note, naming, Secs(0.0))).collect()
}

/// The vibratos of some notes.
pub(super) fn vibratos(notes: &[Note]) -> Vec<&Vibrato> {
    notes.iter().filter_map(|note| note.vibrato.as_ref()).collect()
}

/// One gauge of a page: what it measures and how.
struct Shown {
    quantity: Quantity,
    name: &'static str,
    decimals: usize,
    scale: Scale,
}

const SHOWN: [Shown; 4] = [
    Shown { quantity: Quantity::Rate, name: "rate", decimals: 1, scale: RATE },
    Shown { quantity: Quantity::Width, name: "width", decimals: 0, scale: WIDTH },
    Shown { quantity: Quantity::Centre, name: "centre", decimals: 0, scale: OFFSET },
    Shown { quantity: Quantity::RateSpread, name: "rate spread", decimals: 0, scale: SPREAD },
];

/// What counts as near to this vibrato of a model.
fn near(vibrato: &Vibrato, quantity: Quantity) -> Option<(f64, f64)> {
    let (rate, width) = band(vibrato);
    match quantity {
        Quantity::Rate => Some((rate.0.0, rate.1.0)),
        Quantity::Width => Some((width.0.0, width.1.0)),
        _ => None,
    }
}

/// The gauges of some notes; what is near to those of a model stands there as wanted.
pub(super) fn gauges(notes: &[Note], model: Option<&[Note]>) -> Markup {
    html! {
        div class="figures gauges" {
            @for shown in &SHOWN {
                @if let Some(drawn) = one_gauge(shown, notes, model) { (drawn) }
            }
        }
    }
}

fn one_gauge(shown: &Shown, notes: &[Note], model: Option<&[Note]>) -> Option<Markup> {
    let quantity = shown.quantity;
    let gathered = |notes: &[Note]| -> Vec<Measure<f64>> {
        vibratos(notes).into_iter().filter_map(|vibrato| vibrato.get(quantity)).collect()
    };
    let values = gathered(notes);
    let (least, most) = range(values.iter().map(|one| one.value))?;
    let of_model = model.map(vibratos).unwrap_or_default();
    let near = of_model.into_iter().filter_map(|vibrato| near(vibrato, quantity));
    let wanted = near.reduce(|all, next| (all.0.min(next.0), all.1.max(next.1)));
    let marks =
        if values.len() > 1 { values.iter().map(|one| one.value).collect() } else { vec![] };
    let gauge = Gauge {
        name: shown.name,
        unit: quantity.unit(),
        scale: shown.scale,
        decimals: shown.decimals,
        signed: quantity.row().signed,
        reading: match values[..] {
            [one] => Reading::Value { value: one.value, se: one.se },
            _ => Reading::Between(least, most),
        },
        wanted,
        marks,
        live: true,
    };
    let height = gauge::least_size(&sizes(), wanted.is_some()).y;
    let mut picture = sized(QUARTER, 1.1 * height);
    let area = picture.area.shrink(2.0);
    gauge::gauge(&mut picture, area, &gauge);
    let said = match values[..] {
        [one] => {
            let one = measure(Some(one), shown.decimals, quantity.row().signed);
            format!("{one} {}", quantity.unit())
        }
        _ => "each note a dot".to_owned(),
    };
    let bracket = if wanted.is_some() { "; the bracket: near to the model" } else { "" };
    picture.says = gauge.spoken();
    Some(figure(shown.name, &picture, &format!("{said}{bracket}")))
}

/// A note or a turn in the field: its number, what it is called, and where it lies.
struct Numbered {
    /// Its number, which stands beside it.
    pub number: usize,
    /// What it is called.
    pub name: String,
    /// Where it lies.
    pub spot: Spot,
}

/// The notes with vibrato in the field.
fn numbered(notes: &[Note], naming: Naming) -> Vec<Numbered> {
    let numbered = notes.iter().enumerate();
    numbered
        .filter_map(|(number, note)| {
            let vibrato = note.vibrato.as_ref()?;
            let name = format!("note {}, {}", number + 1, pitch_name(note.midi, naming));
            let spot = Spot { rate: vibrato.rate, width: vibrato.width, live: true };
            Some(Numbered { number: number + 1, name, spot })
        })
        .collect()
}

/// Height of the field on a page.
pub(super) const FIELD: f32 = 240.0;
/// The field with some notes in the order in which they were played.
fn field(shown: &[Numbered]) -> Markup {
    let played: Vec<(usize, Spot)> = shown.iter().map(|one| (one.number, one.spot)).collect();
    let mut picture = empty(FIELD);
    let area = picture.area;
    field::field(&mut picture, area, &Field::around(&[], &played));
    let says = shown.iter().take(field::MOST_NUMBERED).map(|one| {
        let (rate, width) = (one.spot.rate.value.0, one.spot.width.value.0);
        format!("{}: {rate:.2} Hz, {width:.0} cents", one.name)
    });
    picture.says = says.collect::<Vec<String>>().join("; ");
    figure(
        "Rate and width",
        &picture,
        "Each note by its rate and width, numbered as played; the ellipse is its margin.",
    )
}
