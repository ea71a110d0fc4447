//! Checks of the whole chain.
