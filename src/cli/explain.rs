//! `explain`: one port, whole. The main job.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::cli::common::{Format, Known, Listen, Source, rate, survey_of, write_json};
use crate::cli::write::write;
use crate::cli::{EXIT_CODES, Out, Outcome};
use crate::diagnose::Told;
use crate::observe::live;
use crate::quantity::BitsPerSecond;
use crate::render::{explain, json, terms};

/// Why a link is as it is: verdict, chain, causes with evidence, next step
#[derive(Debug, Args)]
#[command(after_help = format!("Examples:\n  linkwright explain fibre0\n  linkwright explain \
    fibre0 --site site.toml --far ballast.json\n  linkwright explain keel/fibre0 --from \
    fixtures/hosts\n  linkwright explain fibre0 --symptom flaps --seconds 60\n\n{EXIT_CODES}"))]
pub struct Arguments {
    /// Port to explain: its name, or HOST/NAME in a folder of captures; may be left out for a
    /// capture of a single port
    #[arg(value_name = "PORT", required_unless_present_any = ["from", "terms"])]
    ports: Vec<String>,
    #[command(flatten)]
    source: Source,
    #[command(flatten)]
    listen: Listen,
    #[command(flatten)]
    known: Known,
    /// Also save what was seen, as a capture that gives this same explanation again
    #[arg(long, value_name = "FILE")]
    save: Option<PathBuf>,
    /// What you see going wrong: causes of that come first, and the one fact that would help most
    /// is asked for
    #[arg(long, value_name = "WHAT")]
    symptom: Option<Word>,
    /// Data a second that you measured over this link, one direction (9.4Gbit/s, 117MB/s): what that
    /// fits. Of one port only
    #[arg(long, value_name = "RATE", value_parser = rate)]
    measured: Option<BitsPerSecond>,
    /// Print what the terms of art mean, and nothing else
    #[arg(long)]
    terms: bool,
    /// Show every fault that is ruled out, not only the few that come to mind first (JSON always
    /// holds all)
    #[arg(long)]
    all_ruled_out: bool,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// What a user sees going wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Word {
    /// Slower than it should be
    Slow,
    /// No link
    Down,
    /// Frames are lost
    Drops,
    /// The link comes and goes
    Flaps,
}

impl From<Word> for Told {
    fn from(word: Word) -> Self {
        match word {
            Word::Slow => Self::Slow,
            Word::Down => Self::Down,
            Word::Drops => Self::Drops,
            Word::Flaps => Self::Flaps,
        }
    }
}

/// Runs it.
///
/// # Errors
/// What kept it from looking.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    if arguments.terms {
        out.write(&terms::terms(out.style))?;
        return Ok(Outcome::NOTHING);
    }
    let mut knowing = arguments.known.read(out)?;
    knowing.told = arguments.symptom.map(Told::from);
    knowing.measured = arguments.measured;
    let snapshots =
        knowing.take(&arguments.source, &arguments.ports, arguments.listen.listen, true, out)?;
    if arguments.ports.is_empty() {
        let names: Vec<&str> =
            snapshots.iter().flat_map(|s| &s.ports).map(|port| port.name.as_str()).collect();
        if names.len() != 1 {
            anyhow::bail!(which_port("explain", &names, arguments.source.from.as_deref()));
        }
    }
    if arguments.measured.is_some()
        && snapshots.iter().map(|one| one.ports.len()).sum::<usize>() > 1
    {
        anyhow::bail!("--measured is of one link: name one port");
    }
    if let Some(path) = &arguments.save {
        match snapshots.as_slice() {
            [snapshot] => write(&json::to_string(snapshot, true)?, path, true)?,
            _ => anyhow::bail!("--save keeps one host, and several are explained here"),
        }
    }
    knowing.hint(&snapshots, &arguments.ports, out);
    let diagnoses = snapshots
        .iter()
        .map(|snapshot| knowing.diagnose(snapshot))
        .collect::<anyhow::Result<Vec<_>>>()?;
    if arguments.format == Format::Text {
        let (mut first, mut explained) = (true, false);
        for diagnosis in &diagnoses {
            for (port, found) in diagnosis.snapshot.ports.iter().zip(&diagnosis.ports) {
                if !first {
                    out.write("\n")?;
                }
                first = false;
                let host = diagnosis.snapshot.label(&snapshots);
                // With the first port that has causes; the others need not say it again.
                let sums = !explained;
                explained |= !found.causes.is_empty();
                let all = arguments.all_ruled_out;
                let text = explain::explain(&host, port, found, all, sums, out.style);
                out.write(&text)?;
            }
        }
    } else {
        write_json(&diagnoses, arguments.format, out)?;
    }
    Ok(Outcome::of(diagnoses.iter().flat_map(|d| d.ports.iter().map(|port| port.verdict))))
}

/// What is said where a port must be named behind a command.
pub fn which_port(command: &str, names: &[&str], from: Option<&Path>) -> String {
    if names.is_empty() {
        return "the capture holds no ports at all".into();
    }
    format!(
        "which port? Name one behind `{command}`: {}. `{}` shows which of them needs it",
        live::first_few(names),
        survey_of(from)
    )
}
