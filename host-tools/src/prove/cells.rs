//! Names of the cells of state, in the order in which [`Memory::visit`](super::model::Memory::visit) goes through them.
//!
//! A certificate speaks of cells by these names. Cells of the bare plan begin with `raw:`, those of a
//! requirement with its name, what is declared of a signal with `signal:`, an assumed distance with `apart:`.

use super::model::Model;
use crate::lower::Program;
use crate::monitor::Judge;
use crate::station::ways::{Source, Way};
use crate::station::{Assumption, Claim, InputKind, Station};
use logic_rules::cells::{Bits, Words};
use logic_rules::plan::{
    ChatterRow, ConfirmRow, CountRow, ExerciseRow, GateRow, HoldRow, MeasureRow, MissingRow, NONE, Plan, SpacingRow,
    StuckRow, TotalRow, TravelRow,
};
use std::collections::HashSet;

/// Names of all cells.
pub fn names(model: &Model<'_>) -> Vec<String> {
    let mut all = plan_names(model.station, model.program, model.plan, "");
    all.extend(plan_names(model.monitors.station(), model.monitors.program(), model.raw, "raw:"));
    all.extend(model.station.bypasses.iter().map(|b| format!("raw:{}.active", b.name.text)));
    let mut a = logic_rules::Plain;
    for (judge, requirement) in
        model.monitors.judges(&mut a, model.station, true).iter().zip(&model.station.requirements)
    {
        let own: &[&str] = match judge {
            Judge::Obliged { .. } | Judge::Held { .. } => &["held", "due"],
            Judge::Effect(effect) if effect.slower.is_some() => {
                &["held", "due", "seen", "went-on", "covered", "before"]
            }
            Judge::Effect(_) => &["held", "due", "seen"],
            Judge::Pressed(_) => &["held", "due", "was"],
            Judge::Spaced(_) => &["held", "due", "known", "since"],
            Judge::Stays(_) => &["held", "due", "lasted"],
            Judge::Leaps(_) => &["held", "due", "was-good", "before"],
            Judge::Counted(_) => &["held", "due", "known", "inside", "run"],
            Judge::Follow(_) => &["held", "due", "known", "inside", "run", "following", "ahead", "age"],
            Judge::Released { .. } => &["since", "stopped"],
            Judge::Cleared { .. } => &["held", "stopped"],
            Judge::Paused { .. } => &["rest"],
            Judge::Never { .. } | Judge::Together { .. } => &[],
        };
        all.extend(own.iter().map(|cell| format!("{}.{cell}", requirement.name.text)));
    }
    let apart = |assumption: &&Assumption| !matches!(assumption.claim, Claim::Always(_));
    for assumption in model.station.assumptions.iter().filter(apart) {
        all.push(format!("apart:{}.known", assumption.name.text));
        all.push(format!("apart:{}.since", assumption.name.text));
    }
    for signal in &model.signals {
        let line = channel(model.station, signal.channel);
        all.push(format!("signal:{line}.level"));
        all.push(format!("signal:{line}.stood"));
    }
    // Names of a rule file may coincide with those that are given here.
    let mut seen = HashSet::new();
    for (i, name) in all.iter_mut().enumerate() {
        if !seen.insert(name.clone()) {
            *name = format!("{name}~{i}");
            seen.insert(name.clone());
        }
    }
    all
}

/// Name of a channel: of its input, with the terminal where an input has two.
pub fn channel(station: &Station, channel: usize) -> String {
    let terminal = || station.channels.get(channel).cloned().unwrap_or_else(|| format!("channel-{channel}"));
    for input in &station.inputs {
        let (own, both) = match &input.kind {
            InputKind::Contact(c) => (c.channel == channel, false),
            InputKind::Detector(d) => (d.channel == channel, false),
            InputKind::Pair(p) => (p.channels.contains(&channel), true),
            InputKind::Key(k) => (k.channels.0 == channel || k.channels.1 == Some(channel), k.channels.1.is_some()),
            InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => (false, false),
        };
        if own {
            return if both { format!("{}.{}", input.name.text, terminal()) } else { input.name.text.clone() };
        }
    }
    terminal()
}

/// Name of what a way belongs to.
pub fn source(station: &Station, source: Source) -> String {
    let name = |found: Option<&crate::station::Name>| found.map_or_else(String::new, |n| n.text.clone());
    match source {
        Source::PowerUp => "power-up".into(),
        Source::Modes => "modes".into(),
        Source::Mode(i) => name(station.modes.get(i).map(|m| &m.name)),
        Source::Output(i) => name(station.outputs.get(i).map(|o| &o.name)),
        Source::Slow(i) => name(station.slows.get(i).map(|s| &s.name)),
        Source::Input(i) => name(station.inputs.get(i).map(|x| &x.name)),
        Source::Watch(i) => name(station.watches.get(i).map(|w| &w.name)),
    }
}

/// Name of a way of a plan.
pub fn way(station: &Station, program: &Program, way: u16) -> String {
    let of = program.by_severity.get(usize::from(way)).and_then(|&i| program.ways.get(i));
    let Some(of) = of else { return format!("way-{way}") };
    let name = format!("{}.{}", source(station, of.source), of.way.text());
    if let Way::Ordered(rank) = of.way { format!("{name}-{}", station.answer(rank)) } else { name }
}

fn kind_names(station: &Station, wanted: impl Fn(&InputKind) -> bool) -> Vec<String> {
    station.inputs.iter().filter(|i| wanted(&i.kind)).map(|i| i.name.text.clone()).collect()
}

/// Writes one name into each cell of a row.
fn say<const N: usize>(row: &mut [String; N], prefix: &str, of: &str, cells: [&str; N]) {
    for (cell, name) in row.iter_mut().zip(cells) {
        *cell = format!("{prefix}{of}.{name}");
    }
}

/// Writes names into the cells of all rows of a table.
fn both<const ROW: usize, const BITS: usize, const WORDS: usize>(
    rows: &[[u8; ROW]],
    bits: &mut [[String; BITS]],
    words: &mut [[String; WORDS]],
    prefix: &str,
    of: impl Fn(&[u8; ROW]) -> String,
    (bit_names, word_names): ([&str; BITS], [&str; WORDS]),
) {
    for ((row, bits), words) in rows.iter().zip(bits).zip(words) {
        let of = of(row);
        say(bits, prefix, &of, bit_names);
        say(words, prefix, &of, word_names);
    }
}

fn plan_names(station: &Station, program: &Program, plan: &Plan<'_>, prefix: &str) -> Vec<String> {
    let needs = plan.needs();
    let mut names = vec![String::new(); needs.bits];
    let mut more = vec![String::new(); needs.words];
    if let (Some(mut bits), Some(mut words)) = (Bits::cut(&mut names, plan), Words::cut(&mut more, plan)) {
        inputs(station, plan, prefix, &mut bits, &mut words);
    }
    if let (Some(mut bits), Some(mut words)) = (Bits::cut(&mut names, plan), Words::cut(&mut more, plan)) {
        watches(station, program, plan, prefix, &mut bits, &mut words);
    }
    if let (Some(mut bits), Some(mut words)) = (Bits::cut(&mut names, plan), Words::cut(&mut more, plan)) {
        answers(station, program, plan, prefix, &mut bits, &mut words);
    }
    names.append(&mut more);
    names
}

fn inputs(
    station: &Station,
    plan: &Plan<'_>,
    prefix: &str,
    bits: &mut Bits<'_, String>,
    words: &mut Words<'_, String>,
) {
    let (tables, line) = (plan.tables(), |i: u16| channel(station, usize::from(i)));
    for (i, (level, settle)) in bits.level.iter_mut().zip(words.settle.iter_mut()).enumerate() {
        let of = channel(station, i);
        say(level, prefix, &of, ["level"]);
        say(settle, prefix, &of, ["settle"]);
    }
    let of = |row: &_| line(ChatterRow::read(row).line);
    both(
        tables.chatters,
        bits.chatter,
        words.chatter,
        prefix,
        of,
        (["before", "chatters"], ["changes", "chatter-clock"]),
    );
    let two = |kind: &InputKind| match kind {
        InputKind::Pair(_) => true,
        InputKind::Key(k) => k.channels.1.is_some(),
        _ => false,
    };
    for ((of, bits), words) in kind_names(station, two).iter().zip(bits.pair.iter_mut()).zip(words.pair.iter_mut()) {
        say(bits, prefix, of, ["faulty", "moved-1", "moved-2"]);
        say(words, prefix, of, ["differs"]);
    }
    for (row, words) in tables.stucks.iter().zip(words.stuck.iter_mut()) {
        say(words, prefix, &line(StuckRow::read(row).line), ["covered"]);
    }
    for (row, words) in tables.missings.iter().zip(words.missing.iter_mut()) {
        say(words, prefix, &line(MissingRow::read(row).line), ["since"]);
    }
    let gauges = kind_names(station, |k| matches!(k, InputKind::Gauge(_)));
    for ((of, bits), words) in gauges.iter().zip(bits.gauge.iter_mut()).zip(words.gauge.iter_mut()) {
        say(bits, prefix, of, ["was-good"]);
        say(words, prefix, of, ["before"]);
    }
    let paces = kind_names(station, |k| matches!(k, InputKind::Pace(_)));
    for ((of, bits), words) in paces.iter().zip(bits.pace.iter_mut()).zip(words.pace.iter_mut()) {
        say(bits, prefix, of, ["known", "differing"]);
        let cells = ["clock", "forward", "back", "forward-2", "back-2", "speed", "speed-back", "doubt"];
        say(words, prefix, of, cells);
    }
    let links = kind_names(station, |k| matches!(k, InputKind::Link(_)));
    for (of, words) in links.iter().zip(words.link.iter_mut()) {
        say(words, prefix, of, ["silence", "order"]);
    }
}

fn watches(
    station: &Station,
    program: &Program,
    plan: &Plan<'_>,
    prefix: &str,
    bits: &mut Bits<'_, String>,
    words: &mut Words<'_, String>,
) {
    let tables = plan.tables();
    let owner = |number: u16| {
        let of = program.by_severity.get(usize::from(number)).and_then(|&i| program.ways.get(i));
        of.map_or_else(String::new, |of| source(station, of.source))
    };
    for (row, words) in tables.holds.iter().zip(words.hold.iter_mut()) {
        say(words, prefix, &owner(HoldRow::read(row).way), ["hold"]);
    }
    for (row, words) in tables.totals.iter().zip(words.total.iter_mut()) {
        say(words, prefix, &owner(TotalRow::read(row).way), ["now", "before", "clock"]);
    }
    let (mut taken, mut ages, mut times) = (bits.under_way.iter_mut(), words.age.iter_mut(), words.time.iter_mut());
    for ((row, bits), words) in tables.travels.iter().zip(bits.stretch.iter_mut()).zip(words.stretch.iter_mut()) {
        let row = TravelRow::read(row);
        let of = owner(row.late);
        say(bits, prefix, &of, ["excusing", "slowed"]);
        say(words, prefix, &of, ["excuses", "run"]);
        for place in 0..row.capacity {
            let here = format!("{of}.{place}");
            if let (Some(bit), Some(age)) = (taken.next(), ages.next()) {
                say(bit, prefix, &here, ["taken"]);
                say(age, prefix, &here, ["age"]);
            }
            if row.time != NONE
                && let Some(time) = times.next()
            {
                say(time, prefix, &here, ["time"]);
            }
        }
    }
    let of = |row: &_| owner(MeasureRow::read(row).way);
    both(tables.measures, bits.measure, words.measure, prefix, of, (["open"], ["window"]));
    let of = |row: &_| owner(SpacingRow::read(row).closer);
    both(tables.spacings, bits.spacing, words.spacing, prefix, of, (["armed"], ["apart"]));
    let of = |row: &_| owner(ConfirmRow::read(row).way);
    both(tables.confirms, bits.confirm, words.confirm, prefix, of, (["seen"], ["waits", "before"]));
    let of = |row: &_| owner(ExerciseRow::read(row).way);
    both(tables.exercises, bits.exercise, words.exercise, prefix, of, (["changed", "passed"], ["unchanged"]));
    let of = |row: &_| owner(CountRow::read(row).over);
    both(tables.counts, bits.count, words.count, prefix, of, (["known", "confirmed"], ["inside"]));
}

fn answers(
    station: &Station,
    program: &Program,
    plan: &Plan<'_>,
    prefix: &str,
    bits: &mut Bits<'_, String>,
    words: &mut Words<'_, String>,
) {
    for (mode, bits) in station.modes.iter().zip(bits.mode.iter_mut()) {
        say(bits, prefix, &mode.name.text, ["last"]);
    }
    for ((bypass, bits), words) in station.bypasses.iter().zip(bits.bypass.iter_mut()).zip(words.bypass.iter_mut()) {
        say(bits, prefix, &bypass.name.text, ["armed", "key-was"]);
        say(words, prefix, &bypass.name.text, ["used", "idle"]);
    }
    for row in plan.tables().gates.iter().map(GateRow::read) {
        if let Some(cell) = bits.memory.get_mut(usize::from(row.memory)) {
            say(cell, prefix, &way(station, program, row.way), ["masked"]);
        }
    }
    for ((i, latch), first) in (0_u16..).zip(bits.latch.iter_mut()).zip(bits.first.iter_mut()) {
        let of = way(station, program, i);
        say(latch, prefix, &of, ["latched"]);
        say(first, prefix, &of, ["first"]);
    }
    for (rank, cell) in (1_u8..).zip(bits.published.iter_mut()) {
        say(cell, prefix, station.answer(rank), ["stood"]);
    }
    for ((output, bits), words) in station.outputs.iter().zip(bits.output.iter_mut()).zip(words.output.iter_mut()) {
        say(bits, prefix, &output.name.text, ["off", "let-go"]);
        say(words, prefix, &output.name.text, ["contradicted"]);
    }
    for (slow, words) in station.slows.iter().zip(words.slow.iter_mut()) {
        say(words, prefix, &slow.name.text, ["stands"]);
    }
    for (stop, words) in station.stops.iter().zip(words.stop.iter_mut()) {
        say(words, prefix, &stop.name.text, ["stands"]);
    }
    for (i, cell) in (1_u16..).zip(bits.refill.iter_mut()) {
        say(cell, prefix, &format!("refill-{i}"), ["key-was"]);
    }
    if let (Some(started), Some(reset), Some(press), Some(rest)) =
        (bits.started.first_mut(), bits.reset.first_mut(), words.reset.first_mut(), words.rest.first_mut())
    {
        say(started, prefix, "controller", ["started"]);
        say(reset, prefix, "reset", ["key-was", "pressing"]);
        say(press, prefix, "reset", ["length", "lasted"]);
        say(rest, prefix, "restart", ["rest"]);
    }
}
