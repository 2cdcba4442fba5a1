//! `plan`: would these parts work together, before they are bought.

use std::path::PathBuf;

use anyhow::{Context as _, bail};
use clap::Args;
use serde::Serialize;

use crate::cli::common::{Format, nearest};
use crate::cli::{Out, Outcome};
use crate::observe::capture;
use crate::plan::ways::Site;
use crate::plan::{Plan, Planned, judge, suggest, words};
use crate::render::{self, plan as text};

/// Up to how many hosts every pair's way is told without being asked for.
const HOSTS: usize = 24;

/// Whether parts would work together, before they are bought: at what speed, with what margin
#[derive(Debug, Args)]
#[command(after_help = "Name the parts from this end to the other, as far as you know them:\n  \
    [slot] [port's speed] cage module  length grade [connectors]  module cage [port's speed] [slot]\n\n\
    Examples:\n  linkwright plan SFP28 25GBASE-SR 60m OM3 2 connectors 25GBASE-SR SFP28\n  \
    linkwright plan gen3x4 QSFP28 100GBASE-SR4 30m OM4 100GBASE-SR4 QSFP28\n  \
    linkwright plan 10G RJ45 48m Cat6 10G RJ45 wanted 10G\n  \
    linkwright plan SFP+ twinax 5m SFP+ and SFP28 twinax 5m SFP28\n  \
    linkwright plan --suggest 60m 10G\n  linkwright plan --suggest 250m 10G OM2 between buildings\n  \
    linkwright plan --file plan.toml --between keel sounder\n\n\
    Words beside the parts: `2 connectors`, `1 splice`, `1 crossing`, `wanted 10G`, `mtu 9000`, `fec rs`, \
    `autonegotiation off`, `between buildings`, `beside machines`; `and` stands between two links. A \
    module of several rates: 25GBASE-SR/10GBASE-SR. A plan file can hold a whole site: see \
    fixtures/plan.toml.\n\nExit codes: 0 works, 1 the tool failed, 2 wrong usage, 10 works if something is \
    seen to, 20 not covered or will not run, 30 could not tell. With several links the worst counts.")]
pub struct Arguments {
    /// The parts of a link, in words
    #[arg(value_name = "PART", required_unless_present = "file")]
    parts: Vec<String>,
    /// A plan file (TOML): links, and which devices pass traffic on
    #[arg(long, value_name = "FILE", conflicts_with_all = ["parts", "suggest"])]
    file: Option<PathBuf>,
    /// Turned round: the parts tell a length, a speed and the medium that is there, if one is; lists
    /// what serves
    #[arg(long)]
    suggest: bool,
    /// Of a plan file: one link, whole
    #[arg(long, value_name = "NAME", requires = "file")]
    link: Option<String>,
    /// Of a plan file: the way between two devices alone
    #[arg(long, value_names = ["FROM", "TO"], num_args = 2, requires = "file")]
    between: Option<Vec<String>>,
    /// Form of the output
    #[arg(long, value_name = "FORM", default_value = "text")]
    format: Format,
}

/// Runs it.
///
/// # Errors
/// What kept it from reading the plan or from writing.
pub fn run(arguments: &Arguments, out: &mut Out) -> anyhow::Result<Outcome> {
    let said = arguments.parts.join(" ");
    if arguments.suggest {
        return suggested(&said, arguments.format, out);
    }
    let mut plan = match &arguments.file {
        Some(path) => capture::load_plan(path)?,
        None => Plan { links: words::links(&said).map_err(harmless)?, ..Plan::default() },
    };
    if let Some(wanted) = &arguments.link {
        choose(&mut plan, wanted)?;
    }
    if plan.links.is_empty() {
        bail!(
            "the plan holds no link; a link is told as [[link]], with medium, length_m, near and far"
        );
    }
    match arguments.format {
        Format::Text => as_text(arguments, &plan, out),
        format => as_json(arguments, &plan, format, out),
    }
}

fn harmless(error: impl AsRef<str>) -> anyhow::Error {
    anyhow::Error::msg(render::clean(error.as_ref()).into_owned())
}

fn choose(plan: &mut Plan, wanted: &str) -> anyhow::Result<()> {
    let names: Vec<String> =
        plan.links.iter().enumerate().map(|(place, link)| text::name(link, place)).collect();
    let Some(place) = names.iter().position(|name| name == wanted) else {
        let near = nearest(wanted, names.iter().map(|name| (name.as_str(), name.as_str())));
        let meant = near.map_or_else(String::new, |near| format!("; did you mean {near}?"));
        return Err(harmless(format!("the plan has no link {wanted:?}{meant}")));
    };
    plan.links = vec![plan.links.swap_remove(place)];
    Ok(())
}

fn suggested(said: &str, format: Format, out: &mut Out) -> anyhow::Result<Outcome> {
    let (asked, speed) = words::question(said).map_err(harmless)?;
    let found = suggest::suggest(&asked, speed);
    match format {
        Format::Text => out.write(&text::suggestions(&found, &asked, speed, out.style))?,
        format => {
            let value = text::suggestions_json(&found, speed);
            out.write(&render::json::to_string(&value, format == Format::Json)?)?;
        }
    }
    let none = found.serve.is_empty().then_some(crate::diagnose::Verdict::Fault);
    Ok(Outcome::of(none))
}

/// What the ways need of the links once those are written: little, so that a plan of any size streams.
fn keep(planned: &mut Vec<Planned>, one: Planned) {
    planned.push(Planned {
        findings: Vec::new(),
        chain: crate::chain::Chain { parts: Vec::new() },
        ..one
    });
}

fn as_text(arguments: &Arguments, plan: &Plan, out: &mut Out) -> anyhow::Result<Outcome> {
    let mut planned = Vec::with_capacity(plan.links.len());
    let mut worst = Outcome::of([]);
    let only_ways = arguments.between.is_some();
    let whole = plan.links.len() == 1;
    if !whole && !only_ways {
        out.write(&text::head(out.style))?;
    }
    for (place, link) in plan.links.iter().enumerate() {
        let one = judge(link);
        worst = worst.worse(Outcome::of([one.outcome.verdict()]));
        let name = text::name(link, place);
        if only_ways {
        } else if whole {
            out.write(&text::whole(&name, link, &one, out.style))?;
        } else {
            out.write(&text::line(&name, &one, out.style))?;
        }
        keep(&mut planned, one);
    }
    let ways = ways(arguments, plan, &planned)?;
    if ways.is_empty() {
        return Ok(worst);
    }
    if !only_ways {
        out.write("\n")?;
    }
    let name_of = |place: usize| {
        plan.links.get(place).map_or_else(String::new, |link| text::name(link, place))
    };
    let carries = |place: usize| planned.get(place).and_then(|one| one.delivers);
    out.write(&text::ways(ways, &name_of, &carries, out.style))?;
    Ok(worst)
}

/// The ways that are asked for; all of them where there are few hosts.
fn ways(
    arguments: &Arguments,
    plan: &Plan,
    planned: &[Planned],
) -> anyhow::Result<Vec<crate::plan::ways::Way>> {
    if arguments.link.is_some() || arguments.file.is_none() {
        return Ok(Vec::new());
    }
    let site = Site::new(plan, planned);
    let hosts = site.hosts();
    if let Some([from, to]) = arguments.between.as_deref() {
        for name in [from, to] {
            if !site.has(name) {
                let near = nearest(name, hosts.iter().map(|host| (*host, *host)));
                let meant = near.map_or_else(String::new, |near| format!("; did you mean {near}?"));
                return Err(harmless(format!("no link of the plan has a device {name:?}{meant}")));
            }
        }
        let way = site.between(from, to);
        let way = way.with_context(|| {
            format!(
                "there is no way from {from} to {to}: which devices pass \
            traffic on? Tell it as [[device]] name = ..., switch = true"
            )
        })?;
        return Ok(vec![way]);
    }
    if hosts.len() > HOSTS {
        return Ok(Vec::new());
    }
    Ok(hosts.iter().flat_map(|host| site.from(host, true)).collect())
}

fn as_json(
    arguments: &Arguments,
    plan: &Plan,
    format: Format,
    out: &mut Out,
) -> anyhow::Result<Outcome> {
    let lines = format == Format::Ndjson;
    let mut planned = Vec::with_capacity(plan.links.len());
    let mut worst = Outcome::of([]);
    if !lines {
        let tool = render::json::TOOL;
        out.write(&format!(
            "{{\"tool\":\"{tool}\",\"format\":\"linkwright-plan 1\",\n\"links\":["
        ))?;
    }
    for (place, link) in plan.links.iter().enumerate() {
        let one = judge(link);
        worst = worst.worse(Outcome::of([one.outcome.verdict()]));
        element(&text::json(&text::name(link, place), &one), lines, place == 0, out)?;
        keep(&mut planned, one);
    }
    if !lines {
        out.write("],\n\"ways\":[")?;
    }
    let name_of = |place: usize| {
        plan.links.get(place).map_or_else(String::new, |link| text::name(link, place))
    };
    for (place, way) in ways(arguments, plan, &planned)?.iter().enumerate() {
        element(&text::way_json(way, &name_of), lines, place == 0, out)?;
    }
    if !lines {
        out.write("]}\n")?;
    }
    Ok(worst)
}

/// One element of a list, or a line of its own.
fn element(value: &impl Serialize, lines: bool, first: bool, out: &mut Out) -> anyhow::Result<()> {
    if !lines {
        out.write(if first { "\n" } else { ",\n" })?;
    }
    let text = render::json::to_string(value, false)?;
    out.write(if lines { &text } else { text.trim_end() })?;
    Ok(())
}
