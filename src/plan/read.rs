//! A plan file: TOML into a [`Plan`].

use std::collections::HashSet;

use serde::Deserialize;

use crate::plan::link::{Device, End, Link, Plan, port_speed};
use crate::plan::words;
use crate::quantity::Decibels;

/// A plan file, as it is written.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    device: Vec<DeviceEntry>,
    #[serde(default)]
    link: Vec<LinkEntry>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct DeviceEntry {
    name: String,
    #[serde(default)]
    switch: bool,
    #[serde(default)]
    forwards: bool,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct LinkEntry {
    name: Option<String>,
    parts: Option<String>,
    medium: Option<String>,
    length_m: Option<f64>,
    connectors: Option<u32>,
    splices: Option<u32>,
    crossings: Option<u32>,
    allowance_db: Option<f64>,
    wanted_mbps: Option<u32>,
    between_buildings: Option<bool>,
    interference: Option<bool>,
    mtu_octets: Option<u32>,
    near: EndEntry,
    far: EndEntry,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct EndEntry {
    device: Option<String>,
    port: Option<String>,
    cage: Option<String>,
    best_mbps: Option<u32>,
    speeds_mbps: Vec<u32>,
    slot: Option<String>,
    ports_sharing_slot: Option<u32>,
    module: Option<String>,
    fec: Option<String>,
    autonegotiation: Option<bool>,
    mtu_octets: Option<u32>,
}

/// Reads a plan file.
///
/// # Errors
/// What does not fit, with line and column; or a value that cannot be, with the link it stands in.
pub fn read(text: &str) -> Result<Plan, String> {
    let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
    let mut named = HashSet::new();
    for device in &file.device {
        if device.name.is_empty() {
            return Err("a device needs a name".into());
        }
        if !named.insert(device.name.as_str()) {
            return Err(format!("device {} has two entries", device.name));
        }
    }
    let mut links = Vec::with_capacity(file.link.len());
    for (place, entry) in file.link.into_iter().enumerate() {
        let name = entry.name.clone();
        links.push(link(entry).map_err(|error| match name {
            Some(name) => format!("link {name}: {error}"),
            None => format!("link number {}: {error}", place + 1),
        })?);
    }
    let devices = file.device.into_iter();
    let devices = devices.map(|entry| Device {
        name: entry.name,
        is_switch: entry.switch,
        forwards: entry.forwards,
    });
    Ok(Plan { devices: devices.collect(), links })
}

fn link(entry: LinkEntry) -> Result<Link, String> {
    let mut link = match &entry.parts {
        Some(parts) => {
            let mut links = words::links(parts)?;
            match (links.pop(), links.is_empty()) {
                (Some(link), true) => link,
                _ => return Err("parts must tell one link".into()),
            }
        }
        None => Link::default(),
    };
    let some = |told: &mut Option<u32>, entry: Option<u32>| {
        if entry.is_some() {
            *told = entry;
        }
    };
    if let Some(text) = &entry.medium {
        link.medium = Some(words::grade(text)?);
    }
    if let Some(length) = entry.length_m {
        link.length = Some(words::length(length)?);
    }
    some(&mut link.connectors, entry.connectors);
    some(&mut link.crossings, entry.crossings);
    if link.connectors.is_some_and(|count| count > words::MANY) {
        return Err(format!("connectors must be {} or fewer", words::MANY));
    }
    link.splices = entry.splices.unwrap_or(link.splices);
    let allowance = entry.allowance_db.unwrap_or(link.allowance.0);
    if !(0.0..=30.0).contains(&allowance) {
        return Err("allowance_db must be between 0 and 30".into());
    }
    link.allowance = Decibels(allowance);
    link.wanted = entry.wanted_mbps.map(port_speed).transpose()?.or(link.wanted);
    link.between_buildings |= entry.between_buildings.unwrap_or(false);
    link.interference |= entry.interference.unwrap_or(false);
    end(entry.near, &mut link.near).map_err(|error| format!("near: {error}"))?;
    end(entry.far, &mut link.far).map_err(|error| format!("far: {error}"))?;
    for end in [&mut link.near, &mut link.far] {
        end.mtu = end.mtu.or(entry.mtu_octets);
        if end.mtu.is_some_and(|mtu| !(68..=65_535).contains(&mtu)) {
            return Err("mtu_octets must be between 68 and 65535".into());
        }
    }
    link.name = entry.name;
    Ok(link)
}

fn end(entry: EndEntry, end: &mut End) -> Result<(), String> {
    end.device = entry.device;
    end.port = entry.port;
    if let Some(text) = &entry.cage {
        end.cage = Some(words::cage(text)?);
    }
    if let Some(text) = &entry.slot {
        end.slot = Some(words::slot(text)?);
    }
    if let Some(text) = &entry.module {
        end.module = words::module(text)?;
    }
    if let Some(text) = &entry.fec {
        end.fec = Some(words::fec(text)?);
    }
    end.best = entry.best_mbps.map(port_speed).transpose()?.or(end.best);
    end.speeds = entry.speeds_mbps.into_iter().map(port_speed).collect::<Result<_, _>>()?;
    end.mtu = entry.mtu_octets.or(end.mtu);
    end.sharing = entry.ports_sharing_slot.unwrap_or(end.sharing).max(1);
    end.autonegotiation = entry.autonegotiation.or(end.autonegotiation);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::link::{Fec, Slot};
    use crate::quantity::{Mbps, Metres};
    use crate::standards::media::Grade;
    use proptest::prelude::*;

    #[test]
    fn reads_and_refuses() {
        let plan = read(
            "[[device]]\nname='quay'\nswitch=true\n[[link]]\nname='shed'\nmedium='om3'\nlength_m=60\n\
             near={device='keel',cage='sfp28',module='25GBASE-SR',slot='gen3 x4'}\nfar={device='quay',fec='rs'}\n\
             [[link]]\nparts='10G RJ45 30m Cat6A 10G RJ45'\nwanted_mbps=10000\n",
        )
        .unwrap();
        let [shed, other] = plan.links.as_slice() else { panic!("{plan:?}") };
        assert_eq!(shed.medium, Some(Grade::Om3));
        assert_eq!(shed.near.module, ["25GBASE-SR"]);
        assert_eq!(shed.near.slot, Some(Slot::PciExpress { generation: 3, lanes: 4 }));
        assert_eq!(shed.far.fec, Some(Fec::Rs));
        assert_eq!(other.length, Some(Metres(30.0)));
        assert_eq!(other.far.best, Some(Mbps(10_000)));
        for bad in [
            "[[link]]\nmedium='string'",
            "[[link]]\nlength_m=-1",
            "[[link]]\nlength_m=nan",
            "[[link]]\nname='a'\nnear={cage='barge'}",
            "[[link]]\nnear={module='10GBASE-XYZ'}",
            "[[link]]\nnear={slot='gen3 x3'}",
            "[[link]]\nfar={fec='some'}",
            "[[link]]\nfar={best_mbps=0}",
            "[[link]]\nallowance_db=-1",
            "[[link]]\nmtu_octets=0",
            "[[link]]\nspeed=1",
            "[[link]]\nparts='SFP28 10m OM3 SFP28, SFP28 10m OM3 SFP28'",
            "[[device]]\nname='a'\n[[device]]\nname='a'",
            "[[device]]\nname=''",
            "link = 3",
        ] {
            let error = read(bad).unwrap_err();
            assert!(!error.is_empty(), "{bad}");
        }
    }

    proptest! {
        #[test]
        fn no_text_hurts(text in "\\PC{0,300}") {
            let _ = read(&text);
        }
    }
}
