//! What the light loses on a run that the user described, against what such a run loses.

use serde::Serialize;

use crate::calc::{path_loss, power_budget};
use crate::chain::far::is_dark;
use crate::diagnose::both_ends::{self, Way};
use crate::diagnose::observations::{Expected, expected_loss};
use crate::diagnose::view::View;
use crate::quantity::{Dbm, Decibels, Metres, Milliwatts};
use crate::snapshot::{Fact, Reason};
use crate::standards::accuracy;

/// The light of a run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Light {
    /// Grade of the fibre.
    pub medium: &'static str,
    /// Its length.
    pub length_m: Metres,
    /// Mated connector pairs.
    pub connectors: u32,
    /// Splices.
    pub splices: u32,
    /// What such a run usually loses.
    pub typical_loss_db: Decibels,
    /// What it loses if all of it is just as good as the cabling standard asks.
    pub most_loss_db: Decibels,
    /// The worst lane of each direction whose two ends tell their power.
    pub ways: Vec<Lost>,
    /// Where the way in is not among them: what is received, against what is expected.
    pub received: Option<Received>,
}

/// What one direction loses.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Lost {
    /// Direction.
    pub way: Way,
    /// Lane, by its number at this end; none where one figure stands for the whole.
    pub lane: Option<u8>,
    /// By the two readings.
    pub loss_db: Decibels,
    /// It is hardly less than this.
    pub loss_least_db: Decibels,
    /// It is hardly more than this.
    pub loss_most_db: Decibels,
    /// By how much it is hardly less than the most that the run loses; none where it may be that.
    pub excess_db: Option<Decibels>,
    /// As many connector pairs, as bad as the standard lets them be, lose that.
    pub excess_in_connectors: Option<u32>,
    /// The excess is so small that both readings, off by all they may be, still explain it.
    pub may_be_the_readings: bool,
}

/// Light received, where nobody tells what was sent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Received {
    /// The reading, of the weakest lane.
    pub received_dbm: Dbm,
    /// From the weakest transmitter of this type over the most loss.
    pub expected_least_dbm: Dbm,
    /// From the strongest over the least.
    pub expected_most_dbm: Dbm,
    /// Less than expected by more than a reading may be off, more, or neither.
    pub standing: &'static str,
}

/// Received as expected.
pub const AS_EXPECTED: &str = "as expected";

/// Looks at the readings of both ends.
pub fn look(view: &View<'_>) -> Fact<Light> {
    if view.optical_module().is_none() {
        return Fact::missing_with(Reason::NotApplicable, "no optical module is known here");
    }
    let Some(Expected { run, connectors_told, loss }) = expected_loss(view) else {
        return Fact::missing_with(
            Reason::NotApplicable,
            "the site file tells no fibre and length, or the light's wavelength is not known",
        );
    };
    if !connectors_told {
        let why =
            "the loss cannot be held against the run: nobody told its connector pairs (site file)";
        return Fact::missing_with(Reason::NotAsked, why);
    }
    let Some(row) = view
        .window()
        .filter(|row| crate::standards::cages::row_on_at_least(row.interface, run.grade).is_some())
    else {
        let why = "the interface type is not known, or not specified on this fibre";
        return Fact::missing_with(Reason::NotApplicable, why);
    };
    let worst = |way: Way, lane: Option<u8>, sent: Milliwatts, received: Milliwatts| {
        let found = path_loss::between(sent, received)?;
        let excess = Decibels(found.least.0 - loss.most.0);
        let beyond = (excess.0 > 0.0).then_some(excess);
        Some(Lost {
            way,
            lane,
            loss_db: found.loss,
            loss_least_db: found.least,
            loss_most_db: found.most,
            excess_db: beyond,
            excess_in_connectors: beyond.and_then(power_budget::worth_in_connectors),
            may_be_the_readings: found.loss.0 - loss.most.0 <= 2.0 * accuracy::POWER.0,
        })
    };
    let paths = both_ends::paths(view);
    let ways = [
        (Way::In, view.far.tx_power.clone(), view.rx_power()),
        (Way::Out, view.tx_power(), view.far.rx_power.clone()),
    ];
    let lost = ways.into_iter().filter_map(|(way, sent, received)| {
        let lanes = paths.iter().filter(|path| path.way == way);
        let lanes = lanes.filter(|path| !is_dark(path.sent) && !is_dark(path.received));
        let several = view.far.lanes.len() > 1;
        let by_lane = lanes
            .filter_map(|path| worst(way, several.then_some(path.lane), path.sent, path.received))
            .max_by(|one, other| one.loss_db.0.total_cmp(&other.loss_db.0));
        by_lane.or_else(|| {
            let (sent, received) = (*sent.known()?, *received.known()?);
            (!is_dark(sent) && !is_dark(received)).then(|| worst(way, None, sent, received))?
        })
    });
    let lost: Vec<Lost> = lost.collect();
    let received = || {
        let power = view.rx_power().known().copied().filter(|power| !is_dark(*power))?.dbm()?;
        let (least, most) = power_budget::received(row, &loss)?;
        let standing = if power.0 < least.0 - accuracy::POWER.0 {
            "less than expected"
        } else if power.0 > most.0 + accuracy::POWER.0 {
            "more than expected"
        } else {
            AS_EXPECTED
        };
        Some(Received {
            received_dbm: power,
            expected_least_dbm: least,
            expected_most_dbm: most,
            standing,
        })
    };
    let received = if lost.iter().any(|one| one.way == Way::In) { None } else { received() };
    Fact::Known(Light {
        medium: run.grade.name(),
        length_m: run.length,
        connectors: run.connectors,
        splices: run.splices,
        typical_loss_db: loss.typical,
        most_loss_db: loss.most,
        ways: lost,
        received,
    })
}
