//! What keeps a long answer in hand: the time and memory that it may take, Ctrl-C, and word of how far it
//! is. One thread looks at the clock while another one works; what works asks only whether it goes on.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::plan::{Budget, Progress, Pulse};
use crate::show::say::Say;

use super::args::LimitArgs;
use super::disk::Enclosed;

/// Seconds that an answer may take unless said (our judgement: who waits at a bench waits a minute).
pub(super) const SECONDS: u64 = 60;
/// Memory that it may take unless said, MB (our judgement: a small computer has twice that).
pub(super) const MEMORY_MB: u64 = 1_000;
/// How long equal orders are compared once the margin is proven, unless a time is said (our judgement).
const TIES: Duration = Duration::from_secs(2);
/// How often the clock is looked at: Ctrl-C is answered within half a second.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// From when on, and how often, word is given.
const TELL_EVERY: Duration = Duration::from_secs(1);

/// Word is given on the terminal only by the program itself.
static LIVE: AtomicBool = AtomicBool::new(false);
/// How often Ctrl-C was pressed since the last answer began.
static PRESSED: AtomicUsize = AtomicUsize::new(0);

/// How many files are being read: there is no best so far yet.
static NOTHING_YET: AtomicUsize = AtomicUsize::new(0);

/// While it lives there is nothing that Ctrl-C could wait for: it ends the program at once.
#[derive(Debug)]
pub(super) struct Nothing;

impl Nothing {
    pub(super) fn yet() -> Nothing {
        NOTHING_YET.fetch_add(1, Ordering::Relaxed);
        Nothing
    }
}

impl Drop for Nothing {
    fn drop(&mut self) {
        NOTHING_YET.fetch_sub(1, Ordering::Relaxed);
    }
}

/// From now on long answers say on standard error how far they are.
pub fn tell_progress() {
    LIVE.store(true, Ordering::Relaxed);
}

/// The reins of one answer.
#[derive(Debug)]
pub(super) struct Reins {
    pulse: &'static Pulse,
    ties: Duration,
    clock: fn() -> Duration,
    /// Where no thread can look at the clock: who hears how far the search is.
    alone: Option<Alone>,
}

/// What the search itself sees to where there is no other thread.
#[derive(Clone, Copy, Debug)]
struct Alone {
    tell: fn(&str),
    say: Say,
}

/// Time since this was asked first.
fn real_clock() -> Duration {
    static BEGUN: OnceLock<Instant> = OnceLock::new();
    BEGUN.get_or_init(Instant::now).elapsed()
}

impl Reins {
    /// Takes them up.
    pub(super) fn take(
        asked: LimitArgs,
        plans: bool,
        say: Say,
        enclosed: Option<Enclosed>,
    ) -> Reins {
        let LimitArgs { seconds, memory_mb } = asked;
        let limit = Duration::from_secs(seconds.unwrap_or(SECONDS));
        // One pulse is one answer's for good: a program gives one answer, a test some hundreds.
        let pulse: &'static Pulse = Box::leak(Box::default());
        let memory = memory_mb.unwrap_or(MEMORY_MB).saturating_mul(1_000_000);
        let ties = seconds.map_or(TIES, Duration::from_secs);
        if let Some(Enclosed { clock, tell, .. }) = enclosed {
            // A verb that does not plan ends by itself, as it does elsewhere.
            if plans {
                pulse.ends_at(clock, clock() + limit);
            }
            let alone = Some(Alone { tell, say });
            return Reins {
                pulse,
                ties,
                clock,
                alone,
            };
        }
        if plans {
            listen();
        }
        PRESSED.store(0, Ordering::Relaxed);
        let begun = Instant::now();
        let watcher = std::thread::Builder::new().name("reins".to_owned());
        // Without a thread nothing is called off: the benches are still counted.
        let bounds = Bounds {
            seconds: limit,
            memory,
            plans,
        };
        let _ = watcher.spawn(move || hold(pulse, begun, &bounds, say));
        Reins {
            pulse,
            ties,
            clock: real_clock,
            alone: None,
        }
    }

    /// A budget that these reins hold.
    pub(super) fn budget(&self, nodes: usize) -> Budget {
        Budget {
            pulse: Some(self.pulse),
            ..Budget::of(nodes)
        }
    }

    /// Set once the answer is wanted as it is.
    pub(super) fn stop(&self) -> &'static AtomicBool {
        self.pulse.stop()
    }

    /// Asked by the search: goes on until the comparison of equal orders takes too long.
    pub(super) fn watch(&self) -> impl FnMut(&Progress) -> bool + use<> {
        let (pulse, ties, clock) = (self.pulse, self.ties, self.clock);
        let mut alone = self.alone.map(|alone| (alone, clock()));
        let begun = clock();
        let mut since: Option<Duration> = None;
        move |progress: &Progress| {
            pulse.note(progress);
            let now = clock();
            if let Some((alone, told)) = &mut alone
                && now.saturating_sub(*told) >= TELL_EVERY
            {
                *told = now;
                (alone.tell)(&word(pulse, now.saturating_sub(begun), alone.say));
            }
            if !progress.ties {
                since = None;
                return true;
            }
            now.saturating_sub(*since.get_or_insert(now)) < ties
        }
    }
}

impl Drop for Reins {
    fn drop(&mut self) {
        self.pulse.finish();
    }
}

/// What an answer may take, and whether it is a plan of which there may be a best so far.
#[derive(Debug)]
struct Bounds {
    seconds: Duration,
    memory: u64,
    plans: bool,
}

/// Looks at the clock until the answer is there.
fn hold(pulse: &Pulse, begun: Instant, bounds: &Bounds, say: Say) {
    let (limit, memory) = (bounds.seconds, bounds.memory);
    let mut told = Duration::ZERO;
    while !pulse.is_finished() {
        std::thread::sleep(LOOK_EVERY);
        let now = begun.elapsed();
        let over = if PRESSED.load(Ordering::Relaxed) > 0 {
            Some("stopped as asked".to_owned())
        } else if !bounds.plans {
            None
        } else if now >= limit {
            Some(format!("{} s are over (`--seconds`)", limit.as_secs()))
        } else if resident().is_some_and(|bytes| bytes > memory) {
            Some(format!(
                "{} MB are full (`--memory-mb`)",
                memory / 1_000_000
            ))
        } else {
            None
        };
        if let Some(why) = over
            && !pulse.is_over()
        {
            pulse.call_off();
            tell(&format!("{why}: the best so far"));
        }
        if now.saturating_sub(told) >= TELL_EVERY && !pulse.is_finished() {
            told = now;
            let line = if bounds.plans {
                word(pulse, now, say)
            } else {
                format!("{} s (Ctrl-C ends it)", now.as_secs())
            };
            tell(&line);
        }
    }
}

/// What to press for the best so far.
#[cfg(not(target_family = "wasm"))]
const HOW_TO_END: &str = " (Ctrl-C: best so far, twice: end)";
#[cfg(target_family = "wasm")]
const HOW_TO_END: &str = "";

/// How far it is, in a line.
fn word(pulse: &Pulse, now: Duration, say: Say) -> String {
    let (benches, bound, ties) = pulse.told();
    let bound = bound.map_or_else(String::new, |bound| {
        let kept = say.dt(bound);
        if ties {
            format!(", {kept} proven, equal orders compared")
        } else {
            format!(", no order keeps more than {kept}")
        }
    });
    format!(
        "{} s, {benches} benches looked at{bound}{HOW_TO_END}",
        now.as_secs()
    )
}

#[expect(
    clippy::print_stderr,
    reason = "the thread that looks at the clock has no other voice"
)]
fn tell(line: &str) {
    if LIVE.load(Ordering::Relaxed) {
        eprintln!("{line}");
    }
}

/// A page has no Ctrl-C.
#[cfg(target_family = "wasm")]
fn listen() {}

/// Hears Ctrl-C from now on; the second one ends the program at once.
#[cfg(not(target_family = "wasm"))]
fn listen() {
    static LISTENING: OnceLock<bool> = OnceLock::new();
    LISTENING.get_or_init(|| ctrlc::set_handler(pressed).is_ok());
}

#[cfg(not(target_family = "wasm"))]
#[expect(clippy::exit, reason = "whoever presses twice wants no answer")]
fn pressed() {
    let nothing_yet = NOTHING_YET.load(Ordering::Relaxed) > 0;
    if PRESSED.fetch_add(1, Ordering::Relaxed) > 0 || nothing_yet {
        std::process::exit(130);
    }
}

/// Bytes of this process in memory, where the system says so.
fn resident() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    let pages: u64 = text.split_whitespace().nth(1)?.parse().ok()?;
    // Pages of 4 KiB, as nearly everywhere; of larger ones less is counted than there is.
    Some(pages * 4096)
}
