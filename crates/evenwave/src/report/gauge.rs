//! The gauge: a scale with a value, its doubt as a soft band, single notes as marks, and what is wanted.

use maud::{Markup, html};

use super::figure::{Scale, WIDTH, figure, place, tick};
use super::page::measure;

/// What a gauge shows.
pub struct Gauge<'a> {
    /// What is measured.
    pub name: &'a str,
    /// Its unit.
    pub unit: &'a str,
    /// Decimals that mean something.
    pub decimals: usize,
    /// It lies above or below something.
    pub signed: bool,
    /// The value and its standard error.
    pub value: (f64, Option<f64>),
    /// The values it is the mean of.
    pub marks: &'a [f64],
    /// What is wanted: that of the model.
    pub wanted: Option<f64>,
    /// Least and greatest value of the scale where nothing lies outside.
    pub span: (f64, f64),
}

/// Draws it.
pub fn gauge(shown: &Gauge<'_>) -> Markup {
    let (value, se) = shown.value;
    let all = shown.marks.iter().copied().chain(shown.wanted).chain([value]);
    let scale = Scale::around(all, shown.span, 12.0, WIDTH - 12.0);
    let (ticks, decimals) = scale.ticks(7);
    let said = format!("{} {}", measure(Some(value), se, shown.decimals, shown.signed), shown.unit);
    let of = match shown.marks.len() {
        0 | 1 => String::new(),
        notes => format!(", mean of {notes} notes, each a mark"),
    };
    let wants = shown.wanted.map_or_else(String::new, |wanted| {
        let word = measure(Some(wanted), None, shown.decimals, shown.signed);
        format!("; the triangle is the model, {word} {}", shown.unit)
    });
    let drawn = html! {
        text class="name" x="12" y="14" { (shown.name) }
        text class="big" x="12" y="40" { (said) }
        @if let Some(se) = se {
            @let (left, right) = (scale.at(value - se), scale.at(value + se));
            rect class="doubt" x=(place(left)) y="54" width=(place((right - left).max(1.0))) height="24" {}
        }
        line class="rule" x1="12" x2=(WIDTH - 12.0) y1="78" y2="78" {}
        @for at in &ticks {
            @let x = place(scale.at(*at));
            line class="rule" x1=(x) x2=(x) y1="78" y2="82" {}
            text x=(x) y="94" text-anchor="middle" { (tick(*at, decimals)) }
        }
        @for mark in shown.marks {
            @let x = place(scale.at(*mark));
            line class="osc" x1=(x) x2=(x) y1="64" y2="77" stroke-opacity="0.55" {}
        }
        @if let Some(wanted) = shown.wanted {
            path class="wanted" d=(format!("M{0} 46L{1} 54L{2} 46ZM{1} 54V78", place(scale.at(wanted) - 5.0), place(scale.at(wanted)), place(scale.at(wanted) + 5.0))) {}
        }
        line class="value" x1=(place(scale.at(value))) x2=(place(scale.at(value))) y1="54" y2="78" {}
    };
    let caption = format!("{}{of}{wants}", shown.unit);
    figure(shown.name, &format!("{} {said}{of}{wants}", shown.name), 98.0, drawn, &caption)
}
