//! Model and echo laid over each other: what all such pictures have in common, and the picture of one note.

use crate::played::{Point, joined};
use crate::sheet::{self, DOUBTFUL_BELOW, Line, Sheet, Times};
use crate::{Meaning, Picture};
use coach::{Align, Comparison, Instant, Pair, Phrase, cycles_at};
use emath::{Align2, Pos2, Rangef, Rect, pos2};
use tuning::figure::{number, signed};
use tuning::{Cents, Hz, Naming, Secs, pitch_name};
use vibrato::Note;

/// The least that is shown above and below the middle, in cents, and the room around the outermost pitch.
const LEAST_REACH_CENTS: f64 = 30.0;
const ROOM: f64 = 1.2;
/// While something sounds the height grows by so many cents at a time.
const PAGE_CENTS: f64 = 20.0;
/// A share of the frames at either end of the pitches that does not widen the view: attacks.
const OUTLIERS: f64 = 0.02;
/// Pitches farther away than this are another note.
const ASTRAY_CENTS: f64 = 600.0;
/// The strip of widths takes this share of the height, where that leaves enough.
const STRIP: f32 = 0.24;
/// What sounds is written on pages that are so long, in seconds, each twice as long as the one before.
const PAGE_SECS: f64 = 2.0;
/// What the height of the strip of widths may stand for, in cents.
const TOPS_CENTS: [f64; 6] = [20.0, 40.0, 80.0, 150.0, 300.0, 500.0];
/// Distances of the marks along the foot: seconds or oscillations.
const STEPS: [f64; 7] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0];
/// Distances of the marks at the right, in cents.
const STEPS_CENTS: [f64; 6] = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0];

/// Where the sheet of an overlay lies from left to right: names at the left, cents at the right.
pub(crate) fn across(area: Rect, scale: f32) -> Rangef {
    Rangef::new(area.left() + 3.6 * scale, area.right() - 3.0 * scale)
}

/// Height of the lane of the legend.
pub fn lane_height(caption: f32) -> f32 {
    1.7 * caption
}

/// Which line is whose, in a lane of captions at the top of `area`; at its right what is said of the whole.
pub fn legend(picture: &mut Picture, area: Rect, entries: &[(Meaning, &str)], said: Option<&str>) {
    let size = picture.sizes.caption;
    let foot = area.top() + 1.05 * size;
    let middle = foot - 0.32 * size;
    let mut left = across(area, picture.sizes.scale).min;
    for (line, said) in entries {
        picture.hline(*line, left..=left + 1.6 * size, middle);
        left = picture.write(Meaning::Name, pos2(left + 2.0 * size, foot), said) + size;
    }
    if let Some(said) = said {
        let size = picture.fitting(Meaning::Caption, said, area.right() - left);
        let at = pos2(area.right(), middle);
        picture.text_sized(Meaning::Caption, at, Align2::RIGHT_CENTER, said, size);
    }
}

/// Words in the place of an overlay that is not to be seen yet.
pub fn hidden(picture: &mut Picture, area: Rect, said: &str) {
    let size = picture.fitting(Meaning::LastBigWord, said, area.width() - 20.0);
    picture.text_sized(Meaning::LastBigWord, area.center(), Align2::CENTER_CENTER, said, size);
    picture.rect(Meaning::Guide, area);
}

/// Where the page ends on which something is written that has come to `now`; it holds the model's `whole`.
pub(crate) fn page_end(now: f64, whole: f64) -> f64 {
    if whole >= now {
        return whole.max(1.0);
    }
    let mut end = PAGE_SECS;
    while end < now {
        end *= 2.0;
    }
    end
}

/// The note's line and lines around it, with their cents at the right.
fn cents(picture: &mut Picture, sheet: &Sheet) {
    let size = picture.sizes.scale;
    let (low, high) = (sheet.middle.0 - sheet.reach.0, sheet.middle.0 + sheet.reach.0);
    let cent = f64::from(sheet.y.span()) / (high - low);
    let fits = |step: &f64| step * cent >= f64::from(1.5 * size);
    let step = STEPS_CENTS.into_iter().find(fits).unwrap_or(STEPS_CENTS[STEPS_CENTS.len() - 1]);
    for mark in (low / step).ceil() as i32..=(high / step).floor() as i32 {
        let cents = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(cents));
        let line = if mark == 0 { Meaning::OwnLine } else { Meaning::NoteLine };
        picture.hline(line, sheet.times.x, y);
        if y > sheet.y.max - 0.7 * size {
            // The strip of widths has its own number there.
            continue;
        }
        let at = pos2(sheet.times.x.max + 0.4 * size, y);
        picture.text(Meaning::ScaleNumber, at, Align2::LEFT_CENTER, signed(cents, 0));
    }
}

/// Seconds or oscillations along the foot of all that stands one below another over `y`.
pub(crate) fn along(picture: &mut Picture, times: &Times, y: Rangef, unit: &str) {
    let size = picture.sizes.scale;
    let (from, to) = (times.oldest().0, times.newest.0);
    let second = f64::from(times.x.span()) / (to - from);
    let fits = |step: &f64| step * second >= f64::from(3.0 * size);
    let step = STEPS.into_iter().find(fits).unwrap_or(STEPS[STEPS.len() - 1]);
    let decimals = usize::from(step < 1.0);
    let right = times.x.max - picture.width(Meaning::ScaleNumber, unit) - size;
    for mark in (from / step).ceil() as i32..=(to / step).floor() as i32 {
        let at = f64::from(mark) * step;
        let x = times.x_from_secs(Secs(at));
        picture.vline(Meaning::Guide, x, y);
        if x < right {
            let place = pos2(x, y.max + 0.1 * size);
            let said = number(Some(at), decimals, false);
            picture.text(Meaning::ScaleNumber, place, Align2::CENTER_TOP, said);
        }
    }
    let place = pos2(times.x.max, y.max + 0.1 * size);
    picture.text(Meaning::ScaleNumber, place, Align2::RIGHT_TOP, unit);
}

/// How the width runs through a note of both: where, and how wide.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Widths {
    /// The model's.
    model: Vec<(f64, Cents)>,
    /// The echo's.
    echo: Vec<(f64, Cents)>,
}

impl Widths {
    /// Those of a pair, whose notes begin at these times.
    pub(crate) fn of(
        comparison: &Comparison,
        pair: &Pair,
        align: Align,
        starts: (f64, f64),
    ) -> Self {
        // An oscillation stands in the middle of its own.
        let ahead = if align == Align::Cycles { 0.5 } else { 0.0 };
        let course = comparison.course(pair, align);
        Self {
            model: course.iter().map(|p| (starts.0 + p.at + ahead, p.model.1)).collect(),
            echo: course.iter().map(|p| (starts.1 + p.at + ahead, p.echo.1)).collect(),
        }
    }
}

/// How the width runs through notes of both, in lines.
pub(crate) fn widths(picture: &mut Picture, lane: Rect, times: &Times, all: &[Widths]) {
    let size = picture.sizes.scale;
    let each = || all.iter().flat_map(|notes| notes.model.iter().chain(&notes.echo));
    let widest = each().fold(0.0, |most: f64, (_, width)| most.max(width.0));
    let fits = |top: &f64| widest <= *top;
    let top = TOPS_CENTS.into_iter().find(fits).unwrap_or(TOPS_CENTS[TOPS_CENTS.len() - 1]);
    let place = |&(at, width): &(f64, Cents)| {
        let share = (width.0 / top).clamp(0.0, 1.0) as f32;
        pos2(times.x_from_secs(Secs(at)), lane.bottom() - share * lane.height())
    };
    picture.hline(Meaning::Axis, lane.x_range(), lane.bottom());
    picture.hline(Meaning::Guide, lane.x_range(), lane.top());
    let beside = pos2(lane.left() - 0.4 * size, lane.center().y);
    picture.text(Meaning::ScaleNumber, beside, Align2::RIGHT_CENTER, "width");
    let at = pos2(lane.right() + 0.4 * size, lane.top());
    picture.text(Meaning::ScaleNumber, at, Align2::LEFT_CENTER, format!("{top:.0}"));
    for notes in all {
        for (line, meaning) in [(&notes.model, Meaning::Model), (&notes.echo, Meaning::Echo)] {
            let places: Vec<Pos2> = line.iter().map(place).collect();
            if places.len() > 1 {
                picture.line(meaning, places);
            }
        }
    }
}

/// The lines of model or echo on a sheet.
pub(crate) fn course(
    picture: &mut Picture,
    sheet: &Sheet,
    meanings: (Meaning, Meaning),
    lines: &[Line],
) {
    let place = |time, pitch| sheet.place(time, Cents(pitch));
    picture.lines(meanings, lines, sheet.room(), place);
}

/// The model's pens, and the echo's.
pub(crate) const MODEL: (Meaning, Meaning) = (Meaning::Model, Meaning::FaintModel);
/// The echo's pens.
pub(crate) const ECHO: (Meaning, Meaning) = (Meaning::Echo, Meaning::FaintEcho);

/// The pitch of some instants as points against `reference`, their times less `by`.
pub(crate) fn points(instants: &[Instant], by: Secs, reference: Hz) -> Vec<Point> {
    let mut before = None;
    let point = |instant: &Instant| {
        let joined = joined(before.replace(instant.time), instant.time);
        Point {
            time: Secs(instant.time.0 - by.0),
            pitch: instant.f0.map(|f0| f0.cents_above(reference)),
            confidence: instant.confidence,
            level_dbfs: 0.0,
            joined,
        }
    };
    instants.iter().map(point).collect()
}

/// Those of `instants` that lie between two times.
pub(crate) fn between(instants: &[Instant], (start, end): (Secs, Secs)) -> &[Instant] {
    let from = instants.partition_point(|instant| instant.time < start);
    let to = instants.partition_point(|instant| instant.time <= end);
    &instants[from..to.max(from)]
}

/// The pitch of a note against its own line, so many semitones beside the one that was meant; times from its start, or
/// in its oscillations.
fn of_note(instants: &[Instant], note: &Note, align: Align, astray: i32) -> Vec<Point> {
    let instants = between(instants, (note.start, note.end));
    let mut points = points(instants, note.start, note.reference);
    for (point, instant) in points.iter_mut().zip(instants) {
        if let Some(pitch) = &mut point.pitch {
            pitch.0 += 100.0 * f64::from(astray);
        }
        if align == Align::Cycles && note.vibrato.is_some() {
            point.time = Secs(cycles_at(note, instant.time).unwrap_or_default());
        }
    }
    points
}

/// One note of the model and the one that answers it.
#[derive(Clone, Debug, Default)]
pub struct OneNote {
    model: Option<Vec<Point>>,
    echo: Option<Vec<Point>>,
    name: Option<String>,
    widths: Option<Widths>,
    align: Align,
    /// Something sounds: time and height grow by whole steps.
    sounds: bool,
}

impl OneNote {
    /// The note of this number of the model, and what answers it.
    pub fn of(
        model: &Phrase,
        number: usize,
        answer: Option<(&Phrase, &Comparison, &Pair)>,
        align: Align,
        naming: Naming,
    ) -> Self {
        let Some(note) = model.notes.get(number) else {
            return Self::default();
        };
        let echo = answer.and_then(|(echo, comparison, pair)| {
            let note = comparison.echo.get(pair.echo)?;
            Some(of_note(&echo.course, note, align, pair.astray))
        });
        let widths =
            answer.map(|(_, comparison, pair)| Widths::of(comparison, pair, align, (0.0, 0.0)));
        Self {
            model: Some(of_note(&model.course, note, align, 0)),
            echo,
            name: Some(pitch_name(note.midi, naming)),
            widths: widths.filter(|widths| !widths.model.is_empty()),
            align,
            sounds: false,
        }
    }

    /// What sounds, or has just sounded, over the note of the model whose turn it is; `begun` is when the note that
    /// sounds began, and its line, as far as they are known.
    pub fn sounding(
        model: Option<&Phrase>,
        current: &Phrase,
        (start, reference): (Option<Secs>, Option<Hz>),
        naming: Naming,
    ) -> Self {
        let last = current.notes.last();
        let number = current.notes.len() - usize::from(start.is_none() && last.is_some());
        let shown = model.map(|model| Self::of(model, number, None, Align::NoteStart, naming));
        let echo = match (start.zip(reference), last) {
            (Some((start, reference)), _) => {
                let sounds = between(&current.course, (start, Secs(f64::MAX)));
                Some(points(sounds, start, reference))
            }
            (None, Some(last)) => Some(of_note(&current.course, last, Align::NoteStart, 0)),
            (None, None) => None,
        };
        Self { echo, sounds: true, ..shown.unwrap_or_default() }
    }

    fn points(&self) -> impl Iterator<Item = &Point> {
        [&self.model, &self.echo].into_iter().flatten().flatten()
    }

    /// The time or the oscillations that are shown.
    fn reach_of_time(&self) -> (f64, f64) {
        let times = self.points().map(|point| point.time.0);
        let (from, to) =
            times.fold((f64::MAX, f64::MIN), |(from, to), at| (from.min(at), to.max(at)));
        if from > to {
            return (0.0, 2.0);
        }
        if self.sounds {
            // The echo's line is written over the model's; where it comes to the end there is another page.
            let model = self.model.as_ref().and_then(|points| points.last());
            return (0.0, page_end(to, model.map_or(0.0, |point| point.time.0)));
        }
        match self.align {
            Align::NoteStart => (from.max(-0.1), to.max(from + 1.0)),
            Align::Cycles => (from.max(-3.0), to.max(from + 2.0)),
        }
    }

    /// The middle of the height and how far it reaches.
    fn view(&self) -> (Cents, Cents) {
        let mut cents: Vec<f64> = self
            .points()
            .filter(|point| point.confidence >= DOUBTFUL_BELOW)
            .filter_map(|point| point.pitch.map(Cents::get))
            .filter(|cents| cents.abs() < ASTRAY_CENTS)
            .collect();
        if cents.is_empty() {
            return (Cents(0.0), Cents(2.0 * LEAST_REACH_CENTS));
        }
        cents.sort_by(f64::total_cmp);
        let outside = (OUTLIERS * cents.len() as f64) as usize;
        let (low, high) = (cents[outside].min(0.0), cents[cents.len() - 1 - outside].max(0.0));
        if self.sounds {
            // Nothing creeps: it reaches as far to both sides, and farther by whole steps.
            let farthest = (ROOM * high.max(-low)).max(LEAST_REACH_CENTS);
            let reach = (farthest / PAGE_CENTS).ceil() * PAGE_CENTS;
            return (Cents(0.0), Cents(reach));
        }
        let reach = (ROOM * 0.5 * (high - low)).max(LEAST_REACH_CENTS);
        (Cents(0.5 * (low + high)), Cents(reach))
    }
}

/// Draws both under the lane of the legend.
pub fn one_note(picture: &mut Picture, area: Rect, shown: &OneNote) {
    let (from, to) = shown.reach_of_time();
    let unit = if shown.align == Align::Cycles { "oscillations" } else { "s" };
    let size = picture.sizes.scale;
    let lane = lane_height(picture.sizes.caption);
    let strip = shown.widths.as_ref().filter(|_| STRIP * area.height() > 2.6 * size);
    let height = strip.map_or(0.0, |_| STRIP * area.height());
    let foot = area.bottom() - 1.5 * size;
    let x = across(area, size);
    let apart = if strip.is_some() { 0.6 * size } else { 0.0 };
    let top = area.top() + lane;
    let y = Rangef::new(top, (foot - height - apart).max(top + 20.0));
    let times = Times { x, newest: Secs(to), span: Secs((to - from).max(0.1)) };
    let (middle, reach) = shown.view();
    let sheet = Sheet { times, y, middle, reach };
    cents(picture, &sheet);
    along(picture, &times, Rangef::new(y.min, foot), unit);
    if let Some(name) = &shown.name {
        let at = pos2(x.min - 0.4 * size, sheet.y_from_cents(Cents(0.0)));
        picture.text(Meaning::OwnName, at, Align2::RIGHT_CENTER, name.as_str());
    }
    for (points, meanings) in [(&shown.model, MODEL), (&shown.echo, ECHO)] {
        let pitch = |point: &Point| point.pitch.map(Cents::get);
        let lines = sheet::lines(points.iter().flatten(), &times, pitch, |_| true);
        course(picture, &sheet, meanings, &lines);
    }
    if let Some(both) = strip {
        let lane = Rect::from_x_y_ranges(x, foot - height..=foot);
        widths(picture, lane, &times, std::slice::from_ref(both));
    }
}
