//! How far long work has come: one line on the error stream, if that is a terminal.

use std::io::{self, IsTerminal, Write};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Work that is done sooner than this needs no line.
const PATIENCE: Duration = Duration::from_millis(1_500);
/// From one line to the next.
const PACE: Duration = Duration::from_millis(100);
/// Room for the line, in signs.
const WIDTH: usize = 60;

/// Says how much of how much is done. It is shown once the work turns out to be long, and goes when it is dropped.
pub(crate) struct Progress {
    /// What is counted; `None` to tell the share alone.
    things: Option<&'static str>,
    terminal: bool,
    begun: Instant,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    done: u64,
    all: u64,
    /// When the line that is seen was drawn.
    drawn: Option<Instant>,
}

impl Progress {
    /// Nothing is done of so much.
    pub(crate) fn of(all: u64, things: Option<&'static str>) -> Self {
        Self {
            things,
            terminal: io::stderr().is_terminal(),
            begun: Instant::now(),
            state: Mutex::new(State { all, ..State::default() }),
        }
    }

    /// So much more is done.
    pub(crate) fn add(&self, done: u64) {
        let mut state = self.state();
        state.done += done;
        self.draw(&mut state);
    }

    /// There is so much more to do.
    pub(crate) fn grow(&self, all: u64) {
        self.state().all += all;
    }

    /// So much is done of so much.
    pub(crate) fn set(&self, done: u64, all: u64) {
        let mut state = self.state();
        (state.done, state.all) = (done, all);
        self.draw(&mut state);
    }

    /// Writes to the terminal without the line in the way.
    pub(crate) fn around<T>(&self, write: impl FnOnce() -> T) -> T {
        let mut state = self.state();
        Self::wipe(&mut state);
        write()
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn draw(&self, state: &mut State) {
        let since = self.begun.elapsed();
        let fresh = state.drawn.is_some_and(|drawn| drawn.elapsed() < PACE);
        if !self.terminal || since < PATIENCE || fresh {
            return;
        }
        let line = said(state.done, state.all, self.things, since);
        io::stderr().write_all(format!("\r{line:<WIDTH$}").as_bytes()).ok();
        state.drawn = Some(Instant::now());
    }

    fn wipe(state: &mut State) {
        if state.drawn.take().is_some() {
            io::stderr().write_all(format!("\r{:<WIDTH$}\r", "").as_bytes()).ok();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        Self::wipe(&mut self.state());
    }
}

/// The line: how much is done after so long, and how much longer it will take if it goes on so.
fn said(done: u64, all: u64, things: Option<&str>, since: Duration) -> String {
    let done = done.min(all);
    let share = match things {
        Some(things) => format!("{done} of {all} {things}"),
        None => format!("{} % of the sound", 100 * done / all.max(1)),
    };
    if done == 0 {
        return share;
    }
    let left_s = since.as_secs_f64() * (all - done) as f64 / done as f64;
    let left =
        if left_s < 90.0 { format!("{left_s:.0} s") } else { format!("{:.0} min", left_s / 60.0) };
    format!("{share}, about {left} left")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_says_how_much_is_done_and_how_long_the_rest_will_take() {
        let secs = Duration::from_secs;
        assert_eq!(said(0, 40, Some("takes"), secs(2)), "0 of 40 takes");
        assert_eq!(said(10, 40, Some("takes"), secs(2)), "10 of 40 takes, about 6 s left");
        assert_eq!(said(1, 100, None, secs(3)), "1 % of the sound, about 5 min left");
        // A file may go on beyond what it states: the line does not.
        assert_eq!(said(120, 100, None, secs(3)), "100 % of the sound, about 0 s left");
        assert_eq!(said(0, 0, None, secs(3)), "0 % of the sound");
        assert!(said(500_000, 500_001, Some("files"), secs(99_999)).len() < WIDTH);
    }

    #[test]
    fn nothing_is_drawn_before_the_work_turns_out_to_be_long() {
        let mut progress = Progress::of(9, Some("files"));
        progress.terminal = true;
        progress.add(1);
        assert!(progress.state().drawn.is_none());
        progress.begun -= PATIENCE;
        progress.add(1);
        assert!(progress.state().drawn.is_some());
        // What is written meanwhile stands alone.
        progress.around(|| ());
        assert!(progress.state().drawn.is_none());
    }
}
