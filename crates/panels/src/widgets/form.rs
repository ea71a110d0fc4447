//! What the sheets are made of: rows with a name at the left, choices, numbers, fields.
//!
//! Each of them can be reached and worked by keyboard, comes into sight when it is reached, and has
//! a name that a screen reader tells.

use crate::theme::Theme;
use crate::widgets::pen;
use egui::emath::Numeric;
use egui::style::ScrollAnimation;
use egui::{
    Align, Button, CornerRadius, DragValue, Id, Key, Label, Layout, Response, RichText, Role,
    Stroke, StrokeKind, TextEdit, TextStyle, Ui, WidgetInfo, vec2,
};
use std::ops::RangeInclusive;

/// Width of the names at the left, and the least width at which they stand there, as shares of the
/// type size.
const NAMES: f32 = 13.0;
const BESIDE: f32 = 34.0;
/// Width of a field that is written in, as a share of the type size.
const FIELD: f32 = 16.0;

/// How sheets are filled in.
pub struct Form<'a> {
    /// What they are drawn with.
    pub theme: &'a Theme,
}

impl Form<'_> {
    /// The type size that lengths are shares of.
    pub fn size(&self) -> f32 {
        self.theme.sizes.caption
    }

    /// Gives `ui` the sizes and edges of sheets.
    pub fn dress(&self, ui: &mut Ui) {
        let (theme, size) = (self.theme, self.size());
        let style = ui.style_mut();
        for (text, font) in &mut style.text_styles {
            font.size = match text {
                TextStyle::Small => theme.sizes.scale,
                TextStyle::Heading => theme.sizes.word,
                _ => size,
            };
        }
        let spacing = &mut style.spacing;
        spacing.item_spacing = vec2(0.6 * size, 0.4 * size);
        spacing.button_padding = vec2(0.5 * size, 0.15 * size);
        spacing.interact_size = vec2(3.0 * size, 1.7 * size);
        spacing.icon_width = size;
        spacing.icon_width_inner = 0.55 * size;
        spacing.icon_spacing = 0.4 * size;
        spacing.scroll.floating = false;
        spacing.scroll.bar_width = 0.5 * size;
        let visuals = &mut style.visuals;
        visuals.selection.stroke = Stroke::new(theme.sizes.rule, theme.ink);
        visuals.handle_shape = egui::style::HandleShape::Circle;
        let widgets = &mut visuals.widgets;
        for widget in
            [&mut widgets.inactive, &mut widgets.hovered, &mut widgets.active, &mut widgets.open]
        {
            widget.bg_fill = theme.paper;
            widget.weak_bg_fill = theme.paper;
            widget.corner_radius = CornerRadius::same(3);
        }
        widgets.inactive.bg_stroke = theme.rule_stroke();
        widgets.hovered.bg_stroke = Stroke::new(theme.sizes.rule, theme.ink);
        widgets.active.bg_stroke = Stroke::new(theme.sizes.rule, theme.ink);
    }

    /// Shows where the focus is, and brings it into sight.
    pub fn mark(&self, ui: &Ui, response: Response) -> Response {
        if response.gained_focus() {
            // At once: nothing glides.
            response.scroll_to_me_animation(None, ScrollAnimation::none());
        }
        if response.has_focus() {
            let ring = response.rect.expand(2.0);
            let stroke = Stroke::new(self.theme.sizes.value, self.theme.ink);
            ui.painter().rect_stroke(ring, 3.0, stroke, StrokeKind::Middle);
        }
        response
    }

    /// The name of a sheet or of a part of it.
    pub fn heading(&self, ui: &mut Ui, text: &str) {
        ui.add(Label::new(RichText::new(text).heading()).wrap());
    }

    /// A part of a sheet begins.
    pub fn part(&self, ui: &mut Ui, text: &str) {
        ui.add_space(0.6 * self.size());
        self.heading(ui, text);
    }

    /// Words that explain.
    pub fn note(&self, ui: &mut Ui, text: &str) {
        let text = RichText::new(text).color(self.theme.soft_ink);
        ui.add(Label::new(text).wrap());
    }

    /// Words about how it stands, which a screen reader tells when they change.
    pub fn status(&self, ui: &mut Ui, text: &str) {
        let response = ui.add(Label::new(text).wrap());
        response.widget_info(|| WidgetInfo::labeled(Role::Status, true, text));
    }

    /// Words about something that went wrong.
    pub fn trouble(&self, ui: &mut Ui, text: &str) {
        let response = ui.add(Label::new(RichText::new(text).color(self.theme.attention)).wrap());
        response.widget_info(|| WidgetInfo::labeled(Role::Status, true, text));
    }

    /// A name at the left, or above where that is too narrow, and what `body` puts beside it. `body`
    /// is told which label names its widgets.
    pub fn row(&self, ui: &mut Ui, name: &str, body: impl FnOnce(&mut Ui, Id)) {
        let size = self.size();
        if ui.available_width() < BESIDE * size {
            let label = ui.add(Label::new(name).wrap());
            ui.horizontal_wrapped(|ui| body(ui, label.id));
            return;
        }
        ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
            let names = vec2(NAMES * size, ui.spacing().interact_size.y);
            let label =
                ui.allocate_ui_with_layout(names, Layout::left_to_right(Align::Center), |ui| {
                    ui.set_min_size(names);
                    ui.add(Label::new(name).wrap())
                });
            ui.vertical(|ui| ui.horizontal_wrapped(|ui| body(ui, label.inner.id)));
        });
    }

    /// One of several, all to be seen.
    pub fn choice<T: PartialEq + Clone>(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &mut T,
        all: &[(T, String)],
    ) {
        self.row(ui, name, |ui, _| {
            for (each, said) in all {
                let chosen = value == each;
                let response = ui.radio(chosen, said);
                let said = format!("{name}: {said}");
                let response = response.accessible_name(said);
                if self.mark(ui, response).clicked() {
                    *value = each.clone();
                }
            }
        });
    }

    /// On or off.
    pub fn check(&self, ui: &mut Ui, name: &str, on: &mut bool) {
        let response = ui.checkbox(on, name);
        self.mark(ui, response);
    }

    /// A number with its unit in a row of its own.
    pub fn number<T: Numeric>(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &mut T,
        range: RangeInclusive<T>,
        unit: &str,
    ) {
        self.row(ui, name, |ui, _| self.bare_number(ui, name, value, range, unit));
    }

    /// A number with its unit; `name` is told to a screen reader.
    pub fn bare_number<T: Numeric>(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &mut T,
        range: RangeInclusive<T>,
        unit: &str,
    ) {
        let wide = range.end().to_f64() - range.start().to_f64() > 50.0;
        let fine = !T::INTEGRAL && !wide;
        self.number_in_steps(ui, name, value, range, unit, if fine { 0.1 } else { 1.0 });
    }

    /// The same, changed in steps of so much.
    fn number_in_steps<T: Numeric>(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &mut T,
        range: RangeInclusive<T>,
        unit: &str,
        step: f64,
    ) {
        // What is half written is no value yet: the sound would follow it.
        let number = DragValue::new(value)
            .range(range)
            .max_decimals(if T::INTEGRAL { 0 } else { 1 })
            .speed(step)
            .suffix(if unit.is_empty() { String::new() } else { format!(" {unit}") })
            .update_while_editing(false);
        let response = ui.add(number).accessible_name(name);
        let response = self.mark(ui, response);
        stay(ui, &response);
    }

    /// From a number to a number, the first never above the second.
    pub fn band(
        &self,
        ui: &mut Ui,
        name: &str,
        (from, to): (&mut f64, &mut f64),
        range: RangeInclusive<f64>,
        unit: &str,
    ) {
        let (least, most) = range.into_inner();
        // Both in the same steps, and so with the same decimals.
        let step = if most - least > 50.0 { 1.0 } else { 0.1 };
        self.number_in_steps(ui, &format!("{name} from"), from, least..=*to, unit, step);
        ui.label("to");
        self.number_in_steps(ui, &format!("{name} to"), to, *from..=most, unit, step);
    }

    /// A field that is written in; what was written, once it was left or Enter was pressed.
    pub fn field(&self, ui: &mut Ui, name: &str, value: &str, hint: &str) -> Option<String> {
        self.written(ui, name, value, (hint, false)).0
    }

    /// The same for a field that has the focus when its sheet is opened; and whether Enter was pressed.
    pub fn first_field(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &str,
        opened: bool,
    ) -> (Option<String>, bool) {
        self.written(ui, name, value, ("", opened))
    }

    /// A field for a place, with a button to choose it in the system's own dialog; whether that was pressed.
    pub fn place(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &str,
        hint: &str,
    ) -> (Option<String>, bool) {
        let written = self.field(ui, name, value, hint);
        let pressed = self.button(ui, "Choose …", &format!("choose the {name}"), true);
        (written.map(|path| path.trim().to_owned()), pressed)
    }

    fn written(
        &self,
        ui: &mut Ui,
        name: &str,
        value: &str,
        (hint, opened): (&str, bool),
    ) -> (Option<String>, bool) {
        let id = ui.scope_id().with(name);
        let kept = ui.data(|data| data.get_temp::<String>(id));
        let mut written = kept.unwrap_or_else(|| value.to_owned());
        // It grows with what is written, as far as there is room.
        let long = pen::width(ui.painter(), &written, TextStyle::Body.resolve(ui.style()));
        let width = (FIELD * self.size()).max(long + self.size()).min(ui.available_width());
        let edit = TextEdit::singleline(&mut written).hint_text(hint).desired_width(width);
        let response = ui.add(edit).accessible_name(name);
        let response = self.mark(ui, response);
        if opened {
            response.request_focus();
        }
        let left = response.lost_focus();
        let entered = left && ui.input(|input| input.key_pressed(Key::Enter));
        stay(ui, &response);
        if response.has_focus() && !left {
            ui.data_mut(|data| data.insert_temp(id, written));
            return (None, false);
        }
        ui.data_mut(|data| data.remove::<String>(id));
        ((left && written != value).then_some(written), entered)
    }

    /// A button; whether it was pressed.
    pub fn button(&self, ui: &mut Ui, text: &str, name: &str, enabled: bool) -> bool {
        let response = ui.add_enabled(enabled, Button::new(text));
        let response = response.accessible_name(name);
        self.mark(ui, response).clicked()
    }
}

/// Enter takes what was written, and the field keeps the focus: nobody is sent to the start.
fn stay(ui: &Ui, response: &Response) {
    if response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        response.request_focus();
    }
}
