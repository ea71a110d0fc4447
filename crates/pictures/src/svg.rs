//! Paints a picture as SVG.

use std::fmt::Write as _;

use emath::{Align, Pos2, Rect};
use maud::{Markup, PreEscaped, html};

use crate::{Face, Mark, Paper, Picture, Shape};

/// The picture as an `svg` element of this title that holds all it needs. Words keep the width they were laid out with, whatever face
/// the reader has; marks of one meaning that follow each other stand in one group of that name.
pub fn svg(picture: &Picture, title: &str, paper: Paper) -> Markup {
    let Rect { min, .. } = picture.area;
    let size = picture.area.size();
    let place = [min.x, min.y, size.x, size.y].map(short).join(" ");
    let mut drawn = String::new();
    for group in picture
        .marks
        .chunk_by(|one, next| one.meaning == next.meaning && one.strength == next.strength)
    {
        open(&mut drawn, &group[0], picture, paper);
        for mark in group {
            shape(&mut drawn, mark, picture);
        }
        drawn.push_str("</g>");
    }
    html! {
        svg viewBox=(place) role="img" {
            title { (title) }
            desc { (picture.says) }
            (PreEscaped(drawn))
        }
    }
}

fn open(drawn: &mut String, mark: &Mark, picture: &Picture, paper: Paper) {
    let look = mark.meaning.look();
    let ink = |ink: Option<crate::Ink>| {
        ink.map_or_else(|| "none".to_owned(), |ink| ink.faded(paper, mark.strength).to_string())
    };
    put(drawn, format_args!("<g class=\"{}\" fill=\"{}\"", mark.meaning.word(), ink(look.fill)));
    if look.line.is_some() {
        let width = hundredths(look.width(&picture.sizes, mark.strength));
        put(drawn, format_args!(" stroke=\"{}\" stroke-width=\"{width}\"", ink(look.line)));
    }
    if let Some((dash, gap)) = look.dash {
        let grown = picture.sizes.grown.strokes;
        let (dash, gap) = (hundredths(dash * grown), hundredths(gap * grown));
        put(drawn, format_args!(" stroke-dasharray=\"{dash} {gap}\""));
    }
    let face = look.words.0;
    if matches!(mark.shape, Shape::Words { .. }) && face == Face::Figures {
        let (family, weight) = (face.family(), face.weight());
        put(drawn, format_args!(" font-weight=\"{weight}\" font-family=\"{family}, serif\""));
    }
    drawn.push('>');
}

fn shape(drawn: &mut String, mark: &Mark, picture: &Picture) {
    match &mark.shape {
        Shape::Line(corners) => put(drawn, format_args!("<path d=\"{}\"/>", path(corners))),
        Shape::Polygon(corners) => put(drawn, format_args!("<path d=\"{}Z\"/>", path(corners))),
        Shape::Rect(rect) => {
            let [x, y, width, height] =
                [rect.left(), rect.top(), rect.width(), rect.height()].map(short);
            put(
                drawn,
                format_args!("<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\""),
            );
            let corner = mark.meaning.look().corner * picture.sizes.grown.strokes;
            if corner > 0.0 {
                put(drawn, format_args!(" rx=\"{}\"", short(corner)));
            }
            drawn.push_str("/>");
        }
        Shape::Circle { middle, radius } => {
            let [x, y] = [middle.x, middle.y].map(short);
            let radius = hundredths(*radius);
            put(drawn, format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"/>"));
        }
        // Signs of music come as their shapes: hardly a reader has a face with them.
        Shape::Words { foot, words, size, .. } if mark.meaning.look().words.0 == Face::Staff => {
            put(drawn, format_args!("<path d=\"{}\"/>", Face::Staff.outline(words, *foot, *size)));
        }
        Shape::Words { foot, align, words, size } => {
            let [x, y] = [foot.x, foot.y].map(short);
            let anchor = match align {
                Align::Min => "start",
                Align::Center => "middle",
                Align::Max => "end",
            };
            let width = short(mark.meaning.look().words.0.width(words, *size));
            let size = hundredths(*size);
            let words = html! { (words) }.into_string();
            put(
                drawn,
                format_args!(
                    "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\" \
                     textLength=\"{width}\" lengthAdjust=\"spacingAndGlyphs\">{words}</text>"
                ),
            );
        }
    }
}

/// Writing into a string cannot fail.
fn put(drawn: &mut String, words: std::fmt::Arguments<'_>) {
    let _: std::fmt::Result = drawn.write_fmt(words);
}

fn path(corners: &[Pos2]) -> String {
    let mut text = String::new();
    for (number, at) in corners.iter().enumerate() {
        text.push(if number == 0 { 'M' } else { 'L' });
        put(&mut text, format_args!("{} {}", short(at.x), short(at.y)));
    }
    text
}

/// A place, to a tenth of a point.
fn short(value: f32) -> String {
    let tenths = (f64::from(value) * 10.0).round() / 10.0 + 0.0;
    format!("{tenths}")
}

/// A size, to a hundredth of a point.
fn hundredths(value: f32) -> String {
    let hundredths = (f64::from(value) * 100.0).round() / 100.0 + 0.0;
    format!("{hundredths}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Meaning, Sizes};
    use emath::{Align2, pos2, vec2};

    #[test]
    fn marks_of_one_meaning_stand_in_one_group_and_words_are_text_and_nothing_else() {
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 50.0));
        let mut picture = Picture::new(area, &Sizes::USUAL);
        picture.dot(Meaning::Past, pos2(10.0, 20.0), 3.0);
        picture.dot(Meaning::Past, pos2(20.0, 20.04), 3.0);
        picture.vline(Meaning::Value, 30.0, 5.0..=25.0);
        let at = pos2(50.0, 25.0);
        picture.text(Meaning::RegionName, at, Align2::CENTER_TOP, "<b>&\"wide\"");
        picture.says = "two oscillations <and> a value".to_owned();
        let text = svg(&picture, "A title", Paper::Light).into_string();
        assert_eq!(text.matches("class=\"past\" fill=\"#1d5aa6\"").count(), 1, "{text}");
        assert!(text.contains("<circle cx=\"20\" cy=\"20\" r=\"3\"/>"), "{text}");
        assert!(text.contains("stroke=\"#1b202e\" stroke-width=\"3\"><path d=\"M30 5L30 25\"/>"));
        assert!(text.contains("&lt;b&gt;&amp;") && !text.contains("<b>"), "{text}");
        assert!(text.contains("<desc>two oscillations &lt;and&gt; a value</desc>"), "{text}");
    }
}
