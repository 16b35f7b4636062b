//! What rules and requirements mean: every reading and the oracle alike, and what standards say of it.

mod algebra;
mod iec_tables;
mod lanes;
mod readings;
mod requirements;
mod scales;
mod sentences;
mod skipping;
mod skipping_proved;
