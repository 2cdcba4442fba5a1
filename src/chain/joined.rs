//! The two ends of one link among several captures, where the site file joins them.
//!
//! In: captures and the site file. Out: for each end the far end's capture, as far as that is
//! beyond doubt: the file names host and port, exactly one capture holds them, and no other port
//! is joined to either end. Pure.

use std::collections::{BTreeMap, BTreeSet};

use crate::site::Site;
use crate::snapshot::{Fact, Port, Snapshot};

/// Host and port.
pub type End = (String, String);

/// Far ends by the port that they belong to.
#[derive(Debug, Default)]
pub struct Joined(BTreeMap<End, Snapshot>);

impl Joined {
    /// Finds the links of which both ends are among the captures.
    pub fn find(captures: &[Snapshot], site: &Site) -> Self {
        let mut partners: BTreeMap<End, BTreeSet<End>> = BTreeMap::new();
        for capture in captures {
            for port in &capture.ports {
                let Some(entry) = site.port(&capture.host.name, &port.names()) else { continue };
                let (Some(host), Some(name)) = (&entry.far.host, &entry.far.port) else { continue };
                let Some((there, far)) = only(captures, host, name) else { continue };
                let (here, there) = (end(capture, port), end(there, far));
                partners.entry(here.clone()).or_default().insert(there.clone());
                partners.entry(there).or_default().insert(here);
            }
        }
        let one_partner = |of: &End| match partners.get(of)?.iter().collect::<Vec<_>>()[..] {
            [partner] => Some(partner),
            _ => None,
        };
        let far_ends = partners.keys().filter_map(|here| {
            let there = one_partner(here).filter(|there| one_partner(there) == Some(here))?;
            let (capture, port) = only(captures, &there.0, &there.1)?;
            (here != there).then(|| (here.clone(), alone(capture, port)))
        });
        Self(far_ends.collect())
    }

    /// The far end's capture, of that one port.
    pub fn far_end(&self, host: &str, port: &str) -> Option<&Snapshot> {
        self.0.get(&(host.to_owned(), port.to_owned()))
    }
}

fn end(capture: &Snapshot, port: &Port) -> End {
    (capture.host.name.clone(), port.name.clone())
}

/// The port of this host, where exactly one capture holds it: of two captures of one host it is
/// not known which one belongs to the other end's.
fn only<'a>(captures: &'a [Snapshot], host: &str, name: &str) -> Option<(&'a Snapshot, &'a Port)> {
    let of_host = captures.iter().filter(|capture| capture.host.name == host);
    let mut found = of_host.filter_map(|capture| {
        capture.ports.iter().find(|port| port.answers_to(name)).map(|port| (capture, port))
    });
    found.next().filter(|_| found.next().is_none())
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
    let mut found = Vec::new();
    for capture in captures {
        for port in &capture.ports {
            let Fact::Known(heard) = &port.neighbours else { continue };
            let [neighbour] = heard.as_slice() else { continue };
            let Some(host) = &neighbour.system_name else { continue };
            if let Some((there, far)) = only(captures, host, &neighbour.port.name)
                && there.host.name != capture.host.name
            {
                found.push((end(capture, port), end(there, far)));
            }
        }
    }
    found
}
