//! The readings of the step, telling what they publish in the same words as the oracle.

use crate::reading::Reading;
use crate::told::Told;
use host_tools::lower::{Program, lower};
use host_tools::run::{Legible, Machine};
use host_tools::sample::Sample;
use host_tools::station::{Rank, Station};
use logic_rules::plan::Plan;
use logic_rules::step::Bound;

/// One reading of a station's plan.
pub struct Stepped<A: Legible + 'static> {
    machine: Machine<'static, A>,
    program: &'static Program,
    watches: usize,
}

impl<A: Legible + Default + 'static> Stepped<A> {
    /// Lowers a station and powers it up. The plan is leaked: a test makes few of them.
    pub fn power_up(station: &Station) -> Self {
        let program: &'static Program = Box::leak(Box::new(lower(station)));
        let plan: &'static Plan<'static> = Box::leak(Box::new(program.plan().expect("a generated station is a plan")));
        let machine = Machine::power_up(A::default(), plan).expect("the host has room");
        Self { machine, program, watches: station.watches.len() }
    }
}

/// What a bound plan tells after a scan.
pub fn told<A: Legible>(
    program: &Program,
    watches: usize,
    bound: &Bound<'_, '_, A>,
    truth: &dyn Fn(A::Bit) -> bool,
    number: &dyn Fn(A::Word) -> u32,
) -> Told {
    let common = |cells: &[[A::Bit; 1]]| {
        let mut out = vec![false; cells.len()];
        for (plan, &place) in program.by_severity.iter().enumerate() {
            out[place] = truth(cells[plan][0]);
        }
        out
    };
    let (bits, words, work) = (bound.bits(), bound.words(), &bound.work);
    let mut told = Told {
        trips: common(work.trip),
        latched: common(bits.latch),
        first: common(bits.first),
        stands: work.stands.iter().map(|[b]| truth(*b)).collect(),
        off: bits.output.iter().map(|[off, _]| truth(*off)).collect(),
        active: work.active.iter().map(|[b]| truth(*b)).collect(),
        used: words.bypass.iter().map(|[used, _]| number(*used)).collect(),
        refilling: vec![false; watches],
        queue: vec![0; watches],
        ..Told::default()
    };
    let mut place = 0;
    for ((row, watch), [excusing, _]) in
        program.tables().travels.iter().zip(&program.travel_watches).zip(bits.stretch.iter())
    {
        let capacity = usize::from(logic_rules::plan::TravelRow::read(row).capacity);
        told.refilling[*watch] = truth(*excusing);
        told.queue[*watch] = bits.under_way[place..place + capacity].iter().filter(|[taken]| truth(*taken)).count();
        place += capacity;
    }
    told
}

impl<A: Legible + 'static> Reading for Stepped<A> {
    fn scan(&mut self, sample: &Sample) -> Told {
        let published = self.machine.scan(sample).expect("the sample is of this station");
        let (program, watches) = (self.program, self.watches);
        let mut told =
            self.machine.look(|bound| told(program, watches, bound, &A::truth, &A::number)).expect("bound before");
        told.answer = Rank::try_from(published.answer).expect("a rank");
        told.permit = published.permit;
        told.reset = published.reset;
        assert_eq!(published.trips, told.trips.contains(&true), "the verdict says whether anything trips");
        told
    }

    fn adopt(&mut self) -> bool {
        self.machine.adopt();
        true
    }
}
