//! The bench build for MPS2 with AN386: its image and its inputs come over the first serial line, its outputs are held off
//! unless the first button is pressed.
#![no_std]
#![no_main]

mod board;

use board::{Button, CELLS, Latch, Serial, Ticks};
use cortex_m_rt::entry;
use firmware::bench::{Gated, Next, Server, Set, Shelf};
use firmware::{Booted, Cause, Clock, Parts, Watchdog, boot};

/// Longest image, bytes.
const IMAGE: usize = 16_384;

/// A bench is stepped by whoever sits before it: silence of the link stops it, and no watchdog.
struct Unwatched;
impl Watchdog for Unwatched {
    fn feed(&mut self) {}
}

type Ends<'m> = Booted<'m, Set, Gated<Latch, Button>, Unwatched, Ticks>;

#[entry]
fn main() -> ! {
    let (mut upright, mut inverted) = ([0; CELLS], [0; CELLS]);
    let (mut first, mut second) = ([0; IMAGE], [0; IMAGE]);
    let (mut server, mut serial, mut ticks) = (Server::new(), Serial::start(), Ticks::start());
    loop {
        let mut shelf = Shelf::new([&mut first, &mut second]);
        load(&mut server, &mut serial, &mut ticks, &mut shelf);
        let outputs = Gated { outputs: Latch::default(), enable: Button };
        let parts = Parts { field: Set::default(), outputs, watchdog: Unwatched, clock: ticks };
        let booted = boot(parts, shelf.images(), [&mut upright, &mut inverted], Cause::PowerUp);
        run(&mut server, &mut serial, &mut ticks, booted);
    }
}

/// Takes an image, until it is to be run.
fn load(server: &mut Server, serial: &mut Serial, ticks: &mut Ticks, shelf: &mut Shelf<'_>) {
    loop {
        if let Some(frame) = serial.read().and_then(|byte| server.take(byte, ticks.now_us())) {
            let served = server.on_shelf(&frame, shelf);
            serial.send(&served.answer);
            if served.next == Next::Run {
                return;
            }
        }
        serial.work();
    }
}

/// Runs a plan, until it is to end.
fn run(server: &mut Server, serial: &mut Serial, ticks: &mut Ticks, mut booted: Ends<'_>) {
    loop {
        let now = ticks.now_us();
        if let Ok(station) = &mut booted {
            server.listen(now, station);
        }
        if let Some(frame) = serial.read().and_then(|byte| server.take(byte, now)) {
            let served = match &mut booted {
                Ok(station) => server.on_station(&frame, station, board::memory::stack()),
                Err(halted) => server.on_halted(&frame, halted),
            };
            serial.send(&served.answer);
            if served.next == Next::End {
                // What it drives is let go with it.
                drop(booted.map(firmware::Station::retire));
                return;
            }
        }
        serial.work();
    }
}
