//! Decodes files, resamples them to 48 kHz, and says what it found: `decode FILE...`.

use std::time::Instant;

use sound::{Recording, Resampler};

fn main() {
    for path in std::env::args().skip(1) {
        match decoded(&path) {
            Ok(words) => println!("{path}: {words}"),
            Err(error) => println!("{error}"),
        }
    }
}

fn decoded(path: &str) -> Result<String, Box<dyn std::error::Error>> {
    let start = Instant::now();
    let mut recording = Recording::open(path)?;
    let mut resampler = Resampler::new(recording.sample_rate_hz(), 48_000)?;
    let (mut heard, mut lost, mut out_count, mut power) = (0, 0, 0, 0.0);
    let mut out = Vec::new();
    while let Some(block) = recording.next_block()? {
        out.clear();
        lost += block.lost_before;
        if block.lost_before > 0 {
            resampler.skip(block.lost_before, &mut out);
        }
        heard += block.samples.len();
        resampler.push(block.samples, &mut out);
        out_count += out.len();
        power += out.iter().map(|&x| f64::from(x * x)).sum::<f64>();
    }
    out.clear();
    resampler.finish(&mut out);
    out_count += out.len();
    Ok(format!(
        "{} Hz, {} channels, {heard} samples, {lost} lost; {out_count} at 48 kHz, {:.2} dBFS; \
         {:.0} times real time; {:?}",
        recording.sample_rate_hz(),
        recording.channels(),
        10.0 * (power / out_count as f64).log10(),
        out_count as f64 / 48_000.0 / start.elapsed().as_secs_f64(),
        recording.remarks().in_words(),
    ))
}
