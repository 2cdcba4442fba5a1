//! What sysfs knows of a device: driver, bus address, the path to the root, sensors.
//!
//! In: an interface name and what netlink says of it. Out: facts. Read for devices only, a few
//! small files each; sysfs may show another network namespace, which is noticed.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::snapshot::{
    Fact, FourLimits, Missing, Nature, ParsedLane, ParsedLimits, ParsedReadings, PciHop, Port,
    Reason, Sensor, Slot, UsbHop,
};

const NET: &str = "/sys/class/net";

/// Kernels before 5.14 do not say by netlink what device stands behind an interface. Asked only
/// where neither a device nor a kind of software was told, which is rare on newer ones.
pub(super) fn settle_nature(port: &mut Port) {
    if port.nature != Fact::Known(Nature::Virtual) || port.software_kind.is_some() {
        return;
    }
    let folder = Path::new(NET).join(&port.name);
    port.nature = match is_same_interface(&folder, port) {
        Ok(()) if folder.join("device").exists() => Fact::Known(Nature::Hardware),
        Ok(()) => Fact::Known(Nature::Virtual),
        Err(why) => Fact::Missing(why),
    };
}

/// Fills in what sysfs knows of the port.
pub(super) fn fill(port: &mut Port) {
    let folder = Path::new(NET).join(&port.name);
    if let Err(why) = is_same_interface(&folder, port) {
        port.driver = Fact::Missing(why.clone());
        // Netlink may have told it.
        port.bus_address = port.bus_address.clone().or_else(|| Fact::Missing(why.clone()));
        port.slot = Fact::Missing(why.clone());
        port.numa_node = Fact::Missing(why.clone());
        port.sensors = Fact::Missing(why);
        return;
    }
    let device = fs::canonicalize(folder.join("device"));
    let device = match device {
        Ok(device) => device,
        Err(error) => {
            let why = Missing::with(Reason::NotReported, error.to_string());
            port.driver = Fact::Missing(why.clone());
            port.bus_address = port.bus_address.clone().or_else(|| Fact::Missing(why.clone()));
            port.slot = Fact::Missing(why.clone());
            port.numa_node = Fact::Missing(why.clone());
            port.sensors = Fact::Missing(why);
            return;
        }
    };
    port.driver = linked_name(&device.join("driver"));
    port.bus_address = name_of(&device);
    port.slot = slot(&device);
    port.numa_node =
        read(&ancestor_file(&device, "numa_node")).and_then(|text| match text.parse::<u32>() {
            Ok(node) => Fact::Known(node),
            Err(_) => Fact::missing_with(Reason::NotReported, "the slot belongs to no node"),
        });
    let sensors = sensors(&device);
    // A device with several ports does not tell whose module a sensor is in.
    if listing(&device.join("net")).len() == 1
        && let Some(readings) = module_readings(&sensors)
    {
        if let Some(instant) = port.instants.first_mut() {
            instant.received_milliwatts = received(Some(&readings));
        }
        port.module.readings = Fact::Known(readings);
    }
    port.sensors = Fact::Known(sensors);
}

/// Light that arrives now, by the sensors of a port whose module has told it before.
pub(super) fn received_milliwatts(port: &Port) -> Fact<Vec<f64>> {
    if port.module.readings.known().is_none() {
        return Fact::missing(Reason::NotAsked);
    }
    let folder = Path::new(NET).join(&port.name);
    let device = match is_same_interface(&folder, port) {
        Ok(()) => fs::canonicalize(folder.join("device")),
        Err(why) => return Fact::Missing(why),
    };
    match device {
        Ok(device) => received(module_readings(&sensors(&device)).as_ref()),
        Err(error) => Fact::missing_with(Reason::NotReported, error.to_string()),
    }
}

/// Received light of every lane of readings.
pub(super) fn received(readings: Option<&ParsedReadings>) -> Fact<Vec<f64>> {
    let mut all = Vec::new();
    for lane in readings.map(|readings| readings.lanes.as_slice()).unwrap_or_default() {
        match &lane.rx_power_milliwatts {
            Fact::Known(power) => all.push(*power),
            Fact::Missing(why) => return Fact::Missing(why.clone()),
        }
    }
    if all.is_empty() { Fact::missing(Reason::NotReported) } else { Fact::Known(all) }
}

/// What the sensors tell of a pluggable module, for hosts that do not hand out its memory: one
/// lane, in the labels that the kernel's SFP driver gives (module-memory notes, section 5.3). They
/// count only if there is exactly one chip with optical powers.
fn module_readings(sensors: &[Sensor]) -> Option<ParsedReadings> {
    // Chips may share a name.
    let twice = |label: &str| sensors.iter().filter(|sensor| sensor.label == label).count() > 1;
    if twice("TX_power") || twice("RX_power") {
        return None;
    }
    let mut chips: Vec<&str> = sensors
        .iter()
        .filter(|sensor| matches!(sensor.label.as_str(), "TX_power" | "RX_power"))
        .map(|sensor| sensor.chip.as_str())
        .collect();
    chips.dedup();
    let [chip] = chips.as_slice() else { return None };
    let find =
        |label: &str| sensors.iter().find(|sensor| sensor.chip == *chip && sensor.label == label);
    let value = |label: &str| match find(label) {
        Some(sensor) => sensor.value.clone(),
        None => Fact::missing_with(Reason::NotSupported, "the driver has no such sensor"),
    };
    let four = |label: &str| {
        let limits = &find(label)?.limits;
        let limit = |name: &str| limits.get(name).copied();
        (!limits.is_empty()).then(|| FourLimits {
            high_alarm: limit("high_alarm"),
            low_alarm: limit("low_alarm"),
            high_warning: limit("high_warning"),
            low_warning: limit("low_warning"),
        })
    };
    let limits = ParsedLimits {
        temperature_celsius: four("temperature"),
        supply_volts: four("VCC"),
        bias_milliamps: four("bias"),
        tx_power_milliwatts: four("TX_power"),
        rx_power_milliwatts: four("RX_power"),
    };
    Some(ParsedReadings {
        source: format!("the kernel's sensor interface (hwmon), chip {chip}"),
        temperature_celsius: value("temperature"),
        supply_volts: value("VCC"),
        lanes: vec![ParsedLane {
            lane: 1,
            bias_milliamps: value("bias"),
            tx_power_milliwatts: value("TX_power"),
            rx_power_milliwatts: value("RX_power"),
        }],
        limits: Some(limits),
        ..ParsedReadings::default()
    })
}

/// Netlink and sysfs must speak of the same interface.
fn is_same_interface(folder: &Path, port: &Port) -> Result<(), Missing> {
    let elsewhere = || {
        let why = if Path::new(NET).is_dir() {
            "sysfs here shows another network namespace"
        } else {
            "sysfs is not mounted here"
        };
        Missing::with(Reason::NotApplicable, why)
    };
    let index = read(&folder.join("ifindex")).result().map_err(|_| elsewhere())?;
    let address = read(&folder.join("address")).result().map_err(|_| elsewhere())?;
    let same_index = port.index.known().is_some_and(|known| known.to_string() == index);
    let same_address = port.mac_address.known().is_none_or(|known| *known == address);
    if same_index && same_address { Ok(()) } else { Err(elsewhere()) }
}

/// A small text file, trimmed.
fn read(path: &Path) -> Fact<String> {
    match fs::read_to_string(path) {
        Ok(text) => Fact::Known(text.trim().chars().take(256).collect()),
        Err(error) => {
            let reason = match error.kind() {
                std::io::ErrorKind::PermissionDenied => Reason::NotPermitted,
                std::io::ErrorKind::NotFound => Reason::NotSupported,
                _ => Reason::NotReported,
            };
            Fact::missing_with(reason, error.to_string())
        }
    }
}

fn name_of(path: &Path) -> Fact<String> {
    match path.file_name() {
        Some(name) => Fact::Known(name.to_string_lossy().into_owned()),
        None => Fact::missing(Reason::NotReported),
    }
}

fn linked_name(link: &Path) -> Fact<String> {
    match fs::read_link(link) {
        Ok(target) => name_of(&target),
        Err(error) => Fact::missing_with(Reason::NotReported, error.to_string()),
    }
}

/// The nearest ancestor (or the device itself) that has a file of this name.
fn ancestor_file(device: &Path, name: &str) -> PathBuf {
    device
        .ancestors()
        .take_while(|path| path.starts_with("/sys/devices"))
        .map(|path| path.join(name))
        .find(|path| path.exists())
        .unwrap_or_else(|| device.join(name))
}

/// True for `0000:3b:00.0`.
fn is_pci_address(name: &str) -> bool {
    let mut parts = name.split([':', '.']);
    let is_hex = |part: Option<&str>, length: usize| {
        part.is_some_and(|part| {
            part.len() >= length && part.bytes().all(|byte| byte.is_ascii_hexdigit())
        })
    };
    is_hex(parts.next(), 4)
        && is_hex(parts.next(), 2)
        && is_hex(parts.next(), 2)
        && is_hex(parts.next(), 1)
        && parts.next().is_none()
}

fn subsystem(path: &Path) -> Option<String> {
    let target = fs::read_link(path.join("subsystem")).ok()?;
    Some(target.file_name()?.to_string_lossy().into_owned())
}

/// The path from the device up to the root of its bus.
fn slot(device: &Path) -> Fact<Slot> {
    let above: Vec<&Path> =
        device.ancestors().take_while(|path| path.starts_with("/sys/devices/")).collect();
    let usb: Vec<UsbHop> = above
        .iter()
        .filter(|path| path.join("speed").is_file() && path.join("busnum").is_file())
        .map(|path| UsbHop {
            address: name_of(path).known().cloned().unwrap_or_default(),
            // The kernel writes whole Mb/s, or 1.5.
            speed_mbps: read(&path.join("speed")).and_then(|text| match text.parse::<u32>() {
                Ok(speed) => Fact::Known(speed),
                Err(_) => Fact::missing_with(Reason::NotReported, text),
            }),
        })
        .collect();
    if !usb.is_empty() {
        return Fact::Known(Slot::Usb { hops: usb });
    }
    let pci: Vec<PciHop> = above
        .iter()
        .filter(|path| path.file_name().is_some_and(|name| is_pci_address(&name.to_string_lossy())))
        .map(|path| pci_hop(path))
        .collect();
    // A device that only stands somewhere below PCI (a hypervisor's) has no slot of its own.
    let own = device.file_name().is_some_and(|name| is_pci_address(&name.to_string_lossy()));
    if own && !pci.is_empty() {
        // The kernel marks what hangs on a cable from outside as removable.
        let tunnelled = above.iter().any(|path| {
            path.join("removable").is_file()
                && read(&path.join("removable")).known().is_some_and(|text| text == "removable")
        });
        return Fact::Known(Slot::Pci { hops: pci, tunnelled });
    }
    match subsystem(device) {
        Some(name) => Fact::Known(Slot::Other { name }),
        None => Fact::missing(Reason::NotReported),
    }
}

fn pci_hop(path: &Path) -> PciHop {
    PciHop {
        address: name_of(path).known().cloned().unwrap_or_default(),
        speed_gts: gigatransfers(&path.join("current_link_speed")),
        width_lanes: lanes(&path.join("current_link_width")),
        best_speed_gts: gigatransfers(&path.join("max_link_speed")),
        best_width_lanes: lanes(&path.join("max_link_width")),
    }
}

/// `8.0 GT/s PCIe` or `Unknown`.
fn gigatransfers(path: &Path) -> Fact<f64> {
    read(path).and_then(|text| {
        let number = text.split_whitespace().next().and_then(|word| word.parse::<f64>().ok());
        match number.filter(|number| (0.1..1000.0).contains(number)) {
            Some(number) => Fact::Known(number),
            None => Fact::missing_with(Reason::NotReported, text),
        }
    })
}

/// `4`; 0 or 255 where the device does not know.
fn lanes(path: &Path) -> Fact<u32> {
    read(path).and_then(|text| match text.parse::<u32>() {
        Ok(width) if (1..=32).contains(&width) => Fact::Known(width),
        _ => Fact::missing_with(Reason::NotReported, text),
    })
}

/// Sensors right below the device: at most a few chips with a few channels.
fn sensors(device: &Path) -> Vec<Sensor> {
    let mut found = Vec::new();
    for chip in listing(&device.join("hwmon")) {
        let name = read(&chip.join("name")).known().cloned().unwrap_or_default();
        for file in listing(&chip) {
            let Some(channel) = file
                .file_name()
                .and_then(|name| name.to_str())
                .and_then(|name| name.strip_suffix("_input"))
                .map(str::to_owned)
            else {
                continue;
            };
            if let Some(sensor) = sensor(&chip, &name, &channel) {
                found.push(sensor);
            }
            if found.len() >= 64 {
                return found;
            }
        }
    }
    found
}

/// Sorted, so that the same host gives the same snapshot.
fn listing(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .collect();
    paths.sort();
    paths
}

/// One channel, in plain units (kernel documentation, hwmon sysfs interface).
fn sensor(chip: &Path, name: &str, channel: &str) -> Option<Sensor> {
    let kind = channel.trim_end_matches(|c: char| c.is_ascii_digit());
    let (quantity, unit, scale) = match kind {
        "temp" => ("temperature", "celsius", 1000.0),
        "in" => ("voltage", "volts", 1000.0),
        "curr" => ("current", "milliamps", 1.0),
        "power" => ("power", "milliwatts", 1000.0),
        _ => return None,
    };
    let number = |suffix: &str| {
        read(&chip.join(format!("{channel}_{suffix}"))).and_then(|text| match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Fact::Known(number / scale),
            _ => Fact::missing_with(Reason::Malformed, text),
        })
    };
    let mut limits = BTreeMap::new();
    for (suffix, limit) in [
        ("crit", "high_alarm"),
        ("max", "high_warning"),
        ("min", "low_warning"),
        ("lcrit", "low_alarm"),
    ] {
        if let Fact::Known(number) = number(suffix) {
            limits.insert(limit.to_owned(), number);
        }
    }
    Some(Sensor {
        chip: name.to_owned(),
        label: read(&chip.join(format!("{channel}_label")))
            .known()
            .cloned()
            .unwrap_or_else(|| channel.to_owned()),
        quantity: quantity.into(),
        unit: unit.into(),
        value: number("input"),
        limits,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pci_addresses() {
        assert!(is_pci_address("0000:3b:00.0"));
        assert!(is_pci_address("10000:e1:00.1"));
        for no in ["pci0000:00", "virtio2", "0000:3b:00", "usb1", "0000:3b:00.0.1", ""] {
            assert!(!is_pci_address(no), "{no}");
        }
    }

    #[test]
    fn unknown_speeds_and_widths() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("x");
        for (text, gts) in
            [("8.0 GT/s PCIe\n", Some(8.0)), ("Unknown\n", None), ("2.5 GT/s", Some(2.5))]
        {
            fs::write(&file, text).unwrap();
            assert_eq!(gigatransfers(&file).known().copied(), gts);
        }
        for (text, width) in [("16\n", Some(16)), ("0\n", None), ("255\n", None), ("", None)] {
            fs::write(&file, text).unwrap();
            assert_eq!(lanes(&file).known().copied(), width);
        }
        assert_eq!(
            gigatransfers(&folder.path().join("no")).why_missing().unwrap().reason,
            Reason::NotSupported
        );
    }

    /// The kernel's SFP driver: millidegrees, millivolts, milliamperes, microwatts, fixed labels
    /// (module-memory notes, section 5.3). 36 uW is -14.4 dBm.
    #[test]
    fn a_modules_sensors_are_its_readings() {
        let device = tempfile::tempdir().unwrap();
        let chip = |number: u8, name: &str| {
            let chip = device.path().join(format!("hwmon/hwmon{number}"));
            fs::create_dir_all(&chip).unwrap();
            for (file, text) in [
                ("name", name),
                ("temp1_input", "36500"),
                ("temp1_label", "temperature"),
                ("temp1_max", "73000"),
                ("curr1_input", "7"),
                ("curr1_label", "bias"),
                ("power2_input", "36"),
                ("power2_label", "RX_power"),
                ("power2_crit", "1585"),
                ("power2_max", "1259"),
                ("power2_min", "63"),
                ("power2_lcrit", "40"),
            ] {
                fs::write(chip.join(file), text).unwrap();
            }
        };
        chip(1, "sfp_1");
        let found = module_readings(&sensors(device.path())).unwrap();
        assert_eq!(found.source, "the kernel's sensor interface (hwmon), chip sfp_1");
        assert_eq!(found.temperature_celsius, Fact::Known(36.5));
        assert_eq!(found.supply_volts.why_missing().unwrap().reason, Reason::NotSupported);
        let lane = found.lanes.first().unwrap();
        assert_eq!(lane.bias_milliamps, Fact::Known(7.0));
        assert_eq!(lane.rx_power_milliwatts, Fact::Known(0.036));
        assert_eq!(lane.tx_power_milliwatts.known(), None);
        assert_eq!(received(Some(&found)), Fact::Known(vec![0.036]));
        assert_eq!(received(None).known(), None);
        let limits = found.limits.unwrap();
        let rx = limits.rx_power_milliwatts.unwrap();
        assert_eq!((rx.low_warning, rx.low_alarm), (Some(0.063), Some(0.04)));
        assert_eq!((rx.high_warning, rx.high_alarm), (Some(1.259), Some(1.585)));
        assert_eq!(limits.temperature_celsius.unwrap().high_alarm, None);
        // Two modules under one device: nobody knows which is whose.
        chip(2, "sfp_1");
        assert_eq!(module_readings(&sensors(device.path())), None);
    }

    #[test]
    fn sensors_in_plain_units() {
        let device = tempfile::tempdir().unwrap();
        let chip = device.path().join("hwmon/hwmon3");
        fs::create_dir_all(&chip).unwrap();
        for (name, text) in [
            ("name", "adapter\n"),
            ("temp1_input", "48250\n"),
            ("temp1_crit", "105000\n"),
            ("temp1_label", "die\n"),
            ("power1_input", "1500\n"),
            ("fan1_input", "900\n"),
        ] {
            fs::write(chip.join(name), text).unwrap();
        }
        let found = sensors(device.path());
        assert_eq!(found.len(), 2);
        assert_eq!(found[1].value, Fact::Known(48.25));
        assert_eq!(found[1].label, "die");
        assert_eq!(found[1].limits.get("high_alarm"), Some(&105.0));
        assert_eq!(
            (found[0].value.clone(), found[0].unit.as_str()),
            (Fact::Known(1.5), "milliwatts")
        );
    }
}
