//! The circuit reading: what one scan makes of the cells and inputs, as a graph of gates.

use super::cells;
use super::graph::{Graph, Widths, Wire};
use super::model::{Given, Memory, Model, Told, Visit, with_model};
use crate::station::Station;
use logic_rules::algebra::sliced::width;
use logic_rules::plan::Fault;
use logic_rules::step::{Frame, Moved, Reading};
use logic_rules::{Algebra, Gates, Sliced, Slices};

/// The circuit reading.
pub type Circuit = Sliced<Graph>;

/// A cell of state.
#[derive(Debug, Clone)]
pub struct Cell {
    /// Its name.
    pub name: String,
    /// Its variables, least bit first; one for a bit.
    pub now: Vec<Wire>,
    /// What it is after the scan.
    pub next: Vec<Wire>,
    /// What it is at power-up.
    pub first: u32,
    /// It is a bit rather than a word of one.
    pub is_bit: bool,
}

/// A station as a circuit.
pub struct System {
    /// The gates.
    pub graph: Graph,
    /// Cells, in the order of [`cells::names`].
    pub cells: Vec<Cell>,
    /// Variables of the inputs.
    pub given: Given<Circuit>,
    /// What the scan tells.
    pub told: Told<Circuit>,
}

struct Collect<'c, T> {
    cells: &'c mut Vec<T>,
}
impl Visit<Sliced<Widths>> for Collect<'_, usize> {
    fn bit(&mut self, (): &mut ()) {
        self.cells.push(1);
    }
    fn word(&mut self, cell: &mut Slices<()>) {
        self.cells.push(cell.bits().len());
    }
}
impl Visit<Circuit> for Collect<'_, Vec<Wire>> {
    fn bit(&mut self, cell: &mut Wire) {
        self.cells.push(vec![*cell]);
    }
    fn word(&mut self, cell: &mut Slices<Wire>) {
        self.cells.push(cell.bits().to_vec());
    }
}
struct Widen<'c> {
    widths: std::slice::Iter<'c, usize>,
}
impl Visit<Sliced<Widths>> for Widen<'_> {
    fn bit(&mut self, (): &mut ()) {
        self.widths.next();
    }
    fn word(&mut self, cell: &mut Slices<()>) {
        let width = self.widths.next().copied().unwrap_or(0);
        *cell = Slices::from_bits(&vec![(); width], ());
    }
}
impl Visit<logic_rules::Plain> for Collect<'_, u32> {
    fn bit(&mut self, cell: &mut bool) {
        self.cells.push(u32::from(*cell));
    }
    fn word(&mut self, cell: &mut u32) {
        self.cells.push(*cell);
    }
}
/// Puts variables in the place of all cells.
struct Free<'g> {
    graph: &'g mut Graph,
    widths: std::slice::Iter<'g, usize>,
}
impl Visit<Circuit> for Free<'_> {
    fn bit(&mut self, cell: &mut Wire) {
        self.widths.next();
        *cell = self.graph.variable();
    }
    fn word(&mut self, cell: &mut Slices<Wire>) {
        let width = self.widths.next().copied().unwrap_or(0);
        let bits: Vec<Wire> = (0..width).map(|_| self.graph.variable()).collect();
        *cell = Slices::from_bits(&bits, Wire::FALSE);
    }
}

/// Which cells are bits.
struct Kinds<'k>(&'k mut Vec<bool>);
impl Visit<Circuit> for Kinds<'_> {
    fn bit(&mut self, _: &mut Wire) {
        self.0.push(true);
    }
    fn word(&mut self, _: &mut Slices<Wire>) {
        self.0.push(false);
    }
}

/// Widths of all cells, enough for every state that can be reached from power-up.
///
/// # Errors
/// As [`Model::scan`].
pub fn widths(model: &Model<'_>) -> Result<Vec<usize>, Fault> {
    let mut a = Sliced(Widths);
    let mut memory = model.power_up(&mut a)?;
    let given = given(model, &mut a, &mut |_| ());
    let mut before = Vec::new();
    memory.visit(&mut Collect { cells: &mut before });
    loop {
        model.scan(&mut a, &mut memory, &given)?;
        let mut after = Vec::new();
        memory.visit(&mut Collect { cells: &mut after });
        let wider: Vec<usize> = before.iter().zip(&after).map(|(b, a)| *b.max(a)).collect();
        if wider == before {
            return Ok(wider);
        }
        before = wider;
        memory.visit(&mut Widen { widths: before.iter() });
    }
}

/// The value of every cell at power-up.
///
/// # Errors
/// As [`Model::power_up`].
pub fn first(model: &Model<'_>) -> Result<Vec<u32>, Fault> {
    Ok(values(&mut model.power_up(&mut logic_rules::Plain)?))
}

/// The value of every cell.
pub fn values(memory: &mut Memory<logic_rules::Plain>) -> Vec<u32> {
    let mut out = Vec::new();
    memory.visit(&mut Collect { cells: &mut out });
    out
}

/// Inputs made of new variables. A source moves one way or the other; a gauge is not both good and broken.
pub fn given<G: Gates>(
    model: &Model<'_>,
    a: &mut Sliced<G>,
    fresh: &mut dyn FnMut(&mut G) -> G::Bit,
) -> Given<Sliced<G>> {
    let tables = model.plan.tables();
    let no = a.bit(false);
    let channels = (0..tables.head.lines).map(|_| fresh(&mut a.0)).collect();
    let mut word = |a: &mut Sliced<G>, top: u32| {
        let bits: Vec<G::Bit> = (0..width(top)).map(|_| fresh(&mut a.0)).collect();
        Slices::from_bits(&bits, no)
    };
    let mut gauges = Vec::new();
    for gauge in 0..tables.gauges.len() {
        let value = word(a, model.gauge_top(gauge));
        let (good, broken) = (word(a, 1), word(a, 1));
        let (good, broken) = (first_bit(&good, no), first_bit(&broken, no));
        let broken = a.but(broken, good);
        gauges.push(Reading { value, good, broken });
    }
    let mut sources = Vec::new();
    for source in 0..usize::from(tables.head.sources) {
        let moved = word(a, model.source_top(source));
        let backwards = word(a, 1);
        let backwards = first_bit(&backwards, no);
        let onwards = a.not(backwards);
        let zero = a.word(0);
        let (mut forward, mut back) = (zero, zero);
        a.set_word(onwards, &mut forward, moved);
        a.set_word(backwards, &mut back, moved);
        sources.push(Moved { forward, back });
    }
    let worst = u32::from(model.station.worst()).saturating_add(1);
    let mut links = Vec::new();
    for _ in 0..tables.links.len() {
        let (fresh, order) = (word(a, 1), word(a, worst));
        links.push(Frame { fresh: first_bit(&fresh, no), order });
    }
    let picks = model.station.requirements.iter().map(|_| word(a, 1)).map(|pick| first_bit(&pick, no)).collect();
    Given { channels, gauges, sources, links, picks }
}

fn first_bit<B: Copy>(word: &Slices<B>, no: B) -> B {
    word.bits().first().copied().unwrap_or(no)
}

/// Puts a station together and makes its circuit: all that a proof needs.
///
/// # Errors
/// As [`Model::scan`].
pub fn with_system<T>(station: &Station, run: impl FnOnce(&Model<'_>, &mut System) -> T) -> Result<T, Fault> {
    with_model(station, |model| Ok(run(model, &mut System::new(model)?)))?
}

impl System {
    /// Makes the circuit of a station.
    ///
    /// # Errors
    /// As [`Model::scan`].
    pub fn new(model: &Model<'_>) -> Result<Self, Fault> {
        let widths = widths(model)?;
        let mut a = Sliced(Graph::default());
        let mut memory: Memory<Circuit> = model.power_up(&mut a)?;
        memory.visit(&mut Free { graph: &mut a.0, widths: widths.iter() });
        let mut now = Vec::new();
        memory.visit(&mut Collect { cells: &mut now });
        let mut kinds = Vec::new();
        memory.visit(&mut Kinds(&mut kinds));
        let given = given(model, &mut a, &mut Graph::variable);
        let told = model.scan(&mut a, &mut memory, &given)?;
        let mut next = Vec::new();
        memory.visit(&mut Collect { cells: &mut next });
        let cells = cells::names(model).into_iter().zip(now).zip(next).zip(first(model)?).zip(kinds);
        let cells = cells.map(|((((name, now), mut next), first), is_bit)| {
            next.resize(now.len(), Wire::FALSE);
            Cell { name, now, next, first, is_bit }
        });
        Ok(Self { cells: cells.collect(), graph: a.0, given, told })
    }
}
