//! Raw f32 samples at 48 kHz on standard input, notes on standard output.
use std::io::Read;
use vibrato::{Ear, Event, Settings};

fn main() -> std::io::Result<()> {
    let mut bytes = Vec::new();
    std::io::stdin().read_to_end(&mut bytes)?;
    let samples: Vec<f32> = bytes
        .as_chunks::<4>()
        .0
        .iter()
        .map(|&b| f32::from_le_bytes(b))
        .collect();
    let mut ear = Ear::new(Settings::default());
    let each = |event, ear: &Ear| {
        if event == Event::NoteEnded
            && let Some(n) = ear.note()
        {
            println!(
                "{:.2}-{:.2} midi {} off {:.2}±{:.2} lvl {:.1} conf {:.2} uns {:.2} straight {} rebows {} {:?}",
                n.start.0,
                n.end.0,
                n.midi,
                n.offset.value.0,
                n.offset.se.map_or(0.0, |s| s.0),
                n.level_dbfs,
                n.confidence,
                n.unsteadiness.0,
                n.straight,
                n.rebows.len(),
                n.remarks
            );
            if let Some(v) = &n.vibrato {
                println!(
                    "    rate {:.3}±{:.3} width {:.2}±{:.2} centre {:.2}±{:.2} rs {:?} ws {:?} smooth {:?} drift {:?} onset {:.2} n {}",
                    v.rate.value.0,
                    v.rate.se.map_or(0.0, |s| s.0),
                    v.width.value.0,
                    v.width.se.map_or(0.0, |s| s.0),
                    v.centre.value.0,
                    v.centre.se.map_or(0.0, |s| s.0),
                    v.rate_spread_pct.map(|m| m.value as f32),
                    v.width_spread_pct.map(|m| m.value as f32),
                    v.smoothness_pct.map(|m| m.value as f32),
                    v.drift.map(|d| d.value.0 as f32),
                    v.onset.value.0,
                    v.oscillations.len()
                );
            }
        }
    };
    ear.hear(&samples, each);
    ear.finish();
    ear.hear(&[], each);
    Ok(())
}
