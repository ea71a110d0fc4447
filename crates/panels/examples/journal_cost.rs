//! Ten years of practice in the room Journal: what it costs to have 20 000 takes listed, filtered and followed over the
//! weeks, and what a picture costs while the list scrolls, each figure beside its bar. In time of the processor (other
//! programs on the same machine do not count). `cargo run -p panels --example journal_cost [TAKES]`; ends with status 1
//! on a missed bar. What the disk costs stands in `cargo run -p journal --example many`.

use egui::{Pos2, RawInput, Rect, Vec2, vec2};
use journal::{
    Context, Entry, Filter, Fingering, NoteMeasures, Split, TakeFile, TakeId, VibratoMeasures,
};
use panels::journal_room::{
    JournalAction, JournalHeard, JournalRoom, Page, Span, Step, Writing, journal_ui,
};
use panels::shell::options::Options;
use panels::stand::Stand;
use panels::theme;
use rustix::time::{ClockId, clock_gettime};
use std::collections::HashSet;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use tuning::{Hz, Secs};
use vibrato::{Measures, Note, Quantity};

const TAKES: usize = 20_000;
const NOTES: usize = 12;
/// A picture's own work (issue "Journal and Lesson", must show 2), in all but one of a hundred.
const BAR: Duration = Duration::from_millis(4);
/// What happens once, when the list or a filter changes (the same place: open in under 1 s).
const ONCE: Duration = Duration::from_millis(1_000);
const MEMORY_MB: f64 = 200.0;
const PICTURES: usize = 400;
const BEFORE: usize = 20;

fn take(number: usize) -> Option<(TakeId, TakeFile)> {
    let minutes = number % 6 * 7;
    let day = jiff::civil::date(2016, 11, 25)
        .checked_add(jiff::Span::new().days(number as i64 * 11 / 60))
        .ok()?;
    let name = format!("{day}/17-{minutes:02}-{:02}", number / 6 % 60);
    let id: TakeId = name.parse().ok()?;
    let notes = (0..NOTES).map(|n| note(number, n)).collect();
    let began = format!("{day}T17:{minutes:02}:00+00:00[UTC]");
    let file = TakeFile {
        player: ["Mira", "Jonas", "Ada"][number % 3].to_owned(),
        instrument: Some(["cello", "violin"][number % 2].to_owned()),
        drill: number.is_multiple_of(4).then(|| "four fingers".to_owned()),
        length_s: 30.0,
        keep: number.is_multiple_of(50),
        notes,
        ..TakeFile::begun(&Context::default(), began, 48_000)
    };
    Some((id, file))
}

fn note(take: usize, number: usize) -> NoteMeasures {
    let shade = ((take * 31 + number * 17) % 101) as f64 / 101.0;
    let start_s = 2.4 * number as f64;
    let plain = Note::plain(50 + number as i32, Hz(220.0), Secs(start_s), Secs(start_s + 2.2));
    let by = Fingering { finger: Some(1 + (number % 4) as u8), string: None };
    NoteMeasures {
        offset_cents: (shade, None),
        straight: false,
        vibrato: Some(VibratoMeasures {
            measures: Measures::default()
                .with(Quantity::Rate, 5.2 + 0.6 * shade, None)
                .with(Quantity::Width, 28.0 + 9.0 * shade, None)
                .with(Quantity::Centre, -2.0 * shade, None)
                .with(Quantity::RateSpread, 4.0 + 3.0 * shade, None)
                .with(Quantity::WidthSpread, 7.0 + 3.0 * shade, None)
                .with(Quantity::Onset, 0.2, None),
            contour: Vec::new(),
            oscillations: vec![(start_s + 0.2, 1.9, 15.0, -15.0)],
        }),
        ..NoteMeasures::of(&plain, &by)
    }
}

/// Draws pictures of a room, each after `step`, and says what all but one of a hundred cost at most.
fn pictures(
    room: &mut JournalRoom,
    stand: &Stand,
    size: Vec2,
    step: impl Fn(usize) -> Option<JournalAction>,
    wheel: f32,
) -> Duration {
    let ctx = &egui::Context::default();
    theme::dress(ctx);
    let mut costs = Vec::with_capacity(PICTURES);
    let mut seen = HashSet::new();
    for picture in 0..BEFORE + PICTURES {
        let begun = processor_time();
        if let Some(action) = step(picture) {
            room.apply(action, &stand.shell);
        }
        room.wants();
        let mut events = vec![egui::Event::PointerMoved(Pos2::new(120.0, 0.6 * size.y))];
        if wheel != 0.0 {
            events.push(egui::Event::MouseWheel {
                unit: egui::MouseWheelUnit::Point,
                delta: vec2(0.0, -wheel),
                phase: egui::TouchPhase::Move,
                source: egui::MouseWheelSource::Wheel,
                modifiers: egui::Modifiers::NONE,
            });
        }
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, size)),
            time: Some(picture as f64 / 60.0),
            events,
            ..RawInput::default()
        };
        let mut output = ctx.run_ui(input, |ui| {
            for action in journal_ui(ui, room, &stand.shell) {
                room.apply(action, &stand.shell);
            }
        });
        let triangles = ctx.tessellate(std::mem::take(&mut output.shapes), output.pixels_per_point);
        let cost = processor_time().saturating_sub(begun);
        output.textures_delta.clear();
        assert!(!triangles.is_empty(), "nothing was drawn");
        seen.insert(fingerprint(&triangles));
        if picture >= BEFORE {
            costs.push(cost);
        }
    }
    // The wheel shows other rows in nearly each picture; from end to end there are two.
    let least = match (wheel != 0.0, step(0)) {
        (true, _) => PICTURES / 2,
        (false, Some(_)) => 2,
        (false, None) => 1,
    };
    assert!(seen.len() >= least, "only {} pictures differ", seen.len());
    costs.sort();
    costs[costs.len() * 99 / 100]
}

/// A number that changes when anything is drawn elsewhere.
fn fingerprint(triangles: &[egui::ClippedPrimitive]) -> u64 {
    let mut sum = 0_u64;
    for drawn in triangles {
        if let egui::epaint::Primitive::Mesh(mesh) = &drawn.primitive {
            for vertex in &mesh.vertices {
                let bits =
                    u64::from(vertex.uv.x.to_bits()) ^ u64::from(vertex.pos.y.to_bits()) << 7;
                sum = sum.wrapping_mul(31).wrapping_add(bits);
            }
        }
    }
    sum
}

fn told(what: &str, cost: Duration, bar: Duration) -> bool {
    let good = cost <= bar;
    let word = if good { "ok  " } else { "MISS" };
    let ms = |time: Duration| 1e3 * time.as_secs_f64();
    println!("  {word} {what:<34} {:>8.2} ms, at most {} ms", ms(cost), ms(bar));
    good
}

fn timed(room: &mut JournalRoom, stand: &Stand, action: JournalAction) -> Duration {
    let begun = processor_time();
    room.apply(action, &stand.shell);
    processor_time().saturating_sub(begun)
}

/// Resident memory of this process, where the system tells it.
fn memory_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1e3)
}

fn main() -> ExitCode {
    let asked = std::env::args().nth(1).and_then(|takes| takes.parse().ok());
    let takes: usize = asked.unwrap_or(TAKES);
    let mut entries: Vec<Arc<Entry>> = (0..takes)
        .filter_map(take)
        .map(|(id, file)| Arc::new(Entry::of_file(&id, &file)))
        .collect();
    entries.sort_by(|a, b| a.id.cmp(&b.id));
    entries.dedup_by(|a, b| a.id == b.id);
    println!("{} takes of {NOTES} notes", entries.len());
    let stand = Stand::new(Options::default());
    let mut room = JournalRoom::new();
    room.hear(JournalHeard::Writing(Writing::Allowed));
    let begun = processor_time();
    room.hear(JournalHeard::Entries { entries: Arc::new(entries), unread: Vec::new() });
    let mut good = told("listed", processor_time().saturating_sub(begun), ONCE);
    let filter = Filter {
        player: Some("Mira".to_owned()),
        finger: Some(4),
        text: "four".to_owned(),
        ..Filter::default()
    };
    let cost = timed(&mut room, &stand, JournalAction::Filter(Box::new(filter)));
    good &= told("filtered", cost, ONCE);
    println!("       ({} takes are wanted)", room.wanted());
    room.apply(JournalAction::Filter(Box::default()), &stand.shell);
    room.apply(JournalAction::Span(Span::All), &stand.shell);
    let cost = timed(&mut room, &stand, JournalAction::Page(Page::Trends));
    good &= told("trend of all notes gathered", cost, ONCE);
    let cost = timed(&mut room, &stand, JournalAction::Split(Split::Finger));
    good &= told("trends of the fingers gathered", cost, ONCE);
    let cost = timed(&mut room, &stand, JournalAction::Follow(Quantity::Width));
    good &= told("trends of another measure gathered", cost, ONCE);
    for size in [vec2(1180.0, 760.0), vec2(2560.0, 1440.0)] {
        println!("a picture, {}x{}:", size.x, size.y);
        room.apply(JournalAction::Page(Page::Takes), &stand.shell);
        let none = |_: usize| None;
        let cost = pictures(&mut room, &stand, size, none, 170.0);
        good &= told("the list scrolled by the wheel", cost, BAR);
        let step = |_: usize| Some(JournalAction::Step(Step::Down));
        let cost = pictures(&mut room, &stand, size, step, 0.0);
        good &= told("the choice moved line by line", cost, BAR);
        let far = |picture: usize| {
            let end = picture.is_multiple_of(2);
            Some(JournalAction::Step(if end { Step::Last } else { Step::First }))
        };
        let cost = pictures(&mut room, &stand, size, far, 0.0);
        good &= told("the choice moved from end to end", cost, BAR);
        room.apply(JournalAction::Split(Split::None), &stand.shell);
        room.apply(JournalAction::Page(Page::Trends), &stand.shell);
        let cost = pictures(&mut room, &stand, size, none, 0.0);
        good &= told("the trend of ten years", cost, BAR);
        room.apply(JournalAction::Split(Split::Finger), &stand.shell);
        let cost = pictures(&mut room, &stand, size, none, 0.0);
        good &= told("the trends of four fingers", cost, BAR);
        room.apply(JournalAction::Page(Page::Minutes), &stand.shell);
        let cost = pictures(&mut room, &stand, size, none, 0.0);
        good &= told("the minutes of ten years", cost, BAR);
    }
    if let Some(memory) = memory_mb() {
        let well = memory <= MEMORY_MB;
        good &= well;
        let word = if well { "ok  " } else { "MISS" };
        println!("  {word} memory {memory:.0} MB, at most {MEMORY_MB} MB");
    }
    if good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Time that this thread has kept a processor busy.
fn processor_time() -> Duration {
    Duration::try_from(clock_gettime(ClockId::ThreadCPUTime)).unwrap_or_default()
}
