//! The command line: one file a command. Arguments become a request, the request is run, and
//! its outcome becomes the exit code. Nothing here judges.
#![allow(
    clippy::disallowed_methods,
    reason = "the command line is the edge where output files and the environment are touched"
)]

mod capture;
mod common;
mod compare;
mod decode;
mod explain;
mod faults;
mod plan;
mod report;
mod survey;
mod usage;
mod write;

use std::io::{self, IsTerminal as _, Write};

use clap::{Parser, Subcommand, ValueEnum};

use crate::diagnose::Verdict;
use crate::render::Style;

/// What the shell is told at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome(u8);

/// Something the user typed that the command can make nothing of.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Misuse(pub String);

impl Outcome {
    /// Nothing to report.
    pub const NOTHING: Self = Self(0);
    /// The tool failed.
    pub const FAILED: Self = Self(1);
    /// Wrong usage.
    pub const USAGE: Self = Self(2);

    /// The exit code.
    pub fn code(self) -> u8 {
        self.0
    }

    /// The worst verdict decides: fault over attention over could-not-tell.
    pub fn of(verdicts: impl IntoIterator<Item = Verdict>) -> Self {
        match verdicts.into_iter().max() {
            Some(Verdict::Fault) => Self(20),
            Some(Verdict::Attention) => Self(10),
            Some(Verdict::Unknown) => Self(30),
            Some(Verdict::Healthy | Verdict::Idle) | None => Self::NOTHING,
        }
    }
}

/// Exit codes, for help and tests.
pub const EXIT_CODES: &str = "Exit codes: 0 nothing to report, 1 the tool failed, 2 wrong usage, \
    10 attention, 20 fault, 30 could not tell. With several ports the worst counts: fault, then \
    attention, then could not tell.";

/// Says which part of a wired Ethernet link is at fault or sets its limit, how sure that is,
/// and what to do next. It only looks: no command changes the host.
#[derive(Debug, Parser)]
#[command(name = "linkwright", version, after_help = EXIT_CODES, max_term_width = 100)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Colour the output
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto")]
    colour: Colour,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Colour {
    /// On a terminal, unless NO_COLOR is set
    Auto,
    /// In any case
    Always,
    /// No colour at all
    Never,
}

#[derive(Debug, Subcommand)]
enum Command {
    Survey(survey::Arguments),
    Explain(explain::Arguments),
    Capture(capture::Arguments),
    Report(report::Arguments),
    Compare(compare::Arguments),
    Decode(decode::Arguments),
    Plan(plan::Arguments),
    Faults(faults::Arguments),
}

/// Where output goes, and how it looks.
pub struct Out {
    writer: Box<dyn Write>,
    /// How text is to look.
    pub style: Style,
    progress: Progress,
}

/// What is being waited for, on a terminal only.
#[derive(Debug, Clone, Copy)]
pub struct Progress {
    /// Columns; none where it may not be shown.
    width: Option<usize>,
}

impl Progress {
    /// Shows what is being waited for; an empty text takes it away.
    #[allow(clippy::print_stderr, reason = "progress is for the terminal, not for the output")]
    pub fn show(self, text: &str) {
        if let Some(width) = self.width {
            let text = crate::render::clean(text);
            eprint!("\r{text:<width$}\r{text}", width = width.saturating_sub(1));
            if text.is_empty() {
                eprint!("\r");
            }
        }
    }
}

impl Out {
    fn to_stdout(colour: Colour) -> Self {
        let terminal = io::stdout().is_terminal();
        let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let dumb = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
        let colour = match colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => terminal && !no_colour && !dumb,
        };
        let columns = std::env::var("COLUMNS").ok().and_then(|text| text.parse().ok());
        let width = columns
            .or_else(|| {
                let (width, _) = terminal_size::terminal_size()?;
                Some(usize::from(width.0))
            })
            .unwrap_or(80)
            .clamp(40, 120);
        Self {
            writer: Box::new(io::BufWriter::new(io::stdout())),
            style: Style { colour, width },
            progress: Progress { width: (io::stderr().is_terminal() && !dumb).then_some(width) },
        }
    }

    /// Writes text.
    ///
    /// # Errors
    /// As the output does.
    pub fn write(&mut self, text: &str) -> io::Result<()> {
        self.writer.write_all(text.as_bytes())
    }

    /// Sends on what was written.
    ///
    /// # Errors
    /// As the output does.
    pub fn flush(&mut self) -> io::Result<()> {
        self.writer.flush()
    }

    /// Tells beside the output what may be an oversight; the outcome is the same.
    #[allow(clippy::print_stderr, reason = "a hint must not get into the output")]
    pub fn hint(&self, text: &str) {
        eprintln!("linkwright: hint: {}", crate::render::clean(text));
    }

    /// Where progress is shown.
    pub fn progress(&self) -> Progress {
        self.progress
    }
}

/// The arguments of this run. Where they do not fit, says so, with what was most likely meant, and
/// ends the program.
pub fn parse() -> Arguments {
    Arguments::try_parse().unwrap_or_else(|error| usage::advised(error).exit())
}

/// Runs a command.
///
/// # Errors
/// What kept the tool from doing its job.
pub fn run(arguments: &Arguments) -> anyhow::Result<Outcome> {
    let mut out = Out::to_stdout(arguments.colour);
    let outcome = match &arguments.command {
        Command::Survey(arguments) => survey::run(arguments, &mut out),
        Command::Explain(arguments) => explain::run(arguments, &mut out),
        Command::Capture(arguments) => capture::run(arguments, &mut out),
        Command::Report(arguments) => report::run(arguments, &mut out),
        Command::Compare(arguments) => compare::run(arguments, &mut out),
        Command::Decode(arguments) => decode::run(arguments, &mut out),
        Command::Plan(arguments) => plan::run(arguments, &mut out),
        Command::Faults(arguments) => faults::run(arguments, &mut out),
    };
    out.writer.flush()?;
    outcome
}
