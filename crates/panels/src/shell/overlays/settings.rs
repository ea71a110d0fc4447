//! All that can be set, but for devices, drone and metronome.

use super::Behind;
use super::regions::{RATES_HZ, WIDTHS_CENTS, regions_ui};
use crate::shell::Shell;
use crate::shell::action::{Action, Command, Sought};
use crate::shell::options::{
    ENDS_AFTER, KEEPS_BEFORE, Options, SOUND_DAYS, SPANS, Side, TEXT_SCALES, ZOOMS, Zoom,
};
use crate::theme::Paper;
use crate::widgets::form::Form;
use coach::{Against, OnStart, Showing, Swing};
use egui::Ui;
use tuning::{A4_RANGE_HZ, Cents, Hz, Naming, SHIPPED_INSTRUMENTS, Temperament};

/// A wanted band reaches so far to both sides of the last note's measure when it is set.
const AROUND_HZ: f64 = 0.5;
const AROUND_CENTS: f64 = 10.0;
/// Where it lies if there was no vibrato yet; invented.
const RATE: (f64, f64) = (5.0, 6.0);
const WIDTH: (f64, f64) = (20.0, 40.0);

/// Draws them.
pub(super) fn settings_ui(
    ui: &mut Ui,
    shell: &Shell,
    behind: &Behind,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    let mut options = shell.options().clone();
    notes_ui(ui, &mut options, shell.naming(), behind, form, actions);
    ears_ui(ui, &mut options, form);
    vibrato_ui(ui, &mut options, behind, form);
    regions_ui(ui, &mut options, form);
    sheet_ui(ui, &mut options, form);
    takes_ui(ui, &mut options, form, actions);
    hints_ui(ui, &mut options, form);
    if options != *shell.options() {
        actions.push(Action::Set(Box::new(options)));
    }
}

fn words<T: Clone, const N: usize>(all: [(T, &str); N]) -> Vec<(T, String)> {
    all.map(|(value, said)| (value, said.to_owned())).to_vec()
}

fn notes_ui(
    ui: &mut Ui,
    options: &mut Options,
    naming: Naming,
    behind: &Behind,
    form: &Form,
    actions: &mut Vec<Action>,
) {
    form.heading(ui, "Notes");
    form.number(ui, "A4", &mut options.tuning.a4.0, A4_RANGE_HZ, "Hz");
    form.choice(
        ui,
        "temperament",
        &mut options.tuning.temperament,
        &words([(Temperament::Equal, "equal"), (Temperament::PureFifths, "pure fifths from A")]),
    );
    form.choice(
        ui,
        "straight notes against",
        &mut options.against,
        &words([
            (Against::Equal, "the temperament"),
            (Against::OpenStrings, "my open strings"),
            (Against::Drone, "the drone"),
        ]),
    );
    form.row(ui, "my own reference", |ui, _| {
        let name = match behind.own {
            Some(own) => tuning::pitch_name(own.midi, naming),
            None => "none taken".to_owned(),
        };
        ui.label(name);
        let own = behind.own.is_some();
        if form.button(ui, "Clear", "clear my own reference", own) {
            actions.push(Action::Do(Command::DropReference));
        }
    });
    instrument_ui(ui, options, form, actions);
    form.choice(
        ui,
        "note names",
        &mut options.naming,
        &words([
            (Naming::Scientific, "scientific: B♭3"),
            (Naming::Helmholtz, "Helmholtz: b♭"),
            (Naming::German, "German: b"),
            (Naming::FixedDo, "fixed do: Si♭3"),
        ]),
    );
}

/// A shipped instrument as players call it.
fn called(shipped: &str) -> String {
    match shipped {
        "double-bass-solo" => "double bass, solo tuning".to_owned(),
        "double-bass-five" => "double bass, five strings".to_owned(),
        "double-bass-extension" => "double bass, C extension".to_owned(),
        _ => shipped.replace('-', " "),
    }
}

fn instrument_ui(ui: &mut Ui, options: &mut Options, form: &Form, actions: &mut Vec<Action>) {
    let shipped = SHIPPED_INSTRUMENTS.map(|name| (Some(name.to_owned()), called(name)));
    let mut all = vec![(None, "any bowed string".to_owned())];
    all.extend(shipped);
    let mut chosen = options.instrument.clone();
    form.choice(ui, "instrument", &mut chosen, &all);
    let own =
        options.instrument.clone().filter(|name| !SHIPPED_INSTRUMENTS.contains(&name.as_str()));
    form.row(ui, "or one of my own", |ui, _| {
        let value = own.as_deref().unwrap_or("");
        let hint = "path of a file ending in .ron";
        let (path, sought) = form.place(ui, "instrument file", value, hint);
        if let Some(path) = path {
            chosen = (!path.is_empty()).then_some(path);
        }
        actions.extend(sought.then_some(Action::Find(Sought::Instrument)));
    });
    if chosen != options.instrument {
        *options = options.clone().played_on(chosen);
    }
    if own.is_some() {
        match options.instrument() {
            Err(error) => form.trouble(ui, &error.to_string()),
            Ok(Some(instrument)) => form.note(ui, &format!("This is {}.", instrument.name)),
            Ok(None) => {}
        }
    }
}

fn ears_ui(ui: &mut Ui, options: &mut Options, form: &Form) {
    form.part(ui, "The ear before the eye");
    form.choice(
        ui,
        "measures are shown",
        &mut options.showing,
        &words([
            (Showing::Live, "live"),
            (Showing::AfterNote, "after the note"),
            (Showing::AfterRound, "after the round"),
        ]),
    );
    form.check(ui, "ask what I heard before showing it", &mut options.asks);
    let limits = &mut options.limits;
    let uneven = &mut limits.uneven_pct;
    form.number(ui, "counts as uneven from", uneven, 2.0..=60.0, "% spread");
    form.number(ui, "counts as on the note within", &mut limits.on_it.0, 1.0..=50.0, "cents");
}

fn vibrato_ui(ui: &mut Ui, options: &mut Options, behind: &Behind, form: &Form) {
    form.part(ui, "Vibrato");
    form.choice(
        ui,
        "it swings",
        &mut options.swing,
        &words([
            (Swing::Around, "around the note"),
            (Swing::Below, "below it, crests on the note"),
        ]),
    );
    form.choice(
        ui,
        "on the beat falls",
        &mut options.on_start,
        &words([
            (OnStart::Note, "the note, then below"),
            (OnStart::Crest, "the crest"),
            (OnStart::Trough, "the trough"),
        ]),
    );
    form.note(
        ui,
        "Teachers differ, and all are ways to play. The question about the centre, the wave of a drill, its guide tone and what is found follow this.",
    );
    let last = behind.last;
    form.row(ui, "wanted rate", |ui, _| {
        let wanted = &mut options.wanted.rate;
        let mut on = wanted.is_some();
        form.check(ui, "a band of rates", &mut on);
        let usual = last.map_or(RATE, |(rate, _)| around(rate.0, AROUND_HZ));
        *wanted = on.then(|| wanted.unwrap_or((Hz(usual.0), Hz(usual.1))));
        if let Some((from, to)) = wanted {
            let band = (&mut from.0, &mut to.0);
            form.band(ui, "wanted rate", band, RATES_HZ, "Hz");
        }
    });
    form.row(ui, "wanted width", |ui, _| {
        let wanted = &mut options.wanted.width;
        let mut on = wanted.is_some();
        form.check(ui, "a band of widths", &mut on);
        let usual = last.map_or(WIDTH, |(_, width)| around(width.0, AROUND_CENTS));
        *wanted = on.then(|| wanted.unwrap_or((Cents(usual.0), Cents(usual.1))));
        if let Some((from, to)) = wanted {
            let band = (&mut from.0, &mut to.0);
            form.band(ui, "wanted width", band, WIDTHS_CENTS, "cents");
        }
    });
}

/// A band around `middle`, on tenths, not below 0.
fn around(middle: f64, reach: f64) -> (f64, f64) {
    let tenths = |value: f64| (value * 10.0).round() / 10.0;
    (tenths((middle - reach).max(0.0)), tenths(middle + reach))
}

fn hints_ui(ui: &mut Ui, options: &mut Options, form: &Form) {
    form.part(ui, "Care, in drills");
    form.check(ui, "point out signs of tiring", &mut options.hints.tiring);
    form.check(ui, "suggest a rest after 25 minutes of playing", &mut options.hints.rest);
}

fn sheet_ui(ui: &mut Ui, options: &mut Options, form: &Form) {
    form.part(ui, "The sheet");
    form.choice(
        ui,
        "paper",
        &mut options.paper,
        &words([(Paper::Light, "light"), (Paper::Dark, "dark")]),
    );
    let scales = TEXT_SCALES.map(|scale| (scale, format!("{:.0} %", 100.0 * scale)));
    form.choice(ui, "size of type", &mut options.text_scale, &scales);
    form.choice(
        ui,
        "the field stands",
        &mut options.side,
        &words([(Side::Left, "left"), (Side::Right, "right")]),
    );
    let spans: Vec<(usize, String)> =
        SPANS.iter().enumerate().map(|(index, span)| (index, format!("{:.0} s", span.0))).collect();
    form.choice(ui, "the trace spans", &mut options.span, &spans);
    let mut zooms = vec![(Zoom::ByItself, "what the motion needs".to_owned())];
    zooms.extend(
        ZOOMS
            .iter()
            .enumerate()
            .map(|(index, zoom)| (Zoom::Fixed(index), format!("±{:.0} cents", zoom.0))),
    );
    form.choice(ui, "and reaches", &mut options.zoom, &zooms);
    let still = "nothing flows or fades: the trace is written page by page";
    form.check(ui, still, &mut options.still);
}

fn takes_ui(ui: &mut Ui, options: &mut Options, form: &Form, actions: &mut Vec<Action>) {
    form.part(ui, "Takes");
    let take = &mut options.take;
    form.check(ui, "keep what I play", &mut take.kept);
    form.row(ui, "they belong to", |ui, _| {
        let hint = "a name, if several people play";
        if let Some(name) = form.field(ui, "player", &options.player, hint) {
            options.player = name.trim().to_owned();
        }
    });
    let take = &mut options.take;
    let ends_after = &mut take.ends_after.0;
    form.number(ui, "silence that ends one", ends_after, ENDS_AFTER, "s");
    let before = &mut take.before.0;
    form.number(ui, "sound kept from before", before, KEEPS_BEFORE, "s");
    form.row(ui, "sound is kept", |ui, _| {
        let days = &mut options.sound_days;
        let mut for_ever = days.is_none();
        form.check(ui, "for ever", &mut for_ever);
        *days = (!for_ever).then(|| days.unwrap_or(90));
        if let Some(days) = days {
            form.bare_number(ui, "days the sound is kept", days, SOUND_DAYS, "days");
        }
    });
    if options.sound_days.is_some() {
        form.note(
            ui,
            "Then the sound of takes that are not marked goes to the trash. You are told at one start, and it goes at the next; their measures stay.",
        );
    }
    form.row(ui, "folder", |ui, _| {
        let value = options.journal.as_deref().unwrap_or("");
        let (path, sought) = form.place(ui, "folder of the takes", value, "the usual one");
        if let Some(path) = path {
            options.journal = (!path.is_empty()).then_some(path);
        }
        actions.extend(sought.then_some(Action::Find(Sought::Takes)));
    });
    form.note(
        ui,
        "A take starts with a sound and ends after silence; no hand is needed. It stays on this computer.",
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_lies_around_the_measure_and_above_nothing() {
        assert_eq!(around(5.62, 0.5), (5.1, 6.1));
        assert_eq!(around(4.0, 10.0), (0.0, 14.0));
    }

    #[test]
    fn every_shipped_instrument_is_called_by_a_name_of_its_own() {
        let mut all: Vec<String> = SHIPPED_INSTRUMENTS.iter().map(|name| called(name)).collect();
        all.sort();
        all.dedup();
        assert_eq!(all.len(), SHIPPED_INSTRUMENTS.len());
        assert!(all.iter().all(|name| !name.contains('-')), "{all:?}");
    }
}
