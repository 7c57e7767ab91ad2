//! Draws.
