//! What came back from the guest for one scenario: captures, read logs, counts; and the program
//! run again on a capture, for what it shows.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::scenarios::Scenario;

/// One read of module memory, as the adapter counted it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// Start, nanoseconds of the guest's clock.
    pub nanoseconds: u64,
    /// Two-wire address, bank, page.
    pub at: (u8, u8, u8),
    /// First byte.
    pub offset: u8,
    /// Bytes asked for.
    pub length: u8,
    /// Bytes given, or an error number below zero.
    pub result: i32,
}

/// The results of one scenario.
pub struct Seen<'a> {
    scenario: &'a Scenario,
    folder: PathBuf,
    program: &'a Path,
}

impl<'a> Seen<'a> {
    /// Of the folder `out` that the guest wrote.
    pub fn new(scenario: &'a Scenario, out: &Path, program: &'a Path) -> Self {
        Self { scenario, folder: out.join(scenario.name), program }
    }

    /// A file that the guest wrote.
    pub fn file(&self, name: &str) -> String {
        let path = self.folder.join(name);
        std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    /// The file as JSON.
    pub fn json(&self, name: &str) -> Value {
        let text = self.file(name);
        serde_json::from_str(&text).unwrap_or_else(|error| {
            let complaint = self.file(&name.replace(".out", ".err"));
            panic!("{name}: {error}\n{complaint}")
        })
    }

    /// The capture that the scenario's command took.
    pub fn capture(&self) -> Value {
        self.json("capture.out")
    }

    /// One port of the capture.
    pub fn port(&self, name: &str) -> Value {
        port(&self.capture(), name)
    }

    /// What `explain` says of a port of the capture, as text of 80 columns.
    pub fn explained(&self, port: &str) -> String {
        self.replay(&["explain", port])
    }

    /// What `survey` says of the capture.
    pub fn surveyed(&self) -> String {
        self.replay(&["survey"])
    }

    /// What `explain` says of a port of the capture, by the JSON contract.
    pub fn diagnosed(&self, port: &str) -> Value {
        let text = self.replay(&["explain", port, "--format", "json"]);
        let whole: Value = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {text}"));
        whole["ports"][0].clone()
    }

    fn replay(&self, arguments: &[&str]) -> String {
        let output = Command::new(self.program)
            .args(arguments)
            .arg("--from")
            .arg(self.folder.join("capture.out"))
            .env_clear()
            .env("COLUMNS", "80")
            .output()
            .unwrap();
        assert!(
            matches!(output.status.code(), Some(0 | 10 | 20 | 30)),
            "{arguments:?}: {:?}: {}",
            output.status,
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).unwrap()
    }

    /// Reads of an interface's module, in the order they were done.
    pub fn reads(&self, interface: &str) -> Vec<Read> {
        let log = self.file(&format!("{interface}.readlog"));
        log.lines().map(|line| read(line).unwrap_or_else(|| panic!("{line}"))).collect()
    }

    /// Reads and bytes of an interface's module, as the adapter counted them.
    pub fn bus_load(&self, interface: &str) -> (u64, u64) {
        (self.count(interface, "reads"), self.count(interface, "read_bytes"))
    }

    /// A count of the adapter.
    pub fn count(&self, interface: &str, key: &str) -> u64 {
        let all = self.file(&format!("{interface}.ctl"));
        let line = all.lines().find_map(|line| line.strip_prefix(key)?.strip_prefix(' '));
        line.and_then(|text| text.trim().parse().ok())
            .unwrap_or_else(|| panic!("{interface} has no count {key}:\n{all}"))
    }

    /// The guest made what the scenario's setup asks for, and its commands ran.
    pub fn set_up_as_told(&self) {
        for name in ["setup.log", "commands.log"] {
            assert_eq!(self.file(name), "", "{name}: shell lines that did not work");
        }
    }

    /// Nobody tried to change a setting of any interface that is still there to be asked.
    pub fn nothing_was_set(&self) {
        let left: Vec<String> = (0..self.scenario.ports.len())
            .map(|place| format!("sim{place}"))
            .filter(|name| self.folder.join(format!("{name}.ctl")).exists())
            .collect();
        let expected = self.scenario.ports.len() - self.scenario.vanish;
        assert_eq!(left.len(), expected, "interfaces left: {left:?}");
        for name in left {
            assert_eq!(self.count(&name, "sets"), 0, "{name}: somebody changed a setting");
        }
    }

    /// Raw memory in the capture is, byte for byte, what the images hold at that place; and each
    /// stretch of the capture was asked of the adapter as one read.
    pub fn memory_is_the_images(&self) {
        if !self.folder.join("capture.out").exists() {
            return; // a scenario that only counts reads of `survey` or `explain`
        }
        let capture = self.capture();
        for (place, image) in self.scenario.ports.iter().enumerate() {
            let Some(image) = image else { continue };
            let name = format!("sim{place}");
            let memory = port(&capture, &name)["module"]["memory"].clone();
            let Some(blocks) = memory.as_array() else { continue };
            assert!(!blocks.is_empty(), "{name}: memory without a stretch");
            let log = self.folder.join(format!("{name}.readlog")).exists();
            let log = if log { self.reads(&name) } else { Vec::new() };
            for block in blocks {
                let Some(bytes) = hex(&block["bytes"]) else { continue };
                let number = |key: &str| u8::try_from(block[key].as_u64().unwrap_or(0)).unwrap();
                let (at, offset) = (
                    (number("two_wire_address"), number("bank"), number("page")),
                    number("offset"),
                );
                for (step, byte) in (0u8..).zip(&bytes) {
                    let told = image.byte(at, offset + step);
                    if !self.scenario.moving.contains(&(at, offset + step)) {
                        assert_eq!(told, Some(*byte), "{name} {at:x?} byte {}", offset + step);
                    }
                }
                let asked = log.iter().any(|read| {
                    (read.at, read.offset) == (at, offset)
                        && usize::try_from(read.result).ok() == Some(bytes.len())
                });
                assert!(asked || log.is_empty(), "{name}: {at:x?} {offset} was not one read");
            }
        }
    }
}

/// One port of a capture.
pub fn port(capture: &Value, name: &str) -> Value {
    let ports = capture["ports"].as_array().unwrap();
    ports.iter().find(|port| port["name"] == name).unwrap_or_else(|| panic!("no {name}")).clone()
}

/// The stretch of a port's memory at a place, or what stands in its stead.
pub fn stretch(port: &Value, at: (u8, u8, u8), offset: u8) -> Value {
    let blocks = port["module"]["memory"].as_array();
    let blocks = blocks.unwrap_or_else(|| panic!("no memory: {}", port["module"]));
    let found = blocks.iter().find(|block| {
        let number = |key: &str| block[key].as_u64().unwrap_or(0);
        (number("two_wire_address"), number("bank"), number("page"), number("offset"))
            == (u64::from(at.0), u64::from(at.1), u64::from(at.2), u64::from(offset))
    });
    found.unwrap_or_else(|| panic!("no stretch {at:x?} {offset} in {blocks:?}"))["bytes"].clone()
}

/// Why a fact is missing: the reason's name.
pub fn why(fact: &Value) -> &str {
    fact["missing"]["reason"].as_str().unwrap_or_else(|| panic!("{fact} is not missing"))
}

fn hex(value: &Value) -> Option<Vec<u8>> {
    let digits: Vec<u8> = value
        .as_str()?
        .chars()
        .filter(|letter| !letter.is_whitespace())
        .map(|letter| u8::try_from(letter.to_digit(16).unwrap()).unwrap())
        .collect();
    Some(digits.chunks(2).map(|pair| pair[0] << 4 | pair[1]).collect())
}

/// A line `NUMBER NS i2c=0x50 bank=0 page=0x00 off=0 len=96 ret=96`.
fn read(line: &str) -> Option<Read> {
    let fields: BTreeMap<&str, &str> =
        line.split(' ').filter_map(|field| field.split_once('=')).collect();
    let byte = |key: &str| {
        let text = *fields.get(key)?;
        match text.strip_prefix("0x") {
            Some(digits) => u8::from_str_radix(digits, 16).ok(),
            None => text.parse().ok(),
        }
    };
    Some(Read {
        nanoseconds: line.split(' ').nth(1)?.parse().ok()?,
        at: (byte("i2c")?, byte("bank")?, byte("page")?),
        offset: byte("off")?,
        length: byte("len")?,
        result: fields.get("ret")?.parse().ok()?,
    })
}
