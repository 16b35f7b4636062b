//! The checksum of an image.

/// CRC-32/ISO-HDLC as in the Catalogue of Parametrised CRC Algorithms: polynomial 04C11DB7, reflected, beginning with
/// and complemented by all ones.
pub fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = Crc32::new();
    crc.add(bytes);
    crc.sum()
}

/// The same checksum, worked out piece by piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crc32(u32);

/// What half a byte does to the register: 64 bytes of table, where a whole byte would want a kilobyte.
const HALVES: [u32; 16] = [
    0x0000_0000,
    0x1DB7_1064,
    0x3B6E_20C8,
    0x26D9_30AC,
    0x76DC_4190,
    0x6B6B_51F4,
    0x4DB2_6158,
    0x5005_713C,
    0xEDB8_8320,
    0xF00F_9344,
    0xD6D6_A3E8,
    0xCB61_B38C,
    0x9B64_C2B0,
    0x86D3_D2D4,
    0xA00A_E278,
    0xBDBD_F21C,
];

impl Crc32 {
    /// Of no bytes yet.
    pub fn new() -> Self {
        Self(u32::MAX)
    }
    /// Goes on with these bytes.
    pub fn add(&mut self, bytes: &[u8]) {
        let half = |crc: u32| {
            let [low, ..] = crc.to_le_bytes();
            crc >> 4 ^ HALVES.get(usize::from(low & 15)).copied().unwrap_or(0)
        };
        for byte in bytes {
            self.0 = half(half(self.0 ^ u32::from(*byte)));
        }
    }
    /// The checksum of all bytes so far.
    pub fn sum(self) -> u32 {
        !self.0
    }
}

impl Default for Crc32 {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of the catalogue, and what two facts of the algorithm demand.
    #[test]
    fn it_is_the_one_of_the_catalogue() {
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
        assert_eq!(crc32(b""), 0);
        // The residue of the catalogue is DEBB20E3, before the last complement.
        assert_eq!(!crc32(b"123456789\x26\x39\xF4\xCB"), 0xDEBB_20E3);
    }

    #[test]
    fn in_pieces_it_is_the_same() {
        let mut crc = Crc32::new();
        crc.add(b"1234");
        crc.add(b"");
        crc.add(b"56789");
        assert_eq!(crc.sum(), 0xCBF4_3926);
    }

    /// The table is the polynomial, bit by bit.
    #[test]
    fn each_half_byte_is_four_divisions_by_the_polynomial() {
        for (half, told) in (0_u32..).zip(HALVES) {
            let divide = |crc: u32, _: u32| if crc & 1 == 1 { crc >> 1 ^ 0xEDB8_8320 } else { crc >> 1 };
            assert_eq!((0..4).fold(half, divide), told);
        }
    }
}
