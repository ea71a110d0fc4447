//! The named regions of the field, to be added, renamed, moved and deleted.

use crate::shell::options::{Options, Region, shipped_regions};
use crate::widgets::form::Form;
use egui::Ui;
use std::ops::RangeInclusive;
use tuning::{Cents, Hz};

/// Where the bounds of a region or of a wanted band may lie.
pub(super) const RATES_HZ: RangeInclusive<f64> = 1.0..=15.0;
/// The same for the width.
pub(super) const WIDTHS_CENTS: RangeInclusive<f64> = 0.0..=400.0;

/// Draws them and changes `options` by what was asked for.
pub(super) fn regions_ui(ui: &mut Ui, options: &mut Options, form: &Form) {
    form.part(ui, "Regions of the field");
    form.note(
        ui,
        "The four that come with evenwave are a starting point, not a norm: rename, move or delete them.",
    );
    let mut gone = None;
    for (index, region) in options.regions.iter_mut().enumerate() {
        ui.push_id(index, |ui| {
            if region_ui(ui, index + 1, region, form) {
                gone = Some(index);
            }
        });
    }
    if let Some(index) = gone {
        options.regions.remove(index);
    }
    ui.horizontal_wrapped(|ui| {
        if form.button(ui, "Add a region", "add a region", true) {
            options.regions.push(Region {
                name: format!("region {}", options.regions.len() + 1),
                rate: (Hz(4.0), Hz(5.0)),
                width: (Cents(20.0), Cents(40.0)),
            });
        }
        let shipped = shipped_regions(options.instrument.as_deref());
        let differs = options.regions != shipped;
        if form.button(ui, "The four at the start", "restore the four regions", differs) {
            options.regions = shipped;
        }
    });
}

/// One region; whether it is to be deleted.
fn region_ui(ui: &mut Ui, number: usize, region: &mut Region, form: &Form) -> bool {
    let mut gone = false;
    let of = format!("region {number}");
    ui.horizontal_wrapped(|ui| {
        if let Some(name) = form.field(ui, &format!("{of}, name"), &region.name, "a name") {
            region.name = name;
        }
        let (from, to) = &mut region.rate;
        let rate = (&mut from.0, &mut to.0);
        form.band(ui, &format!("{of}, rate"), rate, RATES_HZ, "Hz");
        ui.label("·");
        let (from, to) = &mut region.width;
        let width = (&mut from.0, &mut to.0);
        form.band(ui, &format!("{of}, width"), width, WIDTHS_CENTS, "cents");
        gone = form.button(ui, "Delete", &format!("delete {of}"), true);
    });
    gone
}
