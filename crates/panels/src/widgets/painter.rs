//! Paints a picture in the window.

use crate::theme::Theme;
use egui::{
    Align, Color32, CornerRadius, FontFamily, FontId, Painter, Pos2, Rect, Shape, Stroke,
    StrokeKind, Ui, pos2,
};
use pictures::{Face, Ink, Mark, Picture};

/// Paints `picture`, which was laid out with the sizes of `theme`.
pub(crate) fn paint(painter: &Painter, picture: &Picture, theme: &Theme) {
    for mark in &picture.marks {
        painter.extend(shapes(painter, mark, picture, theme));
    }
}

/// Makes a picture in `area` and paints it there; nothing of it is seen outside of `clip`.
pub(crate) fn show(
    ui: &Ui,
    area: Rect,
    clip: Rect,
    theme: &Theme,
    make: impl FnOnce(&mut Picture),
) {
    let mut picture = Picture::new(area, &theme.sizes);
    make(&mut picture);
    paint(&ui.painter_at(clip), &picture, theme);
}

/// The font of a face.
pub(crate) fn font(face: Face, size: f32) -> FontId {
    let family = match face {
        Face::Words => FontFamily::Proportional,
        Face::Figures => FontFamily::Name(crate::theme::FIGURES.into()),
        Face::Staff => FontFamily::Name(crate::theme::STAFF.into()),
    };
    FontId::new(size, family)
}

/// One mark in egui's shapes: one, or as many as a dashed line has dashes.
fn shapes(painter: &Painter, mark: &Mark, picture: &Picture, theme: &Theme) -> Vec<Shape> {
    let look = mark.meaning.look();
    let ink =
        |ink: Option<Ink>| ink.map_or(Color32::TRANSPARENT, |ink| theme.ink_of(ink, mark.strength));
    let fill = ink(look.fill);
    let stroke = match look.line {
        Some(_) => Stroke::new(look.width(&picture.sizes, mark.strength), ink(look.line)),
        None => Stroke::NONE,
    };
    let shape = match &mark.shape {
        pictures::Shape::Line(corners) => match (look.dash, &corners[..]) {
            (Some((dash, gap)), _) => {
                let grown = picture.sizes.grown.strokes;
                return Shape::dashed_line(corners, stroke, dash * grown, gap * grown);
            }
            (None, &[from, to]) => Shape::line_segment([from, to], stroke),
            (None, _) => Shape::line(corners.clone(), stroke),
        },
        pictures::Shape::Polygon(corners) => Shape::convex_polygon(corners.clone(), fill, stroke),
        pictures::Shape::Rect(rect) => {
            let corner = CornerRadius::from(look.corner * picture.sizes.grown.strokes);
            let shape =
                egui::epaint::RectShape::new(*rect, corner, fill, stroke, StrokeKind::Middle);
            Shape::Rect(shape)
        }
        pictures::Shape::Circle { middle, radius } => Shape::Circle(egui::epaint::CircleShape {
            center: *middle,
            radius: *radius,
            fill,
            stroke,
        }),
        pictures::Shape::Words { foot, align, words, size } => {
            let wide = look.words.0.width(words, *size);
            let font = font(look.words.0, *size);
            return vec![text(painter, (*foot, *align), words, wide, font, fill)];
        }
    };
    vec![shape]
}

/// Two widths of the same words that are nearer than this are one: egui rounds to whole pixels.
const ROUNDED: f32 = 1.0;

/// Words with their foot (baseline) at a place, aligned there; they were laid out as so wide.
fn text(
    painter: &Painter,
    (foot, align): (Pos2, Align),
    words: &str,
    wide: f32,
    font: FontId,
    ink: Color32,
) -> Shape {
    let galley = painter.layout_no_wrap(words.to_owned(), font, ink);
    // A sign that the bundled face lacks comes from another one.
    let drawn = galley.rect.width();
    let wide = if (drawn - wide).abs() < ROUNDED { wide } else { drawn };
    let left = foot.x - align.to_factor() * wide;
    let top = foot.y - super::pen::baseline(&galley);
    Shape::galley(pos2(left, top), galley, ink)
}

#[cfg(test)]
mod tests {
    use super::*;
    use coach::{Comparison, Instant, Phrase};
    use egui::{Rangef, RawInput, Vec2, vec2};
    use pictures::field::{Field, Spot, field};
    use pictures::gauge::{Gauge, Reading, gauge};
    use pictures::overlay::{OneNote, legend, one_note};
    use pictures::phrase::{Whole, phrase};
    use pictures::played::Played;
    use pictures::reached::Reached;
    use pictures::sheet::{Sheet, Times};
    use pictures::stretch::Stretch;
    use pictures::strip::oscillation_strip;
    use pictures::take::{TakeTrace, part, place, take_trace, whole};
    use pictures::{
        Against, Clock, Meaning, Paper, RATE, Sizes, Traced, bow_line, svg, through, time_axis,
        trace, way as ways,
    };
    use std::sync::Arc;
    use tone::{Line, NoteSpec, Spec, VibratoSpec};
    use tuning::{Cents, Hz, Naming, Secs, Tuning};
    use vibrato::{Ear, Event, Note, Settings};

    /// Places are written to a tenth of a point, and so are known to half of that.
    const NEAR: f32 = 0.1;

    /// One mark as it was painted: its kind, its inks, the width of its line, and its numbers.
    #[derive(Clone, Debug, PartialEq)]
    struct Painted {
        kind: &'static str,
        fill: String,
        stroke: String,
        width: f32,
        places: Vec<f32>,
    }

    /// A note with vibrato from so many seconds on for so many.
    fn vibrated(start: f64, secs: f64, hz: f64, width: f64) -> NoteSpec {
        NoteSpec::straight(Secs(start), Secs(secs), Hz(hz))
            .with(VibratoSpec::regular(Hz(5.4), Cents(width)))
    }

    /// Notes as the ear hears them: their frames, and their measures.
    fn heard(notes: &[NoteSpec]) -> (Vec<pitch::Frame>, Vec<Note>) {
        let line = Line { notes: notes.to_vec(), level_db: 0.0 };
        let spec = Spec { lines: vec![line], ..Spec::default() };
        let samples = spec.render().expect("a plain specification").samples;
        let (mut frames, mut notes) = (Vec::new(), Vec::new());
        let mut ear = Ear::new(Settings::default());
        let mut hear = |event: Event, ear: &Ear| match event {
            Event::Frame(frame) => frames.push(frame),
            Event::NoteEnded => notes.extend(ear.note().cloned()),
            _ => {}
        };
        ear.hear(&samples, &mut hear);
        ear.finish();
        ear.hear(&[], &mut hear);
        (frames, notes)
    }

    /// That note on the sheet, on a gauge and in the field.
    fn of_a_note() -> Picture {
        let (frames, notes) = heard(&[vibrated(0.3, 2.4, 220.0, 36.0)]);
        let note = notes.first().expect("a note is heard").clone();
        let vibrato = note.vibrato.clone().expect("it swings");
        let tuning = Tuning::default();
        let played = Played::of(&frames, &notes, &[(0.05, 0.1)], tuning.a4);
        let part =
            |left, top, width, height| Rect::from_min_size(pos2(left, top), vec2(width, height));
        let mut picture = Picture::new(part(0.0, 0.0, 1000.0, 800.0), &Sizes::USUAL);
        let times = Times { x: Rangef::new(60.0, 540.0), newest: Secs(3.2), span: Secs(3.2) };
        let middle = note.reference.cents_above(tuning.a4);
        let y = Rangef::new(30.0, 330.0);
        let own = [note.midi];
        let traced = Traced {
            played: &played,
            lines: Some(tuning),
            a4: tuning.a4,
            naming: Naming::default(),
            own: &own,
            fingers: None,
            turns: true,
            against: Some(Against { pitch: Cents(middle.0 + 4.0), name: Some("yours") }),
            swing_below: true,
            sections: &[(Secs(1.0), "finger 2".to_owned())],
            sounds: false,
        };
        through(&mut picture, part(60.0, 30.0, 480.0, 450.0), &times, &played, 4.0);
        trace(&mut picture, &Sheet { times, y, middle, reach: Cents(130.0) }, &traced);
        oscillation_strip(&mut picture, part(0.0, 340.0, 600.0, 60.0), &times, &played);
        bow_line(&mut picture, part(0.0, 410.0, 600.0, 50.0), &times, &played);
        time_axis(&mut picture, part(0.0, 470.0, 600.0, 26.0), &times, Clock::Since(Secs(0.0)));
        let rate = Gauge {
            name: "rate",
            unit: "Hz",
            scale: RATE,
            decimals: 1,
            signed: false,
            reading: Reading::Value { value: vibrato.rate.value.0, se: Some(0.3) },
            wanted: Some((4.5, 5.5)),
            marks: vibrato.oscillations.iter().map(|one| 1.0 / one.period.0).collect(),
            live: true,
        };
        gauge(&mut picture, part(620.0, 20.0, 360.0, 180.0), &rate);
        let now = Some(Spot { rate: vibrato.rate, width: vibrato.width, live: false });
        let drawn = Field { now, wanted_rate: Some((Hz(4.5), Hz(5.5))), ..Field::EMPTY };
        field(&mut picture, part(620.0, 240.0, 360.0, 260.0), &drawn);
        picture
    }

    /// A lesson: three notes and their echo an octave higher, of which the second is late and the last is missing.
    fn lesson() -> [Phrase; 2] {
        let notes = [(0.3, 146.83), (1.7, 164.81), (3.1, 185.0)];
        let model = notes.map(|(start, hz)| vibrated(start, 1.3, hz, 40.0));
        let echo = [vibrated(0.4, 1.3, 293.66, 28.0), vibrated(1.95, 1.2, 329.63, 22.0)];
        [heard(&model), heard(&echo)].map(|(frames, notes)| {
            let instant = |frame: &pitch::Frame| Instant {
                time: frame.time,
                f0: frame.f0,
                confidence: frame.confidence,
            };
            Phrase { notes, course: frames.iter().map(instant).collect() }
        })
    }

    /// That lesson in a window, at twice the size and on a page: one note, as it sounds too, and the whole.
    fn of_a_lesson() -> Vec<Picture> {
        let [model, echo] = lesson();
        let compared = Comparison::new(&model.notes, &echo.notes);
        let pair = compared.pairs.first().expect("a note is answered");
        let naming = Naming::default();
        let answer = Some((&echo, &compared, pair));
        let of = |align| OneNote::of(&model, pair.model, answer, align, naming);
        let start = echo.notes.first().map(|note| note.start);
        let sounding = OneNote::sounding(Some(&model), &echo, (start, Some(Hz(293.66))), naming);
        let notes = [of(coach::Align::NoteStart), of(coach::Align::Cycles), sounding];
        let wholes = [false, true].map(|by_notes| {
            Whole::of(&model, Some((&echo, &compared)), by_notes, naming).expect("a model")
        });
        let mut drawn = Vec::new();
        for (sizes, size) in sheets() {
            let area = Rect::from_min_size(pos2(0.0, 0.0), size);
            let empty = |said| {
                let mut picture = Picture::new(area, &sizes);
                let entries = [(Meaning::Model, "model"), (Meaning::Echo, "echo 2")];
                legend(&mut picture, area, &entries, Some(said));
                picture
            };
            for note in &notes {
                let mut picture = empty("note 1 of 3, D3");
                one_note(&mut picture, area, note);
                drawn.push(picture);
            }
            for whole in &wholes {
                let mut picture = empty("note 2 of 3, E3");
                let lines = |part: Stretch<'_>, times: &Times| Arc::new(part.lines(times));
                phrase(&mut picture, area, whole, Some(1), lines);
                drawn.push(picture);
            }
        }
        drawn
    }

    /// The way of three echoes, of which the second is the first one's answer again.
    fn of_a_way() -> Picture {
        let [model, echo] = lesson();
        let [far, near] = [&echo, &model].map(|echo| Comparison::new(&model.notes, &echo.notes));
        let rows = vibrato::Quantity::compared().map(|quantity| {
            (quantity.headed(), [&far, &far, &near].map(|echo| echo.mean(quantity)).to_vec())
        });
        let rows: Vec<_> = rows.collect();
        let area = Rect::from_min_size(pos2(0.0, 0.0), vec2(660.0, ways::height(rows.len(), 15.0)));
        let mut picture = Picture::new(area, &Sizes::USUAL);
        ways::ways(&mut picture, area, &rows);
        picture
    }

    /// A take with a bow change and a lost stretch, in a window, at twice the size and on a page; all of it, one note of
    /// it, and before its sound is there.
    fn of_a_take() -> Vec<Picture> {
        let notes = [(0.6, 220.0), (2.2, 246.94), (3.8, 220.0)];
        let notes = notes.map(|(start, hz)| vibrated(start, 1.5, hz, 40.0));
        let (frames, notes) = heard(&notes);
        let tuning = Tuning::default();
        let lost = [(2.0, 0.1)];
        let played = Played::of(&frames, &notes, &lost, tuning.a4);
        let silent = Played::of(&[], &notes, &lost, tuning.a4);
        let fingers = [Some(0), None, Some(2)];
        let sections = [(Secs(2.1), "finger 2".to_owned())];
        let mut drawn = Vec::new();
        for (sizes, size) in sheets() {
            for (played, from, to) in
                [(&played, 0.0, 5.6), (&played, 0.4, 1.9), (&silent, 0.0, 5.6)]
            {
                let area = Rect::from_min_size(pos2(0.0, 0.0), size);
                let mut picture = Picture::new(area, &sizes);
                let shown = TakeTrace {
                    played,
                    fingers: &fingers,
                    tuning,
                    naming: Naming::default(),
                    sections: &sections,
                    span: (Secs(from), Secs(to)),
                };
                let strip = area.with_min_y(area.bottom() - 1.7 * sizes.scale);
                let sheet = take_trace(&mut picture, area.with_max_y(strip.top()), &shown);
                part(&mut picture, &sheet, (Secs(1.0), Secs(4.0)));
                place(&mut picture, &sheet, Secs(1.4));
                whole(&mut picture, strip, played, Secs(5.6), &sheet.times, Secs(1.4));
                drawn.push(picture);
            }
        }
        drawn
    }

    /// The plane of a round: two steps asked for, three turns of them, in a window, at twice the size and on a page.
    fn of_a_round() -> Vec<Picture> {
        let region = |name: &str, rate: (f64, f64), width: (f64, f64)| coach::Region {
            name: name.to_owned(),
            rate: (Hz(rate.0), Hz(rate.1)),
            width: (Cents(width.0), Cents(width.1)),
        };
        let spot = |rate, width| Spot {
            rate: vibrato::Measure { value: Hz(rate), se: Some(Hz(0.1)) },
            width: vibrato::Measure { value: Cents(width), se: Some(Cents(2.0)) },
            live: true,
        };
        let reached = Reached {
            asked: vec![
                region("20 cents", (4.5, 5.5), (15.0, 25.0)),
                region("40 cents", (4.5, 5.5), (30.0, 50.0)),
            ],
            turns: vec![(1, spot(4.9, 21.0)), (2, spot(5.2, 33.0)), (4, spot(5.9, 44.0))],
            says: String::new(),
        };
        let drawn = sheets().map(|(sizes, size)| {
            let mut picture = Picture::new(Rect::from_min_size(pos2(0.0, 0.0), size), &sizes);
            let area = picture.area;
            reached.draw(&mut picture, area);
            picture
        });
        drawn.into()
    }

    /// Sizes and sheets: of a window, of one with everything twice as large, of a page.
    fn sheets() -> [(Sizes, Vec2); 3] {
        let grown = |text, figures, strokes| {
            Sizes::USUAL.scaled(pictures::Grown { text, figures, strokes })
        };
        [
            (Sizes::USUAL, vec2(660.0, 420.0)),
            (grown(2.0, 2.0, 2.0), vec2(1000.0, 900.0)),
            (grown(0.75, 0.42, 0.55), vec2(360.0, 300.0)),
        ]
    }

    fn hex(colour: Color32) -> String {
        match colour.a() {
            0 => "none".to_owned(),
            _ => format!("#{:02x}{:02x}{:02x}", colour.r(), colour.g(), colour.b()),
        }
    }

    /// What egui was given to paint, mark by mark; of a dashed line its first dash.
    fn in_window(picture: &Picture, theme: &Theme) -> Vec<Painted> {
        let ctx = egui::Context::default();
        crate::theme::dress(&ctx);
        let mut painted = Vec::new();
        let mut paint_all = |ui: &mut Ui| {
            painted.clear();
            let all: Vec<Shape> = picture
                .marks
                .iter()
                .filter_map(|mark| shapes(ui.painter(), mark, picture, theme).into_iter().next())
                .collect();
            painted.extend(all.iter().map(of_shape));
        };
        ctx.run_ui(RawInput::default(), &mut paint_all).textures_delta.clear();
        painted
    }

    fn of_shape(shape: &Shape) -> Painted {
        let flat = |places: &[Pos2]| places.iter().flat_map(|at| [at.x, at.y]).collect();
        let of = |kind, fill, (stroke, width): (Color32, f32), places| Painted {
            kind,
            fill: hex(fill),
            stroke: if width > 0.0 { hex(stroke) } else { "none".to_owned() },
            width: if hex(stroke) == "none" { 0.0 } else { width },
            places,
        };
        let none = Color32::TRANSPARENT;
        match shape {
            Shape::LineSegment { points, stroke } => {
                of("path", none, (stroke.color, stroke.width), flat(points))
            }
            Shape::Path(path) => {
                let egui::epaint::ColorMode::Solid(ink) = path.stroke.color else {
                    panic!("one ink a mark");
                };
                of("path", path.fill, (ink, path.stroke.width), flat(&path.points))
            }
            Shape::Rect(rect) => {
                let places =
                    vec![rect.rect.left(), rect.rect.top(), rect.rect.width(), rect.rect.height()];
                of("rect", rect.fill, (rect.stroke.color, rect.stroke.width), places)
            }
            Shape::Circle(circle) => {
                let places = vec![circle.center.x, circle.center.y, circle.radius];
                of("circle", circle.fill, (circle.stroke.color, circle.stroke.width), places)
            }
            Shape::Text(text) => {
                let foot = text.pos.y + crate::widgets::pen::baseline(&text.galley);
                of("text", text.fallback_color, (none, 0.0), vec![text.pos.x, foot])
            }
            other => panic!("{other:?}"),
        }
    }

    fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
        let from = tag.find(&format!(" {name}=\""))? + name.len() + 3;
        tag[from..].split('"').next()
    }

    /// What stands in the SVG text, mark by mark.
    fn on_the_page(text: &str) -> Vec<Painted> {
        let number = |tag: &str, name: &str| -> f32 {
            attribute(tag, name).and_then(|value| value.parse().ok()).unwrap_or(f32::NAN)
        };
        let mut group = "";
        let mut painted = Vec::new();
        for tag in text.split('<').skip(1) {
            let kind = tag.split([' ', '/', '>']).next().unwrap_or_default();
            let (kind, places): (&'static str, Vec<f32>) = match kind {
                "g" => {
                    group = tag;
                    continue;
                }
                "path" => {
                    let d = attribute(tag, "d").unwrap_or_default();
                    let places = d.split(['M', 'L', 'Z', ' ']).filter_map(|part| part.parse().ok());
                    ("path", places.collect())
                }
                "rect" => {
                    ("rect", ["x", "y", "width", "height"].map(|name| number(tag, name)).to_vec())
                }
                "circle" => ("circle", ["cx", "cy", "r"].map(|name| number(tag, name)).to_vec()),
                "text" => {
                    let part = match attribute(tag, "text-anchor") {
                        Some("middle") => 0.5,
                        Some("end") => 1.0,
                        _ => 0.0,
                    };
                    let left = number(tag, "x") - part * number(tag, "textLength");
                    ("text", vec![left, number(tag, "y")])
                }
                _ => continue,
            };
            let ink = |name| attribute(group, name).unwrap_or("none").to_owned();
            let width = attribute(group, "stroke-width").and_then(|width| width.parse().ok());
            painted.push(Painted {
                kind,
                fill: ink("fill"),
                stroke: ink("stroke"),
                width: width.unwrap_or(0.0),
                places,
            });
        }
        painted
    }

    /// Both painters make the same marks of a picture, in the same places and inks, on either paper.
    fn same_in_both(picture: &Picture) {
        for paper in [Paper::Light, Paper::Dark] {
            same_on(picture, paper);
        }
    }

    fn same_on(picture: &Picture, paper: Paper) {
        let window = in_window(picture, &Theme::on(paper));
        let page = on_the_page(&svg(picture, "a note", paper).into_string());
        assert_eq!(window.len(), picture.marks.len());
        assert_eq!(page.len(), picture.marks.len());
        for (mark, (a, b)) in picture.marks.iter().zip(window.iter().zip(&page)) {
            let said = format!("{:?}: {a:?} in the window, {b:?} on the page", mark.meaning);
            assert_eq!((a.kind, &a.fill, &a.stroke), (b.kind, &b.fill, &b.stroke), "{said}");
            assert!((a.width - b.width).abs() < 0.01, "{said}");
            let dashed = mark.meaning.look().dash.is_some();
            let same = if dashed { 2 } else { a.places.len().max(b.places.len()) };
            for place in 0..same {
                let (a, b) = (a.places.get(place), b.places.get(place));
                let near = a.zip(b).is_some_and(|(a, b)| (a - b).abs() <= NEAR);
                assert!(near, "{said}: {a:?} and {b:?}");
            }
        }
    }

    #[test]
    fn window_and_page_paint_the_same_note_with_the_same_marks_in_the_same_places_and_inks() {
        let picture = of_a_note();
        assert!(picture.marks.len() > 140, "{} marks", picture.marks.len());
        same_in_both(&picture);
        for kind in ["path", "rect", "circle", "text"] {
            let count = in_window(&picture, &Theme::on(Paper::Light));
            assert!(count.iter().any(|painted| painted.kind == kind), "no {kind}");
        }
    }

    #[test]
    fn window_and_page_paint_the_same_lesson_with_the_same_marks_in_the_same_places_and_inks() {
        for picture in of_a_lesson() {
            for meaning in [Meaning::Model, Meaning::Echo] {
                // The line of the legend, and that of the pitch.
                let lines = picture.marks.iter().filter(|mark| mark.meaning == meaning);
                assert!(lines.count() > 1, "no {meaning:?}");
            }
            same_in_both(&picture);
        }
    }

    #[test]
    fn window_and_page_paint_the_same_way_with_the_same_marks_in_the_same_places_and_inks() {
        let picture = of_a_way();
        for meaning in [Meaning::FirstEcho, Meaning::LastEcho, Meaning::Past] {
            let marks = picture.marks.iter().filter(|mark| mark.meaning == meaning);
            assert!(marks.count() > 1, "too few of {meaning:?}");
        }
        same_in_both(&picture);
    }

    #[test]
    fn window_and_page_paint_the_same_take_with_the_same_marks_in_the_same_places_and_inks() {
        use Meaning as M;
        let pictures = of_a_take();
        for picture in &pictures {
            same_in_both(picture);
        }
        let whole = pictures[0].marks.iter();
        let shown: Vec<Meaning> = whole.map(|mark| mark.meaning).collect();
        for meaning in [M::Trace, M::Crest, M::Trough, M::OscillationBar, M::Loudness, M::Lost]
            .into_iter()
            .chain([M::OwnName, M::Part, M::Heard, M::HeardFoot, M::NoteBar, M::Page])
        {
            assert!(shown.contains(&meaning), "no {meaning:?}");
        }
    }

    #[test]
    fn window_and_page_paint_the_same_round_with_the_same_marks_in_the_same_places_and_inks() {
        for picture in of_a_round() {
            let meanings: Vec<Meaning> = picture.marks.iter().map(|mark| mark.meaning).collect();
            let count = |meaning| meanings.iter().filter(|one| **one == meaning).count();
            assert_eq!([count(Meaning::Region(0)), count(Meaning::Region(1))], [1, 1]);
            assert_eq!([count(Meaning::Past), count(Meaning::SpotNumber)], [3, 3]);
            assert_eq!([count(Meaning::DoubtOfPoint), count(Meaning::Way)], [3, 1]);
            same_in_both(&picture);
        }
    }

    /// Where the letters of words are.
    fn letters(picture: &Picture) -> Vec<(Rect, String)> {
        let of = |mark: &Mark| match &mark.shape {
            pictures::Shape::Words { foot, align, words, size } => {
                let wide = mark.meaning.look().words.0.width(words, *size);
                let left = foot.x - align.to_factor() * wide;
                let below = if words.contains(['g', 'j', 'p', 'q', 'y', ',']) { 0.2 } else { 0.0 };
                let (top, height) = (foot.y - 0.72 * size, (0.72 + below) * size);
                Some((Rect::from_min_size(pos2(left, top), vec2(wide, height)), words.clone()))
            }
            _ => None,
        };
        picture.marks.iter().filter_map(of).collect()
    }

    #[test]
    fn words_stand_over_no_others_and_leave_no_picture() {
        let lesson = of_a_lesson().into_iter().chain([of_a_way()]);
        for picture in lesson.chain(of_a_take()) {
            let letters = letters(&picture);
            assert!(letters.len() > 8);
            for (number, (rect, words)) in letters.iter().enumerate() {
                let within = picture.area.expand(0.5).contains_rect(*rect);
                assert!(within, "{words} at {rect} leaves {}", picture.area);
                let over = letters[..number].iter().find(|other| other.0.intersects(*rect));
                assert_eq!(over, None, "under {words} at {rect} in {}", picture.area);
            }
        }
    }

    #[test]
    fn words_are_as_wide_in_the_window_as_they_were_laid_out() {
        let ctx = egui::Context::default();
        crate::theme::dress(&ctx);
        let words = ["wanted 4.5–6.0", "B♭3", "−130", "your straight notes, in cents", "AVATAR To"];
        let mut apart: Vec<(String, f32)> = Vec::new();
        let mut output = ctx.run_ui(RawInput::default(), |ui: &mut Ui| {
            apart.clear();
            for (face, size) in [(Face::Words, 15.0), (Face::Words, 22.0), (Face::Figures, 94.0)] {
                for words in words {
                    let galley = ui.painter().layout_no_wrap(
                        words.to_owned(),
                        font(face, size),
                        Color32::WHITE,
                    );
                    let wide = face.width(words, size);
                    apart.push((words.to_owned(), galley.rect.width() - wide));
                }
            }
        });
        output.textures_delta.clear();
        assert_eq!(apart.len(), 15);
        assert!(apart.iter().all(|(_, apart)| apart.abs() < ROUNDED), "{apart:?}");
    }
}
