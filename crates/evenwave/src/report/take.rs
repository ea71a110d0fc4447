//! The report of a take or a recording.

use maud::{Markup, html};
use tuning::{Naming, Secs};
use vibrato::{Measure, Note, Quantity, Vibrato};

use super::field::{Spot, field};
use super::gauge::{Gauge, gauge};
use super::measures::measures;
use super::page::{Page, isolated};
use super::playing::{Playing, when};
use super::trace::{Traced, trace};
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
    let straight = playing.notes.iter().filter(|note| note.straight).count();
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
                div class="figures wide" { (field(&spots(&playing.notes, naming))) }
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
pub fn traces(playing: &Playing, naming: Naming, marks: &[(f64, String)]) -> Markup {
    html! {
        @if !playing.frames.is_empty() {
            h2 { "Trace" }
            p {
                "The pitch against the lines of the notes, seconds along the bottom; crests as dots, troughs as rings. \
                 Left open where it is silent or in doubt. Below: each oscillation as a bar, as long as its period and as tall as its width."
            }
            (trace(&Traced {
                frames: &playing.frames,
                notes: &playing.notes,
                lost: &playing.lost,
                marks,
                tuning: playing.settings.tuning,
                naming,
                length_s: playing.length_s,
            }))
        }
    }
}

/// The notes as they are written.
pub fn records(notes: &[Note], naming: Naming) -> Vec<NoteRecord> {
    notes.iter().map(|note| NoteRecord::new(note, naming, Secs(0.0))).collect()
}

/// The vibratos of some notes.
pub fn vibratos(notes: &[Note]) -> Vec<&Vibrato> {
    notes.iter().filter_map(|note| note.vibrato.as_ref()).collect()
}

/// Mean of some values, and its standard error: from their scatter, but no less than the doubt of each leaves; of
/// one, its own.
pub fn mean(values: &[(f64, Option<f64>)]) -> Option<(f64, Option<f64>)> {
    let count = values.len() as f64;
    match values {
        [] => None,
        [only] => Some(*only),
        _ => {
            let mean = values.iter().map(|v| v.0).sum::<f64>() / count;
            let squares: f64 = values.iter().map(|v| (v.0 - mean).powi(2)).sum();
            let scatter = (squares / (count - 1.0) / count).sqrt();
            let own: f64 = values.iter().filter_map(|v| v.1).map(|se| se * se).sum();
            Some((mean, Some(scatter.max(own.sqrt() / count))))
        }
    }
}

fn bare<T: Copy>(measure: Measure<T>, of: fn(T) -> f64) -> (f64, Option<f64>) {
    (of(measure.value), measure.se.map(of))
}

/// Rate, width and evenness of a vibrato, each with its doubt.
pub fn rate(vibrato: &Vibrato) -> (f64, Option<f64>) {
    bare(vibrato.rate, |hz| hz.0)
}

/// Crest to trough, in cents.
pub fn width(vibrato: &Vibrato) -> (f64, Option<f64>) {
    bare(vibrato.width, |cents| cents.0)
}

fn centre(vibrato: &Vibrato) -> (f64, Option<f64>) {
    bare(vibrato.centre, |cents| cents.0)
}

fn spread(vibrato: &Vibrato) -> Option<(f64, Option<f64>)> {
    vibrato.get(Quantity::RateSpread).map(|pct| bare(pct, |pct| pct))
}

/// A value with its doubt, if that is known.
type Told = (f64, Option<f64>);

/// The gauges of some notes; those of a model stand there as what is wanted.
pub fn gauges(notes: &[Note], model: Option<&[Note]>) -> Markup {
    let gathered = |of: &dyn Fn(&Vibrato) -> Option<Told>, notes: &[Note]| {
        let values: Vec<(f64, Option<f64>)> = vibratos(notes).into_iter().filter_map(of).collect();
        let marks: Vec<f64> = values.iter().map(|value| value.0).collect();
        mean(&values).map(|mean| (mean, marks))
    };
    let one = |name, unit, decimals, signed, span, of: &dyn Fn(&Vibrato) -> Option<Told>| {
        let (value, marks) = gathered(of, notes)?;
        let wanted = model.and_then(|model| gathered(of, model)).map(|((value, _), _)| value);
        Some(gauge(&Gauge {
            name,
            unit,
            decimals,
            signed,
            value,
            marks: if marks.len() > 1 { &marks } else { &[] },
            wanted,
            span,
        }))
    };
    html! {
        div class="figures wide" {
            @if let Some(drawn) = one("rate", "Hz", 2, false, (3.0, 8.0), &|v| Some(rate(v))) { (drawn) }
            @if let Some(drawn) = one("width", "cents", 0, false, (0.0, 60.0), &|v| Some(width(v))) { (drawn) }
            @if let Some(drawn) = one("centre, from the reference", "cents", 1, true, (-20.0, 20.0), &|v| Some(centre(v))) { (drawn) }
            @if let Some(drawn) = one("rate spread", "%", 0, false, (0.0, 20.0), &|v| spread(v)) { (drawn) }
        }
    }
}

/// The notes with vibrato in the field.
pub fn spots(notes: &[Note], naming: Naming) -> Vec<Spot> {
    let numbered = notes.iter().enumerate();
    numbered
        .filter_map(|(number, note)| {
            let vibrato = note.vibrato.as_ref()?;
            let name = tuning::pitch_name(note.midi, naming);
            Some(Spot {
                number: number + 1,
                name: format!("note {}, {name}", number + 1),
                rate: rate(vibrato),
                width: width(vibrato),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mean_is_in_doubt_by_its_scatter_and_no_less_than_by_that_of_each() {
        assert_eq!(mean(&[]), None);
        assert_eq!(mean(&[(5.0, Some(0.1))]), Some((5.0, Some(0.1))));
        let near = |values: &[(f64, Option<f64>)], due: f64| {
            let se = mean(values).and_then(|mean| mean.1).expect("known");
            assert!((se - due).abs() < 1e-12, "{se}, not {due}");
        };
        near(&[(4.0, Some(0.1)), (5.0, None), (6.0, Some(0.1))], 1.0 / 3f64.sqrt());
        // Alike by chance: 0.3/√4.
        near(&[(5.0, Some(0.3)); 4], 0.15);
    }
}
