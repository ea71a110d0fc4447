//! A picture on a page: its frame, its name, its sizes, and what it says to those who do not see it.

use emath::{Rect, pos2, vec2};
use maud::{Markup, html};
use pictures::bars::{self, Bar};
use pictures::{Grown, Paper, Picture, Sizes, svg};

use super::page::measure;

/// Every picture is so wide in its own units, so that its type is of one size on a phone and in a column of a
/// printed page.
pub(super) const WIDTH: f32 = 360.0;
/// Seen from nearer than a music stand, all is smaller than in the window.
const GROWN: Grown = Grown { text: 0.75, figures: 0.42, strokes: 0.55 };

/// The sizes of what is drawn on a page.
pub(super) fn sizes() -> Sizes {
    Sizes::USUAL.scaled(GROWN)
}

/// An empty picture of this height.
pub(super) fn empty(height: f32) -> Picture {
    Picture::new(Rect::from_min_size(pos2(0.0, 0.0), vec2(WIDTH, height)), &sizes())
}

/// A picture with its name and a caption.
pub(super) fn figure(name: &str, picture: &Picture, caption: &str) -> Markup {
    html! {
        figure {
            (svg(picture, name, Paper::Light))
            @if !caption.is_empty() {
                figcaption { (caption) }
            }
        }
    }
}

/// A value with its doubt, if that is known.
pub(super) type Told = (f64, Option<f64>);

/// One row of bars: its name, its value, and what was asked for.
pub(super) struct Row {
    /// Of which finger.
    pub name: String,
    /// How much, if it is known, and its doubt.
    pub value: Option<Told>,
    /// How much was asked for: a band, or twice the same.
    pub asked: Option<(f64, f64)>,
}

/// Bars of one measure.
pub(super) fn barred(
    name: &str,
    unit: &str,
    decimals: usize,
    rows: &[Row],
    caption: &str,
) -> Markup {
    let bars: Vec<Bar> = rows
        .iter()
        .map(|row| {
            let (value, se) = row.value.map_or((None, None), |(value, se)| (Some(value), se));
            Bar {
                name: row.name.clone(),
                value: row.value,
                said: format!("{} {unit}", measure(value, se, decimals, false)).trim().to_owned(),
                asked: row.asked,
            }
        })
        .collect();
    let mut picture = empty(bars::height(bars.len(), sizes().scale));
    let area = picture.area.shrink2(vec2(2.0, 0.0));
    let titled = if unit.is_empty() { name.to_owned() } else { format!("{name}, {unit}") };
    bars::bars(&mut picture, area, &titled, &bars);
    let says = bars.iter().map(|bar| {
        let asked = bar.asked.map_or_else(String::new, |(low, high)| {
            if high > low {
                format!(", asked {low:.decimals$} to {high:.decimals$}")
            } else {
                format!(", asked {low:.decimals$}")
            }
        });
        format!("{}: {}{asked}", bar.name, bar.said)
    });
    picture.says = says.collect::<Vec<String>>().join("; ");
    figure(name, &picture, caption)
}
