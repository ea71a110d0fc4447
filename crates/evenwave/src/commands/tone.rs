//! `evenwave tone SPEC.ron -o out.wav --truth out.csv`.

use std::fs::File;
use std::io::{BufWriter, Write};

use sound::WavFormat;
use tone::Spec;

use crate::arguments::ToneArguments;
use crate::fault::Fault;
use crate::outputs::{not_over, only_over};

/// Plays a specification into a WAV file and writes its true pitch.
pub(super) fn run(arguments: &ToneArguments) -> Result<(), Fault> {
    let path = arguments.spec.display();
    not_over(&arguments.out, &arguments.spec)?;
    if let Some(truth) = &arguments.truth {
        not_over(truth, &arguments.spec)?;
        if *truth == arguments.out {
            return Err(Fault::Usage(
                "--out and --truth name the same file; choose another name for one of them"
                    .to_owned(),
            ));
        }
        only_over(truth, "time_s,", "table of a true pitch")?;
    }
    only_over(&arguments.out, "RIFF", "WAV file")?;
    let text = std::fs::read_to_string(&arguments.spec).map_err(|error| {
        Fault::Failed(format!("the specification cannot be read ({error}); check the path: {path}"))
    })?;
    let told = |error: tone::SpecError| Fault::Failed(format!("{error}: {path}"));
    let rendering = Spec::from_ron(&text).and_then(|spec| spec.render()).map_err(told)?;
    sound::write_wav(
        &arguments.out,
        &rendering.samples,
        rendering.sample_rate_hz,
        1,
        WavFormat::Float,
    )
    .map_err(|error| Fault::Failed(error.to_string()))?;
    if let Some(truth) = &arguments.truth {
        let written = File::create(truth).and_then(|file| {
            let mut out = BufWriter::new(file);
            rendering.truth.write_csv(&mut out)?;
            out.flush()
        });
        written.map_err(|error| {
            Fault::Failed(format!(
                "the truth cannot be written ({error}); choose another place: {}",
                truth.display()
            ))
        })?;
    }
    Ok(())
}
