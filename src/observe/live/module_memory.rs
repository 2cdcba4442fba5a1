//! Which bytes of a module to read, and reading them: the bus is slow, so only what answers the
//! question is asked for, and one stretch that fails does not hide the others.

use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

use crate::module::over_time;
use crate::observe::live::ask::{About, Failure, Kernel, Question};
use crate::observe::live::ethernet::module_bytes;
use crate::observe::live::turns::{Reader, Turns};
use crate::snapshot::{
    Fact, HexBytes, MOST_RANGES, MOST_READINGS, MemoryBlock, Missing, ReadingAgain, Reason,
};

/// Longest wait for one stretch, milliseconds.
const PATIENCE: u16 = 3000;

/// Longest wait for the last of readings over time.
pub(super) const LAST_READING: Duration = Duration::from_millis(PATIENCE as u64);

/// One stretch to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    pub address: u8,
    pub bank: u8,
    pub page: u8,
    pub offset: u8,
    pub length: u8,
}

const fn stretch(address: u8, page: u8, offset: u8, length: u8) -> Stretch {
    Stretch { address, bank: 0, page, offset, length }
}

/// Read first, whatever the family: for SFP it holds the whole identity (A0h 0-95).
const FIRST: Stretch = stretch(0x50, 0, 0, 96);
/// SFF-8472 A2h: limits, calibration, readings, status and flags (bytes 0-119).
const SFF8472_DIAGNOSTICS: Stretch = stretch(0x51, 0, 0, 120);
/// The identifier alone: asked to see whether the module is still there.
const IDENTIFIER: Stretch = stretch(0x50, 0, 0, 1);
/// The rest of the lower half, for families that use it.
const LOWER_REST: Stretch = stretch(0x50, 0, 96, 32);
/// Upper page 00h: identity of SFF-8636 and CMIS.
const UPPER_00: Stretch = stretch(0x50, 0, 128, 96);
/// SFF-8636 page 03h: limits.
const SFF8636_LIMITS: Stretch = stretch(0x50, 3, 128, 72);
/// CMIS: what the module can do; byte 142 says how many banks of lanes it has.
const CMIS_ADVERTISING: Stretch = stretch(0x50, 0x01, 128, 128);
/// CMIS: limits.
const CMIS_LIMITS: Stretch = stretch(0x50, 0x02, 128, 128);
/// CMIS: controls of the eight lanes of a bank.
const CMIS_LANE_CONTROLS: Stretch = stretch(0x50, 0x10, 128, 51);
/// CMIS: state of the eight lanes of a bank.
const CMIS_LANE_STATE: Stretch = stretch(0x50, 0x11, 128, 128);

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
        0x18 | 0x19 | 0x1b | 0x1e | 0x1f | 0x20 => vec![
            LOWER_REST,
            UPPER_00,
            CMIS_ADVERTISING,
            CMIS_LIMITS,
            CMIS_LANE_STATE,
            CMIS_LANE_CONTROLS,
        ],
        _ => Vec::new(),
    }
}

/// What to read after a stretch that has come, because of what it says: CMIS modules with more
/// than eight lanes keep the others in further banks (page 01h byte 142 bits 1-0).
pub(super) fn further(read: Stretch, bytes: &[u8]) -> Vec<Stretch> {
    if read == FIRST {
        return follow_up(bytes);
    }
    if read != CMIS_ADVERTISING {
        return Vec::new();
    }
    let last = match bytes.get(142 - 128).map(|byte| byte & 0x03) {
        Some(1) => 1,
        Some(2) => 3,
        _ => 0,
    };
    (1..=last)
        .flat_map(|bank| {
            [Stretch { bank, ..CMIS_LANE_STATE }, Stretch { bank, ..CMIS_LANE_CONTROLS }]
        })
        .collect()
}

/// When what modules monitor is read again.
#[derive(Debug, Clone, Copy)]
pub(super) struct Schedule {
    /// What times are counted from.
    pub zero: Instant,
    /// From one reading to the next, where the bus is quick enough.
    pub every: Duration,
    /// No reading is begun that may not be done by then.
    pub until: Instant,
}

/// So many readings that fail one after another, and it is not tried again.
const MOST_FAILURES: usize = 3;
/// A bus rests so many times as long as a reading took: the kernel holds its host-wide lock while
/// it reads, and the driver has to look after its module as well.
const REST: u32 = 3;

impl Schedule {
    /// Reads the monitors of a module again and again. A reading that takes longer than the time
    /// between two puts the next one off to a later multiple of it: readings stay even, and none
    /// piles up.
    fn follow(
        self,
        mut bus: impl FnMut(Stretch) -> Fact<HexBytes>,
        blocks: &[MemoryBlock],
        mut says: impl FnMut(ReadingAgain) -> bool,
    ) {
        let stretches: Vec<Stretch> =
            over_time::monitors(blocks).into_iter().map(monitor).take(MOST_RANGES).collect();
        if stretches.is_empty() {
            return;
        }
        let (mut next, mut took, mut failures) = (Instant::now(), Duration::ZERO, 0);
        for _ in 0..MOST_READINGS {
            if next + took > self.until {
                return;
            }
            std::thread::sleep(next.saturating_duration_since(Instant::now()));
            let began = Instant::now();
            let ranges = read_monitors(&mut bus, &stretches);
            took = began.elapsed();
            let at = (began + took / 2).saturating_duration_since(self.zero).as_millis();
            let failed = ranges.last().and_then(|range| range.bytes.why_missing()).cloned();
            let at_milliseconds = u64::try_from(at).unwrap_or(u64::MAX);
            failures = if failed.is_some() { failures + 1 } else { 0 };
            let passing = [Reason::BusError, Reason::Busy, Reason::TimedOut];
            let over = failures >= MOST_FAILURES
                || failed.is_some_and(|why| !passing.contains(&why.reason));
            if !says(ReadingAgain { at_milliseconds, ranges }) || over {
                return;
            }
            let rested = began + took * (1 + REST);
            next += self.every;
            while next < rested {
                next += self.every.max(Duration::from_millis(1));
            }
        }
    }
}

/// One reading of all monitors, up to the first stretch that fails.
fn read_monitors(
    bus: &mut impl FnMut(Stretch) -> Fact<HexBytes>,
    stretches: &[Stretch],
) -> Vec<MemoryBlock> {
    let mut ranges = Vec::new();
    for stretch in stretches {
        let bytes = read_stretch(bus, *stretch).and_then(|HexBytes(bytes)| {
            let (came, needed) = (bytes.len(), usize::from(stretch.length));
            if came < needed {
                let why = format!("{came} bytes came where {needed} were asked for");
                return Fact::missing_with(Reason::ShortPage, why);
            }
            Fact::Known(HexBytes(bytes))
        });
        let failed = bytes.known().is_none();
        ranges.push(block(*stretch, bytes));
        if failed {
            break;
        }
    }
    ranges
}

fn monitor((place, first, last): over_time::Stretch) -> Stretch {
    Stretch {
        address: place.address,
        bank: place.bank,
        page: place.page,
        offset: first,
        length: last.saturating_sub(first).saturating_add(1),
    }
}

/// The stretches of one module, in order, as they become known.
struct Plan {
    all: Vec<Stretch>,
    done: usize,
    /// Set once nothing more can come: what is left of the plan is missing for this reason.
    over: Option<Missing>,
}

impl Plan {
    fn new() -> Self {
        Self { all: vec![FIRST], done: 0, over: None }
    }

    fn next(&self) -> Option<Stretch> {
        self.all.get(self.done).copied()
    }

    /// Takes note of what the next stretch gave.
    fn came(&mut self, bytes: &Fact<HexBytes>) {
        if let (Some(read), Some(bytes)) = (self.next(), bytes.known()) {
            self.all.extend(further(read, &bytes.0));
        }
        self.over = bytes.why_missing().filter(|why| why.reason == Reason::Gone).cloned();
        self.done += 1;
    }
}

/// What is known of one module so far. Its reader and this follow one plan.
struct Part {
    plan: Plan,
    blocks: Vec<MemoryBlock>,
}

impl Part {
    fn new() -> Self {
        Self { plan: Plan::new(), blocks: Vec::new() }
    }

    /// Takes what came of the next stretch. Returns the whole once nothing more can come.
    fn take(&mut self, bytes: Fact<HexBytes>) -> Option<Fact<Vec<MemoryBlock>>> {
        let stretch = self.plan.next()?;
        match bytes {
            // Without the first stretch there is no telling what the rest would mean.
            Fact::Missing(why) if self.blocks.is_empty() => return Some(Fact::Missing(why)),
            bytes => {
                self.plan.came(&bytes);
                self.blocks.push(block(stretch, bytes));
            }
        }
        if let Some(why) = self.plan.over.clone() {
            return Some(self.rest(&why));
        }
        self.plan.next().is_none().then(|| Fact::Known(std::mem::take(&mut self.blocks)))
    }

    /// The whole, where what has not come is missing for this reason.
    fn rest(&mut self, why: &Missing) -> Fact<Vec<MemoryBlock>> {
        if self.blocks.is_empty() {
            return Fact::Missing(why.clone());
        }
        while let Some(stretch) = self.plan.next() {
            let bytes = Fact::Missing(why.clone());
            self.plan.came(&bytes);
            self.blocks.push(block(stretch, bytes));
        }
        Fact::Known(std::mem::take(&mut self.blocks))
    }
}

/// What a reader sends: its number, and what came of its next stretch; nothing when it ends.
type Sent = (usize, Option<Fact<HexBytes>>);
/// The same of readings over time.
type SentAgain = (usize, Option<ReadingAgain>);

/// Modules of several ports being read, each port on a thread and a socket of its own, in an order
/// in which a slow bus holds the others up least. They come as they are done.
pub(super) struct Reading {
    receive: mpsc::Receiver<Sent>,
    until: Instant,
    /// By number; none where it is done.
    parts: Vec<Option<Part>>,
    again: mpsc::Receiver<SentAgain>,
    schedule: Option<Schedule>,
}

impl Reading {
    /// Starts to read. A port that takes longer than `limit` keeps what came until then; the rest
    /// is timed out. With a schedule, each reader then goes on to read the monitors of its module.
    pub fn start(
        indexes: &[u32],
        family: u16,
        limit: Duration,
        schedule: Option<Schedule>,
    ) -> Self {
        let open = |index: u32| {
            move || {
                let opened = Kernel::open(PATIENCE);
                let mut kernel = opened
                    .map_err(|error| Missing::with(Reason::NotReported, error.to_string()))?;
                kernel.set_family(family);
                Ok(move |stretch| ask(&mut kernel, index, stretch))
            }
        };
        Self::over(indexes.iter().map(|index| open(*index)), limit, schedule)
    }

    /// The same over any buses; each is opened on its own thread.
    pub fn over<Bus: FnMut(Stretch) -> Fact<HexBytes>>(
        buses: impl ExactSizeIterator<Item = impl FnOnce() -> Result<Bus, Missing> + Send + 'static>,
        limit: Duration,
        schedule: Option<Schedule>,
    ) -> Self {
        let until = Instant::now() + limit;
        let turns = Arc::new(Turns::new(buses.len()));
        let parts = (0..buses.len()).map(|_| Some(Part::new())).collect();
        let (send, receive) = mpsc::channel();
        let (send_again, again) = mpsc::channel();
        for (number, open) in buses.enumerate() {
            let line = Line { number, send: send.clone() };
            let later =
                schedule.map(|schedule| (schedule, Line { number, send: send_again.clone() }));
            // Not joined: a bus that hangs in the kernel must not hold up the other ports.
            let spawned = std::thread::Builder::new().name(format!("module {number}")).spawn({
                let turns = Arc::clone(&turns);
                move || match open() {
                    Ok(mut bus) => {
                        let blocks = read_one(&mut bus, &turns.reader(number), &line);
                        drop(line); // what follows keeps nobody waiting
                        if let (Some(blocks), Some((schedule, line))) = (blocks, later) {
                            schedule.follow(bus, &blocks, |reading| line.says(reading));
                        }
                    }
                    Err(why) => {
                        drop(turns.reader(number));
                        line.says(Fact::Missing(why));
                    }
                }
            });
            if spawned.is_err() {
                drop(turns.reader(number)); // nobody shall wait for it
            }
        }
        Self { receive, until, parts, again, schedule }
    }

    /// The readings over time, by number. Waits for those under way, so much longer than the
    /// schedule at most: a reader that is not back by then has hung, which ends its readings.
    pub fn again(&self, patience: Duration) -> Vec<(usize, Vec<ReadingAgain>)> {
        let Some(schedule) = self.schedule else { return Vec::new() };
        let until = schedule.until + patience;
        let mut readings: Vec<Vec<ReadingAgain>> = Vec::new();
        let mut reads = vec![true; self.parts.len()];
        readings.resize_with(self.parts.len(), Vec::new);
        while reads.contains(&true) {
            let left = until.saturating_duration_since(Instant::now());
            match self.again.recv_timeout(left) {
                Ok((number, Some(reading))) => {
                    if let Some(readings) = readings.get_mut(number) {
                        readings.push(reading);
                    }
                }
                Ok((number, None)) => {
                    if let Some(reads) = reads.get_mut(number) {
                        *reads = false;
                    }
                }
                Err(_) => break,
            }
        }
        let at = schedule.until.saturating_duration_since(schedule.zero).as_millis();
        let hung = || ReadingAgain {
            at_milliseconds: u64::try_from(at).unwrap_or(u64::MAX),
            ranges: vec![MemoryBlock {
                bytes: Fact::missing(Reason::TimedOut),
                ..MemoryBlock::default()
            }],
        };
        for (readings, reads) in readings.iter_mut().zip(reads) {
            if reads && !readings.is_empty() {
                readings.truncate(MOST_READINGS - 1);
                readings.push(hung());
            }
        }
        readings.into_iter().enumerate().filter(|(_, readings)| !readings.is_empty()).collect()
    }

    /// The next module that is done; waits for it.
    pub fn next(&mut self) -> Option<(usize, Fact<Vec<MemoryBlock>>)> {
        while self.parts.iter().any(Option::is_some) {
            let left = self.until.saturating_duration_since(Instant::now());
            let Ok((number, bytes)) = self.receive.recv_timeout(left) else {
                return self.cut_short();
            };
            let Some(place) = self.parts.get_mut(number) else { continue };
            let Some(part) = place else { continue };
            let whole = match bytes {
                Some(bytes) => part.take(bytes),
                None => Some(part.rest(&Missing::with(
                    Reason::NotReported,
                    "the reader of this module ended early",
                ))),
            };
            if let Some(whole) = whole {
                *place = None;
                return Some((number, whole));
            }
        }
        None
    }

    /// The first of those that are not done when the time is up.
    fn cut_short(&mut self) -> Option<(usize, Fact<Vec<MemoryBlock>>)> {
        let (number, place) = self.parts.iter_mut().enumerate().find(|(_, part)| part.is_some())?;
        Some((number, place.take()?.rest(&Reason::TimedOut.into())))
    }
}

/// One reader's line to who waits for it; says when it ends, however it ends.
struct Line<T> {
    number: usize,
    send: mpsc::Sender<(usize, Option<T>)>,
}

impl<T> Line<T> {
    /// False if nobody listens any more.
    fn says(&self, what: T) -> bool {
        self.send.send((self.number, Some(what))).is_ok()
    }
}

impl<T> Drop for Line<T> {
    fn drop(&mut self) {
        let _ = self.send.send((self.number, None));
    }
}

/// Reads a module whole, and says what comes. Returns it, unless it is gone or nobody listens.
fn read_one(
    mut bus: impl FnMut(Stretch) -> Fact<HexBytes>,
    reader: &Reader<'_>,
    line: &Line<Fact<HexBytes>>,
) -> Option<Vec<MemoryBlock>> {
    let mut bus = |stretch| reader.read(|| bus(stretch));
    let mut part = Part::new();
    loop {
        let bytes = read_stretch(&mut bus, part.plan.next()?);
        let whole = part.take(bytes.clone());
        // Nobody listens any more where the time is up, and there is nothing more to hear where
        // the module is gone.
        if !line.says(bytes) || part.plan.over.is_some() {
            return None;
        }
        if let Some(whole) = whole {
            return whole.known().cloned();
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

/// Asks the kernel for one stretch.
fn ask(kernel: &mut Kernel, index: u32, stretch: Stretch) -> Fact<HexBytes> {
    let Stretch { address, bank, page, offset, length } = stretch;
    let question = Question::ModuleMemory { index, address, bank, page, offset, length };
    let mut bytes = None;
    match (kernel.ask(question, |body| bytes = module_bytes(body)), bytes) {
        (Ok(_), Some(bytes)) if !bytes.is_empty() => Fact::Known(HexBytes(bytes)),
        (Ok(_), _) => Fact::missing_with(Reason::NotReported, "an answer without bytes"),
        (Err(failure), _) if is_errno(&failure, libc::ENODEV) => {
            Fact::Missing(empty_or_away(kernel, index, &failure))
        }
        // The address phase was not acknowledged: nothing listens at the module's address
        // (fault codes of the kernel's two-wire bus documentation, from memory).
        (Err(failure), _) if is_errno(&failure, libc::ENXIO) => {
            Fact::missing_with(Reason::BusError, NOTHING_LISTENS)
        }
        (Err(failure), _) => Fact::Missing(failure.missing()),
    }
}

const NOTHING_LISTENS: &str = "nothing answers at the module's address";

fn is_errno(failure: &Failure, errno: i32) -> bool {
    matches!(failure, Failure::Refused(refusal) if refusal.errno == errno)
}

/// "No such device" is what an empty cage answers, and a device that is asleep or gone as well:
/// the cage is empty only if the interface answers something else at the same time.
fn empty_or_away(kernel: &mut Kernel, index: u32, failure: &Failure) -> Missing {
    let why = failure.missing();
    if why.reason == Reason::Gone {
        return Missing::with(Reason::Gone, "the interface vanished while its module was read");
    }
    match kernel.ask(Question::LinkState(About::One(index)), |_| {}) {
        Ok(_) => Missing::with(Reason::NotPresent, "the driver says that no module is there"),
        Err(_) => why,
    }
}

/// Reads one stretch, once more where the bus failed or was busy. Where it still fails, and is
/// not the first stretch, the identifier tells whether only this page fails or the module is gone.
fn read_stretch(
    bus: &mut impl FnMut(Stretch) -> Fact<HexBytes>,
    stretch: Stretch,
) -> Fact<HexBytes> {
    let mut twice = |stretch| match bus(stretch) {
        Fact::Missing(why) if matches!(why.reason, Reason::BusError | Reason::Busy) => {
            std::thread::sleep(Duration::from_millis(20));
            bus(stretch)
        }
        other => other,
    };
    let why = match twice(stretch) {
        Fact::Missing(why) => why,
        got => return got,
    };
    if stretch == FIRST {
        return Fact::Missing(why);
    }
    let now = match why.reason {
        Reason::BusError => twice(IDENTIFIER),
        _ => Fact::Missing(why.clone()),
    };
    let removed = now.why_missing().is_some_and(|now| {
        now.reason == Reason::NotPresent || now.detail() == Some(NOTHING_LISTENS)
    });
    if removed {
        return Fact::missing_with(Reason::Gone, "the module was removed while being read");
    }
    Fact::Missing(why)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn octets(plan: &[Stretch]) -> usize {
        plan.iter().map(|stretch| usize::from(stretch.length)).sum()
    }

    /// What is read of a module that holds these bytes in these pages; the budget, in bytes.
    fn plan(first: &[u8], advertising: &[u8]) -> (Vec<Stretch>, usize) {
        let mut plan = Plan::new();
        while let Some(stretch) = plan.next() {
            let bytes = match stretch {
                FIRST => first.to_vec(),
                CMIS_ADVERTISING => advertising.to_vec(),
                _ => vec![0; usize::from(stretch.length)],
            };
            plan.came(&Fact::Known(HexBytes(bytes)));
        }
        let octets = octets(&plan.all);
        (plan.all, octets)
    }

    /// Budgets: an SFP without diagnostics takes one read of 96 bytes, with diagnostics two of
    /// 216; a request must not cross byte 128 (kernel rule, kernel-facts).
    #[test]
    fn only_what_answers_the_question() {
        let mut sfp = [0u8; 96];
        sfp[0] = 0x03;
        assert_eq!(plan(&sfp, &[]).1, 96);
        sfp[92] = 0x68;
        assert_eq!(plan(&sfp, &[]).1, 216);
        sfp[92] = 0x6c; // address change needed: kernels do not do it
        assert_eq!(plan(&sfp, &[]).1, 96);
        let mut module = [0u8; 96];
        module[0] = 0x11;
        assert_eq!(plan(&module, &[]), (vec![FIRST, LOWER_REST, UPPER_00, SFF8636_LIMITS], 296));
        module[2] = 0x04; // flat memory, SFF-8636 byte 2 bit 2
        assert_eq!(plan(&module, &[]), (vec![FIRST, LOWER_REST, UPPER_00], 224));
        module[0] = 0x18;
        module[2] = 0x80; // flat memory, CMIS byte 2 bit 7
        assert_eq!(plan(&module, &[]), (vec![FIRST, LOWER_REST, UPPER_00], 224));
        for identifier in 0..=255u8 {
            let mut first = [0u8; 96];
            first[0] = identifier;
            for stretch in plan(&first, &[0xff; 128]).0 {
                let end = u16::from(stretch.offset) + u16::from(stretch.length);
                assert!(end <= 256 && stretch.length <= 128);
                assert!(stretch.offset >= 128 || end <= 128, "crosses byte 128");
                assert!(stretch.page == 0 || stretch.offset >= 128);
            }
        }
    }

    /// Banks of CMIS by page 01h byte 142 bits 1-0: 0 = bank 0, 1 = 0-1, 2 = 0-3
    /// (module-memory-maps, section 4.4).
    #[test]
    fn lanes_beyond_eight_are_read_from_their_banks() {
        let mut first = [0u8; 96];
        first[0] = 0x18;
        for (bits, banks) in [(0xfc, 1), (0x01, 2), (0x02, 4), (0x03, 1)] {
            let mut advertising = [0u8; 128];
            advertising[14] = bits;
            let (all, _) = plan(&first, &advertising);
            for page in [0x10, 0x11] {
                let read: Vec<u8> =
                    all.iter().filter(|read| read.page == page).map(|read| read.bank).collect();
                assert_eq!(read, (0..banks).collect::<Vec<u8>>(), "page {page:#x}, {bits:#x}");
            }
        }
    }

    /// Modules whose readers are played by the test.
    fn played(modules: usize, limit: Duration) -> (mpsc::Sender<Sent>, Reading) {
        let (send, receive) = mpsc::channel();
        let parts = (0..modules).map(|_| Some(Part::new())).collect();
        let until = Instant::now() + limit;
        (send, Reading { receive, until, parts, again: mpsc::channel().1, schedule: None })
    }

    fn sfp_with_diagnostics() -> Fact<HexBytes> {
        let mut first = vec![0u8; 96];
        (first[0], first[92]) = (0x03, 0x68);
        Fact::Known(HexBytes(first))
    }

    #[test]
    fn a_stretch_that_fails_does_not_hide_the_others() {
        let mut first = vec![0u8; 96];
        first[0] = 0x11;
        let good = |length| Fact::Known(HexBytes(vec![1; length]));
        let bad = Fact::missing(Reason::BusError);
        let (send, mut reading) = played(1, Duration::from_secs(5));
        for bytes in [Fact::Known(HexBytes(first)), bad, good(96), good(72)] {
            send.send((0, Some(bytes))).unwrap();
        }
        let (_, memory) = reading.next().unwrap();
        let blocks = memory.known().unwrap().clone();
        assert_eq!(blocks.len(), 4);
        assert_eq!(blocks[1].bytes.why_missing().unwrap().reason, Reason::BusError);
        assert_eq!((blocks[3].page, blocks[3].offset), (3, 128));
        assert!(blocks[3].bytes.known().is_some());
        assert_eq!(reading.next(), None);
    }

    /// One module is done, one gave its first stretch, one nothing at all, one's reader ended.
    #[test]
    fn who_is_done_comes_first_and_what_did_not_come_in_time_is_named() {
        let (send, mut reading) = played(4, Duration::from_millis(30));
        send.send((1, Some(sfp_with_diagnostics()))).unwrap();
        let mut plain = vec![0u8; 96];
        plain[0] = 0x03;
        send.send((3, Some(Fact::Known(HexBytes(plain))))).unwrap();
        send.send((3, None)).unwrap();
        send.send((0, None)).unwrap();
        let came: Vec<_> = std::iter::from_fn(|| reading.next()).collect();
        let order: Vec<usize> = came.iter().map(|(number, _)| *number).collect();
        assert_eq!(order, [3, 0, 1, 2]);
        assert_eq!(came[0].1.known().unwrap().len(), 1);
        assert_eq!(came[1].1.why_missing().unwrap().reason, Reason::NotReported);
        let blocks = came[2].1.known().unwrap();
        assert_eq!(blocks.len(), 2);
        assert_eq!(blocks[1].two_wire_address, 0x51);
        assert_eq!(blocks[1].bytes.why_missing().unwrap().reason, Reason::TimedOut);
        assert_eq!(came[3].1.why_missing().unwrap().reason, Reason::TimedOut);
    }

    /// What one stretch gives on a bus that answers this, one after another, and what was asked.
    fn on_a_bus(stretch: Stretch, answers: Vec<Fact<HexBytes>>) -> (Fact<HexBytes>, Vec<Stretch>) {
        let mut asked = Vec::new();
        let mut answers = answers.into_iter();
        let got = read_stretch(
            &mut |stretch| {
                asked.push(stretch);
                answers.next().unwrap()
            },
            stretch,
        );
        assert_eq!(answers.next(), None, "not asked as often as expected");
        (got, asked)
    }

    #[test]
    fn a_page_that_fails_is_told_from_a_module_that_was_removed() {
        let good = || Fact::Known(HexBytes(vec![7]));
        let bad = || Fact::missing(Reason::BusError);
        let silent = || Fact::missing_with(Reason::BusError, NOTHING_LISTENS);
        let empty = || Fact::missing(Reason::NotPresent);
        let page = SFF8636_LIMITS;
        // Once more, and no more often.
        assert_eq!(on_a_bus(page, vec![bad(), good()]), (good(), vec![page, page]));
        let asked = vec![page, page, IDENTIFIER];
        assert_eq!(on_a_bus(page, vec![bad(), bad(), good()]), (bad(), asked.clone()));
        // The driver says it; or nothing listens at the module's address any more.
        let removed = Fact::missing_with(Reason::Gone, "the module was removed while being read");
        assert_eq!(on_a_bus(page, vec![empty()]), (removed.clone(), vec![page]));
        assert_eq!(on_a_bus(page, vec![bad(), bad(), empty()]), (removed.clone(), asked));
        let all = vec![silent(), silent(), silent(), silent()];
        let asked = vec![page, page, IDENTIFIER, IDENTIFIER];
        assert_eq!(on_a_bus(page, all), (removed, asked));
        // Before anything was read there was nothing to be removed.
        assert_eq!(on_a_bus(FIRST, vec![empty()]), (empty(), vec![FIRST]));
        assert_eq!(on_a_bus(FIRST, vec![bad(), bad()]), (bad(), vec![FIRST, FIRST]));
    }

    /// Nothing is waited for once the module is gone, and every stretch says so.
    #[test]
    fn after_a_removal_nothing_more_is_asked() {
        let mut first = vec![0u8; 96];
        first[0] = 0x11;
        let gone = Fact::missing_with(Reason::Gone, "the module was removed while being read");
        let (send, mut reading) = played(1, Duration::from_secs(5));
        send.send((0, Some(Fact::Known(HexBytes(first))))).unwrap();
        send.send((0, Some(gone.clone()))).unwrap();
        let (_, memory) = reading.next().unwrap();
        let blocks = memory.known().unwrap().clone();
        assert_eq!(blocks.len(), 4);
        assert!(blocks[1..].iter().all(|block| block.bytes == gone));
    }

    const AGAIN: Stretch = stretch(0x51, 0, 96, 15);

    /// Runs a bus of an SFP with diagnostics by a schedule of milliseconds. `later` answers what is
    /// asked after the whole memory, by how often it was. Returns the readings and what was asked
    /// for them.
    fn followed(
        every: u64,
        until: u64,
        later: impl Fn(usize) -> Fact<HexBytes> + Send + 'static,
    ) -> (Vec<ReadingAgain>, Vec<Stretch>) {
        let zero = Instant::now();
        let milliseconds = Duration::from_millis;
        let (every, until) = (milliseconds(every), zero + milliseconds(until));
        let asked = Arc::new(std::sync::Mutex::new(Vec::new()));
        let bus = {
            let asked = Arc::clone(&asked);
            move |stretch: Stretch| {
                if stretch == FIRST {
                    return sfp_with_diagnostics();
                } else if stretch == SFF8472_DIAGNOSTICS {
                    return Fact::Known(HexBytes(vec![1; 120]));
                }
                let mut asked = asked.lock().unwrap();
                asked.push(stretch);
                let times = asked.len();
                drop(asked);
                later(times)
            }
        };
        let schedule = Some(Schedule { zero, every, until });
        let mut reading =
            Reading::over(std::iter::once(move || Ok(bus)), Duration::from_secs(5), schedule);
        assert!(reading.next().unwrap().1.known().is_some());
        let mut all = reading.again(milliseconds(400));
        assert!(all.len() <= 1);
        let asked = asked.lock().unwrap().clone();
        (all.pop().map(|(_, readings)| readings).unwrap_or_default(), asked)
    }

    fn good(_: usize) -> Fact<HexBytes> {
        Fact::Known(HexBytes(vec![1; 15]))
    }

    /// The budget: fifteen bytes a reading, and no reading more than the schedule has.
    #[test]
    fn readings_over_time_ask_for_the_monitors_alone() {
        let (readings, asked) = followed(60, 900, good);
        assert!(asked.iter().all(|stretch| *stretch == AGAIN), "{asked:?}");
        assert_eq!(asked.len(), readings.len());
        assert!((5..=16).contains(&readings.len()), "{}", readings.len());
        let at: Vec<u64> = readings.iter().map(|reading| reading.at_milliseconds).collect();
        assert!(at.is_sorted() && at.last() < Some(&1200), "{at:?}");
        // However short the time between two, there are no more than a capture may hold.
        let (readings, _) = followed(0, 60_000, good);
        assert_eq!(readings.len(), MOST_READINGS);
    }

    /// A reading of 40 ms where one is due every 10: the bus rests three times as long, so no more
    /// than four of them in 600 ms, and none is made up for.
    #[test]
    fn a_slow_bus_is_left_to_rest() {
        let (readings, asked) = followed(10, 600, |times| {
            std::thread::sleep(Duration::from_millis(40));
            good(times)
        });
        assert_eq!(asked.len(), readings.len());
        assert!((1..=4).contains(&readings.len()), "{}", readings.len());
        let at: Vec<u64> = readings.iter().map(|reading| reading.at_milliseconds).collect();
        assert!(at.windows(2).all(|pair| pair[1] - pair[0] >= 155), "{at:?}");
        assert!(at.last() < Some(&900), "{at:?}"); // a busy machine may come late
    }

    /// How the readings end, and how often the bus is asked until then.
    #[test]
    fn readings_end_where_there_is_nothing_more_to_read() {
        let end = |later: fn(usize) -> Fact<HexBytes>| {
            let (readings, asked) = followed(5, 2000, later);
            let last = readings.last().unwrap().ranges.last().unwrap();
            (readings.len(), asked.len(), last.bytes.why_missing().unwrap().clone())
        };
        // Taken out: the driver says so, or nothing listens any more.
        let (readings, asked, why) = end(|times| match times {
            ..3 => good(times),
            _ => Fact::missing(Reason::NotPresent),
        });
        assert_eq!((readings, asked, why.reason), (3, 3, Reason::Gone));
        let (readings, _, why) = end(|times| match times {
            ..3 => good(times),
            _ => Fact::missing_with(Reason::BusError, NOTHING_LISTENS),
        });
        assert_eq!((readings, why.reason), (3, Reason::Gone));
        // Fewer bytes than were asked for.
        let (readings, asked, why) = end(|_| Fact::Known(HexBytes(vec![1; 7])));
        assert_eq!((readings, asked, why.reason), (1, 1, Reason::ShortPage));
        assert!(why.detail().unwrap().contains("7 bytes came where 15"), "{why}");
        // The bus fails: three readings, each twice, and the identifier twice.
        let (readings, asked, why) = end(|_| Fact::missing(Reason::BusError));
        assert_eq!((readings, asked, why.reason), (3, 12, Reason::BusError));
    }

    /// One failure in between is told, and does not end the readings.
    #[test]
    fn one_failure_ends_nothing() {
        let (readings, _) = followed(5, 2000, |times| match times {
            3 | 4 => Fact::missing(Reason::TimedOut),
            _ => good(times),
        });
        let failed: Vec<bool> =
            readings.iter().map(|one| one.ranges[0].bytes.known().is_none()).collect();
        assert!(failed.starts_with(&[false, false, true, true, false]), "{failed:?}");
        assert_eq!(failed.iter().filter(|failed| **failed).count(), 2);
    }

    /// A read that does not come back ends the readings, and nobody waits for it for ever.
    #[test]
    fn a_bus_that_hangs_ends_the_readings() {
        let (readings, asked) = followed(5, 700, |times| {
            if times == 3 {
                std::thread::sleep(Duration::from_secs(3600));
            }
            good(times)
        });
        assert_eq!((readings.len(), asked.len()), (3, 3));
        let why = readings[2].ranges[0].bytes.why_missing().unwrap().reason;
        assert_eq!(why, Reason::TimedOut);
    }
}
