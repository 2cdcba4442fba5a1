//! `faults`: the catalogue, readable offline.

use anyhow::bail;
use clap::Args;

use crate::cli::common::nearest;
use crate::cli::{Out, Outcome};
use crate::faults::{CATALOGUE, find};
use crate::render::page;

/// The faults that Linkwright knows: a list, or one fault's page
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  linkwright faults peer-port-limited")]
pub struct Arguments {
    /// Fault to read about
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Runs it.
///
/// # Errors
/// No fault has that name.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    match &arguments.name {
        None => out.write(&page::list())?,
        Some(name) => match find(name) {
            Some(fault) => out.write(&page::on_terminal(fault, out.style))?,
            None => {
                let near = nearest(name, CATALOGUE.iter().map(|fault| (fault.name, fault.name)));
                let near = near.map_or_else(String::new, |near| format!("Did you mean {near}? "));
                bail!("there is no fault {name:?}. {near}List them with: linkwright faults")
            }
        },
    }
    Ok(Outcome::NOTHING)
}
