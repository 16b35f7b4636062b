//! The bench build for MPS2 with AN386: its image and its inputs come over the line, its outputs are held off
//! unless the first button is pressed.
#![no_std]
#![no_main]

mod board;

use board::{Button, Latch, Line, Ticks, WatchdogTimer, memory};
use cortex_m_rt::entry;
use firmware::bench::{Gated, Next, Server, Set, Shelf};
use firmware::{Booted, Cause, Clock, Memory, Parts, Store, Watchdog, boot};

/// Cells that each copy has, whatever image comes.
const CELLS: usize = 2_048;
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
    // The entry is called once: it has these for itself, each in memory of its own.
    static mut UPRIGHT: [u32; CELLS] = [0; CELLS];
    static mut INVERTED: [u32; CELLS] = [0; CELLS];
    static mut FIRST: [u8; IMAGE] = [0; IMAGE];
    static mut SECOND: [u8; IMAGE] = [0; IMAGE];
    static mut STORE: Store = Store::new();
    let (mut server, mut line, mut ticks) = (Server::new(), Line::start(), Ticks::start());
    let mut shelf = Shelf::new([FIRST, SECOND]);
    let mut cause = memory::cause();
    loop {
        // Whoever restarted it is told why before it takes another image.
        if cause == Cause::PowerUp {
            load(&mut server, &mut line, &mut ticks, &mut shelf);
        }
        let outputs = Gated { outputs: Latch::default(), enable: Button, turned: 0 };
        let parts = Parts { field: Set::default(), outputs, watchdog: Unwatched, clock: ticks };
        let memory = Memory { cells: [&mut *UPRIGHT, &mut *INVERTED], store: &mut *STORE };
        let booted = boot(parts, shelf.images(), memory, cause);
        cause = Cause::PowerUp;
        run(&mut server, &mut line, &mut ticks, booted);
    }
}

/// Takes an image, until it is to be run.
fn load(server: &mut Server, line: &mut Line, ticks: &mut Ticks, shelf: &mut Shelf<'_>) {
    loop {
        if let Some(frame) = line.read().and_then(|byte| server.take(byte, ticks.now_us())) {
            let served = server.on_shelf(&frame, shelf);
            line.send(&served.answer);
            if served.next == Next::Run {
                return;
            }
        }
        line.work();
        line.rest();
    }
}

/// Does nothing any more: the watchdog, started for it, ends that.
fn hang() -> ! {
    WatchdogTimer::start();
    loop {
        cortex_m::asm::nop();
    }
}

/// Runs a plan, until it is to end.
fn run(server: &mut Server, line: &mut Line, ticks: &mut Ticks, mut booted: Ends<'_>) {
    loop {
        let now = ticks.now_us();
        if let Ok(station) = &mut booted {
            server.listen(now, station);
        }
        if let Some(frame) = line.read().and_then(|byte| server.take(byte, now)) {
            let served = match &mut booted {
                Ok(station) => server.on_station(&frame, station, memory::stack),
                Err(halted) => server.on_halted(&frame, halted),
            };
            line.send(&served.answer);
            if served.next == Next::Hang {
                hang();
            }
            if served.next == Next::End {
                // What it drives is let go with it.
                drop(booted.map(firmware::Station::retire));
                return;
            }
        }
        line.work();
        line.rest();
    }
}
