//! What another program asks of the ear, answered in the figures of `evenwave measure`.

use std::path::Path;

use clap::Parser;
use tuning::Secs;
use vibrato::Event;

use crate::arguments::{Arguments, Command, EarArguments};
use crate::fault::Fault;
use crate::formats::frame_row;
use crate::heard_file::{Measured, hear_samples, measure_file, measure_frames};

/// What is to be heard.
#[derive(Clone, Copy, Debug)]
pub enum Heard<'a> {
    /// A sound file.
    File(&'a Path),
    /// Samples of one channel (full scale = 1.0), so many a second.
    Samples(&'a [f32], u32),
}

/// How to listen, in the options of `evenwave measure`, such as `--a4=442`; `Err` is what the command would say.
pub fn how(options: &[String]) -> Result<EarArguments, String> {
    let line = ["evenwave", "measure"].into_iter().chain(options.iter().map(String::as_str));
    match Arguments::try_parse_from(line.chain(["sound"])) {
        Ok(Arguments { command: Some(Command::Measure(arguments)) }) => Ok(arguments.ear),
        Ok(_) => Err("these are no options of `evenwave measure`".to_owned()),
        Err(error) => Err(error.to_string()),
    }
}

/// The notes, as the line of JSON that `evenwave measure --json` prints.
pub fn notes(heard: Heard<'_>, ear: &EarArguments) -> Result<String, Fault> {
    let (measured, name) = match heard {
        Heard::File(path) => (measure_file(path, &ear.whole_file())?, path.display().to_string()),
        Heard::Samples(samples, rate_hz) => {
            (hear_samples(samples, rate_hz, ear.settings(), &mut |_| {})?, String::new())
        }
    };
    serde_json::to_string(&measured.record(name, ear.naming()))
        .map_err(|error| Fault::Failed(error.to_string()))
}

/// The frames, 200 a second, a column after the other as `evenwave measure --frames` writes them: time in s, pitch in
/// Hz, confidence and level in dB of full scale. NaN where there is no pitch.
pub fn frames(heard: Heard<'_>, ear: &EarArguments) -> Result<[Vec<f64>; 4], Fault> {
    let (measured, frames) = match heard {
        Heard::File(path) => measure_frames(path, &ear.whole_file(), &mut |_| true)?,
        Heard::Samples(samples, rate_hz) => {
            let mut frames = Vec::new();
            let mut look = |event: &Event| {
                if let Event::Frame(frame) = event {
                    frames.push(*frame);
                }
            };
            (hear_samples(samples, rate_hz, ear.settings(), &mut look)?, frames)
        }
    };
    let Measured { zero: Secs(zero), .. } = measured;
    let mut columns = [const { Vec::new() }; 4];
    for frame in &frames {
        for (column, number) in columns.iter_mut().zip(frame_row(frame, Secs(zero))) {
            column.push(number.unwrap_or(f64::NAN));
        }
    }
    Ok(columns)
}
