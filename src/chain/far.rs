//! The far end, as far as anybody has told: the far end's own capture, the site file, what it
//! announced of itself, or what it offered while negotiating; in this order.

use crate::calc::rates::{self, Change};
use crate::chain::settings;
use crate::module::{self, Module, Word};
use crate::quantity::{Dbm, Mbps, Milliwatts, Nanometres};
use crate::site::SiteFar;
use crate::snapshot::{Connector, Duplex, Fact, Missing, Neighbour, Port, Reason, Snapshot};
use crate::standards::{accuracy, mau, media, names};

/// How to get a fact of the far end.
pub const HOW: &str = "ask for the far end's capture (--far FILE) or write it in the site file";

/// Who told, where the far end's own capture did.
const CAPTURE: &str = "the far end's capture";
/// Who told, where the site file did.
const SITE: &str = "the site file";
/// Who told, where the far end announced itself.
const NEIGHBOUR: &str = "what the neighbour announced (IEEE 802.1AB)";
/// Least value of the largest frame, octets: every port takes that (IEEE 802.3 3.2.7, from
/// memory). Who announces less has put something else there.
const LEAST_LARGEST_FRAME: u16 = 1518;
/// Octets of a frame that are no payload: addresses, type, check sequence.
const AROUND_PAYLOAD: u16 = 18;

/// What is known of the far end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FarEnd {
    /// Name of the port there, for people (`shed0 on sounder`).
    pub name: Option<String>,
    /// Who told (`the site file`, `the far end's capture`).
    pub told_by: &'static str,
    /// Best speed of the port.
    pub best: Fact<Mbps>,
    /// Best speed of the module.
    pub module_best: Fact<Mbps>,
    /// Interface type of the module.
    pub module_type: Fact<String>,
    /// Wavelength that its module sends at; the nominal one of its interface type where the module
    /// leaves it empty.
    pub wavelength: Fact<Nanometres>,
    /// Whether its module works on one strand.
    pub on_one_strand: Fact<bool>,
    /// Administrative state.
    pub admin_up: Fact<bool>,
    /// Whether its transmitter sends.
    pub transmits: Fact<bool>,
    /// Whether every used lane of its module says that its transmitter is switched off.
    pub tx_disabled: Fact<bool>,
    /// Power it sends.
    pub tx_power: Fact<Milliwatts>,
    /// Power it receives.
    pub rx_power: Fact<Milliwatts>,
    /// Whether light arrives there.
    pub receives_light: Fact<bool>,
    /// FEC code there.
    pub fec: Fact<String>,
    /// Most octets of payload a frame may have there.
    pub mtu_octets: Fact<u32>,
    /// Frames of a wrong length that it counted while being watched.
    pub length_errors: Fact<Change>,
    /// The low warning limit that its module stores for the power it sends.
    pub tx_low_warning: Fact<Milliwatts>,
    /// Its used lanes, in order; empty where nobody told.
    pub lanes: Vec<FarLane>,
    /// Speed the port is set to, or runs at.
    pub set_speed: Fact<Mbps>,
    /// Speeds that its module and its port have in common.
    pub speeds: Fact<Vec<Mbps>>,
    /// Whether it negotiates.
    pub autonegotiation: Fact<bool>,
    /// Duplex.
    pub duplex: Fact<Duplex>,
    /// Lanes the port runs on.
    pub port_lanes: Fact<u32>,
    /// Carrier, in its own capture.
    pub carrier: Fact<bool>,
}

/// One used lane of the far module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FarLane {
    /// Power it sends.
    pub tx_power: Fact<Milliwatts>,
    /// Power it receives.
    pub rx_power: Fact<Milliwatts>,
    /// Whether its transmitter is switched off.
    pub tx_disabled: Fact<bool>,
}

impl FarLane {
    fn of(lane: &module::Lane) -> Self {
        Self {
            tx_power: lane.tx_power.clone(),
            rx_power: lane.rx_power.clone(),
            tx_disabled: lane.tx_disabled.clone(),
        }
    }

    /// Whether it sends, as far as is known.
    fn sends(&self) -> Fact<bool> {
        match &self.tx_disabled {
            Fact::Known(true) => Fact::Known(false),
            _ => lit(&self.tx_power),
        }
    }
}

impl FarEnd {
    /// From the site file.
    pub fn from_site(far: &SiteFar) -> Self {
        let rx_power = told(far.rx_power_dbm).map(|dbm| Dbm(dbm).milliwatts());
        let tx_power = told(far.tx_power_dbm).map(|dbm| Dbm(dbm).milliwatts());
        Self {
            name: match (&far.port, &far.host) {
                (Some(port), Some(host)) => Some(format!("{port} on {host}")),
                (port, host) => port.clone().or_else(|| host.clone()),
            },
            told_by: SITE,
            best: told(far.best_mbps).map(Mbps),
            module_best: told(far.module.clone()).and_then(|name| match names::speed_of(&name) {
                Some(speed) => Fact::Known(speed),
                None => Fact::missing_with(Reason::Malformed, "no rate in the module's name"),
            }),
            module_type: told(far.module.clone()),
            wavelength: told(far.wavelength_nm)
                .map(Nanometres)
                .or_else(|| told(far.module.clone()).and_then(|name| nominal(&name))),
            on_one_strand: Fact::missing(Reason::NotAsked),
            admin_up: told(far.admin_up),
            tx_disabled: Fact::missing(Reason::NotAsked),
            transmits: told(far.transmits).or_else(|| lit(&tx_power)),
            receives_light: told(far.receives_light).or_else(|| lit(&rx_power)),
            tx_power,
            rx_power,
            fec: told(far.fec.clone()),
            mtu_octets: told(far.mtu_octets),
            length_errors: told(None),
            tx_low_warning: Fact::missing(Reason::NotAsked),
            lanes: Vec::new(),
            set_speed: told(far.set_mbps).map(Mbps),
            speeds: Fact::missing(Reason::NotAsked),
            autonegotiation: told(far.autonegotiation),
            duplex: told(far.half_duplex)
                .map(|half| if half { Duplex::Half } else { Duplex::Full }),
            port_lanes: told(far.lanes),
            carrier: Fact::missing(Reason::NotAsked),
        }
    }

    /// From the far end's own capture.
    pub fn from_port(host: &str, port: &Port) -> Self {
        let module = module::decode(&port.module);
        let lanes = |pick: fn(&module::Lane) -> Fact<Milliwatts>| {
            module.as_ref().and_then(|module| weakest(module, pick))
        };
        let (tx_power, rx_power) =
            (lanes(|lane| lane.tx_power.clone()), lanes(|lane| lane.rx_power.clone()));
        let used = |module: &Module| module.used_lanes().map(FarLane::of).collect();
        let all: Vec<FarLane> = module.known().map(used).unwrap_or_default();
        // The first lane that is on, or not known, decides; and the first that sends.
        let disabled = all.iter().find(|lane| lane.tx_disabled != Fact::Known(true));
        let disabled = module.as_ref().and_then(|_| match disabled.or(all.first()) {
            Some(lane) => lane.tx_disabled.clone(),
            None => Fact::missing(Reason::NotReported),
        });
        let sends = any_lit(all.iter().map(FarLane::sends));
        let ethernet = &port.ethernet;
        Self {
            name: Some(format!("{} on {host}", port.name)),
            told_by: CAPTURE,
            best: ethernet.supported_modes.as_ref().and_then(|modes| match names::fastest(modes) {
                Some(speed) => Fact::Known(speed),
                None => Fact::missing_with(Reason::NotReported, "no speeds in its mode list"),
            }),
            module_best: module.as_ref().and_then(|module| module.top_speed.clone()),
            module_type: module.as_ref().and_then(|module| match module.main_type() {
                Some(claimed) => Fact::Known(claimed.name.clone()),
                None => Fact::missing(Reason::NotReported),
            }),
            wavelength: module.as_ref().and_then(wavelength),
            on_one_strand: module.as_ref().and_then(Module::on_one_strand),
            admin_up: port.admin_up.clone(),
            tx_disabled: disabled,
            // A port that is switched off is to be switched on before its laser is believed.
            transmits: match (&port.admin_up, sends) {
                (Fact::Known(false), _) => Fact::Known(false),
                (_, Some(sends)) => sends,
                (_, None) => lit(&tx_power),
            },
            // One lane that is lit is light.
            receives_light: module.as_ref().and_then(|module| {
                let lanes = module.used_lanes().map(|lane| lit(&lane.rx_power));
                any_lit(lanes).unwrap_or_else(|| lit(&rx_power))
            }),
            tx_power,
            rx_power,
            fec: ethernet.fec_active.clone().or_else(|| match &ethernet.fec_configured {
                Fact::Known(codes) => match codes.as_slice() {
                    [code] => Fact::Known(code.clone()),
                    _ => Fact::missing_with(Reason::NotReported, "several codes are allowed"),
                },
                Fact::Missing(missing) => Fact::Missing(missing.clone()),
            }),
            mtu_octets: port.mtu_octets.clone(),
            length_errors: rates::length_errors(&port.instants),
            tx_low_warning: module.as_ref().and_then(|module| {
                module.thresholds.tx_power.as_ref().map(|limits| limits.low_warning)
            }),
            lanes: all,
            set_speed: settings::set_speed(port),
            speeds: settings::common_speeds(port, &module),
            autonegotiation: ethernet.autonegotiation.clone(),
            duplex: ethernet.duplex.clone(),
            port_lanes: settings::lanes(port),
            carrier: port.carrier.clone(),
        }
    }

    /// From what was heard on the cable: nothing, unless exactly one neighbour announced itself.
    /// Of several it cannot be told which one is at the end of this cable.
    pub fn from_neighbours(heard: &Fact<Vec<Neighbour>>) -> Self {
        let unknown = Self { told_by: "", ..Self::from_site(&SiteFar::default()) };
        let Some([neighbour]) = heard.known().map(Vec::as_slice) else { return unknown };
        let negotiation = neighbour.autonegotiation.as_ref();
        let interface = neighbour.interface_type.as_deref();
        let frame = neighbour.largest_frame_octets;
        Self {
            name: Some(match neighbour.system_name.as_deref() {
                Some(host) => format!("{} on {host}", port_name(neighbour)),
                None => format!("{} on {}", port_name(neighbour), neighbour.chassis.name),
            }),
            told_by: NEIGHBOUR,
            best: told(best(neighbour)),
            autonegotiation: told(negotiation.map(|told| told.supported && told.enabled)),
            duplex: told(interface.and_then(mau::duplex)),
            mtu_octets: told(
                frame
                    .filter(|octets| *octets >= LEAST_LARGEST_FRAME)
                    .map(|octets| u32::from(octets.saturating_sub(AROUND_PAYLOAD))),
            ),
            ..unknown
        }
    }

    /// Takes what `other` knows where this does not.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        let told_by = match (self.told_by, other.told_by) {
            ("", by) | (by, "") => by,
            (CAPTURE, NEIGHBOUR) => {
                "the far end's capture or, where that is silent, what the neighbour announced \
                 (IEEE 802.1AB)"
            }
            (SITE, NEIGHBOUR) => {
                "the site file or, where that is silent, what the neighbour announced (IEEE 802.1AB)"
            }
            (_, NEIGHBOUR) => {
                "the far end's capture and the site file or, where these are silent, what the \
                 neighbour announced (IEEE 802.1AB)"
            }
            _ => "the far end's capture and the site file",
        };
        Self {
            name: self.name.or(other.name),
            told_by,
            best: self.best.or_else(|| other.best),
            module_best: self.module_best.or_else(|| other.module_best),
            module_type: self.module_type.or_else(|| other.module_type),
            wavelength: self.wavelength.or_else(|| other.wavelength),
            on_one_strand: self.on_one_strand.or_else(|| other.on_one_strand),
            admin_up: self.admin_up.or_else(|| other.admin_up),
            transmits: told_first(self.transmits, other.transmits),
            tx_disabled: self.tx_disabled.or_else(|| other.tx_disabled),
            tx_power: self.tx_power.or_else(|| other.tx_power),
            rx_power: self.rx_power.or_else(|| other.rx_power),
            receives_light: told_first(self.receives_light, other.receives_light),
            fec: self.fec.or_else(|| other.fec),
            mtu_octets: self.mtu_octets.or_else(|| other.mtu_octets),
            length_errors: self.length_errors.or_else(|| other.length_errors),
            tx_low_warning: self.tx_low_warning.or_else(|| other.tx_low_warning),
            lanes: if self.lanes.is_empty() { other.lanes } else { self.lanes },
            set_speed: self.set_speed.or_else(|| other.set_speed),
            speeds: self.speeds.or_else(|| other.speeds),
            autonegotiation: self.autonegotiation.or_else(|| other.autonegotiation),
            duplex: self.duplex.or_else(|| other.duplex),
            port_lanes: self.port_lanes.or_else(|| other.port_lanes),
            carrier: self.carrier.or_else(|| other.carrier),
        }
    }
}

/// The first that is known; of two reasons the one of who was asked.
fn told_first<T>(one: Fact<T>, other: Fact<T>) -> Fact<T> {
    match (one, other) {
        (Fact::Missing(why), Fact::Missing(nobody))
            if nobody.reason == Reason::NotAsked && why.reason != Reason::NotAsked =>
        {
            Fact::Missing(why)
        }
        (one, other) => one.or_else(|| other),
    }
}

/// The port's name as people know it: an address says less than its description.
pub fn port_name(neighbour: &Neighbour) -> &str {
    match &neighbour.port_description {
        Some(text) if neighbour.port.kind == "MAC address" => text,
        _ => &neighbour.port.name,
    }
}

/// Best speed, where the announcement tells it. What the port runs now says nothing of what it
/// could; its offer does, if nothing in it is left unnamed and it ends below 1 Gb/s: there is no
/// room in it for more than that. An offer without what the port runs is not believed.
fn best(neighbour: &Neighbour) -> Option<Mbps> {
    let negotiation = neighbour.autonegotiation.as_ref()?;
    let offered = &negotiation.offered_modes;
    let whole = negotiation.supported
        && negotiation.enabled
        && !offered.iter().any(|mode| mode == mau::OTHER);
    let runs = neighbour.interface_type.as_deref().and_then(names::speed_of)?;
    let best = names::fastest(offered).filter(|best| whole && *best < Mbps(1000))?;
    (offered.iter().any(|mode| names::speed_of(mode) == Some(runs))).then_some(best)
}

/// What a module sends at. Not known where the module contradicts itself in what it is.
pub fn wavelength(module: &Module) -> Fact<Nanometres> {
    if let Some(doubt) = module.doubt_of(Word::Identity) {
        return Fact::missing_with(Reason::Malformed, doubt.text.clone());
    }
    module.wavelength.clone().or_else(|| match module.main_type() {
        Some(claimed) if module.carries.is_optical() => nominal(&claimed.name),
        _ => module.wavelength.clone(),
    })
}

fn nominal(interface: &str) -> Fact<Nanometres> {
    match media::nominal_wavelength(interface) {
        Some(nanometres) => Fact::Known(Nanometres(nanometres)),
        None => Fact::missing_with(Reason::NotReported, "its interface type tells no wavelength"),
    }
}

/// Picks the far port in a far end's capture: by the name that is given, or the only port of
/// hardware in it.
///
/// # Errors
/// Why it cannot be picked.
pub fn far_port<'a>(far: &'a Snapshot, name: Option<&str>) -> Result<&'a Port, String> {
    match name {
        Some(name) => far.ports.iter().find(|port| port.answers_to(name)).ok_or_else(|| {
            format!("the far end's capture (host {}) has no port {name}", far.host.name)
        }),
        None => {
            let mut ports = far.ports.iter().filter(|port| port.is_hardware());
            match (ports.next(), ports.next()) {
                (Some(port), None) => Ok(port),
                (None, _) => Err("the far end's capture holds no physical port".into()),
                (Some(_), Some(_)) => {
                    Err("the far end's capture holds several ports: name one with --far-port"
                        .into())
                }
            }
        }
    }
}

/// True where the list of the far end's modes is what this end found by listening, not an offer: the
/// far end is told not to negotiate, or the list is the one half-duplex mode that runs, which is what
/// parallel detection leaves (IEEE 802.3 clause 28). No port offers that alone unless set to. Where
/// the site file alone says that the far end negotiates, collisions that are too late show that it
/// did not: it sends without listening. What is above 100 Mb/s is never found by listening.
pub fn no_offer_was_heard(port: &Port, twisted_pair: bool, far: &FarEnd) -> bool {
    let Fact::Known(list) = &port.ethernet.peer_modes else { return false };
    let findable = |mode: &String| names::speed_of(mode).is_some_and(|speed| speed <= Mbps(100));
    if !twisted_pair || list.is_empty() || !list.iter().all(findable) {
        return false;
    }
    let running = port.ethernet.speed_mbps.known().copied().map(Mbps);
    let one_found = matches!(list.as_slice(), [only] if only.ends_with(" half")
        && port.carrier == Fact::Known(true)
        && names::speed_of(only) == running);
    let too_late =
        || rates::late_collisions(&port.instants).known().is_some_and(|change| change.by > 0);
    match &far.autonegotiation {
        Fact::Known(false) => true,
        Fact::Known(true) => one_found && far.told_by == SITE && too_late(),
        Fact::Missing(_) => one_found,
    }
}

/// Why a capture is perhaps not of the other end of this port, as a clause; none where they fit: who
/// does not negotiate makes no offer, and here one was heard.
pub fn unlike(port: &Port, far: &Port) -> Option<String> {
    let Fact::Known(heard) = &port.ethernet.peer_modes else { return None };
    let faster = names::fastest(heard).filter(|speed| *speed > Mbps(100))?;
    let fits = port.ethernet.connector != Fact::Known(Connector::TwistedPair)
        || port.ethernet.autonegotiation != Fact::Known(true)
        || far.ethernet.autonegotiation != Fact::Known(false);
    (!fits).then(|| {
        format!(
            "{} hears an offer of up to {faster}, and by the capture of --far its port ({}) \
             negotiates nothing: it is perhaps not the other end, or of another time",
            port.name, far.name
        )
    })
}

/// The weakest used lane, since the weakest lane decides.
pub fn weakest(module: &Module, pick: fn(&module::Lane) -> Fact<Milliwatts>) -> Fact<Milliwatts> {
    let mut least: Fact<Milliwatts> = Fact::missing(Reason::NotReported);
    for lane in module.used_lanes() {
        match (pick(lane), &least) {
            (Fact::Known(power), Fact::Known(so_far)) if power < *so_far => {
                least = Fact::Known(power);
            }
            (Fact::Known(_), Fact::Known(_)) => {}
            (reading, Fact::Missing(_)) => least = reading,
            (Fact::Missing(_), Fact::Known(_)) => {}
        }
    }
    least
}

/// Whether a power is light at all; not known where the reading is over the dark line by no more
/// than it can be wrong by.
pub fn lit(power: &Fact<Milliwatts>) -> Fact<bool> {
    power.as_ref().and_then(|power| {
        let least = accuracy::NO_LIGHT_DBM + accuracy::POWER.0;
        match power.dbm() {
            Some(dbm) if dbm.0 >= least => Fact::Known(true),
            Some(dbm) if !is_dark(*power) => Fact::missing_with(
                Reason::NotReported,
                format!(
                    "could not tell whether dark or very weak: {dbm} is no more than the reading can \
                     be wrong by ({}) over what counts as dark ({})",
                    accuracy::POWER,
                    Dbm(accuracy::NO_LIGHT_DBM)
                ),
            ),
            _ => Fact::Known(false),
        }
    })
}

/// Whether any of them is light: the first that is known to be, else the first that is not known.
fn any_lit(lanes: impl Iterator<Item = Fact<bool>>) -> Option<Fact<bool>> {
    lanes.reduce(|best, next| match (&best, &next) {
        (Fact::Known(true), _) | (Fact::Missing(_), Fact::Known(false) | Fact::Missing(_)) => best,
        (Fact::Known(false), Fact::Known(false)) => best,
        _ => next,
    })
}

/// No light at all, however the module spells it.
pub fn is_dark(power: Milliwatts) -> bool {
    power.dbm().is_none_or(|dbm| dbm.0 <= accuracy::NO_LIGHT_DBM)
}

fn told<T>(value: Option<T>) -> Fact<T> {
    value.map_or_else(
        || Fact::Missing(Missing::with(Reason::NotAsked, "nobody told about the far end")),
        Fact::Known,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::snapshot::{NeighbourAutonegotiation, NeighbourName};

    fn neighbour() -> Neighbour {
        let name = |kind: &str, name: &str| NeighbourName { kind: kind.into(), name: name.into() };
        Neighbour {
            chassis: name("MAC address", "02:00:5e:10:00:00"),
            port: name("interface name", "boat0"),
            system_name: Some("sounder".into()),
            interface_type: Some("100BASE-TX half".into()),
            largest_frame_octets: Some(9018),
            autonegotiation: Some(NeighbourAutonegotiation {
                supported: true,
                enabled: true,
                offered_modes: mau::offers(0x6c00),
            }),
            ..Neighbour::default()
        }
    }

    fn far(change: impl FnOnce(&mut Neighbour)) -> FarEnd {
        let mut one = neighbour();
        change(&mut one);
        FarEnd::from_neighbours(&Fact::Known(vec![one]))
    }

    fn offer(one: &mut Neighbour, bits: u16) {
        one.autonegotiation.as_mut().unwrap().offered_modes = mau::offers(bits);
    }

    /// IEEE 802.3: 9018 octets with 14 of header and 4 of check sequence are 9000 of payload.
    #[test]
    fn what_one_neighbour_tells() {
        let told = far(|_| {});
        assert_eq!(told.name.as_deref(), Some("boat0 on sounder"));
        assert_eq!(told.told_by, NEIGHBOUR);
        assert_eq!(told.mtu_octets, Fact::Known(9000));
        assert_eq!(told.autonegotiation, Fact::Known(true));
        assert_eq!(told.duplex, Fact::Known(Duplex::Half));
        assert_eq!(told.best, Fact::Known(Mbps(100)));
        let told = far(|one| one.autonegotiation.as_mut().unwrap().enabled = false);
        assert_eq!(told.autonegotiation, Fact::Known(false));
        assert!(told.best.known().is_none(), "what is not offered says nothing");
    }

    #[test]
    fn what_an_announcement_does_not_tell() {
        // Bit 15 is 1000BASE-T: behind it there may be more, without room for it. Bit 0 is more.
        for bits in [0x6c01, 0xec00, 0x0000] {
            assert!(far(|one| offer(one, bits)).best.known().is_none(), "{bits:04x}");
        }
        // Its port runs what the offer does not hold: octets in the wrong order.
        assert!(far(|one| offer(one, 0x2000)).best.known().is_none());
        assert!(far(|one| one.interface_type = None).best.known().is_none());
        // 1500 is the payload, written where the frame belongs.
        assert!(far(|one| one.largest_frame_octets = Some(1500)).mtu_octets.known().is_none());
        assert!(far(|one| one.interface_type = Some("mau 79".into())).duplex.known().is_none());
    }

    #[test]
    fn several_neighbours_tell_nothing() {
        for heard in [vec![], vec![neighbour(), neighbour()]] {
            let told = FarEnd::from_neighbours(&Fact::Known(heard));
            assert_eq!((told.name, told.told_by), (None, ""));
            assert!(told.mtu_octets.known().is_none());
        }
    }

    #[test]
    fn the_site_file_goes_first() {
        let site = SiteFar { mtu_octets: Some(1500), ..SiteFar::default() };
        let told = FarEnd::from_site(&site).or(far(|_| {}));
        assert_eq!(told.mtu_octets, Fact::Known(1500));
        assert_eq!(told.duplex, Fact::Known(Duplex::Half));
        assert!(told.told_by.starts_with(SITE) && told.told_by.contains(NEIGHBOUR));
    }
}
