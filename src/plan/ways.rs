//! The ways between the hosts of a site: for each pair the path, its lowest ceiling, and the link
//! that sets it. A fast link behind a slow uplink is the commonest disappointment of all.
//!
//! Traffic is taken to go the way of the fewest links, through devices that pass it on. Where there
//! are several such ways, the settings of the devices choose, and the plan does not know them: the
//! one with the highest ceiling is shown, and that there are others.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::plan::judge::{Outcome, Planned};
use crate::plan::link::{Device, Link, Plan};
use crate::quantity::Mbps;

/// The way between two devices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// From.
    pub from: String,
    /// To.
    pub to: String,
    /// Places of its links in the plan, in order.
    pub links: Vec<usize>,
    /// Devices it passes, ends included.
    pub devices: Vec<String>,
    /// The lowest ceiling on it; none where a link of it does not run, or nobody knows.
    pub ceiling: Option<Mbps>,
    /// Place of the link that sets the ceiling; none where all links on it carry the same.
    pub limited_by: Option<usize>,
    /// True if there are other ways as short.
    pub others: bool,
    /// Places of links on it that will not run: without them there is no way.
    pub broken: Vec<usize>,
    /// The longest packet that gets through, where its links take different ones: of that many octets,
    /// and the link that takes no longer.
    pub packets: Option<(u32, usize)>,
    /// True if a host on the way passes traffic on: it may route, and cut long packets up.
    pub by_host: bool,
}

/// Something about the site as a whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What.
    pub text: String,
    /// What to do.
    pub fix: &'static str,
}

/// The site as a graph: devices by name, links between two that are named.
#[derive(Debug)]
pub struct Site<'a> {
    names: Vec<&'a str>,
    switch: Vec<bool>,
    forwards: Vec<bool>,
    /// Of each device: the device at the other end, and the link's place in the plan.
    beside: Vec<Vec<(usize, usize)>>,
    delivers: Vec<Option<Mbps>>,
    /// Of each link: it will not run, and is no way.
    dead: Vec<bool>,
    mtu: Vec<Option<u32>>,
}

impl<'a> Site<'a> {
    /// Lines up what was planned. Links whose ends are not both named are left out.
    pub fn new(plan: &'a Plan, planned: &[Planned]) -> Self {
        let mut places: BTreeMap<&str, usize> = BTreeMap::new();
        let mut site = Self {
            names: Vec::new(),
            switch: Vec::new(),
            forwards: Vec::new(),
            beside: Vec::new(),
            delivers: planned.iter().map(|one| one.delivers).collect(),
            dead: planned.iter().map(|one| one.outcome == Outcome::WillNot).collect(),
            mtu: plan.links.iter().map(Link::mtu).collect(),
        };
        let devices = plan.devices.iter().map(|device| (device.name.as_str(), device));
        let devices: BTreeMap<&str, &Device> = devices.collect();
        let mut place = |name: &'a str, site: &mut Self| {
            *places.entry(name).or_insert_with(|| {
                site.names.push(name);
                let device = devices.get(name);
                site.switch.push(device.is_some_and(|device| device.is_switch));
                site.forwards
                    .push(device.is_some_and(|device| device.is_switch || device.forwards));
                site.beside.push(Vec::new());
                site.names.len() - 1
            })
        };
        for (link, told) in plan.links.iter().enumerate() {
            let (Some(near), Some(far)) = (&told.near.device, &told.far.device) else { continue };
            if near == far {
                continue;
            }
            let (near, far) = (place(near, &mut site), place(far, &mut site));
            for (at, to) in [(near, far), (far, near)] {
                if let Some(beside) = site.beside.get_mut(at) {
                    beside.push((to, link));
                }
            }
        }
        site
    }

    /// Names of the hosts: the devices that are no switches.
    pub fn hosts(&self) -> Vec<&'a str> {
        let hosts = self.names.iter().zip(&self.switch).filter(|(_, switch)| !**switch);
        hosts.map(|(name, _)| *name).collect()
    }

    /// True if a device of this name has a link.
    pub fn has(&self, name: &str) -> bool {
        self.names.contains(&name)
    }

    /// The ways from one device to every host, those that are named later alone; in the order of the plan.
    pub fn from(&self, name: &str, only_later: bool) -> Vec<Way> {
        let Some(start) = self.names.iter().position(|known| *known == name) else {
            return Vec::new();
        };
        let reached = self.walk(start, false);
        let ends = self.switch.iter().enumerate();
        ends.filter(|(end, switch)| !**switch && *end != start && (!only_later || *end > start))
            .filter_map(|(end, _)| self.way(start, end, &reached))
            .collect()
    }

    /// The way between two devices, if there is one.
    pub fn between(&self, from: &str, to: &str) -> Option<Way> {
        let place = |name: &str| self.names.iter().position(|known| *known == name);
        let (start, end) = (place(from)?, place(to)?);
        // Where there is none, the one that a link which will not run would have been.
        self.way(start, end, &self.walk(start, false))
            .or_else(|| self.way(start, end, &self.walk(start, true)))
    }

    /// Pairs of hosts that no way joins, of those that are named later alone; at most this many.
    pub fn apart(&self, most: usize) -> Vec<(&'a str, &'a str)> {
        let mut apart = Vec::new();
        for (start, _) in self.switch.iter().enumerate().filter(|(_, switch)| !**switch) {
            let reached = self.walk(start, false);
            for (end, there) in reached.iter().enumerate().skip(start + 1) {
                let host = !self.switch.get(end).copied().unwrap_or(true);
                if there.is_none() && host && apart.len() < most {
                    apart.extend(
                        self.names.get(start).zip(self.names.get(end)).map(|(a, b)| (*a, *b)),
                    );
                }
            }
        }
        apart
    }

    /// Breadth first through devices that pass traffic on: of each device how far it is, from where
    /// and over which link it is best reached, at what ceiling, and whether that is the only way.
    fn walk(&self, start: usize, dead_too: bool) -> Vec<Option<Reached>> {
        let mut reached: Vec<Option<Reached>> = vec![None; self.names.len()];
        let Some(at) = reached.get_mut(start) else { return reached };
        *at =
            Some(Reached { steps: 0, before: None, ceiling: Some(Mbps(u32::MAX)), others: false });
        let mut queue = VecDeque::from([start]);
        while let Some(place) = queue.pop_front() {
            let passes = place == start || self.forwards.get(place).copied().unwrap_or(false);
            let Some(here) = reached.get(place).copied().flatten().filter(|_| passes) else {
                continue;
            };
            for (next, link) in self.beside.get(place).into_iter().flatten() {
                if !dead_too && self.dead.get(*link).copied().unwrap_or(false) {
                    continue;
                }
                let carries = self.delivers.get(*link).copied().flatten();
                let ceiling = here.ceiling.zip(carries).map(|(one, other)| one.min(other));
                let new = Reached {
                    steps: here.steps + 1,
                    before: Some((place, *link)),
                    ceiling,
                    others: here.others,
                };
                let Some(there) = reached.get_mut(*next) else { continue };
                match there {
                    None => {
                        *there = Some(new);
                        queue.push_back(*next);
                    }
                    Some(old) if old.steps == new.steps => {
                        let better = new.ceiling > old.ceiling;
                        *old = Reached { others: true, ..if better { new } else { *old } };
                    }
                    Some(_) => {}
                }
            }
        }
        reached
    }

    fn way(&self, start: usize, end: usize, reached: &[Option<Reached>]) -> Option<Way> {
        let arrived = (*reached.get(end)?)?;
        let (mut links, mut devices) = (Vec::new(), Vec::new());
        let mut at = end;
        while let Some(step) = reached.get(at).copied().flatten() {
            devices.push((*self.names.get(at)?).to_owned());
            let Some((before, link)) = step.before else { break };
            links.push(link);
            at = before;
        }
        links.reverse();
        devices.reverse();
        let inner = devices.get(1..devices.len().saturating_sub(1)).unwrap_or_default();
        let switch = |name: &String| {
            let place = self.names.iter().position(|known| known == name);
            place.and_then(|place| self.switch.get(place).copied()).unwrap_or(false)
        };
        let by_host = inner.iter().any(|name| !switch(name));
        let carries = |link: usize| self.delivers.get(link).copied().flatten();
        let most = links.iter().filter_map(|link| carries(*link)).max();
        let lowest = links.iter().copied().min_by_key(|link| carries(*link));
        let same = arrived.ceiling.is_some() && most == arrived.ceiling;
        let dead = |link: &&usize| self.dead.get(**link).copied().unwrap_or(false);
        let broken = links.iter().filter(dead).copied().collect();
        let takes = |link: &usize| Some((self.mtu.get(*link).copied().flatten()?, *link));
        let least = links.iter().filter_map(takes).min();
        let differ =
            links.iter().filter_map(takes).any(|(mtu, _)| Some(mtu) != least.map(|one| one.0));
        Some(Way {
            from: (*self.names.get(start)?).to_owned(),
            to: (*self.names.get(end)?).to_owned(),
            links,
            devices,
            ceiling: arrived.ceiling.filter(|_| arrived.before.is_some()),
            limited_by: lowest.filter(|_| !same),
            others: arrived.others,
            broken,
            packets: least.filter(|_| differ),
            by_host,
        })
    }
}

/// What the plan says of the site as a whole: loops, and ports that two links are in.
pub fn remarks(plan: &Plan, planned: &[Planned], name_of: &dyn Fn(usize) -> String) -> Vec<Remark> {
    let forwards: BTreeSet<&str> = plan
        .devices
        .iter()
        .filter(|device| device.is_switch || device.forwards)
        .map(|device| device.name.as_str())
        .collect();
    let mut remarks = Vec::new();
    let mut ports: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    let mut joined: BTreeMap<&str, &str> = BTreeMap::new();
    for (place, link) in plan.links.iter().enumerate() {
        for end in [&link.near, &link.far] {
            let (Some(device), Some(port)) = (&end.device, &end.port) else { continue };
            if let Some(other) = ports.insert((device, port), place) {
                remarks.push(Remark {
                    text: format!(
                        "port {port} of {device} is in two links: {} and {}",
                        name_of(other),
                        name_of(place)
                    ),
                    fix: "correct the plan: one link a port",
                });
            }
        }
        let dead = planned.get(place).is_some_and(|one| one.outcome == Outcome::WillNot);
        let (Some(near), Some(far)) = (&link.near.device, &link.far.device) else { continue };
        if dead || !forwards.contains(near.as_str()) || !forwards.contains(far.as_str()) {
            continue;
        }
        let (one, other) = (root(&mut joined, near), root(&mut joined, far));
        if near == far {
            remarks.push(Remark {
                text: format!("{} joins {near} to itself", name_of(place)),
                fix: "leave it out: a switch that is joined to itself brings the whole site down",
            });
        } else if one == other {
            remarks.push(Remark {
                text: format!("{} closes a loop between {near} and {far}", name_of(place)),
                fix: "see that spanning tree (IEEE 802.1D) or link aggregation (IEEE 802.1AX) is set up \
                      there before it is plugged in: without, a loop brings the whole site down",
            });
        } else {
            joined.insert(one, other);
        }
    }
    remarks
}

/// The device that stands for all that are joined to this one.
fn root<'a>(joined: &mut BTreeMap<&'a str, &'a str>, name: &'a str) -> &'a str {
    let mut at = name;
    while let Some(next) = joined.get(at).copied() {
        at = next;
    }
    // Shortened, so that long lines of switches take no longer each time.
    if at != name {
        joined.insert(name, at);
    }
    at
}

/// How a device is reached.
#[derive(Debug, Clone, Copy)]
struct Reached {
    steps: usize,
    before: Option<(usize, usize)>,
    ceiling: Option<Mbps>,
    others: bool,
}
