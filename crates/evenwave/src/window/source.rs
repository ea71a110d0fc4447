//! What the window listens to: the microphone, a demo session, one instead of the other; and the takes of it.

use std::sync::mpsc::Sender;

use eframe::egui;
use journal::LessonPart;
use panels::Source;
use panels::shell::options::Options;
use panels::shell::room::Room;
use panels::stand::{Heard, Take};
use sound::CaptureStatus;
use tuning::Secs;

use super::{Opening, Pace, Window, teller};
use crate::arguments::settings;
use crate::listener::{self, DeviceState, Listener, Listening};
use crate::session::{FIRST_SESSION, Session};
use crate::takes::{TakeState, Takes};

/// What is listened to. The listeners hold the writer of takes.
pub(super) struct Listened {
    /// Where the sound was asked to come from.
    pub source: listener::SoundSource,
    /// The microphone, or the session that was asked for by name.
    pub asked: Listener,
    /// The demo session that stands in while no microphone is found.
    pub stand_in: Option<(String, Listener)>,
    /// What the asked source told of itself last.
    state: Option<DeviceState>,
    /// It was heard at some time.
    heard: bool,
}

impl Listened {
    /// The source that was asked for, which is listened to already.
    pub(super) fn new(source: listener::SoundSource, asked: Listener) -> Self {
        Self { source, asked, stand_in: None, state: None, heard: false }
    }
}

/// A take of a pass goes on through silences of less than this: the room says when the pass is over.
const A_PASS: Secs = Secs(60.0);

impl Window {
    /// The asked source says how it stands.
    pub(super) fn asked_is(&mut self, state: DeviceState) {
        self.listened.state = Some(state.clone());
        let may_stand_in = self.listened.stand_in.is_none() && self.nothing_heard_ever(&state);
        let source = match &self.listened.stand_in {
            None if may_stand_in => self.start_stand_in(state.to_string()),
            None => source_of(&state),
            Some(_) if state.is_heard() => Source::Found,
            Some((name, _)) => {
                Source::Demo { name: name.clone(), missing: Some(state.to_string()) }
            }
        };
        self.hear(Heard::Source(source));
    }

    /// There is no microphone and there was none before, so that a demo session may stand in.
    pub(super) fn nothing_heard_ever(&mut self, state: &DeviceState) -> bool {
        self.listened.heard |= state.is_heard();
        is_closed(state) && !self.listened.heard
    }

    /// Plays the demo session because there is no microphone, for this reason.
    pub(super) fn start_stand_in(&mut self, missing: String) -> Source {
        self.listened.heard = true;
        let started = Session::named(FIRST_SESSION).and_then(|session| {
            let name = session.name().to_owned();
            let source = listener::SoundSource::Session(session);
            // A session is nobody's take.
            let listener = start(&source, &self.in_force, None, &self.context, &self.pace)?;
            Ok((name, listener))
        });
        match started {
            Ok((name, listener)) => {
                self.listened.stand_in = Some((name.clone(), listener));
                self.allow_takes();
                Source::Demo { name, missing: Some(missing) }
            }
            Err(_) => Source::Trouble { words: missing, demo: false },
        }
    }

    /// The writer of takes says how it stands with them.
    pub(super) fn take_is(&mut self, state: TakeState) {
        self.recent.hear(&state);
        let kept = matches!(state, TakeState::Kept { .. });
        self.hear(match state {
            TakeState::Ready => Heard::Take(Take::Ready),
            TakeState::Running { .. } => Heard::Take(Take::Running),
            TakeState::SetAside { .. } => Heard::Take(Take::SetAside),
            TakeState::Gone { .. } => Heard::Aside(self.recent.count_aside()),
            TakeState::Kept { id, length, .. } => Heard::Take(Take::Kept { id, length }),
            TakeState::Trouble(words) => Heard::Take(Take::Trouble(words)),
            TakeState::Word(words) => Heard::Word(words),
        });
        self.hear(Heard::Aside(self.recent.count_aside()));
        if kept {
            self.drill.find_take(&self.recent);
            self.passage.find_take(&self.recent);
            self.pair_lesson_takes();
        }
    }

    /// Keeps the take that begins here, however it sounds.
    pub(super) fn keep_take(&self, start: Option<Secs>) {
        if let (Some(takes), Some(start)) = (&self.takes, start) {
            takes.bring_back(start);
        }
    }

    /// Takes are kept as the player wants, but not behind a demo session that is looked at instead.
    pub(super) fn allow_takes(&self) {
        if let Some(takes) = &self.takes {
            let mut wish = self.in_force.take;
            wish.kept &= self.listened.stand_in.is_none();
            if self.passage.room.moving() && wish.ends_after < A_PASS {
                // Whoever stops and begins again goes on with the same pass.
                wish.ends_after = A_PASS;
            }
            takes.set(wish);
        }
    }

    /// Tells the writer what belongs to the next takes, if that has changed.
    pub(super) fn surround(&mut self) {
        let mut context = self.in_force.take_context(self.stand.shell.room);
        if let Some(drill) =
            self.drill.room.drill().filter(|_| self.stand.shell.room == Room::Drill)
        {
            context.drill = Some(drill.name.clone());
            if let coach::Pace::Beat { bpm, per_beat } = drill.pace {
                context.pace = Some(journal::Pace { bpm, oscillations_per_beat: Some(per_beat) });
            }
        }
        match self.stand.shell.room {
            Room::Lesson => {
                context.lesson = self.lesson_part();
                if context.lesson == Some(LessonPart::Model) {
                    context.player = self.options().teacher.clone();
                }
            }
            Room::Passage => self.surround_pass(&mut context),
            Room::Stand => context.passage = self.options().passage().map(str::to_owned),
            _ => {}
        }
        if context != self.surroundings {
            self.surroundings = context.clone();
            if let Some(takes) = &self.takes {
                takes.surround(context);
            }
        }
    }

    /// Leaves the demo session for the source that was asked for.
    pub(super) fn take_asked(&mut self) {
        self.listened.stand_in = None;
        self.allow_takes();
        self.hear(Heard::Anew);
        if let Some(state) = &self.listened.state {
            let source = source_of(state);
            self.hear(Heard::Source(source));
        }
    }

    /// The player wants the microphone; where that is not there, once more leads back to the demo session.
    pub(super) fn take_microphone(&mut self) {
        let closed = self.listened.state.clone().filter(is_closed);
        if self.listened.stand_in.is_some() {
            self.take_asked();
        } else if let Some(state) = closed {
            self.hear(Heard::Anew);
            let source = self.start_stand_in(state.to_string());
            self.hear(Heard::Source(source));
        } else if !matches!(self.listened.source, listener::SoundSource::Microphone { .. }) {
            // The player left a demo session: it does not come back by itself.
            self.listened.heard = true;
            self.listened.source = microphone(&self.in_force);
            self.listen_anew();
        }
    }

    /// Listens to the source again, by the options that are in force.
    pub(super) fn listen_anew(&mut self) {
        let played = self.listened.stand_in.take().is_some();
        self.allow_takes();
        self.hear(Heard::Anew);
        match start(
            &self.listened.source,
            &self.in_force,
            self.takes.as_ref(),
            &self.context,
            &self.pace,
        ) {
            Ok(listener) => {
                self.listened.asked = listener;
                self.tell_ear();
                self.listened.heard &= !played;
                self.hear(Heard::Source(Source::Opening));
            }
            Err(fault) => {
                self.hear(Heard::Source(Source::Trouble { words: fault.to_string(), demo: false }));
            }
        }
    }
}

/// There is no microphone, or none that can be used.
fn is_closed(state: &DeviceState) -> bool {
    matches!(state, DeviceState::Microphone(CaptureStatus::Closed(_)) | DeviceState::Unusable(_))
}

pub(super) fn microphone(options: &Options) -> listener::SoundSource {
    listener::SoundSource::Microphone {
        device: options.input.name.clone(),
        channel: options.input.channel,
    }
}

/// Starts the writer of takes; `None` where there is no folder for them, which is told.
pub(super) fn start_takes(
    opening: &Opening,
    options: &Options,
    tell: &Sender<TakeState>,
    context: &egui::Context,
) -> Option<Takes> {
    let no_takes = |why: String| {
        tell.send(TakeState::Trouble(why)).ok();
        None
    };
    let Some(folder) = opening.journal(options) else {
        return no_takes(
            "there is no folder for takes on this system; name one with --journal".to_owned(),
        );
    };
    let told = teller(tell, context);
    match Takes::start(folder, options.take, options.take_context(Room::Stand), told) {
        Ok(takes) => Some(takes),
        Err(error) => no_takes(format!("the writer of takes cannot be started ({error})")),
    }
}

/// How the Stand calls it.
pub(super) fn source_of(state: &DeviceState) -> Source {
    let words = state.to_string();
    match state {
        DeviceState::Microphone(CaptureStatus::Opening) => Source::Opening,
        DeviceState::Microphone(CaptureStatus::Listening { .. }) => Source::Hearing { words },
        DeviceState::Microphone(_) | DeviceState::Unusable(_) => {
            Source::Trouble { words, demo: is_closed(state) }
        }
        DeviceState::Playing(name) => Source::Demo { name: name.clone(), missing: None },
        DeviceState::Over => Source::Over { words },
    }
}

pub(super) fn start(
    source: &listener::SoundSource,
    options: &Options,
    takes: Option<&Takes>,
    context: &egui::Context,
    pace: &Pace,
) -> Result<Listener, crate::fault::Fault> {
    let (context, pace) = (context.clone(), pace.clone());
    // An instrument file that cannot be read was told where it was chosen.
    let instrument = options.instrument().ok().flatten();
    let listening = Listening {
        source: source.clone(),
        settings: settings(options.tuning, instrument.as_ref()),
    };
    let kept = match source {
        listener::SoundSource::Microphone { .. } => true,
        listener::SoundSource::Session(session) => session.again().is_some(),
    };
    let keeper = takes.filter(|_| kept).map(Takes::keeper);
    Listener::start(listening, keeper, move || {
        context.request_repaint_after(pace.wait());
    })
}
