//! Everything known about one port, gathered once, for observations and faults to look at.

use crate::calc::rates::{self, Change};
use crate::chain::far::{FarEnd, FarLane, is_dark, lit, weakest};
use crate::chain::{Chain, PartKind};
use crate::diagnose::Told;
use crate::diagnose::observation::Answer;
use crate::diagnose::observations;
use crate::diagnose::way_out::WayOut;
use crate::module::{self, Doubt, DoubtKind, Module};
use crate::quantity::{Bits, Mbps, Milliwatts};
use crate::site::{SiteFar, SitePort};
use crate::snapshot::{Counters, Fact, FecCounters, Host, Instant, Missing, Port, Reason, Related};
use crate::standards::media::Row;
use crate::standards::private_counters::Kind;

/// Something that was counted, and where the count comes from.
#[derive(Debug)]
pub struct Counted {
    /// How it grew.
    pub change: Fact<Change>,
    /// Where it is defined.
    pub source: String,
}

/// A doubt where light is received although the transmitters of both ends are switched off.
fn light_from_nowhere(module: &Module, far: &FarEnd) -> Option<Doubt> {
    let mut lanes = module.used_lanes().peekable();
    lanes.peek()?;
    let off = lanes.all(|lane| lane.tx_disabled == Fact::Known(true));
    let mut received = module.used_lanes().filter_map(|lane| lane.rx_power.known());
    let power = received.find(|power| lit(&Fact::Known(**power)) == Fact::Known(true))?;
    (off && far.tx_disabled == Fact::Known(true)).then(|| Doubt {
        kind: DoubtKind::ReadingImpossible,
        text: format!("{power} is received although both ends say that their transmitters are off"),
        source: "receive power here, transmitter disable states at both ends",
    })
}

/// A doubt where a transmitter is said to be switched off, and to send light all the same.
fn sends_though_off(module: &Module) -> Option<Doubt> {
    let off = |lane: &&module::Lane| lane.tx_disabled == Fact::Known(true);
    let mut sending = module
        .used_lanes()
        .filter(off)
        .filter(|_| module.carries.is_optical())
        .filter(|lane| lit(&lane.tx_power) == Fact::Known(true));
    let power = *sending.next()?.tx_power.known()?;
    Some(Doubt {
        kind: DoubtKind::SendsThoughSwitchedOff,
        text: format!(
            "the module contradicts itself: it says that its transmitter is switched off, and that \
             it sends {power}"
        ),
        source: "transmitter disable state and transmit power, module memory",
    })
}

/// Everything known about one port.
#[derive(Debug)]
pub struct View<'a> {
    /// The host.
    pub host: &'a Host,
    /// The port.
    pub port: &'a Port,
    /// The module, decoded.
    pub module: Fact<Module>,
    /// What the site file says of it.
    pub site: Option<&'a SitePort>,
    /// The far end.
    pub far: FarEnd,
    /// The parts and their ceilings.
    pub chain: Chain,
    /// Speed now, if carrier is up.
    pub running: Fact<Mbps>,
    /// What the user says is wrong.
    pub told: Option<Told>,
    /// What the far end's own capture tells of what this end sends.
    pub way_out: WayOut,
}

impl<'a> View<'a> {
    /// Gathers it. `far` is what the far end's own capture tells, if there is one.
    pub fn new(
        host: &'a Host,
        port: &'a Port,
        site: Option<&'a SitePort>,
        far: Option<FarEnd>,
    ) -> Self {
        let mut module = module::decode(&port.module);
        let told = match site {
            Some(site) => FarEnd::from_site(&site.far),
            // The same gaps as of a site file that tells nothing, but nobody who told it.
            None => FarEnd { told_by: "", ..FarEnd::from_site(&SiteFar::default()) },
        };
        let far = far.unwrap_or_default().or(told).or(FarEnd::from_neighbours(&port.neighbours));
        if let Fact::Known(module) = &mut module {
            let doubt = light_from_nowhere(module, &far);
            module.doubts.extend(doubt);
            module.doubts.extend(sends_though_off(module));
        }
        let chain = Chain::build(port, &module, site, &far);
        let running = match &port.carrier {
            Fact::Known(true) => port.ethernet.speed_mbps.clone().and_then(|speed| match speed {
                0 => Fact::missing_with(Reason::Malformed, "a speed of zero with carrier"),
                // Nothing runs at more than 1.6 Tb/s; all ones is how drivers say "unknown".
                1_600_001.. => Fact::missing_with(Reason::Malformed, "a speed that cannot be"),
                speed => Fact::Known(Mbps(speed)),
            }),
            Fact::Known(false) => Fact::missing_with(Reason::NotApplicable, "there is no carrier"),
            Fact::Missing(missing) => Fact::Missing(missing.clone()),
        };
        Self {
            host,
            port,
            module,
            site,
            far,
            chain,
            running,
            told: None,
            way_out: WayOut::default(),
        }
    }

    /// True if this end of a twisted pair is set to its speed by hand.
    pub fn is_fixed_here(&self) -> bool {
        self.port.ethernet.autonegotiation == Fact::Known(false)
            && matches!((observations::TWISTED_PAIR.look)(self), Answer::Yes(_))
    }

    /// Best speed of the near port.
    pub fn port_best(&self) -> Fact<Mbps> {
        self.ceiling(PartKind::Port)
    }

    /// A part's ceiling.
    pub fn ceiling(&self, kind: PartKind) -> Fact<Mbps> {
        match self.chain.ceiling(kind) {
            Some(ceiling) => Fact::Known(ceiling.speed),
            None => Fact::Missing(self.chain.why_unknown(kind).cloned().unwrap_or_default()),
        }
    }

    /// The decoded module, if it is optical and its light can be judged.
    pub fn optical_module(&self) -> Option<&Module> {
        self.module.known().filter(|module| module.carries.is_optical())
    }

    /// The power window to judge by: of the interface type that runs, or of the fastest one
    /// the module claims.
    pub fn window(&self) -> Option<&'static Row> {
        self.module.known()?.power_window(self.running.known().copied())
    }

    /// Receive power of the weakest used lane of an optical module.
    pub fn rx_power(&self) -> Fact<Milliwatts> {
        self.optical_lanes(|lane| lane.rx_power.clone())
    }

    /// Transmit power of the weakest used lane of an optical module.
    pub fn tx_power(&self) -> Fact<Milliwatts> {
        self.optical_lanes(|lane| lane.tx_power.clone())
    }

    /// Receive power of the strongest used lane of an optical module: one lane that is too strong
    /// is too strong, however weak the others are.
    pub fn rx_strongest(&self) -> Fact<Milliwatts> {
        let Some(module) = self.optical_module() else { return self.rx_power() };
        let lanes = module.used_lanes().filter_map(|lane| lane.rx_power.known().copied());
        match lanes.max_by(|one, other| one.0.total_cmp(&other.0)) {
            Some(most) => Fact::Known(most),
            None => self.rx_power(),
        }
    }

    /// Receive power of the weakest used lane in words, with the lane's number where the module
    /// has several; empty where it is not known.
    pub fn rx_power_text(&self) -> String {
        self.rx_text(&self.rx_power())
    }

    /// The same of the strongest used lane.
    pub fn rx_strongest_text(&self) -> String {
        self.rx_text(&self.rx_strongest())
    }

    fn rx_text(&self, power: &Fact<Milliwatts>) -> String {
        let Fact::Known(power) = power else { return String::new() };
        let mut lanes = self.module.known().into_iter().flat_map(Module::used_lanes);
        let lane = lanes.find(|lane| lane.rx_power == Fact::Known(*power));
        match lane {
            Some(lane) if self.module.known().is_some_and(|module| module.lanes.len() > 1) => {
                format!("{power} on lane {}", lane.number)
            }
            _ => power.to_string(),
        }
    }

    /// True if the module says both that its transmitter is off and that it sends.
    pub fn sends_though_off(&self) -> bool {
        let mut doubts = self.module.known().into_iter().flat_map(|module| &module.doubts);
        doubts.any(|doubt| doubt.kind == DoubtKind::SendsThoughSwitchedOff)
    }

    /// How many of the module's used lanes this link needs: fewer than all where the port runs, or
    /// could run, at so many whole lanes of the module's rate, as one leg of a module that is
    /// broken out does. Nothing tells which lanes these are.
    pub fn lanes_needed(&self, module: &Module) -> usize {
        let all = module.used_lanes().count();
        let port = self.running.known().copied().or_else(|| self.port_best().known().copied());
        let (Some(port), Some(top), Ok(lanes)) =
            (port, module.top_speed.known().copied(), u64::try_from(all))
        else {
            return all;
        };
        let (part, whole) = (u64::from(port.0).saturating_mul(lanes), u64::from(top.0));
        let needed = if part >= whole.saturating_mul(lanes) || whole == 0 {
            lanes
        } else if part <= whole {
            1
        } else if part % whole == 0 {
            part / whole
        } else {
            // Not so many whole lanes: a slower rate on all of them.
            lanes
        };
        usize::try_from(needed).unwrap_or(all)
    }

    /// The weakest lane that this link certainly needs: of a module that is broken out, as many of
    /// the best lanes as the link needs are taken for its own.
    fn optical_lanes(&self, pick: fn(&module::Lane) -> Fact<Milliwatts>) -> Fact<Milliwatts> {
        self.module.as_ref().and_then(|module| {
            if module.carries.is_optical() {
                let needed = self.lanes_needed(module);
                let mut lanes: Vec<Milliwatts> =
                    module.used_lanes().filter_map(|lane| pick(lane).known().copied()).collect();
                lanes.sort_by(|one, other| other.0.total_cmp(&one.0));
                match needed.checked_sub(1).and_then(|last| lanes.get(last)) {
                    Some(power) => Fact::Known(*power),
                    None => weakest(module, pick),
                }
            } else {
                Fact::missing_with(Reason::NotApplicable, "no light leaves this kind of module")
            }
        })
    }

    /// A yes-or-no of any used lane; of a module that is broken out, of more lanes than the link
    /// can do without.
    pub fn any_lane(&self, pick: fn(&module::Lane) -> &Fact<bool>) -> Fact<bool> {
        self.module.as_ref().and_then(|module| {
            let others = module.used_lanes().filter(|lane| *pick(lane) != Fact::Known(true));
            if others.count() < self.lanes_needed(module) {
                return Fact::Known(true);
            }
            let mut lanes = module.used_lanes().map(pick);
            let first = lanes.next().cloned().unwrap_or(Fact::missing(Reason::NotReported));
            if first.known().is_some() || lanes.any(|lane| lane.known().is_some()) {
                return Fact::Known(false);
            }
            first
        })
    }

    /// Whether no light arrives on any used lane: by receive power, or by the loss-of-signal bit where the power
    /// is not measured. A loss-of-signal bit beside good power is not believed.
    pub fn is_dark(&self) -> Fact<bool> {
        match self.rx_power() {
            // The lane that gets most tells whether any light arrives.
            Fact::Known(_) => self.lit(&self.rx_strongest()).map(|lit| !lit),
            Fact::Missing(why) => match self.any_lane(|lane| &lane.rx_los) {
                // A latched bit may tell of a loss that is over.
                Fact::Known(los)
                    if self.optical_module().is_some_and(|module| !module.flags_latched) =>
                {
                    Fact::Known(los)
                }
                _ => Fact::Missing(why),
            },
        }
    }

    /// Whether a power of this end is light at all. A link that is up shows that a very weak reading
    /// is light.
    pub fn lit(&self, power: &Fact<Milliwatts>) -> Fact<bool> {
        match power {
            Fact::Known(power) if self.port.carrier == Fact::Known(true) => {
                Fact::Known(!is_dark(*power))
            }
            _ => lit(power),
        }
    }

    /// True if this is why one of this end's readings cannot be told from darkness.
    pub fn is_too_faint(&self, why: &Missing) -> bool {
        [self.rx_strongest(), self.tx_power()]
            .iter()
            .any(|power| power.known().is_some() && self.lit(power).why_missing() == Some(why))
    }

    /// Whether light arrives on at least one used lane: the far end sends, and the strand that the
    /// dark lane is on is at fault.
    fn some_lane_is_lit(&self) -> bool {
        self.optical_module().is_some_and(|module| {
            let mut lanes = module.used_lanes();
            lanes.any(|lane| self.lit(&lane.rx_power) == Fact::Known(true))
        })
    }

    /// Numbers of the dark lanes, where light arrives on others and the link needs them all.
    pub fn dark_lanes(&self) -> Vec<u8> {
        let Some(module) = self.optical_module() else { return Vec::new() };
        if !self.some_lane_is_lit() || self.lanes_needed(module) < module.used_lanes().count() {
            return Vec::new();
        }
        let dark = |lane: &&module::Lane| lane.rx_power.known().is_some_and(|mw| is_dark(*mw));
        module.used_lanes().filter(dark).map(|lane| lane.number).collect()
    }

    /// Those of them whose transmitter the far end has switched off.
    pub fn dark_lanes_off_there(&self) -> Vec<u8> {
        let both = self.lanes_of_both_ends();
        let mut dark = self.dark_lanes();
        dark.retain(|number| {
            both.iter()
                .any(|(near, far)| near.number == *number && far.tx_disabled == Fact::Known(true))
        });
        dark
    }

    /// Lanes of both ends, where both have equally many, and more than one: lane for lane, as
    /// parallel fibres are crossed and wavelengths pair up (from memory).
    pub fn lanes_of_both_ends(&self) -> Vec<(&module::Lane, &FarLane)> {
        let Some(module) = self.optical_module() else { return Vec::new() };
        let near: Vec<&module::Lane> = module.used_lanes().collect();
        if near.len() < 2 || near.len() != self.far.lanes.len() {
            return Vec::new();
        }
        near.into_iter().zip(&self.far.lanes).collect()
    }

    /// Growth of an interface counter over the observed time.
    pub fn counter(&self, pick: fn(&Counters) -> &Fact<u64>) -> Fact<Change> {
        rates::change(&self.port.instants, |instant| {
            instant.counters.as_ref().and_then(|counters| pick(counters).clone())
        })
    }

    /// Growth of a FEC counter (whole port) over the observed time.
    pub fn fec_counter(
        &self,
        pick: fn(&FecCounters) -> &Fact<crate::snapshot::LaneCounts>,
    ) -> Fact<Change> {
        rates::change(&self.port.instants, |instant| {
            instant
                .fec_counters
                .as_ref()
                .and_then(|counters| pick(counters).as_ref().map(|counts| counts.total))
        })
    }

    /// A standard counter, or where the driver does not offer it its own one of that kind. One that
    /// stands still proves nothing (`standards::private_counters`): then the standard one stays
    /// unknown. `standard` is where the standard defines it.
    fn counted(&self, own: Fact<Change>, standard: &str, kind: Kind) -> Counted {
        let offered = own.why_missing().is_none_or(|why| why.reason != Reason::NotSupported);
        let grown = rates::private(&self.port.instants).into_iter();
        match grown.filter(|_| !offered).find(|one| one.row.kind == kind) {
            Some(one) => Counted {
                change: Fact::Known(one.change),
                source: format!(
                    "the driver's own counter {}, taken for {} [{}]; the standard counter is not \
                     offered",
                    one.name,
                    kind.text(),
                    one.row.cite()
                ),
            },
            None => Counted { change: own, source: standard.to_owned() },
        }
    }

    /// Codewords beyond correction over the observed time.
    pub fn uncorrectable_words(&self) -> Counted {
        let own = self.fec_counter(|counters| &counters.uncorrectable_blocks);
        self.counted(own, "IEEE 802.3 30.5.1.1.18", Kind::FecUncorrected)
    }

    /// Codewords that were corrected over the observed time; of a driver's own counter, whatever
    /// it says was corrected.
    pub fn corrected_words(&self) -> Counted {
        let own = self.fec_counter(|counters| &counters.corrected_blocks);
        self.counted(own, "IEEE 802.3 30.5.1.1.17", Kind::FecCorrected)
    }

    /// Last instant.
    pub fn last(&self) -> Option<&Instant> {
        self.port.instants.last()
    }

    /// Bits of the frames that were received whole over the observed time, check sequences included
    /// where the frames are counted too: what those sequences cover. None where octets or speed are
    /// not known.
    pub fn received_bits(&self) -> Option<Bits> {
        let octets = self.counter(|counters| &counters.received_octets).known().copied()?;
        let frames = self.counter(|counters| &counters.received_frames);
        let frames = frames.known().map_or(0, |frames| frames.by);
        // Those of one observation are far below 2^53.
        #[allow(clippy::cast_precision_loss)]
        let bits = (octets.by as f64 + 4.0 * frames as f64) * 8.0;
        // More than the speed lets through did not come over this link.
        let most = self.running.known()?.bits_per_second().0 * octets.seconds;
        Some(Bits(bits.min(most)))
    }

    /// Frames with a wrong check sequence over the observed time.
    pub fn check_sequence_errors(&self) -> Fact<Change> {
        self.damaged_frames().change
    }

    /// The same, and where the count comes from.
    pub fn damaged_frames(&self) -> Counted {
        let own = self.standard_check_sequence_errors();
        self.counted(own, "IEEE 802.3 30.3.1.1.6", Kind::CheckSequence)
    }

    fn standard_check_sequence_errors(&self) -> Fact<Change> {
        let own = self.counter(|counters| &counters.receive_check_sequence_errors);
        // A counter that went back is not to be smoothed over by another one.
        if own.why_missing().is_none_or(|why| why.reason == Reason::Malformed) {
            return own;
        }
        let standard = rates::change(&self.port.instants, |instant| {
            instant.statistics.as_ref().and_then(|statistics| {
                match statistics.mac.get("FrameCheckSequenceErrors") {
                    Some(count) => Fact::Known(*count),
                    None => Fact::missing(Reason::NotSupported),
                }
            })
        });
        if standard.known().is_some() { standard } else { own }
    }

    /// Newest kernel log line that is about this port and fits.
    pub fn log_line(&self, fits: impl Fn(&str) -> bool) -> Fact<Option<&str>> {
        self.port.kernel_log.as_ref().map(|lines| {
            lines
                .iter()
                .rev()
                .filter(|line| line.names != crate::snapshot::LogTie::Driver)
                .map(|line| line.text.as_str())
                .find(|text| fits(&text.to_lowercase()))
        })
    }

    /// The bond that this port is a leg of.
    pub fn bond(&self) -> Option<&Related> {
        self.port.controller.as_ref().filter(|above| above.kind.as_deref() == Some("bond"))
    }

    /// A sign that somebody means this port to be in use, in words.
    pub fn sign_of_use(&self) -> Option<&'static str> {
        if let Some(site) = self.site {
            match site.in_use {
                Some(true) => return Some("the site file says that it is in use"),
                Some(false) => return None,
                None if site.intended_mbps.is_some() => {
                    return Some("the site file gives an intended speed");
                }
                None => {}
            }
        }
        if self.told.is_some() {
            return Some("you say that something is wrong with it");
        }
        if !self.far.told_by.is_empty() && self.far.name.is_some() {
            return Some("a far end is named for it");
        }
        let told = self.port.ethernet.extended_state.known();
        if self.module.known().is_some()
            || told.is_some_and(|told| told.state == "module-memory-issue")
        {
            return Some("a module or cable is plugged in");
        }
        if self.bond().is_some() {
            return Some("it is a leg of a bond");
        }
        let last = self.last()?;
        if last.carrier_up_count.known().is_some_and(|count| *count > 0) {
            return Some("it has had a link since the interface exists");
        }
        let frames = last.counters.as_ref().and_then(|c| c.received_frames.clone());
        if frames.known().is_some_and(|count| *count > 0) {
            return Some("it has received frames");
        }
        None
    }
}
