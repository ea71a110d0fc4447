//! Writes what is read of scores, a line for each note, to be compared with the reading of another library:
//! `reading FILE...`. Lines are parted by tabs; lengths are whole fractions of a quarter.
//!
//! `file NAME` · `fault WORDS` · `part NUMBER` · `note BAR AT LENGTH VOICE PITCHES TIES TUPLET FINGER SLURRED DYNAMIC`, where pitches
//! are sounding MIDI numbers (`rest`, `drum`, `grace` before them for a small note) · `slur BAR AT BAR AT` · `played BARS`, by their places.

use std::io::{self, Write};

use score::{MusicXml, Part, Quarters, Sound, Transposition};

fn main() -> io::Result<()> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    for name in std::env::args().skip(1) {
        writeln!(out, "file\t{name}")?;
        let read = MusicXml::read(&std::fs::read(&name)?);
        let parts = read.and_then(|score| {
            (0..score.parts.len()).map(|number| score.part(number)).collect::<Result<Vec<_>, _>>()
        });
        match parts {
            Err(fault) => writeln!(out, "fault\t{fault}")?,
            Ok(parts) => {
                for (number, part) in parts.iter().enumerate() {
                    writeln!(out, "part\t{number}")?;
                    write_part(&mut out, part)?;
                }
            }
        }
    }
    out.flush()
}

fn write_part(out: &mut impl Write, part: &Part) -> io::Result<()> {
    for (number, bar) in part.bars.iter().enumerate() {
        for sound in &bar.sounds {
            let pitches = pitches(sound, bar.transposed);
            let ties = |on: bool| {
                let tied =
                    sound.pitches.iter().filter(|it| if on { it.tied_on } else { it.tied_from });
                tied.count()
            };
            let (actual, normal) = sound.tuplet.unwrap_or((1, 1));
            let finger = sound.finger.map_or_else(|| "-".into(), |finger| finger.to_string());
            let dynamic =
                sound.dynamic.map_or_else(|| "-".into(), |it| format!("{it:?}").to_lowercase());
            writeln!(
                out,
                "note\t{number}\t{}\t{}\t{}\t{pitches}\t{}/{}\t{actual}:{normal}\t{finger}\t{}\t{dynamic}",
                fraction(sound.at),
                fraction(sound.length),
                sound.voice,
                ties(false),
                ties(true),
                u8::from(sound.slurred),
            )?;
        }
    }
    for [from, to] in &part.slurs {
        let at = |(bar, sound): (usize, usize)| {
            format!("{bar}\t{}", fraction(part.bars[bar].sounds[sound].at))
        };
        writeln!(out, "slur\t{}\t{}", at(*from), at(*to))?;
    }
    let played = part.played().unwrap_or_default();
    let played: Vec<String> = played.iter().map(ToString::to_string).collect();
    writeln!(out, "played\t{}", played.join(" "))
}

fn pitches(sound: &Sound, transposed: Transposition) -> String {
    let mut sounding: Vec<f64> =
        sound.pitches.iter().map(|pitch| pitch.sounding(transposed).midi()).collect();
    sounding.sort_by(f64::total_cmp);
    let sounding: Vec<String> = sounding.iter().map(ToString::to_string).collect();
    let plain = match (sounding.is_empty(), sound.unpitched) {
        (true, true) => "drum".to_owned(),
        (true, false) => "rest".to_owned(),
        _ => sounding.join(" "),
    };
    format!("{}{plain}", if sound.grace { "grace " } else { "" })
}

fn fraction(time: Quarters) -> String {
    let (parts, of) = time.fraction();
    format!("{parts}/{of}")
}
