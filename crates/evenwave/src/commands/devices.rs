//! `evenwave devices`.

use std::io::Write;

use crate::fault::Fault;

/// Lists the inputs and outputs that work.
pub(super) fn run() -> Result<(), Fault> {
    let devices = sound::devices();
    let mut out = std::io::stdout().lock();
    let kinds = [
        (
            "Microphones",
            &devices.inputs,
            "none works: plug one in, or allow this program to use it",
        ),
        ("Loudspeakers", &devices.outputs, "none works"),
    ];
    for (title, list, none) in kinds {
        writeln!(out, "{title}:")?;
        if list.is_empty() {
            writeln!(out, "  {none}")?;
        }
        for device in list {
            let usual = if device.default { "  (default)" } else { "" };
            writeln!(
                out,
                "  {}: {}, {} Hz{usual}",
                device.name,
                crate::words::counted(device.channels, "channel"),
                device.sample_rate_hz
            )?;
        }
    }
    Ok(())
}
