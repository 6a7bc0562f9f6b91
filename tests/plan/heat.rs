//! How hot everything gets in a step on the naive bench.

use meltstair::job::{JointIx, PartIx, Tool, Way, Where, ZoneIx};

use super::step::Target;
use super::{Naive, carrier};

/// How heat gets about in one step.
pub struct Heat<'w> {
    pub way: &'w Way,
    pub peak: i32,
    /// Plate, oven, preheat, bake: whatever is on the board gets as hot at least.
    pub everywhere: bool,
}

impl Heat<'_> {
    /// What is stated for the first of some places that has anything.
    pub fn stated(&self, keys: &[Where]) -> Option<i32> {
        let pre = self.way.preheat.millidegrees();
        for key in keys {
            if let Some(t) = self.read(*key) {
                return Some(if self.everywhere { t.max(self.peak) } else { t });
            }
            if let Some((_, k)) = self.way.couplings.iter().find(|(place, _)| place == key) {
                let k = if self.everywhere {
                    k.factor().max(1.0)
                } else {
                    k.factor()
                };
                return Some(pre + up(f64::from(self.peak - pre) * k));
            }
        }
        None
    }

    fn read(&self, key: Where) -> Option<i32> {
        let mut sees = self.way.sees.iter();
        sees.find(|(place, _)| *place == key)
            .map(|(_, t)| t.millidegrees())
    }

    /// What is stated by the narrowest of a place's names; a temperature of a part or a zone beats a smaller
    /// share of something within it.
    pub fn said(&self, names: &[Vec<Where>]) -> Option<i32> {
        let narrowest = names
            .iter()
            .position(|keys| keys.iter().any(|key| self.stated(&[*key]).is_some()))?;
        let keys = &names[narrowest];
        let own = keys.iter().filter_map(|key| self.stated(&[*key])).max()?;
        let decides = |key: &&Where| self.stated(&[**key]) == Some(own);
        // Of equals the last, as with the transition.
        let share = keys
            .iter()
            .rfind(decides)
            .is_some_and(|key| self.read(*key).is_none());
        let wider = names[narrowest + 1..].iter().flatten();
        let wider = wider
            .filter(|key| share && !matches!(key, Where::Rest))
            .filter_map(|key| self.read(*key));
        let own = wider.chain([own]).max()?;
        // A body is not the joints below it: what is said of their zone, or of the rest, counts too.
        let body = narrowest > 0 && matches!(keys[..], [Where::Part(_), ..]);
        let level = |keys: &Vec<Where>| keys.iter().filter_map(|key| self.stated(&[*key])).max();
        let around = names[narrowest + 1..].iter().find_map(level);
        Some(own.max(around.filter(|_| body).unwrap_or(own)))
    }

    pub fn at(&self, keys: &[Where]) -> Option<i32> {
        self.stated(keys).or(self.everywhere.then_some(self.peak))
    }
}

/// A rise is rounded away from zero.
pub fn up(rise: f64) -> i32 {
    let rise = if rise < 0.0 {
        (rise + 1e-6).floor()
    } else {
        (rise - 1e-6).ceil()
    };
    #[expect(clippy::cast_possible_truncation, reason = "some hundred thousand")]
    {
        rise as i32
    }
}

impl Naive<'_> {
    /// Iron and tweezers do the members of a group one by one.
    pub(super) fn goes_round(&self, way: &Way, target: &Target) -> bool {
        let local = matches!(way.tool, Tool::Iron | Tool::Tweezers);
        local && !target.lifts && matches!(target.at[..], [j] if self.job.joints[j].count > 1)
    }

    /// What a group of joints sees.
    pub(super) fn joint_sees(&self, heat: &Heat, target: &Target, j: usize) -> Option<i32> {
        if target.at.contains(&j) {
            // Where a tool goes from member to member, `k` is what the others see.
            let key = Where::Joint(JointIx(j));
            let read = heat.way.sees.iter().any(|(place, _)| *place == key);
            let own = heat
                .stated(&[key])
                .filter(|_| read || !self.goes_round(heat.way, target));
            return Some(own.unwrap_or(heat.peak));
        }
        self.around(heat, j)
            .or(heat.everywhere.then_some(heat.peak))
    }

    /// What is stated of a group of joints: of itself, of the parts on it, of its zone, of the rest.
    pub(super) fn around(&self, heat: &Heat, j: usize) -> Option<i32> {
        let joint = &self.job.joints[j];
        let parts = match (&self.spots[j].parts[..], joint.site_of) {
            ([], Some(site)) => vec![site.0],
            (parts, _) => parts.to_vec(),
        };
        let zones: Vec<ZoneIx> = match joint.zone {
            Some(zone) => vec![zone],
            None => parts.iter().filter_map(|p| self.bodies[*p].zone).collect(),
        };
        heat.said(&[
            vec![Where::Joint(JointIx(j))],
            parts.iter().map(|p| Where::Part(PartIx(*p))).collect(),
            zones.iter().map(|zone| Where::Zone(*zone)).collect(),
            vec![Where::Rest],
        ])
    }

    /// Whether something is said of the part or the zone of a group of joints.
    pub(super) fn is_named(&self, heat: &Heat, j: usize) -> bool {
        let without = Way {
            couplings: Vec::new(),
            sees: Vec::new(),
            ..heat.way.clone()
        };
        let keep = |place: &Where| matches!(place, Where::Part(_) | Where::Zone(_));
        let couplings = heat.way.couplings.iter().filter(|(place, _)| keep(place));
        let sees = heat.way.sees.iter().filter(|(place, _)| keep(place));
        let way = Way {
            couplings: couplings.copied().collect(),
            sees: sees.copied().collect(),
            ..without
        };
        let heat = Heat { way: &way, ..*heat };
        self.around(&heat, j).is_some()
    }

    /// A body beside hot air of which only the joints are spoken of.
    pub(super) fn is_open_to_air(&self, heat: &Heat, target: &Target, p: usize) -> bool {
        let body = &self.bodies[p];
        let mut own = (0..self.job.joints.len()).filter(|j| carrier(self.job, *j) == Some(p));
        let heated = target.part == Some(p)
            || body.on.iter().any(|j| target.at.contains(j))
            || own.any(|j| target.at.contains(&j));
        let mut wider = [Where::Part(PartIx(p)), Where::Rest]
            .into_iter()
            .chain(body.zone.map(Where::Zone));
        let mut joints = body.on.iter().map(|j| Where::Joint(JointIx(*j)));
        heat.way.tool == Tool::Air
            && !heat.everywhere
            && !target.aside
            && !heated
            && joints.any(|key| heat.stated(&[key]).is_some())
            && !wider.any(|key| heat.stated(&[key]).is_some())
    }

    /// What the body of a part sees, if the step concerns it at all; the inner `None`: nobody knows.
    #[expect(clippy::option_option, reason = "the inner one is what is not known")]
    pub(super) fn body_sees(
        &self,
        heat: &Heat,
        target: &Target,
        next: &Naive,
        p: usize,
    ) -> Option<Option<i32>> {
        let named = vec![Where::Part(PartIx(p))];
        let own = heat.stated(&named).and_then(|_| {
            let zone = self.bodies[p].zone.map(Where::Zone);
            heat.said(&[named, zone.into_iter().collect()])
        });
        // An iron alone may leave a body cooler than its joints.
        let outside = !matches!(heat.way.tool, Tool::Iron | Tool::Tweezers);
        let in_hand = target.part == Some(p);
        if target.aside {
            let own = own.map(|own| if outside { own.max(heat.peak) } else { own });
            return in_hand.then_some(Some(own.unwrap_or(heat.peak)));
        }
        let carried = (0..self.job.joints.len()).filter(|j| carrier(self.job, *j) == Some(p));
        let carried: Vec<usize> = carried.collect();
        let mut below: Vec<usize> = self.bodies[p].on.clone();
        if in_hand {
            below.extend(&next.bodies[p].on);
        }
        let lies = self.bodies[p].lies && self.bodies[p].on.is_empty();
        let warm = |j: &&usize| target.at.contains(j);
        if below.is_empty() && !lies && !carried.iter().any(|j| warm(&j)) {
            return None;
        }
        if let Some(own) = own {
            let standing = &self.bodies[p].on;
            let read = standing.iter().filter_map(|j| {
                let key = Where::Joint(JointIx(*j));
                heat.read(key).and(heat.stated(&[key]))
            });
            let mut all: Vec<i32> = read.chain([own]).collect();
            if outside {
                let named = standing.iter().map(|j| Where::Joint(JointIx(*j)));
                all.extend(named.filter_map(|key| heat.stated(&[key])));
            }
            let heated = in_hand || standing.iter().chain(&carried).any(|j| warm(&j));
            if outside && heated {
                all.push(heat.peak);
                let below = standing.iter().filter(warm);
                all.extend(below.filter_map(|j| self.joint_sees(heat, target, *j)));
            }
            return Some(all.into_iter().max());
        }
        // It is as hot as the hottest of the joints below it, and of those on its own body.
        let mut seen: Vec<Option<i32>> = below
            .iter()
            .map(|j| self.joint_sees(heat, target, *j))
            .collect();
        for j in &carried {
            let named = heat.stated(&[Where::Joint(JointIx(*j))]);
            if target.at.contains(j) || named.is_some() {
                let around = named.and_then(|_| self.around(heat, *j));
                seen.push(self.joint_sees(heat, target, *j).max(around));
            }
        }
        if lies {
            let zone = self.bodies[p].zone.map(Where::Zone);
            let keys: Vec<Where> = zone.into_iter().chain([Where::Rest]).collect();
            let t = heat.at(&keys);
            if t.is_some() || seen.is_empty() {
                seen.push(t);
            }
        }
        Some(
            seen.into_iter()
                .max_by_key(|t| t.unwrap_or(i32::MAX))
                .flatten(),
        )
    }
}
