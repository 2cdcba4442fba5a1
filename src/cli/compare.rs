//! `compare`: what changed on a host since a capture was taken.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::Args;

use crate::cli::common::{Format, Known, load, seconds};
use crate::cli::{Out, Outcome};
use crate::diagnose::Verdict;
use crate::diagnose::changes;
use crate::observe::live;
use crate::render::{compare, json};
use crate::snapshot::Snapshot;

/// What changed since it worked: module, light, settings, firmware, errors, between two captures of a host
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  linkwright compare keel-in-spring.json\n  linkwright compare \
    keel-in-spring.json keel-today.json --port fibre0\n\nExit codes: 0 nothing changed, 1 the tool \
    failed, 2 wrong usage, 10 something did. Take a capture while all is well: linkwright capture"
)]
pub struct Arguments {
    /// Capture of the time when it worked
    #[arg(value_name = "THEN")]
    before: PathBuf,
    /// Capture of now; this host as it is, if it is left out
    #[arg(value_name = "NOW")]
    after: Option<PathBuf>,
    /// Only this port; may be given several times
    #[arg(long = "port", value_name = "PORT")]
    ports: Vec<String>,
    /// Seconds between the two instants of a live look
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = seconds)]
    seconds: f64,
    /// What you know of your links: medium, length, intended speed, far end (TOML)
    #[arg(long, value_name = "FILE")]
    site: Option<PathBuf>,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// Runs it.
///
/// # Errors
/// A capture cannot be read, or the two are of different hosts.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let known = Known { site: arguments.site.clone(), far: None, far_port: None };
    let knowing = known.read(out)?;
    let mut before = single(&arguments.before, out)?;
    let mut after = match &arguments.after {
        Some(path) => single(path, out)?,
        None => {
            let wanted = live::Wanted {
                ports: Vec::new(),
                seconds: arguments.seconds,
                modules: true,
                kernel_log: true,
                listen: 0,
                private_counters: false,
                readings_over_time: false,
                versions: true,
            };
            let progress = out.progress();
            let looked = live::look(&wanted, &mut |text| progress.show(text));
            progress.show("");
            looked?
        }
    };
    if before.host.name != after.host.name {
        bail!(
            "these are two hosts: {} then, {} now. For the two ends of a link: linkwright explain \
             PORT --far FILE",
            crate::render::clean(&before.host.name),
            crate::render::clean(&after.host.name)
        );
    }
    if !arguments.ports.is_empty() {
        for name in &arguments.ports {
            if ![&before, &after].iter().any(|one| one.ports.iter().any(|p| p.answers_to(name))) {
                bail!("there is no port {:?} then or now", crate::render::clean(name));
            }
        }
        for snapshot in [&mut before, &mut after] {
            let wanted = &arguments.ports;
            snapshot.ports.retain(|port| wanted.iter().any(|name| port.answers_to(name)));
        }
    }
    knowing.hint([&before, &after], &arguments.ports, out);
    let (then, now) = (knowing.diagnose(&before)?, knowing.diagnose(&after)?);
    let ports = changes::compare(&then, &now);
    match arguments.format {
        Format::Text => out.write(&compare::compare(&before, &after, &ports, out.style))?,
        format => {
            let value = compare::json(&before, &after, &ports);
            out.write(&json::to_string(&value, format == Format::Json)?)?;
        }
    }
    let changed =
        ports.iter().any(compare::is_changed) || compare::kernels(&before, &after).is_some();
    Ok(Outcome::of(changed.then_some(Verdict::Attention)))
}

fn single(path: &Path, out: &Out) -> anyhow::Result<Snapshot> {
    let mut all = load(path, out)?.snapshots;
    match (all.pop(), all.is_empty()) {
        (Some(one), true) => Ok(one),
        _ => bail!("{} does not hold one capture; name one file", path.display()),
    }
}
