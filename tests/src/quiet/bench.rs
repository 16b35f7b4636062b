//! Small stations with small limits, as rule text, on which one thing after another runs out.

use std::fmt::Write as _;

use crate::generate::Rng;
use crate::render::read_back;
use host_tools::station::Station;

/// What a station is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum For {
    /// Carriers under way.
    Carriers,
    /// Gates, buttons and keys.
    Keys,
    /// Gauges, two opinions on a speed, the other station.
    Signals,
}

/// The station of a seed, with limits by chance.
///
/// # Panics
/// If its text is refused.
pub(super) fn bench(seed: u64) -> (Station, For) {
    let mut rng = Rng::new(seed);
    let what = match rng.below(100) {
        0..40 => For::Carriers,
        40..76 => For::Keys,
        _ => For::Signals,
    };
    let text = text(&mut rng, what);
    (read_back(&text).unwrap_or_else(|errors| panic!("seed {seed}\n{errors}\n{text}")), what)
}

/// A time of so many scans.
fn ms(rng: &mut Rng, least: u64, most: u64) -> String {
    format!("{} ms", (least + rng.below(most - least + 1)) * 10)
}

/// A distance between two lengths, in m.
fn metres(rng: &mut Rng, least: i64, most: i64) -> String {
    let mm = rng.within(least, most);
    format!("{}.{:03} m", mm / 1_000, mm % 1_000)
}

fn text(rng: &mut Rng, what: For) -> String {
    let mut text = String::new();
    let mut say = |line: String| writeln!(text, "{line}").expect("there is room for text");
    say("station \"Quillmoor, tie bench\"\nrevision 1\nscan 10 ms".into());
    say("mode run selected by run-key\nmode service selected by service-key, rope at most 1 m/s".into());
    say("output drive on DO-01, off within 40 ms".into());
    say(format!("output brake on DO-02, off within 60 ms, read back on DI-20 within {}", ms(rng, 7, 30)));
    say(format!("slow creep rope down to 1 m/s within {}", ms(rng, 8, 40)));
    let latest = ms(rng, 15, 60);
    say("stop halt category 1\n    releases drive".into());
    say(format!("    then brake when rope still, at the latest after {latest}"));
    say("    bites within 400 ms, slows at 0.3 m/s2 to 0.6 m/s2".into());
    say("stop emergency category 0, for emergencies\n    releases drive and brake".into());
    say("    bites within 300 ms, slows at 0.8 m/s2 to 1.5 m/s2".into());
    inputs(rng, what, &mut say);
    say("hazard H1 \"The gate\"\nhazard H2 \"The carriers\"\nhazard H3 \"All else\"".into());
    match what {
        For::Carriers => of_carriers(rng, &mut say),
        For::Keys => of_keys(rng, &mut say),
        For::Signals => of_signals(rng, &mut say),
    }
    say(format!("reset by reset-key pressed and let go, when seen closed for {}", ms(rng, 5, 20)));
    say(format!("restart no sooner than {} after a stop", ms(rng, 5, 40)));
    let mut bypass = |name: &str, of: &str, key: &str| {
        let (most, rest) = (ms(rng, 10, 35), ms(rng, 8, 40));
        say(format!("bypass {name} of {of}\n    in run and service, while {key} held"));
        say(format!("    rope at most 2.5 m/s, for at most {most}, then not again for {rest}"));
    };
    match what {
        For::Carriers => bypass("travel-off", "through and apart", "ease-key"),
        For::Keys => {
            bypass("gate-off", "gate-open", "bypass-key");
            bypass("button-off", "pressed", "ease-key");
        }
        For::Signals => bypass("grips-off", "alike", "bypass-key"),
    }
    text
}

fn inputs(rng: &mut Rng, what: For, say: &mut impl FnMut(String)) {
    // At once, or so long that settling is skipped over as well.
    let settles = |rng: &mut Rng| format!("settles {} ms", rng.pick(&[0, 0, 0, 0, 0, 0, 0, 10, 60, 70]));
    say("key run-key on DI-01\nkey service-key on DI-02".into());
    say(format!("key reset-key on DI-03, {}", settles(rng)));
    say(format!("key bypass-key on DI-04, {}", settles(rng)));
    say(format!("key ease-key on DI-05 and DI-06, {}", settles(rng)));
    say("contact gate on DI-08, rests closed, line monitored".into());
    say(format!("    opens for at least 100 ms, {}, at most {} changes a second", settles(rng), 3 + rng.below(6)));
    say("contact ease on DI-09, rests closed, line monitored, opens for at least 100 ms".into());
    say("pair button on DI-10 and DI-11, alike, rests closed, opens for at least 100 ms".into());
    say(format!("    {}, differing for {} is a fault", settles(rng), ms(rng, 5, 25)));
    say("contact seen on DI-12, rests closed, line monitored, opens for at least 100 ms".into());
    let span = ms(rng, 8, 25);
    if what == For::Signals {
        let fault = ms(rng, 5, 30);
        say("pace rope on CN-01 and CN-02, 1 mm a pulse, signed, at most 3 m/s".into());
        say(format!("    speed over {span}, still below 0.02 m/s, the two agree within 0.2 m/s, fault after {fault}"));
        say(format!("link other-side on LN-01, silent for at most {}, else {}", ms(rng, 6, 30), stop(rng)));
        say("gauge grip-too on AI-02, 4 mA is 0 N, 20 mA is 12000 N, in steps of 10 N".into());
    } else {
        say("pace rope on CN-01, 1 mm a pulse, at most 3 m/s".into());
        say(format!("    speed over {span}, still below 0.02 m/s, fault after 1 s"));
    }
    say("gauge grip on AI-01, 4 mA is 0 N, 20 mA is 12000 N, in steps of 10 N, moves at most 4000 N a scan".into());
    for (number, name) in ["entry", "midway", "exit"].into_iter().enumerate() {
        let (place, settles) = (2 + 8 * number, settles(rng));
        say(format!("detector {name} on DI-{}, at {place} m, pulses at least 100 ms, {settles}", 13 + number));
        if rng.chance(60) {
            say(format!("    covered for at most {} of rope", metres(rng, 200, 500)));
        }
        if rng.chance(30) {
            say(format!("    rises at least every {} of rope", metres(rng, 900, 1_800)));
        }
    }
}

/// A stop by chance.
fn stop(rng: &mut Rng) -> &'static str {
    if rng.chance(70) { "halt" } else { "emergency" }
}

/// A watch of a hazard, or what is required of it.
fn stated(head: &str, hazard: u8, body: &str) -> String {
    format!("{head}\n    hazard H{hazard}\n    {body}")
}

/// Carriers on their way, close and far, and how they are gripped.
fn of_carriers(rng: &mut Rng, say: &mut impl FnMut(String)) {
    let answers =
        |rng: &mut Rng| format!("early {}, late {}, stray {}, crowded {}", stop(rng), stop(rng), stop(rng), stop(rng));
    let (least, most) = (metres(rng, 150, 350), metres(rng, 450, 800));
    let backstop =
        if rng.chance(50) { format!(", and at most {} while rope runs", ms(rng, 25, 60)) } else { String::new() };
    let window = format!("from entry to midway\n    takes {least} to {most} of rope{backstop}");
    let several = format!("up to {} carriers under way\n    {}", 1 + rng.below(2), answers(rng));
    say(stated("travel through", 2, &format!("{window}\n    {several}")));
    let (least, most) = (ms(rng, 10, 18), ms(rng, 24, 40));
    let window = format!("from midway to exit\n    takes {least} to {most}, with rope at 0.4 m/s to 3 m/s throughout");
    let several = format!("up to {} carriers under way\n    {}", 1 + rng.below(2), answers(rng));
    say(stated("travel timed", 3, &format!("{window}\n    {several}")));
    let (least, most) = (metres(rng, 150, 350), metres(rng, 450, 900));
    let window = format!("entry rises at least {least} of rope apart and at most {most} of rope apart");
    say(stated("spacing apart", 2, &format!("{window}\n    closer {}, farther {}", stop(rng), stop(rng))));
    let (least, most) = (ms(rng, 12, 20), ms(rng, 28, 60));
    let window =
        format!("exit rises at least {least} apart and at most {most} apart, with rope at 0.4 m/s to 3 m/s throughout");
    say(stated("spacing timed-apart", 3, &format!("{window}\n    closer {}, farther {}", stop(rng), stop(rng))));
    let during = match rng.below(4) {
        0 => "when exit rises".to_owned(),
        1 => format!("throughout the {} after exit rises", ms(rng, 3, 14)),
        _ => format!("throughout the {} of rope after exit rises", metres(rng, 60, 200)),
    };
    let bounds = "grip stays between 5000 N and 7000 N";
    say(stated("measure gripped", 3, &format!("{during}\n    {bounds}\n    else {}", stop(rng))));
    let zone = format!("in by entry, out by exit\n    at most {} carriers", 1 + rng.below(2));
    let confirmed = "is 0 when ease closed and seen open";
    let answers = format!("over {}, below {}, wrong {}", stop(rng), stop(rng), stop(rng));
    say(stated("count inside", 3, &format!("{zone}\n    {confirmed}\n    {answers}")));
    say("refill through and inside by bypass-key, when rope moving".into());
    let (least, most, within) = (metres(rng, 150, 350), metres(rng, 450, 800), ms(rng, 9, 30));
    let form = format!("after entry rises, in {least} to {most} of rope must rise midway, else stop at least halt");
    let form = format!("{form} within {within}\n    up to 3 carriers\n    unless travel-off active");
    say(stated("require R2 \"In time\"", 2, &form));
    let (apart, more) = (metres(rng, 100, 150), ms(rng, 14, 30));
    say(format!("assume far-apart \"Apart\"\n    entry rises at least {apart} of rope apart\n    held by apart"));
    say(format!("assume long-apart \"Apart\"\n    exit rises at least {more} apart\n    on evidence \"drawing 1\""));
}

/// Gates, buttons and keys.
fn of_keys(rng: &mut Rng, say: &mut impl FnMut(String)) {
    let lasts = rng.below(3).min(1) * (6 + rng.below(20)) * 10;
    let lasting = if lasts == 0 { String::new() } else { format!("unbroken for {lasts} ms, ") };
    say(stated("guard gate-open", 1, &format!("when gate open, {lasting}stop {}", stop(rng))));
    say(stated("guard eased", 3, "when ease open, slow creep"));
    let (of, within) = (ms(rng, 4, 12), ms(rng, 20, 40));
    let lasting = format!("when button open, for {of} in all within {within}");
    say(stated("guard pressed", 2, &format!("{lasting}, stop {}", stop(rng))));
    confirm(rng, say);
    let every = match rng.below(3) {
        0 => format!("every {}", ms(rng, 60, 150)),
        1 => format!("every {} of rope", metres(rng, 900, 1_800)),
        _ => "with every carrier at midway".to_owned(),
    };
    say(stated("exercise moved", 3, &format!("seen changes {every}\n    else {}", stop(rng))));
    let (lasts, within) = (ms(rng, 1, 16), ms(rng, 9, 20));
    let form = format!("whenever gate open for {lasts}, stop at least halt within {within}");
    say(stated("require R1 \"Open\"", 1, &format!("{form}\n    unless gate-off active")));
    say(stated("require R3 \"No start\"", 3, &format!("never permitted within {} after a stop", ms(rng, 4, 40))));
    say("assume shut \"Shut\"\n    never ease open and seen closed\n    on evidence \"drawing 2\"".into());
}

/// What a stop must come to.
fn confirm(rng: &mut Rng, say: &mut impl FnMut(String)) {
    let within = ms(rng, 8, 25);
    let see = format!("after halt\n    see rope at most 1 m/s\n    within {within}\n    else emergency");
    say(stated("confirm slowed", 3, &see));
}

/// Gauges that should agree, and one that should be low.
fn of_signals(rng: &mut Rng, say: &mut impl FnMut(String)) {
    let apart = ms(rng, 5, 25);
    let agree = format!("grip and grip-too agree within 500 N\n    apart for at most {apart}\n    else {}", stop(rng));
    say(stated("agree alike", 1, &agree));
    let lasts = ms(rng, 10, 30);
    say(stated("guard low", 2, &format!("when grip-too below 4500 N, unbroken for {lasts}, stop {}", stop(rng))));
    confirm(rng, say);
    let every = metres(rng, 900, 1_800);
    say(stated("exercise moved", 3, &format!("seen changes every {every} of rope\n    else {}", stop(rng))));
    let (lasts, within) = (ms(rng, 1, 10), ms(rng, 9, 20));
    say(stated(
        "require R2 \"Low\"",
        2,
        &format!("whenever grip-too below 4000 N for {lasts}, stop at least halt within {within}"),
    ));
}
