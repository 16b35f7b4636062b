//! The scan loop that runs a plan in a station controller.
//!
//! So far only the piece that must never be wrong is here: [`Released`], which drives the outputs so
//! that every doubt de-energises them. The loop, the image and the bench link are not there yet.
#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
#![cfg_attr(test, allow(clippy::expect_used, reason = "a test that panics has failed, as it should"))]

use embedded_hal::digital::OutputPin;

/// Outputs whose de-energised state acts.
#[derive(Debug)]
pub struct Released<P, const N: usize> {
    pins: [P; N],
}

/// An output pin could not be driven: the caller must stop feeding the watchdog.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinFault;

impl<P: OutputPin, const N: usize> Released<P, N> {
    /// Takes the pins and de-energises all of them.
    ///
    /// # Errors
    /// [`PinFault`] if a pin could not be driven; all others have been tried.
    pub fn new(pins: [P; N]) -> Result<Self, PinFault> {
        let mut outputs = Self { pins };
        outputs.release_all()?;
        Ok(outputs)
    }

    /// Drives the outputs of a verdict, `off[i]` for output `i`. An output the verdict does not name is de-energised.
    ///
    /// # Errors
    /// [`PinFault`] if a pin could not be driven; then every output has been told to let go.
    pub fn drive(&mut self, off: &[bool]) -> Result<(), PinFault> {
        let mut sound = true;
        for (i, pin) in self.pins.iter_mut().enumerate() {
            let energised = off.get(i) == Some(&false);
            let driven = if energised { pin.set_high() } else { pin.set_low() };
            sound &= driven.is_ok();
        }
        if sound {
            return Ok(());
        }
        self.release_all()?;
        Err(PinFault)
    }

    /// De-energises every output.
    ///
    /// # Errors
    /// [`PinFault`] if a pin could not be driven; all others have been tried.
    pub fn release_all(&mut self) -> Result<(), PinFault> {
        let mut sound = true;
        for pin in &mut self.pins {
            sound &= pin.set_low().is_ok();
        }
        if sound { Ok(()) } else { Err(PinFault) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal::digital::{Error, ErrorKind, ErrorType};

    #[derive(Debug)]
    struct Broken;
    impl Error for Broken {
        fn kind(&self) -> ErrorKind {
            ErrorKind::Other
        }
    }
    /// A pin that remembers its level, and refuses to go high if it is broken.
    #[derive(Debug, Default)]
    struct Pin {
        high: bool,
        broken: bool,
    }
    impl ErrorType for Pin {
        type Error = Broken;
    }
    impl OutputPin for Pin {
        fn set_low(&mut self) -> Result<(), Broken> {
            self.high = false;
            Ok(())
        }
        fn set_high(&mut self) -> Result<(), Broken> {
            if self.broken {
                return Err(Broken);
            }
            self.high = true;
            Ok(())
        }
    }

    fn levels<const N: usize>(outputs: &Released<Pin, N>) -> Vec<bool> {
        outputs.pins.iter().map(|pin| pin.high).collect()
    }

    #[test]
    fn what_is_not_named_lets_go() {
        let mut outputs = Released::new([Pin::default(), Pin::default(), Pin::default()]).expect("sound pins");
        assert_eq!(outputs.drive(&[false, true]), Ok(()));
        assert_eq!(levels(&outputs), [true, false, false]);
    }

    #[test]
    fn one_broken_pin_lets_all_go() {
        let broken = Pin { broken: true, ..Pin::default() };
        let mut outputs = Released::new([Pin::default(), broken]).expect("low works");
        assert_eq!(outputs.drive(&[false, false]), Err(PinFault));
        assert_eq!(levels(&outputs), [false, false]);
    }
}
