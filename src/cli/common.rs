//! What several commands share: where facts come from, and what the user knows.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};

use crate::chain::far as far_end;
use crate::chain::joined::{self, End, Joined};
use crate::cli::Out;
use crate::diagnose::{Diagnosis, Knowledge, PortDiagnosis, Told, diagnose_port};
use crate::observe::capture::Loaded;
use crate::observe::{capture, live};
use crate::plan::link::parse_rate;
use crate::quantity::BitsPerSecond;
use crate::render::json;
use crate::report::redact::Material;
use crate::site::{Site, SitePort};
use crate::snapshot::{Host, Port, Snapshot};

/// Where facts come from.
#[derive(Debug, Args)]
pub struct Source {
    /// Replay a capture, or a folder of captures, instead of looking at this host
    #[arg(long, value_name = "FILE|DIR")]
    pub from: Option<PathBuf>,
    /// Seconds between the two instants that give rates; 0 takes one instant and no rates. From 5 on,
    /// explain, report and capture also read again and again what the modules of named ports monitor
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = seconds,
          conflicts_with = "from")]
    pub seconds: f64,
}

/// Whether to listen for neighbours.
#[derive(Debug, Args)]
pub struct Listen {
    /// Seconds to listen for what the far end announces of itself (IEEE 802.1AB, most do so every
    /// 30 s); 0 does not listen. It sends nothing
    #[arg(long, value_name = "SECONDS", default_value_t = 0, conflicts_with = "from",
          value_parser = clap::value_parser!(u16).range(0..=i64::from(live::LONGEST_LISTENING)))]
    pub listen: u16,
}

/// What the user knows.
#[derive(Debug, Args)]
pub struct Known {
    /// What you know of your links: medium, length, intended speed, far end (TOML)
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// The far end's capture
    #[arg(long, value_name = "FILE")]
    pub far: Option<PathBuf>,
    /// Which port of the far end's capture is at the other end
    #[arg(long, value_name = "PORT", requires = "far")]
    pub far_port: Option<String>,
}

/// Form of the output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// One JSON document
    Json,
    /// One JSON line a port; survey and explain end each host with a line {"type": "host", ...}
    Ndjson,
}

pub fn seconds(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "give a number of seconds, such as 1 or 0.5")?;
    if (0.0..=86_400.0).contains(&seconds) {
        Ok(seconds)
    } else {
        Err("give between 0 and 86400 seconds".into())
    }
}

/// A rate that somebody measured.
pub fn rate(text: &str) -> Result<BitsPerSecond, String> {
    parse_rate(text).ok_or_else(|| {
        "write a rate with its unit: 9.4Gbit/s or 941Mb/s for bits, 117MB/s (a large B) for octets"
            .to_owned()
    })
}

impl Source {
    /// What to look at on this host.
    pub fn wanted(&self, ports: &[String]) -> live::Wanted {
        live::Wanted {
            ports: ports.to_vec(),
            seconds: self.seconds,
            modules: true,
            kernel_log: true,
            listen: 0,
            // Of every port of a host they would be much to ask for a line each.
            private_counters: false,
            readings_over_time: false,
            versions: false,
        }
    }

    /// Takes the facts: of the named ports, or of all. Ports that are not there are an error
    /// that names near ones. With `listen` seconds also what neighbours announce, with `drivers`
    /// what drivers alone tell: what they count under names of their own, and versions.
    pub fn take(
        &self,
        ports: &[String],
        listen: u16,
        drivers: bool,
        out: &Out,
    ) -> anyhow::Result<Vec<Snapshot>> {
        let loaded = self.load(ports, listen, drivers, out)?;
        choose(loaded.snapshots, ports, self.from.as_deref())
    }

    /// The same; of captures it has every port.
    fn load(
        &self,
        ports: &[String],
        listen: u16,
        drivers: bool,
        out: &Out,
    ) -> anyhow::Result<Loaded> {
        if let Some(path) = &self.from {
            return load(path, out);
        }
        let wanted = live::Wanted {
            listen,
            private_counters: drivers,
            versions: drivers,
            // The same ports that are looked at closely.
            readings_over_time: drivers,
            ..self.wanted(ports)
        };
        let looked = live::look(&wanted, &mut |text| out.progress().show(text));
        out.progress().show("");
        Ok(Loaded { snapshots: vec![found(looked)?], ..Loaded::default() })
    }
}

/// Reads captures or a report, and says where a report's facts may have been changed.
pub fn load(path: &Path, out: &Out) -> anyhow::Result<Loaded> {
    let loaded = capture::load_whole(path)?;
    if let Some(altered) = &loaded.altered {
        out.hint(&format!("{}: {altered}", path.display()));
    }
    Ok(loaded)
}

/// What was seen; a port that is not there is told with the name that was most likely meant.
pub fn found(looked: Result<Snapshot, live::LookError>) -> anyhow::Result<Snapshot> {
    looked.map_err(|error| match &error {
        live::LookError::NoSuchPort { name, .. } if Path::new(name).exists() => {
            anyhow::Error::msg(crate::render::clean(&not_a_port(name, None)).into_owned())
        }
        live::LookError::NoSuchPort { name, there } => {
            let near = nearest(name, there.iter().map(|one| (one.as_str(), one.as_str())));
            let meant = near.map(|near| format!("did you mean {near}? "));
            let text = format!("{}{error}", meant.unwrap_or_default());
            anyhow::Error::msg(crate::render::clean(&text).into_owned())
        }
        _ => error.into(),
    })
}

/// A port by name, or by `host/name` where several captures are at hand.
fn is_meant(host: &str, port: &Port, wanted: &str) -> bool {
    port.answers_to(wanted)
        || wanted.split_once('/').is_some_and(|(on, name)| on == host && port.answers_to(name))
}

/// What is said of a file that stands where a port's name is to stand.
fn not_a_port(name: &str, from: Option<&Path>) -> String {
    let kind = if Path::new(name).is_dir() { "folder" } else { "file" };
    match from {
        None => format!("{name} is a {kind}, not a port: give a capture with --from {name}"),
        Some(from) => format!(
            "{name} is a {kind}, not a port, and --from takes one capture ({}); for several put them into \
             one folder, and give that",
            from.display()
        ),
    }
}

fn choose(
    snapshots: Vec<Snapshot>,
    wanted: &[String],
    from: Option<&Path>,
) -> anyhow::Result<Vec<Snapshot>> {
    if wanted.is_empty() {
        return Ok(snapshots);
    }
    for name in wanted {
        let hosts: Vec<&str> = snapshots
            .iter()
            .filter(|snapshot| {
                snapshot.ports.iter().any(|port| is_meant(&snapshot.host.name, port, name))
            })
            .map(|snapshot| snapshot.host.name.as_str())
            .collect();
        match hosts.as_slice() {
            [] if Path::new(name).exists() => bail!(not_a_port(name, from)),
            [] => bail!(no_such_port(&snapshots, name, from)),
            [_] => {}
            [host, ..] if hosts.iter().all(|one| one == host) => {
                let files: Vec<String> = snapshots
                    .iter()
                    .filter(|one| one.ports.iter().any(|port| is_meant(host, port, name)))
                    .filter_map(|one| one.file.clone())
                    .collect();
                bail!(
                    "port {name} is in several captures of {host} here ({}); name one of the files with \
                     --from, or see what changed: linkwright compare THEN NOW",
                    live::first_few(&files)
                )
            }
            several => bail!(
                "port {name} is on several hosts here ({}); name one as HOST/{name}",
                several.join(", ")
            ),
        }
    }
    Ok(snapshots
        .into_iter()
        .map(|mut snapshot| {
            let host = snapshot.host.name.clone();
            snapshot.ports.retain(|port| wanted.iter().any(|name| is_meant(&host, port, name)));
            snapshot
        })
        .filter(|snapshot| !snapshot.ports.is_empty())
        .collect())
}

/// What was most likely meant by a word, among (spelling, what to show): the one that is most
/// like it, if it is like it at all.
pub fn nearest<'a, S: AsRef<str>>(
    word: &str,
    known: impl IntoIterator<Item = (S, &'a str)>,
) -> Option<&'a str> {
    /// From here on (of 1) two words are taken for the same one mistyped.
    const ALIKE: f64 = 0.75;
    // A name longer than any is no typing error, and comparing takes the product of the lengths.
    if word.len() > 256 {
        return None;
    }
    known
        .into_iter()
        .filter(|(spelling, _)| spelling.as_ref().len() <= 256)
        .map(|(spelling, shown)| {
            (strsim::normalized_damerau_levenshtein(word, spelling.as_ref()), shown)
        })
        .filter(|(alike, _)| *alike >= ALIKE)
        // The first of several that are equally near.
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
        .map(|(_, shown)| shown)
}

/// The command that lists the ports of what is looked at.
pub fn survey_of(from: Option<&Path>) -> String {
    from.map_or_else(
        || "linkwright survey".to_owned(),
        |from| format!("linkwright survey --from {}", from.display()),
    )
}

fn no_such_port(snapshots: &[Snapshot], name: &str, from: Option<&Path>) -> String {
    let several = snapshots.len() > 1;
    let names: Vec<String> = snapshots
        .iter()
        .flat_map(|snapshot| {
            snapshot.ports.iter().map(move |port| {
                if several {
                    format!("{}/{}", snapshot.host.name, port.name)
                } else {
                    port.name.clone()
                }
            })
        })
        .collect();
    let mut message = format!("there is no port {name:?} here. ");
    // With several hosts a bare name is as near as its name behind the host's.
    let bare = |full: &str| {
        let inner = full.rsplit_once('/').filter(|_| !name.contains('/'));
        inner.map_or_else(|| full.to_owned(), |(_, bare)| bare.to_owned())
    };
    if let Some(near) = nearest(name, names.iter().map(|full| (bare(full), full.as_str()))) {
        message.push_str(&format!("Did you mean {near}? "));
    }
    if names.is_empty() {
        message.push_str("The capture holds no ports at all.");
    } else {
        let shown: Vec<&str> = names.iter().map(String::as_str).take(20).collect();
        message.push_str(&format!("Ports: {}", shown.join(", ")));
        if names.len() > shown.len() {
            message.push_str(&format!(" and {} more", names.len() - shown.len()));
        }
        message.push_str(&format!(". List them with: {}", survey_of(from)));
    }
    crate::render::clean(&message).into_owned()
}

/// Files of what the user knows, read.
#[derive(Default)]
pub struct Knowing {
    site: Option<Site>,
    far: Option<Snapshot>,
    far_port: Option<String>,
    /// Far ends whose captures lie beside the one that is looked at.
    joined: Joined,
    /// True where one physical port alone is looked at: then the capture of --far is its far end's,
    /// unless the site file says otherwise.
    single: bool,
    /// True where captures are looked at, and no host.
    replayed: bool,
    /// Whether all that was loaded is kept: a report leaves most of it out, and its names as well.
    pub remember: bool,
    /// All that was loaded.
    loaded: Vec<Snapshot>,
    /// What the user says is wrong.
    pub told: Option<Told>,
    /// Data a second that the user measured.
    pub measured: Option<BitsPerSecond>,
}

impl Known {
    /// Reads the files.
    pub fn read(&self, out: &Out) -> anyhow::Result<Knowing> {
        let site = self.site.as_deref().map(capture::load_site).transpose()?;
        let far = match &self.far {
            None => None,
            Some(path) => {
                let mut far = load(path, out)?.snapshots;
                if far.len() != 1 {
                    bail!("--far takes one capture, and {} holds {}", path.display(), far.len());
                }
                let far = far.pop();
                if let (Some(far), Some(name)) = (&far, &self.far_port) {
                    // Told before anything is looked at.
                    far_end::far_port(far, Some(name)).map_err(anyhow::Error::msg)?;
                }
                far
            }
        };
        Ok(Knowing { site, far, far_port: self.far_port.clone(), ..Knowing::default() })
    }
}

impl Knowing {
    /// Takes the facts as [`Source::take`]. Where captures of both ends of a link are among them,
    /// and nobody names the far end's, each is the other's far end if the site file joins them.
    pub fn take(
        &mut self,
        source: &Source,
        ports: &[String],
        listen: u16,
        private_counters: bool,
        out: &Out,
    ) -> anyhow::Result<Vec<Snapshot>> {
        self.replayed = source.from.is_some();
        let loaded = source.load(ports, listen, private_counters, out)?;
        self.settle(loaded, ports, source.from.as_deref(), Some(out))
    }

    /// Chooses from what was loaded, and settles which far ends are known. What a report holds of
    /// the site file and of far ends is used where the user gives none. Without `out` nothing is said
    /// of what does not fit.
    fn settle(
        &mut self,
        loaded: Loaded,
        ports: &[String],
        from: Option<&Path>,
        out: Option<&Out>,
    ) -> anyhow::Result<Vec<Snapshot>> {
        let Loaded { snapshots: all, beside, far, far_port, site, altered: _ } = loaded;
        if self.remember {
            self.loaded = all.iter().chain(&beside).cloned().collect();
        }
        self.site = self.site.take().or(site);
        if self.far.is_none() {
            self.far = far;
            self.far_port = self.far_port.take().or(far_port);
        }
        if all.len() + beside.len() < 2 || self.far.is_some() {
            let chosen = choose(all, ports, from)?;
            let physical =
                chosen.iter().flat_map(|one| &one.ports).filter(|port| port.is_hardware());
            self.single = physical.count() < 2;
            return Ok(chosen);
        }
        let heard = joined::announced(&all);
        let here = all.len();
        let all = [all, beside].concat();
        if let Some(site) = &self.site {
            self.joined = Joined::find(&all, site);
        }
        let chosen = choose(all.into_iter().take(here).collect(), ports, from)?;
        let Some(out) = out else { return Ok(chosen) };
        let here: HashSet<(&str, &str)> = chosen
            .iter()
            .flat_map(|one| one.ports.iter().map(|port| (one.host.name.as_str(), &*port.name)))
            .collect();
        let shown = |(host, port): &End| here.contains(&(host.as_str(), port.as_str()));
        let apart: Vec<String> = heard
            .iter()
            .filter(|(near, _)| shown(near) && self.joined.far_end(&near.0, &near.1).is_none())
            .map(|((host, port), (far_host, far))| format!("{host}/{port} hears {far_host}/{far}"))
            .collect();
        let contradicted = self.joined.contradicted.iter();
        let contradicted: Vec<String> = contradicted
            .filter(|[near, far, _]| shown(near) || shown(far))
            .map(|[(host, port), (far_host, far), (heard, there)]| {
                format!("{host}/{port} to {far_host}/{far}, but it hears {heard}/{there}")
            })
            .collect();
        if !contradicted.is_empty() {
            out.hint(&format!(
                "the site file joins {}: which is true is not known, and no capture is used as the \
                 far end's. Correct the site file, or say so with --far",
                live::first_few(&contradicted)
            ));
        }
        if !apart.is_empty() {
            out.hint(&format!(
                "{}: the captures of both are here. If it is the far end, say so with --far, or in \
                 the site file",
                live::first_few(&apart)
            ));
        }
        Ok(chosen)
    }

    /// Says which entries of the site file are of no port here. Where ports were named, others are
    /// not looked at: then, which of these have no entry. And which far ports are not in --far.
    pub fn hint<'a>(
        &self,
        seen: impl IntoIterator<Item = &'a Snapshot>,
        named: &[String],
        out: &Out,
    ) {
        let seen: Vec<&Snapshot> = seen.into_iter().collect();
        let ports: Vec<(&Host, &Port)> =
            seen.iter().flat_map(|one| one.ports.iter().map(|port| (&one.host, port))).collect();
        // Without named ports a far end that serves one of them need not serve the others: it is
        // told, once, where it serves none.
        let physical = ports.iter().filter(|(_, port)| port.is_hardware());
        let unused: Vec<Option<String>> =
            physical.map(|(host, port)| self.not_in_far(host, port)).collect();
        let told = if !named.is_empty() {
            usize::MAX
        } else {
            usize::from(unused.iter().all(Option::is_some))
        };
        for hint in unused.iter().flatten().take(told) {
            out.hint(hint);
        }
        let Some(site) = &self.site else { return };
        if named.is_empty() {
            if let Some(hint) = strangers(site, &seen) {
                out.hint(&hint);
            }
            return;
        }
        let without: BTreeSet<String> = ports
            .iter()
            .filter(|(host, port)| site.port(&host.name, &port.names()).is_none())
            .map(|(host, port)| {
                let entries: Vec<(&str, String)> =
                    site.port.iter().map(|entry| (entry.name.as_str(), entry.label())).collect();
                let labels = entries.iter().map(|(name, label)| (*name, label.as_str()));
                let near = nearest(&port.name, labels);
                let near = near.map(|near| format!("; the nearest is {near}")).unwrap_or_default();
                format!("{}/{}{near}", host.name, port.name)
            })
            .collect();
        let without: Vec<String> = without.into_iter().collect();
        if !without.is_empty() {
            out.hint(&format!("the site file: no entry is for {}", live::first_few(&without)));
        }
    }

    /// Why the capture of --far says nothing of this port's link, in words; none where it is its far
    /// end's, or where there is none.
    fn not_in_far(&self, host: &Host, port: &Port) -> Option<String> {
        let far = self.far.as_ref()?;
        // Two hosts may have one name, but no two ports all the same readings and addresses.
        if let Ok(there) = far_end::far_port(far, self.far_port.as_deref())
            && far.host.name == host.name
            && there == port
            && port.permanent_mac_address.known().is_some()
        {
            return Some(format!(
                "the capture of --far is of {} itself, which is not its own far end, so it is not used",
                port.name
            ));
        }
        let entry = self.site.as_ref().and_then(|site| site.port(&host.name, &port.names()));
        let told = entry.map(|entry| &entry.far);
        match told.and_then(|told| told.host.as_deref()) {
            Some(name) if name != far.host.name => {
                return Some(format!(
                    "the site file: {name} is at the far end of {}, and the capture of --far is of {}, \
                     so it is not used there",
                    port.name, far.host.name
                ));
            }
            None if let Some(other) = self.claimed(host, far) => {
                return Some(format!(
                    "the site file: {} is at the far end of {}, not of {}, so the capture of --far is \
                     not used there",
                    far.host.name, other.name, port.name
                ));
            }
            None if !self.single => {
                return port.is_hardware().then(|| {
                    format!(
                        "several ports are looked at, and nobody says that {} is at the far end of {}: \
                         the capture of --far is not used there. Name the port alone, or tell its far \
                         host in the site file",
                        far.host.name, port.name
                    )
                });
            }
            _ => {}
        }
        let name = self.far_port.as_deref().or(told.and_then(|told| told.port.as_deref()));
        let unlike = far_end::far_port(far, name).ok();
        if let Some(why) = unlike.and_then(|there| far_end::unlike(port, there)) {
            return Some(format!("{why}. It is not used"));
        }
        let name = told?.port.as_deref()?;
        if self.far_port.is_some() || far_end::far_port(far, Some(name)).is_ok() {
            return None;
        }
        let near = far.ports.iter().flat_map(Port::names).map(|other| (other, other));
        let near = nearest(name, near).map(|near| format!("; did you mean {near}?"));
        Some(format!(
            "the site file: {name} is at the far end of {}, but the capture of --far (host {}) has \
             no such port, so it is not used{}",
            port.name,
            far.host.name,
            near.unwrap_or_default()
        ))
    }

    /// The entry of another port here that the site file puts at the other end of the far end's port.
    fn claimed(&self, host: &Host, far: &Snapshot) -> Option<&SitePort> {
        let picked = far_end::far_port(far, self.far_port.as_deref()).ok()?;
        self.site.as_ref()?.port.iter().find(|entry| {
            entry.host.as_deref().is_none_or(|of| of == host.name)
                && entry.far.host.as_ref() == Some(&far.host.name)
                && entry.far.port.as_deref().is_none_or(|name| picked.answers_to(name))
        })
    }

    /// What a report of these ports is made of, and how many captures they are (the others are
    /// captures of far ends that the site file joins): these ports alone, of the far end's capture
    /// those that are their far ends, and of the site file the entries that are of either.
    pub fn material(&self, chosen: &[Snapshot]) -> anyhow::Result<(Material, usize)> {
        let ports = || chosen.iter().flat_map(|one| one.ports.iter().map(|port| (&one.host, port)));
        let mut far_ports: BTreeSet<String> = BTreeSet::new();
        let mut snapshots = chosen.to_vec();
        let own: HashSet<(&str, &str)> =
            ports().map(|(host, port)| (host.name.as_str(), port.name.as_str())).collect();
        let mut beside: HashSet<(&str, &str)> = HashSet::new();
        for (host, port) in ports() {
            if let Some(far) = self.far.as_ref().filter(|_| self.not_in_far(host, port).is_none()) {
                let entry =
                    self.site.as_ref().and_then(|site| site.port(&host.name, &port.names()));
                let told = entry.and_then(|entry| entry.far.port.as_deref());
                let there = far_end::far_port(far, self.far_port.as_deref().or(told));
                far_ports.insert(there.map_err(anyhow::Error::msg)?.name.clone());
            } else if let Some(far) = self.joined.far_end(&host.name, &port.name) {
                let ends = far.ports.iter().map(|there| (far.host.name.as_str(), &*there.name));
                let new: Vec<(&str, &str)> =
                    ends.filter(|end| !own.contains(end) && beside.insert(*end)).collect();
                if !new.is_empty() {
                    snapshots.push(far.clone());
                }
            }
        }
        let far = self.far.as_ref().filter(|_| !far_ports.is_empty()).map(|far| {
            let mut far = far.clone();
            far.ports.retain(|port| far_ports.contains(&port.name));
            far
        });
        let site = self.site.as_ref().map(|site| {
            let of_either = |entry: &SitePort| {
                let all = snapshots.iter().chain(&far);
                let mut all = all.flat_map(|one| one.ports.iter().map(|port| (&one.host, port)));
                all.any(|(host, port)| {
                    let own = site.port(&host.name, &port.names());
                    own.is_some_and(|own| std::ptr::eq(own, entry))
                }) || far
                    .as_ref()
                    .is_some_and(|far| entry.far.host.as_ref() == Some(&far.host.name))
            };
            Site { port: site.port.iter().filter(|entry| of_either(entry)).cloned().collect() }
        });
        let far_port = self.far_port.clone().filter(|_| far.is_some());
        let site = site.filter(|site| !site.port.is_empty());
        Ok((Material { snapshots, far, far_port, site, said: Vec::new() }, chosen.len()))
    }

    /// All that was loaded, whether it concerns the chosen ports or not: what names secrets.
    pub fn names(&self) -> Material {
        Material {
            snapshots: self.loaded.clone(),
            far: self.far.clone(),
            far_port: None,
            site: self.site.clone(),
            said: Vec::new(),
        }
    }

    /// The same knowledge about this material, as a report of it is read back.
    pub fn about(
        &self,
        material: &Material,
        chosen: usize,
    ) -> anyhow::Result<(Self, Vec<Snapshot>)> {
        let (snapshots, beside) = material.snapshots.split_at(chosen.min(material.snapshots.len()));
        let loaded = Loaded {
            snapshots: snapshots.to_vec(),
            beside: beside.to_vec(),
            far: material.far.clone(),
            far_port: material.far_port.clone(),
            site: material.site.clone(),
            altered: None,
        };
        let mut knowing = Self { replayed: self.replayed, ..Self::default() };
        let snapshots = knowing.settle(loaded, &[], None, None)?;
        Ok((knowing, snapshots))
    }

    /// Diagnoses every port of a snapshot.
    pub fn diagnose<'a>(&self, snapshot: &'a Snapshot) -> anyhow::Result<Diagnosis<'a>> {
        let ports = snapshot.ports.iter().map(|port| self.diagnose_port(&snapshot.host, port));
        Ok(Diagnosis { snapshot, ports: ports.collect::<anyhow::Result<_>>()? })
    }

    /// Diagnoses one port.
    pub fn diagnose_port(&self, host: &Host, port: &Port) -> anyhow::Result<PortDiagnosis> {
        let joined = self.joined.far_end(&host.name, &port.name);
        let far = self.far.as_ref().filter(|_| self.not_in_far(host, port).is_none());
        let knowledge = Knowledge {
            site: self.site.as_ref(),
            far: far.or(joined),
            far_port: self
                .far_port
                .as_deref()
                .or(joined.and_then(|far| far.ports.first()).map(|port| port.name.as_str())),
            joined: joined.is_some(),
            told: self.told,
            measured: self.measured,
            replayed: self.replayed,
        };
        diagnose_port(host, port, knowledge).map_err(anyhow::Error::msg)
    }
}

/// Which entries of the site file are of no port here, each with what was most likely meant, and
/// of which hosts; nothing where there are none. One file may serve a whole site: entries of other
/// hosts are told only where no entry is used, or where a host's name is nearly that of one here.
fn strangers(site: &Site, seen: &[&Snapshot]) -> Option<String> {
    // Sets, since a capture may hold very many ports.
    let ports =
        || seen.iter().flat_map(|one| one.ports.iter().map(|port| (one.host.name.as_str(), port)));
    let hosts: BTreeSet<&str> = seen.iter().map(|one| one.host.name.as_str()).collect();
    let names: HashSet<&str> = ports().flat_map(|(_, port)| port.names()).collect();
    let of_hosts: HashSet<(&str, &str)> = ports()
        .flat_map(|(host, port)| port.names().into_iter().map(move |name| (host, name)))
        .collect();
    let here = |entry: &SitePort| match &entry.host {
        Some(host) => of_hosts.contains(&(host.as_str(), entry.name.as_str())),
        None => names.contains(entry.name.as_str()),
    };
    let entries: HashSet<(Option<&str>, &str)> =
        site.port.iter().map(|entry| (entry.host.as_deref(), entry.name.as_str())).collect();
    // A port with an entry of its own was not meant by another one.
    let free: Vec<(&str, &str)> = ports()
        .filter(|(host, port)| {
            let has = |host, name| entries.contains(&(host, name));
            !port.names().iter().any(|name| has(Some(*host), *name) || has(None, *name))
        })
        .flat_map(|(host, port)| port.names().into_iter().map(move |name| (host, name)))
        .collect();
    let asked = |near: Option<&str>| {
        near.map_or_else(String::new, |near| format!(" (did you mean {near}?)"))
    };
    let some_used = site.port.iter().any(here);
    let (mut ports, mut elsewhere) = (Vec::new(), BTreeMap::new());
    for entry in site.port.iter().filter(|entry| !here(entry)) {
        if let Some(host) = entry.host.as_deref().filter(|host| !hosts.contains(host)) {
            elsewhere
                .entry(host)
                .or_insert_with(|| nearest(host, hosts.iter().map(|one| (*one, *one))));
            continue;
        }
        let of_host = |host: &str| entry.host.as_deref().is_none_or(|own| own == host);
        // Of those that are only counted the nearest is not looked for.
        let near = (ports.len() < live::FEW)
            .then(|| {
                let free = free.iter().filter(|(host, _)| of_host(host));
                nearest(&entry.name, free.map(|(_, name)| (*name, *name)))
            })
            .flatten();
        ports.push(format!("{}{}", entry.label(), asked(near)));
    }
    let elsewhere = elsewhere.into_iter().filter(|(_, near)| near.is_some() || !some_used);
    let elsewhere: Vec<String> =
        elsewhere.map(|(host, near)| format!("{host}{}", asked(near))).collect();
    let lists = [("no such port is here", ports), ("no such host is here", elsewhere)];
    let lists: Vec<String> = lists
        .iter()
        .filter(|(_, names)| !names.is_empty())
        .map(|(what, names)| format!("{what}: {}", live::first_few(names)))
        .collect();
    let all = if some_used { "" } else { "none of its entries is used; " };
    match (site.port.is_empty(), lists.is_empty()) {
        (true, _) => Some("the site file: it has no entry, [[port]]".into()),
        (false, true) => None,
        (false, false) => Some(format!("the site file: {all}{}", lists.join("; "))),
    }
}

/// Writes one port's diagnosis as a line of JSON.
pub fn write_line(
    host: &Host,
    seen: &Port,
    found: &PortDiagnosis,
    out: &mut Out,
) -> anyhow::Result<()> {
    let mut value = json::port(seen, found);
    if let Some(object) = value.as_object_mut() {
        object.insert("host".into(), host.name.clone().into());
    }
    out.write(&json::to_string(&value, false).context(NO_JSON)?)?;
    Ok(())
}

/// Writes the line that ends a host's lines.
pub fn write_host_line(snapshot: &Snapshot, out: &mut Out) -> anyhow::Result<()> {
    let line = json::to_string(&json::host_line(snapshot), false).context(NO_JSON)?;
    Ok(out.write(&line)?)
}

const NO_JSON: &str = "could not write JSON";

/// Writes diagnoses in one of the JSON forms.
pub fn write_json(
    diagnoses: &[Diagnosis<'_>],
    format: Format,
    out: &mut Out,
) -> anyhow::Result<()> {
    if format == Format::Ndjson {
        for diagnosis in diagnoses {
            for (seen, found) in diagnosis.snapshot.ports.iter().zip(&diagnosis.ports) {
                write_line(&diagnosis.snapshot.host, seen, found, out)?;
            }
            write_host_line(diagnosis.snapshot, out)?;
        }
        return Ok(());
    }
    let documents: Vec<_> = diagnoses.iter().map(json::document).collect();
    let text = match documents.as_slice() {
        [document] => json::to_string(document, true),
        several => json::to_string(&several, true),
    };
    out.write(&text.context(NO_JSON)?)?;
    Ok(())
}
