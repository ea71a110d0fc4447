//! Every colour, size and stroke of the window, named by meaning.
//!
//! Ink on paper, on a light or a dark sheet. No state is told by colour only: what the two pigments
//! say is also said in words or by a shape. They keep apart under the common colour blindnesses
//! (tested below), and all text stands out from its paper by at least 4.5 : 1.

#![allow(clippy::disallowed_methods, reason = "the one file in which colours are made")]

use egui::{Color32, FontFamily, FontId, Stroke, Vec2, Visuals};
use pictures::{Face, Ink};
pub use pictures::{Grown, Paper, Sizes};

/// The window for which all is drawn; in another one all grows or shrinks with its narrower side.
const WINDOW: Vec2 = Vec2::new(1280.0, 800.0);
/// No word, caption or number is smaller than in a window of 1024 by 640, in points.
const LEAST_WORD: f32 = 18.0;
const LEAST_CAPTION: f32 = 16.0;
const LEAST_SCALE: f32 = 14.0;
/// Lines that help the eye are never finer than this, in points.
const LEAST_PEN: f32 = 1.0;
/// However large a player wants type, so many lines of words have room in a window.
const LINES: f32 = 16.0;

/// Colours of one sheet and the sizes common to both. Lengths are in points.
#[derive(Clone, Debug, PartialEq)]
pub struct Theme {
    /// Which sheet it is.
    pub on: Paper,
    /// The sheet itself.
    pub paper: Color32,
    /// A patch of the sheet set off from the rest: a key, the list of keys.
    pub patch: Color32,
    /// Main text, the trace, the live value.
    pub ink: Color32,
    /// Captions, units, and values that are no longer live.
    pub soft_ink: Color32,
    /// Lines that help the eye and say nothing by themselves.
    pub hairline: Color32,
    /// Lines that say something: the note that sounds, the rail of a gauge.
    pub rule: Color32,
    /// First pigment: oscillations (crests, troughs, marks of past cycles).
    pub oscillation: Color32,
    /// The soft band of one standard error to either side.
    pub doubt: Color32,
    /// Second pigment: what needs the player's attention, always with words.
    pub attention: Color32,
    /// Where samples are missing.
    pub missing: Color32,
    /// Sizes, the same on both sheets.
    pub sizes: Sizes,
}

/// The colour of an ink on a sheet.
const fn colour(ink: Ink, paper: Paper) -> Color32 {
    let colour = ink.on(paper);
    Color32::from_rgb(colour.0, colour.1, colour.2)
}

const fn sheet(on: Paper) -> Theme {
    Theme {
        on,
        paper: colour(Ink::Paper, on),
        patch: colour(Ink::Patch, on),
        ink: colour(Ink::Ink, on),
        soft_ink: colour(Ink::Soft, on),
        hairline: colour(Ink::Hairline, on),
        rule: colour(Ink::Rule, on),
        oscillation: colour(Ink::Oscillation, on),
        doubt: colour(Ink::Doubt, on),
        attention: colour(Ink::Attention, on),
        missing: colour(Ink::Missing, on),
        sizes: Sizes::USUAL,
    }
}

const LIGHT: Theme = sheet(Paper::Light);
const DARK: Theme = sheet(Paper::Dark);

/// How much larger than usual all is in a window of this size (in points), with type that the player wants so much
/// larger. Figures, lengths and pens grow with the window alone; words grow with it and by what is wanted, as far as
/// they find room.
pub fn grown(text_scale: f32, window: Vec2) -> Grown {
    let window_grown = (window / WINDOW).min_elem();
    let word = Sizes::USUAL.word;
    let usual = window_grown.max(LEAST_WORD / word);
    let most = (window_grown * WINDOW.y / LINES / word).max(usual);
    Grown { text: (text_scale * usual).min(most), figures: window_grown, strokes: window_grown }
}

impl Theme {
    /// What is drawn with on a sheet, at the usual size of type.
    pub fn on(paper: Paper) -> Self {
        match paper {
            Paper::Light => LIGHT,
            Paper::Dark => DARK,
        }
    }

    /// What is drawn with in a window of this size, with type that the player wants so much larger.
    pub fn in_window(paper: Paper, text_scale: f32, window: Vec2) -> Self {
        let grown = grown(text_scale, window);
        let mut theme = Self::on(paper).scaled(grown);
        let sizes = &mut theme.sizes;
        let wanted = grown.text / grown.figures.max(LEAST_WORD / Sizes::USUAL.word);
        sizes.caption = sizes.caption.max(LEAST_CAPTION * wanted);
        sizes.scale = sizes.scale.max(LEAST_SCALE * wanted);
        sizes.hairline = (sizes.hairline * grown.strokes).max(LEAST_PEN);
        sizes.rule = sizes.rule.max(LEAST_PEN);
        theme
    }

    /// Captions as they are in this window where no larger type is wanted, in points: where room is short, they may
    /// shrink to this.
    pub fn least_caption(&self) -> f32 {
        (Sizes::USUAL.caption * self.sizes.grown.strokes).max(LEAST_CAPTION).min(self.sizes.caption)
    }

    /// An ink of this sheet, so much of it as `strength` says.
    pub fn ink_of(&self, ink: Ink, strength: f32) -> Color32 {
        let colour = ink.faded(self.on, strength);
        Color32::from_rgb(colour.0, colour.1, colour.2)
    }

    /// The same sheet with everything drawn so much larger.
    pub fn scaled(&self, grown: Grown) -> Self {
        Self { sizes: self.sizes.scaled(grown), ..self.clone() }
    }

    /// `colour` faded into the paper: all of it at `strength` 1, only paper at 0.
    pub fn faded(&self, colour: Color32, strength: f32) -> Color32 {
        self.paper.lerp_to_gamma(colour, strength.clamp(0.0, 1.0))
    }

    /// The face of note names and main figures.
    pub fn figure_font(&self, size: f32) -> FontId {
        FontId::new(size, FontFamily::Name(FIGURES.into()))
    }

    /// The face of words and small figures.
    pub fn word_font(&self, size: f32) -> FontId {
        FontId::new(size, FontFamily::Proportional)
    }

    /// A line that helps the eye.
    pub fn hairline_stroke(&self) -> Stroke {
        Stroke::new(self.sizes.hairline, self.hairline)
    }

    /// A line that says something.
    pub fn rule_stroke(&self) -> Stroke {
        Stroke::new(self.sizes.rule, self.rule)
    }

    fn visuals(&self, base: Visuals) -> Visuals {
        let mut visuals = base;
        visuals.panel_fill = self.paper;
        visuals.window_fill = self.patch;
        visuals.extreme_bg_color = self.paper;
        visuals.faint_bg_color = self.patch;
        visuals.override_text_color = Some(self.ink);
        visuals.hyperlink_color = self.oscillation;
        visuals.selection.bg_fill = self.doubt;
        visuals.selection.stroke = Stroke::new(self.sizes.rule, self.oscillation);
        visuals.window_stroke = self.hairline_stroke();
        let widgets = &mut visuals.widgets;
        for widget in [
            &mut widgets.noninteractive,
            &mut widgets.inactive,
            &mut widgets.hovered,
            &mut widgets.active,
            &mut widgets.open,
        ] {
            widget.bg_fill = self.patch;
            widget.weak_bg_fill = self.patch;
            widget.bg_stroke = Stroke::NONE;
            widget.fg_stroke = Stroke::new(self.sizes.rule, self.ink);
            widget.expansion = 0.0;
        }
        widgets.noninteractive.bg_stroke = self.hairline_stroke();
        widgets.hovered.bg_stroke = self.rule_stroke();
        widgets.active.bg_stroke = Stroke::new(self.sizes.rule, self.ink);
        visuals
    }
}

pub(crate) const FIGURES: &str = "figures";
/// The signs of the staff.
pub(crate) const STAFF: &str = "staff";
const WORDS: &str = "words";
const FIGURES_FACE: &[u8] = Face::Figures.bytes();
const WORDS_FACE: &[u8] = Face::Words.bytes();

/// Gives `ctx` the bundled faces and both sheets; call it once, before the first frame.
pub fn dress(ctx: &egui::Context) {
    let mut fonts = egui::FontDefinitions::default();
    for (name, bytes) in
        [(FIGURES, FIGURES_FACE), (WORDS, WORDS_FACE), (STAFF, Face::Staff.bytes())]
    {
        fonts
            .font_data
            .insert(name.to_owned(), std::sync::Arc::new(egui::FontData::from_static(bytes)));
    }
    let usual = fonts.families.entry(FontFamily::Proportional).or_default().clone();
    let with_usual = |first: &str| {
        let mut all = vec![first.to_owned()];
        all.extend(usual.iter().cloned());
        all
    };
    fonts.families.insert(FontFamily::Proportional, with_usual(WORDS));
    fonts.families.insert(FontFamily::Name(FIGURES.into()), with_usual(FIGURES));
    fonts.families.insert(FontFamily::Name(STAFF.into()), vec![STAFF.to_owned()]);
    ctx.set_fonts(fonts);
    ctx.set_visuals_of(egui::Theme::Light, LIGHT.visuals(Visuals::light()));
    ctx.set_visuals_of(egui::Theme::Dark, DARK.visuals(Visuals::dark()));
    ctx.all_styles_mut(|style| {
        for (text, font) in &mut style.text_styles {
            font.size = match text {
                egui::TextStyle::Small => Sizes::USUAL.scale,
                egui::TextStyle::Heading => Sizes::USUAL.word,
                _ => Sizes::USUAL.caption,
            };
        }
        style.interaction.selectable_labels = false;
        // Nothing moves but what sounds.
        style.animation_time = 0.0;
    });
}

/// Lays `paper` on the desk: what egui itself draws (keys, lists) follows it.
pub fn lay(ctx: &egui::Context, paper: Paper) {
    ctx.set_theme(match paper {
        Paper::Light => egui::Theme::Light,
        Paper::Dark => egui::Theme::Dark,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Least contrast of text: Web Content Accessibility Guidelines 2.2, criterion 1.4.3.
    const TEXT: f64 = 4.5;
    /// Least contrast of a drawing that carries meaning: the same, criterion 1.4.11.
    const DRAWING: f64 = 3.0;

    /// Linear light of each channel, 0 to 1 (sRGB, IEC 61966-2-1; from memory).
    fn linear(colour: Color32) -> [f64; 3] {
        [colour.r(), colour.g(), colour.b()].map(|byte| {
            let share = f64::from(byte) / 255.0;
            if share <= 0.040_45 { share / 12.92 } else { ((share + 0.055) / 1.055).powf(2.4) }
        })
    }

    /// Relative luminance, 0 to 1, as WCAG 2.2 defines it.
    fn luminance([r, g, b]: [f64; 3]) -> f64 {
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Contrast ratio, 1 to 21, as WCAG 2.2 defines it.
    fn contrast(one: Color32, other: Color32) -> f64 {
        let (one, other) = (luminance(linear(one)), luminance(linear(other)));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    /// CIE 1976 L*a*b* under D65, from linear sRGB (CIE 15; matrix of IEC 61966-2-1; from memory).
    fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
        let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
        let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
        let f = |t: f64| {
            if t > 0.008_856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 }
        };
        [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
    }

    /// What an eye without one kind of cone sees, in linear sRGB: G. M. Machado, M. M. Oliveira and
    /// L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
    /// Deficiency", IEEE TVCG 15 (2009), table 1, severity 1.0; digits from memory, and each row
    /// checked to add up to 1 (grey stays grey).
    const EYES: [(&str, [[f64; 3]; 3]); 4] = [
        ("all cones", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        (
            "no long cones",
            [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
        ),
        (
            "no middle cones",
            [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
        ),
        (
            "no short cones",
            [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        ),
    ];

    fn seen(colour: Color32, eye: &[[f64; 3]; 3]) -> [f64; 3] {
        let light = linear(colour);
        eye.map(|row| {
            let sum: f64 = row.iter().zip(light).map(|(a, b)| a * b).sum();
            sum.clamp(0.0, 1.0)
        })
    }

    fn sheets() -> [(&'static str, &'static Theme); 2] {
        [("light", &LIGHT), ("dark", &DARK)]
    }

    #[test]
    fn contrast_of_black_on_white_is_21() {
        let ratio = contrast(Color32::BLACK, Color32::WHITE);
        assert!((ratio - 21.0).abs() < 1e-9, "{ratio}");
    }

    #[test]
    fn all_text_stands_out_from_all_grounds() {
        for (name, theme) in sheets() {
            for (text, colour) in [
                ("ink", theme.ink),
                ("soft ink", theme.soft_ink),
                ("attention", theme.attention),
                ("oscillation", theme.oscillation),
            ] {
                for (ground, under) in [("paper", theme.paper), ("patch", theme.patch)] {
                    let ratio = contrast(colour, under);
                    assert!(ratio >= TEXT, "{name}: {text} on {ground} {ratio:.2}");
                }
            }
            // Words lie on the patch of what is missing, names of regions on the doubt of the point.
            for (text, colour, ground, under) in [
                ("soft ink", theme.soft_ink, "missing", theme.missing),
                ("ink", theme.ink, "missing", theme.missing),
                ("ink", theme.ink, "doubt", theme.doubt),
            ] {
                let ratio = contrast(colour, under);
                assert!(ratio >= TEXT, "{name}: {text} on {ground} {ratio:.2}");
            }
        }
    }

    #[test]
    fn all_drawings_that_carry_meaning_stand_out() {
        for (name, theme) in sheets() {
            for (what, colour) in [("rule", theme.rule), ("oscillation", theme.oscillation)] {
                let ratio = contrast(colour, theme.paper);
                assert!(ratio >= DRAWING, "{name}: {what} on paper {ratio:.2}");
            }
            let ratio = contrast(theme.ink, theme.doubt);
            assert!(ratio >= DRAWING, "{name}: ink on its doubt {ratio:.2}");
        }
    }

    #[test]
    fn the_pigments_keep_apart_for_every_eye() {
        // 2.3 is the usual just noticeable difference of CIE 1976 (from memory); ten times that
        // is told apart at a glance.
        const APART: f64 = 23.0;
        for (eye, rows) in &EYES {
            for row in rows {
                let sum: f64 = row.iter().sum();
                assert!((sum - 1.0).abs() < 2e-6, "{eye}: {row:?} adds up to {sum}");
            }
            for (name, theme) in sheets() {
                let pairs = [
                    (theme.oscillation, theme.attention),
                    (theme.oscillation, theme.ink),
                    (theme.attention, theme.ink),
                ];
                for (one, other) in pairs {
                    let (a, b) = (lab(seen(one, rows)), lab(seen(other, rows)));
                    let distance =
                        a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum::<f64>().sqrt();
                    assert!(
                        distance >= APART,
                        "{name}, {eye}: {one:?} and {other:?} are {distance:.1} apart"
                    );
                }
            }
        }
    }

    #[test]
    fn all_grows_with_the_window_and_no_type_shrinks_where_larger_type_is_wanted() {
        let windows = [(800.0, 500.0), (1024.0, 640.0), (1280.0, 800.0), (2560.0, 1440.0)];
        for (wide, high) in windows {
            let mut before = [0.0; 3];
            for text_scale in crate::shell::options::TEXT_SCALES {
                let window = Vec2::new(wide, high);
                let theme = Theme::in_window(Paper::Light, text_scale, window);
                let Sizes { figure, word, caption, scale, .. } = theme.sizes;
                let k = (wide / 1280.0).min(high / 800.0);
                assert_eq!(figure, 94.0 * k, "{wide}");
                assert!(word >= 18.0 && caption >= 16.0 && scale >= 14.0, "{wide}: {theme:?}");
                assert!(LINES * word <= k * 800.0 + 0.1 || text_scale == 1.0, "{wide}: {word}");
                for (now, before) in [word, caption, scale].into_iter().zip(before) {
                    assert!(now >= before, "{wide} at {text_scale}: {now} after {before}");
                }
                before = [word, caption, scale];
            }
        }
        assert_eq!(grown(1.0, WINDOW), Grown::USUAL);
        // Captions of a large screen were 22 points, whatever its size.
        let large = Theme::in_window(Paper::Light, 1.0, Vec2::new(2560.0, 1440.0));
        assert!((large.sizes.caption - 32.4).abs() < 0.1, "{}", large.sizes.caption);
    }

    /// The bundled faces alone, each a family of its own.
    fn bundled() -> egui::epaint::text::Fonts {
        let mut definitions = egui::FontDefinitions::empty();
        for (name, bytes) in [(FIGURES, FIGURES_FACE), (WORDS, WORDS_FACE)] {
            let data = egui::FontData::from_static(bytes);
            definitions.font_data.insert(name.to_owned(), std::sync::Arc::new(data));
            definitions.families.insert(FontFamily::Name(name.into()), vec![name.to_owned()]);
        }
        egui::epaint::text::Fonts::new(egui::epaint::TextOptions::default(), definitions)
    }

    #[test]
    fn main_figures_are_tall_enough_to_read_from_the_chair() {
        let mut fonts = bundled();
        let font = FontId::new(Sizes::USUAL.figure, FontFamily::Name(FIGURES.into()));
        for figure in "0123456789".chars() {
            let galley = fonts.with_pixels_per_point(1.0).layout_no_wrap(
                figure.to_string(),
                font.clone(),
                Color32::BLACK,
            );
            let tall = galley.rows[0].glyphs[0].uv_rect.size.y;
            // design: at least 56 points at scale 1; the image of a glyph may have an empty row.
            assert!(tall >= 57.0, "{figure} is {tall} points tall");
            assert!(tall <= Sizes::USUAL.figure_height + 4.0, "{figure} is {tall}");
        }
    }

    #[test]
    fn all_figures_are_of_one_width_so_that_they_do_not_jump() {
        let mut fonts = bundled();
        let font = FontId::new(Sizes::USUAL.figure, FontFamily::Name(FIGURES.into()));
        let mut at_scale = fonts.with_pixels_per_point(1.0);
        let zero = at_scale.glyph_width(&font, '0');
        for figure in "123456789".chars() {
            let wide = at_scale.glyph_width(&font, figure);
            assert!((wide - zero).abs() < 0.01, "{figure}: {wide}, 0: {zero}");
        }
    }

    #[test]
    fn the_bundled_faces_hold_every_sign_the_window_writes() {
        let mut fonts = bundled();
        for name in [FIGURES, WORDS] {
            let font = FontId::new(20.0, FontFamily::Name(name.into()));
            for sign in "ABCDEFGH0123456789♯♭+−±.%–·′,".chars() {
                assert!(fonts.has_glyph(&font, sign), "{name} lacks {sign}");
            }
        }
    }
}
