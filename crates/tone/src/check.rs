//! Is a specification playable? Each complaint names the field, its value and what is allowed.

use crate::spec::{Body, Bow, Join, NoteSpec, Room, Shape, Spec, VERSION, VibratoSpec};
use tuning::Secs;

/// Why a specification cannot be played.
#[derive(Debug, thiserror::Error)]
pub enum SpecError {
    /// The text is not RON or has an unknown field.
    #[error(
        "line {}, column {}: {}; mend that place, or compare with demo-sessions/four-fingers.ron",
        .0.span.end.line, .0.span.end.col, .0.code
    )]
    Unreadable(#[from] ron::error::SpannedError),
    /// The specification cannot be put into words.
    #[error("the specification cannot be written: {0}")]
    Unwritable(#[from] ron::Error),
    /// A version this program does not know.
    #[error(
        "version is {found} but this program reads version {VERSION}; update it or rewrite the file"
    )]
    Version {
        /// The version in the file.
        found: u32,
    },
    /// A number is out of its range, or no number.
    #[error("{field} is {value} but must be between {low} and {high}")]
    OutOfRange {
        /// Which field, as a path.
        field: String,
        /// What it is.
        value: f64,
        /// The least that is allowed.
        low: f64,
        /// The most that is allowed.
        high: f64,
    },
    /// Notes of one string overlap or are out of order.
    #[error(
        "{field} starts at {start} s but the note before it ends at {end} s; put it later or on another line"
    )]
    Overlap {
        /// Which note, as a path.
        field: String,
        /// Where it starts.
        start: f64,
        /// Where the one before it ends.
        end: f64,
    },
    /// A legato note has nothing to be joined to.
    #[error(
        "{field} is legato but no note ends where it starts ({start} s); let it start there or make it detached"
    )]
    NothingToJoin {
        /// Which note, as a path.
        field: String,
        /// Where it starts.
        start: f64,
    },
    /// Two fields that exclude each other.
    #[error("{field} cannot go with a delay; leave out one of them")]
    PhaseWithDelay {
        /// Which field, as a path.
        field: String,
    },
}

/// Legato notes join within this.
const JOIN_SECS: f64 = 1e-6;

/// Longest sound, in seconds.
const LONGEST_SECS: f64 = 7_200.0;

fn within(
    field: impl FnOnce() -> String,
    value: f64,
    low: f64,
    high: f64,
) -> Result<(), SpecError> {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    Err(SpecError::OutOfRange { field: field(), value, low, high })
}

/// Checks all of `spec`; the first fault found is told.
pub(crate) fn check(spec: &Spec) -> Result<(), SpecError> {
    if spec.version != VERSION {
        return Err(SpecError::Version { found: spec.version });
    }
    let name = |field: &'static str| move || field.to_owned();
    within(name("sample_rate_hz"), f64::from(spec.sample_rate_hz), 8e3, 192e3)?;
    within(name("level_dbfs"), spec.level_dbfs, -80.0, 0.0)?;
    within(name("length"), spec.length.map_or(1.0, Secs::get), 0.01, LONGEST_SECS)?;
    within(name("the number of lines"), spec.lines.len() as f64, 1.0, 4.0)?;
    within(name("floor_dbfs"), spec.floor_dbfs.unwrap_or(-140.0), -140.0, 0.0)?;
    within(name("clip_dbfs"), spec.clip_dbfs.unwrap_or(0.0), -60.0, 0.0)?;
    check_bow(&spec.bow)?;
    if let Some(body) = &spec.body {
        check_body(body)?;
    }
    if let Some(Room { t60, drr_db }) = spec.room {
        within(name("room.t60"), t60.get(), 0.05, 10.0)?;
        within(name("room.drr_db"), drr_db, -30.0, 60.0)?;
    }
    for (i, open) in spec.open_strings.iter().enumerate() {
        within(|| format!("open_strings[{i}].f0"), open.f0.get(), 20.0, 4e3)?;
        within(|| format!("open_strings[{i}].level_db"), open.level_db, -90.0, 0.0)?;
    }
    if let Some(hum) = spec.hum {
        within(name("hum.f0"), hum.f0.get(), 40.0, 70.0)?;
        within(name("hum.level_dbfs"), hum.level_dbfs, -120.0, 0.0)?;
    }
    if let Some(clicks) = spec.clicks {
        within(name("clicks.bpm"), clicks.bpm, 10.0, 600.0)?;
        within(name("clicks.peak_dbfs"), clicks.peak_dbfs, -120.0, 0.0)?;
    }
    for (i, line) in spec.lines.iter().enumerate() {
        within(|| format!("lines[{i}].level_db"), line.level_db, -60.0, 20.0)?;
        let mut last: Option<f64> = None;
        for (j, note) in line.notes.iter().enumerate() {
            let path = format!("lines[{i}].notes[{j}]");
            check_note(&path, note)?;
            let start = note.start.get();
            if let Some(end) = last.filter(|end| start < end - JOIN_SECS) {
                return Err(SpecError::Overlap { field: path, start, end });
            }
            let joined = last.is_some_and(|end| (start - end).abs() < JOIN_SECS);
            if note.join == Join::Legato && !joined {
                return Err(SpecError::NothingToJoin { field: path, start });
            }
            last = Some(note.end().get());
        }
    }
    Ok(())
}

fn check_bow(bow: &Bow) -> Result<(), SpecError> {
    let name = |field: &'static str| move || format!("bow.{field}");
    within(name("tilt"), bow.tilt, 0.3, 3.0)?;
    within(name("level_spread_db"), bow.level_spread_db, 0.0, 20.0)?;
    within(name("phase_spread_rad"), bow.phase_spread_rad, 0.0, 4.0)?;
    within(name("band"), bow.band.get(), 500.0, 40e3)?;
    within(name("snr_db"), bow.snr_db.unwrap_or(0.0), -20.0, 120.0)?;
    within(name("pulsed_share"), bow.pulsed_share, 0.0, 1.0)?;
    within(name("noise_band"), bow.noise_band.get(), 50.0, 40e3)?;
    within(name("burst_band"), bow.burst_band.get(), 50.0, 40e3)?;
    within(name("scratch_db"), bow.scratch_db, -80.0, 0.0)
}

fn check_body(body: &Body) -> Result<(), SpecError> {
    let name = |field: &'static str| move || format!("body.{field}");
    within(name("modes"), body.modes as f64, 1.0, 200.0)?;
    within(name("low"), body.low.get(), 20.0, 20e3)?;
    within(name("high"), body.high.get(), body.low.get(), 20e3)?;
    within(name("q_low"), body.q_low, 1.0, 200.0)?;
    within(name("q_high"), body.q_high, body.q_low, 200.0)?;
    within(name("gain_spread_db"), body.gain_spread_db, 0.0, 20.0)?;
    within(name("direct_db"), body.direct_db, -80.0, 20.0)
}

fn check_note(path: &str, note: &NoteSpec) -> Result<(), SpecError> {
    let name = |field: &'static str| move || format!("{path}.{field}");
    let length = note.length.get();
    within(name("start"), note.start.get(), 0.0, LONGEST_SECS)?;
    within(name("length"), length, 0.02, 3_600.0)?;
    within(name("f0"), note.f0.get(), 20.0, 4e3)?;
    within(name("glide"), note.glide.get(), 0.001, 0.5)?;
    within(name("attack"), note.attack.get(), 0.001, length)?;
    within(name("release"), note.release.get(), 0.001, length)?;
    within(name("ring"), note.ring.get(), 0.0, 60.0)?;
    within(name("ring_drop_db"), note.ring_drop_db, 0.0, 60.0)?;
    within(name("level_db"), note.level_db, -60.0, 20.0)?;
    within(name("dip_db"), note.dip_db, 0.0, 60.0)?;
    within(name("drift"), note.drift.get(), -200.0, 200.0)?;
    within(name("wander"), note.wander.get(), 0.0, 50.0)?;
    for (i, change) in note.bow_changes.iter().enumerate() {
        within(|| format!("{path}.bow_changes[{i}]"), change.get(), 0.0, length)?;
    }
    note.vibrato.as_ref().map_or(Ok(()), |vibrato| check_vibrato(path, vibrato))
}

fn check_vibrato(path: &str, vibrato: &VibratoSpec) -> Result<(), SpecError> {
    let name = |field: &'static str| move || format!("{path}.vibrato.{field}");
    within(name("rate"), vibrato.rate.get(), 0.1, 20.0)?;
    within(name("width"), vibrato.width.get(), 0.0, 600.0)?;
    within(name("rate_jitter_pct"), vibrato.rate_jitter_pct, 0.0, 40.0)?;
    within(name("width_jitter_pct"), vibrato.width_jitter_pct, 0.0, 60.0)?;
    within(name("delay"), vibrato.delay.get(), 0.0, 3_600.0)?;
    within(name("lean"), vibrato.lean, -1.0, 1.0)?;
    match vibrato.shape {
        Shape::Sine => {}
        Shape::Skewed(rise) => within(name("shape (share of the rise)"), rise, 0.15, 0.85)?,
        Shape::Flattened(gain) => within(name("shape (flattening)"), gain, 0.1, 10.0)?,
    }
    if let Some(phase) = vibrato.phase {
        within(name("phase"), phase, 0.0, 1.0)?;
        if vibrato.delay.get() > 0.0 {
            return Err(SpecError::PhaseWithDelay { field: format!("{path}.vibrato.phase") });
        }
    }
    let mut before = 0.0;
    for (i, factor) in vibrato.contour.iter().enumerate() {
        within(|| format!("{path}.vibrato.contour[{i}].time"), factor.time.get(), before, 3_600.0)?;
        within(|| format!("{path}.vibrato.contour[{i}].width"), factor.width, 0.0, 10.0)?;
        within(|| format!("{path}.vibrato.contour[{i}].rate"), factor.rate, 0.1, 10.0)?;
        before = factor.time.get();
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::Line;
    use tuning::{Cents, Hz};

    fn one_note(note: NoteSpec) -> Spec {
        Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() }
    }

    #[test]
    fn a_fault_is_told_with_field_value_and_range() {
        let mut note = NoteSpec::straight(Secs(0.0), Secs(1.0), Hz(220.0));
        note.vibrato = Some(VibratoSpec::regular(Hz(25.0), Cents(30.0)));
        let told = check(&one_note(note)).expect_err("25 Hz is too fast").to_string();
        assert_eq!(told, "lines[0].notes[0].vibrato.rate is 25 but must be between 0.1 and 20");
    }

    #[test]
    fn nan_is_refused() {
        let note = NoteSpec::straight(Secs(0.0), Secs(f64::NAN), Hz(220.0));
        assert!(check(&one_note(note)).is_err());
    }

    #[test]
    fn overlaps_loose_legato_and_other_versions_are_refused() {
        let first = NoteSpec::straight(Secs(0.0), Secs(1.0), Hz(220.0));
        let mut second = NoteSpec::straight(Secs(0.9), Secs(1.0), Hz(247.0));
        let mut spec = one_note(first);
        spec.lines[0].notes.push(second.clone());
        assert!(matches!(check(&spec), Err(SpecError::Overlap { .. })));
        second.start = Secs(1.1);
        second.join = Join::Legato;
        spec.lines[0].notes[1] = second;
        assert!(matches!(check(&spec), Err(SpecError::NothingToJoin { .. })));
        spec.version = 2;
        assert!(matches!(check(&spec), Err(SpecError::Version { found: 2 })));
    }
}
