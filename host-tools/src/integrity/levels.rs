//! Performance levels and safety integrity levels, and the bands by which a probability of failure comes to one.

use std::fmt;

/// Performance level, ISO 13849-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pl {
    /// The least.
    A,
    /// PL b.
    B,
    /// PL c.
    C,
    /// PL d.
    D,
    /// The best.
    E,
}

/// Safety integrity level 1 to 4, IEC 61508-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Sil(
    /// 1 to 4.
    pub u8,
);

impl fmt::Display for Pl {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = match self {
            Self::A => 'a',
            Self::B => 'b',
            Self::C => 'c',
            Self::D => 'd',
            Self::E => 'e',
        };
        write!(to, "PL {letter}")
    }
}

impl fmt::Display for Sil {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "SIL {}", self.0)
    }
}

/// Lower ends of bands and their level, the worst first; at or above `end` there is no level.
fn band<L: Copy>(value: f64, end: f64, bands: &[(f64, L)]) -> Option<L> {
    let best = bands.last().map(|(_, level)| *level);
    // A sum of values that were rounded may lie a hair below the end of a band: the worse level counts.
    let value = value * (1.0 + 1e-12);
    // What is no number is no level.
    if value.is_nan() || value >= end {
        return None;
    }
    // Below the last band the standard promises no better level.
    bands.iter().find(|(from, _)| value >= *from).map(|(_, level)| *level).or(best)
}

impl Pl {
    /// By the bands of `PFHd` (per hour), ISO 13849-1, Table 3. None at 1e-4 and above.
    pub fn of_pfhd(pfhd: f64) -> Option<Self> {
        band(pfhd, 1e-4, &[(1e-5, Self::A), (3e-6, Self::B), (1e-6, Self::C), (1e-7, Self::D), (1e-8, Self::E)])
    }
    /// The level that corresponds, ISO 13849-1 (2006 and 2015), Table 4. None for PL a.
    pub fn sil(self) -> Option<Sil> {
        match self {
            Self::A => None,
            Self::B | Self::C => Some(Sil(1)),
            Self::D => Some(Sil(2)),
            Self::E => Some(Sil(3)),
        }
    }
}

impl Sil {
    /// By the bands of PFH (per hour) for high demand, IEC 61508-1, Table 3. None at 1e-5 and above.
    pub fn of_pfh(pfh: f64) -> Option<Self> {
        band(pfh, 1e-5, &[(1e-6, Self(1)), (1e-7, Self(2)), (1e-8, Self(3)), (1e-9, Self(4))])
    }
    /// By the bands of `PFDavg` for low demand, IEC 61508-1, Table 2. None at 0.1 and above.
    pub fn of_pfd(pfd: f64) -> Option<Self> {
        band(pfd, 1e-1, &[(1e-2, Self(1)), (1e-3, Self(2)), (1e-4, Self(3)), (1e-5, Self(4))])
    }
    /// The best performance level that corresponds, the same table read the other way.
    pub fn pl(self) -> Pl {
        match self.0 {
            0 => Pl::A,
            1 => Pl::C,
            2 => Pl::D,
            _ => Pl::E,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 13849-1, Table 3: each band holds its lower end and not its upper.
    #[test]
    fn performance_levels_by_their_bands() {
        use Pl::{A, B, C, D, E};
        for (pfhd, level) in [
            (1e-4, None),
            (9.99e-5, Some(A)),
            (1e-5, Some(A)),
            (9.99e-6, Some(B)),
            (3e-6, Some(B)),
            (2.99e-6, Some(C)),
            (1e-6, Some(C)),
            (9.99e-7, Some(D)),
            (1e-7, Some(D)),
            (9.99e-8, Some(E)),
            (1e-8, Some(E)),
            (1e-9, Some(E)),
            (f64::NAN, None),
            (f64::INFINITY, None),
        ] {
            assert_eq!(Pl::of_pfhd(pfhd), level, "{pfhd}");
        }
    }

    /// ISO 13849-1 (2006 and 2015): a none, b and c 1, d 2, e 3.
    #[test]
    fn levels_correspond() {
        let sils = [Pl::A, Pl::B, Pl::C, Pl::D, Pl::E].map(Pl::sil);
        assert_eq!(sils, [None, Some(Sil(1)), Some(Sil(1)), Some(Sil(2)), Some(Sil(3))]);
        for sil in 1..=3 {
            assert_eq!(Sil(sil).pl().sil(), Some(Sil(sil)));
        }
    }

    /// IEC 61508-1: Table 3 is widely quoted, Table 2 was seen once.
    #[test]
    fn integrity_levels_by_their_bands() {
        for (exponent, level) in
            [(-5, None), (-6, Some(1)), (-7, Some(2)), (-8, Some(3)), (-9, Some(4)), (-10, Some(4))]
        {
            // What is written as a decimal number is the band's own end.
            let end: f64 = format!("1e{exponent}").parse().unwrap();
            assert_eq!(Sil::of_pfh(end), level.map(Sil), "{end}");
            let end: f64 = format!("1e{}", exponent + 4).parse().unwrap();
            assert_eq!(Sil::of_pfd(end), level.map(Sil), "{end}");
        }
        assert_eq!(Sil::of_pfh(9.99e-6), Some(Sil(1)));
        assert_eq!(Sil::of_pfd(9.99e-2), Some(Sil(1)));
    }
}
