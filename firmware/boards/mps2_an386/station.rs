//! The station build for MPS2 with AN386. Its image is built in; it answers questions on the line and nothing else.
#![no_std]
#![no_main]

// One crate graph may turn the feature on for everyone: then this must not become a station by mistake.
#[cfg(feature = "bench")]
compile_error!("a station is never built with the feature `bench`");

mod board;

use board::{Latch, Line, Loose, Ticks, WatchdogTimer, memory};
use cortex_m_rt::entry;
use firmware::link::{Link, Sender, Standing};
use firmware::{Cause, Fault, Halted, Memory, Parts, Station, Store, boot};

const IMAGE: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/station.image"));
/// Cells of each copy: what the image needs.
const CELLS: usize = include!(concat!(env!("OUT_DIR"), "/station.cells"));

type Runs<'m> = Station<'m, Loose, Latch, WatchdogTimer, Ticks>;
type Stopped<'m> = Halted<'m, Loose, Latch, WatchdogTimer, Ticks>;

#[entry]
fn main() -> ! {
    // The entry is called once: it has these for itself, each in memory of its own.
    static mut UPRIGHT: [u32; CELLS] = [0; CELLS];
    static mut INVERTED: [u32; CELLS] = [0; CELLS];
    static mut STORE: Store = Store::new();
    let memory = Memory { cells: [UPRIGHT, INVERTED], store: STORE };
    let cause = memory::cause();
    let clock = Ticks::start();
    let parts = Parts { field: Loose::default(), outputs: Latch::default(), watchdog: WatchdogTimer, clock };
    // Once restarted it drives nothing until its power comes: there is nothing to watch, and it can be asked in peace.
    if cause == Cause::PowerUp {
        WatchdogTimer::start();
    }
    // The image lies in one memory: both copies read it, and the patrol goes round it.
    match &mut boot(parts, [IMAGE, IMAGE], memory, cause) {
        Ok(station) => run(station, Line::start()),
        Err(halted) => hold(halted, Line::start()),
    }
}

fn run(station: &mut Runs<'_>, mut line: Line) -> ! {
    let mut link = Link::new(Sender::Station);
    loop {
        if station.is_due() {
            // A fault ends the feeding of the watchdog; its code is kept over the restart that follows.
            if let Err(fault) = station.scan() {
                memory::keep(fault.code());
            }
        }
        if let Some(frame) = line.read().and_then(|byte| link.take(byte)) {
            let mut standing = Standing::of(station);
            standing.stack = memory::stack();
            let answer = link.answer(&frame, &standing);
            line.send(&answer);
        }
        line.work();
    }
}

fn hold(halted: &mut Stopped<'_>, mut line: Line) -> ! {
    let mut link = Link::new(Sender::Station);
    match halted.fault {
        Fault::Restarted(code) => memory::keep(code),
        fault => memory::keep(fault.code()),
    }
    loop {
        halted.hold();
        if let Some(frame) = line.read().and_then(|byte| link.take(byte)) {
            let answer = link.answer(&frame, &Standing::halted(halted));
            line.send(&answer);
        }
        line.work();
    }
}
