//! When the notes of an echo begin, beside those of the model.

use super::Comparison;
use tuning::Secs;

impl Comparison {
    /// Where model and echo are laid over each other as a whole: the starts of the first note of the model that
    /// is answered, and of its answer. `None` where nothing is answered.
    pub fn starts(&self) -> Option<(Secs, Secs)> {
        let first = self.pairs.first()?;
        Some((self.model[first.model].start, self.echo[first.echo].start))
    }

    /// How much later each answer begins than in the model, in the order of [`Comparison::pairs`], both laid
    /// over each other at [`Comparison::starts`]; negative is earlier, the first is 0.
    pub fn lateness(&self) -> Vec<Secs> {
        let Some((model, echo)) = self.starts() else {
            return Vec::new();
        };
        let late = |pair: &super::Pair| {
            let (a, b) = (&self.model[pair.model], &self.echo[pair.echo]);
            Secs((b.start.0 - echo.0) - (a.start.0 - model.0))
        };
        self.pairs.iter().map(late).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::straight;
    use super::*;

    #[test]
    fn an_answer_is_late_by_the_clock_of_its_own_phrase() {
        let model = [straight(57, 1.0), straight(59, 3.25), straight(60, 5.5)];
        let echo = [straight(57, 20.0), straight(59, 22.5), straight(60, 24.375)];
        let compared = Comparison::new(&model, &echo);
        assert_eq!(compared.lateness(), [Secs(0.0), Secs(0.25), Secs(-0.125)]);
        // The first note is left out: the second is where both begin.
        let compared = Comparison::new(&model, &echo[1..]);
        assert_eq!(compared.starts(), Some((Secs(3.25), Secs(22.5))));
        assert_eq!(compared.lateness(), [Secs(0.0), Secs(-0.375)]);
        assert!(Comparison::new(&model, &[]).lateness().is_empty());
    }
}
