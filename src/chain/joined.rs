//! The two ends of one link among several captures, where the site file joins them.
//!
//! In: captures and the site file. Out: for each end the far end's capture, as far as that is
//! beyond doubt: the file names host and port, exactly one capture holds each end, no other port
//! is joined to either, and neither hears somebody else. Pure.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use crate::site::Site;
use crate::snapshot::{Fact, Port, Snapshot};

/// Host and port.
pub type End = (String, String);

/// Far ends by the port that they belong to.
#[derive(Debug, Default)]
pub struct Joined {
    far_ends: BTreeMap<End, Snapshot>,
    /// Ports that hear another neighbour than the far end that the site file names: the port, the
    /// far end, and what is heard.
    pub contradicted: Vec<[End; 3]>,
}

impl Joined {
    /// Finds the links of which both ends are among the captures.
    pub fn find(captures: &[Snapshot], site: &Site) -> Self {
        let held = Held::of(captures);
        let mut partners: BTreeMap<End, BTreeSet<End>> = BTreeMap::new();
        let mut contradicted = Vec::new();
        for capture in captures {
            for port in &capture.ports {
                let Some(entry) = site.port(&capture.host.name, &port.names()) else { continue };
                let (Some(host), Some(name)) = (&entry.far.host, &entry.far.port) else { continue };
                let Some((there, far)) = held.only(host, name) else { continue };
                let (here, there) = (end(capture, port), end(there, far));
                partners.entry(here.clone()).or_default().insert(there.clone());
                partners.entry(there.clone()).or_default().insert(here.clone());
                for [one, other] in [[&here, &there], [&there, &here]] {
                    let Some((_, port)) = held.only(&one.0, &one.1) else { continue };
                    if let Some(heard) = somebody_else(&held, port, other) {
                        partners.entry(one.clone()).or_default().insert(heard.clone());
                        contradicted.push([one.clone(), other.clone(), heard]);
                    }
                }
            }
        }
        // Both ends may have an entry, which tells it twice.
        contradicted.sort();
        contradicted.dedup();
        let one_partner = |of: &End| match partners.get(of)?.iter().collect::<Vec<_>>()[..] {
            [partner] => Some(partner),
            _ => None,
        };
        let far_ends = partners.keys().filter_map(|here| {
            let there = one_partner(here).filter(|there| one_partner(there) == Some(here))?;
            held.only(&here.0, &here.1)?;
            let (capture, port) = held.only(&there.0, &there.1)?;
            (here != there).then(|| (here.clone(), alone(capture, port)))
        });
        Self { far_ends: far_ends.collect(), contradicted }
    }

    /// The far end's capture, of that one port.
    pub fn far_end(&self, host: &str, port: &str) -> Option<&Snapshot> {
        self.far_ends.get(&(host.to_owned(), port.to_owned()))
    }
}

fn end(capture: &Snapshot, port: &Port) -> End {
    (capture.host.name.clone(), port.name.clone())
}

/// Ports by host and name, of each capture the first that answers to it.
struct Held<'a>(HashMap<(&'a str, &'a str), Vec<(&'a Snapshot, &'a Port)>>);

impl<'a> Held<'a> {
    fn of(captures: &'a [Snapshot]) -> Self {
        let mut held: HashMap<_, Vec<(&Snapshot, &Port)>> = HashMap::new();
        for capture in captures {
            for port in &capture.ports {
                for name in port.names() {
                    let all = held.entry((capture.host.name.as_str(), name)).or_default();
                    if !all.last().is_some_and(|(last, _)| std::ptr::eq(*last, capture)) {
                        all.push((capture, port));
                    }
                }
            }
        }
        Self(held)
    }

    /// The port of this host, where exactly one capture holds it: of two captures of one host it is
    /// not known which one belongs to the other end's.
    fn only(&self, host: &str, name: &str) -> Option<(&'a Snapshot, &'a Port)> {
        match self.0.get(&(host, name))?[..] {
            [one] => Some(one),
            _ => None,
        }
    }
}

/// What the port hears, where that is one neighbour and not this one: another port whose capture
/// is here, or another host by its name up to the first dot.
fn somebody_else(held: &Held<'_>, port: &Port, far: &End) -> Option<End> {
    let [neighbour] = port.neighbours.known()?.as_slice() else { return None };
    let host = neighbour.system_name.as_ref()?;
    let short = |name: &str| name.split('.').next().unwrap_or_default().to_ascii_lowercase();
    let other_port = held.only(host, &neighbour.port.name).is_some_and(|(c, p)| end(c, p) != *far);
    (other_port || short(host) != short(&far.0))
        .then(|| (host.clone(), neighbour.port.name.clone()))
}

fn alone(capture: &Snapshot, port: &Port) -> Snapshot {
    Snapshot {
        format: capture.format.clone(),
        version: capture.version,
        tool: capture.tool.clone(),
        taken_at: capture.taken_at.clone(),
        host: capture.host.clone(),
        ports: vec![port.clone()],
        gaps: Vec::new(),
        file: capture.file.clone(),
    }
}

/// Ports that hear one neighbour, whose own capture is here as well: the port, and what it hears.
/// It is the neighbour's own word, so nobody is joined by it.
pub fn announced(captures: &[Snapshot]) -> Vec<(End, End)> {
    let held = Held::of(captures);
    let mut found = Vec::new();
    for capture in captures {
        for port in &capture.ports {
            let Fact::Known(heard) = &port.neighbours else { continue };
            let [neighbour] = heard.as_slice() else { continue };
            let Some(host) = &neighbour.system_name else { continue };
            if let Some((there, far)) = held.only(host, &neighbour.port.name)
                && there.host.name != capture.host.name
            {
                found.push((end(capture, port), end(there, far)));
            }
        }
    }
    found
}
