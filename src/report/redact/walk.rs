//! Every field of the material, once. Structures are taken apart without `..`, so that a field
//! that is added later does not compile until somebody has said what it is.

use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

use crate::report::redact::Material;
use crate::site::{Site, SiteFar, SitePort};
use crate::snapshot::{
    Ethernet, ExtendedState, Fact, FecCounters, Gap, Host, Instant, LogLine, Missing, ModuleFacts,
    Neighbour, NeighbourAutonegotiation, NeighbourName, ParsedLane, ParsedReadings, PauseFrames,
    PciHop, Port, Reason, Related, Sensor, Slot, Snapshot, Statistics, UsbHop,
};

/// What a string is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A serial number.
    Serial,
    /// A name of a host or device.
    Host,
    /// A name of an interface.
    Interface,
    /// A MAC or IP address.
    Address,
    /// A version: four numbers with dots between them are no address here.
    Version,
    /// A word that a program chose (a counter, a mode): short names are not looked for in it.
    Identifier,
    /// Running text.
    Text,
}

/// Who looks at the fields.
pub trait Visitor {
    /// A string; another one that is to stand in its place, if any.
    fn string(&mut self, what: What, text: &str) -> Option<String>;
    /// Module memory.
    fn memory(&mut self, module: &mut ModuleFacts);
}

/// How the detail of such a fact begins.
const QUOTES: &str = "in the capture: ";

type V<'v> = &'v mut dyn Visitor;

fn string(text: &mut String, what: What, v: V<'_>) {
    if let Some(other) = v.string(what, text) {
        *text = other;
    }
}

fn strings<'t>(texts: impl IntoIterator<Item = &'t mut String>, what: What, v: V<'_>) {
    for text in texts {
        string(text, what, v);
    }
}

fn missing(missing: &mut Missing, v: V<'_>) {
    let Missing { reason, detail } = missing;
    // The reader of captures quotes a value that does not fit its field, whatever it is.
    if *reason == Reason::Malformed && detail.as_ref().is_some_and(|text| text.starts_with(QUOTES))
    {
        *missing = Missing::with(Reason::Malformed, format!("{QUOTES}the value does not fit"));
        return;
    }
    if let Some(text) = detail
        && let Some(other) = v.string(What::Text, text)
    {
        *text = Arc::new(other.into_boxed_str());
    }
}

/// The known value; what is said of an unknown one is looked at here.
fn known<'f, T>(fact: &'f mut Fact<T>, v: V<'_>) -> Option<&'f mut T> {
    match fact {
        Fact::Known(value) => Some(value),
        Fact::Missing(why) => {
            missing(why, v);
            None
        }
    }
}

/// Facts that hold no text of their own.
macro_rules! plain {
    ($v:expr; $($fact:expr),* $(,)?) => { $( known($fact, $v); )* };
}

/// Facts that are a text.
fn fact(fact: &mut Fact<String>, what: What, v: V<'_>) {
    if let Some(text) = known(fact, v) {
        string(text, what, v);
    }
}

fn list(fact: &mut Fact<Vec<String>>, what: What, v: V<'_>) {
    if let Some(texts) = known(fact, v) {
        strings(texts, what, v);
    }
}

/// Walks through all of it, in a fixed order.
pub fn material(material: &mut Material, v: V<'_>) {
    let Material { snapshots, far, far_port, site: told, said } = material;
    for one in snapshots {
        snapshot(one, v);
    }
    if let Some(far) = far {
        snapshot(far, v);
    }
    strings(far_port, What::Interface, v);
    if let Some(told) = told {
        site(told, v);
    }
    strings(said, What::Text, v);
}

fn snapshot(snapshot: &mut Snapshot, v: V<'_>) {
    let Snapshot { format: _, version: _, tool, taken_at, host, ports, gaps, file } = snapshot;
    // It is no part of what was seen, and may name anybody.
    *file = None;
    string(tool, What::Version, v);
    fact(taken_at, What::Identifier, v);
    let Host { name, kernel, may_read_modules, may_read_kernel_log } = host;
    string(name, What::Host, v);
    fact(kernel, What::Version, v);
    plain!(v; may_read_modules, may_read_kernel_log);
    for one in ports {
        port(one, v);
    }
    for Gap { what, missing: why, remedy } in gaps {
        string(what, What::Text, v);
        missing(why, v);
        strings(remedy, What::Text, v);
    }
}

fn port(port: &mut Port, v: V<'_>) {
    let Port {
        name,
        alternative_names,
        index,
        nature,
        software_kind,
        legs_without_link,
        mac_address,
        permanent_mac_address,
        controller,
        lower,
        admin_up,
        operational_state,
        carrier,
        mtu_octets,
        ethernet: settings,
        driver,
        driver_version,
        firmware,
        bus_address,
        physical_port,
        device_siblings,
        slot,
        numa_node,
        sensors,
        module,
        kernel_log,
        neighbours,
        listened_milliseconds,
        instants,
    } = port;
    string(name, What::Interface, v);
    strings(alternative_names, What::Interface, v);
    plain!(v; index, nature, admin_up, operational_state, carrier, mtu_octets, numa_node);
    strings(software_kind, What::Identifier, v);
    strings(legs_without_link, What::Interface, v);
    fact(mac_address, What::Address, v);
    fact(permanent_mac_address, What::Address, v);
    for Related { index: _, name, elsewhere: _, kind, carrier: _ } in
        controller.iter_mut().chain(lower)
    {
        strings(name, What::Interface, v);
        strings(kind, What::Identifier, v);
    }
    ethernet(settings, v);
    fact(driver, What::Identifier, v);
    fact(driver_version, What::Version, v);
    fact(firmware, What::Version, v);
    // Bus addresses and the driver's name of the physical port stay as they are.
    plain!(v; bus_address, physical_port);
    list(device_siblings, What::Interface, v);
    match known(slot, v) {
        Some(Slot::Pci { hops, tunnelled: _ }) => {
            for PciHop { address: _, speed_gts, width_lanes, best_speed_gts, best_width_lanes } in
                hops
            {
                plain!(v; speed_gts, width_lanes, best_speed_gts, best_width_lanes);
            }
        }
        Some(Slot::Usb { hops }) => {
            for UsbHop { address: _, speed_mbps } in hops {
                plain!(v; speed_mbps);
            }
        }
        Some(Slot::Other { name }) => string(name, What::Identifier, v),
        None => {}
    }
    for Sensor { chip, label, quantity, unit, value, limits } in
        known(sensors, v).into_iter().flatten()
    {
        strings([chip, label], What::Text, v);
        strings([quantity, unit], What::Identifier, v);
        plain!(v; value);
        keys(limits, v);
    }
    module_facts(module, v);
    for LogLine { at_microseconds: _, names: _, text } in known(kernel_log, v).into_iter().flatten()
    {
        string(text, What::Text, v);
    }
    for one in known(neighbours, v).into_iter().flatten() {
        neighbour(one, v);
    }
    plain!(v; listened_milliseconds);
    for one in instants {
        instant(one, v);
    }
}

fn ethernet(settings: &mut Ethernet, v: V<'_>) {
    let Ethernet {
        speed_mbps,
        duplex,
        autonegotiation,
        lanes,
        connector,
        supported_modes,
        advertised_modes,
        peer_modes,
        fec_supported,
        fec_advertised,
        fec_configured,
        fec_automatic,
        fec_active,
        extended_state,
        link_detected,
        signal_quality,
        flow_control,
        rings,
        energy_saving,
    } = settings;
    plain!(v; speed_mbps, duplex, autonegotiation, lanes, connector, fec_automatic, link_detected);
    plain!(v; signal_quality, flow_control, rings, energy_saving);
    for modes in [
        supported_modes,
        advertised_modes,
        peer_modes,
        fec_supported,
        fec_advertised,
        fec_configured,
    ] {
        list(modes, What::Identifier, v);
    }
    fact(fec_active, What::Identifier, v);
    if let Some(ExtendedState { state, substate }) = known(extended_state, v) {
        string(state, What::Identifier, v);
        strings(substate, What::Identifier, v);
    }
}

fn module_facts(module: &mut ModuleFacts, v: V<'_>) {
    v.memory(module);
    let ModuleFacts { memory, readings, readings_over_time } = module;
    for block in known(memory, v).into_iter().flatten() {
        plain!(v; &mut block.bytes);
    }
    for again in known(readings_over_time, v).into_iter().flatten() {
        for block in &mut again.ranges {
            plain!(v; &mut block.bytes);
        }
    }
    let Some(readings) = known(readings, v) else { return };
    let ParsedReadings {
        source,
        interface_types,
        vendor_name,
        part_number,
        serial_number,
        temperature_celsius,
        supply_volts,
        lanes,
        limits: _, // Numbers alone.
    } = readings;
    string(source, What::Text, v);
    strings(interface_types, What::Identifier, v);
    strings(vendor_name, What::Identifier, v);
    strings(part_number, What::Identifier, v);
    strings(serial_number, What::Serial, v);
    plain!(v; temperature_celsius, supply_volts);
    for ParsedLane { lane: _, bias_milliamps, tx_power_milliwatts, rx_power_milliwatts } in lanes {
        plain!(v; bias_milliamps, tx_power_milliwatts, rx_power_milliwatts);
    }
}

fn neighbour(neighbour: &mut Neighbour, v: V<'_>) {
    let Neighbour {
        at_milliseconds: _,
        chassis,
        port,
        lifetime_seconds: _,
        port_description,
        system_name,
        system_description,
        capabilities,
        management_addresses,
        autonegotiation,
        interface_type,
        aggregated: _,
        largest_frame_octets: _,
        port_vlan: _,
    } = neighbour;
    let NeighbourName { kind, name } = chassis;
    let what = match kind.as_str() {
        "MAC address" | "network address" => What::Address,
        "interface name" | "interface alias" => What::Interface,
        // A local name, or the part number and serial number of a chassis: it names a device.
        _ => What::Host,
    };
    string(name, what, v);
    string(kind, What::Identifier, v);
    let NeighbourName { kind, name } = port;
    let by_address = matches!(kind.as_str(), "MAC address" | "network address");
    string(name, if by_address { What::Address } else { What::Interface }, v);
    string(kind, What::Identifier, v);
    // Where a port is named by its address, its description is what people know it by.
    strings(port_description, if by_address { What::Interface } else { What::Text }, v);
    strings(system_name, What::Host, v);
    strings(system_description, What::Text, v);
    strings(capabilities.iter_mut().flatten(), What::Identifier, v);
    strings(management_addresses, What::Address, v);
    if let Some(NeighbourAutonegotiation { supported: _, enabled: _, offered_modes }) =
        autonegotiation
    {
        strings(offered_modes, What::Identifier, v);
    }
    strings(interface_type, What::Identifier, v);
}

fn instant(instant: &mut Instant, v: V<'_>) {
    let Instant {
        at_milliseconds: _,
        carrier,
        carrier_up_count,
        carrier_down_count,
        counters,
        statistics,
        fec_counters,
        pause_frames,
        private_counters,
        received_milliwatts,
    } = instant;
    plain!(v; carrier, carrier_up_count, carrier_down_count, received_milliwatts);
    if let Some(counters) = known(counters, v) {
        for counter in counters.each_mut() {
            plain!(v; counter);
        }
    }
    if let Some(Statistics { phy, mac, control, rmon }) = known(statistics, v) {
        for kept in [phy, mac, control, rmon] {
            keys(kept, v);
        }
    }
    if let Some(FecCounters { corrected_blocks, uncorrectable_blocks, corrected_bits }) =
        known(fec_counters, v)
    {
        plain!(v; corrected_blocks, uncorrectable_blocks, corrected_bits);
    }
    if let Some(PauseFrames { received, sent }) = known(pause_frames, v) {
        plain!(v; received, sent);
    }
    if let Some(kept) = known(private_counters, v) {
        keys(kept, v);
    }
}

/// The names in a table. None is lost where two become alike.
fn keys<T>(table: &mut BTreeMap<String, T>, v: V<'_>) {
    let renamed: Vec<Option<String>> =
        table.keys().map(|key| v.string(What::Identifier, key)).collect();
    if renamed.iter().all(Option::is_none) {
        return;
    }
    let (mut taken, mut number) = (HashSet::new(), 1_usize);
    let old = std::mem::take(table);
    // Those that stay keep their names.
    for (key, renamed) in old.keys().zip(&renamed) {
        if renamed.is_none() {
            taken.insert(key.clone());
        }
    }
    for ((key, value), renamed) in old.into_iter().zip(renamed) {
        let Some(base) = renamed else {
            table.insert(key, value);
            continue;
        };
        let mut name = base.clone();
        while !taken.insert(name.clone()) {
            number += 1;
            name = format!("{base} ({number})");
        }
        table.insert(name, value);
    }
}

fn site(site: &mut Site, v: V<'_>) {
    let Site { port } = site;
    for one in port {
        let SitePort {
            host,
            name,
            medium,
            length_m: _,
            connectors: _,
            strands: _,
            splices: _,
            intended_mbps: _,
            rx_power_before_dbm: _,
            changes_when_moved: _,
            in_use: _,
            physical: _,
            far,
        } = one;
        strings(host, What::Host, v);
        string(name, What::Interface, v);
        strings(medium, What::Identifier, v);
        let SiteFar {
            host,
            port,
            best_mbps: _,
            admin_up: _,
            transmits: _,
            tx_power_dbm: _,
            rx_power_dbm: _,
            receives_light: _,
            fec,
            module,
            mtu_octets: _,
            set_mbps: _,
            autonegotiation: _,
            half_duplex: _,
            lanes: _,
            wavelength_nm: _,
        } = far;
        strings(host, What::Host, v);
        strings(port, What::Interface, v);
        strings(fec, What::Identifier, v);
        strings(module, What::Identifier, v);
    }
}
