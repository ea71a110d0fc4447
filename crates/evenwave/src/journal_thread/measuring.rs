//! The sound of a take, measured again.

use std::path::Path;

use journal::TakeFile;
use pitch::Frame;
use sound::Recording;
use vibrato::Event;

use crate::arguments::settings_of_take;
use crate::chain::Chain;

/// The pitch of a take, in the tuning and for the instrument it was played with; `None` where `stop` said so
/// meanwhile. `Err` says in words why it cannot be measured.
pub(super) fn measure(
    path: &Path,
    file: &TakeFile,
    mut stop: impl FnMut() -> bool,
) -> Result<Option<Vec<Frame>>, String> {
    let mut recording = Recording::open(path).map_err(|error| error.to_string())?;
    let rate_hz = recording.sample_rate_hz();
    let mut chain =
        Chain::new(rate_hz, settings_of_take(file)).map_err(|error| error.to_string())?;
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
