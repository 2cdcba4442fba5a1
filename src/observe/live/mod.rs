//! A live host, looked at and never changed.
//!
//! In: which ports to look at. Out: a [`Snapshot`]. The number of requests to the kernel does
//! not grow with the number of interfaces, module memory and what only a driver tells apart: a
//! handful of dumps, then sysfs for devices, then the module buses of the wanted ports, then the
//! kernel log.

mod ask;
mod attributes;
mod driver_asked;
mod driver_versions;
pub mod ethernet;
#[doc(hidden)]
pub mod fuzz;
#[cfg(test)]
mod header_test;
mod kernel_log;
pub mod link;
mod link_modes;
mod listen;
mod module_memory;
#[doc(hidden)]
pub mod played;
mod private_counters;
mod sysfs;
mod turns;

pub use listen::LONGEST_SECONDS as LONGEST_LISTENING;

use std::collections::{HashMap, HashSet};
use std::fs;
use std::time::{Duration, Instant as Clock};

use thiserror::Error;

use crate::observe::live::ask::{About, Failure, Kernel, Question, command};
use crate::observe::live::driver_asked::Asker;
use crate::observe::live::driver_versions::Versions;
use crate::observe::siblings;
use crate::snapshot::{
    Connector, EnergySaving, Ethernet, FORMAT, Fact, Gap, Host, Missing, Nature, Port, Reason,
    Rings, Snapshot, Statistics, VERSION, relate,
};

/// Longest wait for an answer, milliseconds.
const PATIENCE: u16 = 5000;
/// Longest time for the modules of all ports.
const MODULE_PATIENCE: Duration = Duration::from_secs(10);
/// Longest time between the two instants: a day.
const LONGEST_SECONDS: f64 = 86_400.0;
/// How often a dump that the kernel calls interrupted is tried.
const TRIES: usize = 4;

/// What to look at.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Ports by name or alternative name; all if empty.
    pub ports: Vec<String>,
    /// Seconds between the two instants; 0 takes one instant.
    pub seconds: f64,
    /// Whether to read module memory.
    pub modules: bool,
    /// Whether to read the kernel log.
    pub kernel_log: bool,
    /// Seconds to listen for what neighbours announce; 0 opens no socket for it.
    pub listen: u16,
    /// Whether to read the counters that drivers keep under names of their own: a few questions
    /// to each hardware port.
    pub private_counters: bool,
    /// Whether to read what modules monitor again and again between the two instants, where there
    /// is time for it and the ports are few and named.
    pub readings_over_time: bool,
    /// Whether to ask for the versions of driver and firmware: one question to each port.
    pub versions: bool,
}

impl Wanted {
    /// When to read what modules monitor again, of so many ports.
    fn schedule(&self, ports: usize, zero: Clock) -> Option<module_memory::Schedule> {
        /// From this many seconds on there is something to see.
        const LEAST_SECONDS: f64 = 5.0;
        /// Each reading may hold up every other question to the host's kernel.
        const MOST_PORTS: usize = 8;
        let few = !self.ports.is_empty() && ports <= MOST_PORTS;
        let wanted = self.readings_over_time && self.modules && self.seconds >= LEAST_SECONDS;
        let time = Duration::from_secs_f64(self.seconds.clamp(0.0, LONGEST_SECONDS));
        // As many as a capture may hold, the first at once; a second apart at least.
        let every = (time / 60).max(Duration::from_secs(1));
        (few && wanted).then(|| module_memory::Schedule { zero, every, until: Clock::now() + time })
    }
}

/// Why the host could not be looked at.
#[derive(Debug, Error)]
pub enum LookError {
    /// No netlink.
    #[error("this host's kernel cannot be asked about its network: {0}")]
    NoKernel(std::io::Error),
    /// The first list did not come.
    #[error("the kernel did not list its interfaces: {0}")]
    NoList(Missing),
    /// A port that is not there.
    #[error(
        "there is no port {name:?} on this host. Ports: {}. List them with: linkwright survey",
        first_few(there)
    )]
    NoSuchPort {
        /// The name that was asked for.
        name: String,
        /// Every name and alternative name that is there, for a caller that suggests near ones.
        there: Vec<String>,
    },
}

/// Names that are told before the others are only counted.
pub const FEW: usize = 20;

/// A few names for a message: a host may have thousands.
pub fn first_few<T: std::borrow::Borrow<str>>(names: &[T]) -> String {
    let few = names.get(..FEW).unwrap_or(names).join(", ");
    if names.len() > FEW { format!("{few}, and {} more", names.len() - FEW) } else { few }
}

/// Looks at the host. `progress` is told what is being waited for.
///
/// # Errors
/// The kernel cannot be asked at all, or a wanted port is not there.
pub fn look(wanted: &Wanted, progress: &mut dyn FnMut(&str)) -> Result<Snapshot, LookError> {
    look_each(wanted, progress, &mut |_, _| {})
}

/// As [`look`]; each port is shown to `each` once, as soon as it is complete: one whose module
/// answers slowly does not hold up the others.
///
/// # Errors
/// As [`look`].
pub fn look_each(
    wanted: &Wanted,
    progress: &mut dyn FnMut(&str),
    each: &mut dyn FnMut(&Host, &Port),
) -> Result<Snapshot, LookError> {
    progress("listing interfaces");
    let mut kernel = Kernel::open(PATIENCE).map_err(LookError::NoKernel)?;
    let taken_at = Fact::Known(jiff::Timestamp::now().to_string());
    let mut gaps = Vec::new();
    let mut links = list(&mut kernel, &mut gaps).map_err(|f| LookError::NoList(f.missing()))?;
    let started = Clock::now();
    relate(&mut links.ports);
    siblings::fill(&mut links.ports, true);
    let (places, other_names) = links.choose(&wanted.ports)?;
    let mut ports = links.ports;
    // With two instants it is read after the wait, so that what was logged meanwhile is in it.
    let mut log = (wanted.kernel_log && wanted.seconds <= 0.0).then(kernel_log::Reading::start);
    progress("reading link settings");
    let family = Family::find(&mut kernel);
    let (mut counters, mut settings) = family.all(&mut kernel, &places);
    let kept = counters.kept();
    for (place, port) in ports.iter_mut().enumerate() {
        assemble(place, port, &mut settings, &mut counters, &family);
    }
    drop((settings, counters));
    for port in &mut ports {
        sysfs::settle_nature(port);
        if port.nature == Fact::Known(Nature::Hardware) {
            sysfs::fill(port);
        } else {
            let why = match &port.nature {
                Fact::Known(_) => Reason::NotApplicable.into(),
                Fact::Missing(why) => why.clone(),
            };
            port.slot = Fact::Missing(why.clone());
            port.module.memory = Fact::Missing(why);
        }
    }
    // From here on it listens beside everything else.
    let listening = (wanted.listen > 0)
        .then(|| listen::Listening::start(&mut ports, !wanted.ports.is_empty(), wanted.listen));
    if wanted.versions {
        versions(&mut ports);
    }
    let mut private = wanted.private_counters.then(|| Private::start(&mut ports));
    let mut modules = Modules::default();
    if wanted.modules {
        progress("reading modules");
        modules = Modules::start(&ports, &family, wanted.schedule(ports.len(), started));
    }
    if wanted.seconds > 0.0 {
        wait(wanted.seconds, modules.repeated, progress);
        // A read that hangs in the kernel would hold up the counters as well.
        modules.finish(&mut ports, &mut |_| {});
        log = wanted.kernel_log.then(kernel_log::Reading::start);
        if let Err(why) = second_instant(&mut kernel, &family, &places, kept, &mut ports, started) {
            gaps.push(gap("counters over time", why, "look again"));
        }
        if let Some(private) = &mut private {
            private.again(&mut ports);
        }
    }
    if let Some(listening) = listening {
        listening.finish(&mut ports, progress);
    }
    let host = host();
    if let Some(log) = log {
        progress("reading the kernel log");
        if let Err(why) = kernel_log::fill(log, &mut ports, &other_names) {
            gaps.push(gap("kernel log", why, "run as root, or with the CAP_SYSLOG capability"));
        }
    }
    for (place, port) in ports.iter().enumerate() {
        if !modules.is_awaited(place) {
            each(&host, port);
        }
    }
    modules.finish(&mut ports, &mut |port| each(&host, port));
    if let Some(why) = refused(&ports, |port| port.module.memory.why_missing()) {
        gaps.push(gap("module memory", why, "run as root, or with the CAP_NET_ADMIN capability"));
    }
    if let Some(why) = refused(&ports, |port| port.neighbours.why_missing()) {
        gaps.push(gap("neighbours", why, "run as root, or with the CAP_NET_RAW capability"));
    }
    Ok(Snapshot {
        format: FORMAT.into(),
        version: VERSION,
        tool: concat!("linkwright ", env!("CARGO_PKG_VERSION")).into(),
        taken_at,
        host,
        ports,
        gaps,
        file: None,
    })
}

/// The first refusal among the ports' answers to one question.
fn refused(ports: &[Port], why: impl Fn(&Port) -> Option<&Missing>) -> Option<Missing> {
    ports
        .iter()
        .find_map(|port| why(port).filter(|why| why.reason == Reason::NotPermitted).cloned())
}

fn gap(what: &str, missing: Missing, remedy: &str) -> Gap {
    Gap { what: what.into(), missing, remedy: Some(remedy.into()) }
}

/// Lists every interface. An interrupted list is taken again; one that stays interrupted is
/// kept, and said.
fn list(kernel: &mut Kernel, gaps: &mut Vec<Gap>) -> Result<Links, Failure> {
    let mut links = Links::default();
    for _ in 0..TRIES {
        links.indexes.clear();
        links.ports.clear();
        let ended = kernel.ask(Question::Links, |body| {
            if let Some((index, port)) = link::link(body) {
                links.indexes.push(index);
                links.ports.push(port);
            }
        })?;
        if !ended.interrupted {
            return Ok(links);
        }
    }
    gaps.push(gap(
        "list of interfaces",
        Reason::Interrupted.into(),
        "look again when interfaces are not being added or removed",
    ));
    // An interrupted list may name an interface twice.
    let mut seen = HashSet::new();
    links.retain(|index, _| seen.insert(index));
    Ok(links)
}

/// Interfaces as they were listed: the index of each, and its port at the same place.
#[derive(Debug, Default)]
struct Links {
    indexes: Vec<u32>,
    ports: Vec<Port>,
}

impl Links {
    fn iter(&self) -> impl Iterator<Item = (u32, &Port)> {
        self.indexes.iter().copied().zip(&self.ports)
    }

    /// Keeps those that pass, in place: a port is large, and a host may have thousands.
    fn retain(&mut self, mut keep: impl FnMut(u32, &Port) -> bool) {
        let kept: Vec<bool> = self.iter().map(|(index, port)| keep(index, port)).collect();
        let mut flags = kept.iter();
        self.indexes.retain(|_| flags.next() == Some(&true));
        flags = kept.iter();
        self.ports.retain(|_| flags.next() == Some(&true));
    }

    /// Keeps the wanted ports, all of them if none is named. Returns the names of the others.
    fn choose(&mut self, wanted: &[String]) -> Result<(Places, Vec<String>), LookError> {
        for name in wanted {
            if !self.ports.iter().any(|port| port.answers_to(name)) {
                return Err(LookError::NoSuchPort {
                    name: name.clone(),
                    there: self.ports.iter().flat_map(Port::names).map(str::to_owned).collect(),
                });
            }
        }
        let mut others = Vec::new();
        if !wanted.is_empty() {
            let is_meant = |port: &Port| wanted.iter().any(|name| port.answers_to(name));
            let unwanted = self.ports.iter().filter(|port| !is_meant(port));
            others.extend(unwanted.map(|port| port.name.clone()));
            self.retain(|_, port| is_meant(port));
        }
        Ok((Places::of(self.indexes.iter().copied()), others))
    }
}

/// Where each wanted interface stands in the list of ports.
struct Places {
    indexes: Vec<u32>,
    by_index: HashMap<u32, usize>,
}

impl Places {
    fn of(indexes: impl Iterator<Item = u32>) -> Self {
        let indexes: Vec<u32> = indexes.collect();
        let by_index = indexes.iter().copied().zip(0..).collect();
        Self { indexes, by_index }
    }
}

/// Answers of one dump by place, and why a wanted interface is not among them.
struct Answers<T> {
    by_place: Vec<Option<Fact<T>>>,
    absent: Missing,
    /// Every interface that can answer is in it.
    whole: bool,
}

impl<T> Answers<T> {
    fn none(absent: Missing) -> Self {
        Self { by_place: Vec::new(), absent, whole: false }
    }

    fn has(&self, place: usize) -> bool {
        self.by_place.get(place).is_some_and(Option::is_some)
    }

    fn take(&mut self, place: usize) -> Fact<T> {
        let answer = self.by_place.get_mut(place).and_then(Option::take);
        answer.unwrap_or_else(|| Fact::Missing(self.absent.clone()))
    }

    /// As [`Self::take`], for an interface that may have vanished since it was listed.
    fn take_unless_gone(&mut self, place: usize, gone: bool) -> Fact<T> {
        if gone && !self.has(place) {
            return Fact::missing_with(Reason::Gone, "the interface vanished while being read");
        }
        self.take(place)
    }

    fn any(&self, test: impl Fn(&T) -> bool) -> bool {
        self.by_place.iter().flatten().filter_map(Fact::known).any(test)
    }
}

/// The kernel's Ethernet family: its number and commands, or why there is none.
struct Family {
    found: Result<(u16, Vec<u8>), Missing>,
}

/// Settings of all interfaces that no counters come with.
struct Modes {
    info: Answers<Fact<Connector>>,
    modes: Answers<Ethernet>,
    rings: Answers<Rings>,
    energy_saving: Answers<EnergySaving>,
}

impl Modes {
    fn none(absent: &Missing) -> Self {
        Self {
            info: Answers::none(absent.clone()),
            modes: Answers::none(absent.clone()),
            rings: Answers::none(absent.clone()),
            energy_saving: Answers::none(absent.clone()),
        }
    }
}

/// Settings of all interfaces.
struct Settings {
    modes: Modes,
    state: Answers<ethernet::State>,
}

impl Settings {
    /// Settings and state of one interface, without FEC and flow control.
    fn of(&mut self, place: usize) -> Ethernet {
        let gone = self.state.whole && !self.state.has(place);
        let asked = &mut self.modes;
        let mut ethernet = match asked.modes.take_unless_gone(place, gone) {
            Fact::Known(modes) => modes,
            Fact::Missing(why) => ethernet::without_modes(&why),
        };
        ethernet.connector = asked.info.take_unless_gone(place, gone).and_then(|known| known);
        ethernet.rings = asked.rings.take_unless_gone(place, gone);
        ethernet.energy_saving = asked.energy_saving.take_unless_gone(place, gone);
        let state = match self.state.take_unless_gone(place, gone) {
            Fact::Known(state) => state,
            Fact::Missing(why) => ethernet::State::missing(&why),
        };
        ethernet.link_detected = state.detected;
        ethernet.extended_state = state.extended;
        ethernet.signal_quality = state.quality;
        ethernet
    }
}

/// Counters of all interfaces.
struct CounterAnswers {
    fec: Answers<ethernet::Fec>,
    pause: Answers<ethernet::Pause>,
    statistics: Answers<Statistics>,
}

/// Kinds of counters that some interface here keeps.
#[derive(Debug, Clone, Copy)]
struct Kept {
    fec: bool,
    pause: bool,
    statistics: bool,
}

impl CounterAnswers {
    fn kept(&self) -> Kept {
        Kept {
            fec: self.fec.any(|fec| fec.counters.known().is_some()),
            pause: self.pause.any(|pause| pause.frames.known().is_some()),
            statistics: self.statistics.any(|groups| *groups != Statistics::default()),
        }
    }
}

impl Family {
    fn find(kernel: &mut Kernel) -> Self {
        let mut found = None;
        let asked = kernel.ask(Question::Family, |body| found = ethernet::family(body));
        let found = match (asked, found) {
            (Ok(_), Some(found)) => {
                kernel.set_family(found.0);
                Ok(found)
            }
            (Ok(_), None) => Err(Missing::from(Reason::Malformed)),
            (Err(Failure::Refused(refusal)), _) if refusal.errno == libc::ENOENT => Err(
                Missing::with(Reason::OlderKernel, "this kernel has no Ethernet netlink family"),
            ),
            (Err(failure), _) => Err(failure.missing()),
        };
        Self { found }
    }

    /// Why a command cannot be asked, if it cannot.
    fn lacks(&self, number: u8) -> Option<Missing> {
        match &self.found {
            Err(why) => Some(why.clone()),
            Ok((_, commands)) if commands.is_empty() || commands.contains(&number) => None,
            Ok(_) => Some(Reason::OlderKernel.into()),
        }
    }

    /// Asks about all interfaces at once. A device that fails ends the kernel's dump and hides
    /// every device behind it: then each wanted one that has not answered is asked by itself.
    fn dump<T>(
        &self,
        kernel: &mut Kernel,
        number: u8,
        question: impl Fn(About) -> Question,
        wanted: &Places,
        read: impl Fn(&[u8]) -> Option<(u32, T)>,
    ) -> Answers<T> {
        if let Some(absent) = self.lacks(number) {
            return Answers::none(absent);
        }
        let mut by_place: Vec<Option<Fact<T>>> = Vec::new();
        by_place.resize_with(wanted.indexes.len(), || None);
        let take = |body: &[u8]| {
            let Some((index, answer)) = read(body) else { return };
            let place = wanted.by_index.get(&index).and_then(|place| by_place.get_mut(*place));
            if let Some(place) = place {
                *place = Some(Fact::Known(answer));
            }
        };
        // Devices that cannot answer are left out of a dump.
        let absent = Missing::from(Reason::NotSupported);
        match kernel.ask(question(About::All), take) {
            Ok(ended) if !ended.interrupted => return Answers { by_place, absent, whole: true },
            Ok(_) => {}
            Err(Failure::Refused(refusal)) if refusal.midway => {}
            Err(failure) => return Answers { by_place, absent: failure.missing(), whole: false },
        }
        for (index, place) in wanted.indexes.iter().zip(&mut by_place) {
            if place.is_some() {
                continue;
            }
            let mut answer = None;
            let asked = kernel.ask(question(About::One(*index)), |body| answer = read(body));
            *place = Some(match (asked, answer) {
                (Ok(_), Some((_, answer))) => Fact::Known(answer),
                (Ok(_), None) => Fact::missing(Reason::Malformed),
                (Err(failure), _) => Fact::Missing(failure.missing()),
            });
        }
        Answers { by_place, absent, whole: true }
    }

    /// Counters and settings of all interfaces, asked on two sockets at once: what one answered
    /// is read while the kernel makes up the other's.
    fn all(&self, kernel: &mut Kernel, wanted: &Places) -> (CounterAnswers, Settings) {
        let kept = Kept { fec: true, pause: true, statistics: true };
        let (counters, modes) = match kernel.another() {
            Err(_) => (self.counters(kernel, wanted, kept), self.modes(kernel, wanted)),
            Ok(mut second) => std::thread::scope(|scope| {
                let modes = scope.spawn(move || self.modes(&mut second, wanted));
                let counters = self.counters(kernel, wanted, kept);
                let failed = || Missing::with(Reason::NotReported, "reading it failed");
                (counters, modes.join().unwrap_or_else(|_| Modes::none(&failed())))
            }),
        };
        (counters, Settings { modes, state: self.state(kernel, wanted) })
    }

    fn settings(&self, kernel: &mut Kernel, wanted: &Places) -> Settings {
        let modes = self.modes(kernel, wanted);
        Settings { modes, state: self.state(kernel, wanted) }
    }

    fn modes(&self, kernel: &mut Kernel, wanted: &Places) -> Modes {
        let info =
            self.dump(kernel, command::LINK_INFO, Question::LinkInfo, wanted, ethernet::link_info);
        let modes = self.dump(
            kernel,
            command::LINK_MODES,
            Question::LinkModes,
            wanted,
            ethernet::link_modes,
        );
        let rings = self.dump(kernel, command::RINGS, Question::Rings, wanted, ethernet::rings);
        let energy_saving = self.dump(
            kernel,
            command::ENERGY_SAVING,
            Question::EnergySaving,
            wanted,
            ethernet::energy_saving,
        );
        Modes { info, modes, rings, energy_saving }
    }

    /// Asked last: every interface answers this one, so that whoever is not in it has vanished.
    fn state(&self, kernel: &mut Kernel, wanted: &Places) -> Answers<ethernet::State> {
        self.dump(kernel, command::LINK_STATE, Question::LinkState, wanted, ethernet::link_state)
    }

    /// Counters of those kinds that are kept.
    fn counters(&self, kernel: &mut Kernel, wanted: &Places, kept: Kept) -> CounterAnswers {
        let ask = |counters| move |about| Question::Fec { about, counters };
        let mut fec = Answers::none(Reason::NotAsked.into());
        if kept.fec {
            fec = self.dump(kernel, command::FEC, ask(true), wanted, ethernet::fec);
            if !fec.whole && fec.absent.reason == Reason::NotReported {
                // A kernel that does not know the statistics flag refuses the request.
                fec = self.dump(kernel, command::FEC, ask(false), wanted, |body| {
                    let (index, mut fec) = ethernet::fec(body)?;
                    fec.counters = Fact::missing(Reason::OlderKernel);
                    Some((index, fec))
                });
            }
        }
        let ask = |counters| move |about| Question::Pause { about, counters };
        let mut pause = Answers::none(Reason::NotAsked.into());
        if kept.pause {
            pause = self.dump(kernel, command::PAUSE, ask(true), wanted, ethernet::pause);
            if !pause.whole && pause.absent.reason == Reason::NotReported {
                pause = self.dump(kernel, command::PAUSE, ask(false), wanted, |body| {
                    let (index, mut pause) = ethernet::pause(body)?;
                    pause.frames = Fact::missing(Reason::OlderKernel);
                    Some((index, pause))
                });
            }
        }
        let mut statistics = Answers::none(Reason::NotAsked.into());
        if kept.statistics {
            statistics = self.dump(
                kernel,
                command::STATISTICS,
                Question::Statistics,
                wanted,
                ethernet::statistics,
            );
        }
        CounterAnswers { fec, pause, statistics }
    }
}

/// Completes one port from the answers of all dumps.
fn assemble(
    place: usize,
    port: &mut Port,
    settings: &mut Settings,
    counters: &mut CounterAnswers,
    family: &Family,
) {
    let gone = settings.state.whole && !settings.state.has(place);
    let mut ethernet = settings.of(place);
    let fec = match counters.fec.take_unless_gone(place, gone) {
        Fact::Known(fec) => fec,
        Fact::Missing(why) => ethernet::Fec::missing(&why),
    };
    ethernet.fec_configured = fec.configured;
    ethernet.fec_automatic = fec.automatic;
    ethernet.fec_active = fec.active;
    let pause = match counters.pause.take_unless_gone(place, gone) {
        Fact::Known(pause) => pause,
        Fact::Missing(why) => ethernet::Pause::missing(&why),
    };
    ethernet.flow_control = pause.control;
    let statistics = counters.statistics.take_unless_gone(place, gone);
    if let Some(instant) = port.instants.first_mut() {
        instant.fec_counters = fec.counters;
        instant.pause_frames = pause.frames;
        instant.statistics = statistics;
    }
    port.ethernet = ethernet;
    if let Some(why) = family.lacks(command::MODULE_MEMORY) {
        port.module.memory = Fact::Missing(why);
    }
}

fn milliseconds(started: Clock) -> u64 {
    u64::try_from(started.elapsed().as_millis()).unwrap_or(u64::MAX)
}

/// Modules that are being read, and the place of the port of each.
#[derive(Default)]
struct Modules {
    reading: Option<module_memory::Reading>,
    places: Vec<usize>,
    /// Whether what they monitor is read again and again.
    repeated: bool,
}

impl Modules {
    fn start(ports: &[Port], family: &Family, schedule: Option<module_memory::Schedule>) -> Self {
        let Ok((number, _)) = &family.found else { return Self::default() };
        let (places, indexes): (Vec<usize>, Vec<u32>) = ports
            .iter()
            .enumerate()
            .filter(|(_, port)| port.nature == Fact::Known(Nature::Hardware))
            .filter(|(_, port)| port.module.memory.is_not_asked())
            .filter_map(|(place, port)| Some((place, *port.index.known()?)))
            .unzip();
        let repeated = schedule.is_some() && !indexes.is_empty();
        let reading = module_memory::Reading::start(&indexes, *number, MODULE_PATIENCE, schedule);
        Self { reading: Some(reading), places, repeated }
    }

    fn is_awaited(&self, place: usize) -> bool {
        self.reading.is_some() && self.places.contains(&place)
    }

    /// Waits for all of them; `done` is shown each port as its module is there.
    fn finish(&mut self, ports: &mut [Port], done: &mut dyn FnMut(&Port)) {
        let Some(mut reading) = self.reading.take() else { return };
        while let Some((number, memory)) = reading.next() {
            let port = self.places.get(number).and_then(|place| ports.get_mut(*place));
            if let Some(port) = port {
                port.module.memory = memory;
                done(port);
            }
        }
        for (number, readings) in reading.again(module_memory::LAST_READING) {
            let port = self.places.get(number).and_then(|place| ports.get_mut(*place));
            if let Some(port) = port {
                port.module.readings_over_time = Fact::Known(readings);
            }
        }
    }
}

/// Asks the drivers for their versions, and for those of their adapters' firmware.
fn versions(ports: &mut [Port]) {
    let mut asker = Asker::new();
    for port in ports {
        let told = match &mut asker {
            Ok(asker) => asker.versions(&port.name),
            Err(error) => Versions::missing(&Missing::with(Reason::NotReported, error.to_string())),
        };
        told.fill(port);
    }
}

/// Counters that drivers keep under names of their own.
struct Private {
    asker: Option<Asker>,
    /// Names of each port's counters, by place.
    names: Vec<Vec<String>>,
}

impl Private {
    /// Asks for names and first values of the hardware ports.
    fn start(ports: &mut [Port]) -> Self {
        let (mut asker, failed) = match Asker::new() {
            Ok(asker) => (Some(asker), Missing::default()),
            Err(error) => (None, Missing::with(Reason::NotReported, error.to_string())),
        };
        let names = ports.iter_mut().map(|port| {
            let Some(instant) = port.instants.first_mut() else { return Vec::new() };
            if port.nature != Fact::Known(Nature::Hardware) {
                instant.private_counters = Fact::missing(Reason::NotApplicable);
                return Vec::new();
            }
            let names = match &mut asker {
                Some(asker) => asker.names(&port.name),
                None => Err(failed.clone()),
            };
            match (names, &mut asker) {
                (Ok(names), Some(asker)) => {
                    instant.private_counters = asker.values(&port.name, &names);
                    names
                }
                (Ok(_), None) => Vec::new(),
                (Err(why), _) => {
                    instant.private_counters = Fact::Missing(why);
                    Vec::new()
                }
            }
        });
        let names = names.collect();
        Self { asker, names }
    }

    /// Asks for the values once more; what could not be had before is not asked again.
    fn again(&mut self, ports: &mut [Port]) {
        for (port, names) in ports.iter_mut().zip(&self.names) {
            let [first, .., last] = port.instants.as_mut_slice() else { continue };
            last.private_counters = match (&first.private_counters, &mut self.asker) {
                (Fact::Known(_), Some(asker)) => asker.values(&port.name, names),
                (before, _) => before.clone(),
            };
        }
    }
}

/// Takes counters and state once more. Where the first instant showed that nobody here keeps a
/// kind of counters, it is not asked again.
fn second_instant(
    kernel: &mut Kernel,
    family: &Family,
    places: &Places,
    kept: Kept,
    ports: &mut [Port],
    started: Clock,
) -> Result<(), Missing> {
    let mut gaps = Vec::new();
    let links = list(kernel, &mut gaps).map_err(|failure| failure.missing())?;
    let at = milliseconds(started);
    let mut counters = family.counters(kernel, places, kept);
    let mut now: Vec<Option<Port>> = Vec::new();
    now.resize_with(ports.len(), || None);
    for (index, port) in links.indexes.iter().zip(links.ports) {
        let place = places.by_index.get(index).and_then(|place| now.get_mut(*place));
        if let Some(place) = place {
            *place = Some(port);
        }
    }
    // A link that went down meanwhile may have come back with another speed.
    let moved: Vec<bool> = ports
        .iter()
        .zip(&now)
        .map(|(port, now)| now.as_ref().is_some_and(|now| carrier_moved(port, now)))
        .collect();
    if moved.contains(&true) {
        let mut settings = family.settings(kernel, places);
        let moved = ports.iter_mut().enumerate().zip(&moved).filter(|(_, moved)| **moved);
        for ((place, port), _) in moved {
            let before = std::mem::replace(&mut port.ethernet, settings.of(place));
            port.ethernet.fec_configured = before.fec_configured;
            port.ethernet.fec_automatic = before.fec_automatic;
            port.ethernet.fec_active = before.fec_active;
            port.ethernet.flow_control = before.flow_control;
        }
    }
    for (place, (port, now)) in ports.iter_mut().zip(now).enumerate() {
        let Some(mut now) = now else {
            // From an interrupted list it may be absent by chance.
            let why = match gaps.first() {
                Some(gap) => gap.missing.clone(),
                None => Missing::with(Reason::Gone, "the interface vanished while being watched"),
            };
            // What was read stands, what it is now is not known.
            port.carrier = Fact::Missing(why.clone());
            port.operational_state = Fact::Missing(why.clone());
            port.admin_up = Fact::Missing(why);
            continue;
        };
        let Some(mut instant) = now.instants.pop() else { continue };
        instant.at_milliseconds = at;
        let before = port.instants.first();
        instant.fec_counters = match before {
            Some(before) if !kept.fec => before.fec_counters.clone(),
            _ => counters.fec.take(place).and_then(|fec| {
                // As it is now, like the carrier below.
                port.ethernet.fec_configured = fec.configured;
                port.ethernet.fec_automatic = fec.automatic;
                port.ethernet.fec_active = fec.active;
                fec.counters
            }),
        };
        instant.pause_frames = match before {
            Some(before) if !kept.pause => before.pause_frames.clone(),
            _ => counters.pause.take(place).and_then(|pause| {
                port.ethernet.flow_control = pause.control;
                pause.frames
            }),
        };
        instant.statistics = match before {
            Some(before) if !kept.statistics => before.statistics.clone(),
            _ => counters.statistics.take(place),
        };
        port.admin_up = now.admin_up;
        port.operational_state = now.operational_state;
        port.carrier = now.carrier;
        instant.received_milliwatts = sysfs::received_milliwatts(port);
        port.instants.reserve_exact(1);
        port.instants.push(instant);
    }
    match gaps.pop() {
        Some(gap) => Err(gap.missing),
        None => Ok(()),
    }
}

/// Whether carrier was lost or found between two looks at a port.
fn carrier_moved(before: &Port, now: &Port) -> bool {
    let counts = |port: &Port| {
        let instant = port.instants.first();
        instant.map(|i| (i.carrier_up_count.clone(), i.carrier_down_count.clone()))
    };
    before.carrier != now.carrier || counts(before) != counts(now)
}

fn wait(seconds: f64, modules: bool, progress: &mut dyn FnMut(&str)) {
    let what = if modules { "counters and module readings" } else { "counters" };
    // Called with a positive number only.
    let end = Clock::now() + Duration::from_secs_f64(seconds.min(LONGEST_SECONDS));
    loop {
        let left = end.saturating_duration_since(Clock::now());
        if left.is_zero() {
            return;
        }
        progress(&format!("watching {what}, {:.0} s left", left.as_secs_f64().ceil()));
        std::thread::sleep(left.min(Duration::from_secs(1)));
    }
}

/// The host itself.
fn host() -> Host {
    let read = |path: &str| match fs::read_to_string(path) {
        Ok(text) => Fact::Known(text.trim().to_owned()),
        Err(error) => Fact::missing_with(Reason::NotReported, error.to_string()),
    };
    let capability = |bit: u32| {
        read("/proc/self/status").and_then(|status| {
            let line = status.lines().find_map(|line| line.strip_prefix("CapEff:"));
            match line.and_then(|hex| u64::from_str_radix(hex.trim(), 16).ok()) {
                Some(set) => Fact::Known(set & (1 << bit) != 0),
                None => Fact::missing(Reason::NotReported),
            }
        })
    };
    Host {
        name: read("/proc/sys/kernel/hostname").known().cloned().unwrap_or_default(),
        kernel: read("/proc/sys/kernel/osrelease"),
        may_read_modules: capability(12),    // CAP_NET_ADMIN
        may_read_kernel_log: capability(34), // CAP_SYSLOG
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answers<T>(of: Vec<Option<T>>, whole: bool) -> Answers<T> {
        let by_place = of.into_iter().map(|answer| answer.map(Fact::Known)).collect();
        Answers { by_place, absent: Reason::NotSupported.into(), whole }
    }

    fn port_of(index: u32) -> Port {
        let instants = vec![crate::snapshot::Instant::default()];
        Port { name: format!("quay{index}"), instants, ..Port::default() }
    }

    /// Three interfaces were listed; the third vanished before its settings were asked. A dump
    /// leaves out both what cannot answer and what is not there any more: kernel-facts.
    #[test]
    fn what_vanished_is_not_called_unsupported() {
        let family = Family { found: Ok((21, Vec::new())) };
        let speed = Ethernet { speed_mbps: Fact::Known(1000), ..Ethernet::default() };
        let mut settings = Settings {
            modes: Modes {
                modes: answers(vec![Some(speed)], true),
                ..Modes::none(&Reason::NotSupported.into())
            },
            state: answers(
                vec![Some(ethernet::State::default()), Some(ethernet::State::default()), None],
                true,
            ),
        };
        let mut counters = CounterAnswers {
            fec: answers(Vec::new(), true),
            pause: answers(Vec::new(), true),
            statistics: answers(vec![None, None, Some(Statistics::default())], true),
        };
        let mut port = |number: u32| {
            let place = usize::try_from(number).unwrap() - 1;
            let mut port = port_of(number);
            assemble(place, &mut port, &mut settings, &mut counters, &family);
            port
        };
        let reason = |fact: &Fact<u32>| fact.why_missing().map(|why| why.reason);
        assert_eq!(port(1).ethernet.speed_mbps, Fact::Known(1000));
        let second = port(2);
        assert_eq!(reason(&second.ethernet.speed_mbps), Some(Reason::NotSupported));
        let third = port(3);
        assert_eq!(reason(&third.ethernet.speed_mbps), Some(Reason::Gone));
        assert_eq!(third.ethernet.fec_active.why_missing().unwrap().reason, Reason::Gone);
        assert!(third.instants[0].statistics.known().is_some(), "what was read stands");
        assert_eq!(third.ethernet.rings.why_missing().unwrap().reason, Reason::Gone);
        assert_eq!(third.ethernet.flow_control.why_missing().unwrap().reason, Reason::Gone);
        assert!(
            second.ethernet.energy_saving.why_missing().unwrap().reason == Reason::NotSupported
        );
        for fact in [&third.ethernet.lanes, &second.ethernet.lanes] {
            assert!(!fact.is_not_asked(), "it was asked");
        }
    }

    /// Where the dump that everybody answers did not come whole, nobody is called gone.
    #[test]
    fn nothing_is_called_gone_on_a_broken_list() {
        let family = Family { found: Ok((21, Vec::new())) };
        let mut settings = Settings {
            modes: Modes::none(&Reason::NotSupported.into()),
            state: Answers::none(Reason::TimedOut.into()),
        };
        let mut counters = CounterAnswers {
            fec: answers(Vec::new(), true),
            pause: answers(Vec::new(), true),
            statistics: answers(Vec::new(), true),
        };
        let mut port = port_of(1);
        assemble(0, &mut port, &mut settings, &mut counters, &family);
        let reason = port.ethernet.speed_mbps.why_missing().unwrap().reason;
        assert_eq!(reason, Reason::NotSupported);
        assert_eq!(port.ethernet.link_detected.why_missing().unwrap().reason, Reason::TimedOut);
    }

    #[test]
    fn a_long_list_is_cut_in_the_message_only() {
        let ports = (1..=50).map(port_of).collect();
        let mut links = Links { indexes: (1..=50).collect(), ports };
        let Err(error) = links.choose(&["quay51".into()]) else { panic!() };
        assert!(error.to_string().contains("and 30 more"), "{error}");
        let LookError::NoSuchPort { there, .. } = error else { panic!() };
        assert_eq!(there.len(), 50);
    }
}
