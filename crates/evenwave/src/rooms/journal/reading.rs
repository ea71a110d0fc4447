//! The sound of a take: decoded, and measured again.

use std::path::Path;
use std::sync::Arc;

use journal::{TakeFile, TakeId};
use pitch::Frame;
use sound::Recording;
use tuning::{Hz, Instrument, Temperament, Tuning};
use vibrato::Event;

use crate::arguments::settings;
use crate::chain::Chain;

/// The sound of a take.
#[derive(Clone)]
pub struct Sound {
    /// Which take.
    pub id: TakeId,
    /// All of it, full scale = 1.0; where samples could not be decoded there is silence.
    pub samples: Arc<[f32]>,
    /// Samples a second.
    pub rate_hz: u32,
}

impl Sound {
    /// Decodes it. `Err` says in words why that cannot be done.
    pub fn decode(id: &TakeId, path: &Path) -> Result<Self, String> {
        let mut recording = Recording::open(path).map_err(|error| error.to_string())?;
        let rate_hz = recording.sample_rate_hz();
        let mut samples = Vec::new();
        while let Some(block) = recording.next_block().map_err(|error| error.to_string())? {
            let lost = usize::try_from(block.lost_before).unwrap_or(0);
            samples.resize(samples.len().saturating_add(lost), 0.0);
            samples.extend_from_slice(block.samples);
        }
        Ok(Self {
            id: id.clone(),
            samples: samples.into(),
            rate_hz,
        })
    }
}

/// The pitch of a take, in the tuning and for the instrument it was played with; `None` where `stop` said so
/// meanwhile. `Err` says in words why it cannot be measured.
pub fn measure(
    path: &Path,
    file: &TakeFile,
    mut stop: impl FnMut() -> bool,
) -> Result<Option<Vec<Frame>>, String> {
    let mut recording = Recording::open(path).map_err(|error| error.to_string())?;
    let tuning = Tuning {
        a4: Hz(file.a4_hz),
        temperament: match file.temperament.as_str() {
            "pure-fifths" => Temperament::PureFifths,
            _ => Temperament::Equal,
        },
    };
    let named = file.instrument.as_deref();
    let instrument = named.and_then(|name| Instrument::find(name).ok());
    let settings = settings(tuning, instrument.as_ref());
    let rate_hz = recording.sample_rate_hz();
    let mut chain = Chain::new(rate_hz, settings).map_err(|error| error.to_string())?;
    let mut frames = Vec::new();
    let mut take = |event: Event, _: &vibrato::Ear| {
        if let Event::Frame(frame) = event {
            frames.push(frame);
        }
    };
    while let Some(block) = recording.next_block().map_err(|error| error.to_string())? {
        if stop() {
            return Ok(None);
        }
        chain.push(block.lost_before, block.samples, &mut take);
    }
    chain.finish(&mut take);
    Ok(Some(frames))
}
