//! Raw f32 samples at 48 kHz on standard input, frames as CSV on standard output.

use std::io::{Read, Write};
use tuning::Hz;

fn main() -> std::io::Result<()> {
    let mut bytes = Vec::new();
    std::io::stdin().read_to_end(&mut bytes)?;
    let samples: Vec<f32> = bytes
        .as_chunks::<4>()
        .0
        .iter()
        .map(|&b| f32::from_le_bytes(b))
        .collect();
    let args: Vec<f64> = std::env::args()
        .skip(1)
        .filter_map(|a| a.parse().ok())
        .collect();
    let (low, high) = (
        args.first().copied().unwrap_or(30.0),
        args.get(1).copied().unwrap_or(2700.0),
    );
    let mut tracker = pitch::Tracker::new(Hz(low), Hz(high));
    let mut out = std::io::stdout().lock();
    let mut at = 0;
    let mut pushed = 0;
    loop {
        while let Some(f) = tracker.poll() {
            let f0 = f.f0.map_or(0.0, |f| f.get());
            let d = f.disagreement.map_or(0.0, |d| d.get());
            let late = pushed as f64 / 48_000.0 - f.time.get();
            writeln!(
                out,
                "{:.3},{:.5},{:.4},{:.2},{:.3},{:.4}",
                f.time.get(),
                f0,
                f.confidence,
                f.level_dbfs,
                d,
                late
            )?;
        }
        if at == samples.len() {
            if pushed < usize::MAX {
                pushed = usize::MAX;
                tracker.finish();
                continue;
            }
            return Ok(());
        }
        let n = tracker.push(&samples[at..(at + 48).min(samples.len())]);
        at += n;
        pushed = at;
    }
}
