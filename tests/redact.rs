//! A redacted capture names nobody, and is judged as the original is.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use common::{files, fixtures};
use linkwright::chain::joined::{self, Joined};
use linkwright::diagnose::{Knowledge, diagnose};
use linkwright::module;
use linkwright::observe::capture;
use linkwright::report::redact::{Keep, Kind, Material, Redacted, redact};
use linkwright::site::Site;
use linkwright::snapshot::{
    Fact, HexBytes, LogLine, LogTie, MemoryBlock, Neighbour, NeighbourName, Port, Snapshot,
};
use proptest::prelude::*;

const HIDDEN: Keep = Keep { serials: false, addresses: false, hosts: false, interfaces: false };

fn redacted(material: &Material, keep: &Keep) -> Redacted {
    redact(material.clone(), keep).unwrap()
}

/// The far end's capture and the site file that belong to a capture.
fn beside(path: &Path) -> (Option<Snapshot>, Option<Site>) {
    let stem = path.to_str().unwrap().strip_suffix(".json").unwrap().to_owned();
    let (far, site) = (format!("{stem}.far.json"), format!("{stem}.site.toml"));
    let far = Path::new(&far).exists().then(|| capture::load(Path::new(&far)).unwrap().remove(0));
    let site = Path::new(&site).exists().then(|| capture::load_site(Path::new(&site)).unwrap());
    (far, site)
}

/// Every capture of the fixtures, with what belongs to it.
fn all_fixtures() -> Vec<(String, Material)> {
    let mut all = Vec::new();
    for path in files(&fixtures(), ".json") {
        let name = path.to_str().unwrap().to_owned();
        let Ok(snapshots) = capture::load(&path) else { continue };
        let (far, site) = beside(&path);
        // The demo's hosts are judged with the site's own file.
        let site = site.or_else(|| {
            let demo = !name.contains("/faults/");
            demo.then(|| capture::load_site(&fixtures().join("site.toml")).unwrap())
        });
        all.push((name, Material { snapshots, far, site, ..Material::default() }));
    }
    assert!(all.len() > 250, "only {} captures", all.len());
    all
}

/// All that is concluded, but for the texts, which name things.
fn judged(material: &Material) -> Vec<String> {
    let mut told = Vec::new();
    for snapshot in &material.snapshots {
        let knowledge = Knowledge {
            site: material.site.as_ref(),
            far: material.far.as_ref(),
            far_port: material.far_port.as_deref(),
            ..Knowledge::default()
        };
        let found = match diagnose(snapshot, knowledge) {
            Ok(found) => found,
            Err(_) => {
                told.push("no such far port".into());
                continue;
            }
        };
        for (port, seen) in found.ports.iter().zip(&snapshot.ports) {
            told.push(format!(
                "{:?} {:?} {:?} {:?} {:?} {:?} {:?}",
                port.verdict,
                port.symptoms,
                port.running,
                port.expected,
                port.limited_by,
                port.look_at,
                port.judged_by
            ));
            for cause in &port.causes {
                let one = &cause.examined;
                let rows = |rows: &[linkwright::diagnose::weigh::Weighed]| -> Vec<String> {
                    rows.iter().map(|row| format!("{} {:?}", row.seen.source, row.weight)).collect()
                };
                told.push(format!(
                    "{} {:?} {:?} {:?} {:?} {:?} {:?}",
                    one.fault.name,
                    one.weight,
                    cause.certainty,
                    rows(&one.evidence),
                    rows(&one.against),
                    one.gaps.iter().map(|gap| gap.observation.name).collect::<Vec<_>>(),
                    cause.remedy_cautions,
                ));
            }
            let ruled_out: Vec<&str> = port.ruled_out.iter().map(|one| one.fault).collect();
            let missing: Vec<_> =
                port.missing.iter().map(|one| (&one.fact, one.why.reason, &one.remedy)).collect();
            let parts: Vec<_> = port
                .chain
                .parts
                .iter()
                .map(|part| (part.kind, part.ceiling.known().map(|ceiling| ceiling.speed)))
                .collect();
            told.push(format!("{ruled_out:?} {missing:?} {parts:?} {:?}", port.paths));
            if let Fact::Known(module) = module::decode(&seen.module) {
                let sums: Vec<_> = module
                    .checksums
                    .iter()
                    .map(|sum| sum.stored_computed.map(|(a, b)| a.wrapping_sub(b)))
                    .collect();
                let doubts: Vec<_> = module.doubts.iter().map(|doubt| doubt.kind).collect();
                told.push(format!("{sums:?} {doubts:?} {:?}", module.date_code));
            }
        }
    }
    told
}

/// The diagnosis does not depend on who it is.
#[test]
fn every_fixture_is_judged_as_before() {
    let mut with_causes = 0;
    for (name, material) in all_fixtures() {
        let before = judged(&material);
        with_causes += usize::from(before.iter().any(|line| line.contains("Decibans")));
        for keep in [Keep::default(), HIDDEN, Keep::parse("serials,addresses,hosts").unwrap()] {
            let after = redacted(&material, &keep).material;
            assert_eq!(judged(&after), before, "{name} with {keep:?}");
        }
    }
    assert!(with_causes > 100, "{with_causes}");
}

/// The site file joins the redacted captures of the demo as it joins the originals.
#[test]
fn joined_ends_stay_joined() {
    let snapshots = capture::load(&fixtures().join("hosts")).unwrap();
    let site = capture::load_site(&fixtures().join("site.toml")).unwrap();
    let ends = |material: &Material| -> Vec<Option<usize>> {
        let joined = Joined::find(&material.snapshots, material.site.as_ref().unwrap());
        let place = |host: &str| material.snapshots.iter().position(|one| one.host.name == host);
        material
            .snapshots
            .iter()
            .flat_map(|one| one.ports.iter().map(move |port| (one, port)))
            .map(|(one, port)| place(&joined.far_end(&one.host.name, &port.name)?.host.name))
            .collect()
    };
    let material = Material { snapshots, site: Some(site), ..Material::default() };
    assert!(ends(&material).iter().flatten().count() >= 2);
    for keep in [Keep::default(), HIDDEN] {
        let after = redacted(&material, &keep).material;
        assert_eq!(ends(&after), ends(&material));
        assert_eq!(
            joined::announced(&after.snapshots).len(),
            joined::announced(&material.snapshots).len()
        );
        assert!(after.snapshots.iter().all(|one| one.host.name.starts_with("host-")));
    }
}

#[test]
fn twice_is_once() {
    let mut all = all_fixtures();
    all.push(("planted".into(), planted(&Secrets::default())));
    for (name, material) in all {
        for keep in [Keep::default(), HIDDEN] {
            let once = redacted(&material, &keep);
            let twice = redacted(&once.material, &keep);
            assert_eq!(twice.material, once.material, "{name}");
        }
    }
}

// ---- secrets ----------------------------------------------------------------------------

#[derive(Debug, Clone)]
struct Secrets {
    serial: String,
    mac: [u8; 6],
    ip: [u8; 4],
    six: [u16; 8],
    host: String,
    peer: String,
    domain: String,
}

impl Default for Secrets {
    fn default() -> Self {
        Self {
            serial: "TDW7Q0042X".into(),
            mac: [0x00, 0x1a, 0x2b, 0xc3, 0xd4, 0xe5],
            ip: [10, 77, 3, 214],
            six: [0xfe80, 0, 0, 0, 0x21a, 0x2bff, 0xfec3, 0xd4e5],
            host: "kielwächter".into(),
            peer: "sounder-annex".into(),
            domain: "tidewater-soundings.test".into(),
        }
    }
}

fn mac_spelled(mac: [u8; 6], by: &str) -> String {
    mac.iter().map(|byte| format!("{byte:02x}")).collect::<Vec<_>>().join(by)
}

impl Secrets {
    fn six_spelled(&self) -> String {
        std::net::Ipv6Addr::from(self.six).to_string()
    }

    fn ip_spelled(&self) -> String {
        std::net::Ipv4Addr::from(self.ip).to_string()
    }

    /// Every spelling that may not be in what is given out, in lower case.
    fn spellings(&self) -> Vec<String> {
        let bare = mac_spelled(self.mac, "");
        let dotted = format!("{}.{}.{}", &bare[..4], &bare[4..8], &bare[8..]);
        let mut all = vec![
            mac_spelled(self.mac, ":"),
            mac_spelled(self.mac, "-"),
            mac_spelled(self.mac, " "),
            bare,
            dotted,
            self.ip_spelled(),
            self.six_spelled(),
            self.serial.clone(),
            self.host.clone(),
            self.peer.clone(),
            self.domain.clone(),
        ];
        for text in &mut all {
            *text = text.to_lowercase();
        }
        all
    }
}

fn block(two_wire_address: u8, page: u8, offset: u8, bytes: &[u8]) -> MemoryBlock {
    MemoryBlock {
        two_wire_address,
        page,
        offset,
        bytes: Fact::Known(HexBytes(bytes.to_vec())),
        ..MemoryBlock::default()
    }
}

fn sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum.wrapping_add(*byte))
}

fn put(image: &mut [u8], at: usize, bytes: &[u8]) {
    image[at..at + bytes.len()].copy_from_slice(bytes);
}

/// SFF-8472: the serial number at A0h 68-83, again in the vendor's own bytes 96-127, in the limits'
/// range (so that CC_DMI covers it) and in the user's bytes of A2h; CC_EXT at 95 (table 3.1).
fn sfp(secrets: &Secrets) -> Vec<MemoryBlock> {
    let serial: Vec<u8> = secrets.serial.bytes().take(16).collect();
    let (mut a0, mut a2) = ([0_u8; 256], [0_u8; 256]);
    put(&mut a0, 0, &[0x03, 0x04, 0x07, 0x10]);
    put(&mut a0, 68, &[b' '; 16]);
    put(&mut a0, 68, &serial);
    put(&mut a0, 84, b"250630A1");
    a0[92] = 0x68;
    put(&mut a0, 100, &serial);
    a0[63] = sum(&a0[..63]);
    a0[95] = sum(&a0[64..95]);
    put(&mut a2, 40, &serial.to_ascii_lowercase());
    put(&mut a2, 128, secrets.host.as_bytes());
    put(&mut a2, 160, &secrets.mac);
    put(&mut a2, 170, mac_spelled(secrets.mac, ":").to_uppercase().as_bytes());
    put(&mut a2, 200, &[b"x".as_slice(), secrets.peer.as_bytes(), b"y"].concat());
    a2[95] = sum(&a2[..95]).wrapping_add(3); // Wrong by three.
    // Read in pieces that cut the serial number.
    let pieces = a0.chunks(24).enumerate();
    let mut blocks: Vec<MemoryBlock> = pieces
        .map(|(number, bytes)| block(0x50, 0, u8::try_from(number * 24).unwrap(), bytes))
        .collect();
    blocks.push(block(0x51, 0, 0, &a2));
    blocks
}

fn planted(secrets: &Secrets) -> Material {
    let Secrets { serial, host, peer, domain, .. } = secrets;
    let (mac, ip, six) =
        (mac_spelled(secrets.mac, ":"), secrets.ip_spelled(), secrets.six_spelled());
    let bare = mac_spelled(secrets.mac, "");
    let text = |text: String| LogLine { at_microseconds: 1, names: LogTie::Interface, text };
    let dump: Vec<String> =
        serial.bytes().chain([b' '; 16]).take(16).map(|b| format!("{b:02x}")).collect();
    let lines = vec![
        text(format!("sfp fibre0: module SN {serial}, x{}y, {}", serial, serial.to_lowercase())),
        text(format!(
            "fibre0: address {mac}, {}, {bare}",
            mac_spelled(secrets.mac, "-").to_uppercase()
        )),
        text(format!("enx{bare}: {}.{}.{} moved", &bare[..4], &bare[4..8], &bare[8..])),
        text(format!("server {ip}:2049 [{six}]:22 {}/24, {six}: no route", ip)),
        text(format!(
            "nfs: {host}.{domain} and rudder.{} x{peer}9 {}",
            domain.to_uppercase(),
            peer.to_uppercase()
        )),
        text(format!("sfp EE: 00000000: {} {}", dump.join(" "), serial)),
        text(format!("sfp EE: {}", mac_spelled(secrets.mac, " "))),
        text(format!(
            "sfp fibre0: EEPROM extended structure checksum failure: 0x5e != 0x5f {}",
            host.to_uppercase()
        )),
    ];
    let mut port = Port {
        name: "fibre0".into(),
        alternative_names: vec![format!("enx{bare}")],
        mac_address: Fact::Known(mac.clone()),
        permanent_mac_address: Fact::Known(mac.to_uppercase()),
        firmware: Fact::Known(format!("5.10.0 (1.2.3.4) {serial}")),
        driver_version: Fact::Known("1.2.3.4".into()),
        kernel_log: Fact::Known(lines),
        neighbours: Fact::Known(vec![Neighbour {
            chassis: NeighbourName { kind: "MAC address".into(), name: mac.clone() },
            port: NeighbourName { kind: "interface name".into(), name: "boat0".into() },
            port_description: Some(format!("to {host} via {peer}")),
            system_name: Some(format!("{peer}.{domain}")),
            system_description: Some(format!("{peer} at {ip}, serial {serial}")),
            management_addresses: vec![ip, six, mac.clone()],
            ..Neighbour::default()
        }]),
        ..Port::default()
    };
    port.module.memory = Fact::Known(sfp(secrets));
    port.numa_node =
        Fact::missing_with(linkwright::snapshot::Reason::NotReported, format!("{host}: {mac}"));
    let counters = [(format!("rx_{serial}"), 1), (format!("rx_{bare}"), 2)];
    let instant = linkwright::snapshot::Instant {
        private_counters: Fact::Known(BTreeMap::from(counters)),
        ..Default::default()
    };
    port.instants = vec![instant];
    let snapshot = Snapshot {
        format: "linkwright-capture".into(),
        version: linkwright::snapshot::VERSION,
        tool: "linkwright".into(),
        taken_at: Fact::Known("2026-01-02T03:04:05Z".into()),
        host: linkwright::snapshot::Host {
            name: host.clone(),
            kernel: Fact::Known("6.1.0".into()),
            ..Default::default()
        },
        ports: vec![port],
        gaps: Vec::new(),
        file: None,
    };
    let mut far = snapshot.clone();
    far.host.name = format!("{peer}.{domain}");
    let site = Site::parse(&format!(
        "[[port]]\nhost='{host}'\nname='fibre0'\n[port.far]\nhost='{peer}.{domain}'\nport='fibre0'\n"
    ))
    .unwrap();
    Material {
        snapshots: vec![snapshot],
        far: Some(far),
        far_port: Some("fibre0".into()),
        site: Some(site),
        said: Vec::new(),
    }
}

/// Everything that is given out, in lower case: the JSON, and module memory as letters and as hex.
fn given_out(material: &Material) -> String {
    let mut all = String::new();
    for snapshot in material.snapshots.iter().chain(&material.far) {
        all.push_str(&serde_json::to_string(snapshot).unwrap());
        for port in &snapshot.ports {
            // In whole images, since pieces may cut what is looked for.
            let mut images: BTreeMap<(u8, u8, u8), Vec<u8>> = BTreeMap::new();
            for block in port.module.memory.known().into_iter().flatten() {
                let Fact::Known(HexBytes(bytes)) = &block.bytes else { continue };
                let image = images.entry((block.two_wire_address, block.bank, block.page));
                image.or_default().extend(bytes);
            }
            for bytes in images.values() {
                all.push_str(&String::from_utf8_lossy(bytes));
                all.push_str(&HexBytes(bytes.clone()).text());
            }
        }
    }
    all.push_str(&serde_json::to_string(&material.site).unwrap());
    all.push_str(material.far_port.as_deref().unwrap_or_default());
    all.to_lowercase()
}

fn assert_nothing_of(secrets: &Secrets, after: &Material) -> Result<(), TestCaseError> {
    let out = given_out(after);
    for secret in secrets.spellings() {
        prop_assert!(!out.contains(&secret), "{secret:?} of {secrets:?} is in\n{out}");
    }
    Ok(())
}

#[test]
fn no_planted_secret_is_given_out() {
    let secrets = Secrets::default();
    let material = planted(&secrets);
    // The search finds them where they are.
    let before = given_out(&material);
    for secret in secrets.spellings() {
        assert!(before.contains(&secret), "{secret}");
    }
    let done = redacted(&material, &Keep::default());
    assert_nothing_of(&secrets, &done.material).unwrap();
    let out = given_out(&done.material);
    assert!(out.contains("00:1a:2b:00:00:01"), "the maker's octets stay: {out}");
    assert!(!out.contains("rudder"), "an unknown host of a known domain");
    assert!(!out.contains("0x5e"), "the sum over the serial number");
    let port = &done.material.snapshots[0].ports[0];
    assert_eq!(port.driver_version, Fact::Known("1.2.3.4".into()));
    assert_eq!(port.firmware, Fact::Known("5.10.0 (1.2.3.4) SERIAL-1".into()));
    assert_eq!(port.mac_address, Fact::Known("00:1a:2b:00:00:01".into()));
    assert_eq!(port.permanent_mac_address, Fact::Known("00:1A:2B:00:00:01".into()));
    assert_eq!(port.alternative_names, ["enx001a2b000001"]);
    let site = done.material.site.as_ref().unwrap();
    assert_eq!(site.port[0].host.as_deref(), Some("host-1"));
    assert_eq!(site.port[0].far.host.as_deref(), Some("host-2.domain-1"));
    assert_eq!(done.material.far.as_ref().unwrap().host.name, "host-2.domain-1");
    assert_eq!(done.replaced[&Kind::SerialNumber], 1);
    assert_eq!(done.replaced[&Kind::MacAddress], 1);
    assert_eq!(done.replaced[&Kind::IpAddress], 2);
    assert_eq!(done.replaced[&Kind::HostName], 2);
    assert_eq!(done.replaced.get(&Kind::InterfaceName), None);
    assert_eq!(done.kept, ["interfaces"]);
}

/// SFF-8472 table 3.1: a right CC_EXT stays right, a wrong CC_DMI wrong by as much.
#[test]
fn checksums_and_date_codes_stay() {
    let done = redacted(&planted(&Secrets::default()), &Keep::default());
    let Fact::Known(module) = module::decode(&done.material.snapshots[0].ports[0].module) else {
        panic!("not decoded")
    };
    assert_eq!(module.serial_number, Fact::Known("SERIAL-1".into()));
    assert_eq!(module.date_code, Fact::Known("2025-06-30 lot A1".into()));
    let wrong: Vec<(&str, u8)> = module
        .checksums
        .iter()
        .map(|sum| {
            (
                sum.name,
                sum.stored_computed
                    .map(|(stored, computed)| stored.wrapping_sub(computed))
                    .unwrap(),
            )
        })
        .collect();
    assert_eq!(wrong, [("CC_BASE", 0), ("CC_EXT", 0), ("CC_DMI", 3)]);
}

/// Every image of the fixtures: serial number gone, everything else as it was, also where pages
/// repeat each other.
#[test]
fn every_image_is_judged_as_before() {
    let (mut seen, mut repeated) = (0, 0);
    for path in files(&fixtures(), ".bin") {
        let name = path.to_str().unwrap().to_owned();
        let Ok((memory, _)) = module::Memory::from_file(&std::fs::read(&path).unwrap()) else {
            continue;
        };
        let mut material = planted(&Secrets::default());
        let memory = Fact::Known(memory.into_blocks());
        material.snapshots[0].ports[0].module.memory = memory;
        let done = redacted(&material, &Keep::default()).material;
        assert_eq!(judged(&done), judged(&material), "{name}");
        let decoded = |of: &Material| module::decode(&of.snapshots[0].ports[0].module);
        let (Fact::Known(before), Fact::Known(after)) = (decoded(&material), decoded(&done)) else {
            continue;
        };
        seen += 1;
        repeated += usize::from(
            before.doubts.iter().any(|one| one.kind == module::DoubtKind::PagesIdentical),
        );
        if let Fact::Known(serial) = &before.serial_number {
            assert!(after.serial_number.known().unwrap().starts_with("SERIAL-"), "{name}");
            assert!(!given_out(&done).contains(&serial.to_lowercase()), "{name}: {serial}");
        }
        let rest = |mut module: module::Module| {
            module.serial_number = Fact::default();
            for sum in &mut module.checksums {
                sum.stored_computed = None;
            }
            format!("{module:?}")
        };
        assert_eq!(rest(after), rest(before), "{name}");
    }
    assert!(seen > 10 && repeated >= 2, "{seen} {repeated}");
}

fn log_after(host: &str, line: &str, keep: &Keep) -> String {
    let material = Material {
        snapshots: vec![Snapshot {
            format: "linkwright-capture".into(),
            version: linkwright::snapshot::VERSION,
            tool: String::new(),
            taken_at: Fact::default(),
            host: linkwright::snapshot::Host { name: host.into(), ..Default::default() },
            ports: vec![Port {
                name: "eth1".into(),
                firmware: Fact::Known("14.0.5.0".into()),
                kernel_log: Fact::Known(vec![LogLine {
                    at_microseconds: 0,
                    names: LogTie::Driver,
                    text: line.into(),
                }]),
                ..Port::default()
            }],
            gaps: Vec::new(),
            file: None,
        }],
        ..Material::default()
    };
    let done = redacted(&material, keep).material;
    let again = redacted(&done, keep).material;
    let json = |of: &Material| serde_json::to_string(&of.snapshots).unwrap();
    assert_eq!(json(&done), json(&again), "{line}");
    let port = &done.snapshots[0].ports[0];
    assert!(!done.snapshots[0].host.name.eq(host), "{host}");
    port.kernel_log.known().unwrap()[0].text.clone()
}

#[test]
fn lines_of_the_log() {
    let hidden = &HIDDEN;
    let shown = &Keep::default();
    for (host, line, keep, wanted) in [
        // Short names are whole words; names that are plain words stay in running text.
        (
            "b7",
            "b7 up, ab7 b70 b7-x _b7_ B7.",
            shown,
            "host-1 up, ab7 b70 host-1-x _host-1_ host-1.",
        ),
        ("link", "eth1: link is down, Link is Up", shown, "eth1: link is down, Link is Up"),
        ("a", "a module, fault", shown, "a module, fault"),
        (
            "link.tide.test",
            "link down at LINK.tide.test and x.tide.test",
            shown,
            "link down at host-1.domain-1 and host.domain-1",
        ),
        ("42", "eth1: 42 of 142", shown, "eth1: 42 of 142"),
        ("keel", "keelson of keel", shown, "keelson of host-1"),
        ("sounder", "sounders0 on SOUNDER12", shown, "host-1-s0 on host-1-12"),
        ("ballast", "host-12 is not ballast", shown, "host-12 is not host-1"),
        // Addresses by their form.
        (
            "b7",
            "from 0a:1b:2c:3d:4e:5f to ff:ff:ff:ff:ff:ff, 01:80:c2:00:00:0e, 00:00:00:00:00:00",
            shown,
            "from 02:00:00:00:00:01 to ff:ff:ff:ff:ff:ff, 01:80:c2:00:00:0e, 00:00:00:00:00:00",
        ),
        (
            "b7",
            "AC-DE-48-12-34-56 is acde.4812.3456 is ACDE48123456",
            shown,
            "AC-DE-48-00-00-01 is acde.4800.0001 is ACDE48000001",
        ),
        (
            "b7",
            "acde-4812-3456 is acde48-123456 is AC_DE_48_12_34_56 is ac.de.48.12.34.56",
            shown,
            "acde-4800-0001 is acde48-000001 is AC_DE_48_00_00_01 is ac.de.48.00.00.01",
        ),
        (
            "b7",
            "fw 14.20.10.12.13.14, id 550e8400-e29b-41d4-a716-44665544",
            shown,
            "fw 14.20.10.12.13.14, id 550e8400-e29b-41d4-a716-44665544",
        ),
        ("b7", "port guid 00:11:22:ff:fe:33:44:55", shown, "port guid xx:xx:xx:xx:xx:xx:xx:xx"),
        (
            "b7",
            "0000:3b:00.0 eth1: 12:34:56 0x1122 123456789012",
            shown,
            "0000:3b:00.0 eth1: 12:34:56 0x1122 123456789012",
        ),
        (
            "b7",
            "fw 14.0.5.0, 5.10.0, 1.3.6.1.4.1.9; 172.16.4.9. mask 255.255.255.0 lo 127.0.0.1",
            shown,
            "fw 14.0.5.0, 5.10.0, 1.3.6.1.4.1.9; 192.0.2.1. mask 255.255.255.0 lo 127.0.0.1",
        ),
        (
            "b7",
            "to 2001:DB8:85a3::8a2e:370:7334: and ::ffff:10.0.0.9, ::1 crate::bad",
            shown,
            "to 2001:db8::1: and 2001:db8::2, ::1 crate::bad",
        ),
        (
            "b7",
            "sfp EE: 00000010: 53 4e 31 32 33 34 35 36 37 38  SN12345678",
            shown,
            "sfp EE: 00000010: xx xx xx xx xx xx xx xx xx xx",
        ),
        // Serial numbers of modules that are not there any more, or are another port's. The first
        // line as the kernel writes it (SFP cage code, from memory).
        (
            "b7",
            "sfp eth1: module NORTHLIGHT NL-10G-SR rev 1A sn QX7741Z9 dc 230101",
            shown,
            "sfp eth1: module NORTHLIGHT NL-10G-SR rev 1A sn SERIAL-1 dc 230101",
        ),
        (
            "b7",
            "S/N=QX99.81724, Serial Number: 20240017; qx99.81724",
            shown,
            "S/N=SERIAL-1, Serial Number: SERIAL-2; SERIAL-1",
        ),
        (
            "b7",
            "S/N 12.50 dB, serial number is wrong, serial8250 sn short",
            shown,
            "S/N 12.50 dB, serial number is wrong, serial8250 sn short",
        ),
        // Interfaces, where they are hidden.
        ("b7", "eth1: up, eth10 eth1.5 xeth1", hidden, "port-1: up, eth10 port-1.5 xeth1"),
        ("b7", "eth1: up", shown, "eth1: up"),
    ] {
        assert_eq!(log_after(host, line, keep), wanted, "{host}: {line}");
    }
}

#[test]
fn what_is_kept() {
    let material = planted(&Secrets::default());
    let all = Keep::parse("serials, addresses,hosts").unwrap();
    let done = redacted(&material, &all);
    assert_eq!(done.material, material);
    assert!(done.replaced.is_empty());
    assert_eq!(done.kept, ["serials", "addresses", "hosts", "interfaces"]);
    assert!(Keep::parse("serial").unwrap_err().contains("serials"));
    assert_eq!(Keep::parse("").unwrap(), Keep::default());
    // Two ports with one address still have one; different ones stay different.
    let mut two = material;
    let mut other = two.snapshots[0].ports[0].clone();
    other.name = "fibre1".into();
    other.permanent_mac_address = Fact::Known("00:1a:2b:00:00:01".into());
    two.snapshots[0].ports.push(other);
    let ports = redacted(&two, &Keep::default()).material.snapshots.remove(0).ports;
    assert_eq!(ports[0].mac_address, ports[1].mac_address);
    assert_ne!(ports[1].mac_address, ports[1].permanent_mac_address);
}

/// A value that does not fit its field is quoted by the reader of captures; it may be a secret.
#[test]
fn what_does_not_fit_is_not_quoted() {
    let text = r#"{"format":"linkwright-capture","version":{"major":1},"host":{"name":"keel"},
        "ports":[{"name":"shed0","index":"TDW-0042","module":{"readings":{"serial_number":42424242}}}]}"#;
    let snapshot = capture::parse(text.as_bytes(), Path::new("x")).unwrap();
    let before = serde_json::to_string(&snapshot).unwrap();
    assert!(before.contains("TDW-0042") && before.contains("42424242"), "{before}");
    let material = Material { snapshots: vec![snapshot], ..Material::default() };
    let after = given_out(&redacted(&material, &Keep::default()).material);
    assert!(!after.contains("tdw-0042") && !after.contains("42424242"), "{after}");
}

fn secrets() -> impl Strategy<Value = Secrets> {
    let serial = "[A-Z]{2}[0-9A-Z]{4,14}";
    let name = "[b-y][a-zö]{1,3}[0-9][a-zß]{3,9}";
    (
        serial,
        any::<[u8; 6]>(),
        any::<[u8; 4]>(),
        any::<[u16; 8]>(),
        name,
        name,
        "[a-z]{4,9}[0-9]\\.[a-z]{3,6}",
    )
        .prop_filter("different and nobody else's", |(_, mac, ip, six, host, peer, _)| {
            let nobody = std::net::Ipv4Addr::from(*ip);
            mac[0] & 1 == 0
                && mac[3] > 0
                && !(nobody.is_loopback() || nobody.is_multicast() || ip[0] == 0 || ip[0] == 255)
                && (0x2000..0x3fff).contains(&six[0])
                && host != peer
        })
        .prop_map(|(serial, mac, ip, six, host, peer, domain)| Secrets {
            serial,
            mac,
            ip,
            six,
            host,
            peer,
            domain,
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_random_secret_is_given_out(secrets in secrets()) {
        for keep in [Keep::default(), HIDDEN] {
            let material = planted(&secrets);
            let done = redacted(&material, &keep);
            assert_nothing_of(&secrets, &done.material)?;
            prop_assert_eq!(&redacted(&done.material, &keep).material, &done.material);
            prop_assert_eq!(judged(&done.material), judged(&material));
        }
    }

    /// Whatever the texts are: no panic, and twice is once.
    #[test]
    fn any_text_is_taken(host in "\\PC{0,12}", line in "\\PC{0,80}", odd in "[0-9a-f:. \\-]{0,60}") {
        let mut material = planted(&Secrets::default());
        material.snapshots[0].host.name = host;
        material.snapshots[0].ports[0].kernel_log = Fact::Known(vec![LogLine {
            at_microseconds: 0,
            names: LogTie::Driver,
            text: format!("{line}{odd}"),
        }]);
        let once = redacted(&material, &Keep::default()).material;
        prop_assert_eq!(&redacted(&once, &Keep::default()).material, &once);
    }

    /// Any bytes of module memory, in any blocks: no panic, and sums as right or wrong as before.
    #[test]
    fn any_memory_is_taken(
        identifier in proptest::sample::select(vec![0x03_u8, 0x11, 0x18, 0x06]),
        bytes in proptest::collection::vec(any::<u8>(), 300),
        cuts in proptest::collection::vec((0x50_u8..0x52, 0_u8..2, 0_u8..3, any::<u8>(), 0_usize..300), 0..8),
    ) {
        let mut material = planted(&Secrets::default());
        let mut bytes = bytes;
        bytes[0] = identifier;
        let first = block(0x50, 0, 0, &bytes[..256]);
        // Not the same bytes again: a copy of the serial number would stand in a reading.
        let other: Vec<u8> = bytes.iter().map(|byte| byte ^ 0xa5).collect();
        let others: Vec<MemoryBlock> = cuts
            .iter()
            .map(|(address, bank, page, offset, length)| MemoryBlock {
                bank: *bank,
                ..block(*address, *page, *offset, &other[..*length])
            })
            .collect();
        let mut with = |blocks: Vec<MemoryBlock>| {
            material.snapshots[0].ports[0].module.memory = Fact::Known(blocks);
            (redacted(&material, &Keep::default()).material, material.clone())
        };
        // Blocks over one another, or past byte 255: nothing is promised but that they are taken.
        with([vec![first.clone()], others.clone()].concat());
        let mut blocks = BTreeMap::from([((0x50, 0, 0), first)]);
        for mut one in others {
            let Fact::Known(HexBytes(bytes)) = &mut one.bytes else { continue };
            bytes.truncate(256 - usize::from(one.offset));
            blocks.entry((one.two_wire_address, one.bank, one.page)).or_insert(one);
        }
        let (after, before) = with(blocks.into_values().collect());
        prop_assert_eq!(judged(&after), judged(&before));
    }
}

/// Large and hostile captures are done in time that goes with their size.
#[test]
fn large_captures_take_bounded_time() {
    let start = std::time::Instant::now();
    let mut material = planted(&Secrets::default());
    let port = material.snapshots[0].ports[0].clone();
    material.snapshots[0].ports = (0..20_000)
        .map(|number: u32| {
            let [_, a, b, c] = number.to_be_bytes();
            let mut port = port.clone();
            port.name = format!("p{number}");
            port.alternative_names.clear();
            if !number.is_multiple_of(10) {
                port.module.memory = Fact::default();
            }
            port.mac_address = Fact::Known(format!("00:1a:2b:{a:02x}:{b:02x}:{c:02x}"));
            port.neighbours = Fact::Known(vec![Neighbour {
                system_name: Some(format!("sw{number}x.quay.test")),
                management_addresses: vec![format!("10.{a}.{b}.{c}")],
                ..Neighbour::default()
            }]);
            port.kernel_log.clone_from(&Fact::Known(Vec::new()));
            port
        })
        .collect();
    // Texts that are as bad as they come.
    let bad = ["a", "1", ":", "1.", "a.", "1:", "00:", "00 ", "0", "quay.test.", "sw1x.", "b7-"];
    let lines = bad.iter().map(|piece| LogLine {
        at_microseconds: 0,
        names: LogTie::Driver,
        text: piece.repeat(65_536 / piece.len()),
    });
    material.snapshots[0].ports[0].kernel_log = Fact::Known(lines.collect());
    let names: BTreeSet<String> = (1..200).map(|length| "1".repeat(length)).collect();
    for (name, port) in names.iter().zip(&mut material.snapshots[0].ports) {
        port.neighbours.clone_from(&Fact::Known(vec![Neighbour {
            system_name: Some(name.clone()),
            ..Neighbour::default()
        }]));
    }
    let done = redacted(&material, &HIDDEN);
    assert!(done.replaced[&Kind::MacAddress] >= 20_000);
    let took = start.elapsed();
    // A debug build on a busy machine takes half a minute; what grows with the square of
    // the size would need hours.
    assert!(took.as_secs() < 300, "{took:?}");
    println!("{took:?}");
    // More than can be searched for is refused, not given out.
    let huge = "n".repeat(9 * 1024 * 1024);
    material.snapshots[0].host.name = huge;
    assert!(redact(material, &Keep::default()).is_err());
}

/// A name that no host can have is refused, and not looked for at the square of its length.
#[test]
fn a_name_of_any_length_takes_no_time() {
    let text = std::fs::read_to_string(common::root().join("fixtures/hosts/keel.json")).unwrap();
    let mut capture: serde_json::Value = serde_json::from_str(&text).unwrap();
    capture["host"]["name"] = "h".repeat(50_000).into();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.json");
    std::fs::write(&path, capture.to_string()).unwrap();
    let output = common::run(&["report", "shed0", "--from", path.to_str().unwrap(), "-o", "-"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty());
    assert!(
        common::complaint(&output).contains("no host's is longer"),
        "{}",
        common::complaint(&output)
    );
}

/// A log line of the chosen port that names another port's module, and a host that an entry of no
/// chosen port names: neither goes along, and both are secrets.
#[test]
fn what_does_not_go_along_names_secrets_too() {
    let read = |name: &str| std::fs::read_to_string(common::root().join(name)).unwrap();
    let mut capture: serde_json::Value =
        serde_json::from_str(&read("fixtures/hosts/keel.json")).unwrap();
    let line = "module in slot 2 is TWS-0201; brigantine asked for it";
    for port in capture["ports"].as_array_mut().unwrap() {
        port["kernel_log"] = serde_json::json!([{"text": line}]);
    }
    let serials = capture.to_string();
    assert!(
        serials.contains(&"TWS-0201".bytes().map(|byte| format!("{byte:02x}")).collect::<String>())
    );
    let folder = tempfile::tempdir().unwrap();
    let (path, site) = (folder.path().join("keel.json"), folder.path().join("site.toml"));
    std::fs::write(&path, capture.to_string()).unwrap();
    let entry = "[[port]]\nname = \"other7\"\n[port.far]\nhost = \"brigantine\"\n";
    std::fs::write(&site, read("fixtures/site.toml") + entry).unwrap();
    let (path, site) = (path.to_str().unwrap(), site.to_str().unwrap());
    for form in ["html", "markdown", "text", "json"] {
        let arguments =
            ["report", "office0", "--from", path, "--site", site, "--format", form, "-o", "-"];
        let page = common::text(&common::run(&arguments));
        assert!(page.contains("slot 2") || form == "html", "{form}: the line is there");
        for secret in ["TWS-0201", "brigantine"] {
            assert!(!page.contains(secret), "{form}: {secret}");
        }
    }
}
