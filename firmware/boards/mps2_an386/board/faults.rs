//! What no scan expects: everything lets go, and the watchdog does the rest.
#![allow(unsafe_code, reason = "the attribute of an exception wants the word; what is done is one write to a register")]

use super::OUTPUTS;
use cortex_m_rt::exception;

/// The watchdog's first call, after which there are 100 ms left: everything lets go at once.
#[exception]
unsafe fn NonMaskableInt() {
    OUTPUTS.write(0);
}

/// Something has come: that ends the rest, and whoever rests again asks to be called again.
#[exception]
unsafe fn DefaultHandler(_: i16) {
    super::line::calls(false);
}

/// What no instruction should do lets everything go, and waits for the watchdog.
#[exception]
unsafe fn HardFault(_: &cortex_m_rt::ExceptionFrame) -> ! {
    OUTPUTS.write(0);
    loop {
        cortex_m::asm::nop();
    }
}

/// Nothing is known to panic; if anything does, everything lets go, and the watchdog is waited for.
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    OUTPUTS.write(0);
    loop {
        cortex_m::asm::nop();
    }
}
