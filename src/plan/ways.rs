//! The ways between the hosts of a site: for each pair the path, its lowest ceiling, and the link
//! that sets it. A fast link behind a slow uplink is the commonest disappointment of all.
//!
//! Traffic is taken to go the way of the fewest links, through devices that pass it on. Where there
//! are several such ways, the settings of the devices choose, and the plan does not know them: the
//! one with the highest ceiling is shown, and that there are others.

use std::collections::{BTreeMap, VecDeque};

use crate::plan::judge::Planned;
use crate::plan::link::{Device, Plan};
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
        let reached = self.walk(start);
        let ends = self.switch.iter().enumerate();
        ends.filter(|(end, switch)| !**switch && *end != start && (!only_later || *end > start))
            .filter_map(|(end, _)| self.way(start, end, &reached))
            .collect()
    }

    /// The way between two devices, if there is one.
    pub fn between(&self, from: &str, to: &str) -> Option<Way> {
        let place = |name: &str| self.names.iter().position(|known| *known == name);
        let (start, end) = (place(from)?, place(to)?);
        self.way(start, end, &self.walk(start))
    }

    /// Breadth first through devices that pass traffic on: of each device how far it is, from where
    /// and over which link it is best reached, at what ceiling, and whether that is the only way.
    fn walk(&self, start: usize) -> Vec<Option<Reached>> {
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
        let carries = |link: usize| self.delivers.get(link).copied().flatten();
        let most = links.iter().filter_map(|link| carries(*link)).max();
        let lowest = links.iter().copied().min_by_key(|link| carries(*link));
        let same = arrived.ceiling.is_some() && most == arrived.ceiling;
        Some(Way {
            from: (*self.names.get(start)?).to_owned(),
            to: (*self.names.get(end)?).to_owned(),
            links,
            devices,
            ceiling: arrived.ceiling.filter(|_| arrived.before.is_some()),
            limited_by: lowest.filter(|_| !same),
            others: arrived.others,
        })
    }
}

/// How a device is reached.
#[derive(Debug, Clone, Copy)]
struct Reached {
    steps: usize,
    before: Option<(usize, usize)>,
    ceiling: Option<Mbps>,
    others: bool,
}
