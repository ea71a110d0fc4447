//! The task that a drill was opened for: what it asks for and how often it was played.

use coach::Task;

/// The task, as the drill shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct DrillTask {
    /// The name of its drill.
    pub drill: String,
    /// How often it was played since it was given.
    pub played: u32,
    times: u32,
    goals: Option<String>,
    words: String,
}

impl DrillTask {
    /// The task of this drill, not played yet.
    pub fn new(drill: &str, task: &Task) -> Self {
        Self {
            drill: drill.to_owned(),
            played: 0,
            times: task.times,
            goals: task.goals(),
            words: task.words.clone(),
        }
    }

    /// "Your task, 1 of 5: rate 4.7–5.7 Hz. “Keep the hand loose.”"
    pub(super) fn said(&self) -> String {
        let head = match self.played < self.times {
            true => format!("Your task, {} of {}", self.played + 1, self.times),
            false => format!("Your task, played {} times of {}", self.played, self.times),
        };
        let goals = self.goals.as_ref().map_or_else(String::new, |goals| format!(": {goals}"));
        let words = match self.words.as_str() {
            "" => String::new(),
            words => format!(" “{words}”"),
        };
        format!("{head}{goals}.{words}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use coach::Work;
    use tuning::Hz;

    #[test]
    fn it_counts_on_and_says_when_all_is_played() {
        let task = Task {
            rate: Some((Hz(4.7), Hz(5.7))),
            words: "Keep the hand loose.".to_owned(),
            ..Task::of_model(&[], Work::Drill("bloom".to_owned()))
        };
        let mut shown = DrillTask::new("bloom", &task);
        assert_eq!(shown.said(), "Your task, 1 of 5: rate 4.7–5.7 Hz. “Keep the hand loose.”");
        shown.played = 4;
        assert!(shown.said().starts_with("Your task, 5 of 5"), "{}", shown.said());
        shown.played = 6;
        assert!(shown.said().starts_with("Your task, played 6 times of 5"), "{}", shown.said());
    }
}
