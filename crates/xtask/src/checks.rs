//! What a gate saw beside what it must see.

use serde_json::Value;

use crate::shell::Fault;

/// A number that a program wrote; NaN, which passes no check, where there is none.
pub(crate) fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// What a program printed as JSON, a value a line.
pub(crate) fn records(printed: &[u8]) -> Vec<Value> {
    let text = String::from_utf8_lossy(printed);
    text.lines().filter_map(|line| serde_json::from_str(line).ok()).collect()
}

/// How far the numbers of two records are apart at most; infinite where anything but a number differs.
pub(crate) fn farthest(one: &Value, other: &Value) -> f64 {
    match (one, other) {
        (Value::Number(_), Value::Number(_)) => (number(one) - number(other)).abs(),
        (Value::Array(these), Value::Array(those)) if these.len() == those.len() => {
            these.iter().zip(those).map(|(one, other)| farthest(one, other)).fold(0.0, f64::max)
        }
        (Value::Object(these), Value::Object(those)) if these.len() == those.len() => these
            .iter()
            .map(|(name, one)| farthest(one, those.get(name).unwrap_or(&Value::Null)))
            .fold(0.0, f64::max),
        _ if one == other => 0.0,
        _ => f64::INFINITY,
    }
}

/// Counts and prints the checks of a gate.
#[derive(Debug, Default)]
pub(crate) struct Checks {
    passed: usize,
    failed: usize,
}

impl Checks {
    /// One check: `what` must hold; `seen` says what was found.
    pub(crate) fn that(&mut self, holds: bool, what: &str, seen: &str) {
        println!("  {} {what:<58} {seen}", if holds { "ok  " } else { "MISS" });
        if holds {
            self.passed += 1;
        } else {
            self.failed += 1;
        }
    }

    /// The outcome; a gate without a check has not passed.
    pub(crate) fn end(self, gate: &str) -> Result<(), Fault> {
        let Self { passed, failed } = self;
        println!("\n{gate}: {passed} passed, {failed} failed");
        if failed == 0 && passed > 0 {
            return Ok(());
        }
        Err(Fault::Checks { failed, all: passed + failed })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_miss_fails_the_gate() {
        let mut checks = Checks::default();
        checks.that(true, "one", "1");
        checks.that(false, "two", "1");
        let fault = checks.end("gate").expect_err("a miss");
        assert_eq!(fault.to_string(), "1 of 2 checks failed");
    }

    #[test]
    fn records_are_as_far_apart_as_their_farthest_numbers() {
        let one = serde_json::json!({ "a": [1.0, 2.5], "b": "x", "c": null });
        let near = serde_json::json!({ "a": [1.0, 2.25], "b": "x", "c": null });
        let other = serde_json::json!({ "a": [1.0, 2.5], "b": "x", "c": 0.0 });
        assert_eq!(farthest(&one, &near), 0.25);
        assert_eq!(farthest(&one, &other), f64::INFINITY);
        assert_eq!(farthest(&one, &serde_json::json!({ "a": [1.0] })), f64::INFINITY);
    }

    #[test]
    fn a_gate_that_checked_nothing_has_not_passed() {
        assert!(Checks::default().end("gate").is_err());
    }
}
