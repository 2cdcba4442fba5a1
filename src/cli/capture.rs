//! `capture`: save what was seen, to replay anywhere.

use std::path::PathBuf;

use anyhow::bail;
use clap::Args;

use crate::cli::common::{Listen, Source};
use crate::cli::write::Output;
use crate::cli::{Out, Outcome};
use crate::render::json;

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
    let output = Output::at(&arguments.output, arguments.force)?;
    let snapshots = arguments.source.take(&arguments.ports, arguments.listen.listen, true, out)?;
    let [snapshot] = snapshots.as_slice() else {
        bail!("a capture is of one host; --from holds {}", snapshots.len());
    };
    output.write(&json::to_string(snapshot, true)?, snapshot.ports.len(), out)?;
    Ok(Outcome::NOTHING)
}
