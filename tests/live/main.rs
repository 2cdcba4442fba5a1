//! The running kernel, in namespaces that these tests make themselves. Nothing outside them is
//! touched. Each test runs itself again inside a fresh network and mount namespace (`unshare`
//! of util-linux), as root of a user namespace where the run is not root.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "tests build the network that the program then looks at"
)]

#[path = "../common/mod.rs"]
mod common;
mod questions;
mod tun;

use std::fs;
use std::net::{Ipv4Addr, UdpSocket};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use common::{complaint, json, run, text};
use netlink_packet_route::link::MacVlanMode;
use nix::mount::{MsFlags, mount};
use nix::sys::socket::{setsockopt, sockopt};
use rtnetlink::{Handle, LinkBridge, LinkMacVlan, LinkUnspec, LinkVeth};
use serde_json::Value;
use tun::{Settings, Tun};

/// Runs the named test again inside fresh namespaces; true if this already is the inside.
fn inside(name: &str) -> bool {
    if std::env::var_os("LINKWRIGHT_TEST_INSIDE").is_some() {
        mount(Some("sysfs"), "/sys", Some("sysfs"), MsFlags::empty(), None::<&str>).unwrap();
        // No frames of the kernel's own accord.
        let _ = fs::write("/proc/sys/net/ipv6/conf/default/disable_ipv6", "1");
        return true;
    }
    let mut command = Command::new("unshare");
    if !nix::unistd::geteuid().is_root() {
        command.args(["--user", "--map-root-user"]);
    }
    let output = command
        .args(["--net", "--mount"])
        .arg(std::env::current_exe().unwrap())
        .args(["--exact", name, "--nocapture", "--test-threads=1"])
        .env("LINKWRIGHT_TEST_INSIDE", "1")
        .output()
        .expect("unshare of util-linux is needed to make a network namespace");
    let shown = format!("{}{}", text(&output), complaint(&output));
    assert!(
        output.status.success() && shown.contains("1 passed"),
        "in a fresh network namespace:\n{shown}"
    );
    false
}

/// A tun device. Its file is often root's alone: then the test fails and says what to do.
fn tun(name: &str) -> Tun {
    Tun::new(name).unwrap_or_else(|error| {
        panic!("a tun device is needed ({error}): run as root, or make /dev/net/tun yours")
    })
}

fn with_network<T>(act: impl AsyncFnOnce(Handle) -> T) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let (connection, handle, _) = rtnetlink::new_connection().unwrap();
        tokio::spawn(connection);
        act(handle).await
    })
}

fn index(name: &str) -> u32 {
    sysfs(name, "ifindex").parse().unwrap()
}

fn sysfs(name: &str, file: &str) -> String {
    match fs::read_to_string(format!("/sys/class/net/{name}/{file}")) {
        Ok(text) => text.trim().to_owned(),
        Err(error) => format!("error: {error}"),
    }
}

fn veth(name: &str, peer: &str) {
    with_network(async |handle| {
        handle.link().add(LinkVeth::new(name, peer).build()).execute().await.unwrap();
    });
}

fn switch(name: &str, up: bool) {
    let link = LinkUnspec::new_with_index(index(name));
    let link = if up { link.up() } else { link.down() };
    with_network(async |handle| {
        handle.link().set(link.build()).execute().await.unwrap();
    });
}

fn survey(arguments: &[&str]) -> Vec<Value> {
    let mut all = vec!["survey", "--format", "json"];
    all.extend(arguments);
    json(&run(&all))["ports"].as_array().unwrap().clone()
}

fn port(ports: &[Value], name: &str) -> Value {
    ports.iter().find(|port| port["name"] == name).unwrap_or_else(|| panic!("no {name}")).clone()
}

fn write(folder: &Path, name: &str, content: &str) -> String {
    let path = folder.join(name);
    fs::write(&path, content).unwrap();
    path.to_str().unwrap().to_owned()
}

const PHYSICAL: &str = "[[port]]\nname = \"tun0\"\nphysical = true\n";
// Link mode bits of linux/ethtool.h: 3 is 100 Mb/s, 5 is 1000BASE-T, 12 is 10GBASE-T.
const TEN_GIGABIT: &[u32] = &[3, 5, 12];
const GIGABIT: &[u32] = &[3, 5];

fn twisted_pair(speed: u32) -> Settings {
    Settings { speed, full_duplex: true, autonegotiation: true, ..Settings::default() }
}

/// S3: state, carrier, MTU, speed, duplex and counters equal sysfs, on every interface.
#[test]
fn survey_equals_sysfs() {
    if !inside("survey_equals_sysfs") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    let device = tun("tun0");
    switch("tun0", true);
    device.carrier(true).unwrap();
    device.set(Settings { supported: TEN_GIGABIT, ..twisted_pair(1000) }).unwrap();
    with_network(async |handle| {
        handle.link().add(LinkBridge::new("basin0").build()).execute().await.unwrap();
    });
    std::thread::sleep(Duration::from_millis(1200)); // operational states settle within a second
    let folder = tempfile::tempdir().unwrap();
    let site = write(folder.path(), "site.toml", PHYSICAL);
    let ports = survey(&["--seconds", "0", "--site", &site]);
    let names: Vec<String> = fs::read_dir("/sys/class/net")
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(names.len() >= 5, "{names:?}");
    assert_eq!(ports.len(), names.len(), "every interface, and no other");
    for name in &names {
        let seen = port(&ports, name)["observed"].clone();
        let state = seen["operational_state"].as_str().unwrap().replace('-', "");
        assert_eq!(state, sysfs(name, "operstate"), "{name}");
        assert_eq!(seen["mtu_octets"].to_string(), sysfs(name, "mtu"), "{name}");
        let carrier = sysfs(name, "carrier");
        if !carrier.starts_with("error") {
            assert_eq!(seen["carrier"], carrier == "1", "{name}");
        }
        for (ours, theirs) in [
            ("received_frames", "rx_packets"),
            ("sent_frames", "tx_packets"),
            ("received_octets", "rx_bytes"),
            ("sent_octets", "tx_bytes"),
            ("receive_errors", "rx_errors"),
            ("transmit_errors", "tx_errors"),
            ("receive_discards", "rx_dropped"),
            ("transmit_discards", "tx_dropped"),
            ("receive_check_sequence_errors", "rx_crc_errors"),
            ("receive_alignment_errors", "rx_frame_errors"),
            ("receive_length_errors", "rx_length_errors"),
            ("receive_missed", "rx_missed_errors"),
            ("transmit_carrier_errors", "tx_carrier_errors"),
            ("transmit_late_collisions", "tx_window_errors"),
        ] {
            let sysfs = sysfs(name, &format!("statistics/{theirs}"));
            assert_eq!(seen["counters"][ours].to_string(), sysfs, "{name} {ours}");
        }
        let changes = seen["carrier_up_count"].as_u64().unwrap()
            + seen["carrier_down_count"].as_u64().unwrap();
        assert_eq!(changes.to_string(), sysfs(name, "carrier_changes"), "{name}");
    }
    let seen = port(&ports, "tun0")["observed"].clone();
    assert_eq!(seen["speed_mbps"].to_string(), sysfs("tun0", "speed"));
    assert_eq!(seen["duplex"], sysfs("tun0", "duplex"));
    assert_eq!(sysfs("tun0", "speed"), "1000");
    // What software claims of itself is not repeated as a speed.
    for name in ["lo", "quay0", "basin0"] {
        let found = port(&ports, name);
        assert_eq!(found["running_mbps"], Value::Null, "{name}");
        assert_eq!(found["verdict"], "idle", "{name}");
    }
}

/// S3: the far end's list offers nothing faster; and this end does not offer what both can do.
#[test]
fn limits_that_negotiation_sets() {
    if !inside("limits_that_negotiation_sets") {
        return;
    }
    let device = tun("tun0");
    switch("tun0", true);
    device.carrier(true).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let site = write(folder.path(), "site.toml", PHYSICAL);
    let explain = |settings: Settings| {
        device.set(settings).unwrap();
        std::thread::sleep(Duration::from_millis(100));
        let arguments = ["explain", "tun0", "--site", &site, "--seconds", "0", "--format", "json"];
        json(&run(&arguments))["ports"][0].clone()
    };
    let far = explain(Settings {
        supported: TEN_GIGABIT,
        advertised: TEN_GIGABIT,
        peer: GIGABIT,
        ..twisted_pair(1000)
    });
    assert_eq!(far["causes"][0]["fault"], "advert-limited-peer", "{far:#}");
    assert_eq!(far["causes"][0]["certainty"], "established");
    assert_eq!(far["limited_by"], "far-port");
    assert_eq!(far["running_mbps"], 1000);
    assert_eq!(far["verdict"], "attention");
    let here = explain(Settings {
        supported: TEN_GIGABIT,
        advertised: GIGABIT,
        peer: TEN_GIGABIT,
        ..twisted_pair(1000)
    });
    assert_eq!(here["causes"][0]["fault"], "advert-limited-host", "{here:#}");
    assert_eq!(here["causes"][0]["certainty"], "established");
    assert_eq!(here["expected_mbps"], 10_000);
    assert_eq!(here["verdict"], "fault");
    let full = explain(Settings {
        supported: TEN_GIGABIT,
        advertised: TEN_GIGABIT,
        peer: TEN_GIGABIT,
        ..twisted_pair(10_000)
    });
    assert!(full["causes"].as_array().unwrap().is_empty(), "{full:#}");
    assert_eq!(full["running_mbps"], 10_000);
}

/// S3: pulling one end of a veth makes `explain` of the other say so.
#[test]
fn a_pulled_veth() {
    if !inside("a_pulled_veth") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    let shown = text(&run(&["explain", "quay0", "--seconds", "0"]));
    assert!(!shown.contains("no carrier"), "{shown}");
    switch("quay1", false);
    let output = run(&["explain", "quay0", "--seconds", "0"]);
    let shown = text(&output).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("its other end (quay1) is switched off"), "{shown}");
    assert_eq!(output.status.code(), Some(0), "a software interface is not faulty");
}

/// S4: what was captured explains itself again in the same bytes, live and replayed.
#[test]
fn a_capture_replays_to_the_same_bytes() {
    if !inside("a_capture_replays_to_the_same_bytes") {
        return;
    }
    let device = tun("tun0");
    switch("tun0", true);
    device.carrier(true).unwrap();
    device
        .set(Settings { supported: TEN_GIGABIT, advertised: GIGABIT, ..twisted_pair(1000) })
        .unwrap();
    let folder = tempfile::tempdir().unwrap();
    let site = write(folder.path(), "site.toml", PHYSICAL);
    let saved = folder.path().join("tun0.json");
    let saved = saved.to_str().unwrap();
    for form in ["text", "json"] {
        let live = run(&[
            "explain",
            "tun0",
            "--site",
            &site,
            "--seconds",
            "0.2",
            "--format",
            form,
            "--save",
            saved,
        ]);
        let replay = run(&["explain", "tun0", "--site", &site, "--format", form, "--from", saved]);
        assert!(!live.stdout.is_empty(), "{}", complaint(&live));
        assert_eq!(text(&live), text(&replay), "{form}");
        assert_eq!(live.status.code(), replay.status.code());
    }
}

/// Counters against frames that this test sent itself.
#[test]
fn frames_are_counted() {
    if !inside("frames_are_counted") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    let address = Ipv4Addr::new(192, 0, 2, 1); // RFC 5737, documentation
    with_network(async |handle| {
        handle.address().add(index("quay0"), address.into(), 24).execute().await.unwrap();
    });
    let counted = |name: &str, counter: &str| {
        let ports = survey(&["--seconds", "0"]);
        port(&ports, name)["observed"]["counters"][counter].as_u64().unwrap()
    };
    let before = (counted("quay0", "sent_frames"), counted("quay1", "received_frames"));
    let octets = counted("quay1", "received_octets");
    let socket = UdpSocket::bind((address, 0)).unwrap();
    socket.set_broadcast(true).unwrap();
    setsockopt(&socket, sockopt::BindToDevice, &"quay0".into()).unwrap();
    for _ in 0..250 {
        socket.send_to(&[0; 1000], (Ipv4Addr::BROADCAST, 9)).unwrap();
    }
    std::thread::sleep(Duration::from_millis(100));
    assert_eq!(counted("quay0", "sent_frames") - before.0, 250);
    assert_eq!(counted("quay1", "received_frames") - before.1, 250);
    // 1000 octets, UDP 8, IPv4 20, Ethernet 14; the check sequence is not counted.
    assert_eq!(counted("quay1", "received_octets") - octets, 250 * 1042);
}

/// A link that runs states the bound that the frames of the watched time support, and what time it
/// would take to show more: a veth that the site file lets be judged, with frames that this test
/// sends meanwhile; and what is said before any arrive.
#[test]
fn a_running_link_states_its_bound() {
    if !inside("a_running_link_states_its_bound") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    let folder = tempfile::tempdir().unwrap();
    let site = "[[port]]\nname = \"quay1\"\nphysical = true\n";
    let site = write(folder.path(), "site.toml", site);
    let explain = |more: &[&str]| {
        let all = [&["explain", "quay1", "--site", &site], more].concat();
        run(&all)
    };
    std::thread::sleep(Duration::from_millis(1200)); // operational states settle within a second
    let idle = text(&explain(&["--seconds", "0.2"]));
    assert!(idle.contains("that says nothing of the"), "{idle}");

    let address = Ipv4Addr::new(192, 0, 2, 1); // RFC 5737, documentation
    with_network(async |handle| {
        handle.address().add(index("quay0"), address.into(), 24).execute().await.unwrap();
    });
    let stop = std::sync::atomic::AtomicBool::new(false);
    let before = sysfs("quay1", "statistics/rx_packets").parse::<u64>().unwrap();
    let output = std::thread::scope(|scope| {
        scope.spawn(|| {
            let socket = UdpSocket::bind((address, 0)).unwrap();
            socket.set_broadcast(true).unwrap();
            setsockopt(&socket, sockopt::BindToDevice, &"quay0".into()).unwrap();
            while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                socket.send_to(&[0; 1000], (Ipv4Addr::BROADCAST, 9)).unwrap();
                std::thread::sleep(Duration::from_millis(1));
            }
        });
        let output = explain(&["--seconds", "1", "--measured", "9.41G", "--format", "json"]);
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
        output
    });
    let arrived = sysfs("quay1", "statistics/rx_packets").parse::<u64>().unwrap() - before;
    let document = json(&output);
    let numbers = &document["ports"][0]["numbers"];
    let errors = &numbers["errors"];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{numbers:#}"));
    let frames = errors["received_frames"].as_u64().unwrap();
    assert!((1..=arrived).contains(&frames), "{frames} of {arrived}");
    // 1000 octets, UDP 8, IPv4 20, Ethernet 14, check sequence 4.
    let bits = number(&errors["received_bits"]);
    assert!((bits - number(&errors["received_frames"]) * 1046.0 * 8.0).abs() < 1.0, "{errors:#}");
    // 2.9957 over the bits (section 5 of the media notes); 1e-12 takes 299.57 s of 10 Gb/s in all,
    // which is what the kernel says of a veth.
    assert!((number(&errors["ratio_below"]) * bits - 2.9957).abs() < 1e-3, "{errors:#}");
    assert_eq!(sysfs("quay1", "speed"), "10000");
    let full = number(&errors["more_seconds_at_full_speed"]);
    assert!((full + bits / 1e10 - 299.57).abs() < 0.01, "{errors:#}");
    let slow = number(&errors["more_seconds_at_this_traffic"]);
    let took = number(&errors["watched_seconds"]);
    assert!((slow / took - (2.9957e12 - bits) / bits).abs() < 1e-3 * slow / took, "{errors:#}");
    assert_eq!(numbers["throughput"]["measured"]["fits"][0]["kind"], "full", "{numbers:#}");
}

/// An interface that vanishes while it is being watched is said to be gone.
#[test]
fn a_vanishing_interface() {
    if !inside("a_vanishing_interface") {
        return;
    }
    veth("quay0", "quay1");
    let child = common::linkwright()
        .args(["capture", "-o", "-", "--seconds", "1"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(500));
    let gone = index("quay0");
    with_network(async |handle| {
        handle.link().del(gone).execute().await.unwrap();
    });
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    let capture = json(&output);
    let ports = capture["ports"].as_array().unwrap();
    let quay = port(ports, "quay0");
    assert_eq!(quay["carrier"]["missing"]["reason"], "gone", "{quay:#}");
    assert_eq!(quay["instants"].as_array().unwrap().len(), 1);
    assert_eq!(port(ports, "lo")["instants"].as_array().unwrap().len(), 2);
}

/// Raises a flag when dropped: also where a test fails, so that a thread beside it ends.
struct StopAtEnd<'a>(&'a std::sync::atomic::AtomicBool);

impl Drop for StopAtEnd<'_> {
    fn drop(&mut self) {
        self.0.store(true, std::sync::atomic::Ordering::Relaxed);
    }
}

/// Interfaces come and go while the host is looked at: no run fails, and what vanished in the
/// middle is gone, never "not supported" (every veth answers for its link and its speed:
/// kernel-facts, "What soft devices answer").
#[test]
fn interfaces_that_come_and_go() {
    if !inside("interfaces_that_come_and_go") {
        return;
    }
    for number in 0..100 {
        veth(&format!("quay{number}"), &format!("boat{number}"));
    }
    let stop = std::sync::atomic::AtomicBool::new(false);
    let ordering = std::sync::atomic::Ordering::Relaxed;
    std::thread::scope(|scope| {
        scope.spawn(|| {
            with_network(async |handle| {
                while !stop.load(ordering) {
                    // Taking one away is slow: of ten, a few are there at any time.
                    for number in 0..10 {
                        let name = format!("ebb{number}");
                        let add = LinkVeth::new(&name, &format!("flow{number}")).build();
                        handle.link().add(add).execute().await.unwrap();
                    }
                    for number in 0..10 {
                        let gone = index(&format!("ebb{number}"));
                        handle.link().del(gone).execute().await.unwrap();
                    }
                }
            });
        });
        let _end = StopAtEnd(&stop);
        let mut met = 0;
        let mut vanished = 0;
        for _ in 0..60 {
            let output = run(&["capture", "-o", "-", "--seconds", "0"]);
            assert!(output.status.success(), "{}", complaint(&output));
            let capture = json(&output);
            let ports = capture["ports"].as_array().unwrap();
            assert_eq!(port(ports, "lo")["nature"], "loopback");
            for port in ports {
                let name = port["name"].as_str().unwrap();
                let passing = name.starts_with("ebb") || name.starts_with("flow");
                met += usize::from(passing);
                if name == "lo" {
                    continue;
                }
                let ethernet = &port["ethernet"];
                for (fact, value) in
                    [("link_detected", Value::Bool(false)), ("speed_mbps", Value::from(10_000))]
                {
                    let seen = &ethernet[fact];
                    let gone = passing && seen["missing"]["reason"] == "gone";
                    vanished += usize::from(gone);
                    assert!(*seen == value || gone, "{name} {fact}: {seen}");
                }
            }
        }
        println!("{met} passing interfaces met, {vanished} facts gone");
        assert!(met > 0, "none of the passing interfaces was met in 60 runs");
    });
}

/// A port is found by its alternative name; alone it still says whom it belongs to and what it
/// stands on; a wrong name is refused with the names that are there.
#[test]
fn names_and_relations() {
    if !inside("names_and_relations") {
        return;
    }
    veth("quay0", "quay1");
    with_network(async |handle| {
        handle.link().add(LinkBridge::new("basin0").build()).execute().await.unwrap();
        let bridge = LinkUnspec::new_with_index(index("quay0")).controller(index("basin0"));
        handle.link().set(bridge.build()).execute().await.unwrap();
        let upper = LinkMacVlan::new("tide7", index("quay1"), MacVlanMode::Bridge);
        handle.link().add(upper.build()).execute().await.unwrap();
        let name = ["the-long-name-of-the-eastern-quay"];
        handle.link().property_add(index("quay0")).alt_ifname(&name).execute().await.unwrap();
    });
    let alone = ["capture", "the-long-name-of-the-eastern-quay", "-o", "-", "--seconds", "0"];
    let capture = json(&run(&alone));
    let ports = capture["ports"].as_array().unwrap();
    assert_eq!(ports.len(), 1);
    let quay = &ports[0];
    assert_eq!(quay["name"], "quay0");
    assert_eq!(quay["alternative_names"][0], "the-long-name-of-the-eastern-quay");
    assert_eq!(quay["index"].to_string(), sysfs("quay0", "ifindex"));
    assert_eq!(quay["mac_address"], sysfs("quay0", "address"));
    assert_eq!(quay["controller"]["name"], "basin0");
    assert_eq!(quay["lower"]["name"], "quay1");
    assert_eq!(quay["lower"]["index"].to_string(), sysfs("quay0", "iflink"));
    assert_eq!(quay["software_kind"], "veth");
    let tide = json(&run(&["capture", "tide7", "-o", "-", "--seconds", "0"]))["ports"][0].clone();
    assert_eq!(
        (&tide["software_kind"], &tide["lower"]["name"]),
        (&"macvlan".into(), &"quay1".into())
    );
    assert_eq!(tide["nature"], "virtual");
    let wrong = run(&["capture", "quay9", "-o", "-", "--seconds", "0"]);
    assert!(!wrong.status.success());
    assert!(complaint(&wrong).contains("quay0"), "{}", complaint(&wrong));
}

/// A frame as IEEE 802.1AB lays it out (from memory): group address, sender, type; then elements of
/// 7 bits kind, 9 bits length, value. The port is the named one.
fn announcement(port: &str) -> Vec<u8> {
    let mut frame = vec![0x01, 0x80, 0xc2, 0, 0, 0x0e, 0x02, 0, 0x5e, 0x10, 0, 1, 0x88, 0xcc];
    let mut element = |kind: u8, value: &[u8]| {
        frame.extend([kind << 1, u8::try_from(value.len()).unwrap()]);
        frame.extend(value);
    };
    element(1, &[4, 0x02, 0, 0x5e, 0x10, 0, 0]);
    element(2, &[&[5], port.as_bytes()].concat());
    element(3, &[0, 120]);
    element(5, b"sounder\x1b[2J");
    // 802.3: negotiates; offers 10GBASE-T, for which there is no bit (8000h); runs it (54).
    element(127, &[0x00, 0x12, 0x0f, 1, 0x03, 0x80, 0x00, 0, 54]);
    element(127, &[0x00, 0x12, 0x0f, 4, 0x23, 0x3a]);
    element(0, &[]);
    frame
}

/// Announces itself on an interface every tenth of a second until it is told to stop. Python is
/// asked for it: safe Rust names no interface to a packet socket, and Linkwright has no call for it.
fn announcing(name: &str, frames: &[Vec<u8>]) -> Announcing {
    let hex = |frame: &Vec<u8>| frame.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let script = "import socket, sys, time\n\
        s = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0)\n\
        s.bind((sys.argv[1], 0))\n\
        while True:\n    \
            [s.send(bytes.fromhex(f)) for f in sys.argv[2:]]\n    \
            time.sleep(0.1)\n";
    let mut command = Command::new("python3");
    command.args(["-c", script, name]).args(frames.iter().map(hex));
    Announcing(command.spawn().expect("python3 is needed to announce a neighbour"))
}

struct Announcing(std::process::Child);

impl Drop for Announcing {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// What a neighbour announces is heard at the other end of the cable, by `explain` and `capture`;
/// afterwards the host lets in no more than before.
#[test]
fn a_neighbour_is_heard() {
    if !inside("a_neighbour_is_heard") {
        return;
    }
    veth("quay0", "quay1");
    veth("mole0", "mole1");
    for name in ["quay0", "quay1", "mole0", "mole1"] {
        switch(name, true);
    }
    let let_in = || fs::read_to_string("/proc/net/dev_mcast").unwrap();
    let before = let_in();
    // A second frame, to an address that some devices pass on, says nothing of this cable.
    let mut passed_on = announcement("far-away0");
    passed_on[5] = 0;
    let speaking = announcing("quay1", &[announcement("boat0"), passed_on]);
    let child = common::linkwright()
        .args(["capture", "quay0", "mole0", "-o", "-", "--seconds", "0", "--listen", "2"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(1000));
    let group = |text: &str, name: &str| {
        text.lines().any(|line| line.contains("0180c200000e") && line.contains(name))
    };
    let during = let_in();
    // Type 3 is raw, 88cc the Ethernet type; then the index of the interface it is bound to.
    let sockets = fs::read_to_string("/proc/net/packet").unwrap();
    let mut bound: Vec<(String, u32)> = sockets
        .lines()
        .skip(1)
        .map(|line| line.split_whitespace().collect::<Vec<_>>())
        .filter(|columns| columns[2] == "3" && columns[3] != "0000")
        .map(|columns| (columns[3].to_owned(), columns[4].parse().unwrap()))
        .collect();
    bound.sort();
    let mut meant = ["quay0", "mole0"].map(|name| ("88cc".to_owned(), index(name)));
    meant.sort();
    assert_eq!(bound, meant, "{sockets}");
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    assert!(group(&during, "quay0") && group(&during, "mole0"), "{during}");
    assert_eq!(let_in(), before, "nothing stays");
    let capture = json(&output);
    let ports = capture["ports"].as_array().unwrap();
    let quay = port(ports, "quay0");
    let heard = quay["neighbours"].as_array().unwrap();
    assert_eq!(heard.len(), 1, "{quay:#}");
    assert_eq!(heard[0]["port"]["name"], "boat0");
    assert_eq!(heard[0]["system_name"], "sounder\u{1b}[2J", "as it came");
    assert_eq!(heard[0]["interface_type"], "10GBASE-T");
    assert_eq!(heard[0]["largest_frame_octets"], 9018);
    let at = heard[0]["at_milliseconds"].as_u64().unwrap();
    let listened = quay["listened_milliseconds"].as_u64().unwrap();
    assert!((1000..=2100).contains(&at) && (1900..=2500).contains(&listened), "{at} {listened}");
    // Each socket hears its own interface: nobody speaks on the other cable.
    let mole = port(ports, "mole0");
    assert_eq!(mole["neighbours"].as_array().map(Vec::len), Some(0), "{mole:#}");
    assert!(mole["listened_milliseconds"].as_u64().unwrap() >= 1900);
    let shown = text(&run(&["explain", "quay0", "--seconds", "0", "--listen", "1"]));
    let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains("neighbour port boat0 on sounder"), "{shown}");
    assert!(shown.contains("10GBASE-T, autonegotiation on, frames up to 9018 octets"), "{shown}");
    assert!(!shown.contains('\u{1b}'), "{shown}");
    drop(speaking);
    let shown = text(&run(&["explain", "quay0", "--seconds", "0", "--listen", "1"]));
    assert!(shown.contains("nobody announced itself in 1.0 s"), "{shown}");
    assert!(!text(&run(&["explain", "quay0", "--seconds", "0"])).contains("neighbour"));
    // Switched off it hears nothing, which is not silence.
    switch("mole0", false);
    let off = json(&run(&["capture", "mole0", "-o", "-", "--seconds", "0", "--listen", "1"]));
    let why = &off["ports"][0]["neighbours"]["missing"];
    assert_eq!(why["detail"], "the interface is switched off", "{off:#}");
}

/// Ten thousand hostile frames, among them a true one: the true one is heard, what is kept is bounded,
/// nothing hostile reaches the terminal, and it ends in time.
#[test]
fn a_flood_of_hostile_announcements() {
    if !inside("a_flood_of_hostile_announcements") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    // Cut at a random place, lengths that lie, bytes that steer a terminal, many names; seeded.
    let script = "import random, socket, sys, time\n\
        s = socket.socket(socket.AF_PACKET, socket.SOCK_RAW); s.bind(('quay1', 0))\n\
        true = bytes.fromhex(sys.argv[1]); r = random.Random(7)\n\
        for n in range(10000):\n    \
            f = bytearray(true)\n    \
            [f.__setitem__(r.randrange(14, len(f)), r.randrange(256)) for _ in range(r.randrange(8))]\n    \
            f = f[:r.randrange(14, len(f))] + b'\\x1b[2J' * (n % 3) + bytes(r.randrange(0, 60))\n    \
            s.send(bytes(f[:1500]))\n    \
            (n % 20 == 0) and s.send(true)\n    \
            (n % 100 == 0) and time.sleep(0.01)\n";
    let child = common::linkwright()
        .args(["explain", "quay0", "--seconds", "0", "--listen", "3"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(300));
    let started = std::time::Instant::now();
    let mut flood = Command::new("python3");
    let hex: String = announcement("boat0").iter().map(|byte| format!("{byte:02x}")).collect();
    flood.args(["-c", script, &hex]);
    assert!(flood.status().expect("python3 is needed to announce a neighbour").success());
    let output = child.wait_with_output().unwrap();
    assert!(started.elapsed() < Duration::from_secs(20));
    assert!(matches!(output.status.code(), Some(0 | 10 | 20 | 30)), "{output:?}");
    let shown = text(&output);
    assert!(shown.contains("boat0"), "{shown}");
    assert!(!shown.chars().any(|c| c.is_control() && c != '\n'), "{shown:?}");
    assert!(shown.len() < 20_000, "{} octets", shown.len());
}

/// Who may not listen is told what would help.
#[test]
fn listening_without_permission() {
    if !inside("listening_without_permission") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    let output = Command::new("setpriv")
        .args(["--bounding-set=-net_raw", "--inh-caps=-net_raw"])
        .arg(env!("CARGO_BIN_EXE_linkwright"))
        .args(["capture", "quay0", "-o", "-", "--seconds", "0", "--listen", "1"])
        .output()
        .expect("setpriv of util-linux is needed");
    let capture = json(&output);
    let why = &capture["ports"][0]["neighbours"]["missing"];
    assert_eq!(why["reason"], "not-permitted", "{capture:#}");
    assert!(why["detail"].as_str().unwrap().contains("CAP_NET_RAW"));
    let gaps = capture["gaps"].as_array().unwrap();
    assert!(gaps.iter().any(|gap| gap["what"] == "neighbours"), "{gaps:?}");
}

/// S7: watched from outside, a run asks only GET questions and writes nowhere else.
#[test]
fn only_gets_leave_the_program() {
    if !inside("only_gets_leave_the_program") {
        return;
    }
    veth("quay0", "quay1");
    switch("quay0", true);
    switch("quay1", true);
    let _device = tun("tun0");
    // Interfaces, family, eight dumps; then interfaces again, for nobody here keeps FEC or pause
    // counters or standard statistics that would be asked a second time.
    only_gets(&["survey", "--seconds", "0.1"], 11);
    // The same without the second instant; the C library asks for interfaces and addresses, of
    // which the link addresses are used. It hears, and lets no frame out.
    let _speaking = announcing("quay1", &[announcement("boat0")]);
    let sent = || sysfs("quay0", "statistics/tx_packets");
    let before = sent();
    let heard = only_gets(&["explain", "quay0", "--seconds", "0", "--listen", "1"], 12);
    assert!(heard.contains("boat0"), "{heard}");
    assert_eq!(sent(), before, "no frame was sent");
}

/// Runs the program under watch; gives what it printed.
fn only_gets(arguments: &[&str], questions: usize) -> String {
    let folder = tempfile::tempdir().unwrap();
    let trace = folder.path().join("trace");
    let output = Command::new("strace")
        .args(["-f", "-xx", "-s", "64", "-o", trace.to_str().unwrap()])
        .args(["-e", "trace=sendto,sendmsg,sendmmsg,write,writev,pwrite64,ioctl,openat,unlink"])
        .arg(env!("CARGO_BIN_EXE_linkwright"))
        .args(arguments)
        .output()
        .expect("strace is needed to watch the program's socket: apt-get install strace");
    assert!(output.status.code().is_some(), "{}", complaint(&output));
    let trace = fs::read_to_string(trace).unwrap();
    let mut asked = 0;
    for line in trace.lines() {
        let call = line.split_once(' ').map_or(line, |(_, call)| call.trim_start());
        if call.starts_with("send") {
            let kind = call.split("nlmsg_type=").nth(1).unwrap_or_else(|| panic!("{line}"));
            let kind = kind.split([',', ' ']).next().unwrap();
            // The first payload byte of a generic message is its command.
            let command = call.split("}, \"\\x").nth(1).map(|rest| &rest[..2]);
            let allowed = match (kind, command) {
                ("RTM_GETLINK" | "RTM_GETADDR", None) => true,
                ("nlctrl", Some("03")) => true, // CTRL_CMD_GETFAMILY
                // The family's GET commands, linux/ethtool_netlink.h, by number: link info,
                // modes, state, rings, flow control, energy saving, FEC, module memory, statistics.
                (_, Some("02" | "04" | "06" | "0f" | "15" | "17" | "1d" | "1f" | "20")) => {
                    !kind.starts_with("RTM")
                }
                _ if call.contains("RTM_GETLINK") || call.contains("RTM_GETADDR") => true,
                _ => false,
            };
            assert!(allowed, "not a GET: {line}");
            asked += 1;
        } else if call.starts_with("ioctl") {
            // Which questions go by SIOCETHTOOL is seen by
            // what_drivers_alone_tell_is_asked_for_by_gets.
            let driver = call.contains("SIOCETHTOOL") && arguments[0] != "survey";
            assert!(driver || call.contains("TCGETS") || call.contains("TIOCGWINSZ"), "{line}");
        } else if call.starts_with("write") || call.starts_with("pwrite") {
            assert!(call.starts_with("write(1,"), "{line}");
        } else if call.starts_with("openat") {
            let writes = ["O_WRONLY", "O_RDWR", "O_CREAT"].iter().any(|flag| call.contains(flag));
            assert!(!writes, "{line}");
        } else {
            assert!(!call.starts_with("unlink"), "{line}");
        }
    }
    assert_eq!(asked, questions, "questions that were watched:\n{trace}");
    text(&output)
}

/// S7: what is asked by `ioctl` are four GETs of linux/ethtool.h: once of each port what its driver
/// is, and of hardware ports alone how many counters of its own the driver keeps, their names once,
/// and their values at each instant. `explain` and `compare` ask their part of it, `survey` asks
/// none.
#[test]
fn what_drivers_alone_tell_is_asked_for_by_gets() {
    const DRIVER: u32 = 0x03; // ETHTOOL_GDRVINFO
    const COUNT: u32 = 0x37; // ETHTOOL_GSSET_INFO
    const NAMES: u32 = 0x1b; // ETHTOOL_GSTRINGS
    const VALUES: u32 = 0x1d; // ETHTOOL_GSTATS
    let program = env!("CARGO_BIN_EXE_linkwright");
    let folder = tempfile::tempdir().unwrap();
    let saved = folder.path().join("all.json");
    let saved = saved.to_str().unwrap();
    let asked = questions::asked(program, &["capture", "-o", saved, "--seconds", "0.1"]);
    let capture: Value = serde_json::from_slice(&fs::read(saved).unwrap()).unwrap();
    let ports = capture["ports"].as_array().unwrap().iter();
    let drivers: Vec<(String, u32)> =
        ports.map(|port| (port["name"].as_str().unwrap().to_owned(), DRIVER)).collect();
    let mut expected = drivers.clone();
    let mut again = Vec::new();
    for port in capture["ports"].as_array().unwrap() {
        let name = port["name"].as_str().unwrap();
        let counters = |place: usize| port["instants"][place]["private_counters"].clone();
        if port["nature"] != "hardware" {
            assert_eq!(counters(0)["missing"]["reason"], "not-applicable", "{name}");
            continue;
        }
        expected.push((name.to_owned(), COUNT));
        if counters(0)["missing"].is_object() {
            println!("{name}: {}", counters(0));
            continue;
        }
        expected.extend([(name.to_owned(), NAMES), (name.to_owned(), VALUES)]);
        again.push((name.to_owned(), VALUES));
        let (first, last) = (counters(0), counters(1));
        let first = first.as_object().unwrap();
        println!("{name}: {} counters of its driver's own", first.len());
        assert!(first.keys().eq(last.as_object().unwrap().keys()), "{name}");
        for (counter, value) in first {
            assert!(last[counter].as_u64() >= value.as_u64(), "{name} {counter}");
        }
    }
    println!("asked by ioctl: {asked:x?}");
    expected.extend(again);
    assert_eq!(asked, expected);
    let compare = questions::asked(program, &["compare", saved, "--seconds", "0"]);
    assert_eq!(compare, drivers);
    let explain = questions::asked(program, &["explain", "lo", "--seconds", "0"]);
    assert_eq!(explain, [("lo".to_owned(), DRIVER)]);
    let survey = questions::asked(program, &["survey", "--seconds", "0"]);
    assert!(survey.is_empty(), "{survey:?}");
}

/// What the kernel's drivers say of themselves: a veth's has version 1.0 (`DRV_VERSION` in
/// drivers/net/veth.c, from memory) and tells of no firmware; loopback has no driver to ask.
#[test]
fn versions_of_drivers() {
    if !inside("versions_of_drivers") {
        return;
    }
    veth("quay0", "quay1");
    let capture = json(&run(&["capture", "-o", "-", "--seconds", "0"]));
    let ports = capture["ports"].as_array().unwrap();
    for name in ["quay0", "quay1"] {
        let port = port(ports, name);
        assert_eq!(port["driver_version"], "1.0", "{port:#}");
        assert_eq!(port["firmware"]["missing"]["reason"], "not-reported", "{port:#}");
    }
    assert_eq!(port(ports, "lo")["firmware"]["missing"]["reason"], "not-supported");
}

/// The number of requests does not grow with the number of interfaces.
#[test]
fn requests_do_not_grow_with_interfaces() {
    if !inside("requests_do_not_grow_with_interfaces") {
        return;
    }
    let count = || {
        let folder = tempfile::tempdir().unwrap();
        let trace = folder.path().join("trace");
        let output = Command::new("strace")
            .args(["-f", "-c", "-o", trace.to_str().unwrap(), "-e", "trace=sendto"])
            .arg(env!("CARGO_BIN_EXE_linkwright"))
            .args(["survey", "--seconds", "0"])
            .output()
            .expect("strace is needed: apt-get install strace");
        assert!(output.status.code().is_some());
        let table = fs::read_to_string(trace).unwrap();
        let line = table.lines().find(|line| line.ends_with("sendto")).unwrap().to_owned();
        line.split_whitespace().nth(3).unwrap().parse::<u32>().unwrap()
    };
    let few = count();
    for number in 0..40 {
        veth(&format!("a{number}"), &format!("b{number}"));
    }
    assert_eq!(count(), few, "a dump, not a request a port");
}

/// S2: on this machine itself, as root and as an ordinary user: every interface, no error, no
/// fake speed; what the user may not read is stated.
#[test]
fn this_machine_as_root_and_as_an_ordinary_user() {
    let folder = tempfile::tempdir().unwrap();
    // The build folder may be closed to others.
    let program = folder.path().join("linkwright");
    fs::copy(env!("CARGO_BIN_EXE_linkwright"), &program).unwrap();
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    fs::set_permissions(folder.path(), open).unwrap();
    let survey = |mut command: Command, form| {
        command.args(["survey", "--seconds", "0", "--format", form]).output().unwrap()
    };
    let own = json(&survey(Command::new(&program), "json"));
    let as_user = || {
        if !nix::unistd::geteuid().is_root() {
            return Command::new(&program);
        }
        let mut command = Command::new("setpriv");
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]).arg(&program);
        command
    };
    let output = survey(as_user(), "json");
    assert_ne!(output.status.code(), Some(1), "{}", complaint(&output));
    let user = json(&output);
    // The same as lines: the last one tells what the whole host could not be asked.
    let lines = text(&survey(as_user(), "ndjson"));
    let host: Value = serde_json::from_str(lines.lines().last().unwrap()).unwrap();
    assert_eq!((&host["type"], &host["gaps"]), (&Value::from("host"), &user["gaps"]));
    let names = |document: &Value| -> Vec<String> {
        let ports = document["ports"].as_array().unwrap().iter();
        ports.map(|port| port["name"].as_str().unwrap().to_owned()).collect()
    };
    let mut listed: Vec<String> = fs::read_dir("/sys/class/net")
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| Path::new("/sys/class/net").join(name).is_dir())
        .collect();
    listed.sort();
    let mut seen = names(&own);
    assert_eq!(seen, names(&user), "the same ports for an ordinary user");
    seen.sort();
    assert_eq!(seen, listed);
    for document in [&own, &user] {
        for port in document["ports"].as_array().unwrap() {
            let name = port["name"].as_str().unwrap();
            if port["running_mbps"] != Value::Null {
                assert_eq!(port["running_mbps"].to_string(), sysfs(name, "speed"), "{name}");
            }
        }
    }
    let gaps = user["gaps"].as_array().unwrap();
    assert!(
        gaps.iter().any(|gap| gap["what"] == "kernel log" || gap["what"] == "module memory")
            || fs::File::open("/dev/kmsg").is_ok(),
        "what an ordinary user may not read is stated: {gaps:?}"
    );
}
