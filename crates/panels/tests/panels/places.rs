//! Whether all of a room has its place: every control within the window or where scrolling brings it, every text whole.
//!
//! Read from the tree that a screen reader is told, and from the lines of text that are drawn; no picture is made.

use crate::scenes::window::{Shown, harness};
use egui::epaint::{ClippedShape, Shape, TextShape};
use egui::{Rect, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable, by};
use panels::shell::options::Options;
use panels::stand::Action;

/// Every size of the window, from the least that is allowed to a large screen.
pub(crate) const SIZES: [Vec2; 4] =
    [vec2(800.0, 500.0), vec2(1024.0, 640.0), vec2(1280.0, 800.0), vec2(2560.0, 1440.0)];
/// The usual size of type, a larger one and the largest.
const TEXT_SCALES: [f32; 3] = [1.0, 1.5, 2.5];
/// Points by which a place may reach over the edge: rings of focus and rounding.
const OVER: f32 = 1.5;
/// Points by which the box of a line of text may reach over what is drawn of it: the ink ends before.
const AIR: f32 = 4.0;
/// Pages of buttons behind "more", at most.
const PAGES: usize = 8;

/// A room in one state, by a name for it.
pub(crate) type State<S> = (&'static str, S);

/// Looks at each state of a room in every size of the window and of type, and tells of all that has no place.
pub(crate) fn check<S: Shown>(room: &str, mut states: Vec<State<S>>) {
    let mut wrong = Vec::new();
    let (mut looks, mut parts, mut texts) = (0, 0, 0);
    let count = states.len();
    let (mut name, first) = states.pop().expect("a room has a state");
    let mut harness = harness(first, SIZES[0]);
    // Each size at a time: letters once drawn serve all states.
    for size in SIZES {
        harness.set_size(size);
        for text_scale in TEXT_SCALES {
            for number in 0..count {
                let stand = harness.state_mut().stand();
                let options = Options { text_scale, ..stand.shell.options().clone() };
                stand.apply(Action::Set(Box::new(options)));
                // What was scrolled or turned in another state is back at its start.
                harness.ctx.memory_mut(|memory| memory.data.clear());
                harness.run_steps(2);
                S::settle(&mut harness);
                harness.run_steps(1);
                let at = format!("{room}, {name}, {}x{} × {text_scale}", size.x, size.y);
                let seen = look(&mut harness, &at, &mut wrong);
                assert!(seen.0 >= 4 && seen.1 >= 4, "{at}: {seen:?} is nothing to look at");
                (looks, parts, texts) = (looks + 1, parts + seen.0, texts + seen.1);
                // On to the next one; the last round ends where all have been seen.
                if let Some((other, state)) = states.get_mut(number) {
                    std::mem::swap(&mut name, other);
                    std::mem::swap(harness.state_mut(), state);
                }
            }
        }
    }
    println!("{room}: {count} states, {looks} looks, {parts} parts, {texts} texts");
    assert!(wrong.is_empty(), "{} have no place:\n{}", wrong.len(), wrong.join("\n"));
}

/// Looks at the room as it stands, at the foot of what scrolls, and on each page of its buttons; how many parts and
/// lines of text there were.
fn look<S: Shown>(
    harness: &mut Harness<'_, S>,
    at: &str,
    wrong: &mut Vec<String>,
) -> (usize, usize) {
    let seen = (parts_in_place(harness, at, wrong), texts_are_whole(harness, at, wrong));
    if !scroll_views(harness).is_empty() {
        harness.hover_at(window(harness).center());
        harness.event(egui::Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: vec2(0.0, -20_000.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: egui::Modifiers::NONE,
        });
        harness.run_steps(3);
        texts_are_whole(harness, &format!("{at}, scrolled"), wrong);
        harness.remove_cursor();
    }
    for _ in 0..PAGES {
        let Some(more) = harness.query_by_label("more") else { break };
        more.click();
        harness.run_steps(2);
        parts_in_place(harness, &format!("{at}, more"), wrong);
        texts_are_whole(harness, &format!("{at}, more"), wrong);
    }
    seen
}

fn window<S>(harness: &Harness<'_, S>) -> Rect {
    harness.ctx.content_rect()
}

/// Whether each part that has a name or can be worked lies in the window, or in what scrolls there and has a bar to
/// say so.
fn parts_in_place<S>(harness: &Harness<'_, S>, at: &str, wrong: &mut Vec<String>) -> usize {
    use egui::accesskit::{Action, Role};
    let window = window(harness).expand(OVER);
    let mut count = 0;
    let bars: Vec<Rect> =
        harness.query_all(by().role(Role::ScrollBar)).map(|bar| bar.rect()).collect();
    for node in harness.query_all(by()) {
        let part = node.accesskit_node();
        let works =
            [Action::Focus, Action::Click].map(|action| part.data().supports_action(action));
        let label = part.label();
        let told = label.is_some() || works.contains(&true);
        let unseen =
            [Role::Window, Role::ScrollView, Role::Dialog, Role::Pane].contains(&part.role());
        let Some(rect) = part.bounding_box().map(points) else { continue };
        if !told || unseen || !rect.is_positive() {
            continue;
        }
        count += 1;
        let view = std::iter::successors(part.parent(), |node| node.parent())
            .find(|node| node.role() == Role::ScrollView);
        let in_place = match view.and_then(|view| view.bounding_box()) {
            None => window.contains_rect(rect),
            Some(view) => {
                let view = points(view).expand(OVER);
                let seen =
                    view.y_range().contains(rect.top()) && view.y_range().contains(rect.bottom());
                let bar = bars.iter().any(|bar| bar.y_range().intersects(view.y_range()));
                window.contains_rect(view)
                    && view.x_range().contains(rect.left())
                    && view.x_range().contains(rect.right())
                    && (seen || bar)
            }
        };
        if !in_place {
            let said = label.unwrap_or_else(|| format!("{:?}", part.role()));
            wrong.push(format!("{at}: part “{said}” at {rect}"));
        }
    }
    count
}

fn points(rect: egui::accesskit::Rect) -> Rect {
    let [x0, y0, x1, y1] = [rect.x0, rect.y0, rect.x1, rect.y1].map(|at| at as f32);
    Rect::from_min_max(egui::pos2(x0, y0), egui::pos2(x1, y1))
}

/// Whether each line of text is drawn whole: neither shortened nor cut by an edge, but for what a scroll area cuts
/// above and below.
fn texts_are_whole<S>(harness: &Harness<'_, S>, at: &str, wrong: &mut Vec<String>) -> usize {
    let window = window(harness);
    let views = scroll_views(harness);
    let mut count = 0;
    for ClippedShape { clip_rect, shape, .. } in &harness.output().shapes {
        each_text(shape, &mut |text| {
            let rect = text.galley.mesh_bounds.translate(text.pos.to_vec2());
            if !rect.is_positive() || text.opacity_factor == 0.0 {
                return;
            }
            count += 1;
            let said = text.galley.text();
            if text.galley.elided {
                wrong.push(format!("{at}: “{said}” is shortened"));
            }
            let seen = clip_rect.intersect(window);
            let by_view = |y: f32| {
                views
                    .iter()
                    .any(|view| (y - view.top()).abs() < OVER || (y - view.bottom()).abs() < OVER)
            };
            // What is scrolled out of sight altogether.
            let out = !seen.is_positive() && (by_view(seen.top()) || by_view(seen.bottom()));
            let aside = rect.left() < seen.left() - AIR || rect.right() > seen.right() + AIR;
            let above = rect.top() < seen.top() - AIR && !by_view(seen.top());
            let below = rect.bottom() > seen.bottom() + AIR && !by_view(seen.bottom());
            if !out && (aside || above || below) {
                wrong.push(format!("{at}: “{said}” at {rect} is cut by {seen}"));
            }
        });
    }
    count
}

/// Where what scrolls is seen.
fn scroll_views<S>(harness: &Harness<'_, S>) -> Vec<Rect> {
    let nodes = harness.query_all(by().role(egui::accesskit::Role::ScrollView));
    nodes.map(|node| node.rect()).collect()
}

/// Calls `each` for each line of text in `shape`.
fn each_text(shape: &Shape, each: &mut impl FnMut(&TextShape)) {
    match shape {
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| each_text(shape, each)),
        Shape::Text(text) => each(text),
        _ => {}
    }
}
