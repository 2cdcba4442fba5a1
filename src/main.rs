//! Arguments in, exit code out. The only place that prints errors.

use std::io::ErrorKind;
use std::process::ExitCode;

use linkwright::cli::{Misuse, Outcome, parse, run};
use linkwright::render::clean;

fn main() -> ExitCode {
    let outcome = match run(&parse()) {
        Ok(outcome) => outcome,
        Err(error) if is_closed_pipe(&error) => Outcome::NOTHING,
        Err(error) => {
            report(&error);
            if error.is::<Misuse>() { Outcome::USAGE } else { Outcome::FAILED }
        }
    };
    ExitCode::from(outcome.code())
}

/// A reader that has seen enough is no failure.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause.downcast_ref::<std::io::Error>().is_some_and(|io| io.kind() == ErrorKind::BrokenPipe)
    })
}

#[allow(clippy::print_stderr, reason = "errors are printed here and nowhere else")]
fn report(error: &anyhow::Error) {
    let chain: Vec<String> = error.chain().map(ToString::to_string).collect();
    // A parser's message may have lines of its own; nothing else in it reaches the terminal raw.
    let text = chain.join(": ");
    let lines: Vec<_> = text.lines().map(clean).collect();
    eprintln!("linkwright: {}", lines.join("\n  "));
}
