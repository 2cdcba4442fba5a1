//! `survey`: every port, a line each.

use clap::Args;

use crate::cli::common::{
    Format, Knowing, Known, Source, found, write_host_line, write_json, write_line,
};
use crate::cli::{EXIT_CODES, Out, Outcome};
use crate::observe::live;
use crate::render::survey;

/// Every port, a line each: running at what, could run at what, verdict and why
#[derive(Debug, Args)]
#[command(after_help = format!("Examples:\n  linkwright survey\n  linkwright survey --from \
    fixtures/hosts --format json\n\n{EXIT_CODES}"))]
pub struct Arguments {
    /// Ports to look at; all of them if none is named
    #[arg(value_name = "PORT")]
    ports: Vec<String>,
    #[command(flatten)]
    source: Source,
    #[command(flatten)]
    known: Known,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// A line a port of this host, as soon as the port is complete: a module that answers slowly does
/// not hold up the others.
fn stream(arguments: &Arguments, knowing: &Knowing, out: &mut Out) -> anyhow::Result<Outcome> {
    let mut verdicts = Vec::new();
    let mut written = Ok(());
    let wanted = arguments.source.wanted(&arguments.ports);
    let progress = out.progress();
    let looked = live::look_each(&wanted, &mut |text| progress.show(text), &mut |host, port| {
        if written.is_ok() {
            progress.show("");
            written = knowing.diagnose_port(host, port).and_then(|found| {
                verdicts.push(found.verdict);
                write_line(host, port, &found, out)?;
                Ok(out.flush()?)
            });
        }
    });
    progress.show("");
    let snapshot = found(looked)?;
    written?;
    write_host_line(&snapshot, out)?;
    knowing.hint([&snapshot], &arguments.ports, out);
    Ok(Outcome::of(verdicts))
}

/// Runs it.
///
/// # Errors
/// What kept it from looking.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let mut knowing = arguments.known.read(out)?;
    if arguments.format == Format::Ndjson && arguments.source.from.is_none() {
        return stream(arguments, &knowing, out);
    }
    let snapshots = knowing.take(&arguments.source, &arguments.ports, 0, false, out)?;
    knowing.hint(&snapshots, &arguments.ports, out);
    let diagnoses = snapshots
        .iter()
        .map(|snapshot| knowing.diagnose(snapshot))
        .collect::<anyhow::Result<Vec<_>>>()?;
    if arguments.format == Format::Text {
        for (place, diagnosis) in diagnoses.iter().enumerate() {
            if place > 0 {
                out.write("\n")?;
            }
            let host = diagnosis.snapshot.label(&snapshots);
            let text = survey::survey(&host, diagnosis, out.style);
            out.write(&text)?;
        }
    } else {
        write_json(&diagnoses, arguments.format, out)?;
    }
    let outcome =
        Outcome::of(diagnoses.iter().flat_map(|d| d.ports.iter().map(|port| port.verdict)));
    // The run ends here: what a thousand ports hold need not be given back piece by piece.
    std::mem::forget(diagnoses);
    std::mem::forget(snapshots);
    Ok(outcome)
}
