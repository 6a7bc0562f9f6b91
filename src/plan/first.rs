//! The first bound and the first order, from pairs alone: what a task keeps of what another one
//! leaves, and the other way round, hangs on these two only, where both are families of their own.
//!
//! For a level, "the other must come first" is an arrow; an order keeps the level where the arrows
//! close no circle. So the widest order takes, one after another, the task that keeps the most with
//! all that are left still to come. Choices of alloys are branched on, worst pair first; what is not
//! chosen yet counts as the best of it.

use crate::quantity::KelvinStep;

use super::commute::{AT_EASE, BROKEN, Level, Pairs};
use super::done::Done;
use super::search::Move;
use super::task::Tasks;

/// Pairs of variants that are looked at (our judgement: some tens of milliseconds).
const MOST_WORK: usize = 20_000_000;

/// What the pairs say.
#[derive(Clone, Debug)]
pub struct First {
    /// No order keeps more.
    pub bound: Level,
    /// An order of the single tasks that keeps this much among themselves, where one was met.
    pub order: Option<(Vec<Move>, Level)>,
}

impl First {
    /// Nothing is known from pairs.
    pub const fn nothing() -> Self {
        First {
            bound: AT_EASE,
            order: None,
        }
    }

    /// The bound as a margin; `None` where a demand is broken in any order.
    #[expect(clippy::option_option, reason = "the inner one is: nothing at risk")]
    pub fn margin(&self) -> Option<Option<KelvinStep>> {
        match self.bound {
            AT_EASE => Some(None),
            BROKEN => None,
            level => {
                let level = i32::try_from(level).unwrap_or(i32::MAX);
                Some(Some(KelvinStep::from_millikelvin(level)))
            }
        }
    }
}

/// Looks for an order of single tasks that keeps more than is known.
pub fn first(tasks: &Tasks, pairs: &Pairs, single: Done, known: Level) -> First {
    let mut study = Study::new(tasks, pairs, single);
    study.most = known;
    let most = study.judge().level.min(study.of_alike());
    study.try_same();
    let bound = if study.most >= most {
        most
    } else {
        let whole = study.judge();
        let mut left = MOST_WORK;
        most.min(study.branch(&whole, &mut left))
    };
    First {
        bound: bound.max(study.most),
        order: study.best,
    }
}

struct Study<'t> {
    tasks: &'t Tasks,
    pairs: &'t Pairs,
    members: Vec<usize>,
    /// The first member that each is alike to: what is alike is chosen in order.
    alike: Vec<usize>,
    /// The variants of each member that may still be chosen.
    open: Vec<Vec<usize>>,
    /// The best that is kept where the first member comes before the second.
    before: Vec<Vec<Level>>,
    best: Option<(Vec<Move>, Level)>,
    most: Level,
}

/// What comes of choices.
struct Judged {
    level: Level,
    order: Vec<usize>,
    /// Members whose pair keeps the least.
    worst: Option<(usize, usize)>,
}

impl<'t> Study<'t> {
    fn new(tasks: &'t Tasks, pairs: &'t Pairs, single: Done) -> Self {
        let members: Vec<usize> = single.members().collect();
        let open = members
            .iter()
            .map(|t| (0..tasks.all[*t].variants.len()).collect())
            .collect();
        let mut study = Study {
            tasks,
            pairs,
            before: vec![vec![AT_EASE; members.len()]; members.len()],
            alike: (0..members.len()).collect(),
            members,
            open,
            best: None,
            most: BROKEN,
        };
        for m in 0..study.members.len() {
            study.weigh(m);
            let mut firsts = (0..m).filter(|f| study.alike[*f] == *f);
            if let Some(first) = firsts.find(|first| study.are_alike(*first, m)) {
                study.alike[m] = first;
            }
        }
        study
    }

    /// Members that may be exchanged, class by class.
    fn classes(&self) -> impl Iterator<Item = Vec<usize>> + '_ {
        let firsts = (0..self.members.len()).filter(|m| self.alike[*m] == *m);
        firsts.map(|first| {
            let all = 0..self.members.len();
            all.filter(|m| self.alike[*m] == first).collect()
        })
    }

    /// What a variant keeps where two members of a class come one after the other.
    fn within(&self, class: &[usize], v: usize, w: usize) -> Level {
        match class {
            [one, other, ..] => {
                let (first, then) = (self.number(*one, v), self.number(*other, w));
                let own = self.pairs.own[first].min(self.pairs.own[then]);
                self.pairs.before[first][then].min(own)
            }
            _ => AT_EASE,
        }
    }

    /// What members that may be exchanged keep at most. Where a level is kept by no variant before
    /// itself, all of them have different variants, each before the next: there is none such row that is
    /// longer than the longest way along pairs that keep the level.
    fn of_alike(&self) -> Level {
        self.classes()
            .filter(|class| class.len() > 1)
            .map(|class| self.of_class(&class))
            .min()
            .unwrap_or(AT_EASE)
    }

    fn of_class(&self, class: &[usize]) -> Level {
        let count = self.open[class[0]].len();
        let keeps: Vec<Vec<Level>> = (0..count)
            .map(|v| (0..count).map(|w| self.within(class, v, w)).collect())
            .collect();
        let mut levels: Vec<Level> = keeps.iter().flatten().copied().collect();
        levels.sort_unstable();
        levels.dedup();
        let can = |level: &Level| {
            (0..count).any(|v| keeps[v][v] >= *level)
                || longest(&keeps, *level).is_none_or(|longest| longest >= class.len())
        };
        // Whatever keeps a level keeps all below it.
        let kept = levels.partition_point(can);
        kept.checked_sub(1).map_or(BROKEN, |at| levels[at])
    }

    /// The same variant for all that may be exchanged, the one that bears itself best: an order to
    /// start from.
    fn try_same(&mut self) {
        let classes: Vec<Vec<usize>> = self.classes().filter(|class| class.len() > 1).collect();
        if classes.is_empty() {
            return;
        }
        let open = self.open.clone();
        for class in &classes {
            let best = open[class[0]]
                .iter()
                .copied()
                .max_by_key(|v| (self.within(class, *v, *v), std::cmp::Reverse(*v)));
            for m in class {
                self.open[*m] = best.into_iter().collect();
            }
        }
        (0..self.members.len()).for_each(|m| self.weigh(m));
        let judged = self.judge();
        self.branch(&judged, &mut (MOST_WORK / 4));
        self.open = open;
        (0..self.members.len()).for_each(|m| self.weigh(m));
    }

    /// Whether two members may be exchanged in everything that the pairs and what must come before say.
    fn are_alike(&self, one: usize, other: usize) -> bool {
        let (a, b) = (self.members[one], self.members[other]);
        let count = self.open[one].len();
        let needs = |t: usize| self.tasks.all[t].needs;
        let needed = self
            .tasks
            .all
            .iter()
            .any(|t| t.needs.has(a) != t.needs.has(b));
        if count != self.open[other].len() || needs(a) != needs(b) || needed {
            return false;
        }
        (0..count).all(|v| {
            let (x, y) = (self.number(one, v), self.number(other, v));
            let before = &self.pairs.before;
            let others = (0..self.members.len()).filter(|m| *m != one && *m != other);
            let mut with_others = others.flat_map(|m| {
                let variants = 0..self.tasks.all[self.members[m]].variants.len();
                variants.map(move |w| self.number(m, w))
            });
            self.pairs.own[x] == self.pairs.own[y]
                && (0..count).all(|w| {
                    let (x2, y2) = (self.number(one, w), self.number(other, w));
                    before[x][y2] == before[y][x2]
                })
                && with_others.all(|z| before[x][z] == before[y][z] && before[z][x] == before[z][y])
        })
    }

    fn number(&self, member: usize, variant: usize) -> usize {
        let task = self.members[member];
        self.pairs.number(Move { task, variant })
    }

    /// Works out the pairs of a member anew.
    fn weigh(&mut self, m: usize) {
        for other in 0..self.members.len() {
            if other != m {
                self.before[m][other] = self.of_pair(m, other);
                self.before[other][m] = self.of_pair(other, m);
            }
        }
    }

    fn of_pair(&self, first: usize, then: usize) -> Level {
        let variants = self.open[first].iter();
        let all = variants.flat_map(|v| {
            let row = &self.pairs.before[self.number(first, *v)];
            self.open[then].iter().map(|w| row[self.number(then, *w)])
        });
        all.max().unwrap_or(BROKEN)
    }

    fn own(&self, m: usize) -> Level {
        let variants = self.open[m].iter();
        let all = variants.map(|v| self.pairs.own[self.number(m, *v)]);
        all.max().unwrap_or(BROKEN)
    }

    /// The widest order with what is chosen.
    fn judge(&self) -> Judged {
        let count = self.members.len();
        let mut left: Vec<usize> = (0..count).collect();
        let mut judged = Judged {
            level: AT_EASE,
            order: Vec::with_capacity(count),
            worst: None,
        };
        for m in 0..count {
            let own = self.own(m);
            if own < judged.level {
                judged.level = own;
                judged.worst = Some((m, m));
            }
        }
        // What the worst of those still to come leaves of each: found anew only where that one went.
        let worst_of = |m: usize, left: &[usize]| {
            let others = left.iter().filter(|o| **o != m);
            others.map(|o| (self.before[m][*o], *o)).min()
        };
        let mut worst: Vec<Option<(Level, usize)>> =
            (0..count).map(|m| worst_of(m, &left)).collect();
        let mut placed = Done::NONE;
        let single: Done = self.members.iter().copied().collect();
        while !left.is_empty() {
            let may_go = |m: &usize| {
                let needs = self.tasks.all[self.members[*m]].needs & single;
                needs.without(placed).is_empty()
            };
            let level = |m: usize| worst[m].map_or(AT_EASE, |(level, _)| level);
            let Some(next) = left
                .iter()
                .copied()
                .filter(may_go)
                .max_by_key(|m| (level(*m), std::cmp::Reverse(*m)))
            else {
                judged.level = BROKEN;
                break;
            };
            if let Some((level, other)) = worst[next]
                && level < judged.level
            {
                judged.level = level;
                judged.worst = Some((next, other));
            }
            left.retain(|m| *m != next);
            for &m in &left {
                if worst[m].is_some_and(|(_, other)| other == next) {
                    worst[m] = worst_of(m, &left);
                }
            }
            placed = placed.with(self.members[next]);
            judged.order.push(next);
        }
        judged
    }

    /// What the best of the choices that are left may keep at most; better ones are kept.
    fn branch(&mut self, judged: &Judged, left: &mut usize) -> Level {
        if judged.level <= self.most {
            return judged.level;
        }
        let undecided = |m: &usize| self.open[*m].len() > 1;
        let worst = judged.worst.iter().flat_map(|(one, other)| [*one, *other]);
        let all = 0..self.members.len();
        let Some(m) = worst.chain(all).find(undecided) else {
            let order = judged.order.iter().map(|m| Move {
                task: self.members[*m],
                variant: self.open[*m].first().copied().unwrap_or(0),
            });
            self.best = Some((order.collect(), judged.level));
            self.most = judged.level;
            return judged.level;
        };
        // Of what is alike the first is chosen first, and the later ones take no earlier variant.
        let alike: Vec<usize> = (0..self.members.len())
            .filter(|o| self.alike[*o] == self.alike[m])
            .collect();
        let Some(m) = alike.iter().copied().find(|o| self.open[*o].len() > 1) else {
            return judged.level;
        };
        let variants = self.open[m].clone();
        let mut tried: Vec<(Level, usize)> = Vec::with_capacity(variants.len());
        for &v in &variants {
            let before = self.choose(m, v, &alike);
            let changed = before.len() * self.open.iter().map(Vec::len).sum::<usize>();
            *left = left.saturating_sub(changed * variants.len());
            tried.push((self.judge().level, v));
            self.restore(before);
        }
        tried.sort_by_key(|(level, v)| (std::cmp::Reverse(*level), *v));
        let mut most = BROKEN;
        for (level, v) in tried {
            if level <= self.most {
                most = most.max(level);
                break;
            }
            if *left == 0 {
                most = most.max(level);
                continue;
            }
            let before = self.choose(m, v, &alike);
            let judged = self.judge();
            most = most.max(self.branch(&judged, left));
            self.restore(before);
        }
        most
    }

    /// Chooses a variant; what was open before is given back.
    fn choose(&mut self, m: usize, v: usize, alike: &[usize]) -> Vec<(usize, Vec<usize>)> {
        let mut before = vec![(m, std::mem::replace(&mut self.open[m], vec![v]))];
        for &later in alike.iter().filter(|o| **o > m) {
            let fewer: Vec<usize> = self.open[later]
                .iter()
                .copied()
                .filter(|w| *w >= v)
                .collect();
            if fewer.len() < self.open[later].len() {
                before.push((later, std::mem::replace(&mut self.open[later], fewer)));
            }
        }
        for (changed, _) in &before {
            self.weigh(*changed);
        }
        before
    }

    fn restore(&mut self, before: Vec<(usize, Vec<usize>)>) {
        let changed: Vec<usize> = before.iter().map(|(m, _)| *m).collect();
        for (m, open) in before {
            self.open[m] = open;
        }
        for m in changed {
            self.weigh(m);
        }
    }
}

/// Members of the longest way along pairs that keep a level; `None` where it goes round.
fn longest(keeps: &[Vec<Level>], level: Level) -> Option<usize> {
    let count = keeps.len();
    let onward = |v: usize| (0..count).filter(move |w| *w != v && keeps[v][*w] >= level);
    // Peeled from the ends: what has nothing after it, then what has only that after it.
    let mut after: Vec<usize> = (0..count).map(|v| onward(v).count()).collect();
    let mut ends: Vec<usize> = (0..count).filter(|v| after[*v] == 0).collect();
    let (mut peeled, mut layers) = (0, 0);
    while !ends.is_empty() {
        layers += 1;
        peeled += ends.len();
        let mut next = Vec::new();
        for &end in &ends {
            for v in (0..count).filter(|v| *v != end && keeps[*v][end] >= level) {
                after[v] -= 1;
                if after[v] == 0 {
                    next.push(v);
                }
            }
        }
        ends = next;
    }
    (peeled == count).then_some(layers)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Pick;
    use crate::job::StepIx;
    use crate::plan::task::{Task, Variant};
    use proptest::prelude::*;

    /// Tasks with some variants each, and what each move keeps before each other one; some tasks alike.
    fn problem() -> impl Strategy<Value = (Tasks, Pairs)> {
        (2..5_usize, 1..4_usize, any::<bool>()).prop_flat_map(|(tasks, variants, alike)| {
            let moves = tasks * variants;
            let own = prop::collection::vec(0..6_i64, variants);
            let rows = prop::collection::vec(prop::collection::vec(0..8_i64, moves), moves);
            let needs = prop::collection::vec(any::<bool>(), tasks);
            (Just((tasks, variants, alike)), own, rows, needs).prop_map(built)
        })
    }

    type Drawn = ((usize, usize, bool), Vec<Level>, Vec<Vec<Level>>, Vec<bool>);

    fn built(((tasks, variants, alike), own, rows, needs): Drawn) -> (Tasks, Pairs) {
        let variant = Variant {
            pick: Pick::default(),
            tool: None,
            alloy: None,
        };
        let all = (0..tasks).map(|t| Task {
            step: StepIx(t),
            needs: if !alike && t > 0 && needs[t] {
                Done::one(t - 1)
            } else {
                Done::NONE
            },
            forgoes: Done::NONE,
            variants: vec![variant; variants],
        });
        let at = |first: usize, then: usize| {
            if alike {
                rows[first % variants][then % variants]
            } else {
                rows[first][then]
            }
        };
        let moves = tasks * variants;
        let before = (0..moves)
            .map(|x| (0..moves).map(|y| at(x, y)).collect())
            .collect();
        let pairs = Pairs {
            first: (0..tasks).map(|t| t * variants).collect(),
            own: (0..moves).map(|x| own[x % variants]).collect(),
            before,
        };
        let tasks = Tasks {
            mandatory: Done::first(tasks),
            all: all.collect(),
            twins: (0..tasks).collect(),
        };
        (tasks, pairs)
    }

    /// Every order of every choice.
    fn brute(tasks: &Tasks, pairs: &Pairs, way: &mut Vec<Move>, kept: Level) -> Level {
        if way.len() == tasks.all.len() {
            return kept;
        }
        let done: Done = way.iter().map(|step| step.task).collect();
        let mut best = BROKEN;
        for task in tasks.open(done).collect::<Vec<_>>() {
            for variant in 0..tasks.all[task].variants.len() {
                let step = Move { task, variant };
                let own = pairs.own[pairs.number(step)];
                let pair = |first: &Move| pairs.before[pairs.number(*first)][pairs.number(step)];
                let now = way.iter().map(pair).min().unwrap_or(AT_EASE).min(own);
                way.push(step);
                best = best.max(brute(tasks, pairs, way, kept.min(now)));
                way.pop();
            }
        }
        best
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]
        #[test]
        fn pairs_say_what_every_order_of_every_choice_says((tasks, pairs) in problem()) {
            let want = brute(&tasks, &pairs, &mut Vec::new(), AT_EASE);
            let found = first(&tasks, &pairs, tasks.mandatory, BROKEN);
            prop_assert_eq!(found.bound, want);
            let (order, kept) = found.order.unwrap();
            prop_assert_eq!(kept, want);
            prop_assert_eq!(order.len(), tasks.all.len());
        }
    }
}
