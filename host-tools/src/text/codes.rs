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
    TooDeep, "too-deep", Error, "Parentheses may stand at most 32 deep.";
    // Resolve
    NameTwice, "name-twice", Error, "A name stands for one thing in all files of a reading. Declared twice, a rule that speaks of it could mean either. Rename one of the two.";
    NameUnknown, "name-unknown", Error, "A name is used that no file of the reading declares. A rule about nothing would never trip. Correct the spelling, declare it, or give the file that declares it along with the others.";
    NameRepeated, "name-repeated", Warning, "A list names the same thing twice. The second has no effect, and perhaps another name was meant. Correct it or leave it out.";
    NameUnused, "name-unused", Warning, "Something is declared and no rule speaks of it, so that it changes nothing. Perhaps a rule was forgotten. Use it, or take the declaration out.";
    KindWrong, "kind-wrong", Error, "A name stands for another kind of thing than its place asks for, or what is said of it cannot be said of its kind: a contact is open or closed, a detector covered or clear, a key held or free. What it is and what fits is named. Correct the name or the word.";
    UnitWrong, "unit-wrong", Error, "A quantity has a unit of another dimension than its place asks for. Taken as it stands, the limit would have no meaning. Write it in one of the units named.";
    TerminalTwice, "terminal-twice", Error, "Two declarations use one terminal. Either one of them is wired elsewhere, or one signal is taken for two independent ones. Correct the terminal; to use a signal in several rules, use its name in them.";
    StatementMissing, "statement-missing", Error, "A statement without which there is no station is not there: `station`, `revision`, `scan`, and at least one `stop`. Nothing is assumed in its place, since a reviewer could not see what was assumed. Add it.";
    StatementTwice, "statement-twice", Error, "A statement that can stand once in a reading stands in it twice. It would not be clear which holds. Take one of them out.";
    ScanRange, "scan-range", Error, "A scan takes whole microseconds, from 1 ms to 1 s. A shorter one cannot be kept by the controller, a longer one answers too late. Write a length in that range.";
    CategoryBad, "category-bad", Error, "Stop categories are 0, 1 and 2, as in IEC 60204-1. Another number says nothing of when power is removed. Write one of the three.";
    ClauseIdle, "clause-idle", Error, "A clause is written to which the rest of the statement gives no meaning. Its author expected an effect that it cannot have. Take it out, or add what it belongs to.";
    ValueNegative, "value-negative", Error, "A time, length, speed or tolerance is less than nothing. Directions are said in words, so that a minus sign here is a slip. Write it without.";
    ValueZero, "value-zero", Error, "A value is nothing, or less than the scan it is counted in, where something is needed: no rule could be built on it. Write a greater value, or leave the clause out where it may be left out.";
    TooLarge, "too-large", Error, "A limit is beyond 2 to the power of 28 scans, millimetres, microseconds or steps, which is what the controller adds up without overflow. Write a smaller one, or a coarser step for a gauge.";
    TooFine, "too-fine", Error, "A value is finer than the program keeps it: places, pulses and lengths of the lane are whole millimetres, currents whole microamperes, values of gauges whole millionths of their unit. Round it in the file, where a reviewer sees it.";
    TooMany, "too-many", Error, "There is more of something than the controller holds: 1024 channels, 32 modes, 16 bypasses, 32 outputs, 250 answers, 64 carriers under way. Divide the station between two controllers, or combine what belongs together.";
    BoundsReversed, "bounds-reversed", Error, "The first bound of a window is greater than the second. Nothing lies between them, and it cannot be known which was meant. Write the smaller one first.";
    WindowEmpty, "window-empty", Error, "Nothing lies in a window once its bounds are rounded to the strict side and, for travels and spacings, narrowed by one scan. Every carrier would trip it. Widen the window, or shorten the scan.";
    LimitRounded, "limit-rounded", Note, "A limit is not a whole number of scans, millimetres or steps. It was rounded to the strict side: holds of trips and tolerances down, holds of permissions up, windows inwards. What it became is named. Write the limit so that it is whole, if the difference matters.";
    LimitOutOfReach, "limit-out-of-reach", Warning, "A limit lies where a gauge never shows it while its current is trusted, so that the limit never trips, or always. Correct the limit, or the two points of the gauge's scale.";
    DeadlineNegative, "deadline-negative", Error, "A requirement leaves no time: what the outputs need to let go, and two scans for sampling the change and deciding, are already more than it allows. The sum is shown. Shorten the scan, take faster outputs, or reconsider the time.";
    GaugeFlat, "gauge-flat", Error, "The two points of a gauge's scale have the same current or the same value, so that no line goes through them that tells values apart. Give two different points.";
    TrustedWide, "trusted-wide", Error, "A gauge is to be trusted at a current that tells a failed loop: 3.6 mA and below, 21 mA and above (NAMUR NE 43). A broken wire would be a measurement. Narrow the trusted band.";
    AgreeUnlike, "agree-unlike", Error, "An `agree` compares two things that cannot be compared as they stand: paces whose speed is taken over different times, gauges of different unit, step or lowest value, or a thing with itself. Make the declarations alike.";
    PaceOther, "pace-other", Error, "The two clauses of one travel speak of different paces. The time limit runs while the travel's own pace runs. Name the same pace in both.";
    LaneUnjoined, "lane-unjoined", Error, "Two stretches of the lane do not join: there is a gap or an overlap between them, or a jump in the speed. A carrier cannot get from one to the other. Let each begin where the last one ends, and at its speed.";
}
