//! A note or rest with its marks: what stands between two commas.

use tuning::{Cents, Hz};

use super::fault::TextFault;
use super::line::Word;
use crate::plan::intention::Intention;
use crate::plan::note::{Beats, Dynamic, Pitch, Spelling};

/// Signs of loudness, as they are written.
pub(super) const DYNAMICS: [(&str, Dynamic); 10] = [
    ("ppp", Dynamic::Ppp),
    ("pp", Dynamic::Pp),
    ("p", Dynamic::P),
    ("mp", Dynamic::Mp),
    ("mf", Dynamic::Mf),
    ("f", Dynamic::F),
    ("ff", Dynamic::Ff),
    ("fff", Dynamic::Fff),
    ("louder", Dynamic::Louder),
    ("softer", Dynamic::Softer),
];

/// What stands between two commas.
pub(super) struct Item<'t> {
    pub(super) slur: Option<Word<'t>>,
    pub(super) pitch: Pitch,
    pub(super) beats: Beats,
    pub(super) tied: Option<Word<'t>>,
    pub(super) finger: Option<u8>,
    pub(super) string: Option<String>,
    pub(super) dynamic: Option<Dynamic>,
    pub(super) grace: Vec<Spelling>,
    pub(super) wish: Wish<'t>,
}

/// What is written of a note's vibrato.
#[derive(Default)]
pub(super) struct Wish<'t> {
    straight: Option<Word<'t>>,
    width: Option<(Word<'t>, Vec<f64>)>,
    rate: Option<(Word<'t>, Vec<f64>)>,
    peak: Option<(Word<'t>, f64)>,
    /// As another note, by its number from 1.
    like: Option<(Word<'t>, usize)>,
}

/// Reads an item; `words` is not empty.
pub(super) fn item<'t>(words: &[Word<'t>]) -> Result<Item<'t>, TextFault> {
    let mut words = words.iter().copied().peekable();
    let slur = words.next_if(|word| word.text == "slur");
    let Some(first) = words.next() else {
        return Err(end_of(slur, "wants a note behind it, such as slur E3 1"));
    };
    let pitch = pitch(first)?;
    let Some(length) = words.next() else {
        return Err(first.fault(format!(
            "{:?} wants a length in beats behind it, such as {} 1",
            first.text, first.text
        )));
    };
    let mut item = Item {
        slur,
        pitch,
        beats: beats(length)?,
        tied: None,
        finger: None,
        string: None,
        dynamic: None,
        grace: Vec::new(),
        wish: Wish::default(),
    };
    while let Some(word) = words.next() {
        if pitch == Pitch::Rest {
            return Err(word.fault(format!("{:?} stands behind a rest, which has a length alone; a comma parts it from the next note", word.text)));
        }
        mark(&mut item, word, &mut words)?;
    }
    Ok(item)
}

fn end_of(word: Option<Word<'_>>, what: &str) -> TextFault {
    match word {
        Some(word) => word.fault(format!("{:?} {what}", word.text)),
        None => TextFault { line: 0, column: 0, what: what.to_owned() },
    }
}

fn named(word: Word<'_>, name: &str) -> Result<Spelling, TextFault> {
    let named = Spelling::named(name).ok().filter(|pitch| (0..=8).contains(&pitch.octave()));
    named.ok_or_else(|| {
        word.fault(format!("{name:?} is no note; names run from C0 to B8, with # or b (F#3)"))
    })
}

fn pitch(word: Word<'_>) -> Result<Pitch, TextFault> {
    match word.text.split_once('+') {
        _ if word.text == "rest" => Ok(Pitch::Rest),
        Some((low, high)) => Ok(Pitch::Double(named(word, low)?, named(word, high)?)),
        None => Ok(Pitch::Single(named(word, word.text)?)),
    }
}

fn beats(word: Word<'_>) -> Result<Beats, TextFault> {
    let fraction = |text: &str| match text.split_once('/') {
        Some((parts, of)) => Beats::new(parts.parse().ok()?, of.parse().ok()?),
        None => Beats::whole(text.parse().ok()?),
    };
    let read = match word.text.split_once('+') {
        Some((whole, part)) => fraction(whole).and_then(|whole| whole.plus(fraction(part)?)),
        None => fraction(word.text),
    };
    read.filter(|beats| *beats > Beats::ZERO).ok_or_else(|| {
        word.fault(format!("{:?} is no length in beats; write 2, 1/2, 1/3 or 1+1/2", word.text))
    })
}

type Words<'w, 't> = std::iter::Peekable<std::iter::Copied<std::slice::Iter<'w, Word<'t>>>>;

/// Reads the mark that begins with `word`.
fn mark<'t>(
    item: &mut Item<'t>,
    word: Word<'t>,
    words: &mut Words<'_, 't>,
) -> Result<(), TextFault> {
    if let Some((_, dynamic)) = DYNAMICS.iter().find(|(name, _)| *name == word.text) {
        item.dynamic = Some(*dynamic);
        return Ok(());
    }
    match word.text {
        "open" => item.finger = Some(0),
        "tied" => item.tied = Some(word),
        "straight" => item.wish.straight = Some(word),
        "finger" => {
            let finger = words.next().and_then(|finger| finger.text.parse().ok());
            let fault = || word.fault("\"finger\" wants 0 to 4; 0 is an open string");
            item.finger = Some(finger.filter(|finger| *finger <= 4).ok_or_else(fault)?);
        }
        "string" => {
            let fault = || word.fault("\"string\" wants its name, such as string D");
            item.string = Some(words.next().ok_or_else(fault)?.text.to_owned());
        }
        "grace" => {
            let fault = || {
                word.fault("\"grace\" wants the small notes before this one, such as grace D4+E4")
            };
            let notes = words.next().ok_or_else(fault)?;
            let notes: Result<Vec<_>, _> =
                notes.text.split('+').map(|name| named(notes, name)).collect();
            item.grace.extend(notes?);
        }
        "width" => item.wish.width = Some((word, numbers(word, "cents, 0 to 400", words)?)),
        "rate" => item.wish.rate = Some((word, numbers(word, "Hz, up to 12", words)?)),
        "peak" => {
            let share =
                words.next().and_then(|share| share.text.trim_end_matches('%').parse::<f64>().ok());
            let fault = || {
                word.fault("\"peak\" wants a place in the note from 0% to 100%, such as peak 40%")
            };
            let share = share.filter(|share| (0.0..=100.0).contains(share)).ok_or_else(fault)?;
            // To hundredths of a percent, as it is written.
            item.wish.peak = Some((word, (share * 100.0).round() / 10_000.0));
        }
        "as" => {
            let number = words.next().and_then(|number| number.text.parse().ok());
            let fault = || {
                word.fault("\"as\" wants the number of a note before this one, such as as 3; rests do not count")
            };
            item.wish.like = Some((word, number.ok_or_else(fault)?));
        }
        other => {
            return Err(word.fault(format!(
                "{other:?} is no mark; behind a length may stand finger, string, open, tied, a dynamic such as mf, louder, \
                 softer, grace, straight, width, rate, peak or as; a comma parts notes"
            )));
        }
    }
    Ok(())
}

/// One to three numbers with `to` between them.
fn numbers(word: Word<'_>, unit: &str, words: &mut Words<'_, '_>) -> Result<Vec<f64>, TextFault> {
    let mut numbers = Vec::new();
    let mut so_far = word.text.to_owned();
    loop {
        let number = words.next_if(|word| word.text.parse::<f64>().is_ok_and(f64::is_finite));
        let Some(number) = number else {
            let more = if numbers.is_empty() { "a number" } else { "one more number" };
            return Err(word.fault(format!("\"{so_far}\" wants {more}, in {unit}")));
        };
        numbers.push(number.text.parse().unwrap_or_default());
        so_far = format!("{so_far} {}", number.text);
        if numbers.len() == 3 || words.next_if(|word| word.text == "to").is_none() {
            return Ok(numbers);
        }
        so_far += " to";
    }
}

impl Wish<'_> {
    /// The intention that is written, `None` where none is. `running` is that of the notes before, `earlier` all of them.
    pub(super) fn intention(
        &self,
        running: Intention,
        earlier: &[Intention],
    ) -> Result<Option<Intention>, TextFault> {
        let contour = self.width.as_ref().map(|it| it.0);
        let contour = contour.or(self.rate.as_ref().map(|it| it.0)).or(self.peak.map(|it| it.0));
        let others = [contour, self.like.map(|it| it.0)];
        if let (Some(straight), Some(other)) = (self.straight, others.iter().flatten().next()) {
            return Err(other.fault(format!(
                "{:?} and \"{}\" at one note; write one of them",
                other.text, straight.text
            )));
        }
        if let (Some(contour), Some((like, _))) = (contour, self.like) {
            return Err(
                like.fault(format!("\"as\" and {:?} at one note; write one of them", contour.text))
            );
        }
        if let Some((word, number)) = self.like {
            let before = number.checked_sub(1).and_then(|at| earlier.get(at));
            return before.copied().map(Some).ok_or_else(|| {
                word.fault(format!(
                    "\"as {number}\" names no note before this one; {} come before it",
                    earlier.len()
                ))
            });
        }
        match contour {
            Some(word) => self.contour(word, running).map(Some),
            None => Ok(self.straight.map(|_| Intention::Straight)),
        }
    }

    fn contour(&self, word: Word<'_>, running: Intention) -> Result<Intention, TextFault> {
        let (width, mut rate, mut peak_at) = match (&self.width, running) {
            (Some((_, numbers)), _) => {
                let (width, peak_at) = three_widths(numbers);
                (width, None, peak_at)
            }
            (None, Intention::Contour { width, rate, peak_at }) => (width, rate, peak_at),
            (None, Intention::Straight) => {
                return Err(word
                    .fault(format!("{:?} wants a width before it, such as width 30", word.text)));
            }
        };
        if let Some((word, peak)) = self.peak {
            let lengths =
                [&self.width, &self.rate].map(|it| it.as_ref().map_or(0, |it| it.1.len()));
            if self.width.is_some() && (lengths[0] == 2 || !lengths.contains(&3)) {
                return Err(word.fault(
                    "\"peak\" wants a width or rate of three numbers, such as width 20 to 60 to 30 peak 40%",
                ));
            }
            peak_at = peak;
        }
        if let Some((_, numbers)) = &self.rate {
            let three = match numbers[..] {
                [start, end] => [start, start + peak_at * (end - start), end],
                [start, peak, end] => [start, peak, end],
                _ => [numbers[0]; 3],
            };
            rate = Some(three.map(Hz));
        }
        checked(word, Intention::Contour { width, rate, peak_at })
    }
}

/// A width at start, peak and end, and where the peak lies. Two numbers are one straight line.
fn three_widths(numbers: &[f64]) -> ([Cents; 3], f64) {
    let (width, peak_at) = match *numbers {
        [start, end] if start <= end => ([start, end, end], 1.0),
        [start, end] => ([start, start, end], 0.0),
        [start, peak, end] => ([start, peak, end], 0.5),
        _ => ([numbers[0]; 3], 0.5),
    };
    (width.map(Cents), peak_at)
}

fn checked(word: Word<'_>, intention: Intention) -> Result<Intention, TextFault> {
    intention.fault().map_or(Ok(intention), |fault| Err(word.fault(fault)))
}
