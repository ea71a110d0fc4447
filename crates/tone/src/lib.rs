//! Bowed-string-like sound of exactly known pitch.
