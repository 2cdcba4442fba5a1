//! Which bytes of a module to read, and reading them: the bus is slow, so only what answers the
//! question is asked for, and one stretch that fails does not hide the others.

use std::sync::mpsc;
use std::time::Duration;

use crate::observe::live::ask::{Failure, Kernel, Question};
use crate::observe::live::ethernet::module_bytes;
use crate::snapshot::{Fact, HexBytes, MemoryBlock, Missing, Reason};

/// One stretch to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    address: u8,
    bank: u8,
    page: u8,
    offset: u8,
    length: u8,
}

const fn stretch(address: u8, page: u8, offset: u8, length: u8) -> Stretch {
    Stretch { address, bank: 0, page, offset, length }
}

/// Read first, whatever the family: for SFP it holds the whole identity (A0h 0-95).
const FIRST: Stretch = stretch(0x50, 0, 0, 96);
/// SFF-8472 A2h: limits, calibration, readings, status and flags (bytes 0-119).
const SFF8472_DIAGNOSTICS: Stretch = stretch(0x51, 0, 0, 120);
/// The rest of the lower half, for families that use it.
const LOWER_REST: Stretch = stretch(0x50, 0, 96, 32);
/// Upper page 00h: identity of SFF-8636 and CMIS.
const UPPER_00: Stretch = stretch(0x50, 0, 128, 96);
/// SFF-8636 page 03h: limits.
const SFF8636_LIMITS: Stretch = stretch(0x50, 3, 128, 72);
/// CMIS pages: advertising, limits, lane controls, lane state.
const CMIS_PAGES: [Stretch; 4] = [
    stretch(0x50, 0x01, 128, 128),
    stretch(0x50, 0x02, 128, 128),
    stretch(0x50, 0x10, 128, 51),
    stretch(0x50, 0x11, 128, 128),
];

/// What to read after the first stretch, by what it says.
pub(super) fn follow_up(first: &[u8]) -> Vec<Stretch> {
    let byte = |at: usize| first.get(at).copied().unwrap_or(0);
    match byte(0) {
        // SFF-8472: diagnostics only where byte 92 says that they are there, and reachable.
        0x02 | 0x03 | 0x0b if byte(92) & 0x44 == 0x40 => vec![SFF8472_DIAGNOSTICS],
        0x02 | 0x03 | 0x0b => Vec::new(),
        // SFF-8636: byte 2 bit 2 is flat memory, which has no page 03h.
        0x0c | 0x0d | 0x11 if byte(2) & 0x04 != 0 => vec![LOWER_REST, UPPER_00],
        0x0c | 0x0d | 0x11 => vec![LOWER_REST, UPPER_00, SFF8636_LIMITS],
        // CMIS: byte 2 bit 7 is flat memory.
        0x18 | 0x19 | 0x1b | 0x1e | 0x1f | 0x20 if byte(2) & 0x80 != 0 => {
            vec![LOWER_REST, UPPER_00]
        }
        0x18 | 0x19 | 0x1b | 0x1e | 0x1f | 0x20 => {
            let mut all = vec![LOWER_REST, UPPER_00];
            all.extend(CMIS_PAGES);
            all
        }
        _ => Vec::new(),
    }
}

/// Reads the modules of several ports at the same time, each port on a socket of its own. A
/// port that takes longer than `limit` keeps what came until then.
pub(super) fn read_all(
    indexes: &[u32],
    family: u16,
    limit: Duration,
) -> Vec<Fact<Vec<MemoryBlock>>> {
    let started = std::time::Instant::now();
    let waiting: Vec<mpsc::Receiver<Fact<MemoryBlock>>> = indexes
        .iter()
        .map(|index| {
            let (send, receive) = mpsc::channel();
            let index = *index;
            // Not joined: a bus that hangs in the kernel must not hold up the other ports.
            let _ = std::thread::Builder::new()
                .name(format!("module {index}"))
                .spawn(move || read_one(index, family, &send));
            receive
        })
        .collect();
    waiting.into_iter().map(|receive| gather(&receive, started, limit)).collect()
}

fn gather(
    receive: &mpsc::Receiver<Fact<MemoryBlock>>,
    started: std::time::Instant,
    limit: Duration,
) -> Fact<Vec<MemoryBlock>> {
    let mut blocks = Vec::new();
    loop {
        match receive.recv_timeout(limit.saturating_sub(started.elapsed())) {
            Ok(Fact::Known(block)) => blocks.push(block),
            Ok(Fact::Missing(why)) if blocks.is_empty() => return Fact::Missing(why),
            Ok(Fact::Missing(_)) => {}
            Err(mpsc::RecvTimeoutError::Disconnected) if blocks.is_empty() => {
                return Fact::missing_with(Reason::NotReported, "the reader could not be started");
            }
            Err(mpsc::RecvTimeoutError::Disconnected) => return Fact::Known(blocks),
            Err(mpsc::RecvTimeoutError::Timeout) if blocks.is_empty() => {
                return Fact::missing(Reason::TimedOut);
            }
            Err(mpsc::RecvTimeoutError::Timeout) => return Fact::Known(blocks),
        }
    }
}

fn read_one(index: u32, family: u16, send: &mpsc::Sender<Fact<MemoryBlock>>) {
    let mut kernel = match Kernel::open(5000) {
        Ok(kernel) => kernel,
        Err(error) => {
            let _ = send.send(Fact::missing_with(Reason::NotReported, error.to_string()));
            return;
        }
    };
    kernel.set_family(family);
    let first = read_stretch(&mut kernel, index, FIRST);
    let bytes = match &first {
        Fact::Known(bytes) => bytes.0.clone(),
        Fact::Missing(why) => {
            let _ = send.send(Fact::Missing(why.clone()));
            return;
        }
    };
    if send.send(Fact::Known(block(FIRST, first))).is_err() {
        return;
    }
    for stretch in follow_up(&bytes) {
        let read = read_stretch(&mut kernel, index, stretch);
        // Pulled out in the middle: what came before stands, the rest is gone.
        if send.send(Fact::Known(block(stretch, read))).is_err() {
            return;
        }
    }
}

fn block(stretch: Stretch, bytes: Fact<HexBytes>) -> MemoryBlock {
    MemoryBlock {
        two_wire_address: stretch.address,
        bank: stretch.bank,
        page: stretch.page,
        offset: stretch.offset,
        bytes,
    }
}

/// Reads one stretch, once more where the bus failed or was busy.
fn read_stretch(kernel: &mut Kernel, index: u32, stretch: Stretch) -> Fact<HexBytes> {
    let Stretch { address, bank, page, offset, length } = stretch;
    let question = Question::ModuleMemory { index, address, bank, page, offset, length };
    let mut retried = false;
    loop {
        let mut bytes = None;
        let failure = match kernel.ask(question, |body| bytes = module_bytes(body)) {
            Ok(_) => {
                return match bytes {
                    Some(bytes) => Fact::Known(HexBytes(bytes)),
                    None => Fact::missing_with(Reason::NotReported, "an answer without bytes"),
                };
            }
            Err(failure) => failure,
        };
        let why = failure.missing();
        if !retried && matches!(why.reason, Reason::BusError | Reason::Busy) {
            retried = true;
            std::thread::sleep(Duration::from_millis(20));
            continue;
        }
        return Fact::Missing(explained(&failure, why));
    }
}

/// `ENODEV` from a cage whose interface is there means that the cage is empty.
fn explained(failure: &Failure, why: Missing) -> Missing {
    match failure {
        Failure::Refused(refusal)
            if refusal.errno == libc::ENODEV
                && !refusal.text.as_deref().is_some_and(|text| text.contains("no device")) =>
        {
            Missing::with(Reason::NotPresent, "the driver says that no module is there")
        }
        _ => why,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn octets(plan: &[Stretch]) -> usize {
        plan.iter().map(|stretch| usize::from(stretch.length)).sum()
    }

    /// Budgets: an SFP without diagnostics takes one read of 96 bytes, with diagnostics two of
    /// 216; a request must not cross byte 128 (kernel rule, kernel-facts).
    #[test]
    fn only_what_answers_the_question() {
        let mut sfp = [0u8; 96];
        sfp[0] = 0x03;
        assert!(follow_up(&sfp).is_empty());
        sfp[92] = 0x68;
        assert_eq!(octets(&follow_up(&sfp)), 120);
        sfp[92] = 0x6c; // address change needed: kernels do not do it
        assert!(follow_up(&sfp).is_empty());
        let mut flat = [0u8; 96];
        flat[0] = 0x11;
        assert_eq!(follow_up(&flat).len(), 3);
        flat[2] = 0x04;
        assert_eq!(follow_up(&flat).len(), 2);
        for identifier in 0..=255u8 {
            let mut first = [0u8; 96];
            first[0] = identifier;
            for stretch in follow_up(&first) {
                let end = u16::from(stretch.offset) + u16::from(stretch.length);
                assert!(end <= 256 && stretch.length <= 128);
                assert!(stretch.offset >= 128 || end <= 128, "crosses byte 128");
                assert!(stretch.page == 0 || stretch.offset >= 128);
            }
        }
    }
}
