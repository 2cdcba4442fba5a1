//! A module image: read, decoded, shown.
#![no_main]

use libfuzzer_sys::fuzz_target;
use linkwright::module::Memory;
use linkwright::render::{Style, decode, json};
use linkwright::snapshot::Fact;

fuzz_target!(|bytes: &[u8]| {
    let Ok((memory, laid_out)) = Memory::from_file(bytes) else { return };
    let Fact::Known(module) = memory.decode() else { return };
    let shown = decode::text(&module, &laid_out, Style::default());
    assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
    let _ = json::to_string(&decode::json(&module, &laid_out), true).unwrap();
});
