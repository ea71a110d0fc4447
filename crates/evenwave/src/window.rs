//! The window: it drains the listener, lets the Stand change, and draws it.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind, set_hook, take_hook};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::Duration;

use eframe::egui;
use panels::Source;
use panels::keys::Command;
use panels::stand::{Action, Heard, Stand, stand_ui};
use sound::CaptureStatus;
use tuning::Naming;

use crate::listener::{self, DeviceState, Listener, Listening};
use crate::session::{FIRST_SESSION, Session};

/// What the system knows the window by.
const NAME: &str = "evenwave";
/// Size of the window at first, in points.
const SIZE: [f32; 2] = [1180.0, 760.0];
/// Size below which nothing can be read any more; the Stand scrolls long before.
const LEAST_SIZE: [f32; 2] = [480.0, 360.0];
/// Least time from one picture to the next: 60 a second are as many as an eye needs.
const PICTURE: Duration = Duration::from_millis(16);
/// What Debian calls the libraries that are opened when the window is.
const NEEDED: &str = "libx11-6 libx11-xcb1 libxcursor1 libxi6 libxkbcommon-x11-0 libgl1";

/// Opens the window and stays until it is closed.
///
/// `Err` says in words why no window could be opened.
pub fn run(listening: Listening, naming: Naming) -> Result<(), String> {
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_app_id(NAME)
            .with_title(NAME)
            .with_inner_size(SIZE)
            .with_min_inner_size(LEAST_SIZE),
        renderer: eframe::Renderer::Glow,
        system_font_fallback: false,
        ..Default::default()
    };
    let opened = Arc::new(AtomicBool::new(false));
    let seen = Arc::clone(&opened);
    hush_until(Arc::clone(&opened));
    // A missing keyboard library is a panic inside the window system, not an error.
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        eframe::run_native(
            NAME,
            options,
            Box::new(move |context| {
                opened.store(true, Relaxed);
                panels::theme::dress(&context.egui_ctx);
                let window = Window::new(listening, naming, context.egui_ctx.clone())?;
                Ok(Box::new(window))
            }),
        )
    }));
    if !seen.load(Relaxed) {
        // Back to the usual way of telling a panic.
        drop(take_hook());
    }
    match outcome {
        Ok(Ok(())) => Ok(()),
        Ok(Err(error)) => Err(why_none(&error)),
        Err(panic) if seen.load(Relaxed) => resume_unwind(panic),
        Err(_) => Err(format!(
            "no window can be opened: a library of the window system is missing; install {NEEDED} (names of Debian)"
        )),
    }
}

/// Keeps the opening of the window from printing a panic of its own: what is missing is told in
/// words. From `opened` on, and on other threads, panics are printed as usual.
fn hush_until(opened: Arc<AtomicBool>) {
    let opening = thread::current().id();
    let usual = take_hook();
    set_hook(Box::new(move |panic| {
        if opened.load(Relaxed) || thread::current().id() != opening {
            usual(panic);
        }
    }));
}

fn why_none(error: &eframe::Error) -> String {
    match error {
        eframe::Error::AppCreation(error) => error.to_string(),
        eframe::Error::NoGlutinConfigs(..) | eframe::Error::Glutin(_) => {
            "no window can be opened: no OpenGL to draw it with; install libgl1 and libgl1-mesa-dri (names of Debian)".to_owned()
        }
        // The window system puts places in its own source before the reason.
        _ => format!(
            "no window can be opened ({}); start it in a graphical session, and see that these are installed: {NEEDED} (names of Debian)",
            error
                .to_string()
                .rsplit(": ")
                .next()
                .unwrap_or_default()
                .trim_end_matches('.')
        ),
    }
}

/// Everything behind the window.
struct Window {
    stand: Stand,
    /// What was asked for; its settings serve every source.
    listening: Listening,
    context: egui::Context,
    /// The microphone, or the recording or session that was asked for by name.
    asked: Listener,
    /// The demo session that stands in while no microphone is found.
    stand_in: Option<(String, Listener)>,
    /// What the asked source told of itself last.
    state: Option<DeviceState>,
    /// It was heard at some time.
    heard: bool,
}

impl Window {
    fn new(
        listening: Listening,
        naming: Naming,
        context: egui::Context,
    ) -> Result<Self, crate::fault::Fault> {
        let asked = start(listening.clone(), &context)?;
        Ok(Self {
            stand: Stand::new(panels::options::Options {
                tuning: listening.settings.tuning,
                naming,
                ..Default::default()
            }),
            listening,
            context,
            asked,
            stand_in: None,
            state: None,
            heard: false,
        })
    }

    fn hear(&mut self, heard: Heard) {
        self.stand.apply(Action::Heard(heard));
    }

    /// Takes all that the listeners have heard since the last time.
    fn drain(&mut self) {
        while let Ok(heard) = self.asked.events.try_recv() {
            match heard {
                listener::Heard::Device(state) => self.asked_is(state),
                // While the demo session plays, the microphone only has to be there.
                _ if self.stand_in.is_some() => {}
                heard => self.pass_on(heard),
            }
        }
        while let Some(Ok(heard)) = self.stand_in.as_ref().map(|(_, l)| l.events.try_recv()) {
            match heard {
                listener::Heard::Device(_) => {}
                listener::Heard::Ended => self.take_asked(),
                heard => self.pass_on(heard),
            }
        }
    }

    fn pass_on(&mut self, heard: listener::Heard) {
        match heard {
            listener::Heard::Event(event) => self.hear(Heard::Event(event)),
            listener::Heard::Note(note) => self.hear(Heard::Note(note)),
            listener::Heard::Level(level) => self.hear(Heard::Level {
                peak_dbfs: level.peak_dbfs,
                clipped: level.clipped,
            }),
            // How a source stands, its end too, was told as its state.
            listener::Heard::Device(_) | listener::Heard::Ended => {}
        }
    }

    /// The asked source says how it stands.
    fn asked_is(&mut self, state: DeviceState) {
        self.state = Some(state.clone());
        let may_stand_in = self.stand_in.is_none() && self.nothing_heard_ever(&state);
        let source = match &self.stand_in {
            None if may_stand_in => self.start_stand_in(state.to_string()),
            None => source_of(&state),
            Some(_) if state.is_heard() => Source::Found,
            Some((name, _)) => Source::Demo {
                name: name.clone(),
                missing: Some(state.to_string()),
            },
        };
        self.hear(Heard::Source(source));
    }

    /// There is no microphone and there was none before, so that a demo session may stand in.
    fn nothing_heard_ever(&mut self, state: &DeviceState) -> bool {
        self.heard |= state.is_heard();
        let closed = matches!(
            state,
            DeviceState::Microphone(CaptureStatus::Closed(_)) | DeviceState::Unusable(_)
        );
        closed && !self.heard
    }

    /// Plays the demo session because there is no microphone, for this reason.
    fn start_stand_in(&mut self, missing: String) -> Source {
        self.heard = true;
        let started = Session::named(FIRST_SESSION).and_then(|session| {
            let name = session.name().to_owned();
            let listening = Listening {
                source: listener::Source::Session(session),
                settings: self.listening.settings,
            };
            Ok((name, start(listening, &self.context)?))
        });
        match started {
            Ok((name, listener)) => {
                self.stand_in = Some((name.clone(), listener));
                Source::Demo {
                    name,
                    missing: Some(missing),
                }
            }
            Err(_) => Source::Trouble { words: missing },
        }
    }

    /// Leaves the demo session for the source that was asked for.
    fn take_asked(&mut self) {
        self.stand_in = None;
        self.hear(Heard::Anew);
        if let Some(state) = &self.state {
            let source = source_of(state);
            self.hear(Heard::Source(source));
        }
    }

    /// The player wants the microphone.
    fn take_microphone(&mut self) {
        if self.stand_in.is_some() {
            self.take_asked();
        } else if !self.on_microphone() {
            let source = listener::Source::Microphone {
                device: None,
                channel: None,
            };
            let listening = Listening {
                source,
                settings: self.listening.settings,
            };
            self.hear(Heard::Anew);
            match start(listening.clone(), &self.context) {
                Ok(listener) => {
                    self.asked = listener;
                    self.listening = listening;
                    self.hear(Heard::Source(Source::Opening));
                    // The player left a demo session: it does not come back by itself.
                    self.heard = true;
                }
                Err(fault) => self.hear(Heard::Source(Source::Trouble {
                    words: fault.to_string(),
                })),
            }
        }
    }

    fn on_microphone(&self) -> bool {
        matches!(self.listening.source, listener::Source::Microphone { .. })
    }

    fn do_asked(&mut self, action: Action) {
        match action {
            Action::Do(Command::TakeMicrophone) => self.take_microphone(),
            action => {
                let fills = action == Action::Do(Command::FullScreen);
                self.stand.apply(action);
                if fills {
                    let full = egui::ViewportCommand::Fullscreen(self.stand.full_screen);
                    self.context.send_viewport_cmd(full);
                }
            }
        }
    }
}

/// How the Stand calls it.
fn source_of(state: &DeviceState) -> Source {
    let words = state.to_string();
    match state {
        DeviceState::Microphone(CaptureStatus::Opening) => Source::Opening,
        DeviceState::Microphone(CaptureStatus::Listening { .. }) => Source::Hearing { words },
        DeviceState::Microphone(_) | DeviceState::Unusable(_) => Source::Trouble { words },
        DeviceState::Playing(name) => Source::Demo {
            name: name.clone(),
            missing: None,
        },
        DeviceState::Over | DeviceState::BrokenOff(_) => Source::Over { words },
    }
}

fn start(listening: Listening, context: &egui::Context) -> Result<Listener, crate::fault::Fault> {
    let context = context.clone();
    Listener::start(listening, move || context.request_repaint_after(PICTURE))
}

impl eframe::App for Window {
    /// Also called while the window is hidden, so that the listener never waits.
    fn logic(&mut self, _context: &egui::Context, _frame: &mut eframe::Frame) {
        self.drain();
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        for action in stand_ui(ui, &self.stand) {
            self.do_asked(action);
        }
    }
}
