//! Draws the pictures of the README from the demo session: `cargo run -p panels --example pictures`.

#[path = "../tests/panels/scenes/mod.rs"]
#[allow(dead_code, reason = "the tests draw more scenes than the README shows")]
mod scenes;

use std::path::Path;
use std::process::ExitCode;

/// Size of a picture, in points; each point is one and a half pixels wide.
const SIZE: egui::Vec2 = egui::vec2(1280.0, 760.0);
const PIXELS: f32 = 1.5;

fn main() -> ExitCode {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../assets/pictures");
    if let Err(error) = std::fs::create_dir_all(&folder) {
        eprintln!("{error}: {}", folder.display());
        return ExitCode::FAILURE;
    }
    for (name, stand) in scenes::readme() {
        let path = folder.join(name).with_extension("png");
        let mut harness = scenes::window::harness_at(stand, SIZE, PIXELS);
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
