//! A walk over the circuits of a house: which one makes the noise, found at the distribution board. One alone with
//! all others off, or all but one; with everything off and everything on in between. Not here: what the takes tell
//! (`findings::ranking`).

use serde::{Deserialize, Serialize};

use crate::labels::State;

/// Which way the walk goes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Each circuit on alone, all others off.
    #[default]
    Alone,
    /// Each circuit off alone, all others on.
    AllBut,
}

/// Circuits between two takes of what each is compared with. Chosen: the band moves little in three or four takes,
/// and a take of everything off serves them all.
const BETWEEN: usize = 3;

/// A step of the walk.
pub(super) struct Step {
    pub state: State,
    /// As the label `device` has it.
    pub device: Option<String>,
    /// What to do before it, as a sentence.
    pub before: String,
}

/// The steps of a walk gone so many times, every second time backwards, so that a slow drift of the band takes no
/// part.
pub(super) fn steps(circuits: &[String], way: Way, rounds: u32) -> Vec<Step> {
    let mut steps = Vec::new();
    if circuits.is_empty() {
        return steps;
    }
    let mut push = |state: State, device: Option<String>, before: String| {
        steps.push(Step { state, device, before });
    };
    for round in 0..rounds {
        let mut order: Vec<&String> = circuits.iter().collect();
        if round % 2 == 1 {
            order.reverse();
        }
        let first = if round == 0 { "Receiver on its battery. " } else { "" };
        push(State::Off, None, format!("{first}Main switch off: everything off."));
        for (place, circuit) in order.iter().enumerate() {
            let again = place % BETWEEN == 0;
            match way {
                Way::Alone => {
                    if again && place > 0 {
                        push(State::Off, None, "All circuits off.".to_owned());
                    }
                    let on = format!("Main switch on, one circuit alone on: {circuit}. All others off.");
                    push(State::On, Some((*circuit).clone()), on);
                }
                Way::AllBut => {
                    if again {
                        push(State::On, Some("all".to_owned()), "Everything on.".to_owned());
                    }
                    let off = format!("One circuit alone off: {circuit}. All others on.");
                    push(State::On, Some(format!("all but {circuit}")), off);
                }
            }
        }
        push(State::On, Some("all".to_owned()), "Everything on.".to_owned());
    }
    push(State::Off, None, "Main switch off: everything off.".to_owned());
    steps
}
