//! Whose turn it is on the modules' buses.
//!
//! In: readers of several modules, one thread each. Out: the order in which they read. The kernel
//! answers a module read under one lock of the whole host (seen on 6.1), so a read from a slow bus
//! holds up every other port as long as it lasts. So reads go in rounds, one a module, while they are
//! quick: a bus that hangs late in its module then finds the others as far as it was. A module that took long once is read on when those that did not are done: it then
//! costs the others one read, not all of its own. A read that does not come back keeps nobody from
//! trying, for a kernel without that lock.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A read that takes longer is slow. 128 bytes and their addressing take 11.8 ms on a two-wire
/// bus at 100 kHz, the standard's slowest: nine clocks a byte.
const QUICK: Duration = Duration::from_millis(30);

/// The turns of all readers.
pub(super) struct Turns {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    /// Who reads within its time, and since when.
    reading: Option<(usize, Instant)>,
    /// Reads under way that have taken too long.
    overdue: usize,
    /// By reader: how often it has read, as long as it is quick and not done.
    quick: Vec<Option<usize>>,
}

impl State {
    /// The reader is no longer among those that slow ones wait for.
    fn no_longer_quick(&mut self, reader: usize) {
        if let Some(quick) = self.quick.get_mut(reader) {
            *quick = None;
        }
    }

    /// How often a quick reader has read.
    fn reads(&self, reader: usize) -> Option<usize> {
        self.quick.get(reader).copied().flatten()
    }

    /// True if no quick reader is a round behind.
    fn is_next(&self, reads: usize) -> bool {
        self.quick.iter().flatten().all(|other| *other >= reads)
    }
}

/// One reader's place among the turns; dropped when it is done.
pub(super) struct Reader<'a> {
    turns: &'a Turns,
    number: usize,
}

impl Turns {
    /// For readers `0..readers`.
    pub fn new(readers: usize) -> Self {
        let state = State { quick: vec![Some(0); readers], ..State::default() };
        Self { state: Mutex::new(state), changed: Condvar::new() }
    }

    /// The reader of that number. Slow ones wait until it is dropped.
    pub fn reader(&self, number: usize) -> Reader<'_> {
        Reader { turns: self, number }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        // Nothing is left half done in the state by whoever failed.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Reader<'_> {
    /// Waits for the turn, then reads.
    pub fn read<T>(&self, read: impl FnOnce() -> T) -> T {
        let counted = self.wait();
        let got = read();
        self.leave(counted);
        got
    }

    /// True if the time of the read counts: no slow read is under way that it may have to wait for.
    fn wait(&self) -> bool {
        let mut state = self.turns.lock();
        loop {
            let Some(reads) = state.reads(self.number) else {
                if state.quick.iter().all(Option::is_none) {
                    return false;
                }
                state = self.turns.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
                continue;
            };
            if state.overdue > 0 {
                return false;
            } else if let Some((other, since)) = state.reading {
                let left = QUICK.saturating_sub(since.elapsed());
                if left.is_zero() {
                    state.no_longer_quick(other);
                    state.reading = None;
                    state.overdue += 1;
                    continue;
                }
                let waited = self.turns.changed.wait_timeout(state, left);
                state = waited.unwrap_or_else(PoisonError::into_inner).0;
                continue;
            } else if state.is_next(reads) {
                state.reading = Some((self.number, Instant::now()));
                return true;
            }
            state = self.turns.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn leave(&self, counted: bool) {
        if !counted {
            return;
        }
        let mut state = self.turns.lock();
        match state.reading {
            Some((reader, since)) if reader == self.number => {
                state.reading = None;
                if since.elapsed() > QUICK {
                    state.no_longer_quick(reader);
                } else if let Some(Some(reads)) = state.quick.get_mut(reader) {
                    *reads += 1;
                }
            }
            // Somebody saw that it took too long.
            _ => state.overdue = state.overdue.saturating_sub(1),
        }
        self.turns.changed.notify_all();
    }
}

impl Drop for Reader<'_> {
    fn drop(&mut self) {
        self.turns.lock().no_longer_quick(self.number);
        self.turns.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, mpsc};
    use std::thread::{sleep, spawn};

    use super::*;

    /// Eight readers of three reads each, on a host with one lock as the kernel has it; reader 0
    /// comes first and takes 60 ms a read. The others wait for one of its reads, not for three.
    #[test]
    fn a_slow_bus_costs_the_others_one_read() {
        let turns = Arc::new(Turns::new(8));
        let kernel = Arc::new(Mutex::new(()));
        let (send, receive) = mpsc::channel();
        let started = Instant::now();
        for number in 0..8 {
            let (turns, kernel, send) = (turns.clone(), kernel.clone(), send.clone());
            spawn(move || {
                let reader = turns.reader(number);
                for _ in 0..3 {
                    reader.read(|| {
                        let _held = kernel.lock().unwrap();
                        sleep(Duration::from_millis(if number == 0 { 60 } else { 1 }));
                    });
                }
                send.send((number, started.elapsed())).unwrap();
            });
            if number == 0 {
                sleep(Duration::from_millis(10)); // it reads before the others come
            }
        }
        let done: Vec<(usize, Duration)> = receive.iter().take(8).collect();
        assert_eq!(done[7].0, 0, "the slow one is last: {done:?}");
        assert!(done[7].1 >= Duration::from_millis(180), "{done:?}");
        // One slow read, 21 of 1 ms, and generous room for a busy machine; serial is 201 ms.
        assert!(done[6].1 < Duration::from_millis(120), "{done:?}");
    }

    /// A read that never comes back keeps nobody from reading.
    #[test]
    fn a_bus_that_hangs_keeps_nobody_waiting() {
        let turns = Arc::new(Turns::new(2));
        let (release, hang) = mpsc::channel::<()>();
        let hanging = turns.clone();
        let thread = spawn(move || {
            assert!(hanging.reader(0).read(|| hang.recv()).is_err(), "let go at the end");
        });
        while turns.lock().reading.is_none() {
            sleep(Duration::from_millis(1));
        }
        let reader = turns.reader(1);
        assert_eq!(reader.read(|| 1) + reader.read(|| 2), 3);
        drop(reader);
        drop(release);
        thread.join().unwrap();
        assert_eq!(turns.lock().overdue, 0);
    }
}
