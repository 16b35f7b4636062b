//! Every fault that a scenario can put on a station, as the lines that do it.

use crate::station::{Gauge, InputKind, Station};

/// Lines of a scenario, what stands behind the time: each kind of fault, on each thing that can have it.
pub fn catalogue(station: &Station) -> Vec<String> {
    let mut all = Vec::new();
    for input in &station.inputs {
        let name = input.name.text.as_str();
        let channels = input.kind.channels();
        let mut add = |what: &[&str]| all.extend(what.iter().map(|what| format!("{name} {what}")));
        match &input.kind {
            InputKind::Contact(_) | InputKind::Detector(_) | InputKind::Key(_) if channels.len() == 1 => {
                add(&["stuck high", "stuck low", "chatters"]);
            }
            InputKind::Contact(_) | InputKind::Detector(_) | InputKind::Key(_) | InputKind::Pair(_) => {
                add(&["opens", "closes"]);
                for terminal in channels.iter().filter_map(|&channel| station.channels.get(channel)) {
                    all.extend(["stuck high", "stuck low", "chatters"].map(|what| format!("{terminal} {what}")));
                }
            }
            InputKind::Gauge(gauge) => {
                add(&["wire breaks", "shorted", "doubtful"]);
                let [least, most] = [0, gauge.top].map(|step| value(gauge, i64::from(step) + gauge.lowest));
                let tenth = value(gauge, i64::from(gauge.top / 10));
                add(&[&format!("at {least}"), &format!("at {most}"), &format!("off by {tenth}")]);
            }
            InputKind::Pace(_) => {}
            InputKind::Link(_) => {
                add(&["silent"]);
                (1..=station.worst()).for_each(|rank| add(&[&format!("orders {}", station.answer(rank))]));
            }
        }
    }
    for source in &station.sources {
        all.extend(["dies", "slips 20 %", "reversed"].map(|what| format!("{source} {what}")));
    }
    for output in &station.outputs {
        all.push(format!("output {} sticks", output.name.text));
    }
    all.push("power lost for 2 s".into());
    all.extend(of_carriers(station));
    all
}

/// What can happen to a carrier, or to the conveyors that bear it.
fn of_carriers(station: &Station) -> Vec<String> {
    let Some(lane) = &station.lane else { return Vec::new() };
    let metres = |mm: u32| format!("{} m", decimal(i64::from(mm) * 1_000));
    let (part, end) = (metres(lane.every / 4), lane.stretches.last().map_or(0, |stretch| stretch.to));
    let mut all = Vec::new();
    for way in ["late", "early"] {
        all.push(format!("next carrier {way} by {part}"));
        all.push(format!("next carrier {way} by {part} from 0 m"));
    }
    all.extend(["lost", "stays", "taken out"].map(|what| format!("next carrier {what}")));
    all.push(format!("next carrier doubled {part} behind"));
    all.push(format!("carrier put in at {}", metres(end / 2)));
    for input in &station.inputs {
        if let InputKind::Gauge(gauge) = &input.kind {
            all.push(format!("next carrier presses {} with {}", input.name.text, value(gauge, gauge.lowest)));
        }
    }
    let driven = lane.stretches.iter().filter_map(|stretch| station.inputs.get(stretch.driven_by?));
    all.extend(driven.map(|pace| format!("{} lags 20 %", pace.name.text)));
    all
}

/// Steps as a value.
fn value(gauge: &Gauge, steps: i64) -> String {
    format!("{} {}", decimal(steps.saturating_mul(gauge.step_micro)), gauge.unit)
}

/// Millionths as a decimal number.
fn decimal(micro: i64) -> String {
    let (sign, size) = (if micro < 0 { "-" } else { "" }, micro.unsigned_abs());
    let digits = format!("{}.{:06}", size / 1_000_000, size % 1_000_000);
    format!("{sign}{}", digits.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::super::scenario::Scenario;
    use super::super::tests::tiny_station;
    use super::catalogue;

    #[test]
    fn each_line_can_be_read() {
        let station = tiny_station();
        let all = catalogue(&station);
        for line in &all {
            let read = Scenario::read(&format!("at 0 s {line}"), &station);
            assert!(read.is_ok_and(|scenario| scenario.events.len() == 1), "{line}");
        }
        for input in &station.inputs {
            let terminals = input.kind.channels().into_iter().map(|channel| station.channels[channel].as_str());
            let mut names = terminals.chain([input.name.text.as_str()]);
            let pace = matches!(input.kind, crate::station::InputKind::Pace(_));
            assert!(pace || names.any(|name| all.iter().any(|line| line.starts_with(name))), "{}", input.name.text);
        }
        assert!(station.sources.iter().all(|source| all.contains(&format!("{source} dies"))));
    }
}
