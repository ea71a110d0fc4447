//! `evenwave tone SPEC.ron -o out.wav --truth out.csv`.

use std::io::{BufWriter, Write};

use sound::{WavFormat, WavWriter};
use tone::Spec;

use crate::arguments::ToneArguments;
use crate::fault::Fault;
use crate::outputs::{not_over, only_new, only_over, whole};

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
    for out in [Some(&arguments.out), arguments.truth.as_ref()].into_iter().flatten() {
        only_new(out, arguments.replace)?;
    }
    let text = disk::text(&arguments.spec).map_err(|error| {
        Fault::Failed(format!("the specification cannot be read ({error}); check the path: {path}"))
    })?;
    let told = |error: tone::SpecError| Fault::Failed(format!("{error}: {path}"));
    let rendering = Spec::from_ron(&text).and_then(|spec| spec.render()).map_err(told)?;
    whole(&arguments.out, arguments.replace, |fresh| {
        let out = BufWriter::new(fresh);
        let rate_hz = rendering.sample_rate_hz;
        let mut wav = WavWriter::new(out, &arguments.out, rate_hz, 1, WavFormat::Float)?;
        wav.write(&rendering.samples)?;
        Ok::<(), Fault>(wav.finish()?)
    })?;
    let Some(truth) = &arguments.truth else {
        return Ok(());
    };
    let written = whole(truth, arguments.replace, |fresh| {
        let mut out = BufWriter::new(fresh);
        rendering.truth.write_csv(&mut out)?;
        out.flush()
    });
    written.map_err(|error| {
        Fault::Failed(format!(
            "the truth cannot be written ({error}); choose another place: {}",
            truth.display()
        ))
    })
}
