//! A take finger by finger: what each finger's notes have in common, and whether one of them stands out.

use super::wording;
use crate::theme::Theme;
use coach::beyond_doubt;
use egui::{Align2, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use journal::{NoteMeasures, TakeFile};
use std::collections::BTreeMap;
use tuning::figure;
use vibrato::{Measure, Quantity};

/// Height of a finger's row, as a share of the type size.
const ROW: f32 = 1.9;
/// Where rate, width and the scale begin, as shares of the type size.
const RATE_AT: f32 = 3.5;
const WIDTH_AT: f32 = 9.5;
const SCALE_AT: f32 = 17.0;

/// What a finger's notes have in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OfFinger {
    /// The finger; 0 is the thumb.
    pub finger: u8,
    /// Their mean rate, in Hz.
    pub rate: Measure<f64>,
    /// Their mean width, in cents.
    pub width: Measure<f64>,
}

/// The finger that stands out among the others, and by what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Odd {
    /// The finger.
    pub finger: u8,
    /// Rate or width.
    pub quantity: Quantity,
    /// How far it lies above the mean of the others.
    pub above: Measure<f64>,
}

/// The fingers that have vibrato, in order.
pub(super) fn by_finger(file: &TakeFile) -> Vec<OfFinger> {
    let mut fingers: BTreeMap<u8, Vec<&NoteMeasures>> = BTreeMap::new();
    for note in &file.notes {
        if let Some(finger) = note.finger.or(file.finger) {
            fingers.entry(finger).or_default().push(note);
        }
    }
    let mean = |notes: &[&NoteMeasures], quantity| {
        Measure::mean(notes.iter().filter_map(|note| note.get(quantity)))
    };
    let fingers = fingers.into_iter().filter_map(|(finger, notes)| {
        let (rate, width) = (mean(&notes, Quantity::Rate)?, mean(&notes, Quantity::Width)?);
        Some(OfFinger { finger, rate, width })
    });
    fingers.collect()
}

/// The one of three or more that lies furthest beyond doubt from the mean of the others; of two nobody can say which.
pub(super) fn odd(fingers: &[OfFinger]) -> Option<Odd> {
    if fingers.len() < 3 {
        return None;
    }
    let values = [Quantity::Width, Quantity::Rate].into_iter().flat_map(|quantity| {
        let of = move |one: &OfFinger| match quantity {
            Quantity::Rate => one.rate,
            _ => one.width,
        };
        fingers.iter().filter_map(move |one| {
            let others = fingers.iter().filter(|other| other.finger != one.finger).map(of);
            let above = of(one).above(Measure::mean(others)?);
            Some(Odd { finger: one.finger, quantity, above })
        })
    });
    let told = values.filter(|odd| beyond_doubt(odd.above, 2 * fingers.len()));
    let doubts = |odd: &Odd| odd.above.value.abs() / odd.above.se.unwrap_or(f64::INFINITY);
    told.max_by(|a, b| doubts(a).total_cmp(&doubts(b)))
}

impl Odd {
    /// "Finger 3 narrower than the rest".
    pub(super) fn headline(&self) -> String {
        let more = self.above.value > 0.0;
        let way = match (self.quantity, more) {
            (Quantity::Rate, true) => "faster",
            (Quantity::Rate, false) => "slower",
            (_, true) => "wider",
            (_, false) => "narrower",
        };
        format!("{} {way} than the rest", figure::capital(&wording::finger(self.finger)))
    }

    /// What to play next.
    pub(super) fn leads_on(&self, drill: &str) -> String {
        format!("To go on: “{drill}” under Drill, with {}.", wording::finger(self.finger))
    }

    /// "20 ±1 cents, where the other fingers have 27 to 30".
    pub(super) fn detail(&self, fingers: &[OfFinger]) -> String {
        let of = |one: &OfFinger| match self.quantity {
            Quantity::Rate => one.rate,
            _ => one.width,
        };
        let own = fingers.iter().find(|one| one.finger == self.finger).map(of);
        let others =
            fingers.iter().filter(|one| one.finger != self.finger).map(|one| of(one).value);
        let (low, high) =
            others.fold((f64::MAX, f64::MIN), |(low, high), one| (low.min(one), high.max(one)));
        let decimals = if self.quantity == Quantity::Rate { 1 } else { 0 };
        let said = |value| figure::number(Some(value), decimals, false);
        format!(
            "{}, where the other fingers have {} to {}",
            self.quantity.wording(own),
            said(low),
            said(high)
        )
    }
}

/// From the least to the greatest value with its doubt, to whole tens.
fn one_scale(values: impl Iterator<Item = Measure<f64>>) -> Option<(f64, f64)> {
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(low, high), one| {
        let se = one.se.unwrap_or(0.0);
        (low.min(one.value - se), high.max(one.value + se))
    });
    (low <= high).then(|| ((low / 10.0).floor() * 10.0, (high / 10.0).floor() * 10.0 + 10.0))
}

/// The fingers in rows: rate, width, and each width with its doubt on one scale.
pub(super) fn fingers_ui(ui: &mut Ui, fingers: &[OfFinger], odd: Option<&Odd>, theme: &Theme) {
    let size = theme.sizes.scale;
    let height = (ROW * size).round();
    let width = ui.available_width();
    let Some((low, high)) = one_scale(fingers.iter().map(|one| one.width)) else { return };
    let place = |rect: Rect, value: f64| {
        let from = rect.left() + SCALE_AT * size;
        let share = ((value - low) / (high - low)).clamp(0.0, 1.0) as f32;
        from + share * (rect.right() - size - from)
    };
    let has_scale = width >= (SCALE_AT + 6.0) * size;
    let write = |ui: &Ui, rect: Rect, at: f32, text: &str, ink| {
        let at = pos2(rect.left() + at * size, rect.center().y);
        ui.painter().text(at, Align2::LEFT_CENTER, text, theme.word_font(size), ink);
    };
    let (head, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
    for (at, text) in [(0.0, "finger"), (RATE_AT, "rate, Hz"), (WIDTH_AT, "width, cents")] {
        write(ui, head, at, text, theme.soft_ink);
    }
    if has_scale {
        for value in [low, high] {
            let at = pos2(place(head, value), head.center().y);
            let text = Quantity::Width.number(Some(value));
            let font = theme.word_font(size);
            ui.painter().text(at, Align2::CENTER_CENTER, text, font, theme.soft_ink);
        }
    }
    ui.painter().hline(head.x_range(), head.bottom(), theme.hairline_stroke());
    for one in fingers {
        let (rect, response) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        let name = wording::finger(one.finger);
        response.widget_info(|| {
            let rate = Quantity::Rate.wording(Some(one.rate));
            let width = Quantity::Width.wording(Some(one.width));
            WidgetInfo::labeled(Role::Row, true, format!("{name}: rate {rate}, width {width}"))
        });
        let stands_out = odd.is_some_and(|odd| odd.finger == one.finger);
        let number = if one.finger == 0 { "thumb".to_owned() } else { one.finger.to_string() };
        write(ui, rect, 0.0, &number, theme.ink);
        write(ui, rect, RATE_AT, &Quantity::Rate.figure(Some(one.rate)), theme.ink);
        write(ui, rect, WIDTH_AT, &Quantity::Width.figure(Some(one.width)), theme.ink);
        if has_scale {
            let half = 0.28 * height;
            let se = one.width.se.unwrap_or(0.0);
            let (from, to) = (place(rect, one.width.value - se), place(rect, one.width.value + se));
            let band =
                Rect::from_x_y_ranges(from..=to, rect.center().y - half..=rect.center().y + half);
            ui.painter().rect_filled(band, 2.0, theme.doubt);
            let ink = if stands_out { theme.attention } else { theme.oscillation };
            let at = pos2(place(rect, one.width.value), rect.center().y);
            ui.painter().circle_filled(at, 0.3 * size, ink);
        }
        if stands_out {
            let line = egui::Stroke::new(theme.sizes.value, theme.attention);
            let to = rect.left() + (SCALE_AT - 1.0) * size;
            ui.painter().hline(rect.left()..=to, rect.bottom() - 1.0, line);
        }
    }
    ui.add_space(0.4 * size);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finger(finger: u8, width: f64) -> OfFinger {
        let known = |value, se| Measure { value, se: Some(se) };
        OfFinger { finger, rate: known(5.4, 0.05), width: known(width, 1.0) }
    }

    #[test]
    fn the_finger_that_stands_out_beyond_doubt_is_named_and_no_other() {
        let fingers = [finger(1, 27.0), finger(2, 28.0), finger(3, 20.0), finger(4, 30.0)];
        let odd = odd(&fingers).expect("it stands out");
        assert_eq!(odd.headline(), "Finger 3 narrower than the rest");
        let next = odd.leads_on("One finger alone");
        assert_eq!(next, "To go on: “One finger alone” under Drill, with finger 3.");
        assert!(
            odd.detail(&fingers).contains("where the other fingers have 27 to 30"),
            "{}",
            odd.detail(&fingers)
        );
    }

    #[test]
    fn fingers_that_agree_and_two_that_do_not_name_nobody() {
        assert_eq!(odd(&[finger(1, 27.0), finger(2, 28.0), finger(3, 26.5)]), None);
        assert_eq!(odd(&[finger(1, 20.0), finger(2, 40.0)]), None);
    }
}
