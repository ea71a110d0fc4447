//! A picture on a page: its frame, its name, its sizes, and what it says to those who do not see it.

use emath::{Rect, pos2, vec2};
use maud::{Markup, html};
use pictures::bars::{self, Bar};
use pictures::{Grown, Paper, Picture, Sizes, svg};
use vibrato::Measure;

use super::page::measure;

/// Pictures are so wide in their own units, so that their type is of one size: over a phone or half a printed page,
/// over the whole of one, over a third, and over a quarter.
pub(super) const WIDTH: f32 = 360.0;
pub(super) const BROAD: f32 = 720.0;
pub(super) const THIRD: f32 = 236.0;
pub(super) const QUARTER: f32 = 172.0;
/// Seen from nearer than a music stand, all is smaller than in the window.
const GROWN: Grown = Grown { text: 0.75, figures: 0.42, strokes: 0.55 };

/// The sizes of what is drawn on a page.
pub(super) fn sizes() -> Sizes {
    Sizes::USUAL.scaled(GROWN)
}

/// An empty picture of this height.
pub(super) fn empty(height: f32) -> Picture {
    sized(WIDTH, height)
}

/// An empty picture of this size.
pub(super) fn sized(width: f32, height: f32) -> Picture {
    Picture::new(Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height)), &sizes())
}

/// What is drawn over the full width of a page, and anew for a phone.
pub(super) fn over_all(draw: impl Fn(f32) -> Markup) -> Markup {
    html! {
        div class="broad" { (draw(BROAD)) }
        div class="slim" { (draw(WIDTH)) }
    }
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

/// Bars of one measure, which are told in words here.
pub(super) fn barred(
    name: &str,
    unit: &str,
    decimals: usize,
    mut bars: Vec<Bar>,
    caption: &str,
) -> Markup {
    for bar in &mut bars {
        let value = bar.value.map(|(value, se)| Measure { value, se });
        bar.said = format!("{} {unit}", measure(value, decimals, false)).trim().to_owned();
    }
    let mut picture = sized(THIRD, bars::height(bars.len(), sizes().scale));
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
