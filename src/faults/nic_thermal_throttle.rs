//! The adapter itself, or its PHY, is too hot: it steps down its speed or drops its link until it
//! is cool again.

use crate::chain::PartKind;
use crate::diagnose::observations as see;
use crate::faults::{Caution, Confusion, Consequence, Fault, NextTest, Row, Status, Symptom};

/// The adapter is too hot.
pub const FAULT: Fault = Fault {
    name: "nic-thermal-throttle",
    title: "the adapter itself is too hot",
    status: Status::Settled,
    part: PartKind::Port,
    meaning: "A sensor of the adapter itself is over its limit. Adapters step down their speed or give \
 up their link when they are that hot, and come back when they are cool.",
    explains: &[Symptom::Heat, Symptom::Slow, Symptom::Flaps, Symptom::Down],
    consequence: Consequence::Fault,
    before: -10,
    signature: &[
        Row {
            sees: &see::ADAPTER_HOT,
            yes: 16,
            no: -60,
            vital: true,
            why: "the adapter's own reading against its own limit",
        },
        Row {
            sees: &see::ADAPTER_AT_ALARM,
            yes: 8,
            no: 0,
            vital: false,
            why: "beyond what the reading can be wrong by",
        },
        Row {
            sees: &see::LESS_THAN_OFFERED,
            yes: 5,
            no: 0,
            vital: false,
            why: "what heat would do; other things do it too",
        },
        Row { sees: &see::LOG_THERMAL, yes: 12, no: 0, vital: false, why: "the kernel says so" },
    ],
    confused_with: &[
        Confusion {
            with: "pair-fault-downshift",
            decider: "is the adapter too hot, and does the speed come back when it is cool?",
        },
        Confusion { with: "module-overtemperature", decider: "which sensor is over its limit?" },
    ],
    next_tests: &[NextTest {
        step: "See to the airflow over the adapter (fans, blocked grilles, a neighbour that blows warm \
               air), without opening a machine that runs, and look again when it is cool",
        tells: "the link comes back as it cools: heat it was; no change when it is cool: go by the \
                other causes",
        care: &[Caution::Heat, Caution::Power],
    }],
    usual_fix: "cooling: airflow over the adapter, another slot, a fan",
    sources: &["public issue threads", "kernel hardware monitoring interface documentation"],
    sentence: |view| {
        let heat = see::adapter_heat_text(view);
        let (down, best) = (view.port.carrier.known() == Some(&false), view.port_best());
        match (down, &view.running) {
            (true, _) => {
                format!("The adapter is too hot ({heat}), and may have dropped its link for that.")
            }
            (_, running) if running.known() < best.known() => format!(
                "The adapter is too hot ({heat}), and may have stepped down its speed for that: it \
                 runs at {}.",
                crate::diagnose::words::speed(running)
            ),
            _ => format!("The adapter is too hot ({heat})."),
        }
    },
};
