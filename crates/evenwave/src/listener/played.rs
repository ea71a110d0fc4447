//! Playing a recording or a demo session to the ear.

use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::{Duration, Instant};

use sound::Recording;

use super::REST;
use super::heard::{DeviceState, FromListener};
use super::relay::Relay;
use crate::chain::Chain;
use crate::session::Session;

/// Samples taken at a time from a recording or session.
const BLOCK_SECS: f64 = 0.01;

/// Sound that is there already and is played out at its own pace.
pub(super) enum Feed {
    /// A file.
    Recording(Box<Recording>),
    /// A demo session, from its sample `place` on.
    Session { session: Session, place: usize },
}

impl Feed {
    fn rate_hz(&self) -> u32 {
        match self {
            Self::Recording(recording) => recording.sample_rate_hz(),
            Self::Session { session, .. } => session.sample_rate_hz(),
        }
    }

    /// Writes the next block and says how many samples are missing before it; `None` at the end.
    fn next(&mut self, block: &mut Vec<f32>) -> Result<Option<u64>, String> {
        block.clear();
        match self {
            Self::Recording(recording) => match recording.next_block() {
                Ok(Some(next)) => {
                    block.extend_from_slice(next.samples);
                    Ok(Some(next.lost_before))
                }
                Ok(None) => Ok(None),
                Err(error) => Err(error.to_string()),
            },
            Self::Session { session, place } => {
                let left = &session.samples()[*place..];
                let length = (BLOCK_SECS * f64::from(session.sample_rate_hz())) as usize;
                let next = &left[..length.min(left.len())];
                block.extend_from_slice(next);
                *place += next.len();
                Ok((!next.is_empty()).then_some(0))
            }
        }
    }
}

/// Plays to the ear at the pace of real time.
pub(super) fn at_real_pace(
    mut feed: Feed,
    name: String,
    mut chain: Chain,
    mut relay: Relay,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    relay.send(FromListener::Device(DeviceState::Playing(name)));
    let rate_hz = feed.rate_hz();
    let length = (BLOCK_SECS * f64::from(rate_hz)).max(1.0) as usize;
    let started = Instant::now();
    let mut block = Vec::new();
    let mut played: u64 = 0;
    let mut last = DeviceState::Over;
    'playing: loop {
        let mut lost_before = match feed.next(&mut block) {
            Ok(Some(lost_before)) => lost_before,
            Ok(None) => break,
            Err(words) => {
                last = DeviceState::BrokenOff(words);
                break;
            }
        };
        for part in block.chunks(length) {
            played += lost_before + part.len() as u64;
            let due = Duration::from_secs_f64(played as f64 / f64::from(rate_hz));
            while started.elapsed() < due {
                if stop.load(Relaxed) || relay.gone {
                    break 'playing;
                }
                thread::sleep(REST.min(due.saturating_sub(started.elapsed())));
            }
            relay.take(&mut chain, lost_before, part, rate_hz);
            lost_before = 0;
            if relay.has_handed_on() {
                wake();
            }
        }
    }
    relay.send(FromListener::Device(last));
    relay.end(Some(chain));
    wake();
}
