//! The plan of a passage while it is edited: what is being typed or dragged, and what was done last.

use super::action::{Drag, PlanAction};
use super::plan_wording as wording;
use coach::plan::{Along, Dynamic, Edit, EditFault, Editor, Go, Passage};
use std::ops::Range;
use tuning::{Cents, Instrument, figure};

/// Digits of a number at most.
const MOST_DIGITS: u32 = 3;
/// What stands for how loud, in the order in which it is offered.
const DYNAMICS: [Dynamic; 10] = [
    Dynamic::P,
    Dynamic::Mp,
    Dynamic::Mf,
    Dynamic::F,
    Dynamic::Ff,
    Dynamic::Fff,
    Dynamic::Ppp,
    Dynamic::Pp,
    Dynamic::Louder,
    Dynamic::Softer,
];

/// A number that is being typed.
#[derive(Clone, Copy, Debug)]
struct Number {
    along: Along,
    typed: Option<u32>,
    /// The last change is its own.
    changed: bool,
}

/// A mouse that is held.
#[derive(Clone, Copy, Debug)]
struct Held {
    /// It moves over notes, and not up or down.
    over: bool,
    last: Drag,
    /// The last change is its own.
    changed: bool,
}

/// A plan that is edited.
#[derive(Clone, Debug)]
pub(super) struct Editing {
    /// Each that is edited has another number.
    pub id: u64,
    /// What it is called in the list, once it is there.
    pub name: Option<String>,
    /// That is the name of its file.
    pub has_file: bool,
    /// Something was changed, and perhaps taken back.
    pub touched: bool,
    editor: Editor,
    extends: bool,
    number: Option<Number>,
    held: Option<Held>,
    /// What was done last, or why not, as a sentence.
    said: String,
    /// Title, pace and bar are seen.
    pub head: bool,
}

impl Editing {
    /// Begins to edit a passage, of which a file of this name may be kept.
    pub(super) fn new(id: u64, name: Option<String>, passage: Passage) -> Self {
        Self {
            id,
            has_file: name.is_some(),
            name,
            touched: false,
            editor: Editor::new(passage),
            extends: false,
            number: None,
            held: None,
            said: String::new(),
            head: false,
        }
    }

    /// The plan as it stands.
    pub(super) fn passage(&self) -> &Passage {
        self.editor.passage()
    }

    /// Number of the note one is at.
    pub(super) fn note(&self) -> usize {
        self.editor.cursor()
    }

    /// Numbers of the chosen notes.
    pub(super) fn chosen(&self) -> Range<usize> {
        self.editor.chosen()
    }

    /// Going chooses more notes.
    pub(super) fn extends(&self) -> bool {
        self.extends
    }

    /// A mouse is held, and has been moved.
    pub(super) fn holds(&self) -> bool {
        self.held.is_some()
    }

    /// Something was copied.
    pub(super) fn has_copied(&self) -> bool {
        self.editor.copied().is_some()
    }

    /// What was done last, or why not.
    pub(super) fn said(&self) -> &str {
        &self.said
    }

    /// Begins again at this note; what can be taken back stays so.
    pub(super) fn enter(&mut self, note: Option<usize>) {
        (self.number, self.held, self.head) = (None, None, false);
        (self.extends, self.said) = (false, String::new());
        if let Some(note) = note {
            self.go(Go::To(note), false);
        }
    }

    fn go(&mut self, to: Go, extend: bool) {
        // Going is never refused.
        self.editor.apply(&Edit::Go { to, extend }).ok();
    }

    /// Does it; `true` where the plan is to be left.
    pub(super) fn apply(&mut self, action: PlanAction) -> bool {
        let goes_on = matches!(action, PlanAction::Digit(_) | PlanAction::Delete);
        let number = self.number.take_if(|_| !goes_on);
        match action {
            PlanAction::Done if number.is_some() => self.said.clear(),
            PlanAction::Done if self.head => self.head = false,
            PlanAction::Done if self.extends => self.extends = false,
            PlanAction::Done => return true,
            PlanAction::Make(edit) => self.make(&edit),
            PlanAction::Go(to) => {
                let before = self.note();
                self.go(to, self.extends);
                let stays = self.note() == before;
                self.said = if stays { wording::no_further(to) } else { String::new() };
            }
            PlanAction::Extend => {
                self.extends = !self.extends;
                if !self.extends {
                    self.go(Go::To(self.note()), false);
                }
                self.said = wording::choosing(self.extends);
            }
            PlanAction::Number(along) => {
                self.number = Some(Number { along, typed: None, changed: false });
                self.said = wording::asked(along);
            }
            PlanAction::Digit(digit) => self.digit(digit),
            PlanAction::Delete => match self.number {
                Some(number) => {
                    let left = number.typed.map(|typed| typed / 10).filter(|left| *left > 0);
                    self.typed(number, left);
                }
                None => self.make(&Edit::Delete),
            },
            PlanAction::Dynamic => {
                let next = next_of(&DYNAMICS, self.here().dynamic.as_ref()).copied();
                self.make(&Edit::Dynamic(next));
            }
            PlanAction::OnString => {
                let instrument = Instrument::shipped(&self.passage().instrument).ok();
                let strings: Vec<String> = instrument
                    .map(|it| it.strings.into_iter().rev().map(|string| string.name).collect())
                    .unwrap_or_default();
                let next = next_of(&strings, self.here().string.as_ref()).cloned();
                self.make(&Edit::OnString(next));
            }
            PlanAction::Head => self.head = !self.head,
            // The room knows what was played.
            PlanAction::AsPlayed => {}
            PlanAction::Drag(drag) => self.drag(drag),
            PlanAction::Drop => self.held = None,
        }
        false
    }

    fn here(&self) -> &coach::plan::PlanNote {
        &self.passage().notes()[self.note()]
    }

    fn make(&mut self, edit: &Edit) {
        self.said = match self.editor.apply(edit) {
            Ok(()) => wording::made(edit, self.here()),
            Err(fault) => fault_in_words(&fault),
        };
    }

    /// Makes a change in place of the last one, where that was of the same kind; whether it changed anything.
    fn in_place(&mut self, of_last: bool, edit: &Edit) -> Result<bool, EditFault> {
        if of_last {
            self.editor.apply(&Edit::Undo)?;
        }
        let before = self.passage().clone();
        match self.editor.apply(edit) {
            Ok(()) => Ok(*self.passage() != before),
            Err(fault) => {
                if of_last {
                    self.editor.apply(&Edit::Redo)?;
                }
                Err(fault)
            }
        }
    }

    fn digit(&mut self, digit: u8) {
        let Some(number) = self.number else {
            if digit > 4 {
                self.said = wording::no_such_finger();
                return;
            }
            let finger = Some(digit).filter(|_| self.here().finger != Some(digit));
            return self.make(&Edit::Finger(finger));
        };
        let typed = 10 * number.typed.unwrap_or(0) + u32::from(digit);
        if typed < 10_u32.pow(MOST_DIGITS) {
            self.typed(number, Some(typed));
        }
    }

    /// So much has been typed of the number.
    fn typed(&mut self, number: Number, typed: Option<u32>) {
        let Some(cents) = typed else {
            if number.changed {
                self.editor.apply(&Edit::Undo).ok();
            }
            self.number = Some(Number { typed, changed: false, ..number });
            self.said = wording::asked(number.along);
            return;
        };
        let edit = Edit::Width(number.along, Cents(f64::from(cents)));
        match self.in_place(number.changed, &edit) {
            Ok(changed) => {
                self.number = Some(Number { typed, changed, ..number });
                self.said = wording::made(&edit, self.here());
            }
            Err(fault) => self.said = fault_in_words(&fault),
        }
    }

    fn drag(&mut self, drag: Drag) {
        let held = match self.held {
            Some(held) if held.last == drag => return,
            Some(held) => held,
            None => {
                if !drag.over && !self.chosen().contains(&drag.from) {
                    self.go(Go::To(drag.from), false);
                }
                Held { over: drag.over, last: drag, changed: false }
            }
        };
        let done = if held.over {
            if held.changed {
                self.editor.apply(&Edit::Undo).ok();
            }
            self.go(Go::To(drag.from), false);
            self.go(Go::To(drag.to), true);
            self.in_place(false, &Edit::Brush).map(|changed| (changed, Edit::Brush))
        } else {
            let edit = Edit::WidthBy(drag.wider);
            self.in_place(held.changed, &edit).map(|changed| (changed, edit))
        };
        let changed = done.as_ref().is_ok_and(|(changed, _)| *changed);
        self.said = match &done {
            Ok((_, edit)) => wording::made(edit, self.here()),
            Err(fault) => fault_in_words(fault),
        };
        self.held = Some(Held { last: drag, changed, ..held });
    }
}

fn fault_in_words(fault: &EditFault) -> String {
    figure::sentence(&fault.to_string())
}

/// The one behind `now`; none behind the last, and the first behind none.
fn next_of<'a, T: PartialEq>(all: &'a [T], now: Option<&T>) -> Option<&'a T> {
    let Some(now) = now else { return all.first() };
    let at = all.iter().position(|one| one == now)?;
    all.get(at + 1)
}
