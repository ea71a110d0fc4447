//! The sound of a take, measured again.

use std::path::Path;

use journal::TakeFile;
use pitch::Frame;

use crate::arguments::settings_of_take;
use crate::heard_file::{Wanted, measure_frames};

/// The pitch of a take, in the tuning and for the instrument it was played with; `None` where `stop` said so
/// meanwhile. `Err` says in words why it cannot be measured.
pub(super) fn measure(
    path: &Path,
    file: &TakeFile,
    mut stop: impl FnMut() -> bool,
) -> Result<Option<Vec<Frame>>, String> {
    let mut stopped = false;
    let mut go_on = |_: &sound::Recording| {
        stopped = stop();
        !stopped
    };
    let heard = measure_frames(path, &Wanted::whole(settings_of_take(file)), &mut go_on);
    heard.map(|(_, frames)| (!stopped).then_some(frames)).map_err(|fault| fault.to_string())
}
