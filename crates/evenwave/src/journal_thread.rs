//! The program's side of the Journal: a thread that reads takes, measures their sound again, watches for changes, and
//! does what the room orders. The window never waits for it.

mod carrying;
mod judging;
mod lesson_phrase;
mod measuring;
mod watching;

use std::collections::VecDeque;
use std::io;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, TryRecvError, channel};
use std::thread;
use std::time::{Duration, Instant, SystemTime};

use coach::Phrase;
use journal::{Entry, Journal, JournalError, Shelf, TakeId};
use panels::journal_room::{JournalHeard, JournalOrder, Writing};
use panels::shell::action::UseAs;

use crate::last_wait::{LastWait, last_wait};
use crate::player::Clip;
use crate::words::{aside, counted};
use carrying::Carrier;
pub(crate) use judging::pass_of;
use lesson_phrase::lesson_phrase;
use measuring::measure;
use tuning::Secs;

/// So often the thread looks whether takes have come or gone.
const LOOK: Duration = Duration::from_millis(500);

/// What the thread tells the window.
#[derive(Clone, Debug)]
pub(crate) enum FromJournal {
    /// Something for the room.
    Room(JournalHeard),
    /// The sound that was ordered to be played, decoded.
    Play(Clip),
    /// A part of this take is wanted in the lesson.
    Phrase(Box<LessonPhrase>),
    /// The player chose these recordings in the system's dialog, to be taken in.
    Recordings(Vec<PathBuf>),
}

/// A part of a take, as a lesson has it.
#[derive(Clone, Debug)]
pub(crate) struct LessonPhrase {
    pub(crate) id: TakeId,
    pub(crate) use_as: UseAs,
    /// All notes of the take lie in it.
    pub(crate) whole: bool,
    /// Times count from the start of the take.
    pub(crate) phrase: Phrase,
}

/// The thread; dropping it ends it, and waits for what it is at unless the disk does not answer.
pub(crate) struct JournalThread {
    orders: Option<Sender<JournalOrder>>,
    working: LastWait,
}

impl JournalThread {
    /// Starts it for the journal in `folder`. `open` hands out the journal while the writer of takes has it open for
    /// writing; the thread lets go of it at once. `tell` is called on the thread.
    pub(crate) fn start(
        folder: PathBuf,
        open: impl Fn() -> Option<Journal> + Send + 'static,
        tell: impl Fn(FromJournal) + Send + Sync + 'static,
    ) -> io::Result<Self> {
        let (orders, waiting) = channel();
        let (steps, working) = last_wait();
        thread::Builder::new().name("read takes".to_owned()).spawn(move || {
            // All that goes on tells how far it has come.
            let tell = move |told| {
                steps.step();
                tell(told);
            };
            let mut worker = Worker {
                folder,
                open,
                tell: Arc::new(tell),
                waiting,
                queue: VecDeque::new(),
                began: Instant::now(),
                writing: Writing::Opening,
                told: None,
                unread: Vec::new(),
                shelf: None,
                stamp: None,
                looked: Instant::now(),
                refreshed: false,
                failed: None,
                sound: None,
                carrier: Carrier::default(),
            };
            worker.work();
        })?;
        Ok(Self { orders: Some(orders), working })
    }

    /// Hands on what the room wants. Not for it are `Player`, `Seek`, `Stop` and `Report`: these are the
    /// window's.
    pub(crate) fn order(&self, order: JournalOrder) {
        if let Some(orders) = &self.orders {
            orders.send(order).ok();
        }
    }
}

impl Drop for JournalThread {
    fn drop(&mut self) {
        self.orders = None;
        if !self.working.wait() {
            aside("the disk does not answer: what the Journal was at is left as it is");
        }
    }
}

struct Worker<O, T> {
    folder: PathBuf,
    open: O,
    tell: Arc<T>,
    waiting: Receiver<JournalOrder>,
    queue: VecDeque<JournalOrder>,
    began: Instant,
    writing: Writing,
    /// The entries that were told last.
    told: Option<Arc<Vec<Arc<Entry>>>>,
    unread: Vec<(TakeId, String)>,
    /// The journal to be read, where it is not open for writing here.
    shelf: Option<Shelf>,
    /// The index of another window as it was when it was read.
    stamp: Option<(SystemTime, u64)>,
    looked: Instant,
    /// All takes were looked at once for what hands have changed.
    refreshed: bool,
    /// What went wrong with the reading last.
    failed: Option<String>,
    /// The take that was decoded last, and all of its sound.
    sound: Option<(TakeId, Clip)>,
    /// What takes are carried by, out of the journal or into it.
    carrier: Carrier,
}

impl<O: Fn() -> Option<Journal>, T: Fn(FromJournal) + Send + Sync + 'static> Worker<O, T> {
    /// Works until the orders end.
    fn work(&mut self) {
        loop {
            self.look();
            if self.queue.is_empty() {
                match self.waiting.recv_timeout(LOOK) {
                    Ok(order) => self.queue.push_back(order),
                    Err(RecvTimeoutError::Timeout) => {
                        self.refresh_once();
                        continue;
                    }
                    Err(RecvTimeoutError::Disconnected) => return,
                }
            }
            if !self.collect() {
                return;
            }
            if let Some(order) = self.queue.pop_front() {
                // A take that was passed by is not read.
                let passed_by = matches!(order, JournalOrder::Read(_)) && self.another_is_wanted();
                if !passed_by {
                    self.obey(order);
                }
            }
        }
    }

    /// Takes what has been ordered meanwhile; `false` where nobody orders any more.
    fn collect(&mut self) -> bool {
        loop {
            match self.waiting.try_recv() {
                Ok(order) => self.queue.push_back(order),
                Err(TryRecvError::Empty) => return true,
                Err(TryRecvError::Disconnected) => return false,
            }
        }
    }

    fn another_is_wanted(&self) -> bool {
        let reads = |order: &JournalOrder| matches!(order, JournalOrder::Read(_));
        self.queue.iter().any(reads)
    }

    fn tell(&self, heard: JournalHeard) {
        (self.tell)(FromJournal::Room(heard));
    }

    /// The journal to be read.
    fn shelf(&self) -> Option<Shelf> {
        let writing = (self.open)().map(|journal| (*journal).clone());
        writing.or_else(|| self.shelf.clone())
    }

    fn obey(&mut self, order: JournalOrder) {
        match order {
            JournalOrder::Look => self.look_at_all(),
            JournalOrder::Studio(named) => self.studio(&named),
            JournalOrder::Read(id) => {
                if self.read(&id) {
                    self.measure(&id);
                }
            }
            JournalOrder::ReadToCompare(id) => {
                if self.read(&id) {
                    self.measure(&id);
                }
            }
            JournalOrder::Play { id, from, part, looped, speed } => {
                let played =
                    |whole| Clip { from: part.0, to: part.1, start: from, looped, speed, ..whole };
                self.play(&id, played);
            }
            JournalOrder::Judge { id, part, by } => self.judge(id, part, *by),
            JournalOrder::ToLesson { id, part, use_as } => self.hand_to_lesson(id, part, use_as),
            JournalOrder::Keep(id, keep) => {
                self.change_take(&id, |journal| journal.keep(&id, keep))
            }
            JournalOrder::Label(id, label) => {
                self.change_take(&id, |journal| journal.label(&id, label))
            }
            JournalOrder::Delete(id) => self.take_out(|journal| {
                journal.delete(&id)?;
                Ok(format!("the take {id} is in the trash"))
            }),
            JournalOrder::DeleteForGood(id) => self.take_out(|journal| {
                journal.delete_for_good(&id)?;
                Ok(format!("the take {id} is deleted"))
            }),
            JournalOrder::Erase(player) => self.take_out(|journal| {
                let count = journal.erase(&player)?;
                let takes = counted(count, "take");
                Ok(match player.as_str() {
                    "" => format!("erased: {takes} without a name"),
                    player => format!("erased: {takes} of {player}"),
                })
            }),
            JournalOrder::Export { player, into } => self.export(player, into),
            JournalOrder::Weigh(from) => self.weigh(from),
            JournalOrder::Import { from, replace } => self.import(from, replace),
            JournalOrder::Add { files, context } => self.add(files, *context),
            JournalOrder::StopAdding => self.carrier.stop(),
            // The window's own affair.
            JournalOrder::Player(_)
            | JournalOrder::Pick(_)
            | JournalOrder::Seek(_)
            | JournalOrder::Stop
            | JournalOrder::Report(_) => {}
        }
    }

    /// Looks at each take anew, whatever a hand has done to it.
    fn look_at_all(&mut self) {
        self.refresh();
        self.stamp = None;
        self.tell(JournalHeard::Done("all takes were looked at anew".to_owned()));
    }

    /// Hands on the sound of a take, with what of it is to be played.
    fn play(&mut self, id: &TakeId, played: impl FnOnce(Clip) -> Clip) {
        match self.decoded(id) {
            Ok(whole) => (self.tell)(FromJournal::Play(played(whole))),
            Err(words) => {
                self.tell(JournalHeard::Stopped);
                self.tell(JournalHeard::Trouble(words));
            }
        }
    }

    /// Changes what is written about a take, and tells the take as it is then.
    fn change_take(
        &mut self,
        id: &TakeId,
        change: impl FnOnce(&Journal) -> Result<(), JournalError>,
    ) {
        self.change(|journal| change(journal).map(|()| None));
        self.read(id);
    }

    /// The journal to be written to; where it is not open for that, this is told.
    fn writable(&self) -> Option<Journal> {
        let journal = (self.open)();
        if journal.is_none() {
            let words = "the journal is not open for writing now; try again in a moment";
            self.tell(JournalHeard::Trouble(words.to_owned()));
        }
        journal
    }

    /// Changes the journal, if it is open for writing, and tells how that went.
    fn change(&mut self, change: impl FnOnce(&Journal) -> Result<Option<String>, JournalError>) {
        let Some(journal) = self.writable() else {
            return;
        };
        match change(&journal) {
            Ok(Some(words)) => self.tell(JournalHeard::Done(words)),
            Ok(None) => {}
            Err(error) => self.tell(JournalHeard::Trouble(error.to_string())),
        }
        self.tell_entries(&journal);
    }

    /// Takes something out of the journal, unless takes are being carried: some of them might be these.
    fn take_out(&mut self, change: impl FnOnce(&Journal) -> Result<String, JournalError>) {
        if self.is_free("delete") {
            self.sound = None;
            self.change(|journal| change(journal).map(Some));
        }
    }

    /// Tells what stands in the file of a take; whether there was any.
    fn read(&mut self, id: &TakeId) -> bool {
        let Some(shelf) = self.shelf() else {
            return false;
        };
        let id = id.clone();
        match shelf.take(&id) {
            Ok(file) => {
                let file = Arc::new(file);
                self.tell(JournalHeard::Take { id, file });
                true
            }
            Err(error) => {
                let words = error.to_string();
                self.tell(JournalHeard::NoTake { id, words });
                false
            }
        }
    }

    /// Measures the sound of a take again, unless another one is wanted meanwhile.
    fn measure(&mut self, id: &TakeId) {
        let Some(shelf) = self.shelf() else { return };
        let (path, file) = (shelf.sound(id), shelf.take(id));
        drop(shelf);
        let Ok(file) = file else { return };
        if !matches!(file.sound, journal::SoundFile::Whole { .. }) {
            return;
        }
        let id = id.clone();
        let frames = measure(&path, &file, || !self.collect() || self.another_is_wanted());
        match frames {
            Ok(Some(frames)) => self.tell(JournalHeard::Trace { id, frames }),
            Ok(None) => {}
            Err(words) => self.tell(JournalHeard::NoTrace { id, words }),
        }
    }

    /// Brings a part of a take into the lesson.
    fn hand_to_lesson(&mut self, id: TakeId, part: (Secs, Secs), use_as: UseAs) {
        let Some(shelf) = self.shelf() else { return };
        let (path, file) = (shelf.sound(&id), shelf.take(&id));
        drop(shelf);
        let heard = file.map_err(|error| error.to_string());
        match heard.and_then(|file| lesson_phrase(&path, &file, part)) {
            Ok((phrase, whole)) => {
                let brought = LessonPhrase { id, use_as, whole, phrase };
                (self.tell)(FromJournal::Phrase(Box::new(brought)));
            }
            Err(words) => self.tell(JournalHeard::Trouble(words)),
        }
    }

    fn decoded(&mut self, id: &TakeId) -> Result<Clip, String> {
        if let Some((of, clip)) = &self.sound
            && of == id
        {
            return Ok(clip.clone());
        }
        let Some(shelf) = self.shelf() else {
            return Err("the journal is not open now; try again in a moment".to_owned());
        };
        let path = shelf.sound(id);
        let whole = shelf.take(id).and_then(|file| shelf.check_sound(id, &file));
        drop(shelf);
        let clip = Clip::open(&path).map_err(|error| error.to_string())?;
        if let Err(fault) = whole {
            // What is left of it is played all the same.
            self.tell(JournalHeard::Trouble(format!("{id} is damaged: {fault}")));
        }
        self.sound = Some((id.clone(), clip.clone()));
        Ok(clip)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;
    use std::sync::Mutex;
    use std::time::Duration;

    use journal::{Context, Label, TakeFile};

    use super::*;
    use crate::arguments::settings_of_take;
    use crate::heard_file::hear_samples;
    use crate::session::Session;

    const RATE_HZ: u32 = 48_000;

    pub(super) fn folder(name: &str) -> PathBuf {
        let path =
            std::env::temp_dir().join(format!("journal-thread-{}-{name}", std::process::id()));
        fs::remove_dir_all(&path).ok();
        path
    }

    /// A take of two seconds with a vibrato at 220 Hz; its sound is really there.
    pub(super) fn take(journal: &Journal, player: &str) -> TakeId {
        let context = Context { player: player.to_owned(), ..Context::default() };
        let mut take = journal.begin(&context, RATE_HZ).expect("a journal");
        let mut phase = 0.0_f64;
        let samples: Vec<f32> = (0..2 * RATE_HZ)
            .map(|n| {
                let time = f64::from(n) / f64::from(RATE_HZ);
                let cents = 20.0 * (std::f64::consts::TAU * 5.0 * time).sin();
                phase += 220.0 * 2_f64.powf(cents / 1200.0) / f64::from(RATE_HZ);
                let partials = (1..6)
                    .map(|p| (std::f64::consts::TAU * phase * f64::from(p)).sin() / f64::from(p));
                (0.2 * partials.sum::<f64>()) as f32
            })
            .collect();
        take.sound(&samples).expect("room on the disk");
        take.finish().expect("room on the disk").id
    }

    type Shared = Arc<Mutex<Option<Journal>>>;

    /// A thread, the place of its journal, and what it tells.
    fn started(
        folder: &Path,
        journal: Option<Journal>,
    ) -> (JournalThread, Shared, Receiver<FromJournal>) {
        let shared: Shared = Arc::new(Mutex::new(journal));
        let place = Arc::clone(&shared);
        let (tell, told) = channel();
        let thread = JournalThread::start(
            folder.to_owned(),
            move || place.lock().expect("nobody panics with it").clone(),
            move |it| {
                tell.send(it).ok();
            },
        );
        (thread.expect("a thread"), shared, told)
    }

    /// Waits until `wanted` finds what it looks for in what is told.
    pub(super) fn wait<R>(
        told: &Receiver<FromJournal>,
        mut wanted: impl FnMut(FromJournal) -> Option<R>,
    ) -> R {
        loop {
            let it = told.recv_timeout(Duration::from_secs(60)).expect("it is told before long");
            if let Some(found) = wanted(it) {
                return found;
            }
        }
    }

    /// Waits until the room is told one of these.
    macro_rules! heard {
        ($told:expr, $($what:pat => $found:expr),+) => {
            wait($told, |it| match it {
                $(FromJournal::Room($what) => Some($found),)+
                _ => None,
            })
        };
    }
    pub(super) use heard;

    fn entries(told: &Receiver<FromJournal>) -> Arc<Vec<Arc<Entry>>> {
        heard!(told, JournalHeard::Entries { entries, .. } => entries)
    }

    #[test]
    fn a_take_is_read_measured_again_and_decoded_to_be_played() {
        let folder = folder("read");
        let journal = Journal::open(&folder).expect("free").journal;
        let id = take(&journal, "Mira");
        let (thread, shared, told) = started(&folder, Some(journal));
        assert_eq!(entries(&told).len(), 1);
        thread.order(JournalOrder::Read(id.clone()));
        let frames = heard!(
            &told,
            JournalHeard::Trace { frames, .. } => Ok(frames),
            JournalHeard::NoTrace { words, .. } => Err(words)
        );
        let frames = frames.expect("it can be measured");
        let heard: Vec<f64> = frames.iter().filter_map(|f| Some(f.f0?.0)).collect();
        assert!(heard.len() > 300, "{} frames of 400", heard.len());
        let mean = heard.iter().sum::<f64>() / heard.len() as f64;
        assert!((mean - 220.0).abs() < 0.5, "{mean} Hz");
        thread.order(JournalOrder::Play {
            id: id.clone(),
            from: Secs(0.5),
            part: (Secs(0.0), Secs(2.0)),
            looped: false,
            speed: 0.5,
        });
        let clip = wait(&told, |told| match told {
            FromJournal::Play(clip) => Some(clip),
            _ => None,
        });
        assert_eq!((clip.samples.len(), clip.rate_hz), (96_000, RATE_HZ));
        assert_eq!((clip.start, clip.speed), (Secs(0.5), 0.5));
        drop((thread, shared));
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn a_part_of_a_take_goes_into_the_lesson_with_its_notes_and_its_pitch() {
        let folder = folder("to-lesson");
        let journal = Journal::open(&folder).expect("free").journal;
        let mut writer = journal.begin(&Context::default(), RATE_HZ).expect("a journal");
        let session = Session::named("tidy-transfer").expect("shipped");
        writer.sound(session.samples()).expect("room on the disk");
        let measured = hear_samples(
            session.samples(),
            RATE_HZ,
            settings_of_take(&TakeFile::begun(&Context::default(), String::new(), RATE_HZ)),
            &mut |_| {},
        );
        let notes = measured.expect("heard").notes;
        assert!(notes.len() >= 4, "{} notes", notes.len());
        notes.iter().for_each(|note| writer.note(note).expect("room on the disk"));
        let kept = writer.finish().expect("room on the disk");
        let (thread, shared, told) = started(&folder, Some(journal));
        let order = |from, to, use_as| {
            let part = (Secs(from), Secs(to));
            thread.order(JournalOrder::ToLesson { id: kept.id.clone(), part, use_as });
        };
        let brought = |told: &Receiver<FromJournal>| {
            wait(told, |told| match told {
                FromJournal::Phrase(brought) => Some(*brought),
                FromJournal::Room(JournalHeard::Trouble(words)) => panic!("{words}"),
                _ => None,
            })
        };
        order(0.0, kept.length_s, UseAs::Model);
        let whole = brought(&told);
        assert!(whole.whole && whole.use_as == UseAs::Model && whole.id == kept.id);
        assert_eq!(whole.phrase.notes.len(), notes.len());
        // Of the second and third note alone, where they lie in the take.
        let (first, last) = (&notes[1], &notes[2]);
        order(first.start.0, last.end.0, UseAs::Echo);
        let part = brought(&told);
        assert!(!part.whole && part.use_as == UseAs::Echo);
        let starts: Vec<f64> = part.phrase.notes.iter().map(|note| note.start.0).collect();
        assert_eq!(starts.len(), 2);
        assert!((starts[0] - first.start.0).abs() < 1e-4, "{starts:?}");
        let middle = 0.5 * (last.start.0 + last.end.0);
        let at = |phrase: &Phrase| {
            let near = phrase
                .course
                .iter()
                .min_by(|a, b| (a.time.0 - middle).abs().total_cmp(&(b.time.0 - middle).abs()));
            near.and_then(|near| near.f0).expect("it sounds there")
        };
        let cents = at(&part.phrase).cents_above(at(&whole.phrase)).0;
        assert!(
            cents.abs() < 1.0,
            "the pitch of the part lies where that of the whole does: {cents}"
        );
        order(first.start.0 + 0.3, first.end.0 - 0.3, UseAs::Echo);
        let words = heard!(&told, JournalHeard::Trouble(words) => words);
        assert!(words.starts_with("no whole note"), "{words}");
        drop((thread, shared));
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn what_is_changed_is_told_and_what_is_erased_is_gone() {
        let folder = folder("change");
        let journal = Journal::open(&folder).expect("free").journal;
        let first = take(&journal, "Mira");
        take(&journal, "Jonas");
        let (thread, shared, told) = started(&folder, Some(journal.clone()));
        assert_eq!(entries(&told).len(), 2);
        thread.order(JournalOrder::Keep(first.clone(), true));
        assert!(entries(&told).iter().any(|entry| entry.id == first && entry.keep));
        thread.order(JournalOrder::Label(first.clone(), Label::Word("warm".to_owned())));
        assert!(entries(&told).iter().any(|entry| entry.word == "warm"));
        let done = |told| match told {
            FromJournal::Room(JournalHeard::Done(words)) => Some(words),
            FromJournal::Room(JournalHeard::Trouble(words)) => panic!("{words}"),
            _ => None,
        };
        let found = |told| match told {
            FromJournal::Room(JournalHeard::Found(found)) => Some(found.weighed),
            _ => None,
        };
        // A folder, then a zip.
        for ending in ["copy", "zip"] {
            let copy = folder.with_extension(ending);
            fs::remove_dir_all(&copy).ok();
            fs::remove_file(&copy).ok();
            thread.order(JournalOrder::Export {
                player: Some("Jonas".to_owned()),
                into: copy.clone(),
            });
            assert!(wait(&told, done).starts_with("1 take copied"));
            assert_eq!(copy.is_file(), ending == "zip");
            thread.order(JournalOrder::Erase("Jonas".to_owned()));
            assert_eq!(wait(&told, done), "erased: 1 take of Jonas");
            assert_eq!(entries(&told).len(), 1);
            thread.order(JournalOrder::Weigh(copy.clone()));
            let weighed = wait(&told, found);
            assert_eq!((weighed.new, weighed.known), (1, 0));
            let import = |replace| JournalOrder::Import { from: copy.clone(), replace };
            thread.order(import(false));
            let words = wait(&told, done);
            assert_eq!(words, "1 take came in; here already: 0 takes");
            let now = entries(&told);
            assert_eq!(now.len(), 2);
            // A take that came in is known again, whatever word was left with it since.
            let jonas = now.iter().find(|entry| entry.player == "Jonas");
            let id = jonas.expect("it came in").id.clone();
            thread.order(JournalOrder::Label(id.clone(), Label::Word("calm".to_owned())));
            thread.order(JournalOrder::Weigh(copy.clone()));
            let again = wait(&told, found);
            assert_eq!((again.new, again.known, again.differing), (0, 0, 1));
            thread.order(import(false));
            assert!(wait(&told, done).contains("1 take with other words"));
            let word = |word: &str| journal.take(&id).is_ok_and(|take| take.word == word);
            assert!(word("calm"), "nothing is replaced unless that is said");
            thread.order(import(true));
            assert!(wait(&told, done).contains("1 take replaced"));
            assert!(word(""));
            fs::remove_dir_all(&copy).ok();
            fs::remove_file(&copy).ok();
        }
        thread.order(JournalOrder::DeleteForGood(first.clone()));
        assert_eq!(wait(&told, done), format!("the take {first} is deleted"));
        assert!(!folder.join(first.to_string()).exists());
        // A take that is finished elsewhere in the program appears by itself.
        let before = entries(&told).len();
        take(&journal, "Ada");
        assert_eq!(entries(&told).len(), before + 1);
        drop((thread, shared, journal));
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn a_second_window_reads_follows_the_first_and_changes_nothing() {
        let folder = folder("second");
        let first = Journal::open(&folder).expect("free").journal;
        let id = take(&first, "Mira");
        let (thread, shared, told) = started(&folder, None);
        let words = heard!(&told, JournalHeard::Writing(Writing::OnlyReading(words)) => words);
        assert!(words.contains("another window"), "{words}");
        assert_eq!(entries(&told).len(), 1);
        thread.order(JournalOrder::DeleteForGood(id.clone()));
        let trouble = heard!(&told, JournalHeard::Trouble(words) => words);
        assert!(trouble.contains("not open for writing"), "{trouble}");
        assert!(folder.join(id.to_string()).exists());
        take(&first, "Mira");
        assert_eq!(entries(&told).len(), 2, "what the first window keeps is seen");
        // The first window closes: this one may write from now on.
        *shared.lock().expect("nobody panics with it") = Some(first);
        heard!(&told, JournalHeard::Writing(Writing::Allowed) => ());
        drop((thread, shared));
        fs::remove_dir_all(&folder).ok();
    }
}
