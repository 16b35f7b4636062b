//! The demo stations, and the controller that runs their rules.

mod campaign;
mod controller;
mod demo;
mod emulator;
mod images;
mod link;
mod turned_bits;
