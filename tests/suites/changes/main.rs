//! What a change does, and how far a limit may move.

mod compare;
mod mutants;
mod slack;
