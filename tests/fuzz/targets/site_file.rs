//! A site file.
#![no_main]

use libfuzzer_sys::fuzz_target;
use linkwright::site::Site;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(text) = std::str::from_utf8(bytes) {
        let _ = Site::parse(text);
    }
});
