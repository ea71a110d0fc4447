//! Pictures that are compared with those kept in `tests/snapshots`.
//!
//! After a change that is meant, `UPDATE_SNAPSHOTS=1 cargo test -p panels --test panels pictures` makes them anew
//! (`stand::pictures` those of the Stand); look at each before it is kept.

use super::window::{Shown, harness};
use egui::{Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions};
use panels::shell::options::Options;
use panels::stand::Action;
use panels::theme::Paper;

/// The window of a small laptop, and that of a large screen.
pub(crate) const SMALL: Vec2 = vec2(1024.0, 640.0);
pub(crate) const LARGE: Vec2 = vec2(2560.0, 1440.0);
/// How much a pixel may differ, as a weighted squared distance in YIQ, and how many may differ by
/// more. Another software renderer may round the edges of letters and slanted lines otherwise
/// (Vulkan and OpenGL of one version of Mesa do not); one other digit in the smallest type of a
/// window of 1024 points differs in 28 pixels.
const THRESHOLD: f32 = 1.5;
const FAILED: usize = 20;

/// A paper, a size of the window, and how large type is.
pub(crate) type Way = (Paper, Vec2, f32);

/// Both sizes of the window at type of 100 and 200 %, and the other paper, which changes nothing but colours: for one
/// scene of a room.
pub(crate) const EACH: [Way; 5] = [
    (Paper::Light, SMALL, 1.0),
    (Paper::Light, SMALL, 2.0),
    (Paper::Light, LARGE, 1.0),
    (Paper::Light, LARGE, 2.0),
    (Paper::Dark, LARGE, 1.0),
];

/// Each paper, each size and each type once: for scenes that are laid out otherwise than that one. What is laid out
/// as it is needs only the first of them.
pub(crate) const FEW: [Way; 3] =
    [(Paper::Light, SMALL, 1.0), (Paper::Dark, LARGE, 1.0), (Paper::Light, SMALL, 2.0)];

/// The pictures of one test, drawn one after another.
struct Pictures<S: Shown> {
    // One renderer draws them all: it takes longer to start than to draw.
    harness: Option<Harness<'static, S>>,
    differ: Vec<String>,
}

impl<S: Shown> Pictures<S> {
    fn new() -> Self {
        Self { harness: None, differ: Vec::new() }
    }

    /// Compares a picture of `shown` in a small window.
    fn compare(&mut self, name: &str, shown: S) {
        self.show(shown);
        self.take(name, SMALL);
    }

    fn show(&mut self, shown: S) {
        match &mut self.harness {
            Some(harness) => *harness.state_mut() = shown,
            None => self.harness = Some(harness(shown, SMALL)),
        }
    }

    fn take(&mut self, name: &str, size: Vec2) {
        let harness = self.harness.as_mut().expect("something is shown");
        // A large window is drawn at half its size: what matters of it is how it is laid out.
        harness.set_pixels_per_point(if size == LARGE { 0.5 } else { 1.0 });
        // A change of the scale takes a frame to arrive, and changes the size.
        harness.run_steps(2);
        harness.set_size(size);
        harness.run();
        S::settle(harness);
        let options = SnapshotOptions::new().threshold(THRESHOLD).max_failed_pixels(FAILED);
        let compared = harness.try_snapshot_options(name, &options);
        self.differ.extend(compared.err().map(|e| e.to_string()));
    }

    /// Tells of all that differ, once the last was compared.
    fn tell(self) {
        assert!(self.differ.is_empty(), "{}", self.differ.join("\n"));
    }
}

/// Compares pictures in a small window, each with its name.
pub(crate) fn compare<S: Shown, const N: usize>(all: [(&str, S); N]) {
    let mut pictures = Pictures::new();
    for (name, shown) in all {
        pictures.compare(name, shown);
    }
    pictures.tell();
}

/// Compares pictures of a scene in these ways; each is called by scene, paper, width and type.
pub(crate) fn compare_in<S: Shown>(ways: &[Way], name: &str, shown: S) {
    let mut pictures = Pictures::new();
    pictures.show(shown);
    for &(paper, size, text_scale) in ways {
        let harness = pictures.harness.as_mut().expect("it is shown");
        let stand = harness.state_mut().stand();
        let options = Options { paper, text_scale, ..stand.shell.options().clone() };
        stand.apply(Action::Set(Box::new(options)));
        let called = match paper {
            Paper::Light => "light",
            Paper::Dark => "dark",
        };
        let name = format!("{name}-{called}-{}-{}", size.x, 100.0 * text_scale);
        pictures.take(&name, size);
    }
    pictures.tell();
}
