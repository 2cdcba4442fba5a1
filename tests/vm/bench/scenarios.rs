//! The scenarios: what the adapter is made to be, what is run, and what must then have been seen.
//!
//! One function a scenario, listed in [`all`]. Shell lines run in the guest with the helpers of
//! `guest/lib.sh`; `sim` commands are in `README.md`. A check panics with what it missed, and
//! returns figures worth printing. The truth it holds the program against is the scenario's own
//! setup: literal bytes at the standards' offsets, and numbers given to the adapter.

use serde_json::{Value, json};

use crate::images::{A2, FIRST, Image, Where, cmis, flat_copper, qsfp28, sfp};
use crate::seen::{Seen, port, stretch, why};

/// One scenario.
pub struct Scenario {
    /// Name of its folder.
    pub name: &'static str,
    /// What it shows, in a line.
    pub about: &'static str,
    /// The interfaces sim0, sim1, and so on, with the module in each; `None` answers every read
    /// with an I/O error.
    pub ports: Vec<Option<Image>>,
    /// Shell lines that set the adapter up.
    pub setup: String,
    /// Shell lines that run the program.
    pub commands: &'static str,
    /// How many interfaces are gone at the end.
    pub vanish: usize,
    /// Bytes that change while they are read.
    pub moving: Vec<(Where, u8)>,
    /// What must have been seen.
    pub check: fn(&Seen) -> Vec<String>,
}

/// One instant, everything read.
const CAPTURE: &str = "lw capture capture -o - --seconds 0\n";
/// Two instants, a second apart.
const CAPTURE_TWICE: &str = "lw capture capture -o - --seconds 1\n";

/// Shell lines that bring a port up on a medium: 10GBASE-SR, 100GBASE-SR4, 100GBASE-CR4 or
/// 400GBASE-SR8, in a slot that carries it.
fn running(port: usize, kind: &str) -> String {
    let (speed, lanes, connector, mode, pcie) = match kind {
        "10G" => (10_000, 1, "$PORT_FIBRE", "$LM_10000baseSR_Full", "3 8 3 8 3 8"),
        "100G" => (100_000, 4, "$PORT_FIBRE", "$LM_100000baseSR4_Full", "4 16 4 16 4 16"),
        "100G copper" => (100_000, 4, "$PORT_DA", "$LM_100000baseCR4_Full", "4 16 4 16 4 16"),
        "400G" => (400_000, 8, "$PORT_FIBRE", "$LM_400000baseSR8_Full", "5 16 5 16 5 16"),
        other => panic!("no kind {other}"),
    };
    format!(
        "sim sim{port} \"carrier 1; speed {speed}; duplex full; lanes {lanes}; port {connector}; \
         supported {mode}; advertising {mode}; pcie {pcie}\"\nup sim{port}\n"
    )
}

impl Scenario {
    fn new(name: &'static str, about: &'static str, check: fn(&Seen) -> Vec<String>) -> Self {
        Self {
            name,
            about,
            ports: Vec::new(),
            setup: String::new(),
            commands: CAPTURE,
            vanish: 0,
            moving: Vec::new(),
            check,
        }
    }

    /// Adds a port that runs at its module's speed.
    fn port(mut self, kind: &str, image: Image) -> Self {
        self.setup.push_str(&running(self.ports.len(), kind));
        self.ports.push(Some(image));
        self
    }

    /// Adds shell lines to the setup.
    fn with(mut self, lines: &str) -> Self {
        self.setup.push_str(lines);
        self.setup.push('\n');
        self
    }

    fn running(mut self, commands: &'static str) -> Self {
        self.commands = commands;
        self
    }
}

/// Every scenario.
pub fn all() -> Vec<Scenario> {
    vec![
        one_lane_module(),
        weak_lane(),
        dark_lane(),
        lanes_beyond_eight(),
        flat_memory(),
        page_fails(),
        one_retry(),
        short_read(),
        whole_values(),
        empty_cage(),
        pulled_out(),
        over_time(),
        interface_vanishes(),
        hangs(),
        no_cable(),
        no_partner(),
        fec_rises(),
        statistics(),
        own_counters(),
        other_firmware(),
        speed_changes(),
        failing_devices(),
        unprivileged(),
        survey_budget(),
        explain_budget(),
        slow_among_eight(),
    ]
}

/// A line of text that has all of these words.
fn line(text: &str, words: &[&str]) {
    assert!(
        text.lines().any(|line| words.iter().all(|word| line.contains(word))),
        "no line with {words:?} in\n{text}"
    );
}

/// The row of a lane in the table of lanes, and the line behind it.
fn lane_row(text: &str, lane: u8) -> (Vec<&str>, &str) {
    let mut lines = text.lines().skip_while(|line| !line.trim_start().starts_with("lane  "));
    let number = lane.to_string();
    let row = lines.find(|line| line.split_whitespace().next() == Some(number.as_str()));
    let row = row.unwrap_or_else(|| panic!("no row of lane {lane} in\n{text}"));
    (row.split_whitespace().collect(), lines.next().unwrap_or_default())
}

/// A lane receives so many dBm: the sixth cell of its row.
fn receives(text: &str, lane: u8, dbm: &str) {
    let (row, _) = lane_row(text, lane);
    assert_eq!(row.get(5), Some(&dbm), "lane {lane} in\n{text}");
}

/// These words follow each other in the text, however its lines are broken.
fn says(text: &str, words: &str) {
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(words), "no {words:?} in\n{text}");
}

fn verdict(seen: &Seen, port: &str) -> String {
    seen.diagnosed(port)["verdict"].as_str().unwrap().to_owned()
}

/// The first cause that `explain` names.
fn first_cause(seen: &Seen, port: &str) -> String {
    let all = seen.diagnosed(port);
    let name = all["causes"][0]["fault"].as_str();
    name.unwrap_or_else(|| panic!("no cause:\n{}", seen.explained(port))).to_owned()
}

/// Bytes of a capture's stretch.
fn bytes(fact: &Value) -> usize {
    fact.as_str().unwrap_or_else(|| panic!("not read: {fact}")).replace(' ', "").len() / 2
}

// ---- module families --------------------------------------------------------------------

fn one_lane_module() -> Scenario {
    Scenario::new("sfp", "SFF-8472: identity, readings and limits of a healthy port", |seen| {
        let text = seen.explained("sim0");
        // 5248 and 6026 of 0.1 µW, 0x2480 of 1/256 °C: -2.80 and -2.20 dBm, 36.5 °C.
        receives(&text, 1, "-2.80");
        assert_eq!(lane_row(&text, 1).0[1], "-2.20", "{text}");
        line(&text, &["temperature", "36.5"]);
        says(&text, "NORTHLIGHT OPT");
        assert_eq!(verdict(seen, "sim0"), "healthy", "{text}");
        assert_eq!(seen.port("sim0")["ethernet"]["speed_mbps"], 10_000);
        Vec::new()
    })
    .port("10G", sfp())
    .running(CAPTURE_TWICE)
}

fn weak_lane() -> Scenario {
    let mut module = qsfp28();
    // Lane 3 receives 400 of 0.1 µW, -13.98 dBm: below the low alarm of -11.3 dBm. Its flags are
    // the high nibble of byte 10: low alarm, low warning.
    module.words(FIRST, 38, &[400]).put(FIRST, 10, &[0x50]);
    Scenario::new("weak-lane", "SFF-8636: one of four lanes is weak, and is named", |seen| {
        let text = seen.explained("sim0");
        receives(&text, 3, "-13.98");
        receives(&text, 4, "-1.00");
        let found = seen.diagnosed("sim0");
        assert!(matches!(found["verdict"].as_str(), Some("fault" | "attention")), "{text}");
        let evidence = found["causes"][0]["evidence"].to_string();
        assert!(evidence.contains("lane 3"), "evidence names the lane: {evidence}\n{text}");
        assert!(evidence.contains("-13.98 dBm"), "{evidence}");
        Vec::new()
    })
    .port("100G", module)
    .running(CAPTURE_TWICE)
}

fn dark_lane() -> Scenario {
    let (state, mut module) = ((0x50, 0, 0x11), cmis(1));
    // Lane 5 receives nothing: loss of signal (byte 147) and low alarm and warning (150, 152).
    module.words(state, 194, &[0]).put(state, 147, &[0x10]).put(state, 150, &[0x10]).put(
        state,
        152,
        &[0x10],
    );
    Scenario::new("dark-lane", "CMIS: one of eight lanes is dark, and is named", |seen| {
        let text = seen.explained("sim0");
        let (row, note) = lane_row(&text, 5);
        assert!(row.join(" ").contains("no light"), "{text}");
        assert!(note.contains("receiver reports loss of signal"), "{text}");
        receives(&text, 6, "0.00");
        let found = seen.diagnosed("sim0");
        assert_eq!(found["verdict"], "fault", "{text}");
        let evidence = found["causes"][0]["evidence"].to_string();
        assert!(evidence.contains("lane 5"), "evidence names the lane: {evidence}\n{text}");
        // Light arrives on seven lanes: the far transmitter is not off, the strands not swapped.
        assert_eq!(found["causes"][0]["fault"], "lane-fault", "{text}");
        for fault in ["peer-tx-off", "fibre-polarity-swapped"] {
            assert!(!found["causes"].to_string().contains(fault), "{fault}:\n{text}");
        }
        Vec::new()
    })
    .port("400G", module)
    .with("sim sim0 \"carrier 0\"")
}

fn lanes_beyond_eight() -> Scenario {
    let mut module = cmis(2);
    // Bank 1, lane 4 of it is lane 12: 500 of 0.1 µW, -13.01 dBm.
    module.words((0x50, 1, 0x11), 192, &[500]);
    Scenario::new("sixteen-lanes", "CMIS: lanes 9 to 16 are read from bank 1", |seen| {
        let text = seen.explained("sim0");
        receives(&text, 12, "-13.01");
        receives(&text, 13, "0.00");
        for page in [0x10, 0x11] {
            let banks: Vec<u8> = seen
                .reads("sim0")
                .iter()
                .filter(|read| read.at.2 == page)
                .map(|read| read.at.1)
                .collect();
            assert_eq!(banks, [0, 1], "page {page:#x}");
        }
        Vec::new()
    })
    .port("400G", module)
}

fn flat_memory() -> Scenario {
    Scenario::new("flat-copper", "a copper cable with flat memory: no page is asked", |seen| {
        let text = seen.explained("sim0");
        says(&text, "GANNET CABLE");
        says(&text, "passive copper");
        assert_eq!(seen.bus_load("sim0"), (3, 224));
        assert!(seen.reads("sim0").iter().all(|read| read.at == FIRST), "pages asked");
        assert_eq!(verdict(seen, "sim0"), "healthy", "{text}");
        Vec::new()
    })
    .port("100G copper", flat_copper())
    .running(CAPTURE_TWICE)
}

// ---- buses that fail --------------------------------------------------------------------

fn page_fails() -> Scenario {
    Scenario::new("page-fails", "a bus that fails on one page keeps the others", |seen| {
        let capture = seen.capture();
        for (name, lost, offset, kept) in [
            ("sim0", (0x50, 0, 3), 128, vec![(FIRST, 0, 96), (FIRST, 96, 32), (FIRST, 128, 96)]),
            ("sim1", A2, 0, vec![(FIRST, 0, 96)]),
            ("sim2", (0x50, 0, 0x11), 128, vec![(FIRST, 128, 96), ((0x50, 0, 2), 128, 128)]),
        ] {
            let port = port(&capture, name);
            assert_eq!(why(&stretch(&port, lost, offset)), "bus-error", "{name}");
            for (at, offset, length) in kept {
                assert_eq!(bytes(&stretch(&port, at, offset)), length, "{name} {at:x?}");
            }
            // Asked, and once more; then whether the module is there at all.
            let reads = seen.reads(name);
            let tried = reads.iter().filter(|read| read.at == lost).count();
            assert_eq!(tried, 2, "{name}: {reads:?}");
            assert_eq!(reads.iter().filter(|read| read.length == 1).count(), 1, "{name}");
        }
        // The readings of sim0 are there without its limits; those of sim1 are said to be missing.
        let text = seen.explained("sim0");
        receives(&text, 1, "-1.00");
        let text = seen.explained("sim1");
        says(&text, "receives lane 1: not known: the module's management bus failed");
        assert_ne!(verdict(seen, "sim1"), "healthy", "{text}");
        let text = seen.explained("sim2");
        says(&text, "receives lanes 1 to 8: not known: the module's management bus failed");
        assert_ne!(verdict(seen, "sim2"), "healthy", "{text}");
        Vec::new()
    })
    .port("100G", qsfp28())
    .port("10G", sfp())
    .port("400G", cmis(1))
    .with("sim sim0 'fault add page=3 err=5'")
    .with("sim sim1 'fault add i2c=0x51 err=121'")
    .with("sim sim2 'fault add page=0x11 err=110'")
}

fn one_retry() -> Scenario {
    Scenario::new("one-retry", "a stretch that fails once is read at the second try", |seen| {
        let reads = seen.reads("sim0");
        let results: Vec<i32> =
            reads.iter().filter(|read| read.at == A2).map(|read| read.result).collect();
        assert_eq!(results, [-5, 120]);
        assert_eq!(bytes(&stretch(&seen.port("sim0"), A2, 0)), 120);
        receives(&seen.explained("sim0"), 1, "-2.80");
        Vec::new()
    })
    .port("10G", sfp())
    .with("sim sim0 'fault add i2c=0x51 err=5 count=1'")
}

fn short_read() -> Scenario {
    Scenario::new("short-read", "bytes that did not come are unknown, not zero", |seen| {
        let capture = seen.capture();
        assert_eq!(bytes(&stretch(&port(&capture, "sim0"), A2, 0)), 16);
        assert_eq!(bytes(&stretch(&port(&capture, "sim1"), FIRST, 0)), 30);
        for name in ["sim0", "sim1"] {
            let text = seen.explained(name);
            says(&text, "not known: the module memory read ends before it");
            assert!(!text.contains("0.0000 mW"), "{text}");
            assert_ne!(verdict(seen, name), "healthy", "{text}");
        }
        // What did come is used: the temperature of sim1 stands in bytes 22-23.
        line(&seen.explained("sim1"), &["temperature", "35.0"]);
        Vec::new()
    })
    .port("10G", sfp())
    .port("100G", qsfp28())
    .with("sim sim0 'fault add i2c=0x51 short=16'")
    .with("sim sim1 'fault add off=0 short=30'")
    .running(CAPTURE_TWICE)
}

/// First bytes of the 16-bit values of a family: address, bank and page, first, last.
const WORDS: [(&str, Where, u8, u8); 9] = [
    ("sim0", A2, 0, 38),
    ("sim0", A2, 96, 104),
    ("sim1", FIRST, 22, 22),
    ("sim1", FIRST, 26, 26),
    ("sim1", FIRST, 34, 56),
    ("sim1", (0x50, 0, 3), 128, 198),
    ("sim2", FIRST, 14, 16),
    ("sim2", (0x50, 0, 2), 128, 198),
    ("sim2", (0x50, 0, 0x11), 154, 200),
];

fn whole_values() -> Scenario {
    let mut module = sfp();
    module.words(A2, 104, &[0x14ff]);
    let mut scenario =
        Scenario::new("whole-values", "16-bit values are read in one access, never torn", |seen| {
            // The value goes from 14FFh to 1500h with the first read that touches it: two reads
            // of a byte would make 1400h of it.
            let block = stretch(&seen.port("sim0"), A2, 0);
            let digits = block.as_str().unwrap().replace(' ', "");
            assert_eq!(&digits[208..212], "14ff");
            let mut words = 0;
            for (name, at, first, last) in WORDS {
                let reads = seen.reads(name);
                for word in (first..=last).step_by(2) {
                    let covers = |byte: u8| {
                        move |read: &&crate::seen::Read| {
                            read.at == at
                                && (read.offset..=read.offset + (read.length - 1)).contains(&byte)
                        }
                    };
                    let low: Vec<_> = reads.iter().filter(covers(word)).collect();
                    let high: Vec<_> = reads.iter().filter(covers(word + 1)).collect();
                    assert_eq!(low, high, "{name} {at:x?} {word}");
                    assert_eq!(low.len(), 1, "{name} {at:x?} {word} is read once");
                    words += 1;
                }
            }
            vec![format!("{words} values of 16 bits, each in one read")]
        })
        .port("10G", module)
        .port("100G", qsfp28())
        .port("400G", cmis(1))
        .with("sim sim0 'step 0x51 0 0 104 2 1'");
    scenario.moving = vec![(A2, 104), (A2, 105)];
    scenario
}

fn empty_cage() -> Scenario {
    Scenario::new("empty-cage", "an empty cage is not a module that fails", |seen| {
        let port = seen.port("sim0");
        assert_eq!(why(&port["module"]["memory"]), "not-present");
        assert_eq!(seen.bus_load("sim0"), (1, 0), "one read tells");
        assert_eq!(why(&seen.port("sim1")["module"]["memory"]), "bus-error");
        assert_eq!(seen.bus_load("sim1"), (2, 0), "a bus that fails is asked twice");
        Vec::new()
    })
    .port("10G", Image::default())
    .port("10G", Image::default())
    .with("sim sim0 'carrier 0; module absent 19'")
}

fn pulled_out() -> Scenario {
    Scenario::new("pulled-out", "a module pulled out in the middle of its reading", |seen| {
        let capture = seen.capture();
        let removed = json!({"missing": {
            "reason": "gone", "detail": "the module was removed while being read"
        }});
        let first = port(&capture, "sim0");
        assert_eq!(bytes(&stretch(&first, FIRST, 96)), 32, "what came is kept");
        assert_eq!(stretch(&first, FIRST, 128), removed);
        assert_eq!(stretch(&first, (0x50, 0, 3), 128), removed);
        assert_eq!(seen.bus_load("sim0").0, 3, "nothing is asked of an empty cage");
        // A driver that does not know about the cage: nothing listens at the address.
        assert_eq!(stretch(&port(&capture, "sim1"), A2, 0), removed);
        for name in ["sim0", "sim1"] {
            says(&seen.explained(name), "removed while being read");
            assert_ne!(verdict(seen, name), "healthy");
        }
        receives(&seen.explained("sim2"), 1, "-2.80");
        Vec::new()
    })
    .port("100G", qsfp28())
    .port("10G", sfp())
    .port("10G", sfp())
    .with("sim sim0 'fault add skip=2 err=19 absent'")
    .with("sim sim1 'module absent 6; module present; fault add i2c=0x51 err=6 absent'")
}

/// What is read again of one SFP module, and of a bank of a CMIS one: place, first byte, length.
const AGAIN_SFP: [(Where, u8, u8); 1] = [(A2, 96, 15)];
const AGAIN_CMIS: [(Where, u8, u8); 2] = [((0x50, 0, 0), 14, 4), ((0x50, 0, 0x11), 154, 48)];

fn over_time() -> Scenario {
    let mut scenario = Scenario::new(
        "readings-over-time",
        "monitors are read again and again, those bytes alone; a slow bus rests; one is pulled out",
        |seen| {
            let capture = seen.capture();
            let mut figures = Vec::new();
            let readings = |name: &str, whole: usize, again: &[(Where, u8, u8)]| {
                let reads = seen.reads(name);
                for (read, (at, offset, length)) in reads[whole..].iter().zip(again.iter().cycle())
                {
                    assert_eq!(
                        (read.at, read.offset, read.length),
                        (*at, *offset, *length),
                        "{name}"
                    );
                }
                let kept = port(&capture, name)["module"]["readings_over_time"].clone();
                let kept = kept.as_array().unwrap_or_else(|| panic!("{name}: none kept")).len();
                assert_eq!(
                    kept * again.len(),
                    reads.len() - whole,
                    "{name}: each is in the capture"
                );
                kept
            };
            // The adapter moves the temperature by 1/16 °C at each read of it.
            let quick = readings("sim0", 2, &AGAIN_SFP);
            assert!((10..=25).contains(&quick), "{quick} in 24 s");
            let told = seen.diagnosed("sim0")["readings_over_time"].clone();
            let series = told["series"].as_array().unwrap().clone();
            let of = |what: &str| series.iter().find(|one| one["reading"] == what).unwrap();
            assert_eq!(of("temperature")["trend"], "rises", "{told:#}");
            let moved = of("temperature")["most"].as_f64().unwrap()
                - of("temperature")["least"].as_f64().unwrap();
            assert!((moved - (quick as f64 - 1.0) / 16.0).abs() < 1e-9, "{moved} in {quick}");
            assert_eq!(of("rx-power")["trend"], "none", "{told:#}");
            figures.push(format!("sim0: {quick} readings of 15 bytes in 24 s"));
            // 100 ms a read, two reads a reading, three times as long of rest behind it.
            let slow = readings("sim1", 7, &AGAIN_CMIS);
            let begun: Vec<u64> =
                seen.reads("sim1")[7..].iter().step_by(2).map(|read| read.nanoseconds).collect();
            assert!((5..=25).contains(&slow), "{slow} in 24 s");
            let least = begun.windows(2).map(|pair| (pair[1] - pair[0]) / 1_000_000).min().unwrap();
            assert!(least >= 700, "{least} ms from one reading to the next");
            figures.push(format!("sim1: {slow} readings of 200 ms, {least} ms apart at least"));
            // Four readings, then the driver says that the cage is empty.
            assert_eq!(readings("sim2", 2, &AGAIN_SFP), 5);
            let told = seen.diagnosed("sim2")["readings_over_time"].clone();
            assert_eq!(told["ended_early"], true, "{told:#}");
            assert_eq!(told["failed"][0]["reason"], "gone", "{told:#}");
            figures
        },
    )
    .port("10G", sfp())
    .port("400G", cmis(1))
    .port("10G", sfp())
    .with("sim sim0 'step 0x51 0 0 96 2 16'")
    .with("sim sim1 'fault add delay=100'")
    .with("sim sim2 'fault add skip=6 err=19 absent'")
    .running("lw capture capture sim0 sim1 sim2 -o - --seconds 24\n");
    scenario.moving = vec![(A2, 96), (A2, 97)];
    scenario
}

fn interface_vanishes() -> Scenario {
    let mut scenario =
        Scenario::new("interface-vanishes", "an interface that vanishes mid-scan", |seen| {
            let capture = seen.capture();
            let gone = port(&capture, "sim0");
            assert_eq!(bytes(&stretch(&gone, FIRST, 0)), 96, "what came is kept");
            let last = stretch(&gone, (0x50, 0, 0x10), 128);
            assert_eq!(why(&last), "gone", "{last}");
            assert_eq!(why(&gone["carrier"]), "gone");
            assert_ne!(verdict(seen, "sim0"), "healthy");
            says(&seen.explained("sim0"), "vanished");
            // The ports before and behind it are whole.
            assert_eq!(bytes(&stretch(&port(&capture, "sim1"), A2, 0)), 120);
            assert_eq!(verdict(seen, "sim1"), "healthy");
            Vec::new()
        })
        .port("400G", cmis(1))
        .port("10G", sfp())
        // The removal waits for the kernel's lock: the later reads hold it long enough to let the
        // removal come next but one at the latest.
        .with("sim sim0 'fault add skip=1 unplug; fault add skip=2 delay=50'")
        .running(CAPTURE_TWICE);
    scenario.vanish = 1;
    scenario
}

fn hangs() -> Scenario {
    Scenario::new(
        "bus-hangs",
        "a read of 12 s: the port's time limit, and a partial answer",
        |seen| {
            let capture = seen.capture();
            let slow = port(&capture, "sim0");
            assert_eq!(why(&stretch(&slow, (0x50, 0, 3), 128)), "timed-out");
            assert_eq!(bytes(&stretch(&slow, FIRST, 128)), 96, "what came in time is kept");
            receives(&seen.explained("sim0"), 1, "-1.00");
            assert_eq!(bytes(&stretch(&port(&capture, "sim1"), A2, 0)), 120);
            Vec::new()
        },
    )
    .port("100G", qsfp28())
    .port("10G", sfp())
    .with("sim sim0 'fault add page=3 delay=12000'")
}

// ---- link state -------------------------------------------------------------------------

fn no_cable() -> Scenario {
    Scenario::new("no-cable", "the port's extended state says: no cable", |seen| {
        let port = seen.port("sim0");
        assert_eq!(port["ethernet"]["extended_state"]["state"], "no-cable");
        assert_eq!(port["carrier"], false);
        assert_eq!(first_cause(seen, "sim0"), "no-cable");
        line(&seen.surveyed(), &["sim0"]);
        Vec::new()
    })
    .port("10G", Image::default())
    .with("sim sim0 \"carrier 0; ext $EXT_NO_CABLE; module absent 19\"")
}

fn no_partner() -> Scenario {
    Scenario::new("no-partner", "autonegotiation found no partner", |seen| {
        let port = seen.port("sim0");
        let state = &port["ethernet"]["extended_state"];
        assert_eq!(state["state"], "autonegotiation");
        assert_eq!(state["substate"], "no-partner-detected");
        assert_eq!(port["ethernet"]["autonegotiation"], true);
        let text = seen.explained("sim0");
        says(&text, "no partner");
        assert_ne!(verdict(seen, "sim0"), "healthy", "{text}");
        Vec::new()
    })
    .port("10G", Image::default())
    .with(
        "sim sim0 \"carrier 0; autoneg 1; port $PORT_TP; op page off; op legacy off; \
         supported $LM_1000baseT_Full,$LM_10000baseT_Full; \
         advertising $LM_1000baseT_Full,$LM_10000baseT_Full; \
         ext $EXT_AUTONEG $SUB_AN_NO_PARTNER_DETECTED\"",
    )
}

fn fec_rises() -> Scenario {
    Scenario::new("fec-rises", "FEC counters that rise between the two instants", |seen| {
        let port = seen.port("sim0");
        let instants = port["instants"].as_array().unwrap();
        assert_eq!(instants.len(), 2);
        let at = |place: usize| instants[place]["at_milliseconds"].as_f64().unwrap() / 1000.0;
        let elapsed = at(1) - at(0);
        let mut figures = Vec::new();
        // Of each lane, a second, as the setup says.
        for (kind, rates) in [
            ("corrected_blocks", [1000.0, 2000.0, 3000.0, 4000.0]),
            ("uncorrectable_blocks", [40.0; 4]),
        ] {
            let lanes = |place: usize| instants[place]["fec_counters"][kind]["lanes"].clone();
            let (before, after) = (lanes(0), lanes(1));
            for (lane, rate) in rates.into_iter().enumerate() {
                let count = |of: &Value| of[lane].as_f64().unwrap();
                let risen = count(&after) - count(&before);
                // The two instants' clock reading and the counters' reading lie a little apart.
                let (least, most) = (rate * (elapsed - 0.3), rate * (elapsed + 0.3));
                assert!(
                    (least..=most).contains(&risen),
                    "{kind} lane {}: {risen} in {elapsed} s",
                    lane + 1
                );
            }
            figures.push(format!("{kind}: {before} to {after} in {elapsed:.2} s"));
        }
        assert_eq!(port["ethernet"]["fec_active"], "rs");
        let text = seen.explained("sim0");
        assert_ne!(verdict(seen, "sim0"), "healthy", "codewords are lost:\n{text}");
        // 10,000 of 19,531,250 codewords a second (media notes, c1): -ln(1 - 5.12e-4) / 5280.
        says(&text, "RS(528,514): ");
        let found = seen.diagnosed("sim0")["numbers"]["correction"].clone();
        let words: f64 = 19_531_250.0 * elapsed;
        let corrected = found["corrected"].as_f64().unwrap();
        let ratio = -(1.0 - corrected / words).ln() / 5280.0;
        let told = found["raw_ratio"].as_f64().unwrap();
        assert!((told / ratio - 1.0).abs() < 1e-6, "{found:#}");
        assert!((0.9e-7..1.1e-7).contains(&told) || elapsed < 1.5, "{found:#}");
        figures.push(format!("raw bit-error ratio {told:.2e}"));
        figures
    })
    .port("100G", qsfp28())
    .with("sim sim0 \"fec $FEC_RS $FEC_RS; supported $LM_100000baseSR4_Full,$LM_FEC_RS\"")
    .with(
        "for l in 0 1 2 3; do sim sim0 \"set fec.corrected_blocks.lane$l 50 $(((l + 1) * 1000)); \
         set fec.uncorrectable_blocks.lane$l 7 40\"; done",
    )
    .running("lw capture capture -o - --seconds 2\n")
}

fn statistics() -> Scenario {
    Scenario::new("statistics", "standard statistics, by the names their standards give", |seen| {
        let capture = seen.capture();
        let of = |name: &str| port(&capture, name)["instants"][0].clone();
        assert_eq!(
            of("sim0")["statistics"],
            json!({
                "phy": {"SymbolErrorDuringCarrier": 11},
                "mac": {"FrameCheckSequenceErrors": 22, "AlignmentErrors": 3},
                "control": {"UnsupportedOpcodesReceived": 33},
                "rmon": {"etherStatsFragments": 44, "etherStatsJabbers": 45},
            }),
            "what the driver does not keep is absent, not zero"
        );
        let counters = &of("sim0")["counters"];
        assert_eq!(counters["receive_check_sequence_errors"], 5);
        assert_eq!(counters["receive_missed"], u64::MAX, "no high bit is lost");
        assert_eq!(of("sim1")["statistics"]["mac"], Value::Null);
        Vec::new()
    })
    .port("10G", sfp())
    .port("10G", sfp())
    .with(
        "sim sim0 'set phy.SymbolErrorDuringCarrier 11; set mac.FrameCheckSequenceErrors 22; \
         set mac.AlignmentErrors 3; set ctrl.UnsupportedOpcodesReceived 33; \
         set rmon.fragments 44; set rmon.jabbers 45; set link.rx_crc_errors 5; \
         set link.rx_missed_errors 18446744073709551615'",
    )
}

fn own_counters() -> Scenario {
    Scenario::new("own-counters", "counters under names of the driver's own", |seen| {
        let at = |name: &str, place: usize| seen.port(name)["instants"][place].clone();
        let kept = |name: &str, place: usize| at(name, place)["private_counters"].clone();
        let first = kept("sim0", 0);
        assert_eq!(first["tide_count"], u64::MAX, "no high bit is lost");
        assert_eq!(first.as_object().unwrap().len(), 2, "{first}");
        // 1000 a second.
        let count = |place| kept("sim0", place)["fec_uncorrectable_blocks"].as_u64().unwrap();
        assert!((500..50_000).contains(&(count(1) - count(0))), "{} {}", count(0), count(1));
        // One that offers none, and one that makes another while it is watched.
        assert_eq!(why(&kept("sim1", 0)), "not-supported");
        assert_eq!(kept("sim2", 0), json!({"tide_count": 4}));
        assert_eq!(why(&kept("sim2", 1)), "interrupted");
        let text = seen.explained("sim0");
        says(&text, "driver's own fec_uncorrectable_blocks: ");
        assert_ne!(verdict(seen, "sim0"), "healthy", "codewords are lost:\n{text}");
        Vec::new()
    })
    .port("10G", sfp())
    .port("10G", sfp())
    .port("10G", sfp())
    .with(
        "for i in 0 1 2; do sim sim$i 'op fec_stats off'; done
sim sim0 'priv tide_count 18446744073709551615; priv fec_uncorrectable_blocks 7 1000'
sim sim2 'priv tide_count 4'",
    )
    .running(
        "(sleep 1; sim sim2 'priv ebb_count 1') &
lw capture capture -o - --seconds 2
wait
",
    )
}

fn other_firmware() -> Scenario {
    Scenario::new(
        "other-firmware",
        "versions of driver and firmware, and a change of one",
        |seen| {
            let port = seen.port("sim0");
            assert_eq!(
                (&port["driver_version"], &port["firmware"]),
                (&json!("2.4"), &json!("22.36"))
            );
            says(&seen.explained("sim0"), "version 2.4; firmware 22.36;");
            // One whose driver tells none, and one whose driver fails when it is asked.
            assert_eq!(why(&seen.port("sim1")["firmware"]), "not-reported");
            assert!(seen.port("sim2")["firmware"]["missing"].is_object(), "{}", seen.port("sim2"));
            let text = seen.file("compare.out");
            says(&text, "one port changed");
            says(&text, "firmware of the adapter: from 22.36 to 22.41");
            assert_eq!(seen.file("compare.code").trim(), "10");
            Vec::new()
        },
    )
    .port("10G", sfp())
    .port("10G", sfp())
    .port("10G", sfp())
    .with(
        "sim sim0 'drv simnic 2.4 22.36 -'
sim sim1 'drv simnic 2.4 N/A -'
sim sim2 'op begin err 5'",
    )
    .running(
        "lw capture capture -o - --seconds 0
sim sim0 'drv simnic 2.4 22.41 -'
lw compare compare \"$OUT/capture.out\" --seconds 0
",
    )
}

fn speed_changes() -> Scenario {
    Scenario::new("speed-changes", "a link that comes back slower while it is watched", |seen| {
        let port = seen.port("sim0");
        assert_eq!(port["ethernet"]["speed_mbps"], 1000, "as it is at the end");
        let count = |place: usize| port["instants"][place]["carrier_down_count"].as_u64().unwrap();
        assert_eq!(count(1) - count(0), 1, "and it went down once");
        assert_eq!(seen.diagnosed("sim0")["running_mbps"], 1000);
        // Its neighbour stayed as it was.
        assert_eq!(seen.port("sim1")["ethernet"]["speed_mbps"], 10_000);
        // A link that went down in the meantime: the reason is the one it has now.
        let lost = seen.port("sim2");
        assert_eq!(lost["carrier"], false);
        assert_eq!(lost["ethernet"]["extended_state"]["state"], "bad-signal-integrity");
        Vec::new()
    })
    .port("10G", Image::default())
    .port("10G", Image::default())
    .port("10G", Image::default())
    .with(
        "for i in 0 1 2; do sim sim$i \"port $PORT_TP; op page off; op legacy off; autoneg 1; \
         supported $LM_1000baseT_Full,$LM_10000baseT_Full; \
         advertising $LM_1000baseT_Full,$LM_10000baseT_Full\"; done",
    )
    .running(
        "(sleep 1; sim sim0 'carrier 0'; sleep 0.2; sim sim0 'speed 1000; carrier 1'
sim sim2 \"carrier 0; ext $EXT_BAD_SIGNAL_INTEGRITY\") &
lw capture capture -o - --seconds 3
wait
",
    )
}

fn failing_devices() -> Scenario {
    Scenario::new(
        "failing-devices",
        "one device that fails does not hide those behind it",
        |seen| {
            let capture = seen.capture();
            for name in ["sim0", "sim3"] {
                let port = port(&capture, name);
                assert_eq!(port["ethernet"]["speed_mbps"], 10_000, "{name}");
                assert_eq!(bytes(&stretch(&port, A2, 0)), 120, "{name}");
            }
            let speed = |name: &str| port(&capture, name)["ethernet"]["speed_mbps"].clone();
            assert!(speed("sim1")["missing"].is_object(), "its settings fail: {}", speed("sim1"));
            assert!(speed("sim2")["missing"].is_object(), "it is detached: {}", speed("sim2"));
            Vec::new()
        },
    )
    .port("10G", sfp())
    .port("10G", sfp())
    .port("10G", sfp())
    .port("10G", sfp())
    .with("sim sim1 'op ksettings err 5'")
    .with("sim sim2 'detach 1'")
}

fn unprivileged() -> Scenario {
    Scenario::new("unprivileged", "a run without privilege says what it could not read", |seen| {
        let capture = seen.capture();
        assert_eq!(capture["host"]["may_read_modules"], false);
        let port = port(&capture, "sim0");
        assert_eq!(why(&port["module"]["memory"]), "not-permitted");
        assert_eq!(seen.count("sim0", "reads"), 0);
        assert_eq!(port["ethernet"]["speed_mbps"], 10_000, "what is public is read");
        let gaps = capture["gaps"].to_string();
        assert!(gaps.contains("module memory") && gaps.contains("CAP_NET_ADMIN"), "{gaps}");
        let text = seen.explained("sim0");
        says(&text, "not permitted");
        Vec::new()
    })
    .port("10G", sfp())
    .running(
        "chmod 777 /tmp; chmod 755 /bin/linkwright
su nobody -s /bin/sh -c 'linkwright capture -o - --seconds 0' > \"$OUT/capture.out\" 2> \"$OUT/capture.err\"
",
    )
}

// ---- bus economy ------------------------------------------------------------------------

/// Eight ports of every family.
fn eight(scenario: Scenario) -> Scenario {
    scenario
        .port("10G", sfp())
        .port("10G", sfp())
        .port("10G", sfp())
        .port("100G", qsfp28())
        .port("100G", qsfp28())
        .port("100G copper", flat_copper())
        .port("400G", cmis(1))
        .port("400G", cmis(2))
}

/// Most reads and bytes of each of the eight modules, and why. A whole memory of the family is
/// 512 bytes (SFF-8472), 640 (SFF-8636) and 256 plus 128 a page (CMIS).
const BUDGETS: [(u64, u64, &str); 8] = [
    (2, 216, "SFF-8472: A0h 0-95 is the identity, A2h 0-119 limits, readings and flags"),
    (2, 216, "the same"),
    (2, 216, "the same"),
    (
        4,
        296,
        "SFF-8636: lower half in two (a family is known by the first 96), 128-223, page 03h 128-199",
    ),
    (4, 296, "the same"),
    (3, 224, "SFF-8636 with flat memory: no page 03h"),
    (
        7,
        659,
        "CMIS: as above, pages 01h, 02h and 11h whole, 10h 128-178: each holds what is judged",
    ),
    (9, 838, "CMIS of 16 lanes: pages 10h and 11h once more, from bank 1"),
];

fn survey_budget() -> Scenario {
    eight(Scenario::new(
        "survey-budget",
        "S3: reads and bytes of `survey` of eight ports",
        |seen| {
            let text = seen.file("survey.out");
            let mut figures = Vec::new();
            let mut all = (0, 0);
            for (place, (reads, octets, reason)) in BUDGETS.into_iter().enumerate() {
                let name = format!("sim{place}");
                line(&text, &[&name]);
                let load = seen.bus_load(&name);
                assert!(
                    load.0 <= reads && load.1 <= octets,
                    "{name}: {load:?} over {reads}, {octets}"
                );
                assert!(load.0 >= 2, "{name} was not read at all");
                all = (all.0 + load.0, all.1 + load.1);
                figures.push(format!(
                    "{name}: {} reads of {reads}, {} bytes of {octets} ({reason})",
                    load.0, load.1
                ));
            }
            figures.push(format!("together {} reads, {} bytes", all.0, all.1));
            figures
        },
    ))
    .running("lw survey survey\n")
}

fn explain_budget() -> Scenario {
    eight(Scenario::new("explain-budget", "S3: reads and bytes of `explain` of one port", |seen| {
        let (reads, octets, _) = BUDGETS[6];
        let load = seen.bus_load("sim6");
        assert!(load.0 <= reads && load.1 <= octets, "{load:?}");
        says(&seen.file("explain.out"), "KESTREL FIBRE");
        for place in [0, 1, 2, 3, 4, 5, 7] {
            let load = seen.bus_load(&format!("sim{place}"));
            assert_eq!(load, (0, 0), "sim{place} was not asked about");
        }
        vec![format!(
            "sim6: {} reads of {reads}, {} bytes of {octets}; the other seven: none",
            load.0, load.1
        )]
    }))
    .running("lw explain explain sim6\n")
}

/// How often the ports are surveyed: of several, since one may meet a busy machine.
const ROUNDS: usize = 3;

/// When each port was reported in a round, milliseconds since the guest's start: the guest's
/// uptime, to 10 ms, before each line of `survey --format ndjson`.
fn reported(seen: &Seen, round: usize) -> Vec<(String, f64)> {
    let text = seen.file(&format!("survey{round}.out"));
    let line = |line: &str| {
        let (time, json) = line.split_once(' ').unwrap();
        let seconds: f64 = time.parse().unwrap();
        let json: Value = serde_json::from_str(json).unwrap();
        // The host's own line, the last one, has no name.
        (json["name"].as_str().unwrap_or_default().to_owned(), seconds * 1000.0)
    };
    text.lines().map(line).filter(|(name, _)| name.starts_with("sim")).collect()
}

fn slow_among_eight() -> Scenario {
    // The slow one is the first, so that no luck of order helps the others, and has the most
    // lanes, so that a serial reading takes long. The kernel answers a module read under a lock
    // of the whole host, so the others cannot be done before its first read of 100 ms is over.
    let mut scenario = Scenario::new(
        "slow-among-eight",
        "S4: one module of 100 ms a read does not hold up the report of the other seven",
        |seen| {
            let reads: Vec<_> = (0..8).map(|port| seen.reads(&format!("sim{port}"))).collect();
            // The rounds, and the capture.
            let readings = ROUNDS + 1;
            assert_eq!(reads[0].len(), 13 * readings, "a module of 32 lanes");
            assert!(reads.iter().flatten().all(|read| i32::from(read.length) == read.result));
            let milliseconds = |ns: u64| ns as f64 / 1e6;
            let busy = |port: usize| milliseconds(seen.count(&format!("sim{port}"), "read_ns"));
            let slow = busy(0) / readings as f64;
            assert!(slow >= 1300.0, "the slow one was slow: {slow} ms");
            let serial = (0..8).map(busy).sum::<f64>() / readings as f64;
            let mut figures = vec![format!(
                "a serial reading takes {serial:.0} ms, {slow:.0} of it for the slow one"
            )];
            for round in 0..ROUNDS {
                let of = |port: usize| {
                    let length = reads[port].len() / readings;
                    &reads[port][round * length..(round + 1) * length]
                };
                // What no busy machine changes: the others are read whole before the slow one is
                // read a second time, and are out long before it is. The share at a processor's
                // pace is in `cargo bench`: emulation takes some 10 ms to diagnose a port.
                let last = |port: usize| of(port).last().map_or(0, |read| read.nanoseconds);
                let others = (1..8).map(last).max().unwrap();
                assert!(others < of(0)[1].nanoseconds, "round {round}: {reads:#?}");
                let start = milliseconds((0..8).map(|port| of(port)[0].nanoseconds).min().unwrap());
                let lines = reported(seen, round);
                let names: Vec<&str> = lines.iter().map(|(name, _)| name.as_str()).collect();
                assert_eq!(names.len(), 8, "{names:?}");
                assert_eq!(names.last(), Some(&"sim0"), "the slow one comes last");
                assert!(lines[6].1 < milliseconds(last(0)), "the others waited: {lines:?}");
                figures.push(format!(
                    "the other seven: last read began {:.0} ms after the first, reported after {:.0} \
                     ms, {:.1} % of it; the slow one after {:.0} ms",
                    milliseconds(others) - start,
                    lines[6].1 - start,
                    100.0 * (lines[6].1 - start) / serial,
                    lines[7].1 - start
                ));
            }
            for port in 1..8 {
                let port = seen.port(&format!("sim{port}"));
                assert!(port["module"]["memory"].is_array(), "{}", port["name"]);
            }
            figures
        },
    )
    .port("400G", cmis(4))
    .port("10G", sfp())
    .port("10G", sfp());
    for (kind, image) in [
        ("100G", qsfp28()),
        ("100G", qsfp28()),
        ("100G copper", flat_copper()),
        ("400G", cmis(1)),
        ("400G", cmis(2)),
    ] {
        scenario = scenario.port(kind, image);
    }
    scenario.with("sim sim0 'fault add delay=100'").running(
        r#"for round in 0 1 2; do
linkwright survey --format ndjson --seconds 0 2> "$OUT/survey$round.err" |
awk '{ getline up < "/proc/uptime"; close("/proc/uptime"); split(up, at, " "); print at[1] " " $0; fflush() }' > "$OUT/survey$round.out"
done
lw capture capture -o - --seconds 0
"#,
    )
}
