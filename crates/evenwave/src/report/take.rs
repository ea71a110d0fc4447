//! The report of a take or a recording.

use coach::band;
use maud::{Markup, html};
use pictures::field::{self, Field, Spot};
use pictures::gauge::{self, Gauge, Reading};
use pictures::{OFFSET, RATE, SPREAD, Scale, WIDTH};
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Note, Quantity, Vibrato};

use super::figure::{empty, figure, sizes};
use super::measures::measures;
use super::page::{Page, isolated, measure};
use super::playing::{Playing, when};
use super::traced::traced;
use crate::formats::NoteRecord;
use crate::words::counted;

/// The page.
pub fn take_page(playing: &Playing, naming: Naming) -> Page {
    let title = match &playing.take {
        Some(take) => {
            let when = when(take).unwrap_or_else(|| playing.name.clone());
            match take.player.as_str() {
                "" => format!("Take of {when}"),
                player => format!("{}: take of {when}", isolated(player)),
            }
        }
        None => format!("Recording {}", playing.name),
    };
    let records = records(&playing.notes, naming);
    let swinging = vibratos(&playing.notes);
    let straight = playing.notes.iter().filter(|note| note.straight()).count();
    let body = html! {
        @for words in &playing.remarks { p class="verdict" { (words) } }
        p {
            (counted(playing.notes.len(), "note")) ", " (swinging.len()) " with vibrato, " (straight) " straight."
        }
        @if !swinging.is_empty() {
            h2 { "The vibrato as a whole" }
            (gauges(&playing.notes, None))
            @if swinging.len() > 1 {
                h2 { "Rate and width" }
                div class="figures wide" { (field(&numbered(&playing.notes, naming))) }
            }
        }
        (traces(playing, naming, &[]))
        @if !records.is_empty() {
            h2 { "Measures" }
            (measures(&records, &playing.fingers))
        }
    };
    Page { title, about: playing.about(), body }
}

/// The trace of all of it, if there is one.
pub(super) fn traces(playing: &Playing, naming: Naming, sections: &[(Secs, String)]) -> Markup {
    html! {
        @if !playing.frames.is_empty() {
            h2 { "Trace" }
            p {
                "The pitch against the lines of the notes, seconds along the bottom; a triangle above each crest and below each trough, where they have room. \
                 Thin where it is doubtful, left open where it is silent. Below: each oscillation as a bar, as long as its period and as tall as its width; and how loud it is."
            }
            (traced(playing, naming, sections))
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
    Shown { quantity: Quantity::Rate, name: "rate", decimals: 2, scale: RATE },
    Shown { quantity: Quantity::Width, name: "width", decimals: 0, scale: WIDTH },
    Shown {
        quantity: Quantity::Centre,
        name: "centre, from the reference",
        decimals: 1,
        scale: OFFSET,
    },
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
        div class="figures wide" {
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
    let mean = Measure::mean(values.iter().copied())?;
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
        reading: Reading::Value { value: mean.value, se: mean.se },
        wanted,
        marks,
        live: true,
    };
    let least = gauge::least_size(&sizes(), wanted.is_some()).y;
    let mut picture = empty(1.4 * least);
    let area = picture.area.shrink(2.0);
    gauge::gauge(&mut picture, area, &gauge);
    let said = |mean: Measure<f64>| {
        let mean = measure(Some(mean), shown.decimals, quantity.row().signed);
        format!("{mean} {}", quantity.unit())
    };
    let of = match values.len() {
        0 | 1 => String::new(),
        notes => format!(", mean of {notes} notes, each a dot"),
    };
    let of_model = model.and_then(|model| Measure::mean(gathered(model)));
    let of_model =
        of_model.map_or_else(String::new, |model| format!("; the model's: {}", said(model)));
    let bracket = if wanted.is_some() { "; the bracket is what is near to the model" } else { "" };
    picture.says = format!("{} {}{of}{of_model}", shown.name, said(mean));
    let caption = format!("{}{of}{of_model}{bracket}", said(mean));
    Some(figure(shown.name, &picture, &caption))
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
        "Each note by its rate and width, numbered as played; the ellipse is its doubt.",
    )
}
