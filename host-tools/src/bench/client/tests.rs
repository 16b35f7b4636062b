//! A line that loses and damages what goes over it.

use super::*;
use crate::bench::in_process::InProcess;
use std::io;

/// Loses, or damages, every n-th thing sent and received.
struct Bad {
    wire: InProcess,
    every: usize,
    sent: usize,
    come: usize,
    damages: bool,
}

impl Wire for Bad {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.sent += 1;
        match (self.sent.is_multiple_of(self.every), self.damages) {
            (false, _) => self.wire.send(bytes),
            (true, false) => Ok(()),
            (true, true) => {
                let mut bytes = bytes.to_vec();
                let middle = bytes.len() / 2;
                bytes[middle] ^= 4;
                self.wire.send(&bytes)
            }
        }
    }
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        let count = self.wire.receive(into, within)?;
        self.come += usize::from(count > 0);
        if count > 0 && self.come.is_multiple_of(self.every) {
            if !self.damages {
                return Ok(0);
            }
            into[count / 2] ^= 8;
        }
        Ok(count)
    }
}

fn client(every: usize, damages: bool) -> Client {
    let wire = Bad { wire: InProcess::start().unwrap(), every, sent: 0, come: 0, damages };
    Client::new(Box::new(wire), Duration::from_millis(60))
}

#[test]
fn what_is_lost_or_damaged_is_asked_for_again() {
    for damages in [false, true] {
        let mut client = client(5, damages);
        for _ in 0..20 {
            let who = client.who().unwrap();
            assert!(!who.runs);
            assert!(matches!(
                client.tell(&Command::Again, "a test"),
                Err(Trouble::Refused(_, Refusal::RunsNot)) | Ok(None)
            ));
        }
        assert!(client.counted().again > 4, "{:?}", client.counted());
    }
}

#[test]
fn a_line_on_which_nothing_comes_is_no_answer() {
    let mut client = client(1, false);
    assert!(matches!(client.who(), Err(Trouble::NoAnswer(_))));
    assert!(matches!(client.make(&Command::Adopt, "a test"), Err(Trouble::NoAnswer(_))));
}
