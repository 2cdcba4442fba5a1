//! Speed as ratios within one run: `cargo bench`. Prints, never fails on a figure.
//!
//! 1. `survey` of 1000 interfaces (500 veth pairs in a network namespace of its own) against a
//!    bare program that sends the same dumps and throws the replies away; peak memory.
//! 2. `explain --from` against a do-nothing program with the same argument parser.
//! 3. The report of seven ports beside one whose module is slow, against a serial reading.
//! 4. `report --all` of 64 ports against a `survey` of the same capture: what the report costs
//!    beyond reading and judging.
//! 5. `plan` of 10,000 links against a bare program that reads the same file.
//!
//! The bare and the do-nothing program are this file under another argument. Runs are
//! interleaved, and medians compared, since a machine's speed wanders.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "a bench builds its own network and runs programs"
)]

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use clap::Parser as _;
use linkwright::diagnose::{Knowledge, diagnose_port};
use linkwright::observe::live::played::{self, Played};
use linkwright::render::json;
use linkwright::snapshot::{Fact, HexBytes, MemoryBlock, Port};
use rtnetlink::sys::protocols::{NETLINK_GENERIC, NETLINK_ROUTE};
use rtnetlink::sys::{Socket, SocketAddr};

const PROGRAM: &str = env!("CARGO_BIN_EXE_linkwright");
const RUNS: usize = 21;

fn main() {
    match std::env::var("LINKWRIGHT_BENCH").as_deref() {
        Ok("floor") => floor(),
        Ok("read") => {
            let path = std::env::args_os().nth(1).expect("a plan file");
            let plan = linkwright::observe::capture::load_plan(path.as_ref()).unwrap();
            assert_eq!(plan.links.len(), LINKS);
        }
        Ok("nothing") => {
            let _ = linkwright::cli::Arguments::parse();
        }
        Ok("inside") => survey(),
        Ok("memory") => memory(),
        _ => outside(),
    }
}

fn myself(role: &str) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.env("LINKWRIGHT_BENCH", role);
    command
}

fn outside() {
    replay();
    slow_module();
    reporting();
    planning();
    let mut command = Command::new("unshare");
    if !nix::unistd::geteuid().is_root() {
        command.args(["--user", "--map-root-user"]);
    }
    let status = command
        .args(["--net", "--mount"])
        .arg(std::env::current_exe().unwrap())
        .env("LINKWRIGHT_BENCH", "inside")
        .status()
        .expect("unshare of util-linux is needed to make a network namespace");
    assert!(status.success());
}

fn time(command: &mut Command) -> Duration {
    let started = Instant::now();
    let status = command.stdout(Stdio::null()).status().unwrap();
    let took = started.elapsed();
    assert_ne!(status.code(), Some(1));
    took
}

fn median(mut all: Vec<Duration>) -> f64 {
    all.sort();
    all[all.len() / 2].as_secs_f64() * 1000.0
}

/// Medians of two commands, run in turn.
fn compare(ours: impl Fn() -> Command, theirs: impl Fn() -> Command) -> (f64, f64) {
    let (mut first, mut second) = (Vec::new(), Vec::new());
    for _ in 0..RUNS {
        second.push(time(&mut theirs()));
        first.push(time(&mut ours()));
    }
    (median(first), median(second))
}

fn replay() {
    let capture = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/hosts/keel.json");
    let arguments = ["explain", "shed0", "--from", capture];
    let ours = || {
        let mut command = Command::new(PROGRAM);
        command.args(arguments);
        command
    };
    let theirs = || {
        let mut command = myself("nothing");
        command.args(arguments);
        command
    };
    let (ours, theirs) = compare(ours, theirs);
    println!(
        "explain --from: {ours:.2} ms; same argument parser doing nothing: {theirs:.2} ms; \
         {:.2} ms above it (aim: under 5)",
        ours - theirs
    );
}

fn reporting() {
    let capture = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/rack/winch.json");
    let ours = || {
        let mut command = Command::new(PROGRAM);
        command.args(["report", "--all", "-o", "-", "--from", capture]);
        command
    };
    let theirs = || {
        let mut command = Command::new(PROGRAM);
        command.args(["survey", "--format", "json", "--from", capture]);
        command
    };
    let (ours, theirs) = compare(ours, theirs);
    println!(
        "report of 64 ports: {ours:.1} ms; reading and judging them for survey: {theirs:.1} ms; {:.1} \
         ms beyond it, {:.2} times",
        ours - theirs,
        ours / theirs
    );
}

/// One slow module among eight: when the report of the other seven is out, against a serial reading.
/// The slow one has 32 lanes and takes 100 ms a read, the others are those of a demo rack and answer
/// at once; each port is diagnosed and put into JSON as it comes.
fn slow_module() {
    let path =
        std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/rack/winch.json"));
    let rack = linkwright::observe::capture::load(path).unwrap().remove(0);
    let with_memory = |port: &&Port| port.module.memory.known().is_some_and(|all| all.len() > 1);
    let mut ports: Vec<Port> =
        rack.ports.iter().filter(with_memory).step_by(7).take(8).cloned().collect();
    assert_eq!(ports.len(), 8);
    // CMIS with four banks of lanes: page 01h byte 142 is 2 (module-memory-maps, section 4.4).
    let block = |page, offset, bytes: Vec<u8>| MemoryBlock {
        two_wire_address: 0x50,
        bank: 0,
        page,
        offset,
        bytes: Fact::Known(HexBytes(bytes)),
    };
    let mut first = vec![0; 96];
    first[0] = 0x18;
    let mut advertising = vec![0; 128];
    advertising[142 - 128] = 2;
    let slow = vec![block(0, 0, first), block(1, 128, advertising)];
    ports[0].module.memory = Fact::Known(slow);
    let read = Duration::from_millis(100);
    let modules = ports.iter().enumerate().map(|(number, port)| Played {
        memory: port.module.memory.known().unwrap().clone(),
        read: if number == 0 { read } else { Duration::ZERO },
    });
    let modules: Vec<Played> = modules.collect();
    let started = Instant::now();
    let (mut others, mut last, mut reads, mut octets) = (Duration::ZERO, 0, 0, 0);
    played::read(modules, |number, memory| {
        let port = &mut ports[number];
        port.module.memory = memory;
        if number == 0 {
            reads = port.module.memory.known().unwrap().len();
        }
        let found = diagnose_port(&rack.host, port, Knowledge::default()).unwrap();
        octets += json::to_string(&json::port(port, &found), false).unwrap().len();
        last = number;
        if number != 0 {
            others = started.elapsed();
        }
    });
    assert_eq!(last, 0, "the slow one comes last");
    let serial = read * u32::try_from(reads).unwrap();
    println!(
        "one module of {reads} reads of 100 ms among eight: the other seven reported ({octets} octets \
         of JSON in all) after {:.1} ms; a serial reading takes {} ms; {:.1} % of it (aim: under 10)",
        others.as_secs_f64() * 1000.0,
        serial.as_millis(),
        100.0 * others.as_secs_f64() / serial.as_secs_f64(),
    );
}

/// Links of the plan.
const LINKS: usize = 10_000;

fn planning() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plan.toml");
    let mut file = String::new();
    for number in 0..LINKS {
        // A third in words, the rest field by field, all with different lengths and names.
        file.push_str(&if number % 3 == 0 {
            format!(
                "[[link]]\nname = \"berth-{number}\"\nparts = \"gen3x8 SFP28 25GBASE-SR {}m OM4 2 \
                 connectors 25GBASE-SR SFP28\"\n\n",
                number % 120
            )
        } else {
            format!(
                "[[link]]\nname = \"berth-{number}\"\nmedium = \"OM3\"\nlength_m = {}\nconnectors = 3\n\
                 [link.near]\ndevice = \"winch-{}\"\nport = \"p{number}\"\ncage = \"SFP+\"\nmodule = \
                 \"10GBASE-SR\"\n[link.far]\ndevice = \"quay-{}\"\nport = \"{number}\"\ncage = \"SFP+\"\n\
                 module = \"10GBASE-SR\"\n\n",
                number % 350,
                number % 64,
                number % 48
            )
        });
    }
    std::fs::write(&path, file).unwrap();
    let ours = |format: &'static str| {
        let path = path.clone();
        move || {
            let mut command = Command::new(PROGRAM);
            command.args(["plan", "--format", format, "--file"]).arg(&path);
            command
        }
    };
    let read = || {
        let mut command = myself("read");
        command.arg(&path);
        command
    };
    for format in ["text", "ndjson"] {
        let (ours, floor) = compare(ours(format), read);
        println!(
            "plan of {LINKS} links as {format}: {:.1} ms; reading the file alone {:.1} ms; {:.2} times",
            ours,
            floor,
            ours / floor
        );
    }
}

fn survey() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let (connection, handle, _) = rtnetlink::new_connection().unwrap();
        tokio::spawn(connection);
        for pair in 0..500 {
            let link = rtnetlink::LinkVeth::new(&format!("quay{pair}"), &format!("boat{pair}"));
            handle.link().add(link.up().build()).execute().await.unwrap();
        }
    });
    let ours = || {
        let mut command = Command::new(PROGRAM);
        command.args(["survey", "--seconds", "0"]);
        command
    };
    let (ours, floor) = compare(ours, || myself("floor"));
    println!(
        "survey of 1001 interfaces: {ours:.2} ms; the same dumps with the replies thrown away: \
         {floor:.2} ms; {:.2} times that floor (aim: under 1.5)",
        ours / floor
    );
    assert!(myself("memory").status().unwrap().success());
}

/// Peak memory of one survey: the only child this process has.
fn memory() {
    let _ = time(Command::new(PROGRAM).args(["survey", "--seconds", "0"]));
    let usage = nix::sys::resource::getrusage(nix::sys::resource::UsageWho::RUSAGE_CHILDREN);
    println!(
        "survey of 1001 interfaces: peak memory {:.1} MB (aim: under 16)",
        usage.unwrap().max_rss() as f64 / 1024.0
    );
}

/// The same questions as a survey with one instant, the replies thrown away.
fn floor() {
    let open = |protocol| {
        let mut socket = Socket::new(protocol).unwrap();
        socket.bind_auto().unwrap();
        socket.connect(&SocketAddr::new(0, 0)).unwrap();
        socket
    };
    let (routing, generic) = (open(NETLINK_ROUTE), open(NETLINK_GENERIC));
    let mut buffer = Vec::with_capacity(65536);
    let mut ask = |socket: &Socket, kind: u16, dump: bool, body: &[u8], family: &mut u16| {
        let mut message = Vec::new();
        message.extend_from_slice(&u32::try_from(16 + body.len()).unwrap().to_ne_bytes());
        message.extend_from_slice(&kind.to_ne_bytes());
        message.extend_from_slice(&(if dump { 0x301u16 } else { 0x5 }).to_ne_bytes());
        message.extend_from_slice(&[0; 8]);
        message.extend_from_slice(body);
        socket.send(&message, 0).unwrap();
        loop {
            buffer.clear();
            socket.recv(&mut buffer, 0).unwrap();
            let mut rest = &buffer[..];
            while rest.len() >= 16 {
                let length = u32::from_ne_bytes(rest[0..4].try_into().unwrap());
                let length = usize::try_from(length).unwrap();
                match u16::from_ne_bytes(rest[4..6].try_into().unwrap()) {
                    2 | 3 => return,
                    0x10 if kind == 0x10 => {
                        // The family's number is the second attribute of the controller's reply.
                        let mut attributes = &rest[20..length];
                        while attributes.len() >= 4 {
                            let size = u16::from_ne_bytes(attributes[0..2].try_into().unwrap());
                            if attributes[2] == 1 {
                                *family = u16::from_ne_bytes(attributes[4..6].try_into().unwrap());
                            }
                            let step = usize::from(size).next_multiple_of(4);
                            attributes = attributes.get(step..).unwrap_or_default();
                        }
                    }
                    _ => {}
                }
                rest = rest.get(length.next_multiple_of(4)..).unwrap_or_default();
            }
        }
    };
    let mut family = 0;
    ask(&routing, 18, true, &[0; 16], &mut family);
    let name = b"\x03\x01\x00\x00\x0c\x00\x02\x00ethtool\x00";
    ask(&generic, 0x10, false, name, &mut family);
    let number = family;
    // With counters: pause frames (21) and FEC (29).
    for command in [2u8, 4, 6, 15, 21, 23, 29] {
        let flags = if matches!(command, 21 | 29) { 5 } else { 1 };
        let body = [command, 1, 0, 0, 12, 0, 1, 0x80, 8, 0, 3, 0, flags, 0, 0, 0];
        ask(&generic, number, true, &body, &mut family);
    }
    let mut body = vec![32, 1, 0, 0, 12, 0, 2, 0x80, 8, 0, 3, 0, 1, 0, 0, 0];
    body.extend([24, 0, 3, 0x80, 4, 0, 1, 0, 8, 0, 2, 0, 4, 0, 0, 0, 8, 0, 4, 0, 15, 0, 0, 0]);
    ask(&generic, number, true, &body, &mut family);
}
