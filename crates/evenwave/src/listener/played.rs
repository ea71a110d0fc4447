//! Playing a demo session to the ear.

use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::{Duration, Instant};

use super::REST;
use super::heard::{DeviceState, FromListener};
use super::relay::Relay;
use crate::chain::Chain;
use crate::session::Session;

/// So much of it is played at a time.
const BLOCK_SECS: f64 = 0.01;

/// Plays a session to the ear at the pace of real time.
pub(super) fn at_real_pace(
    session: &Session,
    mut chain: Chain,
    mut relay: Relay,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    let name = format!("the demo session {}", session.name());
    relay.send(FromListener::Device(DeviceState::Playing(name)));
    let rate_hz = session.sample_rate_hz();
    let length = (BLOCK_SECS * f64::from(rate_hz)).max(1.0) as usize;
    let started = Instant::now();
    let mut played = 0;
    'playing: for block in session.samples().chunks(length) {
        played += block.len();
        let due = Duration::from_secs_f64(played as f64 / f64::from(rate_hz));
        while started.elapsed() < due {
            if stop.load(Relaxed) || relay.gone {
                break 'playing;
            }
            thread::sleep(REST.min(due.saturating_sub(started.elapsed())));
        }
        relay.take(&mut chain, 0, block, rate_hz);
        relay.settle_ready();
        if relay.has_handed_on() {
            wake();
        }
    }
    relay.send(FromListener::Device(DeviceState::Over));
    relay.end(Some(chain));
    wake();
}
