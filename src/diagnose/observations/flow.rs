//! Observations of how frames flow: pause frames, rings, frame lengths, idle links.

use crate::calc::rates::{self, Change};
use crate::chain::far::HOW as HOW_FAR;
use crate::diagnose::observation::{Answer, HOW_HOST, HOW_LOG, HOW_RATE, Observation, Seen};
use crate::diagnose::view::View;
use crate::snapshot::{Counters, Fact, Instant, Missing, PauseFrames, Reason};

/// The longest wait that one pause frame can ask for, bit times: 65535 quanta of 512 (IEEE 802.3
/// annex 31B; from memory).
const LONGEST_PAUSE_BITS: f64 = 65_535.0 * 512.0;
/// Pause frames that could hold a sender back for this part of the time, and more, are an answer
/// to overload and not to a burst. Common practice, no published source.
const HELD_BACK: f64 = 0.5;
/// A sender that uses more than this part of the rate is not held back for half of the time.
const SENDS_WELL: f64 = 0.5;
/// Below this part of the rate a direction is as good as idle. Common practice, no published
/// source.
const IDLE: f64 = 0.01;
/// Above this part of the rate a link is not idle. Common practice, no published source.
const BUSY: f64 = 0.1;
/// So many losses of carrier while being watched are a pattern. Common practice, no published
/// source.
const PATTERN: u64 = 3;

const ANNEX_31B: &str = "IEEE 802.3 annex 31B: a pause lasts at most 65535 × 512 bit times";

#[allow(clippy::cast_precision_loss, reason = "what is counted in a minute is below 2^53")]
fn a_second(change: Change) -> f64 {
    change.by as f64 / change.seconds
}

fn in_time(change: Change) -> String {
    format!("{} in {:.1} s", change.by, change.seconds)
}

fn percent(share: f64) -> String {
    format!("{:.0} %", (share * 100.0).min(100.0))
}

/// Growth of pause frames; where the driver does not count them, of MAC control frames, most of
/// which they are (IEEE 802.3 30.3.3.3 and .4).
fn pause_frames(
    view: &View<'_>,
    pick: fn(&PauseFrames) -> &Fact<u64>,
    control: &str,
) -> Fact<Change> {
    let own = rates::change(&view.port.instants, |instant| {
        instant.pause_frames.as_ref().and_then(|frames| pick(frames).clone())
    });
    // A counter that went back is not to be smoothed over by another one.
    match own {
        Fact::Missing(why) if why.reason != Reason::Malformed => {
            let other = rates::change(&view.port.instants, |instant: &Instant| {
                instant.statistics.as_ref().and_then(|all| match all.control.get(control) {
                    Some(count) => Fact::Known(*count),
                    None => Fact::Missing(why.clone()),
                })
            });
            other.or_else(|| Fact::Missing(why))
        }
        own => own,
    }
}

/// The part of the time that so many pause frames could hold a sender back at most, 0 or more;
/// over 1 where they ask for more time than there is.
fn held_share(view: &View<'_>, frames: &Fact<Change>) -> Fact<f64> {
    match (frames, &view.running) {
        (Fact::Known(frames), Fact::Known(running)) => {
            Fact::Known(a_second(*frames) * LONGEST_PAUSE_BITS / (f64::from(running.0) * 1e6))
        }
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why.clone()),
    }
}

fn pause_received(view: &View<'_>) -> Fact<Change> {
    pause_frames(view, |frames| &frames.received, "MACControlFramesReceived")
}

fn pause_sent(view: &View<'_>) -> Fact<Change> {
    pause_frames(view, |frames| &frames.sent, "MACControlFramesTransmitted")
}

/// The part of the link's rate that a counter of octets used, from 0 to 1.
fn used_share(view: &View<'_>, octets: Pick) -> Fact<f64> {
    // A link that is down at the end ran at no more than its port can.
    let rate = view.running.clone().or_else(|| view.port_best());
    match (view.counter(octets), rate) {
        (Fact::Known(octets), Fact::Known(rate)) => {
            Fact::Known(a_second(octets) * 8.0 / (f64::from(rate.0) * 1e6))
        }
        (Fact::Missing(why), _) | (_, Fact::Missing(why)) => Fact::Missing(why),
    }
}

// ---- pause ------------------------------------------------------------------------------

/// Pause frames are received at a rate that can stop this port from sending.
pub const PAUSED_BY_FAR_END: Observation = Observation {
    name: "paused-by-far-end",
    statement: "pause frames are received at a rate that can keep this port from sending for half \
        of the time or more",
    fact: "pause frames received over the observed time",
    how: HOW_RATE,
    look: |view| {
        let frames = pause_received(view);
        match (&frames, held_share(view, &frames)) {
            (Fact::Known(frames), Fact::Known(share)) => {
                let seen = |text: &str| {
                    Seen::new(
                        text,
                        format!("{}: up to {} of the time", in_time(*frames), percent(share)),
                        ANNEX_31B,
                    )
                    .against(format!("{} of the time", percent(HELD_BACK)))
                };
                if share >= HELD_BACK {
                    Answer::Yes(seen("the far end keeps asking this port to stop sending"))
                } else {
                    Answer::No(seen("pause frames received cannot hold back much"))
                }
            }
            (Fact::Missing(why), _) => Answer::Unknown(why.clone()),
            (_, Fact::Missing(why)) => Answer::Unknown(why),
        }
    },
};

/// This port obeys the pause frames that it receives.
pub const OBEYS_PAUSE: Observation = Observation {
    name: "obeys-pause",
    statement: "this port is set to stop sending when it receives a pause frame",
    fact: "flow control setting",
    how: HOW_HOST,
    look: |view| {
        let obeys = view.port.ethernet.flow_control.as_ref().and_then(|set| match set.receive {
            Some(on) => Fact::Known(on),
            None => Fact::missing(Reason::NotReported),
        });
        let source = "flow control setting, as the driver tells it";
        Answer::by(
            obeys,
            || Seen::new("this port obeys pause frames", "receive pause is on", source),
            || Seen::new("this port ignores pause frames", "receive pause is off", source),
        )
    },
};

/// Next to nothing is sent.
pub const SENDS_LITTLE: Observation = Observation {
    name: "sends-little",
    statement: "next to nothing is sent meanwhile",
    fact: "octets sent over the observed time",
    how: HOW_RATE,
    look: |view| match used_share(view, |counters| &counters.sent_octets) {
        Fact::Known(share) => {
            let seen = |text: &str, limit: f64| {
                Seen::new(text, format!("{:.1} % of the rate", share * 100.0), "octets sent")
                    .against(format!("{} of the rate", percent(limit)))
            };
            if share < IDLE {
                Answer::Yes(seen("next to nothing is sent", IDLE))
            } else if share >= SENDS_WELL {
                Answer::No(seen("this port sends well", SENDS_WELL))
            } else {
                Answer::Moot
            }
        }
        Fact::Missing(why) => Answer::Unknown(why),
    },
};

/// Frames are dropped before they could be sent.
pub const SEND_QUEUE_FULL: Observation = Observation {
    name: "send-queue-full",
    statement: "frames to be sent are dropped in this host",
    fact: "frames dropped on the way out over the observed time",
    how: HOW_RATE,
    look: |view| match view.counter(|counters| &counters.transmit_discards) {
        Fact::Known(change) if change.by > 0 => Answer::Yes(
            Seen::new(
                "frames wait in vain to be sent, and are dropped",
                in_time(change),
                "RFC 2863 ifOutDiscards",
            )
            .against("0"),
        ),
        Fact::Known(_) | Fact::Missing(_) => Answer::Moot,
    },
};

/// The kernel gave up waiting for the adapter to send.
pub const LOG_SEND_TIMEOUT: Observation = Observation {
    name: "log-send-timeout",
    statement: "the kernel log says that a transmit queue timed out",
    fact: "kernel log on transmit timeouts",
    how: HOW_LOG,
    look: |view| match view
        .log_line(|line| line.contains("transmit queue") && line.contains("timed out"))
    {
        Fact::Known(Some(line)) => {
            Answer::Yes(Seen::new("a transmit queue timed out", line, "kernel log"))
        }
        Fact::Known(None) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    },
};

/// True if the far end's pause frames can hold this port back, and nothing shows that they do not.
pub fn is_held_back(view: &View<'_>) -> bool {
    let no = |look: fn(&View<'_>) -> Answer| matches!(look(view), Answer::No(_));
    matches!((PAUSED_BY_FAR_END.look)(view), Answer::Yes(_))
        && !no(OBEYS_PAUSE.look)
        && !no(SENDS_LITTLE.look)
}

/// How long the far end's pause frames can hold this port back, in words.
pub fn held_back_sentence(view: &View<'_>) -> String {
    let frames = pause_received(view);
    match (&frames, held_share(view, &frames)) {
        (Fact::Known(frames), Fact::Known(share)) => format!(
            "The far end keeps asking this port to stop sending ({} pause frames in {:.1} s, up to \
             {} of the time): it, or a device behind it, cannot take more.",
            frames.by,
            frames.seconds,
            percent(share)
        ),
        _ => {
            "The far end keeps asking this port to stop sending: it, or a device behind it, cannot \
              take more."
                .into()
        }
    }
}

// ---- receive ring -----------------------------------------------------------------------

/// A counter of the kernel's.
type Pick = fn(&Counters) -> &Fact<u64>;

const LOST: [(&str, Pick); 3] = [
    ("frames the adapter had no buffer for", |c| &c.receive_missed),
    ("frames the adapter's receive list had no room for", |c| &c.receive_overruns),
    ("frames the adapter's queue had no room for", |c| &c.receive_queue_overflows),
];

/// The kind of loss in this host that grows most, if one grows.
fn lost_here(view: &View<'_>) -> Option<(&'static str, Change)> {
    let grown = LOST
        .iter()
        .filter_map(|(what, pick)| view.counter(*pick).known().map(|change| (*what, *change)));
    grown.filter(|(_, change)| change.by > 0).max_by_key(|(_, change)| change.by)
}

/// True if frames are lost in this host for want of room.
pub fn is_lost_here(view: &View<'_>) -> bool {
    lost_here(view).is_some()
}

/// True if this port asks the far end to wait at a rate that can stop it.
pub fn is_holding_back(view: &View<'_>) -> bool {
    held_share(view, &pause_sent(view)).known().is_some_and(|share| *share >= HELD_BACK)
}

/// This host does not empty its receive ring in time.
pub const RECEIVE_RING_FULL: Observation = Observation {
    name: "receive-ring-full",
    statement: "frames are lost for want of a receive buffer in this host, or it keeps asking the \
        far end to wait",
    fact: "frames missed, and pause frames sent, over the observed time",
    how: HOW_RATE,
    look: |view| {
        if let Some((what, change)) = lost_here(view) {
            let text = format!("{what} are being counted");
            return Answer::Yes(
                Seen::new(text, in_time(change), "kernel interface counters").against("0"),
            );
        }
        let sent = pause_sent(view);
        let missed = view.counter(|counters| &counters.receive_missed);
        match (&sent, held_share(view, &sent), missed) {
            (Fact::Known(sent), Fact::Known(share), _) if share >= HELD_BACK => Answer::Yes(
                Seen::new(
                    "this host keeps asking the far end to wait",
                    format!("{} pause frames sent", in_time(*sent)),
                    ANNEX_31B,
                )
                .against(format!("{} of the time", percent(HELD_BACK))),
            ),
            (_, _, Fact::Known(missed)) => Answer::No(
                Seen::new(
                    "no frame was lost for want of a receive buffer",
                    in_time(missed),
                    "kernel interface counters",
                )
                .against("0"),
            ),
            (_, _, Fact::Missing(why)) => Answer::Unknown(why),
        }
    },
};

/// The receive ring is smaller than it could be.
pub const RECEIVE_RING_SMALL: Observation = Observation {
    name: "receive-ring-small",
    statement: "the receive ring is smaller than the adapter allows",
    fact: "size of the receive ring",
    how: HOW_HOST,
    look: |view| {
        let rings = match &view.port.ethernet.rings {
            Fact::Known(rings) => rings,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let (Some(now), Some(most)) = (rings.receive, rings.receive_most) else {
            return Answer::Unknown(Reason::NotReported.into());
        };
        let seen = |text: &str| {
            Seen::new(text, format!("{now} frames"), "ring sizes, as the driver tells them")
                .against(format!("most {most} frames"))
        };
        if now < most {
            Answer::Yes(seen("the receive ring could be larger"))
        } else {
            Answer::No(seen("the receive ring is as large as it can be"))
        }
    },
};

/// What is lost here, as a sentence.
pub fn ring_sentence(view: &View<'_>) -> String {
    let ring =
        match view.port.ethernet.rings.known().map(|rings| (rings.receive, rings.receive_most)) {
            Some((Some(now), Some(most))) if now < most => {
                format!("; its receive ring holds {now} of at most {most} frames")
            }
            _ => String::new(),
        };
    match lost_here(view) {
        Some((_, change)) => format!(
            "This host does not take frames out of the adapter in time and loses some ({}){ring}.",
            in_time(change)
        ),
        None => format!(
            "This host does not take frames out of the adapter in time and keeps asking the far \
             end to wait{ring}."
        ),
    }
}

// ---- length -----------------------------------------------------------------------------

fn mtus(view: &View<'_>) -> Result<(u32, u32), Missing> {
    let near = view.port.mtu_octets.clone().result()?;
    Ok((near, view.far.mtu_octets.clone().result()?))
}

fn own_length_errors(view: &View<'_>) -> Fact<Change> {
    rates::length_errors(&view.port.instants)
}

fn is_growing(change: &Fact<Change>) -> bool {
    change.known().is_some_and(|change| change.by > 0)
}

/// One end may send frames that the other does not take.
///
/// A far end that takes longer frames than this one is usual: switches allow the longest they can.
/// It counts only where frames are seen to be lost here.
pub const LENGTHS_DISAGREE: Observation = Observation {
    name: "lengths-disagree",
    statement: "one end may send longer frames than the other end takes",
    fact: "longest frame (MTU) of both ends",
    how: HOW_FAR,
    look: |view| {
        let (near, far) = match mtus(view) {
            Ok(both) => both,
            Err(why) => return Answer::Unknown(why),
        };
        let seen = |text: &str| {
            Seen::new(
                text,
                format!("{near} octets here, {far} there"),
                format!("this host, and {}", view.far.told_by),
            )
            .against("the same at both ends")
        };
        if near > far {
            Answer::Yes(seen("this end may send longer frames than the far end takes"))
        } else if near < far && is_growing(&own_length_errors(view)) {
            Answer::Yes(seen("the far end may send longer frames than this end takes"))
        } else {
            Answer::No(seen("the far end takes whatever this end may send"))
        }
    },
};

/// The end that takes less counts frames of a wrong length.
pub const WRONG_LENGTHS_COUNTED: Observation = Observation {
    name: "wrong-lengths-counted",
    statement: "frames of a wrong length are being counted by the end that takes less",
    fact: "frames of a wrong length over the observed time",
    how: HOW_RATE,
    look: |view| {
        let (own, theirs) = (own_length_errors(view), view.far.length_errors.clone());
        let (counted, place) = match mtus(view) {
            Ok((near, far)) if near > far => (theirs, "at the far end"),
            Err(_) if is_growing(&theirs) && !is_growing(&own) => (theirs, "at the far end"),
            _ => (own, "here"),
        };
        match counted {
            Fact::Known(change) => {
                let seen = |text: String| {
                    Seen::new(text, in_time(change), "IEEE 802.3 30.3.1.1.23-25").against("0")
                };
                if change.by > 0 {
                    Answer::Yes(seen(format!("frames of a wrong length are lost {place}")))
                } else {
                    Answer::No(seen(format!("no frame of a wrong length was counted {place}")))
                }
            }
            Fact::Missing(why) => Answer::Unknown(why),
        }
    },
};

/// True if frames are lost for their length, or this end may send what the far end does not take.
pub fn is_too_long(view: &View<'_>) -> bool {
    is_growing(&own_length_errors(view))
        || is_growing(&view.far.length_errors)
        || mtus(view).is_ok_and(|(near, far)| near > far)
}

/// Whose frames are too long for whom, as a sentence.
pub fn length_sentence(view: &View<'_>) -> String {
    match mtus(view) {
        Ok((near, far)) if near > far => format!(
            "This end may send frames of {near} octets and the far end takes {far}: longer ones \
             are lost there, while small ones pass."
        ),
        Ok((near, far)) if near < far => format!(
            "The far end may send frames of {far} octets and this end takes {near}: longer ones \
             are lost here, while small ones pass."
        ),
        _ => {
            "Frames of a wrong length are lost: one end may send longer ones than the other takes."
                .into()
        }
    }
}

// ---- idle -------------------------------------------------------------------------------

/// Energy-efficient Ethernet is at work.
pub const ENERGY_SAVING_ACTIVE: Observation = Observation {
    name: "energy-saving-active",
    statement: "energy-efficient Ethernet is active: the link sleeps between frames",
    fact: "energy-saving state of the link",
    how: HOW_HOST,
    look: |view| {
        let state = match &view.port.ethernet.energy_saving {
            Fact::Known(state) => state,
            Fact::Missing(why) => return Answer::Unknown(why.clone()),
        };
        let seen = |text: &str, observed: &str| {
            Seen::new(text, observed, "IEEE 802.3 clause 78, as the driver tells it")
        };
        match (state.enabled, state.active) {
            (Some(false), _) => {
                Answer::No(seen("energy-efficient Ethernet is switched off", "switched off"))
            }
            (_, Some(true)) => Answer::Yes(seen("energy-efficient Ethernet is active", "active")),
            // Without a link nothing is agreed upon: what was in use before is not known.
            (_, Some(false)) if view.port.carrier == Fact::Known(true) => Answer::No(seen(
                "the two ends have not agreed on energy-efficient Ethernet",
                "not active",
            )),
            _ => Answer::Unknown(Missing::with(
                Reason::NotReported,
                "the driver does not tell whether it is active, or there is no link now",
            )),
        }
    },
};

/// The link carried next to nothing meanwhile.
pub const IDLE_MEANWHILE: Observation = Observation {
    name: "idle-meanwhile",
    statement: "the link carried next to nothing meanwhile",
    fact: "octets carried over the observed time",
    how: HOW_RATE,
    look: |view| {
        let sent = used_share(view, |counters| &counters.sent_octets);
        let received = used_share(view, |counters| &counters.received_octets);
        let share = match (sent, received) {
            (Fact::Known(sent), Fact::Known(received)) => sent.max(received),
            (Fact::Missing(why), _) | (_, Fact::Missing(why)) => return Answer::Unknown(why),
        };
        let seen = |text: &str, limit: f64| {
            let observed = format!("{:.1} % of the rate", share * 100.0);
            Seen::new(text, observed, "octets sent and received")
                .against(format!("{} of the rate", percent(limit)))
        };
        if share < IDLE {
            Answer::Yes(seen("the link was as good as idle", IDLE))
        } else if share >= BUSY {
            Answer::No(seen("the link was in use", BUSY))
        } else {
            Answer::Moot
        }
    },
};

/// Carrier was lost again and again while being watched.
pub const LOST_AGAIN_AND_AGAIN: Observation = Observation {
    name: "lost-again-and-again",
    statement: "carrier was lost three times or more while being watched",
    fact: "losses of carrier over the observed time",
    how: HOW_RATE,
    look: |view| match rates::change(&view.port.instants, |instant| {
        instant.carrier_down_count.clone()
    }) {
        Fact::Known(change) if change.by >= PATTERN => Answer::Yes(
            Seen::new(
                "the link was lost again and again",
                in_time(change),
                "RFC 2863 interface state",
            )
            .against(format!("{PATTERN} times")),
        ),
        Fact::Known(_) => Answer::Moot,
        Fact::Missing(why) => Answer::Unknown(why),
    },
};
