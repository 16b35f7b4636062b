//! The digest by which rule files are known, in certificates and in images.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// SHA-256 of some parts, one after the other.
pub fn sha256(parts: &[&[u8]]) -> [u8; 32] {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update(part);
    }
    hash.finalize().into()
}

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example "abc" of FIPS 180-4.
    #[test]
    fn it_is_sha_256() {
        let digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(hex(&sha256(&[b"ab", b"c"])), digest);
    }
}
