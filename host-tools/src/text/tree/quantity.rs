//! Quantities as written, and conditions.

use super::{Place, Word};

/// Units of the language.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Milliseconds.
    Ms,
    /// Seconds.
    S,
    /// Minutes.
    Min,
    /// Hours.
    H,
    /// Millimetres.
    Mm,
    /// Metres.
    M,
    /// Millimetres a second.
    MmPerS,
    /// Metres a second.
    MPerS,
    /// Metres a second squared.
    MPerS2,
    /// Newton.
    N,
    /// Kilonewton.
    KN,
    /// Milliampere.
    MA,
    /// Microampere.
    UA,
    /// Per cent.
    Percent,
}

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Dimension {
    /// Time; base microsecond.
    Time,
    /// Length; base micrometre.
    Length,
    /// Speed; base micrometre a second.
    Speed,
    /// Acceleration; base micrometre a second squared.
    Acceleration,
    /// Force; base micronewton.
    Force,
    /// Current; base nanoampere.
    Current,
    /// Share; base millionth of a per cent.
    Share,
}

impl Unit {
    /// Every unit.
    pub const ALL: [Unit; 14] = [
        Unit::Ms,
        Unit::S,
        Unit::Min,
        Unit::H,
        Unit::Mm,
        Unit::M,
        Unit::MmPerS,
        Unit::MPerS,
        Unit::MPerS2,
        Unit::N,
        Unit::KN,
        Unit::MA,
        Unit::UA,
        Unit::Percent,
    ];
    /// How it is written.
    pub fn text(self) -> &'static str {
        match self {
            Unit::Ms => "ms",
            Unit::S => "s",
            Unit::Min => "min",
            Unit::H => "h",
            Unit::Mm => "mm",
            Unit::M => "m",
            Unit::MmPerS => "mm/s",
            Unit::MPerS => "m/s",
            Unit::MPerS2 => "m/s2",
            Unit::N => "N",
            Unit::KN => "kN",
            Unit::MA => "mA",
            Unit::UA => "uA",
            Unit::Percent => "%",
        }
    }
    /// What it measures.
    pub fn dimension(self) -> Dimension {
        match self {
            Unit::Ms | Unit::S | Unit::Min | Unit::H => Dimension::Time,
            Unit::Mm | Unit::M => Dimension::Length,
            Unit::MmPerS | Unit::MPerS => Dimension::Speed,
            Unit::MPerS2 => Dimension::Acceleration,
            Unit::N | Unit::KN => Dimension::Force,
            Unit::MA | Unit::UA => Dimension::Current,
            Unit::Percent => Dimension::Share,
        }
    }
    /// How many base units of its dimension it is.
    pub fn base(self) -> i64 {
        match self {
            Unit::Ms | Unit::Mm | Unit::MmPerS | Unit::UA => 1_000,
            Unit::S | Unit::M | Unit::MPerS | Unit::MPerS2 | Unit::N | Unit::MA | Unit::Percent => 1_000_000,
            Unit::Min => 60_000_000,
            Unit::KN => 1_000_000_000,
            Unit::H => 3_600_000_000,
        }
    }
}

impl Unit {
    /// A value in base units as it would be written in this unit; at most nine places, the rest cut off.
    pub fn written(self, value: i64) -> String {
        let base = self.base().unsigned_abs().max(1);
        let (sign, size) = if value < 0 { ("-", value.unsigned_abs()) } else { ("", value.unsigned_abs()) };
        let (whole, mut rest) = (size / base, size % base);
        let mut digits = String::new();
        while rest > 0 && digits.len() < 9 {
            rest *= 10;
            digits.push(char::from(b'0' + u8::try_from(rest / base).unwrap_or(0)));
            rest %= base;
        }
        let point = if digits.is_empty() { "" } else { "." };
        format!("{sign}{whole}{point}{digits} {}", self.text())
    }
}

impl Dimension {
    /// How it is called, with its units.
    pub fn text(self) -> &'static str {
        match self {
            Dimension::Time => "a time (ms, s, min, h)",
            Dimension::Length => "a length (mm, m)",
            Dimension::Speed => "a speed (mm/s, m/s)",
            Dimension::Acceleration => "a deceleration (m/s2)",
            Dimension::Force => "a force (N, kN)",
            Dimension::Current => "a current (mA, uA)",
            Dimension::Share => "a share (%)",
        }
    }
}

/// A number with its unit: `mantissa` × 10^-`decimals`, at most 9 decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quantity {
    /// All digits as one whole number, with its sign.
    pub mantissa: i64,
    /// How many of them stand after the point.
    pub decimals: u8,
    /// The unit.
    pub unit: Unit,
    /// Number and unit.
    pub place: Place,
}

/// A condition as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Condition {
    /// All of it.
    pub place: Place,
    /// What it says.
    pub kind: ConditionKind,
}

/// See [`Condition`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ConditionKind {
    /// Parts joined by `and`; at least two.
    All(Vec<Condition>),
    /// Parts joined by `or`; at least two.
    Any(Vec<Condition>),
    /// `not ...`
    Not(Box<Condition>),
    /// A name and what is said of it.
    Simple(Word, Said),
}

/// Carriers under way to a detector: `under way from DETECTOR for at most X of PACE`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnderWay {
    /// Where they start.
    pub from: Word,
    /// How far the pace runs until whoever was there has arrived.
    pub length: Quantity,
    /// The pace.
    pub pace: Word,
}

/// A count of carriers to a detector: `miscounts carriers from DETECTOR, at most N and N when KEY pressed for T`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tally {
    /// Where they come in.
    pub from: Word,
    /// Most that may be inside.
    pub most: super::Placed<u32>,
    /// How many are inside when the key is pressed.
    pub confirmed: super::Placed<u32>,
    /// The key.
    pub key: Word,
    /// For how long.
    pub pressed: Quantity,
    /// `, unknown once KEY pressed for T`.
    pub unknown: Option<(Word, Quantity)>,
}

/// What is said of a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// `open`
    Open,
    /// `closed`
    Closed,
    /// `covered`
    Covered,
    /// `clear`
    Clear,
    /// `held`
    Held,
    /// `free`
    Free,
    /// `above V`
    Above(Quantity),
    /// `below V`
    Below(Quantity),
    /// `between V and V`
    Between(Quantity, Quantity),
    /// `outside V to V`
    Outside(Quantity, Quantity),
    /// `faster than V`
    Faster(Quantity),
    /// `at most V`
    AtMost(Quantity),
    /// `still`
    Still,
    /// `moving`
    Moving,
    /// `rolls back faster than V`
    RollsBack(Quantity),
    /// `faulty`
    Faulty,
    /// `seen off`
    SeenOff,
    /// `active`
    Active,
    /// `stands`
    Stands,
    /// `released`
    Released,
    /// `differing`
    Differing,
    /// `differed for over T`
    DifferedOver(Quantity),
    /// `silent`
    Silent,
    /// `pressed for T`
    Pressed(Quantity),
    /// `covered for over X of PACE`
    CoveredOver(Quantity, Word),
    /// `changes over N times a second`
    Changes(super::Placed<u32>),
    /// `rises less than X of PACE apart`
    RisesCloser(Quantity, Word),
    /// `rises more than X of PACE apart`
    RisesFarther(Quantity, Word),
    /// `rises with no carrier under way from DETECTOR for at most X of PACE`
    RisesUnawaited(UnderWay),
    /// `awaits over N carriers under way from DETECTOR for at most X of PACE`
    Awaits(super::Placed<u32>, UnderWay),
    /// `miscounts carriers from DETECTOR, at most N and N when KEY pressed for T [, unknown once KEY pressed for T]`
    Miscounts(Box<Tally>),
    /// `moves over V a scan`
    MovesOver(Quantity),
    /// `has sources that differ by more than V`
    SourcesDiffer(Quantity),
    /// `differs from NAME by more than V`
    DiffersFrom(Word, Quantity),
}
