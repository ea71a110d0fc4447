//! Listens to the microphone and says what it finds: `listen [SECONDS [DEVICE [CHANNEL]]]`.
//!
//! Prints each change of status, and once a second how many samples came, how many were missing,
//! their level, and the pitch by counting zero crossings (of a sine, that is).

use std::time::{Duration, Instant};

use sound::{Capture, DeviceChoice};

fn main() {
    let mut words = std::env::args().skip(1);
    let seconds: f64 = words.next().and_then(|w| w.parse().ok()).unwrap_or(5.0);
    let choice = DeviceChoice {
        name: words.next().filter(|name| name != "default"),
        channel: words.next().and_then(|w| w.parse().ok()),
    };
    let start = Instant::now();
    let mut capture = Capture::new(choice);
    let mut out = Vec::new();
    let mut second = 1.0;
    let (mut heard, mut lost, mut polls, mut slowest) = (0, 0, 0_u64, Duration::ZERO);
    let (mut all_heard, mut all_lost) = (0, 0);
    while start.elapsed().as_secs_f64() < seconds {
        let now = Instant::now();
        let caught = capture.poll(now, &mut out);
        polls += 1;
        slowest = slowest.max(now.elapsed());
        let at = start.elapsed().as_secs_f64();
        if caught.changed {
            println!("{at:7.3} s  * {}", capture.status());
        }
        heard += caught.count;
        lost += caught.lost_before;
        if caught.lost_before > 0 {
            println!("{at:7.3} s    {} samples missing", caught.lost_before);
        }
        if at >= second {
            let rate_hz = capture.sample_rate_hz().unwrap_or(48_000);
            let (level_db, pitch_hz) = measured(&out, rate_hz);
            println!(
                "{at:7.3} s    {heard} heard, {lost} missing, {level_db:.2} dBFS rms, {pitch_hz:.2} Hz; \
                 {polls} polls, slowest {slowest:.1?}"
            );
            all_heard += heard;
            all_lost += lost;
            (heard, lost, polls, slowest) = (0, 0, 0, Duration::ZERO);
            out.clear();
            second += 1.0;
        }
        if caught.count == 0 {
            std::thread::sleep(Duration::from_millis(5));
        }
    }
    println!("in all {} heard, {} missing", all_heard + heard, all_lost + lost);
}

/// Level in dB of full scale, and cycles a second between the first and the last zero crossing.
fn measured(samples: &[f32], rate_hz: u32) -> (f64, f64) {
    let power = samples.iter().map(|&x| f64::from(x * x)).sum::<f64>() / samples.len() as f64;
    let crossing = |(n, pair): (usize, &[f32])| {
        let rises = pair[0] < 0.0 && pair[1] >= 0.0;
        rises.then(|| n as f64 + f64::from(-pair[0] / (pair[1] - pair[0])))
    };
    let crossings: Vec<f64> = samples.windows(2).enumerate().filter_map(crossing).collect();
    let pitch_hz = match (crossings.first(), crossings.last()) {
        (Some(first), Some(last)) if last > first => {
            (crossings.len() - 1) as f64 * f64::from(rate_hz) / (last - first)
        }
        _ => 0.0,
    };
    (10.0 * power.log10(), pitch_hz)
}
