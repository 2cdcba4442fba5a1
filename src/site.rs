//! What the user knows and no host can tell: the site file.
//!
//! In: the text of a TOML file. Out: [`Site`], or an error that points at the line. Pure.

use std::collections::HashSet;

use serde::{Deserialize, Serialize};

use crate::standards::media::Grade;

/// The site file.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct Site {
    /// One entry a port that the user has something to say about.
    pub port: Vec<SitePort>,
}

/// What the user knows of one port and the link on it.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct SitePort {
    /// Host name; without it the entry holds for any host.
    pub host: Option<String>,
    /// Interface name or alternative name.
    pub name: String,
    /// Grade of the medium: `OM3`, `OS2`, `Cat6A`, `twinax`, ...
    pub medium: Option<String>,
    /// Length of the run, metres.
    pub length_m: Option<f64>,
    /// Mated connector pairs between the two modules.
    pub connectors: Option<u32>,
    /// Strands of fibre that the link uses: 1 where both directions share one.
    pub strands: Option<u32>,
    /// Splices.
    pub splices: Option<u32>,
    /// Speed that this link is meant to run at.
    pub intended_mbps: Option<u32>,
    /// Receive power of an earlier day, when the link was well, dBm.
    pub rx_power_before_dbm: Option<f64>,
    /// Whether the received light changes when the cord is moved gently.
    pub changes_when_moved: Option<bool>,
    /// Whether the port is meant to be in use.
    pub in_use: Option<bool>,
    /// Judge this interface as a physical port although software made it (test devices).
    pub physical: Option<bool>,
    /// The far end.
    pub far: SiteFar,
}

/// What the user knows of the far end.
#[derive(Debug, Clone, PartialEq, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields, default)]
pub struct SiteFar {
    /// Host or switch.
    pub host: Option<String>,
    /// Port there.
    pub port: Option<String>,
    /// Best speed that port can do.
    pub best_mbps: Option<u32>,
    /// Whether that port is switched on (administratively up).
    pub admin_up: Option<bool>,
    /// Whether its transmitter sends.
    pub transmits: Option<bool>,
    /// Power it sends, dBm.
    pub tx_power_dbm: Option<f64>,
    /// Power it receives, dBm.
    pub rx_power_dbm: Option<f64>,
    /// Whether light arrives there.
    pub receives_light: Option<bool>,
    /// FEC code set or active there: `rs`, `base-r`, `none`.
    pub fec: Option<String>,
    /// Interface type of the module there (`25GBASE-SR`).
    pub module: Option<String>,
    /// Most octets of payload a frame may have there (MTU, without the Ethernet header).
    pub mtu_octets: Option<u32>,
    /// Speed that port is set to, Mb/s, where it does not negotiate one.
    pub set_mbps: Option<u32>,
    /// Whether autonegotiation is switched on there.
    pub autonegotiation: Option<bool>,
    /// True if it runs half duplex.
    pub half_duplex: Option<bool>,
    /// Lanes that port runs on: 1 for a leg of a port that is split.
    pub lanes: Option<u32>,
    /// Wavelength that the module there sends at, nm (its label tells).
    pub wavelength_nm: Option<f64>,
}

impl Site {
    /// Reads a site file.
    ///
    /// # Errors
    /// What does not fit, with line and column; or a value that cannot be (a negative length,
    /// an unknown medium, a port named twice).
    pub fn parse(text: &str) -> Result<Self, String> {
        toml::from_str::<Self>(text).map_err(|error| error.to_string())?.checked()
    }

    /// The same, if its values can be.
    ///
    /// # Errors
    /// A value that cannot be, as for [`Site::parse`].
    pub fn checked(self) -> Result<Self, String> {
        let mut seen = HashSet::new();
        for (place, port) in self.port.iter().enumerate() {
            let name = &port.name;
            if name.is_empty() {
                return Err(format!("[[port]] number {} has no `name`", place + 1));
            }
            if let Some(medium) = &port.medium
                && Grade::parse(medium).is_none()
            {
                let names: Vec<&str> = Grade::NAMES.iter().map(|(_, name)| *name).collect();
                let near = Grade::alike(medium);
                let near = if near.is_empty() {
                    String::new()
                } else {
                    format!("did you mean {}? ", near.join(" or "))
                };
                return Err(format!(
                    "port {name}: medium {medium:?} is not known; {near}write one of {}",
                    names.join(", ")
                ));
            }
            if port.length_m.is_some_and(|length| !(0.0..=200_000.0).contains(&length)) {
                return Err(format!("port {name}: length_m must be between 0 and 200000 metres"));
            }
            for (field, power) in
                [("tx_power_dbm", port.far.tx_power_dbm), ("rx_power_dbm", port.far.rx_power_dbm)]
            {
                if power.is_some_and(|power| !(-60.0..=30.0).contains(&power)) {
                    return Err(format!("port {name}: far {field} must be between -60 and 30 dBm"));
                }
            }
            // Of RFC 791, every internet module must take 68 octets; 65535 is an IP packet's most.
            if port.far.mtu_octets.is_some_and(|mtu| !(68..=65_535).contains(&mtu)) {
                return Err(format!("port {name}: far mtu_octets must be between 68 and 65535"));
            }
            if port.rx_power_before_dbm.is_some_and(|power| !(-60.0..=30.0).contains(&power)) {
                return Err(format!("port {name}: rx_power_before_dbm must be between -60 and 30"));
            }
            if port.strands == Some(0) {
                return Err(format!("port {name}: strands must be 1 or more"));
            }
            if port.far.wavelength_nm.is_some_and(|nm| !(700.0..=1700.0).contains(&nm)) {
                return Err(format!("port {name}: far wavelength_nm must be between 700 and 1700"));
            }
            if let Some(fec) = &port.far.fec
                && !["rs", "base-r", "ll-rs", "none"].contains(&fec.as_str())
            {
                return Err(format!(
                    "port {name}: far fec {fec:?} is not known; write rs, base-r, ll-rs or none"
                ));
            }
            if !seen.insert((name, &port.host)) {
                return Err(format!("port {name} has two entries for the same host"));
            }
        }
        Ok(self)
    }

    /// The entry for a port: one that names the host wins over one that does not.
    pub fn port(&self, host: &str, names: &[&str]) -> Option<&SitePort> {
        let fits = |port: &&SitePort| names.contains(&port.name.as_str());
        self.port
            .iter()
            .filter(fits)
            .find(|port| port.host.as_deref() == Some(host))
            .or_else(|| self.port.iter().filter(fits).find(|port| port.host.is_none()))
    }
}

impl SitePort {
    /// Name for people: `keel/shed0`, or `shed0` where it holds for any host.
    pub fn label(&self) -> String {
        self.host.as_ref().map_or_else(|| self.name.clone(), |host| format!("{host}/{}", self.name))
    }

    /// Grade of the medium.
    pub fn grade(&self) -> Option<Grade> {
        self.medium.as_deref().and_then(Grade::parse)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_medium_that_is_nearly_one_is_suggested() {
        let said = |medium: &str| {
            Site::parse(&format!("[[port]]\nname='a'\nmedium='{medium}'")).unwrap_err()
        };
        assert!(said("cat5").contains("did you mean Cat5e? "), "{}", said("cat5"));
        assert!(said("Cat 6A U/FTP").contains("did you mean Cat6 or Cat6A? "));
        assert!(!said("string").contains("did you mean"));
    }

    #[test]
    fn reads_and_refuses() {
        let site = Site::parse(
            "[[port]]\nname='fibre0'\nhost='keel'\nmedium='om3'\nlength_m=60\n[port.far]\nbest_mbps=10000\n",
        )
        .unwrap();
        let port = site.port("keel", &["fibre0"]).unwrap();
        assert_eq!(port.grade(), Some(Grade::Om3));
        assert_eq!(port.far.best_mbps, Some(10_000));
        assert!(site.port("ballast", &["fibre0"]).is_none());
        for bad in [
            "[[port]]\nname='a'\nmedium='string'",
            "[[port]]\nname='a'\nlength_m=-1",
            "[[port]]\nname='a'\nlength_m=nan",
            "[[port]]\nname='a'\nrx_power_before_dbm=nan",
            "[[port]]\nname='a'\nstrands=0",
            "[[port]]\nname='a'\n[port.far]\nwavelength_nm=1.31",
            "[[port]]\nname='a'\nspeed=1",
            "[[port]]\nname='a'\n[port.far]\nmtu_octets=0",
            "[[port]]\nhost='a'",
            "[[port]]\nname='a'\n[[port]]\nname='a'",
            "port = 3",
        ] {
            assert!(Site::parse(bad).is_err(), "{bad}");
        }
    }

    /// The README's site file holds every key and names every medium, and can be read.
    #[test]
    fn the_readme_tells_every_key_and_medium() {
        let readme = include_str!("../README.md");
        let example = readme.split("```toml\n").nth(1).unwrap().split("```").next().unwrap();
        let site = Site::parse(example).unwrap();
        // Every field that is left out of the example stays null here.
        let told = serde_json::to_value(&site.port[0]).unwrap();
        let all = told.as_object().unwrap().iter();
        let all = all.chain(told["far"].as_object().unwrap());
        for (key, value) in all {
            assert!(!value.is_null(), "the README does not show {key}");
        }
        let list = readme.split("`medium` is one of").nth(1).unwrap();
        let list = list.split("\n\n").next().unwrap();
        for (_, name) in Grade::NAMES {
            assert!(list.contains(&format!("`{name}`")), "the README does not name {name}");
        }
    }
}
