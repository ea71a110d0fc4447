//! What the window itself does for one picture, without the graphics card: laying the Stand out and
//! cutting it into triangles, in time of the processor (other programs on the same machine do not count). `cargo run -p panels --example frame_cost`; it fails if the slowest
//! hundredth takes longer than it may.

use cpu_time::ThreadTime;
use egui::{Pos2, RawInput, Rect, Vec2, vec2};
use panels::options::{Options, Zoom};
use panels::stand::{Action, Heard, Stand, stand_ui};
use panels::theme::{self, Paper};
use pitch::Frame;
use std::process::ExitCode;
use std::time::Duration;
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{Event, Live, Measure, Motion, Oscillation};

/// A picture may cost so much in all but one of a hundred; then 60 a second leave three quarters of
/// the time to the graphics card.
const BAR: Duration = Duration::from_millis(4);
/// Pictures that are timed, after some that are not.
const PICTURES: usize = 600;
const BEFORE: usize = 60;
/// Frames of sound that arrive from one picture to the next: 60 pictures a second.
const FRAMES: usize = 3;
/// The longest trace, and what sounds on it: four notes with a short rest after each.
const TRACE: Secs = Secs(16.0);
const NOTE: Secs = Secs(4.0);
const REST: f64 = 0.15;
const RATE: Hz = Hz(5.5);
const WIDTH: Cents = Cents(42.0);
const MIDI: i32 = 57;

/// Sound as the ear would report it, one frame of 5 ms after another.
struct Player {
    stand: Stand,
    frame: u64,
}

impl Player {
    fn hear(&mut self, event: Event) {
        self.stand.apply(Action::Heard(Heard::Event(event)));
    }

    fn step(&mut self) {
        let time = self.frame as f64 * 0.005;
        self.frame += 1;
        let reference = Tuning::default().frequency(MIDI);
        let since = time % NOTE.0;
        let (note, rest) = ((time / NOTE.0) as i32 % 2, NOTE.0 - REST);
        if since < 0.0025 {
            self.hear(Event::NoteBegan {
                start: Secs(time),
                midi: MIDI + note,
                reference,
            });
        }
        let phase = std::f64::consts::TAU * RATE.0 * since;
        let sounds = since < rest;
        let cents = 100.0 * f64::from(note) + WIDTH.0 / 2.0 * phase.sin();
        self.hear(Event::Frame(Frame {
            time: Secs(time),
            f0: sounds.then(|| reference.raised(Cents(cents))),
            confidence: if sounds { 0.93 } else { 0.1 },
            level_dbfs: -21.0 + 3.0 * (0.7 * time).sin() + 0.4 * (43.0 * time).sin(),
            disagreement: None,
        }));
        if !sounds {
            return;
        }
        let measure = |value, se| Measure {
            value,
            se: Some(se),
        };
        self.hear(Event::Live(Live {
            time: Secs(time),
            midi: MIDI + note,
            reference: reference.raised(Cents(100.0 * f64::from(note))),
            centre: measure(Cents(1.5), Cents(0.8)),
            motion: Motion::Vibrato {
                rate: Measure {
                    value: Hz(RATE.0 + 0.2 * (0.9 * time).sin()),
                    se: Some(Hz(0.15)),
                },
                width: measure(Cents(WIDTH.0 + 4.0 * (1.3 * time).sin()), Cents(2.0)),
            },
            two_strings: false,
            room: false,
        }));
        let turns = |time: f64| (2.0 * RATE.0 * time - 0.5).floor();
        if turns(since) > turns(since - 0.005) && since > 0.1 {
            let crest = turns(since).rem_euclid(2.0) == 0.0;
            self.hear(Event::Turn {
                time: Secs(time),
                f0: reference.raised(Cents(cents)),
                crest,
            });
            if !crest && since > 0.3 {
                let period = 1.0 / RATE.0;
                self.hear(Event::Oscillation(Oscillation {
                    start: Secs(time - period),
                    period: Secs(period),
                    crest: Cents(WIDTH.0 / 2.0),
                    trough: Cents(-WIDTH.0 / 2.0),
                }));
            }
        }
    }
}

/// What one picture after another costs.
fn costs(paper: Paper, size: Vec2) -> Vec<Duration> {
    let mut options = Options {
        paper,
        span: 2,
        zoom: Zoom::ByItself,
        ..Options::default()
    };
    options.wanted.rate = Some((Hz(5.0), Hz(6.0)));
    let mut player = Player {
        stand: Stand::new(options),
        frame: 0,
    };
    while (player.frame as f64) * 0.005 < TRACE.0 + 1.0 {
        player.step();
    }
    let ctx = egui::Context::default();
    theme::dress(&ctx);
    let mut costs = Vec::with_capacity(PICTURES);
    for picture in 0..BEFORE + PICTURES {
        let begun = ThreadTime::now();
        for _ in 0..FRAMES {
            player.step();
        }
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(picture as f64 / 60.0),
            ..RawInput::default()
        };
        let mut output = ctx.run_ui(input, |ui| {
            for action in stand_ui(ui, &player.stand) {
                player.stand.apply(action);
            }
        });
        let triangles = ctx.tessellate(std::mem::take(&mut output.shapes), output.pixels_per_point);
        let cost = begun.elapsed();
        // New letters go to the graphics card, which there is none of here.
        output.textures_delta.clear();
        assert!(!triangles.is_empty(), "nothing was drawn");
        if picture >= BEFORE {
            costs.push(cost);
        }
    }
    costs.sort();
    costs
}

fn main() -> ExitCode {
    let mut met = true;
    println!("window      paper    median       p99   (bar {BAR:?})");
    for size in [vec2(1180.0, 760.0), vec2(2560.0, 1440.0)] {
        for (paper, name) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
            let costs = costs(paper, size);
            let (median, p99) = (costs[costs.len() / 2], costs[costs.len() * 99 / 100]);
            let ms = |cost: Duration| 1e3 * cost.as_secs_f64();
            let window = format!("{}x{}", size.x, size.y);
            println!(
                "{window:<11} {name:<6} {:>6.2} ms {:>6.2} ms",
                ms(median),
                ms(p99)
            );
            met &= p99 <= BAR;
        }
    }
    if met {
        ExitCode::SUCCESS
    } else {
        eprintln!("a picture costs more than {BAR:?} in more than one of a hundred");
        ExitCode::FAILURE
    }
}
