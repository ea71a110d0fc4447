//! All that is drawn: theme, trace and gauges.
