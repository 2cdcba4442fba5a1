//! Module memory for the scenarios: bytes at the standards' literal offsets, in the standards' raw
//! units. In: nothing. Out: pages. Nothing here uses the program's own tables, so that one mistake
//! cannot hide in both. Makers, parts and readings are invented.
//!
//! Offsets and units: SFF-8472 Rev 9.3 tables 3.1, 3.14 and 3.17; SFF-8636 and CMIS as noted in
//! the project's memory-map notes, mostly from memory there.

use std::collections::BTreeMap;

/// Where a page is: 7-bit two-wire address, bank, page.
pub type Where = (u8, u8, u8);

/// A module's memory. Page 00h has 256 bytes (lower half and upper page), others the upper 128.
#[derive(Clone, Default)]
pub struct Image(pub BTreeMap<Where, Vec<u8>>);

impl Image {
    /// One byte, by the standard's number of it.
    pub fn byte(&self, at: Where, offset: u8) -> Option<u8> {
        let page = self.0.get(&at)?;
        page.get(usize::from(offset) - (256 - page.len())).copied()
    }

    /// Writes bytes; `offset` is the standard's number of the first (128 and up on a page).
    pub fn put(&mut self, at: Where, offset: usize, bytes: &[u8]) -> &mut Self {
        let size = if at.2 == 0 { 256 } else { 128 };
        let page = self.0.entry(at).or_insert_with(|| vec![0; size]);
        let start = offset - (256 - size);
        page[start..start + bytes.len()].copy_from_slice(bytes);
        self
    }

    fn text(&mut self, at: Where, offset: usize, width: usize, text: &str) -> &mut Self {
        self.put(at, offset, format!("{text:<width$}").as_bytes())
    }

    /// 16-bit numbers, most significant byte first.
    pub fn words(&mut self, at: Where, offset: usize, words: &[u16]) -> &mut Self {
        let bytes: Vec<u8> = words.iter().flat_map(|word| word.to_be_bytes()).collect();
        self.put(at, offset, &bytes)
    }

    /// Low eight bits of the sum of `first..=last`, written behind or where told.
    fn sum(&mut self, at: Where, first: u8, last: u8, to: usize) -> &mut Self {
        let sum = (first..=last)
            .fold(0u8, |sum, offset| sum.wrapping_add(self.byte(at, offset).unwrap_or(0)));
        self.put(at, to, &[sum])
    }
}

/// A0h, or the only device of the later families.
pub const FIRST: Where = (0x50, 0, 0);
/// A2h.
pub const A2: Where = (0x51, 0, 0);

/// 10GBASE-SR with internal calibration: 36.5 °C, 3.3 V, 7 mA, TX -2.2 dBm, RX -2.8 dBm.
pub fn sfp() -> Image {
    let mut image = Image::default();
    image
        .put(FIRST, 0, &[0x03, 0x04, 0x07, 0x10]) // SFP, LC, byte 3 bit 4: 10GBASE-SR
        .put(FIRST, 11, &[0x06, 103]) // 64B/66B, 10.3 GBd
        .put(FIRST, 19, &[30]) // OM3: 300 m
        .text(FIRST, 20, 16, "NORTHLIGHT OPT")
        .text(FIRST, 40, 16, "NL-10SR-S")
        .text(FIRST, 56, 4, "1A")
        .words(FIRST, 60, &[850])
        .sum(FIRST, 0, 62, 63)
        .text(FIRST, 68, 16, "TWS-0101")
        .text(FIRST, 84, 8, "240614")
        .put(FIRST, 92, &[0x68, 0xf0, 0x08]) // diagnostics, internal, average power; flags; revision
        .sum(FIRST, 64, 94, 95);
    image
        .words(A2, 0, &[0x4e00, 0xf300, 0x4900, 0xf800]) // 78, -13, 73, -8 °C
        .words(A2, 8, &[37000, 29000, 36000, 30000])
        .words(A2, 16, &[6600, 2000, 6300, 2500])
        .words(A2, 24, &[14125, 1259, 11220, 1585])
        .words(A2, 32, &[15849, 398, 12589, 631])
        .sum(A2, 0, 94, 95)
        .words(A2, 96, &[0x2480, 33000, 3500, 6026, 5248]);
    image
}

/// 100GBASE-SR4, four lanes: 35 °C, 3.3 V, 7 mA, TX and RX -1 dBm on each.
pub fn qsfp28() -> Image {
    let mut image = Image::default();
    let limits = (0x50, 0, 3);
    image
        .put(FIRST, 0, &[0x11, 0x08, 0x02]) // QSFP28, revision, paged, no interrupt
        .words(FIRST, 22, &[0x2300])
        .words(FIRST, 26, &[33000])
        .words(FIRST, 34, &[7943; 4])
        .words(FIRST, 42, &[3500; 4])
        .words(FIRST, 50, &[7943; 4])
        .put(FIRST, 128, &[0x11, 0xcc, 0x0c]) // class 4, both CDRs; MPO
        .put(FIRST, 131, &[0x80]) // see byte 192
        .put(FIRST, 139, &[0x05, 0xff]) // 64B/66B; rate in byte 222
        .put(FIRST, 143, &[35]) // OM3: 70 m
        .put(FIRST, 146, &[50, 0x00]) // OM4: 100 m; 850 nm VCSEL
        .text(FIRST, 148, 16, "KESTREL FIBRE")
        .text(FIRST, 168, 16, "KF-100SR4")
        .text(FIRST, 184, 2, "A")
        .words(FIRST, 186, &[17000]) // 0.05 nm: 850 nm
        .put(FIRST, 190, &[70])
        .sum(FIRST, 128, 190, 191)
        .put(FIRST, 192, &[0x02]) // 100GBASE-SR4 or 25GBASE-SR
        .text(FIRST, 196, 16, "TWS-0401")
        .text(FIRST, 212, 8, "240614")
        .put(FIRST, 220, &[0x3c]) // all monitors; average power
        .put(FIRST, 222, &[103]) // 250 MBd: 25.75 GBd
        .sum(FIRST, 192, 222, 223);
    image
        .words(limits, 128, &[0x4b00, 0xfb00, 0x4600, 0x0000]) // 75, -5, 70, 0 °C
        .words(limits, 144, &[36300, 29700, 34650, 31350])
        .words(limits, 176, &[21878, 741, 17378, 933]) // 3.4, -11.3, 2.4, -10.3 dBm
        .words(limits, 184, &[6500, 1000, 6000, 1500])
        .words(limits, 192, &[21878, 1148, 17378, 1445]);
    image
}

/// Passive copper of 3 m with flat memory (SFF-8636): no page but 00h.
pub fn flat_copper() -> Image {
    let mut image = Image::default();
    image
        .put(FIRST, 0, &[0x11, 0x08, 0x06]) // byte 2 bit 2: flat memory
        .put(FIRST, 128, &[0x11, 0x00, 0x23]) // class 1; no separable connector
        .put(FIRST, 131, &[0x80])
        .put(FIRST, 139, &[0x05, 0xff])
        .put(FIRST, 146, &[3, 0xa0]) // 3 m; copper, unequalized
        .text(FIRST, 148, 16, "GANNET CABLE")
        .text(FIRST, 168, 16, "GC-100CR4-3M")
        .text(FIRST, 184, 2, "B")
        .sum(FIRST, 128, 190, 191)
        .put(FIRST, 192, &[0x0b]) // 100GBASE-CR4
        .text(FIRST, 196, 16, "TWS-0901")
        .text(FIRST, 212, 8, "240614")
        .put(FIRST, 222, &[103])
        .sum(FIRST, 192, 222, 223);
    image
}

/// 400GBASE-SR8 (CMIS), eight lanes a bank, in 1, 2 or 4 banks: TX and RX 0 dBm, 8 mA on each.
pub fn cmis(banks: u8) -> Image {
    let mut image = Image::default();
    let (advertising, limits) = ((0x50, 0, 1), (0x50, 0, 2));
    image
        .put(FIRST, 0, &[0x18, 0x50, 0x00, 0x07]) // QSFP-DD, 5.0, paged, Ready, no interrupt
        .words(FIRST, 14, &[0x2900, 33000]) // 41 °C
        .put(FIRST, 39, &[1, 2])
        .put(FIRST, 85, &[0x01]) // multimode
        .put(FIRST, 86, &[0x11, 0x10, 0x88, 0x01]) // 400GAUI-8, 400GBASE-SR8, 8 and 8 lanes
        .put(FIRST, 90, &[0xff]) // end of the list
        .put(FIRST, 128, &[0x18])
        .text(FIRST, 129, 16, "KESTREL FIBRE")
        .text(FIRST, 148, 16, "KF-400SR8")
        .text(FIRST, 164, 2, "A")
        .text(FIRST, 166, 16, "TWS-0801")
        .text(FIRST, 182, 8, "240614")
        .put(FIRST, 200, &[0xa0, 48]) // class 6; 12 W
        .put(FIRST, 203, &[0x0d]) // MPO 2x16
        .put(FIRST, 212, &[0x00]) // 850 nm VCSEL
        .sum(FIRST, 128, 221, 222);
    let banks_code = match banks {
        1 => 0,
        2 => 1,
        _ => 2,
    };
    image
        .put(advertising, 134, &[50]) // OM4: 100 m
        .words(advertising, 138, &[17000])
        .put(advertising, 142, &[banks_code])
        .put(advertising, 151, &[0x10]) // average power
        .put(advertising, 157, &[0x0f, 0x06, 0x03, 0x07]) // flags; temperature, supply; all lane monitors
        .sum(advertising, 130, 254, 255);
    image
        .words(limits, 128, &[0x4b00, 0xfb00, 0x4600, 0x0000])
        .words(limits, 136, &[36300, 29700, 34650, 31350])
        .words(limits, 176, &[31623, 1259, 25119, 1585]) // TX power
        .words(limits, 184, &[7500, 1000, 7000, 1500]) // bias
        .words(limits, 192, &[31623, 794, 25119, 1000]) // RX power: 5, -11, 4, -10 dBm
        .sum(limits, 128, 254, 255);
    for bank in 0..banks {
        let (control, state) = ((0x50, bank, 0x10), (0x50, bank, 0x11));
        image.put(control, 145, &[0x10; 8]);
        image
            .put(state, 128, &[0x44; 4]) // every data path activated
            .put(state, 132, &[0xff, 0xff]) // outputs valid
            .words(state, 154, &[10000; 8])
            .words(state, 170, &[4000; 8])
            .words(state, 186, &[10000; 8])
            .put(state, 206, &[0x10; 8]); // application 1 on every lane
    }
    image
}
