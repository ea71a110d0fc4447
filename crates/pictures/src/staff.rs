//! A passage on a staff of five lines, each note at its place in time: so that the staff, the ribbons and a take share one axis.
//!
//! It is laid out once, in spaces between two lines; what is drawn of it are the bars in sight. Signs are those of SMuFL 1.4
//! (W3C Community Group), in a face that is cut from its reference font; where stems stand on heads is from that font's own table.

use std::collections::BTreeMap;

use coach::plan::{
    BeatUnit, Clef, Dynamic, HeadChange, Key, Meter, Passage, Pitch, PlanNote, Spelling,
};
use emath::{Align, Pos2, Rangef, Vec2, pos2, vec2};

use crate::note_value::{NoteValue, values};
use crate::{Face, Meaning, Picture, Shape};

/// From the font's table `bravura_metadata.json`: where stems meet heads, and how thick beams are, in spaces.
const STEM_UP: Vec2 = vec2(1.18, -0.168);
const STEM_DOWN: Vec2 = vec2(0.0, 0.168);
const BEAM: f32 = 0.5;
const BEAM_BELOW_BEAM: f32 = 0.75;
/// How long stems are: an octave of the staff (E. Gould, "Behind Bars", from memory).
const STEM: f32 = 3.5;
/// Room between a bar line, or the beginning of a note in time, and the head; an accidental stands there.
const LEAD: f32 = 1.5;
/// The least room for the shortest note, and for a quarter.
const LEAST_NOTE: f32 = 3.4;
const LEAST_QUARTER: f32 = 5.0;
/// Small notes are so much smaller.
const SMALL: f32 = 0.62;
/// Heights above and below the staff for fingers and loudness.
const FINGER_ABOVE: f32 = 1.3;
const LOUDNESS_BELOW: f32 = 3.6;

/// A passage, laid out. All lengths are in spaces between two lines; x begins at the first bar line, y at the top line.
#[derive(Clone, Debug)]
pub struct Staff {
    /// What stands before the bars: clef, key and meter before the first one, and clef and key from each x on where they
    /// change. Their x ends at 0.
    heads: Vec<(f32, Vec<Sign>)>,
    head_width: f32,
    bars: Vec<LaidBar>,
    curves: Vec<Curve>,
    /// Of each note of the passage: where its time begins and ends.
    times: Vec<Rangef>,
    /// The lowest and the highest y that is drawn.
    reach: Rangef,
}

/// A bar: where it is, and what is in it.
#[derive(Clone, Debug, Default)]
struct LaidBar {
    number: u32,
    x: f32,
    end: f32,
    signs: Vec<Sign>,
    lines: Vec<(Meaning, [Pos2; 2])>,
    beams: Vec<[Pos2; 4]>,
    words: Vec<(Pos2, String)>,
}

#[derive(Clone, Debug)]
struct Sign {
    foot: Pos2,
    glyph: String,
    scale: f32,
}

/// A slur or tie: its ends, and how far its middle stands off.
#[derive(Clone, Copy, Debug)]
struct Curve {
    from: Pos2,
    to: Pos2,
    bulge: f32,
}

impl Staff {
    /// Lays a passage out.
    pub fn new(passage: &Passage) -> Self {
        let mut work = Work::new(passage);
        let mut at = 0;
        for notes in passage.bars() {
            work.bar(passage, notes, at);
            at += notes.len();
        }
        work.slurs(passage);
        work.done()
    }

    /// How wide clef, key and meter are at most, and how wide the bars.
    pub fn widths(&self) -> (f32, f32) {
        (self.head_width, self.bars.last().map_or(0.0, |bar| bar.end))
    }

    /// The highest and the lowest place that is drawn; the five lines lie from 0 to 4.
    pub fn reach(&self) -> Rangef {
        self.reach
    }

    /// From where to where the time of a note lies, rests counted.
    pub fn time_of(&self, note: usize) -> Option<Rangef> {
        self.times.get(note).copied()
    }

    /// Where bars begin, with their numbers.
    pub fn bar_lines(&self) -> impl Iterator<Item = (u32, f32)> {
        self.bars.iter().map(|bar| (bar.number, bar.x))
    }

    /// Draws the bars of which something lies within `seen` (in points from the first bar line), with the first bar line and the
    /// top line at `origin` and so many points to a space; and, where it is asked for, what holds there of clef, key and meter to
    /// the left of what is seen.
    pub fn draw(&self, picture: &mut Picture, origin: Pos2, space: f32, seen: Rangef, head: bool) {
        let seen = Rangef::new(seen.min / space, seen.max / space);
        let place = |at: Pos2| origin + at.to_vec2() * space;
        let first = self.bars.partition_point(|bar| bar.end < seen.min);
        let count = self.bars[first..].partition_point(|bar| bar.x <= seen.max);
        let bars = &self.bars[first..first + count];
        let begin = seen.min.max(0.0);
        let left = if head { begin - self.head_width } else { begin };
        let right = bars.last().map_or(left, |bar| bar.end);
        for line in 0..5 {
            let y = line as f32;
            let ends = [pos2(left, y), pos2(right, y)].map(place);
            picture.line(Meaning::StaffLine, ends.to_vec());
        }
        let sign = |picture: &mut Picture, sign: &Sign| {
            let size = 4.0 * space * sign.scale;
            picture.write_sized(Meaning::StaffSign, place(sign.foot), &sign.glyph, size);
        };
        // A bar that changes them says so itself.
        let holds = self.heads.partition_point(|(from, _)| *from < begin).max(1) - 1;
        if let Some((_, signs)) = self.heads.get(holds).filter(|_| head) {
            let shift = vec2(begin, 0.0);
            for each in signs {
                sign(picture, &Sign { foot: each.foot + shift, ..each.clone() });
            }
        }
        for bar in bars {
            for x in [bar.x, bar.end] {
                picture.line(Meaning::Axis, [pos2(x, 0.0), pos2(x, 4.0)].map(place).to_vec());
            }
            for (meaning, ends) in &bar.lines {
                picture.line(*meaning, ends.map(place).to_vec());
            }
            for beam in &bar.beams {
                picture.polygon(Meaning::Beam, beam.map(place).to_vec());
            }
            bar.signs.iter().for_each(|each| sign(picture, each));
            for (foot, words) in &bar.words {
                let shape = Shape::Words {
                    foot: place(*foot),
                    align: Align::Min,
                    words: words.clone(),
                    size: 2.0 * space,
                };
                picture.mark(Meaning::ScaleNumber, shape);
            }
        }
        for curve in self.curves.iter().filter(|it| it.to.x >= seen.min && it.from.x <= seen.max) {
            // Two arcs that part in the middle and meet at the ends.
            for thick in [0.0, 0.14] {
                let corners = (0..=16).map(|step| curve.at(step as f32 / 16.0, thick));
                picture.line(Meaning::Bow, corners.map(place).collect());
            }
        }
    }
}

impl Curve {
    /// A place on it: a parabola through its ends.
    fn at(&self, share: f32, thick: f32) -> Pos2 {
        let off = 4.0 * share * (1.0 - share) * (self.bulge + thick * self.bulge.signum());
        self.from + (self.to - self.from) * share + vec2(0.0, off)
    }
}

/// A head that was set, for beams, slurs and ties.
#[derive(Clone, Copy, Debug)]
struct Head {
    note: usize,
    /// Left edge, and the y of the highest and the lowest head on the stem.
    x: f32,
    top: f32,
    bottom: f32,
    value: NoteValue,
    /// Quarters from the start of the bar.
    at: f64,
    up: bool,
    rest: bool,
}

impl Head {
    fn stem_x(&self) -> f32 {
        self.x + if self.up { STEM_UP.x } else { STEM_DOWN.x }
    }
}

struct Work {
    unit: BeatUnit,
    quarter: f32,
    octave_up: bool,
    clef: Clef,
    key: Key,
    meter: Meter,
    staff: Staff,
    heads: Vec<Head>,
    /// The bar that is laid out.
    bar: LaidBar,
    /// Sharps that hold in this bar, by step of the staff.
    signs: BTreeMap<i32, i8>,
}

impl Work {
    fn new(passage: &Passage) -> Self {
        let unit = passage.meter.of;
        let per_beat = f64::from(unit.eighths()) / 2.0;
        let shortest =
            passage.notes().iter().map(|note| note.beats.get() * per_beat).fold(1.0, f64::min);
        let quarter = (LEAST_NOTE / shortest.max(0.05) as f32).max(LEAST_QUARTER);
        let mut work = Self {
            unit,
            quarter,
            octave_up: passage.instrument.starts_with("double-bass"),
            clef: passage.clef,
            key: passage.key,
            meter: passage.meter,
            staff: Staff {
                heads: Vec::new(),
                head_width: 0.0,
                bars: Vec::new(),
                curves: Vec::new(),
                times: Vec::with_capacity(passage.notes().len()),
                reach: Rangef::new(0.0, 4.0),
            },
            heads: Vec::with_capacity(passage.notes().len()),
            bar: LaidBar::default(),
            signs: BTreeMap::new(),
        };
        work.stands_before(0.0, Some(work.meter));
        work
    }

    /// What stands before the bars from x on.
    fn stands_before(&mut self, from: f32, meter: Option<Meter>) {
        let (mut signs, mut x) = (Vec::new(), 0.8);
        clef_sign(self.clef, &mut signs, &mut x);
        key_signs(self.key, self.clef, &mut signs, &mut x);
        if let Some(meter) = meter {
            meter_signs(meter, &mut signs, &mut x);
        }
        for sign in &mut signs {
            sign.foot.x -= x;
        }
        self.staff.heads.push((from, signs));
        self.staff.head_width = self.staff.head_width.max(x);
    }

    /// Lays out a bar, whose first note has the number `first` in the passage.
    fn bar(&mut self, passage: &Passage, notes: &[PlanNote], first: usize) {
        let number = notes[0].at.bar;
        let x = self.staff.bars.last().map_or(0.0, |bar| bar.end);
        self.bar = LaidBar { number, x, end: x, ..LaidBar::default() };
        let mut lead = x;
        for change in passage.changes.iter().filter(|change| change.bar == number) {
            lead = self.change(*change, lead);
            self.stands_before(lead, None);
        }
        self.signs.clear();
        let begin = self.heads.len();
        let start = notes[0].at.beat.get();
        let per_beat = f64::from(self.unit.eighths()) / 2.0;
        let mut end = 0.0f64;
        for (offset, note) in notes.iter().enumerate() {
            let at = (note.at.beat.get() - start) * per_beat;
            let length = note.beats.get() * per_beat;
            let time = |quarters: f64| lead + quarters as f32 * self.quarter;
            self.staff.times.push(Rangef::new(time(at), time(at + length)));
            self.note(note, first + offset, lead, at);
            end = end.max(at + length);
        }
        self.stems(begin);
        self.tuplets(begin);
        self.marks(notes, first, begin);
        self.bar.end = lead + end as f32 * self.quarter;
        let middle = (self.bar.x + self.bar.end) / 2.0;
        let alone = &self.heads[begin..];
        // The rest of a whole bar stands in its middle, whatever the meter.
        if let [Head { rest: true, .. }] = alone
            && let Some(sign) = self.bar.signs.last_mut()
        {
            *sign = Sign { foot: pos2(middle, 1.0), ..sign_of(glyph::REST_WHOLE) };
        }
        self.staff.bars.push(std::mem::take(&mut self.bar));
    }

    /// Draws what changes with this bar behind its bar line; says where its time begins.
    fn change(&mut self, change: HeadChange, mut x: f32) -> f32 {
        x += 0.8;
        self.clef = change.clef.unwrap_or(self.clef);
        if change.clef.is_some() {
            clef_sign(self.clef, &mut self.bar.signs, &mut x);
        }
        if let Some(key) = change.key {
            // Signs that hold no more are taken back where no others follow.
            if key.sharps == 0 {
                for at in key_steps(self.key, self.clef) {
                    self.bar
                        .signs
                        .push(Sign { foot: pos2(x, y_of(at)), ..sign_of(glyph::NATURAL) });
                    x += 0.9;
                }
            }
            self.key = key;
            key_signs(key, self.clef, &mut self.bar.signs, &mut x);
        }
        if let Some(meter) = change.meter {
            self.meter = meter;
            meter_signs(meter, &mut self.bar.signs, &mut x);
        }
        x
    }

    /// The step of a pitch above the middle line of the clef.
    fn step(&self, pitch: Spelling) -> i32 {
        let letter = "CDEFGAB".find(pitch.letter()).unwrap_or(0) as i32;
        let middle = match self.clef {
            Clef::Treble => 34,
            Clef::Alto => 28,
            Clef::Tenor => 26,
            Clef::Bass => 22,
        };
        // A bass is written an octave above what sounds.
        letter + 7 * (i32::from(pitch.octave()) + i32::from(self.octave_up)) - middle
    }

    /// Sets the heads of a note, or a rest.
    fn note(&mut self, note: &PlanNote, number: usize, lead: f32, at: f64) {
        let pitches: Vec<Spelling> = match note.pitch {
            Pitch::Rest => Vec::new(),
            Pitch::Single(one) => vec![one],
            Pitch::Double(low, high) => vec![low, high],
        };
        let mut at = at;
        for (part, value) in values(note.beats, self.unit).into_iter().enumerate() {
            let x = lead + at as f32 * self.quarter + LEAD;
            let steps: Vec<i32> = pitches.iter().map(|pitch| self.step(*pitch)).collect();
            let (top, bottom) = match (steps.iter().max(), steps.iter().min()) {
                (Some(high), Some(low)) => (y_of(*high), y_of(*low)),
                _ => (2.0, 2.0),
            };
            let up = steps.iter().sum::<i32>() < 0;
            let head =
                Head { note: number, x, top, bottom, value, at, up, rest: pitches.is_empty() };
            let joined = part > 0 || note.tie;
            if head.rest {
                self.rest(&head);
            } else {
                if !joined {
                    self.accidentals(&pitches, &steps, x);
                    self.graces(&note.grace, x);
                }
                self.head(&head, &steps);
                if joined {
                    self.tie(&head);
                }
            }
            self.heads.push(head);
            at += value.quarters;
        }
    }

    fn sign(&mut self, at: Pos2, glyph: char) {
        self.bar.signs.push(Sign { foot: at, ..sign_of(glyph) });
        self.staff.reach.min = self.staff.reach.min.min(at.y - 1.0);
        self.staff.reach.max = self.staff.reach.max.max(at.y + 1.0);
    }

    fn rest(&mut self, head: &Head) {
        let (glyph, y) = match head.value.shape {
            8.0 => (glyph::REST_BREVE, 2.0),
            4.0 => (glyph::REST_WHOLE, 1.0),
            2.0 => (glyph::REST_HALF, 2.0),
            1.0 => (glyph::REST_QUARTER, 2.0),
            _ => (glyph::RESTS[head.value.flags().clamp(1, 3) - 1], 2.0),
        };
        self.sign(pos2(head.x, y), glyph);
        self.dots(head, 1.5);
    }

    fn head(&mut self, head: &Head, steps: &[i32]) {
        let glyph = match head.value.shape {
            8.0.. => glyph::HEAD_BREVE,
            4.0 => glyph::HEAD_WHOLE,
            2.0 => glyph::HEAD_HALF,
            _ => glyph::HEAD,
        };
        for step in steps {
            self.sign(pos2(head.x, y_of(*step)), glyph);
            // Ledger lines, on even steps beyond the staff.
            let beyond = if *step > 0 { (6..=*step).step_by(2) } else { (-step..=-6).step_by(2) };
            let below = (6..=-*step).step_by(2).map(|step| -step);
            for line in beyond.filter(|line| *line > 0).chain(below) {
                let y = y_of(line);
                self.bar
                    .lines
                    .push((Meaning::StaffLine, [pos2(head.x - 0.4, y), pos2(head.x + 1.6, y)]));
            }
            // On a line the dot stands in the space above.
            let up = if step % 2 == 0 { 0.5 } else { 0.0 };
            self.dots(head, y_of(*step) - up);
        }
    }

    fn dots(&mut self, head: &Head, y: f32) {
        for dot in 0..head.value.dots {
            self.sign(pos2(head.x + 1.6 + 0.6 * f32::from(dot), y), glyph::DOT);
        }
    }

    fn accidentals(&mut self, pitches: &[Spelling], steps: &[i32], x: f32) {
        for (pitch, step) in pitches.iter().zip(steps) {
            let held = self
                .signs
                .get(step)
                .copied()
                .unwrap_or_else(|| key_alter(self.key, pitch.letter()));
            if held == pitch.alter() {
                continue;
            }
            self.signs.insert(*step, pitch.alter());
            let glyph = glyph::ACCIDENTALS[(pitch.alter() + 2).clamp(0, 4) as usize];
            let wide = advance(glyph, 1.0);
            self.sign(pos2(x - wide - 0.2, y_of(*step)), glyph);
        }
    }

    fn graces(&mut self, graces: &[Spelling], x: f32) {
        let wide = 1.0;
        for (at, pitch) in graces.iter().rev().take(4).enumerate() {
            let x = x - 0.9 - wide * (at + 1) as f32;
            let y = y_of(self.step(*pitch));
            self.bar.signs.push(Sign { foot: pos2(x, y), scale: SMALL, ..sign_of(glyph::HEAD) });
            let stem = x + STEM_UP.x * SMALL;
            self.bar.lines.push((Meaning::Stem, [pos2(stem, y), pos2(stem, y - STEM * SMALL)]));
        }
    }

    /// A tie from the head before.
    fn tie(&mut self, head: &Head) {
        let Some(before) = self.heads.last().filter(|before| !before.rest) else { return };
        let (side, y) = if head.up { (1.0, head.bottom + 0.6) } else { (-1.0, head.top - 0.6) };
        let (from, to) = (pos2(before.x + 1.2, y), pos2(head.x, y));
        self.staff.curves.push(Curve { from, to, bulge: 0.7 * side });
    }

    /// Stems, and the flags or beams on them, of the heads from `begin` on.
    fn stems(&mut self, begin: usize) {
        let of_beat = match self.meter {
            Meter { beats, of: BeatUnit::Eighth } if beats.is_multiple_of(3) => 1.5,
            Meter { of: BeatUnit::Half, .. } => 1.0,
            _ => 1.0,
        };
        let beat = |head: &Head| ((head.at + 1e-6) / of_beat).floor() as i64;
        let beamed = |head: &Head| !head.rest && (1..=2).contains(&head.value.flags());
        let mut at = begin;
        while at < self.heads.len() {
            let first = self.heads[at];
            let same = |head: &Head| beamed(head) && beat(head) == beat(&first);
            let count = self.heads[at..].iter().take_while(|head| same(head)).count();
            if count >= 2 {
                self.beam(at, at + count);
                at += count;
            } else {
                self.stem(first);
                at += 1;
            }
        }
    }

    fn stem(&mut self, head: Head) {
        if head.rest || head.value.shape >= 4.0 {
            return;
        }
        let x = head.stem_x();
        // Stems of far heads reach the middle line.
        let (foot, end) = match head.up {
            true => (head.bottom + STEM_UP.y, (head.top - STEM).min(2.0)),
            false => (head.top + STEM_DOWN.y, (head.bottom + STEM).max(2.0)),
        };
        self.bar.lines.push((Meaning::Stem, [pos2(x, foot), pos2(x, end)]));
        self.reach(end);
        let flags = head.value.flags();
        if flags > 0 {
            let glyph = if head.up { glyph::FLAGS_UP } else { glyph::FLAGS_DOWN }[flags.min(3) - 1];
            self.sign(pos2(x, end), glyph);
        }
    }

    /// One level beam over the heads of a beat.
    fn beam(&mut self, from: usize, to: usize) {
        let heads = &mut self.heads[from..to];
        let middle: f32 = heads.iter().map(|head| (head.top + head.bottom) / 2.0 - 2.0).sum();
        let up = middle > 0.0;
        heads.iter_mut().for_each(|head| head.up = up);
        let heads = heads.to_vec();
        let ends = heads.iter().map(|head| if up { head.top - STEM } else { head.bottom + STEM });
        let y = if up {
            ends.fold(f32::MAX, f32::min).min(2.0)
        } else {
            ends.fold(f32::MIN, f32::max).max(2.0)
        };
        self.reach(y);
        for head in &heads {
            let foot = if up { head.bottom + STEM_UP.y } else { head.top + STEM_DOWN.y };
            self.bar
                .lines
                .push((Meaning::Stem, [pos2(head.stem_x(), foot), pos2(head.stem_x(), y)]));
        }
        let mut bar = |from: f32, to: f32, level: f32| {
            let down = if up { 1.0 } else { -1.0 };
            let [near, far] = [level, level + BEAM].map(|off| y + down * off);
            self.bar.beams.push([pos2(from, near), pos2(to, near), pos2(to, far), pos2(from, far)]);
        };
        let x = |at: usize| heads[at].stem_x();
        bar(x(0) - 0.06, x(heads.len() - 1) + 0.06, 0.0);
        let is_short = |at: usize| heads[at].value.flags() >= 2;
        for at in (0..heads.len()).filter(|at| is_short(*at)) {
            let next = at + 1 < heads.len() && is_short(at + 1);
            let before = at > 0 && is_short(at - 1);
            match (next, before, at) {
                (true, ..) => bar(x(at) - 0.06, x(at + 1) + 0.06, BEAM_BELOW_BEAM),
                (false, true, _) => {}
                (false, false, 0) => bar(x(at) - 0.06, x(at) + 1.0, BEAM_BELOW_BEAM),
                _ => bar(x(at) - 1.0, x(at) + 0.06, BEAM_BELOW_BEAM),
            }
        }
    }

    fn reach(&mut self, y: f32) {
        self.staff.reach.min = self.staff.reach.min.min(y);
        self.staff.reach.max = self.staff.reach.max.max(y);
    }

    /// The number over each tuplet, with a bracket.
    fn tuplets(&mut self, begin: usize) {
        let mut at = begin;
        while at < self.heads.len() {
            let tuplet = self.heads[at].value.tuplet;
            let (mut end, mut sum) = (at, 0.0);
            while end < self.heads.len() && self.heads[end].value.tuplet == tuplet && tuplet > 1 {
                sum += self.heads[end].value.quarters;
                end += 1;
                // Full where it fills a plain length again.
                if [0.5, 1.0, 2.0, 4.0].iter().any(|plain| (sum - plain).abs() < 1e-6) {
                    break;
                }
            }
            if end == at {
                at += 1;
                continue;
            }
            let heads = &self.heads[at..end];
            let (first, last) = (heads[0], heads[heads.len() - 1]);
            let top = heads.iter().map(|head| head.top - if head.up { STEM } else { 0.0 });
            let y = top.fold(0.0, f32::min) - 1.6;
            let (left, right) = (first.x, last.x + 1.2);
            let middle = (left + right) / 2.0;
            let digit = glyph::tuplet_digit(tuplet);
            let wide = advance(digit, 1.0);
            self.sign(pos2(middle - wide / 2.0, y + 0.4), digit);
            let lines = [
                [pos2(left, y + 0.7), pos2(left, y)],
                [pos2(left, y), pos2(middle - wide, y)],
                [pos2(middle + wide, y), pos2(right, y)],
                [pos2(right, y), pos2(right, y + 0.7)],
            ];
            self.bar.lines.extend(lines.map(|line| (Meaning::Stem, line)));
            at = end;
        }
    }

    /// Fingers and strings above, loudness below.
    fn marks(&mut self, notes: &[PlanNote], first: usize, begin: usize) {
        for (offset, note) in notes.iter().enumerate() {
            let heads = self.heads[begin..].iter();
            let Some(head) = heads.clone().find(|head| head.note == first + offset).copied() else {
                continue;
            };
            let stem = if head.up && head.value.shape < 4.0 { STEM } else { 0.0 };
            let mut y = (head.top - stem).min(0.0) - FINGER_ABOVE;
            if head.value.tuplet > 1 {
                y -= 1.8;
            }
            if let Some(finger) = note.finger {
                let glyph = glyph::finger(finger);
                self.sign(pos2(head.x + 0.6 - advance(glyph, 1.0) / 2.0, y), glyph);
                y -= 1.7;
            }
            if let Some(string) = &note.string {
                self.bar.words.push((pos2(head.x, y + 0.3), string.clone()));
                self.reach(y - 1.5);
            }
            let low = (head.bottom + if head.up { 0.0 } else { stem_down(&head) }).max(4.0);
            let y = low.max(4.0) + LOUDNESS_BELOW - 1.0;
            match note.dynamic {
                Some(Dynamic::Louder) => self.bar.words.push((pos2(head.x, y), "louder".into())),
                Some(Dynamic::Softer) => self.bar.words.push((pos2(head.x, y), "softer".into())),
                Some(dynamic) => self.sign(pos2(head.x, y), glyph::dynamic(dynamic)),
                None => {}
            }
            if note.dynamic.is_some() {
                self.reach(y + 0.8);
            }
        }
    }

    /// Slurs, over the heads of notes that follow each other under one bow.
    fn slurs(&mut self, passage: &Passage) {
        let notes = passage.notes();
        let mut first: BTreeMap<usize, Head> = BTreeMap::new();
        let mut last: BTreeMap<usize, Head> = BTreeMap::new();
        for head in &self.heads {
            first.entry(head.note).or_insert(*head);
            last.insert(head.note, *head);
        }
        let under = |at: usize| notes.get(at).is_some_and(|note| note.slur || note.tie);
        let mut at = 1;
        while at < notes.len() {
            let from = at - 1;
            let end = (at..notes.len()).take_while(|at| under(*at)).last();
            let slurred = end.is_some_and(|end| notes[at..=end].iter().any(|note| note.slur));
            if let (Some(end), true) = (end, slurred)
                && let (Some(a), Some(b)) = (first.get(&from), last.get(&end))
            {
                let heads = (from..=end).filter_map(|note| first.get(&note));
                let above = heads.clone().filter(|head| head.up).count() * 2 < end - from + 1;
                let side = if above { -1.0 } else { 1.0 };
                let edge = |head: &Head| if above { head.top - 0.9 } else { head.bottom + 0.9 };
                let (from, to) = (pos2(a.x + 0.6, edge(a)), pos2(b.x + 0.6, edge(b)));
                // It clears the heads between its ends.
                let inner =
                    heads.map(|head| (edge(head) - from.y.max(to.y).min(from.y.min(to.y))) * side);
                let bulge = inner.fold(0.0, f32::max) + (0.6 + 0.06 * (to.x - from.x)).min(2.2);
                self.staff.curves.push(Curve { from, to, bulge: bulge * side });
                self.staff.reach.min =
                    self.staff.reach.min.min(from.y.min(to.y) + (bulge * side).min(0.0));
                self.staff.reach.max =
                    self.staff.reach.max.max(from.y.max(to.y) + (bulge * side).max(0.0));
            }
            at = end.map_or(at, |end| end.max(at)) + 1;
        }
    }

    fn done(mut self) -> Staff {
        self.staff.curves.sort_by(|a, b| a.from.x.total_cmp(&b.from.x));
        self.staff
    }
}

fn stem_down(head: &Head) -> f32 {
    if head.value.shape < 4.0 { STEM } else { 0.0 }
}

/// How far below the top line a step above the middle line lies.
fn y_of(step: i32) -> f32 {
    2.0 - 0.5 * step as f32
}

fn sign_of(glyph: char) -> Sign {
    Sign { foot: Pos2::ZERO, glyph: glyph.to_string(), scale: 1.0 }
}

/// How wide a sign is, in spaces.
fn advance(glyph: char, scale: f32) -> f32 {
    let mut text = [0; 4];
    Face::Staff.width(glyph.encode_utf8(&mut text), 4.0 * scale)
}

fn clef_sign(clef: Clef, signs: &mut Vec<Sign>, x: &mut f32) {
    let (glyph, y) = match clef {
        Clef::Treble => (glyph::CLEF_G, 3.0),
        Clef::Alto => (glyph::CLEF_C, 2.0),
        Clef::Tenor => (glyph::CLEF_C, 1.0),
        Clef::Bass => (glyph::CLEF_F, 1.0),
    };
    signs.push(Sign { foot: pos2(*x, y), ..sign_of(glyph) });
    *x += advance(glyph, 1.0) + 0.6;
}

/// Letters in the order in which sharps come; flats come the other way round.
const FIFTHS: &str = "FCGDAEB";

fn key_alter(key: Key, letter: char) -> i8 {
    let at = FIFTHS.find(letter).unwrap_or(0) as i8;
    match key.sharps {
        sharps if sharps > 0 => i8::from(at < sharps),
        flats => -i8::from(6 - at < -flats),
    }
}

/// The steps above the middle line on which the signs of a key stand.
fn key_steps(key: Key, clef: Clef) -> Vec<i32> {
    // On the treble staff; the other clefs move them, and the tenor's sharps begin low.
    let (sharps, flats) = ([4, 1, 5, 2, -1, 3, 0], [0, 3, -1, 2, -2, 1, -3]);
    let tenor_sharps = [-2, 2, -1, 3, 0, 4, 1];
    let down = match clef {
        Clef::Treble => 0,
        Clef::Alto => -1,
        Clef::Tenor => 1,
        Clef::Bass => -2,
    };
    let count = usize::from(key.sharps.unsigned_abs()).min(7);
    let steps = match (key.sharps > 0, clef) {
        (true, Clef::Tenor) => return tenor_sharps[..count].to_vec(),
        (true, _) => sharps,
        (false, _) => flats,
    };
    steps[..count].iter().map(|step| step + down).collect()
}

fn key_signs(key: Key, clef: Clef, signs: &mut Vec<Sign>, x: &mut f32) {
    let glyph = if key.sharps > 0 { glyph::ACCIDENTALS[3] } else { glyph::ACCIDENTALS[1] };
    for step in key_steps(key, clef) {
        signs.push(Sign { foot: pos2(*x, y_of(step)), ..sign_of(glyph) });
        *x += advance(glyph, 1.0);
    }
    *x += 0.6;
}

fn meter_signs(meter: Meter, signs: &mut Vec<Sign>, x: &mut f32) {
    let unit = meter.of.lower_figure();
    let wide = |number: u32| {
        number.to_string().chars().map(|digit| advance(glyph::digit(digit), 1.0)).sum::<f32>()
    };
    let widest = wide(meter.beats).max(wide(unit));
    for (number, y) in [(meter.beats, 1.0), (unit, 3.0)] {
        let mut left = *x + (widest - wide(number)) / 2.0;
        for digit in number.to_string().chars() {
            let glyph = glyph::digit(digit);
            signs.push(Sign { foot: pos2(left, y), ..sign_of(glyph) });
            left += advance(glyph, 1.0);
        }
    }
    *x += widest + 0.8;
}

/// Signs by their places in SMuFL 1.4.
mod glyph {
    use coach::plan::Dynamic;

    pub(super) const CLEF_G: char = '\u{e050}';
    pub(super) const CLEF_C: char = '\u{e05c}';
    pub(super) const CLEF_F: char = '\u{e062}';
    pub(super) const HEAD_BREVE: char = '\u{e0a0}';
    pub(super) const HEAD_WHOLE: char = '\u{e0a2}';
    pub(super) const HEAD_HALF: char = '\u{e0a3}';
    pub(super) const HEAD: char = '\u{e0a4}';
    pub(super) const DOT: char = '\u{e1e7}';
    pub(super) const FLAGS_UP: [char; 3] = ['\u{e240}', '\u{e242}', '\u{e244}'];
    pub(super) const FLAGS_DOWN: [char; 3] = ['\u{e241}', '\u{e243}', '\u{e245}'];
    /// From two flats to two sharps.
    pub(super) const ACCIDENTALS: [char; 5] =
        ['\u{e264}', '\u{e260}', NATURAL, '\u{e262}', '\u{e263}'];
    pub(super) const NATURAL: char = '\u{e261}';
    pub(super) const REST_BREVE: char = '\u{e4e2}';
    pub(super) const REST_WHOLE: char = '\u{e4e3}';
    pub(super) const REST_HALF: char = '\u{e4e4}';
    pub(super) const REST_QUARTER: char = '\u{e4e5}';
    pub(super) const RESTS: [char; 3] = ['\u{e4e6}', '\u{e4e7}', '\u{e4e8}'];

    fn from(first: u32, by: u32) -> char {
        char::from_u32(first + by).unwrap_or(HEAD)
    }

    pub(super) fn digit(digit: char) -> char {
        from(0xe080, digit.to_digit(10).unwrap_or(0))
    }

    pub(super) fn tuplet_digit(number: u32) -> char {
        from(0xe880, number.min(9))
    }

    pub(super) fn finger(finger: u8) -> char {
        from(0xed10, u32::from(finger.min(4)))
    }

    pub(super) fn dynamic(dynamic: Dynamic) -> char {
        match dynamic {
            Dynamic::Ppp => '\u{e52a}',
            Dynamic::Pp => '\u{e52b}',
            Dynamic::P | Dynamic::Softer => '\u{e520}',
            Dynamic::Mp => '\u{e52c}',
            Dynamic::Mf => '\u{e52d}',
            Dynamic::F | Dynamic::Louder => '\u{e522}',
            Dynamic::Ff => '\u{e52f}',
            Dynamic::Fff => '\u{e530}',
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn staff(text: &str) -> Staff {
        Staff::new(&Passage::from_text(text).expect("a passage"))
    }

    fn glyphs(staff: &Staff) -> Vec<char> {
        staff.bars.iter().flat_map(|bar| &bar.signs).flat_map(|sign| sign.glyph.chars()).collect()
    }

    #[test]
    fn every_sign_has_a_shape_in_the_face() {
        let single = [
            glyph::CLEF_G,
            glyph::CLEF_C,
            glyph::CLEF_F,
            glyph::HEAD_BREVE,
            glyph::HEAD_WHOLE,
            glyph::HEAD_HALF,
            glyph::HEAD,
            glyph::DOT,
            glyph::REST_BREVE,
            glyph::REST_WHOLE,
            glyph::REST_HALF,
            glyph::REST_QUARTER,
        ];
        let rows = [glyph::FLAGS_UP, glyph::FLAGS_DOWN, glyph::RESTS].concat();
        let numbers = (0..=9)
            .flat_map(|n| [glyph::tuplet_digit(n), glyph::digit(char::from(b'0' + n as u8))]);
        let fingers = (0..=4).map(glyph::finger);
        let loud = [
            Dynamic::Ppp,
            Dynamic::Pp,
            Dynamic::P,
            Dynamic::Mp,
            Dynamic::Mf,
            Dynamic::F,
            Dynamic::Ff,
            Dynamic::Fff,
        ];
        let all =
            single.into_iter().chain(rows).chain(glyph::ACCIDENTALS).chain(numbers).chain(fingers);
        for glyph in all.chain(loud.map(glyph::dynamic)) {
            let path = Face::Staff.outline(&glyph.to_string(), Pos2::ZERO, 32.0);
            assert!(path.len() > 20, "{:x}: {path:?}", u32::from(glyph));
            assert!(advance(glyph, 1.0) > 0.1, "{:x}", u32::from(glyph));
        }
    }

    #[test]
    fn a_head_stands_where_its_clef_has_its_pitch() {
        for (clef, pitch, y) in [
            ("treble", "E4", 4.0),
            ("treble", "F5", 0.0),
            ("bass", "G2", 4.0),
            ("alto", "C4", 2.0),
            ("tenor", "C4", 1.0),
        ] {
            let staff = staff(&format!("instrument cello\nclef {clef}\nbar {pitch} 4\n"));
            assert_eq!(staff.bars[0].signs[0].foot.y, y, "{clef} {pitch}");
        }
        let bass = staff("instrument double-bass\nbar G1 4\n");
        assert_eq!(bass.bars[0].signs[0].foot.y, 4.0, "written an octave higher");
    }

    #[test]
    fn accidentals_hold_for_their_bar_and_the_key_needs_none() {
        let natural = glyph::NATURAL;
        let count = |text: &str, sign: char| {
            glyphs(&staff(text)).iter().filter(|own| **own == sign).count()
        };
        let head = "instrument violin\nkey D major\n";
        assert_eq!(
            count(&format!("{head}bar F#5 1, C#5 1, F#4 1, G4 1\n"), glyph::ACCIDENTALS[3]),
            0
        );
        assert_eq!(count(&format!("{head}bar F5 1, F5 1, F#5 1, F4 1\n"), natural), 2);
        assert_eq!(count(&format!("{head}bar F5 4\nbar F5 4\n"), natural), 2);
        assert_eq!(count(&format!("{head}bar F5 4\nbar F5 4 tied\n"), natural), 1);
    }

    #[test]
    fn beams_join_a_beat_and_no_more_and_shorter_notes_have_two() {
        let beams = |text: &str| staff(&format!("instrument violin\n{text}")).bars[0].beams.len();
        assert_eq!(beams("bar A4 1/2, B4 1/2, C5 1/2, D5 1/2, E5 2\n"), 2);
        assert_eq!(beams("bar A4 1/4, B4 1/4, C5 1/2, D5 3\n"), 2);
        assert_eq!(beams("bar A4 3/4, B4 1/4, D5 3\n"), 2);
        assert_eq!(beams("bar A4 1/2, rest 1/2, B4 1/2, D5 2+1/2\n"), 0);
        assert_eq!(beams("beats 6 of eighth\nbar A4 1, B4 1, C5 1, D5 2, E5 1\n"), 1);
    }

    #[test]
    fn times_of_notes_lie_in_a_row_and_bars_begin_where_the_one_before_ends() {
        let text = include_str!("../../../assets/passages/up-the-hill.passage.txt");
        let passage = Passage::from_text(text).expect("shipped");
        let staff = Staff::new(&passage);
        let mut end = 0.0;
        for note in 0..passage.notes().len() {
            let time = staff.time_of(note).expect("a time");
            assert!((time.min - end).abs() < 1e-3, "{note}: {time:?} behind {end}");
            end = time.max;
        }
        assert!((staff.widths().1 - end).abs() < 1e-3);
        assert_eq!(staff.bar_lines().count(), 9);
    }

    #[test]
    fn what_is_out_of_sight_is_not_drawn() {
        let bars = "bar A4 1, B4 1, C5 1, D5 1\n".repeat(300);
        let staff = staff(&format!("instrument violin\n{bars}"));
        let area = emath::Rect::from_min_size(Pos2::ZERO, vec2(900.0, 200.0));
        let drawn = |seen: Rangef| {
            let mut picture = Picture::new(area, &crate::Sizes::USUAL);
            staff.draw(&mut picture, pos2(0.0, 50.0), 8.0, seen, false);
            picture.marks.len()
        };
        let (all, some) = (drawn(Rangef::EVERYTHING), drawn(Rangef::new(20_000.0, 20_900.0)));
        assert!(some > 20 && 20 * some < all, "{some} of {all}");
    }
}
