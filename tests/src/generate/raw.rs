//! Raw histories: any value in any scan, from calm to wild.

use host_tools::sample::{Frame, Health, Reading, Sample};
use host_tools::station::{InputKind, Station};
use logic_rules::plan::{GaugeRow, Plan};

use super::Rng;

/// A raw history of one station.
#[derive(Debug, Clone)]
pub struct Raw {
    rng: Rng,
    /// Each value is drawn anew once in so many scans.
    calm: u64,
    /// Greatest step of each gauge terminal.
    tops: Vec<u32>,
    worst: u8,
    now: Sample,
}

impl Raw {
    /// The raw history of a seed.
    pub fn new(station: &Station, seed: u64) -> Self {
        let mut tops = vec![0; station.gauge_terminals.len()];
        for input in &station.inputs {
            if let InputKind::Gauge(gauge) = &input.kind {
                tops[gauge.terminal] = gauge.top;
            }
        }
        let counts = (station.channels.len(), station.sources.len(), station.link_terminals.len());
        Self::with(tops, counts, station.worst(), seed)
    }

    /// The raw history of a seed for a plan of which no station is known.
    pub fn of_plan(plan: &Plan<'_>, seed: u64) -> Self {
        let t = plan.tables();
        let tops = t.gauges.iter().map(|row| GaugeRow::read(row).top).collect();
        let counts = (usize::from(t.head.lines), usize::from(t.head.sources), t.links.len());
        Self::with(tops, counts, u8::try_from(t.ranks.len()).unwrap_or(u8::MAX), seed)
    }

    fn with(tops: Vec<u32>, (channels, sources, links): (usize, usize, usize), worst: u8, seed: u64) -> Self {
        let mut rng = Rng::new(seed);
        Self {
            calm: rng.pick(&[1, 2, 5, 20]),
            worst,
            now: Sample {
                channels: vec![false; channels],
                gauges: vec![Reading::default(); tops.len()],
                travel: vec![0; sources],
                links: vec![Frame::default(); links],
            },
            tops,
            rng,
        }
    }

    /// The next scan.
    pub fn next_sample(&mut self) -> Sample {
        let (rng, calm) = (&mut self.rng, self.calm);
        for channel in &mut self.now.channels {
            if rng.once_in(calm) {
                *channel = rng.chance(50);
            }
        }
        for (gauge, &top) in self.now.gauges.iter_mut().zip(&self.tops) {
            if rng.once_in(calm) {
                let health = rng.pick(&[Health::Good, Health::Good, Health::Doubtful, Health::Broken]);
                *gauge = Reading { steps: rng.small(0, top), health };
            }
        }
        for travel in &mut self.now.travel {
            if rng.once_in(calm) {
                let small = i32::try_from(rng.within(-4, 8)).expect("small");
                *travel = rng.pick(&[small, small, small, 0, i32::MIN, i32::MAX, 20, -20]);
            }
        }
        for link in &mut self.now.links {
            let order = rng.pick(&[0, 0, 1, self.worst, self.worst.saturating_add(1), u8::MAX]);
            *link = Frame { fresh: rng.chance(60), order };
        }
        self.now.clone()
    }
}
