//! A sound file, heard by the ear: its notes, its pitch, or the rounds of a drill in it.

use std::path::Path;

use coach::{Judged, Practice};
use late_sound::Excerpt;
use pitch::Frame;
use sound::Recording;
use tuning::{Naming, Secs};
use vibrato::{Event, Note, Settings};

use crate::chain::Chain;
use crate::fault::Fault;
use crate::formats::{LostRecord, NoteRecord, SCHEMA, SoundRecord, written};

/// So many samples are heard at once, which changes no figure and keeps memory small.
const BLOCK: usize = 1 << 16;

/// Which part of a file to measure, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Tuning and range of the ear.
    pub settings: Settings,
    /// The channel to hear, counted from 1; `None` for the mean of all.
    pub channel: Option<usize>,
    /// Where to start in the file.
    pub from: Secs,
    /// Where to stop in the file.
    pub to: Option<Secs>,
}

impl Wanted {
    /// A whole file, all channels.
    pub fn whole(settings: Settings) -> Self {
        Self { settings, channel: None, from: Secs(0.0), to: None }
    }
}

/// What was measured in a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Samples per second in the file.
    pub sample_rate_hz: u32,
    /// Length of the file; where it was not read to its end, as it states it.
    pub duration: Option<Secs>,
    /// Time in the file from which the times of the notes count.
    pub zero: Secs,
    /// The notes.
    pub notes: Vec<Note>,
    /// Where samples are missing, and how much.
    pub lost: Vec<(Secs, Secs)>,
    /// What was not right with the file.
    pub remarks: Vec<String>,
}

impl Measured {
    /// The record of it.
    pub fn record(&self, file: String, naming: Naming) -> SoundRecord {
        let lost = self.lost.iter().map(|&(start, length)| LostRecord {
            start_s: written(self.zero.0 + start.0),
            length_s: written(length.0),
        });
        SoundRecord {
            schema: SCHEMA,
            file,
            sample_rate_hz: self.sample_rate_hz,
            duration_s: self.duration.map(|secs| written(secs.0)),
            notes: self.notes.iter().map(|note| NoteRecord::new(note, naming, self.zero)).collect(),
            lost: lost.collect(),
            remarks: self.remarks.clone(),
        }
    }
}

/// Measures the notes of one file.
pub fn measure_file(path: &Path, wanted: &Wanted) -> Result<Measured, Fault> {
    hear_file(path, wanted, &mut |_, _, _| {}, &mut |_| true)
}

/// Measures the notes of one file and hands out its pitch with them. `passed` is asked as in [`hear_file`].
pub fn measure_frames(
    path: &Path,
    wanted: &Wanted,
    passed: &mut impl FnMut(&Recording) -> bool,
) -> Result<(Measured, Vec<Frame>), Fault> {
    let mut frames = Vec::new();
    let mut look = |event: &Event, _: Option<&Note>, _| {
        if let Event::Frame(frame) = event {
            frames.push(*frame);
        }
    };
    let measured = hear_file(path, wanted, &mut look, passed)?;
    Ok((measured, frames))
}

/// Judges all rounds of one file.
pub fn judge_file(
    path: &Path,
    wanted: &Wanted,
    mut practice: Practice,
) -> Result<Vec<Judged>, Fault> {
    let mut look = |event: &Event, note: Option<&Note>, _| {
        practice.hear(event, note);
    };
    hear_file(path, wanted, &mut look, &mut |_| true)?;
    practice.finish();
    Ok(practice.done().to_vec())
}

/// Lets the ear hear one file, block by block: memory grows with the notes, not with the sound.
///
/// `look` sees every event, the note where one has ended, and the time in the file from which events count; `passed` sees after
/// each block how far the file has been read, and says whether to go on.
pub fn hear_file(
    path: &Path,
    wanted: &Wanted,
    look: &mut impl FnMut(&Event, Option<&Note>, Secs),
    passed: &mut impl FnMut(&Recording) -> bool,
) -> Result<Measured, Fault> {
    let (mut recording, skipped) = opened(path, wanted)?;
    let rate_hz = recording.sample_rate_hz();
    let zero = Secs(skipped as f64 / f64::from(rate_hz));
    let mut chain = Chain::new(rate_hz, wanted.settings)
        .map_err(|error| Fault::Failed(format!("{error}: {}", path.display())))?;
    let mut notes = Vec::new();
    let mut lost = Vec::new();
    let mut report = |event: Event, ended: Option<Excerpt>| {
        let note = ended.map(|ended| ended.look_again().0);
        look(&event, note.as_ref(), zero);
        notes.extend(note);
        if let Event::Lost { time, length } = event {
            lost.push((time, length));
        }
    };
    let mut left = wanted.to.map(|to| in_samples(to, rate_hz).saturating_sub(skipped));
    let whole = loop {
        if left == Some(0) {
            break false;
        }
        let Some(block) = recording.next_block()? else {
            break true;
        };
        let (mut lost_before, mut samples) = (block.lost_before, block.samples);
        if let Some(left) = &mut left {
            lost_before = lost_before.min(*left);
            *left -= lost_before;
            samples = &samples[..samples.len().min(usize::try_from(*left).unwrap_or(usize::MAX))];
            *left -= samples.len() as u64;
        }
        chain.push(lost_before, samples, &mut report);
        if !passed(&recording) {
            break false;
        }
    };
    chain.finish(&mut report);
    Ok(Measured {
        sample_rate_hz: rate_hz,
        duration: if whole {
            Some(Secs(recording.place_secs()))
        } else {
            recording.duration_secs().map(Secs)
        },
        zero,
        notes,
        lost,
        remarks: recording.remarks().in_words(),
    })
}

/// Lets the ear hear samples that are there already (one channel, full scale = 1.0), as it would hear a file of them.
pub fn hear_samples(
    samples: &[f32],
    rate_hz: u32,
    settings: Settings,
    look: &mut impl FnMut(&Event),
) -> Result<Measured, Fault> {
    let mut chain =
        Chain::new(rate_hz, settings).map_err(|error| Fault::Failed(error.to_string()))?;
    let mut notes = Vec::new();
    let mut report = |event: Event, ended: Option<Excerpt>| {
        look(&event);
        notes.extend(ended.map(|ended| ended.look_again().0));
    };
    for block in samples.chunks(BLOCK) {
        chain.push(0, block, &mut report);
    }
    chain.finish(&mut report);
    Ok(Measured {
        sample_rate_hz: rate_hz,
        duration: Some(Secs(samples.len() as f64 / f64::from(rate_hz))),
        zero: Secs(0.0),
        notes,
        lost: Vec::new(),
        remarks: Vec::new(),
    })
}

/// The file, opened where it is to be measured from, and how many of its samples lie before.
fn opened(path: &Path, wanted: &Wanted) -> Result<(Recording, u64), Fault> {
    let mut recording = Recording::open(path)?;
    if let Some(channel) = wanted.channel {
        recording = recording.with_channel(channel)?;
    }
    let rate_hz = recording.sample_rate_hz();
    let skipped = recording.skip_secs(wanted.from.0)?;
    if skipped < in_samples(wanted.from, rate_hz) {
        return Err(Fault::Failed(format!(
            "the file ends after {:.2} s, before --from {}; start earlier: {}",
            skipped as f64 / f64::from(rate_hz),
            wanted.from.0,
            path.display()
        )));
    }
    Ok((recording, skipped))
}

fn in_samples(secs: Secs, rate_hz: u32) -> u64 {
    (secs.0 * f64::from(rate_hz)).round() as u64
}
