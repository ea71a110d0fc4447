//! All that is drawn: theme, trace and gauges.

pub mod theme;
