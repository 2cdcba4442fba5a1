//! The catalogue: one file a fault, each a table that can be read, argued about and tested.
//!
//! A fault is data: what it means, which observations speak for or against it and how heavily,
//! what it is mistaken for, what to do next and with what care. [`crate::diagnose::weigh`]
//! does the adding up, the same way for every fault. To add one: its file, its fixture folder,
//! and the two plain lines below.

mod admin_down;
mod advert_limited_host;
mod advert_limited_peer;
mod auth_pending;
mod autoneg_mismatch;
mod bidi_same_side;
mod bond_member_down;
mod breakout_mismatch;
mod category_too_low;
mod dac_intermittent;
mod dirty_connector;
mod duplex_mismatch;
mod eee_flap;
mod eeprom_checksum_corrupt;
mod excess_loss;
mod fec_mismatch;
mod fec_missing_for_medium;
mod fibre_bend;
mod fibre_polarity_swapped;
mod fibre_strand_broken;
mod fibre_type_mismatch;
mod intermittent_contact;
mod lane_fault;
mod laser_ageing;
mod media_rate_limited;
mod mmf_reach_exceeded;
mod module_low_power;
mod module_miscoded;
mod module_not_ready;
mod module_overtemperature;
mod module_partial_insertion;
mod module_rate_select_low;
mod module_rejected_by_driver;
mod module_unreadable;
mod module_vcc_low;
mod mtu_blackhole;
mod nic_device_lost;
mod nic_thermal_throttle;
mod no_cable;
mod pair_fault;
mod pair_fault_downshift;
mod pause_storm;
mod pcie_bandwidth_limited;
mod pcie_width_downgraded;
mod peer_forced_speed;
mod peer_port_limited;
mod peer_tx_off;
mod port_split_configured;
mod power_budget_exceeded;
mod rate_unsupported_by_port;
mod reach_exceeded;
mod remote_fault;
mod ring_overrun;
mod rj45_sfp_reach;
mod rj45_sfp_thermal;
mod rx_overload;
mod speed_mismatch;
mod tunnel_bandwidth_limited;
mod tx_disabled;
mod tx_fault_latched;
mod tx_fault_signal_misuse;
mod usb_bus_limited;
mod wavelength_mismatch;
mod weak_transmitter;

use serde::Serialize;

use crate::chain::PartKind;
use crate::diagnose::observation::Observation;
use crate::diagnose::view::View;

/// Every fault, in the order of the chain of reasoning: state, transmitter, path, agreement,
/// host.
pub const CATALOGUE: &[&Fault] = &[
    &admin_down::FAULT,
    &auth_pending::FAULT,
    &no_cable::FAULT,
    &module_partial_insertion::FAULT,
    &module_unreadable::FAULT,
    &eeprom_checksum_corrupt::FAULT,
    &module_rejected_by_driver::FAULT,
    &module_miscoded::FAULT,
    &rate_unsupported_by_port::FAULT,
    &media_rate_limited::FAULT,
    &power_budget_exceeded::FAULT,
    &module_low_power::FAULT,
    &module_not_ready::FAULT,
    &tx_disabled::FAULT,
    &tx_fault_latched::FAULT,
    &tx_fault_signal_misuse::FAULT,
    &rj45_sfp_thermal::FAULT,
    &module_overtemperature::FAULT,
    &module_vcc_low::FAULT,
    &weak_transmitter::FAULT,
    &laser_ageing::FAULT,
    &peer_tx_off::FAULT,
    &wavelength_mismatch::FAULT,
    &bidi_same_side::FAULT,
    &fibre_polarity_swapped::FAULT,
    &fibre_strand_broken::FAULT,
    &remote_fault::FAULT,
    &lane_fault::FAULT,
    &fibre_type_mismatch::FAULT,
    &reach_exceeded::FAULT,
    &excess_loss::FAULT,
    &dirty_connector::FAULT,
    &fibre_bend::FAULT,
    &intermittent_contact::FAULT,
    &rx_overload::FAULT,
    &mmf_reach_exceeded::FAULT,
    &speed_mismatch::FAULT,
    &autoneg_mismatch::FAULT,
    &breakout_mismatch::FAULT,
    &rj45_sfp_reach::FAULT,
    &fec_mismatch::FAULT,
    &fec_missing_for_medium::FAULT,
    &advert_limited_host::FAULT,
    &advert_limited_peer::FAULT,
    &peer_port_limited::FAULT,
    &peer_forced_speed::FAULT,
    &port_split_configured::FAULT,
    &duplex_mismatch::FAULT,
    &module_rate_select_low::FAULT,
    &pair_fault_downshift::FAULT,
    &eee_flap::FAULT,
    &pair_fault::FAULT,
    &category_too_low::FAULT,
    &dac_intermittent::FAULT,
    &pcie_bandwidth_limited::FAULT,
    &ring_overrun::FAULT,
    &pause_storm::FAULT,
    &mtu_blackhole::FAULT,
    &pcie_width_downgraded::FAULT,
    &usb_bus_limited::FAULT,
    &tunnel_bandwidth_limited::FAULT,
    &nic_device_lost::FAULT,
    &nic_thermal_throttle::FAULT,
    &bond_member_down::FAULT,
];

/// Finds a fault by name.
pub fn find(name: &str) -> Option<&'static Fault> {
    CATALOGUE.iter().find(|fault| fault.name == name).copied()
}

/// What is wrong to the eye, before any cause is known. A fault is considered only where one of
/// the symptoms it explains is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Symptom {
    /// Switched off by its operator.
    SwitchedOff,
    /// Switched on, but no link.
    Down,
    /// Runs slower than the near port could.
    Slow,
    /// The slot carries less than the link.
    SlotBelowLink,
    /// Damaged frames or codewords are being counted.
    Errors,
    /// Damaged frames are being counted, but no more than the interface type is allowed to damage.
    FewErrors,
    /// Receive light outside its limits, with or without a link.
    Light,
    /// Receive light within its limits or not, that jumps while being watched, fell since an earlier
    /// reading, or changes when the cord is moved.
    LightMoved,
    /// Too hot.
    Heat,
    /// Carrier was lost and found while being watched.
    Flaps,
    /// Whole frames are lost in this host, or held back by pause frames.
    Drops,
    /// The module cannot be read, contradicts itself, or says that something is wrong with it.
    Module,
    /// There is carrier, but the port is not let into operation.
    NotOperational,
    /// What is read of the adapter is what an adapter reads that does not answer.
    Lost,
    /// The far end counts damage on what this end sends.
    FarDamage,
    /// The far end counts damage, but no more than the interface type is allowed to do.
    FarFewErrors,
    /// The light that this end sends arrives outside the limits there.
    FarLight,
    /// The far end's module is too hot or outside its own limits.
    FarModule,
}

/// What it means for the verdict when this fault is at least likely.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Consequence {
    /// The port is not in use: nothing is wrong unless somebody meant it to be.
    NotInUse,
    /// The link works, but this part sets its limit or runs near one.
    Limit,
    /// Something is broken or set wrong.
    Fault,
    /// Something is wrong that a link may run with all the same: a fault where the link is down,
    /// damages frames or gets the wrong light, else something to look after.
    FaultIfItSuffers,
    /// Something is broken, and something that stands on this link has less to stand on. It does
    /// not say why: any other cause that is at least likely stands before it.
    Degraded,
}

/// How settled an entry of the catalogue is. A name is never reused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// New: can reach *possible* only.
    Draft,
    /// In force.
    Settled,
    /// Replaced by another fault.
    Retired {
        /// The name of that fault.
        replaced_by: &'static str,
    },
}

/// One row of a fault's signature.
#[derive(Debug)]
pub struct Row {
    /// What is looked at.
    pub sees: &'static Observation,
    /// Decibans added when it is so.
    pub yes: i32,
    /// Decibans added when it is not so (negative).
    pub no: i32,
    /// True if the fault cannot be more than *possible* while this is unknown.
    pub vital: bool,
    /// Why these weights.
    pub why: &'static str,
}

/// A fault that this one can be mistaken for.
#[derive(Debug)]
pub struct Confusion {
    /// Its name.
    pub with: &'static str,
    /// The test that parts the two.
    pub decider: &'static str,
}

/// What a step needs care for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Caution {
    /// Looking or asking only.
    NoHazard,
    /// Invisible laser light.
    Eyes,
    /// Laser light that starts: switching a port or transmitter on, or plugging in.
    LaserStarts,
    /// Hot module.
    Heat,
    /// Static discharge.
    Static,
    /// Opening a powered machine.
    Power,
}

impl Caution {
    /// The caution as it is shown. It defers to the maker's documents and local rules.
    pub fn text(self) -> Option<&'static str> {
        match self {
            Self::NoHazard => None,
            Self::Eyes => Some(
                "Invisible laser light: never look into a port, a connector or a fibre end, and \
                 use no magnifier on a fibre that may be live. Switch the transmitter off at both \
                 ends first; a class 1 rating covers closed equipment, not an open end. The \
                 maker's documents and your site's rules come first.",
            ),
            Self::LaserStarts => Some(
                "Invisible laser light starts with a port or transmitter on fibre: before it is \
                 switched on or plugged in, see that both ends of the fibre are connected or capped \
                 and that nobody works on the way, and look into no port, connector or fibre end. \
                 The maker's documents and your site's rules come first.",
            ),
            Self::Heat => Some(
                "The module may be hot enough to burn: let it cool or use gloves, and follow the \
                 maker's documents.",
            ),
            Self::Static => Some(
                "Static can damage modules and cages: wear an earthed wrist strap, and keep dust \
                 caps on what is open.",
            ),
            Self::Power => Some(
                "Mains inside: shut down and unplug before opening the machine, and leave it to \
                 licensed or authorised people where local codes or the maker ask for that.",
            ),
        }
    }
}

/// Something to do next.
#[derive(Debug)]
pub struct NextTest {
    /// What to do, in the imperative.
    pub step: &'static str,
    /// What each outcome would mean.
    pub tells: &'static str,
    /// What to be careful of; `[NoHazard]` where there is nothing.
    pub care: &'static [Caution],
}

/// One entry of the catalogue.
#[derive(Debug)]
pub struct Fault {
    /// Name: kebab-case of the file's name; a noun phrase for the condition.
    pub name: &'static str,
    /// The condition in a few words.
    pub title: &'static str,
    /// How settled.
    pub status: Status,
    /// The part of the chain to look at.
    pub part: PartKind,
    /// Two plain sentences: what it is, and why it looks like this.
    pub meaning: &'static str,
    /// The symptoms it explains.
    pub explains: &'static [Symptom],
    /// What it means for the verdict.
    pub consequence: Consequence,
    /// Decibans before anything is seen: how common it is among links that show its symptom.
    pub before: i32,
    /// The evidence.
    pub signature: &'static [Row],
    /// What it is mistaken for.
    pub confused_with: &'static [Confusion],
    /// What to do next, cheapest and safest first.
    pub next_tests: &'static [NextTest],
    /// The usual remedy.
    pub usual_fix: &'static str,
    /// Where the knowledge comes from.
    pub sources: &'static [&'static str],
    /// One sentence for the verdict, with this link's own figures.
    pub sentence: fn(&View<'_>) -> String,
}

impl Fault {
    /// The part to look at on this link: [`Fault::part`], unless the link tells it better.
    pub fn part_on(&self, view: &View<'_>) -> PartKind {
        match self.name {
            "duplex-mismatch" => duplex_mismatch::part_on(view),
            _ => self.part,
        }
    }

    /// The test to begin with on this link: not one whose answer is known already.
    pub fn first_test(&self, view: &View<'_>) -> Option<&'static NextTest> {
        let place = match self.name {
            "peer-tx-off" => usize::from(peer_tx_off::is_told(view)),
            "media-rate-limited" => media_rate_limited::first_test(view),
            _ => 0,
        };
        self.next_tests.get(place)
    }

    /// The usual remedy on this link: [`Fault::usual_fix`], unless the link tells it better. A key of
    /// the site file stands with its value.
    pub fn remedy_on(&self, view: &View<'_>) -> String {
        let fix = match self.name {
            "media-rate-limited" if media_rate_limited::is_not_alone(view) => {
                media_rate_limited::FIX_OF_BOTH
            }
            _ => self.usual_fix,
        };
        with_value(fix, view)
    }

    /// True if it keeps this end from sending, and has no say in what arrives here.
    pub fn is_about_sending_alone(&self) -> bool {
        matches!(
            self.name,
            "power-budget-exceeded"
                | "tx-disabled"
                | "tx-fault-latched"
                | "weak-transmitter"
                | "laser-ageing"
        )
    }

    /// True if it explains that the module is odd, and nothing that the link suffers from.
    pub fn is_about_the_module_alone(&self) -> bool {
        self.explains == [Symptom::Module]
    }
}

/// The key of the site file for a speed that is meant, with the speed that runs.
pub(crate) fn with_value(text: &str, view: &View<'_>) -> String {
    match view.running.known() {
        Some(speed) => text.replace(INTENDED, &format!("{INTENDED} = {}", speed.0)),
        None => text.to_owned(),
    }
}

/// That key.
const INTENDED: &str = "intended_mbps";

/// A precondition: without it the fault is out of the question; with it nothing is gained.
pub(crate) const fn only_if(sees: &'static Observation) -> Row {
    Row { sees, yes: 0, no: -60, vital: true, why: "without this the fault cannot be" }
}
