//! Whether all of the room "Drill" has its place: the list, each drill, its drawing, its findings.

use super::play::{Player, TURN, cello, drills, note, session, sound, straight, there_and_back};
use crate::places::{State, check};
use coach::{Showing, Task, Work};
use panels::drill_room::{DrillAction, DrillTask};
use panels::shell::options::Options;
use tuning::{Cents, Hz};

fn played(name: &str, options: Options, samples: &[f32], to: f64) -> Player {
    let mut player = Player::started(name, options);
    player.until(samples, to);
    player
}

#[test]
fn all_of_the_list_and_of_every_drill_that_is_open_has_its_place() {
    let mut states: Vec<State<Player>> = vec![("list", Player::new(cello()))];
    let mut violin = cello();
    violin.instrument = Some("violin".to_owned());
    for listed in drills().into_iter().filter(|listed| listed.drill.is_ok()) {
        let name: &'static str = listed.name.leak();
        states.push((name, Player::at(name, cello())));
    }
    states.push(("on a violin", Player::at("out-to-the-little-finger", violin)));
    let mut free = Player::at("there-and-back", cello());
    free.act(DrillAction::FreePace(true));
    states.push(("free pace", free));
    let task = Task {
        work: Work::Drill("there-and-back".to_owned()),
        pace: Some((53.0, 6.0)),
        count: Some(4),
        times: 5,
        rate: Some((Hz(5.0), Hz(5.5))),
        width: Some((Cents(33.0), Cents(42.0))),
        words: "Keep the hand loose when the third finger comes.".to_owned(),
    };
    let mut given = Player::at("there-and-back", cello());
    given.room.task = Some(DrillTask::new("there-and-back", &task));
    states.push(("task", given));
    check("Drill", states);
}

#[test]
fn all_of_a_drill_that_is_played_has_its_place() {
    let at = |showing| Options { showing, ..cello() };
    let held = sound(vec![straight(TURN, 3.9, 174.9, 9.0)], false);
    let mut free = Player::at("there-and-back", cello());
    free.act(DrillAction::FreePace(true));
    free.act(DrillAction::Ready);
    free.until(&session("tidy-transfer", 0.5), 4.6);
    let tidy = there_and_back();
    let states: Vec<State<Player>> = vec![
        ("count-in", played("there-and-back", cello(), &[], TURN - 1.95)),
        ("playing", played("there-and-back", cello(), &tidy, TURN + 3.1)),
        ("after the note", played("there-and-back", at(Showing::AfterNote), &tidy, TURN + 3.1)),
        ("after the round", played("there-and-back", at(Showing::AfterRound), &tidy, TURN + 3.1)),
        ("still", played("there-and-back", Options { still: true, ..cello() }, &tidy, TURN + 3.1)),
        ("free", free),
        ("straight", played("straight", cello(), &held, TURN + 2.6)),
        ("bloom", played("bloom", cello(), &[], TURN + 1.3)),
        ("width ladder", played("width-ladder", cello(), &[], TURN + 1.2)),
        ("rate ladder", played("rate-ladder", cello(), &[], TURN + 1.2)),
        ("pace ladder", played("pace-ladder", cello(), &[], TURN + 1.2)),
        ("field walk", played("field-walk", cello(), &[], 4.6)),
        ("start and stop", played("start-and-stop", cello(), &[], 3.1)),
        ("out and back", played("out-to-the-little-finger", cello(), &tidy, TURN + 3.1)),
    ];
    check("Drill", states);
}

#[test]
fn all_findings_of_a_drill_have_their_place() {
    let held = sound(vec![straight(TURN, 3.9, 174.9, 9.0)], false);
    let wide: Vec<_> = [12.0, 24.0, 36.0, 52.0]
        .into_iter()
        .enumerate()
        .map(|(step, width)| note(TURN + 3.0 * step as f64, 2.0, 174.6, 4.0, width))
        .collect();
    let wide = sound(wide, false);
    let pressed = session("stop-and-press", TURN - 0.6);
    let all = |mut player: Player| {
        player.act(DrillAction::AllMeasures);
        player
    };
    let mut timed = cello();
    timed.set_delay(Some(tuning::Secs(0.04)));
    let states: Vec<State<Player>> = vec![
        ("secure", played("there-and-back", timed, &there_and_back(), TURN + 9.0)),
        ("not secure", played("all-in-a-row", cello(), &pressed, TURN + 11.0)),
        ("all measures", all(played("all-in-a-row", cello(), &pressed, TURN + 11.0))),
        ("nothing played", played("there-and-back", cello(), &[], TURN + 20.0)),
        ("straight", all(played("straight", cello(), &held, TURN + 20.0))),
        ("width ladder", all(played("width-ladder", cello(), &wide, TURN + 16.0))),
        ("field walk", all(played("field-walk", cello(), &wide, 30.0))),
        ("bloom", all(played("bloom", cello(), &pressed, TURN + 25.0))),
    ];
    check("findings", states);
}
