//! What several commands share: where facts come from, and what the user knows.

use std::path::PathBuf;

use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};

use crate::chain::far as far_end;
use crate::cli::Out;
use crate::diagnose::{Diagnosis, Knowledge, PortDiagnosis, Told, diagnose, diagnose_port};
use crate::observe::{capture, live};
use crate::render::json;
use crate::site::Site;
use crate::snapshot::{Host, Port, Snapshot};

/// Where facts come from.
#[derive(Debug, Args)]
pub struct Source {
    /// Replay a capture, or a folder of captures, instead of looking at this host
    #[arg(long, value_name = "FILE|DIR")]
    pub from: Option<PathBuf>,
    /// Seconds between the two instants that give rates; 0 takes one instant and no rates
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = seconds)]
    pub seconds: f64,
}

/// Whether to listen for neighbours.
#[derive(Debug, Args)]
pub struct Listen {
    /// Seconds to listen for what the far end announces of itself (IEEE 802.1AB, most do so every
    /// 30 s); 0 does not listen. It sends nothing
    #[arg(long, value_name = "SECONDS", default_value_t = 0, conflicts_with = "from",
          value_parser = clap::value_parser!(u16).range(0..=i64::from(live::LONGEST_LISTENING)))]
    pub listen: u16,
}

/// What the user knows.
#[derive(Debug, Args)]
pub struct Known {
    /// What you know of your links: medium, length, intended speed, far end (TOML)
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// The far end's capture
    #[arg(long, value_name = "FILE")]
    pub far: Option<PathBuf>,
    /// Which port of the far end's capture is at the other end
    #[arg(long, value_name = "PORT", requires = "far")]
    pub far_port: Option<String>,
}

/// Form of the output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people
    Text,
    /// One JSON document
    Json,
    /// One JSON line a port
    Ndjson,
}

pub fn seconds(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "give a number of seconds, such as 1 or 0.5")?;
    if (0.0..=86_400.0).contains(&seconds) {
        Ok(seconds)
    } else {
        Err("give between 0 and 86400 seconds".into())
    }
}

impl Source {
    /// What to look at on this host.
    pub fn wanted(&self, ports: &[String]) -> live::Wanted {
        live::Wanted {
            ports: ports.to_vec(),
            seconds: self.seconds,
            modules: true,
            kernel_log: true,
            listen: 0,
            // Of every port of a host they would be much to ask for a line each.
            private_counters: false,
            versions: false,
        }
    }

    /// Takes the facts: of the named ports, or of all. Ports that are not there are an error
    /// that names near ones. With `listen` seconds also what neighbours announce, with `drivers`
    /// what drivers alone tell: what they count under names of their own, and versions.
    pub fn take(
        &self,
        ports: &[String],
        listen: u16,
        drivers: bool,
        out: &Out,
    ) -> anyhow::Result<Vec<Snapshot>> {
        let snapshots = match &self.from {
            Some(path) => capture::load(path)?,
            None => {
                let wanted = live::Wanted {
                    listen,
                    private_counters: drivers,
                    versions: drivers,
                    ..self.wanted(ports)
                };
                let looked = live::look(&wanted, &mut |text| out.progress().show(text));
                out.progress().show("");
                vec![found(looked)?]
            }
        };
        if ports.is_empty() {
            return Ok(snapshots);
        }
        choose(snapshots, ports)
    }
}

/// What was seen; a port that is not there is told with the name that was most likely meant.
pub fn found(looked: Result<Snapshot, live::LookError>) -> anyhow::Result<Snapshot> {
    looked.map_err(|error| match &error {
        live::LookError::NoSuchPort { name, there } => {
            let near = nearest(name, there.iter().map(|one| (one.as_str(), one.as_str())));
            let meant = near.map(|near| format!("did you mean {near}? "));
            let text = format!("{}{error}", meant.unwrap_or_default());
            anyhow::Error::msg(crate::render::clean(&text).into_owned())
        }
        _ => error.into(),
    })
}

/// A port by name, or by `host/name` where several captures are at hand.
fn is_meant(host: &str, port: &Port, wanted: &str) -> bool {
    port.answers_to(wanted)
        || wanted.split_once('/').is_some_and(|(on, name)| on == host && port.answers_to(name))
}

fn choose(snapshots: Vec<Snapshot>, wanted: &[String]) -> anyhow::Result<Vec<Snapshot>> {
    for name in wanted {
        let hosts: Vec<&str> = snapshots
            .iter()
            .filter(|snapshot| {
                snapshot.ports.iter().any(|port| is_meant(&snapshot.host.name, port, name))
            })
            .map(|snapshot| snapshot.host.name.as_str())
            .collect();
        match hosts.as_slice() {
            [] => bail!(no_such_port(&snapshots, name)),
            [_] => {}
            several => bail!(
                "port {name} is on several hosts here ({}); name one as HOST/{name}",
                several.join(", ")
            ),
        }
    }
    Ok(snapshots
        .into_iter()
        .map(|mut snapshot| {
            let host = snapshot.host.name.clone();
            snapshot.ports.retain(|port| wanted.iter().any(|name| is_meant(&host, port, name)));
            snapshot
        })
        .filter(|snapshot| !snapshot.ports.is_empty())
        .collect())
}

/// What was most likely meant by a word, among (spelling, what to show): the one that is most
/// like it, if it is like it at all.
pub fn nearest<'a, S: AsRef<str>>(
    word: &str,
    known: impl IntoIterator<Item = (S, &'a str)>,
) -> Option<&'a str> {
    /// From here on (of 1) two words are taken for the same one mistyped.
    const ALIKE: f64 = 0.75;
    // A name longer than any is no typing error, and comparing takes the product of the lengths.
    if word.len() > 256 {
        return None;
    }
    known
        .into_iter()
        .filter(|(spelling, _)| spelling.as_ref().len() <= 256)
        .map(|(spelling, shown)| {
            (strsim::normalized_damerau_levenshtein(word, spelling.as_ref()), shown)
        })
        .filter(|(alike, _)| *alike >= ALIKE)
        // The first of several that are equally near.
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
        .map(|(_, shown)| shown)
}

fn no_such_port(snapshots: &[Snapshot], name: &str) -> String {
    let several = snapshots.len() > 1;
    let names: Vec<String> = snapshots
        .iter()
        .flat_map(|snapshot| {
            snapshot.ports.iter().map(move |port| {
                if several {
                    format!("{}/{}", snapshot.host.name, port.name)
                } else {
                    port.name.clone()
                }
            })
        })
        .collect();
    let mut message = format!("there is no port {name:?} here. ");
    // With several hosts a bare name is as near as its name behind the host's.
    let bare = |full: &str| {
        let inner = full.rsplit_once('/').filter(|_| !name.contains('/'));
        inner.map_or_else(|| full.to_owned(), |(_, bare)| bare.to_owned())
    };
    if let Some(near) = nearest(name, names.iter().map(|full| (bare(full), full.as_str()))) {
        message.push_str(&format!("Did you mean {near}? "));
    }
    if names.is_empty() {
        message.push_str("The capture holds no ports at all.");
    } else {
        let shown: Vec<&str> = names.iter().map(String::as_str).take(20).collect();
        message.push_str(&format!("Ports: {}", shown.join(", ")));
        if names.len() > shown.len() {
            message.push_str(&format!(" and {} more", names.len() - shown.len()));
        }
        message.push_str(". List them with: linkwright survey");
    }
    crate::render::clean(&message).into_owned()
}

/// Files of what the user knows, read.
pub struct Knowing {
    site: Option<Site>,
    far: Option<Snapshot>,
    far_port: Option<String>,
    /// What the user says is wrong.
    pub told: Option<Told>,
}

impl Known {
    /// Reads the files.
    pub fn read(&self) -> anyhow::Result<Knowing> {
        let site = self.site.as_deref().map(capture::load_site).transpose()?;
        let far = match &self.far {
            None => None,
            Some(path) => {
                let mut far = capture::load(path)?;
                if far.len() != 1 {
                    bail!("--far takes one capture, and {} holds {}", path.display(), far.len());
                }
                let far = far.pop();
                if let (Some(far), Some(name)) = (&far, &self.far_port) {
                    // Told before anything is looked at.
                    far_end::far_port(far, Some(name)).map_err(anyhow::Error::msg)?;
                }
                far
            }
        };
        Ok(Knowing { site, far, far_port: self.far_port.clone(), told: None })
    }
}

impl Knowing {
    /// Diagnoses every port of a snapshot.
    pub fn diagnose<'a>(&self, snapshot: &'a Snapshot) -> anyhow::Result<Diagnosis<'a>> {
        diagnose(snapshot, self.knowledge()).map_err(anyhow::Error::msg)
    }

    /// Diagnoses one port.
    pub fn diagnose_port(&self, host: &Host, port: &Port) -> anyhow::Result<PortDiagnosis> {
        diagnose_port(host, port, self.knowledge()).map_err(anyhow::Error::msg)
    }

    fn knowledge(&self) -> Knowledge<'_> {
        Knowledge {
            site: self.site.as_ref(),
            far: self.far.as_ref(),
            far_port: self.far_port.as_deref(),
            told: self.told,
        }
    }
}

/// Writes one port's diagnosis as a line of JSON.
pub fn write_line(
    host: &Host,
    seen: &Port,
    found: &PortDiagnosis,
    out: &mut Out,
) -> anyhow::Result<()> {
    let mut value = json::port(seen, found);
    if let Some(object) = value.as_object_mut() {
        object.insert("host".into(), host.name.clone().into());
    }
    out.write(&json::to_string(&value, false).context(NO_JSON)?)?;
    Ok(())
}

const NO_JSON: &str = "could not write JSON";

/// Writes diagnoses in one of the JSON forms.
pub fn write_json(
    diagnoses: &[Diagnosis<'_>],
    format: Format,
    out: &mut Out,
) -> anyhow::Result<()> {
    if format == Format::Ndjson {
        for diagnosis in diagnoses {
            for (seen, found) in diagnosis.snapshot.ports.iter().zip(&diagnosis.ports) {
                write_line(&diagnosis.snapshot.host, seen, found, out)?;
            }
        }
        return Ok(());
    }
    let documents: Vec<_> = diagnoses.iter().map(json::document).collect();
    let text = match documents.as_slice() {
        [document] => json::to_string(document, true),
        several => json::to_string(&several, true),
    };
    out.write(&text.context(NO_JSON)?)?;
    Ok(())
}
