//! `capture`: save what was seen, to replay anywhere.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::Args;

use crate::cli::common::{Listen, Source};
use crate::cli::{Out, Outcome};
use crate::render::json;
use crate::snapshot::Snapshot;

/// Save what is seen of this host's ports, to replay anywhere with --from
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  linkwright capture -o keel.json\n  linkwright capture \
    fibre0 --seconds 10 -o fibre0.json\n\nA capture holds MAC addresses, serial numbers and \
    kernel log lines of this host: look through it before you hand it on.")]
pub struct Arguments {
    /// Ports to capture; all of them if none is named
    #[arg(value_name = "PORT")]
    ports: Vec<String>,
    #[command(flatten)]
    source: Source,
    #[command(flatten)]
    listen: Listen,
    /// File to write; - is the standard output
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Overwrite a file that exists
    #[arg(long)]
    force: bool,
}

/// Runs it.
///
/// # Errors
/// What kept it from looking or writing.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let stdout = arguments.output == Path::new("-");
    if !stdout && !arguments.force && arguments.output.exists() {
        bail!("{} exists already; use --force to overwrite it", arguments.output.display());
    }
    let snapshots = arguments.source.take(&arguments.ports, arguments.listen.listen, true, out)?;
    let [snapshot] = snapshots.as_slice() else {
        bail!("a capture is of one host; --from holds {}", snapshots.len());
    };
    if stdout {
        out.write(&json::to_string(snapshot, true)?)?;
    } else {
        write_capture(snapshot, &arguments.output)?;
        let ports = snapshot.ports.len();
        out.write(&format!(
            "wrote {} ({ports} port{})\n",
            arguments.output.display(),
            if ports == 1 { "" } else { "s" }
        ))?;
    }
    Ok(Outcome::NOTHING)
}

/// Writes a capture beside its place and then moves it there, so that no half file is left.
pub fn write_capture(snapshot: &Snapshot, path: &Path) -> anyhow::Result<()> {
    let text = json::to_string(snapshot, true)?;
    let mut beside = path.as_os_str().to_owned();
    beside.push(".part");
    let beside = PathBuf::from(beside);
    fs::write(&beside, text).with_context(|| format!("cannot write {}", path.display()))?;
    fs::rename(&beside, path).with_context(|| format!("cannot write {}", path.display()))?;
    Ok(())
}
