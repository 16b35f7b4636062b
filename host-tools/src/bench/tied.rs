//! A program that ends with this one, however this one ends: killed, it has no time to end what it started.
//!
//! The program's parent holds a pipe that nothing is written to. A shell that waits at the other end is told by the system when the pipe closes,
//! which it does with its holder, and then ends the program. The program itself is in the place of the shell that started it: its number
//! is that of the child.

use std::io::Write;
use std::process::{Child, Command, Stdio};

/// Waits beside the program, which is given as the arguments. A line says that the program needs no ending.
const SCRIPT: &str = r#"exec 3<&0 </dev/null; (read -r _ <&3 || kill -KILL "$$") & exec "$@" 3<&-"#;

/// Status of a shell that does not find the program.
const NOT_FOUND: i32 = 127;

/// A command that starts this program tied to this one. It must be given arguments, and no standard input.
pub fn tied(program: &str) -> Command {
    let mut command = Command::new("sh");
    command.args(["-c", SCRIPT, "sh", program]).stdin(Stdio::piped());
    command
}

/// Ends a program that was tied. It may have ended by itself.
pub fn end(child: &mut Child) {
    // Waiting for it would close the pipe.
    let pipe = child.stdin.take();
    let _ended = child.kill();
    let _reaped = child.wait();
    // Its number may be another's by now: who waits must end nothing.
    if let Some(mut pipe) = pipe {
        let _gone = pipe.write_all(b"\n");
    }
}

/// Whether it has ended because there is no such program.
pub(super) fn is_missing(child: &mut Child) -> bool {
    child.try_wait().is_ok_and(|ended| ended.is_some_and(|status| status.code() == Some(NOT_FOUND)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, Instant};

    fn sleeps() -> Child {
        tied("sleep").arg("60").spawn().unwrap()
    }
    fn ends_within(child: &mut Child, seconds: u64) -> bool {
        let until = Instant::now() + Duration::from_secs(seconds);
        while Instant::now() < until {
            if child.try_wait().unwrap().is_some() {
                return true;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        false
    }

    #[test]
    fn it_ends_when_the_pipe_closes_as_with_its_holder() {
        let mut child = sleeps();
        drop(child.stdin.take());
        assert!(ends_within(&mut child, 30));
    }

    #[test]
    fn it_is_ended_once() {
        let mut child = sleeps();
        end(&mut child);
        assert!(child.try_wait().unwrap().is_some());
        // A line is no end.
        let mut child = sleeps();
        child.stdin.take().unwrap().write_all(b"\n").unwrap();
        assert!(!ends_within(&mut child, 1));
        end(&mut child);
    }

    #[test]
    fn a_program_that_there_is_not_is_missing() {
        let mut child = tied("no-such-program-of-haltproof").stderr(Stdio::null()).spawn().unwrap();
        assert!(ends_within(&mut child, 30) && is_missing(&mut child));
    }
}
