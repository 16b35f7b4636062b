//! Response times: from a change at a terminal until the slowest output has let go.

use crate::columns::columns;
use crate::station::{
    Condition, Every, Form, InputKind, Lasting, Observed, Rank, Requirement, Scans, Station, Watch, WatchKind, When,
    ways::{Source, Way, ways},
};

/// The worst case of one way, in the order in which the time passes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Path {
    /// Index of the watch.
    pub watch: usize,
    /// Its name.
    pub name: String,
    /// In what way it trips.
    pub way: Way,
    /// Its answer.
    pub answer: Rank,
    /// Until the change is sampled, microseconds.
    pub sampling_us: u64,
    /// Until it is settled; for a pace, until a whole span shows it.
    pub settling_us: u64,
    /// Until it has lasted as long as the rule asks.
    pub hold_us: u64,
    /// The scan that decides.
    pub deciding_us: u64,
    /// Until the slowest output has let go; 0 for a slow order or a stop that releases none at once.
    pub output_us: u64,
}

impl Path {
    /// All of it.
    pub fn total_us(&self) -> u64 {
        self.sampling_us + self.settling_us + self.hold_us + self.deciding_us + self.output_us
    }
}

/// What a requirement allows, and the slowest path that is there to meet it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Demand {
    /// Index of the requirement.
    pub requirement: usize,
    /// Its name.
    pub name: String,
    /// Time that it allows, microseconds.
    pub within_us: u64,
    /// Least answer that it asks for.
    pub least: Rank,
    /// Time that it lets a cause last before it asks anything.
    pub lasting_us: u64,
    /// The slowest path of a watch that shares a hazard with it, judges what it speaks of and answers
    /// severely enough.
    pub slowest: Option<Path>,
}

/// The path of each way of each watch, in the common order of ways.
pub fn paths(station: &Station) -> Vec<Path> {
    let scan = u64::from(station.scan_us);
    ways(station)
        .into_iter()
        .filter_map(|way| {
            let Source::Watch(at) = way.source else {
                return None;
            };
            let watch = station.watches.get(at)?;
            let (settling, hold) = scans(station, watch, way.way);
            Some(Path {
                watch: at,
                name: watch.name.text.clone(),
                way: way.way,
                answer: way.answer,
                sampling_us: scan,
                settling_us: settling * scan,
                hold_us: hold * scan,
                deciding_us: scan,
                output_us: slowest_output(station, way.answer),
            })
        })
        .collect()
}

/// Each requirement that sets a time.
pub fn demands(station: &Station) -> Vec<Demand> {
    let all = paths(station);
    let scan = u64::from(station.scan_us);
    station
        .requirements
        .iter()
        .enumerate()
        .filter_map(|(at, requirement)| {
            let (least, lasting) = match &requirement.form {
                Form::Whenever { least, lasting, .. } | Form::Effect { least, lasting, .. } => (*least, *lasting),
                Form::WhenRises { least, lasting, .. } => (*least, *lasting),
                Form::After { least, .. } | Form::Held { least, .. } => (*least, 0),
                Form::Never { .. }
                | Form::NeverReleased { .. }
                | Form::NeverReleasedBut { .. }
                | Form::NeverPermitted { .. }
                | Form::NeverTogether(..) => {
                    return None;
                }
            };
            Some(Demand {
                requirement: at,
                name: requirement.name.text.clone(),
                within_us: u64::from(requirement.within_us),
                least,
                lasting_us: u64::from(lasting.saturating_add(requirement.settles(station))) * scan,
                slowest: slowest(station, requirement, least, &all),
            })
        })
        .collect()
}

/// Paths that are there to meet a requirement: of watches that share a hazard with it, judge one of these inputs
/// and answer at least so severely.
pub(crate) fn answering(station: &Station, requirement: &Requirement, inputs: &[usize], least: Rank) -> Vec<Path> {
    let meets = |path: &Path| {
        path.answer >= least
            && station.watches.get(path.watch).is_some_and(|watch| {
                watch.hazards.iter().any(|hazard| requirement.hazards.contains(hazard))
                    && judged(watch).iter().any(|at| inputs.contains(at))
                    && looks_when_asked(watch, &requirement.form)
            })
    };
    paths(station).into_iter().filter(meets).collect()
}

/// Paths of the confirms of a stop that share a hazard with the requirement and answer at least so severely.
pub(crate) fn confirming(station: &Station, requirement: &Requirement, after: Rank, least: Rank) -> Vec<Path> {
    let confirms = |path: &Path| {
        path.answer >= least
            && station.watches.get(path.watch).is_some_and(|watch| {
                watch.hazards.iter().any(|hazard| requirement.hazards.contains(hazard))
                    && matches!(&watch.kind, WatchKind::Confirm(confirm) if confirm.after == after)
            })
    };
    paths(station).into_iter().filter(confirms).collect()
}

fn slowest(station: &Station, requirement: &Requirement, least: Rank, all: &[Path]) -> Option<Path> {
    all.iter()
        .filter(|path| {
            path.answer >= least
                && station.watches.get(path.watch).is_some_and(|watch| {
                    watch.hazards.iter().any(|hazard| requirement.hazards.contains(hazard))
                        && concerns(watch, &requirement.form)
                })
        })
        .max_by_key(|path| path.total_us())
        .cloned()
}

/// Inputs that a watch judges.
fn judged(watch: &Watch) -> Vec<usize> {
    match &watch.kind {
        WatchKind::Guard(guard) => guard.when.inputs(),
        WatchKind::Travel(travel) => vec![travel.from, travel.to],
        WatchKind::Measure(measure) => vec![measure.gauge],
        WatchKind::Spacing(spacing) => vec![spacing.detector],
        WatchKind::Agree(agree) => agree.between.to_vec(),
        // It speaks of what a stop does, and of no cause of one.
        WatchKind::Confirm(_) => Vec::new(),
        WatchKind::Exercise(exercise) => vec![exercise.input],
        WatchKind::Count(count) => vec![count.enter, count.leave],
    }
}

/// Whether a watch judges something that the requirement speaks of.
fn concerns(watch: &Watch, form: &Form) -> bool {
    let judged = judged(watch);
    match form {
        Form::Whenever { condition: Condition::Observed(observed), .. } => match observed {
            Observed::Apart(both, _) => both.iter().all(|input| judged.contains(input)),
            Observed::Closer(detector, ..) | Observed::Farther(detector, ..) => {
                judged.contains(detector) && !matches!(watch.kind, WatchKind::Travel(_) | WatchKind::Count(_))
            }
            Observed::Stray(way) | Observed::Crowded(way, _) => judged.contains(&way.from) && judged.contains(&way.to),
            Observed::Miscounting(tally) => {
                matches!(&watch.kind, WatchKind::Count(count) if (count.enter, count.leave) == (tally.from, tally.to))
            }
            // The input itself tells of it.
            Observed::Covered(..)
            | Observed::Changing(..)
            | Observed::Distrusted(..)
            | Observed::Leaping(..)
            | Observed::Pressed(..)
            | Observed::Sources(..) => false,
            other => other.inputs().iter().any(|input| judged.contains(input)),
        },
        Form::Whenever { condition, .. } | Form::Never { condition, .. } => {
            condition.inputs().iter().any(|input| judged.contains(input))
        }
        Form::Effect { after, .. } => matches!(&watch.kind, WatchKind::Confirm(confirm) if confirm.after == *after),
        Form::WhenRises { gauge, .. } => judged.contains(gauge) && looks_when_asked(watch, form),
        Form::After { from, to, .. } => judged.contains(from) && judged.contains(to),
        Form::Held { claim, .. } => claim.inputs().iter().any(|input| judged.contains(input)),
        Form::NeverReleased { .. }
        | Form::NeverReleasedBut { .. }
        | Form::NeverPermitted { .. }
        | Form::NeverTogether(..) => false,
    }
}

/// Of a gauge that is asked about at a rise, or in a window behind it, a measure tells only in a window of the same kind behind the same
/// detector that is as long.
fn looks_when_asked(watch: &Watch, form: &Form) -> bool {
    let (WatchKind::Measure(measure), Form::WhenRises { detector, when, .. }) = (&watch.kind, form) else {
        return true;
    };
    measure.detector == *detector
        && match (*when, measure.when) {
            (When::Rise, _) => true,
            (When::Scans(asked), When::Scans(looks)) => looks >= asked,
            (When::Rope(asked_of, asked), When::Rope(of, looks)) => of == asked_of && looks >= asked,
            _ => false,
        }
}

fn slowest_output(station: &Station, answer: Rank) -> u64 {
    let stop = answer.checked_sub(station.first_stop()).and_then(|at| station.stops.get(usize::from(at)));
    stop.map_or(0, |stop| {
        let outputs = stop.releases.iter().filter_map(|at| station.outputs.get(*at));
        outputs.map(|output| u64::from(output.off_within_us)).max().unwrap_or(0)
    })
}

/// Scans of settling and of hold of a way.
fn scans(station: &Station, watch: &Watch, way: Way) -> (u64, u64) {
    let up = |at: usize| change(station, at, true);
    match &watch.kind {
        WatchKind::Guard(guard) => {
            let hold = match guard.lasting {
                Lasting::Unbroken(scans) => scans,
                Lasting::Total { of, .. } => of.saturating_sub(1),
            };
            (settles(station, &guard.when, true), u64::from(hold))
        }
        WatchKind::Travel(travel) => match way {
            // Late is told by the age, which began with the first detector.
            Way::Late | Way::Crowded => (up(travel.from), 0),
            Way::Backwards => (
                [travel.from, travel.to]
                    .into_iter()
                    .flat_map(|at| [up(at), change(station, at, false)])
                    .max()
                    .unwrap_or(0),
                0,
            ),
            _ => (up(travel.to), 0),
        },
        WatchKind::Measure(measure) => (up(measure.detector), 0),
        WatchKind::Spacing(spacing) => (up(spacing.detector), 0),
        WatchKind::Agree(agree) => (agree.between.into_iter().map(up).max().unwrap_or(0), u64::from(agree.apart)),
        WatchKind::Confirm(confirm) => (settles(station, &confirm.see, true), u64::from(confirm.within)),
        WatchKind::Exercise(exercise) => (
            match exercise.every {
                Every::Carrier(detector) => up(detector),
                Every::Rope(..) | Every::Scans(_) => up(exercise.input).max(change(station, exercise.input, false)),
            },
            0,
        ),
        WatchKind::Count(count) => match way {
            Way::Over => (up(count.enter), 0),
            Way::Below => (up(count.leave), 0),
            _ => (settles(station, &count.when, true), 0),
        },
    }
}

/// Scans until a change of an input is taken. A pace needs a whole span after the one in which the
/// change falls.
fn change(station: &Station, at: usize, high: bool) -> u64 {
    let settle = match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Contact(contact)) => contact.settle,
        Some(InputKind::Pair(pair)) => pair.settle,
        Some(InputKind::Detector(detector)) => detector.settle,
        Some(InputKind::Key(key)) => key.settle,
        Some(InputKind::Pace(pace)) => return 2 * u64::from(pace.span),
        Some(InputKind::Gauge(_) | InputKind::Link(_)) | None => return 0,
    };
    u64::from(if high { settle.up } else { settle.down })
}

/// Scans until a condition that has come to hold (or to fail) is seen to.
fn settles(station: &Station, condition: &Condition, holds: bool) -> u64 {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            parts.iter().map(|part| settles(station, part, holds)).max().unwrap_or(0)
        }
        Condition::Not(inner) => settles(station, inner, !holds),
        Condition::High(at) => change(station, *at, holds),
        Condition::Faster(at, _) | Condition::Back(at, _) => change(station, *at, holds),
        Condition::Faulty(at) => faulty(station, *at),
        Condition::Observed(
            Observed::Changing(at, _)
            | Observed::Differing(at)
            | Observed::Distrusted(at, _)
            | Observed::Silent(at)
            | Observed::Covered(at, ..),
        ) => faulty(station, *at),
        Condition::Observed(
            Observed::Closer(at, ..) | Observed::Farther(at, ..) | Observed::Sources(at, _) | Observed::Pressed(at, _),
        ) => change(station, *at, true),
        Condition::Observed(Observed::Stray(way)) => change(station, way.to, true),
        Condition::Observed(Observed::Crowded(way, _)) => change(station, way.from, true),
        Condition::Observed(Observed::Miscounting(tally)) => {
            change(station, tally.from, true).max(change(station, tally.to, true))
        }
        Condition::Observed(Observed::Apart([one, other], _)) => {
            change(station, *one, true).max(change(station, *other, true))
        }
        Condition::AtLeast(..)
        | Condition::SeenOff(_)
        | Condition::Bypassed(_)
        | Condition::Observed(Observed::Stands(_) | Observed::Released(_) | Observed::Leaping(..)) => 0,
    }
}

/// Scans until a fault of an input is told.
fn faulty(station: &Station, at: usize) -> u64 {
    let settle = change(station, at, true).max(change(station, at, false));
    let second: Scans = (1_000_000 / station.scan_us.max(1)).max(1);
    let more = match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Contact(_)) => return u64::from(second),
        Some(InputKind::Pair(pair)) => pair.differing,
        Some(InputKind::Pace(pace)) => pace.fault_after,
        Some(InputKind::Link(link)) => link.silent,
        _ => 0,
    };
    settle + u64::from(more)
}

/// The words for a way of a watch.
fn words(way: Way) -> &'static str {
    if way == Way::Tripped { "trips" } else { way.text() }
}

/// Microseconds as milliseconds, rounded up.
fn ms(us: u64) -> String {
    format!("{} ms", us.div_ceil(1_000))
}

/// Paths and requirements as a text of columns.
pub fn table(station: &Station) -> String {
    let mut text = path_table(station, &paths(station));
    let demands = demands(station);
    if demands.is_empty() {
        return text;
    }
    let head = ["requirement", "slowest watch", "way", "at least", "lasting", "within", "total"];
    let mut rows: Vec<Vec<String>> = vec![head.map(str::to_owned).to_vec()];
    for demand in demands {
        let path = demand.slowest.as_ref();
        rows.push(vec![
            demand.name.clone(),
            path.map_or("none", |p| p.name.as_str()).to_owned(),
            path.map_or("", |p| words(p.way)).to_owned(),
            station.answer(demand.least).to_owned(),
            ms(demand.lasting_us),
            ms(demand.within_us),
            path.map_or_else(String::new, |p| ms(p.total_us())),
        ]);
    }
    text.push('\n');
    text.push_str(&columns(&rows, 4));
    text
}

/// The slowest of the paths that begin a stop at least as severe as `least`, as a table.
pub fn slowest_table(station: &Station, least: Rank, count: usize) -> String {
    let mut paths = paths(station);
    paths.retain(|path| path.answer >= least);
    paths.sort_by_key(|path| std::cmp::Reverse(path.total_us()));
    paths.truncate(count);
    path_table(station, &paths)
}

fn path_table(station: &Station, paths: &[Path]) -> String {
    let head = ["watch", "way", "answer", "sampling", "settling", "hold", "deciding", "output", "total"];
    let mut rows: Vec<Vec<String>> = vec![head.map(str::to_owned).to_vec()];
    for path in paths {
        rows.push(vec![
            path.name.clone(),
            words(path.way).to_owned(),
            station.answer(path.answer).to_owned(),
            ms(path.sampling_us),
            ms(path.settling_us),
            ms(path.hold_us),
            ms(path.deciding_us),
            ms(path.output_us),
            ms(path.total_us()),
        ]);
    }
    columns(&rows, 3)
}
