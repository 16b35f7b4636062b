//! The controller's link under frames that are whole, damaged and random: nothing but a whole frame does anything, a station
//! takes no command, a bench cannot be mistaken for one and lets its outputs go when nobody speaks to it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::generate::Rng;
use cross_tests::plant::{Back, Dog, Drive, Plant, Ran, plant, rig, run, show};
use cross_tests::proofs::{demo, sources};
use embedded_hal::digital::{ErrorType, InputPin};
use firmware::bench::{Command, Gated, Item, Next, PIECE, SILENCE_US, Server, Set, Shelf};
use firmware::link::{
    Answer, Body, Decoder, Frame, Link, Question, Read, Refusal, SCANS, Sender, Standing, Write, encode,
};
use firmware::{Cause, Fault, Memory, Parts, Released, Sample, Station, Store, boot};
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use logic_rules::image::Image;
use std::cell::Cell;
use std::convert::Infallible;
use std::rc::Rc;

fn packed() -> Vec<u8> {
    pack(&demo("drive"), &sources("drive")).unwrap().image
}

fn cells(image: &Image<'_>) -> usize {
    let needs = image.needs();
    needs.bits + needs.words + needs.work_bits + needs.work_words
}

/// A frame of any kind, with any body.
fn any_frame(rng: &mut Rng) -> Frame {
    let length = rng.size(0, 192);
    let body: Vec<u8> = (0..length).map(|_| rng.bits().to_le_bytes()[0]).collect();
    let [kind, sequence, ..] = rng.bits().to_le_bytes();
    let sender = rng.pick(&[Sender::Host, Sender::Station, Sender::Bench]);
    Frame { sender, sequence, kind, body: Body::from_slice(&body).unwrap() }
}

fn items(from: &Sample, to: &Sample) -> Vec<Item> {
    Item::between(from, to).collect()
}

fn command(items: &[Item]) -> Command {
    let mut body = Write::new();
    for item in items {
        item.write(&mut body);
    }
    Command::Items(body.done())
}

/// A scan of the inputs as they are.
fn step() -> Command {
    command(&[Item::Scans(1)])
}

/// Scans that a frame asks for.
fn asked(frame: &Frame) -> u32 {
    let Some(Command::Items(body)) = Command::read(frame) else { return 0 };
    let (mut body, mut scans) = (Read::new(&body), 0);
    while let Some(item) = Item::read(&mut body) {
        scans += if let Item::Scans(count) = item { u32::from(count) } else { 0 };
    }
    scans
}

/// A frame that a bench obeys or answers.
fn known_frame(rng: &mut Rng, samples: &[Sample]) -> Frame {
    let sequence = rng.bits().to_le_bytes()[0];
    let [from, to] = [0; 2].map(|_| &samples[rng.index(samples.len())]);
    let mut scans = items(from, to);
    scans.extend([Item::Scans(1), Item::Level(3), Item::Scans(2)]);
    let commands =
        [command(&items(from, to)), command(&scans), step(), step(), Command::Again, Command::Run, Command::Begin(9)];
    let questions = [Question::Who, Question::Verdict, Question::Counters, Question::Log(7)];
    if rng.chance(30) { rng.pick(&questions).frame(sequence) } else { rng.pick(&commands).frame(sequence) }
}

/// Damages the bytes of a frame on the line.
fn damage(rng: &mut Rng, wire: &mut Vec<u8>) {
    for _ in 0..rng.size(1, 3) {
        let at = rng.index(wire.len());
        match rng.below(6) {
            0 => wire[at] ^= 1 << rng.below(8),
            1 => wire.truncate(at.max(1)),
            2 => wire.insert(at, rng.bits().to_le_bytes()[0]),
            3 => wire[at] = 0,
            4 => drop(wire.remove(at)),
            _ => wire.extend_from_within(at..),
        }
        if wire.is_empty() {
            wire.push(0);
        }
    }
}

/// Frames that a decoder of its own finds whole in a line.
fn whole(line: &[u8]) -> Vec<Frame> {
    let mut decoder = Decoder::new();
    line.iter().filter_map(|byte| decoder.take(*byte)).filter_map(Result::ok).collect()
}

/// A pin that a test holds.
#[derive(Debug, Clone)]
struct Contact(Rc<Cell<bool>>);
impl ErrorType for Contact {
    type Error = Infallible;
}
impl InputPin for Contact {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.get())
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.get())
    }
}

type Bench<'m> = Station<'m, Set, Gated<Released<Drive, Back, 32>, Contact>, Dog, Dog>;

/// Samples of a lift that runs.
fn running(image: &Image<'_>) -> Vec<Sample> {
    let station = demo("drive");
    let text = "scenario \"running\"\nlast 1 min\nrope starts at 5.0 m/s\ngauge rope-tension lies at 220 kN\ngauge wind lies at 4 m/s\n";
    let scenario = Scenario::read(text, &station).unwrap();
    let (mut samples, mut shown) = (Vec::new(), plant(image).borrow().sample.clone());
    with_runner(&station, |runner| {
        run(&station, &scenario, runner, &mut |ran: &Ran<'_>| {
            show(&mut shown, &station, image, ran.sample);
            samples.push(shown.clone());
            samples.len() < 1_200
        });
    })
    .unwrap();
    samples
}

/// A bench in the hands of a host.
struct Host<'m> {
    plant: Plant,
    contact: Rc<Cell<bool>>,
    server: Server,
    bench: Bench<'m>,
    shown: Sample,
    sequence: u8,
}

impl<'m> Host<'m> {
    fn new(image: &'m [u8], cells: [&'m mut [u32]; 2], store: &'m mut Store) -> Self {
        let opened = Image::open(image).unwrap();
        let (plant, contact) = (plant(&opened), Rc::new(Cell::new(true)));
        let Parts { outputs, watchdog, clock, .. } = rig(&plant, &opened);
        let outputs = Gated { outputs, enable: Contact(contact.clone()), turned: 0 };
        let parts = Parts { field: Set::default(), outputs, watchdog, clock };
        let Ok(bench) = boot(parts, [image, image], Memory { cells, store }, Cause::PowerUp) else {
            panic!("did not start")
        };
        let shown = plant.borrow().sample.clone();
        Self { plant, contact, server: Server::new(), bench, shown, sequence: 0 }
    }
    /// Sends bytes; gives the answers.
    fn send(&mut self, bytes: &[u8]) -> Vec<Answer> {
        let now = self.plant.borrow().now;
        let mut answers = Vec::new();
        for byte in bytes {
            if let Some(frame) = self.server.take(*byte, now) {
                let served = self.server.on_station(&frame, &mut self.bench, || (0, 0));
                let answered = whole(&served.answer);
                assert_eq!(answered.len(), 1);
                assert_eq!((answered[0].sender, answered[0].sequence), (Sender::Bench, frame.sequence));
                answers.push(Answer::read(&answered[0]).expect("an answer"));
            }
        }
        answers
    }
    fn tell(&mut self, command: &Command) -> Answer {
        self.sequence = self.sequence.wrapping_add(1);
        let mut answers = self.send(&encode(&command.frame(self.sequence)));
        answers.pop().unwrap()
    }
    /// Sets all inputs and takes a scan.
    fn step(&mut self, sample: &Sample) -> Answer {
        for part in items(&self.shown, sample).chunks(20) {
            assert!(matches!(self.tell(&command(part)), Answer::Ran { .. }));
        }
        self.shown.clone_from(sample);
        self.plant.borrow_mut().now += 10_000;
        self.tell(&step())
    }
    /// Runs until outputs are on.
    fn run(&mut self, samples: &[Sample]) {
        for sample in &samples[..1_000] {
            self.step(sample);
        }
        assert_eq!(self.tell(&Command::Adopt), Answer::Done);
        for sample in &samples[1_000..1_100] {
            self.step(sample);
        }
        assert_ne!(self.plant.borrow().driven, 0);
    }
}

#[test]
fn a_station_answers_questions_and_refuses_everything_else() {
    let bytes = packed();
    let image = Image::open(&bytes).unwrap();
    let plant = plant(&image);
    let (mut a, mut b) = (vec![0; cells(&image)], vec![0; cells(&image)]);
    let mut store = Store::new();
    let memory = Memory { cells: [&mut a, &mut b], store: &mut store };
    let Ok(station) = boot(rig(&plant, &image), [&bytes, &bytes], memory, Cause::PowerUp) else {
        panic!("did not start");
    };
    let mut link = Link::new(Sender::Station);
    let standing = Standing::of(&station);
    let mut ask = |frame: &Frame| {
        let answered = whole(&link.answer(frame, &standing));
        assert_eq!((answered[0].sender, answered[0].sequence), (Sender::Station, frame.sequence));
        Answer::read(&answered[0]).unwrap()
    };
    let Answer::Who(who) = ask(&Question::Who.frame(1)) else { panic!("who?") };
    assert_eq!((who.digest, who.checksum, who.runs), (*image.digest(), image.checksum(), true));
    assert!(matches!(ask(&Question::Verdict.frame(2)), Answer::Verdict { scan: 0, driven: 0, fault: (0, 0), .. }));
    assert!(matches!(ask(&Question::Counters.frame(3)), Answer::Counters { .. }));
    let Answer::Log { next: 1, first: 0, events } = ask(&Question::Log(0).frame(4)) else { panic!("log?") };
    assert_eq!(events.len(), 1);
    // Every kind there is, with bodies of every length: a station knows four.
    let refused = Answer::Refused(Refusal::Unknown);
    for kind in 0..=255 {
        for length in 0..=192_usize {
            let body = Body::from_slice(&vec![1; length]).unwrap();
            let frame = Frame { sender: Sender::Host, sequence: 5, kind, body };
            let question = matches!((kind, length), (1..=3, 0) | (4, 4));
            assert_eq!(ask(&frame) == refused, !question, "kind {kind}, {length} bytes");
        }
    }
    let mut bench = Question::Who.frame(1);
    bench.sender = Sender::Bench;
    assert_eq!(ask(&bench), refused, "only a host asks");
}

#[test]
fn ten_thousand_random_and_damaged_frames_do_nothing() {
    let bytes = packed();
    let image = Image::open(&bytes).unwrap();
    let samples = running(&image);
    let (mut a, mut b) = (vec![0; cells(&image)], vec![0; cells(&image)]);
    let mut store = Store::new();
    let mut host = Host::new(&bytes, [&mut a, &mut b], &mut store);
    host.run(&samples);
    let mut rng = Rng::new(5);
    let [mut random, mut damaged, mut bad, mut slipped] = [0_u32; 4];
    for trial in 0..10_000 {
        let (known, frame) = match trial % 2 {
            0 => (false, any_frame(&mut rng)),
            _ => (true, known_frame(&mut rng, &samples)),
        };
        let mut wire = encode(&frame).to_vec();
        if known || rng.chance(50) {
            damage(&mut rng, &mut wire);
        }
        wire.push(0);
        let (before, tally) = (host.bench.counters().scans, host.server.link().tally());
        let found = whole(&wire);
        // What has survived its damage was sent twice, or not hit: it is a frame like any other.
        let steps: u32 = found.iter().map(asked).sum();
        let answers = host.send(&wire);
        assert_eq!(answers.len(), found.len(), "an answer a whole frame, and none else");
        let after = host.server.link().tally();
        if found.is_empty() {
            bad += 1;
            assert_eq!(host.bench.counters().scans, before);
            assert!(after.bad > tally.bad || wire.iter().all(|byte| *byte == 0), "counted");
        } else {
            slipped += u32::from(known && found[0] != frame);
            assert!(host.bench.counters().scans <= before + steps);
        }
        random += u32::from(!known);
        damaged += u32::from(known);
    }
    println!("{random} random, {damaged} damaged: {bad} without a whole frame; {:?}", host.server.link().tally());
    assert_eq!(slipped, 0, "no damaged frame passes for another");
    assert!(bad > 4_000);
    let refused = Answer::Refused(Refusal::Runs);
    assert_eq!(host.tell(&Command::Begin(10)), refused, "no image while a plan runs");
}

#[test]
fn a_link_cut_in_a_frame_lets_the_outputs_go() {
    let bytes = packed();
    let image = Image::open(&bytes).unwrap();
    let samples = running(&image);
    let wire = encode(&step().frame(77));
    for cut in 1..wire.len() - 1 {
        let (mut a, mut b) = (vec![0; cells(&image)], vec![0; cells(&image)]);
        let mut store = Store::new();
        let mut host = Host::new(&bytes, [&mut a, &mut b], &mut store);
        host.run(&samples);
        assert_eq!(host.send(&wire[..cut]), []);
        let heard = host.plant.borrow().now;
        let mut listen = |now| {
            host.plant.borrow_mut().now = now;
            host.server.listen(now, &mut host.bench);
            (host.bench.fault(), host.plant.borrow().driven == 0)
        };
        assert_eq!(listen(heard + SILENCE_US), (None, false));
        assert_eq!(listen(heard + SILENCE_US + 1), (Some(Fault::Silent), true));
        // Whoever speaks again ends the torn frame with a zero.
        assert_eq!(host.send(&[0]), []);
        let Answer::Ran { fault, driven, scans, .. } = host.step(&samples[1_100]) else { panic!("no verdict") };
        assert_eq!((fault, driven, scans.len()), ((26, 0), 0, 0));
    }
}

#[test]
fn a_bench_that_is_not_enabled_drives_nothing() {
    let bytes = packed();
    let image = Image::open(&bytes).unwrap();
    let samples = running(&image);
    let (mut a, mut b) = (vec![0; cells(&image)], vec![0; cells(&image)]);
    let mut store = Store::new();
    let mut host = Host::new(&bytes, [&mut a, &mut b], &mut store);
    host.run(&samples);
    host.contact.set(false);
    let now = host.plant.borrow().now;
    host.server.listen(now, &mut host.bench);
    assert_eq!(host.plant.borrow().driven, 0, "let go before the next scan");
    let Answer::Ran { driven, fault, scans, .. } = host.step(&samples[1_100]) else { panic!("no verdict") };
    assert!(scans[0].on != 0 && driven == 0 && fault == (0, 0), "the verdict is told, and that it is not driven");
    assert_eq!(host.plant.borrow().driven, 0);
    // A command that was sent twice acts once.
    let again = encode(&step().frame(200));
    let scans = host.bench.counters().scans;
    let came = host.send(&again);
    assert!(matches!(&came[..], [Answer::Ran { scans, .. }] if scans.len() == 1));
    assert_eq!(host.send(&again), [Answer::Refused(Refusal::Repeated)]);
    assert_eq!(host.bench.counters().scans, scans + 1);
    // If its answer was lost, it is there once more.
    assert_eq!(host.send(&encode(&Command::Again.frame(201))), came);
    // A list that names what there is not is refused whole.
    let place = Answer::Refused(Refusal::Place);
    assert_eq!(host.tell(&command(&[Item::Scans(1), Item::Level(127)])), place);
    assert_eq!(host.tell(&Command::Items(Body::from_slice(&[0, 1, 200]).unwrap())), place);
    assert_eq!(host.bench.counters().scans, scans + 1);
    // No more scans are taken than there is room to tell of.
    let Answer::Ran { scans: told, .. } = host.tell(&command(&[Item::Scans(255), Item::Scans(9)])) else {
        panic!("ran?")
    };
    assert_eq!((told.len(), host.bench.counters().scans), (SCANS, scans + 1 + u32::try_from(SCANS).unwrap()));
}

#[test]
fn an_image_is_loaded_in_order_and_twice() {
    let image = packed();
    let (mut first, mut second) = (vec![0; 16_384], vec![0; 16_384]);
    let mut shelf = Shelf::new([&mut first, &mut second]);
    let (mut server, mut sequence) = (Server::new(), 0_u8);
    let mut tell = |shelf: &mut Shelf<'_>, command: &Command| {
        sequence = sequence.wrapping_add(1);
        let wire = encode(&command.frame(sequence));
        let frame = wire.iter().find_map(|byte| server.take(*byte, 0)).unwrap();
        let served = server.on_shelf(&frame, shelf);
        (Answer::read(&whole(&served.answer)[0]).unwrap(), served.next)
    };
    let refused = |why| (Answer::Refused(why), Next::Stay);
    assert_eq!(tell(&mut shelf, &Command::Begin(16_385)), refused(Refusal::Place));
    assert_eq!(tell(&mut shelf, &step()), refused(Refusal::RunsNot));
    let length = u32::try_from(image.len()).unwrap();
    assert_eq!(tell(&mut shelf, &Command::Begin(length)), (Answer::Done, Next::Stay));
    let mut offset = 0;
    for piece in image.chunks(PIECE) {
        let command = |offset| Command::Piece(offset, piece.iter().copied().collect());
        assert_eq!(tell(&mut shelf, &command(offset + 1)), refused(Refusal::Place));
        assert_eq!(tell(&mut shelf, &command(offset)), (Answer::Done, Next::Stay));
        offset += u32::try_from(piece.len()).unwrap();
    }
    assert_eq!(tell(&mut shelf, &Command::Run), (Answer::Done, Next::Run));
    assert_eq!(shelf.images(), [image.as_slice(), &image]);
}
