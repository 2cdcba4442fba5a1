//! `decode`: a bare module image into identity, readings, limits.

use std::path::PathBuf;

use anyhow::bail;
use clap::Args;

use crate::cli::common::Format;
use crate::cli::{Out, Outcome};
use crate::module::Memory;
use crate::observe::capture::read_bounded;
use crate::render::{decode, json};
use crate::snapshot::Fact;

/// A module's memory image into identity, readings, limits and margins
#[derive(Debug, Args)]
#[command(after_help = "The image is binary, or text of hex digits. SFP, SFP+ and SFP28: 256 \
    bytes (identity) or 512 bytes (identity, then diagnostics).\n\nExample:\n  linkwright decode \
    fixtures/modules/kestrel-10g-sr.bin")]
pub struct Arguments {
    /// Image: binary, or hex text
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// Runs it.
///
/// # Errors
/// The file cannot be read, or is no module image.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let bytes = read_bounded(&arguments.file)?;
    let (memory, laid_out) = Memory::from_file(&bytes)?;
    let module = match memory.decode() {
        Fact::Known(module) => module,
        Fact::Missing(why) => bail!("{} cannot be decoded: {why}", arguments.file.display()),
    };
    let text = match arguments.format {
        Format::Text => decode::text(&module, &laid_out, out.style),
        format => json::to_string(&decode::json(&module, &laid_out), format == Format::Json)?,
    };
    out.write(&text)?;
    Ok(Outcome::NOTHING)
}
