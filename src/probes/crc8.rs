//! The checksum that 1-Wire sensors use, and lines that carry one.

use crc::{CRC_8_MAXIM_DOW, Crc};

/// x⁸ + x⁵ + x⁴ + 1, low bit first, beginning at 0 (Maxim Integrated, Application Note 27).
const MAXIM: Crc<u8> = Crc::<u8>::new(&CRC_8_MAXIM_DOW);

/// The checksum of some bytes.
pub(super) fn maxim(bytes: &[u8]) -> u8 {
    MAXIM.checksum(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of the catalogue of parametrised CRC algorithms (G. Cook, CRC-8/MAXIM-DOW), and example 2 of Maxim's
    /// Application Note 27, whose bytes are to be taken in the order sent: in the order printed they come to something else.
    #[test]
    fn the_published_check_values_come_out() {
        assert_eq!(maxim(b"123456789"), 0xA1);
        let sent = [0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00];
        assert_eq!(maxim(&sent), 0xA2);
        assert_eq!(maxim(&[&sent[..], &[0xA2]].concat()), 0, "with its own checksum it comes to nothing");
        let printed: Vec<u8> = sent.iter().rev().copied().collect();
        assert_ne!(maxim(&printed), 0xA2);
    }
}
