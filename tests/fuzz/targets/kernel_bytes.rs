//! Bytes of the kernel: netlink datagrams and replies, log records; and what neighbours announce.
#![no_main]

use libfuzzer_sys::fuzz_target;
use linkwright::observe::live::fuzz;

fuzz_target!(|bytes: &[u8]| {
    fuzz::datagram(bytes);
    fuzz::reply(bytes);
    fuzz::log_record(bytes);
    fuzz::frame(bytes);
});
