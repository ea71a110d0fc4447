//! Sizes of type, pens and marks, all in points.

/// How much larger than usual everything is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grown {
    /// Words, captions, numbers along scales.
    pub text: f32,
    /// Main figures, and what belongs to them.
    pub figures: f32,
    /// Pens and marks.
    pub strokes: f32,
}

impl Grown {
    /// The usual size.
    pub const USUAL: Self = Self { text: 1.0, figures: 1.0, strokes: 1.0 };
}

/// Sizes and strokes.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizes {
    /// Type size of the main figures. The figures of the bundled face are 0.625 of it tall:
    /// 56 points and a little more, to be read from 1.5 m.
    pub figure: f32,
    /// Height of a main figure from its foot to its top.
    pub figure_height: f32,
    /// Type size of a word that stands where a main figure would.
    pub big_word: f32,
    /// Type size of units, doubts and sentences.
    pub word: f32,
    /// Type size of captions and of the names beside the lines of the trace.
    pub caption: f32,
    /// Type size of the numbers along a scale; the smallest type there is.
    pub scale: f32,
    /// Distance of everything from the edge of the window.
    pub margin: f32,
    /// Distance between parts.
    pub between: f32,
    /// The trace where it is sure.
    pub pen: f32,
    /// The trace where it is doubtful.
    pub thin_pen: f32,
    /// Lines that say something.
    pub rule: f32,
    /// Lines that help the eye.
    pub hairline: f32,
    /// The live value on a gauge.
    pub value: f32,
    /// A past oscillation on a gauge (radius), a mark on the trace (width).
    pub mark: f32,
    /// Half the side of the small triangle at a crest or trough.
    pub turn: f32,
    /// How much larger than usual all of these are.
    pub grown: Grown,
}

impl Sizes {
    /// The usual sizes.
    pub const USUAL: Self = Self {
        figure: 94.0,
        figure_height: 58.75,
        big_word: 46.0,
        word: 22.0,
        caption: 18.0,
        scale: 15.0,
        margin: 32.0,
        between: 12.0,
        pen: 2.6,
        thin_pen: 1.3,
        rule: 1.6,
        hairline: 1.0,
        value: 3.0,
        mark: 3.0,
        turn: 4.5,
        grown: Grown::USUAL,
    };

    /// All of them so much larger; a hairline stays what it is.
    pub fn scaled(&self, grown: Grown) -> Self {
        let Grown { text, figures, strokes } = grown;
        Self {
            figure: self.figure * figures,
            figure_height: self.figure_height * figures,
            big_word: self.big_word * figures,
            word: self.word * text,
            caption: self.caption * text,
            scale: self.scale * text,
            margin: self.margin * strokes,
            between: self.between * strokes,
            pen: self.pen * strokes,
            thin_pen: self.thin_pen * strokes,
            rule: self.rule * strokes,
            hairline: self.hairline,
            value: self.value * strokes,
            mark: self.mark * strokes,
            turn: self.turn * strokes,
            grown,
        }
    }
}
