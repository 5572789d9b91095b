//! The kept corpus of broken inputs, and a short run of made ones, through every entry for foreign bytes.
#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "checks make broken files on purpose"
)]

#[path = "fuzz/targets.rs"]
mod targets;

use proptest::prelude::*;
use std::path::Path;
use targets::TARGETS;

#[test]
fn kept_inputs_and_sound_ones_have_an_answer() {
    let work = tempfile::tempdir().unwrap();
    let place = work.path().join("input");
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    let mut kept = 0;
    for target in &TARGETS {
        for seed in (target.seeds)(&place) {
            (target.run)(&seed, &place);
        }
        let Ok(listing) = std::fs::read_dir(corpus.join(target.name)) else {
            continue;
        };
        for entry in listing {
            (target.run)(&std::fs::read(entry.unwrap().path()).unwrap(), &place);
            kept += 1;
        }
    }
    assert!(kept > 0, "the corpus is there");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    /// Sound inputs with a few bytes changed, pieces taken out and the end cut off.
    #[test]
    fn broken_inputs_have_an_answer(
        number in 0..TARGETS.len(),
        seed in any::<prop::sample::Index>(),
        bytes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..6),
        gap in (any::<prop::sample::Index>(), 0_usize..40),
        cut in any::<Option<prop::sample::Index>>(),
    ) {
        let work = tempfile::tempdir().unwrap();
        let place = work.path().join("input");
        let target = &TARGETS[number];
        let seeds = (target.seeds)(&place);
        let mut input = seeds[seed.index(seeds.len())].clone();
        for (at, byte) in bytes {
            let at = at.index(input.len());
            input[at] = byte;
        }
        let from = gap.0.index(input.len());
        let to = (from + gap.1).min(input.len());
        input.drain(from..to);
        if let Some(end) = cut {
            input.truncate(end.index(input.len() + 1));
        }
        (target.run)(&input, &place);
    }
}

/// Text that nests without end.
#[test]
fn deep_nesting_is_refused() {
    let work = tempfile::tempdir().unwrap();
    for open in ["[", "{\"a\":", "{\"all\":{\"name\":\"\",\"edits\":["] {
        for depth in [100, 127, 128, 129, 5_000, 200_000] {
            let text = open.repeat(depth);
            for target in TARGETS.iter().filter(|target| TEXTS.contains(&target.name)) {
                (target.run)(text.as_bytes(), &work.path().join("input"));
            }
        }
    }
}

/// Targets that read JSON.
const TEXTS: [&str; 4] = ["project", "journal", "receipt", "mask"];
