//! The parsers of kernel bytes, for fuzz targets: untrusted bytes in, no panic.

use crate::observe::live::{ask, driver_versions, ethernet, kernel_log, link, private_counters};
use crate::observe::neighbour;
use crate::snapshot::{Fact, Port};

/// One netlink datagram.
pub fn datagram(bytes: &[u8]) {
    let _ = ask::walk(bytes);
}

/// One body, as every kind of reply in turn.
pub fn reply(bytes: &[u8]) {
    let _ = link::link(bytes);
    let _ = ethernet::link_info(bytes);
    let _ = ethernet::link_modes(bytes);
    let _ = ethernet::link_state(bytes);
    let _ = ethernet::fec(bytes);
    let _ = ethernet::pause(bytes);
    let _ = ethernet::rings(bytes);
    let _ = ethernet::energy_saving(bytes);
    let _ = ethernet::statistics(bytes);
    let _ = ethernet::family(bytes);
    let _ = ethernet::module_bytes(bytes);
    let _ = driver_versions::versions(bytes);
    if let Ok(names) = private_counters::names(bytes, bytes.len() / 32) {
        let _ = private_counters::values(bytes, &names);
    }
}

/// One record of the kernel log.
pub fn log_record(bytes: &[u8]) {
    let mut ports = [Port {
        name: "fibre0".into(),
        bus_address: Fact::Known("0000:3b:00.0".into()),
        driver: Fact::Known("harbornic".into()),
        ..Port::default()
    }];
    kernel_log::one_record(bytes, &mut ports);
}

/// One frame of a neighbour, then the same as what stands behind its header: what is not a right
/// header would stop nearly all.
pub fn frame(bytes: &[u8]) {
    let _ = neighbour::frame(bytes);
    let _ = neighbour::announcement(bytes);
}
