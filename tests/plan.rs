//! Planning as a user meets it: questions that people get wrong, in the demo scenario, each with
//! where the right answer is published; the demo site; suggestions against published limits.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, clippy::disallowed_methods)]

mod common;

use common::{complaint, json, run, text};
use serde_json::Value;

/// One link in words, judged: exit code and JSON.
fn plan(parts: &str) -> (i32, Value) {
    let mut arguments = vec!["plan", "--format", "json"];
    arguments.extend(parts.split(' '));
    let output = run(&arguments);
    let document = json(&output);
    (output.status.code().unwrap(), document["links"][0].clone())
}

struct Question {
    /// What somebody at Tidewater Soundings wants to build.
    parts: &'static str,
    verdict: &'static str,
    /// Exit code.
    code: i32,
    /// The part that is named.
    part: &'static str,
    /// What must stand in the first finding.
    says: &'static str,
}

/// Sections and keys are those of the media notes (`/standards/sources` has the documents).
const QUESTIONS: &[Question] = &[
    // OM3 is known for 300 m, which is 10GBASE-SR's reach (D1); 25GBASE-SR has 70 m (T1).
    Question {
        parts: "SFP28 25GBASE-SR 90m OM3 2 connectors 25GBASE-SR SFP28",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "longer than 25GBASE-SR",
    },
    Question {
        parts: "SFP+ 10GBASE-SR 90m OM3 2 connectors 10GBASE-SR SFP+",
        verdict: "works",
        code: 0,
        part: "",
        says: "",
    },
    // SFP28 in SFP+: the lane is made for 10 Gb/s, the retimer may not be bypassed (A5).
    Question {
        parts: "SFP+ 25GBASE-SR 30m OM3 25GBASE-SR SFP28",
        verdict: "will-not",
        code: 20,
        part: "module",
        says: "made for 10 Gb/s",
    },
    // With the slower rate told as well, only the maker knows whether the host asks for it (A5).
    Question {
        parts: "SFP+ 25GBASE-SR/10GBASE-SR 30m OM3 10GBASE-SR SFP+",
        verdict: "unknown",
        code: 30,
        part: "module",
        says: "retimer",
    },
    // A 10GBASE-T module drives 30 m (D14), takes 2.5 to 3.5 W (D14, D16).
    Question {
        parts: "SFP+ 10GBASE-T 45m Cat6A 10G RJ45",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "longer than 10GBASE-T pluggable",
    },
    Question {
        parts: "SFP+ 10GBASE-T 20m Cat6A 10G RJ45",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "2.5 to 3.5 W",
    },
    // 10GBASE-ER back to back: 4.0 dBm sent, -1.0 dBm taken, 5 dB too much (E4; example b8).
    Question {
        parts: "SFP+ 10GBASE-ER 2m OS2 10GBASE-ER SFP+",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "5.0 dB too much",
    },
    // Multimode into single-mode loses many decibels (section 3).
    Question {
        parts: "SFP+ 10GBASE-SR 60m OS2 10GBASE-SR SFP+",
        verdict: "will-not",
        code: 20,
        part: "medium",
        says: "single-mode fibre",
    },
    // Clause 59: D sends at 1490 nm, U at 1310 nm.
    Question {
        parts: "SFP 1000BASE-BX10-U 2km OS2 1000BASE-BX10-U SFP",
        verdict: "will-not",
        code: 20,
        part: "far-module",
        says: "same side",
    },
    // CA-25G-L reaches 5 m with RS-FEC, CA-25G-S 3 m with BASE-R (A3, A7).
    Question {
        parts: "SFP28 5m CA-25G-S SFP28",
        verdict: "works-if",
        code: 10,
        part: "medium",
        says: "25 Gb/s is what both ends could do, but 5 m",
    },
    Question {
        parts: "SFP28 5m CA-25G-L SFP28 fec base-r",
        verdict: "not-covered",
        code: 20,
        part: "far-port",
        says: "RS-FEC",
    },
    // Generation 3, four lanes: 28.81 Gb/s at 256 octets (example f1; P1, P2).
    Question {
        parts: "gen3x4 QSFP28 100GBASE-SR4 30m OM4 100GBASE-SR4 QSFP28",
        verdict: "works-if",
        code: 10,
        part: "slot",
        says: "28.8 Gb/s",
    },
    // Two ports behind it: 14.40 Gb/s each when both are busy (example f4).
    // Category 6 at 10G: 37 m sure, to 55 m it depends, category 5e not at all (T6; example a6).
    Question {
        parts: "10G RJ45 48m Cat6 10G RJ45",
        verdict: "unknown",
        code: 30,
        part: "medium",
        says: "depends on the crosstalk",
    },
    Question {
        parts: "10G RJ45 60m Cat6 10G RJ45",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "longer than 10GBASE-T",
    },
    Question {
        parts: "10G RJ45 20m Cat5e 10G RJ45",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "not good enough",
    },
    // A duplex run crosses once (section 3); a wall plate at each end and straight cords: twice.
    Question {
        parts: "SFP+ 10GBASE-SR 60m OM3 4 connectors 2 crossings 10GBASE-SR SFP+",
        verdict: "will-not",
        code: 20,
        part: "medium",
        says: "even number",
    },
    // 10G against 25G optics: same light, other rate, neither locks (G1, T1; section 8).
    Question {
        parts: "SFP28 25GBASE-SR 30m OM3 10GBASE-SR SFP+",
        verdict: "will-not",
        code: 20,
        part: "far-module",
        says: "neither end locks",
    },
    // Within reach and yet too lossy by 0.62 dB (example b2; T1, A10).
    Question {
        parts: "SFP28 25GBASE-SR 90m OM4 3 connectors 25GBASE-SR SFP28",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "0.62 dB more than allowed",
    },
    // 8 km of OS2 with four pairs and three splices: over by 0.90 dB (example b3; G1, A10).
    Question {
        parts: "SFP+ 10GBASE-LR 8km OS2 4 connectors 3 splices 10GBASE-LR SFP+",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "0.90 dB more than allowed",
    },
    // Clause 73 does not detect a port that is forced (section 8).
    Question {
        parts: "SFP28 autonegotiation on 3m CA-25G-L SFP28 autonegotiation off",
        verdict: "will-not",
        code: 20,
        part: "far-port",
        says: "clause 73",
    },
    // What somebody who knows the trade found wrong in an earlier version.
    // OS1a loses up to 1.0 dB/km (T4): 5 km and two pairs are 6.5 dB of 6.2 (G1).
    Question {
        parts: "SFP+ 10GBASE-LR 5km OS1a 10GBASE-LR SFP+",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "0.30 dB more than allowed",
    },
    Question {
        parts: "SFP+ 10GBASE-LR 10km OS1 10GBASE-LR SFP+",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "5.30 dB more than allowed",
    },
    // 25GBASE-CR-S takes cables of class S and N alone (A3).
    Question {
        parts: "SFP28 25GBASE-CR-S 3m CA-25G-L 25GBASE-CR-S SFP28",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "this class of cable",
    },
    // Only class N may run without FEC, only class L reaches 5 m (A3, A7).
    Question {
        parts: "SFP28 fec none 3m twinax SFP28 fec none",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "class",
    },
    Question {
        parts: "SFP28 5m twinax SFP28",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "specified on CA-25G-L",
    },
    // The classes are of 25 Gb/s cable: nothing says that they carry 50GBASE-CR (table 1.3).
    Question {
        parts: "SFP56 1m CA-25G-L SFP56 wanted 50G",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "50 Gb/s",
    },
    // 1000BASE-T needs autonegotiation (clause 28; section 8).
    Question {
        parts: "1G RJ45 20m Cat6A 1G RJ45 autonegotiation off",
        verdict: "will-not",
        code: 20,
        part: "far-port",
        says: "without autonegotiation",
    },
    Question {
        parts: "SFP 1000BASE-SX autonegotiation off 60m OM3 1000BASE-SX SFP",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "off at both ends",
    },
    // Frames longer than the other end takes are dropped there.
    Question {
        parts: "SFP+ mtu 9000 10GBASE-SR 60m OM4 10GBASE-SR SFP+ mtu 1500",
        verdict: "not-covered",
        code: 20,
        part: "far-port",
        says: "vanish",
    },
    // 15 dB to 30 km, 18 dB beyond, by engineering (table 1.2).
    Question {
        parts: "SFP28 25GBASE-ER 30km OS2 6 connectors 25GBASE-ER SFP28",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "1.50 dB more than allowed",
    },
    Question {
        parts: "SFP28 25GBASE-ER 40km OS2 25GBASE-ER SFP28",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "engineered",
    },
    // At least 0.5 m (T1).
    Question {
        parts: "SFP28 25GBASE-SR 0.3m OM4 25GBASE-SR SFP28",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "shorter",
    },
    // Table 2: 100 m, alien crosstalk permitting.
    Question {
        parts: "5G RJ45 80m Cat5e 5G RJ45",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "crosstalk",
    },
    // The port that can do no more is named, not the cable between.
    Question {
        parts: "SFP28 25GBASE-SR/10GBASE-SR 30m OM4 10GBASE-SR SFP+",
        verdict: "works-if",
        code: 10,
        part: "far-port",
        says: "set the port to 10 Gb/s",
    },
    Question {
        parts: "10G RJ45 100m Cat5e 1G RJ45",
        verdict: "works",
        code: 0,
        part: "far-port",
        says: "",
    },
    // 25.78125 GBd on four lanes and on one: a port that is split, and a cord that fans out (section 8).
    Question {
        parts: "QSFP28 100GBASE-SR4 30m OM4 25GBASE-SR SFP28",
        verdict: "unknown",
        code: 30,
        part: "far-module",
        says: "fans out",
    },
    // Lanes of 10.3 GBd (D7): 40 Gb/s is all there is.
    Question { parts: "QSFP+ twinax 3m QSFP+", verdict: "works", code: 0, part: "", says: "" },
    // One strand against two (clause 59).
    Question {
        parts: "SFP 1000BASE-LX10 2km OS2 1000BASE-BX10-U SFP",
        verdict: "will-not",
        code: 20,
        part: "far-module",
        says: "one strand",
    },
    // "May link over short SMF but is outside both specs" (section 8).
    Question {
        parts: "SFP+ 10GBASE-LRM 10m OS2 10GBASE-LRM SFP+",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "nobody answers",
    },
    // The line side of a copper module may run slower than its port (section 2).
    Question {
        parts: "SFP+ 10GBASE-T 20m Cat6A 1G RJ45",
        verdict: "unknown",
        code: 30,
        part: "far-module",
        says: "lower speeds",
    },
    // At 1 Gb/s such a module drives 100 m (D14): its 30 m at 10 Gb/s are not the limit.
    Question {
        parts: "SFP+ 10GBASE-T 60m Cat6A 1G RJ45",
        verdict: "unknown",
        code: 30,
        part: "far-module",
        says: "lower speeds",
    },
    // 1000BASE-LX on a better grade than those named is not worse.
    Question {
        parts: "SFP 1000BASE-LX 50m OM4 1000BASE-LX SFP",
        verdict: "not-covered",
        code: 20,
        part: "medium",
        says: "no figure is known here",
    },
    // Receivers of 10GBASE-LR are specified for 1260 to 1355 nm (G1): outside, not proven dead.
    Question {
        parts: "SFP+ 10GBASE-LR 2km OS2 10GBASE-ER SFP+",
        verdict: "not-covered",
        code: 20,
        part: "far-module",
        says: "not specified for",
    },
    // Four lanes of 50 Gb/s: a faster direct-attach type than the table has.
    Question {
        parts: "QSFP56 2m twinax QSFP56",
        verdict: "unknown",
        code: 30,
        part: "module",
        says: "not known here",
    },
    // Class L ends at 5 m (A3), whatever CR-S takes.
    Question {
        parts: "SFP28 6m CA-25G-L SFP28",
        verdict: "works-if",
        code: 10,
        part: "medium",
        says: "longer than 25GBASE-CR is specified",
    },
    // Both off, with the same speed and FEC: as section 8 [A2] has it.
    Question {
        parts: "SFP28 autonegotiation off fec rs 3m CA-25G-S SFP28 autonegotiation off fec rs",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "both ends: autonegotiation off",
    },
    // The strongest transmitter over 24 km is 0.2 dB too strong; an attenuator of 1 dB is too much.
    Question {
        parts: "SFP+ 10GBASE-ER 24km OS2 10GBASE-ER SFP+",
        verdict: "works-if",
        code: 10,
        part: "",
        says: "",
    },
    // OM4 is not worse than OM3: the 1.5 dB belong to 150 m (D7).
    Question {
        parts: "QSFP+ 40GBASE-SR4 50m OM4 40GBASE-SR4 QSFP+",
        verdict: "works",
        code: 0,
        part: "",
        says: "",
    },
];

#[test]
fn questions_that_people_get_wrong() {
    for question in QUESTIONS {
        let (code, found) = plan(question.parts);
        let parts = question.parts;
        assert_eq!(found["verdict"], question.verdict, "{parts}: {found:#}");
        assert_eq!(code, question.code, "{parts}");
        let part = found["limited_by"].as_str().unwrap_or_default();
        assert_eq!(part, question.part, "{parts}: {found:#}");
        let first = found["findings"][0]["text"].as_str().unwrap_or_default();
        assert!(first.contains(question.says), "{parts}: {first}");
        for finding in found["findings"].as_array().unwrap() {
            assert_ne!(finding["source"], "", "{parts}: {finding}");
        }
        assert_eq!(
            found["speed_mbps"].is_null(),
            !(["works", "works-if"].contains(&question.verdict) || parts.contains("wanted"))
        );
    }
}

/// Three hosts, two switches, one slow uplink: it is the limit between the hosts on either side of
/// it, and not between the others.
#[test]
fn the_slow_uplink_is_named() {
    let output = run(&["plan", "--file", "fixtures/plan.toml", "--format", "json"]);
    let document = json(&output);
    let ways = document["ways"].as_array().unwrap();
    let limits: Vec<(&str, &str, u64, Option<&str>)> = ways
        .iter()
        .map(|way| {
            (
                way["from"].as_str().unwrap(),
                way["to"].as_str().unwrap(),
                way["ceiling_mbps"].as_u64().unwrap(),
                way["limited_by"].as_str(),
            )
        })
        .collect();
    assert_eq!(
        limits,
        [
            ("keel", "ballast", 25_000, None),
            ("keel", "sounder", 1000, Some("uplink")),
            ("ballast", "sounder", 1000, Some("uplink")),
        ]
    );
    let one = run(&["plan", "--file", "fixtures/plan.toml", "--between", "sounder", "keel"]);
    assert!(text(&one).contains("uplink SETS THE LIMIT"), "{}", text(&one));
    let none = run(&["plan", "--file", "fixtures/plan.toml", "--between", "keel", "sonder"]);
    assert!(complaint(&none).contains("sounder"), "{}", complaint(&none));
}

/// Reach of each medium by the tables 1.2, 1.3 and 2 of the media notes (T1, T6, T7, D1, D5, G1, E1
/// to E4, A3, D14; 1000BASE-LX10 and -BX10, 25GBASE-ER and category 7 and 8 from memory), metres.
const REACH: &[(u32, &str, &str, f64)] = &[
    (1000, "1000BASE-T", "Cat6", 100.0),
    (1000, "1000BASE-SX", "OM3", 550.0),
    (1000, "1000BASE-LX", "OS2", 5000.0),
    (1000, "1000BASE-LX10", "OS2", 10_000.0),
    (1000, "1000BASE-BX10-D", "OS2", 10_000.0),
    (10_000, "10GBASE-T", "Cat6", 37.0),
    (10_000, "10GBASE-T", "Cat6A", 100.0),
    (10_000, "10GBASE-T pluggable", "Cat6A", 30.0),
    (10_000, "10G direct attach", "twinax", 7.0),
    (10_000, "10GBASE-SR", "OM3", 300.0),
    (10_000, "10GBASE-LR", "OS2", 10_000.0),
    (10_000, "10GBASE-LRM", "OM3", 220.0),
    (25_000, "25GBASE-SR", "OM3", 70.0),
    (25_000, "25GBASE-SR", "OM4", 100.0),
    (25_000, "25GBASE-LR", "OS2", 10_000.0),
    (25_000, "25GBASE-T", "Cat8", 30.0),
];

/// What is suggested for 10 m, 60 m, 90 m, 250 m and 5 km at 1, 10 and 25G is all of what those
/// limits allow, and nothing else.
#[test]
fn suggestions_keep_the_published_limits() {
    for speed in [1000, 10_000, 25_000] {
        for metres in [10.0, 60.0, 90.0, 250.0, 5000.0] {
            let (length, rate) = (format!("{metres}m"), format!("{}G", speed / 1000));
            let output = run(&["plan", "--suggest", &length, &rate, "--format", "json"]);
            let document = json(&output);
            let mut found = Vec::new();
            for one in document["serve"].as_array().unwrap() {
                let name = one["interface_types"][0].as_str().unwrap();
                let grades = one["or_better"].as_array().unwrap().iter();
                for grade in grades.chain([&one["medium"]]).map(|grade| grade.as_str().unwrap()) {
                    found.push((name, grade));
                    let limit = REACH.iter().find(|(_, of, on, _)| *of == name && *on == grade);
                    if let Some((.., reach)) = limit {
                        assert!(metres <= *reach, "{name} on {grade} at {metres} m");
                    }
                }
            }
            for (_, name, grade, reach) in REACH.iter().filter(|(at, ..)| *at == speed) {
                // Loss rules before length here: 7 dB and more over 10 km with connectors.
                let fits = metres <= *reach;
                assert_eq!(
                    found.contains(&(name, grade)),
                    fits,
                    "{name} on {grade} at {metres} m: {found:?}"
                );
            }
            // Too strong for runs as short as these, and nothing else is that long.
            assert!(!found.iter().any(|(name, _)| name.ends_with("-ER")), "{found:?}");
            assert!(!found.is_empty(), "{metres} m at {speed}");
        }
    }
}

/// 10GBASE-ER over 20 km: 4.0 dBm sent, 20 km take 4.0 dB, -1.0 dBm taken: 1 dB too much; with it and
/// 9.5 dB at most it stays inside 10.9 dB (E4).
#[test]
fn light_that_is_too_strong_is_weakened_where_nothing_else_serves() {
    let output = run(&["plan", "--suggest", "20km", "10G", "--format", "json"]);
    let found = &json(&output)["serve"];
    assert_eq!(found[0]["interface_types"][0], "10GBASE-ER", "{found:#}");
    let fix = found[0]["planned"]["findings"][0]["do"].as_str().unwrap();
    assert!(fix.contains("attenuator of 1.0 dB"), "{fix}");
}

/// What is there is never dropped without a word, and not known is worse than to be seen to.
#[test]
fn what_is_there_is_told_of() {
    for (asked, wanted) in [
        (["60m", "5G", "Cat5e"], "5GBASE-T on Cat5e, which is there"),
        (["45m", "10G", "Cat6-assessed"], "10GBASE-T on Cat6-assessed, which is there"),
        (["60m", "10G", "Cat5e"], "10GBASE-T on Cat5e: "),
        (["6m", "100G", "OM4"], "but 6 m of direct-attach copper is longer than 100GBASE-CR4"),
    ] {
        let said = text(&run(&[&["plan", "--suggest"][..], &asked].concat()));
        let said: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(wanted), "{asked:?}: {said}");
    }
    let parts = "plan 10G RJ45 48m Cat6 10G RJ45 and gen1x1 10G RJ45 20m Cat6 10G RJ45";
    let output = run(&parts.split(' ').collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(30), "{}", text(&output));
}

/// A site that somebody draws wrong: a ring of switches, a port in two links, a link that will not
/// run, ends that take packets of other lengths.
#[test]
fn the_site_as_a_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plan.toml");
    let link = |name: &str, near: &str, far: &str, more: &str| {
        format!(
            "[[link]]\nname = \"{name}\"\nparts = \"SFP+ 10GBASE-SR 60m OM3 10GBASE-SR SFP+\"\n{more}\n\
             [link.near]\n{near}\n[link.far]\n{far}\n"
        )
    };
    let at = |device: &str, port: u32| format!("device = \"{device}\"\nport = \"{port}\"");
    let switches: String = ["quay", "slipway", "mole"]
        .map(|name| format!("[[device]]\nname = \"{name}\"\nswitch = true\n"))
        .concat();
    let ring = [
        link("a", &at("quay", 1), &at("slipway", 1), ""),
        link("b", &at("slipway", 2), &at("mole", 1), ""),
        link("c", &at("mole", 2), &at("quay", 2), ""),
        link("keel", &at("keel", 0), &at("quay", 3), "mtu_octets = 9000"),
        link("ballast", &at("ballast", 0), &at("quay", 3), "mtu_octets = 1500"),
        link("sounder", &at("sounder", 0), &at("mole", 9), "crossings = 2"),
    ];
    std::fs::write(&path, switches.clone() + &ring.concat()).unwrap();
    let file = path.to_str().unwrap();
    let output = run(&["plan", "--file", file]);
    let said = text(&output).replace("\n", " ");
    let said: String = said.split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "c closes a loop between mole and quay",
        "port 3 of quay is in two links: keel and ballast",
        "packets over 1500 octets are lost at ballast",
        "no way: keel to sounder, ballast to sounder",
    ] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    let dead = run(&["plan", "--file", file, "--between", "keel", "sounder"]);
    assert!(text(&dead).contains("NO WAY: sounder"), "{}", text(&dead));
    assert_eq!(dead.status.code(), Some(20));
    // A way is judged by its own links.
    let good = run(&["plan", "--file", file, "--between", "keel", "quay"]);
    assert_eq!(good.status.code(), Some(0), "{}", text(&good));
    let tree = switches + &ring[..2].concat();
    std::fs::write(&path, tree).unwrap();
    assert!(!text(&run(&["plan", "--file", file])).contains("loop"));
}

#[test]
fn fibre_between_buildings() {
    let output = run(&["plan", "--suggest", "60m", "1G", "between", "buildings"]);
    let text = text(&output);
    assert!(text.contains("isolation"), "{text}");
    assert!(text.contains("Local codes and licensed practice"), "{text}");
    let serve = text.split("Left out").next().unwrap();
    assert!(!serve.contains("1000BASE-T"), "{text}");
}

#[test]
fn what_is_not_understood_is_told() {
    for (arguments, says) in [
        (vec!["plan", "SFP28", "25GBASE-SX"], "did you mean 25GBASE-SR?"),
        (vec!["plan", "--suggest", "10G"], "how long"),
        (vec!["plan", "--file", "fixtures/plan.toml", "--link", "uplnk"], "did you mean uplink?"),
        (vec!["plan", "--file", "fixtures/site.toml"], "unknown field `port`"),
        (vec!["plan", "--file", "no-such-file.toml"], "cannot read"),
    ] {
        let output = run(&arguments);
        let file = arguments.contains(&"--file") && !arguments.contains(&"--link");
        let code = if file { 1 } else { 2 };
        assert_eq!(output.status.code(), Some(code), "{arguments:?}");
        assert!(complaint(&output).contains(says), "{arguments:?}: {}", complaint(&output));
    }
    assert_eq!(run(&["plan"]).status.code(), Some(2));
}

/// Several thousand links come out one by one, as one document that holds them all.
#[test]
fn many_links_are_one_document() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plan.toml");
    let mut file = String::new();
    for number in 0..3000 {
        file.push_str(&format!(
            "[[link]]\nname = \"berth-{number}\"\nparts = \"SFP+ 10GBASE-SR {}m OM3 10GBASE-SR SFP+\"\n",
            number % 400
        ));
    }
    std::fs::write(&path, file).unwrap();
    let path = path.to_str().unwrap();
    let output = run(&["plan", "--file", path, "--format", "json"]);
    let document = json(&output);
    let links = document["links"].as_array().unwrap();
    assert_eq!(links.len(), 3000);
    assert_eq!(links[2999]["name"], "berth-2999");
    let lines = run(&["plan", "--file", path, "--format", "ndjson"]);
    let kinds = |kind: &str| text(&lines).lines().filter(|line| line.contains(kind)).count();
    assert_eq!(kinds("\"kind\":\"link\""), 3000);
    assert_eq!(kinds("\"kind\":\"site\""), 1);
    assert_eq!(text(&lines).lines().count(), 3001);
    // 300 m is the last length that is specified (D1): of 400 lengths 301 are.
    let covered = links.iter().filter(|link| link["verdict"] == "works").count();
    assert!(covered > 2000 && covered < 3000, "{covered}");
}

/// What stands in a plan is text of somebody else: nothing of it reaches the terminal raw.
#[test]
fn a_hostile_plan_is_harmless() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plan.toml");
    std::fs::write(&path, "[[link]]\nname = \"\\u001b[2Jevil\"\nlength_m = 1e6\nmedium='OM3'\n[link.near]\ndevice='a\\u001b]0;x'\nmodule='10GBASE-SR'\n").unwrap();
    for format in ["text", "json", "ndjson"] {
        let output = run(&["plan", "--file", path.to_str().unwrap(), "--format", format]);
        assert!(!output.stdout.contains(&0x1b), "{format}: {}", text(&output));
    }
}
