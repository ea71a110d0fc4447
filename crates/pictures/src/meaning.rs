//! What a mark means, and how that looks: the one table of inks, pens, dashes and type.

use crate::face::Face;
use crate::ink::Ink;
use crate::sizes::Sizes;

/// What a mark means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Meaning {
    /// The pitch where it is sure and a note sounds.
    Trace,
    /// The pitch where it is doubtful, or where no note sounds.
    FaintTrace,
    /// The pitch of a note before the newest.
    PastTrace,
    /// A crest of the pitch.
    Crest,
    /// A trough of the pitch.
    Trough,
    /// The line of a note.
    NoteLine,
    /// The line of the note that sounds or sounded.
    OwnLine,
    /// The name of a note beside its line, or where it begins.
    NoteName,
    /// The name of the note that sounds or sounded, beside its line.
    OwnName,
    /// The line of a reference that is not the temperament's.
    Reference,
    /// The name of that reference.
    ReferenceName,
    /// A small wave: a swing is meant to lie below the reference.
    SwingBelow,
    /// Where a note begins.
    Beginning,
    /// Where the bow starts anew on the same pitch.
    Rebow,
    /// The word beside that.
    RebowWord,
    /// Where something asked for begins, such as the turn of a finger.
    Section,
    /// The name of that.
    SectionName,
    /// Where samples are missing.
    Lost,
    /// The word on that.
    LostWord,
    /// The pitch lies off the sheet: the word.
    Beyond,
    /// How loud it is.
    Loudness,
    /// How loud it is where no note sounds.
    FaintLoudness,
    /// A change of bow on the line of loudness: a stroke.
    BowChange,
    /// Its head.
    BowHead,
    /// One oscillation: as long as its period, as tall as its width.
    OscillationBar,
    /// A line that helps the eye.
    Guide,
    /// A line that bounds something, a stroke along a scale.
    Axis,
    /// A number along a scale, or a word beside it.
    ScaleNumber,
    /// The band of one standard error to either side.
    Doubt,
    /// A value: a stroke through its lane.
    Value,
    /// The head of a value.
    ValueHead,
    /// The value of a note that has ended.
    LastValue,
    /// Its head.
    LastHead,
    /// A past oscillation, or a note among others.
    Past,
    /// What is wanted: a bracket.
    Wanted,
    /// The bounds of that in words.
    WantedWord,
    /// A large figure.
    Figure,
    /// A large figure of a note that has ended.
    LastFigure,
    /// A word in the place of a large figure.
    BigWord,
    /// The same of a note that has ended, or where nothing is known.
    LastBigWord,
    /// A unit, a doubt, a name beside a figure.
    Word,
    /// A small caption.
    Caption,
    /// The name of a row or a line in main ink.
    Name,
    /// The name of a row, or its value.
    RowWord,
    /// A named region of the field, the number of its dash.
    Region(u8),
    /// The ground under the name of a region.
    RegionGround,
    /// The name of a region.
    RegionName,
    /// Corners of what is wanted in the field.
    WantedCorner,
    /// Where the vibrato came from: thinner and fainter the longer ago.
    Tail,
    /// The doubt of the vibrato in the field.
    DoubtOfPoint,
    /// The ground around the point of the field.
    Halo,
    /// The vibrato of now in the field.
    Point,
    /// The vibrato of a note that has ended, in the field: a ring.
    LastPoint,
    /// The number of a note in the field.
    SpotNumber,
    /// The order in which notes were played.
    Way,
    /// The model's line.
    Model,
    /// The model's line where it is doubtful.
    FaintModel,
    /// The echo's line.
    Echo,
    /// The echo's line where it is doubtful.
    FaintEcho,
    /// A bar that stands for an amount.
    Amount,
    /// The doubt of that.
    DoubtOfAmount,
    /// One note among many.
    OneNote,
    /// The middle half of some notes.
    MiddleHalf,
    /// Medians that follow each other.
    Medians,
    /// A median.
    Median,
    /// The first echo of some: a ring.
    FirstEcho,
    /// The last of them.
    LastEcho,
    /// An end of the part of a take that is played: a bracket.
    Part,
    /// The place of a take that is heard: a stroke.
    Heard,
    /// The foot of that.
    HeardFoot,
    /// The ground of the strip that shows a whole take.
    Ground,
    /// A note on that.
    NoteBar,
    /// What is seen of the whole take.
    Page,
    /// A line of the staff, or beside it for notes beyond.
    StaffLine,
    /// A sign on the staff: clef, head, flag, rest, finger, loudness.
    StaffSign,
    /// The stem of a note, or the bracket of a tuplet.
    Stem,
    /// A beam between stems.
    Beam,
    /// A slur or a tie.
    Bow,
    /// What is planned of a note: a stroke, or the ripple of its vibrato.
    Planned,
}

/// Which pen a line is drawn with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Pen {
    Usual,
    Loudness,
    Thin,
    Model,
    HalfModel,
    HalfEcho,
    Rule,
    Hairline,
    Value,
    Mark,
}

/// Which type words are written in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Type {
    /// Main figures.
    Figure,
    /// Words in their place.
    BigWord,
    /// Units, doubts, sentences.
    Word,
    /// Captions and names.
    Caption,
    /// Numbers along a scale.
    Scale,
}

impl Type {
    /// Its size.
    pub fn size(self, sizes: &Sizes) -> f32 {
        match self {
            Self::Figure => sizes.figure,
            Self::BigWord => sizes.big_word,
            Self::Word => sizes.word,
            Self::Caption => sizes.caption,
            Self::Scale => sizes.scale,
        }
    }
}

/// How a mark looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// What it is filled, or written, with.
    pub fill: Option<Ink>,
    /// What its line is drawn with.
    pub line: Option<Ink>,
    pen: Pen,
    /// Dash and gap of its line, in points at the usual size.
    pub dash: Option<(f32, f32)>,
    /// The radius of the corners of a rectangle, in points at the usual size.
    pub corner: f32,
    /// The face and type of words.
    pub words: (Face, Type),
    /// Fainter marks of this meaning are thinner, too.
    pub thins: bool,
}

const BARE: Look = Look {
    fill: None,
    line: None,
    pen: Pen::Rule,
    dash: None,
    corner: 0.0,
    words: (Face::Words, Type::Scale),
    thins: false,
};

const fn line(ink: Ink, pen: Pen) -> Look {
    Look { line: Some(ink), pen, ..BARE }
}

const fn fill(ink: Ink) -> Look {
    Look { fill: Some(ink), ..BARE }
}

const fn words(ink: Ink, size: Type) -> Look {
    Look { fill: Some(ink), words: (Face::Words, size), ..BARE }
}

const fn figures(ink: Ink, size: Type) -> Look {
    Look { fill: Some(ink), words: (Face::Figures, size), ..BARE }
}

/// Dashes of regions, in turn; the first is unbroken.
const REGIONS: [Option<(f32, f32)>; 4] =
    [None, Some((9.0, 4.0)), Some((2.0, 4.0)), Some((16.0, 4.0))];

impl Meaning {
    /// How a mark of this meaning looks.
    pub const fn look(self) -> Look {
        use Meaning as M;
        match self {
            M::Trace => line(Ink::Ink, Pen::Usual),
            M::FaintTrace | M::FaintLoudness => line(Ink::Rule, Pen::Thin),
            M::PastTrace => line(Ink::Soft, Pen::Rule),
            M::Crest | M::Trough | M::Past => fill(Ink::Oscillation),
            M::NoteLine | M::Beginning | M::Guide => line(Ink::Hairline, Pen::Hairline),
            M::OwnLine | M::Axis | M::Way => line(Ink::Rule, Pen::Rule),
            M::NoteName | M::Caption => words(Ink::Soft, Type::Caption),
            M::OwnName | M::Name => words(Ink::Ink, Type::Caption),
            M::Reference => Look { dash: Some((9.0, 5.0)), ..line(Ink::Ink, Pen::Rule) },
            M::ReferenceName | M::WantedWord | M::RegionName | M::SpotNumber | M::RowWord => {
                words(Ink::Ink, Type::Scale)
            }
            M::SwingBelow => line(Ink::Soft, Pen::Rule),
            M::Rebow => line(Ink::Soft, Pen::Mark),
            M::RebowWord | M::LostWord | M::ScaleNumber => words(Ink::Soft, Type::Scale),
            M::Section => Look { dash: Some((3.0, 3.0)), ..line(Ink::Attention, Pen::Hairline) },
            M::SectionName => words(Ink::Attention, Type::Scale),
            M::Lost => fill(Ink::Missing),
            M::Beyond => words(Ink::Attention, Type::Caption),
            M::Loudness => line(Ink::Soft, Pen::Loudness),
            M::BowChange | M::Wanted | M::Medians => line(Ink::Ink, Pen::Rule),
            M::BowHead | M::ValueHead | M::Point | M::Median => fill(Ink::Ink),
            M::OscillationBar | M::DoubtOfPoint => {
                Look { fill: Some(Ink::Doubt), ..line(Ink::Oscillation, Pen::Hairline) }
            }
            M::Doubt => Look { corner: 3.0, ..fill(Ink::Doubt) },
            M::Value | M::WantedCorner | M::DoubtOfAmount => line(Ink::Ink, Pen::Value),
            M::LastValue | M::LastPoint => line(Ink::Soft, Pen::Value),
            M::LastHead | M::OneNote => fill(Ink::Soft),
            M::Figure => figures(Ink::Ink, Type::Figure),
            M::LastFigure => figures(Ink::Soft, Type::Figure),
            M::BigWord => figures(Ink::Ink, Type::BigWord),
            M::LastBigWord => figures(Ink::Soft, Type::BigWord),
            M::Word => words(Ink::Soft, Type::Word),
            M::Region(number) => Look {
                dash: REGIONS[number as usize % REGIONS.len()],
                ..line(Ink::Rule, Pen::Rule)
            },
            M::RegionGround => Look { corner: 2.0, ..fill(Ink::Paper) },
            M::Halo => fill(Ink::Paper),
            M::Tail => Look { thins: true, ..line(Ink::Oscillation, Pen::Usual) },
            M::Model => line(Ink::Oscillation, Pen::Model),
            M::FaintModel => line(Ink::Oscillation, Pen::HalfModel),
            M::Echo => line(Ink::Ink, Pen::Usual),
            M::FaintEcho => line(Ink::Ink, Pen::HalfEcho),
            M::Amount => fill(Ink::Oscillation),
            M::MiddleHalf => fill(Ink::Doubt),
            M::FirstEcho => Look { fill: Some(Ink::Paper), ..line(Ink::Oscillation, Pen::Rule) },
            M::LastEcho => fill(Ink::Ink),
            M::Part => line(Ink::Ink, Pen::Rule),
            M::Heard => line(Ink::Oscillation, Pen::Value),
            M::HeardFoot => fill(Ink::Oscillation),
            M::Ground => Look { corner: 2.0, ..fill(Ink::Patch) },
            M::NoteBar => fill(Ink::Rule),
            M::Page => Look { corner: 2.0, ..line(Ink::Ink, Pen::Rule) },
            M::StaffLine => line(Ink::Rule, Pen::Hairline),
            M::StaffSign => Look { words: (Face::Staff, Type::Word), ..fill(Ink::Ink) },
            M::Stem | M::Bow => line(Ink::Ink, Pen::Thin),
            M::Beam => fill(Ink::Ink),
            M::Planned => line(Ink::Oscillation, Pen::Rule),
        }
    }

    /// Its name as a word, for those who read the marks of a page.
    pub fn word(self) -> String {
        let mut word = String::new();
        for sign in format!("{self:?}").chars().take_while(|sign| *sign != '(') {
            if sign.is_uppercase() && !word.is_empty() {
                word.push('-');
            }
            word.extend(sign.to_lowercase());
        }
        word
    }
}

impl Look {
    /// How wide its line is, at this strength of the mark.
    pub fn width(&self, sizes: &Sizes, strength: f32) -> f32 {
        let width = match self.pen {
            Pen::Usual => sizes.pen,
            Pen::Loudness => 0.7 * sizes.pen,
            Pen::Thin => sizes.thin_pen,
            Pen::Model => 2.2 * sizes.pen,
            Pen::HalfModel => 1.1 * sizes.pen,
            Pen::HalfEcho => 0.5 * sizes.pen,
            Pen::Rule => sizes.rule,
            Pen::Hairline => sizes.hairline,
            Pen::Value => sizes.value,
            Pen::Mark => sizes.mark,
        };
        if self.thins { width * (0.2 + 0.8 * strength) } else { width }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_meaning_is_seen() {
        use Meaning as M;
        for meaning in [M::Trace, M::Crest, M::Lost, M::Region(2), M::Point, M::Median, M::Word] {
            let look = meaning.look();
            assert!(look.fill.is_some() || look.line.is_some(), "{meaning:?}");
        }
        assert_eq!(M::OscillationBar.word(), "oscillation-bar");
        assert_eq!(M::Region(3).word(), "region");
    }

    #[test]
    fn the_model_is_drawn_in_the_ink_of_oscillations_and_the_echo_in_main_ink() {
        assert_eq!(Meaning::Model.look().line, Some(Ink::Oscillation));
        assert_eq!(Meaning::Echo.look().line, Some(Ink::Ink));
        let sizes = Sizes::USUAL;
        let width = |meaning: Meaning| meaning.look().width(&sizes, 1.0);
        assert!(width(Meaning::Model) > 2.0 * width(Meaning::Echo));
    }
}
