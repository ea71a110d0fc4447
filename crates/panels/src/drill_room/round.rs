//! Counting in and playing: finger, count and rate in large figures, the pace wave, the turns.

use super::state::NOT_BOWED;
use super::turns_strip::{self, turns_strip_ui};
use super::wave::wave_ui;
use super::wave_axis::turn;
use super::{Phase, RoomContext, wording};
use crate::widgets::pen;
use coach::{Asked, Beat, Drill, Showing};
use egui::{Id, Painter, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use tuning::{Secs, pitch_name};

/// How large the finger is, as a multiple of a main figure, and how tall its digits are.
const FINGER: f32 = 1.75;
const DIGIT: f32 = 0.63;
/// A gap is told while the round goes on from this length on.
const CERTAIN_GAP: Secs = Secs(0.15);
/// What finger and count take of the width.
const FINGERS: f32 = 0.40;
const COUNTS: f32 = 0.32;

/// A wave is so tall at least, in sizes of words, before the strip of turns folds away.
const LEAST_WAVE: f32 = 8.5;

/// Draws the round into `area`.
pub(super) fn round_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let sizes = &context.theme.sizes;
    let head = FINGER * DIGIT * sizes.figure + 0.4 * sizes.caption;
    let strip = turns_strip::height(context);
    let left = area.left();
    let fingers = left + FINGERS * area.width();
    let counts = fingers + COUNTS * area.width();
    let top = area.with_max_y(area.top() + head);
    finger_ui(ui, top.with_max_x(fingers - sizes.between), context);
    let count = top.with_min_x(fingers).with_max_x(counts - sizes.between);
    count_ui(ui, count, context);
    rate_ui(ui, top.with_min_x(counts), context);
    let below = area.with_min_y(top.bottom() + 0.5 * sizes.between);
    // Large type in a small window: the wave says which turn is played, the strip folds away.
    if below.height() - strip < LEAST_WAVE * sizes.word {
        wave_ui(ui, below, context);
        return;
    }
    let foot = area.with_min_y(area.bottom() - strip);
    wave_ui(ui, below.with_max_y(foot.top() - 0.5 * sizes.between), context);
    turns_strip_ui(ui, foot, context);
}

/// The turn that is played or comes next, and the one after it.
fn here<'a>(context: &RoomContext<'a>) -> (Option<&'a Asked>, Option<&'a Asked>) {
    let Some(practice) = context.room.practice() else {
        return (None, None);
    };
    let turn = turn(context.room);
    (practice.asked().get(turn), practice.asked().get(turn + 1))
}

/// The finger, its note, and the next one.
fn finger_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let (Some(now), next) = here(context) else {
        return;
    };
    let theme = context.theme;
    let sizes = &theme.sizes;
    let naming = context.shell.naming();
    let step = |next: &Asked| {
        let drill = context.room.drill()?;
        wording::walks(drill).then(|| wording::step(drill, next))
    };
    let silent = context.room.practice().is_some_and(|practice| !practice.under_way());
    let aside = silent && context.room.has_set_aside();
    let next = next.filter(|_| !aside);
    let after = match next {
        None if aside => NOT_BOWED.trim_end_matches('.').to_owned(),
        Some(next) => match step(next) {
            Some(step) if next.finger == now.finger => format!("next: {step}"),
            Some(step) => format!("next {}, {step}", wording::finger(next.finger)),
            None => format!("next {}", wording::who(next, naming)),
        },
        None if is_over(context) => "silence ends the round".to_owned(),
        None if number_asked(context) == 1 => String::new(),
        None => "the last one".to_owned(),
    };
    let response = ui.interact(area, Id::unique("finger"), Sense::hover());
    response.widget_info(|| {
        let who = wording::who(now, naming);
        let said = [who.as_str(), &after].join(if after.is_empty() { "" } else { ", " });
        WidgetInfo::labeled(Role::Status, true, said)
    });
    let painter = ui.painter_at(area.expand(4.0));
    let size = FINGER * sizes.figure;
    let font = theme.figure_font(size);
    let foot = area.top() + DIGIT * size;
    let sign = wording::sign(now.finger);
    let at = pos2(area.left(), foot);
    let right = pen::write(&painter, at, &sign, font.clone(), theme.ink);
    let slot = pen::width(&painter, "0", font);
    let left = right.max(area.left() + slot) + 1.2 * sizes.between;
    let room = area.right() - left;
    let after = match next {
        Some(next) if next.finger != now.finger || step(next).is_none() => format!(
            "next {} · {}",
            wording::sign(next.finger),
            step(next).unwrap_or_else(|| pitch_name(next.midi, naming))
        ),
        _ => after,
    };
    // From below: the next finger, the note, and, where there is room for it, what the figure is.
    let space = foot - area.top();
    let font = theme.word_font((1.15 * sizes.word).min(0.34 * space));
    let font = pen::fitting(&painter, &after, font, room);
    let under = foot - 0.05 * font.size;
    pen::write(&painter, pos2(left, under), &after, font.clone(), theme.ink);
    let note = pitch_name(now.midi, naming);
    let above = under - 1.3 * font.size;
    let big = theme.figure_font(sizes.big_word.min((above - area.top()) / 0.75));
    let big = pen::fitting(&painter, &note, big, room);
    pen::write(&painter, pos2(left, above), &note, big.clone(), theme.ink);
    let caption = if now.finger == 0 { "thumb" } else { "finger" };
    let font = theme.word_font(sizes.caption);
    let at = pos2(left, area.top() + 0.9 * sizes.caption);
    if above - 0.8 * big.size > at.y {
        pen::write(&painter, at, caption, font, theme.soft_ink);
    }
}

/// Turns of a round.
fn number_asked(context: &RoomContext) -> usize {
    let practice = context.room.practice();
    practice.map_or(0, |practice| practice.asked().len())
}

/// All that was asked for has been played, or its time is over.
fn is_over(context: &RoomContext) -> bool {
    let room = context.room;
    let Some(practice) = room.practice() else {
        return false;
    };
    match practice.pacer() {
        Some(pacer) => pacer.at(room.now()) == Beat::After,
        None => {
            let last = practice.asked().len().saturating_sub(1);
            let asked = practice.asked().get(last).and_then(|asked| asked.count);
            let made = room.known().counts.get(last);
            asked.zip(made).is_some_and(|(asked, made)| *made >= asked)
        }
    }
}

/// What is counted: how many were made, or, while that is hidden, which one is wanted.
struct Count {
    large: String,
    of: String,
    caption: &'static str,
    spoken: String,
}

fn count(context: &RoomContext) -> Count {
    let room = context.room;
    let number = turn(room);
    let asked = room.practice().and_then(|p| p.asked().get(number));
    let of = asked.and_then(|asked| asked.count);
    let pacer = room.practice().and_then(|practice| practice.pacer());
    let beat = pacer.map(|pacer| pacer.at(room.now()));
    let counts = of.map_or_else(String::new, |of| format!("of {of}"));
    if room.phase() == Phase::CountIn {
        let (large, spoken) = match of {
            Some(of) => (of.to_string(), format!("{of} oscillations asked")),
            None => (String::new(), String::new()),
        };
        return Count {
            large,
            of: String::new(),
            caption: match room.practice().and_then(|p| wording::counts(p.asked())) {
                Some((least, most)) if least == most => "oscillations each",
                Some(_) => "oscillations first",
                None => "",
            },
            spoken,
        };
    }
    let live = context.shell.options().showing == Showing::Live;
    let made = room.known().counts.get(number).copied().unwrap_or(0);
    match (of, beat) {
        (Some(count), _) if live => Count {
            large: made.to_string(),
            of: counts,
            caption: "made",
            spoken: format!("made {made} of {count}"),
        },
        (Some(count), Some(Beat::Turn(place))) => {
            let wanted = place.oscillation.min(count);
            Count {
                large: wanted.to_string(),
                of: counts,
                caption: "wanted",
                spoken: format!("wanted {wanted} of {count}"),
            }
        }
        (None, Some(Beat::Turn(place))) => Count {
            large: place.beat.to_string(),
            of: String::new(),
            caption: match room.drill().and_then(Drill::strong_beat) {
                Some(strong) if strong == place.beat => "strong beat",
                _ => "beat",
            },
            spoken: room.drill().map_or_else(String::new, |drill| wording::beat(drill, place.beat)),
        },
        (Some(count), _) => Count {
            large: count.to_string(),
            of: String::new(),
            caption: "oscillations, hidden while you play",
            spoken: format!("{count} oscillations asked, the count is hidden while you play"),
        },
        _ => Count { large: String::new(), of: String::new(), caption: "", spoken: String::new() },
    }
}

fn count_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let Count { large, of, caption, spoken } = count(context);
    if spoken.is_empty() {
        return;
    }
    let theme = context.theme;
    let sizes = &theme.sizes;
    let response = ui.interact(area, Id::unique("count"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &spoken));
    let painter = ui.painter_at(area.expand(4.0));
    caption_ui(&painter, area, caption, context);
    let foot = pos2(area.left(), area.top() + FINGER * DIGIT * sizes.figure);
    let space = foot.y - area.top() - 1.4 * sizes.caption;
    let size = (space / DIGIT).clamp(sizes.figure, 1.3 * sizes.figure);
    let right = pen::write(&painter, foot, &large, theme.figure_font(size), theme.ink);
    let left = right + 0.25 * sizes.big_word;
    let font = theme.figure_font(0.9 * sizes.big_word);
    let font = pen::fitting(&painter, &of, font, (area.right() - left).max(1.0));
    pen::write(&painter, pos2(left, foot.y), &of, font, theme.soft_ink);
}

fn caption_ui(painter: &Painter, area: Rect, caption: &str, context: &RoomContext) {
    let theme = context.theme;
    let size = theme.sizes.caption;
    let font = pen::fitting(painter, caption, theme.word_font(size), area.width());
    let at = pos2(area.left(), area.top() + 0.9 * size);
    pen::write(painter, at, caption, font, theme.soft_ink);
}

/// The rate by now and what is asked for; what the drill asks where it is hidden.
fn rate_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let (room, theme) = (context.room, context.theme);
    let sizes = &theme.sizes;
    let (Some(asked), _) = here(context) else {
        return;
    };
    let Some(drill) = room.drill() else { return };
    let live = context.shell.options().showing == Showing::Live && room.phase() == Phase::Round;
    let straight = matches!(drill.kind, coach::Kind::Straight { .. });
    let mut lines = Vec::new();
    if live && !straight {
        let rate = room.known().rate;
        let rate = rate.map_or("– Hz".to_owned(), |rate| format!("{:.1} Hz", rate.0));
        lines.push((rate, true));
    }
    if !straight && let Some(rate) = asked.rate {
        lines.push((format!("asked {}", wording::hz(rate)), false));
    }
    let step = wording::step(drill, asked);
    // Where the step is the rate that is asked for, that stands there already.
    if !step.is_empty() && !lines.iter().any(|(line, _)| line.ends_with(&step)) {
        lines.push((step, true));
    }
    let region = matches!(drill.kind, coach::Kind::FieldWalk { .. });
    if let Some(width) = asked.width.filter(|_| region) {
        lines.push((wording::cents(width), false));
    }
    // While the motion goes on a short gap is not yet certain.
    let gap = room.known().gap.filter(|gap| gap.0 >= CERTAIN_GAP.0);
    if let Some(gap) = gap.filter(|_| live && wording::may_gap(drill, context.room.fingers())) {
        lines.push((format!("gap before it {:.1} s", gap.0), false));
    }
    let response = ui.interact(area, Id::unique("rate"), Sense::hover());
    response.widget_info(|| {
        let all: Vec<&str> = lines.iter().map(|(line, _)| line.as_str()).collect();
        WidgetInfo::labeled(Role::Label, true, format!("rate: {}", all.join(", ")))
    });
    let painter = ui.painter_at(area.expand(4.0));
    let caption = if straight { "straight" } else { "rate" };
    caption_ui(&painter, area, caption, context);
    let space = area.height() - 1.5 * sizes.caption;
    // What comes last is left out where type would become too small for it.
    while lines.len() > 1 && space / (lines.len() as f32) < 1.2 * sizes.caption {
        lines.pop();
    }
    let each = (space / lines.len().max(1) as f32).min(1.5 * sizes.word);
    let mut foot = area.top() + 1.3 * sizes.caption;
    for (line, main) in lines {
        foot += each;
        let size = if main { 1.2 * sizes.word } else { sizes.caption };
        let font = theme.word_font(size.min(each / 1.1));
        let font = pen::fitting(&painter, &line, font, area.width());
        let ink = if main { theme.ink } else { theme.soft_ink };
        pen::write(&painter, pos2(area.left(), foot - 0.2 * each), &line, font, ink);
    }
}
