//! The codes of findings: spelling, weight and explanation of each in one place.

use super::finding::Level;

macro_rules! codes {
    ($($variant:ident, $text:literal, $level:ident, $explain:literal;)*) => {
        /// The code of a finding.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $explain] $variant,)*
        }
        impl Code {
            /// Every code.
            pub const ALL: &'static [Code] = &[$(Code::$variant,)*];
            /// Its spelling.
            pub fn text(self) -> &'static str {
                match self { $(Code::$variant => $text,)* }
            }
            /// Its weight.
            pub fn level(self) -> Level {
                match self { $(Code::$variant => Level::$level,)* }
            }
            /// What it means, why it matters and how to mend it.
            pub fn explain(self) -> &'static str {
                match self { $(Code::$variant => $explain,)* }
            }
            /// The code of a spelling.
            pub fn find(text: &str) -> Option<Code> {
                Self::ALL.iter().copied().find(|code| code.text() == text)
            }
        }
    };
}

codes! {
    // Text
    FileUnreadable, "file-unreadable", Error, "A rule file is UTF-8 text of at most 4 MiB. This one is not, so that nothing of it was read. Save it as UTF-8, or split it; several files can be given together.";
    WordUnexpected, "word-unexpected", Error, "Something stands where another thing was expected. The place is marked and what was expected is named; the rest of the file was read all the same.";
    StatementUnknown, "statement-unknown", Error, "A statement begins in column 0 with its keyword. This word is none. A line that belongs to the statement above must be indented.";
    ClauseTwice, "clause-twice", Error, "Each clause of a statement may stand once. With two of them it would not be clear which holds.";
    ClauseMissing, "clause-missing", Error, "A clause without which the statement has no meaning is not there. Nothing is assumed in its place, since a reviewer could not see what was assumed.";
    UnitMissing, "unit-missing", Error, "Every quantity carries its unit, so that 30 can never be read as 30 s where 30 ms was meant.";
    UnitUnknown, "unit-unknown", Error, "The units are ms s min h mm m mm/s m/s m/s2 N kN mA uA %.";
    NumberBad, "number-bad", Error, "A number is whole or decimal with a point, at most nine decimals, and not larger than the program can keep exactly.";
    NameBad, "name-bad", Error, "Names are lower-case words of letters and digits joined by hyphens; hazards and requirements may be capital letters and digits; terminals are capital letters, a hyphen and digits.";
    QuoteOpen, "quote-open", Error, "A title begins and ends with a double quote on one line.";
    CharacterBad, "character-bad", Error, "Tabs, control characters and marks that change the direction of writing are refused: what a reviewer sees must be what is read.";
    MixedAndOr, "mixed-and-or", Error, "'and' and 'or' in one condition can be read in two ways. Put parentheses around the part that belongs together.";
    TooDeep, "too-deep", Error, "Parentheses may stand at most 32 deep: no reviewer follows more, and reading needs a bound. Split the condition into several guards.";
    FindingsMany, "findings-many", Note, "Of one file at most a thousand mistakes of writing are told. Mend some of those, and the rest will be told in the next reading.";
    // Resolve
    NameTwice, "name-twice", Error, "A name stands for one thing. With two declarations it would not be clear which one a rule means. Rename one of them.";
    NameUnknown, "name-unknown", Error, "Nothing of this name is declared in the files that were read together. Check the spelling, or give the file that declares it as well.";
    NameKind, "name-kind", Error, "The name is declared, but as another kind of thing than fits here: a detector cannot be 'open', a gauge cannot be released.";
    TerminalTwice, "terminal-twice", Error, "A terminal carries one signal. Two inputs on it would see the same wire, so that two channels would be one.";
    StatementMissing, "statement-missing", Error, "A station has exactly one title, one revision and one scan time, and at least one stop. Without them nothing can be said of it.";
    StatementTwice, "statement-twice", Error, "This statement may stand once over all files that are read together.";
    UnitWrong, "unit-wrong", Error, "The quantity measures another thing than is asked for here.";
    NumberSenseless, "number-senseless", Error, "The number makes no sense at this place: a negative time, a step of nothing, a scale through one point.";
    TooLarge, "too-large", Error, "The number is beyond what a controller keeps exactly, or there is more of something than a controller holds.";
    BoundsReversed, "bounds-reversed", Error, "The lower bound stands first, and lies below the upper one.";
    WindowEmpty, "window-empty", Error, "Limits are rounded to the strict side, and a window is narrowed by what one scan of sampling can shift an edge. Nothing is left of this one: every carrier would trip it. Widen the window, or shorten the scan.";
    DeadlineNegative, "deadline-negative", Error, "A requirement's time includes up to one scan until the change is sampled, the deciding scan, and the time in which the output lets go. This much alone takes longer than the stated time, so that no rule could keep it.";
    DateBad, "date-bad", Error, "A temporary revision names the last day on which it may be in use, as year, month and day. What is written is no day of the calendar, so that nobody could say when the revision ends. Write it as 2026-12-31.";
    LimitRounded, "limit-rounded", Note, "The limit is no whole number of scans, millimetres or gauge steps. It was rounded to the strict side: a lower limit up, an upper limit down, a hold of a trip down, a delay of a permission up.";
    LimitOutOfReach, "limit-out-of-reach", Warning, "The gauge cannot show this value while its current is trusted, so that the limit is never, or always, exceeded. Check the limit and the two points of the scale.";
    LaneBroken, "lane-broken", Error, "The stretches of a lane join end to end, in order, and every detector and coupling point lies on one of them. A carrier uncouples before it couples, is held until it has coupled, and is shorter than the way to the next one.";
    PairUnlike, "pair-unlike", Error, "Two paces can be compared if their speed is taken over the same span; two gauges if they have the same unit and step.";

    // Check
    StopCategoryUnknown, "stop-category-unknown", Error, "IEC 60204-1 knows stop categories 0 (power off at once), 1 (a controlled stop, then power off) and 2 (a controlled stop with the power left on). Any other number says nothing about what happens to the drive. Write one of the three.";
    StopCategoryEmergency, "stop-category-2-for-emergencies", Error, "A stop of category 2 leaves power on the drive. An emergency stop must end in a state without it, so IEC 60204-1 allows only categories 0 and 1 there. Answer emergencies with a stop of category 0 or 1.";
    StandstillMissing, "stop-standstill-missing", Error, "After a stop of category 2 the drive is under power and could start to move again. A guard must see that, and answer with a more severe stop. Add 'standstill held by GUARD'.";
    StandstillMild, "stop-standstill-mild", Error, "The guard that holds a standstill answers when the rope moves although a stop stands. An answer no more severe than that stop changes nothing. Let it answer with a more severe one.";
    StopWorstCategory, "stop-worst-category-2", Error, "The most severe stop is the last resort and the answer to a start of the controller. Nothing stands behind it, so it must not leave power on the drive. Put a stop of category 0 or 1 last.";
    StopThenMissing, "stop-then-missing", Error, "A stop of category 1 first slows the drive and then takes its power away. Without 'then' the second half never happens. Name the outputs that are released at standstill, with a latest time.";
    StopThenNeedless, "stop-then-needless", Error, "A stop of category 0 takes the power away at once. An output that it releases only at standstill contradicts its category, and a reader would rely on the wrong one. Make it category 1, or release everything at once.";
    LimitAboveTop, "limit-above-top", Error, "A slow order, mode or bypass that allows at least the greatest speed of its pace limits nothing: a faster pace is a fault anyway. A pace that counts as still at every speed lets outputs go, resets and refills pass while the rope runs. State a speed below the pace's 'at most'.";
    ResetMissing, "reset-missing", Error, "Stops latch, and the start of the controller is itself latched as the most severe stop. Without a reset the station can never run. Add one, with a key and a condition.";
    RestartShort, "restart-short", Warning, "After a stop the rope swings and carriers are where nobody expects them. The French ministerial order of 7 August 2009 on ropeways, article 16, asks for at least 10 s before a restart; local rules decide. Add 'restart no sooner than 10 s after a stop', or note why less is right here.";
    ReleasedTogether, "released-together", Error, "Two outputs are declared 'not together', as two brakes that must not bite at once are, yet stops that rules call release both. Since stops latch, any two of them can stand at the same time, so it is not enough that no single stop releases both. Let one of the outputs be released by no stop that a rule calls.";
    PulseTooShort, "pulse-too-short", Error, "A change is taken once it has outlasted its settling, and it falls anywhere between two samples. One that lasts no longer than the settling and two scans can be missed, and a missed carrier is a carrier nobody stops for. Shorten settling or scan, or place a device that gives a longer pulse.";
    ContactRestsOpen, "contact-rests-open", Warning, "The wire of a contact that rests open can break without any change of its signal, and from then on the device is dead. Use a contact that rests closed, monitor its line, or make sure by an 'exercise' watch that it is seen to work.";
    LinkSilence, "link-silence-none", Error, "A link that may be silent for no scan at all stops in every scan that brings no new frame, which with two unsynchronised stations is soon. State how long a silence can be borne; round-off to scans goes down.";
    InputUnused, "input-unused", Warning, "An input that no watch, key function or answer reads protects from nothing, though a reader of the list of inputs may believe that it does. Requirements and assumptions alone do not count: nothing happens by them. Add a watch that needs it, or take it out.";
    WindowAtRopeSpeed, "window-at-rope-speed", Error, "A carrier that fails to uncouple passes two detectors in just as much rope as they are apart. If that lies in the window of a travel, the travel cannot tell it from one that slows down. Narrow the window, or, where carriers do run at rope speed, say so in the lane. Without a lane this is a warning.";
    WindowMissesRun, "window-misses-run", Warning, "The lane says how much rope runs while a carrier goes from one detector to the other: for each piece 2 L / (s1 + s2). If the window does not take that in, after rounding to the strict side, every good carrier trips it. Check the window, the places of the detectors and the stretches.";
    WindowTight, "window-tight", Warning, "From the lane, its tolerances, the scan and the settling follows the least and the most that may be counted of a carrier with which nothing is wrong. A limit inside that stops the lift for healthy carriers, and will be bridged. `haltproof lane windows` says what takes which part of the margin. Move the limit, or correct the lane.";
    WindowWide, "window-wide", Note, "The limit lies more than twice as far from the nominal run as the lane, its tolerances, the scan and the settling need. That much may be wrong with a carrier without a word. Nothing is wrong if another ground than the lane asks for it.";
    WindowUnderived, "window-underived", Note, "What healthy carriers need of this window does not follow from the lane, for the reason that is told, so that nobody has looked whether its limits fit them. `haltproof lane windows` says the same and ends with status 1. Nothing is wrong if the limits have another ground than the lane; if not, describe the lane farther, or correct its tolerances, the places or the band.";
    WindowsDisjoint, "windows-disjoint", Error, "Two travels watch the same two detectors, and no run lies in both windows, so that every carrier trips one of them. Let the windows overlap, take one out, or let them work in different modes.";
    CapacityExceeded, "capacity-exceeded", Error, "At the lane's spacing more carriers are under way between the two detectors than the travel follows, so that it trips as crowded in normal running. Raise 'up to N carriers under way', or check the lane.";
    SpacingShort, "spacing-short", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 12, asks for at least 5 s between detachable chairs in a station; local rules decide. A spacing in rope is judged at the pace's greatest speed. Widen it, or note why less is right here.";
    NeverTrips, "never-trips", Error, "A rule that can never trip protects from nothing: its limit is out of reach, or its condition contradicts itself. Every combination of its simple conditions was looked through, with comparisons of one value in their order. Correct the limit or the condition.";
    NeverRests, "never-rests", Error, "A rule that trips whatever the inputs say lets the station never run, and will be bridged. Every combination of its simple conditions was looked through. Correct the limit or the condition.";
    PermissionNever, "permission-never", Error, "A reset, a refill or the confirmation of a count waits for a condition that can never come to hold, so that it is never given. Correct the condition.";
    CountUnconfirmed, "count-unconfirmed", Warning, "A refill acts last in a scan, and makes a count unknown. If the key that confirms the count is that of its refill too, one press confirms it and, where the refill's condition holds, takes that back in the same scan: if it holds by then, the count stays unknown and judges nothing, and nobody is told. Confirm the count by a key of its own, or take it out of the refill; a confirmation sets it anew anyway.";
    BouncesIdle, "bounces-idle", Warning, "Nothing that this requirement reads is settled by these words: it reads no level of a contact, pair, detector or key, and follows no carriers. 'pressed for', 'miscounts' and whatever else has a settling of its own stay as they are. Take the words out, or correct what it asks.";
    RequirementEmpty, "requirement-empty", Error, "The condition of this requirement can never hold, or its 'unless' always does. It asks nothing, and a proof of it would mislead. Correct it, or take it out.";
    AssumptionFalse, "assumption-false", Error, "This assumption contradicts itself. From something false everything can be proved, so that no requirement would mean anything. State what is the case.";
    ConditionLarge, "condition-large", Note, "A condition with more than twelve simple conditions is not looked through for contradictions. Nothing is wrong with it; splitting it would let it be checked.";
    HazardUnrequired, "hazard-unrequired", Warning, "A hazard that no requirement names is written down and then forgotten: nothing is proved about it. Add a requirement that names it, or take it out.";
    RequirementUnfounded, "requirement-unfounded", Warning, "A requirement without a hazard cannot be weighed: nobody can say what is lost if it goes. Name the hazard that it answers.";
    BypassUnexcused, "bypass-unexcused", Error, "While a bypass is active its watches do not trip. A requirement that one of them answers, with a hazard that they share, would be broken by turning a key. If that is meant, the requirement must say so with 'unless NAME active', where a reviewer sees it; otherwise bypass less.";
    BypassOfEmergency, "bypass-of-emergency", Warning, "A bypass masks a watch that calls the stop for emergencies. That can be right for a while in maintenance, but it must be a decision: add 'unless NAME active' to the requirement that the watch stands for.";
    ConfirmMild, "confirm-mild", Error, "A confirm trips when a stop had no effect. Its answer must be able to do more than the stop that failed. Answer with a more severe stop.";
    OutputUnused, "output-unused", Warning, "An output that no stop releases stays on whatever happens, though a reader of the list of outputs may believe that a stop takes it away. Add it to the 'releases' or 'then' of a stop, or take it out.";
    AnswerUncalled, "answer-uncalled", Warning, "No rule, fault or link ever calls this slow order or stop, so that the station has one degree less than it seems to have. Let a rule answer with it, or take it out.";
    ReadBackEarly, "read-back-early", Warning, "The read-back of an output must follow within a shorter time than the output may take to let go. An output that does what it should would then be told as a fault. Allow as long as it takes, and some scans for the contact.";
    KeyShared, "key-shared", Error, "One turn of a key must not do two things: with one key for two modes never exactly one is selected; with one for a mode or the reset and for a bypass, a watch is taken away, or a stop cleared, by the way. Give each its own key. A refill may share the key of the reset.";
    SlowNoSlower, "slow-no-slower", Error, "Slow orders are declared mildest first, and a refilling stretch asks for the last one, which is to be the slowest. This one is more severe than the one before, but allows as much. Put them in order of speed, the fastest first.";
    FaultUnseen, "fault-unseen", Error, "This check of an input is so wide that it never tells anything: more changes than scans, a movement over the whole range, two sources that may differ by all the speed there is, so that a dead one passes. A reader of the rules believes that the fault would be seen. Narrow the limit, or leave the check out.";
    BypassIdle, "bypass-idle", Warning, "The bypass works only in modes in which this watch is off, so that there is nothing to take away. One of the two lists of modes is not what was meant.";
    SameTwice, "same-twice", Error, "A rule over two things names the same one twice: a carrier cannot travel from a detector to itself, a pace always agrees with itself, an output is always off together with itself. Name the other of the two.";
    PlacesReversed, "places-reversed", Warning, "A carrier passes the detectors in the order of their places on the lane. Here the second one lies before the first, or at the same place, so that a window between them cannot be held against the lane. Correct the order or the places.";
    LaneTrips, "lane-trips", Warning, "The lane says how far apart carriers come, and how long the flag is that a detector sees. A carrier that keeps to that would trip this rule in normal running. Correct the limit or the lane.";
    PulseUnfounded, "pulse-unfounded", Warning, "A carrier's flag covers a detector for its length over its speed. At the greatest speed of the pace that is shorter than the pulse which the detector is said to give, so that the check for missed pulses rests on a wrong number. State the shorter pulse.";
    HoldOutlastsPulse, "hold-outlasts-pulse", Warning, "The guard asks for a change to last longer than the device may show it. The shortest change, which the device is there to tell, would pass without a word. Shorten the hold, or note why so short a change may pass.";
    RequirementUnanswered, "requirement-unanswered", Warning, "No watch that shares a hazard with this requirement judges the inputs that it speaks of, with an answer at least so severe. Of conditions joined by 'or' each is looked at by itself. Add a watch, or name the hazard at the watch that is there.";
    ResponseSlow, "response-slow", Warning, "Even the fastest watch that is there to meet this requirement needs more time than it allows: sampling, settling, hold, the deciding scan and the slowest output, in the worst case. The spans of a speed do not count, since the requirement speaks of the same speed. Shorten the path, or allow more.";
    StopsPastHold, "stops-past-hold", Warning, "A watch that shares a hazard with what looks at a grip behind the coupling point stops the lift, and at the greatest rope speed, with the slowest response and the least deceleration, the carrier comes to stand behind the place to which a badly closed grip is held. `haltproof lane stops` shows each stop. Look at the grip earlier, shorten the path, brake harder, or correct the lane.";
    ApartUnknown, "apart-unknown", Note, "How near carriers come is followed from a spacing, or the lane's 'at least X apart', from travel to travel. Only what always holds counts: in the lane's rope, in every mode, masked by no bypass. Where that does not lead over the lane from before the carrier uncouples, or people get on, to behind the coupling point, nothing is known of how near carriers come, and no finding about it says anything.";
    CarriersTouch, "carriers-touch", Warning, "The first of two carriers may be as slow, and the next one as fast, as the windows permit. Together they may come so near that they touch, and no rule trips. Widen the spacing or narrow the windows. Each travel may lose its whole width; carriers are slow evenly over it.";
    LatePastContact, "late-past-contact", Warning, "A carrier that stands still right behind the first detector of a travel is found when it is late. By then, and until the stop that this calls has brought the rope to standstill, the next carrier has come to it. Lower the late limit, widen the spacing, or brake harder. `haltproof lane apart` shows the greatest late limit that is early enough.";
    LineFast, "line-fast", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 9, allows at most 6 m/s of line speed with one carrying-hauling rope; local rules decide. Without a stated line speed the greatest speed of the rope's pace is taken.";
    LoadingFast, "loading-fast", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 10 I, allows carriers at most 1.3 m/s where skiers get on open chairs with detachable grips (1.0 m/s for pedestrians from the front), and 0.5 m/s for closed cabins; local rules decide. Slow carriers more, or correct where people get on.";
    IntervalShort, "interval-short", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 12, asks for at least 5 s between detachable chairs in a station; local rules decide. Here the spacing, less all that the windows on the way may take from it, is judged at the line speed.";
    IntervalUnwatched, "interval-unwatched", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 13 I, makes the monitoring of the interval mandatory with detachable carriers; local rules decide. Add a 'spacing' where carriers arrive.";
    LoadingUnwatched, "loading-unwatched", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 13 III, asks for monitoring also where people get on open chairs, if these come in less than 8 s (8 seats), 7.2 s (6) or 6 s (4); local rules decide. Let travels that hold in every mode follow each other over the whole of it.";
    ImpactHard, "impact-hard", Warning, "The French ministerial order of 7 August 2009 on ropeways, article 13 II, allows a cabin to run into the one ahead at no more than 1.0 m/s; local rules decide. The speed is that of the next carrier where it comes to one that stands still within a travel, before or while the late stop brakes.";
    BrakesTooHard, "brakes-too-hard", Warning, "Stops latch, so that each can stand with any other, and then their brakes act together. The French ministerial order of 7 August 2009 on ropeways, annex 3, table 4, allows that on a single failure only up to 2.5 m/s2, with the rope staying on and no carrier hitting anything; local rules decide. The greatest decelerations are added, each brake once.";
    HoldShort, "hold-short", Warning, "The State of Colorado rules to ANSI B77.1, rule 3.1.4.3.4.3, ask for level or rising rope of at least L = V x V (L in m, V in m/s) behind the coupling point, so that a wrongly attached grip can be stopped on it; local rules decide. Correct the lane, or note which rules allow less.";
    HeldByUnfit, "held-by-unfit", Error, "An assumption may rest on a watch only if that watch stops whenever the assumption is broken: a spacing of the same detector, in the same measure and at least as wide, or a guard that trips in every state in which the claim fails. Name such a watch, or give evidence.";
}
