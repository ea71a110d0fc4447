//! The window: it drains the listener, lets the rooms change, and draws the one that is seen.
//!
//! What the window keeps and does for one room stands in the file of that room, for what is heard in `source`, for what
//! is played in `sounds`; here stands what holds them together.

mod awaited_take;
mod calibrating;
mod choosing;
mod delays;
mod disk_thread;
mod drill_room;
mod journal_room;
mod lesson_room;
mod lesson_sound;
mod lesson_takes;
mod opening;
mod passage_follower;
mod passage_room;
mod pressed;
mod reporting;
mod sounds;
mod source;
mod watch;

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use eframe::egui;
use panels::commands;
use panels::drill_room::drill_ui;
use panels::journal_room::journal_ui;
use panels::lesson_room::{LessonAction, lesson_ui};
use panels::passage_room::passage_ui;
use panels::shell::manual::ManualPage;
use panels::shell::options::Options;
use panels::shell::{room::Room, rooms};
use panels::stand::picture::Sounding;
use panels::stand::{
    About, Action, Command, Device, Devices, Heard, Overlay, Sought, Stand, stand_ui,
};

use crate::fault::Fault;
use crate::listener;
use crate::manual;
use crate::mistakes::{hushed, kept};
use crate::takes::{RecentTakes, TakeState, Takes};
use delays::Delays;
use disk_thread::DiskThread;
use drill_room::DrillHost;
use journal::Context;
use journal_room::JournalHost;
use lesson_room::LessonHost;
pub(crate) use opening::Opening;
use passage_room::PassageHost;
use sounds::Sounds;
use source::{Listened, microphone, start, start_takes};
use tuning::Secs;
use vibrato::Event;
use watch::{Names, Watch};

/// What the system knows the window by.
const NAME: &str = "evenwave";
/// Size of the window at first, in points.
const SIZE: [f32; 2] = [1180.0, 760.0];
/// Size below which nothing can be read any more; the Stand scrolls long before.
const LEAST_SIZE: [f32; 2] = [480.0, 360.0];
/// Least time from one picture to the next: 60 a second are as many as an eye needs.
const PICTURE: Duration = Duration::from_millis(16);
/// What is set takes effect, and is written down, once it has stayed so for a while: a slider passes
/// many values on its way.
const SETTLED: Duration = Duration::from_millis(500);
/// A picture is seen about so long after it is begun: half the time to the next one.
const SEEN_AFTER: Duration = Duration::from_millis(8);
/// What Debian calls the libraries that are opened when the window is.
const NEEDED: &str = "libx11-6 libx11-xcb1 libxcursor1 libxi6 libxkbcommon-x11-0 libgl1";

/// Opens the window and stays until it is closed; the inner result says how that ended.
///
/// `Err` says in words why no window could be opened.
pub(crate) fn run(opening: Opening) -> Result<Result<(), Fault>, String> {
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
    // A missing keyboard library is a panic inside the window system, not an error.
    let outcome = hushed(|| {
        eframe::run_native(
            NAME,
            options,
            Box::new(move |context| {
                opened.store(true, Relaxed);
                panels::theme::dress(&context.egui_ctx);
                let window = Window::new(opening, context.egui_ctx.clone())?;
                Ok(Box::new(window))
            }),
        )
    });
    match outcome {
        Ok(Ok(())) => Ok(Ok(())),
        Ok(Err(error)) => Err(why_none(&error)),
        Err(report) if seen.load(Relaxed) => Ok(Err(closed_by(&report))),
        Err(_) => Err(format!(
            "no window can be opened: a library of the window system is missing; install {NEEDED} (names of Debian)"
        )),
    }
}

/// What the player is told where a mistake of the program closed its window.
fn closed_by(report: &str) -> Fault {
    Fault::Failed(format!(
        "a mistake in evenwave closed its window; what was played is kept: start it again, and {}",
        kept(report)
    ))
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

/// Everything behind the window. What is listened to stands before the takes: what it holds ends first.
struct Window {
    stand: Stand,
    /// The keys that are down.
    pressed: pressed::Pressed,
    context: egui::Context,
    opening: Opening,
    /// The options as they were written down last.
    kept: Options,
    /// The options the listener works by.
    in_force: Options,
    /// When an option changed that is not in force or not written down yet.
    changed: Option<Instant>,
    listened: Listened,
    takes: Option<Takes>,
    /// What the writer of takes tells.
    takes_told: Receiver<TakeState>,
    tell_takes: Sender<TakeState>,
    recent: RecentTakes,
    /// What the writer of takes was told last.
    surroundings: Context,
    /// For so many days sound is kept: what holds while the settings are open, where a number that is being written
    /// passes others.
    sound_days: Option<u32>,
    sounds: Sounds,
    drill: DrillHost,
    lesson: LessonHost,
    passage: PassageHost,
    journal: JournalHost,
    /// What the other threads tell.
    told: Receiver<Heard>,
    tell: Sender<Heard>,
    pace: Pace,
    delays: Delays,
    watch: Option<Watch>,
    disk: DiskThread,
    /// The settings could not be written the last time.
    unwritten: Arc<AtomicBool>,
    /// What still ends, each on a thread of its own; the program waits for these at its end.
    leaving: Vec<JoinHandle<()>>,
}

impl Window {
    fn new(opening: Opening, context: egui::Context) -> Result<Self, Fault> {
        let options = opening.options.clone();
        let (tell, told) = channel();
        let (tell_takes, takes_told) = channel();
        let takes = start_takes(&opening, &options, &tell_takes, &context);
        let sound_days = options.sound_days;
        let surroundings = options.take_context(Room::Stand);
        let sounds = Sounds::start(&tell, &context);
        let source = match &opening.session {
            Some(session) => listener::SoundSource::Session(session.clone()),
            None => microphone(&options),
        };
        let pace = Pace::new();
        let asked = start(&source, &options, takes.as_ref(), &context, &pace)?;
        let listened = Listened::new(source, asked);
        let watch = match &opening.watch {
            Some(path) => Some(Watch::new(path, opening.begun)?),
            None => None,
        };
        if let Some(path) = &opening.told {
            Names::write(path, opening.begun, &context)?;
        }
        let tell_words = teller(&tell, &context);
        let disk = DiskThread::start(move |words| tell_words(Heard::Word(words)));
        let disk = disk.map_err(|error| {
            Fault::Failed(format!("the thread that keeps settings cannot be started ({error})"))
        })?;
        let mut stand = Stand::new(options.clone());
        if let Some(word) = &opening.word {
            stand.apply(Action::Heard(Heard::Word(word.clone())));
        }
        let delay = options.delay().unwrap_or(Secs(0.0));
        let passage = PassageHost::new(opening.settings.passages());
        let mut window = Self {
            stand,
            pressed: pressed::Pressed::default(),
            context,
            kept: opening.kept.clone(),
            opening,
            in_force: options,
            changed: None,
            listened,
            takes,
            takes_told,
            tell_takes,
            recent: RecentTakes::default(),
            surroundings,
            sound_days,
            sounds,
            drill: DrillHost::new(delay),
            lesson: LessonHost::new(),
            passage,
            journal: JournalHost::new(),
            told,
            tell,
            pace,
            delays: Delays::default(),
            watch,
            disk,
            unwritten: Arc::default(),
            leaving: Vec::new(),
        };
        window.forget_sound();
        let page = |page: &manual::Page| ManualPage { name: page.name, text: page.text };
        window.hear(Heard::Manual(manual::MANUAL.iter().map(page).collect()));
        window.read_drills();
        window.read_passages();
        // A passage may be practised since the last time.
        window.surround();
        window.greet();
        let brought = std::mem::take(&mut window.opening.recordings);
        if !brought.is_empty() {
            window.take_in(brought);
        }
        Ok(window)
    }

    fn hear(&mut self, heard: Heard) {
        if let Heard::Found(sought, path) = heard {
            return self.found(sought, &path);
        }
        let broken = match &heard {
            Heard::Anew => {
                self.recent.anew();
                self.drill.await_none();
                self.passage.await_none();
                self.lesson_clock_anew();
                true
            }
            Heard::Source(source) => source.trouble().is_some(),
            _ => false,
        };
        if broken {
            self.keep_anew();
            self.drill_is_over();
            self.lesson_asked(LessonAction::Anew);
            self.passage_is_over();
        }
        self.stand.apply(Action::Heard(heard));
    }

    /// The player chose this place.
    fn found(&mut self, sought: Sought, path: &Path) {
        let path = path.display().to_string();
        match sought {
            Sought::Instrument => {
                self.set(|options| *options = options.clone().played_on(Some(path)))
            }
            Sought::Takes => self.set(|options| options.journal = Some(path)),
            Sought::Reports => self.set(|options| options.reports = Some(path)),
            Sought::NewTask | Sought::Task => self.lesson_asked(LessonAction::TaskFile(path)),
        }
    }

    /// Takes all that was heard and told since the last time.
    fn drain(&mut self) {
        while let Ok(heard) = self.listened.asked.events.try_recv() {
            match heard {
                listener::FromListener::Device(state) => self.asked_is(state),
                // While the demo session plays, the microphone only has to be there.
                _ if self.listened.stand_in.is_some() => {}
                heard => self.pass_on(heard),
            }
        }
        while let Some(Ok(heard)) =
            self.listened.stand_in.as_ref().map(|(_, l)| l.events.try_recv())
        {
            match heard {
                listener::FromListener::Device(_) => {}
                listener::FromListener::Ended => self.take_asked(),
                heard => self.pass_on(heard),
            }
        }
        while let Ok(heard) = self.told.try_recv() {
            self.hear(heard);
        }
        while let Ok(state) = self.takes_told.try_recv() {
            self.take_is(state);
        }
        while let Ok(action) = self.lesson.told.try_recv() {
            self.lesson_asked(action);
        }
        while let Ok(fetched) = self.lesson.brought.try_recv() {
            self.lesson_fetched(fetched);
        }
        while let Ok(told) = self.journal.told.try_recv() {
            self.journal_told(told);
        }
        while let Ok(told) = self.passage.told.try_recv() {
            self.passage_told(told);
        }
        while let Ok(told) = self.sounds.told.try_recv() {
            self.hear_player(told);
        }
    }

    fn pass_on(&mut self, heard: listener::FromListener) {
        match heard {
            listener::FromListener::Event(event) => {
                if let (Some(watch), Event::Lost { length, .. }) = (&mut self.watch, &event) {
                    watch.missed(*length);
                }
                self.drill_hears(&event, None);
                self.lesson_hears(&event, None);
                self.passage_hears(&event, None);
                self.hear(Heard::Event(event));
            }
            listener::FromListener::Note { note, .. } => {
                self.drill_hears(&Event::NoteEnded, Some(&note));
                self.lesson_hears(&Event::NoteEnded, Some(&note));
                self.passage_hears(&Event::NoteEnded, Some(&note));
                self.hear(Heard::Note(note));
            }
            listener::FromListener::Settled(note) => {
                self.drill.room.settle(&note);
                self.lesson.room.settle(&note);
                self.hear(Heard::Settled(note));
            }
            listener::FromListener::Level(level) => {
                self.hear(Heard::Level { peak_dbfs: level.peak_dbfs, clipped: level.clipped })
            }
            listener::FromListener::Clock(origin) => {
                self.delays.origin = Some(origin);
                self.drill.clock.begin(origin);
            }
            // No silence comes to end a round.
            listener::FromListener::Ended => {
                self.drill_is_over();
                self.passage_is_over();
            }
            // How a source stands was told as its state.
            listener::FromListener::Device(_) => {}
        }
    }

    /// What is set now.
    fn options(&self) -> &Options {
        self.stand.shell.options()
    }

    /// Sets something as the player would.
    fn set(&mut self, change: impl FnOnce(&mut Options)) {
        let mut options = self.options().clone();
        change(&mut options);
        self.do_asked(Action::Set(Box::new(options)));
    }

    /// What the player asked for, or the program for them.
    fn do_asked(&mut self, action: Action) {
        let before = self.options().clone();
        let answered = self.stand.answered();
        let (overlay, room) = (self.stand.shell.overlay, self.stand.shell.room);
        match &action {
            Action::Do(Command::TakeMicrophone) => self.take_microphone(),
            Action::Do(Command::Task) => return self.play_task(),
            Action::Do(Command::BringBack) => self.keep_take(self.recent.aside()),
            Action::WriteReport => self.write_report(),
            Action::OpenReport => self.open_report(),
            Action::Find(sought) => choosing::find(*sought, teller(&self.tell, &self.context)),
            Action::Do(Command::FullScreen) => {
                let full = egui::ViewportCommand::Fullscreen(!self.stand.shell.full_screen);
                self.context.send_viewport_cmd(full);
            }
            _ => {}
        }
        self.stand.apply(action);
        if *self.options() != before {
            let delay = self.options().delay();
            self.drill.clock.set_delay(delay.unwrap_or(Secs(0.0)));
            self.changed = Some(Instant::now());
            self.context.request_repaint_after(SETTLED);
        }
        if let (Some(takes), Some(now)) = (&self.takes, self.stand.answered())
            && answered != Some(now)
        {
            takes.answer(now);
        }
        if room != self.stand.shell.room {
            self.room_was_left(room);
        }
        self.surround();
        self.order_sound();
        if overlay != self.stand.shell.overlay {
            self.sheet_was_left(overlay);
        }
    }

    /// Another room is seen than this one.
    fn room_was_left(&mut self, room: Room) {
        self.greeting_was_read();
        match room {
            Room::Journal => self.journal_is_left(),
            Room::Passage => self.keep_edited(),
            _ => {}
        }
        if self.stand.shell.room == Room::Journal {
            self.tell_judges();
        }
        if [room, self.stand.shell.room].contains(&Room::Lesson) {
            self.lesson_is_seen(self.stand.shell.room == Room::Lesson);
        }
    }

    /// Another sheet lies over the room than this one, or none.
    fn sheet_was_left(&mut self, overlay: Option<Overlay>) {
        let sound_days = self.options().sound_days;
        if overlay == Some(Overlay::Settings) && sound_days != self.sound_days {
            self.sound_days = sound_days;
            self.forget_sound();
        }
        if self.stand.shell.overlay == Some(Overlay::Sound) {
            self.look_for_devices();
        }
    }

    /// Sound that is older than the player keeps it goes.
    fn forget_sound(&self) {
        if let Some(takes) = &self.takes {
            takes.forget_sound(self.sound_days);
        }
    }

    /// Lists the devices on a thread of its own: it takes some seconds.
    fn look_for_devices(&self) {
        let tell = teller(&self.tell, &self.context);
        let look = move || {
            let found = sound::devices();
            let entry = |device: sound::Device| Device {
                name: device.name,
                id: device.id,
                channels: device.channels,
            };
            let devices = Devices {
                inputs: found.inputs.into_iter().map(entry).collect(),
                outputs: found.outputs.into_iter().map(entry).collect(),
            };
            tell(Heard::Devices(devices));
        };
        if thread::Builder::new().name("list devices".to_owned()).spawn(look).is_err() {
            self.tell.send(Heard::Devices(Devices::default())).ok();
        }
    }

    /// Puts into force and writes down what was set, once it has settled.
    fn settle(&mut self, now: Instant) {
        let Some(changed) = self.changed else { return };
        let waited = now.saturating_duration_since(changed);
        if waited < SETTLED {
            self.context.request_repaint_after(SETTLED - waited);
            return;
        }
        self.changed = None;
        let options = self.options().clone();
        let before = std::mem::replace(&mut self.in_force, options.clone());
        self.allow_takes();
        self.surround();
        if options.journal != before.journal {
            let left = (self.journal.thread.take(), self.takes.take());
            self.leave(left);
            self.takes = start_takes(&self.opening, &options, &self.tell_takes, &self.context);
            self.forget_sound();
            self.surroundings = options.take_context(Room::Stand);
            self.surround();
            self.allow_takes();
            self.listen_anew();
            self.close_journal();
        }
        let ear_changed =
            options.tuning != before.tuning || options.instrument != before.instrument;
        let on_microphone =
            matches!(self.listened.source, listener::SoundSource::Microphone { .. });
        if on_microphone && options.input != before.input {
            self.listened.source = microphone(&options);
            self.listen_anew();
        } else if ear_changed {
            self.listen_anew();
        }
        self.write_down(&options);
    }

    /// Ends what may have to wait for a disk, without the window waiting for it.
    fn leave(&mut self, left: impl Send + 'static) {
        let thread = thread::Builder::new().name("leave a folder".to_owned());
        // Where no thread can be had, it ends here.
        self.leaving.extend(thread.spawn(move || drop(left)));
    }

    fn write_down(&mut self, options: &Options) {
        let keep = self.opening.to_keep(options);
        if keep != self.kept || self.unwritten.load(Relaxed) {
            self.kept = keep.clone();
            let (settings, unwritten) = (self.opening.settings.clone(), self.unwritten.clone());
            let tell = teller(&self.tell, &self.context);
            self.disk.ask(move || {
                let trouble = settings.write(&keep).err();
                if unwritten.swap(trouble.is_some(), Relaxed) || trouble.is_some() {
                    tell(Heard::About(About::Settings, trouble));
                }
                Ok(())
            });
        }
    }
}

/// Tells the window something from another thread, and wakes it.
fn teller<T: Send + 'static>(
    tell: &Sender<T>,
    context: &egui::Context,
) -> impl Fn(T) + Send + Sync + 'static {
    let (tell, context) = (tell.clone(), context.clone());
    move |told| {
        tell.send(told).ok();
        context.request_repaint();
    }
}

/// When the last picture was drawn, for the threads that wake the window.
#[derive(Clone)]
struct Pace {
    begun: Instant,
    /// In microseconds from `begun`.
    last: Arc<AtomicU64>,
}

impl Pace {
    fn new() -> Self {
        Self { begun: Instant::now(), last: Arc::default() }
    }

    /// A picture is begun.
    fn draw(&self) {
        self.last.store(self.begun.elapsed().as_micros() as u64, Relaxed);
    }

    /// How long to wait for the next one, so that there are no more than an eye needs.
    fn wait(&self) -> Duration {
        let last = Duration::from_micros(self.last.load(Relaxed));
        PICTURE.saturating_sub(self.begun.elapsed().saturating_sub(last))
    }
}

impl eframe::App for Window {
    /// Also called while the window is hidden, so that the listener never waits.
    fn logic(&mut self, _context: &egui::Context, _frame: &mut eframe::Frame) {
        self.drain();
        self.go_on_calibrating(Instant::now());
        self.settle(Instant::now());
        self.settle_passage(Instant::now());
    }

    fn raw_input_hook(&mut self, _context: &egui::Context, input: &mut egui::RawInput) {
        let dropped = std::mem::take(&mut input.dropped_files);
        let dropped: Vec<_> = dropped.into_iter().map(|file| file.path().to_owned()).collect();
        if self.stand.shell.room == Room::Passage {
            dropped.into_iter().for_each(|path| self.take_in_passage(path));
        } else if !dropped.is_empty() {
            self.take_in(dropped);
        }
        self.pressed.let_go(input);
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut eframe::Frame) {
        self.pace.draw();
        self.show_beats(Instant::now());
        for action in rooms::strip_ui(ui, self.stand.shell.room, &self.stand.shell) {
            self.do_asked(action);
        }
        if self.drill.room.moving() || self.stand.shell.room == Room::Drill {
            self.tick_drill(Instant::now());
        }
        if self.passage.room.moving() || self.stand.shell.room == Room::Passage {
            self.tick_passage(Instant::now());
        }
        match self.stand.shell.room {
            Room::Passage => {
                for action in passage_ui(ui, &self.passage.room, &self.stand.shell) {
                    self.passage_asked(action);
                }
            }
            Room::Drill => {
                for action in drill_ui(ui, &self.drill.room, &self.stand.shell) {
                    self.drill_asked(action);
                }
            }
            Room::Journal => {
                self.open_journal();
                for action in journal_ui(ui, &self.journal.room, &self.stand.shell) {
                    self.journal_asked(action);
                }
            }
            Room::Lesson => {
                self.keep_lately();
                for action in lesson_ui(ui, &self.lesson.room, &self.stand) {
                    self.lesson_asked(action);
                }
            }
            Room::Stand => {
                for action in stand_ui(ui, &self.stand) {
                    self.do_asked(action);
                }
            }
        }
        for action in rooms::over_ui(ui, &self.stand.shell, || commands::behind(&self.stand)) {
            self.do_asked(action);
        }
        let work = frame.info().cpu_usage.unwrap_or(0.0);
        let live = self.stand.live();
        let newest = live.time.filter(|_| live.sounding != Sounding::Silence);
        self.delays.draw(Instant::now(), newest, Duration::from_secs_f32(work));
        if self.stand.shell.figures.is_some()
            && let Some(figures) = self.delays.figures()
        {
            self.hear(Heard::Figures(figures));
        }
        if let Some(watch) = &mut self.watch {
            watch.look(&self.stand, &self.delays);
        }
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        let options = self.options().clone();
        self.write_down(&options);
        self.keep_last_edited();
        for thread in self.leaving.drain(..) {
            thread.join().ok();
        }
    }
}
