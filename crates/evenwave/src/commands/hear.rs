//! `evenwave hear`.

use std::io::Write;
use std::sync::mpsc::RecvTimeoutError;
use std::time::{Duration, Instant};

use late_sound::Settling;
use sound::CaptureStatus;
use tuning::{Naming, Secs};
use vibrato::{Event, Note};

use crate::arguments::HearArguments;
use crate::fault::Fault;
use crate::formats::{LostRecord, NoteRecord, SCHEMA, SoundRecord, heading, note_lines, written};
use crate::listener::{DeviceState, FromListener, Listener, Listening, SoundSource};
use crate::outputs::{json_line, lines};
use crate::words::aside;

/// How often the end of the time is looked for.
const LOOK: Duration = Duration::from_millis(50);

/// Listens to the microphone and writes a line per note as it ends.
pub(super) fn run(arguments: &HearArguments) -> Result<(), Fault> {
    let listening = Listening {
        source: SoundSource::Microphone {
            device: arguments.device.clone(),
            channel: arguments.ear.channel,
        },
        settings: arguments.ear.settings(),
    };
    let until = arguments.seconds.map(|secs| Instant::now() + Duration::from_secs_f64(secs));
    let listener = Listener::start(listening, None, || {})?;
    let mut report = Report::new(arguments.json, arguments.ear.naming());
    loop {
        if until.is_some_and(|until| Instant::now() >= until) {
            listener.stop();
        }
        match listener.events.recv_timeout(LOOK) {
            Ok(FromListener::Ended) | Err(RecvTimeoutError::Disconnected) => break,
            Ok(heard) => report.tell(&heard)?,
            Err(RecvTimeoutError::Timeout) => {}
        }
    }
    report.end()
}

/// Writes what is heard as it is heard.
struct Report {
    json: bool,
    naming: Naming,
    /// The device as it was last named.
    device: String,
    sample_rate_hz: u32,
    /// How much has been heard.
    heard: Secs,
    /// What was lost since the last note.
    lost: Vec<LostRecord>,
    notes: usize,
    /// Notes that are not written yet.
    settling: Settling,
}

impl Report {
    fn new(json: bool, naming: Naming) -> Self {
        Self {
            json,
            naming,
            device: "microphone".to_owned(),
            sample_rate_hz: 0,
            heard: Secs(0.0),
            lost: Vec::new(),
            notes: 0,
            settling: Settling::default(),
        }
    }

    fn tell(&mut self, heard: &FromListener) -> Result<(), Fault> {
        match heard {
            FromListener::Device(state) => {
                aside(state);
                if let DeviceState::Microphone(CaptureStatus::Listening {
                    device,
                    sample_rate_hz,
                }) = state
                {
                    self.device.clone_from(device);
                    self.sample_rate_hz = *sample_rate_hz;
                }
            }
            FromListener::Note { note, settled } => {
                self.settling.push((**note).clone(), *settled);
                self.notes_settled(false)?;
            }
            FromListener::Settled(note) => {
                self.settling.settle(note);
                self.notes_settled(false)?;
            }
            FromListener::Event(Event::Frame(frame)) => self.heard = frame.time,
            FromListener::Event(Event::Lost { time, length }) => {
                aside(format!("at {:.2} s, {:.3} s of the sound were lost", time.0, length.0));
                self.lost
                    .push(LostRecord { start_s: written(time.0), length_s: written(length.0) });
            }
            FromListener::Event(_)
            | FromListener::Level(_)
            | FromListener::Clock(_)
            | FromListener::Ended => {}
        }
        Ok(())
    }

    fn notes_settled(&mut self, in_any_case: bool) -> Result<(), Fault> {
        while let Some(note) = self.settling.next(in_any_case) {
            self.note(&note)?;
        }
        Ok(())
    }

    fn note(&mut self, note: &Note) -> Result<(), Fault> {
        let record = NoteRecord::new(note, self.naming, Secs(0.0));
        self.notes += 1;
        let mut out = std::io::stdout().lock();
        if self.json {
            let sound = SoundRecord {
                schema: SCHEMA,
                file: self.device.clone(),
                sample_rate_hz: self.sample_rate_hz,
                duration_s: Some(written(self.heard.0)),
                notes: vec![record],
                lost: std::mem::take(&mut self.lost),
                remarks: Vec::new(),
            };
            json_line(&mut out, &sound)?;
        } else {
            if self.notes == 1 {
                lines(&mut out, heading())?;
            }
            lines(&mut out, note_lines(&record))?;
        }
        Ok(out.flush()?)
    }

    fn end(mut self) -> Result<(), Fault> {
        self.notes_settled(true)?;
        if self.heard.0 > 0.0 {
            return Ok(());
        }
        Err(Fault::Failed(
            "no sound came from a microphone; see `evenwave devices` for those that work"
                .to_owned(),
        ))
    }
}
