//! Outputs and inputs in words.

use host_tools::station::{Backing, Contact, Detector, Gauge, Input, InputKind, Output, Pace, Pair, Settle};

use super::quantities::{Pen, Round, decimal, joined};

impl Pen<'_> {
    pub(super) fn output(&mut self, output: &Output) -> String {
        let off = self.us(i64::from(output.off_within_us));
        let mut text = format!("output {} on {}, off within {off}", output.name.text, output.terminal);
        if let Some((channel, within)) = output.read_back {
            let within = self.scans(within, Round::Down);
            text += &format!(", read back on {} within {within}", self.station.channels[channel]);
        }
        if !output.not_together.is_empty() {
            let others = output.not_together.iter().map(|&i| self.station.outputs[i].name.text.as_str());
            text += &format!("\n    not together with {}", joined(others));
        }
        text
    }

    pub(super) fn an_input(&mut self, id: usize, input: &Input) -> String {
        let name = &input.name.text;
        let channels = &self.station.channels;
        match &input.kind {
            InputKind::Contact(contact) => {
                format!("contact {name} on {}{}", channels[contact.channel], self.contact(contact))
            }
            InputKind::Pair(pair) => {
                let [one, other] = pair.channels.map(|channel| channels[channel].as_str());
                format!("pair {name} on {one} and {other}, {}", self.pair(pair))
            }
            InputKind::Detector(detector) => {
                format!("detector {name} on {}, {}", channels[detector.channel], self.detector(detector))
            }
            InputKind::Gauge(gauge) => {
                format!("gauge {name} on {}, {}", self.station.gauge_terminals[gauge.terminal], self.a_gauge(id, gauge))
            }
            InputKind::Pace(pace) => format!("pace {name} on {}", self.a_pace(id, pace)),
            InputKind::Link(link) => {
                let (on, silent) = (&self.station.link_terminals[link.terminal], self.scans(link.silent, Round::Down));
                format!(
                    "link {name} on {on}, silent for at most {silent}, else {}",
                    self.station.answer(link.otherwise)
                )
            }
            InputKind::Key(key) => {
                let second = key.channels.1.map_or(String::new(), |second| format!(" and {}", channels[second]));
                format!("key {name} on {}{second}{}", channels[key.channels.0], self.settles(key.settle))
            }
        }
    }

    fn settles(&mut self, settle: Settle) -> String {
        if settle == Settle::default() && self.rng.chance(70) {
            return String::new();
        }
        if settle.up == settle.down && self.rng.chance(70) {
            return format!(", settles {}", self.scans(settle.up, Round::Up));
        }
        let opening = self.scans(settle.down, Round::Up);
        format!(", settles {opening} opening and {} closing", self.scans(settle.up, Round::Up))
    }

    fn shortest(&mut self, rests_closed: bool, us: Option<u32>) -> String {
        let Some(us) = us else { return String::new() };
        format!(", {} for at least {}", if rests_closed { "opens" } else { "closes" }, self.us(i64::from(us)))
    }

    fn contact(&mut self, contact: &Contact) -> String {
        let mut clauses = vec![
            format!(", rests {}", if contact.rests_closed { "closed" } else { "open" }),
            self.shortest(contact.rests_closed, contact.shortest_us),
            self.settles(contact.settle),
        ];
        if contact.line_monitored {
            clauses.push(", line monitored".to_owned());
        }
        if let Some(most) = contact.most_changes {
            clauses.push(format!(", at most {most} changes a second"));
        }
        // Clauses may come in any order.
        self.rng.shuffle(&mut clauses);
        clauses.concat()
    }

    fn pair(&mut self, pair: &Pair) -> String {
        let opposed = if pair.opposed { "opposed" } else { "alike" };
        let rests = if pair.rests_closed { "closed" } else { "open" };
        let shortest = self.shortest(pair.rests_closed, pair.shortest_us);
        let (settles, differing) = (self.settles(pair.settle), self.scans(pair.differing, Round::Down));
        format!("{opposed}, rests {rests}{shortest}{settles}\n    differing for {differing} is a fault")
    }

    fn detector(&mut self, detector: &Detector) -> String {
        let (at, pulses) = (self.exact_mm(detector.at), self.us(i64::from(detector.pulse_us)));
        let mut text = format!("at {at}, pulses at least {pulses}{}", self.settles(detector.settle));
        if let Some((pace, mm)) = detector.covered_at_most {
            text += &format!("\n    covered for at most {} of {}", self.mm(mm, Round::Down), self.input(pace));
        }
        if let Some((pace, mm)) = detector.rises_every {
            text += &format!("\n    rises at least every {} of {}", self.mm(mm, Round::Down), self.input(pace));
        }
        text
    }

    fn a_gauge(&mut self, id: usize, gauge: &Gauge) -> String {
        let unit = gauge.unit.as_str();
        let points =
            gauge.points.map(|(ua, micro)| format!("{} mA is {} {unit}", decimal(ua.into(), 3), decimal(micro, 6)));
        let mut text = points.join(", ");
        if gauge.step_micro != 1_000_000 || self.rng.chance(50) {
            text += &format!("\n    in steps of {}", self.value(unit, gauge.step_micro));
        }
        if gauge.trusted_ua != (3_800, 20_500) || self.rng.chance(30) {
            let (low, high) = gauge.trusted_ua;
            text += &format!(", trusted from {low} uA to {} mA", decimal(high.into(), 3));
        }
        if let Some(most) = gauge.moves_at_most {
            text += &format!("\n    moves at most {} a scan", self.movement(id, most));
        }
        if let Some((detector, least, most)) = gauge.rests {
            // Twice the middle, so that it need not lie on a step.
            let middle = (2 * gauge.lowest + i64::from(least) + i64::from(most)) * gauge.step_micro / 2;
            let width = i64::from(most - least) * gauge.step_micro / 2;
            let (width, middle) = (self.value(unit, width), self.value(unit, middle));
            text += &format!("\n    rests within {width} of {middle} when {} rises", self.input(detector));
        }
        text
    }

    fn a_pace(&mut self, id: usize, pace: &Pace) -> String {
        let sources = &self.station.sources;
        let mut text = sources[pace.source].clone();
        match pace.backing {
            Backing::None => {}
            Backing::Source(second, _) => text += &format!(" and {}", sources[second]),
            Backing::Running(contact) => text += &format!(" backed by {}", self.input(contact)),
        }
        text += &format!(", {} a pulse\n    ", self.exact_mm(pace.mm_a_pulse));
        text += if pace.signed { "signed, " } else { "" };
        // Both the travel of a span and that of a scan come from it, so that it must be told exactly.
        let time = i64::from(pace.span) * i64::from(self.station.scan_us);
        let top = i64::from(pace.top) * 1_000_000_000_000;
        assert_eq!(top % time, 0, "the greatest speed of a pace can be told in decimals");
        let top = self.nm_a_second(top / time);
        text += &format!("at most {top}, speed over {}", self.scans(pace.span, Round::Down));
        if let Backing::Source(_, within) = pace.backing {
            text += &format!("\n    the two agree within {}", self.speed(within, id, Round::Down));
        }
        if pace.still != pace.mm_a_pulse || self.rng.chance(50) {
            // `still` is the greatest travel below it: that of a speed rounded up, less one.
            text += &format!(", still below {}", self.speed(pace.still + 1, id, Round::Up));
        }
        text + &format!(", fault after {}", self.scans(pace.fault_after, Round::Down))
    }
}
