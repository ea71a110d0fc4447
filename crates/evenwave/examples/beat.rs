//! Lets the metronome beat through the loudspeaker as the window does, and writes down when each beat is
//! told to sound and when it would be shown: `beat SECONDS BPM LOG`, one JSON object a line, in seconds since
//! 1970. The gate `cargo xtask beat` holds them against what was heard.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::sync::mpsc::channel;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use evenwave::player::{FromPlayer, Player, Playing};
use tone::BeatWish;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [secs, bpm, log] = arguments.as_slice() else {
        return Err("give seconds, beats per minute, and where to write".into());
    };
    let (secs, bpm): (f64, f64) = (secs.parse()?, bpm.parse()?);
    let mut log = BufWriter::new(File::create(log)?);
    // Both clocks once: what follows is counted by the one that is never set.
    let (begun, date) = (Instant::now(), SystemTime::now().duration_since(UNIX_EPOCH)?);
    let of = |at: Instant| (date + at.saturating_duration_since(begun)).as_secs_f64();
    let (told, telling) = channel();
    let player = Player::start(move |what| {
        told.send(what).ok();
    })?;
    player.sound(Playing {
        beat: Some(BeatWish { bpm, bar: 4, audible: true }),
        ..Playing::default()
    });
    let end = begun + Duration::from_secs_f64(secs);
    while let Ok(told) = telling.recv_timeout(end.saturating_duration_since(Instant::now())) {
        match told {
            FromPlayer::Beat { place, at } => {
                std::thread::sleep(at.saturating_duration_since(Instant::now()));
                let (sounds, shown) = (of(at), of(Instant::now()));
                writeln!(
                    log,
                    r#"{{"place":{place},"sounds_s":{sounds:.6},"shown_s":{shown:.6}}}"#
                )?;
            }
            FromPlayer::Loudspeaker(words) => eprintln!("{}", words.unwrap_or_default()),
            FromPlayer::RunBeat { .. }
            | FromPlayer::Chirp { .. }
            | FromPlayer::At { .. }
            | FromPlayer::ClipOver { .. } => {}
        }
    }
    log.flush()?;
    Ok(())
}
