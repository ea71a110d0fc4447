//! The bundled faces, and how wide words are in them.

use std::cell::RefCell;
use std::collections::HashMap;
use std::fmt::Write as _;
use std::sync::LazyLock;

use emath::Pos2;
use harfrust::{FontRef, ShapeOptions, ShaperData, UnicodeBuffer};
use skrifa::MetadataProvider as _;
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};

/// A bundled face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Face {
    /// Words and small figures.
    Words,
    /// Note names and main figures.
    Figures,
    /// The signs of the staff.
    Staff,
}

/// So many widths are remembered; then all are forgotten.
const KEPT: usize = 4_096;
/// A sign that a face lacks is taken from another one; it is about so wide, in type sizes.
const UNKNOWN_EM: f32 = 0.6;

struct Loaded {
    font: FontRef<'static>,
    shaper: ShaperData,
    per_em: f32,
    ascent: f32,
    row: f32,
}

fn load(bytes: &'static [u8]) -> Option<Loaded> {
    let font = FontRef::new(bytes).ok()?;
    let units = font.metrics(Size::unscaled(), LocationRef::default());
    let per_em = f32::from(units.units_per_em);
    Some(Loaded {
        shaper: ShaperData::new(&font),
        font,
        per_em,
        ascent: units.ascent / per_em,
        row: (units.ascent - units.descent + units.leading) / per_em,
    })
}

static WORDS: LazyLock<Option<Loaded>> = LazyLock::new(|| load(Face::Words.bytes()));
static FIGURES: LazyLock<Option<Loaded>> = LazyLock::new(|| load(Face::Figures.bytes()));
static STAFF: LazyLock<Option<Loaded>> = LazyLock::new(|| load(Face::Staff.bytes()));

thread_local! {
    static WIDTHS: RefCell<[HashMap<String, f32>; 3]> = RefCell::default();
}

impl Face {
    /// The file of the face.
    pub const fn bytes(self) -> &'static [u8] {
        match self {
            Self::Words => include_bytes!("../../../assets/fonts/Andika-Regular.ttf"),
            Self::Figures => include_bytes!("../../../assets/fonts/GentiumBookPlus-Bold.ttf"),
            Self::Staff => include_bytes!("../../../assets/fonts/EvenwaveStaff.otf"),
        }
    }

    /// The name of the face.
    pub const fn family(self) -> &'static str {
        match self {
            Self::Words => "Andika",
            Self::Figures => "Gentium Book Plus",
            Self::Staff => "Evenwave Staff",
        }
    }

    /// Its weight, as style sheets count it.
    pub const fn weight(self) -> u16 {
        match self {
            Self::Words | Self::Staff => 400,
            Self::Figures => 700,
        }
    }

    fn loaded(self) -> Option<&'static Loaded> {
        match self {
            Self::Words => WORDS.as_ref(),
            Self::Figures => FIGURES.as_ref(),
            Self::Staff => STAFF.as_ref(),
        }
    }

    /// How wide `words` are in type of this size. Each string is measured once and then remembered.
    pub fn width(self, words: &str, size: f32) -> f32 {
        let em = WIDTHS.with_borrow_mut(|widths| {
            let widths = &mut widths[self as usize];
            if let Some(&em) = widths.get(words) {
                return em;
            }
            if widths.len() >= KEPT {
                widths.clear();
            }
            let em = self.measured(words);
            widths.insert(words.to_owned(), em);
            em
        });
        em * size
    }

    /// The shapes of these signs as the path of an SVG, one beside the other from `foot` on.
    pub(crate) fn outline(self, words: &str, foot: Pos2, size: f32) -> String {
        let mut pen = Outline { path: String::new(), foot };
        let Some(loaded) = self.loaded() else { return pen.path };
        let outlines = loaded.font.outline_glyphs();
        for sign in words.chars() {
            let glyph = loaded.font.charmap().map(sign).and_then(|glyph| outlines.get(glyph));
            if let Some(glyph) = glyph {
                // A shape that is broken is left out.
                glyph
                    .draw(DrawSettings::unhinted(Size::new(size), LocationRef::default()), &mut pen)
                    .ok();
            }
            pen.foot.x += self.width(sign.encode_utf8(&mut [0; 4]), size);
        }
        pen.path
    }

    fn measured(self, words: &str) -> f32 {
        let Some(loaded) = self.loaded() else {
            return UNKNOWN_EM * words.chars().count() as f32;
        };
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(words);
        buffer.guess_segment_properties();
        let shaper = loaded.shaper.shaper(&loaded.font).build();
        let glyphs = shaper.shape(buffer, ShapeOptions::new());
        let pairs = glyphs.glyph_infos().iter().zip(glyphs.glyph_positions());
        let wide = |(glyph, place): (&harfrust::GlyphInfo, &harfrust::GlyphPosition)| {
            if glyph.glyph_id == 0 { UNKNOWN_EM } else { place.x_advance as f32 / loaded.per_em }
        };
        pairs.map(wide).sum()
    }

    /// How far the top of a row of this type lies above its foot.
    pub fn ascent(self, size: f32) -> f32 {
        self.loaded().map_or(0.8, |loaded| loaded.ascent) * size
    }

    /// How tall a row of this type is.
    pub fn row(self, size: f32) -> f32 {
        self.loaded().map_or(1.2, |loaded| loaded.row) * size
    }
}

/// Writes a shape as the path of an SVG, to hundredths of a point; y runs downwards there.
struct Outline {
    path: String,
    foot: Pos2,
}

impl Outline {
    fn to(&mut self, command: char, places: &[(f32, f32)]) {
        self.path.push(command);
        for (number, (x, y)) in places.iter().enumerate() {
            let hundredths = |value: f32| (f64::from(value) * 100.0).round() / 100.0 + 0.0;
            let between = if number > 0 { " " } else { "" };
            let (x, y) = (hundredths(self.foot.x + x), hundredths(self.foot.y - y));
            // Writing into a string cannot fail.
            let _: std::fmt::Result = write!(self.path, "{between}{x} {y}");
        }
    }
}

impl OutlinePen for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.to('M', &[(x, y)]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.to('L', &[(x, y)]);
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.to('Q', &[(cx, cy), (x, y)]);
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        self.to('C', &[(ax, ay), (bx, by), (x, y)]);
    }

    fn close(&mut self) {
        self.path.push('Z');
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_can_be_measured() {
        for face in [Face::Words, Face::Figures] {
            assert!(face.loaded().is_some(), "{face:?}");
            assert!(face.width("mm", 20.0) > 2.0 * face.width("i", 20.0), "{face:?}");
            assert!((face.width("00", 94.0) - 2.0 * face.width("0", 94.0)).abs() < 0.01);
            let (ascent, row) = (face.ascent(20.0), face.row(20.0));
            assert!(ascent > 14.0 && ascent < row && row < 40.0, "{face:?}: {ascent}, {row}");
        }
    }

    #[test]
    fn a_width_grows_with_the_type_and_is_remembered() {
        let once = Face::Words.width("wanted 4.5–6.0", 15.0);
        assert!((Face::Words.width("wanted 4.5–6.0", 30.0) - 2.0 * once).abs() < 1e-3);
        let kept = WIDTHS.with_borrow(|widths| widths[Face::Words as usize].len());
        assert_eq!(kept, 1);
    }
}
