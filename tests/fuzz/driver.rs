//! Throws broken inputs at every entry for foreign bytes: `cargo run --release --example fuzz -- TARGET SECONDS [SEED]`,
//! or `all` for every target in turn. It changes inputs it has at random and keeps those that are answered in a new way.
//!
//! A panic, an input that takes longer than [`SLOWEST`], or more memory than [`MEMORY`] ends it; the input then lies in
//! `tests/fuzz/found`. Once mended it goes to `tests/fuzz/corpus/TARGET`, which `cargo test` runs (`tests/fuzz_corpus.rs`).
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a testing program outside the product reads files and the clock, and prints"
)]

mod targets;

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};
use targets::{TARGETS, Target};

/// The most processor time that one input may take, on all threads together.
const SLOWEST: Duration = Duration::from_secs(10);
/// The most memory that the process may have held, in KiB.
const MEMORY: usize = 1536 << 10;
/// Largest input made, in bytes.
const LARGEST: usize = 1 << 18;
/// Pieces that JSON inputs may need.
const WORDS: [&str; 16] = [
    "null",
    "[]",
    "{}",
    "-1",
    "4294967295",
    "1e308",
    "-1e39",
    "\"\"",
    "\"all\"",
    "\"edits\":[",
    "\"plate\":[1,",
    "{\"name-scene\":\"x\"}",
    "\"undo\"",
    "\\u0000",
    "[[[[[[[[",
    "]]]]]]]]",
];

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [name, seconds, rest @ ..] = words.as_slice() else {
        println!("usage: fuzz TARGET|all SECONDS [SEED]");
        return ExitCode::from(2);
    };
    let seconds: u64 = seconds.parse().unwrap();
    let seed = rest.first().map_or(1, |seed| seed.parse().unwrap());
    let chosen: Vec<&Target> = TARGETS
        .iter()
        .filter(|target| name == "all" || name == target.name)
        .collect();
    if chosen.is_empty() {
        println!("no such target");
        return ExitCode::from(2);
    }
    let work = tempfile::tempdir().unwrap();
    let sound = chosen
        .iter()
        .all(|target| run(target, Duration::from_secs(seconds), seed, work.path()));
    if sound {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// A plain generator; only variety matters.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 ^ (self.0 >> 31)) >> 7
    }

    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(end.max(1)).unwrap()).unwrap()
    }
}

fn run(target: &Target, time: Duration, seed: u64, work: &Path) -> bool {
    let place = work.join("input");
    let mut pool = (target.seeds)(&place);
    pool.extend(corpus(target.name));
    let mut answers = BTreeSet::new();
    let mut dice = Dice(seed);
    let (begun, mut count, mut slowest) = (Instant::now(), 0_u64, Duration::ZERO);
    let mut waiting: Vec<Vec<u8>> = pool.clone();
    while begun.elapsed() < time {
        let input = waiting.pop().unwrap_or_else(|| changed(&pool, &mut dice));
        // Where the process itself dies, this is the input that did it.
        std::fs::write(work.join("last"), &input).unwrap();
        let start = processor_time();
        let answer = catch_unwind(AssertUnwindSafe(|| (target.run)(&input, &place)));
        let took = processor_time().saturating_sub(start);
        slowest = slowest.max(took);
        count += 1;
        let held = held_kib();
        let Ok(answer) = answer else {
            return lost(target, &input, "panics");
        };
        if took > SLOWEST {
            return lost(target, &input, "takes too long");
        }
        if held > MEMORY {
            return lost(target, &input, "takes too much memory");
        }
        let kind: String = answer
            .chars()
            .filter(|letter| !letter.is_ascii_digit())
            .take(120)
            .collect();
        if pool.len() < 2000 && answers.insert(kind) {
            pool.push(input);
        }
    }
    println!(
        "{}: {count} inputs in {:.0} s, {} kinds of answers, slowest {} ms, {} MiB held at most",
        target.name,
        begun.elapsed().as_secs_f64(),
        answers.len(),
        slowest.as_millis(),
        held_kib() >> 10
    );
    true
}

fn lost(target: &Target, input: &[u8], why: &str) -> bool {
    let found = home().join("found");
    std::fs::create_dir_all(&found).unwrap();
    let path = found.join(format!(
        "{}-{}",
        target.name,
        &blake3::hash(input).to_hex()[..12]
    ));
    std::fs::write(&path, input).unwrap();
    println!("{}: an input {why}: {}", target.name, path.display());
    false
}

fn home() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz")
}

fn corpus(name: &str) -> Vec<Vec<u8>> {
    let Ok(listing) = std::fs::read_dir(home().join("corpus").join(name)) else {
        return Vec::new();
    };
    let mut paths: Vec<PathBuf> = listing.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
        .iter()
        .map(|path| std::fs::read(path).unwrap())
        .collect()
}

/// Processor time this process has used, in steps of a hundredth of a second; none where the system does not say. Another program
/// that keeps the processors busy makes no input slow.
fn processor_time() -> Duration {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = text.rsplit_once(')').map_or("", |(_name, fields)| fields);
    let ticks = |at: usize| -> u64 {
        let field = fields.split_whitespace().nth(at);
        field.and_then(|ticks| ticks.parse().ok()).unwrap_or(0)
    };
    Duration::from_millis(10 * (ticks(11) + ticks(12)))
}

/// The most memory this process has held, in KiB; 0 where the system does not say.
fn held_kib() -> usize {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok())
        .unwrap_or(0)
}

/// One of the pool with a few changes.
fn changed(pool: &[Vec<u8>], dice: &mut Dice) -> Vec<u8> {
    let mut input = pool[dice.below(pool.len())].clone();
    for _change in 0..=dice.below(6) {
        let at = dice.below(input.len() + 1);
        let left = input.len() - at;
        match dice.below(9) {
            0 if left > 0 => input[at] ^= 1 << dice.below(8),
            1 if left > 0 => input[at] = u8::try_from(dice.next() % 256).unwrap(),
            2 if left >= 4 => {
                let odd = [0, 1, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff_u32, 0x1_0000];
                let mut bytes = odd[dice.below(odd.len())].to_le_bytes();
                if dice.below(2) == 0 {
                    bytes.reverse();
                }
                input[at..at + 4].copy_from_slice(&bytes);
            }
            3 => input.truncate(at),
            4 => {
                let end = at + dice.below(left.min(64) + 1);
                input.drain(at..end);
            }
            5 => {
                let piece = input[at..at + dice.below(left.min(256) + 1)].to_vec();
                let to = dice.below(input.len() + 1);
                input.splice(to..to, piece);
            }
            6 => {
                let word = WORDS[dice.below(WORDS.len())];
                let end = at + dice.below(left.min(8) + 1);
                input.splice(at..end, word.bytes());
            }
            7 => {
                let other = &pool[dice.below(pool.len())];
                let from = dice.below(other.len() + 1);
                input.truncate(at);
                input.extend_from_slice(&other[from..]);
            }
            _ => {
                let digits: Vec<usize> = (0..input.len())
                    .filter(|at| input[*at].is_ascii_digit())
                    .collect();
                if let Some(at) = digits.get(dice.below(digits.len())) {
                    input[*at] = b'0' + u8::try_from(dice.below(10)).unwrap();
                }
            }
        }
    }
    input.truncate(LARGEST);
    input
}
