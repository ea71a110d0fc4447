//! Takes out of the journal and into it, by the orders of the room: on a thread of its own, so that a take can be
//! opened and heard meanwhile.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use journal::{Context, Differing, Imported, Journal, Shelf, TakeId};
use panels::journal_room::{Doing, Found, JournalHeard, JudgedBy, Writing};
use tuning::Secs;

use super::{FromJournal, Worker, judging};
use crate::fault::Fault;
use crate::recordings::{self, Added};
use crate::sound_files::gather;
use crate::words::{counted, unread_said};

/// How far it is, is told so often.
const TELLS_EVERY: Duration = Duration::from_millis(200);
/// The journal is open before long when the program starts.
const OPENS_SOON: Duration = Duration::from_millis(50);
/// Of each recording so many parts are told.
const PARTS: usize = 1_000;
/// So many things that went wrong are told.
const MOST_TROUBLES: usize = 3;

/// The thread that carries takes, if one does; it comes to its end before this goes.
#[derive(Default)]
pub(super) struct Carrier {
    thread: Option<JoinHandle<()>>,
    /// Set until what it was to do is done, and about to be told.
    carries: Arc<AtomicBool>,
    /// Set where it is to stop before its end.
    stops: Arc<AtomicBool>,
    way: Way,
}

impl Carrier {
    fn busy(&self) -> bool {
        let lives = self.thread.as_ref().is_some_and(|thread| !thread.is_finished());
        lives && self.carries.load(SeqCst)
    }

    /// No further recording is to come in.
    pub(super) fn stop(&self) {
        self.stops.store(true, SeqCst);
    }

    /// Takes come in one after the other: they are shown together once all are there.
    pub(super) fn fills(&self) -> bool {
        self.way == Way::In && self.busy()
    }
}

impl Drop for Carrier {
    fn drop(&mut self) {
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

/// Where takes are carried.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Way {
    /// Into the journal.
    In,
    /// Out of it, or nowhere.
    #[default]
    Out,
}

type Passed<'a> = &'a mut dyn FnMut(usize, usize);

impl<O: Fn() -> Option<Journal>, T: Fn(FromJournal) + Send + Sync + 'static> Worker<O, T> {
    /// Copies takes to a new place.
    pub(super) fn export(&mut self, player: Option<String>, into: PathBuf) {
        let Some(shelf) = self.shelf_to_carry() else {
            return;
        };
        self.carry(Way::Out, so_far("copied"), move |passed| {
            let exported = shelf.export(player.as_deref(), &into, passed)?;
            let count = counted(exported.takes, "take");
            let told = exported.told.iter().take(3).map(|words| format!("; {words}"));
            let told = told.collect::<String>();
            let unread = match shelf.unread().len() {
                0 => String::new(),
                unread => format!("; {}", unread_said(unread)),
            };
            let words = format!("{count} copied to {}{unread}{told}", into.display());
            Ok(JournalHeard::Done(words))
        });
    }

    /// Says what would become of the takes of another place.
    pub(super) fn weigh(&mut self, from: PathBuf) {
        let Some(shelf) = self.shelf_to_carry() else {
            return;
        };
        self.carry(Way::Out, so_far("looked at"), move |passed| {
            let weighed = shelf.weigh(&from, passed)?;
            Ok(JournalHeard::Found(Found { from, weighed }))
        });
    }

    /// Takes in the takes of another place.
    pub(super) fn import(&mut self, from: PathBuf, replace: bool) {
        let differing = match replace {
            true => Differing::Replace,
            false => Differing::Leave,
        };
        let Some(journal) = self.writable() else {
            return;
        };
        self.carry(Way::In, so_far("taken in"), move |passed| {
            let imported = journal.import(&from, differing, passed)?;
            Ok(JournalHeard::Done(in_words(&imported)))
        });
    }

    /// Makes takes of recordings. At the start of the program the journal may still be opened.
    pub(super) fn add(&mut self, named: Vec<PathBuf>, context: Context) {
        while self.writing == Writing::Opening {
            thread::sleep(OPENS_SOON);
            self.look();
        }
        let Some(journal) = self.writable() else {
            return;
        };
        self.carrier.stops.store(false, SeqCst);
        let (tell, stops) = (Arc::clone(&self.tell), Arc::clone(&self.carrier.stops));
        let said = |done: usize, all: usize| Doing {
            words: match all / PARTS {
                1 => "the recording is being measured".to_owned(),
                all => format!("{} of {all} recordings taken in", done / PARTS),
            },
            share: done as f32 / all as f32,
            may_stop: true,
        };
        self.carry(Way::In, said, move |passed| {
            let gathered = gather(&named)?;
            let all = gathered.files.len();
            let mut came = Came { troubles: gathered.unseen, ..Came::default() };
            for (place, path) in gathered.files.iter().enumerate() {
                let mut go_on = |share: f64| {
                    passed(PARTS * place + (share * PARTS as f64) as usize, PARTS * all);
                    !stops.load(SeqCst)
                };
                match recordings::add(&journal, (path, None), &context, &mut go_on) {
                    Ok(Added::Take(kept, remarks)) => {
                        came.new += 1;
                        came.last = Some(kept.id);
                        came.troubles.extend(remarks);
                    }
                    Ok(Added::Known(id)) => {
                        came.known += 1;
                        came.last = Some(id);
                    }
                    Ok(Added::Stopped) => break,
                    Err(fault) => came.troubles.push(fault.to_string()),
                }
                if stops.load(SeqCst) {
                    break;
                }
            }
            if let Some(last) = came.last.take() {
                tell(FromJournal::Room(JournalHeard::CameIn(last)));
            }
            let words = came.in_words(all);
            Ok(match came.troubles.is_empty() {
                true => JournalHeard::Done(words),
                false => JournalHeard::Trouble(words),
            })
        });
    }

    /// Judges a part of a take, and keeps with it what is found.
    pub(super) fn judge(&mut self, id: TakeId, part: (Secs, Secs), by: JudgedBy) {
        let Some(journal) = self.writable() else {
            return;
        };
        let tell = Arc::clone(&self.tell);
        let said = |done: usize, all: usize| Doing {
            words: "the take is being judged".to_owned(),
            share: done as f32 / all as f32,
            may_stop: false,
        };
        self.carry(Way::Out, said, move |passed| {
            let mut share = |share: f64| passed((share * PARTS as f64) as usize, PARTS);
            let words = judging::judge(&journal, &id, part, by, &mut share)?;
            let file = Arc::new(journal.take(&id)?);
            tell(FromJournal::Room(JournalHeard::Take { id, file }));
            Ok(JournalHeard::Done(words))
        });
    }

    /// The journal that takes are to be carried from; where it is not open, this is told.
    fn shelf_to_carry(&self) -> Option<Shelf> {
        let shelf = self.shelf();
        if shelf.is_none() {
            let words = "the journal is not open now; try again in a moment";
            self.tell(JournalHeard::Trouble(words.to_owned()));
        }
        shelf
    }

    /// Nothing is carried; where something is, it is told that this is to wait.
    pub(super) fn is_free(&self, to_do: &str) -> bool {
        let free = !self.carrier.busy();
        if !free {
            let words = format!("takes are being copied or taken in; {to_do} once that is done");
            self.tell(JournalHeard::Trouble(words));
        }
        free
    }

    /// Carries takes on a thread of its own, and tells now and then how far it is.
    fn carry(
        &mut self,
        way: Way,
        said: impl Fn(usize, usize) -> Doing + Send + 'static,
        work: impl FnOnce(Passed) -> Result<JournalHeard, Fault> + Send + 'static,
    ) {
        if !self.is_free("try again") {
            return;
        }
        self.carrier.way = way;
        self.carrier.carries.store(true, SeqCst);
        let (tell, carries) = (Arc::clone(&self.tell), Arc::clone(&self.carrier.carries));
        let carry = move || {
            let mut told: Option<Instant> = None;
            let outcome = work(&mut |done, all| {
                let due = told.is_none_or(|told| told.elapsed() >= TELLS_EVERY);
                if due && done < all {
                    told = Some(Instant::now());
                    tell(FromJournal::Room(JournalHeard::Doing(said(done, all))));
                }
            });
            carries.store(false, SeqCst);
            let heard = outcome.unwrap_or_else(|error| JournalHeard::Trouble(error.to_string()));
            tell(FromJournal::Room(heard));
        };
        let thread = thread::Builder::new().name("carry takes".to_owned());
        match thread.spawn(carry) {
            Ok(thread) => self.carrier.thread = Some(thread),
            Err(error) => {
                let words = format!("the thread that copies takes cannot be started ({error})");
                self.tell(JournalHeard::Trouble(words));
            }
        }
    }
}

/// How many takes of all are done with so.
fn so_far(done_with: &'static str) -> impl Fn(usize, usize) -> Doing {
    move |done, all| Doing {
        words: format!("{done} of {} {done_with}", counted(all, "take")),
        share: done as f32 / all as f32,
        may_stop: false,
    }
}

/// What became of recordings.
#[derive(Default)]
struct Came {
    new: usize,
    last: Option<TakeId>,
    known: usize,
    troubles: Vec<String>,
}

impl Came {
    fn in_words(&self, all: usize) -> String {
        let mut said = vec![format!("{} came in", counted(self.new, "recording"))];
        if self.known > 0 {
            said.push(format!("here already: {}", self.known));
        }
        let left = all - (self.new + self.known + self.troubles.len()).min(all);
        if left > 0 {
            said.push(format!("stopped before {left}"));
        }
        said.extend(self.troubles.iter().take(MOST_TROUBLES).cloned());
        if self.troubles.len() > MOST_TROUBLES {
            said.push("and more".to_owned());
        }
        said.join("; ")
    }
}

fn in_words(imported: &Imported) -> String {
    let mut said = vec![
        format!("{} came in", counted(imported.added.len(), "take")),
        format!("here already: {}", counted(imported.known.len(), "take")),
    ];
    let mut also = |count: usize, words: &str| {
        if count > 0 {
            said.push(format!("{}{words}", counted(count, "take")));
        }
    };
    also(imported.replaced.len(), " replaced");
    also(imported.differing.len(), " with other words, marks or measures left as here");
    also(imported.unread.len(), " that cannot be read left out");
    let tasks = |names: &[String], words: &str| {
        let named = names.iter().map(|name| match name.as_str() {
            "" => "the player without a name",
            name => name,
        });
        (!names.is_empty()).then(|| format!("{words}: {}", named.collect::<Vec<_>>().join(", ")))
    };
    said.extend(tasks(&imported.tasks, "with the task of"));
    said.extend(tasks(&imported.differing_tasks, "the task here stays, of"));
    said.extend(imported.left_out.iter().take(3).cloned());
    said.join("; ")
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;
    use std::sync::Mutex;
    use std::sync::mpsc::{Receiver, channel};

    use panels::journal_room::JournalOrder;
    use tuning::Secs;

    use super::super::JournalThread;
    use super::super::tests::{folder, heard, take, wait};
    use super::*;

    #[test]
    fn while_takes_are_copied_out_one_is_opened_and_played_and_none_is_deleted() {
        let folder = folder("meanwhile");
        let journal = Journal::open(&folder).expect("free").journal;
        let id = take(&journal, "Mira");
        take(&journal, "Mira");
        let (tell, told) = channel();
        let (go_on, wait_for) = channel::<()>();
        let held = Mutex::new(wait_for);
        let open = move || Some(journal.clone());
        let thread = JournalThread::start(folder.clone(), open, move |it| {
            let doing = matches!(it, FromJournal::Room(JournalHeard::Doing(_)));
            tell.send(it).ok();
            if doing {
                // The copying stands still here until it is told to go on.
                held.lock().expect("nobody panics with it").recv().ok();
            }
        });
        let thread = thread.expect("a thread");
        let trouble =
            |told: &Receiver<FromJournal>| heard!(told, JournalHeard::Trouble(words) => words);
        let copy = folder.with_extension("copy");
        fs::remove_dir_all(&copy).ok();
        let export = || {
            thread.order(JournalOrder::Export { player: None, into: copy.clone() });
        };
        export();
        let doing = heard!(&told, JournalHeard::Doing(doing) => doing.words);
        assert_eq!(doing, "1 of 2 takes copied");
        thread.order(JournalOrder::Read(id.clone()));
        heard!(&told, JournalHeard::Trace { frames, .. } => frames);
        thread.order(JournalOrder::Play {
            id: id.clone(),
            from: Secs(0.0),
            part: (Secs(0.0), Secs(2.0)),
            looped: false,
            speed: 1.0,
        });
        wait(&told, |told| match told {
            FromJournal::Play(clip) => Some(clip),
            _ => None,
        });
        thread.order(JournalOrder::DeleteForGood(id.clone()));
        assert!(trouble(&told).contains("delete once that is done"));
        assert!(folder.join(id.to_string()).exists());
        export();
        assert!(trouble(&told).contains("try again once that is done"));
        go_on.send(()).expect("it waits");
        let done = heard!(&told, JournalHeard::Done(words) => words);
        assert!(done.starts_with("2 takes copied"), "{done}");
        thread.order(JournalOrder::DeleteForGood(id.clone()));
        heard!(&told, JournalHeard::Done(words) => words);
        assert!(!folder.join(id.to_string()).exists());
        drop(thread);
        fs::remove_dir_all(&folder).ok();
        fs::remove_dir_all(&copy).ok();
    }

    /// A note at 220 Hz of so many seconds.
    fn recording(path: &Path, seconds: u32) {
        let samples: Vec<f32> = (0..48_000 * seconds)
            .map(|n| {
                let turn = f64::from(n) * 220.0 / 48_000.0 * std::f64::consts::TAU;
                (1..6).map(|h| ((turn * f64::from(h)).sin() / f64::from(h)) as f32 * 0.2).sum()
            })
            .collect();
        sound::write_wav(path, &samples, 48_000, 1, sound::WavFormat::Int16).expect("written");
    }

    #[test]
    fn recordings_come_in_with_what_is_wrong_told_and_when_stopped_none_is_there_by_half() {
        let folder = folder("recordings");
        let phone = folder.with_extension("phone");
        fs::remove_dir_all(&phone).ok();
        fs::create_dir(&phone).expect("made");
        recording(&phone.join("a.wav"), 2);
        fs::write(phone.join("b.wav"), "no sound").expect("written");
        recording(&phone.join("c.wav"), 3);
        let (tell, told) = channel();
        let (go_on, wait_for) = channel::<()>();
        let held = Mutex::new(wait_for);
        let journal = Journal::open(&folder).expect("free").journal;
        let shelf = journal.clone();
        let open = move || Some(journal.clone());
        let thread = JournalThread::start(folder.clone(), open, move |it| {
            let doing = matches!(it, FromJournal::Room(JournalHeard::Doing(_)));
            tell.send(it).ok();
            if doing {
                held.lock().expect("nobody panics with it").recv().ok();
            }
        });
        let thread = thread.expect("a thread");
        let add = |files: Vec<PathBuf>| {
            let context = Context { player: "Mira".to_owned(), ..Context::default() };
            thread.order(JournalOrder::Add { files, context: Box::new(context) });
        };
        // Stopped while the first is heard: nothing of it is kept.
        add(vec![phone.clone()]);
        let doing = heard!(&told, JournalHeard::Doing(doing) => doing);
        assert_eq!((doing.words.as_str(), doing.may_stop), ("0 of 3 recordings taken in", true));
        thread.order(JournalOrder::StopAdding);
        // The order is taken before the work goes on.
        thread.order(JournalOrder::Look);
        heard!(&told, JournalHeard::Done(words) => words);
        drop(go_on);
        let done = heard!(&told, JournalHeard::Done(words) => words);
        assert_eq!(done, "0 recordings came in; stopped before 3");
        assert!(shelf.takes().expect("read").is_empty());
        add(vec![phone.clone()]);
        let words = heard!(&told, JournalHeard::Trouble(words) => words);
        assert!(words.starts_with("2 recordings came in; ") && words.contains("b.wav"), "{words}");
        let entries = shelf.entries();
        assert_eq!(entries.len(), 2);
        assert!(entries.iter().all(|entry| entry.player == "Mira" && entry.notes.len() == 1));
        add(vec![phone.join("a.wav"), phone.join("c.wav")]);
        let done = heard!(&told, JournalHeard::Done(words) => words);
        assert_eq!(done, "0 recordings came in; here already: 2");
        // The sound of a take by itself is none: its measures would be lost.
        add(vec![shelf.sound(&entries[0].id)]);
        let words = heard!(&told, JournalHeard::Trouble(words) => words);
        assert!(words.contains("the sound of a take"), "{words}");
        drop(thread);
        fs::remove_dir_all(&folder).ok();
        fs::remove_dir_all(&phone).ok();
    }
}
