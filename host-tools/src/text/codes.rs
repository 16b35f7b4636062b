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
}
