//! The checksum of an image.

/// CRC-32/ISO-HDLC as in the Catalogue of Parametrised CRC Algorithms: polynomial 04C11DB7, reflected, beginning with
/// and complemented by all ones. It is worked out bit by bit: an image is read once, at power-up, and a table would cost a kilobyte.
pub fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            let carry = crc & 1;
            crc >>= 1;
            if carry == 1 {
                crc ^= 0xEDB8_8320;
            }
        }
    }
    !crc
}

#[cfg(test)]
mod tests {
    use super::crc32;

    /// The check value of the catalogue, and what two facts of the algorithm demand.
    #[test]
    fn it_is_the_one_of_the_catalogue() {
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
        assert_eq!(crc32(b""), 0);
        // The residue of the catalogue is DEBB20E3, before the last complement.
        assert_eq!(!crc32(b"123456789\x26\x39\xF4\xCB"), 0xDEBB_20E3);
    }
}
