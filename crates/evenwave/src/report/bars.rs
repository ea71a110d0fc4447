//! Bars: one measure of several fingers or days side by side.

use maud::{Markup, html};

use super::figure::{Scale, WIDTH, figure, place};
use super::page::measure;

/// One bar.
pub struct Bar {
    /// Of which finger or day.
    pub name: String,
    /// How much, if it is known, and its doubt.
    pub value: Option<(f64, Option<f64>)>,
    /// How much was asked for: a band, or twice the same.
    pub asked: Option<(f64, f64)>,
}

/// Draws bars of one measure, which is 0 or more.
pub fn bars(name: &str, unit: &str, decimals: usize, bars: &[Bar], caption: &str) -> Markup {
    const ROW: f64 = 20.0;
    let left = 76.0;
    let known = bars.iter().flat_map(|bar| {
        let asked = bar.asked.map(|(_, high)| high);
        let value = bar.value.map(|(value, se)| value + se.unwrap_or(0.0));
        value.into_iter().chain(asked)
    });
    let most = known.fold(0.0, f64::max);
    let scale = Scale::new(0.0, most.max(1e-6), left, WIDTH - 100.0);
    let height = 24.0 + ROW * bars.len() as f64;
    let said = |bar: &Bar| {
        let (value, se) = bar.value.map_or((None, None), |(value, se)| (Some(value), se));
        format!("{} {unit}", measure(value, se, decimals, false))
    };
    let drawn = html! {
        text class="name" x="4" y="14" { (name) @if !unit.is_empty() { ", " (unit) } }
        @for (row, bar) in bars.iter().enumerate() {
            @let y = 22.0 + ROW * row as f64;
            text class="name" x="4" y=(place(y + 13.0)) { (bar.name) }
            @if let Some((value, se)) = bar.value {
                @let end = scale.at(value);
                rect class="bar" x=(left) y=(place(y + 3.0)) width=(place((end - left).max(0.5))) height="13" {}
                @if let Some(se) = se {
                    line class="value" x1=(place(scale.at(value - se))) x2=(place(scale.at(value + se))) y1=(place(y + 9.5)) y2=(place(y + 9.5)) {}
                }
            }
            @if let Some((low, high)) = bar.asked {
                path class="wanted" d=(format!("M{0} {2}V{3}M{1} {2}V{3}M{0} {2}H{1}", place(scale.at(low)), place(scale.at(high)), place(y + 1.0), place(y + 18.0))) {}
            }
            text class="name" x=(WIDTH - 2.0) y=(place(y + 13.0)) text-anchor="end" { (said(bar)) }
        }
    };
    let says: Vec<String> = bars
        .iter()
        .map(|bar| {
            let asked = bar.asked.map_or_else(String::new, |(low, high)| {
                if high > low {
                    format!(", asked {low:.decimals$} to {high:.decimals$}")
                } else {
                    format!(", asked {low:.decimals$}")
                }
            });
            format!("{}: {}{asked}", bar.name, said(bar))
        })
        .collect();
    figure(name, &says.join("; "), height, drawn, caption)
}
