//! What was seen: one host, its ports, at one or more instants. Raw facts, no judgement.
//!
//! Filled by `observe` (from a live host or a capture file) and read by everything after it.
//! A capture file is this structure as JSON. Every field but a port's name may be absent; an
//! absent fact is [`Reason::NotAsked`], never zero. Field names carry their unit.

mod fact;
mod hex;

use std::collections::{BTreeMap, HashMap};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use fact::{Fact, Missing, Reason};
pub use hex::HexBytes;

/// The word in a capture's `format` field.
pub const FORMAT: &str = "linkwright-capture";
/// Newest capture version this program reads: a newer major version is refused.
pub const VERSION: FormatVersion = FormatVersion { major: 1, minor: 2 };

/// Version of the capture format. A new minor version adds fields, a new major one breaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FormatVersion {
    /// Raised when an old reader would misread.
    pub major: u32,
    /// Raised when fields were added.
    #[serde(default)]
    pub minor: u32,
}

/// One host at one or more instants.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Snapshot {
    /// Always `linkwright-capture`.
    pub format: String,
    /// Version of the format.
    pub version: FormatVersion,
    /// Program and version that made it, for a reader's information only.
    #[serde(default)]
    pub tool: String,
    /// When the first instant was taken, RFC 3339 in UTC.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub taken_at: Fact<String>,
    /// The host.
    #[serde(default)]
    pub host: Host,
    /// The ports, in index order.
    #[serde(default)]
    pub ports: Vec<Port>,
    /// What could not be read at all, or only with a doubt, host-wide.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub gaps: Vec<Gap>,
    /// Name of the file it was read from, if it was: for headings, and no part of the capture.
    #[serde(skip)]
    pub file: Option<String>,
}

impl Snapshot {
    /// Name of the host for a heading: with the file where several captures of it are at hand.
    pub fn label(&self, all: &[Self]) -> String {
        let twins = all.iter().filter(|other| other.host.name == self.host.name).count();
        match &self.file {
            Some(file) if twins > 1 => format!("{} ({file})", self.host.name),
            _ => self.host.name.clone(),
        }
    }
}

/// Something host-wide that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Gap {
    /// What, in plain English ("kernel log").
    pub what: String,
    /// Why.
    pub missing: Missing,
    /// What would help, in plain English ("run as root, or with CAP_SYSLOG").
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<String>,
}

/// The host itself.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Host {
    /// Host name.
    pub name: String,
    /// Kernel release.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub kernel: Fact<String>,
    /// Whether the run could read module memory (net-admin capability).
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub may_read_modules: Fact<bool>,
    /// Whether the run could read the kernel log.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub may_read_kernel_log: Fact<bool>,
}

/// What stands behind an interface.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Nature {
    /// A device on a bus.
    Hardware,
    /// Made by software; never judged on speed.
    Virtual,
    /// The loopback interface.
    Loopback,
}

/// One interface.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Port {
    /// Interface name.
    pub name: String,
    /// Other names it answers to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alternative_names: Vec<String>,
    /// Interface index.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub index: Fact<u32>,
    /// Device on a bus, made by software, or loopback.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub nature: Fact<Nature>,
    /// What kind of software interface (`veth`, `vlan`, `bridge`, ...), as the kernel names it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub software_kind: Option<String>,
    /// Of a bond: the legs that are switched on and had no carrier, by name, as far as they are
    /// visible here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub legs_without_link: Vec<String>,
    /// MAC address in use.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub mac_address: Fact<String>,
    /// MAC address burnt into the hardware.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub permanent_mac_address: Fact<String>,
    /// Interface this one belongs to (bond, bridge), by index or name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller: Option<Related>,
    /// Interface this one stands on, or (veth) its other end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower: Option<Related>,
    /// Administrative state (RFC 2863 ifAdminStatus): true is up.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub admin_up: Fact<bool>,
    /// Operational state (RFC 2863 ifOperStatus).
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub operational_state: Fact<OperationalState>,
    /// Carrier at the last instant.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub carrier: Fact<bool>,
    /// Maximum transmission unit, octets of payload.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub mtu_octets: Fact<u32>,
    /// Ethernet settings and state.
    #[serde(default)]
    pub ethernet: Ethernet,
    /// Driver name.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub driver: Fact<String>,
    /// Version of the driver, in its own words; a driver that is part of the kernel may tell the
    /// kernel's release.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub driver_version: Fact<String>,
    /// Version of the adapter's firmware, in its driver's words.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub firmware: Fact<String>,
    /// Address of the device on its bus.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub bus_address: Fact<String>,
    /// What the driver calls the physical port; one that is split has `s` and a number behind it
    /// (`p1s0`).
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub physical_port: Fact<String>,
    /// Names of the other interfaces on the same device of the bus, whatever its function number.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub device_siblings: Fact<Vec<String>>,
    /// Where the adapter is plugged in, up to the root of the bus.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub slot: Fact<Slot>,
    /// Memory node the slot belongs to.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub numa_node: Fact<u32>,
    /// Sensors of the adapter or port.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub sensors: Fact<Vec<Sensor>>,
    /// The pluggable module or cable.
    #[serde(default)]
    pub module: ModuleFacts,
    /// Kernel log lines that name the interface, its bus address or its driver; newest last.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub kernel_log: Fact<Vec<LogLine>>,
    /// Who announced itself on the cable (IEEE 802.1AB) while it was listened for that. None is not
    /// nobody: who announces nothing, or seldom, is not heard.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub neighbours: Fact<Vec<Neighbour>>,
    /// How long it was listened for them, milliseconds.
    #[serde(default, skip_serializing_if = "Fact::is_not_asked")]
    pub listened_milliseconds: Fact<u64>,
    /// Counters at each instant, in the order they were taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instants: Vec<Instant>,
}

impl Port {
    /// True if this is the port's name or one of its alternative names.
    pub fn answers_to(&self, name: &str) -> bool {
        self.name == name || self.alternative_names.iter().any(|other| other == name)
    }

    /// Every name the port answers to, its own first.
    pub fn names(&self) -> Vec<&str> {
        let others = self.alternative_names.iter().map(String::as_str);
        std::iter::once(self.name.as_str()).chain(others).collect()
    }

    /// True unless it is known to be made by software.
    pub fn is_hardware(&self) -> bool {
        match self.nature {
            Fact::Known(nature) => nature == Nature::Hardware,
            Fact::Missing(_) => self.software_kind.is_none() && self.name != "lo",
        }
    }
}

/// Another interface, as far as it is known.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Related {
    /// Interface index.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub index: Option<u32>,
    /// Interface name, if that interface is visible here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// True if it is in another network namespace.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub elsewhere: bool,
    /// Of a controller: what kind of software interface it is (`bond`, `bridge`), if that
    /// interface is visible here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// Of a controller: whether it had carrier when the interfaces were listed, if that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carrier: Option<bool>,
}

/// Tells each port the name of the interface that it belongs to or stands on, and the kind and
/// carrier of the one it belongs to, where those are among these ports. What is told already
/// stays.
pub fn relate(ports: &mut [Port]) {
    let by_index: HashMap<u32, usize> = ports
        .iter()
        .enumerate()
        .filter_map(|(place, port)| Some((*port.index.known()?, place)))
        .collect();
    // Somebody who writes a capture by hand may leave indexes out.
    let unnumbered = |related: &Related| related.index.is_none() && !related.elsewhere;
    let by_name: HashMap<String, usize> =
        if ports.iter().filter_map(|port| port.controller.as_ref()).any(unnumbered) {
            ports.iter().enumerate().map(|(place, port)| (port.name.clone(), place)).collect()
        } else {
            HashMap::new()
        };
    let mut without_link: Vec<(usize, String)> = Vec::new();
    for place in 0..ports.len() {
        let there = |related: Option<&Related>| {
            let related = related?;
            let place = match (related.index, &related.name) {
                (Some(index), _) => by_index.get(&index),
                (None, Some(name)) => by_name.get(name),
                (None, None) => None,
            };
            ports.get(*place?)
        };
        let Some(port) = ports.get(place) else { continue };
        let above = there(port.controller.as_ref());
        let above = above
            .map(|at| (at.name.clone(), at.software_kind.clone(), at.carrier.known().copied()));
        let below = there(port.lower.as_ref()).map(|port| port.name.clone());
        let Some(port) = ports.get_mut(place) else { continue };
        if let (Some(related), Some((name, kind, carrier))) = (&mut port.controller, above) {
            related.name.get_or_insert(name);
            related.kind = related.kind.take().or(kind);
            related.carrier = related.carrier.or(carrier);
            let lost = port.carrier == Fact::Known(false) && port.admin_up == Fact::Known(true);
            if lost && related.kind.as_deref() == Some("bond") && !related.elsewhere {
                let bond = related.index.and_then(|index| by_index.get(&index).copied());
                without_link.extend(bond.map(|bond| (bond, port.name.clone())));
            }
        }
        if let (Some(related), Some(name)) = (&mut port.lower, below) {
            related.name.get_or_insert(name);
        }
    }
    for (bond, leg) in without_link {
        let Some(bond) = ports.get_mut(bond) else { continue };
        if !bond.legs_without_link.contains(&leg) {
            bond.legs_without_link.push(leg);
        }
    }
}

/// What somebody on the cable announced of itself (IEEE 802.1AB). What it did not announce is left
/// out. Its texts are its own words, as they came: trust them no more than that.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Neighbour {
    /// When it was heard last, milliseconds after the listening began.
    pub at_milliseconds: u64,
    /// Which device.
    pub chassis: NeighbourName,
    /// Which port of it.
    pub port: NeighbourName,
    /// How long the announcement holds, seconds.
    pub lifetime_seconds: u16,
    /// The port in its own words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub port_description: Option<String>,
    /// Name of the device.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system_name: Option<String>,
    /// The device in its own words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub system_description: Option<String>,
    /// What it works as: `bridge`, `router`, `station only`, ...
    #[serde(skip_serializing_if = "Option::is_none")]
    pub capabilities: Option<Vec<String>>,
    /// Network addresses it is managed by.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub management_addresses: Vec<String>,
    /// Its autonegotiation (IEEE 802.3 clause 79).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub autonegotiation: Option<NeighbourAutonegotiation>,
    /// Interface type its port runs (`1000BASE-T`, `100BASE-TX half`); `mau 79` for a number of the
    /// IANA MAU registry that is not known here.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub interface_type: Option<String>,
    /// Whether its port works in an aggregation.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aggregated: Option<bool>,
    /// Largest frame it takes, octets, header and check sequence included.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub largest_frame_octets: Option<u16>,
    /// VLAN that it puts untagged frames into.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub port_vlan: Option<u16>,
}

/// A name of a device or of a port of it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct NeighbourName {
    /// What is used as a name: `MAC address`, `interface name`, `local name`, ...
    pub kind: String,
    /// The name; hex digits where it is not text.
    pub name: String,
}

/// Autonegotiation as a neighbour announces it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct NeighbourAutonegotiation {
    /// Whether the port can negotiate.
    pub supported: bool,
    /// Whether that is switched on.
    pub enabled: bool,
    /// Modes it offers, as far as the announcement can name them: up to 1 Gb/s. `other or unknown`
    /// stands for those that it cannot.
    pub offered_modes: Vec<String>,
}

/// RFC 2863 ifOperStatus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OperationalState {
    /// Ready to pass packets.
    Up,
    /// Not ready.
    Down,
    /// In a test mode.
    Testing,
    /// Cannot be told.
    Unknown,
    /// Waiting for something outside (port authentication, say).
    Dormant,
    /// A part is missing.
    NotPresent,
    /// The interface below is not up.
    LowerLayerDown,
}

/// Duplex.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Duplex {
    /// Both directions at once.
    Full,
    /// One direction at a time.
    Half,
}

/// What the port says it is wired to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Connector {
    /// Twisted pair.
    TwistedPair,
    /// Fibre.
    Fibre,
    /// Direct-attach copper cable.
    DirectAttach,
    /// Nothing is connected.
    None,
    /// Something else.
    Other,
}

/// Ethernet settings and state. Link modes are named as IEEE 802.3 names them, with ` half`
/// appended for half duplex (`10GBASE-SR`, `100BASE-TX half`); a mode that is not known is
/// `mode bit 121`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Ethernet {
    /// Speed now, Mb/s.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub speed_mbps: Fact<u32>,
    /// Duplex now.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub duplex: Fact<Duplex>,
    /// Whether autonegotiation is switched on.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub autonegotiation: Fact<bool>,
    /// Lanes in use.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub lanes: Fact<u32>,
    /// What the port is wired to.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub connector: Fact<Connector>,
    /// Link modes this port can do.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub supported_modes: Fact<Vec<String>>,
    /// Link modes this port offers.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub advertised_modes: Fact<Vec<String>>,
    /// Link modes the other end offered.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub peer_modes: Fact<Vec<String>>,
    /// FEC codes the port can do: `rs`, `base-r`, `ll-rs`, `none`.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_supported: Fact<Vec<String>>,
    /// FEC codes the port offers.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_advertised: Fact<Vec<String>>,
    /// FEC codes that are allowed by configuration.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_configured: Fact<Vec<String>>,
    /// Whether the port picks the FEC code by itself.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_automatic: Fact<bool>,
    /// FEC code at work: `rs`, `base-r`, `ll-rs`, `none`.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_active: Fact<String>,
    /// Why the link is down, as the driver sees it.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub extended_state: Fact<ExtendedState>,
    /// Link detected, as the driver answers (not the carrier flag).
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub link_detected: Fact<bool>,
    /// Signal quality index of a twisted-pair PHY, and its best value.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub signal_quality: Fact<SignalQuality>,
    /// Flow control by pause frames, as it is set (IEEE 802.3 annex 31B).
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub flow_control: Fact<FlowControl>,
    /// Receive and transmit rings.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub rings: Fact<Rings>,
    /// Energy-efficient Ethernet (IEEE 802.3 clause 78).
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub energy_saving: Fact<EnergySaving>,
}

/// Flow control as it is set. A part that the driver does not tell is `null`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct FlowControl {
    /// Whether it is agreed upon while negotiating.
    pub negotiated: Option<bool>,
    /// Whether this port stops sending when it receives a pause frame.
    pub receive: Option<bool>,
    /// Whether this port may send pause frames.
    pub transmit: Option<bool>,
}

/// Sizes of the rings that frames wait in, frames each. What the driver does not tell is `null`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Rings {
    /// Receive ring now.
    pub receive: Option<u32>,
    /// Receive ring at most.
    pub receive_most: Option<u32>,
    /// Transmit ring now.
    pub transmit: Option<u32>,
    /// Transmit ring at most.
    pub transmit_most: Option<u32>,
}

/// Energy-efficient Ethernet. A part that the driver does not tell is `null`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct EnergySaving {
    /// Whether it is switched on here.
    pub enabled: Option<bool>,
    /// Whether both ends agreed on it, so that the link goes to sleep between frames.
    pub active: Option<bool>,
}

/// Signal quality as a twisted-pair PHY reports it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SignalQuality {
    /// Now.
    pub index: u32,
    /// The best value the PHY can report, if it says.
    #[serde(default)]
    pub best: Option<u32>,
}

/// The driver's reason for a link that is down, in kebab-case English
/// (`no-cable`; `logical-mismatch` with `rs-fec-not-locked`). Unlisted numbers are `state-17`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ExtendedState {
    /// The state.
    pub state: String,
    /// More about it, if the driver says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substate: Option<String>,
}

/// Where the adapter is plugged in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "bus", rename_all = "kebab-case")]
pub enum Slot {
    /// PCI Express: the adapter first, then each bridge above it, the root port last.
    Pci {
        /// Adapter and bridges.
        hops: Vec<PciHop>,
        /// True if the path runs through a cable tunnel.
        #[serde(default)]
        tunnelled: bool,
    },
    /// USB: the adapter first, then each hub above it, the root hub last.
    Usb {
        /// Adapter and hubs.
        hops: Vec<UsbHop>,
    },
    /// Another bus (the board itself, a hypervisor's).
    Other {
        /// Name of the bus.
        name: String,
    },
}

/// One PCI Express device on the path. Speeds in GT/s a lane.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct PciHop {
    /// PCI address.
    pub address: String,
    /// Speed now of this device's link, GT/s a lane: of the adapter and a switch's upper port the
    /// link above it, of a root port and a switch's lower port the link below it.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub speed_gts: Fact<f64>,
    /// Width now of that link, lanes.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub width_lanes: Fact<u32>,
    /// Best speed this device can do, GT/s a lane.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub best_speed_gts: Fact<f64>,
    /// Best width this device can do, lanes.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub best_width_lanes: Fact<u32>,
}

/// One USB device on the path.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct UsbHop {
    /// Bus position.
    pub address: String,
    /// Bus speed, Mb/s.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub speed_mbps: Fact<u32>,
}

/// A sensor of the adapter or port, in the kernel's scaling turned into plain units.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Sensor {
    /// Name of the sensor chip.
    pub chip: String,
    /// Label, or the channel's name.
    pub label: String,
    /// What it measures: `temperature`, `voltage`, `current`, `power`.
    pub quantity: String,
    /// Unit of the numbers: `celsius`, `volts`, `milliamps`, `milliwatts`.
    pub unit: String,
    /// Reading.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub value: Fact<f64>,
    /// Limits by name: `high_alarm`, `high_warning`, `low_warning`, `low_alarm`.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub limits: BTreeMap<String, f64>,
}

/// What is known of the pluggable module or cable: raw memory, or readings parsed elsewhere.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct ModuleFacts {
    /// Raw memory, as blocks.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub memory: Fact<Vec<MemoryBlock>>,
    /// Readings that something else has parsed.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub readings: Fact<ParsedReadings>,
    /// The bytes of what the module monitors, read again and again between the first instant and
    /// the last, 61 times at most. Where the last one failed, nothing was read after it. Since
    /// version 1.2.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub readings_over_time: Fact<Vec<ReadingAgain>>,
}

/// Most readings over time that a capture may hold of a module.
pub const MOST_READINGS: usize = 61;
/// Most stretches of memory that one of them may hold: the lower half and four banks of lanes.
pub const MOST_RANGES: usize = 5;

/// One of several readings of what a module monitors.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct ReadingAgain {
    /// When it was half done, milliseconds after the first instant.
    pub at_milliseconds: u64,
    /// The stretches that were read, up to the first that failed.
    pub ranges: Vec<MemoryBlock>,
}

impl ModuleFacts {
    /// Takes out readings over time that are more than a run makes: a capture may come from
    /// anybody, and each is decoded by itself.
    pub fn bound_readings(&mut self) {
        let too_many = |readings: &Vec<ReadingAgain>| {
            readings.len() > MOST_READINGS
                || readings.iter().any(|reading| reading.ranges.len() > MOST_RANGES)
        };
        if self.readings_over_time.known().is_some_and(too_many) {
            self.readings_over_time = Fact::missing_with(
                Reason::Malformed,
                format!("more than {MOST_READINGS} readings of {MOST_RANGES} stretches"),
            );
        }
    }
}

/// One stretch of module memory, in the standard's byte numbering: bytes 0-127 are the lower
/// half, 128-255 the selected upper page.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct MemoryBlock {
    /// Two-wire address, 7 bits: 80 (50h) or 81 (51h).
    pub two_wire_address: u8,
    /// Bank (CMIS only).
    #[serde(skip_serializing_if = "is_zero")]
    pub bank: u8,
    /// Page.
    #[serde(skip_serializing_if = "is_zero")]
    pub page: u8,
    /// First byte.
    pub offset: u8,
    /// The bytes as hex digits, or why they could not be read.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub bytes: Fact<HexBytes>,
}

fn is_zero(byte: &u8) -> bool {
    *byte == 0
}

/// Module readings parsed by something else, where raw memory cannot be had.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct ParsedReadings {
    /// Who parsed them ("kernel sensor interface", "copied from the maker's tool").
    pub source: String,
    /// Interface types in the standard's spelling (`10GBASE-SR`), if known.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub interface_types: Vec<String>,
    /// Maker's name, part and serial number, if known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub vendor_name: Option<String>,
    /// Part number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_number: Option<String>,
    /// Serial number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial_number: Option<String>,
    /// Case temperature.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub temperature_celsius: Fact<f64>,
    /// Supply voltage.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub supply_volts: Fact<f64>,
    /// Per lane.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lanes: Vec<ParsedLane>,
    /// Limits, if known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<ParsedLimits>,
}

/// Readings of one lane. Power in milliwatts; dark is 0.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct ParsedLane {
    /// Lane number, from 1.
    pub lane: u8,
    /// Laser bias current.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub bias_milliamps: Fact<f64>,
    /// Transmitted power.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub tx_power_milliwatts: Fact<f64>,
    /// Received power.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub rx_power_milliwatts: Fact<f64>,
}

/// Limits that came with parsed readings.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct ParsedLimits {
    /// Case temperature, degrees Celsius.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temperature_celsius: Option<FourLimits>,
    /// Supply, volts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply_volts: Option<FourLimits>,
    /// Laser bias, milliamperes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bias_milliamps: Option<FourLimits>,
    /// Transmitted power, milliwatts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tx_power_milliwatts: Option<FourLimits>,
    /// Received power, milliwatts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rx_power_milliwatts: Option<FourLimits>,
}

/// The four limits of one quantity.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct FourLimits {
    /// Above this: alarm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high_alarm: Option<f64>,
    /// Below this: alarm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low_alarm: Option<f64>,
    /// Above this: warning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high_warning: Option<f64>,
    /// Below this: warning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low_warning: Option<f64>,
}

/// One kernel log line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LogLine {
    /// Microseconds since the kernel started.
    #[serde(default)]
    pub at_microseconds: u64,
    /// What tied it to this port.
    #[serde(default)]
    pub names: LogTie,
    /// The text.
    pub text: String,
}

/// What a kernel log line names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LogTie {
    /// This interface.
    #[default]
    Interface,
    /// This bus address.
    BusAddress,
    /// Only the driver: it may be about another port.
    Driver,
}

/// Counters at one instant.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Instant {
    /// Milliseconds since the first instant.
    pub at_milliseconds: u64,
    /// Carrier.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub carrier: Fact<bool>,
    /// How often carrier came up since the interface exists.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub carrier_up_count: Fact<u64>,
    /// How often carrier went down since the interface exists.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub carrier_down_count: Fact<u64>,
    /// Interface counters.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub counters: Fact<Counters>,
    /// Standard statistics the driver keeps.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub statistics: Fact<Statistics>,
    /// FEC counters.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub fec_counters: Fact<FecCounters>,
    /// Pause frames.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub pause_frames: Fact<PauseFrames>,
    /// Counters that the driver keeps under names of its own, as it names them; 4096 at most are
    /// read. What one counts only its driver defines. One without a name is `#` and its number,
    /// counted from 1, which also stands behind a name that comes twice.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub private_counters: Fact<BTreeMap<String, u64>>,
    /// Light that the module receives on each lane, lane 1 first, milliwatts; dark is 0.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub received_milliwatts: Fact<Vec<f64>>,
}

macro_rules! counters {
    ($($(#[$doc:meta])* $name:ident,)*) => {
        /// The interface's 64-bit counters, each error kept apart. A counter that an older
        /// kernel does not have is missing, not zero.
        #[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
        #[serde(default)]
        pub struct Counters {
            $($(#[$doc])* #[serde(skip_serializing_if = "Fact::is_not_asked")]
            pub $name: Fact<u64>,)*
        }

        impl Counters {
            /// Every counter with its name, in order.
            pub fn each(&self) -> impl Iterator<Item = (&'static str, &Fact<u64>)> {
                [$((stringify!($name), &self.$name),)*].into_iter()
            }

            /// The same, to be changed.
            pub fn each_mut(&mut self) -> impl Iterator<Item = &mut Fact<u64>> {
                [$(&mut self.$name,)*].into_iter()
            }

            /// Builds the counters from numbers in the kernel's order; those that are not
            /// there are missing for the given reason.
            pub fn from_ordered(
                mut numbers: impl Iterator<Item = u64>,
                absent: Reason,
            ) -> Self {
                Self {
                    $($name: match numbers.next() {
                        Some(number) => Fact::Known(number),
                        None => Fact::missing(absent),
                    },)*
                }
            }
        }
    };
}

// In the order of the kernel's 64-bit statistics structure.
counters! {
    /// Frames received.
    received_frames,
    /// Frames sent.
    sent_frames,
    /// Octets received, without the frame check sequence.
    received_octets,
    /// Octets sent, without the frame check sequence.
    sent_octets,
    /// All receive errors together; includes the single kinds below.
    receive_errors,
    /// All transmit errors together.
    transmit_errors,
    /// Good frames dropped on the way in by the host.
    receive_discards,
    /// Good frames dropped on the way out by the host.
    transmit_discards,
    /// Multicast frames received.
    received_multicast_frames,
    /// Collisions (half duplex).
    collisions,
    /// Frames of a wrong length (IEEE 802.3 30.3.1.1.23-25).
    receive_length_errors,
    /// Frames lost for want of room in the adapter's receive list.
    receive_overruns,
    /// Frames with a wrong check sequence (IEEE 802.3 30.3.1.1.6).
    receive_check_sequence_errors,
    /// Frames that do not end on an octet (IEEE 802.3 30.3.1.1.7).
    receive_alignment_errors,
    /// Frames lost because the adapter's queue overflowed.
    receive_queue_overflows,
    /// Frames the adapter had no buffer for.
    receive_missed,
    /// Frames given up on the way out (IEEE 802.3 30.3.1.1.11).
    transmit_aborted,
    /// Carrier lost while sending (IEEE 802.3 30.3.1.1.13).
    transmit_carrier_errors,
    /// The adapter's transmit queue ran dry.
    transmit_queue_underruns,
    /// Heartbeat errors of old half-duplex transceivers.
    transmit_heartbeat_errors,
    /// Late collisions (IEEE 802.3 30.3.1.1.10).
    transmit_late_collisions,
    /// Compressed frames received.
    received_compressed_frames,
    /// Compressed frames sent.
    sent_compressed_frames,
    /// Frames no protocol wanted.
    receive_unhandled,
    /// Frames for another host, dropped while listening to everything.
    receive_other_host_drops,
}

/// Standard statistics, each under the name its standard gives it
/// (`SymbolErrorDuringCarrier`, `FrameCheckSequenceErrors`, `etherStatsFragments`).
/// A counter the driver does not keep is absent.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct Statistics {
    /// IEEE 802.3 30.3.2, physical layer.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub phy: BTreeMap<String, u64>,
    /// IEEE 802.3 30.3.1, MAC.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub mac: BTreeMap<String, u64>,
    /// IEEE 802.3 30.3.3, MAC control.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub control: BTreeMap<String, u64>,
    /// RFC 2819, remote monitoring.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub rmon: BTreeMap<String, u64>,
}

/// Pause frames (IEEE 802.3 30.3.4.2 and .3).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct PauseFrames {
    /// Received: this port was asked to wait.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub received: Fact<u64>,
    /// Sent: this port asked the far end to wait.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub sent: Fact<u64>,
}

/// FEC counters (IEEE 802.3 30.5.1.1.17 and .18).
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct FecCounters {
    /// Codewords that were corrected.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub corrected_blocks: Fact<LaneCounts>,
    /// Codewords that could not be corrected.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub uncorrectable_blocks: Fact<LaneCounts>,
    /// Bits that were corrected.
    #[serde(skip_serializing_if = "Fact::is_not_asked")]
    pub corrected_bits: Fact<LaneCounts>,
}

/// A counter of the whole port, and of each lane where the driver splits it.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default)]
pub struct LaneCounts {
    /// Whole port.
    pub total: u64,
    /// Per lane, lane 1 first; empty if not split.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lanes: Vec<u64>,
}
