//! Microphone, loudspeaker, drone and metronome.

use crate::shell::Shell;
use crate::shell::action::{Action, Command, Device};
use crate::shell::options::{BPM, DRONE_DB, DeviceWish};
use crate::widgets::form::Form;
use egui::Ui;

/// Draws it.
pub(super) fn sound_ui(ui: &mut Ui, shell: &Shell, form: &Form, actions: &mut Vec<Action>) {
    let mut options = shell.options().clone();
    let devices = shell.devices.as_ref();
    form.heading(ui, "Microphone");
    form.note(ui, &shell.source.wording());
    match devices {
        None => form.note(ui, "Looking for devices …"),
        Some(devices) => {
            device_ui(ui, "microphone", &mut options.input, &devices.inputs, form);
            channel_ui(ui, &mut options.input, &devices.inputs, form);
        }
    }
    form.status(ui, &shell.place.words());
    form.part(ui, "Loudspeaker");
    if let Some(words) = &shell.loudspeaker {
        form.trouble(ui, words);
    }
    if let Some(devices) = devices {
        device_ui(ui, "loudspeaker", &mut options.output, &devices.outputs, form);
        form.note(ui, "Something is missing? Plug it in, then close this sheet and open it again.");
    }
    drone_ui(ui, &mut options, shell, form, actions);
    beat_ui(ui, &mut options, shell, form, actions);
    if options != *shell.options() {
        actions.push(Action::Set(Box::new(options)));
    }
}

/// Whether the wish is for this device.
fn is_meant(wish: &DeviceWish, device: &Device) -> bool {
    let named = |name: &String| *name == device.id || *name == device.name;
    wish.name.as_ref().is_some_and(named)
}

/// What is wished for: the system's own choice, one that is there, or one that is not.
fn device_ui(ui: &mut Ui, name: &str, wish: &mut DeviceWish, there: &[Device], form: &Form) {
    let mut all = vec![(None, "system default".to_owned())];
    let mut chosen = wish.name.clone();
    for device in there {
        if is_meant(wish, device) {
            chosen = Some(device.id.clone());
        }
        all.push((Some(device.id.clone()), device.name.clone()));
    }
    if let Some(name) =
        chosen.as_ref().filter(|name| !all.iter().any(|(id, _)| id.as_ref() == Some(*name)))
    {
        all.push((Some(name.clone()), format!("{name} (not there now)")));
    }
    let before = chosen.clone();
    form.choice(ui, name, &mut chosen, &all);
    if chosen != before {
        *wish = DeviceWish { name: chosen, channel: None };
    }
}

/// Which channel of the microphone is heard.
fn channel_ui(ui: &mut Ui, wish: &mut DeviceWish, there: &[Device], form: &Form) {
    let device = there.iter().find(|device| is_meant(wish, device));
    let known = device.map_or(0, |device| device.channels);
    let count = known.max(wish.channel.unwrap_or(0));
    if count < 2 {
        return;
    }
    let mut all = vec![(None, "all channels".to_owned())];
    all.extend((1..=count).map(|channel| (Some(channel), channel.to_string())));
    form.choice(ui, "channel", &mut wish.channel, &all);
}

/// A switch that a key works as well.
fn switch_ui(
    ui: &mut Ui,
    name: &str,
    on: bool,
    command: Command,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    let mut now = on;
    form.check(ui, name, &mut now);
    if now != on {
        actions.push(Action::Do(command));
    }
}

fn drone_ui(
    ui: &mut Ui,
    options: &mut crate::shell::options::Options,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    form.part(ui, "Drone");
    let (drone_on, command) = (shell.drone_on, Command::Drone);
    switch_ui(ui, "the drone sounds", drone_on, command, form, actions);
    form.row(ui, "its note", |ui, _| {
        let name = tuning::pitch_name(options.drone.midi, options.naming);
        if form.button(ui, "Lower", "drone a semitone lower", true) {
            actions.push(Action::Do(Command::DroneDown));
        }
        ui.label(name);
        if form.button(ui, "Higher", "drone a semitone higher", true) {
            actions.push(Action::Do(Command::DroneUp));
        }
    });
    let drone = &mut options.drone;
    form.check(ui, "with a pure fifth above it", &mut drone.fifth);
    form.number(ui, "drone level", &mut drone.level_db, DRONE_DB, "dB");
    form.note(
        ui,
        "It starts quiet and fades in. With headphones, check their level before you turn it up.",
    );
}

fn beat_ui(
    ui: &mut Ui,
    options: &mut crate::shell::options::Options,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    form.part(ui, "Metronome");
    let (beat_on, command) = (shell.beat_on, Command::Beat);
    switch_ui(ui, "the metronome beats", beat_on, command, form, actions);
    let beat = &mut options.beat;
    form.number(ui, "beats a minute", &mut beat.bpm, BPM, "");
    form.number(ui, "beats in a bar", &mut beat.bar, 1..=12, "");
    form.check(ui, "heard, not only seen", &mut beat.audible);
}
