//! Draws the pictures of the README from the demo session: `cargo run -p panels --example pictures`.

#[path = "../tests/scenes/mod.rs"]
#[allow(dead_code, reason = "the tests draw more scenes than the README shows")]
mod scenes;

use coach::Showing;
use panels::keys::Command;
use panels::options::Options;
use panels::stand::{Action, Stand};
use panels::theme::Paper;
use std::path::Path;
use std::process::ExitCode;
use tuning::{Cents, Hz};

/// Size of a picture, in points; each point is one and a half pixels wide.
const SIZE: egui::Vec2 = egui::vec2(1280.0, 760.0);
const PIXELS: f32 = 1.5;

fn options(paper: Paper) -> Options {
    let mut options = Options {
        paper,
        instrument: Some("cello".to_owned()),
        ..Options::default()
    };
    options.wanted.rate = Some((Hz(4.8), Hz(5.6)));
    options.wanted.width = Some((Cents(25.0), Cents(45.0)));
    options
}

/// The second finger swings evenly.
fn live() -> Stand {
    scenes::demo(options(Paper::Light), 10.6)
}

/// The second finger's straight note, held against the temperament.
fn straight() -> Stand {
    let mut stand = scenes::demo(options(Paper::Light), 7.2);
    stand.apply(Action::Do(Command::Straight));
    stand
}

/// The first finger's vibrato has ended: was it even?
fn question() -> Stand {
    let options = Options {
        showing: Showing::AfterNote,
        ..options(Paper::Dark)
    };
    scenes::demo(options, 5.8)
}

fn main() -> ExitCode {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/pictures");
    if let Err(error) = std::fs::create_dir_all(&folder) {
        eprintln!("{error}: {}", folder.display());
        return ExitCode::FAILURE;
    }
    for (name, stand) in [
        ("stand", live()),
        ("straight", straight()),
        ("question", question()),
    ] {
        let path = folder.join(name).with_extension("png");
        let mut harness = scenes::harness_at(stand, SIZE, PIXELS);
        let drawn = harness.render();
        let saved = drawn.and_then(|picture| picture.save(&path).map_err(|e| e.to_string()));
        match saved {
            Ok(()) => println!("{name}.png"),
            Err(error) => {
                eprintln!("{error}: {}", path.display());
                return ExitCode::FAILURE;
            }
        }
    }
    ExitCode::SUCCESS
}
