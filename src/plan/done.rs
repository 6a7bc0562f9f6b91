//! A set of tasks, one bit each.

use std::ops::{BitAnd, BitOr, BitOrAssign, Not};

/// Most tasks that a set holds, and so most steps that one search keeps books of.
pub const MOST_TASKS: usize = 256;

/// A set of tasks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Done([u128; 2]);

impl Done {
    /// No task.
    pub const NONE: Done = Done([0; 2]);
    /// Every task that there may be.
    pub const ALL: Done = Done([u128::MAX; 2]);

    /// One task.
    pub const fn one(task: usize) -> Self {
        match task {
            0..128 => Done([1 << task, 0]),
            128..MOST_TASKS => Done([0, 1 << (task - 128)]),
            _ => Done::NONE,
        }
    }

    /// The first so many tasks.
    pub const fn first(count: usize) -> Self {
        match count {
            0..128 => Done([(1 << count) - 1, 0]),
            128..MOST_TASKS => Done([u128::MAX, (1 << (count - 128)) - 1]),
            _ => Done::ALL,
        }
    }

    /// Whether a task is in it.
    pub fn has(self, task: usize) -> bool {
        !(self & Done::one(task)).is_empty()
    }

    /// The set with a task more.
    pub fn with(self, task: usize) -> Self {
        self | Done::one(task)
    }

    /// The set without the members of another.
    pub fn without(self, other: Done) -> Self {
        self & !other
    }

    /// Whether nothing is in it.
    pub fn is_empty(self) -> bool {
        self.0 == [0; 2]
    }

    /// How many are in it.
    pub fn count(self) -> u32 {
        self.0[0].count_ones() + self.0[1].count_ones()
    }

    /// Its members, lowest first.
    pub fn members(self) -> Members {
        Members(self)
    }
}

impl BitAnd for Done {
    type Output = Done;
    fn bitand(self, other: Done) -> Done {
        Done([self.0[0] & other.0[0], self.0[1] & other.0[1]])
    }
}

impl BitOr for Done {
    type Output = Done;
    fn bitor(self, other: Done) -> Done {
        Done([self.0[0] | other.0[0], self.0[1] | other.0[1]])
    }
}

impl BitOrAssign for Done {
    fn bitor_assign(&mut self, other: Done) {
        *self = *self | other;
    }
}

impl Not for Done {
    type Output = Done;
    fn not(self) -> Done {
        Done([!self.0[0], !self.0[1]])
    }
}

impl FromIterator<usize> for Done {
    fn from_iter<I: IntoIterator<Item = usize>>(tasks: I) -> Self {
        tasks.into_iter().fold(Done::NONE, Done::with)
    }
}

/// The members of a set, lowest first.
#[derive(Clone, Debug)]
pub struct Members(Done);

impl Iterator for Members {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        let [low, high] = &mut self.0.0;
        let (half, from) = if *low == 0 { (high, 128) } else { (low, 0) };
        if *half == 0 {
            return None;
        }
        let task = half.trailing_zeros() as usize + from;
        *half &= *half - 1;
        Some(task)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn members_come_back_over_both_halves() {
        let tasks = [0, 5, 127, 128, 200, 255];
        let set: Done = tasks.into_iter().collect();
        assert_eq!(set.members().collect::<Vec<_>>(), tasks);
        assert_eq!(set.count(), 6);
        assert!(set.has(128) && !set.has(129) && !set.has(999));
        assert!(set.without(set).is_empty());
        assert_eq!((!set).count(), 250);
        for count in [0, 1, 127, 128, 129, 255, 256] {
            assert_eq!(Done::first(count), (0..count).collect());
        }
    }
}
