//! `decode`: a bare module image into identity, readings, limits.

use std::path::PathBuf;

use anyhow::{Context as _, bail};
use clap::Args;

use crate::cli::common::Format;
use crate::cli::{Out, Outcome};
use crate::module::Memory;
use crate::observe::capture::read_bounded;
use crate::render::{decode, json};
use crate::snapshot::Fact;

/// A module's memory image into identity, readings, limits and margins
#[derive(Debug, Args)]
#[command(after_help = "The image is binary, or text of hex digits with comments behind #. Its \
    first byte tells the family, and so the order of the stretches of 128 bytes:\n\n  \
    SFP, SFP+, SFP28 (SFF-8472)   address A0h, then address A2h:\n                                \
    256 or 512 bytes\n  \
    QSFP+, QSFP28 (SFF-8636)      lower memory, then pages 00h to 03h:\n                                \
    256 or 640 bytes\n  \
    QSFP-DD, OSFP, SFP-DD (CMIS)  lower memory, then pages 00h to 11h:\n                                \
    256 or 2432 bytes; for more than eight\n                                \
    lanes then pages 10h and 11h of banks 1,\n                                \
    2 and 3: 256 bytes a bank\n\n\
    A page that was not read is filled with 00h; a shorter image is one whose end is not \
    known.\n\nExample:\n  linkwright decode fixtures/modules/northlight-100g-sr4-weak-lane.bin")]
pub struct Arguments {
    /// Image: binary, or hex text
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// How large an image is: the longest of the help above, and text takes a few characters a byte.
const USUAL: &str = "a module's memory image has a few thousand bytes";

/// Runs it.
///
/// # Errors
/// The file cannot be read, or is no module image.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let bytes = read_bounded(&arguments.file, USUAL)?;
    let shown = || format!("{} is no module image", arguments.file.display());
    let (memory, laid_out) = Memory::from_file(&bytes).with_context(shown)?;
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
