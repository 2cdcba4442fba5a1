//! A live host, looked at and never changed.
//!
//! In: which ports to look at. Out: a [`Snapshot`]. The number of requests to the kernel does
//! not grow with the number of interfaces, module memory apart: a handful of dumps, then sysfs
//! for devices, then the module buses of the wanted ports, then the kernel log.

mod ask;
mod attributes;
pub mod ethernet;
#[doc(hidden)]
pub mod fuzz;
#[cfg(test)]
mod header_test;
mod kernel_log;
pub mod link;
mod link_modes;
mod module_memory;
mod sysfs;

use std::collections::HashMap;
use std::fs;
use std::time::{Duration, Instant as Clock};

use thiserror::Error;

use crate::observe::live::ask::{Ended, Failure, Kernel, Question, command};
use crate::observe::live::link::Link;
use crate::snapshot::{
    Ethernet, FORMAT, Fact, Gap, Host, Missing, Nature, Port, Reason, Snapshot, VERSION,
};

/// Longest wait for an answer, milliseconds.
const PATIENCE: u16 = 5000;
/// Longest time for the modules of all ports.
const MODULE_PATIENCE: Duration = Duration::from_secs(10);
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
        there.join(", ")
    )]
    NoSuchPort {
        /// The name that was asked for.
        name: String,
        /// Names that are there, at most twenty.
        there: Vec<String>,
    },
}

/// Looks at the host. `progress` is told what is being waited for.
///
/// # Errors
/// The kernel cannot be asked at all, or a wanted port is not there.
pub fn look(wanted: &Wanted, progress: &mut dyn FnMut(&str)) -> Result<Snapshot, LookError> {
    progress("listing interfaces");
    let mut kernel = Kernel::open(PATIENCE).map_err(LookError::NoKernel)?;
    let taken_at = Fact::Known(jiff::Timestamp::now().to_string());
    let started = Clock::now();
    let mut gaps = Vec::new();
    let mut links = list(&mut kernel, &mut gaps).map_err(|f| LookError::NoList(f.missing()))?;
    name_relations(&mut links);
    let chosen = choose(links, &wanted.ports)?;
    let mut family = Family::find(&mut kernel);
    progress("reading link settings");
    let mut ports = Vec::with_capacity(chosen.len());
    let settings = family.settings(&mut kernel);
    let mut first = family.counters(&mut kernel, true);
    for link in chosen {
        ports.push(assemble(link, &settings, &mut first, &family, started));
    }
    for port in &mut ports {
        if port.nature == Fact::Known(Nature::Hardware) {
            sysfs::fill(port);
        } else {
            port.slot = Fact::missing(Reason::NotApplicable);
            port.module.memory = Fact::missing(Reason::NotApplicable);
        }
    }
    if wanted.modules {
        progress("reading modules");
        modules(&mut ports, &family);
    }
    second_instant(wanted, progress, &mut kernel, &family, &mut ports, started, &mut gaps);
    let host = host();
    if wanted.kernel_log {
        progress("reading the kernel log");
        if let Err(why) = kernel_log::fill(&mut ports) {
            gaps.push(gap("kernel log", why, "run as root, or with the CAP_SYSLOG capability"));
        }
    }
    let refused = ports.iter().find_map(|port| {
        port.module.memory.why_missing().filter(|why| why.reason == Reason::NotPermitted).cloned()
    });
    if let Some(why) = refused {
        gaps.push(gap("module memory", why, "run as root, or with the CAP_NET_ADMIN capability"));
    }
    Ok(Snapshot {
        format: FORMAT.into(),
        version: VERSION,
        tool: concat!("linkwright ", env!("CARGO_PKG_VERSION")).into(),
        taken_at,
        host,
        ports,
        gaps,
    })
}

fn gap(what: &str, missing: Missing, remedy: &str) -> Gap {
    Gap { what: what.into(), missing, remedy: Some(remedy.into()) }
}

/// Lists every interface. An interrupted list is taken again; one that stays interrupted is
/// kept, and said.
fn list(kernel: &mut Kernel, gaps: &mut Vec<Gap>) -> Result<Vec<Link>, Failure> {
    let mut last = Vec::new();
    for _ in 0..TRIES {
        let mut links = Vec::new();
        let ended: Ended = match kernel.ask(Question::Links, |body| links.extend(link::link(body)))
        {
            Ok(ended) => ended,
            Err(Failure::Socket(error)) if error.raw_os_error() == Some(libc::ENOBUFS) => continue,
            Err(failure) => return Err(failure),
        };
        if !ended.interrupted {
            return Ok(links);
        }
        last = links;
    }
    gaps.push(gap(
        "list of interfaces",
        Reason::Interrupted.into(),
        "look again when interfaces are not being added or removed",
    ));
    Ok(last)
}

/// Gives related interfaces their names, where they are visible here.
fn name_relations(links: &mut [Link]) {
    let names: HashMap<u32, String> =
        links.iter().map(|link| (link.index, link.port.name.clone())).collect();
    for link in links {
        for related in [&mut link.port.controller, &mut link.port.lower].into_iter().flatten() {
            related.name = related.index.and_then(|index| names.get(&index).cloned());
        }
    }
}

fn choose(links: Vec<Link>, wanted: &[String]) -> Result<Vec<Link>, LookError> {
    if wanted.is_empty() {
        return Ok(links);
    }
    for name in wanted {
        if !links.iter().any(|link| link.port.answers_to(name)) {
            return Err(LookError::NoSuchPort {
                name: name.clone(),
                there: links.iter().take(20).map(|link| link.port.name.clone()).collect(),
            });
        }
    }
    Ok(links
        .into_iter()
        .filter(|link| wanted.iter().any(|name| link.port.answers_to(name)))
        .collect())
}

/// Answers of one dump, and why an interface is not among them.
struct Answers<T> {
    by_index: HashMap<u32, T>,
    absent: Missing,
}

impl<T: Clone> Answers<T> {
    fn of(&self, index: u32) -> Fact<T> {
        match self.by_index.get(&index) {
            Some(answer) => Fact::Known(answer.clone()),
            None => Fact::Missing(self.absent.clone()),
        }
    }

    fn take(&mut self, index: u32) -> Fact<T> {
        match self.by_index.remove(&index) {
            Some(answer) => Fact::Known(answer),
            None => Fact::Missing(self.absent.clone()),
        }
    }
}

/// The kernel's Ethernet family: its number and commands, or why there is none.
struct Family {
    found: Result<(u16, Vec<u8>), Missing>,
    counts_fec: bool,
}

/// Settings of all interfaces.
struct Settings {
    info: Answers<Fact<crate::snapshot::Connector>>,
    modes: Answers<Ethernet>,
    state: Answers<ethernet::State>,
}

/// Counters of all interfaces.
struct CounterAnswers {
    fec: Answers<ethernet::Fec>,
    statistics: Answers<crate::snapshot::Statistics>,
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
        Self { found, counts_fec: true }
    }

    /// Why a command cannot be asked, if it cannot.
    fn lacks(&self, number: u8) -> Option<Missing> {
        match &self.found {
            Err(why) => Some(why.clone()),
            Ok((_, commands)) if commands.is_empty() || commands.contains(&number) => None,
            Ok(_) => Some(Reason::OlderKernel.into()),
        }
    }

    fn dump<T>(
        &self,
        kernel: &mut Kernel,
        number: u8,
        question: Question,
        mut read: impl FnMut(&[u8]) -> Option<(u32, T)>,
    ) -> Answers<T> {
        let mut by_index = HashMap::new();
        if let Some(absent) = self.lacks(number) {
            return Answers { by_index, absent };
        }
        // Devices that cannot answer are left out of a dump.
        let absent = match kernel.ask(question, |body| by_index.extend(read(body))) {
            Ok(_) => Reason::NotSupported.into(),
            Err(failure) => failure.missing(),
        };
        Answers { by_index, absent }
    }

    fn settings(&self, kernel: &mut Kernel) -> Settings {
        Settings {
            info: self.dump(kernel, command::LINK_INFO, Question::LinkInfo, ethernet::link_info),
            modes: self.dump(kernel, command::LINK_MODES, Question::LinkModes, |body| {
                let mut settings = Ethernet::default();
                let index = ethernet::link_modes(body, &mut settings)?;
                Some((index, settings))
            }),
            state: self.dump(
                kernel,
                command::LINK_STATE,
                Question::LinkState,
                ethernet::link_state,
            ),
        }
    }

    /// Counters; `any` asks for FEC even where nothing is known of it yet.
    fn counters(&mut self, kernel: &mut Kernel, any: bool) -> CounterAnswers {
        let nothing = || Answers { by_index: HashMap::new(), absent: Reason::NotSupported.into() };
        let fec = if any || self.counts_fec {
            let with = Question::Fec { counters: true };
            let mut fec = self.dump(kernel, command::FEC, with, ethernet::fec);
            if fec.by_index.is_empty() && fec.absent.reason == Reason::NotReported {
                // A kernel that does not know the statistics flag refuses the request.
                let without = Question::Fec { counters: false };
                fec = self.dump(kernel, command::FEC, without, ethernet::fec);
            }
            self.counts_fec = !fec.by_index.is_empty();
            fec
        } else {
            nothing()
        };
        let statistics =
            self.dump(kernel, command::STATISTICS, Question::Statistics, ethernet::statistics);
        CounterAnswers { fec, statistics }
    }
}

/// One port from the answers of all dumps.
fn assemble(
    link: Link,
    settings: &Settings,
    counters: &mut CounterAnswers,
    family: &Family,
    started: Clock,
) -> Port {
    let Link { index, mut port, mut instant, .. } = link;
    let ethernet = &mut port.ethernet;
    match settings.modes.of(index) {
        Fact::Known(modes) => *ethernet = modes,
        Fact::Missing(why) => {
            ethernet.speed_mbps = Fact::Missing(why.clone());
            ethernet.duplex = Fact::Missing(why.clone());
            ethernet.autonegotiation = Fact::Missing(why.clone());
            ethernet.supported_modes = Fact::Missing(why.clone());
            ethernet.advertised_modes = Fact::Missing(why.clone());
            ethernet.peer_modes = Fact::Missing(why);
        }
    }
    // A port that lists no modes at all has none to tell.
    for modes in [&mut ethernet.supported_modes, &mut ethernet.advertised_modes] {
        if modes.known().is_some_and(Vec::is_empty) {
            *modes = Fact::missing_with(Reason::NotReported, "the driver lists no modes");
        }
    }
    ethernet.connector = settings.info.of(index).and_then(|connector| connector);
    match settings.state.of(index) {
        Fact::Known(state) => {
            ethernet.link_detected = state.detected;
            ethernet.extended_state = state.extended;
            ethernet.signal_quality = state.quality;
        }
        Fact::Missing(why) => {
            ethernet.link_detected = Fact::Missing(why.clone());
            ethernet.extended_state = Fact::Missing(why);
        }
    }
    match counters.fec.take(index) {
        Fact::Known(fec) => {
            ethernet.fec_configured = fec.configured;
            ethernet.fec_automatic = fec.automatic;
            ethernet.fec_active = fec.active;
            instant.fec_counters = fec.counters;
        }
        Fact::Missing(why) => {
            ethernet.fec_configured = Fact::Missing(why.clone());
            ethernet.fec_active = Fact::Missing(why.clone());
            instant.fec_counters = Fact::Missing(why);
        }
    }
    instant.statistics = counters.statistics.take(index);
    instant.at_milliseconds = milliseconds(started);
    port.instants.push(instant);
    port.module.memory = match family.lacks(command::MODULE_MEMORY) {
        Some(why) => Fact::Missing(why),
        None => Fact::default(),
    };
    port
}

fn milliseconds(started: Clock) -> u64 {
    u64::try_from(started.elapsed().as_millis()).unwrap_or(u64::MAX)
}

fn modules(ports: &mut [Port], family: &Family) {
    let Ok((number, _)) = &family.found else { return };
    let mut asked: Vec<(&mut Port, u32)> = ports
        .iter_mut()
        .filter(|port| port.nature == Fact::Known(Nature::Hardware))
        .filter(|port| port.module.memory.is_not_asked())
        .filter_map(|port| port.index.known().copied().map(|index| (port, index)))
        .collect();
    let indexes: Vec<u32> = asked.iter().map(|(_, index)| *index).collect();
    let read = module_memory::read_all(&indexes, *number, MODULE_PATIENCE);
    for ((port, _), memory) in asked.iter_mut().zip(read) {
        port.module.memory = memory;
    }
}

/// Waits, and takes counters and state once more.
fn second_instant(
    wanted: &Wanted,
    progress: &mut dyn FnMut(&str),
    kernel: &mut Kernel,
    family: &Family,
    ports: &mut [Port],
    started: Clock,
    gaps: &mut Vec<Gap>,
) {
    if wanted.seconds <= 0.0 {
        return;
    }
    wait(wanted.seconds, progress);
    let Ok(links) = list(kernel, gaps) else {
        gaps.push(gap("counters over time", Reason::Interrupted.into(), "look again"));
        return;
    };
    let at = milliseconds(started);
    let mut again = Family { found: family.found.clone(), counts_fec: family.counts_fec };
    let mut counters = again.counters(kernel, false);
    let mut by_index: HashMap<u32, Link> =
        links.into_iter().map(|link| (link.index, link)).collect();
    for port in ports {
        let Some(index) = port.index.known().copied() else { continue };
        let Some(Link { port: now, mut instant, .. }) = by_index.remove(&index) else {
            // Gone since: what was read stands, what it is now is not known.
            let gone = || Missing::with(Reason::Gone, "the interface vanished while being watched");
            port.carrier = Fact::Missing(gone());
            port.operational_state = Fact::Missing(gone());
            port.admin_up = Fact::Missing(gone());
            continue;
        };
        instant.at_milliseconds = at;
        instant.fec_counters = counters.fec.take(index).and_then(|fec| fec.counters);
        instant.statistics = counters.statistics.take(index);
        port.admin_up = now.admin_up;
        port.operational_state = now.operational_state;
        port.carrier = now.carrier;
        port.instants.push(instant);
    }
}

fn wait(seconds: f64, progress: &mut dyn FnMut(&str)) {
    let end = Clock::now() + Duration::from_secs_f64(seconds.clamp(0.0, 86_400.0));
    loop {
        let left = end.saturating_duration_since(Clock::now());
        if left.is_zero() {
            return;
        }
        progress(&format!("watching counters, {:.0} s left", left.as_secs_f64().ceil()));
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
