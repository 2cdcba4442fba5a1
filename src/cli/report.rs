//! `report`: one page for a supplier's engineer, which is a capture too.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, bail};
use clap::{Args, ValueEnum};

use crate::cli::common::{Known, Listen, Source};
use crate::cli::explain::which_port;
use crate::cli::write::Output;
use crate::cli::{Out, Outcome};
use crate::render::json;
use crate::report::redact::{Keep, redact_knowing};
use crate::report::{build, enclosed, html, markdown, text};

/// One page about ports, to go with a support request: what is wrong, how that is known, what to do
/// next. Who opens it needs no tool; who has this one reads it like a capture
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  linkwright report fibre0 -o fibre0.html\n  linkwright report \
    fibre0 --seconds 60 --tried \"cleaned both ends\" --tried \"changed the cord\" -o fibre0.html\n  \
    linkwright report fibre0 --far far.json --keep serials -o fibre0.html\n  linkwright report --all \
    --from host.json -o host.html\n  linkwright report fibre0 -o fibre0.md\n  linkwright explain \
    --from fibre0.html\n\nSerial numbers, addresses and host names are replaced by stand-ins, one for \
    each thing, everywhere in the page and in the facts inside it; --keep leaves them. Makers, part \
    numbers, versions and kernel log lines stay: look through it before you hand it on.\n\nExit \
    codes: 0 written, 1 the tool failed, 2 wrong usage. The verdict is in the page."
)]
pub struct Arguments {
    /// Ports to report on: a name, or HOST/NAME in a folder of captures; may be left out for a
    /// capture of a single port
    #[arg(value_name = "PORT", required_unless_present_any = ["from", "all"])]
    ports: Vec<String>,
    /// Report on every port
    #[arg(long, conflicts_with = "ports")]
    all: bool,
    /// File to write; - is the standard output
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Overwrite a file that exists
    #[arg(long)]
    force: bool,
    /// Form of the report; by itself html, or what the file's name ends in: .md, .txt or .json
    #[arg(long, value_name = "FORM")]
    format: Option<Form>,
    /// What is not replaced by stand-ins (several: with commas between them)
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    keep: Vec<Kept>,
    /// What is replaced as well
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    hide: Vec<Hidden>,
    /// Something that was tried already; may be given several times
    #[arg(long, value_name = "TEXT")]
    tried: Vec<String>,
    /// Something else that the reader should know; may be given several times
    #[arg(long, value_name = "TEXT")]
    note: Vec<String>,
    #[command(flatten)]
    source: Source,
    #[command(flatten)]
    listen: Listen,
    #[command(flatten)]
    known: Known,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A page for any browser, with the facts inside
    Html,
    /// For tickets and forums
    Markdown,
    /// For mail
    Text,
    /// For programs
    Json,
}

impl Form {
    fn of(path: &Path) -> Self {
        let ending = path.extension().and_then(|ending| ending.to_str());
        match ending.map(str::to_ascii_lowercase).as_deref() {
            Some("md") => Self::Markdown,
            Some("txt") => Self::Text,
            Some("json") => Self::Json,
            _ => Self::Html,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Kept {
    /// Serial numbers of modules and cables
    Serials,
    /// MAC and IP addresses
    Addresses,
    /// Names of hosts and devices
    Hosts,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Hidden {
    /// Names of interfaces
    Interfaces,
}

/// Runs it.
///
/// # Errors
/// What kept it from looking or writing.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let output = Output::at(&arguments.output, arguments.force)?;
    let form = arguments.format.unwrap_or_else(|| Form::of(&arguments.output));
    let mut knowing = arguments.known.read(out)?;
    knowing.remember = true;
    let listen = arguments.listen.listen;
    let chosen = knowing.take(&arguments.source, &arguments.ports, listen, true, out)?;
    let names: Vec<&str> =
        chosen.iter().flat_map(|one| &one.ports).map(|port| port.name.as_str()).collect();
    if names.is_empty() || (arguments.ports.is_empty() && !arguments.all && names.len() != 1) {
        bail!(which_port("report", &names, arguments.source.from.as_deref()));
    }
    knowing.hint(&chosen, &arguments.ports, out);
    out.progress().show("putting the report together");
    let (mut material, count) = knowing.material(&chosen)?;
    material.said = lines(&arguments.tried);
    let tried = material.said.len();
    material.said.extend(lines(&arguments.note));
    let keep = Keep {
        serials: arguments.keep.contains(&Kept::Serials),
        addresses: arguments.keep.contains(&Kept::Addresses),
        hosts: arguments.keep.contains(&Kept::Hosts),
        interfaces: !arguments.hide.contains(&Hidden::Interfaces),
    };
    let redacted = redact_knowing(material, knowing.names(), &keep).map_err(anyhow::Error::msg)?;
    let (knowing, snapshots) = knowing.about(&redacted.material, count)?;
    let diagnoses = snapshots
        .iter()
        .map(|snapshot| knowing.diagnose(snapshot))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let (data, sum) =
        enclosed::write(&redacted.material, count).context("cannot write the facts")?;
    let (tried, notes) = redacted.material.said.split_at(tried);
    let told = build::Told { tried, notes };
    let report = build::report(&diagnoses, &redacted, &told, &sum);
    let page = match form {
        Form::Html => html::page(&report, &data),
        Form::Markdown => markdown::page(&report),
        Form::Text => text::page(&report),
        Form::Json => json::to_string(&report, true).context("cannot write the report")?,
    };
    out.progress().show("");
    output.write(&page, names.len(), out)?;
    Ok(Outcome::NOTHING)
}

/// What the user says, line by line.
fn lines(texts: &[String]) -> Vec<String> {
    let lines = texts.iter().flat_map(|text| text.lines());
    lines.map(|line| line.trim().to_owned()).filter(|line| !line.is_empty()).collect()
}
