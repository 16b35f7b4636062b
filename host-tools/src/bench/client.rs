//! Questions and commands over a wire, with what is lost or damaged asked for again.

use std::time::{Duration, Instant};

use firmware::bench::{Command, PIECE};
use firmware::link::{Answer, Decoder, Frame, Question, Refusal, Sender, Who, encode};

use super::{Trouble, Wire};

/// Times that a frame is sent before the target counts as one that does not answer.
const TRIES: u32 = 3;

/// How the line did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counted {
    /// Frames that were sent again because no answer came in time.
    pub again: u32,
    /// What came and was no whole frame, or no answer to what was asked.
    pub useless: u32,
}

/// A talk with a controller.
pub struct Client {
    wire: Box<dyn Wire>,
    decoder: Decoder,
    sequence: u8,
    patience: Duration,
    counted: Counted,
    sender: Option<Sender>,
    /// The image that this talk has loaded: it stays with the target when its plan ends.
    loaded: Vec<u8>,
}

impl std::fmt::Debug for Client {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Client").field("counted", &self.counted).finish_non_exhaustive()
    }
}

impl Client {
    /// Speaks over a wire; `patience` is how long an answer may take.
    pub fn new(wire: Box<dyn Wire>, patience: Duration) -> Self {
        let (decoder, counted) = (Decoder::new(), Counted::default());
        Self { wire, decoder, sequence: 0, patience, counted, sender: None, loaded: Vec::new() }
    }
    /// How the line did so far.
    pub fn counted(&self) -> Counted {
        self.counted
    }
    /// Who sent the last answer.
    pub fn sender(&self) -> Option<Sender> {
        self.sender
    }
    /// Asks a question; `what` says in an error what was going on.
    ///
    /// # Errors
    /// [`Trouble`] if no answer comes, or a refusal.
    pub fn ask(&mut self, question: Question, what: &'static str) -> Result<Answer, Trouble> {
        for _ in 0..TRIES {
            let sequence = self.next();
            if let Some(answer) = self.exchange(&question.frame(sequence))? {
                return match answer {
                    Answer::Refused(why) => Err(Trouble::Refused(what, why)),
                    answer => Ok(answer),
                };
            }
        }
        Err(Trouble::NoAnswer(what))
    }
    /// Asks who the target is.
    ///
    /// # Errors
    /// As [`Client::ask`].
    pub fn who(&mut self) -> Result<Who, Trouble> {
        match self.ask(Question::Who, "it is asked who it is")? {
            Answer::Who(who) => Ok(who),
            _ => Err(Trouble::Unexpected("it is asked who it is")),
        }
    }
    /// Gives a command and takes its answer. One whose answer was lost is sent again with the same number, so that it is
    /// obeyed once: `None` says that it had been obeyed, and its answer is gone.
    ///
    /// # Errors
    /// [`Trouble`] if no answer comes, or a refusal.
    pub fn tell(&mut self, command: &Command, what: &'static str) -> Result<Option<Answer>, Trouble> {
        let mut sequence = self.next();
        for attempt in 0..TRIES {
            match self.exchange(&command.frame(sequence))? {
                // The command before, of somebody else, happened to have this number.
                Some(Answer::Refused(Refusal::Repeated)) if attempt == 0 => sequence = self.next(),
                Some(Answer::Refused(Refusal::Repeated)) => return Ok(None),
                Some(Answer::Refused(why)) => return Err(Trouble::Refused(what, why)),
                Some(answer) => return Ok(Some(answer)),
                None => {}
            }
        }
        Err(Trouble::NoAnswer(what))
    }
    /// Gives a command that is answered with "done".
    ///
    /// # Errors
    /// As [`Client::tell`], or if something else is answered.
    pub fn make(&mut self, command: &Command, what: &'static str) -> Result<(), Trouble> {
        match self.tell(command, what)? {
            None | Some(Answer::Done) => Ok(()),
            Some(_) => Err(Trouble::Unexpected(what)),
        }
    }
    /// Ends whatever plan runs, loads an image unless it was the last to be loaded, and runs it.
    ///
    /// # Errors
    /// [`Trouble`]; a target that is no bench takes nothing.
    pub fn load(&mut self, image: &[u8]) -> Result<(), Trouble> {
        let what = "an image is loaded";
        match self.tell(&Command::End, what) {
            Ok(_) | Err(Trouble::Refused(_, Refusal::RunsNot)) => {}
            Err(trouble) => return Err(trouble),
        }
        if self.loaded == image {
            return self.make(&Command::Run, what);
        }
        self.loaded.clear();
        let length = u32::try_from(image.len()).map_err(|_| Trouble::Unexpected(what))?;
        self.make(&Command::Begin(length), what)?;
        let mut offset = 0;
        for piece in image.chunks(PIECE) {
            self.make(&Command::Piece(offset, piece.iter().copied().collect()), what)?;
            offset += u32::try_from(piece.len()).unwrap_or(0);
        }
        self.loaded = image.to_vec();
        self.make(&Command::Run, what)
    }
    /// Sends bytes as they are, for trials of what is no frame.
    ///
    /// # Errors
    /// If the line is gone.
    pub fn raw(&mut self, bytes: &[u8]) -> Result<(), Trouble> {
        Ok(self.wire.send(bytes)?)
    }
    fn next(&mut self) -> u8 {
        self.sequence = self.sequence.wrapping_add(1);
        self.sequence
    }
    /// Sends a frame and waits for its answer; `None` if none comes in time.
    fn exchange(&mut self, frame: &Frame) -> Result<Option<Answer>, Trouble> {
        self.wire.send(&encode(frame))?;
        let until = Instant::now() + self.patience;
        let mut buffer = [0; 256];
        loop {
            let left = until.saturating_duration_since(Instant::now());
            let count = if left.is_zero() { 0 } else { self.wire.receive(&mut buffer, left)? };
            if count == 0 {
                if !left.is_zero() && !until.saturating_duration_since(Instant::now()).is_zero() {
                    continue;
                }
                self.counted.again += 1;
                // Ends what may hang half sent on the line.
                self.wire.send(&[0])?;
                return Ok(None);
            }
            let mut found = None;
            for byte in buffer.iter().take(count) {
                let Some(taken) = self.decoder.take(*byte) else { continue };
                let answer = taken.ok().filter(|taken| taken.sequence == frame.sequence);
                match answer.and_then(|taken| Answer::read(&taken).map(|answer| (taken.sender, answer))) {
                    Some(answer) => found = Some(answer),
                    None => self.counted.useless += 1,
                }
            }
            if let Some((sender, answer)) = found {
                self.sender = Some(sender);
                return Ok(Some(answer));
            }
        }
    }
}

#[cfg(test)]
mod tests;
