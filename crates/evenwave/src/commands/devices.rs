//! `evenwave devices`.

use std::io::Write;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use crate::fault::Fault;

/// A sound system that works answers sooner. One whose lock stays taken never does.
const PATIENCE: Duration = Duration::from_secs(10);

/// Lists the inputs and outputs that work.
pub(super) fn run() -> Result<(), Fault> {
    let devices = answer(PATIENCE, sound::devices)?;
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

/// What the sound system answers, on a thread that is left behind where it does not.
fn answer<T: Send + 'static>(
    patience: Duration,
    ask: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Fault> {
    let (tell, told) = channel();
    let asking = move || {
        tell.send(ask()).ok();
    };
    let failed = |why: String| Fault::Failed(format!("the sound system {why}"));
    let thread = thread::Builder::new().name("list devices".to_owned()).spawn(asking);
    thread
        .map_err(|error| failed(format!("cannot be asked: no thread can be started ({error})")))?;
    told.recv_timeout(patience).map_err(|error| match error {
        RecvTimeoutError::Timeout => failed(format!(
            "does not answer within {} s; end other programs that use sound, or start the computer anew",
            patience.as_secs()
        )),
        RecvTimeoutError::Disconnected => failed("cannot be asked".to_owned()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sound_system_that_never_answers_is_told_and_not_waited_for() {
        assert_eq!(answer(PATIENCE, || 7).expect("at once"), 7);
        let never = || thread::sleep(Duration::from_secs(3_600));
        let fault = answer(Duration::from_millis(50), never).expect_err("never");
        assert!(fault.to_string().starts_with("the sound system does not answer"), "{fault}");
    }
}
