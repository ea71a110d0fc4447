//! One note against its plan.

use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{ContourPoint, Measure};

use super::contour::{Contour, Half, contour, course, halves};
use super::{LEAST_SECS, length, wanted};
use crate::follow::{Aligned, Heard, How, cents_of, frame_at};
use crate::plan::{Intention, Passage, Pitch};
use crate::told::beyond_doubt;

/// What matters, from what size on (no source: proposals): width in cents and as a share of the planned one, rate, peak in
/// seconds and as a share of the note, onset and end, centre, gap.
pub(super) const WIDTH_CENTS: f64 = 10.0;
pub(super) const WIDTH_SHARE: f64 = 0.2;
const RATE_HZ: f64 = 0.3;
const PEAK_SECS: f64 = 0.08;
const PEAK_SHARE: f64 = 0.1;
pub(super) const ONSET_SECS: f64 = 0.1;
const END_SECS: f64 = 0.15;
const CENTRE_CENTS: f64 = 15.0;
const GAP_SECS: f64 = 0.08;
/// A vibrato that is missing weighs as much as one that is so many such sizes too narrow.
const NO_VIBRATO: f64 = 3.0;
/// A motion sets in and ends unseen where it is to be narrower than this, in cents.
const SEEN_CENTS: f64 = 10.0;
/// Beginnings and ends of a note are known to this, in seconds.
const BOUND_SE_SECS: f64 = 0.02;
/// The attack and the release of a note say nothing of its pitch, in seconds.
const ATTACK_SECS: f64 = 0.06;
const RELEASE_SECS: f64 = 0.04;
/// A straight pitch is told anew so often, in seconds.
const ANEW_SECS: f64 = 0.1;
/// Of a vibrato so many half oscillations must be found, unless the ear hears none in as much of the note.
const LEAST_HALVES: usize = 3;
const MOST_OF_IT: f64 = 0.5;
/// A new note follows at once if no longer a silence lies between, in seconds.
const AT_ONCE_SECS: f64 = 0.1;
/// How many differences are asked for in one note, so that chance tells one no more often than it does of one.
const ASKED: usize = 8;

/// One note as it was played.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayedNote {
    /// Which note it is, and when.
    pub aligned: Aligned,
    /// It is too short for a vibrato to be heard in it, or for the one that the ear heard to be followed.
    pub too_short: bool,
    /// Mean pitch against the planned one.
    pub centre: Option<Measure<Cents>>,
    /// Crest to trough in the mean while it moved; `None` where it was straight.
    pub width: Option<Measure<Cents>>,
    /// Oscillations per second in the mean.
    pub rate: Option<Measure<Hz>>,
    /// Width at start, peak and end of the two lines that tell most of it.
    pub widths: Option<[Measure<Cents>; 3]>,
    /// Oscillations per second at the same three places.
    pub rates: Option<[Measure<Hz>; 3]>,
    /// From the beginning of the note to the peak, if there is one within it.
    pub peak: Option<Measure<Secs>>,
    /// From the beginning of the note until it moved.
    pub onset: Option<Measure<Secs>>,
    /// How long before the end of the note it ended.
    pub ended_early: Option<Measure<Secs>>,
    /// How long the motion rested at the change from the note before, under one bow.
    pub gap: Option<Measure<Secs>>,
    /// Width and rate along it, to be drawn.
    pub course: Vec<ContourPoint>,
    /// What is beyond doubt not as planned, and matters.
    pub differences: Vec<Difference>,
}

/// What differs from the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// It was to be straight; by how much it moved, in cents.
    NotStraight,
    /// It was to have a vibrato and had none.
    NoVibrato,
    /// Wider (narrower, below 0) in the mean, in cents.
    Width,
    /// Faster (slower, below 0), in Hz.
    Rate,
    /// The peak is later (earlier, below 0), in seconds.
    Peak,
    /// Wider (narrower) at its start, in cents.
    StartWidth,
    /// Wider (narrower) at its end, in cents.
    EndWidth,
    /// The vibrato sets in late, in seconds.
    Onset,
    /// The vibrato ends before the bow, in seconds.
    EndedEarly,
    /// Sharp (flat, below 0), in cents.
    Centre,
    /// The motion rests at the change, in seconds.
    Gap,
}

/// One difference from the plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// What differs.
    pub what: What,
    /// By how much, in the unit of it; no number where there is none to tell.
    pub by: Option<Measure<f64>>,
}

impl Difference {
    /// How much of it there is, in sizes from which such a difference matters.
    pub fn weight(&self) -> f64 {
        let size = match self.what {
            What::NoVibrato => return NO_VIBRATO,
            What::NotStraight | What::Width | What::StartWidth | What::EndWidth => WIDTH_CENTS,
            What::Rate => RATE_HZ,
            What::Peak => PEAK_SECS,
            What::Onset => ONSET_SECS,
            What::EndedEarly => END_SECS,
            What::Centre => CENTRE_CENTS,
            What::Gap => GAP_SECS,
        };
        self.by.map_or(0.0, |by| by.value.abs() / size)
    }
}

/// Every note that was found.
pub(super) fn all(
    passage: &Passage,
    heard: &Heard,
    aligned: &[Aligned],
    tuning: &Tuning,
) -> Vec<PlayedNote> {
    let mut notes: Vec<PlayedNote> = Vec::with_capacity(aligned.len());
    let mut before: Option<(Aligned, Vec<Half>)> = None;
    for one in aligned {
        let sounds = matches!(one.how, How::Played | How::OtherPitch | How::Repeated);
        let halves = if sounds { halves(heard, one.start, one.end) } else { Vec::new() };
        let mut note = measured(passage, heard, one, &halves, tuning);
        let plan = one.note.map(|note| &passage.notes()[note]);
        if let Some((last, moved)) = &before
            && plan.is_some_and(|plan| plan.slur)
            && one.start.get() - last.end.get() < AT_ONCE_SECS
        {
            note.gap = gap(moved, &halves);
        }
        if one.how == How::Played {
            note.differences = differences(passage, &note);
        }
        before = Some((*one, halves));
        notes.push(note);
    }
    notes
}

fn measured(
    passage: &Passage,
    heard: &Heard,
    one: &Aligned,
    halves: &[Half],
    tuning: &Tuning,
) -> PlayedNote {
    let (start, end) = (one.start.get(), one.end.get());
    // The ear tells the vibrato of a short note from less than can be followed here: then nothing is said of it.
    let unfollowed = halves.len() < LEAST_HALVES && vibrates(heard, one);
    let found = if length(one).get() < LEAST_SECS { None } else { contour(halves, start, end) };
    let halves = if found.is_some() { halves } else { &[] };
    let planned = one.note.and_then(|note| match passage.notes()[note].pitch {
        Pitch::Single(one) => Some(cents_of(tuning.frequency(one.midi()))),
        _ => None,
    });
    let first_last = halves.first().zip(halves.last());
    // A swing sets out half a half oscillation before its first turn.
    let set_out = first_last.map(|(first, _)| first.start() - 0.5 * first.secs);
    let came_to_rest = first_last.map(|(_, last)| last.end() + 0.5 * last.secs);
    let doubt = |half: &Half| Some(Secs(BOUND_SE_SECS.hypot(0.25 * half.secs)));
    let points = course(halves).into_iter().map(|(time, width, rate)| ContourPoint {
        time: Secs(time),
        width: Cents(width),
        rate: Hz(rate),
    });
    let secs = |value: f64, half: &Half| Measure { value: Secs(value.max(0.0)), se: doubt(half) };
    PlayedNote {
        aligned: *one,
        too_short: length(one).get() < LEAST_SECS || unfollowed,
        centre: planned.and_then(|planned| centre(heard, one, halves, planned)),
        width: found.map(|found| found.mean_width.in_unit()),
        rate: found.map(|found| found.mean_rate.in_unit()),
        widths: found.map(|found| found.width.map(Measure::in_unit)),
        rates: found.map(|found| found.rate.map(Measure::in_unit)),
        peak: found.and_then(|found| peak(&found, start)),
        onset: set_out.zip(first_last).map(|(at, (first, _))| secs(at - start, first)),
        ended_early: came_to_rest.zip(first_last).map(|(at, (_, last))| secs(end - at, last)),
        gap: None,
        course: points.collect(),
        differences: Vec::new(),
    }
}

/// Whether the ear heard a vibrato in most of the note.
fn vibrates(heard: &Heard, one: &Aligned) -> bool {
    let shared = |note: &vibrato::Note| {
        note.end.get().min(one.end.get()) - note.start.get().max(one.start.get())
    };
    let most = MOST_OF_IT * length(one).get();
    heard.notes().iter().any(|note| note.vibrato.is_some() && shared(note) > most)
}

fn peak(found: &Contour, start: f64) -> Option<Measure<Secs>> {
    let peak = found.peak?;
    Some(Measure { value: Secs(peak.value - start), se: peak.se.map(Secs) })
}

/// Mean pitch against the planned one: of whole oscillations, or of a straight note without its ends.
fn centre(heard: &Heard, one: &Aligned, halves: &[Half], planned: f64) -> Option<Measure<Cents>> {
    let (from, to) = (one.start.get() + ATTACK_SECS, one.end.get() - RELEASE_SECS);
    let values: Vec<f64> = if halves.len() >= 2 {
        // Two halves are a whole oscillation; its mean lies between its turns for a round one.
        halves.windows(2).map(|two| 0.5 * (two[0].middle + two[1].middle)).collect()
    } else {
        let pieces = ((to - from) / ANEW_SECS).max(1.0) as usize;
        let piece = (to - from) / pieces as f64;
        let mean = |i: usize| {
            let at = |i: usize| frame_at(Secs(from + i as f64 * piece));
            let cents: Vec<f64> = heard.cents_in(at(i)..at(i + 1)).collect();
            (!cents.is_empty()).then(|| cents.iter().sum::<f64>() / cents.len() as f64)
        };
        if to > from { (0..pieces).filter_map(mean).collect() } else { Vec::new() }
    };
    let each = values.iter().map(|cents| Measure { value: cents - planned, se: None });
    Measure::mean(each).map(Measure::in_unit)
}

/// How long the motion rests between the last turn of one note and the first of the next, beyond half an oscillation.
fn gap(before: &[Half], after: &[Half]) -> Option<Measure<Secs>> {
    let (last, first) = (before.last()?, after.first()?);
    let usual = 0.5 * (last.secs + first.secs);
    let rest = first.start() - last.end() - usual;
    let se = BOUND_SE_SECS.hypot(0.25 * usual);
    Some(Measure { value: Secs(rest.max(0.0)), se: Some(Secs(se)) })
}

/// What is not as planned: beyond doubt, and by enough to matter.
fn differences(passage: &Passage, note: &PlayedNote) -> Vec<Difference> {
    let mut told = Vec::new();
    let open = note.aligned.note.is_some_and(|note| passage.notes()[note].open());
    let intention = wanted(passage, &note.aligned).filter(|_| !open && !note.too_short);
    match (intention, note.width) {
        (Some(Intention::Straight), Some(width)) => {
            told.push(Difference { what: What::NotStraight, by: Some(width.bare()) });
        }
        (Some(planned), None) if planned.mean_width().get() >= SEEN_CENTS => {
            told.push(Difference { what: What::NoVibrato, by: None });
        }
        _ => {}
    }
    let mut tell = |what, by: Option<Measure<f64>>, matters: f64| {
        let by = by.filter(|by| by.value.abs() >= matters && beyond_doubt(*by, ASKED));
        told.extend(by.map(|by| Difference { what, by: Some(by) }));
    };
    tell(What::Centre, note.centre.map(Measure::bare), CENTRE_CENTS);
    tell(What::Gap, note.gap.map(Measure::bare), GAP_SECS);
    if let Some(wanted @ Intention::Contour { width, peak_at, .. }) = intention {
        against(note, (width.map(Cents::get), peak_at), &mut tell);
        let rate = note.rate.zip(wanted.mean_rate());
        let off = rate.map(|(played, wanted)| shifted(played.bare(), wanted.get()));
        tell(What::Rate, off, RATE_HZ);
    }
    told
}

fn shifted(measure: Measure<f64>, from: f64) -> Measure<f64> {
    Measure { value: measure.value - from, ..measure }
}

/// The course of the width against the planned one.
fn against(
    note: &PlayedNote,
    ([start, peak, end], peak_at): ([f64; 3], f64),
    tell: &mut impl FnMut(What, Option<Measure<f64>>, f64),
) {
    let secs = length(&note.aligned).get();
    let mean = 0.5 * (peak_at * (start + peak) + (1.0 - peak_at) * (peak + end));
    let off = |measure: Option<Measure<Cents>>, wanted: f64| {
        measure.map(|measure| shifted(measure.bare(), wanted))
    };
    let matters = |wanted: f64| WIDTH_CENTS.max(WIDTH_SHARE * wanted);
    tell(What::Width, off(note.width, mean), matters(mean));
    if let Some([at_start, _, at_end]) = note.widths {
        tell(What::StartWidth, off(Some(at_start), start), matters(start));
        tell(What::EndWidth, off(Some(at_end), end), matters(end));
    }
    // A plan without a bend has no peak to be missed.
    let bent = (start - peak).abs().min((end - peak).abs()) >= WIDTH_CENTS;
    let peak_off = note.peak.map(|played| shifted(played.bare(), peak_at * secs));
    tell(What::Peak, peak_off.filter(|_| bent), PEAK_SECS.max(PEAK_SHARE * secs));
    if start >= SEEN_CENTS {
        tell(What::Onset, note.onset.map(Measure::bare), ONSET_SECS);
    }
    if end >= SEEN_CENTS {
        tell(What::EndedEarly, note.ended_early.map(Measure::bare), END_SECS);
    }
}
