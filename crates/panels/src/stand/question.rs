//! The ear before the eye: what stands in place of the trace while the measures are hidden, the
//! question, and what came of the answer.

use crate::stand::picture::Sounding;
use crate::stand::{Action, QUESTION, Stand};
use crate::theme::Theme;
use crate::widgets::pen;
use coach::{Answered, Curtain, Question, Showing, Swing, answers};
use egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, StrokeKind, Ui,
    WidgetInfo, pos2, vec2,
};
use tuning::figure;

/// Draws over `area` what hides the trace, or, once an answer was given, the words of the reveal;
/// says what was answered.
pub(super) fn question_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    if stand.shell.source.trouble().is_some() {
        // That nothing is heard stands in this place.
        return Vec::new();
    }
    match stand.curtain() {
        curtain @ (Curtain::Open | Curtain::Drawn) => {
            if curtain == Curtain::Drawn {
                listening_ui(ui, area, stand, theme);
            }
            if let Some(answered) = stand.answered() {
                reveal_ui(ui, area, &answered, stand, theme);
            }
            Vec::new()
        }
        Curtain::Asking(question) => asking_ui(ui, area, question, stand, theme),
    }
}

/// What is asked, in a few words.
pub(super) fn question_text(question: Question) -> &'static str {
    match question {
        Question::Evenness => "Even or uneven?",
        Question::Width => "Wider or narrower than the last?",
        Question::Centre => "Flat, in tune, or sharp?",
    }
}

/// How often the ear was right so far, per question; empty before the first answer.
pub(super) fn tally(stand: &Stand) -> String {
    let parts: Vec<String> = Question::ALL
        .into_iter()
        .filter_map(|question| {
            let tally = stand.ears().tally(question);
            let name = question.word();
            (tally.asked > 0).then(|| {
                let score = format!("{name} {} of {}", tally.right, tally.asked);
                // Of one question it would say nothing.
                let always = (tally.asked > 1)
                    .then(|| format!(" (the same answer each time: {})", tally.always()));
                score + &always.unwrap_or_default()
            })
        })
        .collect();
    if parts.is_empty() {
        return String::new();
    }
    format!("Your ear so far: {}", parts.join(" · "))
}

/// What was heard and what was measured, in words.
fn reveal(answered: &Answered, stand: &Stand) -> String {
    let heard = answered.answer.said();
    let measured = answered.truth.map_or("too close to call", coach::Answer::said);
    let numbers = answered.measured;
    let whole = |value: f64| figure::number(Some(value), 0, false);
    let figure = match answered.question {
        Question::Evenness => match numbers.spreads {
            (Some(rate), Some(width)) => {
                format!(" (rate spread {} %, width spread {} %)", whole(rate), whole(width))
            }
            (Some(rate), None) => format!(" (rate spread {} %)", whole(rate)),
            _ => String::new(),
        },
        Question::Width => match numbers.widths {
            [Some(before), Some(now)] => {
                format!(" ({} after {} cents)", whole(now.0), whole(before.0))
            }
            _ => String::new(),
        },
        Question::Centre => numbers.centre.map_or_else(String::new, |centre| {
            let of = if stand.ears().swing == Swing::Below { "crests" } else { "centre" };
            format!(" ({of} {} cents)", figure::signed(centre.0, 0))
        }),
    };
    format!("Heard: {heard}. Measured: {measured}{figure}.")
}

/// The words of the reveal, on a slip in the upper left corner of the trace.
fn reveal_ui(ui: &mut Ui, area: Rect, answered: &Answered, stand: &Stand, theme: &Theme) {
    let said = reveal(answered, stand);
    let tally = tally(stand);
    let sizes = &theme.sizes;
    let word = theme.word_font(sizes.word);
    let caption = theme.word_font(sizes.caption);
    let painter = ui.painter_at(area);
    let pad = sizes.between;
    let room = (area.width() - 4.0 * pad).max(sizes.word);
    let lines =
        |text: &str, font: &FontId, ink| painter.layout(text.to_owned(), font.clone(), ink, room);
    let first = lines(&said, &word, theme.ink);
    let second = lines(&tally, &caption, theme.soft_ink);
    let size = vec2(
        first.rect.width().max(second.rect.width()),
        first.rect.height() + second.rect.height(),
    );
    let slip = Rect::from_min_size(area.min + vec2(pad, pad), size + vec2(2.0 * pad, pad));
    let response = ui.interact(slip, Id::unique("reveal"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, format!("{said} {tally}")));
    painter.rect_filled(slip, 0.0, theme.patch);
    painter.rect_stroke(slip, 0.0, theme.rule_stroke(), StrokeKind::Inside);
    let at = slip.min + vec2(pad, pad / 2.0);
    let below = at + vec2(0.0, first.rect.height());
    painter.galley(at, first, theme.ink);
    painter.galley(below, second, theme.soft_ink);
}

/// Nothing but a string that listens, and the tally at the foot.
fn listening_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let until = match stand.shell.options().showing {
        Showing::AfterRound => "until the round is over",
        Showing::AfterNote | Showing::Live => "until the note is over",
    };
    let said = format!("listening {until}");
    let response = ui.interact(area, Id::unique("listening"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &said));
    if !ui.is_rect_visible(area) {
        return;
    }
    let painter = ui.painter_at(area);
    let sizes = &theme.sizes;
    let sounds = stand.live().sounding != Sounding::Silence;
    let foot = tally_ui(ui, area, stand, theme);
    let word = sizes.big_word.min(0.2 * area.height());
    let middle = (area.top() + foot) / 2.0 - 0.9 * word;
    let reach = ((middle - area.top()) * 0.6).min(1.6 * sizes.big_word);
    let across = 0.08 * area.width();
    let ends = (area.left() + across)..=(area.right() - across);
    string(&painter, (*ends.start(), *ends.end()), middle, if sounds { reach } else { 0.0 }, theme);
    let at = pos2(area.center().x, middle + reach.max(word) + 0.4 * word);
    painter.text(
        at,
        Align2::CENTER_TOP,
        &said,
        theme.word_font(fitting(&painter, &said, word * 0.7, area.width(), theme)),
        theme.soft_ink,
    );
}

/// A string between two pegs: straight while it is silent, swinging as far as `reach` while a note
/// sounds, whatever that note is like.
fn string(painter: &Painter, ends: (f32, f32), middle: f32, reach: f32, theme: &Theme) {
    const PIECES: usize = 96;
    let sizes = &theme.sizes;
    let swing = |share: f32| -> Vec<Pos2> {
        (0..=PIECES)
            .map(|piece| {
                let along = piece as f32 / PIECES as f32;
                let away = (std::f32::consts::PI * along).sin() * share * reach;
                pos2(egui::lerp(ends.0..=ends.1, along), middle - away)
            })
            .collect()
    };
    if reach > 0.0 {
        for share in [0.75, 0.5, 0.25, 0.0, -0.25, -0.5, -0.75] {
            painter.add(Shape::line(swing(share), theme.hairline_stroke()));
        }
        for share in [1.0, -1.0] {
            painter.add(Shape::line(swing(share), Stroke::new(sizes.pen, theme.ink)));
        }
    } else {
        painter.hline(ends.0..=ends.1, middle, Stroke::new(sizes.pen, theme.ink));
    }
    for x in [ends.0, ends.1] {
        let peg = vec2(0.0, 0.3 * sizes.big_word);
        painter.line_segment(
            [pos2(x, middle) - peg, pos2(x, middle) + peg],
            Stroke::new(sizes.value, theme.rule),
        );
    }
}

/// The tally at the foot of `area`; says where the room above it ends.
fn tally_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> f32 {
    let said = tally(stand);
    let height = 1.6 * theme.sizes.caption;
    if said.is_empty() {
        return area.bottom();
    }
    let place = Rect::from_min_max(pos2(area.left(), area.bottom() - height), area.max);
    let response = ui.interact(place, Id::unique("tally"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, &said));
    let painter = ui.painter_at(place);
    let size = fitting(&painter, &said, theme.sizes.caption, place.width(), theme);
    let font = theme.word_font(size);
    painter.text(place.center(), Align2::CENTER_CENTER, said, font, theme.soft_ink);
    place.top()
}

/// The largest type, up to `size`, in which `text` fits into `room`.
fn fitting(painter: &Painter, text: &str, size: f32, room: f32, theme: &Theme) -> f32 {
    let width = pen::width(painter, text, theme.word_font(size));
    if width <= room { size } else { size * room / width }
}

/// Where question and answers lie.
#[derive(Clone, Debug, PartialEq)]
struct Places {
    question: Rect,
    answers: Vec<Rect>,
    show: Rect,
}

impl Places {
    /// In `area`, for so many answers, in type of this size: side by side in the middle.
    fn of(area: Rect, count: usize, size: f32) -> Self {
        // In shares of the type size: question, space, answers, space, the way past the question.
        let shares = [1.6, 0.2, 2.4, 0.35, 1.1];
        let whole: f32 = shares.iter().sum();
        let unit = size.min(area.height() / whole);
        let mut top = area.center().y - unit * whole / 2.0;
        let mut row = |share: f32| {
            let rect = Rect::from_x_y_ranges(area.x_range(), top..=top + share * unit);
            top = rect.bottom();
            rect
        };
        let [question, _, answers, _, show] = shares.map(&mut row);
        let between = 0.6 * unit;
        let count_f = count.max(1) as f32;
        let width = ((area.width() - between * (count_f + 1.0)) / count_f).min(7.0 * unit);
        let used = width * count_f + between * (count_f - 1.0);
        let left = area.center().x - used / 2.0;
        let answers = (0..count)
            .map(|index| {
                let left = left + index as f32 * (width + between);
                Rect::from_min_size(pos2(left, answers.top()), vec2(width, answers.height()))
            })
            .collect();
        let wide = (12.0 * unit).min(area.width());
        Self {
            question,
            answers,
            show: Rect::from_center_size(show.center(), vec2(wide, show.height())),
        }
    }
}

fn asking_ui(
    ui: &mut Ui,
    area: Rect,
    question: Question,
    stand: &Stand,
    theme: &Theme,
) -> Vec<Action> {
    let said = question_text(question);
    let foot = tally_ui(ui, area, stand, theme);
    let upper = Rect::from_min_max(area.min, pos2(area.right(), foot));
    let offered = answers(question);
    let places = Places::of(upper, offered.len(), theme.sizes.big_word);
    let response = ui.interact(places.question, Id::unique("question"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, said));
    let painter = ui.painter_at(area);
    let size = theme.sizes.big_word.min(0.5 * places.question.height());
    let size = fitting(&painter, said, size, area.width(), theme);
    painter.text(
        places.question.center(),
        Align2::CENTER_CENTER,
        said,
        theme.word_font(size),
        theme.ink,
    );
    let keys = &stand.shell.options().keys;
    let mut actions = Vec::new();
    let [answers @ .., reveal] = &QUESTION;
    for (index, (&answer, place)) in offered.iter().zip(&places.answers).enumerate() {
        let button = Button {
            name: answer.said(),
            keys: answers.get(index).map_or_else(String::new, |row| keys.listed(&row.entry)),
            place: *place,
            size: theme.sizes.big_word,
            beside: false,
        };
        if button.ui(ui, Id::unique(("answer", index)), theme) {
            actions.push(Action::Answer(answer));
        }
    }
    let show = Button {
        name: "show without an answer",
        keys: keys.listed(&reveal.entry),
        place: places.show,
        size: theme.sizes.word,
        beside: true,
    };
    if show.ui(ui, Id::unique("show"), theme) {
        actions.extend(reveal.action(stand, &stand.shell));
    }
    actions
}

/// A button with its name and its keys.
struct Button {
    name: &'static str,
    keys: String,
    place: Rect,
    /// Largest type of the name.
    size: f32,
    /// The keys stand beside the name, not under it.
    beside: bool,
}

impl Button {
    /// Draws it; whether it was pressed.
    fn ui(&self, ui: &mut Ui, id: Id, theme: &Theme) -> bool {
        let response = ui.interact(self.place, id, Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, self.name));
        ui.ctx().accesskit_node_builder(id, |node| node.set_keyboard_shortcut(self.keys.as_str()));
        if !ui.is_rect_visible(self.place) {
            return response.clicked();
        }
        let painter = ui.painter();
        let edge = match (response.has_focus(), response.hovered()) {
            (true, _) => Stroke::new(theme.sizes.value, theme.ink),
            (false, true) => Stroke::new(theme.sizes.rule, theme.ink),
            (false, false) => theme.rule_stroke(),
        };
        painter.rect_filled(self.place, 4.0, theme.patch);
        painter.rect_stroke(self.place, 4.0, edge, StrokeKind::Inside);
        let inner = self.place.shrink(0.08 * self.place.height());
        let sizes = &theme.sizes;
        let (upper, lower) = if self.beside {
            let names = 0.62 * inner.width();
            inner.split_left_right_at_x(inner.left() + names)
        } else {
            let names = 0.6 * inner.height();
            inner.split_top_bottom_at_y(inner.top() + names)
        };
        for (text, rect, most, ink) in [
            (self.name, upper, self.size, theme.ink),
            (&self.keys, lower, sizes.caption, theme.soft_ink),
        ] {
            let size = most.min(0.72 * rect.height());
            let size = fitting(painter, text, size, 0.9 * rect.width(), theme);
            let font = theme.word_font(size);
            painter.text(rect.center(), Align2::CENTER_CENTER, text, font, ink);
        }
        response.clicked()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn question_and_answers_stand_apart_within_the_area() {
        for size in [vec2(604.0, 180.0), vec2(988.0, 300.0), vec2(2500.0, 1000.0)] {
            let area = Rect::from_min_size(pos2(18.0, 120.0), size);
            for count in [2, 3] {
                for scale in [46.0, 92.0, 115.0] {
                    let places = Places::of(area, count, scale);
                    let mut all = places.answers.clone();
                    all.extend([places.question, places.show]);
                    for (i, place) in all.iter().enumerate() {
                        assert!(area.expand(0.01).contains_rect(*place), "{size} {scale} {i}");
                        assert!(place.is_positive(), "{size} {scale} {i}");
                        for other in &all[i + 1..] {
                            let over = place.intersect(*other);
                            assert!(over.width() <= 0.01 || over.height() <= 0.01);
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn every_answer_has_a_word_of_its_own() {
        for question in Question::ALL {
            let mut said: Vec<&str> = answers(question).iter().map(|&a| a.said()).collect();
            said.sort_unstable();
            said.dedup();
            assert_eq!(said.len(), answers(question).len(), "{question:?}");
        }
    }
}
