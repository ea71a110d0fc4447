//! Inks by name, and their colours on each paper.

/// What a picture is drawn on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// Dark ink on light paper.
    #[default]
    Light,
    /// Light ink on dark paper.
    Dark,
}

impl Paper {
    /// The other paper.
    pub fn turned(self) -> Self {
        match self {
            Self::Light => Self::Dark,
            Self::Dark => Self::Light,
        }
    }
}

/// An ink, named by what it is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// The sheet itself.
    Paper,
    /// A patch of the sheet set off from the rest.
    Patch,
    /// Main text, the trace, the live value.
    Ink,
    /// Captions, units, and values that are no longer live.
    Soft,
    /// Lines that help the eye and say nothing by themselves.
    Hairline,
    /// Lines that say something: the note that sounds, the rail of a gauge.
    Rule,
    /// First pigment: oscillations.
    Oscillation,
    /// The soft band of one standard error to either side.
    Doubt,
    /// Second pigment: what needs the player's attention, always with words.
    Attention,
    /// Where samples are missing.
    Missing,
}

/// A colour: red, green and blue as sRGB bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

const fn colour(rgb: u32) -> Colour {
    Colour((rgb >> 16) as u8, (rgb >> 8) as u8, rgb as u8)
}

impl Ink {
    /// Its colour on this paper.
    pub const fn on(self, paper: Paper) -> Colour {
        let (light, dark) = match self {
            Self::Paper => (0xf6_f1_e4, 0x1a_1c_22),
            Self::Patch => (0xec_e4_d1, 0x29_2c_34),
            Self::Ink => (0x1b_20_2e, 0xf0_e9_d8),
            Self::Soft => (0x5b_58_55, 0xac_a7_9c),
            Self::Hairline => (0xd9_cf_ba, 0x36_39_42),
            Self::Rule => (0x8d_84_74, 0x74_76_7a),
            Self::Oscillation => (0x1d_5a_a6, 0x86_b8_f2),
            Self::Doubt => (0xc3_d1_e0, 0x36_4a_62),
            Self::Attention => (0x94_4a_00, 0xf2_ae_62),
            Self::Missing => (0xe4_d6_b8, 0x3d_37_2c),
        };
        match paper {
            Paper::Light => colour(light),
            Paper::Dark => colour(dark),
        }
    }

    /// Its colour faded into the paper: all of it at `strength` 1, only paper at 0.
    pub fn faded(self, paper: Paper, strength: f32) -> Colour {
        let (ground, full) = (Self::Paper.on(paper), self.on(paper));
        let strength = strength.clamp(0.0, 1.0);
        let mix = |from: u8, to: u8| {
            (f32::from(from) + (f32::from(to) - f32::from(from)) * strength).round() as u8
        };
        Colour(mix(ground.0, full.0), mix(ground.1, full.1), mix(ground.2, full.2))
    }
}

impl std::fmt::Display for Colour {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_faded_ink_lies_between_itself_and_the_paper() {
        for paper in [Paper::Light, Paper::Dark] {
            assert_eq!(Ink::Oscillation.faded(paper, 1.0), Ink::Oscillation.on(paper));
            assert_eq!(Ink::Oscillation.faded(paper, 0.0), Ink::Paper.on(paper));
        }
        assert_eq!(Ink::Ink.on(Paper::Light).to_string(), "#1b202e");
    }
}
