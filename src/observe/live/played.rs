//! Modules read from buses that a bench plays, under the kernel's one lock: how long a slow one
//! holds up the others, without a kernel that has such modules and without an emulator's own pace.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use crate::observe::live::module_memory::{Reading, Stretch};
use crate::snapshot::{Fact, HexBytes, MemoryBlock};

/// A module that a bench plays.
pub struct Played {
    /// Its memory. What is not in it reads as zeros.
    pub memory: Vec<MemoryBlock>,
    /// How long one read of it takes.
    pub read: Duration,
}

impl Played {
    fn answer(&self, asked: Stretch) -> Fact<HexBytes> {
        std::thread::sleep(self.read);
        let at = |block: &&MemoryBlock| {
            (block.two_wire_address, block.bank, block.page, block.offset)
                == (asked.address, asked.bank, asked.page, asked.offset)
        };
        let zeros = || Fact::Known(HexBytes(vec![0; usize::from(asked.length)]));
        self.memory.iter().find(at).map_or_else(zeros, |block| block.bytes.clone())
    }
}

/// Reads all of them as the modules of a live host are read. `done` is told the number and the
/// memory of each as it is done.
pub fn read(modules: Vec<Played>, mut done: impl FnMut(usize, Fact<Vec<MemoryBlock>>)) {
    // Seen on 6.1: the kernel answers one module read at a time.
    let lock = Arc::new(Mutex::new(()));
    let open = |module: Played| {
        let lock = Arc::clone(&lock);
        move || {
            Ok(move |stretch| {
                let _one_at_a_time = lock.lock().unwrap_or_else(PoisonError::into_inner);
                module.answer(stretch)
            })
        }
    };
    let mut reading = Reading::over(modules.into_iter().map(open), Duration::from_secs(60), None);
    while let Some((number, memory)) = reading.next() {
        done(number, memory);
    }
}
