//! A small fixed part of the simulated ladders, carriers and budgets (`tests/findings`), so that no change spoils
//! them unseen. The whole of it: `cargo bench --bench findings`.
#![allow(dead_code)] // The bench's tables are not printed here.

#[path = "findings/budgets.rs"]
mod budgets;
#[path = "findings/evening.rs"]
mod evening;
#[path = "findings/ladders.rs"]
mod ladders;
#[path = "validation/random.rs"]
mod random;
#[path = "findings/unmasked.rs"]
mod unmasked;

const SEED: u64 = 20_260_314;

/// Source: the truth the audio is made with. Target: step sizes within 0.5 dB; of 54 steps a few may lie beyond.
#[test]
fn ladders_of_known_truth() {
    let trials = ladders::trials(SEED, 6);
    let table = ladders::table(&trials);
    let steps: Vec<_> = trials.iter().flat_map(|t| &t.steps).collect();
    assert!(steps.len() >= 50, "{table}");
    assert!(steps.iter().filter(|s| s.0.abs() <= 0.5).count() * 100 >= 92 * steps.len(), "{table}");
    for trial in &trials {
        let never = match trial.kind {
            ladders::Kind::Series => ["no_use", "worse"],
            ladders::Kind::Elsewhere => ["fits", "flattens"],
            ladders::Kind::Partly => ["no_use", "worse"],
        };
        assert!(
            !never.contains(&trial.verdict.as_str()),
            "{:?} called {}: {}",
            trial.kind,
            trial.verdict,
            trial.told
        );
    }
    assert!(trials.iter().filter(|t| t.followed).count() >= trials.len() - 1, "{table}");
}

/// Source: the same loud noise made once more with the carrier in it. Target: 95 % of what is decided.
#[test]
fn carriers_hidden_or_new() {
    let trials = unmasked::trials(SEED, 40);
    let table = unmasked::table(&trials);
    let decided: Vec<bool> = trials.iter().filter_map(unmasked::Trial::is_right).collect();
    assert!(decided.len() >= 10, "{table}");
    assert!(decided.iter().filter(|right| !**right).count() <= 1, "{table}");
}

/// Source: powers add; the truth the audio is made with. Tolerance: intervals hold 95 %, of some fifty 88 % at
/// least.
#[test]
fn budgets_of_known_truth() {
    let trials = budgets::trials(SEED, 16);
    let table = budgets::table(&trials);
    let shares: Vec<_> = trials.iter().flat_map(|t| &t.shares).collect();
    assert!(shares.len() >= 30 && shares.iter().filter(|s| s.1).count() * 100 >= 85 * shares.len(), "{table}");
    assert!(trials.iter().filter(|t| t.balance.0 == t.balance.1).count() >= trials.len() - 2, "{table}");
}

/// Ladders as people really record them: said, and nothing broken by it.
#[test]
fn odd_ladders_are_said() {
    use evening::{Evening, band};
    use noisetally::demo::synth::Hash;
    use noisetally::units::Db;

    let mut seed = 0;
    let mut next = || {
        seed += 1;
        seed
    };
    let mut evening = Evening::new(2, &mut next);
    let mut on = |labels: &str, excess: f64| {
        let scene = band().seed(next()).device(Hash::flat(), Db(excess));
        evening.add(scene, &format!("state = \"on\"\n{labels}"));
    };
    let lamp = "device = \"lamp\"\n";
    on(&format!("{lamp}started = 2026-03-14T19:00:00Z"), 10.0);
    on(&format!("{lamp}started = 2026-03-14T19:30:00Z"), 10.0);
    on(&format!("{lamp}remedy = \"filter\"\norder = 1\nstarted = 2026-03-14T19:10:00Z"), 6.0);
    on(&format!("{lamp}remedy = \"filter\"\norder = 3\nstarted = 2026-03-14T19:20:00Z"), 2.0);
    on("device = \"pump\"\nremedy = \"clip\"\norder = 1", 5.0);
    on("device = \"pump\"\nremedy = \"two clips\"\norder = 2", 4.0);
    on("device = \"lamp + fence\"", 11.0);
    let report = evening.report();
    let notes = |device: &str| {
        report.ladders.iter().find(|l| l.device == device).map_or_else(String::new, |l| l.notes.join("\n"))
    };
    assert!(notes("lamp").contains("recordings with \"filter\" differ by"), "{}", notes("lamp"));
    assert!(!notes("lamp").contains("recordings with no remedy differ"), "{}", notes("lamp"));
    assert!(notes("lamp").contains("made after the first with one"), "{}", notes("lamp"));
    assert!(notes("pump").contains("no recording without a remedy"), "{}", notes("pump"));
    let pump = report.ladders.iter().find(|l| l.device == "pump").expect("two steps make a ladder");
    assert!(pump.steps[1].bought_db.is_some_and(|bought| (bought - 1.0).abs() < 0.5), "{:?}", pump.steps[1]);
    assert!(report.joint.is_empty());
    assert!(report.warnings.iter().any(|w| w.message.contains("lamp + fence")), "{:?}", report.warnings);
    assert!(report.budget.iter().all(|entry| entry.device != "lamp + fence"));
}
