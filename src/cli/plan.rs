//! `plan`: would these parts work together, before they are bought.

use std::path::PathBuf;

use anyhow::bail;
use clap::Args;
use serde::Serialize;

use crate::cli::common::{Format, nearest};
use crate::cli::{Misuse, Out, Outcome};
use crate::diagnose::Verdict;
use crate::observe::capture;
use crate::plan::ways::{self, Remark, Site, Way};
use crate::plan::{Outcome as Judged, Plan, Planned, judge, suggest, words};
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
    seen to, 20 not covered or will not run, 30 could not tell. With several links the worst counts: 20, then 30, then 10.")]
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
        None => Plan { links: words::links(&said).map_err(misuse)?, ..Plan::default() },
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

fn misuse(error: impl AsRef<str>) -> anyhow::Error {
    Misuse(render::clean(error.as_ref()).into_owned()).into()
}

fn choose(plan: &mut Plan, wanted: &str) -> anyhow::Result<()> {
    let names: Vec<String> =
        plan.links.iter().enumerate().map(|(place, link)| text::name(link, place)).collect();
    let Some(place) = names.iter().position(|name| name == wanted) else {
        let near = nearest(wanted, names.iter().map(|name| (name.as_str(), name.as_str())));
        let meant = near.map_or_else(String::new, |near| format!("; did you mean {near}?"));
        return Err(misuse(format!("the plan has no link {wanted:?}{meant}")));
    };
    plan.links = vec![plan.links.swap_remove(place)];
    Ok(())
}

fn suggested(said: &str, format: Format, out: &mut Out) -> anyhow::Result<Outcome> {
    let (asked, speed) = words::question(said).map_err(misuse)?;
    let found = suggest::suggest(&asked, speed);
    match format {
        Format::Text => out.write(&text::suggestions(&found, &asked, speed, out.style))?,
        format => {
            let value = text::suggestions_json(&found, speed);
            out.write(&render::json::to_string(&value, format == Format::Json)?)?;
        }
    }
    let none = found.serve.is_empty().then_some(Verdict::Fault);
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
    let mut worst = Judged::Works;
    let only_ways = arguments.between.is_some();
    let whole = plan.links.len() == 1;
    if !whole && !only_ways {
        out.write(&text::head(out.style))?;
    }
    for (place, link) in plan.links.iter().enumerate() {
        let one = judge(link);
        worst = worst.max(one.outcome);
        let name = text::name(link, place);
        if only_ways {
        } else if whole {
            out.write(&text::whole(&name, link, &one, out.style))?;
        } else {
            out.write(&text::line(&name, &one, out.style))?;
        }
        keep(&mut planned, one);
    }
    let name_of = |place: usize| {
        plan.links.get(place).map_or_else(String::new, |link| text::name(link, place))
    };
    let site = of_site(arguments, plan, &planned, &name_of)?;
    let carries = |place: usize| planned.get(place).and_then(|one| one.delivers);
    let mut parts = vec![text::remarks(&site.remarks, out.style)];
    if !site.ways.is_empty() || !site.apart.is_empty() {
        let ways = text::ways(&site.ways, &name_of, &carries, out.style);
        parts.push(ways + &text::apart(&site.apart, out.style));
    }
    if site.left_out > 0 {
        parts.push(format!(
            "The ways between {} hosts are many: name two with --between FROM TO.\n",
            site.left_out
        ));
    }
    for (place, part) in parts.iter().filter(|part| !part.is_empty()).enumerate() {
        if place > 0 || !only_ways {
            out.write("\n")?;
        }
        out.write(part)?;
    }
    Ok(site.outcome(if only_ways { Judged::Works } else { worst }, &planned))
}

/// What is to be told of the site as a whole.
#[derive(Default)]
struct OfSite<'a> {
    ways: Vec<Way>,
    apart: Vec<(&'a str, &'a str)>,
    remarks: Vec<Remark>,
    /// Hosts that are so many that not every pair's way is told.
    left_out: usize,
    /// The way that was asked for.
    only: bool,
}

impl OfSite<'_> {
    /// The worst of the links, or of the way that was asked for, and of the site: what is not known
    /// is worse than what must be seen to.
    fn outcome(&self, links: Judged, planned: &[Planned]) -> Outcome {
        let asked = self.ways.iter().filter(|_| self.only).flat_map(|way| &way.links);
        let asked = asked.filter_map(|link| planned.get(*link)).map(|one| one.outcome);
        let see_to = !self.remarks.is_empty() || self.ways.iter().any(|way| way.packets.is_some());
        let rest = [
            see_to.then_some(Judged::WorksIf),
            (!self.apart.is_empty()).then_some(Judged::CannotTell),
        ];
        let worst = asked.chain(rest.into_iter().flatten()).fold(links, Judged::max);
        Outcome::of([worst.verdict()])
    }
}

/// The ways that are asked for, all of them where there are few hosts; loops, ports told twice.
fn of_site<'a>(
    arguments: &Arguments,
    plan: &'a Plan,
    planned: &[Planned],
    name_of: &dyn Fn(usize) -> String,
) -> anyhow::Result<OfSite<'a>> {
    if arguments.link.is_some() || arguments.file.is_none() {
        return Ok(OfSite::default());
    }
    let site = Site::new(plan, planned);
    let hosts = site.hosts();
    if let Some([from, to]) = arguments.between.as_deref() {
        if from == to {
            return Err(misuse(format!("{from} to itself is no way: name two devices")));
        }
        for name in [from, to] {
            if !site.has(name) {
                let near = nearest(name, hosts.iter().map(|host| (*host, *host)));
                let meant = near.map_or_else(String::new, |near| format!("; did you mean {near}?"));
                return Err(misuse(format!("no link of the plan has a device {name:?}{meant}")));
            }
        }
        let found = site.between(from, to);
        let known = |name: &String| hosts.iter().copied().find(|host| *host == name.as_str());
        let apart = match &found {
            Some(_) => Vec::new(),
            None => known(from).zip(known(to)).into_iter().collect(),
        };
        return Ok(OfSite {
            ways: found.into_iter().collect(),
            apart,
            only: true,
            ..OfSite::default()
        });
    }
    let remarks = ways::remarks(plan, planned, name_of);
    // Without devices that pass traffic on, and without a chain of links, there is no site to walk.
    if hosts.len() > HOSTS {
        return Ok(OfSite { remarks, left_out: hosts.len(), ..OfSite::default() });
    }
    let ways: Vec<Way> = hosts.iter().flat_map(|host| site.from(host, true)).collect();
    // Where no device passes traffic on, pairs that are apart are the rule.
    let apart = if plan.devices.is_empty() { Vec::new() } else { site.apart(HOSTS) };
    Ok(OfSite { ways, apart, remarks, ..OfSite::default() })
}

fn as_json(
    arguments: &Arguments,
    plan: &Plan,
    format: Format,
    out: &mut Out,
) -> anyhow::Result<Outcome> {
    let lines = format == Format::Ndjson;
    let mut planned = Vec::with_capacity(plan.links.len());
    let mut worst = Judged::Works;
    if !lines {
        let tool = render::json::TOOL;
        out.write(&format!(
            "{{\"tool\":\"{tool}\",\"format\":\"linkwright-plan 1\",\n\"links\":["
        ))?;
    }
    for (place, link) in plan.links.iter().enumerate() {
        let one = judge(link);
        worst = worst.max(one.outcome);
        element(&text::json(&text::name(link, place), &one), lines, place == 0, out)?;
        keep(&mut planned, one);
    }
    if !lines {
        out.write("],\n\"ways\":[")?;
    }
    let name_of = |place: usize| {
        plan.links.get(place).map_or_else(String::new, |link| text::name(link, place))
    };
    let site = of_site(arguments, plan, &planned, &name_of)?;
    for (place, way) in site.ways.iter().enumerate() {
        element(&text::way_json(way, &name_of), lines, place == 0, out)?;
    }
    let rest = text::site_json(&site.remarks, &site.apart, site.left_out);
    if lines {
        element(&rest, lines, true, out)?;
    } else {
        out.write("],\n\"site\":")?;
        out.write(render::json::to_string(&rest, false)?.trim_end())?;
        out.write("}\n")?;
    }
    Ok(site.outcome(if site.only { Judged::Works } else { worst }, &planned))
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
